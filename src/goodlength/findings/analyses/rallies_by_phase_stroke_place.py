"""Rallies won by phase of the match, by stroke, and by place on court."""

from __future__ import annotations

import numpy as np

from goodlength.findings.rally_masks import FIRST_POINTS, LATE_FROM, WON, Mask, RallyMasks
from goodlength.findings.result_types import EndedRow, WonRow
from goodlength.record.model import Ending, ShotType
from goodlength.record.tables.rally_table import ENDINGS, STROKES

_ERRORS = (ENDINGS.index(Ending.FORCED_ERROR), ENDINGS.index(Ending.UNFORCED_ERROR))
_WINNER = ENDINGS.index(Ending.WINNER)
_STROKE_WORDS = {
    ShotType.DRIVE: "Drive",
    ShotType.CROSS_COURT: "Cross-court",
    ShotType.BOAST: "Boast",
    ShotType.DROP: "Drop",
    ShotType.LOB: "Lob",
    ShotType.KILL: "Kill",
    ShotType.OTHER: "Other",
}


def won_row(view: RallyMasks, words: str, side: int, among: Mask) -> WonRow:
    """Return rallies of a phase one player won, out of the decided ones and out of all, lets included."""
    won = view.won(side)
    lets = int((among & view.table.let).sum())
    known = among & (view.decided | view.table.let)
    return WonRow(
        words, view.share(won, among & view.decided, rests=WON), view.share(won, known, rests=WON), lets
    )


def _after(view: RallyMasks, marked: Mask) -> Mask:
    """Return rallies that follow, in the same game, straight after a marked one."""
    out = np.zeros(view.n, dtype=bool)
    same_game = view.table.game[1:] == view.table.game[:-1]
    out[1:] = marked[:-1] & same_game
    return out


def long_rallies(view: RallyMasks) -> Mask:
    """Return decided rallies in the longest quarter, by seconds or by shots; none with fewer than eight
    known.
    """
    return _longest_quarter(view)[0]


def _longest_quarter(view: RallyMasks) -> tuple[Mask, str]:
    """Return the rallies in the longest quarter, and the length they exceed in words."""
    shots = np.where(view.table.shots >= 0, view.table.shots, np.nan)
    for lengths, unit in ((view.table.length_s, "s"), (shots, "shots")):
        known = view.decided & np.isfinite(lengths)
        if known.sum() >= 8:
            limit = np.percentile(lengths[known], 75)
            longer = np.asarray(known & (np.nan_to_num(lengths, nan=-1.0) > limit))
            return longer, f" (over {limit:.0f} {unit})"
    return np.zeros(view.n, dtype=bool), ""


def phases(view: RallyMasks, side: int) -> tuple[WonRow, ...]:
    """Return the rallies that one player won, game by game and by phase.

    Parameters
    ----------
    view : View
        The match.
    side : int
        0 A, 1 B.

    Returns
    -------
    tuple of WonRow
        Games first, then: the first four points of a game, in between, both on 8 or more, straight after
        one of the longest quarter of rallies, straight after a let. Phases that never came are left out.
        Counts only: with so many phases one of them looks odd in every match.
    """
    table = view.table
    early = table.score_a + table.score_b < FIRST_POINTS
    late = (table.score_a >= LATE_FROM) & (table.score_b >= LATE_FROM)
    longer, limit = _longest_quarter(view)
    rows = [(f"Game {game}", np.asarray(table.game == game)) for game in view.games]
    rows += [
        (f"First {('four' if FIRST_POINTS == 4 else FIRST_POINTS)} points of a game", np.asarray(early)),
        ("In between", np.asarray(~early & ~late)),
        (f"Both on {LATE_FROM} or more", np.asarray(late)),
        (f"After a very long rally{limit}", _after(view, longer)),
        ("After a let", _after(view, np.asarray(table.let))),
    ]
    return tuple(won_row(view, words, side, mask) for words, mask in rows if mask.any())


def by_stroke(view: RallyMasks, side: int) -> tuple[EndedRow, ...]:
    """Return winners and errors of one player by the stroke they were struck with."""
    rows = []
    for code, stroke in enumerate(STROKES):
        this = np.asarray(view.table.ending_stroke == code)
        if (this & view.decided).any():
            rows.append(_ended(view, side, _STROKE_WORDS[stroke], this, view.table.ending_stroke >= 0))
    return tuple(rows)


def by_place(view: RallyMasks, side: int) -> tuple[EndedRow, ...]:
    """Return winners and errors of one player by where on court they were struck."""
    placed = view.table.placed or (None,) * view.n
    known = np.array([place is not None for place in placed], dtype=bool)
    rows = []
    for place in sorted({place for place in placed if place}):
        this = np.array([text == place for text in placed], dtype=bool)
        rows.append(_ended(view, side, place.replace("-", " ").capitalize(), this, known))
    return tuple(rows)


def _ended(view: RallyMasks, side: int, words: str, this: Mask, known: Mask) -> EndedRow:
    """Return a winner counts for the player who got the rally, an error against the one who lost it."""
    winners = view.won(side) & (view.table.ending == _WINNER) & known
    errors = view.won(1 - side) & np.isin(view.table.ending, _ERRORS) & known
    return EndedRow(words, view.share(this, winners), view.share(this, errors))
