"""Build the rally table of a replayed match, one row a rally."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from goodlength.record.model import (
    DEFAULT_KINDS,
    Depth,
    Ending,
    KindOfServe,
    Left,
    Match,
    Rally,
    ReturnKind,
)
from goodlength.record.tables.rally_table import (
    ENDINGS,
    HOW_TAKEN,
    LEFT,
    STROKES,
    Codes,
    RallyTable,
)
from goodlength.scoring.scoring_types import Box, Side

_SIDES = {Side.A: 0, Side.B: 1}
_BOXES = {Box.RIGHT: 0, Box.LEFT: 1}


def rally_table(match: Match, kinds: Sequence[KindOfServe] = DEFAULT_KINDS) -> RallyTable:
    """Return the rallies of a match as columns; the one still being written down is left out.

    Parameters
    ----------
    match : Match
        As replayed.
    kinds : sequence of KindOfServe
        The library's kinds; a kind the match uses beyond them gets a place after them.

    Returns
    -------
    RallyTable
        -1 (NaN for times) is "not recorded" or not known; nothing is filled in.

    Notes
    -----
    At depth *every shot* the length in shots counts every shot struck, the last error too. A fault has
    one shot; a return not made counts as struck, so that rally has two. At other depths it is -1.
    """
    rallies = [rally for rally in match.rallies if rally.key != match.open_key]
    ids = [kind.id for kind in kinds]
    ids += sorted({rally.serve.kind for rally in rallies if rally.serve.kind} - set(ids))
    kind_codes = {kind: code for code, kind in enumerate(ids)}

    def column(value: Callable[[Rally], int]) -> Codes:
        return np.fromiter((value(rally) for rally in rallies), dtype=np.int16, count=len(rallies))

    def coded(codes: Mapping[Any, int], value: Callable[[Rally], Any]) -> Codes:
        return column(lambda rally: codes.get(value(rally), -1))

    return RallyTable(
        match=match.info.id,
        key=tuple(rally.key for rally in rallies),
        game=column(lambda rally: rally.game),
        n_in_game=column(lambda rally: rally.n_in_game),
        server=coded(_SIDES, lambda rally: rally.server if rally.server_known else None),
        box=coded(_BOXES, lambda rally: rally.box if rally.box_known else None),
        kinds=tuple(ids),
        kind=coded(kind_codes, lambda rally: rally.serve.kind),
        how_taken=coded(_codes(HOW_TAKEN), lambda rally: rally.ret.how),
        left=coded(_codes(LEFT), lambda rally: rally.ret.left),
        winner=coded(_SIDES, lambda rally: rally.winner),
        let=np.array([rally.let for rally in rallies], dtype=np.bool_),
        ending=coded(_codes(ENDINGS), lambda rally: rally.ending),
        ending_stroke=coded(_codes(STROKES), lambda rally: rally.ending_stroke),
        score_a=column(lambda rally: rally.before[0]),
        score_b=column(lambda rally: rally.before[1]),
        length_s=np.array(
            [span_length_s(rally.start_us, rally.end_us) for rally in rallies], dtype=np.float64
        ),
        shots=column(lambda rally: _shots(match.info.depth, rally)),
        placed=tuple(rally.ending_place for rally in rallies),
        receiver_place=tuple(rally.serve.receiver_place for rally in rallies),
        return_to=tuple(rally.ret.to for rally in rallies),
    )


def only_of(table: RallyTable, rallies: NDArray[np.bool_]) -> RallyTable:
    """Return the table with nothing recorded of how the other rallies went; they keep their place and score.

    Parameters
    ----------
    rallies : ndarray of bool, shape (n,)
        The rallies to leave as they are.
    """
    blank: Codes = np.full(len(table.key), -1, dtype=np.int16)
    names = ("kind", "how_taken", "left", "winner", "ending", "ending_stroke")
    codes: dict[str, Any] = {name: np.where(rallies, getattr(table, name), blank) for name in names}
    words: dict[str, Any] = {
        name: tuple(
            word if there else None for word, there in zip(getattr(table, name), rallies, strict=True)
        )
        for name in ("placed", "receiver_place", "return_to")
        if getattr(table, name)
    }
    return replace(table, **codes, **words)


def _codes(words: Sequence[Any]) -> dict[Any, int]:
    return {word: code for code, word in enumerate(words)}


def span_length_s(start_us: int | None, end_us: int | None) -> float:
    """Return how long a rally was, in seconds; NaN where that is not known."""
    if start_us is None or end_us is None or end_us <= start_us:
        return float("nan")
    return (end_us - start_us) / 1e6


def shots_struck(depth: Depth, in_all: int | None, *, fault: bool, not_made: bool) -> int:
    """Return how many shots a rally had; -1 where that was not written down.

    Examples
    --------
    >>> shots_struck(Depth.SHOTS, None, fault=False, not_made=True)
    2
    >>> shots_struck(Depth.SERVE, None, fault=False, not_made=True)
    -1
    """
    if in_all is not None:
        return in_all
    if depth is not Depth.SHOTS:
        return -1
    if fault:
        return 1
    return 2 if not_made else -1


def _shots(depth: Depth, rally: Rally) -> int:
    return shots_struck(
        depth,
        rally.shots_in_all,
        fault=rally.ending is Ending.SERVICE_FAULT,
        not_made=rally.ret.how is ReturnKind.NOT_MADE or rally.ret.left is Left.NOT_MADE,
    )
