"""Render two strikes side by side in one video, aligned at contact."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from av.video.frame import VideoFrame

from goodlength.errors import Cancelled, OutOfRange
from goodlength.files.atomic_write import atomic_write
from goodlength.files.json_types import Json
from goodlength.footage.edit.drawing_overlay import HOLD_S, OverlayLine, burn_in, overlay_line_of
from goodlength.footage.edit.h264_aac_mp4_writer import CLIP, mp4
from goodlength.footage.media.damage_tolerant_frame_decoding import pts_of
from goodlength.footage.media.display_transform import DisplayTransform, display_shape_of
from goodlength.footage.media.frame_presentation_time_table import us_of
from goodlength.footage.media.span_decoding import clock_jumps, outside, span_of
from goodlength.footage.media.video_file_opening_or_rejection import (
    VideoFile,
    absolute,
    aspect_of,
    open_video,
    rate_of,
)
from goodlength.footage.vision.head_anonymisation import blur_regions_rgb
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import TimeBase

PAIR_HEIGHT, PAIR_GAP = 540, 8
MOST_RATE = 60
PAIR_BEFORE_S, PAIR_AFTER_S = 1.0, 1.5
Picture = np.ndarray[tuple[int, int, int], np.dtype[np.uint8]]


@dataclass(frozen=True)
class StrikeClip:
    """A strike in a film: media time of contact, the picture turned over or not, and what is drawn.

    A line without a time of its own is drawn at contact.
    """

    src: str
    at_us: int
    mirrored: bool = False
    lines: tuple[OverlayLine, ...] = ()
    heads_covered: bool = False


@dataclass(frozen=True)
class PairResult:
    """Two strikes as one film: its file, pictures, length, and at which of its moments both strike."""

    path: str
    frames: int
    width: int
    height: int
    strike_us: int
    end_us: int


def side_by_side(
    left: StrikeClip,
    right: StrikeClip,
    dst: str | Path,
    *,
    before_s: float = PAIR_BEFORE_S,
    after_s: float = PAIR_AFTER_S,
    slower: int = 1,
    font: str | None = None,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> PairResult:
    """Return two strikes beside each other, at the same height and aligned at contact; no sound.

    A white bar runs under the picture at the moment of contact. At each frame that is drawn on, the film
    stands still for a while and shows it.

    Parameters
    ----------
    before_s, after_s : float
        How much of each is shown around contact; a film that begins later or ends sooner stands still there.
    slower : int
        1, 2, 4 or 8 times slower.
    font : str, optional
        A TrueType file for the degrees of angles.

    Raises
    ------
    OutOfRange
        A film shows nothing at its strike, or a length or speed cannot be.
    """
    if not (0 < before_s <= 10 and 0 < after_s <= 10) or slower not in (1, 2, 4, 8):
        raise OutOfRange("Up to 10 s before and after contact, and 1, 2, 4 or 8 times slower.")
    target = absolute(dst)
    with (
        open_video(absolute(left.src), with_sound=False) as file,
        open_video(absolute(right.src), with_sound=False) as two,
        atomic_write(target) as part,
    ):
        rate = min(Fraction(MOST_RATE), max(rate_of(file), rate_of(two)))
        count = round((before_s + after_s) * rate)
        strike = round(before_s * rate)
        views = [_View(film, s, before_s, after_s) for film, s in ((file, left), (two, right))]
        wide = sum(view.width for view in views) + PAIR_GAP
        wide += wide % 2
        step = rate.denominator * slower
        frozen = round(HOLD_S * rate / slower)
        base = TimeBase(1, rate.numerator)
        at = 0
        with mp4(part, base) as sink:
            stream = sink.add_stream("libx264", rate=rate, options=CLIP.options())
            stream.width, stream.height, stream.pix_fmt = wide, PAIR_HEIGHT, "yuv420p"
            stream.codec_context.time_base = base.tick
            struck = strike
            for n in range(count):
                if cancel is not None and cancel():
                    raise Cancelled(f"{target.name} was cancelled; nothing was saved.")
                if progress is not None and n % 10 == 0:
                    progress(min(0.99, n / count), "drawing")
                pictures = [view.shown(Fraction(n - strike) / rate) for view in views]
                lines = [view.lines_now(contact=n == strike) for view in views]
                if any(lines):
                    pictures = [burn_in(p, over, font) for p, over in zip(pictures, lines, strict=True)]
                frame = VideoFrame.from_ndarray(
                    _side_by_side(pictures, wide, bar=n == strike), format="rgb24"
                )
                frame = frame.reformat(format="yuv420p")
                for _ in range(1 + frozen * any(lines)):
                    frame.pts, frame.time_base, frame.duration = at * step, base.tick, step
                    sink.mux(stream.encode(frame))
                    at += 1
                if n == strike:
                    struck = at - 1 - frozen * any(lines)
            sink.mux(stream.encode(None))
    tick = 1_000_000 * slower
    end = round(at * tick / rate)
    return PairResult(str(target), at, wide, PAIR_HEIGHT, round(struck * tick / rate), end)


def _side_by_side(pictures: Sequence[Picture], wide: int, *, bar: bool) -> Picture:
    canvas = np.zeros((PAIR_HEIGHT, wide, 3), np.uint8)
    at = 0
    for picture in pictures:
        canvas[:, at : at + picture.shape[1]] = picture
        at += picture.shape[1] + PAIR_GAP
    if bar:
        canvas[-6:] = 255
    return canvas


class _View:
    """One of the two films, read forward: the picture shown at a time from contact."""

    def __init__(self, film: VideoFile, strike: StrikeClip, before_s: float, after_s: float) -> None:
        self.film, self.strike = film, strike
        begin = max(0, strike.at_us - round(before_s * 1e6))
        end = strike.at_us + round(after_s * 1e6)
        jumps = clock_jumps(film, None)
        self.pictures = span_of(film, begin, end, from_beginning=jumps)
        first = next(self.pictures, None)
        if first is None:
            raise outside(film, strike.at_us, None)
        shape = display_shape_of(first, aspect_of(film))
        wide, high = shape.size
        self.width = max(2, round(wide * PAIR_HEIGHT / high) // 2 * 2)
        self.turner = DisplayTransform(shape, (self.width, PAIR_HEIGHT), "rgb24")
        self.queue = self._turned(first)
        if strike.heads_covered:
            self.queue = blur_regions_rgb(self.queue, float(rate_of(film)))
        self.now = next(self.queue)
        self.next = next(self.queue, None)
        self.left = [line for line in strike.lines if line.at_us is None or begin <= line.at_us < end]

    def _turned(self, first: VideoFrame) -> Iterator[tuple[int, Picture]]:
        """Yield pictures upright with their media time."""
        times: list[int] = []

        def given(frames: Iterator[VideoFrame]) -> Iterator[tuple[int, Picture]]:
            for made in frames:
                picture = np.asarray(made.to_ndarray(), np.uint8)
                yield times.pop(0), picture[:, ::-1] if self.strike.mirrored else picture

        with contextlib.closing(self.turner):
            for frame in (first, *()):
                times.append(us_of(pts_of(frame), self.film.base))
                yield from given(iter(self.turner.turn(frame)))
            for frame in self.pictures:
                times.append(us_of(pts_of(frame), self.film.base))
                yield from given(iter(self.turner.turn(frame)))
            yield from given(iter(self.turner.rest()))

    def shown(self, at_s: Fraction) -> Picture:
        """Return the picture shown that long after contact."""
        us = self.strike.at_us + round(at_s * 1_000_000)
        while self.next is not None and self.next[0] <= us:
            self.now, self.next = self.next, next(self.queue, None)
        return self.now[1]

    def lines_now(self, *, contact: bool) -> list[OverlayLine]:
        """Return what is drawn on the picture shown now, each once."""
        found = [
            line
            for line in self.left
            if (contact if line.at_us is None else self.next is None or line.at_us < self.next[0])
        ]
        self.left = [line for line in self.left if line not in found]
        return found


def pair_job(
    left: dict[str, Any],
    right: dict[str, Any],
    dst: str,
    match: str,
    slower: int = 1,
    font: str | None = None,
    note: str = "",
    *,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, Json]:
    """Run `side_by_side` as a job; `match` stays with the job, and `note` is told when it is done."""
    clip, two = (
        StrikeClip(**{**s, "lines": tuple(map(overlay_line_of, s.get("lines", ())))}) for s in (left, right)
    )
    made = side_by_side(clip, two, dst, slower=slower, font=font, progress=progress, cancel=cancel)
    progress(1.0, "done")
    return {
        "path": made.path,
        "match": match,
        "strike_us": made.strike_us,
        "words": f"Side by side. {note}".strip(),
    }
