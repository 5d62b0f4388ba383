"""Last shots before the end of a rally and the time each player had, where shots are recorded."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from goodlength.findings.result_types import Share
from goodlength.findings.statistics.median_intervals import MedianRange, median_range
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.record.model import Shot
from goodlength.scoring.scoring_types import Side

FEWEST = 3  # seen less often, a sequence goes under "all others"
LONGEST_GAP_S = 5.0  # a longer gap between hits is a hit that was not written down


@dataclass(frozen=True)
class ShotRally:
    """One rally shot by shot, in order, with its winner (None: a let, or not known)."""

    key: str
    shots: tuple[Shot, ...]
    winner: Side | None


@dataclass(frozen=True)
class SequenceRow:
    """Strokes that ended rallies, in order, and how often they would come together by their shares alone.

    `words` name each stroke and who struck it: the winner of the rally or the loser. `expected` is None for
    "all others".
    """

    words: str
    seen: Share
    expected: float | None


@dataclass(frozen=True)
class Sequences:
    """Last sequences of `length` shots in rallies one player won, and in rallies that player lost."""

    length: int
    won: tuple[SequenceRow, ...]
    lost: tuple[SequenceRow, ...]
    left_out: int  # decided rallies too short, or with a stroke missing among the last


def sequences(rallies: Sequence[ShotRally], side: Side, length: int = 2) -> Sequences:
    """Return which strokes came together just before the end.

    Parameters
    ----------
    rallies : sequence of ShotRally
        Of one match or many.
    side : Side
        The player looked at.
    length : int
        Shots looked at, counted back from the last one: 2 or 3.

    Returns
    -------
    Sequences
        The commonest first; what was seen fewer than three times goes together at the end. `expected`
        multiplies the shares each stroke has at that place from the end: a sequence seen far more often
        than that is one to look at, not a proof of a plan. No grade is given.
    """
    chains: dict[bool, list[tuple[str, tuple[str, ...]]]] = {True: [], False: []}
    left_out = 0
    for rally in rallies:
        if rally.winner is None:
            continue
        last = rally.shots[-length:]
        if len(last) < length or any(shot.stroke is None for shot in last):
            left_out += 1
            continue
        names = tuple(f"{shot.stroke} by {'winner' if shot.by is rally.winner else 'loser'}" for shot in last)
        chains[rally.winner is side].append((rally.key, names))
    return Sequences(length, _rows(chains[True]), _rows(chains[False]), left_out)


def _rows(chains: Sequence[tuple[str, tuple[str, ...]]]) -> tuple[SequenceRow, ...]:
    n = len(chains)
    if not n:
        return ()
    length = len(chains[0][1])
    places = [Counter(names[k] for _, names in chains) for k in range(length)]
    keys: dict[tuple[str, ...], list[str]] = {}
    for key, names in chains:
        keys.setdefault(names, []).append(key)
    rows, rest = [], []
    for names, found in sorted(keys.items(), key=lambda item: (-len(item[1]), item[0])):
        if len(found) < FEWEST:
            rest += found
            continue
        expected = n * float(np.prod([places[k][name] / n for k, name in enumerate(names)]))
        words = ", then ".join(name.replace("-", " ", 1) for name in names)
        rows.append(SequenceRow(words, jeffreys_share(len(found), n, found), expected))
    if rest:
        rows.append(SequenceRow("All others", jeffreys_share(len(rest), n, rest), None))
    return tuple(rows)


@dataclass(frozen=True)
class TimeRow:
    """Time one player had from the opponent's hit to the own hit, s."""

    side: Side
    hits: int
    middle: MedianRange
    quartile_low_s: float | None
    quartile_high_s: float | None


def time_between_hits(rallies: Sequence[ShotRally]) -> tuple[TimeRow, TimeRow]:
    """Return the time each player has: from the opponent's hit to the own hit, for A and for B.

    Parameters
    ----------
    rallies : sequence of ShotRally
        Lets included: a gap is a gap.

    Returns
    -------
    (TimeRow, TimeRow)
        Median with its range, and quartiles from four hits on. Gaps of more than 5 s, none or less, and
        gaps between two hits of the same player are left out: a hit between them is missing.

    Limits
    ------
    Hits of one rally hang together, so the range is somewhat too narrow.
    """
    gaps: dict[Side, list[float]] = {Side.A: [], Side.B: []}
    for rally in rallies:
        for shot, two in zip(rally.shots[:-1], rally.shots[1:], strict=True):
            if shot.at_us is None or two.at_us is None or shot.by is two.by or two.n != shot.n + 1:
                continue
            gap = (two.at_us - shot.at_us) / 1e6
            if 0 < gap <= LONGEST_GAP_S:
                gaps[two.by].append(gap)
    return _time_row(Side.A, gaps[Side.A]), _time_row(Side.B, gaps[Side.B])


def _time_row(side: Side, gaps: Sequence[float]) -> TimeRow:
    low, high = (float(q) for q in np.percentile(gaps, (25, 75))) if len(gaps) >= 4 else (None, None)
    return TimeRow(side, len(gaps), median_range(gaps), low, high)
