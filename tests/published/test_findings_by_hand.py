"""Three figures of the demo's findings, worked out again from docs/reasons/findings.md with own code.

Only plain arithmetic and the record of the match are used here, nothing of `goodlength.findings`: a p by
counting tables in whole numbers, a range by Wilson and Newcombe as published, and a likely size by summing
over a fine grid of true differences in place of the formula. The page says each rule; where it did not
(which range, which error, which guess beforehand), the rule was added to the page with this test.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks

Table = tuple[int, int, int, int]  # weak and all of one kind, weak and all of the other
KINDS = ("lob", "hard")


@pytest.fixture(scope="module")
def rows(demo_library: Path) -> list[dict[str, Any]]:
    """Every serve of the coached player in order: game, box, kind, and whether its return was weak."""
    with tasks.open_library(demo_library) as library:
        table = tasks.open_match(library, "demo").table
    named = [table.kinds[k] if k >= 0 else None for k in table.kind]
    return [
        {
            "game": int(table.game[n]),
            "box": int(table.box[n]),
            "kind": named[n],
            "known": table.left[n] >= 0 or table.how_taken[n] >= 0,
            "left": int(table.left[n]),
        }
        for n in range(len(table.key))
        if table.server[n] == 0
    ]


@pytest.fixture(scope="module")
def findings(demo_library: Path) -> dict[str, Any]:
    """What the program says of the same match, by key."""
    with tasks.open_library(demo_library) as library:
        return {finding.key: finding for finding in tasks.find(library, "demo").all}


def table_of(rows: list[dict[str, Any]], box: int | None = None) -> Table:
    """Weak returns of lobs and of hard serves, from one box or both."""
    from goodlength.record.model import Left
    from goodlength.record.tables.rally_table import LEFT

    weak = {LEFT.index(Left.LOOSE), LEFT.index(Left.NOT_MADE)}
    here = [row for row in rows if row["known"] and box in (None, row["box"])]
    parts = [[row["left"] in weak for row in here if row["kind"] == kind] for kind in KINDS]
    return sum(parts[0]), len(parts[0]), sum(parts[1]), len(parts[1])


def ways(table: Table) -> dict[int, int]:
    """In how many ways so many of the weak returns fall on the first kind, all totals kept."""
    a, n, c, m = table
    return {k: math.comb(n, k) * math.comb(m, a + c - k) for k in range(max(0, a + c - m), min(n, a + c) + 1)}


def mid_p(chances: dict[int, int], seen: int) -> Fraction:
    """Every outcome that is rarer than the one seen, and half of those as rare."""
    less = sum(count for count in chances.values() if count < chances[seen])
    same = sum(count for count in chances.values() if count == chances[seen])
    return Fraction(2 * less + same, 2 * sum(chances.values()))


def test_the_p_of_weak_returns_is_the_larger_of_plain_and_within_the_boxes(rows, findings):
    """ "Two rates are compared with Fisher's exact test (mid-p)"; "the larger of the two p values counts"."""
    plain = table_of(rows)
    assert plain == (11, 17, 1, 12)
    boxes = [table_of(rows, box) for box in (0, 1)]
    assert tuple(map(sum, zip(*boxes, strict=True))) == plain
    within: Counter[int] = Counter()
    for k, item in ways(boxes[0]).items():
        for j, other in ways(boxes[1]).items():
            within[k + j] += item * other
    by_hand = max(mid_p(ways(plain), 11), mid_p(dict(within), 11))
    assert findings["a-weak-lob-hard"].p == pytest.approx(float(by_hand), abs=1e-12)


def wilson(count: int, of: int) -> tuple[float, float]:
    """Both rates p with |count / of - p| = 1.96 sqrt(p (1 - p) / of), by bisection and not by the formula."""

    def outside(p: float) -> bool:
        return abs(count / of - p) > 1.959963984540054 * math.sqrt(p * (1 - p) / of)

    ends = []
    for end in (0.0, 1.0):
        near, far = count / of, end
        for _ in range(80):
            middle = (near + far) / 2
            near, far = (near, middle) if outside(middle) else (middle, far)
        ends.append(near)
    return ends[0], ends[1]


def test_the_range_of_that_difference_is_newcombes(rows, findings):
    """ "The range of a difference between two rates joins Wilson's ranges of both"."""
    a, n, c, m = table_of(rows)
    (low_1, high_1), (low_2, high_2) = wilson(a, n), wilson(c, m)
    gap = a / n - c / m
    low = gap - math.hypot(a / n - low_1, high_2 - c / m)
    high = gap + math.hypot(high_1 - a / n, c / m - low_2)
    effect = findings["a-weak-lob-hard"].effect
    assert (effect.value, effect.low, effect.high) == pytest.approx((gap, low, high), abs=1e-9)


def test_the_likely_share_of_repeats_is_drawn_in_by_the_guess_beforehand(rows, findings):
    """Repeats expected of the orders that keep the kinds of each box in a game, then the mean over true gaps.

    The program draws 1,000 to 8,000 of these orders; here their mean is worked out pair by pair.
    """
    again = of = 0
    expected = Fraction(0)
    for game in sorted({row["game"] for row in rows}):
        serves = [(row["box"], row["kind"]) for row in rows if row["game"] == game]
        assert all(kind is not None for _, kind in serves)
        pairs = list(itertools.pairwise(serves))
        again, of = again + sum(item[1] == other[1] for item, other in pairs), of + len(pairs)
        counts = {box: Counter(kind for other, kind in serves if other == box) for box, _ in serves}
        for (box, _), (other, _) in pairs:
            mine, theirs = counts[box], counts[other]
            others = theirs.total() - (box == other)
            expected += sum(
                Fraction(k * (theirs[kind] - (box == other)), mine.total() * others)
                for kind, k in mine.items()
            )
    finding = findings["a-repeat"]
    assert (finding.count, finding.of) == (again, of)
    chance = finding.likely.second
    assert chance == pytest.approx(float(expected / of), abs=0.01)  # four errors of the mean of 1,000 orders
    p = (again + 0.5) / (of + 1)
    error, seen = math.sqrt(p * (1 - p) / of), again / of - chance
    grid = [k / 5000 for k in range(-10000, 10001)]
    weights = [
        sum(part * math.exp(-((true / sd) ** 2) / 2) / sd for part, sd in ((0.55, 0.05), (0.45, 0.26)))
        * math.exp(-(((seen - true) / error) ** 2) / 2)
        for true in grid
    ]
    likely = sum(w * true for w, true in zip(weights, grid, strict=True)) / sum(weights)
    assert finding.likely.gap == pytest.approx(likely, abs=1e-6)
    assert f"nearer {round((chance + likely) * of)} of {of}" in finding.words
