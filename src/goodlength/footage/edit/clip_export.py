"""Export a frame-accurate clip, encoded from the original.

```
 pictures   |  k  |     |  a  |     |     |  b  |     |
                      from ^                  to ^         clip: pictures a to b, whole;
 decoded    ├────────────>├───────────────────────┤        a is the one shown at `from`,
            key           encoded                          b the one shown just before `to`
```
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from goodlength.errors import Cancelled, OutOfRange
from goodlength.files.atomic_write import atomic_write
from goodlength.footage.edit.clip_and_proxy_encoding import Each, TranscodeOptions, transcode
from goodlength.footage.edit.h264_aac_mp4_writer import CLIP, EncoderSettings
from goodlength.footage.media.audio_decoding import SampleReader
from goodlength.footage.media.damage_tolerant_frame_decoding import pts_of
from goodlength.footage.media.frame_presentation_time_table import FrameTable, us_of
from goodlength.footage.media.span_decoding import clock_jumps, outside, span_of
from goodlength.footage.media.video_file_opening_or_rejection import absolute, open_video
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import clock_words, seconds


@dataclass(frozen=True)
class ClipResult:
    """A clip made: its file, its pictures, the media time it spans, and what differs from what was asked."""

    path: str
    frames: int
    first_us: int
    end_us: int
    width: int
    height: int
    sound: bool
    notes: tuple[str, ...]


def encode_clip(
    src: str | Path,
    from_us: int,
    to_us: int,
    dst: str | Path,
    *,
    sound: bool = True,
    short_side: int | None = None,
    table: FrameTable | None = None,
    settings: EncoderSettings = CLIP,
    heads_covered: bool = False,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> ClipResult:
    """Write the span of a film as an MP4 that plays anywhere, upright, without the original's tags.

    Parameters
    ----------
    src : str or Path
        The original; never changed.
    from_us, to_us : int
        Media time in microseconds. The clip's first picture is the one shown at `from_us`, its last the one
        shown just before `to_us`; both are whole, so the clip may be longer than asked by up to a picture at
        each end.
    dst : str or Path
        Written under another name and renamed at the end; an existing file is replaced.
    sound : bool
    short_side : int, optional
        Make the shorter side at most this many pixels.
    table : FrameTable, optional
        Saves a reading of films whose clock may jump (MPEG-TS and the like).
    settings : Settings
    heads_covered : bool
        Cover the head of everybody in every picture, for who has not agreed to be shown; see `blurring`.
    progress, cancel : callable, optional
        Told the share done with a word; asked whether to stop.

    Raises
    ------
    OutOfRange
        The span is empty or lies outside the film.
    NoSpace, Cancelled, FootageError
        With nothing half-written left behind.
    """
    source, target = absolute(src), absolute(dst)
    _check_names(source, target, from_us, to_us)
    with ExitStack() as stack:
        film = stack.enter_context(open_video(source, with_sound=False))
        jumps = clock_jumps(film, table)
        shown = span_of(film, from_us, to_us, from_beginning=jumps)
        first = next(shown, None)
        if first is None:
            raise outside(film, from_us, table)
        zero = pts_of(first)
        audio_file = stack.enter_context(open_video(source, with_picture=False)) if sound else None
        line = None
        if audio_file is not None and audio_file.audio is not None:
            line = SampleReader(audio_file, us_of(zero, film.base), from_beginning=jumps)
        part = stack.enter_context(atomic_write(target))
        wish = TranscodeOptions(short_side, settings, heads_covered=heads_covered)
        each = progress_callback(f"the clip {target.name}", (from_us, to_us), "cutting", progress, cancel)
        made = transcode(film, first, shown, line, part, wish, zero, each)
        end = zero + made.stamps[-1] + made.last_length
        span = us_of(zero, film.base), us_of(end, film.base)
    notes = tuple(_notes(source.name, span, (from_us, to_us)))
    return ClipResult(str(target), len(made.stamps), *span, made.width, made.height, line is not None, notes)


def progress_callback(
    what: str, span: tuple[int, int], word: str, progress: Progress | None, cancel: Cancel | None
) -> Each:
    """Return a function told of every picture: passes on the share done, and stops when asked to."""

    def each(us: int) -> None:
        if cancel is not None and cancel():
            raise Cancelled(f"{what} was cancelled; nothing was saved. You can start it again at any time.")
        if progress is not None:
            progress(min(0.99, max(0.0, (us - span[0]) / max(1, span[1] - span[0]))), word)

    return each


def _check_names(source: Path, target: Path, from_us: int, to_us: int) -> None:
    if to_us <= from_us:
        raise OutOfRange(
            f"The clip must end after it starts; got {clock_words(seconds(from_us))} to "
            f"{clock_words(seconds(to_us))}. "
            "Give an end later than the start."
        )
    if source == target or (target.exists() and source.exists() and target.samefile(source)):
        raise OutOfRange(f"The clip would overwrite its own original {source.name}. Give it another name.")


def _notes(name: str, span: tuple[int, int], asked: tuple[int, int]) -> Iterator[str]:
    """Yield where the clip is not what was asked for."""
    if span[0] > asked[0]:
        yield f"{name} shows its first frame at {clock_words(seconds(span[0]))}; the clip begins there."
    if span[1] < asked[1]:
        yield f"{name} shows nothing after {clock_words(seconds(span[1]))}; the clip ends there."
