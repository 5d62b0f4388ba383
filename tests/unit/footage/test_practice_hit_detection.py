"""Attempts of a practice recording, on impacts written down by hand and on a small film."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import FootageGone
from goodlength.footage.audio.onset_detection import Onsets
from goodlength.footage.audio.practice_hit_detection import (
    attempts_job,
    detect_attempts,
    strikes_among_onsets,
)
from goodlength.synthetic.simulated_court_audio import RATE, TYPICAL, record_practice
from goodlength.synthetic.video_with_sound_writer import write_film


def impacts(rows: list[tuple[float, float, float]]) -> Onsets:
    """Impacts from (time, rise, level)."""
    t, rise, level = (np.array(column, float) for column in zip(*rows, strict=True))
    return Onsets(t, rise, level, np.full(len(t), -6.0), np.full(len(t), 0.4))


def test_the_strike_is_taken_and_not_the_wall_after_it_or_the_bounce_before() -> None:
    rows = [(0.0, 60.0, -12.0)]  # the sound sets in
    for at in (5.0, 13.0, 20.0, 31.0):
        rows += [(at - 2.2, 14.0, -36.0), (at, 40.0, -10.0), (at + 0.4, 12.0, -16.0), (at + 5, 12.0, -38.0)]
    sure, doubtful = strikes_among_onsets(impacts(sorted(rows)))
    assert sure.tolist() == [5.0, 13.0, 20.0, 31.0]
    assert doubtful.tolist() == []


@pytest.mark.parametrize(
    "rows", [[(1.0, 20.0, -20.0)], [(float(t), 20.0, -20.0 + 0.1 * t) for t in range(1, 40, 4)]]
)
def test_where_nothing_stands_apart_nothing_is_claimed(rows: list[tuple[float, float, float]]) -> None:
    sure, doubtful = strikes_among_onsets(impacts(rows))
    assert len(sure) == len(doubtful) == 0


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[float]]:
    samples, strikes = record_practice(np.random.default_rng(3), TYPICAL, 60.0)
    return write_film(tmp_path_factory.mktemp("practice") / "solo.mp4", samples), strikes


def test_a_film_goes_the_whole_way(film: tuple[Path, list[float]], tmp_path: Path) -> None:
    path, strikes = film
    told: list[str] = []
    result = attempts_job(
        str(path),
        "p",
        "d",
        str(tmp_path / "heard.npz"),
        str(tmp_path / "copy.mp4"),
        progress=lambda _, words: told.append(words),
        cancel=lambda: False,
    )
    attempts = result["attempts"]
    assert isinstance(attempts, list)
    heard = np.array([attempt["strike_s"] for attempt in attempts if not attempt["doubtful"]])
    assert all(np.abs(heard - at).min() < 0.03 for at in strikes)
    assert all(attempt["start_s"] < attempt["strike_s"] < attempt["end_s"] for attempt in attempts)
    assert told[-1] == result["words"]
    assert (tmp_path / "heard.npz").is_file()
    assert not (tmp_path / "copy.mp4").exists()  # this film plays as it is


def test_a_film_without_strikes_and_a_missing_one_are_said(tmp_path: Path) -> None:
    quiet = write_film(tmp_path / "quiet.mp4", np.zeros(5 * RATE, np.float32))
    heard = detect_attempts(quiet)
    assert heard.attempts == ()
    assert heard.words.startswith("Attempts cannot be detected: its sound is not usable")
    with pytest.raises(FootageGone, match=r"none\.mp4"):
        tasks.detect_attempts(tmp_path / "none.mp4")
