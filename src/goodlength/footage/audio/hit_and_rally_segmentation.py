"""Segment impacts into the hits of two players, and hits into rallies.

A rally is a chain of loud, sudden impacts in the rhythm of play, each followed by a quieter one (the wall,
the floor). The best set of chains over the whole sound is found at once, so that a clap, a word or the
next court cannot stretch one. What is less sure is offered as doubtful, never dropped.

```
 impacts   | |  .| .  |: .|  .      ..::.:..        |  .    |' .|
 chains    ●────●────●────●                         ●───────●
           rally                    (applause)      rally, or a ball sent back: doubtful
```

Source: GL-FOOTAGE-STUDY for the impacts; the chains were fitted on invented recordings
(`synthetic.simulated_court_audio`), not on real ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.onset_detection import Numbers, Onsets

# Rhythm of play between two hits, and what an impact counts for: fitted on invented recordings, ASSUMED
LEAST_GAP_S, MOST_GAP_S = 0.5, 2.6
USUAL_GAP_S, GAP_SPREAD = 1.12, (0.33, 0.33)  # of its logarithm, below and above
BELOW_USUAL_DB = 5.0
LEVEL_WEIGHT, LEVEL_CAP = 0.45, (-6.0, 2.0)
RISE_WEIGHT, RISE_USUAL_DB, RISE_CAP = 0.12, 12.0, (-1.5, 2.0)
FALL_WEIGHT, FALL_USUAL_DB, FALL_CAP = 0.1, -2.0, (-0.5, 1.5)
CROWDED_S, CROWDED_FREE, CROWDED_COST = 0.5, 4, 1.2
ECHO_S, ECHO_DB, ECHO_GAIN, NO_ECHO_COST = (0.1, 1.0), (-20.0, 3.0), 0.6, 1.2
CHAIN_COST, GAP_GAIN, END_GAIN = 3.3, 0.6, 0.3
LENIENT_COST, LENIENT_DB = 1.6, (3.0, 4.5)
HIT_RISE_DB, PART_RISE_DB, CLEAR_RISE_DB = 6.0, 5.0, 8.0
DOMINANT_S = 0.25
LEAST_IMPACTS = 6
# Sound is usable when the hits stand out: clear-cut between courts open to the microphone and glass, invented
USABLE_RISE_DB, USABLE_ABOVE_DB = 13.0, 8.0
# A pause long enough for a rally between, and not a break; how far that rally is from its neighbours
DUE_PAUSE_S, DUE_APART_S = (25.0, 70.0), 7.0
FEW_HITS, FEW_AN_HOUR = 4, 200.0  # chains shorter than this, and this few hits: scraps of muffled play
# A knock-up: pauses under 6 s make it one after 60 s, pauses under 13 s after 75 s
KNOCK_UP_PAUSE_S, KNOCK_UP_S, KNOCK_UP_HITS, KNOCK_UP_FILLED = (6.0, 13.0), (60.0, 75.0), (35, 55), 0.75
# ... or its pauses are short for a serve in the middle of them, and a long one ends it
BEFORE_MATCH_S, BEFORE_MATCH_PAUSE_S, BEFORE_MATCH_PAUSES = 15.0, 6.5, 3
GUARD_S = 1.0
JOIN_S = 3.0


@dataclass(frozen=True)
class HitRun:
    """Hits that follow each other in the rhythm of play; `score` is how much better than none."""

    hits_s: Numbers
    level_db: Numbers
    rise_db: Numbers
    score: float

    @property
    def start_s(self) -> float:
        """The first hit: the serve."""
        return float(self.hits_s[0])

    @property
    def end_s(self) -> float:
        """The last hit."""
        return float(self.hits_s[-1])


@dataclass(frozen=True)
class Segmentation:
    """Found in all impacts: sure rallies, doubtful ones, the knock-up, and whether the sound is usable."""

    sure: tuple[HitRun, ...]
    doubtful: tuple[HitRun, ...]
    knock_up: tuple[HitRun, ...]
    usable: bool


def segment_rallies(onsets: Onsets) -> Segmentation:
    """Return the chains of hits among all impacts of a recording.

    Limits
    ------
    Fitted and measured on invented recordings; never on a real court. A rally of a single hit is always
    doubtful.
    """
    usual = usual_level_db(onsets)
    if usual is None:
        return Segmentation((), (), (), False)
    apart = log_odds_without_level(onsets)
    found = [c for c in best_hit_runs(onsets, usual, apart=apart) if len(c.hits_s) > 1]
    # The level of this court's hits is taken from the chains themselves, until it stands.
    for _ in range(3):
        if len(found) < 2:
            break
        again = _level_of(found)
        settled = abs(again - usual) < 1.0
        usual = again
        if settled:
            break
        found = [c for c in best_hit_runs(onsets, usual, apart=apart) if len(c.hits_s) > 1]
    usable = _usable(found, onsets)
    warm, rest = drop_warm_up(join_runs(found))
    doubtful: list[HitRun] = []
    for lower_db in LENIENT_DB:
        lenient = best_hit_runs(onsets, usual - lower_db, LENIENT_COST, apart)
        known = [*found, *doubtful]
        doubtful += [c for c in lenient if not any(_touch(c, other) for other in known)]
    filling = [c for c in doubtful if _fills_a_pause(c, [*rest, *warm])]
    rest = sorted([*rest, *filling], key=lambda c: c.start_s)
    doubtful = sorted((c for c in doubtful if not any(c is run for run in filling)), key=lambda c: c.start_s)
    return Segmentation(tuple(rest), tuple(doubtful), tuple(warm), usable)


def usual_level_db(onsets: Onsets) -> float | None:
    """Return the level between loud and quiet impacts, from those that are loudest around; None with too
    few.
    """
    clear = onsets.where(onsets.rise_db >= CLEAR_RISE_DB)
    levels = clear.level_db[loudest_around(clear)]
    return otsu_threshold(levels) if len(levels) >= LEAST_IMPACTS else None


def loudest_around(onsets: Onsets) -> NDArray[np.bool_]:
    """Return whether an impact is the loudest within a quarter of a second on both sides."""
    t, level = onsets.time_s, onsets.level_db
    first = np.searchsorted(t, t - DOMINANT_S)
    last = np.searchsorted(t, t + DOMINANT_S, "right")
    return np.array(
        [level[i] >= level[a:b].max() for i, (a, b) in enumerate(zip(first, last, strict=True))], bool
    )


def otsu_threshold(values: Numbers, bins: int = 60) -> float:
    """Return the value that parts numbers best in two groups (largest variance between them)."""
    count, edges = np.histogram(values, bins)
    middle = (edges[:-1] + edges[1:]) / 2
    below = np.cumsum(count)[:-1].astype(float)
    above = count.sum() - below
    mass = np.cumsum(count * middle)
    inside = (below > 0) & (above > 0)
    if not inside.any():
        return float(middle[0])
    apart = np.zeros(len(below))
    low, high = mass[:-1][inside] / below[inside], (mass[-1] - mass[:-1][inside]) / above[inside]
    apart[inside] = below[inside] * above[inside] * (high - low) ** 2
    return float(middle[int(np.argmax(apart))])


def _level_of(chains: list[HitRun]) -> float:
    """Return a little below the usual level of the louder half of the hits."""
    levels = np.sort(np.concatenate([c.level_db for c in chains]))
    return float(np.median(levels[len(levels) // 2 :])) - BELOW_USUAL_DB


def hit_log_odds(onsets: Onsets, usual_db: float, apart: Numbers | None = None) -> Numbers:
    """Return how much each impact speaks for a hit of this court: its level, and what it is apart from
    its level.
    """
    found = np.clip(LEVEL_WEIGHT * (onsets.level_db - usual_db), LEVEL_CAP[0], LEVEL_CAP[1])
    return np.asarray(found + (log_odds_without_level(onsets) if apart is None else apart))


def log_odds_without_level(onsets: Onsets) -> Numbers:
    """Return what speaks for a hit apart from its level: suddenness, fall, and its company."""
    t, level, rise = onsets.time_s, onsets.level_db, onsets.rise_db
    found = np.clip(RISE_WEIGHT * (rise - RISE_USUAL_DB), *RISE_CAP)
    found -= np.clip(FALL_WEIGHT * (onsets.fall_db - FALL_USUAL_DB), *FALL_CAP)
    part = rise >= PART_RISE_DB
    near = np.searchsorted(t, [t - CROWDED_S, t + CROWDED_S])
    after = np.searchsorted(t, [t + ECHO_S[0], t + ECHO_S[1]])
    for i in range(len(t)):
        around = slice(near[0, i], near[1, i])
        crowd = int(np.count_nonzero(part[around] & (level[around] > level[i] - 10))) - 1
        found[i] -= CROWDED_COST * max(0, crowd - CROWDED_FREE)
        later = slice(after[0, i], after[1, i])
        above = level[later] - level[i]
        answered = bool((part[later] & (above > ECHO_DB[0]) & (above < ECHO_DB[1])).any())
        found[i] += ECHO_GAIN if answered else -NO_ECHO_COST
    return np.asarray(found)


def best_hit_runs(
    onsets: Onsets, usual_db: float, cost: float | None = None, apart: Numbers | None = None
) -> list[HitRun]:
    """Return the set of chains, one after the other, with the greatest sum of evidence.

    A dynamic program over the impacts: each may begin a chain (at a cost), go on with one in the rhythm of
    play, or belong to none.
    """
    to_begin = CHAIN_COST if cost is None else cost
    loud = onsets.rise_db >= HIT_RISE_DB
    weight = hit_log_odds(onsets, usual_db, apart)[loud]
    hits = onsets.where(loud)
    t, n = hits.time_s, len(hits)
    best, before = np.zeros(n), np.full(n, -1)
    idle = np.zeros(n + 1)
    for i in range(n):
        best[i] = idle[i] - to_begin
        j = i - 1
        while j >= 0 and t[i] - t[j] <= MOST_GAP_S:
            gap = t[i] - t[j]
            if gap >= LEAST_GAP_S:
                value = best[j] + gap_log_odds(gap)
                if value > best[i]:
                    best[i], before[i] = value, j
            j -= 1
        best[i] += weight[i]
        idle[i + 1] = max(idle[i], best[i])
    return _traced(hits, weight, best, before, idle)


def gap_log_odds(gap_s: float) -> float:
    """Return how much a gap between two hits speaks for play."""
    away = math.log(gap_s / USUAL_GAP_S)
    return GAP_GAIN - 0.5 * (away / GAP_SPREAD[away > 0]) ** 2


def drop_weak_end(members: list[int], times: Numbers, weight: Numbers) -> list[int]:
    """Return a chain without its last impacts when these together hardly speak for play: a ball sent back."""
    gain, cut = 0.0, len(members)
    for k in range(len(members) - 1, 1, -1):
        i, j = members[k], members[k - 1]
        gain += weight[i] + gap_log_odds(times[i] - times[j])
        if gain < END_GAIN:
            cut = k
    return members[:cut]


def _traced(
    hits: Onsets, weight: Numbers, best: Numbers, before: NDArray[np.int64], idle: Numbers
) -> list[HitRun]:
    """Return the chains chosen, from the last back to the first."""
    found: list[HitRun] = []
    i = len(hits) - 1
    while i >= 0:
        if best[i] < idle[i] or best[i] != idle[i + 1]:
            i -= 1
            continue
        members = [i]
        while before[members[-1]] >= 0:
            members.append(int(before[members[-1]]))
        members.reverse()
        score = float(best[i] - idle[members[0]])
        first = members[0]
        if score > 0:
            members = drop_weak_end(members, hits.time_s, weight)
            found.append(HitRun(hits.time_s[members], hits.level_db[members], hits.rise_db[members], score))
        i = first - 1
    return found[::-1]


def join_runs(chains: list[HitRun]) -> list[HitRun]:
    """Join chains whose pause between them is too short for a new serve."""
    out: list[HitRun] = []
    for chain in chains:
        if out and chain.start_s - out[-1].end_s < JOIN_S:
            last = out.pop()
            out.append(
                HitRun(
                    np.concatenate([last.hits_s, chain.hits_s]),
                    np.concatenate([last.level_db, chain.level_db]),
                    np.concatenate([last.rise_db, chain.rise_db]),
                    last.score + chain.score,
                )
            )
        else:
            out.append(chain)
    return out


def _touch(a: HitRun, b: HitRun) -> bool:
    return a.start_s < b.end_s + GUARD_S and b.start_s < a.end_s + GUARD_S


def _fills_a_pause(chain: HitRun, others: list[HitRun]) -> bool:
    """Return whether a faint exchange of hits lies well inside a pause in which a rally is due."""
    before = max((c.end_s for c in others if c.end_s <= chain.start_s), default=None)
    after = min((c.start_s for c in others if c.start_s >= chain.end_s), default=None)
    if before is None or after is None or len(chain.hits_s) < 2:
        return False
    due = DUE_PAUSE_S[0] <= after - before <= DUE_PAUSE_S[1]
    return due and min(chain.start_s - before, after - chain.end_s) >= DUE_APART_S


def _usable(found: list[HitRun], onsets: Onsets) -> bool:
    """Return whether hits stand out as they do with the microphone in the open."""
    if not found:
        return False
    hits = [len(c.hits_s) for c in found]
    length_s = float(onsets.time_s[-1] - onsets.time_s[0])
    if np.median(hits) < FEW_HITS and sum(hits) < FEW_AN_HOUR * length_s / 3600:
        return False
    rise = float(np.median(np.concatenate([c.rise_db for c in found])))
    level = float(np.median(np.concatenate([c.level_db for c in found])))
    return rise >= USABLE_RISE_DB and level - float(np.median(onsets.level_db)) >= USABLE_ABOVE_DB


def drop_warm_up(chains: list[HitRun]) -> tuple[list[HitRun], list[HitRun]]:
    """Return the knock-up at the beginning, if there is one, and the rest.

    A knock-up is a long stretch of hits with hardly a pause; between rallies there are pauses for the serve.
    The longest such stretch from the first hit on is taken.
    """
    taken, hits, played, longest = 0, 0, 0.0, 0.0
    pauses: list[float] = []
    for i, chain in enumerate(chains):
        if i:
            pauses.append(chain.start_s - chains[i - 1].end_s)
            longest = max(longest, pauses[-1])
        hits += len(chain.hits_s)
        played += chain.end_s - chain.start_s
        length = chain.end_s - chains[0].start_s
        if longest >= KNOCK_UP_PAUSE_S[-1]:
            break
        k = 0 if longest < KNOCK_UP_PAUSE_S[0] else 1
        if length >= KNOCK_UP_S[k] and hits >= KNOCK_UP_HITS[k] and played >= KNOCK_UP_FILLED * length:
            taken = i + 1
        if (
            i + 1 < len(chains)
            and chains[i + 1].start_s - chain.end_s >= BEFORE_MATCH_S
            and len(pauses) >= BEFORE_MATCH_PAUSES
            and float(np.median(pauses)) <= BEFORE_MATCH_PAUSE_S
            and length >= KNOCK_UP_S[0]
            and hits >= KNOCK_UP_HITS[0]
        ):
            taken = i + 1
    return chains[:taken], chains[taken:]
