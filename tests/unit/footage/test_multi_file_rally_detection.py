"""Rallies of a match over several films: a rally across a join, another loudness, a film without sound."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

from goodlength.errors import FootageError
from goodlength.footage.audio.multi_file_rally_detection import (
    FilePlacement,
    detect_rallies_over_files,
    match_rally_detection_job,
)
from goodlength.synthetic.simulated_court_audio import RATE, TYPICAL, SoundRecording, record
from goodlength.synthetic.video_with_sound_writer import write_film

CALM = replace(TYPICAL, t60_s=(1.0, 1.5), doors=0.0)
SECOND = 1_000_000


@pytest.fixture(scope="module")
def made() -> SoundRecording:
    return record(np.random.default_rng(4), CALM, 90.0)


def parts(made: SoundRecording, folder: Path, cut_s: int, quieter: float = 1.0) -> list[FilePlacement]:
    """The recording as two films, the second begun with another level."""
    end_s = len(made.samples) // RATE
    item = write_film(folder / "one.mp4", made.samples[: cut_s * RATE])
    two = write_film(folder / "two.mp4", made.samples[cut_s * RATE :] * np.float32(quieter))
    first = FilePlacement("f1", str(item), 0, 0, cut_s * SECOND)
    return [first, FilePlacement("f2", str(two), cut_s * SECOND, 0, (end_s - cut_s) * SECOND)]


def test_a_rally_that_crosses_the_join_of_two_films_is_one(made: SoundRecording, tmp_path: Path) -> None:
    longest = max(made.truth.rallies, key=lambda span: span[1] - span[0])
    films = parts(made, tmp_path, round(sum(longest) / 2), quieter=0.4)
    found = detect_rallies_over_files(films)
    sure = [(rally.start_us / SECOND, rally.end_us / SECOND) for rally in found.rallies if not rally.doubtful]
    assert len(sure) == len(made.truth.rallies)
    for (a, b), (c, d) in zip(sure, made.truth.rallies, strict=True):
        assert a == pytest.approx(c, abs=0.3)
        assert b == pytest.approx(d, abs=2.6)
    assert found.by == "sound"


def test_a_film_without_sound_is_watched_and_named(
    made: SoundRecording, tmp_path: Path, film: Callable[..., Path]
) -> None:
    films = parts(made, tmp_path, len(made.samples) // RATE - 1)[:1]
    silent = film("silent.mp4", stamps=range(4), sound="")
    begin = films[0].end_us + 60 * SECOND
    found = detect_rallies_over_files([*films, FilePlacement("f3", str(silent), begin, 0, 100_000)])
    assert found.by == "sound and motion"
    assert "silent.mp4 cannot be detected: it has no sound" in found.words
    assert found.words.startswith(f"{len(made.truth.rallies)} rallies detected")


def test_the_job_writes_what_it_found_and_takes_up_what_it_kept(made: SoundRecording, tmp_path: Path) -> None:
    films = [replace(part, keep=str(tmp_path / f"{part.id}.npz")) for part in parts(made, tmp_path, 40)]
    to = tmp_path / "heard" / "m1.json"
    told: list[float] = []
    plain = [asdict(film) for film in films]
    match_rally_detection_job(
        "m1", plain, str(to), progress=lambda share, _: told.append(share), cancel=lambda: False
    )
    kept = json.loads(to.read_text())
    assert kept["films"] == plain and kept["match"] == "m1"
    assert len([item for item in kept["rallies"] if not item["doubtful"]]) == len(made.truth.rallies)
    assert told == sorted(told) and all((tmp_path / f"{film.id}.npz").exists() for film in films)
    with pytest.raises(FootageError, match="no video"):
        match_rally_detection_job("m1", [], str(to), progress=lambda *_: None, cancel=lambda: False)
