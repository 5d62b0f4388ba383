"""The picture joined with the sound: measured in bounded steps, soft evidence, and never over the coach's word."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from types import ModuleType
from typing import Any

import cv2
import numpy as np
import pytest

from goodlength.errors import Cancelled
from goodlength.footage.audio.merge_of_detected_and_confirmed_rallies import (
    detected_rally_id,
    save_detection,
    timeline_of_films,
)
from goodlength.footage.audio.multi_file_rally_detection import (
    FilePlacement,
    match_picture_job,
    match_rally_detection_job,
)
from goodlength.footage.audio.rally_detection import detect_rallies
from goodlength.footage.audio.span_chances.rally_probability_from_movement import movement_odds
from goodlength.footage.vision.motion_profile import (
    COLUMNS,
    HEIGHT,
    ROWS,
    WIDTH,
    MotionMeter,
    MotionProfile,
    motion_profile,
    stored_profile,
)
from goodlength.footage.vision.rally_motion_log_odds import GRID_S, LikelySpan, motion_odds
from goodlength.footage.vision.span_motion_features_for_rally_detection import StruckSpan
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
from goodlength.synthetic.recordings.rendered_player_video import (
    plain_picture,
    write_plain_film,
)
from goodlength.synthetic.simulated_court_audio import RATE, TYPICAL, record

SECOND = 1_000_000
CALM = replace(TYPICAL, t60_s=(1.0, 1.5), doors=0.0)


def played(seed: int, seconds: float = 90.0) -> WorldRecording:
    """A recording of the plain simulator with its truth, to be drawn."""
    made = record(np.random.default_rng(seed), CALM, seconds)
    contacts = [
        WorldContact(at, Surface.RACKET, k % 2) for hits in made.truth.hits for k, at in enumerate(hits)
    ]
    spans = [WorldSpan(a, b, Activity.RALLY, b) for a, b in made.truth.rallies]
    return WorldRecording("plain", "usual", made.samples[None], RATE, tuple(contacts), tuple(spans))


@pytest.fixture(scope="module")
def world() -> WorldRecording:
    return played(4)


@pytest.fixture(scope="module")
def court(world: WorldRecording, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A minute and a half of play with a drawn picture."""
    picture = plain_picture(np.random.default_rng(7), world, training_family_waypoint_movement.player_places)
    return write_plain_film(tmp_path_factory.mktemp("court") / "court.mp4", world, picture, 5)


@pytest.mark.parametrize(
    "mover",
    [
        training_family_waypoint_movement,
        training_family_goal_seeking_movement,
        validation_family_stepwise_movement,
    ],
)
def test_players_who_run_speak_for_play_and_players_who_stand_against_it(
    world: WorldRecording, mover: ModuleType
) -> None:
    meter = MotionMeter()
    for at, picture in plain_picture(np.random.default_rng(7), world, mover.player_places).pictures(5.0):
        meter.feed(at, cv2.resize(picture, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA).astype(np.float32))
    found = [LikelySpan(r.start_s, r.end_s, 0.7) for r in world.rallies]
    odds = motion_odds(meter.profile(), 90.0, found)
    assert odds is not None
    at = np.arange(len(odds)) * GRID_S
    inside = np.any([(at >= r.start_s) & (at <= r.end_s) for r in world.rallies], axis=0)
    assert odds[inside].mean() > 0.5 + odds[~inside].mean()


def test_a_picture_in_which_nothing_differs_says_nothing() -> None:
    times = np.arange(0, 90, 0.2)
    spans = [LikelySpan(a, a + 8, 0.9) for a in (0.0, 20.0, 60.0)]
    assert motion_odds(MotionProfile.even(times, np.full(len(times), 3.0)), 90.0, spans) is None
    assert motion_odds(MotionProfile.empty(), 90.0, spans) is None
    busy = MotionProfile.even(times, np.where(times % 20 < 8, 9.0, 0.5))
    assert motion_odds(busy, 90.0, [LikelySpan(a + 9, a + 18, 0.9) for a in (0.0, 20.0)]) is None, (
        "against it"
    )
    assert motion_odds(busy, 90.0, []) is None, "nothing heard to compare with"
    half = MotionProfile.even(times[:200], busy.amount[:200])
    odds = motion_odds(half, 90.0, spans)
    assert odds is not None and (odds[450:] == 0).all() and odds[:380].any()


@pytest.mark.parametrize("share", [0.2, 0.5, 0.75])
def test_how_much_of_a_film_is_play_does_not_bend_what_the_picture_says(share: float) -> None:
    """Measured beside the median of the film, rallies that fill half of it once counted against themselves."""
    times = np.arange(0, 400, 0.2)
    playing = times % 40 < 40 * share
    noise = np.exp(np.random.default_rng(1).normal(0, 0.3, len(times)))
    profile = MotionProfile.even(times, np.where(playing, 9.0, 2.0) * noise)
    spans = [LikelySpan(a, a + 40 * share, 0.6) for a in np.arange(0.0, 400, 40)]
    odds = motion_odds(profile, 400.0, spans)
    assert odds is not None
    at = np.arange(len(odds)) * GRID_S
    inner = (at % 40 > 3) & (at % 40 < 40 * share - 3)
    assert odds[inner].mean() > 0.5


def test_the_chance_of_a_span_moves_both_ways_with_the_picture() -> None:
    span = StruckSpan(np.array([10.0, 11.0]), 0.7)
    busy, still = np.full(300, 2.0), np.full(300, -2.0)
    assert movement_odds([], [span], busy)[0] > np.log(0.75 / 0.25)
    assert np.log(0.1 / 0.9) < movement_odds([], [span], still)[0] < np.log(0.65 / 0.35)


def test_a_paused_look_goes_on_where_it_was(court: Path, tmp_path: Path) -> None:
    whole = motion_profile(court)
    keep = tmp_path / "f1.motion.npz"
    asked: list[int] = []

    def soon() -> bool:
        asked.append(1)
        return len(asked) > 200

    with pytest.raises(Cancelled, match="paused"):
        motion_profile(court, keep, cancel=soon)
    shares: list[float] = []
    again = motion_profile(court, keep, lambda share, _: shares.append(share))
    assert shares[0] > 0.4
    assert np.allclose(again.time_s, whole.time_s) and np.allclose(again.amount, whole.amount)
    assert len(stored_profile(keep, "another film")[0].time_s) == 0
    keep.write_bytes(b"damaged")
    assert len(stored_profile(keep, "x")[0].time_s) == 0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("cells", np.nan),
        ("cells", np.inf),
        ("cells", -1.0),
        ("cells", 3e38),  # grey levels go to 255
        ("time_s", np.nan),
        ("time_s", np.inf),
        ("time_s", 0.0),  # not after the moment before
    ],
)
def test_a_stored_look_with_impossible_numbers_counts_as_none(
    tmp_path: Path, name: str, value: float
) -> None:
    time_s = np.arange(1, 41) * 0.2
    arrays = {"time_s": time_s, "cells": np.ones((len(time_s), ROWS, COLUMNS), np.float32)}
    about, keep = np.array(json.dumps({"mark": "x", "whole": True})), tmp_path / "f1.motion.npz"
    np.savez(keep, about=about, **arrays)
    assert len(stored_profile(keep, "x")[0].time_s) == len(time_s)
    arrays[name][20] = value
    np.savez(keep, about=about, **arrays)
    assert len(stored_profile(keep, "x")[0].time_s) == 0


def test_the_sounds_answer_comes_first_and_says_that_the_picture_waits(court: Path) -> None:
    first = detect_rallies(court)
    plain: Any = first.to_json()
    assert plain["picture"] == {"looked_at": False, "words": "The players’ movement was not used yet."}
    assert plain["sound"] == {"usable": True, "track": 1, "why": ""}
    assert "The players’ movement was not used yet." in first.words
    both = detect_rallies(court, picture=True)
    joined: Any = both.to_json()
    assert joined["picture"]["looked_at"] is True and both.by == "sound and motion"
    assert len(both.rallies) >= len(first.rallies) - 1


def jobs_of(court: Path, folder: Path) -> tuple[list[dict[str, Any]], Path]:
    keeps = {"keep": str(folder / "heard" / "f1.npz"), "keep_motion": str(folder / "heard" / "f1.motion.npz")}
    film = asdict(FilePlacement("f1", str(court), 0, 0, 90 * SECOND, **keeps))
    return [film], folder / "heard" / "m1.json"


def run(job: Callable[..., Any], films: list[dict[str, Any]], to: Path, after: int = 10**9) -> dict[str, Any]:
    asked: list[int] = []

    def cancel() -> bool:
        asked.append(1)
        return len(asked) > after

    return dict(job("m1", films, str(to), progress=lambda *_: None, cancel=cancel))


def test_a_stop_between_sound_and_picture_loses_nothing(court: Path, tmp_path: Path) -> None:
    films, to = jobs_of(court, tmp_path)
    run(match_rally_detection_job, films, to)
    by_sound = json.loads(to.read_text())
    assert by_sound["looked_at"] is False
    with pytest.raises(Cancelled):
        run(match_picture_job, films, to, after=200)
    assert json.loads(to.read_text()) == by_sound
    run(match_picture_job, films, to)
    joined = json.loads(to.read_text())
    assert joined["looked_at"] is True and joined["by"] == "sound and motion"


def test_the_picture_waits_where_the_sound_was_not_searched(court: Path, tmp_path: Path) -> None:
    films, to = jobs_of(court, tmp_path)
    assert "not searched to its end" in run(match_picture_job, films, to)["words"]
    assert not to.exists()


def rally(start_s: float, end_s: float) -> dict[str, Any]:
    a, b = round(start_s * SECOND), round(end_s * SECOND)
    return {"start_us": a, "end_us": b, "hits_us": [a, b], "doubtful": False, "why": "", "clip_end_us": None}


def test_what_the_coach_confirmed_or_changed_is_never_moved(tmp_path: Path) -> None:
    to = tmp_path / "heard" / "m1.json"
    films = [{"id": "f1", "path": "/a.mp4", "starts_us": 0, "first_us": 0, "end_us": 90 * SECOND}]
    save_detection(to, "m1", films, {"rallies": [rally(10, 20), rally(30, 40), rally(50, 60), rally(70, 80)]})
    timeline = timeline_of_films(films)
    kept, moved, asked = (detected_rally_id(timeline, at * SECOND) for at in (30, 70, 50))
    said = {"rallies": {kept: {"state": "kept"}, moved: {"start_by_us": 5}, asked: {"start_by_us": 0}}}
    to.with_suffix(".said.json").write_text(json.dumps(said))
    anew = {"rallies": [rally(10.2, 19), rally(29, 34), rally(35, 41), rally(51, 60), rally(82, 85)]}
    save_detection(to, "m1", films, anew)
    spans = [(r["start_us"] / SECOND, r["end_us"] / SECOND) for r in json.loads(to.read_text())["rallies"]]
    assert spans == [(10.2, 19), (30, 40), (51, 60), (70, 80), (82, 85)]
    later = [{**films[0], "starts_us": 5 * SECOND}]
    save_detection(to, "m1", later, {"rallies": []})
    assert [r["start_us"] / SECOND for r in json.loads(to.read_text())["rallies"]] == [35, 75]
