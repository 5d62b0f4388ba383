"""Remux a recording without encoding its streams again.

One picture and one sound of several are copied into a file of their own; a bare stream of pictures is given
the times it lacks.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, cast

import av
from av.container import InputContainer, OutputContainer
from av.packet import Packet
from av.stream import Discard, Stream

from goodlength.errors import Cancelled, FootageError, OutOfRange
from goodlength.files.atomic_write import atomic_write
from goodlength.footage.media.stream_selection import Track
from goodlength.footage.media.video_file_opening_or_rejection import (
    VideoFile,
    absolute,
    bare_kind,
    exact,
    open_video,
)
from goodlength.jobs.progress_callback import Cancel, Progress

USUAL_RATE_HZ = 25.0
LEAST_RATE_HZ, MOST_RATE_HZ = 1.0, 1000.0
CLOCK_HZ = 90_000  # a second: the clock given to pictures that have none
# Kinds of file that take any codec a camera records; what comes in another is packed as .mkv.
SUFFIXES = frozenset({".mp4", ".mov", ".m4v", ".mkv"})


@dataclass(frozen=True)
class Repacked:
    """A file written by `repack`: its path, and in words what is in it."""

    path: str
    words: str


def suffix_for(src: str | Path) -> str:
    """Return the ending of a repacked file: as the original's where that takes any picture and sound,
    else .mkv.
    """
    source = absolute(src)
    if bare_kind(source):
        return ".mp4"
    own = source.suffix.lower()
    return own if own in SUFFIXES else ".mkv"


def repack(
    src: str | Path,
    dst: str | Path,
    *,
    picture: int | None = None,
    sound: int | None = None,
    rate_hz: float | None = None,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> Repacked:
    """Copy one picture and one sound of a recording into a file of their own, or give bare pictures times.

    Parameters
    ----------
    src, dst : str or Path
        The original is never changed.
    picture, sound : int, optional
        The numbers that `look` gives, from 1; left out, those it uses. `sound` 0 leaves the sound out.
    rate_hz : float, optional
        Pictures a second of a bare stream, 1 to 1000; as it says itself, else 25.
    progress, cancel : callable, optional
        Told the share done with a word; asked whether to stop.

    Raises
    ------
    OutOfRange
        There is no such track, or the rate is out of range.
    FootageError, NoSpace, Cancelled
        With nothing half-written left behind.
    """
    source, target = absolute(src), absolute(dst)
    if source == target or (target.exists() and target.samefile(source)):
        raise OutOfRange(
            f"The new file would overwrite its own original {source.name}. Give it another name."
        )
    kind = bare_kind(source)
    if kind:
        return _timed(source, target, kind, rate_hz, progress, cancel)
    with open_video(source) as film:
        chosen: list[Stream] = [_chosen(film, "picture", picture) or film.video]
        if sound != 0:
            audio = _chosen(film, "sound", sound) or film.audio
            chosen += [audio] if audio is not None else []
        for stream in film.container.streams:
            stream.discard = Discard.default if stream in chosen else Discard.all
        with atomic_write(target) as part, av.open(f"file:{part}", "w", format=_format(target)) as new:
            _copy(film.container, new, chosen, source, progress, cancel)
    return Repacked(str(target), f"{target.name}: video and sound as recorded, not encoded again.")


def _format(target: Path) -> str:
    return {".mkv": "matroska", ".mov": "mov"}.get(target.suffix.lower(), "mp4")


def _chosen(film: VideoFile, kind: str, number: int | None) -> Stream | None:
    """Return the stream with a number; None where none was asked for."""
    if number is None:
        return None
    alone = film.video if kind == "picture" else film.audio
    tracks = [t for t in film.tracks if t.kind == kind]
    if not tracks and alone is not None:
        tracks = [Track(kind, 1, alone.index, "", True)]
    found = next((t for t in tracks if t.number == number), None)
    if found is None:
        raise OutOfRange(
            f"{film.name} has {len(tracks)} {kind} tracks; there is not a number {number}. "
            "Choose one of them.",
            command="goodlength footage check FILE",
        )
    return film.container.streams[found.index]


def _copy(
    old: InputContainer,
    new: OutputContainer,
    chosen: list[Stream],
    source: Path,
    progress: Progress | None,
    cancel: Cancel | None,
) -> None:
    pairs: dict[int, Stream] = {s.index: new.add_stream_from_template(cast(Any, s)) for s in chosen}
    length = (old.duration or 0) / 1e6
    for n, packet in enumerate(old.demux(*chosen)):
        if packet.dts is None or packet.pts is None:
            continue
        if n % 100 == 0:
            _asked(source, progress, cancel, float(packet.pts * packet.time_base), length)
        packet.stream = pairs[packet.stream.index]
        new.mux(packet)


def _asked(
    source: Path, progress: Progress | None, cancel: Cancel | None, at_s: float, length_s: float
) -> None:
    if cancel is not None and cancel():
        raise Cancelled(f"Packing {source.name} was stopped; nothing was written.")
    if progress is not None:
        progress(min(0.99, max(0.0, at_s / length_s)) if length_s > 0 else 0.5, "packing")


def _timed(
    source: Path,
    target: Path,
    kind: str,
    rate_hz: float | None,
    progress: Progress | None,
    cancel: Cancel | None,
) -> Repacked:
    """Return a bare stream of pictures in a container, one picture after the other at an even rate."""
    if rate_hz is not None and not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
        raise OutOfRange(f"The frame rate is from 1 to 1000 frames per second; got {rate_hz:g}.")
    count = 0
    try:
        with av.open(f"file:{source}", format=kind) as old:
            video = old.streams.video[0]
            rate = _rate(video.codec_context.framerate, rate_hz)
            step = Fraction(CLOCK_HZ) / rate
            with atomic_write(target) as part, av.open(f"file:{part}", "w", format="mp4") as new:
                to = new.add_stream_from_template(video)
                for packet in old.demux(video):
                    if not packet.size:
                        continue
                    if count % 100 == 0:
                        _asked(source, progress, cancel, 0.0, 0.0)
                    _set_timestamps(packet, round(count * step), round(step))
                    packet.stream = to
                    new.mux(packet)
                    count += 1
                if not count:
                    raise FootageError(f"{source.name} holds no frame that could be read.")
    except av.FFmpegError as error:
        raise FootageError(
            f"{source.name} could not be packed ({error.strerror or error}). Copy it again from the camera."
        ) from error
    words = f"{target.name}: {count} frames at {float(rate):g} per second, not encoded again."
    if rate_hz is None:
        words += " The rate is as the stream says or usual; times are wrong if the camera took another."
    return Repacked(str(target), words)


def _rate(own: Any, rate_hz: float | None) -> Fraction:
    if rate_hz is not None:
        return Fraction(rate_hz).limit_denominator(1001)
    return exact(own) if own else Fraction(USUAL_RATE_HZ)


def _set_timestamps(packet: Packet[Any], step: int, length: int) -> None:
    packet.pts = packet.dts = step
    packet.duration = length
    packet.time_base = Fraction(1, CLOCK_HZ)
