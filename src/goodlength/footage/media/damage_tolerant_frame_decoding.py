"""Decode frames in order, and continue where a file is damaged.

A damaged packet loses its own picture and those that lean on it, not the rest of the match: what is
lost is listed. Pictures come in the order shown, their stamps in `pts`, in ticks of the film's base.

Two kinds of wrong stamps are put right, and said: a recorder that wrote them in decoding order (the
decoder knows which picture comes first), and a clock that jumps back in the middle of a file (time
goes on from where it was).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import cast

import av
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.packet import Packet
from av.stream import Stream
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from goodlength.footage.media.video_file_opening_or_rejection import VideoFile, open_video, rate_of

DEMUX_RETRIES = 50
JUMP_BACK_S = 1.0
STEPS_BACK_S = (0.0, 1.0, 5.0, 20.0)
# Readers whose files can be several recordings set end to end, each with its own clock.
JOINABLE = frozenset({"mpegts", "mpeg", "asf", "flv", "live_flv", "dv"})


@dataclass
class DecodeErrors:
    """What could not be read as written, filled while reading."""

    corrupt: list[int] = field(default_factory=list)
    errors: int = 0
    stopped: str = ""
    jumps_back: int = 0
    in_decoding_order: bool = False


def demux(
    container: InputContainer,
    stream: VideoStream | AudioStream,
    losses: DecodeErrors | None = None,
    *,
    rejoin: bool = True,
) -> Iterator[Packet[Stream]]:
    """Yield the packets of one stream in file order; an empty one at the end flushes a decoder.

    A reader that stumbles is set going again; one that does not get on any more ends the film there.

    Parameters
    ----------
    rejoin : bool
        Let time go on where the clock jumps back. Only right when reading from the beginning.
    """
    lost = losses if losses is not None else DecodeErrors()
    retries, offset, latest = 0, 0, 0
    before: int | None = None
    base = stream.time_base
    limit = round(JUMP_BACK_S / base) if base else 0
    usual = usual_step(stream)
    while True:
        try:
            for packet in container.demux(stream):
                if not packet.size:
                    if packet.pts is None:
                        yield packet
                    continue
                retries = 0
                if rejoin and packet.dts is not None and packet.pts is not None:
                    if before is not None and packet.dts + offset < before - limit:
                        # The first packet after a joint is the first shown: it follows the last picture.
                        offset = latest - packet.pts
                        lost.jumps_back += 1
                    if offset:
                        packet.pts, packet.dts = packet.pts + offset, packet.dts + offset
                    before = packet.dts
                    latest = max(latest, packet.pts + (packet.duration or usual))
                yield packet
            return
        except av.FFmpegError as error:
            retries += 1
            lost.errors += 1
            if retries > DEMUX_RETRIES:
                lost.stopped = str(error.strerror or error)
                yield Packet()
                return


def usual_step(stream: VideoStream | AudioStream) -> int:
    """Return the time-base units between frames at the rate the file claims; 0 for sound and where it
    claims none.
    """
    rate = stream.guessed_rate if isinstance(stream, VideoStream) else None
    return round(1 / (rate * stream.time_base)) if rate and stream.time_base else 0


def timestamp_of(packet: Packet[Stream]) -> int | None:
    """Return when the packet's picture is shown; its decoding time where the file says nothing else."""
    return packet.pts if packet.pts is not None else packet.dts


def pts_of(frame: VideoFrame) -> int:
    """Return the stamp of a picture from `decode_frames`, which gives none without."""
    assert frame.pts is not None
    return frame.pts


class ReorderBuffer:
    """Deals out stamps in the order shown where a file's own are not to be trusted for that.

    Some recorders say "shown when decoded" of every packet although its pictures are reordered, and an
    .avi stores no stamps of showing at all, so that pictures packed together get each other's. The decoder
    gives pictures in the order shown: the k-th gets the k-th stamp. Only where pictures are reordered.
    """

    def __init__(self, film: VideoFile) -> None:
        self._film = film
        self._unstamped = film.container.format.name == "avi"
        self._plain = True
        self._fed = 0
        self._waiting: list[int] = []

    def feed(self, packet: Packet[Stream]) -> None:
        """Take note of a packet before it is decoded."""
        pts = timestamp_of(packet)
        if not packet.size or pts is None or packet.is_discard:
            return
        if packet.pts is None or packet.pts != packet.dts:
            self._plain = False
        if self._plain or self._unstamped:
            self._fed += 1
            heapq.heappush(self._waiting, pts)

    @property
    def in_decoding_order(self) -> bool:
        """Whether the stamps seen so far are those of decoding, of pictures that are reordered."""
        return self._plain and self._fed > 1 and self._film.video.codec_context.has_b_frames > 0

    def deal(self, frame: VideoFrame) -> int | None:
        """Return the stamp of the next picture shown."""
        own = frame.pts if frame.pts is not None else frame.dts
        if not (self._plain or self._unstamped):
            self._waiting.clear()
            return own
        # A picture that stands alone ends the wait for any lost before it.
        while frame.key_frame and own is not None and self._waiting and self._waiting[0] < own:
            heapq.heappop(self._waiting)
        smallest = heapq.heappop(self._waiting) if self._waiting else own
        reordered = self._film.video.codec_context.has_b_frames > 0
        return smallest if reordered and (self._unstamped or self._fed > 1) else own


def decode_frames(
    film: VideoFile, losses: DecodeErrors | None = None, *, rejoin: bool = True
) -> Iterator[VideoFrame]:
    """Yield decoded pictures from where the film stands, each with its stamp in `pts`."""
    lost = losses if losses is not None else DecodeErrors()
    order = ReorderBuffer(film)
    for packet in demux(film.container, film.video, lost, rejoin=rejoin):
        order.feed(packet)
        for frame in _decode(film, packet, lost):
            frame.pts = order.deal(frame)
            if frame.pts is None:
                continue
            lost.in_decoding_order |= order.in_decoding_order
            if frame.is_corrupt:
                lost.corrupt.append(frame.pts)
            yield frame


def _decode(film: VideoFile, packet: Packet[Stream], lost: DecodeErrors) -> list[VideoFrame]:
    try:
        return film.video.decode(cast("Packet[VideoStream]", packet) if packet.size else None)
    except av.FFmpegError:
        # With several threads the error may come packets later, so whose it was is found by comparing stamps.
        lost.errors += 1
        return []


def decode_frames_from(
    film: VideoFile, pts: int, losses: DecodeErrors | None = None, *, from_beginning: bool = False
) -> Iterator[VideoFrame]:
    """Yield decoded frames from a keyframe at or before a timestamp, so that the one shown then is among
    them.

    A seek may land late in some containers; then it is tried from further back, at last from the beginning.

    Parameters
    ----------
    from_beginning : bool
        The film was just opened and its clock jumps back, so a seek would land anywhere: read it all.
    """
    if from_beginning:
        # The film stands there already; seeking back would land anywhere.
        yield from decode_frames(film, losses)
        return
    for back_s in STEPS_BACK_S:
        if not seek(film, pts - round(back_s / film.base.tick), film.video):
            continue
        reader = decode_frames(film, losses, rejoin=False)
        first = next(reader, None)
        if first is not None and first.pts is not None and first.pts <= pts and first.key_frame:
            yield first
            yield from reader
            return
    # No seek leads there: where the first blocks carry no stamp, not even one to the start of the file does.
    with open_video(film.path, with_sound=False) as again:
        yield from decode_frames(again, losses)


def seek(film: VideoFile, pts: int, stream: VideoStream | AudioStream) -> bool:
    """Move to the last entry point at or before a stamp; False where the reader cannot, which is no fault."""
    try:
        film.container.seek(pts, stream=stream, backward=True)
    except av.FFmpegError:
        return False
    return True


def length_of(film: VideoFile, frame: VideoFrame) -> int:
    """Return the duration of the last frame of a film or clip: its own, else the film's usual step."""
    usual = max(1, round(1 / (rate_of(film) * film.base.tick)))
    return frame.duration if 0 < frame.duration <= 3 * usual else usual
