"""Could she guess the next serve: worked figures of STATS-REF 3.2, scipy as second opinion, simulated bias."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import chi2_contingency, fisher_exact

from goodlength.findings.analyses.serve_predictability import (
    chain_factor,
    log2_evidence,
    mutual_information,
    transitions,
    watch_serves,
)

WORKED = "LLSLSLLSLSLSSLSLLSLS"


def test_worked_sequence():
    """STATS-REF 3.2, computed there: transitions, evidence, Bayes factor 234/17, G and bits."""
    kinds, counts = transitions([WORKED])
    assert kinds == ("L", "S")
    assert counts.tolist() == [[3, 8], [7, 1]]
    linked = log2_evidence(counts[0]) + log2_evidence(counts[1])
    assert linked == pytest.approx(-17.6478358487, rel=1e-10)
    assert log2_evidence(counts.sum(axis=0)) == pytest.approx(-21.4307377271, rel=1e-10)
    assert chain_factor([WORKED]) == pytest.approx(234 / 17, rel=1e-9)
    bits = mutual_information(counts)
    assert bits == pytest.approx(0.2797179450, rel=1e-8)
    g = 2 * counts.sum() * bits * np.log(2)
    assert g == pytest.approx(7.3676567736, rel=1e-9)


def test_second_opinion_of_scipy_on_the_worked_sequence():
    """STATS-REF 3.2: G's chi-square p .0066407, Fisher .0197661; scipy's G-test and Fisher agree."""
    _, counts = transitions([WORKED])
    test = chi2_contingency(counts, correction=False, lambda_="log-likelihood")
    assert test.statistic == pytest.approx(2 * 19 * mutual_information(counts) * np.log(2), rel=1e-9)
    assert test.pvalue == pytest.approx(0.0066407, abs=5.1e-7)
    assert fisher_exact(counts)[1] == pytest.approx(
        0.0197661, abs=6e-7
    )  # printed with the last digit cut off


@pytest.mark.parametrize(
    ("kinds", "serves", "mean", "high"),
    [(2, 20, 0.042, 0.172), (3, 30, 0.115, 0.275), (4, 40, 0.199, 0.361), (4, 80, 0.087, 0.166)],
)
def test_bits_of_a_server_without_habits(kinds, serves, mean, high):
    """STATS-REF 3.2, simulated there: mean and 95th percentile of the plug-in bits of random serves."""
    rng = np.random.default_rng(kinds * serves)
    bits = []
    for order in rng.integers(0, kinds, size=(1500, serves)):
        pairs = np.bincount(order[:-1] * kinds + order[1:], minlength=kinds * kinds)
        bits.append(mutual_information(pairs.reshape(kinds, kinds)))
    assert np.mean(bits) == pytest.approx(mean, abs=0.006)
    assert np.quantile(bits, 0.95) == pytest.approx(high, abs=0.02)


def test_a_strict_habit_is_read_and_luck_is_not():
    """A server who alternates is guessed after a few serves; a coin is not."""
    n = 60
    box, result, game = np.zeros(n, int), np.full(n, 2), np.repeat([1, 2, 3], 20)
    strict = np.tile([0, 1], n // 2)[None, :]
    hits, usual, gain = watch_serves(strict, game, box, result, 2)
    assert hits[0] >= 52
    assert usual[0] <= 40
    assert gain[0] > 0.6
    coins = np.random.default_rng(4).integers(0, 2, size=(400, n))
    hits, _, gain = watch_serves(coins, game, box, result, 2)
    assert hits.mean() == pytest.approx(n / 2, abs=4 * (n / 4) ** 0.5 / 20)
    assert gain.mean() < 0


def test_watching_the_box_helps_where_the_box_decides():
    n = 40
    box = np.tile([0, 1], n // 2)
    kinds = box[None, :].copy()
    hits, usual, _ = watch_serves(kinds, np.ones(n, int), box, np.full(n, 2), 2)
    assert hits[0] >= n - 5
    assert usual[0] <= n - 15


def test_guesses_never_look_ahead():
    """Changing the last serve changes no earlier guess: only the last hit can differ."""
    rng = np.random.default_rng(9)
    item = rng.integers(0, 3, size=(1, 30))
    two = item.copy()
    two[0, -1] = (item[0, -1] + 1) % 3
    box, result, game = rng.integers(0, 2, 30), rng.integers(0, 3, 30), np.ones(30, int)
    a, b = (watch_serves(x, game, box, result, 3)[0][0] for x in (item, two))
    short = watch_serves(item[:, :-1], game[:-1], box[:-1], result[:-1], 3)[0][0]
    assert {int(a - short), int(b - short)} <= {0, 1}
