"""Effects of a phone on the sound: band, gain control, noise suppression, clipping, lossy codec.

The codec is a stand-in: a lapped cosine transform whose steps follow the loudness around each band, coarser
for fewer kb/s; it writes no file and is no encoder of any standard. No step moves an onset by more than a
sample, but the codec smears a little before it, as such codecs do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import resample_poly

if TYPE_CHECKING:
    from numpy.typing import NDArray

CHUNK_S = 24


@dataclass(frozen=True)
class GainControl:
    """A gain control: time to turn down and up, level aimed at, most gain, how strictly it holds."""

    down_s: float
    up_s: float
    aim: float
    most: float
    strength: float


@dataclass(frozen=True)
class Phone:
    """A recorder: rate of the file, rate of its inside, channels, band, and what it does to the sound."""

    rate: int
    channels: int
    low_hz: float
    high_hz: float
    bump_hz: float
    bump_db: float
    level: float
    gain_control: GainControl | None
    suppression: float
    codec_kb_s: float
    phase: str

    @property
    def inner_rate(self) -> int:
        """The rate at which the scene is made; a file of 8 kHz is cut down from 16."""
        return max(self.rate, 16000)


def microphone(phone: Phone, size: int) -> NDArray[np.float64]:
    """Return the magnitude response of the microphone over the bins of a transform of `size`."""
    hz = np.fft.rfftfreq(size, 1.0 / phone.inner_rate)
    low = 1.0 / (1.0 + (phone.low_hz / np.maximum(hz, 1.0)) ** 4) ** 0.5
    high = 1.0 / (1.0 + (hz / phone.high_hz) ** 12) ** 0.5
    bump = 10.0 ** (phone.bump_db / 20.0 * np.exp(-((np.log2(np.maximum(hz, 1.0) / phone.bump_hz)) ** 2)))
    return np.asarray(low * high * bump)


def _frame_gains(peaks: NDArray[np.float64], control: GainControl, frame_s: float) -> NDArray[np.float64]:
    """Return the gain of each frame: an envelope that rises fast and falls slowly, held near the aim."""
    down, up = (1.0 - math.exp(-frame_s / t) for t in (control.down_s, control.up_s))
    gains = np.empty(peaks.size)
    level = float(np.median(peaks)) + 1e-6
    for i, peak in enumerate(peaks.tolist()):
        level += (down if peak > level else up) * (peak - level)
        gains[i] = min(control.most, (control.aim / max(level, 1e-6)) ** control.strength)
    return gains


def control_gain(samples: NDArray[np.float32], rate: int, control: GainControl) -> None:
    """Apply a gain control in place, all channels alike; a gain starts after the frame that caused it."""
    hop = rate // 100
    frames = samples.shape[1] // hop
    if frames < 3:
        return
    shaped = samples[:, : frames * hop].reshape(samples.shape[0], frames, hop)
    peaks = np.zeros(frames)
    for start in range(0, frames, 1000):
        part = shaped[:, start : start + 1000]
        peaks[start : start + 1000] = np.maximum(part.max(axis=(0, 2)), -part.min(axis=(0, 2)))
    gains = _frame_gains(peaks, control, hop / rate)
    after = np.concatenate([gains[:1], gains[:-1]])
    ramp = np.arange(hop) / hop
    for start in range(0, frames, 1000):
        some = slice(start, start + 1000)
        rise = (gains[some] - after[some])[:, None] * ramp
        shaped[:, some] *= (after[some][:, None] + rise).astype(np.float32)
    samples[:, frames * hop :] *= np.float32(gains[-1])


def _cut_out(channel: NDArray[np.float32], start: int, end: int) -> NDArray[np.float32]:
    """Return a stretch of a channel as a copy, zeros where it reaches over its ends."""
    inside = channel[max(start, 0) : max(min(end, channel.size), 0)]
    after = max(end - max(channel.size, start), 0)
    return np.concatenate([np.zeros(max(-start, 0), np.float32), inside, np.zeros(after, np.float32)])


def suppress_noise(channel: NDArray[np.float32], rate: int, strength: float) -> None:
    """Take away in place what stands little above the quietest of the last second and a half, onsets late.

    Soft strikes are swallowed as a phone's voice mode swallows them: the gain opens over two frames.
    """
    hop = int(0.012 * rate)
    window = np.sqrt(np.hanning(2 * hop + 1)[:-1]).astype(np.float32)
    chunk = CHUNK_S * rate // hop * hop
    tail = np.zeros(hop, dtype=np.float32)
    for start in range(0, channel.size, chunk):
        piece = _cut_out(channel, start, min(start + chunk + hop, channel.size + 2 * hop))
        frames = (piece.size - hop) // hop
        views = np.lib.stride_tricks.sliding_window_view(piece, 2 * hop)[::hop][:frames]
        spectrum = scipy.fft.rfft(views * window, axis=1)
        power = uniform_filter1d(np.abs(spectrum) ** 2, 5, axis=1)
        calm = minimum_filter1d(uniform_filter1d(power, 9, axis=0), int(1.5 / 0.012), axis=0) * 2.0 + 1e-12
        gain = np.clip(1.0 - strength * 3.0 * calm / np.maximum(power, 1e-12), 10.0 ** (-strength * 1.3), 1.0)
        opening = np.minimum(gain, 0.35 + np.concatenate([gain[:1], gain[:-1]]))
        back = scipy.fft.irfft(spectrum * opening, 2 * hop, axis=1).astype(np.float32) * window
        mixed = back[:, :hop].copy()
        mixed[1:] += back[:-1, hop:]
        mixed[0] += tail
        tail = back[-1, hop:].copy()
        end = min(start + frames * hop, channel.size, start + chunk)
        channel[start:end] = mixed.ravel()[: end - start]


def _bands(bins: int, rate: int) -> NDArray[np.int64]:
    """Return the first bin of some thirty bands, narrow below and wide above."""
    hz = np.concatenate([np.arange(0, 1000, 125), np.geomspace(1000, rate / 2, 24)])
    return np.unique((hz / (rate / 2) * bins).astype(int))[:-1]


def _coarse(lines: NDArray[np.float32], rate: int, share: float, top_hz: float) -> NDArray[np.float32]:
    """Return transform lines rounded to steps that follow each band's level; bands too faint go to zero."""
    edges = _bands(lines.shape[1], rate)
    width = np.diff(np.append(edges, lines.shape[1]))
    level = np.sqrt(np.add.reduceat(lines**2, edges, axis=1) / width)
    spread = level.copy()
    spread[:, 1:] = np.maximum(spread[:, 1:], 0.3 * level[:, :-1])
    spread[:, :-1] = np.maximum(spread[:, :-1], 0.1 * level[:, 1:])
    step = np.maximum(share * spread**0.8 * np.maximum(level.mean(axis=1, keepdims=True), 1e-9) ** 0.2, 2e-6)
    wide = np.repeat(step, width, axis=1).astype(np.float32)
    out = np.rint(lines / wide) * wide
    out[:, int(top_hz / (rate / 2) * lines.shape[1]) :] = 0.0
    return np.asarray(out, dtype=np.float32)


def _fold(frames: NDArray[np.float32], half: int) -> NDArray[np.float32]:
    a, b, c, d = (frames[:, i * half : (i + 1) * half] for i in range(4))
    return np.concatenate([-c[:, ::-1] - d, a - b[:, ::-1]], axis=1)


def _unfold(lines: NDArray[np.float32], half: int) -> NDArray[np.float32]:
    array, two = lines[:, :half], lines[:, half:]
    return np.concatenate([two, -two[:, ::-1], -array[:, ::-1], -array], axis=1)


def code(channel: NDArray[np.float32], rate: int, kb_s: float, channels: int) -> None:
    """Apply the stand-in codec in place: lapped blocks of 1,024, at 16 kHz and below of 512 samples.

    Parameters
    ----------
    channel : ndarray
    rate : int
    kb_s : float
        Of all channels together.
    channels : int
    """
    block = 1024 if rate > 16000 else 512
    bits = kb_s * 1000.0 / channels / min(rate, 32000)  # bits for a line that matters
    share = float(np.clip(2.4 * 2.0 ** (-0.75 * bits), 0.05, 2.2))
    top_hz = min(0.49 * rate, 5500.0 + 120.0 * kb_s / channels)
    window = np.sin(math.pi * (np.arange(2 * block) + 0.5) / (2 * block)).astype(np.float32)
    tail = np.zeros(block, dtype=np.float32)
    batch = 256
    blocks = channel.size // block + 2
    for first in range(0, blocks, batch):
        count = min(batch, blocks - first)
        piece = _cut_out(channel, (first - 1) * block, (first + count) * block)
        views = np.lib.stride_tricks.sliding_window_view(piece, 2 * block)[::block][:count]
        lines = scipy.fft.dct(_fold(views * window, block // 2), type=4, norm="ortho", axis=1)
        back = scipy.fft.dct(_coarse(lines, rate, share, top_hz), type=4, norm="ortho", axis=1)
        parts = _unfold(back, block // 2) * window
        mixed = parts[:, :block].copy()
        mixed[1:] += parts[:-1, block:]
        mixed[0] += tail
        tail = parts[-1, block:].copy()
        start = (first - 1) * block
        end = min(start + count * block, channel.size)
        skip = max(-start, 0)
        if end > start + skip:
            channel[start + skip : end] = mixed.ravel()[skip : end - start]


def record(samples: NDArray[np.float32], phone: Phone) -> NDArray[np.float32]:
    """Return what the phone's file holds of the sound at its microphone; works in place where it can."""
    rate = phone.inner_rate
    if phone.suppression > 0.0:
        for channel in samples:
            suppress_noise(channel, rate, phone.suppression)
    if phone.gain_control is not None:
        control_gain(samples, rate, phone.gain_control)
    samples *= np.float32(phone.level)
    np.clip(samples, -0.999, 0.999, out=samples)
    if phone.rate != rate:
        samples = np.asarray(resample_poly(samples, 1, rate // phone.rate, axis=1), dtype=np.float32)
    if phone.codec_kb_s > 0.0:
        for channel in samples:
            code(channel, phone.rate, phone.codec_kb_s, phone.channels)
    np.clip(samples, -1.0, 1.0, out=samples)
    return samples
