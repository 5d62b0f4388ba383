"""Detect the rallies of a video by sound: from the file to time spans with their hits, in bounded memory.

One thread decodes while the other listens. What was heard is kept from time to time, so that a stopped job
goes on where it was. Where sound is no use, moving players stand in, worse, and it is said.
"""

from __future__ import annotations

import contextlib
import json
import queue
import threading
from collections.abc import Generator
from contextlib import closing
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np

from goodlength.errors import Cancelled
from goodlength.files.array_file_errors import UNREADABLE_ARRAYS
from goodlength.files.atomic_write import atomic_write
from goodlength.files.json_types import Json
from goodlength.footage.audio.log_mel import HOP_S
from goodlength.footage.audio.network_rally_recognition import (
    FeatureExtractor,
    NamedImpact,
    RallyRecognition,
    RecognisedRally,
    SoundFeatures,
    recognise_rallies,
)
from goodlength.footage.audio.onset_detection import BLOCK_S, CONTEXT_S, Onsets
from goodlength.footage.audio.rallies_from_motion import rallies_in_profile
from goodlength.footage.media.audio_decoding import NativeSampleReader, Samples, sound_stream_of
from goodlength.footage.media.damage_tolerant_frame_decoding import JOINABLE
from goodlength.footage.media.video_file_opening_or_rejection import VideoFile, absolute, open_video
from goodlength.footage.media.video_probe import fingerprint
from goodlength.footage.vision.motion_profile import MotionProfile, motion_profile
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import MICROSECONDS, seconds

KEEP_EVERY_S = 120.0
QUEUED_BLOCKS = 3

NO_SOUND = "it has no sound"
NOT_USABLE = (
    "its sound is not usable, as no hits stand out from it: the microphone may be behind glass, far from the "
    "court, or near music"
)
WARM_UP_WORDS = "The long hitting at the start was taken as the warm-up (knock-up)."
PICTURE_LATER = "The players’ movement was not used yet."
PICTURE_JOINED = "Sound and movement were used together."
PICTURE_ALONE = "Only the movement was used."
PICTURE_NO_USE = "The movement was not used: too little or too much moves."
BY_MOTION = (
    "Rallies are guessed from the movement of the players, which is much less reliable. Check each one."
)


@dataclass(frozen=True)
class DetectedRally:
    """One rally: its first and last hit and all hits, in media time as the microphone heard them.

    `doubtful` asks the coach to look; `why` says in words what is doubtful. `chance` is that of a rally from
    its first to its last hit, as far as made-up recordings tell; `strikes` are its impacts by name, each with
    its media time in microseconds; `clip_end_us` is when the ball has run dead as far as heard.
    """

    start_us: int
    end_us: int
    hits_us: tuple[int, ...]
    doubtful: bool
    why: str = ""
    chance: float | None = None
    strikes: tuple[tuple[int, str, float], ...] = ()
    clip_end_us: int | None = None

    def to_json(self) -> dict[str, Json]:
        """Return plain values, times in seconds."""
        return {
            "start_s": seconds(self.start_us),
            "end_s": seconds(self.end_us),
            "hits_s": [seconds(us) for us in self.hits_us],
            "doubtful": self.doubtful,
            "why": self.why,
            "chance": None if self.chance is None else round(self.chance, 3),
            "strikes": [
                {"t_s": seconds(us), "surface": surface, "chance": round(chance, 3)}
                for us, surface, chance in self.strikes
            ],
            "clip_end_s": None if self.clip_end_us is None else seconds(self.clip_end_us),
        }


@dataclass(frozen=True)
class SoundUse:
    """Whether the sound of a film was of use, which of its sound tracks it is (from 1), and why not."""

    usable: bool
    track: int | None
    why: str = ""


@dataclass(frozen=True)
class DetectionNote:
    """Something unusual about a recording: its code, where it begins, and words for the coach."""

    code: str
    start_us: int
    words: str


@dataclass(frozen=True)
class RallyDetection:
    """The rallies of a film in order of time, by what they were found, and what to know.

    `by` is "sound", "motion" or "nothing"; `knock_up_us` is the beginning, if taken for a knock-up;
    `picture` says in words whether the picture was looked at (`picture_searched`).
    """

    rallies: tuple[DetectedRally, ...]
    by: str
    words: str
    knock_up_us: tuple[int, int] | None = None
    picture_searched: bool = False
    picture: str = PICTURE_LATER
    sound: tuple[SoundUse, ...] = ()
    notes: tuple[DetectionNote, ...] = ()

    def to_json(self) -> dict[str, Json]:
        """Return plain values, times in seconds; of the first film's sound where there are several."""
        sound = self.sound[0] if self.sound else SoundUse(False, None, NO_SOUND)
        return {
            "sound": {"usable": sound.usable, "track": sound.track, "why": sound.why},
            "notes": [
                {"code": note.code, "start_s": seconds(note.start_us), "words": note.words}
                for note in self.notes
            ],
            "picture": {"looked_at": self.picture_searched, "words": self.picture},
            "rallies": [rally.to_json() for rally in self.rallies],
            "by": self.by,
            "words": self.words,
            "knock_up_s": [seconds(us) for us in self.knock_up_us] if self.knock_up_us else None,
        }


def detect_rallies(
    path: str | Path,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    *,
    keep: Path | None = None,
    motion: bool = True,
    picture: bool = False,
) -> RallyDetection:
    """Return the rallies of a film.

    Parameters
    ----------
    path : str or Path
    progress, cancel : callable, optional
        Told the share done with a word; asked whether to stop.
    keep : Path, optional
        A file (.npz) for what has been heard: a later call goes on from there. A film that was replaced is
        heard anew.
    motion : bool
        Look for moving players when the sound is of no use.
    picture : bool
        Use the moving players together with the sound: the whole film is decoded, which takes minutes an
        hour. Left out, the sound's answer comes at once and says that the picture was not looked at.

    Returns
    -------
    RallyDetection
        Times are as heard: sound takes 3 ms for each metre from the court to the microphone.

    Raises
    ------
    FootageError, Cancelled

    Limits
    ------
    Measured on invented recordings only (see `bench hearing`); a real court has not been heard yet.
    """
    where = absolute(path)
    sound = sound_stream_of(where)
    if sound is None or sound.first_s is None:
        use = SoundUse(False, None if sound is None else sound.track, NO_SOUND)
        return _without_sound(where, use, motion or picture, progress, cancel)
    start_us = round(sound.first_s * MICROSECONDS)
    features = sound_of(where, start_us, keep, progress, cancel)
    profile = motion_profile(where, None, progress, cancel) if picture else None
    moves = () if profile is None else (profile.shifted(-sound.first_s),)
    found = recognise_rallies(features, moves)
    if not found.usable:
        use = SoundUse(False, sound.track, NOT_USABLE)
        alone = _without_sound(where, use, motion, progress, cancel, profile)
        return replace(alone, notes=detection_notes(found, start_us))
    rallies = rallies_from_recognition(found, start_us)
    warm = None
    if found.warm_up_s:
        warm = (_us(found.warm_up_s[0], start_us), _us(found.warm_up_s[1], start_us))
    words = picture_words(picture, found.with_picture)
    return RallyDetection(
        rallies,
        "sound and motion" if found.with_picture else "sound",
        detection_words(rallies, warm is not None, words),
        warm,
        picture,
        words,
        (SoundUse(True, sound.track),),
        detection_notes(found, start_us),
    )


def detection_notes(found: RallyRecognition, start_us: int) -> tuple[DetectionNote, ...]:
    """Return what is unusual about a recording, on the time line on which its sound starts then."""
    return tuple(
        DetectionNote(note.code, _us(note.start_s, start_us), note.words(seconds(start_us)))
        for note in found.notes
    )


def picture_words(picture_searched: bool, of_use: bool) -> str:
    """Return what to say about the picture."""
    return PICTURE_LATER if not picture_searched else PICTURE_JOINED if of_use else PICTURE_NO_USE


def detection_words(rallies: tuple[DetectedRally, ...], warm: bool, picture: str) -> str:
    """Return the line that says how many rallies were found, and what to know about them."""
    doubtful = sum(rally.doubtful for rally in rallies)
    words = (
        f"{len(rallies)} {'rally' if len(rallies) == 1 else 'rallies'} detected, {doubtful_words(doubtful)}."
    )
    return f"{words} {WARM_UP_WORDS} {picture}" if warm else f"{words} {picture}"


def doubtful_words(count: int) -> str:
    """Return how many of the spans just counted are doubtful."""
    return f"{count} of them doubtful" if count else "none doubtful"


def rallies_from_recognition(found: RallyRecognition, start_us: int) -> tuple[DetectedRally, ...]:
    """Return sure and doubtful rallies in order of time."""
    return tuple(_detected_rally(rally, start_us) for rally in found.rallies)


def _detected_rally(rally: RecognisedRally, start_us: int) -> DetectedRally:
    def strike_fields(impact: NamedImpact) -> tuple[int, str, float]:
        return _us(impact.time_s, start_us), impact.surface, impact.chance

    hits = tuple(_us(at, start_us) for at in rally.strikes_s.tolist())
    return DetectedRally(
        start_us=hits[0],
        end_us=hits[-1],
        hits_us=hits,
        doubtful=rally.doubtful,
        why=rally.why,
        chance=rally.chance,
        strikes=tuple(strike_fields(impact) for impact in rally.impacts),
        clip_end_us=_us(rally.clip_end_s, start_us),
    )


def _us(at_s: float, start_us: int) -> int:
    return start_us + round(at_s * MICROSECONDS)


def _without_sound(
    path: Path,
    use: SoundUse,
    motion: bool,
    progress: Progress | None,
    cancel: Cancel | None,
    profile: MotionProfile | None = None,
) -> RallyDetection:
    """Return what the moving players alone tell, or that nothing does."""
    if not motion:
        return RallyDetection((), "nothing", use.why, sound=(use,))
    spans = rallies_in_profile(profile or motion_profile(path, None, progress, cancel))
    rallies = tuple(rally_by_motion(a, b) for a, b in spans)
    words = f"Rallies cannot be detected: {use.why}. {BY_MOTION}"
    return RallyDetection(rallies, "motion", words, None, True, PICTURE_ALONE, (use,))


def rally_by_motion(start_us: int, end_us: int) -> DetectedRally:
    """Return a rally guessed from moving players alone."""
    return DetectedRally(start_us, end_us, (), True, "from moving players, not from the sound")


def onsets_of(
    path: Path, start_us: int, keep: Path | None, progress: Progress | None, cancel: Cancel | None
) -> Onsets:
    """Return all impacts of the film's sound in seconds from its first sample, taking up what was kept
    in `keep`.
    """
    return sound_of(path, start_us, keep, progress, cancel).onsets


def sound_of(
    path: Path, start_us: int, keep: Path | None, progress: Progress | None, cancel: Cancel | None
) -> SoundFeatures:
    """Return what is kept of the film's sound, from its first sample on, taking up what was kept in
    `keep`.
    """
    mark = fingerprint(path)
    parts, done_s = _read_checkpoint(keep, mark)
    begin_s = max(0.0, round((done_s - 2 * CONTEXT_S) / HOP_S) * HOP_S)
    again = round((done_s - begin_s) / HOP_S)  # frames that are heard a second time
    saved_at_s = done_s
    with (
        open_video(path, with_picture=False) as film,
        closing(_blocks_ahead(film, start_us, begin_s)) as blocks,
    ):
        assert film.audio is not None
        listener = FeatureExtractor(film.audio.codec_context.sample_rate, begin_s)
        length_s = (film.container.duration or 0) / MICROSECONDS
        for block in blocks:
            part = listener.feed(block)
            parts.append(_after(part, done_s, again))
            again = max(0, again - len(part.frames))
            until = listener.until_s
            stop = cancel is not None and cancel()
            if keep is not None and (stop or until - saved_at_s >= KEEP_EVERY_S):
                _write_checkpoint(keep, mark, parts, max(done_s, until))
                saved_at_s = until
            if stop:
                raise Cancelled(
                    f"Analysing the sound of {path.name} was stopped; what was found is saved for the "
                    "next time."
                )
            if progress is not None and length_s > 0:
                progress(min(0.99, until / length_s), "listening")
        parts.append(_after(listener.rest(), done_s, again))
    whole = SoundFeatures.joined(parts)
    if keep is not None:
        _write_checkpoint(keep, mark, [whole], len(whole.frames) * HOP_S)
    return whole


def _after(part: SoundFeatures, done_s: float, again: int) -> SoundFeatures:
    """Return a piece without what was kept before."""
    return SoundFeatures(part.frames[again:], part.onsets.where(part.onsets.time_s >= done_s))


def _blocks_ahead(film: VideoFile, start_us: int, begin_s: float) -> Generator[Samples]:
    """Yield blocks of mono samples, decoded by a thread of their own a few blocks ahead."""
    ready: queue.Queue[Samples | BaseException | None] = queue.Queue(QUEUED_BLOCKS)
    over = threading.Event()

    def hand(item: Samples | BaseException | None) -> bool:
        while not over.is_set():
            with contextlib.suppress(queue.Full):
                ready.put(item, timeout=0.1)
                return True
        return False

    def decode() -> None:
        try:
            jumps = film.container.format.name in JOINABLE
            line = NativeSampleReader(film, _us(begin_s, start_us), from_beginning=jumps)
            for block in line.blocks(round(BLOCK_S * line.rate_hz)):
                if not hand(block):
                    return
            hand(None)
        except BaseException as error:
            hand(error)

    thread = threading.Thread(target=decode, name="goodlength sound", daemon=True)
    thread.start()
    try:
        while (item := ready.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        over.set()
        thread.join()


def _write_checkpoint(path: Path, mark: str, parts: list[SoundFeatures], done_s: float) -> None:
    whole = SoundFeatures.joined(parts)
    count = round(done_s / HOP_S)
    onsets = whole.onsets.where(whole.onsets.time_s < count * HOP_S)
    with atomic_write(path) as part, part.open("wb") as file:
        about = np.array(json.dumps({"mark": mark, "done_s": count * HOP_S}))
        arrays = {f.name: getattr(onsets, f.name) for f in fields(Onsets)}
        np.savez(file, about=about, frames=whole.frames[:count], **arrays)


def _read_checkpoint(path: Path | None, mark: str) -> tuple[list[SoundFeatures], float]:
    """Return what an earlier call kept of the same film; nothing when there is none or it is of another."""
    if path is None:
        return [], 0.0
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            about = json.loads(str(archive["about"]))
            if about["mark"] != mark:
                return [], 0.0
            onsets = Onsets(*(archive[f.name].astype(float) for f in fields(Onsets)))
            frames = archive["frames"].astype(np.uint8)
            done = float(about["done_s"])
            if len(frames) != round(done / HOP_S):
                return [], 0.0
            return [SoundFeatures(frames, onsets.where(onsets.time_s < done))], done
    except UNREADABLE_ARRAYS:
        return [], 0.0
