"""Voices of formant grains: damped tones that start at every pulse of the voice, and hiss for consonants.

A vowel is a set of grains (formant wave functions), laid down at the moments of the pulses; pitch falls over
a sentence. Formants are drawn about round figures of textbooks, from memory. Nothing is recorded speech.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import fftconvolve, lfilter

if TYPE_CHECKING:
    from numpy.typing import NDArray

SPEECH_RATE = 16000
_VOWELS = (
    (760, 1240, 2550),
    (540, 1860, 2520),
    (310, 2210, 2960),
    (490, 910, 2420),
    (330, 860, 2270),
    (610, 1650, 2440),
)


@dataclass(frozen=True)
class GrainVoice:
    """A voice: pitch in Hz, size of the throat, breath, syllables a second, width of the formants."""

    pitch_hz: float
    throat: float
    breath: float
    rate_hz: float
    width: float


def draw_grain_voice(rng: np.random.Generator) -> GrainVoice:
    """Return a voice, man, woman or child."""
    kind = int(rng.choice(3, p=[0.5, 0.35, 0.15]))
    pitch = (float(rng.uniform(90, 145)), float(rng.uniform(170, 235)), float(rng.uniform(230, 330)))[kind]
    throat = (1.0, 1.16, 1.32)[kind] * float(rng.uniform(0.93, 1.07))
    return GrainVoice(
        pitch,
        throat,
        float(rng.uniform(0.02, 0.2)),
        float(rng.uniform(3.2, 6.2)),
        float(rng.uniform(0.7, 1.5)),
    )


def add_wave(out: NDArray[np.float32], wave: NDArray[np.float32], start: float) -> None:
    """Add a wave into a longer one from a sample on; what lies outside is left out."""
    begin = round(start)
    skip, end = max(-begin, 0), min(begin + wave.size, out.size)
    if end > begin + skip:
        out[begin + skip : end] += wave[skip : end - begin]


def level_one(wave: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a wave scaled to a mean level of 1 where it is not silent."""
    loud = np.abs(wave) > 0.02 * max(float(np.abs(wave).max()), 1e-9)
    rms = math.sqrt(float((wave[loud] ** 2).mean())) if loud.any() else 1.0
    return wave / np.float32(max(rms, 1e-9))


def _grain(
    rng: np.random.Generator, voice: GrainVoice, vowel: tuple[int, ...], shout: float
) -> NDArray[np.float64]:
    time = np.arange(320) / SPEECH_RATE
    out = np.zeros(time.size)
    for number, formant in enumerate((*vowel, 3500, 4700)):
        hz = min(formant * voice.throat * (1.0 + 0.12 * shout), 7600.0)
        width = voice.width * (70.0 + 45.0 * number)
        level = 10.0 ** (-(6.0 - 3.5 * shout) * number / 20.0)
        rise = 1.0 - np.exp(-time / 0.0004)
        out += (
            level
            * rise
            * np.exp(-math.pi * width * time)
            * np.sin(2.0 * math.pi * hz * time + float(rng.uniform(0, 0.5)))
        )
    return out


def _syllable(
    rng: np.random.Generator, voice: GrainVoice, pitch: float, seconds: float, shout: float
) -> NDArray[np.float32]:
    count = max(int(seconds * SPEECH_RATE), 500)
    pulses = np.zeros(count)
    hz = pitch * (1.0 + float(rng.uniform(-0.12, 0.1)) * np.arange(count) / count)
    phase = np.cumsum(hz) / SPEECH_RATE
    beats = np.flatnonzero(np.diff(np.floor(phase), prepend=0.0))
    pulses[beats] = rng.normal(1.0, 0.06, beats.size)
    pulses += voice.breath * 0.3 * rng.standard_normal(count)
    wave = fftconvolve(pulses, _grain(rng, voice, _VOWELS[int(rng.integers(0, len(_VOWELS)))], shout))[:count]
    wave *= np.sin(math.pi * (np.arange(count) + 0.5) / count) ** 0.45
    if rng.random() < 0.6:
        hiss = rng.standard_normal(int(float(rng.uniform(0.02, 0.11)) * SPEECH_RATE))
        radius = float(rng.uniform(0.5, 0.9))
        turn = math.cos(2.0 * math.pi * float(rng.uniform(2200.0, 6500.0)) / SPEECH_RATE)
        hiss = lfilter([1.0 - radius], [1.0, -2.0 * radius * turn, radius**2], hiss)
        hiss *= np.sin(math.pi * (np.arange(hiss.size) + 0.5) / hiss.size)
        hiss *= (
            float(rng.uniform(0.1, 0.6)) * float(np.abs(wave).max()) / max(float(np.abs(hiss).max()), 1e-9)
        )
        wave = np.concatenate([hiss, wave])
    return (wave * float(rng.lognormal(0.0, 0.25))).astype(np.float32)


def sentence(
    rng: np.random.Generator, voice: GrainVoice, seconds: float, shout: float = 0.0
) -> NDArray[np.float32]:
    """Return a sentence at `SPEECH_RATE`, peak 1; `shout` from 0 to 1 raises pitch and brightness."""
    out = np.zeros(int((seconds + 0.5) * SPEECH_RATE), dtype=np.float32)
    time, lift = 0.0, float(rng.uniform(1.05, 1.35)) * (1.0 + 0.5 * shout)
    while time < seconds:
        pitch = voice.pitch_hz * (lift - 0.3 * time / max(seconds, 0.3)) * float(rng.normal(1.0, 0.05))
        last = float(rng.gamma(5.0, 0.2 / voice.rate_hz))
        add_wave(out, _syllable(rng, voice, pitch, last, shout), time * SPEECH_RATE)
        time += last + float(rng.exponential(0.05)) + (0.25 if rng.random() < 0.08 else 0.0)
    return out / np.float32(max(float(np.abs(out).max()), 1e-9))


def talk(rng: np.random.Generator, seconds: float, busy: float, people: int) -> NDArray[np.float32]:
    """Return talk at `SPEECH_RATE`: turns of voices over a share `busy` of the time, peaks about 1."""
    out = np.zeros(int((seconds + 1.0) * SPEECH_RATE), dtype=np.float32)
    voices = [draw_grain_voice(rng) for _ in range(people)]
    time = float(rng.exponential(2.0))
    while time < seconds:
        last = float(np.clip(rng.gamma(1.5, 1.6), 0.4, 9.0))
        wave = sentence(rng, voices[int(rng.integers(0, people))], last, float(rng.choice([0.0, 0.0, 0.5])))
        add_wave(out, wave * np.float32(rng.lognormal(-0.2, 0.25)), time * SPEECH_RATE)
        time += last + float(rng.exponential(last * (1.0 - busy) / max(busy, 0.01)))
    return out
