"""Backgrounds of a hall: a crowd, clapping, music of swept oscillators, a street, noise and hum.

Crowd: loops of talk read at several places at once. Music: saw-tooth and pulse oscillators through a
sweeping low-pass, drums of falling tones and gated noise in rhythms spread evenly over the bar. Street: noise
that swells and tones that pass. Levels and habits are ASSUMED.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft
from scipy.signal import lfilter

from goodlength.synthetic.recordings.test_family.formant_grain_voice_synthesis import (
    SPEECH_RATE,
    add_wave,
    level_one,
    talk,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LOOP_S = 41.0
RATE = SPEECH_RATE


def looped(
    rng: np.random.Generator, loop: NDArray[np.float32], count: int, layers: int
) -> NDArray[np.float32]:
    """Return `count` samples of several readings of a loop at once, each from another place and level."""
    out = np.zeros(count, dtype=np.float32)
    for _ in range(layers):
        start = int(rng.integers(0, loop.size))
        gain = np.float32(rng.lognormal(-0.2, 0.4))
        place = 0
        while place < count:
            piece = loop[start : start + count - place]
            out[place : place + piece.size] += gain * piece
            place += piece.size
            start = 0
    return out


def crowd(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return a crowd at `RATE`, mean level 1: many voices at once, at times a swell as after a good rally."""
    count = int((seconds + 1.0) * RATE)
    loop = talk(rng, _LOOP_S, 0.75, 5)
    out = looped(rng, loop, count, int(rng.integers(5, 12)))
    knots = np.exp(rng.normal(0.0, 0.25, int(seconds / 6.0) + 3))
    swell = np.interp(np.arange(0, count, RATE // 10) / RATE, 6.0 * np.arange(knots.size), knots)
    for moment in np.cumsum(rng.exponential(25.0, int(seconds / 15.0) + 1)):
        at = np.arange(swell.size) / 10.0 - moment
        swell += float(rng.uniform(0.5, 2.5)) * np.exp(-np.maximum(at, 0.0) / 1.2) * (at > -0.4)
    out *= np.repeat(swell, RATE // 10)[:count].astype(np.float32)
    return level_one(out)


def applause(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return clapping at `RATE`, peak 1: claps as noise bursts whose rate rises fast and dies away."""
    count = int((seconds + 0.2) * RATE)
    people = int(rng.integers(2, 36))
    pulses = np.zeros(count)
    for _ in range(people):
        gap = float(rng.uniform(0.17, 0.36))
        stop = seconds * float(rng.beta(3.0, 1.5))
        moments = float(rng.exponential(0.25)) + np.cumsum(
            gap * rng.normal(1.0, 0.06, int(seconds / gap) + 2)
        )
        at = (moments[moments < stop] * RATE).astype(int)
        pulses[at[(at >= 0) & (at < count)]] += float(rng.lognormal(0.0, 0.4))
    hand = rng.standard_normal(int(0.02 * RATE)) * np.exp(-np.arange(int(0.02 * RATE)) / (0.0025 * RATE))
    hand = lfilter([1.0, -0.8], [1.0, -float(rng.uniform(0.0, 0.6))], hand)
    size = scipy.fft.next_fast_len(count + hand.size, real=True)
    wave = scipy.fft.irfft(scipy.fft.rfft(pulses, size) * scipy.fft.rfft(hand, size), size)[:count]
    return (wave / max(float(np.abs(wave).max()), 1e-9)).astype(np.float32)


def _note(
    rng: np.random.Generator, hz: float, seconds: float, pulse: float, sweep: float
) -> NDArray[np.float32]:
    """Return one note: a saw-tooth or pulse wave through a low-pass that closes as it dies."""
    count = int(seconds * RATE)
    phase = np.cumsum(np.full(count, hz / RATE)) % 1.0
    wave = np.where(phase < pulse, 1.0, -1.0) if pulse > 0.0 else 2.0 * phase - 1.0
    wave = wave + 0.5 * ((phase * 1.006) % 1.0)
    close = int(min(count, 0.12 * RATE))
    bright = lfilter([1.0 - sweep], [1.0, -sweep], wave)
    dull = lfilter([0.06], [1.0, -0.94], bright)
    share = np.minimum(np.arange(count) / close, 1.0)
    fall = np.minimum(np.arange(count) / 40.0, 1.0) * np.exp(-2.5 * np.arange(count) / count)
    mixed = (bright * (1.0 - share) + 2.0 * dull * share) * fall * float(rng.uniform(0.7, 1.0))
    return np.asarray(mixed, dtype=np.float32)


def _drums(rng: np.random.Generator) -> tuple[NDArray[np.float32], ...]:
    time = np.arange(int(0.25 * RATE)) / RATE
    low = np.sin(
        2.0 * math.pi * (float(rng.uniform(45.0, 70.0)) * time + 9.0 * (1.0 - np.exp(-time / 0.012)) * 0.4)
    )
    kick = 1.6 * low * np.exp(-time / float(rng.uniform(0.06, 0.15)))
    gate = time < float(rng.uniform(0.06, 0.16))
    snare = 0.8 * rng.standard_normal(time.size) * gate * np.exp(-time / 0.09) + 0.4 * np.sin(
        1130.0 * time
    ) * np.exp(-time / 0.05)
    hat = (
        0.35
        * np.diff(rng.standard_normal(time.size), prepend=0.0)
        * np.exp(-time / float(rng.uniform(0.01, 0.05)))
    )
    return tuple(wave.astype(np.float32) for wave in (kick, snare, hat))


def _spread(hits: int, steps: int) -> list[bool]:
    """Return `hits` strokes spread as evenly as can be over the steps of a bar (a Euclidean rhythm)."""
    return [(step * hits) % steps < hits for step in range(steps)]


def music(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return music at `RATE`, mean level 1: songs of repeated bars with pauses between the songs."""
    count = int((seconds + 1.0) * RATE)
    out = np.zeros(count, dtype=np.float32)
    place = 0.0
    while place < count:
        step = 60.0 / float(rng.uniform(80.0, 172.0)) / 4.0 * RATE
        root = 110.0 * 2.0 ** (float(rng.integers(0, 12)) / 12.0)
        scale = np.array([0, 3, 5, 7, 10] if rng.random() < 0.5 else [0, 2, 4, 7, 9])
        drums = _drums(rng)
        rhythms = [_spread(int(n), 16) for n in (rng.integers(3, 6), 2, rng.integers(6, 15))]
        pulse, sweep = float(rng.choice([0.0, 0.5, 0.25])), float(rng.uniform(0.2, 0.85))
        bars = []
        for _ in range(4):
            bar = np.zeros(int(16 * step) + RATE, dtype=np.float32)
            for number in range(16):
                for drum, rhythm in zip(drums, rhythms, strict=True):
                    if rhythm[number] and rng.random() < 0.93:
                        add_wave(bar, drum, number * step)
                if number % 4 == 0 or rng.random() < 0.35:
                    hz = root * 2.0 ** (int(rng.choice(scale)) / 12.0)
                    add_wave(bar, np.float32(0.5) * _note(rng, 0.5 * hz, 0.4, pulse, sweep), number * step)
                if rng.random() < 0.3:
                    hz = root * 2.0 ** (1 + int(rng.choice(scale)) / 12.0)
                    add_wave(bar, np.float32(0.35) * _note(rng, hz, 0.5, pulse, sweep), number * step)
            bars.append(bar)
        until = min(place + float(rng.uniform(80.0, 240.0)) * RATE, count)
        number = 0
        while place < until:
            add_wave(out, bars[(number // 2) % 4], place)
            place += 16 * step
            number += 1
        place += float(rng.uniform(0.5, 4.0)) * RATE
    return level_one(out)


def street(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return a street at `RATE`, mean level 1: a rumble that swells as cars go by, horns, steps, birds."""
    count = int((seconds + 1.0) * RATE)
    loop = colour_noise(rng, RATE, 23.0, 1.4)
    coarse = np.full(int(10 * seconds) + 20, 0.25)
    at = np.arange(coarse.size) / 10.0
    for moment in np.cumsum(rng.exponential(7.0, int(seconds / 5.0) + 2)):
        coarse += float(rng.lognormal(0.0, 0.5)) / (1.0 + ((at - moment) / float(rng.uniform(0.6, 2.5))) ** 2)
    out = looped(rng, loop, count, 2) * np.repeat(coarse, RATE // 10)[:count].astype(np.float32)
    for _ in range(int(rng.poisson(seconds / 6.0))):
        start = float(rng.uniform(0.0, seconds)) * RATE
        time = np.arange(int(float(rng.uniform(0.08, 0.6)) * RATE)) / RATE
        kind = rng.random()
        if kind < 0.3:
            wave = np.sign(np.sin(2.0 * math.pi * float(rng.uniform(300.0, 500.0)) * time)) * 0.8
        elif kind < 0.65:
            wave = np.sin(
                2.0 * math.pi * (float(rng.uniform(2500.0, 5500.0)) * time + 30.0 * np.sin(60.0 * time))
            )
        else:
            wave = 3.0 * rng.standard_normal(time.size) * np.exp(-time / 0.01)
        add_wave(out, (wave * np.hanning(time.size) * float(rng.uniform(0.2, 1.5))).astype(np.float32), start)
    return level_one(out)


def colour_noise(rng: np.random.Generator, rate: int, seconds: float, slope: float) -> NDArray[np.float32]:
    """Return noise of mean level 1 that falls by `slope` times 3 dB an octave above 60 Hz, cyclic."""
    count = scipy.fft.next_fast_len(int(seconds * rate), real=True)
    spectrum = scipy.fft.rfft(rng.standard_normal(count, dtype=np.float32))
    hz = np.fft.rfftfreq(count, 1.0 / rate)
    spectrum *= (np.maximum(hz, 60.0) ** (-0.5 * slope) * (hz > 15.0)).astype(np.float32)
    wave = scipy.fft.irfft(spectrum, count)
    return np.asarray(wave / np.std(wave), dtype=np.float32)


def mains_hum(rng: np.random.Generator, rate: int) -> NDArray[np.float32]:
    """Return one second of hum, mean level 1: mains of 50 or 60 Hz with even overtones the stronger."""
    mains = float(rng.choice([50.0, 60.0]))
    time = np.arange(rate) / rate
    out = np.zeros(rate)
    for number in (1, 2, 3, 4, 6, 8, 10):
        level = float(rng.lognormal(0.0, 0.6)) / number * (1.6 if number % 2 == 0 else 1.0)
        out += level * np.sin(2.0 * math.pi * (mains * number * time + float(rng.uniform())))
    return np.asarray(out / np.std(out), dtype=np.float32)
