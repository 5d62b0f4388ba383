"""Detect the rallies of a match over all its files on match time, so that a rally may cross two files.

What each film's sound held is kept by itself; the impacts of all are laid on match time, films of another
loudness brought to that of the first, and the rallies are looked for in the whole. The moving players of
each film are used with it in a second job, which alone helps where a film has no usable sound.

```
 film one  |.|.:|  |.|      film two   |.:|.|         match time
           rally   rally crossing the join   rally
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import cast

import numpy as np

from goodlength.errors import FootageError
from goodlength.footage.audio.log_mel import BANDS, HOP_S
from goodlength.footage.audio.merge_of_detected_and_confirmed_rallies import (
    StoredDetection,
    StoredFilm,
    save_detection,
    sound_searched,
)
from goodlength.footage.audio.network_rally_recognition import (
    RallyRecognition,
    SoundFeatures,
    evened,
    recognise_rallies,
)
from goodlength.footage.audio.onset_detection import Onsets
from goodlength.footage.audio.rallies_from_motion import rallies_in_profile
from goodlength.footage.audio.rally_detection import (
    BY_MOTION,
    NO_SOUND,
    NOT_USABLE,
    PICTURE_ALONE,
    PICTURE_LATER,
    DetectedRally,
    RallyDetection,
    SoundUse,
    detection_notes,
    detection_words,
    picture_words,
    rallies_from_recognition,
    rally_by_motion,
    sound_of,
)
from goodlength.footage.media.audio_decoding import sound_stream_of
from goodlength.footage.media.video_file_opening_or_rejection import absolute
from goodlength.footage.vision.motion_profile import MotionProfile, motion_profile
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import MICROSECONDS

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
    keep_motion: str | None = None

    @property
    def shift_us(self) -> int:
        """What its own time lacks to match time."""
        return self.starts_us - self.first_us


def detect_rallies_over_files(
    films: Sequence[FilePlacement],
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    *,
    picture: bool = True,
) -> RallyDetection:
    """Return the rallies of a match over its films, in match time; errors as in `detect_rallies`.

    Parameters
    ----------
    picture : bool
        Use the moving players together with the sound. Left out, a film whose sound is of no use is named,
        and its rallies wait for the picture.

    Limits
    ------
    Films are taken as joined where match time runs on from one into the next.
    """
    steps = 2 * len(films) if picture else len(films)
    sounds: list[SoundFeatures] = []
    silent: list[tuple[FilePlacement, str]] = []
    with_sound: list[FilePlacement] = []
    for k, film in enumerate(films):
        found = _sound(film, _part(progress, k, steps, len(films)), cancel)
        if found is None:
            silent.append((film, NO_SOUND))
        else:
            sounds.append(found)
            with_sound.append(film)
    begin_us = min((film.starts_us for film in with_sound), default=0)
    profiles = {}
    if picture:
        for k, film in enumerate(films):
            profiles[film.id] = _profile(film, _part(progress, len(films) + k, steps, len(films)), cancel)
    motion = [profiles[f.id].shifted(-begin_us / MICROSECONDS) for f in with_sound if f.id in profiles]
    whole = (
        recognise_rallies(_laid_out(with_sound, evened(sounds), begin_us), motion)
        if with_sound
        else RallyRecognition((), None, False)
    )
    notes = detection_notes(whole, begin_us)
    if not whole.usable:
        silent += [(film, NOT_USABLE) for film in with_sound]
        whole = RallyRecognition((), None, False)
    else:
        silent += [
            (film, NOT_USABLE)
            for film, own in zip(with_sound, sounds, strict=True)
            if _deaf(film, own, whole, begin_us)
        ]
    seen = [rally for film, _ in silent if film.id in profiles for rally in _watched(film, profiles[film.id])]
    rallies = tuple(
        sorted((*rallies_from_recognition(whole, begin_us), *seen), key=lambda rally: rally.start_us)
    )
    detection = _detection(films, silent, whole, begin_us, rallies, picture)
    return replace(detection, notes=notes)


def _profile(film: FilePlacement, progress: Progress | None, cancel: Cancel | None) -> MotionProfile:
    """Return how much moves in a film's range, in match time."""
    keep = Path(film.keep_motion) if film.keep_motion else None
    found = motion_profile(absolute(film.path), keep, progress, cancel)
    inside = found.between(film.first_us / MICROSECONDS, film.end_us / MICROSECONDS)
    return inside.shifted(film.shift_us / MICROSECONDS)


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


def _watched(film: FilePlacement, profile: MotionProfile) -> list[DetectedRally]:
    """Return rallies guessed from moving players, in match time."""
    ends_us = film.end_us + film.shift_us
    spans = [(max(a, film.starts_us), min(b, ends_us)) for a, b in rallies_in_profile(profile)]
    return [rally_by_motion(a, b) for a, b in spans if b > a]


def _detection(
    films: Sequence[FilePlacement],
    silent: list[tuple[FilePlacement, str]],
    found: RallyRecognition,
    begin_us: int,
    rallies: tuple[DetectedRally, ...],
    picture_searched: bool,
) -> RallyDetection:
    """Return the rallies with by what they were found, in words, and the knock-up."""
    warm = None
    if found.warm_up_s:
        first, last = (begin_us + round(at * MICROSECONDS) for at in found.warm_up_s)
        warm = (first, last)
    whys = {film.id: why for film, why in silent}
    alone = len(silent) == len(films)
    picture = (
        PICTURE_ALONE if alone and picture_searched else picture_words(picture_searched, found.with_picture)
    )
    by = "sound and motion" if picture_searched and (silent or found.with_picture) else "sound"
    if alone:
        by = "motion" if picture_searched else "nothing"
    words = "" if alone else detection_words(rallies, warm is not None, picture)
    for film, why in silent:
        words += f" Rallies of {Path(film.path).name} cannot be detected: {why}."
    if silent:
        words += f" {BY_MOTION}" if picture_searched else f" {PICTURE_LATER}" if alone else ""
    sound = tuple(SoundUse(film.id not in whys, None, whys.get(film.id, "")) for film in films)
    return RallyDetection(rallies, by, words.strip(), warm, picture_searched, picture, sound)


def _part(progress: Progress | None, k: int, steps: int, count: int) -> Progress | None:
    """Return the progress of one step among several, over so many films."""
    if progress is None:
        return None

    def report(share: float, words: str) -> None:
        progress((k + share) / steps, words if count == 1 else f"{words}, file {k % count + 1} of {count}")

    return report


def match_rally_detection_job(
    match: str, films: list[dict[str, object]], to: str, *, progress: Progress, cancel: Cancel
) -> dict[str, object]:
    """Run `detect_rallies_over_files` by the sound as a job: the detection is written to the file `to`,
    the words are its result.
    """
    placed = placements(films)
    found = detect_rallies_over_files(placed, progress, cancel, picture=False)
    save_detection(Path(to), match, stored_films(placed), stored_detection(found))
    progress(1.0, found.words)
    return {"words": found.words, "rallies": len(found.rallies)}


def match_picture_job(
    match: str, films: list[dict[str, object]], to: str, *, progress: Progress, cancel: Cancel
) -> dict[str, object]:
    """Run `detect_rallies_over_files` by sound and picture as a job, after the one by sound alone.

    Rallies that the coach has confirmed or changed stay as they are. Stopped at any moment, the sound's
    answer stands and what was measured is taken up the next time.
    """
    placed = placements(films)
    if not sound_searched(Path(to), stored_films(placed)):
        words = (
            "The sound was not searched to its end, so the movement is not measured yet. Detect "
            "the rallies again."
        )
        progress(1.0, words)
        return {"words": words, "rallies": 0}
    found = detect_rallies_over_files(placed, progress, cancel)
    save_detection(Path(to), match, stored_films(placed), stored_detection(found))
    progress(1.0, found.words)
    return {"words": found.words, "rallies": len(found.rallies)}


def stored_films(films: Sequence[FilePlacement]) -> list[StoredFilm]:
    """Return films as they are saved."""
    return [cast("StoredFilm", asdict(film)) for film in films]


def stored_detection(found: RallyDetection) -> StoredDetection:
    """Return what was found as it is saved."""
    key = {"picture_searched": "looked_at"}
    return cast("StoredDetection", {key.get(name, name): value for name, value in asdict(found).items()})


def placements(films: list[dict[str, object]]) -> list[FilePlacement]:
    """Return a job's films as they lie on match time."""
    if not films:
        raise FootageError("There is no video to analyse. Add one on the Footage page.")
    return [FilePlacement(**film) for film in films]  # type: ignore[arg-type]
