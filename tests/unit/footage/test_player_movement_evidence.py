"""How players move: drawn movements keep the rules of a serve, and their picture tells rallies from hitting."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from goodlength.footage.audio.span_chances.rally_probability_from_movement import FEATURES, movement_features
from goodlength.footage.vision.motion_profile import HEIGHT, WIDTH, MotionMeter, MotionProfile
from goodlength.footage.vision.serve_log_odds_from_motion import serve_odds
from goodlength.footage.vision.span_motion_features_for_rally_detection import StruckSpan, pattern_features
from goodlength.synthetic.recordings.player_movements import (
    training_family_goal_seeking_movement,
    training_family_waypoint_movement,
    validation_family_stepwise_movement,
)
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)
from goodlength.synthetic.recordings.rendered_player_video import STEP_S, plain_picture

MOVERS = pytest.mark.parametrize(
    "mover",
    [
        training_family_waypoint_movement,
        training_family_goal_seeking_movement,
        validation_family_stepwise_movement,
    ],
)
Places = Callable[[np.random.Generator, WorldRecording, float], NDArray[np.float64]]


def evening(seed: int) -> WorldRecording:
    """A truth without sound: a warm-up, rallies with pauses, and balls kept warm in some of these."""
    rng, now = np.random.default_rng(seed), 2.0
    contacts: list[WorldContact] = []
    spans: list[WorldSpan] = []

    def hit(count: int, gap_s: float, who: Callable[[int], int], activity: Activity) -> None:
        nonlocal now
        begin = last = now
        for k in range(count):
            contacts.append(WorldContact(now, Surface.RACKET, who(k)))
            last, now = now, now + gap_s * float(rng.uniform(0.85, 1.15))
        spans.append(WorldSpan(begin, now, activity, last))

    hit(40, 1.6, lambda k: (k // 4) % 2, Activity.WARM_UP)
    now += 20.0
    for k in range(16):
        hit(int(rng.integers(4, 14)), 1.2, lambda k: k % 2, Activity.RALLY)
        now += float(rng.uniform(9, 16))
        if k % 3 == 2:
            hit(6, 1.2, lambda _: 0, Activity.KNOCKING)
            now += 9.0
    silent = np.zeros((1, round(now * 100)), np.float32)
    return WorldRecording("plain", "usual", silent, 100, tuple(contacts), tuple(spans))


def seen(world: WorldRecording, places: Places) -> MotionProfile:
    """The motion of a drawn picture."""
    meter = MotionMeter()
    for at, picture in plain_picture(np.random.default_rng(4), world, places).pictures(5.0):
        meter.feed(at, cv2.resize(picture, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA).astype(np.float32))
    return meter.profile()


def struck(world: WorldRecording, chance: float) -> list[StruckSpan]:
    """Every span of a world as one with a chance."""
    at = np.array([c.time_s for c in world.contacts])
    inside = [at[(at >= s.start_s) & (at <= (s.last_strike_s or s.end_s))] for s in world.spans]
    return [StruckSpan(strikes, chance) for strikes in inside]


@MOVERS
def test_who_serves_stands_in_a_box_and_the_other_in_the_quarter_across(mover: ModuleType) -> None:
    right = total = 0
    for seed in range(4):
        world = evening(seed)
        seconds = world.samples.shape[1] / world.rate
        paths = mover.player_places(np.random.default_rng(seed), world, seconds)
        assert paths.shape == (2, round(seconds / STEP_S) + 1, 2)
        speed = np.hypot(*np.moveaxis(np.diff(paths, axis=1), 2, 0)) / STEP_S
        assert speed.max() < 8.0 and np.quantile(speed, 0.99) < 5.5
        assert (paths[..., 0] > -0.3).all() and (paths[..., 0] < 6.7).all()
        for rally in world.rallies:
            server, receiver = paths[:, round(rally.start_s / STEP_S)]
            left = server[0] < 3.2
            total += 1
            right += bool(
                min(server[0], 6.4 - server[0]) < 2.1
                and 5.2 < server[1] < 7.4
                and receiver[1] > 5.3
                and (receiver[0] > 3.0 if left else receiver[0] < 3.4)
            )
    assert right >= 0.85 * total, "the rest come too late for a quick serve"


@MOVERS
def test_a_serve_comes_out_of_stillness(mover: ModuleType) -> None:
    world = evening(1)
    spans = [s for s, w in zip(struck(world, 0.8), world.spans, strict=True) if w.activity is Activity.RALLY]
    first = np.array([span.start_s for span in spans])
    later = np.concatenate([span.strikes_s[2:] for span in spans])
    at = np.sort(np.concatenate([first, later]))
    odds = serve_odds([seen(world, mover.player_places)], spans, at)
    is_first = np.isin(at, first)
    assert np.median(odds[is_first]) > 1.0
    assert np.median(odds[~is_first]) < -1.0
    assert not serve_odds([], spans, at).any()


@MOVERS
def test_rallies_look_more_like_the_recordings_other_rallies(mover: ModuleType) -> None:
    world = evening(2)
    spans = [
        StruckSpan(s.strikes_s, 0.9 if w.activity is Activity.RALLY else 0.3)
        for s, w in zip(struck(world, 0.9), world.spans, strict=True)
    ]
    rows = movement_features([seen(world, mover.player_places)], spans, np.zeros(9000))
    assert rows.shape == (len(spans), len(FEATURES)) and np.isfinite(rows).all()
    rally = np.array([w.activity is Activity.RALLY for w in world.spans])
    likeness = rows[:, :3].sum(axis=1)
    assert np.median(likeness[rally]) > np.median(likeness[~rally])


def test_a_span_that_no_film_shows_has_no_features() -> None:
    world = evening(3)
    film = seen(world, training_family_goal_seeking_movement.player_places)
    spans = struck(world, 0.8)
    half = film.between(0.0, spans[8].start_s - 5.0)
    rows = pattern_features(half, spans)
    assert rows is not None
    assert np.isfinite(rows[:8]).all() and np.isnan(rows[8:, -1]).all()
    assert pattern_features(MotionProfile.empty(), spans) is None
    still = MotionProfile.even(film.time_s, np.full(len(film.time_s), 2.0))
    assert pattern_features(still, spans) is None, "nothing differs"
    assert pattern_features(film, []) is None, "nothing heard"
