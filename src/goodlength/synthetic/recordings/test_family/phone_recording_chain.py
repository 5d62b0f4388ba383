"""A phone: a drawn response, a gain that follows loudness, gates by band, a real codec.

The response is a smooth random curve over octaves as an all-pole filter. Automatic gain holds a target for
the loudness of the last moments, at so many dB a second. Suppression is a downward expander in twelve bands.
The codecs are Opus and MP3 of the video library; both give back what begins where it began.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, cast

import av
import numpy as np
import scipy.fft
from numba import njit
from scipy.signal import resample_poly

from goodlength.synthetic.recordings.test_family.all_pole_filters import BANDS_HZ, all_pole

if TYPE_CHECKING:
    from numpy.typing import NDArray

_FRAME_S = 0.02
_OPUS_RATE = 48000
_CONTEXT = 400


@dataclass(frozen=True)
class AutomaticGain:
    """Gain that follows loudness: target in dB, speeds down and up, the most, how long it waits."""

    target_db: float
    down_db_s: float
    up_db_s: float
    most_db: float
    waits_s: float


@dataclass(frozen=True)
class PocketRecorder:
    """A phone: rate, channels, response by octave in dB, processing, level, codec ("", "opus", "mp3")."""

    rate: int
    channels: int
    response_db: NDArray[np.float64]
    second_db: NDArray[np.float64]
    second_delay_s: float
    phase: str
    level: float
    gain: AutomaticGain | None
    suppression: float
    soft: bool
    codec: str
    codec_kb_s: float

    @property
    def inner_rate(self) -> int:
        """The rate at which the scene is made; a file of 8 kHz is cut down from 16."""
        return max(self.rate, 16000)


def channel_taps(recorder: PocketRecorder, channel: int, rate: int) -> NDArray[np.float32]:
    """Return the taps of one channel's capsule; the second may be late, turned or of another phase."""
    taps = all_pole(recorder.response_db if channel == 0 else recorder.second_db, rate)
    if channel:
        if recorder.phase == "opposite":
            taps = -taps
        elif recorder.phase == "delay":
            taps = np.concatenate([np.zeros(round(recorder.second_delay_s * rate)), taps])[: taps.size]
        elif recorder.phase == "any":
            spectrum = scipy.fft.rfft(taps, 1024)
            grid = np.linspace(0.0, math.pi, spectrum.size)
            spectrum *= np.exp(-1j * (1.2 * np.sin(2.1 * grid) + 0.9 * np.sin(5.3 * grid) + 3.0 * grid))
            taps = scipy.fft.irfft(spectrum)[:512]
    return taps.astype(np.float32)


@njit(cache=True, nogil=True)
def _gain_steps(
    loud_db: NDArray[np.float64], target: float, down: float, up: float, most: float, waits: int
) -> NDArray[np.float64]:
    now = min(max(target - loud_db[: min(loud_db.size, 100)].max(), -20.0), most)
    last_loud = 0
    out = np.empty(loud_db.size)
    for i in range(loud_db.size):
        if loud_db[i] + now > target:
            now -= min(down, loud_db[i] + now - target)
            last_loud = i
        elif i - last_loud > waits:
            now = min(now + up, most)
        out[i] = now
    return out


def follow_loudness(samples: NDArray[np.float32], rate: int, gain: AutomaticGain) -> None:
    """Apply automatic gain in place, all channels alike, block by block."""
    hop = int(_FRAME_S * rate)
    frames = samples.shape[1] // hop
    if frames < 5:
        return
    loud = np.empty(frames)
    for start in range(0, frames, 3000):
        end = min(start + 3000, frames)
        block = samples[:, start * hop : end * hop].reshape(samples.shape[0], end - start, hop)
        loud[start:end] = np.sqrt(np.einsum("cfh,cfh->f", block, block) / (hop * samples.shape[0]))
    loud_db = 20.0 * np.log10(loud + 1e-6)
    steps = _gain_steps(
        loud_db,
        gain.target_db,
        gain.down_db_s * _FRAME_S,
        gain.up_db_s * _FRAME_S,
        gain.most_db,
        int(gain.waits_s / _FRAME_S),
    )
    edges = 10.0 ** (np.concatenate([steps[:1], steps, steps[-1:]]) / 20.0)
    for start in range(0, frames + 1, 3000):
        end = min(start + 3000, frames + 1)
        count = min(end * hop, samples.shape[1]) - start * hop
        if count > 0:
            at = np.arange(count) / hop
            curve = np.interp(at, np.arange(end - start + 1), edges[start : end + 1])
            samples[:, start * hop : start * hop + count] *= curve.astype(np.float32)


def gate_bands(channel: NDArray[np.float32], rate: int, strength: float) -> None:
    """Turn down in place, band by band, what is little above the usual calm level; blocks of 20 s overlap."""
    size = 2 * int(0.012 * rate)
    hop = size // 2
    window = np.sqrt(0.5 - 0.5 * np.cos(2.0 * math.pi * np.arange(size) / size)).astype(np.float32)
    edges = np.unique(np.geomspace(2, size // 2 + 1, 13).astype(int))
    edges[0] = 0
    block = 20 * rate // hop * hop
    calm = None
    tail = np.zeros(hop, dtype=np.float32)
    for start in range(0, channel.size, block):
        end = min(start + block, channel.size)
        piece = np.zeros(-(-(end - start) // hop) * hop + hop, dtype=np.float32)
        have = channel[start : min(start + piece.size, channel.size)]
        piece[: have.size] = have
        spectrum = scipy.fft.rfft(
            np.lib.stride_tricks.sliding_window_view(piece, size)[::hop] * window, axis=1
        )
        bands = np.add.reduceat(np.abs(spectrum) ** 2, edges[:-1], axis=1) + 1e-14
        here = np.quantile(bands, 0.3, axis=0)
        calm = here if calm is None else 0.5 * (calm + here)
        over = 10.0 * np.log10(bands / calm)
        gain_db = -strength * np.clip(9.0 - over, 0.0, 12.0) * 1.6
        gain = np.repeat(10.0 ** (gain_db / 20.0), np.diff(edges), axis=1).astype(np.float32)
        whole = np.ones(spectrum.shape, dtype=np.float32)
        whole[:, : gain.shape[1]] = gain
        back = scipy.fft.irfft(spectrum * whole, size, axis=1).astype(np.float32) * window
        mixed = back[:, :hop].copy()
        mixed[1:] += back[:-1, hop:]
        mixed[0] += tail
        tail = back[-1, hop:].copy()
        channel[start:end] = mixed.ravel()[: end - start]


def _codec(name: str, mode: Literal["r", "w"], rate: int, layout: str) -> av.AudioCodecContext:
    context = cast("av.AudioCodecContext", av.CodecContext.create(name, mode))
    context.sample_rate, context.layout, context.thread_count = rate, layout, 1
    if mode == "w":
        context.format = "s16" if name == "libopus" else "fltp"
    return context


def _audio_frame(piece: NDArray[np.float32], name: str, layout: str, rate: int, pts: int) -> av.AudioFrame:
    if name == "libopus":
        whole = np.rint(32767.0 * piece.T.reshape(1, -1)).astype(np.int16)
        frame = av.AudioFrame.from_ndarray(whole, format="s16", layout=layout)
    else:
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(piece), format="fltp", layout=layout)
    frame.sample_rate, frame.pts = rate, pts
    return frame


def _plain(frame: av.AudioFrame, channels: int) -> NDArray[np.float32]:
    wave = frame.to_ndarray()
    if wave.shape[0] != channels:
        wave = wave.reshape(-1, channels).T
    return np.asarray(wave / np.float32(32768.0) if wave.dtype == np.int16 else wave, dtype=np.float32)


class _Resampled:
    """Takes decoded sound at Opus's own rate and writes it, at the file's, over the samples already coded."""

    def __init__(self, samples: NDArray[np.float32], rate: int, decoded_rate: int) -> None:
        self.samples, self.down, self.place = samples, decoded_rate // rate, 0
        self.waiting: list[NDArray[np.float32]] = []
        self.before = np.zeros((samples.shape[0], 0), dtype=np.float32)
        self.lead = self.count = 0
        self.least = 30 * decoded_rate

    def take(self, wave: NDArray[np.float32], last: bool = False) -> None:
        """Take what was decoded; write once enough is there."""
        self.waiting.append(wave)
        self.count += wave.shape[1]
        if not last and self.count < self.least:
            return
        joined = np.concatenate([self.before, *self.waiting], axis=1)
        self.waiting, self.count = [], 0
        context = _CONTEXT * self.down
        usable = joined.shape[1] if last else joined.shape[1] - context
        usable = usable // self.down * self.down
        out = resample_poly(joined, 1, self.down, axis=1) if self.down > 1 else joined
        piece = out[:, self.lead : usable // self.down]
        space = max(min(piece.shape[1], self.samples.shape[1] - self.place), 0)
        self.samples[:, self.place : self.place + space] = piece[:, :space]
        self.place += piece.shape[1]
        # What was just written goes before the next piece, so that the filter runs on.
        self.before, self.lead = joined[:, usable - context :], _CONTEXT


def code_and_decode(samples: NDArray[np.float32], rate: int, codec: str, kb_s: float) -> None:
    """Encode with Opus or MP3 and decode again, in place."""
    name = {"opus": "libopus", "mp3": "libmp3lame"}[codec]
    layout = "stereo" if samples.shape[0] == 2 else "mono"
    encoder = _codec(name, "w", rate, layout)
    encoder.bit_rate = int(1000 * kb_s)
    encoder.options = {"compression_level": "0" if codec == "opus" else "9"}
    encoder.open()
    decoder = _codec("libopus" if codec == "opus" else "mp3float", "r", rate, layout)
    if encoder.extradata:
        decoder.extradata = encoder.extradata
    sink = _Resampled(samples, rate, _OPUS_RATE if codec == "opus" else rate)
    size = encoder.frame_size
    for start in range(0, samples.shape[1], size):
        piece = samples[:, start : start + size]
        if piece.shape[1] < size:
            piece = np.pad(piece, ((0, 0), (0, size - piece.shape[1])))
        for packet in encoder.encode(_audio_frame(piece, name, layout, rate, start)):
            for back in decoder.decode(packet):
                sink.take(_plain(back, samples.shape[0]))
    rest = [back for packet in encoder.encode(None) for back in decoder.decode(packet)]
    for back in [*rest, *decoder.decode(None)]:
        sink.take(_plain(back, samples.shape[0]))
    sink.take(np.zeros((samples.shape[0], 0), dtype=np.float32), last=True)


def to_file(samples: NDArray[np.float32], recorder: PocketRecorder) -> NDArray[np.float32]:
    """Return what the file holds of the sound at the capsules; works in place where it can."""
    rate = recorder.inner_rate
    samples *= np.float32(recorder.level)
    if recorder.suppression > 0.0:
        for channel in samples:
            gate_bands(channel, rate, recorder.suppression)
    if recorder.gain is not None:
        follow_loudness(samples, rate, recorder.gain)
    if recorder.soft:
        samples /= np.sqrt(1.0 + samples**2)
    np.clip(samples, -0.997, 0.997, out=samples)
    if recorder.rate != rate:
        samples = np.asarray(resample_poly(samples, 1, rate // recorder.rate, axis=1), dtype=np.float32)
        np.clip(samples, -0.997, 0.997, out=samples)
    if recorder.codec:
        code_and_decode(samples, recorder.rate, recorder.codec, recorder.codec_kb_s)
    np.clip(samples, -1.0, 1.0, out=samples)
    return samples


def draw_response(
    rng: np.random.Generator, low_hz: float, high_hz: float, uneven_db: float
) -> NDArray[np.float64]:
    """Return a response by octave: falling below and above a band, uneven within."""
    uneven = np.cumsum(rng.normal(0.0, 0.6 * uneven_db, BANDS_HZ.size))
    below = -9.0 * np.maximum(np.log2(low_hz / BANDS_HZ), 0.0)
    above = -14.0 * np.maximum(np.log2(BANDS_HZ / high_hz), 0.0)
    return np.asarray(np.clip(uneven - uneven[4], -12.0, 12.0) + below + above)
