"""Synthesise voices without recordings: a glottal buzz or noise through moving formants, without words.

Vowels' formants are round figures of textbooks, from memory; talkers, melody of speech and pauses are drawn.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import lfilter

if TYPE_CHECKING:
    from numpy.typing import NDArray

VOICE_RATE = 16000
_VOWELS = (
    (730, 1090, 2440),
    (530, 1840, 2480),
    (270, 2290, 3010),
    (570, 840, 2410),
    (300, 870, 2240),
    (490, 1350, 1690),
    (660, 1720, 2410),
)
_NASALS = ((280, 1000, 2200), (280, 1500, 2500))
_HISSES = ((2500, 4500, 6500), (4500, 6000, 7200), (1200, 2500, 5000))


@dataclass(frozen=True)
class Talker:
    """One voice: pitch, its liveliness, length of the throat, pace of syllables, breath."""

    pitch_hz: float
    lively: float
    throat: float
    syllable_s: float
    breath: float
    effort: float


def draw_talker(rng: np.random.Generator) -> Talker:
    """Return a man's, woman's or child's voice."""
    pitch, throat = ((115.0, 1.0), (205.0, 1.16), (280.0, 1.3))[int(rng.integers(0, 3))]
    return Talker(
        pitch * float(rng.lognormal(0.0, 0.15)),
        float(rng.uniform(0.05, 0.25)),
        throat * float(rng.normal(1.0, 0.05)),
        float(rng.uniform(0.13, 0.26)),
        float(rng.uniform(0.01, 0.06)),
        float(rng.uniform(0.2, 1.0)),
    )


def _through(sound: NDArray[np.float64], formants: tuple[int, ...], talker: Talker) -> NDArray[np.float64]:
    for i, hz in enumerate(formants):
        centre = min(hz * talker.throat, 7400.0)
        radius = math.exp(-math.pi * (70.0 + 35.0 * i + 0.02 * centre) / VOICE_RATE)
        turn = 2.0 * radius * math.cos(2.0 * math.pi * centre / VOICE_RATE)
        sound = lfilter([1.0 - turn + radius * radius], [1.0, -turn, radius * radius], sound)
    return sound


def _buzz(rng: np.random.Generator, talker: Talker, pitch: NDArray[np.float64]) -> NDArray[np.float64]:
    phase = np.cumsum(pitch * (1.0 + 0.01 * rng.standard_normal(pitch.size))) / VOICE_RATE
    part = phase % 1.0
    opened = np.clip(part / 0.6, 0.0, 1.0)
    flow = opened**2 * (3.0 - 2.0 * opened) * (part < 0.6) - np.clip((part - 0.6) / 0.12, 0.0, 1.0) * (
        part >= 0.6
    )
    return np.diff(flow, prepend=0.0) * (1.0 + talker.effort) + talker.breath * 0.1 * rng.standard_normal(
        pitch.size
    )


def _of_mean_one(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    return sound / max(float(np.sqrt(np.mean(sound**2))), 1e-9)


def _segment(
    rng: np.random.Generator, talker: Talker, kind: str, seconds: float, pitch_hz: float
) -> NDArray[np.float64]:
    count = max(int(seconds * VOICE_RATE), 200)
    time = np.arange(count) / count
    edge = np.minimum(1.0, np.minimum(time, 1.0 - time) * seconds / 0.018)
    if kind == "hiss":
        formants = _HISSES[int(rng.integers(0, 3))]
        return 0.06 * edge * _of_mean_one(_through(rng.standard_normal(count), formants, talker))
    if kind == "stop":
        burst = np.exp(-np.maximum(time - 0.5, 0.0) * seconds / 0.006) * (time > 0.5)
        return 0.2 * burst * _of_mean_one(_through(rng.standard_normal(count), (1500, 3000), talker))
    pitch = pitch_hz * (1.0 + talker.lively * np.sin(math.pi * (time + rng.uniform(0, 2))))
    formants = _NASALS[int(rng.integers(0, 2))] if kind == "nasal" else _VOWELS[int(rng.integers(0, 7))]
    level = 0.4 if kind == "nasal" else 1.0
    return 0.3 * level * edge * _of_mean_one(_through(_buzz(rng, talker, pitch), formants, talker))


def utterance(
    rng: np.random.Generator, talker: Talker, seconds: float, shout: float = 0.0
) -> NDArray[np.float32]:
    """Return a stretch of speech at `VOICE_RATE`, peak 1, about so long; `shout` raises pitch and hurries.

    Parameters
    ----------
    rng : numpy.random.Generator
    talker : Talker
    seconds : float
    shout : float
        0 for talk, 1 for a call across a court.
    """
    pieces: list[NDArray[np.float64]] = []
    made = 0.0
    while made < seconds:
        fall = 1.15 - 0.3 * made / max(seconds, 0.3)
        pitch = talker.pitch_hz * fall * (1.0 + 0.7 * shout) * float(rng.lognormal(0.0, 0.5 * talker.lively))
        long = talker.syllable_s * float(rng.lognormal(0.0, 0.3))
        for kind, share in (("start", 0.4), ("vowel", 0.6)):
            chosen = str(rng.choice(["hiss", "stop", "nasal"])) if kind == "start" else "vowel"
            pieces.append(_segment(rng, talker, chosen, share * long, pitch))
        made += long
        if rng.random() < 0.12 and made < seconds - 0.3:
            gap = float(rng.uniform(0.08, 0.35))
            pieces.append(np.zeros(int(gap * VOICE_RATE)))
            made += gap
    sound = np.concatenate(pieces)
    return (sound / max(float(np.abs(sound).max()), 1e-9)).astype(np.float32)


def talk_track(
    rng: np.random.Generator, seconds: float, busy: float, voices: int = 2, shout: float = 0.0
) -> NDArray[np.float32]:
    """Return people talking in turn for a share `busy` of the time, at `VOICE_RATE`, peaks about 1."""
    out = np.zeros(int(seconds * VOICE_RATE) + 1, dtype=np.float32)
    talkers = [draw_talker(rng) for _ in range(voices)]
    time = float(rng.uniform(0.0, 3.0))
    while time < seconds - 1.0:
        spoken = utterance(
            rng,
            talkers[int(rng.integers(0, voices))],
            float(rng.uniform(0.6, 5.0)),
            shout * float(rng.random()),
        )
        add_at(out, spoken * float(rng.lognormal(-0.3, 0.3)), time * VOICE_RATE)
        length = spoken.size / VOICE_RATE
        time += length + float(rng.exponential(length * (1.0 - busy) / max(busy, 0.02)))
    return out


def crowd_track(rng: np.random.Generator, seconds: float) -> NDArray[np.float32]:
    """Return the murmur of a room full of people at `VOICE_RATE`, mean level 1."""
    bank = [utterance(rng, draw_talker(rng), float(rng.uniform(1.5, 4.0))) for _ in range(30)]
    count = int(seconds * VOICE_RATE) + 1
    out = np.zeros(count, dtype=np.float32)
    people = int(rng.integers(6, 16))
    for _ in range(int(people * seconds / 3.0)):
        add_at(
            out,
            bank[int(rng.integers(0, 30))] * float(rng.lognormal(-0.5, 0.5)),
            float(rng.uniform(0.0, count)),
        )
    knots = max(3, int(seconds / 7))
    place, swell = np.linspace(0, count, knots), rng.lognormal(0, 0.35, knots)
    for start in range(0, count, 10 * VOICE_RATE):
        piece = out[start : start + 10 * VOICE_RATE]
        piece *= np.interp(np.arange(start, start + piece.size), place, swell).astype(np.float32)
    return of_mean_one(out)


def of_mean_one(track: NDArray[np.float32]) -> NDArray[np.float32]:
    """Scale a track in place to mean level 1, judged on every seventh sample, and return it."""
    track /= np.float32(max(float(np.sqrt(np.mean(track[::7].astype(float) ** 2))), 1e-9))
    return track


def applause(rng: np.random.Generator, seconds: float, people: int) -> NDArray[np.float32]:
    """Return applause at `VOICE_RATE`, peak 1: short hollow bursts, each person at a pace of his own."""
    count = int((seconds + 0.1) * VOICE_RATE)
    out = np.zeros(count, dtype=np.float32)
    time = np.arange(int(0.02 * VOICE_RATE)) / VOICE_RATE
    for _ in range(people):
        tone = float(rng.uniform(600.0, 1900.0))
        clap = (
            np.exp(-time / 0.003) * (rng.standard_normal(time.size) + np.sin(2 * math.pi * tone * time))
        ).astype(np.float32)
        gap, start, end = (
            float(rng.uniform(0.17, 0.3)),
            float(rng.uniform(0.0, 0.5)),
            seconds * float(rng.uniform(0.5, 1.0)),
        )
        for moment in np.arange(start, end, gap):
            add_at(
                out,
                clap * float(rng.lognormal(-0.5, 0.3)),
                (moment + float(rng.normal(0.0, 0.012))) * VOICE_RATE,
            )
    return out / np.float32(max(float(np.abs(out).max()), 1e-9))


def add_at(out: NDArray[np.float32], piece: NDArray[np.float32], place: float) -> None:
    """Add a piece into a track at a sample, cut at both ends."""
    start = int(place)
    skip = max(-start, 0)
    end = min(start + piece.size, out.size)
    if end > start + skip:
        out[start + skip : end] += piece[skip : end - start]
