"""Sentences on chance, on the sample size that would settle a question, and on misleading pooled counts."""

from __future__ import annotations

from scipy.special import ndtr
from scipy.stats import hypergeom

from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade, Share
from goodlength.findings.statistics.evidence_grades import (
    CLEAR_Q,
    CLEAR_SIDE,
    LEANING_Q,
    MATTERS,
    SAME_SIGN,
)
from goodlength.findings.text.effect_shrinkage import pooled_error
from goodlength.findings.text.sentence_grammar import (
    about_expected,
    about_many,
    capital,
    frequency_in_words,
    listing,
    number_in_words,
    plural,
)

NOTEWORTHY = 0.1  # p of one question by itself up to which a gap is worth another look
LOOKS_LIKELY = 0.45  # p up to which "about 2 times in 5" is said
LOOKS_USUAL = 0.6  # p from which "more often than not" is said
NOTICED = 1.5  # times by which the chance said and that of the counts as read differ, before a reader doubts
APART = 0.03  # of the gap within matches and the gap of all counts
LOOKS_SURE = 0.15  # p of all counts together up to which a reader takes the gap for one
_COLUMNS = {
    "server": "who served",
    "box": "the box",
    "kind": "the kind of serve",
    "how_taken": "how the return was taken",
    "left": "the quality of the return",
    "winner": "who won",
    "ending": "how rallies ended",
}


def doubted_words(result: QuestionResult) -> str:
    return listing([_COLUMNS[name] for name in sorted(result.doubted)])


def unwritten_words(result: QuestionResult) -> str:
    names = [_COLUMNS[name] for name in sorted(result.unwritten)]
    return f"{listing(names)} {plural(len(names), 'was', 'were')}"


def luck_words(result: QuestionResult, scope: str, asked: int) -> str:
    """Return what luck has to do with it. A graded finding is judged against everything that was asked."""
    if result.grade is Grade.CLEAR:
        return "A gap this big is very unlikely to be chance."
    if result.grade is Grade.NO_DIFFERENCE:
        return "Any difference is too small to matter."
    if result.doubted:
        return f"Two observers disagreed on {doubted_words(result)} too often, so this gets no grade."
    if result.unwritten:
        return f"{capital(unwritten_words(result))} logged too seldom, so this gets no grade."
    if result.runs_explain:
        return (
            f"Chance alone gives a gap like this {frequency_in_words(result.p or 1.0)}. Where points come in "
            "runs, such a gap is common, because the winner of a rally serves next."
        )
    if result.p is None or result.q is None:
        return _too_few_words(result)
    if result.grade is Grade.LEANING:
        of = "one match" if scope == "in this match" else scope.removeprefix("over ")
        if result.ask is Question.SERVE_EDGE and result.checked_p > result.q:
            return (
                f"Where points come in runs, a gap like this may come {frequency_in_words(result.checked_p)}."
            )
        reason = _why_not_clear(result)
        if reason:
            return f"Chance alone gives a gap like this {frequency_in_words(result.q)}, but {reason}."
        often = frequency_in_words(result.q)
        return f"With so many things checked in {of}, chance alone gives a gap like this {often}."
    if result.apart or _shows_no_gap(result):
        return _words_without_chance(result)
    said = f"{_given(result)} gives {_gap_meant(result)} {frequency_in_words(result.p)}"
    if result.p >= NOTEWORTHY or asked <= 1:
        return f"{said}."
    checked = f"we checked {number_in_words(asked)} things"
    if not result.listed and result.p * asked <= LEANING_Q:  # so many things by themselves do not explain it
        return f"{said}, but {checked}, and this was not a planned question."
    return f"{said}, but {checked}."


def _words_without_chance(result: QuestionResult) -> str:
    """Return what is said where the counts show no gap, or where nothing could be compared inside a box."""
    if not _shows_no_gap(result):
        return _NEVER_ONE_BOX
    return _EQUAL if result.second else "That is about what chance alone would give."


def _too_few_words(result: QuestionResult) -> str:
    """Return what a question is worth that had too few rallies to be asked."""
    if result.first.of == 0 or nothing_to_compare(result):
        return ""
    n = result.first.of if not result.second else min(result.first.of, result.second.of) or result.first.of
    if result.ask in (Question.KIND_WEAK, Question.KIND_WON) and n < 10:
        return f"With only {number_in_words(n)}, it could be anything from poor to excellent."
    order = (
        result.luck is not None and result.luck[1] < result.luck[2]
    )  # another order could have been served
    if n < 10 or order:
        return "There is too little to be sure."
    if never_together(result):
        return _NEVER_TOGETHER
    return _EQUAL if result.second is not None and _same_share(result.first, result.second) else ""


def nothing_to_compare(result: QuestionResult) -> bool:
    """Return whether only one kind was served, so that nothing is compared and no order can be read."""
    if result.ask is Question.REPEAT:
        return result.luck is not None and result.luck[0] == 1.0
    return result.ask in (Question.WEAK, Question.WON) and len(result.kinds) == 1


def never_together(result: QuestionResult) -> bool:
    """Return whether no match has both sides, so that nothing could be compared within a match."""
    pair = result.ask in (Question.WEAK, Question.WON) and result.second is not None and result.second.of > 0
    return pair and result.first.of > 0 and result.p is None and result.effect is None


def seldom_so_many(first: Share, second: Share) -> float:
    """Return how seldom luck gives `first` so many of what both have together, for counts too few for a p.

    Source
    ------
    Fisher's exact test, one-sided: the upper tail of the hypergeometric distribution.

    Examples
    --------
    >>> some = Share(14, 18, 0, 1)
    >>> round(seldom_so_many(Share(2, 2, 0, 1), some), 2)
    0.63
    >>> round(seldom_so_many(Share(4, 4, 0, 1), Share(2, 7, 0, 1)), 3)
    0.045
    """
    both, hits = first.of + second.of, first.count + second.count
    return float(hypergeom.sf(first.count - 1, both, hits, first.of))


_NEVER_TOGETHER = (
    "No match has both, so the difference between matches may explain the gap. It cannot be judged."
)
_NEVER_ONE_BOX = (
    "No service box has both, so the difference between the boxes may explain the gap. It cannot be judged."
)
_EQUAL = "So far the two are equal."
_ALLOWING = {
    Question.DRIFT: "Where serves of a kind follow each other, chance alone",
    Question.REPEAT: "Within each service box, chance alone",
    Question.WEAK: "Within each service box, chance alone",
    Question.WON: "Within each service box, chance alone",
}
_ALLOWING |= {
    Question.KIND_DRIFT: _ALLOWING[Question.DRIFT],
    Question.AFTER: _ALLOWING[Question.REPEAT],
    Question.KIND_WEAK: _ALLOWING[Question.WEAK],
    Question.KIND_WON: _ALLOWING[Question.WON],
}


def _given(result: QuestionResult) -> str:
    """Return "Chance alone", with what is allowed for where the counts by themselves look surer."""
    if result.plain_p is not None and result.p is not None and 1.5 * result.plain_p <= result.p:
        return _ALLOWING.get(result.ask, "Chance alone")
    return "Chance alone"


def _gap_meant(result: QuestionResult) -> str:
    """Return which gap the chance is of: the counts' where that within boxes was just said and is surer."""
    by_kind = result.ask in (Question.WEAK, Question.WON, Question.KIND_WEAK, Question.KIND_WON)
    counts_decide = result.p is not None and result.plain_p is not None and result.p <= result.plain_p
    if by_kind and result.within_matches is None and compared_differs(result) and counts_decide:
        return "a gap like that of the counts"
    return "a gap like this"


def _same_share(first: Share, second: Share) -> bool:
    return first.of > 0 and first.count * second.of == second.count * first.of and second.of > 0


def _shows_no_gap(result: QuestionResult) -> bool:
    """Return whether the counts, as they are said, show no gap that chance would have to explain."""
    if (
        compared_differs(result)
        or result.p is None
        or result.p < NOTEWORTHY
        or result.within_matches is not None
    ):
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
        return (
            f"only about {number_in_words(round(10 * result.same_sign_share))} in ten of the matches show it"
        )
    if result.smaller_side < CLEAR_SIDE:
        if result.second is None:
            return "it rests on few serves"
        return f"one of the two counts is out of only {number_in_words(result.smaller_side)}"
    return "it is less sure within each box" if result.checked_p > CLEAR_Q else ""


def settle_words(result: QuestionResult, more: int | None, scope: str) -> str:
    """Return what would settle it."""
    if result.grade in (Grade.CLEAR, Grade.NO_DIFFERENCE) or result.first.of == 0 or result.unwritten:
        return ""
    if result.grade is Grade.LEANING and not result.listed:
        return "This was not a planned question, so look for it again in another match."
    if result.first.of < 10 and result.ask in (Question.KIND_WEAK, Question.KIND_WON) and not result.doubted:
        return "Ten more would help, but not settle it."
    if (
        result.p is None
        or result.doubted
        or not result.listed
        or result.runs_explain
        or result.box_explains
        or result.apart
    ):
        return ""
    if scope.startswith("over") and "match" in scope:
        if (
            result.ask is Question.SERVE_EDGE
            and result.gap > 0
            and more is None
            and result.grade is Grade.TOO_FEW
        ):
            return "More matches would not settle it: a run of points looks the same."
        if result.grade is Grade.TOO_FEW and (result.p >= LOOKS_USUAL or _shows_no_gap(result)):
            return ""  # nothing was seen that could last
        return "More matches would show whether it lasts."
    if compared_differs(result) and result.grade is Grade.TOO_FEW:
        return ""  # how many more is worked out from the counts, not from the gap that was just said
    if more is None:
        if result.ask is Question.SERVE_EDGE and result.gap > 0:
            return "More rallies would not settle it: a run of points looks the same."
        return "It would take several hundred more to be sure."
    unit = _UNITS.get(result.ask, ("serve", "serves"))
    each = "" if result.luck else f" {_EACH.get(result.ask, 'of each')}"
    more = about_many(more)
    many = f"{number_in_words(more)} more {plural(more, *unit)}{each}"
    return f"If the gap is as big as it looks, about {many} would probably settle it."


_UNITS = {
    Question.SERVE_EDGE: ("rally", "rallies"),
    Question.LONG: ("rally", "rallies"),
}
_EACH = {
    Question.DRIFT: "in each part",
}


def counts_hide_gap(result: QuestionResult) -> bool:
    """Return whether all counts together hide, or turn, a graded gap that is there within each match."""
    if result.within_matches is None or result.grade not in (Grade.CLEAR, Grade.LEANING, Grade.NO_DIFFERENCE):
        return False
    if result.grade is Grade.NO_DIFFERENCE:
        return abs(result.gap_together) >= MATTERS
    return result.gap_together * result.gap <= 0 or abs(result.gap_together) < abs(result.gap) / 2


def match_by_match(result: QuestionResult, favoured: str = "") -> str:
    """Return what the counts together hide: the gap that is judged, or that winners serve more.

    `favoured` names the side that does better in the gap judged, for counts that show none.
    """
    if result.ask is Question.SERVE_EDGE:
        return _winners_serve_more(result)
    hidden = counts_hide_gap(result) or _counts_overstate_gap(result)
    gap = result.gap_compared
    if gap is None or not (hidden or compared_differs(result)):
        return ""
    mislead = "The totals of all matches mislead here, because the mix differed between matches. "
    said = f"{_within_what(result)} the average gap is {_gap_words(result, gap, favoured)}."
    return f"{mislead}{said}" if hidden else said


def _within_what(result: QuestionResult) -> str:
    if result.within_matches is not None:
        return "Within matches"
    return "With kind and box the same," if result.ask is Question.CHANGE else "Within each service box"


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
    """Return whether the gap judged must be said beside the counts.

    It must where the two differ by `MATTERS` or more, and where the chance said is `NOTICED` times that of
    the counts as read, or a part of it, in other words.
    """
    if (
        result.gap_compared is None
        or result.p is None
        or result.second is None
        or not result.second.of
        or not result.first.of
    ):
        return False
    apart = abs(result.gap_compared - result.gap_together)
    if apart >= MATTERS:
        return True
    return (
        apart >= 0.01
        and result.grade is Grade.TOO_FEW
        and (_surer_than_chance(result) or _less_sure_than_chance(result))
    )


def _surer_than_chance(result: QuestionResult) -> bool:
    """Return whether the counts look surer than the chance said."""
    if result.p is None or result.second is None or not result.second.of or not result.first.of:
        return False
    crude = _crude_p(result.first, result.second)
    return NOTICED * crude <= result.p and frequency_in_words(crude) != frequency_in_words(result.p)


def _less_sure_than_chance(result: QuestionResult) -> bool:
    """Return whether the counts look less sure than the chance said."""
    if result.p is None or result.second is None or not result.second.of or not result.first.of:
        return False
    crude = _crude_p(result.first, result.second)
    return NOTICED * result.p <= crude and frequency_in_words(crude) != frequency_in_words(result.p)


def _crude_p(first: Share, second: Share) -> float:
    """About how seldom luck gives the gap of the counts together; for choosing words, not for a grade."""
    gap = first.count / first.of - second.count / second.of
    return float(2 * ndtr(-abs(gap) / pooled_error(first.count, first.of, second.count, second.of)))


def _winners_serve_more(result: QuestionResult) -> str:
    """Return what luck makes of serving and receiving, where the two counts look surer than they are."""
    if result.server_won is None or result.second is None or result.p is None:
        return ""
    denied = _surer_than_chance(result) or _less_sure_than_chance(result)
    if not (result.grade is Grade.TOO_FEW and denied) and not counts_hide_gap(result):
        return ""
    won, by_luck, of = result.server_won
    return (
        "In a game, the player who wins more rallies also serves more often. In all, the server won "
        f"{won} of {of} rallies; the same scores in another order would give about {round(by_luck)}."
    )


def _counts_overstate_gap(result: QuestionResult) -> bool:
    """Return whether an ungraded gap over matches looks much surer, or wider, in the counts of all
    together.
    """
    if (
        result.within_matches is None
        or result.second is None
        or result.p is None
        or result.grade is not Grade.TOO_FEW
    ):
        return False
    if abs(result.gap_together) >= 2 * abs(result.gap) + MATTERS:
        return True
    crude, apart = _crude_p(result.first, result.second), abs(result.gap_together - result.gap)
    if apart >= MATTERS and result.gap * result.gap_together < 0:
        return True
    if crude <= LOOKS_SURE:
        return apart >= 0.01 and (crude <= result.p / 2 or result.gap * result.gap_together <= 0)
    return apart >= APART and result.p <= min(crude / 2, LOOKS_LIKELY)  # the counts look less sure than that
