"""Shades of time on the floor: each cell once, in its shade, to scale; a strange table is refused."""

from __future__ import annotations

import re

import pytest

from goodlength.errors import OutOfRange
from goodlength.show.draw.court.time_on_floor_map import SHADES, shade_key, time_on_floor_map


def test_each_run_of_cells_is_drawn_once_in_its_shade() -> None:
    part = [[3, 0, 0, 1], [2, 2, 3, 3]]
    drawn = time_on_floor_map(part, "a", label="Where <A> stood", wide=132.0)
    assert "Where &lt;A&gt; stood" in drawn
    for shade, cells in zip(SHADES, ("M34 2h64", "M98 2h32", "M2 99.5h64"), strict=True):
        (found,) = re.findall(rf'<path[^>]*opacity="{shade}"[^>]*>', drawn)
        assert cells in found and found.count("M") == 1
    assert "M2 2h" not in drawn  # a blank cell stays blank


@pytest.mark.parametrize("part", [[], [[]], [[0, 1], [0]]])
def test_a_table_that_is_none_is_refused(part: list[list[int]]) -> None:
    with pytest.raises(OutOfRange, match="all of one length"):
        time_on_floor_map(part, "b", label="x")


def test_the_key_has_the_shade_of_the_map() -> None:
    assert f'opacity="{SHADES[1]}"' in shade_key(1, "b")
