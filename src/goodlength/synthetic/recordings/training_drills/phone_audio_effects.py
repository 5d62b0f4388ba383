"""Phones of another make: gain control with attack and release, gates, speech codecs, low rates.

Beside `phone_recording_chain`, by other methods: an automatic gain that looks ahead and squeezes bands apart,
noise suppression by spectral gates, rates of 8 to 22 kHz kept with or without a filter against folding,
samples of a few bits, and a codec that keeps a voice's filter and a few pulses of what drives it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Wave = NDArray[np.float32]
LOW_RATES = (8_000, 11_025, 12_000)
ORDER, VOICE_FRAME_S, PULSE_FRAMES = 10, 0.02, 4


def taken_by(rng: np.random.Generator, condition: str, wave: Wave, rate: int) -> tuple[Wave, int]:
    """Return what another phone's file holds of the sound in the hall, and its rate in Hz."""
    every = condition == "all at once"

    def happens(name: str, share: float) -> bool:
        return condition == name or bool(rng.random() < (0.5 if every else share))

    out = placed(rng, condition, wave, rate)
    out = _at_level(out) + np.float32(10 ** (rng.uniform(-85, -45) / 20)) * _hiss(rng, len(out))
    if happens("gain control", 0.3):
        out = _at_level(squeezed(rng, out, rate))
    if rng.random() < 0.15:
        out = _at_level(gated(rng, out, rate))
    if happens("clipped", 0.12):
        out = _at_level(clipped(rng, out))
    if happens("8 kHz", 0.12):
        out, rate = thinned(rng, out, rate)
    how = str(rng.choice(["none", "bits", "voice"], p=[0.55, 0.25, 0.2]))
    if how == "bits":
        out = in_few_bits(out, int(rng.choice([3, 4, 5, 8])))
    elif how == "voice":
        out = voice_coded(out, rate, int(rng.integers(4, 16)))
    peak = float(np.abs(out).max()) + 1e-9
    return np.asarray(out * (10 ** (-rng.uniform(0, 24) / 20) / peak), np.float32), rate


def placed(rng: np.random.Generator, condition: str, wave: Wave, rate: int) -> Wave:
    """Return the sound at the phone: its place, and a curve of peaks and dips of its own."""
    out = wave
    if condition == "behind glass" or rng.random() < 0.04:
        shelf = float(np.exp(rng.uniform(np.log(400), np.log(2200))))
        out = _filtered(out, signal.cheby1(int(rng.integers(1, 4)), 1.0, shelf, fs=rate, output="sos"))
    elif condition == "door gap" or rng.random() < 0.05:
        out = _filtered(
            out, signal.bessel(2, float(rng.uniform(2200, 6000)), fs=rate, norm="mag", output="sos")
        )
    low = float(np.exp(rng.uniform(np.log(40), np.log(500))))
    out = _filtered(out, signal.butter(int(rng.integers(1, 4)), low, "high", fs=rate, output="sos"))
    for _ in range(int(rng.integers(0, 6))):
        hertz, q = float(np.exp(rng.uniform(np.log(200), np.log(7000)))), float(rng.uniform(0.5, 6))
        q = max(q, 3 * hertz / rate)  # a wider peak would reach beyond half the rate, where it grows for ever
        b, a = signal.iirpeak(hertz, q, fs=rate)
        gain = 10 ** (float(rng.uniform(-12, 12)) / 20) - 1
        out = np.asarray(out + np.float32(gain) * signal.lfilter(b, a, out), np.float32)
    return out


def squeezed(rng: np.random.Generator, wave: Wave, rate: int) -> Wave:
    """Return the wave with a gain that looks ahead, in one to three bands, each turned down apart."""
    edges = np.sort(np.exp(rng.uniform(np.log(300), np.log(4000), int(rng.integers(0, 3))))).tolist()
    rest, out = wave, np.zeros_like(wave)
    for edge in edges:
        low = _filtered(rest, signal.butter(2, edge, fs=rate, output="sos"))
        out += _turned_down(rng, low, rate)
        rest = rest - low
    return out + _turned_down(rng, rest, rate)


def _turned_down(rng: np.random.Generator, wave: Wave, rate: int) -> Wave:
    step = round(0.005 * rate)
    count = len(wave) // step
    level = 10 * np.log10((wave[: count * step].reshape(count, step) ** 2).mean(axis=1) + 1e-10)
    release, attack = (float(np.exp(rng.uniform(np.log(a), np.log(b)))) for a, b in ((6, 400), (1, 8)))
    slow = signal.lfilter([1 - np.exp(-1 / release)], [1, -np.exp(-1 / release)], level, zi=[level[0]])[0]
    quick = signal.lfilter([1 - np.exp(-1 / attack)], [1, -np.exp(-1 / attack)], level, zi=[level[0]])[0]
    ahead = int(rng.integers(0, 4))
    level_ahead = np.roll(np.maximum(slow, quick), -ahead)
    knee, ratio = float(np.quantile(level_ahead, rng.uniform(0.05, 0.8))), float(rng.uniform(1.3, 8))
    turned = -(1 - 1 / ratio) * np.maximum(level_ahead - knee, 0)
    gain = np.interp(np.arange(len(wave)), (np.arange(count) + 0.5) * step, 10 ** (turned / 20))
    return np.asarray(wave * gain, np.float32)


def gated(rng: np.random.Generator, wave: Wave, rate: int) -> Wave:
    """Return the wave after noise suppression: each line turned down where it stands near its floor."""
    size = 256 if rate < 12_000 else 512
    _, _, lines = signal.stft(wave, rate, nperseg=size)
    power = np.abs(lines) ** 2
    floor = np.quantile(power[:, :: max(1, power.shape[1] // 2000)], float(rng.uniform(0.2, 0.6)), axis=1)
    over = power / (floor[:, None] * float(10 ** rng.uniform(0.2, 1.2)) + 1e-12)
    gain = np.maximum(1 - 1 / np.maximum(over, 1e-3), 10 ** (-float(rng.uniform(6, 30)) / 20))
    gain = signal.lfilter([0.6], [1, -0.4], gain, axis=1)
    _, out = signal.istft(lines * gain, rate, nperseg=size)
    return np.asarray(np.pad(out, (0, max(0, len(wave) - len(out))))[: len(wave)], np.float32)


def clipped(rng: np.random.Generator, wave: Wave) -> Wave:
    """Return the wave clipped: hard, unevenly, or folded back a little."""
    out = wave * np.float32(10 ** (rng.uniform(3, 20) / 20))
    kind = int(rng.integers(3))
    if kind == 0:
        return np.asarray(np.clip(out, -float(rng.uniform(0.4, 1)), 1), np.float32)
    if kind == 1:
        return np.asarray(out / (1 + np.abs(out) ** 2) ** 0.5, np.float32)
    return np.asarray(np.where(np.abs(out) > 1, np.sign(out) * np.maximum(0.6, 2 - np.abs(out)), out))


def thinned(rng: np.random.Generator, wave: Wave, rate: int) -> tuple[Wave, int]:
    """Return the wave at a low rate, now and then without a filter against folding."""
    low = int(rng.choice(LOW_RATES))
    if rate == 16_000 and low == 8_000 and rng.random() < 0.3:
        return wave[::2].copy(), low
    parts = np.gcd(low, rate)
    return np.asarray(signal.resample_poly(wave, low // parts, rate // parts), np.float32), low


def in_few_bits(wave: Wave, bits: int) -> Wave:
    """Return the wave with each 4 ms rounded to so many bits of its own loudest sample."""
    size = 64
    padded = np.pad(wave, (0, -len(wave) % size)).reshape(-1, size)
    step = np.abs(padded).max(axis=1, keepdims=True) / 2 ** (bits - 1) + 1e-9
    return np.asarray((np.round(padded / step) * step).reshape(-1)[: len(wave)], np.float32)


def voice_coded(wave: Wave, rate: int, pulses: int) -> Wave:
    """Return the wave as a voice codec gives it back: each 20 ms a filter, driven by a few pulses."""
    size = round(VOICE_FRAME_S * rate)
    count = -(-len(wave) // size)
    padded = np.pad(wave, (0, count * size - len(wave))).astype(np.float64)
    frames = padded.reshape(count, size) * np.hanning(size)
    power = np.abs(np.fft.rfft(frames, 2 * size, axis=1)) ** 2
    lags = np.fft.irfft(power, axis=1)[:, : ORDER + 1]
    lags[:, 0] = lags[:, 0] * 1.001 + 1e-9
    place = np.abs(np.subtract.outer(np.arange(ORDER), np.arange(ORDER)))
    filters = np.linalg.solve(lags[:, place], lags[:, 1:, None])[:, :, 0]
    before = np.concatenate([np.zeros(ORDER), padded])
    back = np.lib.stride_tricks.sliding_window_view(before, ORDER)[: len(padded), ::-1]
    guess = np.einsum("fnk,fk->fn", back.reshape(count, size, ORDER), filters)
    driven = padded.reshape(count, size) - guess
    parts = driven[:, : size // PULSE_FRAMES * PULSE_FRAMES].reshape(count * PULSE_FRAMES, -1)
    least = np.partition(np.abs(parts), -min(pulses, parts.shape[1]), axis=1)[:, -pulses, None]
    pulse_train = np.where(np.abs(parts) >= least, parts, 0.0)
    size_of = np.abs(pulse_train).max(axis=1, keepdims=True) / 4 + 1e-12
    pulse_train = (np.round(pulse_train / size_of) * size_of).reshape(count, -1)
    whole = np.pad(pulse_train, ((0, 0), (0, size - pulse_train.shape[1])))
    out, state = np.empty_like(padded), np.zeros(ORDER)
    for k in range(count):
        a = np.concatenate([[1.0], -filters[k]])
        out[k * size : (k + 1) * size], state = signal.lfilter([1.0], a, whole[k], zi=state)
    return np.asarray(np.clip(out[: len(wave)], -4, 4), np.float32)


def _filtered(wave: Wave, sections: NDArray[np.float64]) -> Wave:
    return np.asarray(signal.sosfilt(sections, wave.astype(np.float64)), np.float32)


def _at_level(wave: Wave) -> Wave:
    loud = float(np.quantile(np.abs(wave[:: max(1, len(wave) // 400_000)]), 0.9995)) + 1e-9
    return np.asarray(wave / np.float32(loud), np.float32)


def _hiss(rng: np.random.Generator, count: int) -> Wave:
    return rng.standard_normal(count, np.float32)
