"""Ranges widened by answers that nobody checked: never narrower, and those of an independent simulation."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.statistics.misclassified_proportions import UncheckedCounts, unchecked_range
from goodlength.findings.statistics.proportion_intervals import jeffreys


def drawn_range(count: int, of: int, counts: UncheckedCounts, level: float) -> tuple[float, float]:
    """The same range by plain drawing: rates, wrong answers, wrong places, then the share."""
    rng, many = np.random.default_rng(20261130), 400_000
    rate, rate_place = rng.beta(*counts.wrong, many), rng.beta(*counts.wrong_place, many)
    hits = count - rng.binomial(counts.hits, rate) + rng.binomial(counts.misses, rate * counts.gained)
    out = rng.binomial(counts.placed, rate_place)
    least = np.maximum(0, out - (of - hits))
    gone = least + np.floor(rng.random(many) * (np.minimum(out, hits) - least + 1)).astype(int)
    share = rng.beta(hits - gone + 0.5, of - out - hits + gone + 0.5)
    low, high = np.quantile(share, [(1 - level) / 2, (1 + level) / 2])
    return float(low), float(high)


@pytest.mark.parametrize("level", [0.9, 0.95])
@pytest.mark.parametrize(
    ("count", "of", "counts"),
    [
        (10, 20, UncheckedCounts(7, 8, 15, (0.2, 13.8), (0.2, 3.8))),
        (15, 40, UncheckedCounts(15, 25, 0, (2.0, 18.0), (0.2, 3.8))),
        (6, 8, UncheckedCounts(0, 0, 8, (0.2, 13.8), (1.0, 9.0))),
        (0, 12, UncheckedCounts(0, 12, 12, (0.2, 13.8), (0.2, 3.8))),
        (1, 40, UncheckedCounts(1, 39, 0, (2.0, 18.0), (1.0, 1.0), 1 / 3)),
    ],
)
def test_the_range_is_that_of_plain_drawing_and_never_narrower(
    count: int, of: int, counts: UncheckedCounts, level: float
) -> None:
    """Within one point: 32 rates stand for each posterior, and 400,000 draws err by 0.2 points."""
    found, plain = unchecked_range(count, of, counts, level), jeffreys(count, of, level)
    assert found[0] <= plain[0] and found[1] >= plain[1]
    drawn = drawn_range(count, of, counts, level)
    assert found[0] == pytest.approx(min(drawn[0], float(plain[0])), abs=0.01)
    assert found[1] == pytest.approx(max(drawn[1], float(plain[1])), abs=0.01)


def test_the_more_is_unchecked_and_the_worse_the_rate_the_wider() -> None:
    def width(unchecked: int, wrong: float) -> float:
        low, high = unchecked_range(
            20, 40, UncheckedCounts(unchecked // 2, unchecked // 2, 0, (wrong, 10.0), (1.0, 1.0))
        )
        return high - low

    plain = np.diff(jeffreys(20, 40)).item()
    assert width(0, 1.0) == pytest.approx(plain, abs=1e-9)
    assert plain < width(20, 1.0) < width(40, 1.0) < width(40, 3.0)


def test_more_unchecked_answers_than_rallies_are_refused() -> None:
    with pytest.raises(OutOfRange, match="More unchecked answers than rallies"):
        unchecked_range(3, 8, UncheckedCounts(4, 0, 0, (1.0, 1.0), (1.0, 1.0)))


def test_a_rare_kind_among_four_gains_a_third_of_what_it_would_among_two() -> None:
    of_two, of_four = (UncheckedCounts(0, 40, 0, (2.0, 18.0), (1.0, 1.0), gained) for gained in (1.0, 1 / 3))
    assert unchecked_range(0, 40, of_four)[1] < 0.6 * unchecked_range(0, 40, of_two)[1]


@pytest.mark.parametrize("wrong", [(4.0, 0.0), (0.0, 4.0), (float("nan"), 1.0)])
def test_a_rate_that_is_no_distribution_is_refused(wrong: tuple[float, float]) -> None:
    with pytest.raises(OutOfRange, match="parameters above 0"):
        unchecked_range(3, 8, UncheckedCounts(1, 1, 0, wrong, (1.0, 1.0)))
