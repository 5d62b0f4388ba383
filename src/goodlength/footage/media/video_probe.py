"""Probe a video: what it is, in figures and in words, found by reading it.

`probe` answers the coach's first question about a file: can it be used, how long is it really, and what
should I know. Every problem is a sentence with its next step; a file that is no film raises one.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from goodlength.errors import FootageError
from goodlength.files.json_types import Json
from goodlength.footage.media import hdr_tone_mapping_lut
from goodlength.footage.media.audio_decoding import SoundStream, last_sound_s, sound_stream_of
from goodlength.footage.media.display_transform import DisplayShape, display_shape_of
from goodlength.footage.media.file_completeness import SETTLE_S, Waiting, settled
from goodlength.footage.media.frame_presentation_time_table import FrameTable
from goodlength.footage.media.packet_scan import MediaSpan, PacketScan, scan_packets
from goodlength.footage.media.recording_date import Recorded, recorded_in
from goodlength.footage.media.stream_selection import Track, passed_over
from goodlength.footage.media.video_file_opening_or_rejection import (
    VideoFile,
    absolute,
    check_head,
    open_video,
)
from goodlength.media_time import clock_words, seconds

EDGE_BYTES = 65536
LATE_S = 0.1
SHORT_S, SHORT_SHARE = 0.5, 0.02
UNEVEN_S = 0.0015
UNEVEN_SHARE = 0.1


@dataclass(frozen=True)
class FileProblem:
    """Something to know about a film: a code for the program, a sentence for the coach."""

    code: str
    words: str


@dataclass(frozen=True)
class Probe:
    """What reading a film has shown.

    Times are media time in seconds: the film's own clock, by its stamps. `width` and `height` are those of
    the upright picture with square pixels. `counted` is "decoded" when every picture was decoded, "packets"
    when a long film's pictures were counted by their packets and only its beginning, end and suspected
    damage decoded. `key_distance_s` is the longest way between two pictures that stand alone.
    """

    path: str
    size_bytes: int
    fingerprint: str
    container: str
    duration_s: float
    first_s: float
    last_frame_end_s: float
    frames: int
    counted: str
    width: int
    height: int
    rotation_deg: int
    mirrored: bool
    sample_aspect: tuple[int, int]
    codec: str
    pixel_format: str
    high_range: str
    interlaced: bool
    rate_hz: float
    variable_rate: bool
    key_distance_s: float
    in_decoding_order: bool
    jumps_back: int
    hidden_frames: int
    sound: bool
    sound_first_s: float | None
    sound_codec: str | None
    sound_channels: int
    sound_rate_hz: int
    timecode: str | None
    damaged: tuple[MediaSpan, ...]
    problems: tuple[FileProblem, ...]
    covered_frames: int = 0
    recorded: Recorded | None = None
    tracks: tuple[Track, ...] = ()  # every picture and sound there is, where there is a choice

    def to_json(self) -> dict[str, Json]:
        """Return the same as plain JSON values."""
        return asdict(self)


def probe(path: str | Path, *, thorough: bool | None = None, settle_s: float = SETTLE_S) -> Probe:
    """Return what the film at `path` is: length, size, sound, stamps, and problems in words.

    Parameters
    ----------
    path : str or Path
    thorough : bool, optional
        True decodes every picture, about a fifth of the film's length for 1080p on two cores; by default
        short films are decoded whole and long ones counted by packets.
    settle_s : float
        A file that changed less than so long ago is watched for the rest, whether it is still being copied.

    Raises
    ------
    FootageGone, NotFootage, Unfinished, FootageError
        Each with its own words.

    Limits
    ------
    Damage inside the pictures of a long film is found only when it is decoded: by `thorough` or the proxy.
    """
    return probe_with_frames(path, thorough=thorough, settle_s=settle_s)[0]


def probe_with_frames(
    path: str | Path,
    *,
    thorough: bool | None = None,
    settle_s: float = SETTLE_S,
    waiting: Waiting | None = None,
) -> tuple[Probe, FrameTable]:
    """Return `probe` and `frame_table` from one reading; `waiting` is called when a file is watched for a
    while.
    """
    where = absolute(path)
    check_head(where)
    before = where.stat()
    try:
        found = scan_packets(where, thorough=thorough, fingerprint=fingerprint(where))
        sound = sound_stream_of(where)
    except FootageError:
        settled(where, before, settle_s, waiting)
        raise
    settled(where, before, settle_s, waiting)
    with open_video(where) as film:
        return _probe_result(film, found, sound, before.st_size), found.table


def fingerprint(path: Path) -> str:
    """Return a short name for a file's content: its size with its first and last 64 kB. For noticing a
    swap.
    """
    size = path.stat().st_size
    digest = hashlib.sha256(str(size).encode())
    with path.open("rb") as file:
        digest.update(file.read(EDGE_BYTES))
        file.seek(max(0, size - EDGE_BYTES))
        digest.update(file.read(EDGE_BYTES))
    return digest.hexdigest()[:32]


def _probe_result(film: VideoFile, found: PacketScan, sound: SoundStream | None, size: int) -> Probe:
    table, video = found.table, film.video
    ratio = video.sample_aspect_ratio or Fraction(1)
    shape = display_shape_of(found.first_frame, (ratio.numerator, ratio.denominator), found.interlaced)
    width, height = shape.size
    timecodes = [s.metadata["timecode"] for s in film.container.streams if s.metadata.get("timecode")]
    return Probe(
        path=str(film.path),
        size_bytes=size,
        fingerprint=table.fingerprint,
        container=film.container.format.name,
        duration_s=seconds(table.end_us - table.first_us),
        first_s=seconds(table.first_us),
        last_frame_end_s=seconds(table.end_us),
        frames=len(table),
        counted=table.counted,
        width=width,
        height=height,
        rotation_deg=shape.turn_deg,
        mirrored=shape.mirrored,
        sample_aspect=shape.aspect,
        codec=video.codec_context.name,
        pixel_format=found.first_frame.format.name,
        high_range=hdr_tone_mapping_lut.NAMES.get(shape.transfer, ""),
        interlaced=shape.interlaced,
        rate_hz=_rate(table),
        variable_rate=_uneven(table),
        key_distance_s=_key_distance_s(table),
        in_decoding_order=found.losses.in_decoding_order,
        jumps_back=table.jumps_back,
        hidden_frames=found.hidden,
        sound=sound is not None,
        sound_first_s=sound.first_s if sound else None,
        sound_codec=sound.codec if sound else None,
        sound_channels=sound.channels if sound else 0,
        sound_rate_hz=sound.rate_hz if sound else 0,
        timecode=timecodes[0] if timecodes else None,
        damaged=found.damaged,
        problems=tuple(_problems(film, found, sound, shape)),
        covered_frames=found.covered,
        tracks=film.tracks,
        recorded=recorded_in([film.container.metadata, *(s.metadata for s in film.container.streams)]),
    )


def _rate(table: FrameTable) -> float:
    """Return pictures a second: of the whole film where its steps are even, else of the usual step; 0 for
    one.
    """
    if len(table) < 2:
        return 0.0
    step = Fraction(int(np.median(table.durations[:-1])))
    if not _uneven(table):
        step = Fraction(int(table.pts[-1] - table.pts[0]), len(table) - 1)
    return round(float(1 / (step * table.base.tick)), 3)


def _uneven(table: FrameTable) -> bool:
    """Return whether the steps differ by more than a recorder's rounding (1.5 ms, or a tenth of the
    usual step).
    """
    if len(table) < 3:
        return False
    steps = table.durations[:-1] * float(table.base.tick)
    return bool(steps.max() - steps.min() > max(UNEVEN_S, UNEVEN_SHARE * float(np.median(steps))))


def _key_distance_s(table: FrameTable) -> float:
    """Return the longest way between two pictures that stand alone, the end of the film included."""
    keys = table.pts[table.keys]
    edges = np.append(keys, table.pts[-1] + table.durations[-1])
    steps = np.diff(edges) if len(keys) else np.array([edges[-1] - table.pts[0]])
    return round(float(steps.max() * float(table.base.tick)), 6)


def _problems(
    film: VideoFile, found: PacketScan, sound: SoundStream | None, shape: DisplayShape
) -> list[FileProblem]:
    """Return everything worth a sentence, the worst first."""
    table = found.table
    problems: list[FileProblem] = []

    def say(code: str, words: str) -> None:
        problems.append(FileProblem(code, words))

    claimed = _claimed_s(film, found)
    broken_end = bool(found.damaged) and found.damaged[-1].to_us >= table.ends_us[-1] - 1
    if claimed is not None:
        say(
            "cut-short",
            f"{film.name} says it lasts {clock_words(claimed)}, but its frames end at "
            f"{clock_words(seconds(table.end_us))}: it was cut short. What is there can be used; copy it "
            "again from the camera if the rest matters.",
        )
    elif broken_end:
        say(
            "cut-short",
            f"The last frames of {film.name}, at {clock_words(seconds(found.damaged[-1].from_us))}, are "
            "broken: it was cut short. What comes before can be used; copy it again from the camera "
            "if the rest "
            "matters.",
        )
    if found.losses.stopped:
        say(
            "stops",
            f"Reading {film.name} stopped at {clock_words(seconds(table.end_us))} ({found.losses.stopped}). "
            "What comes before can be used; copy it again from the camera if the rest matters.",
        )
    if found.damaged and not (broken_end and len(found.damaged) == 1):
        spans = ", ".join(
            f"{clock_words(seconds(s.from_us))} to {clock_words(seconds(s.to_us))}" for s in found.damaged[:5]
        )
        more = f" and {len(found.damaged) - 5} more" if len(found.damaged) > 5 else ""
        say(
            "damaged",
            f"{film.name} is damaged at {spans}{more}: frames there are missing or broken, the rest is "
            "complete. Do not rely on times inside; copy it again from the camera if you can.",
        )
    if table.jumps_back:
        say(
            "clock-jumps",
            f"The clock in {film.name} jumps back {table.jumps_back} times, as in joined videos. "
            "Times continue from one part to the next; it needs a copy to play.",
        )
    if found.losses.in_decoding_order:
        say(
            "stamps-out-of-order",
            f"The time stamps of {film.name} are out of order. Frames are shown in their right order; their "
            "times may be off by two or three frames.",
        )
    if sound is None:
        say(
            "no-sound",
            f"{film.name} has no sound: rallies cannot be detected from it; set them by hand or detect "
            "them from movement.",
        )
    elif sound.first_s is None:
        say(
            "sound-broken",
            f"The sound of {film.name} cannot be decoded: set rallies by hand or detect them from movement.",
        )
    problems += _smaller_problems(film, found, sound, shape)
    return problems


def _claimed_s(film: VideoFile, found: PacketScan) -> float | None:
    """Return the length the file claims, when its pictures and sound fall short of it."""
    length = seconds(found.table.end_us - found.table.first_us)
    if found.claimed_s is not None:
        return found.claimed_s if _falls_short(length, found.claimed_s) else None
    whole = film.container.duration
    if whole is None or not _falls_short(length, seconds(whole)):
        return None
    return seconds(whole) if _falls_short(last_sound_s(film.path), seconds(whole)) else None


def _falls_short(length_s: float, claimed_s: float) -> bool:
    return claimed_s - length_s > max(SHORT_S, SHORT_SHARE * claimed_s)


def _smaller_problems(
    film: VideoFile, found: PacketScan, sound: SoundStream | None, shape: DisplayShape
) -> list[FileProblem]:
    problems = [
        FileProblem(f"{kind}-passed-over", words)
        for kind in ("picture", "sound")
        if (words := passed_over(film.name, film.tracks, kind))
    ]
    if found.unstamped:
        problems.append(
            FileProblem(
                "no-times",
                f"The first {found.unstamped} frames of {film.name} carry no time and are left out: "
                "its clock started below zero. The rest is complete.",
            )
        )
    first = seconds(found.table.first_us)
    if sound is not None and sound.first_s is not None and abs(sound.first_s - first) > LATE_S:
        late, early = ("sound", "picture") if sound.first_s > first else ("picture", "sound")
        problems.append(
            FileProblem(
                f"{late}-late",
                f"the {late} of {film.name} begins {abs(sound.first_s - first):.2f} s after its {early}. "
                "Both are put on one clock; you need not do anything.",
            )
        )
    if shape.transfer:
        problems.append(
            FileProblem(
                "high-range",
                f"{film.name} was filmed in high dynamic range "
                f"({hdr_tone_mapping_lut.NAMES[shape.transfer]}). Its copy "
                "and clips are made for ordinary screens; very bright lamps lose detail there.",
            )
        )
    if shape.interlaced:
        problems.append(
            FileProblem(
                "interlaced",
                f"{film.name} is interlaced: fast movement shows comb lines. The copy and clips are "
                "smoothed.",
            )
        )
    if shape.mirrored:
        problems.append(
            FileProblem(
                "mirrored", f"{film.name} is marked as mirrored; it is turned back so that left is left."
            )
        )
    return problems
