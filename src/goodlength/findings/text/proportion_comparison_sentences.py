"""Sentences that compare two proportions: "3 of 8 lobs, against 1 of 5 hard serves"; "the only lob" for
one.

One serve or one rally is never "1 of 1" or "0 of 1": it was won or lost, loose or not.
"""

from __future__ import annotations

from goodlength.findings.result_types import Share
from goodlength.findings.text.sentence_grammar import Noun, Voice, plural

Side = tuple[Share, Noun, str]  # counts, what was counted, where: "lobs", "on the lob", "serving"
RALLIES = Noun("rally", "rallies")
SERVES = Noun("serve", "serves")


def so_many(side: Side, unit: bool = True) -> str:
    """Return counts with their unit and place: "3 of 8 rallies on the lob", "the only rally on the lob".

    Examples
    --------
    >>> so_many((Share(3, 8, 0, 1), RALLIES, "serving")), so_many((Share(0, 1, 0, 1), RALLIES, "serving"))
    ('3 of 8 rallies serving', 'the only rally serving')
    >>> so_many((Share(3, 8, 0, 1), RALLIES, "serving"), unit=False)
    '3 of 8 serving'
    """
    share, noun, where = side
    if share.of == 1:
        return f"the only {noun.one if unit else 'one'} {where}".rstrip()
    return f"{share.count} of {share.of} {noun.many if unit else ''} {where}".rstrip().replace("  ", " ")


def won_words(voice: Voice, *sides: Side) -> str:
    """Return rallies won on each side; a side without a rally is said in words and not as 0 of 0.

    Examples
    --------
    >>> she = Voice("she", "her", "Petra", False)
    >>> serving = Share(3, 8, 0, 1), RALLIES, "serving"
    >>> receiving = Share(0, 1, 0, 1), RALLIES, "receiving"
    >>> won_words(she, serving, receiving)
    'she won 3 of 8 rallies serving and lost the only one receiving, lets excluded.'
    >>> won_words(she, receiving, serving)
    'she lost the only rally receiving and won 3 of 8 serving, lets excluded.'
    """
    known = [side for side in sides if side[0].of]
    missing = [where for share, _, where in sides if not share.of]
    nothing = f"No rally {' or '.join(missing)} is logged as won or lost." if missing else ""
    parts, verb = [], ""
    for n, side in enumerate(known):
        does = "lost" if side[0].of == 1 and not side[0].count else "won"
        unit = n == 0 or side[1] != known[0][1]
        parts.append(f"{'' if does == verb else does + ' '}{so_many(side, unit)}")
        verb = does
    lets = ", lets excluded" if any(share.of > 1 for share, _, _ in known) else ""
    won_sentence = f"{voice.subject} {' and '.join(parts)}{lets}." if parts else ""
    return f"{won_sentence} {nothing}".strip()


def weak_words(owner: str, *sides: Side) -> str:
    """Return on how many serves the return of `owner` was loose or missed, of the sides that have a return.

    Examples
    --------
    >>> lobs = Share(3, 8, 0, 1), Noun("lob", "lobs"), ""
    >>> hard = Share(0, 1, 0, 1), Noun("hard serve", "hard serves"), ""
    >>> weak_words("Petra’s", lobs, hard)
    'Petra’s return was loose or missed on 3 of 8 lobs, but not on the only hard serve.'
    >>> weak_words("Bo’s", hard, lobs)
    'Bo’s return was neither loose nor missed on the only hard serve; it was loose or missed on 3 of 8 lobs.'
    """
    known = [side for side in sides if side[0].of]
    if not known:
        return ""
    good = _none_of_one(known[0])
    was = "neither loose nor missed" if good else "loose or missed"
    weak_sentence = f"{owner} return was {was} on {so_many(known[0])}"
    for side in known[1:]:
        also = so_many(side, unit=side[1] != known[0][1])
        if _none_of_one(side):
            weak_sentence += f", {'nor' if good else 'but not' if known[0][0].count else 'and not'} on {also}"
        elif good:
            weak_sentence += f"; it was loose or missed on {also}"
        else:
            weak_sentence += f", {'and on' if side[0].of == 1 else 'against'} {also}"
    return f"{weak_sentence}."


def _none_of_one(side: Side) -> bool:
    return side[0].of == 1 and not side[0].count


def were_words(side: Side, predicate: str, predicate_of_one: str | None = None) -> str:
    """Return "3 of 8 volleyed ones were loose", or "the only volleyed one was not loose".

    Examples
    --------
    >>> were_words((Share(1, 8, 0, 1), SERVES, "in game 1"), "lobs", "a lob")
    '1 of 8 serves in game 1 was a lob'
    >>> were_words((Share(0, 1, 0, 1), SERVES, "in game 1"), "lobs", "a lob")
    'the only serve in game 1 was not a lob'
    """
    share, text = side[0], predicate_of_one or predicate
    if not share.of:
        return f"no {side[1].one} {side[2]} is logged"
    if share.of == 1:
        return f"{so_many(side)} was {'' if share.count else 'not '}{text}"
    return f"{so_many(side)} {plural(share.count, f'was {text}', f'were {predicate}')}"
