"""Proxy video: a small copy that every browser plays and steps through at once.

Picture i of the proxy is picture i of the original, shown at the same moment: the stamps are kept, not
made new. Beside the proxy lies the frame table of what was really decoded.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from fractions import Fraction
from math import floor
from pathlib import Path

import numpy as np
from av.video.frame import VideoFrame

from goodlength.errors import FootageError, NotFootage, OutOfRange
from goodlength.files.atomic_write import atomic_write
from goodlength.footage.edit.clip_and_proxy_encoding import TranscodeOptions, transcode
from goodlength.footage.edit.clip_export import progress_callback
from goodlength.footage.edit.h264_aac_mp4_writer import PROXY
from goodlength.footage.media.audio_decoding import SampleReader
from goodlength.footage.media.damage_tolerant_frame_decoding import (
    DecodeErrors,
    decode_frames,
    demux,
    pts_of,
    timestamp_of,
)
from goodlength.footage.media.frame_presentation_time_table import FrameTable, table_of, us_of
from goodlength.footage.media.packet_scan import MediaSpan, damaged_spans, merged
from goodlength.footage.media.span_decoding import shared_frames
from goodlength.footage.media.video_file_opening_or_rejection import VideoFile, absolute, open_video
from goodlength.footage.media.video_probe import Probe, fingerprint, probe_with_frames
from goodlength.footage.vision.motion_profile import MotionMeter, save_whole_profile
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import seconds

SHORT_SIDES = (720, 540)
KEY_DISTANCE_S = 2.0
LARGEST_PLAYED = 1920 * 1088
LATEST_START_S = 10.0
PLAYED = {
    # what browsers play: container -> (pictures, sounds); measured for H.264, VP9, AV1 and HEVC in
    # Chromium, source: GL-FOOTAGE-STUDY; the sounds are common practice, no source
    "mov,mp4,m4a,3gp,3g2,mj2": ({"h264", "av1", "libdav1d"}, {"aac", "mp3", "mp3float"}),
    "matroska,webm": ({"vp8", "vp9", "av1", "libdav1d"}, {"opus", "vorbis"}),
}
NAMES = {
    "hevc": "HEVC",
    "mpeg4": "MPEG-4 part 2",
    "mjpeg": "Motion JPEG",
    "msmpeg4": "MS MPEG-4",
    "msmpeg4v2": "MS MPEG-4",
    "mpeg2video": "MPEG-2",
    "cinepak": "Cinepak",
    "prores": "ProRes",
    "h264": "H.264",
}


@dataclass(frozen=True)
class Proxy:
    """A proxy made: its file, its frame table and where that lies, and what could not be read."""

    path: str
    table_path: str
    table: FrameTable
    width: int
    height: int
    sound: bool
    damaged: tuple[MediaSpan, ...]
    notes: tuple[str, ...]

    def to_json(self) -> dict[str, object]:
        """Return plain values for a job's result; the table stays in its file."""
        return {
            "path": self.path,
            "table_path": self.table_path,
            "frames": len(self.table),
            "first_us": self.table.first_us,
            "end_us": self.table.end_us,
            "shift_us": self.table.shift_us,
            "width": self.width,
            "height": self.height,
            "sound": self.sound,
            "damaged": [[span.from_us, span.to_us] for span in self.damaged],
            "notes": list(self.notes),
        }


def needs_proxy(seen: Probe) -> str | None:
    """Return why a film cannot be played or stepped through as it is, in words; None when it can."""
    codec = NAMES.get(seen.codec, seen.codec)
    if seen.container not in PLAYED:
        return f"browsers do not play this kind of file ({Path(seen.path).suffix or seen.container})"
    films, sounds = PLAYED[seen.container]
    if seen.codec not in films:
        return f"browsers do not play its video format ({codec}) in this kind of file"
    if seen.pixel_format not in {"yuv420p", "yuvj420p"}:
        return f"browsers do not play its colour format ({seen.pixel_format})"
    if seen.sound and seen.sound_codec not in sounds:
        return f"browsers do not play its sound ({seen.sound_codec})"
    if seen.interlaced:
        return "it is interlaced, and browsers show comb lines on fast movement"
    if seen.in_decoding_order or seen.jumps_back:
        return "its times are out of order, and players show wrong frames"
    if seen.covered_frames:
        return "its frames come at uneven times and out of order, and players skip some of them"
    if seen.damaged:
        return "it is damaged, and players stop at such spots"
    if not 0 <= seen.first_s <= LATEST_START_S:
        return "its clock does not begin at zero"
    if seen.key_distance_s > KEY_DISTANCE_S + 0.001:
        far = f"up to {seen.key_distance_s:.1f} s between key frames"
        return f"stepping would be slow: {far} (at most {KEY_DISTANCE_S:.0f} s is good)"
    if seen.width * seen.height > LARGEST_PLAYED:
        return f"stepping would be slow: {seen.width} × {seen.height} is larger than needed on the page"
    return None


def make_proxy(
    src: str | Path,
    dst: str | Path,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    *,
    short_side: int = 720,
    motion: Path | None = None,
) -> Proxy:
    """Write a proxy of the film at `src` to `dst`, and its frame table beside it.

    Parameters
    ----------
    src, dst : str or Path
        The original is never changed; `dst` ends in .mp4. The table is `dst` with the ending .frames.npz.
    progress, cancel : callable, optional
        Told the share done with a word; asked at every picture whether to stop.
    short_side : int
        720 or 540: at most so many pixels on the shorter side.
    motion : Path, optional
        Where to keep how much moves, measured in the same reading: see `motion_profile`.

    Returns
    -------
    Proxy
        Its `table` holds the stamps of the original's decoded pictures; `shift_us` is not 0 when the
        original's clock begins below zero or later than 10 s: the proxy's clock then begins at zero, and
        media time is the proxy's time plus the shift.

    Raises
    ------
    FootageError, NoSpace, Cancelled
        With nothing half-written left behind.
    """
    if short_side not in SHORT_SIDES:
        raise OutOfRange(
            f"A browser-friendly copy has 720 or 540 lines; got {short_side}. Choose one of these."
        )
    source, target = absolute(src), absolute(dst)
    table_path = target.with_suffix(".frames.npz")
    seen, planned = probe_with_frames(source, thorough=False, settle_s=0)
    losses = DecodeErrors()
    with ExitStack() as stack:
        film = stack.enter_context(open_video(source, with_sound=False))
        meter = MotionMeter()
        users = () if motion is None else (meter,)
        shown = shared_frames(_rising(film, losses), film.base, users)
        first = next(shown, None)
        if first is None:
            raise NotFootage(f"No frame of {source.name} could be decoded. Copy it again from the camera.")
        audio_file = stack.enter_context(open_video(source, with_picture=False))
        zero = _zero(planned, seen.sound_first_s)
        line = None
        if audio_file.audio is not None:
            line = SampleReader(audio_file, us_of(zero, film.base), from_beginning=planned.jumps_back > 0)
        part = stack.enter_context(atomic_write(target))
        each = progress_callback(
            f"the copy of {source.name}",
            (planned.first_us, planned.end_us),
            "making the copy",
            progress,
            cancel,
        )
        wish = TranscodeOptions(short_side, PROXY, seen.interlaced)
        made = transcode(film, first, shown, line, part, wish, zero, each)
        pts = np.array(made.stamps, np.int64) + zero
        check_copy(part, made.stamps, film)
        keys = np.zeros(len(pts), np.bool_)
        table = table_of(
            pts, film.base, made.last_length, keys, "decoded", fingerprint(source), losses.jumps_back
        )
        table = replace(table, shift_pts=zero, keys=np.isin(pts, planned.pts[planned.keys]))
        damaged = merged([*seen.damaged, *_damaged(planned, table, losses, film)])
        table.save(table_path)
    if motion is not None and not losses.jumps_back:
        save_whole_profile(meter, motion, source)
    notes = tuple(p.words for p in seen.problems if p.code in {"high-range", "interlaced", "mirrored"})
    return Proxy(
        str(target), str(table_path), table, made.width, made.height, line is not None, damaged, notes
    )


def _rising(film: VideoFile, losses: DecodeErrors) -> Iterator[VideoFrame]:
    """Yield pictures with rising stamps; one that goes back or repeats is counted as broken."""
    last: int | None = None
    for frame in decode_frames(film, losses):
        at = pts_of(frame)
        if last is not None and at <= last:
            losses.corrupt.append(at)
            continue
        last = at
        yield frame


def _zero(table: FrameTable, sound_first_s: float | None) -> int:
    """Return the stamp that becomes the proxy's zero: 0 unless the film's clock begins below zero or far
    above.
    """
    first, tick = int(table.pts[0]), table.base.tick
    if sound_first_s is not None:
        first = min(first, floor(Fraction(sound_first_s) / tick))
    return 0 if -0.001 < first * tick <= LATEST_START_S else first


def check_copy(part: Path, stamps: list[int], film: VideoFile) -> None:
    """Read back what was written and compare picture by picture.

    Raises
    ------
    FootageError
        If a picture is missing or stands at another time; the copy must not be used then.
    """
    with open_video(part, with_sound=False) as copy:
        found = sorted(
            timestamp * copy.base.tick
            for packet in demux(copy.container, copy.video)
            if packet.size and not packet.is_discard and (timestamp := timestamp_of(packet)) is not None
        )
    wanted = [timestamp * film.base.tick for timestamp in stamps]
    if found != wanted:
        raise FootageError(
            f"The copy of {film.name} came out with {len(found)} frames for {len(wanted)}, or with "
            "other times. It was deleted; please report this video's format. You can still set the "
            "rally times of the original by hand."
        )


def _damaged(
    planned: FrameTable, table: FrameTable, losses: DecodeErrors, film: VideoFile
) -> tuple[MediaSpan, ...]:
    """Return stretches with pictures missing or broken, from all that was planned and what came."""
    missing = np.setdiff1d(planned.pts, table.pts)
    bad = np.union1d(missing, np.array(losses.corrupt, np.int64))
    keys = planned.pts[planned.keys]
    return damaged_spans(bad, keys, int(table.pts[-1] + table.durations[-1]), film.base)


def proxy_job(
    src: str,
    dst: str,
    short_side: int = 720,
    motion: str | None = None,
    *,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, object]:
    """Run `make_proxy` as a job: plain values in, plain values out."""
    keep = None if motion is None else Path(motion)
    made = make_proxy(src, dst, progress, cancel, short_side=short_side, motion=keep)
    spans = ", ".join(f"{seconds(s.from_us):.1f}–{seconds(s.to_us):.1f} s" for s in made.damaged[:5])
    progress(1.0, f"copy ready; damaged at {spans}" if spans else "copy ready")
    return made.to_json()
