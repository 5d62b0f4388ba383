"""A rally followed from simulated candidates; physics, projection and play are not the joiner's own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from goodlength.ball import Court, PlayConditions
from goodlength.ball.model import flight_array_indices as col
from goodlength.ball.model.constants_with_sources import FASTEST_M_S
from goodlength.bench.ball.serve_from_path_accuracy import ServeTally, judge_serve
from goodlength.bench.ball.shot_path_accuracy import (
    ShotTally,
    judge_rally,
    tracks_of,
)
from goodlength.bench.ball.simulated_ball_candidate_generator import (
    CONDITIONS,
    RallyWithTruth,
    simulate_rally,
)
from goodlength.errors import InputError
from goodlength.measure.serves.serve_measurement import flight_ranges
from goodlength.measure.serves.serve_measurement_from_path import FLIGHTS, LEVEL, at_receiver, serve_value
from goodlength.measure.shots import ball_following_through_rally
from goodlength.measure.shots.ball_following_through_rally import (
    NO_PLAYERS,
    NO_SOUND,
    RallyToFollow,
    contacts_until,
    follow_rally,
    impacts_of,
)
from goodlength.measure.shots.followed_ball_storage import followed_from_json, followed_json
from goodlength.measure.shots.followed_ball_types import (
    BallMark,
    ContactKind,
    FollowedMatch,
    FollowedRally,
    RallyCorrections,
)
from goodlength.measure.shots.single_shot_path_candidates import FoundPath
from goodlength.scoring.scoring_types import Side

SPAN = RallyToFollow("r:1", "f1", 0, 10_000_000)
GOOD = CONDITIONS[0]


@pytest.fixture(scope="module")
def rally() -> RallyWithTruth:
    """A serve and three shots after it, one of which bounces."""
    return simulate_rally(np.random.default_rng([11, 3]), GOOD, varied=False)


@pytest.fixture(scope="module")
def followed(rally: RallyWithTruth) -> FollowedRally:
    sides = (Side.B, Side.A)
    return follow_rally(
        SPAN, rally.found, rally.camera, impacts=sounds(rally), tracks=tracks_of(rally), sides=sides
    )


def sounds(rally: RallyWithTruth) -> list[tuple[int, float]]:
    return [(round(1e6 * t), 0.5) for t, _, _ in rally.sounds]


def test_strikes_contacts_and_bounces_are_those_of_the_truth(
    rally: RallyWithTruth, followed: FollowedRally
) -> None:
    tally = ShotTally()
    judge_rally(rally, followed, tally)
    figures = tally.figures()
    assert (figures["shots"], figures["strikes_found"], figures["strikes_false"]) == (4, 1.0, 0.0)
    assert (figures["order"], figures["striker"]) == (1.0, 1.0)
    assert tally.near == tally.bounces == 1
    assert figures["speed_off"] < 0.05  # type: ignore[operator]


def test_everything_said_of_a_shot_is_consistent(followed: FollowedRally) -> None:
    assert followed.missing == () and followed.reason == ""
    for shot in followed.shots:
        assert shot.best is not None and 1 <= len(shot.paths) <= 3
        times = [contact.time_us for contact in shot.best.contacts]
        assert times == sorted(times) and times[0] == shot.best.struck_us
        assert shot.best.contacts[0].kind is ContactKind.RACKET
        samples = [sample.time_us for sample in shot.best.samples]
        assert samples == sorted(samples) and samples[0] >= shot.struck_us - 40_000
        for contact in shot.best.contacts:
            if contact.covariance_m2 is not None:
                assert (np.linalg.eigvalsh(np.array(contact.covariance_m2)) > 0).all()
    match = FollowedMatch("m1", "paths-1", 1, (followed,))
    assert followed_from_json(followed_json(match)) == match


def test_the_serve_is_measured_from_its_path(rally: RallyWithTruth, followed: FollowedRally) -> None:
    serve = followed.serve
    assert serve is not None and serve.value.level == LEVEL
    assert all(mark.found and mark.what == "ball" for mark in serve.value.marks)
    assert serve.value.speed_m_s[0] == pytest.approx(rally.shots[0].speed_m_s, rel=0.04)
    tally = ServeTally()
    judge_serve(rally, followed, tally)
    assert {"front_z_m", "bounce_y_m", "receiver_z_m", "receiver_side_m"} <= tally.pairs.keys()
    for name, ((true, (middle, low, high)),) in tally.pairs.items():
        assert low < middle < high, name
        assert abs(true - middle) < 3.0 * (high - low), name


def test_a_serve_whose_path_is_unlikely_is_not_measured(
    rally: RallyWithTruth, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ball_following_through_rally, "LEAST_SERVE", 1.0)
    assert follow_rally(SPAN, rally.found, rally.camera, impacts=sounds(rally)).serve is None


def flights(*speeds: tuple[float, float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Flights from one place, an equal number at each speed."""
    launches = np.array([(5.5, 6.0, 1.2, *speed, 0.0, 0.0, 0.0) for speed in speeds])
    row = PlayConditions().coefficients().row()
    return np.repeat(launches, FLIGHTS // len(speeds), axis=0), np.tile(row, (FLIGHTS, 1))


GOOD_SPEED, INTO_FLOOR, INTO_SIDE = (-10.0, -20.0, 5.0), (0.0, -4.0, -6.0), (8.0, -3.0, 2.0)


@pytest.mark.parametrize("speeds", [(INTO_FLOOR,), (INTO_SIDE,), (GOOD_SPEED, INTO_FLOOR, INTO_SIDE)])
def test_a_serve_that_misses_the_front_wall_is_followed_but_not_measured(
    rally: RallyWithTruth, monkeypatch: pytest.MonkeyPatch, speeds: tuple[tuple[float, float, float], ...]
) -> None:
    """Its missing place on the front wall was no number, which nothing stored may be."""

    def missing(footage: str, us: int, _launches: object, _rows: object, marks: Any, **rest: Any) -> object:
        return serve_value(footage, us, *flights(*speeds), marks, **rest)

    monkeypatch.setattr(ball_following_through_rally, "serve_value", missing)
    missed = follow_rally(SPAN, rally.found, rally.camera, impacts=sounds(rally))
    assert missed.serve is None and len(missed.shots) >= 3


def test_flights_without_a_place_at_the_receiver_count_in_no_range() -> None:
    launches, rows = flights(GOOD_SPEED)
    launches[: FLIGHTS // 3, 3] = np.nan
    height, from_wall = at_receiver(launches, rows, 0.5, np.random.default_rng(1))
    assert height is not None and from_wall is not None and np.isfinite([*height, *from_wall]).all()
    launches[: FLIGHTS // 3 * 2, 3] = np.nan
    assert at_receiver(launches, rows, 0.5, np.random.default_rng(1)) == (None, None)


def test_ranges_widen_by_what_the_fit_leaves_out() -> None:
    """A spread of 5 cm alone: its 90-in-100 range is 1.645 times that to either side."""
    launch = np.array([5.5, 6.0, 1.2, -10.0, -20.0, 5.0, 0.0, 0.0, 0.0])
    launches = np.tile(launch, (4000, 1))
    rows = np.tile(PlayConditions().coefficients().row(), (4000, 1))
    plain = flight_ranges(launches, rows, None, 0.9)
    assert plain.front_x_m.low == plain.front_x_m.high
    wide = flight_ranges(launches, rows, None, 0.9, {"front_x_m": 0.05}, np.random.default_rng(1))
    assert wide.front_x_m.high - wide.front_x_m.low == pytest.approx(2 * 1.645 * 0.05, rel=0.06)
    assert wide.front_z_m == plain.front_z_m


def test_sides_are_told_where_tracks_have_names(rally: RallyWithTruth, followed: FollowedRally) -> None:
    assert [shot.striker for shot in followed.shots] == [(Side.B, Side.A)[shot.by] for shot in rally.shots]


def test_without_sound_and_players_it_says_so(rally: RallyWithTruth) -> None:
    alone = follow_rally(SPAN, rally.found, rally.camera, impacts=sounds(rally))
    assert alone.missing == (NO_PLAYERS,)
    assert alone.shots and all(shot.track is None and shot.striker is None for shot in alone.shots)
    silent = follow_rally(SPAN, rally.found, rally.camera, tracks=tracks_of(rally))
    assert silent.missing == (NO_SOUND,) and silent.shots
    assert not any(shot.sure for shot in (*alone.shots, *silent.shots))  # measured with both only


def test_the_tin_is_as_high_as_the_court_s(rally: RallyWithTruth) -> None:
    """A front wall touched at 0.45 m is good over a tour tin of 0.43 m, and down on the standard 0.48 m."""
    contacts = np.array([[0.3, 3.0, 0.02, 0.45, col.FRONT], [0.6, 3.0, 3.0, 0.02, col.FLOOR]])
    for tin, kind, over_s in (("tour", ContactKind.FRONT, np.inf), ("standard", ContactKind.TIN, 0.3)):
        row = PlayConditions(court=Court(tin=tin)).coefficients().row()
        none = np.zeros(0)
        path = FoundPath(
            0.0, 0, none, none, none, np.zeros(0, np.int64), contacts, 0.0, row, none, (none, none)
        )
        assert path.over_s == over_s
        assert contacts_until(path, 1.0, last=True)[0][0] is kind


def test_a_certain_strike_and_one_that_is_none_hold(rally: RallyWithTruth) -> None:
    at_us = round(1e6 * rally.shots[1].time_s)
    none = RallyCorrections(not_strikes_us=(at_us, at_us + 20_000))
    without = follow_rally(
        SPAN, rally.found, rally.camera, impacts=sounds(rally), tracks=tracks_of(rally), corrections=none
    )
    assert all(abs(shot.struck_us - at_us) > 30_000 for shot in without.shots)
    certain = RallyCorrections(strikes_us=(at_us,))
    with_it = follow_rally(
        SPAN, rally.found, rally.camera, impacts=sounds(rally), tracks=tracks_of(rally), corrections=certain
    )
    assert any(abs(shot.struck_us - at_us) < 40_000 for shot in with_it.shots)
    assert all(shot.corrected for shot in with_it.shots)


def clicked(rally: RallyWithTruth, shot: int, off_px: float) -> RallyCorrections:
    """Return a click beside the best candidate of a frame in which it lies on the ball's true path."""
    begin, until = (round(1e6 * rally.shots[n].time_s) for n in (shot, shot + 1))
    frames = np.flatnonzero(
        (rally.found.times_us > begin + 200_000) & (rally.found.times_us < until - 200_000)
    )
    scores = rally.found.score[frames, 0]
    k = int(frames[np.nanargmax(scores)])
    u, v = (float(value) for value in rally.found.uv[k, 0])
    return RallyCorrections(marks=(BallMark(int(rally.found.times_us[k]), u + off_px, v),))


@pytest.mark.parametrize(("off_px", "strikes_stay"), [(2.0, True), (300.0, False)])
def test_strikes_stay_where_the_paths_between_them_pass_a_click(
    rally: RallyWithTruth, followed: FollowedRally, off_px: float, strikes_stay: bool
) -> None:
    """A shot that was left out of what is shown tells the two apart: following anew finds it again."""
    shown = replace(followed, shots=followed.shots[:-1])
    corrections = clicked(rally, 0, off_px)
    given = {"impacts": sounds(rally), "tracks": tracks_of(rally), "corrections": corrections}
    again = follow_rally(SPAN, rally.found, rally.camera, shown=shown, **given)
    anew = follow_rally(SPAN, rally.found, rally.camera, **given)
    assert len(anew.shots) == len(followed.shots)
    assert len(again.shots) == len(shown.shots if strikes_stay else followed.shots)
    for one_shot, other in zip(again.shots, anew.shots, strict=False):
        assert abs(one_shot.struck_us - other.struck_us) < 20_000
    (mark,) = corrections.marks
    best = again.shots[0].best
    assert best is not None
    assert any(sample.time_us == mark.time_us and sample.seen for sample in best.samples) or not strikes_stay


def test_flights_that_no_ball_can_fly_stop_no_rally(
    rally: RallyWithTruth, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a fit leaves the speed wide open, some flights drawn from it are faster than any ball."""
    wide = np.diag([0.01] * 3 + [1_500.0] * 3 + [1e-4] * 4)
    monkeypatch.setattr(ball_following_through_rally, "unknowns_covariance", lambda *_: wide)
    again = follow_rally(SPAN, rally.found, rally.camera, impacts=sounds(rally), tracks=tracks_of(rally))
    assert len(again.shots) == len(rally.shots)
    if again.serve is not None:
        assert again.serve.value.speed_m_s[2] <= FASTEST_M_S


def test_a_click_outside_the_frame_is_refused(rally: RallyWithTruth) -> None:
    outside = RallyCorrections(marks=(BallMark(1_000_000, 5_000.0, 10.0),))
    with pytest.raises(InputError, match=r"\(5000, 10\) is outside the frame of 1920 by 1080"):
        follow_rally(SPAN, rally.found, rally.camera, corrections=outside)


def test_what_cannot_be_followed_is_left_empty_with_its_reason(rally: RallyWithTruth) -> None:
    def reason(found=rally.found, camera=rally.camera) -> str:
        result = follow_rally(SPAN, found, camera, impacts=sounds(rally), tracks=tracks_of(rally))
        assert result.shots == ()
        return result.reason

    assert "not calibrated" in reason(camera=None)
    assert "one plane" in reason(camera=replace(rally.camera, floor_only=True))
    assert "Only 5 frames" in reason(found=rally.found.part(np.arange(5)))
    assert "found in only 0 of 100" in reason(
        found=replace(rally.found, score=np.full_like(rally.found.score, 0.1))
    )
    blind = replace(rally.found, searched=np.zeros(len(rally.found), bool))
    assert "could be searched" in reason(found=blind)


def test_a_ball_left_lying_and_a_second_ball_are_said(rally: RallyWithTruth) -> None:
    uv, score = rally.found.uv.copy(), rally.found.score.copy()
    uv[:, 7], score[:, 7] = (300.0, 900.0), 0.95
    lying = follow_rally(
        SPAN,
        replace(rally.found, uv=uv, score=score),
        rally.camera,
        impacts=sounds(rally),
        tracks=tracks_of(rally),
    )
    assert any("lies still" in words for words in lying.missing)
    assert len(lying.shots) == 4
    n = len(rally.found)
    uv[:, 7] = np.column_stack([np.linspace(200.0, 1700.0, n), np.linspace(300.0, 800.0, n)])
    two = follow_rally(
        SPAN,
        replace(rally.found, uv=uv, score=score),
        rally.camera,
        impacts=sounds(rally),
        tracks=tracks_of(rally),
    )
    assert any("two balls" in words for words in two.missing)
    assert not any(shot.sure for shot in two.shots)


def test_sounds_of_detection_count_once() -> None:
    assert impacts_of([1_000_000, 2_000_000], [(1_004_000, "racket", 0.9), (1_500_000, "floor", 0.8)]) == (
        (1_004_000, 0.9),
        (1_500_000, pytest.approx(0.2)),
        (2_000_000, 0.5),
    )
