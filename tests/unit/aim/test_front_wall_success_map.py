"""The map of the front wall: beside the figures of single targets, in a mirror, and at its edges."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.aim.aim_optimisation import AimPoint, best_aim, odds_of
from goodlength.aim.front_wall_success_map import map_of
from goodlength.aim.serve_goals import task_of
from goodlength.aim.serve_scatter_on_front_wall import AimScatter
from goodlength.ball import PlayConditions
from goodlength.court.dimensions import FRONT_OUT_M, WIDTH_M
from goodlength.errors import OutOfRange
from goodlength.show.draw.court.aim_success_contour_drawing import WallMap, draw_front_wall_map, levels_of
from goodlength.show.draw.court.front_wall_contours import contours_of

CLUB, SETTING = AimScatter.of_level("club"), PlayConditions()


@pytest.mark.parametrize("kind", ["lob", "hard"])
def test_a_place_of_the_map_is_the_figure_of_a_target_there(kind: str) -> None:
    """Within 3 of 100: the map is flown in few worlds a place, and smoothed."""
    task = task_of(kind, "right")
    aim = best_aim(task, SETTING, CLUB, factors=()).aim
    found = map_of(task, SETTING, CLUB, aim.speed_m_s)
    for across, up in ((0.0, 0.0), (-0.4, 0.0), (0.3, -0.2)):
        at = AimPoint(aim.across_m + across, aim.up_m + up, aim.speed_m_s)
        i, j = (
            int(np.argmin(np.abs(a - b))) for a, b in ((found.across_m, at.across_m), (found.up_m, at.up_m))
        )
        at = AimPoint(float(found.across_m[i]), float(found.up_m[j]), aim.speed_m_s)
        assert found.of_100[i, j] == pytest.approx(odds_of(task, SETTING, at, CLUB).goal.of_100, abs=3.0)


def test_the_other_box_is_the_map_in_a_mirror() -> None:
    right = map_of(task_of("hard", "right"), SETTING, CLUB, 31.0)
    left = map_of(task_of("hard", "left", "left"), SETTING, CLUB, 31.0)
    assert np.abs(left.of_100[::-1] - right.of_100).max() < 4.0
    assert right.best[0] == pytest.approx(WIDTH_M - left.best[0], abs=0.4)


def test_a_tighter_player_has_a_higher_top_and_the_map_is_the_same_again() -> None:
    task = task_of("mid-height", "right")
    tight, wide = (map_of(task, SETTING, CLUB.times(factor), 19.5) for factor in (0.5, 1.5))
    assert tight.best[2] > wide.best[2] + 5.0
    again = map_of(task, SETTING, CLUB.times(1.5), 19.5)
    assert np.array_equal(wide.of_100, again.of_100)
    with pytest.raises(OutOfRange, match="from 8 to 70"):
        map_of(task, SETTING, CLUB, 2.0)


def test_contours_go_round_the_places_that_reach_a_level() -> None:
    """A round hill of 3 cells: the line of half its height lies where the formula says."""
    x, z = np.arange(0.1, 3.0, 0.1), np.arange(1.9, 4.5, 0.1)
    hill = 40.0 * np.exp(-(((x[:, None] - 1.5) / 0.3) ** 2 + ((z[None] - 3.0) / 0.3) ** 2) / 2)
    (line,) = contours_of(x, z, hill, 20.0)
    radii = [np.hypot(u - 1.5, v - 3.0) for u, v in line]
    assert np.allclose(radii, 0.3 * np.sqrt(2 * np.log(2)), atol=0.03)
    assert contours_of(x, z, hill, 41.0) == ()
    assert (
        max(v for _, v in contours_of(x, np.arange(3.1, 4.6, 0.1), np.full((29, 15), 30.0), 20.0)[0])
        <= FRONT_OUT_M
    )


def test_two_serves_in_one_map_share_their_levels() -> None:
    assert levels_of(19.0) == (5, 10, 15) and levels_of(95.0) == (20, 40, 60, 80)
    x, z = np.arange(0.1, 6.3, 0.1), np.arange(1.9, 4.5, 0.1)
    hill = 40.0 * np.exp(-(((x[:, None] - 3.0) / 0.6) ** 2 + ((z[None] - 3.0) / 0.4) ** 2) / 2)
    first, second = WallMap("Lob", x, z, hill, (3.0, 3.0)), WallMap("Hard", x, z, hill * 0.6, (3.0, 2.0))
    svg = draw_front_wall_map([first, second])
    assert svg.count("stroke-dasharray") == 2  # 10 and 20 of 100; nothing of it reaches 30
    assert "Lob: at most 40 of 100" in svg and "Hard: at most 24 of 100" in svg
    assert "stroke-dasharray" not in draw_front_wall_map([first])
