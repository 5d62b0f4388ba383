"""Sentences about the whole match: its line, and what a better serve is worth.

As in `words`: plain English, counts before shares, nothing said more surely than it is known.
"""

from __future__ import annotations

from goodlength.findings.model import Grade, GuessingWatch, Names, Share, SideKey
from goodlength.findings.statistics.exact_tests import ExactTest
from goodlength.findings.text.grammar import capital, number_in_words, plural, short
from goodlength.findings.text.likely_gap import turned_by_mix

ASSUMED = "Each rally is taken to be won or lost by itself, whatever happened before."


def runs_sentence(test: ExactTest | None) -> str:
    """Whether this match speaks against that: rallies won by the server beside any other order."""
    if test is None or test.variance <= 0:
        return ""
    if test.mid_p > 0.2:
        return "This match gives no sign against that."
    more = "more" if test.seen > test.expected else "fewer"
    if test.mid_p > 0.05:
        return f"In this match servers won somewhat {more} rallies than that would give."
    return f"This match speaks against it: servers won {more} rallies than that would give."


def moment_sentence(
    names: Names, game: int, points: tuple[int, int], server: SideKey, winner: SideKey, swing: float
) -> str:
    """One rally of the line, as it stands under the picture.

    Examples
    --------
    >>> moment_sentence(Names("Imogen Vale", "Petra L"), 3, (9, 8), "a", "b", 0.1875)
    '9–8, game 3. Imogen served, Petra won it: a swing of 19 points in 100.'
    """
    score = f"{points[0]}-all" if points[0] == points[1] else f"{points[0]}–{points[1]}"
    who = f"{capital(short(names, server))} served" + (" and won it" if server == winner else "")
    won = "" if server == winner else f", {short(names, winner)} won it"
    size = round(100 * swing)
    some = "less than a point" if size == 0 else f"{size} {plural(size, 'point', 'points')}"
    return f"{score}, game {game}. {who}{won}: a swing of {some} in 100."


def worth_words(
    names: Names, side: SideKey, rise: float, gain: float, low: float, high: float, even: float
) -> str:
    """What a better serve is worth: a change, never a forecast.

    Examples
    --------
    >>> worth_words(Names("Imogen Vale", "Petra L"), "a", 0.02, 0.071, 0.03, 0.072, 0.0722)[:97] + "..."
    'Two more of every 100 rallies Imogen serves: about 7 more of every 100 matches against an equal...'
    """
    more = number_in_words(round(100 * rise))
    between = f"between {round(100 * low)} and {round(100 * high)}"
    if round(100 * low) == round(100 * high):
        between = f"about {round(100 * gain)}"
    opponent = short(names, "b" if side == "a" else "a")
    me, equal = short(names, side), round(100 * even)
    return (
        f"{capital(more)} more of every 100 rallies {me} serves: about {equal} more of every 100 matches "
        f"against an equal opponent; against {opponent}, as this match looked, {between}."
    )


def guess_words(
    names: Names,
    side: SideKey,
    seen: GuessingWatch,
    luck: tuple[int, int],
    commonest: str,
    kinds: int,
    habit: Grade,
    by_box: bool = False,
) -> str:
    """Could the opponent guess the next serve? A claim only where the question of repeats has a grade.

    Examples
    --------
    >>> seen = GuessingWatch(21, 17, 37, 0.1)
    >>> guess_words(Names("Imogen V", "Petra L"), "a", seen, (10, 18), "lob", 5, Grade.CLEAR)[:66]
    'A watcher with a notebook would have guessed 21 of 37 serves right'
    """
    opponent = short(names, "b" if side == "a" else "a")
    if kinds == 1:
        return f"{capital(opponent)} had nothing to guess: every serve seen was of one kind ({commonest})."
    some = f"{seen.of} {plural(seen.of, 'serve', 'serves')}"
    begin = f"A watcher with a notebook would have guessed {seen.hits} of {some} right"
    low, high = luck
    band = f"The same serves in an order left to luck give {low} to {high}"
    if seen.hits > high and habit in (Grade.CLEAR, Grade.LEANING):
        end = f"{band}, so {opponent} could have gained by watching the order."
    elif seen.hits > high and by_box:
        end = f"{band}, so {opponent} could have gained by watching the box."
    elif seen.hits > high:
        end = f"{band}: a little more than luck, but too few serves to call it a habit."
    else:
        end = f"{band}, so nothing shows that {opponent} could have read the order."
    return f"{begin}; saying the commonest kind so far, {seen.usual_hits}. {end}"


def mix_words(
    kinds: tuple[str, ...],
    serves: int,
    settled: bool,
    present: float,
    even: float,
    most: tuple[float, ...],
    answers: int,
) -> str:
    """What can be said of a mix of serves, and what cannot; `answers` is 1 where only kinds are known.

    Examples
    --------
    >>> mix_words(("lob", "hard"), 104, False, 0.086, 0.064, (0.9, 0.8), 3)[:44]
    '104 serves do not settle which mix is best. '
    """
    some = f"{serves} {plural(serves, 'serve does', 'serves do')} not settle"
    if len(kinds) == 1:
        return f"Only one kind was served ({kinds[0]}): there is no mix to speak of."
    if answers == 1:
        if not settled:
            return f"{some} which kind wins most rallies: keep them all, and keep counting."
        return "By kind alone one serve wins most; a receiver who knows that would soon wait for it."
    said = [
        f"{some} which mix is best."
        if not settled
        else f"{serves} {plural(serves, 'serve narrows', 'serves narrow')} the mix down: see the ranges."
    ]
    rare = [kind for kind, high in zip(kinds, most, strict=True) if high < 0.1]
    if settled and rare:
        said.append(f"Hardly any good mix holds much of: {', '.join(rare)}.")
    if present > even + 0.005:
        said.append("The present mix gives away more than an even one would: make it less lopsided.")
    else:
        said.append("The present mix gives away no more than an even one would.")
    said.append("The order counts too: give the player a list drawn beforehand.")
    return " ".join(said)


def agreement_words(matched: int, only_first: int, only_second: int) -> str:
    """How many rallies both observers have.

    Examples
    --------
    >>> agreement_words(76, 2, 0)
    'Both wrote down 76 rallies; two are only in the first layer.'
    """
    if not matched:
        return "The two layers have no rally in common."
    said = f"Both wrote down {matched} {plural(matched, 'rally', 'rallies')}"
    alone = [
        f"{number_in_words(n)} {plural(n, 'is', 'are')} only in the {which} layer"
        for n, which in ((only_first, "first"), (only_second, "second"))
        if n
    ]
    return f"{said}{'; ' if alone else ''}{' and '.join(alone)}."


def reliability_words(variable: str, same: int, of: int, trust: str) -> str:
    """How far the answers about one variable can be trusted.

    Examples
    --------
    >>> reliability_words("kind of serve", 30, 33, "good")
    'Kind of serve: the same in 30 of 33 rallies. Good enough to build on.'
    """
    if not of:
        return f"{capital(variable)}: no rally has both answers."
    judged = {
        "good": "Good enough to build on.",
        "doubtful": "Read with care: much of this could be guessing alike.",
        "not-reliable": "Not reliable enough: agree on the words first, then write it down again.",
        "too-few": "Too few to judge.",
    }[str(trust)]
    rallies = plural(of, "rally", "rallies")
    return f"{capital(variable)}: the same in {same} of {of} {rallies}. {judged}"


def _points(share: float) -> str:
    size = round(abs(100 * share))
    return f"{size} {plural(size, 'point', 'points')} in 100"


def trend_words(words: str, per_match: float, low: float, high: float, matches: int) -> str:
    """A change from match to match, or that none can be told.

    Examples
    --------
    >>> trend_words("Rallies won when serving", 0.02, -0.01, 0.05, 8)
    'Rallies won when serving: no trend can be told from 8 matches (per match, from 1 down to 5 up in 100).'
    """
    if low <= 0 <= high:
        down, up = round(-100 * low), round(100 * high)
        return (
            f"{words}: no trend can be told from {matches} {plural(matches, 'match', 'matches')} "
            f"(per match, from {down} down to {up} up in 100)."
        )
    way = "rose" if per_match > 0 else "fell"
    ends = sorted((abs(low), abs(high)))
    return (
        f"{words}: {way} by about {_points(per_match)} a match over {matches} "
        f"{plural(matches, 'match', 'matches')}, somewhere between "
        f"{round(100 * ends[0])} and {round(100 * ends[1])}."
    )


def no_trend_words(words: str, count: int, of: int) -> str:
    """That a trend cannot be told from these counts, over all matches together.

    Examples
    --------
    >>> no_trend_words("Lob: share of serves", 1, 562)
    'Lob: share of serves: too few to tell a trend (1 of 562 in all).'
    >>> no_trend_words("Rallies won when serving", 60, 60)
    'Rallies won when serving: the same in every match, no trend to tell (60 of 60 in all).'
    """
    if count in (0, of):
        return f"{words}: the same in every match, no trend to tell ({count} of {of} in all)."
    return f"{words}: too few to tell a trend ({count} of {of} in all)."


def before_after_words(
    words: str,
    before: Share,
    after: Share,
    difference: float | None,
    low: float | None,
    high: float | None,
    opponents: int,
    left_out: int,
) -> str:
    """Before against after, with the warning that belongs to it.

    Examples
    --------
    >>> none = Share(0, 0, 0, 1)
    >>> before_after_words("Rallies won", none, none, None, None, None, 0, 2)
    'Rallies won: no opponent was met both before and after, so like cannot be held against like.'
    """
    if difference is None or low is None or high is None:
        return f"{words}: no opponent was met both before and after, so like cannot be held against like."
    met = "the same opponent" if opponents == 1 else f"the same {number_in_words(opponents)} opponents"
    seen = f"{after.count} of {after.of} after, {before.count} of {before.of} before, against {met}."
    if low <= 0 <= high:
        told = "Whether it changed cannot be told."
    else:
        told = f"It {'rose' if difference > 0 else 'fell'} by {_points(low)} to {_points(high)}."
        if difference < 0:
            told = f"It fell by {_points(high)} to {_points(low)}."
    together = after.count / max(after.of, 1) - before.count / max(before.of, 1)
    if turned_by_mix(difference, together):
        told += " That is opponent by opponent: the counts together hide it."
    one = plural(left_out, "is", "are")
    rest = f" {capital(number_in_words(left_out))} met on one side only {one} left out." if left_out else ""
    return (
        f"{words}: {seen} {told}{rest} After an unusually bad day the next is better by itself: "
        "judge by more than one match on each side."
    )
