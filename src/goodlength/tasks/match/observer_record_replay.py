"""Every observer's record of one match, each replayed by itself, and where they disagree too much."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.record.effective_answers import layer_of
from goodlength.record.entry_log_replay import match_from
from goodlength.record.model import Entry, KindOfServe, Match, MatchInfo, Rally
from goodlength.record.tables.rally_table_building import rally_table

if TYPE_CHECKING:
    from goodlength.findings.reports.observer_alignment import LayerComparison


@dataclass(frozen=True)
class Layer:
    """One observer's record of a match, replayed."""

    observer: str
    match: Match

    @property
    def rallies(self) -> tuple[Rally, ...]:
        """Its rallies, without the one still being written down."""
        return tuple(rally for rally in self.match.rallies if rally.key != self.match.open_key)


def replay_layers(
    info: MatchInfo,
    entries: Sequence[Entry],
    names: tuple[str, str],
    kinds: Sequence[KindOfServe],
    observers: Iterable[str],
) -> tuple[Layer, ...]:
    """Replay the record of each observer named, in that order."""
    return tuple(
        Layer(name, match_from(info, entries, names, kinds, observer=name))
        for name in dict.fromkeys(observers)
    )


def other_observers(entries: Sequence[Entry], own: str) -> tuple[str, ...]:
    """Return who besides the match's own observer wrote about a rally, in the order they began."""
    names = dict.fromkeys(layer_of(entry.observer) for entry in entries if entry.rally)
    return tuple(name for name in names if name != own)


def compare(first: Layer, second: Layer, kinds: Sequence[KindOfServe], *, weigh: bool) -> LayerComparison:
    """Return the comparison of two observers, rally by rally and column by column."""
    from goodlength.findings.reports.observer_alignment import compare_layers

    tables = [rally_table(layer.match, kinds) for layer in (first, second)]
    starts = [[_start_s(rally) for rally in layer.rallies] for layer in (first, second)]
    return compare_layers(tables[0], tables[1], starts[0], starts[1], weigh=weigh)


def doubted_columns(
    info: MatchInfo, entries: Sequence[Entry], names: tuple[str, str], kinds: Sequence[KindOfServe]
) -> frozenset[str]:
    """Return the columns on which the match's own observer and another one did not agree well enough.

    Empty with one observer: nothing is known then, and nothing is held against the record.
    """
    others = other_observers(entries, info.observer)
    if not others:
        return frozenset()
    own, *rest = replay_layers(info, entries, names, kinds, (info.observer, *others))
    doubted: set[str] = set()
    for other in rest:
        doubted |= compare(own, other, kinds, weigh=False).reliability.unreliable
    return frozenset(doubted)


def _start_s(rally: Rally) -> float:
    return float(np.nan) if rally.start_us is None else rally.start_us / 1e6
