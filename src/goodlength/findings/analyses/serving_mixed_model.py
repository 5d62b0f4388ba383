"""Mixed model of rallies won when serving, over many matches of a player."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from goodlength.findings.rally_masks import SIDES, RallyMasks
from goodlength.findings.result_types import SideKey
from goodlength.findings.statistics.mixed_model import MixedModelFit, fit_mixed_model
from goodlength.record.tables.rally_table import RallyTable


@dataclass(frozen=True)
class PlayedMatch:
    """One match of the player looked at: the table, which side she is, and who the opponent was."""

    table: RallyTable
    side: SideKey
    opponent: str


def serving(matches: Sequence[PlayedMatch]) -> MixedModelFit:
    """Return what kind, box, opponent and score do to the rallies a player serves, over many matches.

    Use it from two matches on; for one match `shrink.shrunk` says what there is to say.

    Parameters
    ----------
    matches : sequence of Played
        All of the same player. Serves without a known kind, box or winner stay out.

    Returns
    -------
    Fitted
        Factors "kind", "box", "opponent", "score" (level, ahead, behind).

    Raises
    ------
    OutOfRange
        If no serve in these matches has kind, box and winner written down.
    """
    won: list[bool] = []
    columns: dict[str, list[str]] = {"kind": [], "box": [], "opponent": [], "score": []}
    for match in matches:
        table, me = match.table, SIDES.index(match.side)
        view = RallyMasks(table)
        keep = view.served(me) & view.kind_known & view.decided & (table.box >= 0)
        for i in np.flatnonzero(keep):
            lead = int(table.score_a[i] - table.score_b[i]) * (1 if me == 0 else -1)
            won.append(int(table.winner[i]) == me)
            columns["kind"].append(table.kinds[table.kind[i]])
            columns["box"].append(("right", "left")[int(table.box[i])])
            columns["opponent"].append(match.opponent)
            columns["score"].append("ahead" if lead > 0 else "behind" if lead < 0 else "level")
    return fit_mixed_model(won, columns)
