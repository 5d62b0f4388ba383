"""How a gap of two counts, as it is read, stands beside the gap and the chance that were judged.

What is said of chance must be true of both: of an exact test of the two counts, and of the p that was
judged. Where the two differ, the words name what was allowed for, or say nothing of chance.
"""

from __future__ import annotations

from enum import IntEnum

from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade
from goodlength.findings.statistics.evidence_grades import CLEAR_Q, LEANING_Q, MATTERS
from goodlength.findings.statistics.exact_tests import fisher

EASY = 0.3  # p from which chance alone is said to give a gap easily
NOTEWORTHY = 0.1  # p below which it is the number of things checked that leaves a gap without a grade
NOTICED = 2.5  # times by which the chance judged is above that of the counts, before a reader doubts
CLEARLY = 0.25  # part of the larger gap by which the other must differ, and by `MATTERS`, to differ clearly
BY_KIND = (Question.WEAK, Question.WON, Question.KIND_WEAK, Question.KIND_WON)
_GRADED = (Grade.CLEAR, Grade.LEANING, Grade.NO_DIFFERENCE)
_DRIFT = "Allowing for the same serve coming several times in a row"
_BOX = "Within each service box"
_ALLOWED = {
    Question.DRIFT: _DRIFT,
    Question.KIND_DRIFT: _DRIFT,
    Question.CHANGE: "With kind and box the same",
    Question.SERVE_EDGE: "Because the winner of a rally serves the next one",
    **dict.fromkeys(BY_KIND, _BOX),
}


class HowOften(IntEnum):
    """How often chance alone gives a gap, as it is put into words."""

    SELDOM = 0
    PERHAPS = 1
    EASILY = 2


def how_often(p: float) -> HowOften:
    """Return the words' band of a p.

    Examples
    --------
    >>> [how_often(p).name for p in (0.04, 0.1, 0.31)]
    ['SELDOM', 'PERHAPS', 'EASILY']
    """
    return HowOften.EASILY if p >= EASY else HowOften.PERHAPS if p >= NOTEWORTHY else HowOften.SELDOM


def both_counted(result: QuestionResult) -> bool:
    """Return whether both sides have a count."""
    return result.second is not None and result.first.of > 0 and result.second.of > 0


def p_of_counts(result: QuestionResult) -> float:
    """Return how seldom chance gives the gap of the counts as read; for choosing words, not for a grade."""
    assert result.second is not None
    a, b = result.first, result.second
    return fisher(a.count, a.of, b.count, b.of).p


def allowance(result: QuestionResult) -> str:
    """Return what the judged p allows for beyond the two counts, to begin a sentence; "" where nothing."""
    if result.within_matches is not None and result.ask is not Question.SERVE_EDGE:
        return "Allowing for the differences between matches"
    if result.plain_p is not None and (result.p or 0.0) <= result.plain_p * (1 + 1e-9):
        return ""  # what is allowed for changed nothing
    return _ALLOWED.get(result.ask, "")


def counts_surer(result: QuestionResult) -> bool:
    """Return whether a reader of the two counts would be surer of a gap than what was judged."""
    if result.p is None or not both_counted(result):
        return False
    crude, judged = p_of_counts(result), max(how_often(p) for p in _judged(result))
    if how_often(crude) < judged:
        return True
    return judged is HowOften.SELDOM and crude * NOTICED <= result.p


def counts_less_sure(result: QuestionResult) -> bool:
    """Return whether the two counts look more like chance than what was judged."""
    if result.p is None or not both_counted(result):
        return False
    return how_often(p_of_counts(result)) > min(how_often(p) for p in _judged(result))


def judged_between(result: QuestionResult) -> bool:
    """Return whether the p that words may name and the p of the grade are put into words differently."""
    stated, judged = _judged(result)
    return how_often(stated) is not how_often(judged)


def _judged(result: QuestionResult) -> tuple[float, float]:
    """Return the p that words may name and the p of the grade."""
    assert result.p is not None
    return result.p, result.p if result.judged_p is None else result.judged_p


def counts_hide_gap(result: QuestionResult) -> bool:
    """Return whether all counts together hide, or turn, a graded gap that is there within each match."""
    if result.within_matches is None or result.grade not in _GRADED:
        return False
    if result.grade is Grade.NO_DIFFERENCE:
        return abs(result.gap_together) >= MATTERS
    return result.gap_together * result.gap <= 0 or abs(result.gap_together) < abs(result.gap) / 2


def counts_would_not_do(result: QuestionResult) -> bool:
    """Return whether the counts as read, adjusted as the judged p was, would not have the grade."""
    limit = {Grade.CLEAR: CLEAR_Q, Grade.LEANING: LEANING_Q}.get(result.grade)
    if limit is None or not result.p or result.q is None or not both_counted(result):
        return False
    crude = p_of_counts(result)
    return crude > NOTEWORTHY or (crude > NOTICED * result.p and crude * result.q / result.p > limit)


def totals_mislead(result: QuestionResult) -> bool:
    """Return whether the gap within matches has another sign than that of all counts, or clearly differs.

    A sign counts from half a percentage point on; `MATTERS` and a quarter of the larger gap is a clear
    difference. A graded gap that the counts hide is always said.
    """
    if result.within_matches is None or not both_counted(result):
        return False
    within, together = result.gap, result.gap_together
    turned = within * together < 0 and min(abs(within), abs(together)) >= 0.005
    clear = max(MATTERS, CLEARLY * max(abs(within), abs(together)))
    return turned or abs(within - together) >= clear or counts_hide_gap(result)


def compared_differs(result: QuestionResult) -> bool:
    """Return whether the gap judged must be said beside the counts, with the reason.

    Of matches by `totals_mislead`. Of boxes, for a graded gap, where the two differ by `MATTERS` or more, or
    where the counts by themselves would not be called anything.
    """
    if result.gap_compared is None or result.ask is Question.SERVE_EDGE or not both_counted(result):
        return False
    if result.within_matches is not None:
        return totals_mislead(result)
    if result.grade not in (Grade.CLEAR, Grade.LEANING):
        return False
    apart, crude = abs(result.gap_compared - result.gap_together), p_of_counts(result)
    surer = result.grade is Grade.LEANING and crude * NOTICED <= (result.p or 0.0)
    return apart >= MATTERS or (apart >= 0.01 and (surer or crude > NOTEWORTHY))
