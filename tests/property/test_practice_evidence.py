"""Laws of progress and places, whatever was logged."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength.practice import hit_rate, hit_rate_of_sets, scatter_of
from goodlength.practice.progress_sentences import progress_sentences
from goodlength.practice.statistics.drill_progress import (
    PracticeOrder,
    PracticeSet,
    progress_of,
)
from goodlength.practice.statistics.miss_distance_change import distance_change, distance_evidence

pair = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
logged = st.lists(
    st.tuples(pair, st.integers(0, 20), st.sampled_from(list(PracticeOrder))), min_size=1, max_size=8
)
metres = st.lists(st.floats(0.01, 3.0), min_size=5, max_size=20)


def sets_from(rows) -> list[PracticeSet]:
    return [PracticeSet(date(2026, 11, 1) + timedelta(days=d), *p, order) for p, d, order in rows]


@settings(max_examples=40, deadline=None)
@given(logged)
def test_progress_says_something_of_every_log_and_counts_every_attempt(rows) -> None:
    told = progress_of(sets_from(rows))
    assert told.whole[1] == sum(p[1] for p, _, _ in rows)
    assert sum(of for _, (_, of), _ in told.sessions) == told.whole[1]
    assert sum(c.first[1] + c.since[1] for c in told.by_order) == told.whole[1]
    assert told.now.low <= told.now.rate <= told.now.high
    assert all(words[-1] in ".?" for words in progress_sentences(told))


@settings(max_examples=60, deadline=None)
@given(st.lists(pair, min_size=1, max_size=6))
def test_forgetting_nothing_is_counting_all(sets) -> None:
    whole = hit_rate(sum(h for h, _ in sets), sum(n for _, n in sets))
    assert hit_rate_of_sets(sets, keep=1.0).rate == pytest.approx(whole.rate)


@settings(max_examples=60, deadline=None)
@given(metres, metres, st.floats(0.1, 10.0))
def test_feet_or_metres_make_no_difference_to_the_evidence(first, since, unit) -> None:
    a, b = np.array(first), np.array(since)
    assert distance_evidence(a * unit, b * unit) == pytest.approx(distance_evidence(a, b), rel=1e-6)
    assert distance_change(a, b).change_m == pytest.approx(-distance_change(b, a).change_m)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 6.4), st.floats(0, 4.5)), min_size=3, max_size=20))
def test_the_mirrored_court_mirrors_the_scatter(places) -> None:
    seen = scatter_of(places, aim_m=(2.0, 2.0))
    mirrored = scatter_of([(6.4 - x, z) for x, z in places], aim_m=(4.4, 2.0))
    assert seen.bias_m is not None
    assert mirrored.bias_m == pytest.approx((-seen.bias_m[0], seen.bias_m[1]), abs=1e-9)
    assert mirrored.next_ball.major_m == pytest.approx(seen.next_ball.major_m, abs=1e-6)
