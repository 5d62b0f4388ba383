"""Sentences on the whole match: win probability, value of a better serve, mix, agreement, trends.

As in `words`: plain English, counts before shares, nothing said more surely than it is known.
"""

from __future__ import annotations

from goodlength.findings.result_types import Grade, GuessingWatch, Names, Share, SideKey
from goodlength.findings.statistics.evidence_grades import MATTERS
from goodlength.findings.statistics.exact_tests import ExactTest
from goodlength.findings.text.effect_shrinkage import turned_by_mix
from goodlength.findings.text.sentence_grammar import capital, number_in_words, plural, short

COUNTS_SUGGEST_MORE = "Opponent by opponent the change is smaller than the counts together suggest."
ASSUMED = "This treats every rally as independent."


def runs_sentence(test: ExactTest | None) -> str:
    """Return whether this match speaks against that: rallies won by the server beside any other order."""
    if test is None or test.variance <= 0:
        return ""
    if test.mid_p > 0.2:
        return "No sign against it here, but one match would rarely show it."
    more = "more" if test.seen > test.expected else "fewer"
    if test.mid_p > 0.05:
        return f"In this match servers won somewhat {more} rallies than expected from that."
    return f"This match contradicts it: servers won {more} rallies than expected from that."


def moment_sentence(
    names: Names, game: int, points: tuple[int, int], server: SideKey, winner: SideKey, swing: float
) -> str:
    """Return one rally of the line, as it stands under the picture.

    Examples
    --------
    >>> moment_sentence(Names("Imogen Vale", "Petra L"), 3, (9, 8), "a", "b", 0.1875)[:70]
    '9–8, game 3. Imogen served, Petra won it: 19 percentage points of the '
    """
    score = f"{points[0]}-all" if points[0] == points[1] else f"{points[0]}–{points[1]}"
    who = f"{capital(short(names, server))} served" + (" and won it" if server == winner else "")
    won = "" if server == winner else f", {short(names, winner)} won it"
    size = round(100 * swing)
    some = (
        "less than a percentage point"
        if size == 0
        else f"{size} percentage {plural(size, 'point', 'points')}"
    )
    at_stake = (
        f"{some} of the chance to win the match {plural(size, 'was', 'were') if size else 'was'} at stake"
    )
    return f"{score}, game {game}. {who}{won}: {at_stake}."


def worth_words(
    names: Names, side: SideKey, rise: float, gain: float, low: float, high: float, even: float
) -> str:
    """Return what a better serve is worth: a change, never a forecast.

    Examples
    --------
    >>> worth_words(Names("Imogen Vale", "Petra L"), "a", 0.02, 0.071, 0.03, 0.072, 0.0722)[:79] + "..."
    'Winning two more in every 100 rallies on serve would win Imogen about 7 more ma...'
    """
    more = number_in_words(round(100 * rise))
    between, level = f"{round(100 * low)} to {round(100 * high)}", " (95% range)"
    if round(100 * low) == round(100 * high):
        between, level = f"about {round(100 * gain)}", ""
    opponent = short(names, "b" if side == "a" else "a")
    me, equal = short(names, side), round(100 * even)
    return (
        f"Winning {more} more in every 100 rallies on serve would win {me} about {equal} more "
        f"{plural(equal, 'match', 'matches')} in 100 against an equal opponent. Against {opponent}, as in "
        "this match, it would win "
        f"{between} more{level}."
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
    """Return whether the opponent could guess the next serve; a claim only where repeats have a grade.

    Examples
    --------
    >>> seen = GuessingWatch(21, 17, 37, 0.1)
    >>> guess_words(Names("Imogen V", "Petra L"), "a", seen, (10, 18), "lob", 5, Grade.CLEAR)[:70]
    'An opponent keeping notes would have guessed 21 of 37 serves correctly'
    """
    opponent = short(names, "b" if side == "a" else "a")
    if kinds == 1:
        every = f"every serve with a kind logged was of one kind ({commonest})"
        return f"{capital(opponent)} had nothing to guess: {every}."
    some = f"{seen.of} {plural(seen.of, 'serve', 'serves')}"
    begin = f"An opponent keeping notes would have guessed {seen.hits} of {some} correctly"
    low, high = luck
    if seen.hits > high and habit in (Grade.CLEAR, Grade.LEANING):
        end = f"{capital(opponent)} could have read the pattern."
    elif seen.hits > high and by_box:
        end = f"{capital(opponent)} could have gained by watching the box."
    elif seen.hits > high:
        end = "That is a little more than chance, but too few serves to call it a habit."
    else:
        end = f"Nothing shows that {opponent} could have read the order."
    usual = f"{seen.usual_hits} by always guessing the most common one so far"
    return f"{begin}, against {usual} and {low} to {high} by chance. {end}"


def mix_words(
    kinds: tuple[str, ...],
    serves: int,
    settled: bool,
    present: float,
    even: float,
    most: tuple[float, ...],
    answers: int,
) -> str:
    """Return what can be said of a mix of serves, and what cannot; `answers` is 1 where only kinds are known.

    Examples
    --------
    >>> mix_words(("lob", "hard"), 104, False, 0.086, 0.064, (0.9, 0.8), 3)[:44]
    '104 serves are too few to find the best mix.'
    """
    some = f"{serves} {plural(serves, 'serve is', 'serves are')} too few to"
    if len(kinds) == 1:
        return f"Only one kind was served ({kinds[0]}): there is no mix to speak of."
    if answers == 1:
        if not settled:
            return f"{some} say which kind wins most."
        return "Judged by kind alone, one serve wins most. A receiver who knows that would soon wait for it."
    sentences = [
        f"{some} find the best mix."
        if not settled
        else f"{serves} {plural(serves, 'serve narrows', 'serves narrow')} the mix down; see the ranges."
    ]
    rare = [kind for kind, high in zip(kinds, most, strict=True) if high < 0.1]
    if settled and rare:
        sentences.append(f"Good mixes use little of: {', '.join(rare)}.")
    if present > even + 0.005:
        sentences.append("The current mix gives away more than an even one would, so make it more even.")
    else:
        sentences.append("The current mix gives away no more than an even one would.")
    sentences.append("Order matters too: give the player a random list before the match.")
    return " ".join(sentences)


def agreement_words(matched: int, only_first: int, only_second: int) -> str:
    """Return how many rallies both observers have.

    Examples
    --------
    >>> agreement_words(76, 2, 0)
    'Both logged 76 rallies; two are only in the first log.'
    """
    if not matched:
        return "The two logs share no rally."
    matched_words = f"Both logged {matched} {plural(matched, 'rally', 'rallies')}"
    alone = [
        f"{number_in_words(n)} {plural(n, 'is', 'are')} only in the {which} log"
        for n, which in ((only_first, "first"), (only_second, "second"))
        if n
    ]
    return f"{matched_words}{'; ' if alone else ''}{' and '.join(alone)}."


def reliability_words(variable: str, same: int, of: int, trust: str) -> str:
    """Return how far the answers about one variable can be trusted.

    Examples
    --------
    >>> reliability_words("kind of serve", 30, 33, "good")
    'Kind of serve: the same in 30 of 33 rallies. Good enough to build on.'
    """
    if not of:
        return f"{capital(variable)}: no rally has both answers."
    judged = {
        "good": "Good enough to build on.",
        "doubtful": "Read with care: much of this agreement could be chance.",
        "not-reliable": "Not reliable enough: agree on the words first, then log it again.",
        "too-few": "Not enough data to judge.",
    }[str(trust)]
    rallies = plural(of, "rally", "rallies")
    return f"{capital(variable)}: the same in {same} of {of} {rallies}. {judged}"


def _points(share: float) -> str:
    size = round(abs(100 * share))
    return f"{size} percentage {plural(size, 'point', 'points')}"


def trend_words(words: str, per_match: float, low: float, high: float, matches: int) -> str:
    """Return a change from match to match, or that none can be told.

    Examples
    --------
    >>> trend_words("Rallies won when serving", 0.02, -0.01, 0.05, 8)
    'Rallies won when serving: no clear trend in 8 matches (1 down to 5 up, percentage points per match).'
    """
    if low <= 0 <= high:
        down, up = round(-100 * low), round(100 * high)
        return (
            f"{words}: no clear trend in {matches} {plural(matches, 'match', 'matches')} "
            f"({down} down to {up} up, percentage points per match)."
        )
    way = "rose" if per_match > 0 else "fell"
    ends = sorted((abs(low), abs(high)))
    return (
        f"{words}: {way} by about {_points(per_match)} per match over {matches} "
        f"{plural(matches, 'match', 'matches')} (95% range "
        f"{round(100 * ends[0])} to {round(100 * ends[1])})."
    )


def no_trend_words(words: str, count: int, of: int) -> str:
    """Return the sentence that these counts, over all matches together, show no trend.

    Examples
    --------
    >>> no_trend_words("Lob: share of serves", 1, 562)
    'Lob: share of serves: not enough data for a trend (1 of 562 in all).'
    >>> no_trend_words("Rallies won when serving", 60, 60)
    'Rallies won when serving: the same in every match (60 of 60 in all).'
    """
    if count in (0, of):
        return f"{words}: the same in every match ({count} of {of} in all)."
    return f"{words}: not enough data for a trend ({count} of {of} in all)."


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
    """Return before against after, with the warning that belongs to it.

    Examples
    --------
    >>> none = Share(0, 0, 0, 1)
    >>> before_after_words("Rallies won", none, none, None, None, None, 0, 2)
    'Rallies won: no opponent was met both before and after, so there is no like-for-like comparison.'
    """
    if difference is None or low is None or high is None:
        return f"{words}: no opponent was met both before and after, so there is no like-for-like comparison."
    met = "the same opponent" if opponents == 1 else f"the same {number_in_words(opponents)} opponents"
    seen = f"{after.count} of {after.of} after, {before.count} of {before.of} before, against {met}."
    if low <= 0 <= high:
        verdict = "We cannot say whether it changed."
    else:
        verdict = f"It {'rose' if difference > 0 else 'fell'} by {_points(low)} to {_points(high)}."
        if difference < 0:
            verdict = f"It fell by {_points(high)} to {_points(low)}."
    together = after.count / max(after.of, 1) - before.count / max(before.of, 1)
    if not low <= 0 <= high and turned_by_mix(difference, together):
        verdict += " That is opponent by opponent: the counts together hide it."
    elif abs(together) >= abs(difference) + MATTERS:
        verdict += f" {COUNTS_SUGGEST_MORE}"
    text = plural(left_out, "is", "are")
    rest = (
        f" {capital(number_in_words(left_out))} met only before or only after {text} left out."
        if left_out
        else ""
    )
    return (
        f"{words}: {seen} {verdict}{rest} A very bad day is usually followed by a better one anyway: "
        "judge by more than one match on each side."
    )
