"""Players of the test family's recordings move as people can, and stand where the rules of play ask."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

from goodlength.court.dimensions import BOX_M, BOX_REAR_M, LENGTH_M, MIDDLE_M, SHORT_LINE_REAR_M, WIDTH_M
from goodlength.errors import OutOfRange
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)
from goodlength.synthetic.recordings.test_family import player_positions_over_time as player_places_module
from goodlength.synthetic.recordings.test_family.player_positions_over_time import player_places
from goodlength.synthetic.recordings.test_family.session_event_timeline import (
    DiaryHabits,
    doubles_diary,
    match_diary,
)

STEP_S = 0.05


def recording_of(diary, condition="usual", places=True, details=None):
    contacts = tuple(
        WorldContact(m.time_s, m.surface, m.striker, True, m.place[:2] if places else None)
        for m in diary.moments
    )
    spans = tuple(sorted(diary.spans, key=lambda s: s.start_s))
    return WorldRecording(
        "judging", condition, np.zeros((1, 1), np.float32), 16000, contacts, spans, details or {}
    )


def match(seed, seconds=400.0, **habits):
    return recording_of(match_diary(np.random.default_rng(seed), DiaryHabits(**habits), 0.0, seconds))


def speeds_of(places):
    return np.hypot(*np.moveaxis(np.diff(places, axis=1), -1, 0)) / STEP_S


def strikers(world, span):
    return [
        c for c in world.contacts if c.surface is Surface.RACKET and span.start_s <= c.time_s <= span.end_s
    ]


RECORDINGS = [
    *[match(seed) for seed in range(4)],
    match(4, pace=(1.0, 1.35), length=2.0, rest_s=(4.0, 10.0)),
    recording_of(match_diary(np.random.default_rng(5), DiaryHabits(), 0.0, 300.0), places=False),
    recording_of(doubles_diary(np.random.default_rng(6), 300.0), "doubles warm-up"),
    recording_of(
        match_diary(np.random.default_rng(7), DiaryHabits(), 0.0, 150.0),
        "half silent",
        details={"cut_s": 150.0, "silent": "after"},
    ),
    *[
        WorldRecording("judging", name, np.zeros((1, 1), np.float32), 16000, (), ())
        for name in ("speech only", "music only", "street")
    ],
]


@pytest.mark.parametrize("world", RECORDINGS, ids=lambda w: w.condition)
def test_nobody_runs_faster_than_people_do_or_through_a_wall(world):
    """6 m/s at most: common practice, no source."""
    places = player_places(np.random.default_rng(3), world, 400.0)
    assert places.shape == (2, round(400.0 / STEP_S) + 1, 2)
    assert np.isfinite(places).all()
    assert speeds_of(places).max() <= 6.0
    assert not world.contacts or speeds_of(places).max() > 1.0
    assert places[..., 0].min() >= 0.2
    assert places[..., 0].max() <= WIDTH_M - 0.2
    assert places[..., 1].min() >= 0.2
    in_the_wall = np.abs(places[..., 1] - LENGTH_M) < 0.2
    assert in_the_wall.mean() < 0.01


@pytest.mark.parametrize("world", RECORDINGS[:6])
def test_a_server_has_a_foot_in_a_box_and_the_receiver_stands_in_the_other_back_quarter(world):
    """A foot is taken to reach 0.4 m from the body's middle (ASSUMED)."""
    places = player_places(np.random.default_rng(8), world, 400.0)
    assert len(world.rallies) >= 4
    for span in world.rallies:
        serve = strikers(world, span)[0]
        at = round(serve.time_s / STEP_S)
        (x, y), (other_x, other_y) = places[serve.striker, at], places[1 - serve.striker, at]
        from_box = max(min(x, WIDTH_M - x) - BOX_M, SHORT_LINE_REAR_M - y, y - BOX_REAR_M, 0.0)
        assert from_box < 0.4
        assert (x > MIDDLE_M) != (other_x > MIDDLE_M)
        assert SHORT_LINE_REAR_M < other_y < LENGTH_M


@pytest.mark.parametrize("world", RECORDINGS[:5])
def test_a_server_who_wins_changes_boxes_and_serves_a_let_again_from_the_same(world):
    places = player_places(np.random.default_rng(9), world, 400.0)
    before = None
    game_begins = [s.end_s for s in world.spans if s.activity is Activity.BETWEEN_GAMES]
    compared = 0
    for span in world.rallies:
        serve = strikers(world, span)[0]
        right = places[serve.striker, round(serve.time_s / STEP_S), 0] > MIDDLE_M
        if before is not None and before[0] == serve.striker:
            new_game = any(before[3] < t <= span.start_s for t in game_begins)
            if not new_game:
                assert right == (before[1] if before[2] else not before[1])
                compared += 1
        before = (serve.striker, right, span.let, span.start_s)
    assert compared >= 1


def test_strikers_stand_within_a_lunge_of_the_ball_nearly_always():
    """2.5 m of reach and lunge, and balls that the diary draws too far: ASSUMED."""
    far = []
    for world in RECORDINGS[:5]:
        places = player_places(np.random.default_rng(10), world, 400.0)
        for span in world.rallies:
            hits = strikers(world, span)
            at_serve = places[hits[0].striker, round(hits[0].time_s / STEP_S), 0]
            mirrored = (at_serve > MIDDLE_M) != (hits[0].place_m[0] > MIDDLE_M)
            for hit in hits[1:]:
                x = WIDTH_M - hit.place_m[0] if mirrored else hit.place_m[0]
                body = places[hit.striker, round(hit.time_s / STEP_S)]
                far.append(np.hypot(body[0] - x, body[1] - hit.place_m[1]))
    assert np.mean(np.array(far) < 2.5) > 0.9
    assert np.median(far) < 1.2


def test_the_same_random_state_gives_the_same_places_and_another_gives_others():
    world = RECORDINGS[0]
    first, again, other = (player_places(np.random.default_rng(s), world, 200.0) for s in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_most_leave_the_court_in_a_long_break():
    spans = (WorldSpan(5.0, 125.0, Activity.BETWEEN_GAMES),)
    world = WorldRecording("judging", "usual", np.zeros((1, 1), np.float32), 16000, (), spans)
    door = WorldContact(12.0, Surface.DOOR)
    out, back = [], []
    for seed in range(20):
        recording = WorldRecording(
            "judging", "usual", world.samples, 16000, (door, WorldContact(113.0, Surface.DOOR)), spans
        )
        places = player_places(np.random.default_rng(seed), recording, 140.0)
        out.append((places[:, round(30.0 / STEP_S) : round(105.0 / STEP_S), 1] >= 11.5).all(axis=1))
        back.append(places[:, round(125.0 / STEP_S), 1] < LENGTH_M)
    assert np.mean(out) > 0.6
    assert np.mean(back) > 0.95


def test_half_a_minute_of_a_warm_up_stays_within_lawful_places_and_near_its_strikes():
    contacts = tuple(
        WorldContact(3.0 + 1.6 * k, Surface.RACKET, k % 2, True, (1.4 if k % 2 else 5.0, 7.0))
        for k in range(16)
    )
    spans = (WorldSpan(3.0, 28.0, Activity.WARM_UP, 27.0),)
    world = WorldRecording("judging", "usual", np.zeros((1, 1), np.float32), 16000, contacts, spans)
    for seed in range(12):
        places = player_places(np.random.default_rng(seed), world, 30.0)
        assert places[..., 0].min() >= 0.2
        assert places[..., 0].max() <= WIDTH_M - 0.2
        during = places[:, round(4.0 / STEP_S) : round(27.0 / STEP_S)]
        assert during[..., 1].min() >= 0.2
        assert during[..., 1].max() <= LENGTH_M - 0.2
        assert np.hypot(*(places[0] - places[1]).T).min() > 0.15
        assert speeds_of(places).max() <= 6.0


@pytest.mark.parametrize("seconds", [0.0, -3.0, np.nan, np.inf])
def test_a_length_that_is_none_is_refused(seconds):
    with pytest.raises(OutOfRange, match="length above 0 s"):
        player_places(np.random.default_rng(1), RECORDINGS[0], seconds)


def test_movement_takes_nothing_from_other_families_or_detectors():
    own = Path(player_places_module.__file__)
    allowed = (
        "goodlength.court",
        "goodlength.errors",
        "goodlength.synthetic.recordings.recording_types",
        "goodlength.synthetic.recordings.test_family.movement",
    )
    files = [own, *(own.parent / "movement").glob("*.py")]
    assert len(files) >= 6
    for path in files:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("goodlength"):
                assert node.module.startswith(allowed), (path.name, node.module)
