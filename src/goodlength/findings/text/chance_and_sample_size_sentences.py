"""Sentences on chance, on the sample size that would settle a question, and on misleading pooled counts.

What has no grade gets no number for its chance: the counts are what a coach can use, and one plain sentence
says how far they reach. Where the counts by themselves look surer than what was judged, the sentence says
what was allowed for.
"""

from __future__ import annotations

from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade, Share
from goodlength.findings.statistics.evidence_grades import (
    CLEAR_Q,
    CLEAR_SIDE,
    LEANING_Q,
    LEANING_SIDE,
    MATTERS,
    SAME_SIGN,
)
from goodlength.findings.statistics.exact_tests import fisher
from goodlength.findings.text.sentence_grammar import (
    about_expected,
    about_many,
    capital,
    frequency_in_words,
    listing,
    number_in_words,
    plural,
)

EASY = 0.3  # p from which chance alone is said to give a gap easily
NOTEWORTHY = 0.1  # p below which it is the number of things checked that leaves a gap without a grade
VERY_UNLIKELY = 0.01  # adjusted p up to which a Clear gap is called very unlikely to be chance
LOOKS_SURE = 0.12  # p of the counts as read, up to which a reader takes the gap for one
NOTICED = 2.5  # times by which the chance judged is above that of the counts, before a reader doubts
FEW_MORE = 5  # serves or rallies below which no number is named
MANY_THINGS = 4  # things checked from which they are called so many
_COLUMNS = {
    "server": "who served",
    "box": "the box",
    "kind": "the kind of serve",
    "how_taken": "how the return was taken",
    "left": "the quality of the return",
    "winner": "who won",
    "ending": "how rallies ended",
}
_GRADED = (Grade.CLEAR, Grade.LEANING, Grade.NO_DIFFERENCE)
_BY_KIND = (Question.WEAK, Question.WON, Question.KIND_WEAK, Question.KIND_WON)
TOO_LITTLE = "There is too little to be sure."
MAY_BE_CHANCE = "It may well be chance."
_EQUAL = "So far the two are equal."
_NEVER_TOGETHER = (
    "No match has both, so the difference between matches may explain the gap. It cannot be judged."
)
_NEVER_ONE_BOX = (
    "No service box has both, so the difference between the boxes may explain the gap. It cannot be judged."
)
_ANOTHER_MATCH = "This was not a planned question, so look for it again in another match."


def doubted_words(result: QuestionResult) -> str:
    return listing([_COLUMNS[name] for name in sorted(result.doubted)])


def unwritten_words(result: QuestionResult) -> str:
    names = [_COLUMNS[name] for name in sorted(result.unwritten)]
    return f"{listing(names)} {plural(len(names), 'was', 'were')}"


def unlikely_words(result: QuestionResult) -> str:
    """Return how unlikely a Clear gap is to be chance, no surer than its adjusted p."""
    return "very unlikely" if result.q is not None and result.q <= VERY_UNLIKELY else "unlikely"


def luck_words(result: QuestionResult, scope: str, asked: int) -> str:
    """Return what luck has to do with it. A graded finding is judged against everything that was asked."""
    if result.grade is Grade.CLEAR:
        return f"A gap this big is {unlikely_words(result)} to be chance."
    if result.grade is Grade.NO_DIFFERENCE:
        return "Any difference is too small to matter."
    if result.doubted:
        return f"Two observers disagreed on {doubted_words(result)} too often, so this gets no grade."
    if result.unwritten:
        return f"{capital(unwritten_words(result))} logged too seldom, so this gets no grade."
    if result.runs_explain:
        return "A run of points would look the same, because the winner of a rally serves next."
    if result.p is None or result.q is None:
        return _too_few_words(result)
    if result.grade is Grade.LEANING:
        return _possible_words(result, scope, asked)
    if result.box_explains:
        return ""  # the counts by box have said it
    if result.apart or _shows_no_gap(result):
        return _words_without_chance(result)
    return _not_enough_words(result, asked)


def _possible_words(result: QuestionResult, scope: str, asked: int) -> str:
    """Return how seldom chance gives a Possible gap, everything checked beside it allowed for."""
    q = result.q or 0.0
    if not result.listed or q > LEANING_Q:  # twice the tail seen may be more than the p of the grade
        return "It may still be chance."
    if result.ask is Question.SERVE_EDGE and result.checked_p > max(q, CLEAR_Q):
        return f"Where points come in runs, a gap like this may come {frequency_in_words(result.checked_p)}."
    reason = _why_not_clear(result)
    but = f", but {reason}" if reason else ""
    return f"{_chance_named(result, scope, asked)} gives a gap like this {frequency_in_words(q)}{but}."


def _chance_named(result: QuestionResult, scope: str, asked: int) -> str:
    """Return "chance alone" with what its number allows for: the comparison judged, or all things checked."""
    comparable = result.within_matches is None and _both_counted(result) and result.ask in _ALLOWED
    if comparable and _p_of_counts(result) * NOTICED <= (result.p or 0.0):  # the counts look surer
        return f"{_ALLOWED[result.ask]} chance alone"
    if asked < 2:
        return "Chance alone"
    things = "so many" if asked >= MANY_THINGS else number_in_words(asked)
    of = "one match" if scope == "in this match" else scope.removeprefix("over ")
    return f"With {things} things checked in {of}, chance alone"


_ALLOWED = {
    Question.DRIFT: "Where one serve tends to follow another of its kind,",
    Question.WEAK: "Within each service box,",
    Question.WON: "Within each service box,",
    Question.CHANGE: "With kind and box the same,",
}


def _not_enough_words(result: QuestionResult, asked: int) -> str:
    """Return, of a gap that has no grade, how far it may be chance: no number, and no surer than its p."""
    assert result.p is not None and result.q is not None
    if counts_overstate(result):
        allowed = _allowing(result)
        if allowed:
            return allowed
    if result.listed and result.q <= LEANING_Q:
        return _why_no_grade(result)
    if result.p >= EASY or _counts_show_little(result):
        return "Chance alone easily gives a gap like this."
    if result.p >= NOTEWORTHY or asked <= 1:
        return MAY_BE_CHANCE
    if not result.listed and result.p * asked <= LEANING_Q:  # so many things do not explain it
        return _ANOTHER_MATCH
    return f"It is one of {number_in_words(asked)} things checked, so it may well be chance."


def _why_no_grade(result: QuestionResult) -> str:
    """Return why a gap that chance would seldom give has no grade all the same."""
    if result.smaller_side < LEANING_SIDE and result.within_matches is not None:
        return "Too few of them were in the same match to be sure."
    if result.checked_p > LEANING_Q and result.ask in _BY_KIND:
        return "Within each service box it may well be chance."
    return MAY_BE_CHANCE if (result.p or 0.0) >= NOTEWORTHY else TOO_LITTLE


def _allowing(result: QuestionResult) -> str:
    """Return what was allowed for, where the counts look surer; "" where another sentence has said it."""
    if result.within_matches is not None or result.ask is Question.SERVE_EDGE:
        return ""
    if result.ask in (Question.DRIFT, Question.KIND_DRIFT):
        return "Where one serve tends to follow another of its kind, such a gap may well be chance."
    if result.ask is Question.CHANGE:
        return "With kind and box the same, such a gap may well be chance."
    return "Within each service box it may well be chance." if result.ask in _BY_KIND else ""


def _words_without_chance(result: QuestionResult) -> str:
    """Return what is said where the counts show no gap, or where nothing could be compared inside a box."""
    if not _shows_no_gap(result):
        return _NEVER_ONE_BOX
    return _EQUAL if result.second else "That is about what chance alone would give."


def _too_few_words(result: QuestionResult) -> str:
    """Return what a question is worth that had too few rallies to be asked."""
    if result.first.of == 0 or nothing_to_compare(result):
        return ""
    if result.second is not None and _same_share(result.first, result.second):
        return _EQUAL
    n = result.first.of if not result.second else min(result.first.of, result.second.of) or result.first.of
    if result.ask in (Question.KIND_WEAK, Question.KIND_WON) and n < LEANING_SIDE:
        return f"{capital(number_in_words(n))} {plural(n, 'is', 'are')} too few to judge."
    if n < CLEAR_SIDE:
        return TOO_LITTLE
    return _NEVER_TOGETHER if never_together(result) else TOO_LITTLE


def nothing_to_compare(result: QuestionResult) -> bool:
    """Return whether only one kind was served, so that nothing is compared and no order can be read."""
    if result.ask is Question.REPEAT:
        return result.luck is not None and result.luck[0] == 1.0
    return result.ask in (Question.WEAK, Question.WON) and len(result.kinds) == 1


def never_together(result: QuestionResult) -> bool:
    """Return whether no match has both sides, so that nothing could be compared within a match."""
    pair = result.ask in (Question.WEAK, Question.WON) and result.second is not None and result.second.of > 0
    return pair and result.first.of > 0 and result.p is None and result.effect is None


def _same_share(first: Share, second: Share) -> bool:
    return first.of > 0 and first.count * second.of == second.count * first.of and second.of > 0


def _shows_no_gap(result: QuestionResult) -> bool:
    """Return whether the counts, as they are said, show no gap that chance would have to explain."""
    if result.p is None or result.p < NOTEWORTHY:
        return False
    if result.second is not None:
        return _same_share(result.first, result.second)
    expected = result.luck[0] * result.first.of if result.luck else 0.0
    if result.first.count == 0 and expected < 1:
        return True  # none, where fewer than one was expected
    return about_expected(expected) == f"about {result.first.count}"


def _why_not_clear(result: QuestionResult) -> str:
    """Return why a question of the list is not Clear though luck would seldom do it; "" where luck is
    the reason.
    """
    if not result.listed or result.q is None or result.q > CLEAR_Q:
        return ""
    if result.matches > 1 and result.same_sign_share < SAME_SIGN:
        return "too few of the matches show it"
    if result.smaller_side < CLEAR_SIDE:
        if result.second is None:
            return "it rests on few serves"
        if result.smaller_side < min(result.first.of, result.second.of):
            return "few of them were in the same match"
        return f"one of the two counts is out of only {number_in_words(result.smaller_side)}"
    return "it is less sure within each box" if result.checked_p > CLEAR_Q else ""


def settle_words(result: QuestionResult, more: int | None, scope: str) -> str:
    """Return what would settle it: a number only of what can be settled, and is not easily chance."""
    if result.grade in (Grade.CLEAR, Grade.NO_DIFFERENCE) or not result.first.of or result.unwritten:
        return ""
    if not result.listed:
        return _ANOTHER_MATCH if result.grade is Grade.LEANING else ""
    of_runs = result.ask is Question.SERVE_EDGE and result.gap > 0
    if scope.startswith("over"):
        return "More matches would show whether it lasts." if _is_possible(result) and not of_runs else ""
    if (
        more is None
        or result.doubted
        or not _may_be_settled(result)
        or (of_runs and not _is_possible(result))
    ):
        return ""
    if more < FEW_MORE:
        return ""
    unit = _UNITS.get(result.ask, ("serve", "serves"))
    each = "" if result.luck else " of each"
    more = about_many(more)
    many = f"{number_in_words(more)} more {plural(more, *unit)}{each}"
    return f"If the gap is as big as it looks, about {many} would probably settle it."


_UNITS = {
    Question.SERVE_EDGE: ("rally", "rallies"),
    Question.LONG: ("rally", "rallies"),
}


def _is_possible(result: QuestionResult) -> bool:
    return result.grade is Grade.LEANING


def _may_be_settled(result: QuestionResult) -> bool:
    """Return whether a number may be named: never of the course of a match, which is over."""
    if result.ask is Question.DRIFT or result.apart or result.box_explains or result.runs_explain:
        return False
    if result.p is None:
        return False
    little = result.p >= EASY or _counts_show_little(result)
    return _is_possible(result) or not (little or counts_overstate(result))


def counts_hide_gap(result: QuestionResult) -> bool:
    """Return whether all counts together hide, or turn, a graded gap that is there within each match."""
    if result.within_matches is None or result.grade not in _GRADED:
        return False
    if result.grade is Grade.NO_DIFFERENCE:
        return abs(result.gap_together) >= MATTERS
    return result.gap_together * result.gap <= 0 or abs(result.gap_together) < abs(result.gap) / 2


def match_by_match(result: QuestionResult, favoured: str = "") -> str:
    """Return why the gap judged is not that of the counts, and how big it is; "" where they agree.

    `favoured` names the side that does better in the gap judged, for counts that show none.
    """
    if result.ask is Question.SERVE_EDGE:
        return _winners_serve_more(result)
    gap = result.gap_compared
    if gap is None or not compared_differs(result):
        return ""
    return f"{_why_compared(result)} the average gap is {_gap_words(result, gap, favoured)}."


def _why_compared(result: QuestionResult) -> str:
    if result.within_matches is not None:
        return (
            "The totals of all matches mislead here, because the mix differed between matches. Within matches"
        )
    if result.ask is Question.CHANGE:
        return "Some serves were repeated more often than others. With kind and box the same,"
    return "The kinds came from the two boxes in different proportions. Within each service box"


def _gap_words(result: QuestionResult, gap: float, favoured: str) -> str:
    """Return the size of a gap, and which way it goes where the counts do not show that."""
    size = round(abs(100 * gap))
    if not size:
        return "less than a percentage point"
    way = ", the other way round" if gap * result.gap_together < 0 else ""
    if favoured and abs(result.gap_together) < 0.005:
        way = f", in favour of {favoured}"
    return f"about {size} percentage {plural(size, 'point', 'points')}{way}"


def compared_differs(result: QuestionResult) -> bool:
    """Return whether the gap judged must be said beside the counts, with the reason.

    Of a graded gap it must where the two differ by `MATTERS` or more, or where the counts by themselves
    would not be called anything. Without a grade only where counts of several matches look surer.
    """
    if result.gap_compared is None or result.ask is Question.SERVE_EDGE or not _both_counted(result):
        return False
    if result.grade is Grade.TOO_FEW:
        return result.within_matches is not None and counts_overstate(result)
    if counts_hide_gap(result):
        return True
    if result.grade is Grade.NO_DIFFERENCE:
        return False
    apart, crude = abs(result.gap_compared - result.gap_together), _p_of_counts(result)
    surer = _is_possible(result) and crude * NOTICED <= (result.p or 0.0)
    return apart >= MATTERS or (apart >= 0.01 and (surer or crude > NOTEWORTHY))


def counts_overstate(result: QuestionResult) -> bool:
    """Return whether a reader of the two counts would be much surer of a gap than what was judged."""
    if result.p is None or result.grade is not Grade.TOO_FEW or not _both_counted(result):
        return False
    crude = _p_of_counts(result)
    turned = result.within_matches is not None and result.gap * result.gap_together < 0
    return crude <= LOOKS_SURE and (crude * NOTICED <= result.p or turned)


def _counts_show_little(result: QuestionResult) -> bool:
    """Return whether chance easily gives the gap of the counts, whatever was seen within boxes or matches."""
    return _both_counted(result) and _p_of_counts(result) >= EASY


def _both_counted(result: QuestionResult) -> bool:
    return result.second is not None and result.first.of > 0 and result.second.of > 0


def _p_of_counts(result: QuestionResult) -> float:
    """Return how seldom luck gives the gap of the counts as read; for choosing words, not for a grade."""
    assert result.second is not None
    a, b = result.first, result.second
    return fisher(a.count, a.of, b.count, b.of).stated_p


def _winners_serve_more(result: QuestionResult) -> str:
    """Return what luck makes of serving and receiving, where the two counts look surer than they are."""
    if result.server_won is None or result.p is None or not _both_counted(result) or result.runs_explain:
        return ""
    graded = result.grade in (Grade.CLEAR, Grade.LEANING)
    unseen = graded and _p_of_counts(result) > NOTEWORTHY
    if not (counts_overstate(result) or counts_hide_gap(result) or unseen):
        return ""
    won, by_luck, of = result.server_won
    return (
        "In a game, the player who wins more rallies also serves more often. In all, the server won "
        f"{won} of {of} rallies; the same scores in another order would give about {round(by_luck)}."
    )
