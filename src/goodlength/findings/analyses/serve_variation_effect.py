"""Effect of changing the serve: changed serves against repeated ones, within strata."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Share
from goodlength.findings.statistics.exact_tests import (
    ExactTest,
    Stratum,
    odds_ratio,
    risk_difference,
    stratified_exact,
)
from goodlength.findings.statistics.proportion_intervals import jeffreys_share


@dataclass(frozen=True)
class ServeChangeEffect:
    """Rallies won after a change of serve and after a repeat, only where the two can be compared.

    `difference` is the share won after a change less that after a repeat, pooled over strata (None where
    nothing can be compared). `left_out` serves had no partner in their stratum.
    """

    changed: Share
    repeated: Share
    test: ExactTest
    difference: float | None
    odds: float | None
    strata: tuple[Stratum, ...]
    left_out: int


def change_of_serve(
    matches: Sequence[tuple[RallyMasks, int]], by_last_result: bool = False
) -> ServeChangeEffect:
    """Compare serves of another kind than the last with serves of the same kind, within kind and box.

    Parameters
    ----------
    matches : sequence of (View, side)
        One match or many; `side` (0 A, 1 B) is the server looked at in each. Matches are never pooled:
        each is a stratum of its own.
    by_last_result : bool
        Also compare only within "won the last rally served" and "lost it": players repeat what worked.

    Returns
    -------
    Change

    Source
    ------
    STATS-REF 3.4. A serve counts if it has an earlier serve of the same player in the same game with both
    kinds written down, and a known winner.

    Limits
    ------
    Kinds are chosen, not drawn: a habit of changing when ahead, or tired, is not taken out. A rise of 15
    points in 100, which would be huge, needs about ten matches to show.
    """
    groups: dict[tuple[int, ...], tuple[list[str], list[str], list[str], list[str]]] = {}
    for number, (view, side) in enumerate(matches):
        won = view.won(side)
        for stretch in view.stretches(side):
            for last, this in pairwise(stretch):
                if not view.decided[this]:
                    continue
                stratum: tuple[int, ...] = (number, int(view.table.kind[this]), int(view.table.box[this]))
                if by_last_result:
                    stratum = (*stratum, int(won[last]) if view.decided[last] else 2)
                group = groups.setdefault(stratum, ([], [], [], []))
                repeated = int(view.table.kind[last] == view.table.kind[this])
                group[2 * repeated + (0 if won[this] else 1)].append(view.table.key[this])
    return _read(list(groups.values()))


def _read(groups: Sequence[tuple[list[str], list[str], list[str], list[str]]]) -> ServeChangeEffect:
    """Strata of (won, lost) after a change and (won, lost) after a repeat."""
    strata: list[Stratum] = []
    used: tuple[list[str], list[str]] = ([], [])
    sizes = np.zeros(2, dtype=int)
    left_out = 0
    for won_changed, lost_changed, won_repeated, lost_repeated in groups:
        changed, repeated = len(won_changed) + len(lost_changed), len(won_repeated) + len(lost_repeated)
        if not changed or not repeated:
            left_out += changed + repeated
            continue
        strata.append((len(won_changed), changed, len(won_repeated), repeated))
        used[0].extend(won_changed)
        used[1].extend(won_repeated)
        sizes += (changed, repeated)
    return ServeChangeEffect(
        jeffreys_share(len(used[0]), int(sizes[0]), used[0]),
        jeffreys_share(len(used[1]), int(sizes[1]), used[1]),
        stratified_exact(strata),
        risk_difference(strata),
        odds_ratio(strata),
        tuple(strata),
        left_out,
    )
