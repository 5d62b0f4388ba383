"""Join several clips into one film, a highlights reel, with captions as WebVTT.

A reel joins what is already encoded without encoding it again; only a clip that is not like the first one
(codec, size, rate, sound) is encoded anew to fit.

```
 pieces   original ── cut ──> clip ─┐
          clip made before ────────>├─ alike? ── yes ──> packets copied ──> reel.mp4 (+ .vtt with captions)
                                    └─ no ──> encoded to fit ──┘
```
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any, NotRequired, TypedDict

import av
import numpy as np
from av.video.frame import VideoFrame

from goodlength.errors import Cancelled, InputError, OutOfRange
from goodlength.files.atomic_write import LEFTOVER, atomic_write
from goodlength.files.json_types import Json
from goodlength.footage.edit.clip_export import encode_clip
from goodlength.footage.edit.drawing_overlay import (
    HOLD_S,
    OverlayLine,
    OverlayLineForm,
    burn_in,
    overlay_line_of,
)
from goodlength.footage.edit.h264_aac_mp4_writer import CLIP, mp4
from goodlength.footage.media.video_file_opening_or_rejection import (
    absolute,
    exact,
)
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import TimeBase, clock_words, seconds

MOST_PIECES = 200
Picture = np.ndarray[tuple[int, int, int], np.dtype[np.uint8]]


@dataclass(frozen=True)
class ReelPiece:
    """A span of a film in media time, and its caption. Without a span the whole file, a clip made before.

    `heads_covered`: every head in the span is made unknowable, see `blurring`. `slower`: so many times, and
    then without sound. `lines`: drawn on the frames of their own media times; the film stands still there.
    """

    src: str
    from_us: int | None = None
    to_us: int | None = None
    words: str = ""
    heads_covered: bool = False
    slower: int = 1
    lines: tuple[OverlayLine, ...] = ()


class ReelPieceForm(TypedDict):
    """A piece as a job is given it."""

    src: str
    from_us: int | None
    to_us: int | None
    words: str
    heads_covered: bool
    slower: int
    lines: NotRequired[list[OverlayLineForm]]


@dataclass(frozen=True)
class ReelResult:
    """A reel made: its file, captions beside it, where each piece begins, how many were encoded to fit."""

    path: str
    captions: str
    starts_us: tuple[int, ...]
    end_us: int
    joined: int
    encoded: int


@dataclass(frozen=True)
class _Kind:
    """What must be alike to be joined as it is."""

    codec: str
    size: tuple[int, int]
    extra: bytes
    sound: tuple[str, int] | None


def reel(
    pieces: Sequence[ReelPiece],
    dst: str | Path,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    font: str | None = None,
) -> ReelResult:
    """Return one film of several pieces, one after the other, with its captions as WebVTT beside it.

    `font` is a TrueType file for what is drawn.

    Raises
    ------
    InputError
        No piece, or too many.
    OutOfRange, FootageError, NoSpace, Cancelled
        As `encode_clip`; nothing half written stays.
    """
    if any(piece.slower not in (1, 2, 4, 8) for piece in pieces):
        raise OutOfRange("A clip can be shown 1, 2, 4 or 8 times slower.")
    if not 1 <= len(pieces) <= MOST_PIECES:
        raise InputError(f"Highlights hold 1 to {MOST_PIECES} rallies; got {len(pieces)}. Choose again.")
    target = absolute(dst)
    scraps: list[Path] = []
    try:
        parts = [(n, part) for n, piece in enumerate(pieces) for part in _cut_at_drawings(piece)]
        clips, of = _clips(parts, target, scraps, font, progress, cancel)
        kind = _kind_of(clips[0])
        encoded = 0
        for n, clip in enumerate(clips[1:], 1):
            if _kind_of(clip) != kind:
                fitted = _scrap(target, scraps)
                _fitted(clip, fitted, kind, clips[0])
                clips[n], encoded = fitted, encoded + 1
        with atomic_write(target) as part:
            at, end = _joined(clips, part)
        starts = tuple(at[of.index(n)] for n in range(len(pieces)))
        captions = target.with_suffix(".vtt")
        with atomic_write(captions) as part:
            part.write_text(_captions(pieces, starts, end), encoding="utf-8")
    finally:
        for scrap in scraps:
            scrap.unlink(missing_ok=True)
    if progress is not None:
        progress(1.0, "done")
    return ReelResult(str(target), str(captions), starts, end, len(clips) - encoded, encoded)


def _cut_at_drawings(piece: ReelPiece) -> list[ReelPiece]:
    """Return a piece in parts; each but the last ends with a frame that is drawn on, and carries its lines.

    The part behind it begins with that frame anew, so that no table of frames is needed.
    """
    if piece.from_us is None or piece.to_us is None:
        return [piece]
    times = sorted(
        {line.at_us for line in piece.lines if line.at_us and piece.from_us < line.at_us < piece.to_us}
    )
    bounds = [piece.from_us, *times, piece.to_us]
    return [
        replace(
            piece,
            from_us=a,
            to_us=b,
            lines=tuple(line for line in piece.lines if b in times and line.at_us == b),
        )
        for a, b in pairwise(bounds)
    ]


def _clips(
    parts: Sequence[tuple[int, ReelPiece]],
    target: Path,
    scraps: list[Path],
    font: str | None,
    progress: Progress | None,
    cancel: Cancel | None,
) -> tuple[list[Path], list[int]]:
    """Return each part as a clip, cut now or made before, with frames held still; and its piece's number."""
    clips, of = [], []
    for k, (n, piece) in enumerate(parts):
        if cancel is not None and cancel():
            raise Cancelled("The highlights were cancelled; nothing was saved.")
        of.append(n)
        if piece.from_us is None or piece.to_us is None:
            clips.append(absolute(piece.src))
            continue

        def part_done(share: float, _words: str, k: int = k) -> None:
            if progress is not None:
                progress(0.9 * (k + share) / len(parts), f"clip {parts[k][0] + 1} of {parts[-1][0] + 1}")

        scrap = _scrap(target, scraps)
        covered = piece.heads_covered
        encode_clip(
            piece.src,
            piece.from_us,
            piece.to_us,
            scrap,
            heads_covered=covered,
            progress=part_done,
            cancel=cancel,
        )
        clips.append(scrap if piece.slower == 1 else _slowed(scrap, _scrap(target, scraps), piece.slower))
        if piece.lines:
            clips.append(_still(scrap, _scrap(target, scraps), piece.lines, font))
            of.append(n)
    return clips, of


def _still(clip: Path, to: Path, lines: Sequence[OverlayLine], font: str | None) -> Path:
    """Return the last frame of a clip, drawn on and standing still; silent."""
    with av.open(f"file:{clip}") as source, mp4(to, _base_of(source)) as sink:
        shown = source.streams.video[0]
        rate = shown.average_rate or Fraction(25)
        last = deque(source.decode(shown), maxlen=1)[0]
        picture = burn_in(np.asarray(last.to_ndarray(format="rgb24"), np.uint8), lines, font)
        base = _base_of(source)
        video = sink.add_stream("libx264", rate=rate, options=CLIP.options())
        video.width, video.height, video.pix_fmt = shown.width, shown.height, "yuv420p"
        video.codec_context.time_base = base.tick
        sounds = source.streams.audio
        audio = sink.add_stream("aac", rate=sounds[0].rate) if sounds else None
        if audio is not None:
            audio.layout = "stereo"
        frame = VideoFrame.from_ndarray(picture, format="rgb24").reformat(format="yuv420p")
        step = round(1 / (rate * base.tick))
        count = round(HOLD_S * rate)
        for n in range(count):
            frame.pts, frame.time_base, frame.duration = n * step, base.tick, step
            sink.mux(video.encode(frame))
        sink.mux(video.encode(None))
        if audio is not None:
            _silence(sink, audio, int(sounds[0].rate or 48_000), 0, count / rate)
    return to


def _base_of(source: Any) -> TimeBase:
    tick = source.streams.video[0].time_base or Fraction(1, 90_000)
    return TimeBase(tick.numerator, tick.denominator)


def _slowed(clip: Path, to: Path, times: int) -> Path:
    """Return a clip's pictures each shown so many times as long, not encoded again; no sound."""
    with av.open(f"file:{clip}") as source:
        shown = source.streams.video[0]
        tick = shown.time_base or Fraction(1, 90_000)
        with mp4(to, TimeBase(tick.numerator, tick.denominator)) as sink:
            made = sink.add_stream_from_template(shown)
            made.time_base = tick
            packets: list[Any] = [p for p in source.demux(shown) if p.pts is not None]
            for packet in packets:
                packet.pts *= times
                packet.dts = None if packet.dts is None else packet.dts * times
                packet.duration = (packet.duration or 0) * times
                packet.time_base, packet.stream = tick, made
                sink.mux_one(packet)
    return to


def _scrap(target: Path, scraps: list[Path]) -> Path:
    target.parent.mkdir(parents=True, exist_ok=True)
    path = target.with_name(f"{LEFTOVER}{target.stem}-{len(scraps)}.mp4")
    scraps.append(path)
    return path


def _kind_of(path: Path) -> _Kind:
    with av.open(f"file:{path}") as container:
        video = container.streams.video[0]
        context = video.codec_context
        sounds = container.streams.audio
        sound = (sounds[0].codec_context.name, int(sounds[0].rate or 0)) if sounds else None
        return _Kind(context.name, (context.width, context.height), bytes(context.extradata or b""), sound)


def _fitted(src: Path, dst: Path, kind: _Kind, like: Path) -> None:
    """A clip encoded anew with the size, rate settings and sound of another, its picture whole on black."""
    with av.open(f"file:{like}") as first:
        base, rate = first.streams.video[0].time_base, first.streams.video[0].average_rate
    if base is None:
        raise InputError(f"{like.name} has no clock and cannot come first. Choose another first clip.")
    wide, high = kind.size
    with av.open(f"file:{src}") as source, mp4(dst, TimeBase(base.numerator, base.denominator)) as sink:
        video = sink.add_stream("libx264", rate=rate or Fraction(25), options=CLIP.options())
        video.width, video.height, video.pix_fmt = wide, high, "yuv420p"
        video.codec_context.time_base = base
        audio = None
        if kind.sound is not None:
            audio = sink.add_stream("aac", rate=kind.sound[1])
            audio.layout = "stereo"
        last = Fraction(-1)
        for frame in source.decode(source.streams.video[0]):
            assert frame.pts is not None and frame.time_base is not None
            made = VideoFrame.from_ndarray(
                _boxed(frame.to_ndarray(format="rgb24"), wide, high), format="rgb24"
            )
            made = made.reformat(format="yuv420p")
            at = Fraction(round(frame.pts * frame.time_base / base))
            if at <= last:
                continue
            made.pts, made.time_base, last = int(at), base, at
            sink.mux(video.encode(made))
        sink.mux(video.encode(None))
        if audio is not None:
            _sound_over(source, sink, audio, kind.sound[1] if kind.sound else 48_000, last * base)


def _sound_over(source: Any, sink: Any, audio: Any, rate: int, until: Fraction) -> None:
    """The clip's sound in the reel's form; silence where it has none."""
    sampler = av.AudioResampler(format="fltp", layout="stereo", rate=rate)
    given = 0
    if source.streams.audio:
        source.seek(0)
        for frame in source.decode(source.streams.audio[0]):
            for block in sampler.resample(frame):
                block.pts, block.time_base = given, Fraction(1, rate)
                given += block.samples
                sink.mux(audio.encode(block))
    _silence(sink, audio, rate, given, until)


def _silence(sink: Any, audio: Any, rate: int, given: int, until: Fraction) -> None:
    """Silence up to a moment, and the end of the sound."""
    wanted = round(until * rate)
    while given < wanted:
        count = min(1024, wanted - given)
        block = av.AudioFrame.from_ndarray(np.zeros((2, count), np.float32), format="fltp", layout="stereo")
        block.sample_rate, block.pts, block.time_base = rate, given, Fraction(1, rate)
        given += count
        sink.mux(audio.encode(block))
    sink.mux(audio.encode(None))


def _boxed(picture: Any, wide: int, high: int) -> Picture:
    """Return a picture whole inside another size, on black."""
    import cv2

    scale = min(wide / picture.shape[1], high / picture.shape[0])
    size = max(1, round(picture.shape[1] * scale)), max(1, round(picture.shape[0] * scale))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    out = np.zeros((high, wide, 3), np.uint8)
    top, left = (high - size[1]) // 2, (wide - size[0]) // 2
    out[top : top + size[1], left : left + size[0]] = small
    return out


def _joined(clips: Sequence[Path], part: Path) -> tuple[tuple[int, ...], int]:
    """Packets of all clips behind one another; gives where each begins and the end, microseconds."""
    starts: list[int] = []
    at = Fraction(0)
    with av.open(f"file:{clips[0]}") as first:
        base = first.streams.video[0].time_base or Fraction(1, 90_000)
        with mp4(part, TimeBase(base.numerator, base.denominator)) as sink:
            video = sink.add_stream_from_template(first.streams.video[0])
            video.time_base = base
            audio = sink.add_stream_from_template(first.streams.audio[0]) if first.streams.audio else None
            audio_end = Fraction(0)
            for clip in clips:
                starts.append(round(at * 1_000_000))
                begin, end = _copied(clip, sink, video, at)
                if audio is not None:
                    audio_end = _sound_copied(clip, sink, audio, begin, end, audio_end)
                at = end
    return tuple(starts), round(at * 1_000_000)


def _copied(clip: Path, sink: Any, video: Any, at: Fraction) -> tuple[Fraction, Fraction]:
    """Return one clip's pictures, moved to `at`; gives by how much they moved and where the last one ends."""
    with av.open(f"file:{clip}") as source:
        tick = exact(source.streams.video[0].time_base or Fraction(1, 90_000))
        packets: list[Any] = [p for p in source.demux(source.streams.video[0]) if p.pts is not None]
        zero = int(min(p.pts for p in packets))
        end = at + (int(max(p.pts + (p.duration or 0) for p in packets)) - zero) * tick
        begin = at - zero * tick
        for packet in packets:
            _moved(packet, video, tick, begin)
            sink.mux_one(packet)
    return begin, end


def _sound_copied(
    clip: Path, sink: Any, audio: Any, begin: Fraction, end: Fraction, audio_end: Fraction
) -> Fraction:
    """One clip's sound, behind what was heard so far: blocks of 1,024 samples do not end with a picture.

    So a clip's sound may be late by up to such a block, 21 ms; it is not added up over clips.
    """
    with av.open(f"file:{clip}") as source:
        if not source.streams.audio:
            return audio_end
        tick = exact(source.streams.audio[0].time_base or Fraction(1, 48_000))
        late = Fraction(0)
        packets: list[Any] = list(source.demux(source.streams.audio[0]))
        for packet in packets:
            if packet.pts is None or (
                packet.pts < 0 and audio_end > 0
            ):  # the encoder's run-up: once is enough
                continue
            late = max(late, audio_end - begin - packet.pts * tick)
            at = begin + packet.pts * tick + late
            if at >= end:
                break
            audio_end = at + (packet.duration or 1024) * tick
            _moved(packet, audio, tick, begin + late)
            sink.mux_one(packet)
    return audio_end


def _moved(packet: Any, stream: Any, tick: Fraction, by: Fraction) -> None:
    shift = round(by / tick)
    packet.pts += shift
    packet.dts = packet.dts + shift if packet.dts is not None else packet.pts
    packet.time_base = tick
    packet.stream = stream


def _captions(pieces: Sequence[ReelPiece], starts: Sequence[int], end: int) -> str:
    """WebVTT: each piece with its words for as long as it runs. Source: WEBVTT-W3C."""
    ends = [*starts[1:], end]
    cues = []
    for piece, a, b in zip(pieces, starts, ends, strict=True):
        words = " ".join(piece.words.replace("-->", "→").split())
        if words:
            plain = words.replace("&", "&amp;").replace("<", "&lt;")
            cues.append(f"{_vtt(a)} --> {_vtt(b)}\n{plain}\n")
    return "\n".join(["WEBVTT\n", *cues])


def _vtt(us: int) -> str:
    ms = us // 1000
    return f"{ms // 3_600_000:02}:{ms // 60_000 % 60:02}:{ms // 1000 % 60:02}.{ms % 1000:03}"


def piece_of(fields: ReelPieceForm) -> ReelPiece:
    """Return a piece from its JSON, as a job is given it."""
    return ReelPiece(
        fields["src"],
        fields["from_us"],
        fields["to_us"],
        fields["words"],
        fields["heads_covered"],
        fields["slower"],
        tuple(map(overlay_line_of, fields.get("lines", ()))),
    )


def reel_job(
    pieces: list[ReelPieceForm],
    dst: str,
    match: str,
    font: str | None = None,
    *,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, Json]:
    """Run `reel` as a job: plain values in and out; `match` stays with the job's note."""
    read = [piece_of(piece) for piece in pieces]
    made = reel(read, dst, progress, cancel, font)
    many = len(made.starts_us)
    length = f"{clock_words(seconds(made.end_us))} long."
    words = length if many == 1 else f"{many} rallies, {length}"
    progress(1.0, words)
    return {"path": made.path, "captions": made.captions, "match": match, "words": words}
