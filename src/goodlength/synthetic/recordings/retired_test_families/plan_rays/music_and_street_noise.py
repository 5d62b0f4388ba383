"""Synthesise music by additive partials (chords, bass, tune, drums) and street noise."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import lfilter

from goodlength.synthetic.recordings.retired_test_families.plan_rays.voice_synthesis import (
    VOICE_RATE,
    add_at,
    of_mean_one,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

_CHORDS = ((0, 4, 7), (9, 12, 16), (5, 9, 12), (7, 11, 14), (2, 5, 9))


def _note(
    rng: np.random.Generator, pitch: float, seconds: float, partials: NDArray[np.float64], decay: float
) -> NDArray[np.float32]:
    time = np.arange(int(seconds * VOICE_RATE)) / VOICE_RATE
    hz = 55.0 * 2.0 ** (pitch / 12.0)
    number = np.arange(1, partials.size + 1)
    usable = number * hz < 0.45 * VOICE_RATE
    phase = rng.uniform(0, 2 * math.pi, partials.size)
    waves = np.sin(2 * math.pi * hz * number[usable, None] * time + phase[usable, None])
    shape = np.minimum(1.0, time / 0.006) * np.exp(-time * decay) * np.minimum(1.0, (seconds - time) / 0.02)
    return np.asarray((partials[usable, None] * waves).sum(axis=0) * shape, dtype=np.float32)


def _drums(rng: np.random.Generator) -> list[NDArray[np.float32]]:
    time = np.arange(int(0.25 * VOICE_RATE)) / VOICE_RATE
    deep = float(rng.uniform(45.0, 70.0))
    kick = np.sin(2 * math.pi * (deep * time + 4.0 * (1 - np.exp(-time / 0.02)))) * np.exp(-time / 0.09)
    tone = float(rng.uniform(160.0, 240.0))
    snare = (0.7 * rng.standard_normal(time.size) + np.sin(2 * math.pi * tone * time)) * np.exp(-time / 0.05)
    hat = np.diff(rng.standard_normal(time.size + 1)) * np.exp(-time / float(rng.uniform(0.01, 0.05)))
    return [(a * d).astype(np.float32) for a, d in ((1.6, kick), (0.8, snare), (0.2, hat))]


def music_track(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return music at `VOICE_RATE` with mean level 1, a new piece every two to four minutes."""
    out = np.zeros(int(seconds * VOICE_RATE) + 1, dtype=np.float32)
    start = 0.0
    while start < seconds:
        length = float(rng.uniform(120.0, 240.0))
        _piece(rng, out, start, min(start + length, seconds))
        start += length + float(rng.uniform(1.0, 4.0))
    return of_mean_one(out)


def _piece(rng: np.random.Generator, out: NDArray[np.float32], start_s: float, end_s: float) -> None:
    beat = 60.0 / float(rng.uniform(75.0, 150.0))
    key = float(rng.integers(0, 12))
    bright: NDArray[np.float64] = np.arange(1.0, 9.0) ** -float(rng.uniform(0.8, 2.2))
    drums = _drums(rng) if rng.random() < 0.85 else []
    order = rng.integers(0, len(_CHORDS), 4)
    cache: dict[tuple[str, int], NDArray[np.float32]] = {}

    def play(part: str, pitch: int, long: float, decay: float, time: float, level: float) -> None:
        if (part, pitch) not in cache:
            cache[part, pitch] = _note(rng, key + pitch, long, bright, decay)
        add_at(out, cache[part, pitch] * np.float32(level), time * VOICE_RATE)

    for i, time in enumerate(np.arange(start_s, end_s - 2.0, beat)):
        chord = _CHORDS[int(order[(i // 4) % 4])]
        play("bass", chord[0], beat, 2.0, time, 0.9)
        if i % 2 == 0:
            for tone in chord:
                play("chord", 24 + tone, 1.8 * beat, 1.0, time, 0.3)
        for half in (0.0, 0.5):
            if rng.random() < 0.5:
                play(
                    "tune", 36 + int(chord[int(rng.integers(0, 3))]), 0.5 * beat, 5.0, time + half * beat, 0.5
                )
        for which, drum in enumerate(drums):
            for half in (0.0, 0.5):
                wanted = which == 2 or (half == 0.0 and i % 2 == which) or rng.random() < 0.06
                if wanted:
                    add_at(out, drum, (time + half * beat) * VOICE_RATE)


def street_track(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return a street at `VOICE_RATE`, mean level 1: cars that pass, horns, steps, doors of cars, wind."""
    count = int(seconds * VOICE_RATE) + 1
    out = np.asarray(1.5 * lfilter([0.02], [1.0, -0.98], rng.standard_normal(count)), dtype=np.float32)
    time = 0.0
    while time < seconds - 12.0:
        long = float(rng.uniform(4.0, 10.0))
        size = int(long * VOICE_RATE)
        shape = np.exp(-(((np.arange(size) / size - 0.5) / float(rng.uniform(0.12, 0.25))) ** 2))
        road = lfilter([0.2], [1.0, -float(rng.uniform(0.7, 0.93))], rng.standard_normal(size))
        add_at(out, (shape * road * float(rng.lognormal(0.0, 0.6))).astype(np.float32), time * VOICE_RATE)
        time += float(rng.exponential(6.0))
    for moment in rng.uniform(0.0, seconds, int(seconds / 25.0)):
        add_at(out, _horn_or_slam(rng), float(moment) * VOICE_RATE)
    _steps(rng, out, seconds)
    return of_mean_one(out)


def _horn_or_slam(rng: np.random.Generator) -> NDArray[np.float32]:
    if rng.random() < 0.4:
        horn = _note(rng, float(rng.uniform(30, 38)), float(rng.uniform(0.2, 1.2)), np.ones(8) / 4, 0.1)
        return np.asarray(2.0 * horn, dtype=np.float32)
    time = np.arange(int(0.3 * VOICE_RATE)) / VOICE_RATE
    slam = np.exp(-time / 0.05) * (np.sin(2 * math.pi * 85 * time) + 0.5 * rng.standard_normal(time.size))
    return (float(rng.lognormal(0.7, 0.5)) * slam).astype(np.float32)


def _steps(rng: np.random.Generator, out: NDArray[np.float32], seconds: float) -> None:
    time = np.arange(int(0.06 * VOICE_RATE)) / VOICE_RATE
    for begin in rng.uniform(0.0, seconds, int(seconds / 30.0)):
        pace = float(rng.uniform(0.45, 0.65))
        heel = np.exp(-time / 0.006) * (rng.standard_normal(time.size) + np.sin(2 * math.pi * 400 * time))
        for i in range(int(rng.integers(5, 25))):
            level = float(rng.lognormal(-0.5, 0.3))
            add_at(
                out,
                (level * heel).astype(np.float32),
                (float(begin) + i * pace + float(rng.normal(0, 0.015))) * VOICE_RATE,
            )
