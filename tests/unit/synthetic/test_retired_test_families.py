"""Families that once judged: each can still be drawn, under a name of its own, with the same conditions."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.synthetic.recordings import test_family as judging
from goodlength.synthetic.recordings.retired_test_families import plan_rays, pressure_play


@pytest.mark.parametrize("family", [plan_rays, pressure_play])
def test_a_family_that_once_judged_is_drawn_under_its_own_name(family):
    first, again = (family.draw_world(np.random.default_rng(5), "16 kHz", 20.0) for _ in range(2))
    assert first.family == family.FAMILY != judging.FAMILY
    assert np.array_equal(first.samples, again.samples)
    assert first.contacts == again.contacts
    assert first.contacts


def test_families_that_once_judged_have_the_conditions_of_the_judging_family():
    for group in ("CONDITIONS", "USUAL", "POOR", "NEIGHBOUR", "GLASS", "ODD"):
        assert getattr(plan_rays, group) == getattr(pressure_play, group) == getattr(judging, group)
