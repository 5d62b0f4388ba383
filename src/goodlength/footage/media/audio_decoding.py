"""Decode the audio of a video on its own time base, in even blocks of samples.

Samples are placed by the stamps of decoded sound, so sound that begins late, stops, or has a hole stays
where it belongs; holes are silence. Only the samples asked for are held.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from pathlib import Path
from typing import cast

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.plane import AudioPlane
from av.audio.resampler import AudioResampler
from av.audio.stream import AudioStream
from av.packet import Packet
from numpy.typing import NDArray

from goodlength.footage.media.damage_tolerant_frame_decoding import demux, seek
from goodlength.footage.media.video_file_opening_or_rejection import VideoFile, exact, mixed_by, open_video

Samples = NDArray[np.float32]
RATE_HZ = 48_000
# Stamps in whole milliseconds wander by half of one; a real hole or overlap is longer than this.
SLACK_S = 0.02
WARM_UP_S = 0.25


@dataclass(frozen=True)
class SoundStream:
    """What the sound stream of a film is; `first_s` is None when nothing of it can be decoded.

    `track` is its number among the film's sound tracks, from 1.
    """

    codec: str
    channels: int
    rate_hz: int
    first_s: float | None
    track: int = 1


def sound_stream_of(path: Path) -> SoundStream | None:
    """Return the film's sound and when it begins, by the stamp of the first decoded samples; None
    without sound.
    """
    with open_video(path, with_picture=False) as film:
        if film.audio is None:
            return None
        context = film.audio.codec_context
        first = next(decode_samples(film), None)
        begins = None
        if first is not None and first.pts is not None and first.time_base is not None:
            begins = round(float(first.pts * first.time_base), 6)
        track = 1 + [stream.index for stream in film.container.streams.audio].index(film.audio.index)
        return SoundStream(context.name, context.channels, context.sample_rate, begins, track)


def last_sound_s(path: Path) -> float:
    """Return how long after its beginning the film's sound goes on, by its packets; 0 without sound."""
    with open_video(path, with_picture=False) as film:
        if film.audio is None or film.audio.time_base is None:
            return 0.0
        stamps = [p.pts + (p.duration or 0) for p in demux(film.container, film.audio) if p.pts is not None]
        return float((max(stamps) - min(stamps)) * film.audio.time_base) if stamps else 0.0


def decode_samples(film: VideoFile, *, rejoin: bool = True) -> Iterator[AudioFrame]:
    """Yield decoded sound from where the film stands, damaged packets left out."""
    if film.audio is None:
        return
    for packet in demux(film.container, film.audio, rejoin=rejoin):
        try:
            yield from film.audio.decode(cast("Packet[AudioStream]", packet) if packet.size else None)
        except av.FFmpegError:
            continue


class SampleReader:
    """Samples of a film from a given moment on, pulled block by block.

    Parameters
    ----------
    film : Film
        Opened for its sound.
    start_us : int
        Media time of sample 0.
    rate_hz, layout : int, str
        Wanted rate and channels ("stereo" or "mono").
    from_beginning : bool
        Read the file from its beginning rather than seek: for films whose clock jumps back.
    """

    def __init__(
        self,
        film: VideoFile,
        start_us: int,
        rate_hz: int = RATE_HZ,
        layout: str = "stereo",
        *,
        from_beginning: bool = False,
    ) -> None:
        self.rate_hz, self.layout = rate_hz, layout
        self.channels = 2 if layout == "stereo" else 1
        self._start_us = start_us
        self._blocks = self._placed(film, from_beginning)
        self._ready: list[Samples] = []
        self._buffered = 0
        self._over = False

    def take(self, count: int) -> Samples:
        """Return the next `count` samples, shape (channels, count); silence where the film has none."""
        while self._buffered < count and not self._over:
            block = next(self._blocks, None)
            if block is None:
                self._over = True
            else:
                self._ready.append(block)
                self._buffered += block.shape[1]
        if self._buffered < count:
            self._ready.append(np.zeros((self.channels, count - self._buffered), np.float32))
            self._buffered = count
        joined = self._ready[0] if len(self._ready) == 1 else np.concatenate(self._ready, axis=1)
        self._ready = [joined[:, count:]]
        self._buffered -= count
        return joined[:, :count]

    def _placed(self, film: VideoFile, from_beginning: bool) -> Iterator[Samples]:
        """Yield blocks that join without hole or overlap, the first beginning at sample 0."""
        at = 0
        slack = round(SLACK_S * self.rate_hz)
        for position, samples in self._resampled(film, from_beginning):
            behind, block = at - position, samples
            if behind >= block.shape[1]:
                continue
            if behind > slack or (at == 0 and behind > 0):
                block = block[:, behind:]
            elif behind < -slack or (at == 0 and behind < 0):
                hole = -behind
                at += hole
                yield from self._silence(hole)
            at += block.shape[1]
            yield block

    def _silence(self, count: int) -> Iterator[Samples]:
        """Silence in blocks of a second, so that a long hole needs no long array."""
        while count > 0:
            some = min(count, self.rate_hz)
            yield np.zeros((self.channels, some), np.float32)
            count -= some

    def _resampled(self, film: VideoFile, from_beginning: bool) -> Iterator[tuple[int, Samples]]:
        """Yield blocks at the wanted rate, each with its position in samples from the start."""
        if film.audio is None:
            return
        resampler = self._resampler()
        for frame in decoded_from(film, self._start_us, from_beginning=from_beginning):
            try:
                frames = resampler.resample(frame)
            except (ValueError, av.FFmpegError):
                # The recorder changed channels or rate in the middle: begin with a new one.
                resampler = self._resampler()
                frames = resampler.resample(frame)
            for done in frames:
                if done.pts is None or done.time_base is None:
                    continue
                us_at = done.pts * done.time_base * 1_000_000 - self._start_us
                yield round(us_at * self.rate_hz / 1_000_000), np.asarray(done.to_ndarray(), np.float32)
        # Nothing is lost by not flushing: what the resampler holds back is under a millisecond.

    def _resampler(self) -> AudioResampler:
        return AudioResampler(format="fltp", layout=self.layout, rate=self.rate_hz)


class NativeSampleReader:
    """Samples as the film has them: its own rate, its channels made one; the quick way, for listening.

    Parameters
    ----------
    film : Film
        Opened for its sound, which it has.
    start_us : int
        Media time of sample 0.
    from_beginning : bool
        As for `SampleReader`.
    """

    def __init__(self, film: VideoFile, start_us: int, *, from_beginning: bool = False) -> None:
        assert film.audio is not None
        self._film, self._start_us, self._from_beginning = film, start_us, from_beginning
        self.rate_hz = film.audio.codec_context.sample_rate
        self._slack = round(SLACK_S * self.rate_hz)
        self._weights = mixed_by(film)

    def blocks(self, count: int) -> Iterator[Samples]:
        """Yield blocks of `count` samples, shape (count,), the last one shorter; holes are silence."""
        ready: list[list[Samples]] = []
        buffered = done = 0
        for position, planes in self._planes():
            n, skip, hole = len(planes[0]), 0, 0
            behind = done + buffered - position
            if not -self._slack <= behind <= self._slack or not done + buffered:
                skip, hole = self._fit(position, done + buffered, n)
            while hole > 0:
                some = min(hole, count - buffered)
                ready.append([np.zeros(some, np.float32)])
                buffered, hole = buffered + some, hole - some
                if buffered >= count:
                    yield self._mixed(ready)
                    ready, buffered, done = [], 0, done + count
            if skip >= n:
                continue
            ready.append([plane[skip:] for plane in planes] if skip else planes)
            buffered += n - skip
            while buffered >= count:
                whole = self._mixed(ready)
                yield whole[:count]
                ready, buffered, done = [[whole[count:]]], buffered - count, done + count
        if buffered:
            yield self._mixed(ready)

    def _mixed(self, ready: list[list[Samples]]) -> Samples:
        """Pieces one after the other, the channels of each made one."""
        return np.concatenate([self._joined(list(alike), n) for n, alike in groupby(ready, key=len)])

    def _joined(self, pieces: list[list[Samples]], channels: int) -> Samples:
        """Pieces of as many channels made one; a single channel is as it should be."""
        planes = [np.concatenate([piece[k] for piece in pieces]) for k in range(channels)]
        if channels == 1:
            return planes[0]
        weights = self._weights if len(self._weights) == channels else (1.0 / channels,) * channels
        total = np.zeros_like(planes[0])
        for weight, plane in zip(weights, planes, strict=True):
            if weight:
                total += np.float32(weight) * plane
        return total

    def _fit(self, position: int, expected: int, n: int) -> tuple[int, int]:
        """Return samples to leave out because they overlap, and samples of silence before these."""
        behind = expected - position
        if behind > self._slack or (expected == 0 and behind > 0):
            return min(behind, n), 0
        if behind < -self._slack or (expected == 0 and behind < 0):
            return 0, -behind
        return 0, 0

    def _planes(self) -> Iterator[tuple[int, list[NDArray[np.float32]]]]:
        """Yield decoded blocks as one array for each channel, with the position of their first sample."""
        film, rate, start = self._film, self.rate_hz, self._start_us
        resampler: AudioResampler | None = None
        base: Fraction | None = None
        for frame in decoded_from(film, start, from_beginning=self._from_beginning):
            frames = [frame]
            if frame.sample_rate != rate or frame.format.name != "fltp":
                resampler = resampler or AudioResampler(format="fltp", rate=rate)
                frames, base = resampler.resample(frame), None
            for part in frames:
                n = part.samples
                if base is None and part.time_base is not None:  # the same for all, and slow to ask for
                    base = exact(part.time_base)
                if part.pts is None or base is None or n == 0:
                    continue
                # Whole numbers only: this runs for each of some 170,000 blocks of an hour.
                at_us = part.pts * base.numerator * 1_000_000 // base.denominator - start
                yield (at_us * rate + 500_000) // 1_000_000, [_plane(p, n) for p in part.planes]


def _plane(plane: AudioPlane, n: int) -> NDArray[np.float32]:
    """Return the samples of one channel, not copied."""
    return np.frombuffer(cast(memoryview, plane), np.float32, n)


def decoded_from(film: VideoFile, us: int, *, from_beginning: bool = False) -> Iterator[AudioFrame]:
    """Yield decoded sound from a little before a moment on, so that the decoder is warm when it comes.

    Where no seek leads there, or to a later moment, the file is read from its beginning.

    Parameters
    ----------
    from_beginning : bool
        The film was just opened and its clock jumps back, so a seek would land anywhere.
    """
    if from_beginning:
        yield from decode_samples(film)
        return
    if film.audio is None or film.audio.time_base is None:
        return
    if seek(film, round((us / 1_000_000 - WARM_UP_S) / float(film.audio.time_base)), film.audio):
        reader = decode_samples(film, rejoin=False)
        first = next((frame for frame in reader if frame.pts is not None), None)
        if first is not None and float((first.pts or 0) * film.audio.time_base) <= us / 1_000_000 + SLACK_S:
            yield first
            yield from reader
            return
    with open_video(film.path, with_picture=False) as again:
        yield from decode_samples(again, rejoin=False)
