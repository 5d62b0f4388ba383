"""Warn of unusual recordings: two matches, a quieter part, no sound, two balls.

Where a part of the sound is not what the detection was made for, nothing in it is sure. Bounds were chosen on
odd recordings made from the learning families, and looked at once on those of the choosing family
(`synthetic.recordings.edge_case_recordings`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.log_mel import HOP_S, Frames
from goodlength.media_time import clock_words

Numbers = NDArray[np.float64]

BLOCK_S = 10.0
SILENT_STEP = 3  # above the quietest step there is: less is a file's silence, not a quiet court
SILENT_S = 45.0
LEVEL_STEP_DB, LEVEL_BLOCKS = (
    9.0,
    9,
)  # between the loud impacts of two parts, each so many blocks long at least
LOUD = 0.995
WARM_S, WARM_SHARE, SURE_EACH, EXPECTED_EACH, APART_S = 50.0, 0.5, 1, 2.0, 25.0
STOPS_S, WARM_HITS = 25.0, 20  # the longest stop inside a warm-up, and its least hits
TWO_BALLS_S, TWO_BALLS_HITS, TWO_BALLS_BLOCKS = 30.0, 27, 3
LEAST_RALLIES_S = 0.02  # rallies to be expected a second
LEAST_PLAY_SHARE, LEAST_RALLIES, LEAST_LENGTH_S = 0.04, 3, 150.0
MANY_SPANS, LEAST_SURE_SHARE = 8, 0.15  # a few sure among many that are not: claps, games of other kinds


# What is said of each kind, by code; times and the change of level are filled in
WORDS = {
    "no sound": "From {start} to {end} the video has no sound: rallies there are missing.",
    "other level": (
        "From {start} on the sound is about {change} dB {way}: two recordings may have been joined, or the "
        "phone was moved. Both parts were brought to one level."
    ),
    "two balls": (
        "From {start} to {end} more than one ball may be in play, as when four players warm up: rallies "
        "there are marked doubtful."
    ),
    "two matches": (
        "There seem to be two matches in this video: a second warm-up begins at {start}. Split it there, so "
        "that each match has its own record."
    ),
    "no squash": (
        "Very little clear play was found in this video. If it is a match, check where the phone stood and "
        "which sound track is used; if it is something else, remove it. Everything found in it is "
        "marked doubtful."
    ),
}
UNSURE = ("no sound", "two balls", "no squash")  # in these nothing is sure


@dataclass(frozen=True)
class RecordingNote:
    """Something unusual about a recording, from a moment to another; `change_db` is that of the level."""

    code: str
    start_s: float
    end_s: float
    change_db: float = 0.0

    @property
    def unsure(self) -> bool:
        """Whether nothing in it is sure."""
        return self.code in UNSURE

    def words(self, later_s: float = 0.0) -> str:
        """Return what to tell the coach, with times later by so much."""
        start, end = (clock_words(max(0.0, at + later_s)) for at in (self.start_s, self.end_s))
        way = "louder" if self.change_db > 0 else "quieter"
        return WORDS[self.code].format(start=start, end=end, change=round(abs(self.change_db)), way=way)


@dataclass(frozen=True)
class RallySpan:
    """A span taken for a rally, whether it is sure, and the chance that it is one."""

    start_s: float
    end_s: float
    sure: bool
    chance: float = 0.0


def recording_notes(frames: Frames, impacts: Impacts, spans: Sequence[RallySpan]) -> list[RecordingNote]:
    """Return what is unusual about a recording whose parts have one level, in order of time."""
    notes = [*silent_parts(frames), *two_balls(impacts), *second_match(impacts, spans)]
    silent_s = sum(note.end_s - note.start_s for note in notes if note.code == "no sound")
    notes += no_squash(len(frames) * HOP_S - silent_s, spans)
    return sorted(notes, key=lambda note: note.start_s)


def loudness(frames: Frames) -> Numbers:
    """Return the loudest step of each frame."""
    return np.asarray(frames.max(axis=1), np.float64) if len(frames) else np.zeros(0)


def silent_parts(frames: Frames) -> list[RecordingNote]:
    """Return the parts in which the file holds no sound at all."""
    loud = loudness(frames)
    block = round(1.0 / HOP_S)
    count = len(loud) // block
    if count == 0:
        return []
    quiet = loud[: count * block].reshape(count, block).max(axis=1) <= SILENT_STEP
    out = []
    for a, b in _runs(quiet):
        if b - a >= SILENT_S:
            out.append(RecordingNote("no sound", float(a), float(b)))
    return out


def level_step(frames: Frames) -> list[RecordingNote]:
    """Return where the sound becomes louder or quieter for good, as when a second part was joined."""
    loud = loudness(frames)
    block = round(BLOCK_S / HOP_S)
    count = len(loud) // block
    level = np.array([np.quantile(loud[k * block : (k + 1) * block], LOUD) for k in range(count)])
    level = level[level > SILENT_STEP]
    if len(level) < 2 * LEVEL_BLOCKS or len(level) < count:
        return []
    cuts = np.arange(LEVEL_BLOCKS, len(level) - LEVEL_BLOCKS + 1)
    weight = np.sqrt(cuts * (len(level) - cuts))
    apart = [abs(level[:k].mean() - level[k:].mean()) for k in cuts]
    at = int(cuts[np.argmax(np.array(apart) * weight)])
    before, after = level[:at], level[at:]
    change = float(np.median(after) - np.median(before))
    if abs(change) - 0.5 * (_spread(before) + _spread(after)) < LEVEL_STEP_DB:
        return []
    return [RecordingNote("other level", at * BLOCK_S, count * BLOCK_S, change)]


def two_balls(impacts: Impacts) -> list[RecordingNote]:
    """Return the parts of a warm-up in which there are more hits than one ball allows."""
    racket = impacts.where(impacts.surface[:, SURFACES.index("racket")] > 0.5)
    if len(racket) < TWO_BALLS_HITS:
        return []
    at, hitting = racket.time_s.astype(np.float64), racket.state[:, STATES.index("hitting")]
    flags = np.zeros(int(at[-1] / BLOCK_S) + 1, bool)
    for k in range(len(flags)):
        near = np.abs(at - (k + 0.5) * BLOCK_S) < TWO_BALLS_S / 2
        flags[k] = near.sum() >= TWO_BALLS_HITS and hitting[near].mean() > WARM_SHARE
    runs = [run for run in _runs(flags) if run[1] - run[0] >= TWO_BALLS_BLOCKS]
    return [RecordingNote("two balls", a * BLOCK_S, b * BLOCK_S) for a, b in runs]


def second_match(impacts: Impacts, spans: Sequence[RallySpan]) -> list[RecordingNote]:
    """Return where a second match begins: a warm-up after a break, with rallies on both sides of it."""
    sure = [span for span in spans if span.sure]
    for k in range(SURE_EACH, len(sure) - SURE_EACH + 1):
        gap = sure[k - 1].end_s, sure[k].start_s
        before = sum(span.chance for span in spans if span.end_s <= gap[0])
        after = sum(span.chance for span in spans if span.start_s >= gap[1])
        if gap[1] - gap[0] < WARM_S + APART_S or min(before, after) < EXPECTED_EACH:
            continue
        start = _warm_up_start(impacts, *gap)
        if start is not None:
            return [RecordingNote("two matches", start, sure[-1].end_s)]
    return []


def _warm_up_start(impacts: Impacts, begin_s: float, end_s: float) -> float | None:
    """Return when a long warm-up between two moments begins; None where there is none."""
    inside = impacts.where((impacts.time_s > begin_s + 2) & (impacts.time_s < end_s - 2))
    racket = inside.where(inside.surface[:, SURFACES.index("racket")] > 0.3)
    warm = racket.where(racket.state[:, STATES.index("hitting")] > WARM_SHARE)
    if not len(warm):
        return None
    at = warm.time_s.astype(np.float64)
    runs = np.split(at, np.flatnonzero(np.diff(at) > STOPS_S) + 1)
    longest = max(runs, key=lambda run: float(run[-1] - run[0]))
    enough = len(longest) >= WARM_HITS and longest[-1] - longest[0] >= WARM_S
    return float(longest[0]) if enough else None


def no_squash(length_s: float, spans: Sequence[RallySpan]) -> list[RecordingNote]:
    """Return that hardly any clear play was found in a long recording, or little among much that is not."""
    sure = [span for span in spans if span.sure]
    if len(spans) >= MANY_SPANS and 0 < len(sure) < LEAST_SURE_SHARE * len(spans):
        return [RecordingNote("no squash", 0.0, length_s)]
    played = sum(span.end_s - span.start_s for span in sure)
    expected = sum(span.chance for span in spans)
    if length_s < LEAST_LENGTH_S or len(sure) >= LEAST_RALLIES or played > LEAST_PLAY_SHARE * length_s:
        return []
    if expected > LEAST_RALLIES_S * length_s:
        return []
    return [RecordingNote("no squash", 0.0, length_s)]


def step_moment(notes: Sequence[RecordingNote]) -> float | None:
    """Return where the level changes for good; None where it does not."""
    return next((note.start_s for note in notes if note.code == "other level"), None)


def is_unsure(notes: Sequence[RecordingNote], start_s: float, end_s: float) -> bool:
    """Return whether a span lies in a part in which nothing is sure."""
    return any(note.unsure and start_s < note.end_s and end_s > note.start_s for note in notes)


def _spread(values: Numbers) -> float:
    return float(np.quantile(values, 0.75) - np.quantile(values, 0.25))


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return runs of true, as (first, one past the last)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]
