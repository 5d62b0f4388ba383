"""Lines, arrows and angles burnt in: where they are meant, with the right degrees, nothing else touched."""

from __future__ import annotations

import math

import numpy as np
import pytest

from goodlength.footage.edit.drawing_overlay import OverlayLine, angle_deg, burn_in

GREY = np.full((540, 960, 3), 128, np.uint8)


def changed(picture: np.ndarray) -> np.ndarray:
    return np.any(picture != GREY, axis=2)


def test_a_line_runs_between_its_points_and_the_rest_stays() -> None:
    made = changed(burn_in(GREY, [OverlayLine("line", ((0.25, 0.5), (0.75, 0.5)))]))
    rows, columns = np.nonzero(made)
    assert abs(rows - 0.5 * 539).max() <= 5
    assert columns.min() == pytest.approx(0.25 * 959, abs=5)
    assert columns.max() == pytest.approx(0.75 * 959, abs=5)
    assert made[:, 400].sum() in (7, 8)
    assert not changed(GREY).any(), "the picture given was drawn on"


def test_the_tip_of_an_arrow_is_at_its_second_point() -> None:
    made = changed(burn_in(GREY, [OverlayLine("arrow", ((0.2, 0.5), (0.8, 0.5)))]))
    spread = made.sum(axis=0)
    assert spread[round(0.8 * 959) - 15 : round(0.8 * 959)].max() > 14
    assert spread[round(0.2 * 959) + 5 : round(0.7 * 959)].max() <= 8


@pytest.mark.parametrize("degrees", [5, 45, 90, 135, 178])
def test_an_angle_is_that_of_the_picture_not_of_its_shares(degrees: int) -> None:
    wide, high = 1600.0, 900.0
    turned = math.radians(20 + degrees)
    first = (0.5 + 300 * math.cos(math.radians(20)) / wide, 0.5 + 300 * math.sin(math.radians(20)) / high)
    second = (0.5 + 300 * math.cos(turned) / wide, 0.5 + 300 * math.sin(turned) / high)
    assert angle_deg(first, (0.5, 0.5), second, wide, high) == pytest.approx(degrees, abs=1e-6)
    assert angle_deg(second, (0.5, 0.5), first, wide, high) == pytest.approx(degrees, abs=1e-6)


@pytest.mark.parametrize("corner", [(0.0, 0.0), (1.0, 1.0), (0.5, 0.5), (1.0, 0.0)])
def test_the_degrees_stay_inside_the_picture(corner: tuple[float, float]) -> None:
    made = burn_in(GREY, [OverlayLine("angle", ((0.3, 0.3), corner, (0.6, 0.2)))])
    plate = np.all(made == (0x10, 0x14, 0x17), axis=2)
    assert plate.sum() > 800, "no plate for the degrees was seen"
