"""A video sent in pieces through the page: from another device with a session, and what is refused in words."""

from __future__ import annotations

import asyncio
import hashlib
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.footage.media.video_probe import fingerprint
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.transfer import video_transfer_state_file
from goodlength.web import create_app
from goodlength.web.http import host_origin_and_body_size_guard
from goodlength.web.http.passcode_sessions import ASSUMED_IDLE_S, Sharing

NAME = "192.168.7.2"
AT = f"http://{NAME}:8765"


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return draw(tmp_path_factory.mktemp("film") / "phone.mp4", Recipe(tuple(range(30)), sound=""))


@pytest.fixture
def app(tmp_path: Path, new_match: Any) -> Iterator[Any]:
    made = create_app(tmp_path / "library", sharing=Sharing("ABCD2345", Clock()), hosts=("127.0.0.1", NAME))
    made.state.addresses = (f"{AT}/",)
    new_match(made.state.library)
    yield made
    made.state.transfers.close()
    made.state.jobs.close()
    made.state.library.close()


@pytest.fixture
def phone(app: Any) -> TestClient:
    """A phone on the network that entered the pass code."""
    made = TestClient(
        app, base_url=AT, client=("192.168.7.9", 50_000), follow_redirects=False, headers={"origin": AT}
    )
    assert made.post("/enter", data={"code": "ABCD2345", "to": "/matches/m1/phone"}).status_code == 303
    return made


@pytest.fixture
def here(app: Any) -> TestClient:
    """The browser of the computer itself."""
    return TestClient(app, base_url="http://127.0.0.1:8765", client=("127.0.0.1", 50_000))


def begin(client: TestClient, film: Path, **other: Any) -> Any:
    body = {"name": "IMG 7.MOV", "size": film.stat().st_size, "fingerprint": fingerprint(film), **other}
    return client.post("/api/matches/m1/transfers", json=body)


def send(client: TestClient, an_id: str, at: int, data: bytes) -> Any:
    sha = hashlib.sha256(data).hexdigest()
    return client.post(f"/api/transfers/{an_id}/piece?at={at}&sha256={sha}", content=data)


def finish(client: TestClient, an_id: str, film: Path) -> Any:
    body = {"sha256": hashlib.sha256(film.read_bytes()).hexdigest()}
    answer = client.post(f"/api/transfers/{an_id}/finish", json=body)
    for thread in list(client.app.state.transfers._threads.values()):  # type: ignore[attr-defined]
        thread.join()
    return answer


def test_a_phone_sends_a_video_in_pieces(
    app: Any, phone: TestClient, here: TestClient, film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(video_transfer_state_file, "PIECE_BYTES", 1000)
    monkeypatch.setattr("goodlength.tasks.transfer.video_upload_admission_rules.PIECE_BYTES", 1000)
    begun = begin(phone, film).json()
    assert (begun["phase"], begun["received"], begun["name"]) == ("receiving", 0, "IMG 7.MOV")
    data = film.read_bytes()
    assert len(data) > 3000
    for at in range(0, len(data), 1000):
        state = send(phone, begun["id"], at, data[at : at + 1000])
        assert state.status_code == 200, state.text
        shown = here.get("/api/matches/m1/transfers").json()["transfers"]
        assert [item["received"] for item in shown] == [min(at + 1000, len(data))]
    assert finish(phone, begun["id"], film).status_code == 200
    assert phone.get(f"/api/transfers/{begun['id']}").json()["phase"] == "done"
    (added,) = app.state.library.footage("m1")
    assert added.where.read_bytes() == data
    assert "IMG 7.MOV" in here.get("/matches/m1/footage").text
    again = begin(phone, film)
    assert (again.status_code, again.json()["error"]["kind"]) == (409, "conflict")
    assert "already in this match" in again.json()["error"]["words"]


def test_a_piece_is_as_large_as_the_request_may_be(phone: TestClient, film: Path) -> None:
    assert host_origin_and_body_size_guard.PIECE_LIMIT_BYTES == video_transfer_state_file.PIECE_BYTES
    an_id = begin(phone, film).json()["id"]
    for length in (video_transfer_state_file.PIECE_BYTES + 1, 20_000_000):
        assert send(phone, an_id, 0, bytes(length)).status_code == 413
    whole = send(phone, an_id, 0, bytes(video_transfer_state_file.PIECE_BYTES))
    assert whole.status_code == 422
    assert "bytes arrived where" in whole.json()["error"]["words"]


def test_only_so_many_pieces_are_in_memory_at_once(app: Any, phone: TestClient, film: Path) -> None:
    an_id = begin(phone, film).json()["id"]
    app.state.pieces = asyncio.Semaphore(0)  # as many as are allowed are at work
    busy = send(phone, an_id, 0, film.read_bytes())
    assert (busy.status_code, app.state.transfers.transfer(an_id).received) == (429, 0)
    assert "busy with other videos" in busy.json()["error"]["words"]
    app.state.pieces = asyncio.Semaphore(1)
    for _ in range(2):
        assert send(phone, an_id, 0, film.read_bytes()).status_code == 200
        assert send(phone, an_id, 0, b"x" * 99).status_code == 200  # sent twice: nothing is changed
    assert send(phone, an_id, 2**40, b"x").status_code != 429


def test_a_session_that_ends_midway_is_opened_again_and_goes_on(
    app: Any, phone: TestClient, film: Path
) -> None:
    an_id = begin(phone, film).json()["id"]
    app.state.sharing.clock.now += ASSUMED_IDLE_S + 1
    refused = send(phone, an_id, 0, film.read_bytes())
    assert refused.status_code == 401
    assert "enter the pass code" in refused.json()["error"]["words"]
    assert app.state.transfers.transfer(an_id).received == 0
    phone.post("/enter", data={"code": "abcd 2345", "to": "/"})
    assert send(phone, an_id, 0, film.read_bytes()).status_code == 200
    finish(phone, an_id, film)
    assert len(app.state.library.footage("m1")) == 1


def test_consent_that_ends_midway_is_told(app: Any, phone: TestClient, film: Path) -> None:
    an_id = begin(phone, film).json()["id"]
    tasks.consent(app.state.library, "iv", given_by="Parent Vale")
    tasks.withdraw_consent(app.state.library, "iv")
    refused = send(phone, an_id, 0, film.read_bytes())
    assert (refused.status_code, refused.json()["error"]["kind"]) == (403, "consent-missing")
    assert phone.get(f"/api/transfers/{an_id}").json()["phase"] == "failed"


@pytest.mark.parametrize(
    "body",
    [
        {"size": "5"},
        {"size": True},
        {"size": 5.5},
        {"size": None},
        {"name": "x" * 1001},
        {"name": 7},
        {"fingerprint": "0" * 2000},
        {"fingerprint": "../" * 10 + "xx"},
        {"more": 1},
        {"size": -5},
        {"size": 10**30},
    ],
)
def test_a_request_that_makes_no_sense_is_refused_in_words(
    app: Any, phone: TestClient, film: Path, body: dict[str, Any]
) -> None:
    refused = begin(phone, film, **body)
    assert refused.status_code == 422, refused.text
    assert refused.json()["error"]["words"]
    assert app.state.transfers.of_match("m1") == ()


@pytest.mark.parametrize(
    "query", ["", "at=-1", "at=x", "at=1e3", "at=9" + "9" * 4500, "at=0&sha256=" + "é" * 9]
)
def test_a_piece_without_a_place_is_refused(phone: TestClient, film: Path, query: str) -> None:
    an_id = begin(phone, film).json()["id"]
    refused = phone.post(f"/api/transfers/{an_id}/piece?{query}", content=film.read_bytes())
    assert refused.status_code == 422
    assert refused.json()["error"]["words"]


def test_a_transfer_that_is_unknown_is_told(phone: TestClient) -> None:
    for path in ("", "/cancel", "/finish", "/piece?at=0"):
        way = phone.get if not path else phone.post
        more = {"json": {"sha256": "0" * 64}} if path == "/finish" else {}
        for bad in ("x", "0" * 24, "..%2f..%2flibrary"):
            answer = way(f"/api/transfers/{bad}{path}", **more)
            assert answer.status_code in (403, 404), (path, bad)
    assert begin(phone, Path(__file__)).status_code == 200
    missing = phone.post("/api/matches/m9/transfers", json={"name": "x", "size": 5, "fingerprint": "0" * 32})
    assert missing.status_code == 404


def test_a_stopped_video_leaves_the_list(app: Any, phone: TestClient, here: TestClient, film: Path) -> None:
    an_id = begin(phone, film).json()["id"]
    assert here.post(f"/api/transfers/{an_id}/cancel").json() == {"transfers": []}
    assert phone.get("/api/matches/m1/transfers").json() == {"transfers": []}
    gone = send(phone, an_id, 0, film.read_bytes())
    assert (gone.status_code, "no longer being received" in gone.text) == (404, True)


def test_the_code_to_scan_is_shown_on_the_computer_alone(phone: TestClient, here: TestClient) -> None:
    shown = here.get("/matches/m1/footage").text
    assert "ABCD 2345" in shown
    assert f"{AT}/matches/m1/phone" in shown
    assert re.search(r'aria-label="QR code[^>]*><svg ', shown)
    other = phone.get("/matches/m1/footage").text
    assert "ABCD 2345" not in other
    assert AT not in other
    assert 'href="/matches/m1/phone"' in other
    assert ("data-here" in shown, "data-here" in other) == (True, False)  # see received-videos.js


def test_the_code_to_scan_holds_the_address(here: TestClient) -> None:
    """Drawn modules, read back by a library that draws nothing itself."""
    import cv2
    import numpy as np

    shown = here.get("/matches/m1/footage").text
    drawing = re.search(r'aria-label="QR code[^>]*>(<svg .*?</svg>)', shown, re.DOTALL)
    assert drawing is not None
    picture = _painted(drawing.group(1))
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(np.kron(picture, np.ones((6, 6), np.uint8)))
    assert text == f"{AT}/matches/m1/phone"


def _painted(svg: str) -> Any:
    """The dark rows of a drawing of unit strokes, as pixels."""
    import numpy as np

    size = int(float(re.search(r'viewBox="0 0 (\d+)', svg).group(1)))  # type: ignore[union-attr]
    scale = float((re.search(r"scale\(([\d.]+)\)", svg) or [0, 1])[1])
    side = round(size / scale)
    picture = np.full((side, side), 255, np.uint8)
    path = re.findall(r' d="([^"]+)"', svg)[-1]  # the first is the white ground
    x = y = 0.0
    for step, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(number) for number in re.findall(r"-?[\d.]+", numbers)]
        if step == "h":
            picture[int(y), int(x) : int(x + values[0])] = 0
            x += values[0]
        else:
            x, y = (values[0], values[1]) if step == "M" else (x + values[0], y + values[1])
    return picture


def test_without_sharing_the_page_says_how_to_begin(client: TestClient, match_id: str) -> None:
    shown = client.get(f"/matches/{match_id}/footage").text
    assert 'href="/settings#network"' in shown
    assert "<svg" not in shown.partition('id="phone"')[2].partition("</section>")[0]
    assert client.get(f"/matches/{match_id}/phone").status_code == 200
    assert client.get("/matches/m9/phone").status_code == 404


def test_the_page_of_the_phone_has_no_menu(phone: TestClient) -> None:
    shown = phone.get("/matches/m1/phone").text
    assert "Imogen Vale" in shown
    assert "<nav" not in shown
    assert phone.post("/leave").status_code == 303
    led = phone.get("/matches/m1/phone")
    assert led.headers["location"] == "/enter?to=%2Fmatches%2Fm1%2Fphone"


def test_what_had_arrived_is_checked_at_the_next_start(tmp_path: Path, film: Path, new_match: Any) -> None:
    with tasks.open_library(tmp_path / "library") as library:
        new_match(library)
        cut = tasks.VideoTransfers(library)
        an_id = cut.begin("m1", "a.mp4", film.stat().st_size, fingerprint(film)).id
        data = film.read_bytes()
        cut.take_piece(an_id, 0, data, hashlib.sha256(data).hexdigest())
        cut.close()
        cut.finish(an_id, hashlib.sha256(data).hexdigest(), wait=True)
    with TestClient(create_app(tmp_path / "library"), base_url="http://127.0.0.1") as page:
        for thread in list(page.app.state.transfers._threads.values()):  # type: ignore[attr-defined]
            thread.join()
        assert page.get(f"/api/transfers/{an_id}").json()["phase"] == "done"
