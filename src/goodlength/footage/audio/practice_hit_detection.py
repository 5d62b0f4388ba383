"""Detect the attempts of a practice recording, so that the coach only marks hit or miss.

One ball at a time: a strike stands out from the wall, the floor and the ball bounced before it by being
both loud and sudden. The loudest-and-most-sudden impact for a second and a half on either side is taken for
the strike; those that stand apart least are doubtful, and the coach leaves out what is none.

```
 impacts    .  .  |:. .      .  |. :.           .|:  .
 attempts         ●             ●               ○ doubtful
```

Limits: fitted and measured on invented recordings (`bench practice`), never on a real court. A ball kept
going is one attempt.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from goodlength.footage.audio.hit_and_rally_segmentation import otsu_threshold
from goodlength.footage.audio.onset_detection import Numbers, Onsets
from goodlength.footage.audio.rally_detection import NO_SOUND, NOT_USABLE, doubtful_words, onsets_of
from goodlength.footage.edit.proxy_video import make_proxy, needs_proxy
from goodlength.footage.media.audio_decoding import sound_stream_of
from goodlength.footage.media.video_file_opening_or_rejection import absolute
from goodlength.footage.media.video_probe import probe
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import MICROSECONDS, seconds

# Fitted on invented recordings, ASSUMED for real ones
LEAST_RISE_DB = 8.0
RISE_WEIGHT = 0.9
APART_S = 1.6
BEGINNING_S = 0.1  # sound that sets in is no impact
DOUBTFUL_DB = 5.0
LEAST_SPLIT_DB = 8.0
SPLIT_AT = 0.5
UNPLAYED = "browsers do not"  # how the reasons of `needs_proxy` begin that leave nothing to see
# What of an attempt is shown: the toss before it, and the ball after it until the next; ASSUMED
BEFORE_S, AFTER_S = 1.2, 4.0


@dataclass(frozen=True)
class Attempt:
    """One attempt, in media time: what to show of it, and its strike; `doubtful` asks the coach to look."""

    start_us: int
    strike_us: int
    end_us: int
    doubtful: bool


@dataclass(frozen=True)
class Attempts:
    """The attempts of a recording in order of time, and what to know in words."""

    attempts: tuple[Attempt, ...]
    words: str

    def to_json(self) -> dict[str, object]:
        """Return plain values, times in seconds."""
        return {
            "attempts": [
                {
                    "start_s": seconds(attempt.start_us),
                    "strike_s": seconds(attempt.strike_us),
                    "end_s": seconds(attempt.end_us),
                    "doubtful": attempt.doubtful,
                }
                for attempt in self.attempts
            ],
            "words": self.words,
        }


def strikes_among_onsets(onsets: Onsets) -> tuple[Numbers, Numbers]:
    """Return the strikes of one ball at a time among all impacts: sure ones and doubtful ones, in seconds.

    Nothing is found where no group of impacts stands apart from the rest.
    """
    candidates = onsets.where((onsets.rise_db >= LEAST_RISE_DB) & (onsets.time_s >= BEGINNING_S))
    t, strength = candidates.time_s, candidates.level_db + RISE_WEIGHT * candidates.rise_db
    first, last = np.searchsorted(t, t - APART_S), np.searchsorted(t, t + APART_S, "right")
    most = np.array(
        [strength[i] >= strength[a:b].max() for i, (a, b) in enumerate(zip(first, last, strict=True))], bool
    )
    at, how = t[most], strength[most]
    none = np.zeros(0)
    if len(at) < 3:
        return none, none
    first_split = otsu_threshold(how)
    below, above = how[how < first_split], how[how >= first_split]
    if not len(below) or not len(above):
        return none, none
    middles = float(np.median(below)), float(np.median(above))
    if middles[1] - middles[0] < LEAST_SPLIT_DB:
        return none, none
    # Two clean groups part anywhere between them: the split lies where it is farthest from both
    split = max(first_split, middles[0] + SPLIT_AT * (middles[1] - middles[0]))
    return at[how >= split], at[(how < split) & (how >= split - DOUBTFUL_DB)]


def detect_attempts(
    path: str | Path,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    *,
    keep: Path | None = None,
) -> Attempts:
    """Return the attempts of a practice recording; parameters, errors and `keep` as in `rallies.hear`."""
    where = absolute(path)
    sound = sound_stream_of(where)
    if sound is None or sound.first_s is None:
        return Attempts((), f"Attempts cannot be detected: {NO_SOUND}. Count them on the log page.")
    begin_us = round(sound.first_s * MICROSECONDS)
    sure, doubtful = strikes_among_onsets(onsets_of(where, begin_us, keep, progress, cancel))
    if not len(sure):
        return Attempts((), f"Attempts cannot be detected: {NOT_USABLE}. Count them on the log page.")
    strikes = sorted([(at, False) for at in sure.tolist()] + [(at, True) for at in doubtful.tolist()])
    nexts = [at for at, _ in strikes[1:]] + [float("inf")]
    spans = tuple(
        _attempt(begin_us, at, after, unsure) for (at, unsure), after in zip(strikes, nexts, strict=True)
    )
    attempts = "attempt" if len(spans) == 1 else "attempts"
    words = f"{len(spans)} {attempts} detected, {doubtful_words(len(doubtful))}."
    return Attempts(spans, words)


def _attempt(begin_us: int, at_s: float, next_s: float, doubtful: bool) -> Attempt:
    end_s = max(at_s + APART_S / 2, min(at_s + AFTER_S, next_s - BEFORE_S))
    start, strike, end = (
        begin_us + round(s * MICROSECONDS) for s in (max(0.0, at_s - BEFORE_S), at_s, end_s)
    )
    return Attempt(start, strike, end, doubtful)


def attempts_job(
    src: str,
    player: str,
    drill: str,
    keep: str,
    proxy: str,
    noted: str = "",
    *,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, object]:
    """Run `detect_attempts` as a job, and make a proxy where the page needs one.

    `player` and `drill` say whose recording it is, `noted` what the file held when it was added; they stay
    with the job's note.
    """
    detected = detect_attempts(src, progress, cancel, keep=Path(keep))
    if detected.attempts and (needs_proxy(probe(src)) or "").startswith(UNPLAYED):
        make_proxy(src, Path(proxy), progress, cancel)
    progress(1.0, detected.words)
    return {**detected.to_json(), "player": player, "drill": drill, "noted": noted}
