"""Voices from a tube: a train of glottal pulses through a vocal tract of short sections, without words.

The tract's areas (a hump of the tongue, lips, a length) move from target to target; reflections where areas
change give an all-pole filter for each frame (Kelly and Lochbaum's tube, step-up recursion, from memory).
Consonants close the lips or hiss at the constriction. Talkers and targets are drawn, all ASSUMED.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit
from scipy.signal import lfilter

if TYPE_CHECKING:
    from numpy.typing import NDArray

VOICE_RATE = 16000
FRAME = 240
SOUND_M_S = 350.0  # warm, moist air


@dataclass(frozen=True)
class TubeVoice:
    """One voice: pitch, its range in octaves, sections of the tract, syllables a second, breath, pressing."""

    pitch_hz: float
    range_octaves: float
    sections: int
    syllables_s: float
    breath: float
    pressed: float


def draw_voice(rng: np.random.Generator) -> TubeVoice:
    """Return a man's, woman's or child's voice: tract of about 17.5, 14.5 or 12.5 cm."""
    pitch, tract_m = ((108.0, 0.175), (198.0, 0.145), (265.0, 0.125))[int(rng.choice(3, p=[0.5, 0.35, 0.15]))]
    tract_m *= float(rng.normal(1.0, 0.04))
    return TubeVoice(
        pitch * float(rng.lognormal(0.0, 0.13)),
        float(rng.uniform(0.1, 0.5)),
        max(8, round(2.0 * tract_m * VOICE_RATE / SOUND_M_S)),
        float(rng.uniform(3.4, 6.6)),
        float(rng.uniform(0.01, 0.08)),
        float(rng.uniform(0.85, 0.97)),
    )


def tract_filters(
    sections: int, place: NDArray[np.float64], hump: NDArray[np.float64], lips: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return all-pole denominators (frames, sections + 1) for the tongue's place (0 glottis to 1 lips).

    `hump` is how far it narrows the tube (natural log of the ratio), `lips` the area there beside the middle.
    """
    along = (np.arange(sections) + 0.5) / sections
    log_area = -hump[:, None] * np.exp(-(((along - place[:, None]) / 0.17) ** 2))
    log_area += 0.5 * hump[:, None] * np.exp(-(((along - (place[:, None] + 0.5) % 1.0) / 0.22) ** 2))
    log_area -= 1.1 * np.exp(-along / 0.08)
    log_area[:, -1] += np.log(lips)
    area = np.exp(log_area)
    reflect = (area[:, :-1] - area[:, 1:]) / (area[:, :-1] + area[:, 1:])
    reflect = np.concatenate(
        [np.full((place.size, 1), 0.0), 0.985 * reflect, np.full((place.size, 1), 0.72)], axis=1
    )
    out = np.ones((place.size, 1))
    for i in range(1, sections + 1):
        longer = np.concatenate([out, np.zeros((place.size, 1))], axis=1)
        out = longer + reflect[:, i : i + 1] * longer[:, ::-1]
    return out


@njit(cache=True, error_model="numpy")
def _through_tract(
    source: NDArray[np.float64], filters: NDArray[np.float64], out: NDArray[np.float64]
) -> None:
    """Fill the source filtered by each frame's denominator in turn, the state carried on.

    Term by term what `scipy.signal.lfilter` does for a numerator of 1 (transposed direct form II).
    """
    last = filters.shape[1] - 1
    state = np.zeros(last)
    for moment in range(out.size):
        poles = filters[moment // FRAME]
        sample = source[moment]
        made = state[0] + sample
        silent = sample * 0.0
        for i in range(last - 1):
            state[i] = state[i + 1] + silent - made * poles[i + 1]
        state[last - 1] = silent - made * poles[last]
        out[moment] = made


def _pulses(rng: np.random.Generator, voice: TubeVoice, pitch: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the glottal source: a pulse a period, rounded twice, with breath that follows it."""
    turn = np.cumsum(pitch * (1.0 + 0.012 * rng.standard_normal(pitch.size))) / VOICE_RATE
    train = np.diff(np.floor(turn), prepend=0.0)
    flow = lfilter([1.0 - voice.pressed], [1.0, -voice.pressed], train * 8.0)
    flow = lfilter([1.0], [1.0, -0.6], flow)
    noise = voice.breath * rng.standard_normal(pitch.size) * (0.4 + (turn % 1.0))
    return np.asarray(np.diff(flow, prepend=0.0) * 6.0 + noise)


def _targets(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    """Return rows of targets: tongue's place, hump, lips, loudness, hiss; vowel and consonant in turn."""
    rows = np.empty((count, 5))
    vowels = np.arange(count) % 2 == 1
    rows[:, 0] = rng.uniform(0.2, 0.85, count)
    rows[:, 1] = np.where(vowels, rng.uniform(0.1, 1.7, count), rng.uniform(1.5, 2.6, count))
    rows[:, 2] = np.where(vowels, rng.uniform(0.3, 1.6, count), rng.choice([0.05, 0.5, 1.0], count))
    kind = rng.random(count)
    rows[:, 3] = np.where(vowels, rng.uniform(0.6, 1.0, count), np.where(kind < 0.4, 0.0, 0.3))
    rows[:, 4] = np.where(vowels | (kind > 0.7), 0.0, rng.uniform(0.2, 1.0, count))
    return rows


def speak(
    rng: np.random.Generator, voice: TubeVoice, seconds: float, call: float = 0.0
) -> NDArray[np.float32]:
    """Return a stretch of speech at `VOICE_RATE`, peak 1.

    Parameters
    ----------
    rng : numpy.random.Generator
    voice : TubeVoice
    seconds : float
    call : float
        0 for talk, 1 for a call across a court: higher, longer vowels.
    """
    frames = max(6, int(seconds * VOICE_RATE / FRAME))
    every = VOICE_RATE / FRAME / (2.0 * voice.syllables_s * (1.0 - 0.35 * call))
    count = int(frames / every) + 2
    knots = np.cumsum(every * rng.lognormal(0.0, 0.25, count)) - every
    rows = _targets(rng, count)
    grid = np.arange(frames)
    place, hump, lips, loud, hiss = (np.interp(grid, knots, rows[:, i]) for i in range(5))
    pause = rng.random(count) < 0.08
    loud = loud * np.interp(grid, knots, np.where(pause, 0.0, 1.0))
    tune = voice.range_octaves * np.interp(grid, knots, rng.normal(0.0, 0.6, count)) - 0.2 * grid / frames
    fine = np.arange(frames * FRAME) / FRAME
    pitch = voice.pitch_hz * 2.0 ** (np.interp(fine, grid, tune) + 0.6 * call)
    source = _pulses(rng, voice, pitch) * np.interp(fine, grid, loud)
    filters = tract_filters(voice.sections, place, hump, lips)
    out = np.empty(frames * FRAME)
    _through_tract(source, filters, out)
    rough = np.diff(rng.standard_normal(out.size), prepend=0.0)
    level = float(np.abs(out).max())
    out += 0.06 * level * rough * np.interp(fine, grid, hiss * (1.0 - loud))
    out *= np.minimum(1.0, np.minimum(fine, fine[::-1]) / 1.5)
    return (out / max(float(np.abs(out).max()), 1e-9)).astype(np.float32)


def conversation(
    rng: np.random.Generator, seconds: float, busy: float, voices: int = 2, call: float = 0.0
) -> NDArray[np.float32]:
    """Return people who take turns for a share `busy` of the time, at `VOICE_RATE`, peaks about 1."""
    out = np.zeros(int(seconds * VOICE_RATE) + 1, dtype=np.float32)
    people = [draw_voice(rng) for _ in range(voices)]
    time = float(rng.exponential(1.5))
    who = 0
    while time < seconds - 1.0:
        utterance = speak(rng, people[who], float(rng.gamma(2.0, 1.2)) + 0.5, call * float(rng.random()))
        mix_in(out, utterance * np.float32(rng.lognormal(-0.3, 0.3)), time * VOICE_RATE)
        length = utterance.size / VOICE_RATE
        time += length + float(rng.exponential(length * (1.0 - busy) / max(busy, 0.02)))
        who = int(rng.integers(0, voices))
    return out


def babble(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return the murmur of a full gallery at `VOICE_RATE`, mean level 1: many voices, waves of loudness."""
    bank = [speak(rng, draw_voice(rng), float(rng.uniform(2.0, 5.0))) for _ in range(22)]
    count = int(seconds * VOICE_RATE) + 1
    out = np.zeros(count, dtype=np.float32)
    people = int(rng.integers(7, 18))
    for _ in range(int(people * seconds / 3.5)):
        piece = bank[int(rng.integers(0, len(bank)))][:: int(rng.choice([1, -1]))]
        mix_in(out, piece * np.float32(rng.lognormal(-0.6, 0.6)), float(rng.uniform(0.0, count)))
    knots = max(3, int(seconds / 5))
    swell = np.exp(0.8 * np.convolve(rng.normal(size=knots), [0.25, 0.5, 0.25], "same"))
    for start in range(0, count, 20 * VOICE_RATE):
        piece = out[start : start + 20 * VOICE_RATE]
        place = np.arange(start, start + piece.size) / count * (knots - 1)
        piece *= np.interp(place, np.arange(knots), swell).astype(np.float32)
    return to_mean_one(out)


def to_mean_one(track: NDArray[np.float32]) -> NDArray[np.float32]:
    """Scale a track in place to mean level 1, judged on every fifth sample, and return it."""
    track /= np.float32(max(math.sqrt(float(np.mean(track[::5].astype(float) ** 2))), 1e-9))
    return track


def mix_in(out: NDArray[np.float32], piece: NDArray[np.float32], place: float) -> None:
    """Add a piece into a track at a sample, cut at both ends."""
    start = int(place)
    skip = max(-start, 0)
    end = min(start + piece.size, out.size)
    if end > start + skip:
        out[start + skip : end] += piece[skip : end - start]
