"""Places on the floor."""

from __future__ import annotations

import math

import pytest

from goodlength.court import PLACES, clearance_m, floor_zone
from goodlength.errors import OutOfRange


@pytest.mark.parametrize(
    ("x", "y", "place", "side", "quarter", "box"),
    [
        (0.0, 0.0, "front-left", "left", None, None),
        (3.2, 3.0, "front-middle", "right", None, None),
        (6.4, 3.2, "front-right", "right", None, None),
        (1.0, 6.0, "mid-left", "left", "left", "left"),
        (3.2, 5.465, "middle", "right", None, None),  # the T
        (5.6, 6.0, "mid-right", "right", "right", "right"),
        (6.4, 9.75, "back-right", "right", "right", None),
        (3.2, 9.0, "back-middle", "right", None, None),  # on the half-court line
        (3.0, 9.0, "back-middle", "left", "left", None),
    ],
)
def test_floor_zone(x, y, place, side, quarter, box):
    zone = floor_zone(x, y)
    assert (zone.place, zone.side, zone.quarter, zone.box) == (place, side, quarter, box)


def test_places_are_nine_of_the_same_area_and_cover_the_floor():
    areas = [(x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in PLACES.values()]
    assert len(areas) == 9
    assert areas == pytest.approx([9.75 * 6.4 / 9] * 9)


def test_the_middle_of_every_place_lies_in_it():
    for name, (x0, y0, x1, y1) in PLACES.items():
        assert floor_zone((x0 + x1) / 2, (y0 + y1) / 2).place == name


def test_mirror_the_court_mirror_the_answer():
    turned = {"left": "right", "right": "left", "middle": "middle", None: None}
    for x, y in [(0.3, 1.0), (2.0, 5.0), (1.2, 6.6), (3.1, 7.0), (2.2, 9.7)]:
        here, there = floor_zone(x, y), floor_zone(6.4 - x, y)
        assert (turned[here.across], turned[here.side]) == (there.across, there.side)
        assert (turned[here.quarter], turned[here.box]) == (there.quarter, there.box)


def test_a_box_ends_at_the_inner_edge_of_its_lines():
    assert floor_zone(1.5999, 6.0).box == "left"
    assert floor_zone(1.6, 6.0).box is None
    assert floor_zone(1.0, 7.09).box is None


@pytest.mark.parametrize("point", [(-0.01, 1.0), (6.41, 1.0), (1.0, 9.76), (math.nan, 1.0)])
def test_off_the_floor_is_refused(point):
    with pytest.raises(OutOfRange, match="not on the floor"):
        floor_zone(*point)


def test_clearance_is_the_nearest_line_and_no_wall():
    assert clearance_m("left-quarter", 3.0, 9.0) == pytest.approx(0.175)
    assert clearance_m("left-quarter", 0.0, 9.75) == pytest.approx(3.175)
    assert clearance_m("right-quarter", 3.0, 9.0) < 0
    assert math.isnan(clearance_m("left-box", math.nan, 6.0))
