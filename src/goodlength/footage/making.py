"""From decoded pictures to a finished file: what cutting a clip and making a proxy share."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from av.video.frame import VideoFrame

from goodlength.footage.encoding import DelayedWriter, EncoderSettings, Writer, mp4
from goodlength.footage.opening import VideoFile, exact
from goodlength.footage.reading import ticks_of
from goodlength.footage.sound import SampleReader
from goodlength.footage.stamps import us_of
from goodlength.footage.upright import DisplayTransform, display_shape_of

Progress = Callable[[float, str], None]
Cancel = Callable[[], bool]
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
                from goodlength.footage.blurring import anonymised_frames

                upright = anonymised_frames(upright, float(rate_of(film)))
            for frame in upright:
                each(us_of(ticks_of(frame), film.base))
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


def aspect_of(film: VideoFile) -> tuple[int, int]:
    """Width to height of one stored pixel, as the film says."""
    ratio = film.video.sample_aspect_ratio
    return (ratio.numerator, ratio.denominator) if ratio else (1, 1)


def rate_of(film: VideoFile) -> Fraction:
    """Usual pictures a second as the file claims, for the encoder's rate control only."""
    rate = film.video.guessed_rate or film.video.average_rate
    return exact(rate) if rate else Fraction(25)


def length_of(film: VideoFile, frame: VideoFrame) -> int:
    """Ticks the last picture of a film or clip stands: by its own word, else by the film's usual step."""
    usual = max(1, round(1 / (rate_of(film) * film.base.tick)))
    return frame.duration if 0 < frame.duration <= 3 * usual else usual
