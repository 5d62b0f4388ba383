"""The unfolded court."""

from __future__ import annotations

import pytest

from goodlength.court import CourtSurface, riser_foot, to_sheet, unfolded
from goodlength.errors import InputError


def by_name(name, what="line", tin="standard"):
    return next(s for s in unfolded(tin).shapes if s.name == name and s.what == what)


@pytest.mark.parametrize(
    ("surface", "point", "on_sheet"),
    [
        ("front-wall", (3.1, 0.0, 4.02), (3.1, -4.02)),
        ("left-side-wall", (0.0, 7.205, 2.234), (-2.234, 7.205)),
        ("right-side-wall", (6.4, 7.0, 2.0), (8.4, 7.0)),
        ("back-wall", (0.821, 9.75, 0.491), (0.821, 10.241)),
        ("floor", (1.284, 8.652, 0.0), (1.284, 8.652)),
        ("floor", (1.284, 8.652, 1.7), (1.284, 8.652)),
    ],
)
def test_to_sheet(surface, point, on_sheet):
    assert to_sheet(surface, *point) == pytest.approx(on_sheet)


def test_a_riser_begins_at_the_fold():
    assert riser_foot("left-side-wall", 0.0, 7.2) == (0.0, 7.2)
    assert riser_foot(CourtSurface.FRONT, 3.1, 0.0) == (3.1, 0.0)


def test_folds_meet_the_floor_where_the_walls_stand():
    for surface, x, y in [
        ("front-wall", 2.0, 0.0),
        ("left-side-wall", 0.0, 4.0),
        ("back-wall", 2.0, 9.75),
        ("right-side-wall", 6.4, 4.0),
    ]:
        assert to_sheet(surface, x, y, 0.0) == to_sheet("floor", x, y, 0.0)


def test_lines_have_their_edges_where_the_rules_put_them():
    def height(name, tin="standard"):
        vs = [-v for _, v in by_name(name, tin=tin).points]
        return pytest.approx(min(vs)), pytest.approx(max(vs))

    assert height("front out line") == (4.57, 4.62)
    assert height("service line") == (1.78, 1.83)
    assert height("tin") == (0.43, 0.48)
    assert height("tin", "tour") == (0.38, 0.43)
    back = [v - 9.75 for _, v in by_name("back out line").points]
    assert (min(back), max(back)) == (pytest.approx(2.13), pytest.approx(2.18))


def test_box_lines_stand_outside_the_boxes_and_mirror():
    left, right = by_name("left box").points, by_name("right box").points
    corners = [(1.6, 5.49), (1.65, 5.49), (1.65, 7.14), (0.0, 7.14), (0.0, 7.09), (1.6, 7.09)]
    assert [tuple(round(w, 9) for w in corner) for corner in left] == corners
    assert [6.4 - u for u, _ in left] == pytest.approx([u for u, _ in right])
    assert by_name("half-court line").points[0] == pytest.approx((3.175, 5.49))
    assert by_name("short line").points[0] == pytest.approx((0.0, 5.44))


def test_side_lines_slope_and_mirror():
    left, right = by_name("left out line").points, by_name("right out line").points
    assert left[0] == pytest.approx((-4.57, 0.0))
    assert left[3] == pytest.approx((-2.13, 9.75))
    assert [6.4 - u for u, _ in left] == pytest.approx([u for u, _ in right])


def test_everything_drawn_lies_inside_the_bounds():
    sheet = unfolded()
    u0, v0, u1, v1 = sheet.bounds
    for shape in sheet.shapes:
        assert all(u0 <= u <= u1 and v0 <= v <= v1 for u, v in shape.points), shape.name
    assert sheet.folds[0][0] == sheet.folds[0][-1]


def test_floor_and_walls_come_before_lines():
    whats = [shape.what for shape in unfolded().shapes]
    assert whats.index("line") > max(i for i, what in enumerate(whats) if what in ("wall", "floor"))


def test_labels_carry_the_heights():
    words = {label.name: label.words for label in unfolded("tour").labels}
    assert words["tin"] == "tin, 0.43 m"
    assert words["service line"] == "service line, 1.78 m"


def test_what_has_no_place_on_the_sheet_is_refused():
    with pytest.raises(InputError, match="has no place on the unfolded court"):
        to_sheet("above", 1.0, 1.0, 5.7)
    with pytest.raises(InputError, match="'standard'"):
        unfolded("high")
