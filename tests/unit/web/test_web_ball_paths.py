"""The ball's path through the page: drawn, corrected, and what is said where there is none."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.files.library_layout import ball_corrections_file, followed_ball_file, rally_files
from goodlength.measure.shots.followed_ball_storage import read_followed, write_followed
from goodlength.record.model import Footage
from goodlength.tasks.ball import (
    ball_following_and_corrections,
    ball_following_inputs,
    ball_path_drawing_data,
    ball_path_queries,
    serve_measurements_by_click_or_path,
)
from goodlength.tasks.ball.ball_following_job import RallyFollower, corrections_of, with_choices
from goodlength.tasks.footage import camera_calibration
from goodlength.web.routes.footage import ball_visibility_and_search_status_view
from tests.oracles.followed_shots import (
    SECOND,
    SOURCES,
    made_match,
    made_path,
    made_rally,
    made_serve,
    unchanged_inputs,
)

KEY = "h:m1"
AT = f"/api/matches/m1/paths/{quote(KEY, safe='')}"


class Lens:
    """A camera that looks straight down from above: 100 px a metre."""

    width, height = 640, 975

    def project(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return points[:, :2] * 100.0, np.ones(len(points), bool)

    def inside(self, uv: np.ndarray) -> np.ndarray:
        return (uv[:, 0] <= self.width) & (uv[:, 1] <= self.height)

    def slopes(self, points: np.ndarray) -> tuple[None, None, np.ndarray]:
        return None, None, np.array([[[100.0, 0.0, 0.0], [0.0, 100.0, 0.0]]] * len(points))


class Camera:
    lens = Lens()


class Saved:
    camera = Camera()


@pytest.fixture(autouse=True)
def seen(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (
        camera_calibration,
        ball_path_queries,
        ball_following_and_corrections,
        ball_visibility_and_search_status_view,
        ball_following_inputs,
    ):
        monkeypatch.setattr(module, "camera_at", lambda *_: Saved())


@pytest.fixture
def followed(library: Any, match_id: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([made_rally()]))
    library.save_footage(Footage("f1", match_id, "/films/one.mp4", 0, first_us=0, end_us=100 * SECOND))
    write_followed(followed_ball_file(library.folder, match_id), made_match(match_id, made_rally()))


def test_without_paths_the_page_says_why_and_what_to_do(
    client: TestClient, library: Any, match_id: str
) -> None:
    assert "This match has no video." in client.get("/matches/m1/ball").text
    library.save_footage(Footage("f1", match_id, "/films/one.mp4", 0, first_us=0, end_us=100 * SECOND))
    assert "No rally has a time yet." in client.get("/matches/m1/ball").text
    films = [{"id": "f1", "path": "", "starts_us": 0, "first_us": 0, "end_us": 100 * SECOND}]
    rally = {"start_us": SECOND, "end_us": 9 * SECOND, "hits_us": [], "doubtful": False, "why": ""}
    path = rally_files(library.folder, match_id)[0]
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps({"films": films, "rallies": [rally], "by": "sound", "looked_at": True}))
    assert "The ball was not searched in this match yet." in client.get("/matches/m1/ball").text
    assert client.get(AT).status_code == 404
    assert client.get("/matches/nobody/ball").status_code == 404


def test_a_rally_is_drawn_over_the_picture_and_on_the_court(client: TestClient, followed: None) -> None:
    found = client.get(AT).json()
    serve, returned = found["shots"]
    assert (serve["striker"], serve["sure"], serve["hidden_s"], found["sounds_us"]) == (
        "a",
        True,
        0.15,
        [2_600_000],
    )
    assert returned["paths"] == [] and returned["reason"] == "The ball was lost."
    path = serve["paths"][0]
    assert (path["chance"], path["speed_km_h"], path["words"]) == (0.93, 144.0, "racket, front wall, floor")
    racket, front, floor = path["contacts"]
    assert racket["sheet"] == [5.5, 6.5] and racket["foot"] is None and racket["sheet_ring"] == []
    assert front["sheet"] == [1.5, -2.5] and front["foot"] == [1.5, 0.0]
    assert floor["picture"] == pytest.approx([1.2 / 6.4, 7.5 / 9.75], abs=1e-4)
    assert serve["paths"][1]["contacts"][1]["sheet"] == [-1.0, 6.0]
    assert "Rally" in client.get("/matches/m1/ball").text or "Detected" in client.get("/matches/m1/ball").text


def test_the_serve_is_shown_as_measured_from_its_path_and_clicks_win(
    client: TestClient, library: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    serve = client.get(AT).json()["serve"]
    assert (
        serve["level"] == 90 and "without a click" in serve["words"] and "clicks count" not in serve["words"]
    )
    lines = {name: (best, between) for name, best, between in serve["lines"]}
    assert lines["Speed off the racket"] == ("144 km/h", "140 to 148")
    assert lines["Front wall, height"] == ("2.50 m", "2.40 to 2.60")
    assert lines["Height where the receiver struck it"] == ("1.31 m", "1.25 to 1.37")
    assert "height where the receiver struck it held in 78 of 100, not 90" in serve["words"]
    assert lines["From the side wall there"] == ("0.42 m", "0.35 to 0.50")
    clicked = made_serve().value.model_copy(update={"speed_m_s": (30.0, 29.0, 31.0)})
    monkeypatch.setattr(ball_path_queries, "clicked_serves", lambda _: {KEY: clicked})
    assert "by clicks: 108 km/h. Your clicks count." in client.get(AT).json()["serve"]["words"]
    opened = tasks.open_match(library, "m1")
    assert [
        (each.by, each.value.speed_m_s[0])
        for each in serve_measurements_by_click_or_path.serves_as_measured(opened)
    ] == [("path", 40.0)]
    monkeypatch.setattr(serve_measurements_by_click_or_path, "clicked_serves", lambda _: {KEY: clicked})
    (both,) = serve_measurements_by_click_or_path.serves_as_measured(opened)
    assert (both.by, both.value.speed_m_s[0], both.path) == ("clicks", 30.0, made_serve())
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([]))
    assert serve_measurements_by_click_or_path.path_serves(opened) == {}  # out of date


def test_a_chosen_path_takes_what_was_measured_of_the_other_with_it(
    client: TestClient, followed: None
) -> None:
    assert client.post(f"{AT}/next", json={"shot": 1, "version": 0}).json()["serve"] is None


def test_a_ring_holds_ninety_in_a_hundred_of_a_plane_normal_distribution(
    client: TestClient, followed: None
) -> None:
    """2 cm each way: 2 cm times the root of -2 ln 0.1, the exact radius of a Rayleigh distribution's 0.9."""
    floor = client.get(AT).json()["shots"][0]["paths"][0]["contacts"][2]
    radius = 0.02 * math.sqrt(-2 * math.log(0.1))
    away = [math.dist(point, floor["sheet"]) for point in floor["sheet_ring"]]
    assert away == pytest.approx([radius] * len(away), abs=1e-4)
    px = [(x * 640 - 120, y * 975 - 750) for x, y in floor["picture_ring"]]
    assert [math.hypot(*off) for off in px] == pytest.approx([100 * radius] * len(px), abs=0.1)


def test_the_next_best_path_is_taken_and_stored(client: TestClient, library: Any, followed: None) -> None:
    after = client.post(f"{AT}/next", json={"shot": 1, "version": 0}).json()["shots"][0]
    assert [path["chance"] for path in after["paths"]] == [0.04, 0.93] and after["corrected"]
    assert not after["sure"]
    stored = read_followed(followed_ball_file(library.folder, "m1"))
    assert stored is not None and stored.rallies[0].shots[0].paths[0].chance == 0.04
    none = client.post(f"{AT}/next", json={"shot": 2, "version": 1})
    assert none.status_code == 422 and "Click the ball" in none.json()["error"]["words"]
    assert client.post(f"{AT}/next", json={"shot": 9, "version": 1}).status_code == 404
    for wrong in ({}, {"shot": 0}, {"shot": "x"}, {"shot": 1, "more": 1}, {"version": -1}):
        assert client.post(f"{AT}/next", json={"version": 1, **wrong}).status_code == 422


def test_marks_and_strikes_are_followed_at_once_and_taken_back(
    client: TestClient, library: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = ball_corrections_file(library.folder, "m1")
    asked: list[Any] = []

    def again(_self: RallyFollower, _rally: Any, corrections: Any, *_: Any) -> Any:
        asked.append(corrections)
        return made_rally()

    def post(what: str, **body: Any) -> Any:
        answer = client.post(f"{AT}/{what}", json={"version": client.get(AT).json()["version"], **body})
        assert answer.status_code == 200 and corrections_of(path, KEY) == asked[-1]

    monkeypatch.setattr(RallyFollower, "__init__", lambda *_: None)
    monkeypatch.setattr(RallyFollower, "follow", again)
    monkeypatch.setattr(
        ball_following_and_corrections, "rallies_to_follow", lambda *_: [type("Wanted", (), {"key": KEY})]
    )
    post("mark", us=2_500_000, x=0.5, y=0.25)
    (mark,) = asked[-1].marks
    assert (mark.time_us, mark.u, mark.v) == (2_500_000, 320.0, 243.75)
    post("mark", us=2_500_000, x=0.6, y=0.25)
    assert [mark.u for mark in asked[-1].marks] == [384.0]  # one mark a frame
    post("strike", shot=2, to_us=2_600_000)
    assert (asked[-1].strikes_us, asked[-1].not_strikes_us) == ((2_600_000,), (3_200_000,))
    post("no-shot", shot=1)
    assert asked[-1].not_strikes_us == (3_200_000, 2_000_000)
    post("again")
    assert asked[-1].not_strikes_us == (3_200_000, 2_000_000)
    post("undo")
    assert not asked[-1]


def test_a_correction_of_what_is_not_shown_any_more_is_refused(
    client: TestClient, library: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two windows: the second correction was made on a path that is no longer there."""
    path = ball_corrections_file(library.folder, "m1")
    monkeypatch.setattr(RallyFollower, "__init__", lambda *_: None)
    monkeypatch.setattr(RallyFollower, "follow", lambda *_: made_rally())
    monkeypatch.setattr(
        ball_following_and_corrections, "rallies_to_follow", lambda *_: [type("Wanted", (), {"key": KEY})]
    )
    shown = client.get(AT).json()["version"]
    assert client.post(f"{AT}/no-shot", json={"shot": 1, "version": shown}).status_code == 200
    before = corrections_of(path, KEY)
    for what, body in (
        ("next", {"shot": 1}),
        ("no-shot", {"shot": 2}),
        ("mark", {"us": 2_500_000, "x": 0.5, "y": 0.5}),
        ("strike", {"shot": 2, "to_us": 2_600_000}),
        ("undo", {}),
        ("again", {}),
    ):
        late = client.post(f"{AT}/{what}", json={"version": shown, **body})
        assert late.status_code == 409 and "meanwhile" in late.json()["error"]["words"], what
    assert corrections_of(path, KEY) == before and client.get(AT).json()["version"] == shown + 1


def test_two_corrections_fitted_at_the_same_time_do_not_cross(
    client: TestClient, library: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, inner = ball_corrections_file(library.folder, "m1"), []

    def follow(_self: RallyFollower, _rally: Any, _corrections: Any, *_: Any) -> Any:
        if not inner:
            inner.append(None)
            inner.append(client.post(f"{AT}/no-shot", json={"shot": 2, "version": 0}).status_code)
        return made_rally()

    monkeypatch.setattr(RallyFollower, "__init__", lambda *_: None)
    monkeypatch.setattr(RallyFollower, "follow", follow)
    monkeypatch.setattr(
        ball_following_and_corrections, "rallies_to_follow", lambda *_: [type("Wanted", (), {"key": KEY})]
    )
    outer = client.post(f"{AT}/no-shot", json={"shot": 1, "version": 0})
    assert (inner[1], outer.status_code) == (200, 409)
    assert corrections_of(path, KEY).not_strikes_us == (3_200_000,)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("camera", "calibration"),
        ("players", "tracked players"),
        ("sounds", "sounds"),
        ("ball", "tin"),
        ("search", "search of the ball"),
    ],
)
def test_a_path_says_what_changed_since_and_is_sure_no_longer(
    client: TestClient, followed: None, monkeypatch: pytest.MonkeyPatch, name: str, words: str
) -> None:
    assert client.get(AT).json()["out_of_date"] == "" and client.get(AT).json()["shots"][0]["sure"]
    now = replace(SOURCES, **{name: "other"})
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([made_rally()], now))
    found = client.get(AT).json()
    assert words in found["out_of_date"] and found["out_of_date"].endswith("Follow it again.")
    assert not any(shot["sure"] for shot in found["shots"])
    assert found["shots"][0]["reason"] == "Out of date." and found["serve"] is None
    assert "out of date" in client.get("/matches/m1/ball").text


def test_without_its_rally_or_with_sources_unknown_a_path_is_out_of_date(
    client: TestClient, library: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([]))
    assert "the times of the rally" in client.get(AT).json()["out_of_date"]
    moved = replace(made_rally(), from_us=0)
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([moved]))
    assert "the times of the rally" in client.get(AT).json()["out_of_date"]
    older = replace(made_rally(), rests_on=None)
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", older))
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([older]))
    words = client.get(AT).json()["out_of_date"]
    assert words == "Out of date: followed by an earlier version of goodlength. Follow it again."


def test_what_cannot_be_followed_again_changes_nothing(
    client: TestClient, library: Any, followed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any) -> None:
        raise InputError("The ball was not searched in this match.")

    monkeypatch.setattr(
        ball_following_and_corrections, "rallies_to_follow", lambda *_: [type("Wanted", (), {"key": KEY})]
    )
    monkeypatch.setattr(RallyFollower, "__init__", refuse)
    answer = client.post(f"{AT}/mark", json={"us": 2_500_000, "x": 0.5, "y": 0.25, "version": 0})
    assert answer.status_code == 422 and "not searched" in answer.json()["error"]["words"]
    assert not corrections_of(ball_corrections_file(library.folder, "m1"), KEY)
    for us in (500_000, 50 * SECOND):
        outside = client.post(f"{AT}/mark", json={"us": us, "x": 0.5, "y": 0.25, "version": 0})
        assert outside.status_code == 422 and "outside the rally" in outside.json()["error"]["words"]
    wrong = client.post(f"{AT}/strike", json={"shot": 2, "to_us": 2_700_000, "version": 0})
    assert wrong.status_code == 422 and "No sound was detected there" in wrong.json()["error"]["words"]
    for body in ({"us": 1, "x": 1.5, "y": 0}, {"us": -1, "x": 0, "y": 0}, {"us": 1, "x": "a", "y": 0}):
        assert client.post(f"{AT}/mark", json={"version": 0, **body}).status_code == 422


def test_a_damaged_file_is_told_in_words(client: TestClient, library: Any, followed: None) -> None:
    path = followed_ball_file(library.folder, "m1")
    path.write_bytes(path.read_bytes()[:-40])
    assert client.get(AT).status_code in (409, 422, 500) and "cannot be read" in client.get(AT).text
    assert client.get("/matches/m1/ball").status_code == 200


def test_a_choice_of_the_coach_stands_after_the_rally_is_followed_again() -> None:
    rally = made_rally()
    shot = rally.shots[0]
    turned = replace(shot, paths=shot.paths[::-1], corrected=True, chosen=True)
    chosen = replace(rally, shots=(turned, rally.shots[1]))
    after = with_choices(chosen, rally)
    assert after.shots[0].paths[0].chance == 0.04 and after.shots[0].corrected
    assert after.shots[0].chosen and not after.shots[0].sure  # it is not the best path
    late = replace(rally, shots=(replace(shot, struck_us=shot.struck_us + 100_000), rally.shots[1]))
    assert with_choices(chosen, late).shots[0].paths[0].chance == 0.93


def test_a_mark_is_no_choice_of_a_path() -> None:
    rally = made_rally()
    shot = rally.shots[0]
    marked = replace(rally, shots=(replace(shot, paths=shot.paths[::-1], corrected=True), rally.shots[1]))
    after = with_choices(marked, rally).shots[0]
    assert after.paths[0].chance == 0.93 and after.sure


def test_what_went_out_is_drawn_on_the_nearest_wall() -> None:
    contact = made_path(0, 0.5).contacts[2]
    for place, surface in (((6.39, 4.0, 4.0), "right-side-wall"), ((3.0, 9.7, 3.0), "back-wall")):
        out = replace(contact, kind=ball_path_drawing_data.ContactKind.OUT, place_m=place)
        assert ball_path_drawing_data.surface_of(out).value == surface
