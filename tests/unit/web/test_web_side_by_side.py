"""Two serves beside each other through the page: which two, what is kept, and the film made of it."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.sharing.serve_pair_alignment_and_mirroring import save_side_by_side, side_by_side_of


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return draw(tmp_path_factory.mktemp("film") / "film.mp4", Recipe(tuple(range(90)), sound=""))


@pytest.fixture(scope="module")
def filmed_library(
    tmp_path_factory: pytest.TempPathFactory, film: Path, new_match: Callable[[Any], str]
) -> Path:
    """A library with three rallies with a time, one without: to be copied, never changed."""
    folder = tmp_path_factory.mktemp("filmed") / "library"
    with tasks.open_library(folder) as library:
        film_match(library, new_match(library), film)
    return folder


@pytest.fixture
def library_template(request: pytest.FixtureRequest) -> Path | None:
    return request.getfixturevalue("filmed_library") if "filmed" in request.fixturenames else None


@pytest.fixture
def filmed(library: Any) -> Any:
    """Three rallies with a time, one without."""
    return library


def film_match(library: Any, match_id: str, film: Path) -> None:
    tasks.add_footage(library, match_id, film)
    for n in range(4):
        if n < 3:
            span = {"start_us": n * 900_000, "end_us": n * 900_000 + 500_000, "how": "marked"}
            tasks.answer(library, match_id, f"r{n}", EntryKind.SPAN, span)
        tasks.answer(library, match_id, f"r{n}", EntryKind.WINNER, "a")


def begun(page: str) -> dict[str, Any]:
    return dict(json.loads(html.unescape(re.search(r'data-begin="([^"]*)"', page)[1])))  # type: ignore[index]


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ([], ["r0", "r1"]),
        (["r2", "r0"], ["r2", "r0"]),
        (["r2"], ["r2", "r0"]),
        (["r3", "gone", "r1"], ["r1", "r0"]),
    ],
)
def test_the_two_named_are_shown_else_the_first(
    client: TestClient, filmed: Any, match_id: str, asked: list[str], shown: list[str]
) -> None:
    page = client.get(f"/matches/{match_id}/beside", params={"rally": asked}).text
    began = begun(page)
    assert began["rallies"] == shown
    assert began["contacts_us"] == [int(key[1]) * 900_000 for key in shown]


def test_without_two_serves_the_page_says_so(client: TestClient, match_id: str) -> None:
    answer = client.get(f"/matches/{match_id}/beside")
    assert answer.status_code == 200
    assert "data-begin" not in answer.text
    assert "Choose two rallies" in answer.text


def test_what_is_set_is_kept_and_what_is_drawn_reaches_the_film(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    told = {"rallies": ["r1", "r2"], "nudge_us": [33_000, 0], "mirrored": True}
    assert client.post(f"/api/matches/{match_id}/beside", json=told).status_code == 200
    began = begun(client.get(f"/matches/{match_id}/beside", params={"rally": ["r1", "r2"]}).text)
    assert (began["nudge_us"], began["mirrored"]) == ([33_000, 0], True)
    line = {"id": "d1", "at_us": 2_000_000, "kind": "arrow", "points": [[0.1, 0.1], [0.9, 0.9]]}
    assert client.post(f"/api/matches/{match_id}/drawings", json=line).status_code == 200
    given: list[Any] = []
    client.app.state.jobs.start = lambda *told: given.append(told) or "j1"  # type: ignore[attr-defined]
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.consent(filmed, player, given_by=name)
    wish = {"make": "pair", "rally": ["r1", "r2"], "slower": "1"}
    for drawn in ({"drawings": "1"}, {}):
        assert client.post(f"/matches/{match_id}/clips", data={**wish, **drawn}).status_code == 303
    args, plain = given[0][2], given[1][2]
    assert args["left"]["at_us"] == 933_000
    (arrow,) = args["right"]["lines"]  # as it is seen: turned over
    assert (arrow["points"], arrow["at_us"]) == (((0.9, 0.1), (0.1, 0.9)), 2_000_000)
    assert args["left"]["lines"][0]["points"] == ((0.1, 0.1), (0.9, 0.9))  # 1.1 s behind the first contact
    assert (args["right"]["mirrored"], args["slower"]) == (True, 4)
    assert not plain["right"]["lines"] and not plain["left"]["lines"]


def test_lines_that_were_stored_with_a_pair_become_drawings_of_the_match(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    arrow = {"kind": "arrow", "points": [[0.1, 0.1], [0.9, 0.9]]}
    told = {"nudge_us": [0, 40_000], "mirrored": True, "lines": [[], [arrow]]}
    save_side_by_side(tasks.open_match(filmed, match_id), ("r1", "r2"), told)
    for _ in range(2):  # opened again, nothing is drawn twice
        client.get(f"/matches/{match_id}/beside", params={"rally": ["r1", "r2"]})
        (drawing,) = client.get(f"/api/matches/{match_id}/drawings").json()["drawings"]
        assert (drawing["kind"], drawing["at_us"]) == ("arrow", 1_840_000)
        assert drawing["points"] == [[0.9, 0.1], [0.1, 0.9]]
    assert not any(side_by_side_of(tasks.open_match(filmed, match_id), ("r1", "r2")).lines)


def test_a_single_clip_takes_the_drawings_of_its_rally_where_they_are_wished(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    for n, at_us in enumerate((950_000, 960_000, 1_850_000)):
        circle = {"id": f"d{n}", "at_us": at_us, "kind": "circle", "points": [[0.5, 0.5], [0.6, 0.5]]}
        client.post(f"/api/matches/{match_id}/drawings", json=circle)
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.consent(filmed, player, given_by=name)
    given: list[Any] = []
    client.app.state.jobs.start = lambda *told: given.append(told) or "j1"  # type: ignore[attr-defined]
    assert "With your drawings" in client.get(f"/matches/{match_id}/show").text
    for form in ({"clip_of": "r1", "rally": ["r0"], "drawings": "1"}, {"clip_of": "r1", "rally": ["r0"]}):
        assert client.post(f"/matches/{match_id}/clips", data=form).status_code == 303
    (kind, _, args), (_, _, plain) = given
    (piece,) = args["pieces"]
    assert (kind, piece["from_us"]) == ("clip", 900_000)
    assert [line["at_us"] for line in piece["lines"]] == [950_000, 950_000]  # of one frame
    assert plain["pieces"][0]["lines"] == ()


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"rallies": ["r1"]}, 422),
        ({"rallies": ["r1", "gone"]}, 404),
        ({"nudge_us": [0, 9_000_000]}, 422),
        ({"more": 1}, 422),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    client: TestClient, filmed: Any, match_id: str, change: dict[str, Any], status: int
) -> None:
    told = {"rallies": ["r1", "r2"], "nudge_us": [0, 0], "mirrored": False, **change}
    answer = client.post(f"/api/matches/{match_id}/beside", json=told)
    assert answer.status_code == status
    assert answer.json()["error"]["words"]


def test_damaged_lines_are_told_on_the_page(client: TestClient, filmed: Any, match_id: str) -> None:
    """Before: the pair began anew without a word."""
    told = {"rallies": ["r1", "r2"], "nudge_us": [33_000, 0], "mirrored": True}
    client.post(f"/api/matches/{match_id}/beside", json=told)
    (file,) = (filmed.folder / "clips").glob("*.json")
    file.write_text('{"r1 r2": {"nudge_us": "x"}}')
    answer = client.get(f"/matches/{match_id}/beside", params={"rally": ["r1", "r2"]})
    assert answer.status_code == 200 and "data-begin" not in answer.text
    assert f"move the file {file.name} out" in answer.text
    assert client.post(f"/api/matches/{match_id}/beside", json=told).status_code == 422
