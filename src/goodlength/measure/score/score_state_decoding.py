"""Posterior of every outcome given all observations, and the legal path that gets most rallies right.

Between two sightings lie a rally (won by A, by B, or without a point) and then perhaps rallies that
nobody heard. The chances come from one pass forwards and one backwards over the lattice; the path from
a third that adds up, along legal steps only, the chances of what it claims.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from goodlength.measure.score.score_lattice import Floats, Ints, Lattice

MOST_MISSED = 60  # rallies that may be lost in one gap
NEGLIGIBLE = 1e-7  # a longer run of lost rallies is left out below this chance
PRIOR_RALLIES = 10.0  # the expectation of lets weighs as much as so many rallies of the match
PRIOR_LOST = 0.5  # likewise, as so many lost rallies
ORDINARY_PAUSE = 0.05  # lost rallies expected in a pause that is no gap in the recording, at most
SERVE_WEIGHT = 0.01  # who served from where decides only between paths with the same outcomes
DEAD = -1e18


@dataclass(frozen=True)
class PriorRates:
    """What is expected before anything is seen: serves without a point, and sounds that were no rally."""

    let_share: float
    no_rally_share: float


@dataclass(frozen=True)
class Posterior:
    """For each rally heard: chances of its outcome, of the state before it, and of rallies lost.

    `outcome` has columns A won, B won, no point. `before` has a column a state. `missed` has, for each
    gap (before the first rally, ..., after the last), the chance of 0, 1, 2, ... lost rallies. `served` has
    the chance of each server with each outcome, (n, 2, 3).
    """

    outcome: Floats
    before: Floats
    missed: tuple[Floats, ...]
    served: Floats


@dataclass(frozen=True)
class DecodedPath:
    """One legal way through: state before each rally, its outcome (0, 1 or 2), rallies lost in each gap.

    `lost` holds, for each gap, the winners of the rallies nobody heard, with the state before each.
    """

    states: tuple[int, ...]
    outcomes: tuple[int, ...]
    lost: tuple[tuple[tuple[int, int], ...], ...]
    end: int


@dataclass(frozen=True)
class NoLegalPath:
    """No legal path: nothing fits from this rally on (counted from 0; the number of rallies: the end)."""

    at: int


class Trellis:
    """A lattice with its sightings laid along it."""

    def __init__(
        self,
        lattice: Lattice,
        likely: Floats,
        missed: Floats,
        odds: PriorRates,
        allowed: Floats,
        masks: dict[int, Floats] | None = None,
        no_rally: Floats | None = None,
        endings: Floats | None = None,
    ) -> None:
        self.lattice, self.odds, self.likely = lattice, odds, likely
        self.allowed, self.masks = allowed, masks or {}
        self.endings = endings  # (n, 2, 3): how likely what was seen of the end is, by server and outcome
        self.no_rally = no_rally  # for each sighting its own chance, NaN for the usual one
        n = len(lattice.at)
        shape = (n, n)
        self.by = [_steps(lattice, who, shape) for who in (0, 1)]
        self.any = (self.by[0] + self.by[1]).tocsr()
        self.back = [m.T.tocsr() for m in self.by]
        self.any_back = self.any.T.tocsr()
        self.seen = lattice.at[:, 4] * 2 + lattice.at[:, 5]
        self.live = np.ones(n)
        self.live[lattice.over] = 0.0
        self.expected, self.missed = odds, missed
        self.runs = [_run_chances(mean) for mean in missed]

    def settle(self, chances: Posterior) -> None:
        """Take the shares of lets and lost rallies from the match, drawn in towards what was expected.

        A gap in the recording keeps its own expectation; only ordinary pauses are learnt from.
        """
        first = self.expected.let_share + self.expected.no_rally_share
        if first > 0.0:
            found = float(chances.outcome[:, 2].sum())
            share = (PRIOR_RALLIES * first + found) / (PRIOR_RALLIES + len(self.likely))
            scale = min(share, 0.5) / first
            self.odds = PriorRates(self.expected.let_share * scale, self.expected.no_rally_share * scale)
        usual = self.missed <= ORDINARY_PAUSE
        lost = sum(
            float(run @ np.arange(len(run)))
            for run, ordinary in zip(chances.missed, usual, strict=True)
            if ordinary
        )
        scale = (PRIOR_LOST + lost) / (PRIOR_LOST + float(self.missed[usual].sum()))
        self.runs = [_run_chances(m * scale if u else m) for m, u in zip(self.missed, usual, strict=True)]

    def weights(self, k: int) -> tuple[Floats, Floats]:
        """Return the weights of a rally won, and of no point, at sighting k for each state before it."""
        likely = self.likely[k]
        fits = likely[self.seen] * self.live
        let, none = self.odds.let_share, self.odds.no_rally_share
        if self.no_rally is not None and not math.isnan(self.no_rally[k]):
            none = float(self.no_rally[k])
        nothing = (1.0 - none) * let * fits + none * float(likely.mean())
        mask = self.masks.get(k)
        if mask is not None:
            fits, nothing = fits * mask, nothing * mask
        return (1.0 - none) * (1.0 - let) * fits, nothing

    def outcome_factors(self, k: int) -> Floats:
        """Return by outcome and state what is allowed at sighting k, times how well its end fits that."""
        allowed: Floats = self.allowed[k][:, None]
        if self.endings is None:
            return allowed
        return np.asarray(allowed * self.endings[k][self.lattice.at[:, 4]].T, dtype=float)

    def chances(self) -> Posterior | NoLegalPath:
        """Return the posterior, forwards then backwards; NoLegalPath where no legal path is left."""
        forward = self._forward()
        if isinstance(forward, NoLegalPath):
            return forward
        rallies = len(self.likely)
        outcome = np.zeros((rallies, 3))
        before = np.zeros((rallies, len(self.live)))
        served = np.zeros((rallies, 2, 3))
        missed: list[Floats] = [np.ones(1)] * (rallies + 1)
        back = self.lattice.last.copy()
        for k in range(rallies, -1, -1):
            filtered, arriving = forward[k]
            back, missed[k] = self._gap_back(back, self.runs[k], arriving)
            if k == 0:
                break
            won, nothing = self.weights(k - 1)
            here, fits = filtered, self.outcome_factors(k - 1)
            steps = [(self.back[who] @ back) * won * fits[who] for who in (0, 1)]
            stays = back * nothing * fits[2]
            both = np.array([*steps, stays])
            outcome[k - 1] = both @ here
            served[k - 1] = self._by_server(both * here)
            before[k - 1] = here * both.sum(axis=0)
            if not outcome[k - 1].sum() > 0.0:
                return NoLegalPath(k - 1)
            served[k - 1] /= outcome[k - 1].sum()
            outcome[k - 1] /= outcome[k - 1].sum()
            before[k - 1] /= before[k - 1].sum()
            back = both.sum(axis=0)
            back /= back.max()
        return Posterior(outcome, before, tuple(missed), served)

    def _by_server(self, both: Floats) -> Floats:
        server = self.lattice.at[:, 4]
        return np.array([np.bincount(server, weights=row, minlength=2) for row in both]).T

    def _forward(self) -> list[tuple[Floats, Floats]] | NoLegalPath:
        """For each gap: the states before the rally that led to it, and the states arriving in it."""
        ahead = self.lattice.first / self.lattice.first.sum()
        columns = [(ahead, ahead)]
        for k in range(len(self.likely)):
            here = self._gap(ahead, self.runs[k])
            won, nothing = self.weights(k)
            fits = self.outcome_factors(k)
            ahead = here * nothing * fits[2]
            for who in (0, 1):
                ahead = ahead + self.by[who] @ (here * won * fits[who])
            total = float(ahead.sum())
            if not total > 0.0:
                return NoLegalPath(k)
            ahead = ahead / total
            columns.append((here, ahead))
        if not float(self._gap(ahead, self.runs[-1]) @ self.lattice.last) > 0.0:
            return NoLegalPath(len(self.likely))
        return columns

    def _gap(self, ahead: Floats, run: Floats) -> Floats:
        """States after a gap in which rallies may have been lost."""
        total, lost = np.asarray(ahead * run[0], dtype=float), ahead
        for chance in run[1:]:
            lost = self.any @ lost
            total = total + chance * lost
        return total

    def _gap_back(self, back: Floats, run: Floats, ahead: Floats) -> tuple[Floats, Floats]:
        """Return the same backwards, and the chance of each number of lost rallies."""
        total, lost = back * run[0], back
        counts = [run[0] * float(ahead @ back)]
        for chance in run[1:]:
            lost = self.any_back @ lost
            total = total + chance * lost
            counts.append(chance * float(ahead @ lost))
        found = np.array(counts)
        return total / total.max(), found / found.sum()

    def best(self, chances: Posterior) -> DecodedPath:
        """Return the legal path whose claims add up to the most: outcomes, lost rallies, and a little
        the serve.
        """
        ways = _Ways(self.lattice)
        rallies = len(self.likely)
        values: list[list[Floats]] = [[] for _ in range(rallies + 1)]
        value = np.where(self.lattice.last > 0.0, 0.0, DEAD)
        for k in range(rallies, -1, -1):
            values[k] = ways.through_gap(value, chances.missed[k])
            value = values[k][0]
            if k:
                options = self._options(ways, value, chances, k - 1)
                value = options.max(axis=0)
        start = np.where(self.lattice.first > 0.0, value, DEAD)
        return self._walk(ways, values, chances, int(start.argmax()))

    def _options(self, ways: _Ways, value: Floats, chances: Posterior, k: int) -> Floats:
        """Value of each outcome of rally k in each state before it; DEAD where it cannot be."""
        won, nothing = self.weights(k)
        fits, reward = self.outcome_factors(k), chances.outcome[k]
        serve = SERVE_WEIGHT * self._serve_chances(chances.before[k])
        rows = [
            np.where((won > 0.0) & (fits[who] > 0.0), ways.after(value, who) + reward[who] + serve, DEAD)
            for who in (0, 1)
        ]
        rows.append(np.where((nothing > 0.0) & (fits[2] > 0.0), value + reward[2] + serve, DEAD))
        return np.array(rows)

    def _serve_chances(self, before: Floats) -> Floats:
        """For each state the chance of its server and box, whatever the score."""
        four = np.bincount(self.seen, weights=before * self.live, minlength=4)
        return np.asarray(four[self.seen], dtype=float)

    def _walk(self, ways: _Ways, values: list[list[Floats]], chances: Posterior, state: int) -> DecodedPath:
        """Follow the best choices from the first state."""
        states, outcomes, lost = [], [], []
        rallies = len(self.likely)
        for k in range(rallies + 1):
            if k == 0:
                gap, state = ways.walk_gap(values[0], chances.missed[0], state)
                lost.append(gap)
                continue
            options = self._options(ways, values[k][0], chances, k - 1)[:, state]
            chosen = int(options.argmax())
            states.append(state)
            outcomes.append(chosen)
            if chosen < 2:
                state = ways.step(values[k][0], state, chosen)
            gap, state = ways.walk_gap(values[k], chances.missed[k], state)
            lost.append(gap)
        return DecodedPath(tuple(states), tuple(outcomes), tuple(lost), state)


class _Ways:
    """Steps sorted by their source, for the best step out of each state."""

    def __init__(self, lattice: Lattice) -> None:
        n = len(lattice.at)
        self.states = n
        self.sorted: list[tuple[Ints, Ints, Ints]] = []
        for who in (0, 1):
            mine = np.flatnonzero(lattice.winner == who)
            mine = mine[np.argsort(lattice.source[mine], kind="stable")]
            source, target = lattice.source[mine], lattice.target[mine]
            begins = np.flatnonzero(np.r_[True, source[1:] != source[:-1]]) if len(mine) else mine
            self.sorted.append((source, target, begins))

    def after(self, value: Floats, who: int) -> Floats:
        """Return the best value after `who` wins, for each state."""
        source, target, begins = self.sorted[who]
        best = np.full(self.states, DEAD)
        if len(source):
            best[source[begins]] = np.maximum.reduceat(value[target], begins)
        return best

    def step(self, value: Floats, state: int, who: int) -> int:
        """Return the best state after `who` wins in `state`."""
        source, target, _ = self.sorted[who]
        low, high = np.searchsorted(source, state, "left"), np.searchsorted(source, state, "right")
        mine = target[low:high]
        return int(mine[value[mine].argmax()])

    def through_gap(self, value: Floats, missed: Floats) -> list[Floats]:
        """Value on entering a gap, then value of having still 0, 1, 2, ... lost rallies to go in it."""
        left = [value]
        for _ in missed[1:]:
            left.append(np.maximum(self.after(left[-1], 0), self.after(left[-1], 1)))
        entering = np.max([v + chance for v, chance in zip(left, missed, strict=True)], axis=0)
        return [entering, *left]

    def walk_gap(
        self, values: list[Floats], missed: Floats, state: int
    ) -> tuple[tuple[tuple[int, int], ...], int]:
        """Return the lost rallies of the best way through a gap (state before, winner), and the state
        after it.
        """
        left = values[1:]
        count = int(np.argmax([v[state] + chance for v, chance in zip(left, missed, strict=True)]))
        lost = []
        for to_go in range(count, 0, -1):
            after = [self.after(left[to_go - 1], who)[state] for who in (0, 1)]
            who = int(np.argmax(after))
            lost.append((state, who))
            state = self.step(left[to_go - 1], state, who)
        return tuple(lost), state


def _steps(lattice: Lattice, who: int, shape: tuple[int, int]) -> sparse.csr_matrix:
    """Return the steps in which `who` wins, as a matrix from source to target."""
    mine = lattice.winner == who
    return sparse.csr_matrix(
        (lattice.chance[mine], (lattice.target[mine], lattice.source[mine])), shape=shape
    )


def _run_chances(mean: float) -> Floats:
    """Return chance of 0, 1, 2, ... lost rallies in a gap in which `mean` are expected (geometric)."""
    if mean <= 0.0:
        return np.ones(1)
    ratio = mean / (1.0 + mean)
    longest = min(MOST_MISSED, max(1, math.ceil(math.log(NEGLIGIBLE) / math.log(ratio))))
    run = (1.0 - ratio) * ratio ** np.arange(longest + 1)
    return np.asarray(run / run.sum(), dtype=float)
