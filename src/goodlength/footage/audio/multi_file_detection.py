"""The rallies of a match over all its films, on match time: one hearing, so that a rally may cross a join.

What each film's sound held is kept by itself; the impacts of all are laid on match time, films of another
loudness brought to that of the first, and the rallies are looked for in the whole. A film without usable
sound is watched instead.

```
 film one  |.|.:|  |.|      film two   |.:|.|         match time
           rally   rally crossing the join   rally
```
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from goodlength.clock import MICROSECONDS
from goodlength.errors import FootageError
from goodlength.files.atomic import atomic_write
from goodlength.footage.audio.log_mel import BANDS, HOP_S
from goodlength.footage.audio.motion_detection import rallies_by_motion
from goodlength.footage.audio.onset_detection import Onsets
from goodlength.footage.audio.rally_detection import (
    BY_MOTION,
    NO_SOUND,
    NOT_USABLE,
    WARM_UP_WORDS,
    DetectedRally,
    RallyDetection,
    rallies_from_recognition,
    sound_of,
)
from goodlength.footage.audio.rally_recognition import (
    RallyRecognition,
    SoundFeatures,
    evened,
    recognise_rallies,
)
from goodlength.footage.media.open import absolute
from goodlength.footage.media.sound import sound_stream_of
from goodlength.jobs.progress import Cancel, Progress

LONG_ENOUGH_S = 120.0  # a film as long as this without a rally heard, and of no use by itself, is watched


@dataclass(frozen=True)
class FilePlacement:
    """A film, where its range [first, end) lies on match time, and where what it holds is kept."""

    id: str
    path: str
    starts_us: int
    first_us: int
    end_us: int
    keep: str | None = None

    @property
    def shift_us(self) -> int:
        """What its own time lacks to match time."""
        return self.starts_us - self.first_us


def detect_rallies_over_files(
    films: Sequence[FilePlacement], progress: Progress | None = None, cancel: Cancel | None = None
) -> RallyDetection:
    """Return the rallies of a match over its films, in match time; errors as in `rallies.hear`.

    Limits
    ------
    Films are taken as joined where match time runs on from one into the next.
    """
    sounds: list[SoundFeatures] = []
    watched: list[tuple[FilePlacement, str]] = []
    heard: list[FilePlacement] = []
    for k, film in enumerate(films):
        found = _sound(film, _part(progress, k, len(films)), cancel)
        if found is None:
            watched.append((film, NO_SOUND))
        else:
            sounds.append(found)
            heard.append(film)
    begin_us = min((film.starts_us for film in heard), default=0)
    whole = (
        recognise_rallies(_laid_out(heard, evened(sounds), begin_us))
        if heard
        else RallyRecognition((), None, False)
    )
    if not whole.usable:
        watched += [(film, NOT_USABLE) for film in heard]
        whole = RallyRecognition((), None, False)
    else:
        watched += [
            (film, NOT_USABLE)
            for film, own in zip(heard, sounds, strict=True)
            if _deaf(film, own, whole, begin_us)
        ]
    seen = [rally for film, _ in watched for rally in _watched(film, progress, cancel)]
    rallies = (*rallies_from_recognition(whole, begin_us), *seen)
    rallies = tuple(sorted(rallies, key=lambda one: one.start_us))
    return RallyDetection(rallies, *_detection_words(films, watched, whole, begin_us, rallies))


def _sound(film: FilePlacement, progress: Progress | None, cancel: Cancel | None) -> SoundFeatures | None:
    """Return what is kept of a film's sound inside its range, from the range's beginning on; None
    without sound.
    """
    where = absolute(film.path)
    sound = sound_stream_of(where)
    if sound is None or sound.first_s is None:
        return None
    begin_us = round(sound.first_s * MICROSECONDS)
    keep = Path(film.keep) if film.keep else None
    found = sound_of(where, begin_us, keep, progress, cancel)
    shift = round((begin_us - film.first_us) / MICROSECONDS / HOP_S)  # frames from the range to the sound
    length = round((film.end_us - film.first_us) / MICROSECONDS / HOP_S)
    frames = np.zeros((length, BANDS), np.uint8)
    inside = found.frames[max(0, -shift) : max(0, length - shift)]
    frames[max(0, shift) : max(0, shift) + len(inside)] = inside
    at = found.onsets.time_s + (begin_us - film.first_us) / MICROSECONDS
    onsets = replace(found.onsets, time_s=at).where((at >= 0) & (at < length * HOP_S))
    return SoundFeatures(frames, onsets)


def _laid_out(films: list[FilePlacement], sounds: list[SoundFeatures], begin_us: int) -> SoundFeatures:
    """Return the sounds of all films as one, each where its film lies on match time; a gap is silence."""
    places = [round((film.starts_us - begin_us) / MICROSECONDS / HOP_S) for film in films]
    count = max(at + len(sound.frames) for at, sound in zip(places, sounds, strict=True))
    frames = np.zeros((count, BANDS), np.uint8)
    onsets = []
    for at, sound in zip(places, sounds, strict=True):
        frames[at : at + len(sound.frames)] = sound.frames
        onsets.append(replace(sound.onsets, time_s=sound.onsets.time_s + at * HOP_S))
    whole = Onsets.joined(onsets)
    order = np.argsort(whole.time_s, kind="stable")
    return SoundFeatures(
        frames, Onsets(*(getattr(whole, name)[order] for name in whole.__dataclass_fields__))
    )


def _deaf(film: FilePlacement, own: SoundFeatures, whole: RallyRecognition, begin_us: int) -> bool:
    """Return whether nothing was heard in a long film that is of no use by itself."""
    begin, end = ((us - begin_us) / MICROSECONDS for us in (film.starts_us, film.end_us + film.shift_us))
    inside = any(rally.start_s < end and rally.end_s > begin for rally in whole.rallies if not rally.doubtful)
    return not inside and end - begin >= LONG_ENOUGH_S and not recognise_rallies(own).usable


def _watched(film: FilePlacement, progress: Progress | None, cancel: Cancel | None) -> list[DetectedRally]:
    """Rallies guessed from moving players, in match time."""
    spans = rallies_by_motion(absolute(film.path), progress, cancel)
    placed = [(max(a, film.first_us) + film.shift_us, min(b, film.end_us) + film.shift_us) for a, b in spans]
    return [DetectedRally(a, b, (), True, "from moving players, not heard") for a, b in placed if b > a]


def _detection_words(
    films: Sequence[FilePlacement],
    watched: list[tuple[FilePlacement, str]],
    found: RallyRecognition,
    begin_us: int,
    rallies: tuple[DetectedRally, ...],
) -> tuple[str, str, tuple[int, int] | None]:
    """By what the rallies were found, in words, and the knock-up."""
    by = "sound" if not watched else "motion" if len(watched) == len(films) else "sound and motion"
    words = ""
    if by != "motion":
        sure = sum(not rally.doubtful for rally in rallies)
        words = f"{sure} rallies heard, {len(rallies) - sure} more are doubtful."
    for film, why in watched:
        words += f" Rallies of {Path(film.path).name} cannot be heard: {why}."
    if watched:
        words += f" {BY_MOTION}"
    warm = None
    if found.warm_up_s:
        first, last = (begin_us + round(at * MICROSECONDS) for at in found.warm_up_s)
        warm = (first, last)
        words += f" {WARM_UP_WORDS}"
    return by, words.strip(), warm


def _part(progress: Progress | None, k: int, count: int) -> Progress | None:
    """Progress of one film among several."""
    if progress is None:
        return None

    def told(share: float, words: str) -> None:
        progress((k + share) / count, words if count == 1 else f"{words}, file {k + 1} of {count}")

    return told


def match_rally_detection_job(
    match: str, films: list[dict[str, object]], to: str, *, progress: Progress, cancel: Callable[[], bool]
) -> dict[str, object]:
    """`detect_rallies_over_files` for a job: the rallies are written to the file `to`, the words are its
    result.
    """
    placed = [FilePlacement(**film) for film in films]  # type: ignore[arg-type]
    if not placed:
        raise FootageError("There is no film to listen to. Add one on the Footage page.")
    found = detect_rallies_over_files(placed, progress, cancel)
    plain = {"match": match, "films": [asdict(film) for film in placed], **asdict(found)}
    with atomic_write(Path(to)) as part:
        part.write_text(json.dumps(plain), encoding="utf-8")
    progress(1.0, found.words)
    return {"words": found.words, "rallies": len(found.rallies)}
