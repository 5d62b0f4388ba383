"""Sentences on chance, on the sample size that would settle a question, and on misleading pooled counts.

What has no grade gets no number for its chance: the counts are what a coach can use, and one plain sentence
says how far they reach. Where the counts by themselves look surer than what was judged, the sentence says
what was allowed for.
"""

from __future__ import annotations

from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade, Share
from goodlength.findings.statistics.evidence_grades import (
    CLEAR_DIRECTION,
    CLEAR_Q,
    CLEAR_SIDE,
    LEANING_Q,
    LEANING_SIDE,
    SAME_SIGN,
)
from goodlength.findings.text.pooled_counts_against_stratified_result import (
    BY_KIND,
    EASY,
    NOTEWORTHY,
    NOTICED,
    HowOften,
    allowance,
    both_counted,
    compared_differs,
    counts_hide_gap,
    counts_less_sure,
    counts_surer,
    counts_would_not_do,
    how_often,
    judged_between,
    p_of_counts,
)
from goodlength.findings.text.sentence_grammar import (
    about_expected,
    about_many,
    capital,
    frequency_in_words,
    listing,
    number_in_words,
    plural,
)

VERY_UNLIKELY = 0.01  # adjusted p up to which a Clear gap is called very unlikely to be chance
FEW_MORE = 5  # serves or rallies below which no number is named
SMALL_GAP = 0.1  # share under which a gap is called small
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
_COMPARED = tuple(ask for ask in Question if ask is not Question.SERVE_EDGE)  # its reason is said by itself
TOO_LITTLE = "There is too little to be sure."
_EASILY = "Chance alone easily gives a gap like this."
MAY_BE_CHANCE = "It may well be chance."
_BETWEEN = "Allowing for the differences between matches"
EQUAL = "So far the two are equal."
_NEVER_TOGETHER = (
    "No match has both logged, so the difference between matches may explain the gap. It cannot be judged."
)
_NEVER_ONE_BOX = (
    "No service box has both logged, so the difference between the boxes may explain the gap. "
    "It cannot be judged."
)
_AGAIN = "look for it again in another match."
_UNPLANNED = f"This was not a planned question, so {_AGAIN}"


def doubted_words(result: QuestionResult) -> str:
    return listing([_COLUMNS[name] for name in sorted(result.doubted)])


def unwritten_words(result: QuestionResult) -> str:
    names = [_COLUMNS[name] for name in sorted(result.unwritten)]
    return f"{listing(names)} {plural(len(names), 'was', 'were')}"


def unlikely_words(result: QuestionResult) -> str:
    """Return how unlikely a Clear gap is to be chance, no surer than its adjusted p or the counts as read."""
    if result.q is None or result.q > VERY_UNLIKELY:
        return "unlikely"
    read = p_of_counts(result) if both_counted(result) and not compared_differs(result) else 0.0
    return "very unlikely" if read <= VERY_UNLIKELY else "unlikely"


def luck_words(result: QuestionResult, scope: str, asked: int) -> str:
    """Return what luck has to do with it. A graded finding is judged against everything that was asked."""
    if result.grade is Grade.CLEAR:
        unseen = result.ask in _COMPARED and counts_would_not_do(result)
        allowed = allowance(result) if unseen and not compared_differs(result) else ""
        return _after_allowance(allowed, f"A gap this big is {unlikely_words(result)} to be chance.")
    if result.grade is Grade.NO_DIFFERENCE:
        return "Any difference is too small to matter."
    if result.doubted:
        return f"Two observers disagreed on {doubted_words(result)} too often to judge this."
    if result.unwritten:
        return f"{capital(unwritten_words(result))} logged too seldom to judge this."
    if result.runs_explain:
        chance = "Chance alone may give a gap like this too. " if chance_alone_may(result) else ""
        return f"{chance}A run of points would look the same, because the winner of a rally serves next."
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
    if not result.listed:
        return ""  # the reason follows: it was not planned
    chance = _chance_in_words(result)
    if chance > LEANING_Q:
        return f"{_chance_named(result, scope, asked)} may still give a gap like this."
    if result.ask is Question.SERVE_EDGE and result.gap > 0 and result.checked_p > max(q, CLEAR_Q):
        return f"With winning streaks, a gap like this may come up {frequency_in_words(result.checked_p)}."
    reason = why_not_clear(result)
    but = f", but {reason}" if reason else ""
    return f"{_chance_named(result, scope, asked)} gives a gap like this {frequency_in_words(chance)}{but}."


def _chance_in_words(result: QuestionResult) -> float:
    """Return the chance that the words of a Possible gap may name: no surer than the counts as read.

    It is q, or the exact p of the two counts raised in the same proportion where that is larger and the words
    do not say why the gap judged is another.
    """
    q = result.q or 0.0
    if not result.p or not both_counted(result) or compared_differs(result):
        return q
    return max(q, min(1.0, p_of_counts(result) * q / result.p))


def _chance_named(result: QuestionResult, scope: str, asked: int) -> str:
    """Return "chance alone" with what its number allows for: all things checked, and what the counts hide."""
    hidden = both_counted(result) and p_of_counts(result) * NOTICED <= (result.p or 0.0)
    allowed = allowance(result) if hidden and not compared_differs(result) else ""
    if asked < 2:
        return _after_allowance(allowed, "Chance alone")
    things = "so many" if asked >= MANY_THINGS else number_in_words(asked)
    of = "one match" if scope == "in this match" else scope.removeprefix("over ")
    both = f"{allowed}, and with" if allowed else "With"
    return f"{both} {things} things checked in {of}, chance alone"


def _after_allowance(allowed: str, words: str) -> str:
    return f"{allowed}, {words[0].lower()}{words[1:]}" if allowed else words


def _not_enough_words(result: QuestionResult, asked: int) -> str:
    """Return, of a gap that has no grade, how far it may be chance: no number, and no surer than its p.

    What is said holds for the judged p and for the counts as read; where it does not hold for both, what was
    allowed for is named, and where nothing was, chance is not spoken of.
    """
    assert result.p is not None and result.q is not None
    if result.listed and result.q <= LEANING_Q:
        return _why_no_grade(result)
    surer, less = counts_surer(result), counts_less_sure(result)
    between = judged_between(result)
    if not between and result.ask is Question.SERVE_EDGE and _winners_serve_more(result):
        words = _chance_words(result, asked)  # the reason was said
        return "So serving by itself shows no clear effect." if words == _EASILY else words
    if not between and compared_differs(result):
        return _words_of_gap_compared(result, asked)
    allowed = allowance(result)
    if between or less or (surer and not allowed):
        if not allowed or result.ask is Question.SERVE_EDGE:
            return TOO_LITTLE
        return f"{allowed}, there is too little to be sure."
    words = _chance_words(result, asked)
    if surer and words.startswith("It is one of"):
        return f"{allowed}, and as {words.removeprefix('It is ').replace(', so it', ', it')}"
    if surer and allowed and words.startswith("This was not a planned"):
        return f"{allowed}, it may still be chance: this was not a planned question, so {_AGAIN}"
    return _after_allowance(allowed if surer else "", words)


def _words_of_gap_compared(result: QuestionResult, asked: int) -> str:
    """Return what chance has to do with a gap within matches that is not that of the totals said."""
    words = _chance_words(result, asked)
    if words == _EASILY:
        either = how_often(p_of_counts(result)) is HowOften.EASILY
        return f"Chance alone easily gives {'either gap' if either else 'the gap within matches'}."
    if not counts_surer(result):
        return words
    if words.startswith("It is one of"):
        return f"{_BETWEEN}, and as {words.removeprefix('It is ').replace(', so it', ', it')}"
    return _after_allowance(_BETWEEN, words)


def _chance_words(result: QuestionResult, asked: int) -> str:
    """Return what the judged p is worth in words."""
    p = result.p or 0.0
    often = how_often(p)
    if often is not HowOften.SELDOM:
        return _EASILY if often is HowOften.EASILY else MAY_BE_CHANCE
    lowest = p if result.judged_p is None else min(p, result.judged_p)
    if lowest * asked > LEANING_Q:
        return f"It is one of {number_in_words(asked)} things checked, so it may well be chance."
    if result.listed:
        return TOO_LITTLE
    many = "and many were looked at, " if asked >= MANY_THINGS else ""
    return f"This was not a planned question, {many}so it may still be chance: {_AGAIN}"


def _why_no_grade(result: QuestionResult) -> str:
    """Return why a gap that chance would seldom give has no grade all the same."""
    if result.smaller_side < LEANING_SIDE and result.within_matches is not None:
        return "Too few of them were in the same match to be sure."
    if result.checked_p > LEANING_Q and result.ask in BY_KIND:
        return "Within each service box it may well be chance."
    if result.second is None:
        more = "more" if result.gap >= 0 else "less"
        return f"That is only a little {more} often than by chance, which is too little to be sure."
    return TOO_LITTLE


def _words_without_chance(result: QuestionResult) -> str:
    """Return what is said where the counts show no gap, or where nothing could be compared inside a box."""
    if not _shows_no_gap(result):
        return _NEVER_ONE_BOX
    return EQUAL if result.second else "Nothing shows a habit here."


def _too_few_words(result: QuestionResult) -> str:
    """Return what a question is worth that had too few rallies to be asked."""
    if nothing_to_compare(result):
        if result.ask is Question.REPEAT:  # one kind in all, or in each game
            return "There is no order to read."
        return "No other kind of serve is logged, so there is nothing to compare."
    if result.second is not None and not (result.first.of and result.second.of):
        return "" if result.ask is Question.CHANGE else "There is nothing to compare."
    if not result.first.of:
        return ""
    if result.second is not None and _same_share(result.first, result.second) and result.smaller_side > 1:
        return EQUAL
    n = result.first.of if not result.second else min(result.first.of, result.second.of) or result.first.of
    if result.ask in (Question.KIND_WEAK, Question.KIND_WON) and n < LEANING_SIDE:
        return f"{capital(number_in_words(n))} {plural(n, 'is', 'are')} too few to judge."
    if n < CLEAR_SIDE:
        return TOO_LITTLE
    return _NEVER_TOGETHER if never_together(result) else TOO_LITTLE


def chance_alone_may(result: QuestionResult) -> bool:
    """Return whether chance alone may give a gap of serving too, beside a run of points."""
    return both_counted(result) and p_of_counts(result) > NOTEWORTHY


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


def why_not_clear(result: QuestionResult) -> str:
    """Return why a question of the list is not Clear though luck would seldom do it; "" where luck is
    the reason.
    """
    if not result.listed or result.q is None or _chance_in_words(result) > CLEAR_Q:
        return ""
    if result.matches > 1 and result.same_sign_share < SAME_SIGN:
        return "too few of the matches show it"
    if result.smaller_side < CLEAR_SIDE:
        if result.second is None:
            return "it rests on few serves"
        if result.smaller_side < min(result.first.of, result.second.of):
            return "few of them come from matches that have both"
        return f"one of the two counts is out of only {number_in_words(result.smaller_side)}"
    if result.checked_p > CLEAR_Q:
        return "it is less sure within each box"
    if result.direction >= CLEAR_DIRECTION:
        return ""
    return "the gap is small" if abs(result.gap) < SMALL_GAP else "there is too little to be sure"


def settle_words(result: QuestionResult, more: int | None, scope: str) -> str:
    """Return what would settle it: a number only of what can be settled, and is not easily chance."""
    if result.grade in (Grade.CLEAR, Grade.NO_DIFFERENCE) or not result.first.of or result.unwritten:
        return ""
    if not result.listed:
        return _UNPLANNED if result.grade is Grade.LEANING else ""
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
    if of_runs:  # the number must tell it from streaks too, not from chance alone
        return f"As winning streaks give such a gap too, it would take about {many} to settle it."
    begin = "If the gap is nearly as big as it looks"
    return f"{begin}, about {many} would probably settle it, and more if it is smaller."


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
    unsure = result.p >= EASY or counts_surer(result) or counts_less_sure(result)
    return _is_possible(result) or not unsure


def match_by_match(result: QuestionResult, favoured: str = "") -> str:
    """Return why the gap judged is not that of the counts, and how big it is; "" where they agree.

    `favoured` names the side that does better in the gap judged, for counts that show none.
    """
    if result.ask is Question.SERVE_EDGE:
        return _winners_serve_more(result)
    gap = result.gap_compared
    if gap is None or not compared_differs(result):
        return ""
    return f"{_why_compared(result, gap)} the average gap is {_gap_words(result, gap, favoured)}."


def _why_compared(result: QuestionResult, gap: float) -> str:
    if result.within_matches is not None:
        together = result.gap_together
        do = (
            "mislead here"
            if gap * together <= 0
            else f"{'over' if abs(together) > abs(gap) else 'under'}state the gap"
        )
        return f"The totals of all matches {do}, because the mix differed between matches. Within matches"
    if result.ask is Question.CHANGE:
        return "Some serves were repeated more often than others. With kind and box the same,"
    return "The kinds came from the two boxes in different proportions. Within each service box"


def _gap_words(result: QuestionResult, gap: float, favoured: str) -> str:
    """Return the size of a gap, and which way it goes where the counts do not show that."""
    size = round(abs(100 * gap))
    if not size:
        return "less than a percentage point"
    turned = gap * result.gap_together < 0
    way = f", in favour of {favoured}" if favoured else ", the other way round" if turned else ""
    return f"about {size} percentage {plural(size, 'point', 'points')}{way}"


def _winners_serve_more(result: QuestionResult) -> str:
    """Return what luck makes of serving and receiving, where the two counts look surer than they are."""
    if result.server_won is None or result.p is None or not both_counted(result) or result.runs_explain:
        return ""
    unseen = counts_would_not_do(result)
    overstate = result.grade is Grade.TOO_FEW and counts_surer(result)
    if not (overstate or counts_hide_gap(result) or unseen):
        return ""
    won, by_luck, of = result.server_won
    return (
        "In a game, the player who wins more rallies also serves more often. In all, the server won "
        f"{won} of {of} rallies; the same scores in another order would give about {round(by_luck)}."
    )
