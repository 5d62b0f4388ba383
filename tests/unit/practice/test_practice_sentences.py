"""What progress, carry-over and a serve that shows are said to be, held to their own counts."""

from __future__ import annotations

import re

import numpy as np
import pytest

from goodlength.measure.body.serve_disguise import TooFewServes, disguise_words
from goodlength.practice.statistics.transfer import carried_over
from goodlength.tasks.practice.transfer import transfer_words

CHANGE = re.compile(r"Change ([+-]\d+) percentage points, 95% range ([+-]\d+) to ([+-]\d+): (.*)")


@pytest.mark.parametrize("more_is_better", [True, False])
def test_carry_over_says_better_or_worse_only_where_its_range_does(more_is_better):
    rng = np.random.default_rng(71)
    told = set()
    for _ in range(300):
        p = rng.uniform(0.1, 0.9, 2)
        n = [(int(rng.integers(5, 400)), int(rng.integers(5, 400))) for _ in range(2)]
        before = {k: (int(rng.binomial(n[k][0], p[0])), n[k][0]) for k in range(2)}
        after = {k: (int(rng.binomial(n[k][1], p[1])), n[k][1]) for k in range(2)}
        found = carried_over(before, after)
        words = transfer_words("rallies won", more_is_better, 2, found, None, 0)
        change, low, high, verdict = CHANGE.match(words[1]).groups()
        assert int(low) <= int(change) <= int(high)
        h0, n0, h1, n1 = (int(x) for x in re.findall(r"(\d+) of (\d+) before, (\d+) of (\d+)", words[0])[0])
        together = h1 / n1 - h0 / n0
        hides = any("counts together hide it" in one for one in words)
        if together * int(change) < 0 and abs(together - found.change) >= 0.05:
            assert hides, words
        if verdict.startswith("not enough data"):
            assert int(low) <= 0 <= int(high)
        else:
            better = (int(change) > 0) == more_is_better
            assert verdict.startswith("better" if better else "worse"), words
            assert int(low) * int(high) >= 0
        told.add(verdict.split(",")[0])
    assert {"better", "worse"} <= told


def test_a_change_the_counts_turn_round_is_named():
    """Before: "72 of 110 before, 48 of 110 after" beside "Change +10 in 100" without a word."""
    before, after = {"right": (70, 100), "left": (2, 10)}, {"right": (8, 10), "left": (30, 100)}
    words = transfer_words("rallies won", True, 1, carried_over(before, after), None, 0)
    assert words[1].startswith("Change +")
    assert "The change is that within each opponent, ball and box: the counts together hide it." in words


@pytest.mark.parametrize(("of_kind", "others"), [(0, 0), (19, 40), (40, 3)])
def test_too_few_serves_claim_nothing_of_when_they_show(of_kind, others):
    said = disguise_words(TooFewServes(of_kind, others), ("lob", "lobs"), "Imogen")
    assert said[0].startswith("Not enough data")
    assert str(of_kind) in said[0]
    assert str(others) in said[0]
    assert not re.search(r"can be read", " ".join(said))
