"""Figures of the benchmark of the court found by itself, from results made up by hand."""

from __future__ import annotations

import math

import numpy as np

from goodlength.bench.footage.court_detection_accuracy import (
    CourtFilmResult,
    court_figures,
    court_keys,
    floor_errors_m,
)
from oracles.drawn_court import camera_of


def result(kind: str, offered: bool, median_m: float, stated_m: float = 0.02) -> CourtFilmResult:
    return CourtFilmResult(1, kind, offered, 0.9, "", median_m, 2 * median_m, stated_m, 3.0, {})


def test_figures_count_what_was_offered_and_what_was_wrong() -> None:
    films = [
        result("singles", True, 0.01),
        result("singles", True, 0.03),
        result("singles", True, 0.50),
        result("singles", False, 2.0),
        result("no court", True, math.nan),
        result("mirrored film", True, 0.02),
    ]
    figures = court_figures(5, films)
    assert (figures.films, figures.court_offered) == (4, 0.75)
    assert math.isclose(figures.court_offered_se, math.sqrt(0.75 * 0.25 / 4))
    assert math.isclose(figures.court_median_cm, 3.0)
    assert (figures.wrong_but_offered, figures.worst_median_cm, figures.worst_p95_cm) == (1, 50.0, 100.0)
    assert math.isclose(figures.stated_holds, 2 / 3)
    assert [(k.kind, k.offered, k.offered_and_right) for k in figures.kinds] == [
        ("no court", 1, 0),
        ("mirrored film", 1, 1),
    ]


def test_a_film_offered_without_a_known_error_counts_as_wrong() -> None:
    assert court_figures(5, [result("singles", True, math.nan)]).wrong_but_offered == 1


def test_the_true_camera_has_no_error_and_one_that_stands_elsewhere_has() -> None:
    truth = camera_of()

    def project(points: np.ndarray) -> np.ndarray:
        return truth.project(points)[0]

    assert floor_errors_m(truth, project).max() < 1e-6
    aside = truth.moved(np.array([0, 0, 0, 0.2, 0, 0, 0, 0, 0, 0, 0, 0.0]))
    assert np.isclose(np.median(floor_errors_m(aside, project)), 0.2, atol=0.01)


def test_the_keys_of_all_worlds_are_plain_numbers_also_without_a_film() -> None:
    films = [result("singles", True, 0.012), result("singles", True, 0.4), result("singles", False, 2.0)]
    assert court_keys(court_figures(5, films)) == {
        "court_films": 3,
        "court_offered": 0.6667,
        "court_offered_se": 0.2722,
        "court_median_cm": 20.6,
        "court_p95_cm": 38.06,
        "court_wrong": 1,
        "court_stated_holds": 0.5,
    }
    nothing = court_keys(court_figures(5, []))
    assert nothing["court_films"] == 0 and nothing["court_wrong"] == 0
    assert nothing["court_offered"] is None and nothing["court_median_cm"] is None
