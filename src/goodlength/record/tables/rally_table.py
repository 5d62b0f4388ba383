"""Rally table: one match as plain columns, one row a rally, as findings read it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.record.model import Ending, Left, ReturnKind, ShotType

HOW_TAKEN = tuple(ReturnKind)
LEFT = tuple(Left)
ENDINGS = tuple(Ending)
STROKES = tuple(ShotType)

Codes = NDArray[np.int16]


@dataclass(frozen=True)
class RallyTable:
    """Columns of shape (n,), one row a rally in the order played, lets included.

    Codes index the tuples named beside them; -1 is "not recorded".
    """

    match: str
    key: tuple[str, ...]
    game: Codes  # 1, 2, ...
    n_in_game: Codes
    server: Codes  # 0 A, 1 B, -1 not known
    box: Codes  # 0 right, 1 left, -1 not known
    kinds: tuple[str, ...]  # ids of kinds of serve
    kind: Codes  # into kinds
    how_taken: Codes  # into HOW_TAKEN
    left: Codes  # into LEFT
    winner: Codes  # 0 A, 1 B, -1 let or not recorded
    let: NDArray[np.bool_]
    ending: Codes  # into ENDINGS
    ending_stroke: Codes  # into STROKES
    score_a: Codes  # before the rally
    score_b: Codes
    length_s: NDArray[np.float64]  # NaN: no span
    shots: Codes  # -1: not recorded
    placed: tuple[str | None, ...] = ()  # where the rally ended on court
    receiver_place: tuple[str | None, ...] = ()  # usual, up, back, wide; empty: in no rally
    return_to: tuple[str | None, ...] = ()  # where the return went; empty: in no rally
