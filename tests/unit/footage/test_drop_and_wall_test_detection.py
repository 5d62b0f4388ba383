"""Drops and hits heard in invented recordings whose thuds are known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from goodlength.bench.footage.practice_hit_detection_accuracy import impacts
from goodlength.footage.audio.drop_and_wall_test_detection import detect_bounces, drops_in
from goodlength.footage.audio.onset_detection import Onsets
from goodlength.synthetic.simulated_court_audio import RATE, TYPICAL, Hall, speech
from goodlength.synthetic.video_with_sound_writer import write_film

QUIET = replace(TYPICAL, t60_s=(1.0, 2.5))
GRAVITY = 9.80665


def recorded(
    seed: int, drops: int = 4
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float32]], list[list[float]]]:
    """Balls let fall on the floor near the phone, with talk between; samples and when each thud was heard."""
    rng = np.random.default_rng(seed)
    hall = Hall(rng, QUIET, 8.0 * drops)
    truth, at = [], 1.5
    for _ in range(drops):
        place = np.array([3.2 + rng.uniform(-1, 1), 8.5 + rng.uniform(-0.5, 0.5), 0.02])
        gap = 2 * np.sqrt(2 * rng.uniform(1.0, 2.6) / GRAVITY) * (e := rng.uniform(0.4, 0.6))
        thuds, moment, level = [], at, 6.0
        while gap > 0.07:
            thuds.append(hall.strike("floor", moment, place, level))
            moment, gap, level = moment + gap, gap * e * rng.uniform(0.97, 1.03), level - 3.0
        thuds.append(hall.strike("floor", moment, place, level))
        truth.append(thuds)
        speech(hall, moment + 1.0, 1.0, -22.0)
        at = moment + 4.0
    samples = hall.out[: round(at * RATE)]
    samples += np.float32(10 ** (-70 / 20)) * rng.standard_normal(len(samples)).astype(np.float32)
    return np.asarray(0.5 * samples / np.abs(samples).max(), np.float32), truth


def test_drops_are_found_with_their_first_bounces_in_time() -> None:
    """The first three thuds say how the ball bounces: two within 3 ms, the quieter third within 10 ms."""
    found = right = total = 0
    for seed in range(6):
        samples, truth = recorded(seed)
        heard = drops_in(impacts(samples))
        total += len(truth)
        found += len(heard)
        for thuds in truth:
            right += any((np.abs(item[:3] - thuds[:3]) < (0.003, 0.003, 0.010)).all() for item in heard)
    assert right >= 0.8 * total
    assert found <= 1.1 * total


def test_even_steps_and_single_impacts_are_no_drop() -> None:
    times = np.array([1.0, 1.5, 2.0, 2.5, 3.0, 8.0, 8.4])
    flat = np.full(len(times), 20.0)
    assert drops_in(Onsets(times, flat, -flat, flat, flat)) == []
    assert drops_in(Onsets(*(np.zeros(0) for _ in range(5)))) == []


def test_a_recording_on_disk_and_one_without_sound(tmp_path: Path) -> None:
    samples, truth = recorded(2, drops=3)
    heard = detect_bounces(write_film(tmp_path / "drops.mp4", samples))
    assert len(heard.drops) == len(truth)
    plain = heard.to_json()
    first = plain["drops"][0]  # type: ignore[index]
    assert first["thuds_s"][0] == pytest.approx(truth[0][0], abs=0.005)
    assert first["bounces"] == len(first["thuds_s"]) >= 3
    assert f"{len(truth)} drops" in heard.words
