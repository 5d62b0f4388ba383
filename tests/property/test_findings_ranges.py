"""Whatever the counts: ranges nest, mirror and hold the share seen; chances add up."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength.findings import as_json, find
from goodlength.findings.result_types import Names
from goodlength.findings.statistics.evidence_grades import holm
from goodlength.findings.statistics.exact_tests import chance_first_is_higher, stratified_exact
from goodlength.findings.statistics.proportion_intervals import jeffreys, newcombe, wilson
from goodlength.findings.statistics.serve_repetition_null import count_repeats, repeat_chances
from goodlength.synthetic.simulated_matches import null_match

counts = st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
stratum = st.tuples(counts, counts).map(lambda pair: (*pair[0], *pair[1]))


@given(counts, st.sampled_from([wilson, jeffreys]))
def test_ranges_nest_mirror_and_hold_the_share(count_of, method):
    count, of = count_of
    low, high = (float(end) for end in method(count, of))
    low90, high90 = (float(end) for end in method(count, of, 0.90))
    assert 0 <= low <= low90 <= count / of <= high90 <= high <= 1
    mirror_low, mirror_high = (float(end) for end in method(of - count, of))
    assert (1 - mirror_high, 1 - mirror_low) == pytest.approx((low, high), abs=1e-9)


@given(counts, counts)
def test_difference_turns_round_with_its_shares(item, two):
    value, low, high = newcombe(*item, *two)
    back = newcombe(*two, *item)
    assert low <= value <= high
    assert (-back[0], -back[2], -back[1]) == pytest.approx((value, low, high), abs=1e-9)


@given(counts, counts)
def test_one_of_the_two_is_higher(item, two):
    both = chance_first_is_higher(*item, *two) + chance_first_is_higher(*two, *item)
    assert both == pytest.approx(1, abs=1e-7)


@settings(deadline=None)
@given(st.lists(stratum, min_size=1, max_size=4))
def test_exact_test_adds_up(strata):
    test = stratified_exact(strata)
    turned = stratified_exact([(c, m, a, n) for a, n, c, m in strata])
    assert 0 <= test.mid_p <= test.p <= 1
    # no chance put into words is below that of the side that was seen, the counts that were seen included
    assert test.stated_p >= min(test.upper, test.lower) * (1 - 1e-9)
    assert test.mid_p <= test.stated_p == pytest.approx(turned.stated_p, abs=1e-7)
    assert test.stated_p <= 1
    assert test.p == pytest.approx(turned.p, abs=1e-7)
    assert test.upper == pytest.approx(turned.lower, abs=1e-7)
    assert test.upper + test.lower >= 1 - 1e-9


@given(st.lists(st.floats(0, 1), min_size=1, max_size=20))
def test_adjusted_p_only_grow_and_keep_their_order(p):
    q = holm(p)
    assert ((q >= np.array(p) - 1e-12) & (q <= 1)).all()
    order = np.argsort(p, kind="stable")
    assert (np.diff(q[order]) >= -1e-12).all()


@given(st.lists(st.text("ABCD", max_size=12), min_size=1, max_size=4))
def test_chances_of_repeats_add_up_and_hold_what_was_seen(games):
    chances = repeat_chances(games)
    seen = sum(count_repeats(game) for game in games)
    assert chances.sum() == pytest.approx(1, abs=1e-9)
    assert (chances >= 0).all()
    assert chances[seen] > 0


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.3, 0.7), st.sampled_from([11, 15]), st.floats(0, 0.4))
def test_any_match_gives_findings_without_gaps(seed, share_a, target, lets):
    table = null_match(np.random.default_rng(seed), share_a, target, 3, lets)
    for side in ("a", "b"):
        found = find(table, side, Names("Ada One", "Bo Two"))
        json.dumps(as_json(found), allow_nan=False)
        for item in found.all:
            assert 0 <= item.count <= item.of
            assert len(item.rallies) == item.count
            assert item.interval[0] <= item.interval[1]
            assert item.p is None or 0 <= item.p <= (item.q or 0) + 1e-12
            assert "nan" not in item.words.split()
            assert math.isfinite(item.interval[1])
