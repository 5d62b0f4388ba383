"""Grades: each threshold from both sides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.result_types import Grade
from goodlength.findings.statistics.evidence_grades import (
    GradeEvidence,
    grade,
    holm,
    joint,
    more_needed,
    tries_each,
)

CLEAR = GradeEvidence(
    q=0.05, smaller_side=10, direction=0.975, listed=True, within=(0.1, 0.5), checked_p=0.05
)
LEANING = GradeEvidence(
    q=0.20, smaller_side=5, direction=0.90, listed=True, within=(-0.1, 0.5), checked_p=0.2
)


def test_just_clear():
    assert grade(CLEAR) is Grade.CLEAR


@pytest.mark.parametrize(
    "change",
    [{"q": 0.0501}, {"smaller_side": 9}, {"direction": 0.974}, {"listed": False}, {"checked_p": 0.06}],
)
def test_one_step_short_of_clear_is_leaning(change):
    assert grade(replace(CLEAR, **change)) is Grade.LEANING


@pytest.mark.parametrize(
    "change",
    [{"q": 0.2001}, {"q": None}, {"smaller_side": 4}, {"direction": 0.899}, {"checked_p": 0.21}],
)
def test_one_step_short_of_leaning_is_too_few(change):
    assert grade(LEANING) is Grade.LEANING
    assert grade(replace(LEANING, **change)) is Grade.TOO_FEW


def test_a_narrow_range_about_zero_is_no_difference():
    assert grade(replace(CLEAR, within=(-0.049, 0.049))) is Grade.NO_DIFFERENCE
    assert grade(replace(CLEAR, within=(-0.051, 0.049))) is Grade.CLEAR


def test_over_several_matches_three_quarters_must_agree():
    several = replace(CLEAR, matches=4, same_sign_share=0.75)
    assert grade(several) is Grade.CLEAR
    assert grade(replace(several, same_sign_share=0.5)) is Grade.LEANING


def test_a_variable_that_failed_its_check_has_no_grade():
    assert grade(replace(CLEAR, reliable=False)) is Grade.TOO_FEW


def test_outside_the_list_costs_more():
    q = joint([0.01, 0.01], [True, False])
    assert q.tolist() == pytest.approx([0.011, 0.11])
    assert joint([], []).tolist() == []


def test_holm_refuses_what_is_no_chance():
    with pytest.raises(OutOfRange, match="between 0 and 1"):
        holm([0.1, np.nan])


def test_more_needed():
    assert tries_each(0.5, 0.5) == np.inf
    assert more_needed(5, 10, 5, 10, asked=1) is None
    assert more_needed(30, 40, 10, 40, asked=10) == 1
    assert more_needed(8, 12, 4, 12, asked=10) > more_needed(10, 12, 2, 12, asked=10)
