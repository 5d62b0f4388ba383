"""Select the video and audio stream of the match in a file that holds several.

A still beside the film (a cover, a phone's live photo), a silent first sound track: neither the first nor the
largest stream is sure to be the film. Pictures are compared by their number and length first, then by size;
sounds by how loud they are. What was passed over is said, and another can be chosen by `repack`.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import cast

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.stream import Discard, Stream
from av.video.stream import VideoStream
from numpy.typing import NDArray

from goodlength.media_time import clock_words

Reopen = Callable[[], InputContainer]

# ASSUMED: a film has at least this share of the most pictures, and of the longest of those that do
PICTURES_SHARE, LENGTH_SHARE = 0.25, 0.5
# ASSUMED: the first sound is left for another that is so much louder, dB
LOUDER_DB = 10.0
SILENT_DB = -90.0
PROBED_PACKETS, PROBED_S = 20_000, 90.0
WINDOWS, WINDOW_S = 8, 2.0  # sound is sampled so often over the file, so long each time
LIVE_SHARE = 1e-3  # of the loudest channel's power: less is a dead channel
AGAINST = -0.1  # correlation below which a channel is turned over before it is added
CACHED_FILES = 64


@dataclass(frozen=True)
class Track:
    """One picture or sound track: its number as a coach counts, from 1, what it is, and whether it is used.

    `index` is the stream's place in the file; `level_db` of a sound is None where it was not measured.
    """

    kind: str  # "picture" or "sound"
    number: int
    index: int
    words: str
    used: bool = False
    level_db: float | None = None


@dataclass(frozen=True)
class Picked:
    """The streams of the match by their place in the file, and every one there is."""

    picture: int
    sound: int | None
    tracks: tuple[Track, ...]


_KNOWN: dict[tuple[str, int, int], Picked] = {}
_MIXES: dict[tuple[str, int, int, int], tuple[float, ...]] = {}


def pick_streams(
    path: Path, films: Sequence[VideoStream], sounds: Sequence[AudioStream], reopen: Reopen
) -> Picked:
    """Return which picture and sound to use; measured once for a file while it stays the same.

    Parameters
    ----------
    path : Path
    films, sounds : sequence of stream
        Those that can be decoded; at least one film.
    reopen : callable
        Opens the file once more, for measuring.
    """
    if len(films) == 1 and len(sounds) <= 1:
        return Picked(films[0].index, sounds[0].index if sounds else None, ())
    state = path.stat()
    key = (str(path), state.st_size, state.st_mtime_ns)
    if key not in _KNOWN:
        while len(_KNOWN) >= CACHED_FILES:
            _KNOWN.pop(next(iter(_KNOWN)))
        _KNOWN[key] = _measured(films, sounds, reopen)
    return _KNOWN[key]


def _measured(films: Sequence[VideoStream], sounds: Sequence[AudioStream], reopen: Reopen) -> Picked:
    counted = _counted(films, reopen) if len(films) > 1 else {films[0].index: (0, 0.0)}
    best = films[best_picture([(*counted[s.index], s.width * s.height) for s in films])].index
    levels = [_level_db(reopen, s.index) for s in sounds] if len(sounds) > 1 else [math.nan] * len(sounds)
    sound = sounds[best_sound(levels)].index if sounds else None
    tracks = [
        Track("picture", n, s.index, _picture_words(s, *counted[s.index]), s.index == best)
        for n, s in enumerate(films, 1)
    ]
    tracks += [
        Track(
            "sound",
            n,
            s.index,
            _sound_words(s, level),
            s.index == sound,
            None if math.isnan(level) else round(level, 1),
        )
        for n, (s, level) in enumerate(zip(sounds, levels, strict=True), 1)
    ]
    return Picked(best, sound, tuple(tracks))


def best_picture(streams: Sequence[tuple[int, float, int]]) -> int:
    """Return which of several is the film, each given by its pictures, its length in seconds and its pixels.

    Examples
    --------
    A film beside a larger still, beside a cover shown once a second, and beside a smaller view of its own:

    >>> best_picture([(9000, 300.0, 2_073_600), (1, 0.0, 12_192_768)])
    0
    >>> best_picture([(300, 300.0, 2_073_600), (9000, 300.0, 921_600)])
    1
    >>> best_picture([(9000, 300.0, 921_600), (9000, 300.0, 2_073_600)])
    1
    """
    most = max(count for count, _, _ in streams)
    full = [k for k, (count, _, _) in enumerate(streams) if count >= PICTURES_SHARE * most]
    longest = max(streams[k][1] for k in full)
    lasting = [k for k in full if streams[k][1] >= LENGTH_SHARE * longest]
    return max(lasting, key=lambda k: (streams[k][2], -k))


def best_sound(levels_db: Sequence[float]) -> int:
    """Return which of several sounds to listen to: the first, unless another is clearly louder.

    Examples
    --------
    >>> best_sound([-120.0, -35.0])
    1
    >>> best_sound([-31.0, -28.0])
    0
    """
    loudest = max(levels_db)
    return next((k for k, level in enumerate(levels_db) if level >= loudest - LOUDER_DB), 0)


def _counted(films: Sequence[VideoStream], reopen: Reopen) -> dict[int, tuple[int, float]]:
    """Return pictures and length of each stream: as its header says, or more where more was read."""
    indices = {s.index for s in films}
    seen: dict[int, list[float]] = {s.index: [] for s in films}
    with reopen() as container:
        for stream in container.streams:
            stream.discard = Discard.default if stream.index in indices else Discard.all
        with contextlib.suppress(av.FFmpegError):
            for n, packet in enumerate(container.demux()):
                if packet.stream.index in seen and packet.size and packet.pts is not None:
                    seen[packet.stream.index].append(float(packet.pts * packet.time_base))
                if n > PROBED_PACKETS or any(
                    times and times[-1] - times[0] > PROBED_S for times in seen.values()
                ):
                    break
    return {
        s.index: (
            max(s.frames, len(seen[s.index])),
            max(_length_s(s), max(seen[s.index], default=0.0) - min(seen[s.index], default=0.0)),
        )
        for s in films
    }


def _length_s(stream: Stream) -> float:
    """Return the length a stream claims in its header or tags; 0 where it claims none."""
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    parts = stream.metadata.get("DURATION", "").split(":")
    with contextlib.suppress(ValueError):
        if len(parts) == 3:
            return int(parts[0]) * 3600 + int(parts[1]) * 60 + float(parts[2])
    return 0.0


def _level_db(reopen: Reopen, index: int) -> float:
    """Return the level of a sound: mean power of its loudest channel, dB under full scale."""
    together = channel_powers(reopen, index)
    power = float(together.diagonal().max()) if len(together) else 0.0
    return max(-120.0, 10.0 * math.log10(max(power, 1e-12)))


def channel_powers(reopen: Reopen, index: int) -> NDArray[np.float64]:
    """Return mean products of each two channels of a sound, shape (channels, channels), sampled over the
    file.
    """
    total, count = np.zeros((0, 0)), 0
    with reopen() as container:
        stream = cast("AudioStream", container.streams[index])
        for other in container.streams:
            other.discard = Discard.default if other.index == index else Discard.all
        length = (container.duration or 0) / 1e6
        begin = float((stream.start_time or 0) * stream.time_base) if stream.time_base else 0.0
        for k in range(WINDOWS if length > WINDOWS * WINDOW_S else 1):
            if k and not _sought(container, stream, begin + length * k / WINDOWS):
                continue
            for planes in _samples(container, stream, WINDOW_S if length > WINDOWS * WINDOW_S else length):
                if total.shape[0] != len(planes):
                    total, count = np.zeros((len(planes), len(planes))), 0
                total += planes @ planes.T
                count += planes.shape[1]
    return total / max(1, count)


def _sought(container: InputContainer, stream: AudioStream, at_s: float) -> bool:
    if not stream.time_base:
        return False
    with contextlib.suppress(av.FFmpegError):
        container.seek(round(at_s / float(stream.time_base)), stream=stream, backward=True)
        return True
    return False


def _samples(container: InputContainer, stream: AudioStream, length_s: float) -> list[NDArray[np.float64]]:
    """Return decoded sound of a stretch, each block of shape (channels, samples); damaged packets left
    out.
    """
    found: list[NDArray[np.float64]] = []
    left = round(max(length_s, WINDOW_S) * (stream.codec_context.sample_rate or 48_000))
    resampler = AudioResampler(format="fltp")
    frames: list[AudioFrame]
    with contextlib.suppress(av.FFmpegError):
        for packet in container.demux(stream):
            try:
                frames = stream.decode(packet) if packet.size else []
                blocks = [np.asarray(b.to_ndarray(), float) for f in frames for b in resampler.resample(f)]
            except (ValueError, av.FFmpegError):
                continue
            found += blocks
            left -= sum(block.shape[1] for block in blocks)
            if left <= 0:
                break
    return found


def mix_of(path: Path, index: int, channels: int, reopen: Reopen) -> tuple[float, ...]:
    """Return the weight of each channel in one sound made of all; see `mix_weights`."""
    if channels < 2:
        return (1.0,)
    state = path.stat()
    key = (str(path), state.st_size, state.st_mtime_ns, index)
    if key not in _MIXES:
        while len(_MIXES) >= CACHED_FILES:
            _MIXES.pop(next(iter(_MIXES)))
        _MIXES[key] = mix_weights(channel_powers(reopen, index))
    return _MIXES[key]


def mix_weights(together: NDArray[np.float64]) -> tuple[float, ...]:
    """Return how to add channels so that none cancels another; dead ones are left out.

    Parameters
    ----------
    together : ndarray, shape (n, n)
        Mean products of each two channels.

    Examples
    --------
    >>> mix_weights(np.array([[1.0, -1.0], [-1.0, 1.0]]))
    (0.5, -0.5)
    >>> mix_weights(np.array([[1.0, 0.9], [0.9, 1.0]]))
    (0.5, 0.5)
    >>> mix_weights(np.array([[0.0, 0.0], [0.0, 1.0]]))
    (0.0, 1.0)
    """
    n = len(together)
    power = together.diagonal()
    if n == 0 or power.max() <= 0.0:
        return tuple([1.0 / max(1, n)] * max(1, n))
    order = np.argsort(-power, kind="stable")
    weights = np.zeros(n)
    for k in order:
        if power[k] < LIVE_SHARE * power.max():
            continue
        summed = float(weights @ together @ weights)
        apart = float(weights @ together[:, k])
        weights[k] = -1.0 if summed > 0.0 and apart < AGAINST * math.sqrt(summed * power[k]) else 1.0
    if weights[np.flatnonzero(weights)[0]] < 0:
        weights = -weights
    return tuple((weights / np.count_nonzero(weights)).tolist())


def _picture_words(stream: VideoStream, count: int, length_s: float) -> str:
    size = f"{stream.width} × {stream.height}"
    if not count:
        return size
    more = "" if stream.frames >= count or length_s < PROBED_S else " or more"  # the rest was not counted
    return f"{size}, {count} {'frame' if count == 1 else 'frames'}{more}, {clock_words(length_s)}"


def _sound_words(stream: AudioStream, level_db: float) -> str:
    channels = stream.codec_context.channels
    what = {1: "mono", 2: "stereo"}.get(channels, f"{channels} channels")
    if math.isnan(level_db):
        return what
    return f"{what}, {'silent' if level_db < SILENT_DB else f'{level_db:.0f} dB'}"


TRACK_WORDS = {"picture": "video", "sound": "sound"}


def passed_over(name: str, tracks: Sequence[Track], kind: str) -> str:
    """Return a sentence on the tracks of a kind that were not used; empty where there is but one."""
    of_kind = [track for track in tracks if track.kind == kind]
    used = next((track for track in of_kind if track.used), None)
    if len(of_kind) < 2 or used is None:
        return ""
    word = TRACK_WORDS[kind]
    others = "; ".join(f"{word} {track.number} ({track.words})" for track in of_kind if not track.used)
    return (
        f"{name} holds {len(of_kind)} {word} tracks. In use: {word} {used.number} ({used.words}). "
        f"Not used: {others}. If another is the match, choose it on the Footage page."
    )
