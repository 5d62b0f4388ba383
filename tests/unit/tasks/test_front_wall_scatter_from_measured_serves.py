"""A player's scatter from measured serves: by kind and box, over matches, less the error of measuring."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.aim.serve_scatter_on_front_wall import ASSUMED_LEAST_LEFT, AimScatter, true_spread
from goodlength.errors import NotFound
from goodlength.files.library_layout import followed_ball_file
from goodlength.forms.footage.measured_serves_by_kind_json import kind_form
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.measure.shots.followed_ball_types import FollowedRally, PathSources
from goodlength.record.entry_value_types import MeasuredValue
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.tasks.ball import ball_following_inputs, player_measured_serves
from goodlength.tasks.ball.player_measured_serves import measured_by_kind
from goodlength.tasks.ball.serve_statistics_by_kind import kind_line, measured_kinds
from goodlength.web.views.aim_page_query import form_of
from tests.oracles.followed_shots import made_match, made_rally, unchanged_inputs

SD_90 = 1.6448536269514722  # half-width of a 90-in-100 range of the normal curve, from memory


def value(across: float, up: float, speed: float, off: tuple[float, float, float]) -> dict[str, Any]:
    """A measured serve whose 90-in-100 ranges are those of errors of that size."""

    def three(middle: float, sd: float) -> list[float]:
        return [middle, middle - SD_90 * sd, middle + SD_90 * sd]

    return {
        "footage": "f1",
        "marks": [{"what": "front", "at_us": 0, "u": 1.0, "v": 1.0}],
        "struck_us": 0,
        "level": 0.9,
        "speed_m_s": three(speed, off[2]),
        "up_deg": [10.0, 9.0, 11.0],
        "struck_m": [[5.0, 4.9, 5.1], [6.0, 5.9, 6.1], [1.2, 1.1, 1.3]],
        "front_x_m": three(across, off[0]),
        "front_z_m": three(up, off[1]),
        "to_front_s": [0.5, 0.49, 0.51],
    }


@pytest.fixture
def library(tmp_path: Any) -> Iterator[Library]:
    with tasks.open_library(tmp_path / "lib") as item:
        for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(item, name, player_id=player)
        yield item


def serve(
    library: Library, match: str, n: int, kind: str, told: dict[str, Any] | None, server: str = "a"
) -> None:
    key = f"r{n}"
    tasks.answer(library, match, key, EntryKind.SERVER, server)
    tasks.answer(library, match, key, EntryKind.BOX, "right")
    tasks.answer(library, match, key, EntryKind.KIND, kind)
    if told is not None:
        tasks.answer(library, match, key, EntryKind.MEASURED, told)
    tasks.answer(library, match, key, EntryKind.WINNER, server)


def test_measured_serves_come_before_practice_and_level(library: Library) -> None:
    rng = np.random.default_rng(4)
    off = (0.05, 0.05, 0.4)
    for match in ("m1", "m2"):
        tasks.new_match(library, ("iv", "plo"), match_id=match)
        for n in range(10):
            kind, middle = ("lob", (3.0, 4.0, 14.0)) if n % 2 else ("hard", (2.0, 2.2, 30.0))
            place = np.array(middle) + rng.normal(size=3) * (0.2, 0.3, 1.0)
            serve(library, match, n, kind, value(*(float(v) for v in place), off))
    serve(library, "m2", 10, "lob", value(5.9, 0.6, 60.0, off), server="b")  # the opponent's does not count
    groups = measured_by_kind(tasks.open_matches(library, "iv"))
    assert {key: len(group) for key, group in groups.items()} == {("hard", "right"): 10, ("lob", "right"): 10}
    assert groups["lob", "right"][0].errors == pytest.approx(off, abs=1e-6)
    found = tasks.scatter_of_player(tasks.open_matches(library, "iv"))
    assert found.balls == 19
    assert found.speed_measured
    assert "20 serves measured in 2 matches" in found.assumed
    for seen, true in ((found.across_m, 0.2), (found.up_m, 0.3), (found.speed_m_s, 1.0)):
        assert 0.6 * true < seen < 1.5 * true


def with_path(library: Library, match: str, n: int, speed: float, chance: float = 0.93) -> FollowedRally:
    """A followed rally whose serve has that speed."""
    made = made_rally(f"r:r{n}", begin_us=n * 20_000_000)
    assert made.serve is not None
    value = made.serve.value.model_copy(update={"speed_m_s": (speed, speed - 1.0, speed + 1.0)})
    return replace(made, serve=replace(made.serve, chance=chance, value=value))


def test_serves_from_paths_count_beside_clicked_ones(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    tasks.new_match(library, ("iv", "plo"), match_id="m1")
    for n in range(12):
        clicked = value(3.0, 4.0, 14.0 + n / 10, (0.05, 0.05, 0.4)) if n < 4 else None
        serve(library, "m1", n, "lob", clicked)
    rallies = [with_path(library, "m1", n, 20.0 + n) for n in range(3, 10)]
    rallies += [with_path(library, "m1", 10, 60.0, chance=0.6), with_path(library, "m1", 30, 70.0)]
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", *rallies))
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(rallies))
    matches = tasks.open_matches(library, "iv")
    (group,) = measured_by_kind(matches).values()
    assert [(place.by, place.speed_m_s) for place in group[:5]] == [
        *(("clicks", 14.0 + n / 10) for n in range(4)),  # the clicked serve of rally 3 goes before its path
        ("path", 24.0),
    ]
    assert len(group) == 10  # not the unlikely path, nor that of a rally nobody logged
    assert group[4].errors[2] == pytest.approx(1.0 / SD_90)
    assert "(6 of them from their paths)" in tasks.scatter_of_player(matches).assumed
    (lob,) = measured_kinds(matches)
    assert kind_line(lob, {"lob": "Lob"}).endswith("Measured by clicks: 4, from the path: 6.")
    assert [each["measured_by"] for each in kind_form(lob)["measured"]] == ["clicks"] * 4 + ["path"] * 6
    assert tasks.brief_about(library, "iv").measured == (kind_line(lob, {"lob": "Lob"}),)
    asked: list[str] = []
    monkeypatch.setattr(player_measured_serves, "serves_as_measured", lambda _: asked.append("again") or ())
    (kept,) = measured_by_kind(tasks.open_matches(library, "iv")).values()
    assert kept == group and asked == []  # nothing changed, so nothing is read again
    monkeypatch.undo()
    camera = library.folder / "cameras"
    camera.mkdir(exist_ok=True)
    (camera / "f1.json").write_text("{}")
    other = PathSources("another camera", "p", "s", "b")
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(rallies, other))
    (group,) = measured_by_kind(tasks.open_matches(library, "iv")).values()
    assert {place.by for place in group} == {"clicks"}  # paths that are out of date do not count


def test_a_clicked_serve_without_a_place_on_the_front_wall_is_left_out() -> None:
    """Records of before that was refused may hold one."""
    stored = MeasuredValue.model_validate(value(3.0, 4.0, 14.0, (0.1, 0.1, 1.0)))
    broken = stored.model_copy(update={"front_x_m": (math.nan,) * 3})
    assert player_measured_serves.measured_place("m1", "r1", stored, "clicks") is not None
    assert player_measured_serves.measured_place("m1", "r1", broken, "clicks") is None


def test_too_few_of_a_kind_leave_the_level(library: Library) -> None:
    tasks.new_match(library, ("iv", "plo"), match_id="m1")
    for n in range(4):
        serve(library, "m1", n, "lob", value(3.0 + n, 3.0, 14.0, (0.1, 0.1, 1.0)))
    assert tasks.scatter_of_player(tasks.open_matches(library, "iv")) == AimScatter.of_level("club")


def test_the_error_of_measuring_is_taken_off_on_the_average() -> None:
    rng = np.random.default_rng(9)
    true, off = np.array([0.2, 0.3, 1.0]), np.array([0.1, 0.2, 0.8])
    seen = rng.normal(size=(4000, 3)) * np.hypot(true, off)
    found, balls = true_spread([seen.tolist()], [[tuple(off)] * 4000])
    assert balls == 4000
    assert found == pytest.approx(true, rel=0.06)


def test_an_error_larger_than_what_is_seen_leaves_something() -> None:
    places = [(0.0, 0.0, 20.0), (0.1, 0.1, 20.1), (0.2, 0.2, 20.2)]
    found, _ = true_spread([places], [[(9.0, 9.0, 9.0)] * 3])
    assert found[0] == pytest.approx(ASSUMED_LEAST_LEFT * 0.1)
    assert true_spread([], [])[1] == 1


def test_a_measured_speed_has_the_fat_tails_of_few_balls() -> None:
    few = AimScatter(0.2, 0.2, 1.0, 5, "", True)
    drawn = few.misses(200_000, np.random.default_rng(1))[:, 2]
    plain = AimScatter(0.2, 0.2, 1.0, 5, "").misses(200_000, np.random.default_rng(1))[:, 2]
    assert plain.std() == pytest.approx(1.0, rel=0.02)
    assert np.quantile(np.abs(drawn), 0.99) > 1.5 * np.quantile(np.abs(plain), 0.99)


def test_serves_by_kind_and_box_with_where_they_land(library: Library) -> None:
    for match in ("m1", "m2"):
        tasks.new_match(library, ("iv", "plo"), match_id=match)
    for n, (match, kind, speed) in enumerate(
        (("m1", "lob", 14.0), ("m1", "lob", 16.0), ("m2", "lob", 15.5), ("m2", "hard", 40.0))
    ):
        told = value(3.0, 4.0, speed, (0.1, 0.1, 0.5))
        if n != 1:
            told |= {"bounce_x_m": [0.9, 0.7, 1.1], "bounce_y_m": [9.0, 8.8, 9.2]}
        serve(library, match, n, kind, told)
    lob, hard = measured_kinds(tasks.open_matches(library, "iv"))
    assert (lob.kind, lob.box, lob.serves, lob.matches) == ("lob", "right", 3, 2)
    assert (lob.speed_m_s, lob.slowest_m_s, lob.fastest_m_s) == (15.5, 14.0, 16.0)
    assert lob.off_m_s == pytest.approx(0.5)
    assert lob.bounces == ((0.9, 9.0), (0.9, 9.0))
    assert kind_form(hard)["speed_m_s"]["median"] == 40.0
    assert kind_line(lob, {"lob": "Lob"}).startswith("Lob from the right box: 56 km/h, from 50 to 58")
    asked = {"player": "iv", "kind": "lob", "box": "right"}
    assert form_of(library, asked, None, tasks.open_matches(library, "iv"))["measured_words"] == kind_line(
        lob, {"lob": "Lob"}
    )
    assert (
        form_of(library, {**asked, "player": "plo"}, None, tasks.open_matches(library, "plo"))[
            "measured_words"
        ]
        == ""
    )
    assert measured_kinds(tasks.open_matches(library, "plo")) == ()
    with pytest.raises(NotFound):
        measured_kinds(tasks.open_matches(library, "nobody"))
