"""Sentences on what findings rest on and on variety of serve, and the words of endings and of returns."""

from __future__ import annotations

from goodlength.findings.result_types import Names, Share, SideKey
from goodlength.findings.text.sentence_grammar import capital, number_in_words, owner, plural, short
from goodlength.record.model import Ending, ReturnKind

ENDINGS = {
    Ending.WINNER: "Winners",
    Ending.FORCED_ERROR: "Forced errors",
    Ending.UNFORCED_ERROR: "Unforced errors",
    Ending.STROKE: "Strokes won",
    Ending.NO_LET: "Appeals refused (no let)",
    Ending.LET: "Lets",
    Ending.SERVICE_FAULT: "Service faults",
    Ending.CONDUCT: "Conduct strokes awarded",
}
HOW_TAKEN = {
    ReturnKind.VOLLEYED: "Volleyed",
    ReturnKind.AFTER_SIDE_WALL: "After the side wall",
    ReturnKind.AFTER_BOUNCE: "After the bounce",
    ReturnKind.OFF_BACK_WALL: "Off the back wall",
    ReturnKind.NOT_MADE: "Missed",
}


def variety(
    names: Names, side: SideKey, serves: int, used: int, kinds: float | None, guess: Share, commonest: str
) -> str:
    """Return how many kinds are really in use, with the count behind it, and what always guessing would give.

    Examples
    --------
    >>> variety(Names("Imogen Vale", "Petra L"), "a", 1, 1, 1.0, Share(1, 1, 0, 1), "lob")
    'Imogen has one serve with its kind logged: too few to judge variety.'
    """
    me = short(names, side)
    if kinds is None or not serves:
        return f"{capital(me)} has no serve with its kind logged."
    if serves < 5:
        headline = (
            "one serve with its kind" if serves == 1 else f"{number_in_words(serves)} serves with their kind"
        )
        return f"{capital(me)} has {headline} logged: too few to judge variety."
    if used == 1:
        return f"All {serves} of {owner(me)} serves with a kind logged were of one kind: {commonest}."
    whole = min(used, max(1, round(kinds)))
    own = capital(owner(me))
    even = (
        f"{'both' if used == 2 else f'all {number_in_words(used)}'} kinds were served equally often"
        if whole == used
        else f"about {number_in_words(whole)} kinds were served equally often"
        if whole > 1
        else "nearly all were of one kind"
    )
    begin = f"{own} serves were as varied as if {even}"
    right = f"{guess.count} {plural(guess.count, 'time', 'times')} in {guess.of}"
    return f"{begin} ({serves} serves). Always guessing “{commonest}” would have been right {right}."


def summary(names: Names, side: SideKey, rallies: int, lets: int, serves: int) -> str:
    """Return what the findings rest on.

    Examples
    --------
    >>> summary(Names("Imogen Vale", "Petra L"), "a", 78, 2, 37)
    'From 78 rallies logged, two of them lets. Imogen served 37.'
    """
    if not rallies:
        return "No rallies are logged yet."
    some = "1 rally" if rallies == 1 else f"{rallies} rallies"
    if lets == rallies:
        end = "a let" if rallies == 1 else "all of them lets"
    else:
        end = (
            "" if not lets else "one of them a let" if lets == 1 else f"{number_in_words(lets)} of them lets"
        )
    return f"From {some} logged{', ' + end if end else ''}. {capital(short(names, side))} served {serves}."
