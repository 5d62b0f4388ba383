"""Sounds of a hall and its street: clapping, music of plucked strings and drums, traffic, ventilation, hum.

Hands are small resonators, strings loops of delay that dull (Karplus and Strong), drums round skins (ratios
of Bessel zeros), cars pass by with rising and falling pitch. All levels and habits are ASSUMED.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft
from scipy.signal import lfilter

from goodlength.synthetic.recordings.retired_test_families.pressure_play.vocal_tract_voice_synthesis import (
    VOICE_RATE,
    mix_in,
    to_mean_one,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray


def clapping(rng: np.random.Generator, seconds: float, people: int) -> NDArray[np.float32]:
    """Return applause at `VOICE_RATE`, peak 1; some clap in step, and they stop one by one."""
    count = int((seconds + 0.15) * VOICE_RATE)
    out = np.zeros(count, dtype=np.float32)
    time = np.arange(int(0.03 * VOICE_RATE)) / VOICE_RATE
    leader = float(rng.uniform(0.2, 0.3))
    for _ in range(people):
        cavity = float(rng.uniform(500.0, 2200.0))
        jet = rng.standard_normal(time.size) * (time < 0.0012)
        radius = math.exp(-math.pi * cavity / (5.0 * VOICE_RATE))
        turn = 2.0 * radius * math.cos(2.0 * math.pi * cavity / VOICE_RATE)
        clap = lfilter([1.0], [1.0, -turn, radius**2], jet) + 0.8 * jet
        gap = leader if rng.random() < 0.3 else float(rng.uniform(0.16, 0.34))
        moment, stop = float(rng.exponential(0.3)), seconds * float(rng.beta(4.0, 1.6))
        while moment < stop:
            mix_in(out, (clap * rng.lognormal(-0.4, 0.35)).astype(np.float32), moment * VOICE_RATE)
            moment += gap * float(rng.normal(1.0, 0.05))
    return out / np.float32(max(float(np.abs(out).max()), 1e-9))


def plucked_string(rng: np.random.Generator, hz: float, seconds: float, dull: float) -> NDArray[np.float32]:
    """Return one plucked note: noise of one period fed round a loop that averages neighbours."""
    count = int(seconds * VOICE_RATE)
    period = max(3, round(VOICE_RATE / hz))
    feedback = np.zeros(period + 2)
    feedback[0], feedback[period], feedback[period + 1] = 1.0, -0.996 * (1.0 - dull), -0.996 * dull
    start = np.zeros(count)
    start[:period] = rng.uniform(-1.0, 1.0, period)[: min(period, count)]
    note = lfilter([1.0], feedback, start)
    note *= np.minimum(1.0, (count - np.arange(count)) / (0.02 * VOICE_RATE))
    return (note / max(float(np.abs(note).max()), 1e-9)).astype(np.float32)


_SKIN = (1.0, 1.594, 2.136, 2.296, 2.653, 2.918)


def drum(rng: np.random.Generator, hz: float, lasts_s: float, rattle: float) -> NDArray[np.float32]:
    """Return one stroke on a skin, with a rattle of snares or sticks."""
    time = np.arange(int(min(6.0 * lasts_s, 0.5) * VOICE_RATE)) / VOICE_RATE
    out = np.zeros(time.size)
    for number, ratio in enumerate(_SKIN):
        bend = hz * ratio * (time + 0.02 * 0.06 * (1.0 - np.exp(-time / 0.02)) * 10.0)
        out += (
            float(rng.uniform(0.3, 1.0))
            / (1 + number)
            * np.sin(2 * math.pi * bend)
            * np.exp(-time * (1.0 + 0.6 * number) / lasts_s)
        )
    hiss = np.diff(rng.standard_normal(time.size), prepend=0.0) * np.exp(-time / (0.4 * lasts_s))
    out = out + rattle * hiss
    return (out / max(float(np.abs(out).max()), 1e-9)).astype(np.float32)


def _bar(
    rng: np.random.Generator, beat: int, scale: NDArray[np.float64], root: int, kit: list[NDArray[np.float32]]
) -> NDArray[np.float32]:
    """Return one bar of four beats: bass, chord, a tune, three drums."""
    out = np.zeros(5 * beat, dtype=np.float32)
    tone = [float(scale[(root + step) % scale.size]) for step in (0, 2, 4)]
    for number in range(8):
        place = number * beat / 2
        if number % 4 == 0:
            mix_in(out, plucked_string(rng, 0.25 * tone[0], 1.2, 0.5), place)
        if rng.random() < 0.55:
            note = float(scale[(root + int(rng.integers(0, scale.size))) % scale.size])
            mix_in(out, np.float32(0.5) * plucked_string(rng, 2.0 * note, 0.6, 0.3), place)
        if number % 2 == 0:
            for pitch in tone:
                mix_in(out, np.float32(0.3) * plucked_string(rng, pitch, 0.7, 0.5), place)
        for piece, chance in zip(kit, ((number % 4 == 0), (number % 4 == 2), True), strict=True):
            if chance and rng.random() < 0.9:
                mix_in(out, np.float32(rng.uniform(0.5, 1.0)) * piece, place)
    return out


def music(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return music at `VOICE_RATE`, mean level 1: bars over a walk of chords, songs with pauses."""
    count = int(seconds * VOICE_RATE) + 1
    out = np.zeros(count, dtype=np.float32)
    place = 0.0
    while place < count:
        beat = int(60.0 / float(rng.uniform(84.0, 150.0)) * VOICE_RATE)
        steps = np.array([0, 2, 4, 5, 7, 9, 11] if rng.random() < 0.5 else [0, 2, 3, 5, 7, 8, 10])
        scale = 196.0 * 2.0 ** ((steps + rng.integers(0, 12)) / 12.0)
        kit = [
            drum(rng, float(rng.uniform(45.0, 75.0)), 0.12, 0.02),
            drum(rng, float(rng.uniform(150.0, 240.0)), 0.08, 0.5),
            np.float32(0.35) * drum(rng, 900.0, 0.02, 2.0),
        ]
        roots = rng.choice([0, 3, 4, 5], 4)
        bars = {int(r): [_bar(rng, beat, scale, int(r), kit) for _ in range(3)] for r in set(roots)}
        for number in range(int(rng.integers(30, 80))):
            choice = bars[int(roots[number % 4])]
            mix_in(out, choice[int(rng.integers(0, 3))], place)
            place += 4 * beat
            if place > count:
                break
        place += float(rng.uniform(1.0, 4.0)) * VOICE_RATE
    return to_mean_one(out)


def traffic(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return a street at `VOICE_RATE`, mean level 1: cars by Poisson, steps, a horn now and then."""
    count = int(seconds * VOICE_RATE) + 1
    out = np.zeros(count, dtype=np.float32)
    moment = 0.0
    while moment < seconds:
        mix_in(out, _car(rng), (moment - 4.0) * VOICE_RATE)
        if rng.random() < 0.15:
            time = np.arange(int(rng.uniform(0.2, 1.0) * VOICE_RATE)) / VOICE_RATE
            horn = np.sign(np.sin(2 * math.pi * 410.0 * time)) + np.sign(np.sin(2 * math.pi * 512.0 * time))
            mix_in(out, (0.2 * lfilter([0.3], [1.0, -0.7], horn)).astype(np.float32), moment * VOICE_RATE)
        moment += float(rng.exponential(5.0))
    out += 0.02 * lfilter([1.0], [1.0, -0.95], rng.standard_normal(count, dtype=np.float32)).astype(
        np.float32
    )
    return to_mean_one(out)


def _car(rng: np.random.Generator) -> NDArray[np.float32]:
    time = np.arange(8 * VOICE_RATE) / VOICE_RATE - 4.0
    speed, aside = float(rng.uniform(6.0, 18.0)), float(rng.uniform(4.0, 15.0))
    way = np.hypot(speed * time, aside)
    revs = float(rng.uniform(25.0, 70.0))
    phase = 2 * math.pi * revs * (time - way / 343.0)
    engine = np.sin(phase) + 0.6 * np.sin(2.0 * phase) + 0.4 * np.sin(4.0 * phase)
    tyres = lfilter([1.0, -0.4], [1.0, -0.85], rng.standard_normal(time.size))
    fade = np.minimum(1.0, np.minimum(time + 4.0, 4.0 - time) / 0.8)
    return (fade * (0.5 * engine + float(rng.uniform(0.4, 1.4)) * tyres) * 3.0 / way).astype(np.float32)


def hall_noise(rng: np.random.Generator, rate: int, seconds: int, slope: float) -> NDArray[np.float32]:
    """Return a loop of the hall's and the phone's noise, mean level 1: power falls as frequency to `slope`.

    A slow ripple of the spectrum stands for ducts and grilles.
    """
    count = rate * seconds
    spectrum = scipy.fft.rfft(rng.standard_normal(count, dtype=np.float32))
    hz = np.maximum(np.fft.rfftfreq(count, 1.0 / rate), 25.0)
    knots = np.geomspace(25.0, rate / 2, 12)
    ripple = np.interp(np.log(hz), np.log(knots), rng.normal(0.0, 2.0, 12))
    shape = (hz / 1000.0) ** (-0.5 * slope) * 10.0 ** (ripple / 20.0)
    loop = scipy.fft.irfft(spectrum * shape.astype(np.float32), count)
    return np.asarray(loop / max(float(np.sqrt(np.mean(loop**2))), 1e-12), dtype=np.float32)


def mains_hum(rng: np.random.Generator, rate: int, mains_hz: float) -> NDArray[np.float32]:
    """Return one second of hum, mean level 1, that repeats without a jump: the mains and its multiples."""
    time = np.arange(rate) / rate
    out = np.zeros(rate)
    for number in (1, 2, 3, 4, 5, 6, 8, 10, 12):
        weight = float(rng.lognormal(0.0, 0.7)) / number ** (0.6 if number % 2 == 0 else 1.2)
        out += weight * np.sin(2 * math.pi * number * mains_hz * time + float(rng.uniform(0.0, 6.28)))
    return (out / max(float(np.sqrt(np.mean(out**2))), 1e-12)).astype(np.float32)
