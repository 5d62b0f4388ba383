"""Rally table: one match as plain columns, one row a rally, as findings read it."""

from __future__ import annotations

from collections.abc import Mapping
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
class UncheckedAnswers:
    """Which answers were proposed and never checked by a person, and how often such answers are wrong.

    Parameters
    ----------
    rows : mapping of str to ndarray of bool, shape (n,)
        By column of the table, the rallies whose answer nobody checked.
    wrong : mapping of str to (float, float)
        By column, the beta posterior of the share that is wrong: parameters of wrong and of right.
    """

    rows: Mapping[str, NDArray[np.bool_]]
    wrong: Mapping[str, tuple[float, float]]

    def only(self, rallies: NDArray[np.bool_]) -> UncheckedAnswers:
        """Return the same for some of the rallies."""
        return UncheckedAnswers({name: rows[rallies] for name, rows in self.rows.items()}, self.wrong)


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
    unchecked: UncheckedAnswers | None = None  # None: all are a person's, or it is not known
