"""Figures of ball detection: counted against truth that is written by hand, and films saved with their truth."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from goodlength.bench.footage import ball_detection_accuracy
from goodlength.bench.footage.ball_detection_accuracy import (
    JudgedFilm,
    bench_ball_following,
    figures_of,
    visibility_error,
)
from goodlength.bench.footage.ball_video_generator import BallFilm, is_good, write_family_film
from goodlength.errors import InputError
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY


def judged(
    rows: list[list[tuple[float, float, float]]], truth: list[list[float]], **film: object
) -> JudgedFilm:
    """A film with candidates (u, v, score) and truth (u, v, share, radius) by frame."""
    uv, score = np.full((len(rows), 8, 2), np.nan), np.full((len(rows), 8), np.nan)
    for i, row in enumerate(rows):
        for j, (u, v, value) in enumerate(row):
            uv[i, j], score[i, j] = (u, v), value
    found = BallCandidates(np.arange(len(rows)) * 40_000, uv, score, np.ones(len(rows), bool), "network")
    about = {"family": "choosing", "seed": 1, "good": True, "frames_per_s": 25.0, "conditions": {}, **film}
    return JudgedFilm(BallFilm(Path("x.mp4"), truth=np.array(truth), **about), found, (200, 100), 10.0, 5.0)


TRUTH = [[50, 50, 1.0, 3], [60, 50, 0.2, 3], [70, 50, 0.5, 3], [np.nan] * 4, [250, 50, 1.0, 3]]
ROWS = [
    [(52, 50, 0.9), (150, 20, 0.85)],  # right first
    [(60, 50, 0.9)],  # too little of it is seen: not counted
    [(150, 20, 0.9), (70, 57, 0.7)],  # 7 px off is neither right nor false
    [(20, 20, 0.3)],  # not in play
    [(199, 50, 0.9)],  # outside the frame: not counted
]


def test_counted_are_frames_in_which_enough_of_the_ball_is_seen() -> None:
    film = judged(ROWS, TRUTH)
    assert film.counted.tolist() == [True, False, True, False, False]
    figures = figures_of([film])
    assert (figures["frames"], figures["top1"], figures["top5"]) == (2, 0.5, 0.5)
    assert figures["error_px"] == 2.0
    assert figures["recall_sure"] == 0.5
    assert figures["false_sure_a_frame"] == pytest.approx(3 / 5)
    assert film.top5 == 0.5


def test_films_without_a_ball_give_no_figures() -> None:
    assert figures_of([judged(ROWS[3:4], TRUTH[3:4])]) == {"films": 1, "frames": 0}
    assert figures_of([]) == {"films": 0, "frames": 0}


def test_the_stated_share_lost_is_compared_with_the_true_one() -> None:
    """Stated: one of five frames lost. True: only the first two have the ball as first candidate."""
    assert visibility_error([judged(ROWS, TRUTH)]) == pytest.approx(abs(1 / 5 - 3 / 5))


@pytest.mark.parametrize(
    ("exposure_s", "rate", "megabits", "good"),
    [
        (1 / 60, 25.0, 8.0, True),
        (1 / 50, 25.0, 8.0, False),
        (1 / 100, 24.0, 8.0, False),
        (1 / 100, 60.0, 4.0, False),
    ],
)
def test_which_films_count_as_good(exposure_s: float, rate: float, megabits: float, good: bool) -> None:
    assert is_good(exposure_s, rate, megabits, (1920, 1080)) is good


def test_a_film_is_saved_with_its_truth_and_benched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ball_detection_accuracy, "COST_SIDE", 480)
    film = write_family_film(VALIDATION_FILM_FAMILY, 3, tmp_path / "choosing-3.mp4", 0.4, 480)
    film.save()
    again = BallFilm.load(film.path)
    assert again.conditions == film.conditions and again.good == film.good
    assert again.truth == pytest.approx(film.truth, abs=0.001, nan_ok=True)
    figures = bench_ball_following(2, 1, "choosing", tmp_path)
    assert figures["seed"] == 2 and figures["family"] == "choosing"
    assert figures["cpu_ms_a_frame"] > 0  # type: ignore[operator]
    assert len(figures["each_film"]) == 1  # type: ignore[arg-type]
    assert "serves measured without clicks" in figures["not_built"]  # type: ignore[operator]


def test_an_unknown_family_and_a_truth_that_does_not_fit_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="judging or choosing; got 'training'"):
        bench_ball_following(1, 1, "training")
    film = write_family_film(VALIDATION_FILM_FAMILY, 3, tmp_path / "choosing-3.mp4", 0.2, 480)
    short = BallFilm(**{**vars(film), "truth": film.truth[:-1]})
    with pytest.raises(InputError, match="Draw it again"):
        ball_detection_accuracy.judge_film(short, "network")
