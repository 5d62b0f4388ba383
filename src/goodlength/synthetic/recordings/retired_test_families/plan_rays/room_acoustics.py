"""Room acoustics of a court: early reflections by ray tracing in plan, a late field of sparse noise or of
a feedback delay network, and the path to the phone.

Absorption per octave is ASSUMED within the range of hard plaster, glass and timber, with or without a treated
ceiling; the decay follows from it by Eyring's formula (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft

from goodlength.court.dimensions import LENGTH_M, WIDTH_M

if TYPE_CHECKING:
    from numpy.typing import NDArray

SOUND_M_S = 343.0
BANDS_HZ = np.array([63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0])
_SHAPE = np.array([0.6, 0.7, 0.85, 1.0, 1.0, 1.1, 1.35, 2.0, 4.0])


@dataclass(frozen=True)
class Room:
    """One court's acoustics: decay per octave band, its walls' scatter and reflection, the method."""

    decay_s: NDArray[np.float64]
    scatter: float
    reflection: float
    feedback: bool
    height_m: float


def draw_room(rng: np.random.Generator, absorption: tuple[float, float]) -> Room:
    """Return a court whose mean absorption in the middle bands lies in a range (0.03 echoing, 0.25 dry)."""
    height = float(rng.uniform(5.7, 8.0))
    mean = float(np.exp(rng.uniform(*np.log(absorption))))
    bands = np.clip(mean * _SHAPE * rng.lognormal(0.0, 0.18, _SHAPE.size), 0.01, 0.7)
    volume = LENGTH_M * WIDTH_M * height
    area = 2 * (LENGTH_M * WIDTH_M + (LENGTH_M + WIDTH_M) * height)
    air = 4.0 * volume * np.array([0, 0, 0.0001, 0.0003, 0.0008, 0.002, 0.006, 0.02, 0.06])
    decay = 0.161 * volume / (-area * np.log(1.0 - bands) + air)
    return Room(
        np.clip(decay, 0.15, 5.0),
        float(rng.uniform(0.03, 0.25)),
        math.sqrt(1.0 - mean),
        bool(rng.random() < 0.35),
        height,
    )


def _weights(size: int, rate: int) -> list[tuple[int, NDArray[np.float64]]]:
    """Return, per octave band, smooth weights over the bins that sum to one."""
    grid = np.log2(np.maximum(np.fft.rfftfreq(size, 1.0 / rate), 20.0))
    centres = np.log2(BANDS_HZ)
    out = []
    for i in range(centres.size):
        weight = np.clip(1.0 - np.abs(grid - centres[i]), 0.0, 1.0)
        if i == 0:
            weight = np.where(grid < centres[0], 1.0, weight)
        if i == centres.size - 1:
            weight = np.where(grid > centres[-1], 1.0, weight)
        if BANDS_HZ[i] < rate:
            out.append((i, weight))
    return out


def _velvet(rng: np.random.Generator, rate: int, length: int) -> NDArray[np.float64]:
    """Return sparse pulses of either sign that grow denser, with flutter between walls."""
    out = np.zeros(length)
    time = 0.004 + np.cumsum(
        1.0 / (2500.0 * np.minimum(1.0, 0.06 + np.arange(int(length / rate * 2500)) / 220.0))
    )
    place = ((time + rng.uniform(0.0, 4e-4, time.size)) * rate).astype(int)
    place = place[place < length]
    dense = np.minimum(1.0, 0.06 + np.arange(place.size) / 220.0)
    np.add.at(out, place, rng.choice([-1.0, 1.0], place.size) / np.sqrt(dense))
    for gap_m in (WIDTH_M, LENGTH_M):
        echoes = np.arange(1, int(length / rate * SOUND_M_S / (2 * gap_m)))
        spots = ((2 * gap_m * echoes / SOUND_M_S + rng.normal(0.0, 3e-4, echoes.size)) * rate).astype(int)
        np.add.at(out, spots[(spots > 0) & (spots < length)], float(rng.uniform(0.0, 2.5)))
    return out


def _fed_back(rng: np.random.Generator, rate: int, length: int) -> NDArray[np.float64]:
    """Return the undamped field of eight delays mixed by a random rotation, run at 60 Hz of blocks.

    Each delay is longer than a block, so a block of all delays is computed from earlier ones at once.
    """
    lines = np.sort(rng.choice(np.arange(int(0.011 * rate), int(0.047 * rate)), 8, replace=False))
    turn = np.linalg.qr(rng.normal(size=(8, 8)))[0]
    block = int(lines.min())
    store = np.zeros((8, length + int(lines.max()) + block))
    store[:, 0] = rng.choice([-1.0, 1.0], 8)
    for start in range(0, length, block):
        span = np.arange(start, start + block)
        back = np.stack(
            [np.where(span >= d, store[i, np.maximum(span - d, 0)], 0.0) for i, d in enumerate(lines)]
        )
        store[:, start : start + block] += turn @ back
    out: NDArray[np.float64] = store[:, :length].sum(axis=0)
    out[:1] = 0.0
    return out * math.sqrt(rate / 2500.0) * 2.0


def late_field(rng: np.random.Generator, room: Room, rate: int, length: int) -> NDArray[np.float32]:
    """Return the late part of the court's response with energy 1, each octave decaying at its own pace.

    Parameters
    ----------
    rng : numpy.random.Generator
    room : Room
    rate, length : int
        Samples a second and in all.
    """
    size = int(scipy.fft.next_fast_len(length, real=True))
    rough = (_fed_back if room.feedback else _velvet)(rng, rate, length)
    spectrum = scipy.fft.rfft(rough.astype(np.float32), size)
    time = np.arange(length) / rate
    out = np.zeros(length, dtype=np.float32)
    for band, weight in _weights(size, rate):
        part = scipy.fft.irfft(spectrum * weight.astype(np.float32), size)[:length]
        out += part * np.exp(-6.91 * time / room.decay_s[band]).astype(np.float32)
    out *= np.minimum(1.0, time / 0.004).astype(np.float32)
    return (out / max(float(np.sqrt((out.astype(float) ** 2).sum())), 1e-9)).astype(np.float32)


def late_to_direct(room: Room, away_m: float) -> float:
    """Return the ratio of late to direct amplitude at a distance, for a diffuse field."""
    volume = LENGTH_M * WIDTH_M * room.height_m
    absorbing = 0.161 * volume / float(room.decay_s[4])
    return math.sqrt(16.0 * math.pi / absorbing) * away_m


@dataclass(frozen=True)
class Taps:
    """Early reflections of many sources: extra way (m) and gain beside the direct sound, shape (n, k)."""

    extra_m: NDArray[np.float64]
    gain: NDArray[np.float64]


def walk_rays(
    rng: np.random.Generator,
    room: Room,
    sources: NDArray[np.float64],
    ear: tuple[float, float],
    keep: int = 7,
) -> Taps:
    """Return the early reflections found by rays walked through the plan of the court.

    Forty rays leave each source; walls mirror them with some scatter. A ray that passes the ear within 0.6 m
    gives a reflection of its way's length.

    Parameters
    ----------
    rng : numpy.random.Generator
    room : Room
    sources : ndarray, shape (n, 2)
        Places in the plan, m.
    ear : tuple of float
        The place in the plan through which the sound leaves for the phone.
    keep : int
        Reflections kept a source, the earliest.
    """
    count, rays = sources.shape[0], 40
    angle = (np.arange(rays) + rng.random((count, 1))) * 2.0 * math.pi / rays
    x, y = (np.repeat(sources[:, i : i + 1], rays, axis=1) for i in (0, 1))
    way = np.zeros((count, rays))
    direct = np.hypot(sources[:, 0] - ear[0], sources[:, 1] - ear[1])[:, None]
    extra, gain = [], []
    for bounce in range(6):
        dx, dy = np.cos(angle), np.sin(angle)
        to_x = np.where(dx > 0, WIDTH_M - x, -x) / np.where(np.abs(dx) < 1e-6, 1e-6, dx)
        to_y = np.where(dy > 0, LENGTH_M - y, -y) / np.where(np.abs(dy) < 1e-6, 1e-6, dy)
        step = np.maximum(np.minimum(to_x, to_y), 0.0)
        along = (ear[0] - x) * dx + (ear[1] - y) * dy
        aside = np.abs((ear[0] - x) * dy - (ear[1] - y) * dx)
        met = (aside < 0.6) & (along > 0.0) & (along < step) & (bounce > 0)
        total = way + along
        extra.append(np.where(met, np.maximum(total - direct, 0.15), np.inf))
        gain.append(room.reflection**bounce * (direct + 1.0) / (total + 1.0))
        angle = np.where(to_x < to_y, math.pi - angle, -angle) + rng.normal(0.0, room.scatter, angle.shape)
        x, y = np.clip(x + dx * step, 0.0, WIDTH_M), np.clip(y + dy * step, 0.0, LENGTH_M)
        way = way + step
    every, loud = np.concatenate(extra, axis=1), np.concatenate(gain, axis=1)
    first = np.argsort(every, axis=1)[:, :keep]
    ways = np.take_along_axis(every, first, axis=1)
    gains = np.where(np.isfinite(ways), np.take_along_axis(loud, first, axis=1), 0.0)
    return Taps(np.where(np.isfinite(ways), ways, 1.0), gains * 0.6)


def minimum_phase(magnitude: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return the spectrum of the filter with this magnitude that begins at once, so that no onset moves."""
    size = 2 * (magnitude.size - 1)
    cepstrum = np.fft.irfft(np.log(np.maximum(magnitude, 1e-5)), size)
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    out: NDArray[np.complex128] = np.exp(np.fft.rfft(cepstrum))
    return out


def barrier(
    size: int,
    rate: int,
    low_pass_hz: float,
    slope_db: float,
    floor_db: float = -60.0,
    high_pass_hz: float = 0.0,
) -> NDArray[np.complex64]:
    """Return the spectrum of what lies between: a low pass of a slope in dB an octave down to a floor."""
    hz = np.fft.rfftfreq(size, 1.0 / rate)
    loss = -slope_db * 0.5 * np.log2(1.0 + (hz / low_pass_hz) ** 2)
    if high_pass_hz:
        loss = loss - 6.0 * np.log2(1.0 + (high_pass_hz / np.maximum(hz, 1.0)) ** 2)
    return minimum_phase(10.0 ** (np.maximum(loss, floor_db) / 20.0)).astype(np.complex64)
