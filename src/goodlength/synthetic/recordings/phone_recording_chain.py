"""Recording chain of a phone: distance, gain control, clipping, band limits, and a codec.

All learning families pass through it, each recording with settings of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Wave = NDArray[np.float32]
GAIN_STEP_S = 0.01
CODEC_FRAME = 512


@dataclass(frozen=True)
class PhoneChain:
    """How the sound is taken and kept.

    `place_hz` is the low-pass of the place (behind glass, a door's gap) or None in the open; `lows_hz` and
    `highs_hz` are the phone's band; `equaliser_db` is its curve at points even in log frequency; `gain` is
    the ratio of its gain control (1 for none); `clip_db` is how far the loudest part is over full scale;
    `codec_db` is how far a codec's noise stands below each band, or None.
    """

    place_hz: float | None = None
    lows_hz: float = 60.0
    highs_hz: float = 7800.0
    equaliser_db: tuple[float, ...] = (0.0, 0.0)
    gain: float = 1.0
    gain_release_s: float = 0.5
    clip_db: float | None = None
    soft: bool = False
    noise_db: float = -70.0
    codec_db: float | None = None


def draw_chain(rng: np.random.Generator, condition: str) -> PhoneChain:
    """Return a phone's settings for a condition; what the condition does not name is drawn now and then."""
    every = condition == "all at once"

    def happens(name: str, share: float) -> bool:
        return condition == name or rng.random() < (0.5 if every else share)

    narrow = happens("8 kHz", 0.05)
    place = None
    if condition == "behind glass" or (condition == "" and rng.random() < 0.06):
        place = float(np.exp(rng.uniform(np.log(450), np.log(2600))))
    elif happens("door gap", 0.06):
        place = float(np.exp(rng.uniform(np.log(2500), np.log(6500))))
    return PhoneChain(
        place_hz=place,
        lows_hz=float(np.exp(rng.uniform(np.log(30), np.log(350)))),
        highs_hz=float(rng.uniform(3300, 3900)) if narrow else float(rng.uniform(5500, 7900)),
        equaliser_db=tuple(rng.normal(0, 1, 9).cumsum() * rng.uniform(0, 3)),
        gain=float(rng.uniform(1.5, 6)) if happens("gain control", 0.25) else 1.0,
        gain_release_s=float(np.exp(rng.uniform(np.log(0.08), np.log(3)))),
        clip_db=float(rng.uniform(3, 22)) if happens("clipped", 0.15) else None,
        soft=bool(rng.random() < 0.6),
        noise_db=float(rng.uniform(-80, -50)),
        codec_db=float(rng.uniform(6, 25)) if rng.random() < 0.7 else None,
    )


def record_through(chain: PhoneChain, wave: Wave, rate: int, rng: np.random.Generator) -> Wave:
    """Return what the file holds of the sound in the hall, at a peak of at most 1."""
    out = wave
    if chain.place_hz is not None:
        order = int(rng.integers(1, 5))
        out = _filtered(out, signal.butter(order, chain.place_hz, fs=rate, output="sos"))
        loss = 10 ** (-rng.uniform(3, 14) / 20)
        out = out * np.float32(loss)
    out = _equalised(out, chain, rate)
    loud = float(np.quantile(np.abs(out[:: max(1, len(out) // 400_000)]), 0.9995)) + 1e-9
    out = out / np.float32(loud)
    out = out + np.float32(10 ** (chain.noise_db / 20)) * rng.standard_normal(len(out), np.float32)
    if chain.gain > 1:
        out = _gain_controlled(out, chain, rate)
        out = out / np.float32(float(np.quantile(np.abs(out[::9]), 0.9995)) + 1e-9)
    if chain.clip_db is not None:
        out = out * np.float32(10 ** (chain.clip_db / 20))
        out = np.tanh(out) if chain.soft else np.clip(out, -1, 1)
    if chain.codec_db is not None:
        out = coded(out, chain.codec_db)
    peak = float(np.abs(out).max()) + 1e-9
    return np.asarray(out * (10 ** (-rng.uniform(0, 18) / 20) / peak), np.float32)


def _filtered(wave: Wave, sections: NDArray[np.float64]) -> Wave:
    return np.asarray(signal.sosfilt(sections.astype(np.float32), wave), np.float32)


def _equalised(wave: Wave, chain: PhoneChain, rate: int) -> Wave:
    """Return the wave through the phone's curve and band, by one filter without a shift in time."""
    points = np.geomspace(60, rate / 2, len(chain.equaliser_db))
    grid = np.linspace(0, rate / 2, 257)
    curve = np.interp(np.log(np.maximum(grid, 20)), np.log(points), chain.equaliser_db)
    curve -= 24 * np.log2(np.maximum(1, chain.lows_hz / np.maximum(grid, 5)))
    curve -= 60 * np.log2(np.maximum(1, grid / chain.highs_hz))
    taps = signal.firwin2(511, grid, 10 ** (np.maximum(curve, -90) / 20), fs=rate)
    return np.asarray(signal.oaconvolve(wave, taps.astype(np.float32), mode="same"), np.float32)


def _gain_controlled(wave: Wave, chain: PhoneChain, rate: int) -> Wave:
    """Return the wave with loud stretches turned down at once and turned up again slowly."""
    step = round(GAIN_STEP_S * rate)
    count = len(wave) // step
    level = 10 * np.log10((wave[: count * step].reshape(count, step) ** 2).mean(axis=1) + 1e-9)
    keep = np.exp(-GAIN_STEP_S / chain.gain_release_s)
    peak_db = np.empty(count)
    now = float(level[0])
    for k, value in enumerate(level.tolist()):
        now = max(value, keep * now + (1 - keep) * value)
        peak_db[k] = now
    turned = -(1 - 1 / chain.gain) * np.maximum(peak_db - np.quantile(peak_db, 0.2), 0)
    gain = np.interp(np.arange(len(wave)), (np.arange(count) + 0.5) * step, 10 ** (turned / 20))
    return np.asarray(wave * gain, np.float32)


def coded(wave: Wave, below_db: float) -> Wave:
    """Return the wave after a transform codec: each band of each block rounded, its noise spread in time."""
    half = CODEC_FRAME
    count = -(-len(wave) // half) + 1
    padded = np.pad(wave, (half, half * (count + 1) - half - len(wave)))
    blocks = np.lib.stride_tricks.sliding_window_view(padded, 2 * half)[::half]
    window = np.sin(np.pi * (np.arange(2 * half) + 0.5) / (2 * half)).astype(np.float32)
    n = np.arange(2 * half)
    shift = np.exp(-1j * np.pi * n / (2 * half)).astype(np.complex64)
    turn = np.exp(-1j * np.pi * (np.arange(half) + 0.5) * (1 + half) / (2 * half)).astype(np.complex64)
    out = np.zeros(half * (len(blocks) + 1), np.float32)
    for first in range(0, len(blocks), 1024):
        part = blocks[first : first + 1024] * window
        lines = np.real(np.fft.fft(part * shift, axis=1)[:, :half] * turn)
        width = 16
        bands = lines.reshape(len(lines), -1, width)
        size = np.sqrt((bands**2).mean(axis=2, keepdims=True)) * 10 ** (-below_db / 20) * np.sqrt(12) + 1e-7
        dropped = np.abs(lines).max(axis=1, keepdims=True)[:, :, None] * 10 ** (-(below_db + 45) / 20)
        bands = np.where(size < dropped * 0.05, 0, np.round(bands / size) * size)
        lines = bands.reshape(lines.shape).astype(np.complex64) * np.conj(turn)
        back = np.real(np.fft.ifft(lines, 2 * half, axis=1) * np.conj(shift)) * 4 * window
        for k, block in enumerate(back.astype(np.float32)):
            at = (first + k) * half
            out[at : at + 2 * half] += block
    return np.asarray(out[half : half + len(wave)], np.float32)
