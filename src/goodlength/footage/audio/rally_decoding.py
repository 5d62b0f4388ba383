"""Rallies from named impacts: the best path over strikes, each rally with a chance that it is one.

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

from goodlength.footage.audio.impact_network import STATES, SURFACES, Impacts, Values

Numbers = NDArray[np.float64]

LEAST_STRIKE = -3.5  # log-odds of a strike below which an impact is none
LEAST_GAP_S, SHORT_GAP_S, LONG_GAP_S, MOST_GAP_S = 0.3, 0.5, 2.6, 4.5
SHORT_COST, LONG_COST = 2.0, 1.5
APART_S = 2.5  # a serve follows the last strike of the rally before by at least this
STRIKE_CAP, BORDER_CAP, STATE_CAP = 4.0, 5.0, 5.0
STATE_A_S = 0.8
BORDER_COST = 1.0
SKIPPED = 0.5
INNER = 0.8  # how much an inner strike costs that sounds like a first or a last one
RACKET_SHARE = 0.6  # of the name, beside the network's own word on strikes in a rally


@dataclass(frozen=True)
class DecodedRally:
    """A rally: its strikes in seconds, the chance that each is one, and the chance that the span is right."""

    strikes_s: Numbers
    strike_chance: Numbers
    chance: float
    features: Numbers

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
    named = replace(impacts, strike=strike_odds(impacts))
    kept = named.strike > LEAST_STRIKE
    found = named.where(kept)
    if not len(found):
        return []
    state = state_odds(found) + (0.0 if busy is None else busy[kept])
    paths = _paths(found, state)
    return [_rally(found, state, path, paths, k) for k, path in enumerate(paths)]


def strike_odds(impacts: Impacts) -> Values:
    """Return the log-odds of a strike, by the network's word on rallies and by the name it gives."""
    racket = np.clip(impacts.surface[:, SURFACES.index("racket")], 1e-3, 1 - 1e-3)
    return (1 - RACKET_SHARE) * impacts.strike + RACKET_SHARE * np.log(racket / (1 - racket))


def state_odds(impacts: Impacts) -> Numbers:
    """Return the log-odds of a rally at each impact."""
    chance = np.clip(impacts.state[:, 1].astype(np.float64), 1e-4, 1 - 1e-4)
    return np.asarray(np.log(chance / (1 - chance)))


def _paths(found: Impacts, state: Numbers) -> list[list[int]]:
    """Return the strikes of each rally on the best path, as places in `found`."""
    at = found.time_s.astype(np.float64).tolist()
    node = np.clip(found.strike, -STRIKE_CAP, STRIKE_CAP).tolist()
    first = (np.clip(found.first, -BORDER_CAP, BORDER_CAP) - BORDER_COST).tolist()
    last = (np.clip(found.last, -BORDER_CAP, BORDER_CAP) - BORDER_COST).tolist()
    per_s = (STATE_A_S * np.clip(state, -STATE_CAP, STATE_CAP)).tolist()
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


# What the chance of a span is made of, in the order of `CHANCE_WEIGHTS`
FEATURES = (
    "first", "last", "mean strike", "least strike", "mean state", "least state", "strikes", "time before",
    "time after", "level", "other court", "rackets left out", "walls a strike", "racket by name",
    "unevenness", "hitting", "one strike", "clear names",
)  # fmt: skip
CHANCE_WEIGHTS = (
    0.147, 0.401, -0.217, 0.039, 0.281, 0.244, 0.593, 0.032, 0.49, 0.648, 5.409, 0.048, 0.578, -1.691, 0.661,
    -2.143, 0.405, 1.202,
)  # fmt: skip
CHANCE_OFFSET = -1.511


def _rally(found: Impacts, state: Numbers, path: list[int], paths: list[list[int]], k: int) -> DecodedRally:
    at = found.time_s.astype(np.float64)
    inside = slice(path[0], path[-1] + 1)
    own = found.strike[path].astype(np.float64)
    left_out = [i for i in range(path[0], path[-1] + 1) if i not in set(path)]
    before = at[path[0]] - at[paths[k - 1][-1]] if k else 30.0
    after = at[paths[k + 1][0]] - at[path[-1]] if k + 1 < len(paths) else 30.0
    walls = found.surface[inside][:, SURFACES.index("front wall")].sum() / len(path)
    names = found.surface[path]
    gaps = np.log(np.diff(at[path])) if len(path) > 2 else np.zeros(2)
    features = np.array(
        [
            np.clip(found.first[path[0]], -6, 6),
            np.clip(found.last[path[-1]], -6, 6),
            np.clip(own, -6, 6).mean(),
            max(-6.0, float(own.min())),
            np.clip(state[inside], -6, 6).mean(),
            max(-6.0, float(state[path].min())),
            np.log(len(path)),
            np.log(min(before, 30.0)),
            np.log(min(after, 30.0)),
            found.level_db[path].mean() / 10,
            names[:, SURFACES.index("other court")].mean(),
            max((float(found.strike[i]) for i in left_out), default=-4.0),
            min(2.0, float(walls)),
            names[:, SURFACES.index("racket")].mean(),
            gaps.std(),
            found.state[path, STATES.index("hitting")].mean(),
            float(len(path) == 1),
            found.surface[inside].max(axis=1).mean(),
        ]
    )
    odds = float(features @ np.array(CHANCE_WEIGHTS)) + CHANCE_OFFSET
    return DecodedRally(at[path], 1 / (1 + np.exp(-own)), 1 / (1 + float(np.exp(-odds))), features)
