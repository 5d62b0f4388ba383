"""Scan a video's packets in one pass, decoding only as much as needed, for the probe and the frame table.

Nothing is taken from the file's header: pictures are counted and timed by reading.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from av.packet import Packet
from av.stream import Stream
from av.video.frame import VideoFrame

from goodlength.errors import NotFootage
from goodlength.footage.media.damage_tolerant_frame_decoding import (
    DecodeErrors,
    decode_frames,
    decode_frames_from,
    demux,
    pts_of,
    timestamp_of,
)
from goodlength.footage.media.frame_presentation_time_table import FrameTable, PtsArray, table_of, us_of
from goodlength.footage.media.video_file_opening_or_rejection import VideoFile, open_video
from goodlength.media_time import TimeBase

# Decoding takes about 1 CPU-second per 140 million pixels of H.264 (source: GL-FOOTAGE-STUDY).
DECODE_ALL_PIXELS = 600_000_000
PROBE_PICTURES = 12
COVERED_SHARE = 0.25  # of a usual picture: less is a recorder's rounding
NO_PTS = np.zeros(0, np.int64)


@dataclass(frozen=True)
class MediaSpan:
    """A stretch of media time."""

    from_us: int
    to_us: int


@dataclass(frozen=True)
class PacketScan:
    """What reading the film has shown: the table of pictures, and what was wrong on the way."""

    table: FrameTable
    first_frame: VideoFrame
    interlaced: bool
    damaged: tuple[MediaSpan, ...]
    losses: DecodeErrors
    hidden: int
    double: int
    claimed_s: float | None
    unstamped: int = 0  # pictures at the beginning that carry no time
    covered: int = 0  # pictures whose moment the length written for the one before reaches over


@dataclass
class _Seen:
    """What the packets of the picture say, in file order."""

    stamps: array[int] = field(default_factory=lambda: array("q"))
    lengths: array[int] = field(default_factory=lambda: array("q"))
    keys: bytearray = field(default_factory=bytearray)
    suspects: list[int] = field(default_factory=list)
    hidden: int = 0
    unstamped: int = 0
    losses: DecodeErrors = field(default_factory=DecodeErrors)


@dataclass
class _Decoded:
    """Which stamps were tried, which gave a picture, and which a broken one."""

    attempted: PtsArray = field(default_factory=lambda: NO_PTS)
    got: PtsArray = field(default_factory=lambda: NO_PTS)
    corrupt: list[int] = field(default_factory=list)


def scan_packets(path: Path, *, thorough: bool | None = None, fingerprint: str = "") -> PacketScan:
    """Read the film once through its packets, and decode it where that is cheap or asked for.

    Parameters
    ----------
    path : Path
    thorough : bool, optional
        True decodes every picture; False only the beginning, the end and suspected damage; by default the
        whole when it takes a few seconds at most.
    fingerprint : str
        Kept in the table.

    Raises
    ------
    NotFootage, Unfinished, FootageGone
        As `open_video`; also when no picture can be decoded.
    """
    with open_video(path, with_sound=False) as film:
        seen = _read_packets(film)
        size = film.video.width * film.video.height
        claimed = film.video.duration
        claimed_s = float(claimed * film.base.tick) if claimed and claimed > 0 else None
        base = film.base
    stamps = np.frombuffer(seen.stamps, np.int64) if seen.stamps else NO_PTS
    if not len(stamps):
        raise NotFootage(
            f"No frame of {path.name} could be read: the file is damaged or cut off right at its start. "
            "Copy it again from the camera."
        )
    whole = thorough if thorough is not None else len(stamps) * size <= DECODE_ALL_PIXELS
    head = _head(path, seen.losses)
    decoded = _decode_all(path, stamps) if whole else _decode_parts(path, seen, stamps)
    pts, first_of = np.unique(stamps, return_index=True)
    key_pts = pts[np.frombuffer(seen.keys, np.uint8)[first_of] > 0]
    missing = np.setdiff1d(np.intersect1d(pts, decoded.attempted), decoded.got)
    shown = np.setdiff1d(np.union1d(pts, decoded.got), missing)
    last = _last_length(pts, stamps, seen.lengths)
    bad = np.union1d(_with_neighbours(stamps, missing, seen.suspects), np.array(decoded.corrupt, np.int64))
    return PacketScan(
        table_of(
            shown,
            base,
            last,
            np.isin(shown, key_pts),
            "decoded" if whole else "packets",
            fingerprint,
            seen.losses.jumps_back,
        ),
        head[0],
        any(frame.interlaced_frame for frame in head),
        damaged_spans(bad, key_pts, int(pts[-1]) + last, base),
        seen.losses,
        seen.hidden,
        len(stamps) - len(pts),
        claimed_s,
        seen.unstamped,
        covered_pictures(stamps, np.frombuffer(seen.lengths, np.int64)),
    )


def covered_pictures(stamps: PtsArray, lengths: PtsArray) -> int:
    """Return how many pictures begin before the written length of the one shown before is over.

    Uneven steps with pictures out of order in the file: the length then belongs to another picture, and a
    browser asked for the covered one goes on showing the one before.

    Examples
    --------
    >>> covered_pictures(np.array([0, 2, 1, 4]), np.array([1, 2, 1, 1]))
    0
    >>> covered_pictures(np.array([0, 3, 2]), np.array([1, 1, 2]))
    1
    """
    order = np.argsort(stamps, kind="stable")
    start, length = stamps[order], lengths[order]
    slack = COVERED_SHARE * float(np.median(length))
    steps = np.diff(start)
    return int(np.count_nonzero((length[:-1] > steps + slack) & (steps > 0)))


def _read_packets(film: VideoFile) -> _Seen:
    seen = _Seen()
    last = 0
    waiting: int | None = 0  # pictures without a stamp before the first with one
    size = _length_size(film)
    for packet in demux(film.container, film.video, seen.losses):
        if packet.is_discard or not packet.size:
            seen.hidden += bool(packet.size)
            continue
        pts = timestamp_of(packet)
        if pts is None:
            if waiting is not None:
                waiting += 1
            pts = last + (packet.duration or 1)
        elif waiting:
            # The recorder's clock began below what the file can hold: those pictures have no moment.
            seen.unstamped = waiting
            del seen.stamps[:], seen.lengths[:], seen.keys[:], seen.suspects[:]
            waiting = None
        else:
            waiting = None
        last = pts
        if packet.is_corrupt or (size and not _units_fit(packet, size)):
            seen.suspects.append(pts)
        seen.stamps.append(pts)
        seen.lengths.append(packet.duration or 0)
        seen.keys.append(packet.is_keyframe)
    return seen


def _length_size(film: VideoFile) -> int:
    """Bytes of each unit's length in H.264 and HEVC of MP4 and MKV; 0 where units are marked otherwise.

    source: ISO-14496-15, the configuration records avcC (byte 4) and hvcC (byte 21).
    """
    extra = film.video.codec_context.extradata or b""
    name = film.video.codec_context.name
    if name == "h264" and len(extra) > 6 and extra[0] == 1:
        return (extra[4] & 3) + 1
    if name == "hevc" and len(extra) > 22 and extra[0] == 1:
        return (extra[21] & 3) + 1
    return 0


def _units_fit(packet: Packet[Stream], size: int) -> bool:
    """Return whether the units of a packet end where the packet ends: noise over a file breaks that first."""
    data = memoryview(packet)
    at, end = 0, len(data)
    while at + size <= end:
        at += size + int.from_bytes(data[at : at + size], "big")
    return at == end


def _head(path: Path, losses: DecodeErrors) -> list[VideoFrame]:
    """Return the first pictures as the decoder gives them; notes whether their stamps are in decoding
    order.
    """
    frames: list[VideoFrame] = []
    own = DecodeErrors()
    with open_video(path, with_sound=False) as film:
        for frame in decode_frames(film, own):
            frames.append(frame)
            if len(frames) >= PROBE_PICTURES:
                break
    if not frames:
        raise NotFootage(
            f"No frame of {path.name} could be decoded: the file is damaged. Copy it again from the camera."
        )
    losses.in_decoding_order = own.in_decoding_order
    return frames[:3]


def _decode_all(path: Path, stamps: PtsArray) -> _Decoded:
    losses = DecodeErrors()
    got = array("q")
    with open_video(path, with_sound=False) as film:
        for frame in decode_frames(film, losses):
            got.append(pts_of(frame))
    return _Decoded(stamps, np.unique(np.array(got, np.int64)), losses.corrupt)


def _decode_parts(path: Path, seen: _Seen, stamps: PtsArray) -> _Decoded:
    """Decode the last stretch and the stretches around suspects, each from a key picture to the next."""
    keys = np.unique(stamps[np.frombuffer(seen.keys, np.uint8) > 0])
    if seen.losses.in_decoding_order or seen.losses.jumps_back or not len(keys):
        return _Decoded()
    pts = np.unique(stamps)
    wanted = sorted(
        {max(0, int(np.searchsorted(keys, s, "right")) - 1) for s in [*seen.suspects, int(pts[-1])]}
    )
    losses = DecodeErrors()
    got = array("q")
    attempted = []
    with open_video(path, with_sound=False) as film:
        for i in wanted:
            start, end = int(keys[i]), int(keys[i + 1]) if i + 1 < len(keys) else None
            for frame in decode_frames_from(film, start, losses):
                if end is not None and pts_of(frame) >= end:
                    break
                got.append(pts_of(frame))
            attempted.append(pts[(pts >= start) & ((pts < end) if end is not None else True)])
    return _Decoded(
        np.concatenate(attempted) if attempted else NO_PTS, np.unique(np.array(got, np.int64)), losses.corrupt
    )


def _with_neighbours(stamps: PtsArray, missing: PtsArray, suspects: list[int]) -> PtsArray:
    """Lost and broken pictures, each with the one before it: damage may begin in its last bytes."""
    broken = np.flatnonzero(np.isin(stamps, np.union1d(missing, np.array(suspects, np.int64))))
    return np.unique(stamps[np.union1d(broken, np.maximum(broken - 1, 0))])


def _last_length(pts: PtsArray, stamps: PtsArray, lengths: array[int]) -> int:
    """Return how long the last picture stands: as its packet says, else as long as pictures usually do."""
    usual = int(np.median(np.diff(pts))) if len(pts) > 1 else 0
    own = lengths[int(np.argmax(stamps))]
    if own > 0 and (usual == 0 or own <= 3 * usual):
        return own
    return max(usual, 1)


def damaged_spans(bad: PtsArray, keys: PtsArray, end: int, base: TimeBase) -> tuple[MediaSpan, ...]:
    """Return damaged stretches: from each lost frame to the next keyframe, since those between depend on
    it.
    """
    spans = []
    for pts in bad.tolist():
        i = int(np.searchsorted(keys, pts, "right"))
        to = int(keys[i]) if i < len(keys) else end
        spans.append(MediaSpan(us_of(pts, base), us_of(to, base)))
    return merged(spans)


def merged(spans: Iterable[MediaSpan]) -> tuple[MediaSpan, ...]:
    """Return stretches in order, those that touch made one."""
    joined: list[MediaSpan] = []
    for span in sorted(spans, key=lambda s: s.from_us):
        if joined and span.from_us <= joined[-1].to_us:
            joined[-1] = MediaSpan(joined[-1].from_us, max(joined[-1].to_us, span.to_us))
        else:
            joined.append(span)
    return tuple(joined)
