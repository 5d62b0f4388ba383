"""Judging of players in made-up films: errors, swaps, strikes and what is hidden come out as put in."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from goodlength.bench.footage.generated_films import player_tracking_accuracy_on_new_courts as accuracy
from goodlength.bench.footage.generated_films.player_video_generator import (
    FRAMES_PER_S,
    PlayerFilm,
    clicked_camera,
    patches_of,
    write_family_film,
)
from goodlength.errors import InputError
from goodlength.measure.players.player_tracking import Tracks
from goodlength.measure.players.track_identity_and_movement import RallyTrack
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY

N = 40


@pytest.fixture
def film() -> PlayerFilm:
    times = np.arange(N) / FRAMES_PER_S
    t = np.linspace(0, 1, N)[:, None]
    feet = np.stack([np.hstack([1 + 0 * t, 4 + t]), np.hstack([5 + 0 * t, 7 - t])], axis=1)
    strikes = ((0.4, 0), (1.6, 1), (2.8, 0))
    return PlayerFilm(
        Path("f.mp4"), "choosing", 5, times, feet, strikes, ((0.0, 3.0),), (640, 360),
        lambda points: points[:, :2], (), {"walls": "glass", "noise": "2.10"},
    )  # fmt: skip


def track(
    film: PlayerFilm, off_m: float, *, swap_at: int = N, hidden: str = "", stated_m: float = 0.1
) -> RallyTrack:
    xy = film.feet_m + np.array([0.0, off_m])
    xy[swap_at:] = xy[swap_at:, ::-1]
    full = np.ones((N, 2))
    paths = Tracks(film.times_s, xy, stated_m * full, full > 0, full > 0, np.ones((2, 12)), np.ones(12), 1.0)
    return RallyTrack("0", paths, 1.0, hidden=hidden)


def judged(film: PlayerFilm, own: RallyTrack) -> accuracy.RallyResult:
    return accuracy.judge_track(film, own, 0.3, 0.1)


@pytest.mark.parametrize("other_way_round", [False, True])
def test_errors_and_strikers_come_out_as_put_in(film: PlayerFilm, other_way_round: bool) -> None:
    own = track(film, 0.1)
    if other_way_round:
        own = RallyTrack("0", own.paths.swapped(), 1.0)
    result = judged(film, own)
    assert result.off_m == pytest.approx(0.1)
    assert (result.swapped, result.strikes, result.strikes_given, result.striker_right) == (False, 3, 3, 3)
    assert result.given.all()


def test_a_swap_makes_the_striker_wrong(film: PlayerFilm) -> None:
    result = judged(film, track(film, 0.0, swap_at=25))
    assert result.swapped
    assert (result.strikes_given, result.striker_right) == (3, 2)


def test_places_too_unsure_are_not_given(film: PlayerFilm) -> None:
    result = judged(film, track(film, 0.1, stated_m=0.7))
    assert not result.given.any()
    assert result.strikes_given == 0


def test_figures_are_of_rallies_shown(film: PlayerFilm) -> None:
    results = [
        judged(film, track(film, 0.1)),
        judged(film, track(film, 0.3)),
        judged(film, track(film, 2.0, hidden="seen in only 12% of the frames")),
    ]
    figures = accuracy.player_figures("choosing", 5, 3, 0, results)
    assert (figures.rallies, figures.hidden) == (3, 1)
    assert figures.median_cm == pytest.approx(20.0)
    assert figures.stated_holds == pytest.approx(0.5)
    assert figures.within_35_cm == 1.0
    assert figures.striker_right == 1.0
    assert figures.why_hidden == {"seen in only % of the frames": 1}
    assert [(c.condition, c.rallies, c.hidden) for c in figures.conditions] == [("walls: glass", 3, 1)]
    nothing = accuracy.player_figures("choosing", 5, 1, 1, [])
    assert math.isnan(nothing.median_cm) and nothing.rallies == 0


def test_a_family_nobody_knows_is_refused() -> None:
    with pytest.raises(InputError, match="no family 'other'"):
        accuracy.bench_players(1, 1, 2.0, "other")


def test_a_film_is_written_with_its_truth_and_a_camera_from_clicks(tmp_path: Path) -> None:
    film = write_family_film(
        VALIDATION_FILM_FAMILY, 3, 1.0, 320, tmp_path / "f.mp4", spectators=0, portrait=False, messenger=False
    )
    assert film.feet_m.shape == (12, 2, 2)
    assert film.size == (320, 180)
    camera = clicked_camera(film, np.random.default_rng(1))
    uv = film.project(np.array([[3.2, 5.0, 0.0]]))
    at = camera.floor_places(uv)[0][0]
    assert np.linalg.norm(at - [3.2, 5.0]) < 0.2
    assert patches_of(film, camera)
