"""Error rates of proposals, kept by match: from the chances stated, the sample of ten and every correction."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import OutOfRange
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.rally_masks import KINDS, WON_BY_KIND, RallyMasks, RestsOn, wider_by
from goodlength.measure.draft.proposal_error_rates import error_posterior
from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import (
    bulk_offer,
    draw_sample,
    take_unwatched,
)
from tests.unit.tasks.test_sure_rally_acceptance_after_sample_check import confirm, drafted, library  # noqa: F401


@pytest.fixture
def taken(drafted: Any) -> Any:  # noqa: F811
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(1))
    for key in bulk_offer(tasks.open_match(drafted, "m1")).sample:
        confirm(drafted, key)
    take_unwatched(tasks.open_match(drafted, "m1"))
    return drafted


def test_rates_begin_with_the_stated_chances_and_count_what_was_checked() -> None:
    assert error_posterior(0.1, 2, 20) == (2.4, 21.6)
    assert error_posterior(0.0, 0, 0) == error_posterior(0.05, 0, 0)  # nothing is surer than that beforehand
    for wrong in ((1.1, 0, 0), (0.1, 2, 1), (float("nan"), 0, 0)):
        with pytest.raises(OutOfRange, match="no more changed than checked"):
            error_posterior(*wrong)


def test_findings_of_unchecked_answers_have_wider_ranges_and_the_same_counts(taken: Any) -> None:
    opened = tasks.open_match(taken, "m1")
    table = opened.table
    assert table.unchecked is not None
    checked = [key in bulk_offer(opened).sample for key in table.key]
    for column in ("kind", "winner"):
        assert not (table.unchecked.rows[column] & checked).any()
    wrong, right = table.unchecked.wrong["winner"]
    assert wrong + right == 14 and 0.2 <= wrong < 0.3  # few beside the sure ones are in doubt
    found, plain = RallyMasks(table), RallyMasks(tasks_table_without(table))
    for side in (0, 1):
        for kind in found.kinds_by_use(side):
            among = found.served(side) & (table.kind == kind) & found.decided
            wide, narrow = (view.share(view.won(side), among, rests=WON_BY_KIND) for view in (found, plain))
            assert (wide.count, wide.of, wide.rallies) == (narrow.count, narrow.of, narrow.rallies)
            assert wide.low < narrow.low or narrow.low == 0.0
            assert wide.high > narrow.high or narrow.high == 1.0
            assert sum(wider_by(wide)) > 0 == sum(wider_by(narrow))
    pairs = list(zip(judge_all(found), judge_all(plain), strict=True))
    widened = 0
    for with_errors, without in pairs:
        assert with_errors.p == without.p
        if with_errors.effect is not None and without.effect is not None:
            assert with_errors.effect.low <= without.effect.low + 1e-12
            assert with_errors.effect.high >= without.effect.high - 1e-12
            widened += with_errors.effect != without.effect
    assert widened > 4


def test_each_correction_raises_the_rate_and_a_checked_rally_has_none(taken: Any) -> None:
    opened = tasks.open_match(taken, "m1")
    assert opened.table.unchecked is not None
    n = int(np.flatnonzero(opened.table.unchecked.rows["winner"])[0])
    key = opened.table.key[n]
    winner = opened.rally(key).winner
    assert winner is not None
    confirm(taken, key, winner=winner.other.value)
    unchecked = tasks.open_match(taken, "m1").table.unchecked
    assert unchecked is not None and not unchecked.rows["winner"][n]
    wrong, right = unchecked.wrong["winner"]
    before = opened.table.unchecked.wrong["winner"]
    assert (wrong - before[0], right - before[1]) == pytest.approx((1, 0), abs=0.01)


def tasks_table_without(table: Any) -> Any:
    return type(table)(**{**vars(table), "unchecked": None})


def test_where_a_person_answered_all_nothing_is_unchecked(library: Any) -> None:  # noqa: F811
    assert tasks.open_match(library, "m1").table.unchecked is None


@pytest.mark.parametrize("stated", [0.0, 1.0])
def test_a_chance_at_either_end_still_gives_a_distribution(stated: float) -> None:
    """Before: answers proposed with a chance of 0, and none checked, broke every finding."""
    wrong, right = error_posterior(stated, 0, 0)
    assert wrong > 0 and right > 0


def test_a_wrong_kind_may_have_been_any_of_the_other_kinds(taken: Any) -> None:
    view = RallyMasks(tasks.open_match(taken, "m1").table)
    served, kinds = view.served(0), view.table.kind
    occurring = np.unique(kinds[kinds >= 0])
    assert len(occurring) > 2
    rare = min(occurring, key=lambda kind: int(((kinds == kind) & served).sum()))
    as_kind, as_any = (
        view.share(kinds == rare, served & view.kind_known, rests=rests)
        for rests in (KINDS, RestsOn(frozenset({"kind"})))
    )
    assert as_kind.high < as_any.high
