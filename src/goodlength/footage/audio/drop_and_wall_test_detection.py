"""Detect drop and wall tests: thuds of a dropped ball, and the time between a hit and its wall impact.

A dropped ball bounces at intervals that shrink by much the same ratio each time. Of all impacts the longest
such series are taken, one after the other; people talk and walk between them.

```
 let fall   thud         thud    thud  thud            intervals 0.60, 0.30, 0.16 s: ratios 0.50, 0.53
 hit        racket  wall      floor                     a strike, and what is heard until the next
```

Limits: fitted and measured on invented recordings only. Sound takes 3 ms for each metre to the microphone;
between thuds at one place that falls out. Which impact after a hit is the wall is not said: the coach says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from goodlength.footage.audio.onset_detection import Numbers, Onsets
from goodlength.footage.audio.practice_hit_detection import strikes_among_onsets
from goodlength.footage.audio.rally_detection import NO_SOUND, onsets_of
from goodlength.footage.media.audio_decoding import sound_stream_of
from goodlength.footage.media.video_file_opening_or_rejection import absolute
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import MICROSECONDS, seconds

# A series of thuds: wide enough for any ball let fall from knee height to a raised arm; ASSUMED
FIRST_GAP_S, LEAST_GAP_S = (0.2, 1.3), 0.05
RATIOS, RATIO_CHANGE = (0.25, 0.85), 0.22
LEAST_RISE_DB, LOUDER_DB = 5.0, 8.0
SURE_THUDS = 4
QUIET_SHARE, UNSTEADY_DB, PASSED_DB = 0.2, 20.0, 2.0
FIRST_RISE_DB, FAINT_DB = 12.0, 14.0  # of a first thud; of one beside the loudest of the recording
# What follows a hit: its echo first, then wall and floor
AFTER_HIT_S, HIT_RISE_DB = (0.08, 2.5), 8.0


@dataclass(frozen=True)
class DropTest:
    """One ball let fall: its thuds in media time, the ratios of neighbouring intervals; `doubtful` if few."""

    thuds_us: tuple[int, ...]
    ratios: tuple[float, ...]
    doubtful: bool


@dataclass(frozen=True)
class WallTest:
    """One hit, and the clear impacts after it until the next, in media time."""

    strike_us: int
    after_us: tuple[int, ...]
    doubtful: bool


@dataclass(frozen=True)
class Bounces:
    """All drops and hits of a recording in order of time, and what to know in words."""

    drops: tuple[DropTest, ...]
    hits: tuple[WallTest, ...]
    words: str

    def to_json(self) -> dict[str, object]:
        """Return plain values, times in seconds."""
        return {
            "drops": [
                {
                    "thuds_s": [seconds(us) for us in drop.thuds_us],
                    "bounces": len(drop.thuds_us),
                    "ratios": [round(ratio, 4) for ratio in drop.ratios],
                    "doubtful": drop.doubtful,
                }
                for drop in self.drops
            ],
            "hits": [
                {
                    "strike_s": seconds(hit.strike_us),
                    "after_s": [seconds(us) for us in hit.after_us],
                    "doubtful": hit.doubtful,
                }
                for hit in self.hits
            ],
            "words": self.words,
        }


def drops_in(onsets: Onsets) -> list[Numbers]:
    """Return series of thuds with shrinking intervals among all impacts, three or more each, in seconds."""
    candidates = onsets.where(onsets.rise_db >= LEAST_RISE_DB)
    t, level = candidates.time_s, candidates.level_db
    if len(t) < 3:
        return []
    above = level - float(np.quantile(level, QUIET_SHARE))
    clear = np.flatnonzero(candidates.rise_db >= FIRST_RISE_DB)
    series_by_score = sorted(
        (found for i in clear.tolist() if (found := _series(t, level, above, i))), key=lambda pair: -pair[0]
    )
    taken: list[list[int]] = []
    for _, series in series_by_score:
        if all(t[series[0]] > t[other[-1]] or t[series[-1]] < t[other[0]] for other in taken):
            taken.append(series)
    loudest = max((float(level[series[0]]) for series in taken), default=0.0)
    loud_enough = [series for series in taken if level[series[0]] >= loudest - FAINT_DB]
    return sorted((t[series] for series in loud_enough), key=lambda times: float(times[0]))


def _series(t: Numbers, level: Numbers, above: Numbers, first: int) -> tuple[float, list[int]] | None:
    """Return the loudest and steadiest series that begins with an impact, with its worth; None for under
    three.
    """
    best: tuple[float, list[int]] | None = None
    stack: list[tuple[list[int], float]] = [([first], float(above[first]))]
    while stack:
        series, worth = stack.pop()
        if len(series) >= 3 and (best is None or worth > best[0]):
            best = (worth, series)
        for k in _next(t, level, series):
            longer = [*series, k]
            stack.append((longer, worth + float(above[k]) - UNSTEADY_DB * _unsteadiness(t, longer)))
    return best


def _next(t: Numbers, level: Numbers, series: list[int]) -> list[int]:
    """Return impacts that may be the next thud."""
    last = series[-1]
    if len(series) == 1:
        low, high = FIRST_GAP_S
    else:
        gap = float(t[last] - t[series[-2]])
        low, high = max(LEAST_GAP_S, gap * RATIOS[0]), gap * RATIOS[1]
    begin, end = np.searchsorted(t, [t[last] + low, t[last] + high])
    found, loudest = [], float(level[last + 1 : int(begin)].max(initial=-np.inf))
    for k in range(int(begin), int(end)):
        # Only quieter impacts (echoes, a voice) are passed over
        if loudest + PASSED_DB <= level[k] <= level[last] + LOUDER_DB:
            found.append(k)
        loudest = max(loudest, float(level[k]))
    if len(series) < 3:
        return found
    return [k for k in found if abs(_ratio(t, [*series[-2:], k]) - _ratio(t, series[-3:])) <= RATIO_CHANGE]


def _ratio(t: Numbers, three: list[int]) -> float:
    a, b, c = (float(t[k]) for k in three)
    return (c - b) / (b - a)


def _unsteadiness(t: Numbers, series: list[int]) -> float:
    """Return how much the last ratio differs from the one before."""
    if len(series) < 4:
        return 0.0
    return abs(math.log(_ratio(t, series[-3:]) / _ratio(t, series[-4:-1])))


def detect_bounces(
    path: str | Path,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    *,
    keep: Path | None = None,
) -> Bounces:
    """Detect drops and hits in a recording; parameters, errors and `keep` as in `detect_rallies`."""
    where = absolute(path)
    sound = sound_stream_of(where)
    if sound is None or sound.first_s is None:
        return Bounces(
            (), (), f"Bounces cannot be detected: {NO_SOUND}. Record with sound, the phone near the ball."
        )
    begin_us = round(sound.first_s * MICROSECONDS)
    onsets = onsets_of(where, begin_us, keep, progress, cancel)

    def media(at_s: float) -> int:
        return begin_us + round(at_s * MICROSECONDS)

    drops = tuple(
        DropTest(
            tuple(media(at) for at in times.tolist()),
            tuple((np.diff(times)[1:] / np.diff(times)[:-1]).tolist()),
            len(times) < SURE_THUDS,
        )
        for times in drops_in(onsets)
    )
    hits = tuple(
        WallTest(media(at), tuple(media(value) for value in after), doubtful)
        for at, after, doubtful in hits_in(onsets, drops_in(onsets))
    )
    count = sum(len(drop.thuds_us) for drop in drops)
    words = f"{len(drops)} drops with {count} bounces and {len(hits)} hits detected."
    return Bounces(drops, hits, words)


def hits_in(onsets: Onsets, drops: list[Numbers]) -> list[tuple[float, list[float], bool]]:
    """Return hits outside the drops: when struck, the clear impacts until the next, and whether it is
    doubtful.
    """
    sure, doubtful = strikes_among_onsets(onsets)
    strikes = sorted([(at, False) for at in sure.tolist()] + [(at, True) for at in doubtful.tolist()])
    strikes = [
        (at, unsure) for at, unsure in strikes if not any(d[0] - 0.05 <= at <= d[-1] + 0.05 for d in drops)
    ]
    clear = onsets.time_s[onsets.rise_db >= HIT_RISE_DB]
    found = []
    for k, (at, unsure) in enumerate(strikes):
        until = min(at + AFTER_HIT_S[1], strikes[k + 1][0] - 0.05 if k + 1 < len(strikes) else math.inf)
        after = clear[(clear >= at + AFTER_HIT_S[0]) & (clear <= until)]
        found.append((at, after.tolist(), unsure))
    return found
