"""Sound of a court by ray tracing in three dimensions: energy that reaches spots, by octave and by time.

Rays leave the place where the sound leaves the court (reciprocity), lose energy by each side's absorption and
by air, and are thrown back as by a mirror or by Lambert's law. What a wall scatters rains on every spot;
mirrored rays count where they pass a spot's sphere. Late sound is noise with that energy, octave by octave;
early sound is one pulse a millisecond.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft
from numba import njit

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.test_family.all_pole_filters import BANDS_HZ, all_pole

if TYPE_CHECKING:
    from numpy.typing import NDArray

SOUND_M_S = 343.5
RAYS = 2600
SPHERE_M = 0.5
BINS_A_SECOND = 1000.0
LATE_FROM_S = 0.07
LONGEST_S = 2.3
SPOTS_X, SPOTS_Y, SPOTS_Z = (1.1, 3.2, 5.3), (0.6, 3.2, 5.9, 8.7), (0.3, 1.5)
_DEPTH = 90  # reflections at most


@dataclass(frozen=True)
class CourtRoom:
    """A court: height in m, absorption (6, 9) by octave and scattering (9,) of its sides, air in nepers/m.

    Order of sides: left, right, front, back, floor, ceiling; octaves are `BANDS_HZ`. `air` is of energy.
    """

    height_m: float
    absorption: NDArray[np.float64]
    scattering: NDArray[np.float64]
    air: NDArray[np.float64]

    def sabine_eyring_s(self) -> NDArray[np.float64]:
        """Return the time of decay by 60 dB in a diffuse field, each octave (Eyring, with air)."""
        sides = np.array(
            [LENGTH_M * self.height_m] * 2 + [WIDTH_M * self.height_m] * 2 + [LENGTH_M * WIDTH_M] * 2
        )
        volume = LENGTH_M * WIDTH_M * self.height_m
        mean = sides @ self.absorption / sides.sum()
        lost = -sides.sum() * np.log1p(-mean) + 4.0 * self.air * volume
        return np.asarray(24.0 * math.log(10.0) / SOUND_M_S * volume / lost)


@dataclass(frozen=True)
class CourtEcho:
    """Echo of a court at one microphone: early pulses of each spot (24, n), late noise of three zones.

    Both at their own rates; amplitudes are those beside a direct sound of 1 at 1 m.
    """

    early: NDArray[np.float32]
    late: NDArray[np.float32]
    energy: NDArray[np.float64]


def spots_m() -> NDArray[np.float64]:
    """Return the places at which energy is counted, shape (24, 3)."""
    return np.array([(x, y, z) for y in SPOTS_Y for x in SPOTS_X for z in SPOTS_Z])


def draw_room(rng: np.random.Generator, treated: tuple[float, float]) -> CourtRoom:
    """Return a court; `treated` bounds how much of its ceiling absorbs. All figures are ASSUMED."""
    u = rng.uniform
    octave = np.arange(9) / 8.0

    def hard(low: float, high: float) -> NDArray[np.float64]:
        start, end, panel = u(low, high), u(low, high), u(0.0, 0.12)
        return np.asarray(
            start + (end - start) * octave + panel * np.exp(-((9.0 * octave - u(0.0, 2.5)) ** 2))
        )

    walls = hard(0.015, 0.07)
    share = float(u(*treated))
    soft = 0.25 + 0.6 * (1.0 - np.exp(-5.0 * octave)) * float(u(0.6, 1.0))
    ceiling = (1.0 - share) * hard(0.02, 0.08) + share * soft
    height = float(u(5.64, 7.4))
    open_share = (1.0 - 2.13 / height) * (0.12 if treated[1] == 0.0 else float(u(0.5, 1.0)))
    back = (1.0 - open_share) * hard(0.02, 0.08) + open_share * (0.3 + 0.5 * octave)
    sides = np.stack([walls, walls * u(0.8, 1.3), walls * u(0.8, 1.3), back, hard(0.04, 0.12), ceiling])
    scattering = float(u(0.06, 0.2)) + (float(u(0.25, 0.6)) - 0.1) * octave
    # ASSUMED for 20 C: m = 5.5e-4 (50 / humidity) (f / 1 kHz)^1.7, a rule of thumb from memory.
    air = 5.5e-4 * (50.0 / float(u(35.0, 65.0))) * (BANDS_HZ / 1000.0) ** 1.7
    return CourtRoom(
        height, np.clip(sides, 0.01, 0.95), np.clip(scattering, 0.05, 0.8), np.asarray(air, float)
    )


@njit(cache=True, nogil=True)
def _next_side(
    place: NDArray[np.float64], way: NDArray[np.float64], size: NDArray[np.float64]
) -> tuple[float, int]:
    """Return how far it is to the next side, and across which axis that side stands."""
    far, axis = 1e9, 0
    for i in range(3):
        if abs(way[i]) > 1e-9:
            step = ((size[i] if way[i] > 0.0 else 0.0) - place[i]) / way[i]
            if step < far:
                far, axis = step, i
    return far, axis


@njit(cache=True, nogil=True)
def _pass_spheres(
    place: NDArray[np.float64],
    way: NDArray[np.float64],
    far: float,
    went: float,
    spots: NDArray[np.float64],
    energy: NDArray[np.float64],
    air: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Add a mirrored ray's energy to the spots whose sphere it passes before the next side."""
    for s in range(spots.shape[0]):
        along, off = 0.0, 0.0
        for i in range(3):
            along += (spots[s, i] - place[i]) * way[i]
        if 0.0 < along < far:
            for i in range(3):
                off += (spots[s, i] - place[i] - along * way[i]) ** 2
            at = int((went + along) / SOUND_M_S * BINS_A_SECOND)
            if off < SPHERE_M**2 and at < out.shape[1]:
                out[s, at] += energy * np.exp(-air * along)


@njit(cache=True, nogil=True)
def _rain(
    meets: NDArray[np.float64],
    axis: int,
    went: float,
    spots: NDArray[np.float64],
    energy: NDArray[np.float64],
    air: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Add what a side scatters to every spot by Lambert: a share cos(angle) r^2 / d^2 meets a sphere."""
    for s in range(spots.shape[0]):
        d2 = 0.0
        for i in range(3):
            d2 += (spots[s, i] - meets[i]) ** 2
        d2 = max(d2, SPHERE_M**2)
        away = math.sqrt(d2)
        at = int((went + away) / SOUND_M_S * BINS_A_SECOND)
        if at < out.shape[1]:
            share = abs(spots[s, axis] - meets[axis]) / away * SPHERE_M**2 / d2
            for b in range(air.size):
                out[s, at, b] += energy[b] * math.exp(-air[b] * away) * share


@njit(cache=True, nogil=True)
def _thrown_back(way: NDArray[np.float64], axis: int, scatters: bool, first: float, second: float) -> None:
    """Turn a ray at a side in place: as by a mirror, or by Lambert's law from two draws."""
    if not scatters:
        way[axis] = -way[axis]
        return
    up = math.sqrt(first)
    flat = math.sqrt(1.0 - first)
    way[axis] = up if way[axis] < 0.0 else -up
    way[(axis + 1) % 3] = flat * math.cos(2.0 * math.pi * second)
    way[(axis + 2) % 3] = flat * math.sin(2.0 * math.pi * second)


@njit(cache=True, nogil=True)
def _trace(
    start: NDArray[np.float64],
    size: NDArray[np.float64],
    lost: NDArray[np.float64],
    scattering: NDArray[np.float64],
    air: NDArray[np.float64],
    spots: NDArray[np.float64],
    draws: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Add to `out` (spots, bins, octaves) the energy of rays, 1 each, that meets the spots' spheres."""
    mirror = (1.0 - scattering) / (1.0 - scattering[5])
    way = np.empty(3)
    for ray in range(draws.shape[0]):
        way[2] = 2.0 * draws[ray, 0, 0] - 1.0
        flat, turn = math.sqrt(1.0 - way[2] ** 2), 2.0 * math.pi * draws[ray, 0, 1]
        way[0], way[1] = flat * math.cos(turn), flat * math.sin(turn)
        place, energy = start.copy(), np.ones(air.size)
        went, mirrored = 0.0, False
        for bounce in range(1, draws.shape[1]):
            far, axis = _next_side(place, way, size)
            if mirrored:
                _pass_spheres(place, way, far, went, spots, energy * mirror, air, out)
            went += far
            side = 2 * axis + (1 if way[axis] > 0.0 else 0)
            place = np.minimum(np.maximum(place + far * way, 0.0), size)
            energy *= np.exp(-air * far) * (1.0 - lost[side])
            if energy.max() < 1e-7 or went / SOUND_M_S * BINS_A_SECOND >= out.shape[1]:
                break
            _rain(place, axis, went, spots, energy * scattering, air, out)
            mirrored = draws[ray, bounce, 0] >= scattering[5]
            _thrown_back(way, axis, not mirrored, draws[ray, bounce, 1], draws[ray, bounce, 2])


def traced_energy(
    rng: np.random.Generator, room: CourtRoom, ear: tuple[float, float, float], seconds: float
) -> NDArray[np.float64]:
    """Return energy by spot, millisecond and octave, shape (24, n, 9), beside direct sound at 1 m."""
    size = np.array([WIDTH_M, LENGTH_M, room.height_m])
    start = np.clip(np.array(ear), 0.06, size - 0.06)
    draws = rng.random((RAYS, _DEPTH + 1, 3))
    out = np.zeros((len(spots_m()), int(1000.0 * seconds), BANDS_HZ.size))
    _trace(start, size, room.absorption, room.scattering, room.air, spots_m(), draws, out)
    return np.asarray(out * 4.0 / (SPHERE_M**2 * RAYS))


def _early(
    rng: np.random.Generator, energy: NDArray[np.float64], way_s: float, rate: int
) -> NDArray[np.float32]:
    """Return early pulses of one spot from its direct sound on, one a millisecond, coloured by octave."""
    first = round(1000.0 * way_s) + 1
    length = int(1000.0 * LATE_FROM_S)
    rows = energy[first : first + length]
    out = np.zeros(int((LATE_FROM_S + 0.012) * rate))
    at = ((np.arange(rows.shape[0]) + 1.0 + rng.uniform(0.0, 1.0, rows.shape[0])) * rate / 1000.0).astype(int)
    middle = rows[:, 3:8].mean(axis=1)
    np.add.at(out, np.minimum(at, out.size - 1), rng.choice([-1.0, 1.0], at.size) * np.sqrt(middle))
    colour = 10.0 * np.log10(rows.sum(axis=0) / max(middle.sum(), 1e-12) + 1e-6)
    size = scipy.fft.next_fast_len(out.size + 512, real=True)
    both = scipy.fft.rfft(out, size) * scipy.fft.rfft(all_pole(colour, rate, 16), size)
    wave = scipy.fft.irfft(both, size)[: out.size]
    wave[-(rate // 100) :] *= np.linspace(1.0, 0.0, rate // 100)
    return wave.astype(np.float32)


def _late(rng: np.random.Generator, energy: NDArray[np.float64], rate: int) -> NDArray[np.float32]:
    """Return late noise with this energy by millisecond and octave; silent before `LATE_FROM_S`."""
    smooth = np.apply_along_axis(lambda e: np.convolve(e, np.ones(16) / 16.0, "same"), 0, energy)
    count = energy.shape[0] * rate // 1000
    noise = scipy.fft.rfft(rng.standard_normal(count))
    hz = np.fft.rfftfreq(count, 1.0 / rate)
    octave = np.log2(np.maximum(hz, 1.0) / BANDS_HZ[0])
    octave = np.clip(octave, 0.0, BANDS_HZ.size - 1.0)
    times = (np.arange(count) + 0.5) * 1000.0 / rate - 0.5
    out = np.zeros(count)
    for band in range(BANDS_HZ.size):
        weight = np.sqrt(np.maximum(1.0 - np.abs(octave - band), 0.0))
        if BANDS_HZ[band] > 0.6 * rate:
            break
        spread = np.sqrt(np.interp(times, np.arange(smooth.shape[0]), smooth[:, band]) / (rate / 1000.0))
        out += scipy.fft.irfft(noise * weight, count) * spread
    edge = int(LATE_FROM_S * rate)
    fade = rate // 100
    out[: edge - fade // 2] = 0.0
    out[edge - fade // 2 : edge + fade // 2] *= np.linspace(0.0, 1.0, 2 * (fade // 2))
    out[-(rate // 20) :] *= np.linspace(1.0, 0.0, rate // 20)
    return out.astype(np.float32)


def court_echo(
    rng: np.random.Generator,
    room: CourtRoom,
    ear: tuple[float, float, float],
    rates: tuple[int, int],
    channels: int,
) -> CourtEcho:
    """Return the echo of a court for early sound at `rates[0]` and late sound, per channel, at `rates[1]`.

    `late` has shape (channels, 3, n): sources in front, in the middle and at the back.
    """
    seconds = float(np.clip(0.8 * room.sabine_eyring_s()[2:7].max(), 0.4, LONGEST_S))
    energy = traced_energy(rng, room, ear, seconds)
    ways = np.linalg.norm(spots_m() - np.array(ear), axis=1) / SOUND_M_S
    early = np.stack([_early(rng, e, w, rates[0]) for e, w in zip(energy, ways, strict=True)])
    zones = [energy[:6].mean(axis=0), energy[6:18].mean(axis=0), energy[18:].mean(axis=0)]
    late = np.stack([np.stack([_late(rng, e, rates[1]) for e in zones]) for _ in range(channels)])
    return CourtEcho(early, late, energy)


def spot_of(place: tuple[float, float, float]) -> int:
    """Return the number of the spot nearest to a place."""
    near = [
        int(np.argmin([abs(value - p) for value in values]))
        for values, p in zip((SPOTS_X, SPOTS_Y, SPOTS_Z), place, strict=True)
    ]
    return (near[1] * len(SPOTS_X) + near[0]) * len(SPOTS_Z) + near[2]


def zone_of(place: tuple[float, float, float]) -> int:
    """Return the zone of late sound of a place: front, middle, back."""
    return min(int(3.0 * max(place[1], 0.0) / LENGTH_M), 2)
