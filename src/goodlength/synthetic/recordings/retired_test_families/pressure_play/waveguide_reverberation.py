"""Reverberation of a court by a network of waveguides between spots on its six sides.

Each spot scatters what arrives along its lines by a random orthogonal matrix and loses what its surface
absorbs; each line delays by its length and loses what air absorbs. Losses are scaled by the network's mean
line over the room's mean free path, so that the decay is Eyring's (a test holds it within 20 %). The network
runs once from the microphone in each group of octave bands; what arrives at the spots is the response to
sources there (an adjoint network), summed for three zones of the court. Its energy is that of a diffuse
field, 16 pi / A beside a direct sound of 1 at 1 m.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft
from numba import njit

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.retired_test_families.pressure_play.sound_absorption_and_decay import (
    CENTRES_HZ,
    SOUND_M_S,
    CourtSurfaces,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

SPOTS_A_SIDE = (2, 2, 2, 2, 1, 2)  # front, back, left, right, floor, ceiling
ZONES_Y_M = (1.6, 4.9, 8.2)
_GROUPS = ((0,), (1,), (2,), (3,), (4,), (5,), (6, 7))  # octave bands that share one run
SHORTEST_LINE_M = 1.4
STORED_BLOCKS = 16  # so few that they stay in the processor's cache


@dataclass(frozen=True)
class WaveguideNetwork:
    """Spots (n, 3) with the side each lies on, and directed lines between spots of different sides."""

    spots: NDArray[np.float64]
    side: NDArray[np.int64]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    length_m: NDArray[np.float64]
    scatter: tuple[NDArray[np.float32], ...]
    into: tuple[NDArray[np.int64], ...]
    out_of: tuple[NDArray[np.int64], ...]


def _spots(rng: np.random.Generator, height: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    size = np.array([WIDTH_M, LENGTH_M, height])
    fixed = ((1, 0.0), (1, LENGTH_M), (0, 0.0), (0, WIDTH_M), (2, 0.0), (2, height))
    spots, sides = [], []
    for side, count in enumerate(SPOTS_A_SIDE):
        for number in range(count):
            spot = size * rng.uniform(0.12, 0.88, 3)
            along = 1 if fixed[side][0] != 1 else 0
            spot[along] = size[along] * (number + rng.uniform(0.2, 0.8)) / count
            spot[fixed[side][0]] = fixed[side][1]
            spots.append(spot)
            sides.append(side)
    return np.array(spots), np.array(sides)


def build_network(rng: np.random.Generator, height_m: float) -> WaveguideNetwork:
    """Return a network of spots at random places of the sides of a court."""
    spots, side = _spots(rng, height_m)
    start, end = np.nonzero(side[:, None] != side[None, :])
    length = np.maximum(np.linalg.norm(spots[start] - spots[end], axis=1), SHORTEST_LINE_M)
    into = tuple(np.flatnonzero(end == i) for i in range(side.size))
    out_of = tuple(np.flatnonzero(start == i) for i in range(side.size))
    scatter = tuple(
        np.linalg.qr(rng.normal(size=(rows.size, rows.size)))[0].astype(np.float32) for rows in into
    )
    return WaveguideNetwork(spots, side, start, end, length, scatter, into, out_of)


def _line_gains(network: WaveguideNetwork, room: CourtSurfaces) -> NDArray[np.float32]:
    """Return the pressure gain of each line in each group of bands, shape (groups, lines)."""
    scale = float(network.length_m.mean()) / room.mean_free_path_m
    # A side with few spots for its area would weigh too little: each spot stands for its share of the mean
    weight = np.array([room.area_m2[s] / SPOTS_A_SIDE[s] for s in network.side])
    mean_absorption = (weight[:, None] * room.absorption[network.side]).sum(axis=0) / weight.sum()
    own = room.absorption[network.side]
    lost = own * (mean_absorption / own.mean(axis=0))
    log_reflectance = np.log1p(-np.minimum(lost, 0.97)) * scale
    air = -room.air_db_m / 4.343 * network.length_m[:, None]
    power = log_reflectance[network.end] + air
    rows = [0.5 * power[:, list(group)].mean(axis=1) for group in _GROUPS]
    return np.asarray(np.exp(np.stack(rows)), dtype=np.float32)


@njit(cache=True, error_model="numpy")
def _arriving(
    store: NDArray[np.float32],
    now: int,
    lags: NDArray[np.int64],
    gains: NDArray[np.float32],
    into: NDArray[np.int64],
    here: NDArray[np.float32],
) -> None:
    """Fill what comes along each line into each spot, shape (spots, groups, lines of a spot, block)."""
    for spot in range(into.shape[0]):
        for group in range(gains.shape[0]):
            for row in range(into.shape[1]):
                line = into[spot, row]
                if line < 0:
                    break
                gain, begin = gains[group, line], now - lags[line]
                for moment in range(here.shape[3]):
                    here[spot, group, row, moment] = store[group, line, begin + moment] * gain


def run_network(
    network: WaveguideNetwork,
    gains: NDArray[np.float32],
    ear: tuple[float, float, float],
    rate: int,
    length: int,
) -> NDArray[np.float32]:
    """Return what arrives at each spot after an impulse at `ear`, shape (groups, spots, length)."""
    groups, lines = gains.shape
    lags = np.maximum(np.rint(network.length_m / SOUND_M_S * rate).astype(np.int64), 1)
    block, longest = int(lags.min()), int(lags.max())
    steps = -(-length // block)
    reach = np.maximum(np.linalg.norm(network.spots - np.array(ear), axis=1), 0.7)
    arrives = np.rint(reach / SOUND_M_S * rate).astype(int)
    size_stored = longest + STORED_BLOCKS * block
    store = np.zeros((groups, lines, size_stored), dtype=np.float32)
    at_spot = np.zeros((groups, len(network.into), steps * block), dtype=np.float32)
    fed = [
        np.float32(1.0 / r / math.sqrt(max(rows.size, 1)))
        for r, rows in zip(reach, network.into, strict=True)
    ]
    into = np.full((len(network.into), max(rows.size for rows in network.into)), -1)
    for spot, rows in enumerate(network.into):
        into[spot, : rows.size] = rows
    onwards = [slice(int(out[0]), int(out[-1]) + 1) for out in network.out_of]  # as they are numbered
    coming = np.zeros((into.shape[0], groups, into.shape[1], block), dtype=np.float32)
    now = longest
    for first in range(0, steps * block, block):
        if now == size_stored:  # full: what the lines still hold moves to the front
            store[:, :, :longest] = store[:, :, size_stored - longest :]
            now = longest
        _arriving(store, now, lags, gains, into, coming)
        for spot, rows in enumerate(network.into):
            here = coming[spot, :, : rows.size]
            moment = int(arrives[spot]) - first
            if 0 <= moment < block:
                here[:, :, moment] += fed[spot]
            here.sum(axis=1, out=at_spot[:, spot, first : first + block])
            np.matmul(network.scatter[spot], here, out=store[:, onwards[spot], now : now + block])
        now += block
    return at_spot[:, :, :length]


def band_weights(size: int, rate: int) -> NDArray[np.float32]:
    """Return smooth weights over the bins of a transform, one row a group, that sum to one."""
    octave = np.log2(np.maximum(np.fft.rfftfreq(size, 1.0 / rate), 20.0) / CENTRES_HZ[0])
    middle = np.array([float(np.mean(group)) for group in _GROUPS])
    place = np.interp(octave, middle, np.arange(middle.size, dtype=float))
    near = np.clip(1.0 - np.abs(place[None, :] - np.arange(middle.size)[:, None]), 0.0, 1.0)
    return np.asarray(np.sin(0.5 * math.pi * near) ** 2, dtype=np.float32)


def zone_responses(
    rng: np.random.Generator,
    room: CourtSurfaces,
    ear: tuple[float, float, float],
    rate: int,
    length: int,
) -> NDArray[np.float32]:
    """Return the reverberation at `ear` of sources in the zones of `ZONES_Y_M`, shape (zones, length).

    Sample 0 is the direct sound's arrival.

    Parameters
    ----------
    rng : numpy.random.Generator
        Draws the network; another state gives another place nearby.
    room : CourtSurfaces
    ear : tuple of float
        Where the sound leaves the court, m.
    rate, length : int
        Samples a second and in all.
    """
    network = build_network(rng, room.height_m)
    centres = [np.array([WIDTH_M / 2, y, 1.0]) for y in ZONES_Y_M]
    early = [round(float(np.linalg.norm(c - np.array(ear))) / SOUND_M_S * rate) for c in centres]
    padded = length + max(early)
    at_spot = run_network(network, _line_gains(network, room), ear, rate, padded)
    size = int(scipy.fft.next_fast_len(length, real=True))
    weights = band_weights(size, rate)
    area = room.absorbing_area_m2()
    energy = np.array([16.0 * math.pi / float(area[list(group)].mean()) for group in _GROUPS])
    out = np.zeros((len(ZONES_Y_M), length), dtype=np.float32)
    for zone, centre in enumerate(centres):
        away = np.linalg.norm(network.spots - centre, axis=1)
        mixed = np.zeros((len(_GROUPS), padded), dtype=np.float32)
        for spot, way in enumerate(away.tolist()):
            lag = round(way / SOUND_M_S * rate)
            mixed[:, lag:] += at_spot[:, spot, : padded - lag] / np.float32(max(way, 1.0))
        mixed = mixed[:, early[zone] : early[zone] + length]  # counted from the direct sound
        power = np.maximum((mixed.astype(np.float64) ** 2).sum(axis=1), 1e-20)
        mixed = mixed * np.sqrt(energy / power).astype(np.float32)[:, None]
        spectrum = (scipy.fft.rfft(mixed, size, axis=1) * weights).sum(axis=0)
        out[zone] = scipy.fft.irfft(spectrum, size)[:length]
    return out
