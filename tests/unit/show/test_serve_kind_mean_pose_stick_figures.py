"""Two average movements drawn over each other: figures where they are known, words with their counts."""

import re

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.show.draw.court.serve_kind_mean_pose_stick_figures import BONES, MOMENTS_S, draw_movements
from goodlength.show.draw.svg_primitives_and_themes import FILE
from goodlength.synthetic.simulated_poses import BODY

TIMES = np.round(np.arange(-0.4, 0.09, 0.02), 3)
STILL = np.repeat(BODY[None] / 60.0, len(TIMES), axis=0)
WORDS = ("24 lob serves", "30 other serves & more")


def test_each_moment_has_both_figures_and_every_bone():
    svg = draw_movements(TIMES, STILL, STILL + 0.1, WORDS, theme=FILE)
    assert svg.count("<circle") == 2 * len(MOMENTS_S)
    assert svg.count("<path") == 2 * len(MOMENTS_S) * len(BONES) + 2
    assert svg.count("stroke-dasharray") == len(MOMENTS_S) * (len(BONES) + 1) + 1
    assert "0.4 s before" in svg
    assert "the strike" in svg
    assert "24 lob serves" in svg
    assert "30 other serves &amp; more" in svg
    numbers = [float(x) for x in re.findall(r'cx="([\d.]+)"', svg)]
    assert numbers == sorted(numbers)[:0] + numbers
    assert max(numbers) < float(re.search(r'width="(\d+)', svg)[1])


def test_joints_that_are_not_known_are_left_out():
    holes = STILL.copy()
    holes[:, 10] = np.nan
    svg = draw_movements(TIMES, holes, STILL, WORDS, theme=FILE)
    assert svg.count("<path") == 2 * len(MOMENTS_S) * len(BONES) - len(MOMENTS_S) + 2
    assert "nan" not in svg


def test_moments_far_from_the_strike_cannot_be_drawn():
    with pytest.raises(OutOfRange, match=r"last 0\.4 s"):
        draw_movements(TIMES - 2.0, STILL, STILL, WORDS)
