"""Flights sampled from what marks leave open: they keep to the marks, and learn spin and clicks from them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.ball import PlayConditions
from goodlength.footage.camera import calibrate_camera
from goodlength.measure.serves.click_error_estimation import (
    ASSUMED_CLICK_ERRORS_PX,
    MOST_EVIDENCE,
    repeated_click_evidence,
)
from goodlength.measure.serves.serve_fit import PosteriorMode, fit
from goodlength.measure.serves.serve_forward_model import ServeModel, ServeWorld
from goodlength.measure.serves.serve_laplace_posterior import linear_posterior, sample_posterior
from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind, ServeMark
from goodlength.synthetic.simulated_camera_clicks import (
    HEIGHT,
    SETTINGS,
    WIDTH,
    real_camera,
    real_clicks,
)
from goodlength.synthetic.simulated_serve_clicks import ALL, MarkingCondition, marks_of, true_serve

Fitted = tuple[ServeModel, list[PosteriorMode]]


def fitted(seed: int, spin_rad_s: float = 60.0) -> Fitted:
    """Return a serve whose first bounce is marked, and its fits."""
    rng = np.random.default_rng(seed)
    how = MarkingCondition("all", 25.0, ALL, spin_rad_s=spin_rad_s)
    while True:
        real = real_camera(rng, SETTINGS[0])
        camera = calibrate_camera(real_clicks(rng, real, SETTINGS[0]), WIDTH, HEIGHT)
        serve = true_serve(rng, how)
        marks = marks_of(rng, serve, real, how)
        if {MarkKind.STRIKE, MarkKind.FRONT, MarkKind.FLOOR} <= {mark.what for mark in marks}:
            break
    chance = np.random.default_rng(5)
    model = ServeModel(camera, marks, serve.box, ServeWorld.of(PlayConditions(), chance))
    return model, fit(model, chance)


@pytest.fixture(scope="module")
def flat() -> Fitted:
    return fitted(3)


@pytest.mark.parametrize("seed", [3, 4, 7])
def test_sampled_flights_keep_to_a_marked_bounce(seed: int) -> None:
    """With clicks of 2 px nine in ten lie within 3.3 px each way, 0.9 of the 3.7 that residuals are told in.

    Without the step back to the marks it was 3.8, 2.5 and 1.7 of them.
    """
    model, modes = fitted(seed)
    exact = [tuple((px, -1.0 * (px != 2.0)) for px in ASSUMED_CLICK_ERRORS_PX)] * 40
    drawn, _ = sample_posterior(model, modes, 200, np.random.default_rng(7), exact)
    floor = [
        k
        for k, (n, kind) in enumerate(model.named())
        if kind == "place" and model.marks[n].what is MarkKind.FLOOR
    ]
    off = model.residuals(drawn)[:, floor]
    assert np.quantile(np.abs(off - np.median(off, axis=0)), 0.9) < 1.3


def test_what_other_serves_tell_of_the_clicks_counts(flat: Fitted) -> None:
    """Forty serves clicked well make the place on the front wall surer than forty clicked badly.

    By the middle half of the draws: a few far ones hold the standard deviation (1.7 and 0.8 px with the same
    draws and flights that differ by a thousandth of a millimetre). On four serves and three random states
    the ratio was 2.4 to 2.8.
    """
    model, modes = flat
    ways = [
        tuple((px, -1.0 * (px != told)) for px in ASSUMED_CLICK_ERRORS_PX)
        for told in (ASSUMED_CLICK_ERRORS_PX[0], ASSUMED_CLICK_ERRORS_PX[-1])
    ]
    spreads = []
    for way in ways:
        drawn, _ = sample_posterior(model, modes, 300, np.random.default_rng(7), [way] * 40)
        off = model.residuals(drawn)[:, : len(model.named())][:, model.clicked()]
        low, high = np.quantile(off, [0.25, 0.75], axis=0)
        spreads.append(float((high - low).mean()))
    assert spreads[1] > 2.0 * spreads[0]


@pytest.mark.parametrize(("click_px", "told"), [(2.0, 2.0), (5.6, 5.6)])
def test_marks_clicked_twice_tell_the_click_error(click_px: float, told: float) -> None:
    """Over a hundred sets of five marks the likeliest of the four is the true one oftenest, and right on average."""
    chance = np.random.default_rng(11)
    sums = np.zeros(len(ASSUMED_CLICK_ERRORS_PX))
    for _ in range(100):
        marks = [
            ServeMark(
                what, 1.0, *chance.normal(100.0, click_px, 2), again=tuple(chance.normal(100.0, click_px, 2))
            )
            for what in (MarkKind.STRIKE, MarkKind.FRONT, MarkKind.LEFT, MarkKind.FLOOR, MarkKind.BACK)
        ]
        evidence = repeated_click_evidence(marks, 1.0)
        assert evidence is not None
        sums += [value for _, value in evidence]
    assert ASSUMED_CLICK_ERRORS_PX[int(sums.argmax())] == told


def test_a_second_click_at_something_else_and_at_feet_tells_nothing() -> None:
    near, far = (103.0, 100.0), (160.0, 100.0)
    front = ServeMark(MarkKind.FRONT, 1.0, 100.0, 100.0)
    assert repeated_click_evidence([replace(front, again=far)], 1.0) is None
    assert repeated_click_evidence([ServeMark(MarkKind.FEET, 1.0, 100.0, 100.0, again=near)], 1.0) is None
    assert repeated_click_evidence([replace(front, again=near, found=True)], 1.0) is None
    assert repeated_click_evidence([front], 1.0) is None
    assert (
        repeated_click_evidence([replace(front, again=far)], 3.0) is not None
    )  # 4K: more pixels to the same place


def test_one_serve_tells_little_of_the_clicks(flat: Fitted) -> None:
    model, modes = flat
    _, told = sample_posterior(model, modes, 50, np.random.default_rng(7))
    values = [value for _, value in told]
    assert tuple(px for px, _ in told) == ASSUMED_CLICK_ERRORS_PX
    assert max(values) == 0.0 and min(values) >= -MOST_EVIDENCE


@pytest.mark.parametrize(("spin_rad_s", "flatter"), [(20.0, True), (300.0, False)])
def test_marks_tell_flat_serves_from_cut_ones(spin_rad_s: float, flatter: bool) -> None:
    """Evidence of six serves together for 60 against 240 rad/s; one spread for all (150) could not tell."""
    more = 0.0
    for seed in range(6):
        model, modes = fitted(seed, spin_rad_s)
        less, much = (linear_posterior(model, modes[0], spin, 2.8).evidence for spin in (60.0, 240.0))
        more += less - much
    assert (more > 2.0) if flatter else (more < -2.0)
