"""What "about 40 more would probably settle it" is worth."""

from __future__ import annotations

import numpy as np

from goodlength.bench.findings.sample_size_forecast_accuracy import bench_settling
from goodlength.findings import find
from goodlength.findings.analyses.serve_advantage import ASSUMED_RUN
from goodlength.findings.result_types import Grade, Names
from goodlength.synthetic.simulated_matches import World, invent_match


def test_as_many_more_settle_most_questions():
    """Of 100: 94 and more, but of serving 43 before its number allowed for runs of winners, 78 since."""
    found = bench_settling(31, 12)
    every = [share for ask, (share, count) in found.items() for _ in range(count) if ask != "serve-edge"]
    assert len(every) > 10
    assert np.mean(every) >= 0.75


def test_a_gap_no_wider_than_runs_make_it_has_no_number():
    """Before: "about 13 more rallies of each would probably settle it" where runs of winners give the gap."""
    rng, seen = np.random.default_rng(32), 0
    for _ in range(25):
        page = find(invent_match(rng, World(serving=0.06)).table, "a", Names("Mara O", "Bo L"))
        item = next(element for element in page.all if element.question == "serve-edge")
        assert item.against is not None
        gap = item.count / item.of - item.against.count / item.against.of
        if 0 < gap < 2 * ASSUMED_RUN and item.grade is Grade.TOO_FEW:
            seen += 1
            assert item.more is None
            assert "settle" not in item.words, item.words
    assert seen >= 5
