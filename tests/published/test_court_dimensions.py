"""The singles court as published (sources: COURT-2014, COURT-SPEC, COURT-WA, COURT-COPY, TIN-TOUR)."""

from __future__ import annotations

import math

import pytest

from goodlength.court import MARKED, SINGLES, TIN_M, dimensions, side_wall_line_m


# Value and tolerance in mm as printed, and the edge.
@pytest.mark.parametrize(
    ("name", "value_mm", "tolerance_mm", "edge"),
    [
        ("length", 9750, 10, "between playing surfaces, 1 m above the floor"),
        ("width", 6400, 10, "between playing surfaces, 1 m above the floor"),
        ("diagonal", 11665, 25, "between playing surfaces, 1 m above the floor"),
        ("front_out_line", 4570, 5, "lower edge, above the floor"),
        ("back_out_line", 2130, 5, "lower edge, above the floor"),
        ("service_line", 1780, 5, "lower edge, above the floor"),
        ("tin", 480, 2, "upper edge, above the floor"),
        ("tin_tour", 430, 2, "upper edge, above the floor"),
        ("tin_band", 50, None, "height of the tin's upper band"),
        ("short_line", 4260, 5, "edge nearest the back wall, from the back wall"),
        ("half_court_line", 3200, 5, "middle, from either side wall"),
        ("service_box", 1600, None, "inside, clear of the lines, both ways"),
        ("line_width", 50, None, "every line"),
        ("clear_height", 5640, None, "at least, to the lowest obstruction"),
        ("door_width", 900, None, "at most"),
        ("door_height", 2130, None, "at most"),
        ("marking_offset", 5, None, "at most, any marking (the tin 2 mm)"),
        ("wall_flatness", 3, None, "at most, under a straight edge of 1800 mm"),
        ("floor_level", 10, None, "at most, over length, width and diagonals"),
    ],
)
def test_published_dimension(name, value_mm, tolerance_mm, edge):
    measure = getattr(SINGLES, name)
    assert measure.value_m == value_mm / 1000
    assert measure.tolerance_m == (None if tolerance_mm is None else tolerance_mm / 1000)
    assert measure.edge == edge
    assert measure.source


def test_every_dimension_is_in_the_table_above():
    assert len(vars(SINGLES)) == 19


# Derived lines of the nominal court, mm.
@pytest.mark.parametrize(
    ("name", "value_mm"),
    [
        ("SHORT_LINE_FRONT_M", 5440),
        ("SHORT_LINE_REAR_M", 5490),
        ("HALF_COURT_LEFT_M", 3175),
        ("HALF_COURT_RIGHT_M", 3225),
        ("BOX_REAR_M", 7090),
        ("SERVICE_LINE_TOP_M", 1830),
        ("MIDDLE_M", 3200),
    ],
)
def test_derived_line(name, value_mm):
    assert getattr(dimensions, name) == value_mm / 1000


def test_derived_lines_follow_from_the_published_ones():
    rear = SINGLES.length.value_m - SINGLES.short_line.value_m
    line = SINGLES.line_width.value_m
    assert rear == pytest.approx(dimensions.SHORT_LINE_REAR_M, abs=1e-12)
    assert rear - line == pytest.approx(dimensions.SHORT_LINE_FRONT_M, abs=1e-12)
    assert rear + SINGLES.service_box.value_m == pytest.approx(dimensions.BOX_REAR_M, abs=1e-12)
    assert SINGLES.service_line.value_m + line == pytest.approx(dimensions.SERVICE_LINE_TOP_M, abs=1e-12)
    assert SINGLES.width.value_m / 2 - line / 2 == pytest.approx(dimensions.HALF_COURT_LEFT_M, abs=1e-12)
    assert dimensions.T_M == (3.2, 5.465)


@pytest.mark.parametrize(
    ("name", "rect_mm"),
    [
        ("left-box", (0, 5490, 1600, 7090)),
        ("right-box", (4800, 5490, 6400, 7090)),
        ("left-quarter", (0, 5490, 3175, 9750)),
        ("right-quarter", (3225, 5490, 6400, 9750)),
    ],
)
def test_boxes_and_quarters(name, rect_mm):
    assert MARKED[name] == pytest.approx([edge / 1000 for edge in rect_mm], abs=1e-12)


def test_a_quarter_is_13_53_square_metres():
    x0, y0, x1, y1 = MARKED["left-quarter"]
    assert (x1 - x0, y1 - y0) == pytest.approx((3.175, 4.260))
    assert (x1 - x0) * (y1 - y0) == pytest.approx(13.53, abs=0.005)


# Heights of the side wall's out line, mm, computed apart from the code to 0.1 mm.
@pytest.mark.parametrize(
    ("y_mm", "h_mm"),
    [
        (0, 4570.0),
        (1000, 4319.7),
        (2000, 4069.5),
        (3250, 3756.7),
        (4875, 3350.0),
        (5440, 3208.6),
        (5490, 3196.1),
        (7090, 2795.7),
        (7140, 2783.2),
        (8000, 2567.9),
        (9000, 2317.7),
        (9750, 2130.0),
    ],
)
def test_side_wall_line(y_mm, h_mm):
    assert side_wall_line_m(y_mm / 1000) * 1000 == pytest.approx(h_mm, abs=0.051)


def test_slope_of_the_side_wall_line():
    assert math.degrees(dimensions.SIDE_LINE_ANGLE_RAD) == pytest.approx(14.05, abs=0.005)
    tall_mm = dimensions.SIDE_LINE_TALL_M * 1000
    assert tall_mm == pytest.approx(51.5, abs=0.05)
    assert math.hypot(9.75, 4.57 - 2.13) * 1000 == pytest.approx(10050.7, abs=0.05)


def test_the_published_diagonal_agrees_with_length_and_width_inside_its_tolerance():
    diagonal = math.hypot(SINGLES.length.value_m, SINGLES.width.value_m)
    assert diagonal * 1000 == pytest.approx(11662.9, abs=0.05)
    assert SINGLES.diagonal.low_m < diagonal < SINGLES.diagonal.high_m
    extremes = [
        math.hypot(getattr(SINGLES.length, e), getattr(SINGLES.width, e)) for e in ("low_m", "high_m")
    ]
    assert [round(1000 * e, 1) for e in extremes] == [11649.0, 11676.7]


@pytest.mark.parametrize(
    ("name", "feet", "off_mm"),
    [
        ("length", 32, 3.6),
        ("width", 21, 0.8),
        ("front_out_line", 15, 2.0),
        ("back_out_line", 7, 3.6),
        ("tin", 19 / 12, 2.6),
        ("tin_tour", 17 / 12, 1.8),
        ("short_line", 14, 7.2),
        ("service_box", 5.25, 0.2),
    ],
)
def test_metric_figures_are_not_converted_feet(name, feet, off_mm):
    """A foot is 304.8 mm: the old figures differ from the published ones by the millimetres listed."""
    assert abs(feet * 304.8 - getattr(SINGLES, name).value_m * 1000) == pytest.approx(off_mm, abs=0.051)


def test_six_feet_is_the_upper_edge_of_the_service_line():
    top_mm = dimensions.SERVICE_LINE_TOP_M * 1000
    assert top_mm == pytest.approx(6 * 304.8, abs=1.3)


def test_windows_on_the_front_wall():
    """Serve 2740 mm high; return 4090 mm, or 4140 mm with the tour's tin."""
    serve_m = dimensions.FRONT_OUT_M - dimensions.SERVICE_LINE_TOP_M
    assert serve_m == pytest.approx(2.740)
    assert dimensions.FRONT_OUT_M - TIN_M["standard"] == pytest.approx(4.090)
    assert dimensions.FRONT_OUT_M - TIN_M["tour"] == pytest.approx(4.140)
