"""Decode rallies from classified impacts: the best path over strikes, each rally with a probability.

All rallies of a recording are found at once: a path runs through strikes, from a first one to a last one,
and idles between rallies. Each strike, beginning, end and the state of play between two strikes count by the
network's log-odds; gaps must be those of play. How far "sure" holds is chosen on the choosing family.

```
 impacts    . | . | .  |  . |  .    .      .   .   | . | .
 path         ●───●────●────●                      ●───●
            first         last    (idle)         first last
```
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts, Values
from goodlength.footage.audio.rally_span_probability import chances, features_of

Numbers = NDArray[np.float64]

LEAST_STRIKE = -3.5  # log-odds of a strike below which an impact is none
LEAST_GAP_S, SHORT_GAP_S, LONG_GAP_S, MOST_GAP_S = 0.3, 0.5, 2.6, 4.5
SHORT_COST, LONG_COST = 2.0, 2.0
APART_S = 2.5  # a serve follows the last strike of the rally before by at least this
STRIKE_CAP, BORDER_CAP, STATE_CAP = 4.0, 5.0, 5.0
SKIPPED = 0.5
LIKE_WARM_UP = 0.5
INNER = 1.2  # how much an inner strike costs that sounds like a first or a last one


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

    `like_warm_up` says that most spans of the recording sound like hitting without a match.
    """

    strikes_s: Numbers
    strike_chance: Numbers
    chance: float
    features: Numbers
    like_warm_up: bool = False

    @property
    def start_s(self) -> float:
        """The first strike: the serve."""
        return float(self.strikes_s[0])

    @property
    def end_s(self) -> float:
        """The last strike."""
        return float(self.strikes_s[-1])


def decode_rallies(impacts: Impacts, busy: Numbers | None = None) -> list[DecodedRally]:
    """Return the rallies in order of time.

    Parameters
    ----------
    impacts : Impacts
    busy : ndarray, shape (n,), optional
        What the picture says at each impact: log-odds of play by how much the players move.
    """
    found, state, paths = _searched(impacts, busy, USUAL)
    others, _, more = _searched(impacts, busy, GENEROUS)
    generous = [(float(others.time_s[path[0]]), float(others.time_s[path[-1]])) for path in more]
    features = features_of(found, state, paths, generous)
    at, chance = found.time_s.astype(np.float64), 1 / (1 + np.exp(-found.strike.astype(np.float64)))
    hitting = [float(found.state[path, STATES.index("hitting")].mean()) for path in paths]
    like_warm_up = bool(hitting) and float(np.median(hitting)) > LIKE_WARM_UP
    return [
        DecodedRally(at[path], chance[path], float(whole), row, like_warm_up)
        for path, row, whole in zip(paths, features, chances(features), strict=True)
    ]


def _searched(
    impacts: Impacts, busy: Numbers | None, search: Search
) -> tuple[Impacts, Numbers, list[list[int]]]:
    """Return possible strikes, the log-odds of a rally at each, and the strikes of each rally found."""
    named = replace(impacts, strike=strike_odds(impacts, search.racket_share))
    kept = named.strike > LEAST_STRIKE
    found = named.where(kept)
    state = state_odds(found, search.hitting_share) + (0.0 if busy is None else busy[kept])
    return found, state, _paths(found, state, search) if len(found) else []


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


def _paths(found: Impacts, state: Numbers, search: Search) -> list[list[int]]:
    """Return the strikes of each rally on the best path, as places in `found`."""
    at = found.time_s.astype(np.float64).tolist()
    node = np.clip(found.strike, -STRIKE_CAP, STRIKE_CAP).tolist()
    first = (np.clip(found.first, -BORDER_CAP, BORDER_CAP) - search.border_cost).tolist()
    last = (np.clip(found.last, -BORDER_CAP, BORDER_CAP) - search.border_cost).tolist()
    per_s = (search.state_a_s * np.clip(state, -STATE_CAP, STATE_CAP)).tolist()
    begins, ends = ((INNER * np.logaddexp(0, odds)).tolist() for odds in (found.first, found.last))
    n = len(at)
    inside, before = [0.0] * n, [-1] * n  # best path that ends at this strike, and the strike before it
    over, ended = [0.0] * n, [-1] * n  # best path settled by then, and the last strike of its last rally
    settled = 0
    for k in range(n):
        while at[settled] <= at[k] - APART_S:
            settled += 1
        inside[k] = (over[settled - 1] if settled else 0.0) + first[k] + node[k]
        skipped, j = 0.0, k - 1
        while j >= 0 and at[k] - at[j] < MOST_GAP_S:
            gap = at[k] - at[j]
            if gap > LEAST_GAP_S:
                cost = SHORT_COST if gap < SHORT_GAP_S else LONG_COST * max(0.0, gap - LONG_GAP_S)
                within = 0.5 * (per_s[j] + per_s[k]) * min(gap, LONG_GAP_S)
                value = inside[j] + within + node[k] - cost - skipped - begins[k] - ends[j]
                if value > inside[k]:
                    inside[k], before[k] = value, j
            skipped += SKIPPED * max(0.0, node[j])
            j -= 1
        over[k], ended[k] = (over[k - 1], ended[k - 1]) if k else (0.0, -1)
        if inside[k] + last[k] > over[k]:
            over[k], ended[k] = inside[k] + last[k], k
    return _traced(at, before, ended)


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
