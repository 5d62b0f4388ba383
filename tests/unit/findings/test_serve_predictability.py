"""Guessing the next serve of a recorded match."""

from __future__ import annotations

import pytest

from goodlength.findings import find
from goodlength.findings.analyses.serve_predictability import guess_serves
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Grade


def serves(order, **more):
    kinds = {"L": "lob", "H": "hard"}
    return [
        {"server": "a", "kind": kinds.get(k), "winner": "a", "box": ("right", "left")[i % 2], **more}
        for i, k in enumerate(order)
    ]


def test_a_habit_is_read_and_said_only_with_a_grade(make, names):
    view = RallyMasks(make(serves("LH" * 15)))
    claimed = guess_serves(view, 0, names, {}, Grade.CLEAR)
    careful = guess_serves(view, 0, names, {})
    assert claimed is not None
    assert careful is not None
    assert claimed.seen.hits > claimed.luck_high
    assert "Petra could have read the pattern" in claimed.words
    assert "too few serves to call it a habit" in careful.words
    assert claimed.factor > 100


def test_the_same_serves_give_the_same_answer(tale, names):
    assert guess_serves(RallyMasks(tale), 0, names, {}) == guess_serves(RallyMasks(tale), 0, names, {})


def test_one_kind_leaves_nothing_to_guess(make, names):
    item = guess_serves(RallyMasks(make(serves("LLLL"))), 0, names, {})
    assert item is not None
    assert item.words == "Petra had nothing to guess: every serve with a kind logged was of one kind (lob)."
    assert item.factor == pytest.approx(1.0)


@pytest.mark.parametrize("order", ["", "L"])
def test_too_little_gives_none(make, names, order):
    assert guess_serves(RallyMasks(make(serves(order))), 0, names, {}) is None


def test_situations_hold_what_was_served_there(tale, names):
    states = find(tale, "a", names).tables.guess.states
    by_words = {state.words: state for state in states}
    both = by_words["From the right box"].serves + by_words["From the left box"].serves
    assert both == 37
    for state in states:
        assert state.share.of == state.serves
        if state.serves:
            assert state.low <= state.effective <= state.high
        else:
            assert state.commonest is None


def test_a_missing_kind_is_passed_over(make, names):
    found = guess_serves(RallyMasks(make(serves("LHxLH"))), 0, names, {})
    assert found is not None
    assert found.seen.of == 4
