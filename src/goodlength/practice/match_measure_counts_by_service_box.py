"""Match measures that are comparable before and after practice, by service box."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from goodlength.errors import NotFound
from goodlength.findings.rally_masks import Mask, RallyMasks
from goodlength.practice.statistics.practice_transfer import Counts
from goodlength.record.model import ReturnKind
from goodlength.record.tables.rally_table import HOW_TAKEN

BOXES = ("right", "left")
VOLLEYED = HOW_TAKEN.index(ReturnKind.VOLLEYED)
Picked = tuple[Mask, Mask]  # counted, among


@dataclass(frozen=True)
class CarryMeasure:
    """Something counted in a match: its words with `{serve}` in them, and whether more of it is better."""

    key: str
    words: str
    more_is_better: bool
    of_kind: bool  # can be asked of one kind of serve


MEASURES: Mapping[str, CarryMeasure] = {
    measure.key: measure
    for measure in (
        CarryMeasure("weak", "weak returns (loose or missed) on {serve}", True, True),
        CarryMeasure("won", "rallies won on {serve}", True, True),
        CarryMeasure("changed-won", "rallies won when the serve changed", True, False),
        CarryMeasure("repeat", "serves that repeated the last", False, False),
        CarryMeasure("volleyed", "returns volleyed on {serve}", False, True),
        CarryMeasure("return-weak", "own weak returns (loose or missed)", False, True),
        CarryMeasure("return-won", "rallies won receiving", True, True),
    )
}


def measure_named(key: str) -> CarryMeasure:
    """Return one measure by its key.

    Raises
    ------
    NotFound
        No measure of that key; the sentence names those there are.
    """
    if key not in MEASURES:
        raise NotFound(
            f"There is no measure {key!r}. Choose one of {', '.join(MEASURES)}.",
            page="This plan has nothing to measure in matches. Make a new plan.",
        )
    return MEASURES[key]


def counted(view: RallyMasks, side: int, key: str, kind: str | None = None) -> dict[str, Counts]:
    """Return the measure in one match, (hits, of) for each box it was served from.

    Parameters
    ----------
    view : View
        The match.
    side : int
        0 for A, 1 for B: the player who practised.
    kind : str, optional
        Only serves of this kind; a kind the match does not know counts nothing.
    """
    measure_named(key)
    hit, among = _PICK[key](view, side)
    if kind is not None:
        kinds = view.table.kinds
        among = among & (view.table.kind == (kinds.index(kind) if kind in kinds else -2))
    return {
        box: (int((hit & among & in_box).sum()), int((among & in_box).sum()))
        for code, box in enumerate(BOXES)
        for in_box in [view.table.box == code]
        if (among & in_box).any()
    }


def _weak(view: RallyMasks, side: int) -> Picked:
    return view.weak, view.served(side) & view.return_known


def _won(view: RallyMasks, side: int) -> Picked:
    return view.won(side), view.served(side) & view.decided


def _after_another(view: RallyMasks, side: int) -> tuple[Mask, Mask]:
    """Return serves that repeat the last of the same stretch, and those that change it."""
    repeat, change = np.zeros(view.n, dtype=np.bool_), np.zeros(view.n, dtype=np.bool_)
    for stretch in view.stretches(side):
        for last, this in pairwise(stretch):
            (repeat if view.table.kind[last] == view.table.kind[this] else change)[this] = True
    return repeat, change


def _repeat(view: RallyMasks, side: int) -> Picked:
    repeat, change = _after_another(view, side)
    return repeat, repeat | change


def _changed_won(view: RallyMasks, side: int) -> Picked:
    return view.won(side), _after_another(view, side)[1] & view.decided


def _volleyed(view: RallyMasks, side: int) -> Picked:
    how = view.table.how_taken
    return np.asarray(how == VOLLEYED), view.served(side) & (how >= 0)


def _return_weak(view: RallyMasks, side: int) -> Picked:
    return view.weak, view.served(1 - side) & view.return_known


def _return_won(view: RallyMasks, side: int) -> Picked:
    return view.won(side), view.served(1 - side) & view.decided


_PICK: Mapping[str, Callable[[RallyMasks, int], Picked]] = {
    "weak": _weak,
    "won": _won,
    "changed-won": _changed_won,
    "repeat": _repeat,
    "volleyed": _volleyed,
    "return-weak": _return_weak,
    "return-won": _return_won,
}
