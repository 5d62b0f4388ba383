"""Decode rallies from classified impacts: the best path over strikes, each rally with a probability.

All rallies of a recording are found at once: a path runs through strikes, from a first one to a last one,
and idles between rallies. Each strike, beginning, end and the state of play between two strikes count by the
network's log-odds; gaps must be those of play, and between two strikes the ball is heard at the front wall,
nearer the first of them. How far "sure" holds is chosen on the choosing family.

```
 impacts    . | . | .  |  . |  .    .      .   .   | . | .
 path         ●───●────●────●                      ●───●
            first         last    (idle)         first last
```
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, fields, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts, Values
from goodlength.footage.audio.span_chances.rally_probability_from_context import SpanAlone, context_odds
from goodlength.footage.audio.span_chances.rally_probability_from_span import (
    MOST_ODDS,
    TYPICAL,
    SpanEvidence,
    features_of,
    span_odds,
    typical_odds,
)

Numbers = NDArray[np.float64]

LEAST_STRIKE = -3.5  # log-odds of a strike below which an impact is none
LEAST_GAP_S, SHORT_GAP_S, LONG_GAP_S, MOST_GAP_S = 0.3, 0.5, 2.6, 4.5
SHORT_COST, LONG_COST = 2.0, 2.0
APART_S = 2.5  # a serve follows the last strike of the rally before by at least this
STRIKE_CAP, BORDER_CAP, STATE_CAP = 4.0, 5.0, 5.0
SKIPPED = 0.5
LIKE_WARM_UP = 0.5
INNER = 0.7  # how much an inner strike costs that sounds like a first or a last one
# Between two strikes the front wall: its weight, its least chance, and the chance from which nothing is lost
WALL_WEIGHT, WALL_LEAST, WALL_ENOUGH = 1.0, 0.05, 0.6
# Share of the time from strike to strike at which the front wall is struck, and how well it fits there
WALL_SHARES, WALL_FITS = (0.0, 0.04, 0.0401, 0.5, 0.75), (0.1, 0.1, 1.0, 1.0, 0.15)


@dataclass(frozen=True)
class Search:
    """How rallies are searched for.

    `racket_share` is how much the name "racket" counts beside the network's own word on strikes in a rally;
    `hitting_share` how much of the chance of hitting without a rally is taken for one; `state_a_s` how much
    the state of play counts a second; `border_cost` what a beginning and an end cost. Chosen on the choosing
    family.
    """

    racket_share: float
    hitting_share: float
    state_a_s: float
    border_cost: float


USUAL = Search(0.8, 0.3, 0.4, 1.0)
GENEROUS = Search(0.95, 0.1, 0.8, 0.0)  # for the chance


@dataclass(frozen=True)
class DecodedRally:
    """A rally: its strikes in seconds, the chance that each is one, and the chance that the span is right.

    `alone` is the log-odds of the span by itself, before what stands around it was counted; `typical` the
    network's odds in the whole recording; `like_warm_up` says that most spans of the recording sound like
    hitting without a match.
    """

    strikes_s: Numbers
    strike_chance: Numbers
    chance: float
    features: Numbers
    alone: float = 0.0
    typical: Numbers = field(default_factory=lambda: np.zeros(len(TYPICAL)))
    like_warm_up: bool = False

    @property
    def by_itself(self) -> SpanAlone:
        """The span as those around it take it into account."""
        return SpanAlone(self.strikes_s, self.alone)

    @property
    def start_s(self) -> float:
        """The first strike: the serve."""
        return float(self.strikes_s[0])

    @property
    def end_s(self) -> float:
        """The last strike."""
        return float(self.strikes_s[-1])


@dataclass(frozen=True)
class PathSearch:
    """Possible strikes, their places among all impacts, the log-odds of a rally at each, and what was found.

    `paths` holds the strikes of each rally as places in `found`, `walls` what is lost between two of them
    where no front wall is heard.
    """

    found: Impacts
    candidates: NDArray[np.int64]
    state: Numbers
    paths: list[list[int]]
    walls: list[Numbers]

    @property
    def at_s(self) -> Numbers:
        """Moments of the possible strikes."""
        return self.found.time_s.astype(np.float64)

    @property
    def spans(self) -> list[tuple[float, float]]:
        """The first and the last strike of each rally."""
        at = self.at_s
        return [(float(at[path[0]]), float(at[path[-1]])) for path in self.paths]


def decode_rallies(
    impacts: Impacts, busy: Numbers | None = None, unadapted: Impacts | None = None
) -> list[DecodedRally]:
    """Return the rallies in order of time.

    Parameters
    ----------
    impacts : Impacts
    busy : ndarray, shape (n,), optional
        What the picture says at each impact: log-odds of play by how much the players move.
    unadapted : Impacts, optional
        The same before their names were adapted to the recording.
    """
    search = path_search(impacts, busy, USUAL)
    before = search if unadapted is None else path_search(unadapted, busy, USUAL)
    early = [before.at_s[path] for path in before.paths]
    evidence = SpanEvidence(
        generous=path_search(impacts, busy, GENEROUS).spans,
        walls=search.walls,
        unadapted_s=np.concatenate([np.zeros(0), *early]),
        unadapted=before.spans,
    )
    found, paths = search.found, search.paths
    features = features_of(found, search.state, paths, evidence)
    at, chance = search.at_s, 1 / (1 + np.exp(-found.strike.astype(np.float64)))
    hitting = [float(found.state[path, STATES.index("hitting")].mean()) for path in paths]
    like_warm_up = bool(hitting) and float(np.median(hitting)) > LIKE_WARM_UP
    alone = span_odds(features).tolist()
    spans = [SpanAlone(at[path], odds) for path, odds in zip(paths, alone, strict=True)]
    typical = typical_odds(found, search.state, paths)
    context = np.clip(context_odds(impacts, spans, typical), -MOST_ODDS, MOST_ODDS)
    whole = 1 / (1 + np.exp(-context))
    return [
        DecodedRally(at[path], chance[path], float(within), row, odds, typical, like_warm_up)
        for path, row, odds, within in zip(paths, features, alone, whole, strict=True)
    ]


def strike_paths(impacts: Impacts) -> list[NDArray[np.int64]]:
    """Return the strikes of each rally on the best path, as places in `impacts`."""
    search = path_search(impacts, None, USUAL)
    return [search.candidates[path] for path in search.paths]


def path_search(impacts: Impacts, busy: Numbers | None, search: Search) -> PathSearch:
    """Return the best path over strikes."""
    named = replace(impacts, strike=strike_odds(impacts, search.racket_share))
    candidates = np.flatnonzero(named.strike > LEAST_STRIKE)
    found = Impacts(*(getattr(named, f.name)[candidates] for f in fields(named)))
    state = state_odds(found, search.hitting_share) + (0.0 if busy is None else busy[candidates])
    pairs = strike_pairs(impacts, candidates)
    paths = _paths(found, state, search, pairs) if len(found) else []
    walls = [np.array([pairs.wall_between(j, k) for j, k in itertools.pairwise(path)]) for path in paths]
    return PathSearch(found, candidates, state, paths, walls)


@dataclass(frozen=True)
class StrikePairs:
    """Pairs of possible strikes near enough to follow each other, by the later one and then the earlier.

    `begin[k]` is the first pair whose later strike is k; `wall` the log-odds lost where no front wall is
    heard between the two at a fitting moment.
    """

    begin: NDArray[np.int64]
    earlier: NDArray[np.int64]
    later: NDArray[np.int64]
    wall: Numbers

    def wall_between(self, j: int, k: int) -> float:
        """Return what is lost between two strikes of a path."""
        return float(self.wall[self.begin[k] + j - self.earlier[self.begin[k]]])


def strike_pairs(impacts: Impacts, candidates: NDArray[np.int64]) -> StrikePairs:
    """Return the pairs among the impacts at places `candidates`."""
    every = impacts.time_s.astype(np.float64)
    at = every[candidates]
    oldest = np.searchsorted(at, at - MOST_GAP_S, "right")
    count = np.arange(len(at)) - oldest
    begin = np.concatenate([[0], np.cumsum(count)])
    later = np.repeat(np.arange(len(at)), count)
    earlier = oldest[later] + np.arange(len(later)) - begin[later]
    inside = candidates[later] - candidates[earlier] - 1  # impacts between the two
    pair = np.repeat(np.arange(len(later)), inside)
    start = np.cumsum(inside) - inside
    between = candidates[earlier][pair] + 1 + np.arange(len(pair)) - start[pair]
    share = (every[between] - at[earlier][pair]) / np.maximum(at[later] - at[earlier], 1e-3)[pair]
    wall = impacts.surface[:, SURFACES.index("front wall")].astype(np.float64)
    fit = wall[between] * np.interp(share, WALL_SHARES, WALL_FITS)
    best = np.full(len(later), WALL_LEAST)
    some = inside > 0
    if len(fit):
        best[some] = np.maximum(np.maximum.reduceat(fit, start[some]), WALL_LEAST)
    return StrikePairs(begin, earlier, later, WALL_WEIGHT * np.minimum(0.0, np.log(best / WALL_ENOUGH)))


def strike_odds(impacts: Impacts, racket_share: float) -> Values:
    """Return the log-odds of a strike, by the network's word on rallies and by the name it gives."""
    racket = np.clip(impacts.surface[:, SURFACES.index("racket")], 1e-3, 1 - 1e-3)
    return (1 - racket_share) * impacts.strike + racket_share * np.log(racket / (1 - racket))


def state_odds(impacts: Impacts, hitting_share: float) -> Numbers:
    """Return the log-odds of a rally at each impact."""
    state = impacts.state.astype(np.float64)
    chance = state[:, STATES.index("rally")] + hitting_share * state[:, STATES.index("hitting")]
    chance = np.clip(chance, 1e-4, 1 - 1e-4)
    return np.asarray(np.log(chance / (1 - chance)))


def _paths(found: Impacts, state: Numbers, search: Search, pairs: StrikePairs) -> list[list[int]]:
    """Return the strikes of each rally on the best path, as places in `found`."""
    at = found.time_s.astype(np.float64).tolist()
    node = np.clip(found.strike, -STRIKE_CAP, STRIKE_CAP).tolist()
    first = (np.clip(found.first, -BORDER_CAP, BORDER_CAP) - search.border_cost).tolist()
    last = (np.clip(found.last, -BORDER_CAP, BORDER_CAP) - search.border_cost).tolist()
    step = _steps(found, state, search, pairs).tolist()
    begin, earlier = pairs.begin.tolist(), pairs.earlier.tolist()
    n = len(at)
    inside, before = [0.0] * n, [-1] * n  # best path that ends at this strike, and the strike before it
    over, ended = [0.0] * n, [-1] * n  # best path settled by then, and the last strike of its last rally
    settled = 0
    for k in range(n):
        while at[settled] <= at[k] - APART_S:
            settled += 1
        best = (over[settled - 1] if settled else 0.0) + first[k]
        for pair in range(begin[k], begin[k + 1]):
            value = inside[earlier[pair]] + step[pair]
            if value > best:
                best, before[k] = value, earlier[pair]
        inside[k] = best + node[k]
        over[k], ended[k] = (over[k - 1], ended[k - 1]) if k else (0.0, -1)
        if inside[k] + last[k] > over[k]:
            over[k], ended[k] = inside[k] + last[k], k
    return _traced(at, before, ended)


def _steps(found: Impacts, state: Numbers, search: Search, pairs: StrikePairs) -> Numbers:
    """Return what each pair of strikes counts if one follows the other within a rally."""
    at, j, k = found.time_s.astype(np.float64), pairs.earlier, pairs.later
    gap = at[k] - at[j]
    cost = np.where(gap < SHORT_GAP_S, SHORT_COST, LONG_COST * np.maximum(0.0, gap - LONG_GAP_S))
    per_s = search.state_a_s * np.clip(state, -STATE_CAP, STATE_CAP)
    within = 0.5 * (per_s[j] + per_s[k]) * np.minimum(gap, LONG_GAP_S)
    skips = np.cumsum(SKIPPED * np.clip(found.strike, 0.0, STRIKE_CAP).astype(np.float64))
    skipped = skips[k - 1] - skips[j]
    begins, ends = (INNER * np.logaddexp(0, odds.astype(np.float64)) for odds in (found.first, found.last))
    value = within + pairs.wall - cost - skipped - begins[k] - ends[j]
    return np.where(gap > LEAST_GAP_S, value, -np.inf)


def _traced(at: list[float], before: list[int], ended: list[int]) -> list[list[int]]:
    """Return the chosen rallies, in order of time, from the last back to the first."""
    paths = []
    k = ended[-1]
    while k >= 0:
        path = [k]
        while before[path[-1]] >= 0:
            path.append(before[path[-1]])
        paths.append(path[::-1])
        limit = at[path[-1]] - APART_S
        settled = int(np.searchsorted(at, limit, "right"))
        k = ended[settled - 1] if settled else -1
    return paths[::-1]
