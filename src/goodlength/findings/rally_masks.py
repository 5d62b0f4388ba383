"""Boolean masks over a rally table: which rallies count for which figure. Denominators are defined only
here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.result_types import Share, SideKey, WidenedShare
from goodlength.findings.statistics.misclassified_proportions import UncheckedCounts, unchecked_range
from goodlength.findings.statistics.proportion_intervals import jeffreys, jeffreys_share
from goodlength.findings.statistics.restricted_permutation_tests import independent_part
from goodlength.record.model import Ending, Left, ReturnKind
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, RallyTable

Mask = NDArray[np.bool_]
NOT_MADE = LEFT.index(Left.NOT_MADE)
LOOSE = LEFT.index(Left.LOOSE)
HOW_NOT_MADE = HOW_TAKEN.index(ReturnKind.NOT_MADE)
SERVICE_FAULT = ENDINGS.index(Ending.SERVICE_FAULT)
FIRST_POINTS = 4  # both players' points together: the opening of a game
LATE_FROM = 8  # both at least here
SIDES: tuple[SideKey, SideKey] = ("a", "b")


@dataclass(frozen=True)
class RestsOn:
    """Columns that a share rests on: the answer counted, and what puts a rally among those counted.

    `is_kind`: the share is that of one kind of serve, so a wrong answer may stand for any of the other kinds.
    """

    answers: frozenset[str]
    places: frozenset[str] = frozenset()
    is_kind: bool = False


_RETURN = frozenset({"left", "how_taken"})
_EVERY = frozenset({"kind", "how_taken", "left", "winner", "ending"})
WON, WON_BY_KIND = (RestsOn(frozenset({"winner"}), frozenset(by)) for by in ((), ("kind",)))
WEAK, WEAK_BY_KIND, WEAK_BY_TAKEN = (
    RestsOn(_RETURN, frozenset(by)) for by in ((), ("kind",), ("how_taken",))
)
KINDS = RestsOn(frozenset({"kind"}), is_kind=True)
ANY = RestsOn(_EVERY, _EVERY)  # of shares that do not say it: rather too wide


@dataclass(frozen=True)
class RallyMasks:
    """The rallies of a match as masks of shape (n,)."""

    table: RallyTable

    @cached_property
    def n(self) -> int:
        """Rallies, lets included."""
        return len(self.table.key)

    @cached_property
    def decided(self) -> Mask:
        """Rallies with a known winner: lets and unknown winners left out."""
        return (self.table.winner >= 0) & ~self.table.let

    @cached_property
    def kind_known(self) -> Mask:
        """Serves whose kind was written down. A serve that ended in a let was still a serve."""
        return np.asarray(self.table.kind >= 0)

    @cached_property
    def return_made(self) -> NDArray[np.int16]:
        """What the return left, with "how taken: not made" read as not made; -1 not recorded.

        A service fault has no return.
        """
        left = np.where(self.table.how_taken == HOW_NOT_MADE, NOT_MADE, self.table.left)
        return np.where(self.table.ending == SERVICE_FAULT, -1, left).astype(np.int16)

    @cached_property
    def return_known(self) -> Mask:
        """Serves for which it was written down what the return left."""
        return np.asarray(self.return_made >= 0)

    @cached_property
    def weak(self) -> Mask:
        """Returns that were loose or not made."""
        return np.asarray((self.return_made == NOT_MADE) | (self.return_made == LOOSE))

    @cached_property
    def games(self) -> tuple[int, ...]:
        """Numbers of the games in the record."""
        return tuple(int(g) for g in np.unique(self.table.game))

    def served(self, side: int) -> Mask:
        """Return serves of one player (0 A, 1 B)."""
        return np.asarray(self.table.server == side)

    def won(self, side: int) -> Mask:
        """Return the decided rallies that one player won."""
        return np.asarray(self.decided & (self.table.winner == side))

    def keys(self, mask: Mask) -> tuple[str, ...]:
        """Return keys of the rallies in a mask, in the order played."""
        return tuple(self.table.key[i] for i in np.flatnonzero(mask))

    def share(self, counted: Mask, among: Mask, independent: float = 1.0, rests: RestsOn = ANY) -> Share:
        """Return share of the rallies `among` that are `counted`, with the rallies counted.

        Its range grows by what unchecked answers among those that it `rests` on may have got wrong.
        """
        hit = counted & among
        share = jeffreys_share(int(hit.sum()), int(among.sum()), self.keys(hit), independent=independent)
        unchecked = self._unchecked(hit, among, rests)
        if unchecked is None:
            return share
        low, high = (float(end) for end in jeffreys(share.count, share.of))
        below, above = unchecked_range(share.count, share.of, unchecked)
        wider = (low - below, above - high)
        ends = (max(0.0, share.low - wider[0]), min(1.0, share.high + wider[1]))
        return WidenedShare(share.count, share.of, *ends, share.rallies, wider)

    @cached_property
    def _kinds_served(self) -> int:
        """Kinds of serve that occur in the match."""
        return len(np.unique(self.table.kind[self.table.kind >= 0]))

    def _unchecked(self, hit: Mask, among: Mask, rests: RestsOn) -> UncheckedCounts | None:
        """Return how many of the rallies counted rest on what nobody checked; None where none does."""
        if self.table.unchecked is None:
            return None
        answers, wrong = self._rows(rests.answers, among)
        places, wrong_place = self._rows(rests.places, among)
        if not answers.any() and not places.any():
            return None
        return UncheckedCounts(
            int((answers & hit).sum()),
            int((answers & ~hit).sum()),
            int(places.sum()),
            wrong,
            wrong_place,
            1.0 / max(1, self._kinds_served - 1) if rests.is_kind else 1.0,
        )

    def _rows(self, columns: frozenset[str], among: Mask) -> tuple[Mask, tuple[float, float]]:
        """Return the rallies with one of these answers unchecked, and the greatest of their error rates."""
        rows, wrong = among & False, (1.0, 1.0)
        unchecked = self.table.unchecked
        found = [] if unchecked is None else [name for name in sorted(columns) if name in unchecked.rows]
        found = [name for name in found if unchecked is not None and (unchecked.rows[name] & among).any()]
        if unchecked is not None and found:
            rows = np.logical_or.reduce([unchecked.rows[name] & among for name in found])
            wrong = max((unchecked.wrong[name] for name in found), key=lambda beta: beta[0] / sum(beta))
        return rows, wrong

    def independent_part(self, side: int) -> float:
        """Return what part of one player's serves counts as independent in the share of a kind."""
        return independent_part([self.table.kind[rows].tolist() for rows in self.stretches(side)])

    def written(self, column: Sequence[str | None]) -> Mask:
        """Return rallies for which a column of words was written down; an empty column: none."""
        if not column:
            return np.zeros(self.n, dtype=np.bool_)
        return np.array([word is not None for word in column], dtype=np.bool_)

    def kinds_by_use(self, side: int) -> tuple[int, ...]:
        """Return codes of the kinds one player served, the commonest first; ties in the order of the list."""
        used = self.table.kind[self.served(side) & self.kind_known]
        counts = np.bincount(used, minlength=len(self.table.kinds))
        return tuple(int(k) for k in np.argsort(-counts, kind="stable") if counts[k])

    def stretches(self, side: int, column: Sequence[int] | None = None) -> list[list[int]]:
        """Return row numbers of one player's serves in order: one list a game, split where a kind is
        missing.
        """
        wanted = np.asarray(self.table.kind if column is None else column)
        out: list[list[int]] = []
        for game in self.games:
            rows: list[int] = []
            for i in np.flatnonzero(self.served(side) & (self.table.game == game)):
                if wanted[i] >= 0:
                    rows.append(int(i))
                elif rows:
                    out.append(rows)
                    rows = []
            if rows:
                out.append(rows)
        return out

    def parts(self, side: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
        """Return the games of the first and of the second part of the match, split where the serves divide
        most evenly.

        None with fewer than two games.
        """
        if len(self.games) < 2:
            return None
        served = self.served(side) & self.kind_known
        sizes = [int((served & (self.table.game == g)).sum()) for g in self.games]
        cuts = range(1, len(self.games))
        best = max(cuts, key=lambda cut: (min(sum(sizes[:cut]), sum(sizes[cut:])), -cut))
        return self.games[:best], self.games[best:]


def wider_by(share: Share) -> tuple[float, float]:
    """Return by how much the range of a share grew for answers nobody checked, down and up."""
    return share.wider if isinstance(share, WidenedShare) else (0.0, 0.0)
