"""Change against repeat keeps its size where the crude comparison does not (STATS-REF 3.4, simulated)."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.findings.analyses.serve_variation_effect import change_of_serve
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.statistics.exact_tests import fisher
from goodlength.record.tables.rally_table import RallyTable

SHARES = (0.65, 0.25, 0.10)


def server_with_a_habit(rng, win, serves):
    """Three kinds; repeats after a win, shifts after a loss; boxes alternate; no effect of the change."""
    kinds, winners = [], []
    for i in range(serves):
        if i and winners[-1] == 0 and rng.random() < 0.7:
            kind = kinds[-1]
        else:
            kind = int(rng.choice(3, p=SHARES))
        kinds.append(kind)
        winners.append(int(rng.random() >= win[kind]))
    n = serves
    flat = np.full(n, -1, dtype=np.int16)
    return RallyTable(
        match="made",
        key=tuple(str(i) for i in range(n)),
        game=np.ones(n, dtype=np.int16),
        n_in_game=np.arange(n, dtype=np.int16),
        server=np.zeros(n, dtype=np.int16),
        box=(np.arange(n) % 2).astype(np.int16),
        kinds=("x", "y", "z"),
        kind=np.array(kinds, dtype=np.int16),
        how_taken=flat,
        left=flat,
        winner=np.array(winners, dtype=np.int16),
        let=np.zeros(n, dtype=bool),
        ending=flat,
        ending_stroke=flat,
        score_a=flat,
        score_b=flat,
        length_s=np.full(n, np.nan),
        shots=flat,
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("win", "serves"), [((0.5, 0.5, 0.5), 38), ((0.45, 0.55, 0.65), 38), ((0.45, 0.55, 0.65), 113)]
)
def test_no_effect_is_seldom_called_one(win, serves):
    """Share of p <= .05 over 300 matches: at most .05 and four Monte Carlo errors (.0126)."""
    rng = np.random.default_rng(serves)
    p = [change_of_serve([(RallyMasks(server_with_a_habit(rng, win, serves)), 0)]).test.p for _ in range(300)]
    assert np.mean(np.array(p) <= 0.05) <= 0.05 + 4 * 0.0126


@pytest.mark.slow
def test_the_crude_comparison_is_biased_where_kinds_differ():
    """The trap the strata are there for: rare kinds are changed to more often, so winners look like changes."""
    rng = np.random.default_rng(6)
    gaps, like_with_like = [], []
    for _ in range(40):
        view = RallyMasks(server_with_a_habit(rng, (0.3, 0.6, 0.8), 400))
        won = view.won(0)
        changed = np.r_[False, view.table.kind[1:] != view.table.kind[:-1]]
        repeated = np.r_[False, view.table.kind[1:] == view.table.kind[:-1]]
        counts = [
            int(x) for x in ((won & changed).sum(), changed.sum(), (won & repeated).sum(), repeated.sum())
        ]
        gaps.append(counts[0] / counts[1] - counts[2] / counts[3])
        assert 0 <= fisher(*counts).p <= 1
        like_with_like.append(change_of_serve([(view, 0)]).difference)
    assert abs(np.mean(like_with_like)) < 0.02
    assert abs(np.mean(gaps)) > 0.03
