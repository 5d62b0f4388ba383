"""Footage through the page: by path, by upload, in order, and what is no footage."""

from __future__ import annotations

import errno
from collections.abc import AsyncIterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path
from typing import Any

import anyio
import av
import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import InputError, NoSpace
from goodlength.files import copied_in_file_destination
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.web.http import upload_to_disk

ODD_NAME = "kürz – 12:30 100% #1.mp4"


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A second of numbered pictures that every browser plays, under a name with odd letters."""
    return draw(tmp_path_factory.mktemp("film") / ODD_NAME, Recipe(tuple(range(30)), sound=""))


@pytest.fixture(autouse=True)
def no_copies(client: TestClient) -> None:
    """Copies are made by processes of their own; these tests only look at whether one is begun."""
    begun: list[Any] = []

    def start(_kind: str, _function: Any, args: Any) -> str:
        begun.append(args)
        return "job1"

    client.app.state.begun = begun
    client.app.state.jobs.start = start


def test_a_file_is_added_by_its_path_and_served_in_pieces(
    client: TestClient, library: Any, match_id: str, film: Path
) -> None:
    answer = client.post(f"/matches/{match_id}/footage", data={"path": str(film)})
    assert answer.status_code == 303
    (item,) = library.footage(match_id)
    assert item.path == str(film)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "12:30 100% #1.mp4" in page
    assert "160 × 120" in page
    part = client.get(f"/api/footage/{item.id}/media", headers={"range": "bytes=4-7"})
    assert (part.status_code, part.content) == (206, b"ftyp")
    assert part.headers["content-type"] == "video/mp4"
    table = client.get(f"/api/footage/{item.id}/frames").json()
    assert table["n"] == 30
    films = client.get(f"/api/matches/{match_id}/films").json()
    assert films["parts"][0]["end_us"] - films["parts"][0]["first_us"] == pytest.approx(1_000_000, abs=1)
    assert client.get(f"/api/matches/{match_id}/sheet").json()["parts"] == films["parts"]


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("", "Enter the path of the file"),
        ("film.mp4", "Give the full path"),
        ("/no/such/film.mp4", "film.mp4"),
        ("{folder}", "folder"),
        ("{text}", "not"),
        ("{empty}", "empty"),
    ],
)
def test_what_cannot_be_footage_is_told_beside_the_field(
    client: TestClient, library: Any, match_id: str, tmp_path: Path, path: str, said: str
) -> None:
    (tmp_path / "text.mp4").write_text("hello")
    (tmp_path / "empty.mp4").touch()
    typed = path.format(folder=tmp_path, text=tmp_path / "text.mp4", empty=tmp_path / "empty.mp4")
    answer = client.post(f"/matches/{match_id}/footage", data={"path": typed})
    assert answer.status_code == 422
    assert said in answer.text
    assert 'aria-invalid="true"' in answer.text
    assert library.footage(match_id) == ()


def test_a_file_is_copied_in_and_goes_with_the_match(
    client: TestClient, library: Any, match_id: str, film: Path
) -> None:
    answer = client.post(
        f"/api/matches/{match_id}/footage/upload", params={"name": ODD_NAME}, content=film.read_bytes()
    )
    assert answer.status_code == 200, answer.text
    (item,) = library.footage(match_id)
    assert item.copied
    copy = Path(item.path)
    assert copy.parent == library.folder / "uploads"
    assert copy.read_bytes() == film.read_bytes()
    client.post(f"/matches/{match_id}/remove")
    assert not copy.exists()


@pytest.mark.parametrize(("data", "kind"), [(b"", "input"), (b"hello", "footage")])
def test_an_upload_that_is_no_footage_is_not_kept(
    client: TestClient, library: Any, match_id: str, data: bytes, kind: str
) -> None:
    answer = client.post(f"/api/matches/{match_id}/footage/upload", params={"name": "x.mp4"}, content=data)
    assert answer.status_code == 422
    assert answer.json()["error"]["kind"] == kind
    assert list((library.folder / "uploads").iterdir()) == []
    assert library.footage(match_id) == ()


def test_an_upload_larger_than_the_disk_is_refused_before_it_begins(
    client: TestClient, library: Any, match_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = type("Usage", (), {"free": 1000})
    monkeypatch.setattr(upload_to_disk.shutil, "disk_usage", lambda _: usage)
    answer = client.post(f"/api/matches/{match_id}/footage/upload", params={"name": "x.mp4"}, content=b"x")
    assert answer.status_code == 507
    assert "add the file by its path" in answer.json()["error"]["words"]


def _run(chunks: AsyncIterator[bytes], target: Path) -> int:
    """Receive in a thread of its own: a browser test may be keeping this one's loop."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(anyio.run, upload_to_disk.receive, chunks, target, None).result()


def test_a_disk_that_fills_up_while_copying_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def chunks() -> AsyncIterator[bytes]:
        yield b"some"
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(NoSpace, match="filled up"):
        _run(chunks(), tmp_path / "up" / "x.mp4")
    assert list((tmp_path / "up").iterdir()) == []


def test_nothing_sent_is_told(tmp_path: Path) -> None:
    async def chunks() -> AsyncIterator[bytes]:
        return
        yield b""

    with pytest.raises(InputError, match="empty"):
        _run(chunks(), tmp_path / "x.mp4")


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "..\\..\\x.mp4", "/abs.mp4", "a\nb.mp4", "", ".", "x" * 300 + ".mp4"]
)
def test_an_upload_stays_in_its_folder_whatever_its_name(tmp_path: Path, name: str) -> None:
    target = copied_in_file_destination.target_for(tmp_path, name)
    assert target.parent == tmp_path / "uploads"
    assert len(target.name) < 100
    assert "\n" not in target.name


def test_files_change_places_and_leave_the_list(
    client: TestClient, library: Any, match_id: str, film: Path, tmp_path: Path
) -> None:
    second = draw(tmp_path / "second.mp4", Recipe(tuple(range(15)), sound=""))
    first_id = tasks.add_footage(library, match_id, film).id
    second_id = tasks.add_footage(library, match_id, second).id
    base = f"/matches/{match_id}/footage"
    client.post(f"{base}/{second_id}/earlier")
    assert [item.id for item in library.footage(match_id)] == [second_id, first_id]
    client.post(f"{base}/{second_id}/earlier")  # already first: nothing to do
    client.post(f"{base}/{second_id}/later")
    assert [item.id for item in library.footage(match_id)] == [first_id, second_id]
    parts = client.get(f"/api/matches/{match_id}/films").json()["parts"]
    assert parts[1]["starts_us"] == parts[0]["end_us"] - parts[0]["first_us"]
    client.post(f"{base}/{first_id}/remove")
    assert [item.id for item in library.footage(match_id)] == [second_id]
    assert film.exists()


def test_a_copy_is_begun_where_stepping_would_be_slow(
    client: TestClient, library: Any, match_id: str, tmp_path: Path
) -> None:
    slow = draw(tmp_path / "slow.mp4", Recipe(tuple(range(120)), sound="", key_every=120))
    client.post(f"/matches/{match_id}/footage", data={"path": str(slow)})
    court, copy = client.app.state.begun
    assert court["path"] == str(slow) and court["to"].endswith(".court.json")
    assert copy["src"] == str(slow)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "This video needs a browser-friendly copy: stepping would be slow" in page
    assert client.get(f"/api/matches/{match_id}/films").json()["parts"]  # it plays meanwhile


def test_footage_that_is_gone_is_said_and_the_record_stays(
    client: TestClient, library: Any, match_id: str, tmp_path: Path, film: Path, say: Any
) -> None:
    moved = tmp_path / "moved.mp4"
    moved.write_bytes(film.read_bytes())
    item = tasks.add_footage(library, match_id, moved)
    say("r1", "winner", "a")
    moved.unlink()
    answer = client.get(f"/api/footage/{item.id}/media")
    assert answer.status_code == 410
    assert "The match log is safe" in answer.json()["error"]["words"]
    assert "cannot be found" in client.get(f"/matches/{match_id}/footage").text
    sheet = client.get(f"/api/matches/{match_id}/sheet").json()
    assert "cannot be found" in sheet["proxy_words"]
    assert len(sheet["rallies"]) == 1


@pytest.mark.parametrize("path", ["/api/footage/none/media", "/api/footage/none/frames", "/api/jobs/none"])
def test_an_unknown_id_is_404_in_words(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "no longer" in answer.json()["error"]["words"]


def test_a_clip_needs_the_consent_of_both_and_a_time(
    client: TestClient, library: Any, match_id: str, film: Path
) -> None:
    tasks.add_footage(library, match_id, film)
    span = {"start_us": 100_000, "end_us": 500_000, "how": "marked"}
    tasks.answer(library, match_id, "r1", EntryKind.SPAN, span)
    tasks.answer(library, match_id, "r1", EntryKind.WINNER, "a")
    tasks.answer(library, match_id, "r2", EntryKind.WINNER, "b")
    page = client.get(f"/matches/{match_id}/show").text
    assert "Faces must be hidden" in page
    refused = client.post(f"/matches/{match_id}/clips", data={"rally": "r1"})
    assert refused.status_code == 422
    assert "no consent for clips" in refused.text
    assert library.clips(match_id) == ()
    begun: list[Any] = []
    real, client.app.state.jobs.start = client.app.state.jobs.start, lambda *given: begun.append(given) or "j"
    covered = client.post(f"/matches/{match_id}/clips", data={"rally": "r1", "covered": "1"})
    assert covered.status_code == 303
    assert all(piece["heads_covered"] for piece in begun[0][2]["pieces"])
    client.app.state.jobs.start = real
    for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.consent(library, player_id, given_by=name)
    jobs = client.app.state.jobs
    del jobs.start  # a real one
    assert client.post(f"/matches/{match_id}/clips", data={"rally": "r1"}).status_code == 303
    (job,) = jobs.states()
    assert jobs.wait(job.id).state == "done"
    page = client.get(f"/matches/{match_id}/show").text
    assert f"/matches/{match_id}/made/{job.id}" in page
    (clip,) = library.clips(match_id)
    assert clip.rally == "r1"
    taken = client.get(f"/matches/{match_id}/made/{job.id}")
    assert taken.content[4:8] == b"ftyp"
    assert "Vale" not in taken.headers["content-disposition"]
    assert client.get(f"/matches/{match_id}/clips/{clip.id}").content == taken.content
    assert "game%201%2C%200%E2%80%930.mp4" in taken.headers["content-disposition"]
    renamed = client.post(f"/matches/{match_id}/made/{job.id}/name", data={"name": "Late to the T"})
    assert renamed.status_code == 303
    taken_again = client.get(f"/matches/{match_id}/made/{job.id}")
    assert "Late%20to%20the%20T.mp4" in taken_again.headers["content-disposition"]
    refused = client.post(f"/matches/{match_id}/made/{job.id}/name", data={"name": "../x"})
    assert (refused.status_code, "cannot be used for a file" in refused.text) == (422, True)
    assert client.post(f"/matches/{match_id}/made/none/name", data={"name": "x"}).status_code == 422
    for key, said in (("r2", "has a start and end time"), ("r9", "no longer in this match")):
        answer = client.post(f"/matches/{match_id}/clips", data={"rally": key})
        assert (answer.status_code, said in answer.text) == (422, True)
    assert client.get(f"/matches/{match_id}/clips/none").status_code == 404
    assert client.get(f"/matches/{match_id}/made/none").status_code == 404


def test_clips_made_before_consent_was_withdrawn_are_held_back(
    client: TestClient, library: Any, match_id: str, film: Path
) -> None:
    """Before: the file stayed one press from "Save it", with no mark."""
    tasks.add_footage(library, match_id, film)
    tasks.answer(
        library, match_id, "r1", EntryKind.SPAN, {"start_us": 100_000, "end_us": 500_000, "how": "marked"}
    )
    for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.consent(library, player_id, given_by=name)
    jobs = client.app.state.jobs
    del jobs.start
    client.post(f"/matches/{match_id}/clips", data={"rally": "r1"})
    (item,) = jobs.states()
    jobs.wait(item.id)
    file = f"/matches/{match_id}/made/{item.id}"
    assert client.get(file).status_code == 200
    assert f'href="{file}"' in client.get(f"/matches/{match_id}/show").text
    tasks.consent(library, "plo", given_by="Petra Lindqvist-Ode", purposes=("record",))
    refused = client.get(file)
    assert (refused.status_code, "Held back: Petra Lindqvist-Ode" in refused.text) == (403, True)
    (clip,) = library.clips(match_id)
    assert client.get(f"/matches/{match_id}/clips/{clip.id}").status_code == 403
    page = client.get(f"/matches/{match_id}/show").text
    assert "Held back: Petra Lindqvist-Ode" in page and f'"{file}"' not in page
    client.post(f"/matches/{match_id}/clips", data={"rally": "r1", "covered": "1"})
    (again,) = [job for job in jobs.states() if job.id != item.id]
    jobs.wait(again.id)
    assert client.get(f"/matches/{match_id}/made/{again.id}").status_code == 200  # every head is covered
    tasks.consent(library, "plo", given_by="Petra Lindqvist-Ode")
    assert client.get(file).status_code == 200


def test_rallies_behind_a_finding_are_shown_alone(
    client: TestClient, library: Any, match_id: str, film: Path
) -> None:
    tasks.add_footage(library, match_id, film)
    for n in range(3):
        span = {"start_us": n * 200_000, "end_us": n * 200_000 + 100_000, "how": "marked"}
        tasks.answer(library, match_id, f"r{n}", EntryKind.SPAN, span)
        tasks.answer(library, match_id, f"r{n}", EntryKind.WINNER, "a")
    page = client.get(f"/matches/{match_id}/show", params={"rallies": "r0,r2,gone"}).text
    assert page.count("data-start=") == 2
    assert "2 rallies behind a finding; 1 more has no time" in page


@pytest.fixture
def two_files(client: TestClient, library: Any, match_id: str, film: Path, tmp_path: Path) -> list[str]:
    """Two files of a match, a second long each."""
    other = draw(tmp_path / "second.mp4", Recipe(tuple(range(30, 60)), sound=""))
    for path in (film, other):
        assert client.post(f"/matches/{match_id}/footage", data={"path": str(path)}).status_code == 303
    return [item.id for item in library.footage(match_id)]


def test_a_later_file_is_placed_where_filming_went_on(
    client: TestClient, library: Any, match_id: str, two_files: list[str]
) -> None:
    where, second = f"/matches/{match_id}/footage", two_files[1]
    at = f"{where}/{second}/place"
    assert client.post(at, data={f"starts-{second}": "1:01.5"}).status_code == 303
    assert library.footage_file(second).starts_us == 61_500_000
    page = client.get(where).text
    assert "Filming paused for 1:00.5 before it." in page
    assert 'value="1:01.5"' in page
    assert client.post(at, data={f"starts-{second}": " "}).status_code == 303
    assert library.footage_file(second).starts_us is None
    assert "Filming paused" not in client.get(where).text


@pytest.mark.parametrize(("typed", "said"), [("soon", "minutes and seconds"), ("0.5", "overlap")])
def test_a_place_that_cannot_be_is_told_beside_the_field(
    client: TestClient, library: Any, match_id: str, two_files: list[str], typed: str, said: str
) -> None:
    second = two_files[1]
    answer = client.post(f"/matches/{match_id}/footage/{second}/place", data={f"starts-{second}": typed})
    assert answer.status_code == 422
    assert said in answer.text
    assert 'aria-invalid="true"' in answer.text
    assert library.footage_file(second).starts_us is None


def test_files_are_seen_and_what_to_mind_when_filming(
    client: TestClient, match_id: str, two_files: list[str]
) -> None:
    page = client.get(f"/matches/{match_id}/footage").text
    assert "Before you film" in page
    for two_file in two_files:
        at = page.split(f"/api/footage/{two_file}/picture?us=")[1].split('"')[0]
        picture = client.get(f"/api/footage/{two_file}/picture", params={"us": at})
        assert picture.content[:2] == b"\xff\xd8"


def test_the_date_in_the_file_is_offered_for_the_match(
    client: TestClient, library: Any, match_id: str, tmp_path: Path
) -> None:
    path = draw(
        tmp_path / "dated.mp4",
        Recipe(tuple(range(10)), sound="", metadata={"creation_time": "2025-10-03T12:00:00.000000Z"}),
    )
    client.post(f"/matches/{match_id}/footage", data={"path": str(path)})
    (item,) = library.footage(match_id)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "the time zone is a guess" in page
    assert "Use 3 October 2025 as the match's date" in page
    answer = client.post(f"/matches/{match_id}/footage/{item.id}/date")
    assert answer.status_code == 303
    assert library.match_info(match_id).played_on == date(2025, 10, 3)
    assert "as the match's date" not in client.get(f"/matches/{match_id}/footage").text


def test_bare_pictures_are_offered_a_rate_and_packed(
    client: TestClient, library: Any, match_id: str, film: Path, tmp_path: Path
) -> None:
    bare = tmp_path / "bare.h264"
    with av.open(f"file:{film}") as old, av.open(str(bare), "w", format="h264") as new:
        stream = new.add_stream_from_template(old.streams.video[0])
        for packet in old.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                new.mux(packet)
    answer = client.post(f"/matches/{match_id}/footage", data={"path": str(bare)})
    assert answer.status_code == 422
    assert "Make a video and add it" in answer.text
    answer = client.post(f"/matches/{match_id}/footage", data={"path": str(bare), "rate": "many"})
    assert "frames per second, such as 30" in answer.text.replace("&#39;", "'")
    answer = client.post(f"/matches/{match_id}/footage", data={"path": str(bare), "rate": "60"})
    assert answer.status_code == 303
    (item,) = library.footage(match_id)
    assert (item.copied, item.end_us) == (True, 500_000)


def test_another_track_can_be_chosen(client: TestClient, library: Any, match_id: str, tmp_path: Path) -> None:
    path = tmp_path / "two.mov"
    with av.open(str(path), "w") as new:
        streams = [new.add_stream("libx264", rate=25) for _ in range(2)]
        for stream, wide in zip(streams, (64, 128), strict=True):
            stream.width, stream.height, stream.pix_fmt = wide, 48, "yuv420p"
        for stream, wide in zip(streams, (64, 128), strict=True):
            for n in range(10):
                grey = np.full((48, wide, 3), 10 * n, dtype=np.uint8)
                new.mux(stream.encode(av.VideoFrame.from_ndarray(grey, format="rgb24")))
            new.mux(stream.encode(None))
    client.post(f"/matches/{match_id}/footage", data={"path": str(path)})
    (item,) = library.footage(match_id)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "Not used: video 1 (64 × 48" in page
    where = f"/matches/{match_id}/footage/{item.id}/tracks"
    assert "video 9" not in page
    assert "there is not a number 9" in client.post(where, data={"track": "picture-9"}).text
    assert "Choose a video or sound track" in client.post(where, data={"track": "../x"}).text
    assert client.post(where, data={"track": "picture-1"}).status_code == 303
    assert library.footage_file(item.id).look["width"] == 64


def test_one_button_at_most_leads_on_and_it_is_the_next_step(
    client: TestClient, library: Any, match_id: str, film: Path
) -> None:
    """Before: five filled buttons stood on a finished match."""
    tasks.add_footage(library, match_id, film)
    tasks.answer(library, match_id, "r1", EntryKind.WINNER, "a")
    page = client.get(f"/matches/{match_id}/footage").text
    main = page.partition("<main")[2]
    filled = [part.partition(">")[2].partition("<")[0] for part in main.split('class="button"')[1:]]
    assert len(filled) <= 2 and "Add the file" not in filled, filled
    assert 'class="button plain" type="submit">Add the file' in main


def test_choosing_a_file_comes_before_typing_a_path(client: TestClient, match_id: str) -> None:
    page = client.get(f"/matches/{match_id}/footage").text
    assert 0 < page.index('id="f-upload"') < page.index('id="f-path"')
