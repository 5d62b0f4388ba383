"""Encode decoded frames into a finished file, as clips and proxies do."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from av.video.frame import VideoFrame

from goodlength.footage.edit.h264_aac_mp4_writer import DelayedWriter, EncoderSettings, Writer, mp4
from goodlength.footage.media.audio_decoding import SampleReader
from goodlength.footage.media.damage_tolerant_frame_decoding import length_of, pts_of
from goodlength.footage.media.display_transform import DisplayTransform, display_shape_of
from goodlength.footage.media.frame_presentation_time_table import us_of
from goodlength.footage.media.video_file_opening_or_rejection import VideoFile, aspect_of, rate_of

Each = Callable[[int], None]


@dataclass(frozen=True)
class TranscodeOptions:
    """What to make: its longest short side in pixels (None: as the original) and the encoder's settings.

    `heads_covered`: every head is made unknowable, see `blurring`; about a tenth of a second a picture.
    """

    short_side: int | None
    settings: EncoderSettings
    interlaced: bool | None = None
    heads_covered: bool = False


@dataclass(frozen=True)
class TranscodeResult:
    """What was written: stamps in the new file's own ticks, its size, and the length of the last picture."""

    stamps: list[int]
    width: int
    height: int
    last_length: int


def transcode(
    film: VideoFile,
    first: VideoFrame,
    rest: Iterable[VideoFrame],
    line: SampleReader | None,
    part: Path,
    wish: TranscodeOptions,
    zero: int,
    each: Each,
) -> TranscodeResult:
    """Encode pictures upright into an MP4, `zero` taken off every stamp.

    Parameters
    ----------
    film : Film
        Where the pictures come from.
    first, rest : VideoFrame, iterable of VideoFrame
        In the order shown; `first` tells shape and colours.
    line : SoundLine or None
        Its sample 0 belongs to `zero`.
    part : Path
        The file to write; see `saving.saved`.
    wish : Wish
    zero : int
        In ticks of the film.
    each : callable
        Told the stamp of every picture in microseconds before it is encoded; may raise to stop.
    """
    shape = display_shape_of(first, aspect_of(film), wish.interlaced)
    size = shape.fitted(wish.short_side)
    turner = DisplayTransform(shape, size)
    try:
        with mp4(part, film.base) as container:
            writer = Writer(container, film.base, size, rate_of(film), wish.settings, line)
            delayed = DelayedWriter(writer, zero)
            last = first
            upright = _turned(first, rest, turner)
            if wish.heads_covered:
                from goodlength.footage.vision.head_anonymisation import anonymised_frames

                upright = anonymised_frames(upright, float(rate_of(film)))
            for frame in upright:
                each(us_of(pts_of(frame), film.base))
                delayed.put(frame)
                last = frame
            delayed.last(length_of(film, last))
            writer.finish()
    finally:
        turner.close()
    return TranscodeResult(writer.stamps, *size, delayed.length)


def _turned(first: VideoFrame, rest: Iterable[VideoFrame], turner: DisplayTransform) -> Iterator[VideoFrame]:
    yield from turner.turn(first)
    for frame in rest:
        yield from turner.turn(frame)
    yield from turner.rest()
