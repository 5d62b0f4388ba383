"""Background sounds of a hall: voices, music, applause, doors, shoes, hum; each with its peak at 1.

Drawn anew for each recording, and wide on purpose: none of it was recorded anywhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Wave = NDArray[np.float32]


def unit_peak(wave: NDArray[np.floating]) -> Wave:
    """Return the wave with its loudest sample at 1."""
    return np.asarray(wave / max(1e-9, float(np.abs(wave).max())), np.float32)


def shaped_noise(rng: np.random.Generator, count: int, rate: int, shape_db: NDArray[np.float64]) -> Wave:
    """Return noise whose spectrum follows a curve in dB, given at points evenly spaced in log frequency."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hertz = np.maximum(np.fft.rfftfreq(count, 1 / rate), 20.0)
    points = np.geomspace(40.0, rate / 2, len(shape_db))
    curve = np.interp(np.log(hertz), np.log(points), shape_db)
    out = np.fft.irfft(spectrum * 10 ** (curve / 20), count)
    return np.asarray(out / max(1e-9, float(np.std(out))), np.float32)


def steady_noise(rng: np.random.Generator, count: int, rate: int) -> Wave:
    """Return air, fans or a crowd far away: noise of any tilt, slowly swelling, at an RMS of 1."""
    piece = shaped_noise(rng, min(count, 16 * rate), rate, np.cumsum(rng.normal(-2.0, 4.0, 8)))
    wave = np.tile(piece, -(-count // len(piece)))[:count]
    points = np.arange(0, count + rate, rate)
    swell = 10 ** (np.cumsum(rng.normal(0, 0.6, len(points))) / 20)
    swell = np.clip(swell / np.median(swell), 0.4, 2.5)
    return np.asarray(wave * np.interp(np.arange(count), points, swell), np.float32)


def hum(rng: np.random.Generator, count: int, rate: int) -> Wave:
    """Return a mains or lamp hum: a low tone with its harmonics, at a peak of 1."""
    t = np.arange(count) / rate
    low = rng.choice([50.0, 60.0, 100.0, 120.0])
    wave = np.zeros(count)
    for k in range(1, int(rng.integers(2, 9))):
        wave += rng.uniform(0.1, 1) / k * np.sin(2 * np.pi * low * k * t + rng.uniform(0, 6.28))
    return unit_peak(wave)


def speech(rng: np.random.Generator, seconds: float, rate: int) -> Wave:
    """Return syllables of a voice: harmonics under moving formants, with hisses and stops between."""
    out = np.zeros(round(seconds * rate) + rate // 2, np.float32)
    pitch = float(rng.uniform(85, 260))
    pace = float(rng.uniform(0.7, 1.4))
    scale = float(rng.uniform(0.85, 1.2))
    at = 0.0
    while at < seconds:
        wave = _syllable(rng, pitch * float(rng.uniform(0.8, 1.3)), scale, rate)
        begin = round(at * rate)
        stop = min(len(out), begin + len(wave))
        out[begin:stop] += wave[: stop - begin] * float(rng.uniform(0.4, 1.0))
        at += len(wave) / rate + float(rng.uniform(0.0, 0.08)) * pace
        if rng.random() < 0.12:
            at += float(rng.uniform(0.15, 0.6))
    return unit_peak(out)


def _syllable(rng: np.random.Generator, pitch: float, scale: float, rate: int) -> Wave:
    count = round(float(rng.uniform(0.08, 0.24)) * rate)
    t = np.arange(count) / rate
    glide = pitch * (1 + float(rng.uniform(-0.25, 0.25)) * t / t[-1])
    phase = 2 * np.pi * np.cumsum(glide) / rate
    formants = scale * np.array([rng.uniform(280, 850), rng.uniform(850, 2300), rng.uniform(2300, 3400)])
    harmonics = np.arange(1, int(min(40, 0.45 * rate / pitch)))
    gain = (1 / (1 + ((harmonics[:, None] * pitch - formants) / 120) ** 2) * [1, 0.6, 0.35]).sum(axis=1)
    wave = (gain[:, None] * np.sin(harmonics[:, None] * phase)).sum(axis=0)
    wave *= np.abs(np.sin(np.pi * t / t[-1])) ** float(rng.uniform(0.3, 1.2))
    wave /= np.abs(wave).max() + 1e-9
    if rng.random() < 0.5:
        n = min(count, round(float(rng.uniform(0.005, 0.08)) * rate))
        hiss = np.diff(rng.standard_normal(n + 1)) * np.linspace(1, 0.1, n)
        wave[:n] += hiss * float(rng.uniform(0.1, 0.5))
    return np.asarray(wave, np.float32)


def music(rng: np.random.Generator, seconds: float, rate: int) -> Wave:
    """Return a loop of drums, bass and chords at a tempo of its own."""
    beat = 60.0 / float(rng.uniform(70, 170))
    bars = np.zeros(round(8 * beat * rate) + 1)
    if rng.random() < 0.8:
        _drums(rng, bars, beat, rate)
    root = float(rng.uniform(55, 220))
    for k in range(4):
        notes = root * 2 ** (rng.choice([0, 3, 5, 7, 8, 10, 12, 15], 4) / 12)
        begin, stop = round(2 * k * beat * rate), round(2 * (k + 1) * beat * rate)
        t = np.arange(stop - begin) / rate
        fade = np.exp(-t / float(rng.uniform(0.3, 3)))
        for note in notes:
            tone = signal.sawtooth(2 * np.pi * note * t) if rng.random() < 0.5 else np.sin(6.28 * note * t)
            bars[begin:stop] += float(rng.uniform(0.05, 0.25)) * tone * fade
    count = round(seconds * rate)
    return unit_peak(np.tile(bars, -(-count // len(bars)))[:count])


def _drums(rng: np.random.Generator, bars: NDArray[np.float64], beat: float, rate: int) -> None:
    """Add a kick, a snare and a hat, each on its own steps of the loop."""
    steps = 32
    t = np.arange(round(0.18 * rate)) / rate
    kick = np.sin(2 * np.pi * (45 * t + 6 * (1 - np.exp(-t / 0.02)))) * np.exp(-t / 0.06)
    snare = rng.standard_normal(len(t)) * np.exp(-t / float(rng.uniform(0.015, 0.06)))
    hat = np.diff(rng.standard_normal(len(t) + 1)) * np.exp(-t / float(rng.uniform(0.005, 0.03)))
    for wave, every, offset, often in ((kick, 8, 0, 0.1), (snare, 8, 4, 0.05), (hat, 2, 0, 0.3)):
        strong = float(rng.uniform(0.2, 1.0))
        for step in range(steps):
            if step % every == offset or rng.random() < often / 4:
                begin = round(step * beat / 4 * rate)
                stop = min(len(bars), begin + len(wave))
                bars[begin:stop] += strong * float(rng.uniform(0.6, 1)) * wave[: stop - begin]


def applause(rng: np.random.Generator, seconds: float, rate: int) -> Wave:
    """Return many claps over each other, or a few of one person."""
    out = np.zeros(round((seconds + 0.3) * rate), np.float32)
    claps = [_clap(rng, rate) for _ in range(int(rng.integers(1, 8)))]
    for at in rng.uniform(0, seconds, max(2, int(seconds * rng.choice([4, 12, 40])))):
        wave = claps[int(rng.integers(len(claps)))] * float(10 ** (rng.normal(0, 4) / 20))
        begin = round(at * rate)
        stop = min(len(out), begin + len(wave))
        out[begin:stop] += wave[: stop - begin]
    return unit_peak(out)


def _clap(rng: np.random.Generator, rate: int) -> Wave:
    count = round(0.04 * rate)
    fade = np.exp(-np.arange(count) / rate / float(rng.uniform(0.002, 0.01)))
    shape = np.interp(np.arange(8), [0, rng.uniform(3, 6), 7], [-25, 0, -10])
    return unit_peak(shaped_noise(rng, count, rate, shape) * fade)


def door(rng: np.random.Generator, rate: int) -> Wave:
    """Return a door falling shut: a low thud, a rattle, perhaps a latch before it."""
    count = round(0.5 * rate)
    t = np.arange(count) / rate
    wave = np.zeros(count)
    for _ in range(8):
        pitch, fade = float(rng.uniform(40, 600)), float(rng.uniform(0.02, 0.15))
        wave += np.sin(2 * np.pi * pitch * t + rng.uniform(0, 6.28)) * np.exp(-t / fade)
    wave += 3 * rng.standard_normal(count) * np.exp(-t / float(rng.uniform(0.004, 0.03)))
    if rng.random() < 0.5:
        late = round(float(rng.uniform(0.05, 0.3)) * rate)
        wave[late:] += 2 * rng.standard_normal(count - late) * np.exp(-t[: count - late] / 0.005)
    return unit_peak(wave)


def squeak(rng: np.random.Generator, rate: int) -> Wave:
    """Return a shoe on the floor: a gliding tone of up to a fifth of a second."""
    t = np.arange(round(float(rng.uniform(0.03, 0.2)) * rate)) / rate
    pitch = float(rng.uniform(900, 4500)) * (1 + float(rng.uniform(-0.4, 0.4)) * t / t[-1])
    angle = 2 * np.pi * np.cumsum(pitch) / rate
    wave = np.sin(angle) + float(rng.uniform(0, 0.6)) * np.sin(2 * angle)
    wave += float(rng.uniform(0, 0.3)) * rng.standard_normal(len(t))
    return unit_peak(wave * np.abs(np.sin(np.pi * t / t[-1])) ** 0.5)


def step(rng: np.random.Generator, rate: int) -> Wave:
    """Return a foot on a wooden floor: a dull thud, now and then with a slap."""
    t = np.arange(round(0.12 * rate)) / rate
    low = float(rng.uniform(50, 300))
    wave = np.sin(2 * np.pi * low * t) * np.exp(-t / float(rng.uniform(0.01, 0.04)))
    wave += float(rng.uniform(0, 0.8)) * rng.standard_normal(len(t)) * np.exp(-t / 0.004)
    return unit_peak(wave)
