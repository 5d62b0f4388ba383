"""How wide graded differences are shown, beside the record and the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.bench.findings.effect_size_accuracy import (
    GradedGap,
    bench_gap_sizes,
    gap_sizes,
    recorded_gap,
)
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.question_types import Question
from goodlength.findings.rally_masks import RallyMasks
from goodlength.synthetic.simulated_matches import World, invent_match

HALF = (0.42, 0.38, 0.12, 0.08)
PLANTED = World(mix=HALF, weak=(0.65, 0.35))


def test_the_gap_within_boxes_is_as_often_wider_as_narrower_than_that_of_the_counts():
    """Before: only the narrower one was taken, so sizes were too small on average (here 0 of 60 wider)."""
    rng, wider, narrower, gaps = np.random.default_rng(31), 0, 0, []
    for _ in range(60):
        table = invent_match(rng, PLANTED, 0.5, 11).table
        for item in judge_all(RallyMasks(table)):
            if item.ask is Question.WEAK and item.within_boxes is not None:
                wider += abs(item.within_boxes[0]) > abs(item.gap)
                narrower += abs(item.within_boxes[0]) < abs(item.gap)
                gaps.append(abs(item.within_boxes[0]) - abs(item.gap))
    assert wider > narrower / 2
    assert np.mean(gaps) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize(
    ("world", "low", "high"),
    [
        (PLANTED, 0.26, 0.34),
        (replace(PLANTED, by_box=0.6, weak_by_box=0.3), 0.24, 0.36),  # the box's gap is not the kinds'
        (replace(PLANTED, kind_errors=0.1, return_errors=0.12), 0.16, 0.26),  # a tenth and an eighth wrong
    ],
)
def test_the_record_holds_the_planted_gap_but_for_the_observer_s_errors(world, low, high):
    """Planted .30; kinds wrong in a tenth and outcomes in an eighth leave about seven tenths of it."""
    assert low <= recorded_gap(np.random.default_rng(32), world, 60) <= high


def test_sizes_are_ratios_of_sums_weighed_by_how_frequent_a_true_gap_is():
    sizes = gap_sizes([GradedGap(0.6, 0.4, 0.3, 0.3), GradedGap(0.5, 0.35, 0.4, 0.5)])
    assert sizes.graded == 2
    assert sizes.size_ratio == pytest.approx(0.75 / 0.8)
    assert sizes.seen_ratio == pytest.approx(1.1 / 0.8)
    assert sizes.record_ratio == pytest.approx(0.7 / 0.8)
    assert sizes.shown_over_record == pytest.approx(0.75 / 0.7)
    # Gaps beyond 40 points do not occur where they are even up to 40: only the first one counts.
    assert sizes.by_spread["even to 40 points"] == pytest.approx(0.4 / 0.3)


def test_without_graded_differences_there_is_no_size():
    sizes = gap_sizes([])
    assert (sizes.graded, sizes.size_ratio, sizes.by_spread) == (0, None, {})


def test_a_bench_of_one_way_says_the_same_for_all_together():
    """Seen over true is above one (only wide gaps get a grade); shown over true comes back towards one."""
    found = bench_gap_sizes({"plain": World()}, 31, 40)
    item, every = found["plain"], found["all"]
    assert item == every
    assert item.graded >= 5
    assert item.size_ratio is not None
    assert item.seen_ratio is not None
    assert item.size_ratio < item.seen_ratio
    assert 0.6 < item.size_ratio < 1.3
    assert set(item.by_spread) == {"as assumed beforehand", "half of them none", "even to 40 points"}
