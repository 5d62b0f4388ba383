"""A serve measured through the page and the command: tried, kept, opened again, taken back, refused in words."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.cli import main
from goodlength.footage.camera import court_marks
from goodlength.measure.serves import serve_measurement as measuring
from goodlength.record.entry_value_types import MarkValue
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.footage import camera_calibration, serve_measurement

# A camera behind the back wall, and the first serve of the demo's film, flown by the demo's own model.
EYE = np.array([3.25, 13.6, 2.9])
TURN = np.array([[1.0, 0.0, 0.0], [0.0, 0.21814324, -0.97591676], [0.0, -0.97591676, -0.21814324]])
FOCAL = 450.0
SERVE = (
    ("strike", 4.0, (5.8, 5.85, 1.05)),
    ("front", 4.375922, (3.4701, 0.02, 4.1483)),
    ("left", 5.399332, (0.02, 6.7356, 2.7339)),
)
SPEED_M_S = 20.53


def seen(place: Any) -> tuple[float, float]:
    x, y, z = TURN @ (np.asarray(place, float) - EYE)
    return 320 + FOCAL * x / z, 180 + FOCAL * y / z


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    recipe = Recipe(tuple(range(150)), base=Fraction(1, 25), width=640, height=360, sound="")
    return draw(tmp_path_factory.mktemp("film") / "film.mp4", recipe)


@pytest.fixture(scope="module")
def filmed_library(
    tmp_path_factory: pytest.TempPathFactory, film: Path, new_match: Callable[[Any], str]
) -> Path:
    """A library with a serve with its time, and the camera known: to be copied, never changed."""
    folder = tmp_path_factory.mktemp("filmed") / "library"
    with tasks.open_library(folder) as library:
        film_match(library, new_match(library), film)
    return folder


@pytest.fixture
def library_template(request: pytest.FixtureRequest) -> Path | None:
    return request.getfixturevalue("filmed_library") if "filmed" in request.fixturenames else None


@pytest.fixture
def filmed(library: Any) -> Any:
    """A serve with its time, and the camera known."""
    return library


def film_match(library: Any, match_id: str, film: Path) -> None:
    item = tasks.add_footage(library, match_id, film)
    for key, start in (("r0", 4_000_000), ("r1", None)):
        if start is not None:
            span = {"start_us": start, "end_us": start + 1_500_000, "how": "marked"}
            tasks.answer(library, match_id, key, EntryKind.SPAN, span)
        if key == "r1":
            tasks.answer(library, match_id, key, EntryKind.KIND, "lob")
        tasks.answer(library, match_id, key, EntryKind.WINNER, "a")
    clicks = []
    for mark in court_marks().values():
        u, v = seen(mark.at)
        if 0 <= u <= 640 and 0 <= v <= 360:
            clicks.append({"mark": mark.name, "u": u, "v": v})
    camera_calibration.save_camera(library, item.id, 1_000_000, clicks)


def clicks(count: int = 3) -> list[dict[str, Any]]:
    found = []
    for what, at_s, place in SERVE[:count]:
        u, v = seen(place)
        found.append({"what": what, "at_us": round(at_s * 1e6), "u": u, "v": v})
    return found


def marks() -> list[MarkValue]:
    return [MarkValue(**click) for click in clicks()]


def begun(page: str) -> dict[str, Any]:
    return dict(json.loads(html.unescape(re.search(r'data-begin="([^"]*)"', page)[1])))  # type: ignore[index]


def test_three_clicks_give_the_serve_and_it_is_kept_when_told(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    assert "none measured yet" in client.get(f"/matches/{match_id}/footage").text
    page = client.get(f"/matches/{match_id}/measure").text
    assert begun(page)["rally"] == "r0"
    told = client.post(f"/api/matches/{match_id}/serves/r0/try", json={"marks": clicks()}).json()
    assert [name for name, _, _ in told["lines"]][:2] == ["Speed off the racket", "Launch angle"]
    low, high = (float(element) for element in told["lines"][0][2].split(" to "))
    assert low < 3.6 * SPEED_M_S < high
    assert len(told["marks"]) == 3
    assert sum(len(part) for part in told["path"]) > 50
    assert told["court"].startswith("<svg")
    assert tasks.show_match(filmed, match_id).rallies[0].serve.measured is None

    assert client.post(f"/api/matches/{match_id}/serves/r0/keep", json={"marks": clicks()}).status_code == 200
    value = tasks.show_match(filmed, match_id).rallies[0].serve.measured
    assert value is not None
    assert value.speed_m_s[1] < SPEED_M_S < value.speed_m_s[2]
    assert "1 of 2 measured" in client.get(f"/matches/{match_id}/footage").text
    again = client.get(f"/matches/{match_id}/measure", params={"rally": "r0"}).text
    assert [element["what"] for element in begun(again)["marks"]] == ["strike", "front", "left"]
    assert "km/h" in again
    item = client.get(f"/players/{filmed.match_info(match_id).players[0]}").text
    assert "Measured serves" in item
    assert "1 serve, 1 match." in item
    assert "First bounces:" in item
    assert client.post(f"/api/matches/{match_id}/serves/r0/forget").json() == {"kept": False}
    assert tasks.show_match(filmed, match_id).rallies[0].serve.measured is None


def test_a_try_replays_once(client: TestClient, filmed: Any, match_id: str, cost: Any) -> None:
    """Before: three replays and eleven reads, as each step asked for the match by its id."""
    cost.begin()
    answer = client.post(f"/api/matches/{match_id}/serves/r0/try", json={"marks": clicks()})
    assert answer.status_code == 200
    assert cost.replays == 1 and cost.reads <= 5


def test_a_serve_learns_from_the_others_of_its_match_how_exactly_its_coach_clicks(
    filmed: Any, match_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not from itself: measured again, it would count its own marks twice."""
    span = {"start_us": 4_000_000, "end_us": 5_500_000, "how": "marked"}
    tasks.answer(filmed, match_id, "r1", EntryKind.SPAN, span)
    serve_measurement.save_measurement(tasks.open_match(filmed, match_id), "r0", marks())
    told = serve_measurement.saved_measurement(tasks.open_match(filmed, match_id), "r0").click_evidence
    assert told is not None and len(told) == 4
    given: list[Any] = []
    real = measuring.measure_serve

    def noted(*args: Any, others: Any = (), **named: Any) -> Any:
        given.append(list(others))
        return real(*args, others=others, **named)

    monkeypatch.setattr(measuring, "measure_serve", noted)
    for rally in ("r1", "r0"):
        serve_measurement.trial_measurement(tasks.open_match(filmed, match_id), rally, marks())
    assert given == [[told], []]


def test_marks_clicked_again_are_saved_and_tell_the_click_error(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    """Exactly clicked twice: narrower on the front wall than once. The match's other serves learn it too."""
    near = [{**click, "again": (click["u"] + 0.4, click["v"] - 0.3)} for click in clicks()]
    widths = []
    for told in (clicks(), near):
        answer = client.post(f"/api/matches/{match_id}/serves/r0/keep", json={"marks": told})
        assert answer.status_code == 200
        value = serve_measurement.saved_measurement(tasks.open_match(filmed, match_id), "r0")
        widths.append(value.front_z_m[2] - value.front_z_m[1])
    assert widths[1] < 0.9 * widths[0]
    assert value.marks[1].again == (round(near[1]["again"][0], 2), round(near[1]["again"][1], 2))
    assert value.click_evidence is not None and value.click_evidence[-1][1] < -2.0
    page = client.get(f"/matches/{match_id}/measure", params={"rally": "r0"}).text
    assert all("again" in mark for mark in begun(page)["marks"])


def test_a_serve_without_a_time_says_why(client: TestClient, filmed: Any, match_id: str) -> None:
    page = client.get(f"/matches/{match_id}/measure", params={"rally": "r1"}).text
    assert "no time set" in page
    assert "data-begin" not in page


def test_a_match_whose_camera_is_not_calibrated_leads_to_the_calibration(
    client: TestClient, filmed: Any, match_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serve_measurement, "_has_camera", lambda *_: False)
    page = client.get(f"/matches/{match_id}/measure").text
    assert "No serve of this match can be measured yet" in page
    assert "Calibrate the camera</a>" in page


def test_a_match_without_footage_says_what_is_needed(client: TestClient, match_id: str) -> None:
    assert (
        "needs a video, a rally time and a calibrated camera"
        in client.get(f"/matches/{match_id}/measure").text
    )


@pytest.mark.parametrize(
    ("change", "status", "said"),
    [
        (lambda m: m[:1], 422, ""),
        (
            lambda m: [{**m[0], "what": "ceiling"}, *m[1:]],
            422,
            "what is 'ceiling'; one of strike, feet, front",
        ),
        (lambda m: [m[0], {**m[1], "at_us": 3_000_000}, m[2]], 422, ""),
        (lambda m: [{**m[0], "u": -5000.0}, *m[1:]], 422, ""),
        (lambda m: [{**m[0], "again": [1.0]}, *m[1:]], 422, ""),
    ],
)
def test_clicks_that_are_no_serve_are_told(
    client: TestClient, filmed: Any, match_id: str, change: Any, status: int, said: str
) -> None:
    answer = client.post(f"/api/matches/{match_id}/serves/r0/try", json={"marks": change(clicks())})
    assert answer.status_code == status
    words = answer.json()["error"]["words"]
    assert len(words) > 20
    assert said in words


def test_the_command_measures_from_a_file_of_clicks(
    client: TestClient, filmed: Any, match_id: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    marks = tmp_path / "clicks.json"
    marks.write_text(
        json.dumps(
            [
                {**{k: v for k, v in click.items() if k != "at_us"}, "at_s": click["at_us"] / 1e6}
                for click in clicks()
            ]
        )
    )

    def run(*words: str) -> tuple[int, str, str]:
        code = 0
        try:
            main(args=["--library", str(filmed.folder), "footage", "measure", match_id, *words])
        except SystemExit as left:
            code = int(left.code or 0)
        said = capsys.readouterr()
        return code, said.out, said.err

    assert run("1")[0] == 1
    code, out, _ = run("1", "--marks", str(marks), "--keep", "--json")
    assert code == 0
    assert json.loads(out)["speed_m_s"]["middle"] == pytest.approx(SPEED_M_S, rel=0.08)
    code, out, _ = run("1")
    assert code == 0
    assert "Speed off the racket" in out
    main(args=["--library", str(filmed.folder), "player", "serves", filmed.match_info(match_id).players[0]])
    assert "1 serve, 1 match." in capsys.readouterr().out
    marks.write_text('[{"what": "front", "at_s": "soon", "u": 1, "v": 2}]')
    code, _, err = run("1", "--marks", str(marks))
    assert code == 1
    assert "click 1: at_s is 'soon'; a number is needed" in err


def test_the_kind_is_proposed_and_recorded_only_when_taken(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    path = f"/api/matches/{match_id}/serves/r0"
    told = client.post(f"{path}/try", json={"marks": clicks()}).json()
    assert (told["kind"], told["kind_words"]) == ("lob", "lob")
    assert "lob 100" in told["kind_note"]
    assert tasks.show_match(filmed, match_id).rallies[0].serve.kind is None
    assert client.post(f"{path}/kind", json={"kind": "hard"}).status_code == 200
    again = client.post(f"{path}/try", json={"marks": clicks()}).json()
    assert again["kind"] is None
    assert "logged as hard: check it" in again["kind_note"]
    assert client.post(f"{path}/kind", json={"kind": ""}).status_code == 422
    assert client.post(f"/api/matches/{match_id}/serves/gone/kind", json={"kind": "lob"}).status_code == 404


def test_a_ball_that_is_not_seen_is_told_and_nothing_is_marked(
    client: TestClient, filmed: Any, match_id: str
) -> None:
    told = client.post(f"/api/matches/{match_id}/serves/r0/ball", json={"marks": clicks()}).json()
    assert told["marks"] == []
    assert told["looked"] > 15
    assert "too few" in told["words"]


def test_a_ball_that_is_seen_is_marked_and_what_does_not_fit_is_not(
    filmed: Any, match_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength.footage.vision import predicted_ball_search
    from goodlength.tasks.footage import ball_position_suggestions

    rng = np.random.default_rng(6)

    def seek(_path: Any, wanted: Any, *, table: Any) -> list[predicted_ball_search.BallDetection]:
        found = []
        for n, item in enumerate(wanted):
            off = (25.0, -25.0) if n == 0 else rng.normal(size=2) * 0.3
            found.append(predicted_ball_search.BallDetection(item.us, item.u + off[0], item.v + off[1], 9.0))
        return found

    monkeypatch.setattr(predicted_ball_search, "search_ball", seek)
    found = ball_position_suggestions.find_ball(tasks.open_match(filmed, match_id), "r0", marks())
    assert found.seen == found.searched - 1, "the first one lies 35 px beside the ball"
    assert len(found.marks) == ball_position_suggestions.MOST_MARKS
    before = ball_position_suggestions.trial_measurement(tasks.open_match(filmed, match_id), "r0", marks())
    assert ball_position_suggestions.spread(found.trial) < ball_position_suggestions.spread(before)
    assert "Check each one" in found.words
    assert tasks.show_match(filmed, match_id).rallies[0].serve.measured is None
