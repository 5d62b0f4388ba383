"""The marker's call in words: what decided the rally, hand-out, score, game or match ball.

Where the words come from: "hand-out", the server's score first, game ball and match ball are of
RULES-2014 rule 3.6; "love", "love-all" and "4-all" of RULES-2001 appendix 3.1; "10-all: a player must
win by 2 points" of RULES-2014 rule 3.6.8; "set one", "set two" of RULES-2001 rule 2; "yes let",
"no let", "stroke to ..." of MARKER-CALLS. The order of the parts is from memory. "Game to ...",
"Game and match to ...", the words for conduct and for a player who stops, and "minus" are ours.
"""

from __future__ import annotations

from collections.abc import Iterable

from goodlength.scoring.match_format_rules import games_to_win, tie_at, winner_at
from goodlength.scoring.scoring_types import Decision, Format, Points, Side, System

_COUNT = {1: "one", 2: "two", 3: "three"}


def points_word(points: int) -> str:
    """Return one side of a score as it is said: "love", "7", "minus 3"."""
    if points == 0:
        return "love"
    return str(points) if points > 0 else f"minus {-points}"


def score_words(server: int, receiver: int) -> str:
    """Return a score as the marker says it, server's first.

    Examples
    --------
    >>> score_words(0, 0), score_words(1, 0), score_words(5, 6), score_words(4, 4)
    ('love-all', '1–love', '5–6', '4-all')
    """
    if server == receiver:
        return f"{points_word(server)}-all"
    return f"{points_word(server)}–{points_word(receiver)}"


def call_words(parts: Iterable[str]) -> str:
    """Return the parts of a call that are there, joined by commas, with a capital at the front.

    Examples
    --------
    >>> call_words(("stroke to Imogen", "hand-out", "6–7", ""))
    'Stroke to Imogen, hand-out, 6–7'
    """
    call = ", ".join(part for part in parts if part)
    return call[:1].upper() + call[1:]


def decided_words(
    *, let: bool, decision: Decision | None, fault: bool, called: str | None, to: str | None
) -> str:
    """Return what decided the rally, as far as it was written down: "fault", "out", "no let", ..."""
    parts = []
    if fault:
        parts.append("fault")
    elif called:
        parts.append(called)
    if let:
        parts.append("yes let" if decision is Decision.YES_LET else "let")
    elif decision is Decision.NO_LET:
        parts.append("no let")
    elif decision is Decision.STROKE and to is not None:
        parts.append(f"stroke to {to}")
    return ", ".join(parts)


def ball_words(fmt: Format, points: Points, games: Points, server: Side, set_to: int | None) -> str:
    """ "game ball" or "match ball" when a player needs one point; empty otherwise.

    In rally scoring either player may be the one; in hand-out scoring only the server can score.

    Source
    ------
    RULES-2014, rule 3.6.7; RULES-2001, appendix 3.1 (server only).
    """
    sides = (server,) if fmt.system is System.HAND_OUT else (Side.A, Side.B)
    if max(points) < tie_at(fmt):
        return ""
    needing = [side for side in sides if winner_at(fmt, _plus_one(points, side), set_to) is side]
    if not needing:
        return ""
    one_short = games_to_win(fmt) - 1
    return "match ball" if any(games[side.place] == one_short for side in needing) else "game ball"


def setting_words(fmt: Format, set_to: int) -> str:
    """ "set one", "set two" or "set three"."""
    return f"set {_COUNT[set_to - tie_at(fmt)]}"


def tie_words(fmt: Format) -> str:
    """Return the sentence of the first tie: "10-all: a player must win by 2 points"."""
    return f"{tie_at(fmt)}-all: a player must win by 2 points"


def _plus_one(points: Points, side: Side) -> Points:
    """Return the points after one more for a side."""
    return (points[0] + 1, points[1]) if side is Side.A else (points[0], points[1] + 1)
