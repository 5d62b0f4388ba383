"""Mix the sound at the microphone block by block: impacts, reflections, reverberation, voices, noise, hum.

Direct sound and first reflections are added sample by sample at the full rate; reverberation is worked out at
half the rate where that is enough, and joined in the frequency domain.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.retired_test_families.pressure_play.court_to_phone_sound_paths import (
    SoundPath,
    path_taps,
    wall_taps,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.hall_background_sounds import (
    hall_noise,
    mains_hum,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.phone_recording_chain import (
    RecordingPhone,
    capsule_response,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.pressure_rally_simulation import (
    CourtImpact,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.sound_absorption_and_decay import (
    CENTRES_HZ,
    SOUND_M_S,
    CourtSurfaces,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.struck_body_vibration_modes import (
    VibratingBody,
    impact_spectra,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.vocal_tract_voice_synthesis import (
    VOICE_RATE,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.waveguide_reverberation import (
    ZONES_Y_M,
    zone_responses,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from goodlength.synthetic.recordings.retired_test_families.pressure_play.ball_flight_and_bounces import (
        Vector,
    )

BLOCK_S = 12
IMPACT_S = 0.2
EARLY_S = 0.45  # travel, reflections and the ringing that a block's impacts reach beyond it
LONGEST_TAIL_S = 3.0
NOISE_LOOP_S = 43


@dataclass(frozen=True)
class CourtSound:
    """One court: impacts in its own time, bodies, surfaces, way to the phone, reverberation per channel."""

    impacts: list[CourtImpact]
    bodies: dict[str, VibratingBody]
    surfaces: CourtSurfaces
    path: SoundPath
    own: bool
    reverberation: tuple[NDArray[np.float32], ...]


@dataclass
class MixedScene:
    """All that is heard: courts, voices beside the phone and on the court (`VOICE_RATE`), noise and hum."""

    seconds: int
    courts: list[CourtSound]
    near: NDArray[np.float32] | None = None
    inside: NDArray[np.float32] | None = None
    gallery: NDArray[np.float32] | None = None
    noise_rms: float = 0.0
    noise_slope: float = 1.0
    mains_hz: float = 50.0
    hum_rms: float = 0.0


def late_rate(rate: int) -> int:
    """Return the rate at which reverberation is worked out."""
    return rate if rate <= 24000 else rate // 2


def reverberation(
    rng: np.random.Generator, surfaces: CourtSurfaces, portal: Vector, phone: RecordingPhone
) -> tuple[NDArray[np.float32], ...]:
    """Return the zones' responses at the portal for each channel of the phone, at `late_rate`."""
    rate = late_rate(phone.inner_rate)
    longest = float(surfaces.eyring_decay_s()[2:].max())
    length = int(min(0.75 * longest, LONGEST_TAIL_S) * rate)
    ear = (portal[0], min(portal[1], LENGTH_M - 0.05), min(portal[2], surfaces.height_m - 0.1))
    return tuple(zone_responses(rng, surfaces, ear, rate, length) for _ in range(phone.channels))


def body_of(impact: CourtImpact) -> str:
    """Return the name of the body that an impact strikes."""
    if impact.body:
        return impact.body
    if impact.surface is Surface.RACKET:
        return f"racket{impact.striker or 0}"
    if impact.surface is Surface.OTHER_WALL:
        return "back" if impact.place[1] > LENGTH_M - 0.1 else "side"
    return {Surface.FRONT_WALL: "front", Surface.FLOOR: "floor", Surface.TIN: "tin"}[impact.surface]


def mirrored(place: Vector, height_m: float) -> list[tuple[Vector, int]]:
    """Return the place mirrored in five sides and in two pairs of them, each with its number of bounces."""
    x, y, z = place
    return [
        ((x, -y, z), 1),
        ((-x, y, z), 1),
        ((2 * WIDTH_M - x, y, z), 1),
        ((x, y, -z - 0.02), 1),
        ((x, y, 2 * height_m - z), 1),
        ((x, -y, -z - 0.02), 2),
        ((-x if x > WIDTH_M / 2 else 2 * WIDTH_M - x, -y, z), 2),
    ]


def _add(out: NDArray[np.float32], wave: NDArray[np.float32], place: int, gain: float) -> None:
    skip = max(-place, 0)
    end = min(place + wave.size, out.size)
    if end > place + skip:
        out[place + skip : end] += np.float32(gain) * wave[skip : end - place]


def _real(spectra: NDArray[np.complex64], size: int) -> NDArray[np.float32]:
    return np.asarray(scipy.fft.irfft(spectra, size, axis=1), dtype=np.float32)


def _smooth_fiftieths(seconds: float) -> int:
    """Return a number of 0.02 s, at least so long, by which transforms are quick."""
    return int(scipy.fft.next_fast_len(math.ceil(seconds * 50.0), real=True))


class SceneMixer:
    """Mixes a scene through a phone's capsules into samples of shape (channels, n)."""

    def __init__(self, rng: np.random.Generator, scene: MixedScene, phone: RecordingPhone) -> None:
        self.rng, self.scene, self.phone = rng, scene, phone
        self.rate, self.late = phone.inner_rate, late_rate(phone.inner_rate)
        tails = [c.reverberation[0].shape[1] / self.late for c in scene.courts]
        if scene.gallery is not None:
            tails.append(scene.gallery.size / self.late)
        self.fiftieths = _smooth_fiftieths(BLOCK_S + EARLY_S + max(tails, default=0.2) + 0.1)
        self.size = self.fiftieths * self.rate // 50
        self.late_size = self.fiftieths * self.late // 50
        self.impact_size = 2 * _smooth_fiftieths(IMPACT_S) * self.rate // 50
        self.capsules = [capsule_response(phone, self.size, i) for i in range(phone.channels)]
        self.impact_capsules = [capsule_response(phone, self.impact_size, i) for i in range(phone.channels)]
        self.times = [[i.time_s for i in c.impacts] for c in scene.courts]
        self.filters = [self._court_filters(c) for c in scene.courts]
        self.zones = [self._zone_spectra(c) for c in scene.courts]
        self.noise = self._noise_loops()
        self.voice_responses: dict[tuple[str, int], NDArray[np.complex64]] = {}

    def _court_filters(self, court: CourtSound) -> tuple[NDArray[np.complex64], NDArray[np.complex64]]:
        """Return the spectra of a court's path, and of path and one reflection, for impacts."""
        taps = path_taps(court.path, self.rate)
        mean = court.surfaces.area_m2 @ court.surfaces.absorption / court.surfaces.area_m2.sum()
        wall = wall_taps(mean, CENTRES_HZ, self.rate)
        path = scipy.fft.rfft(taps.astype(np.float32), self.impact_size)
        both = path * scipy.fft.rfft(wall.astype(np.float32), self.impact_size)
        return np.asarray(path, dtype=np.complex64), np.asarray(both, dtype=np.complex64)

    def _zone_spectra(self, court: CourtSound) -> list[NDArray[np.complex64]]:
        """Return, per channel, the spectra of the zones' reverberation through path and capsule."""
        taps = path_taps(court.path, self.late).astype(np.float32)
        path = scipy.fft.rfft(taps, self.late_size)
        bins = path.size
        return [
            (scipy.fft.rfft(zones, self.late_size, axis=1) * (path * self.capsules[i][:bins])).astype(
                np.complex64
            )
            for i, zones in enumerate(court.reverberation)
        ]

    def _noise_loops(self) -> list[NDArray[np.float32]]:
        if self.scene.noise_rms <= 0.0:
            return []
        return [
            hall_noise(self.rng, self.rate, NOISE_LOOP_S, self.scene.noise_slope)
            for _ in range(self.phone.channels)
        ]

    def mix(self) -> NDArray[np.float32]:
        """Return the whole scene; memory is the samples and one block."""
        total = self.scene.seconds * self.rate
        out = np.zeros((self.phone.channels, total), dtype=np.float32)
        for first_s in range(0, self.scene.seconds, BLOCK_S):
            self._block(out, first_s)
        self._add_noise(out)
        return out

    def _block(self, out: NDArray[np.float32], first_s: int) -> None:
        spectra: list[NDArray[np.complex64] | None] = [None] * self.phone.channels
        for i, court in enumerate(self.scene.courts):
            low = bisect.bisect_left(self.times[i], first_s)
            high = bisect.bisect_left(self.times[i], first_s + BLOCK_S)
            if high > low:
                buses = self._impacts(out, i, court.impacts[low:high], first_s)
                late = scipy.fft.rfft(buses, self.late_size, axis=1)
                for channel, zones in enumerate(self.zones[i]):
                    self._join(spectra, channel, (late * zones).sum(axis=0), self.late)
        self._voices(spectra, first_s)
        start = first_s * self.rate
        for channel, spectrum in enumerate(spectra):
            if spectrum is not None:
                wave = scipy.fft.irfft(spectrum, self.size)
                end = min(start + self.size, out.shape[1])
                out[channel, start:end] += wave[: end - start]

    def _join(
        self,
        spectra: list[NDArray[np.complex64] | None],
        channel: int,
        part: NDArray[np.complex64],
        rate: int,
    ) -> None:
        """Add the spectrum of a part made at a lower rate, its level kept."""
        whole = spectra[channel]
        if whole is None:
            whole = spectra[channel] = np.zeros(self.size // 2 + 1, dtype=np.complex64)
        bins = min(part.size, whole.size)
        whole[:bins] += part[:bins] * np.float32(self.rate / rate)

    def _waves(
        self, number: int, impacts: list[CourtImpact]
    ) -> tuple[list[NDArray[np.float32]], list[NDArray[np.float32]], NDArray[np.float32]]:
        """Return direct and reflected waves per channel, and dry ones at the late rate."""
        court, size = self.scene.courts[number], self.impact_size
        names = [body_of(i) for i in impacts]
        spectra = np.zeros((len(impacts), size // 2 + 1), dtype=np.complex64)
        for name in sorted(set(names)):
            rows = [i for i, n in enumerate(names) if n == name]
            speeds = [impacts[i].speed_m_s for i in rows]
            spectra[rows] = impact_spectra(self.rng, court.bodies[name], speeds, self.rate, size)
        direct, reflected = self.filters[number]
        rows = [i for i, impact in enumerate(impacts) if impact.surface is not Surface.FOOT]
        small = size * self.late // self.rate
        dry = _real(spectra[:, : small // 2 + 1], small) * np.float32(small / size)
        near = [_real(spectra * (direct * c), size) for c in self.impact_capsules]
        far = [_real(spectra[rows] * (reflected * c), size) for c in self.impact_capsules]
        return near, far, dry

    def _impacts(
        self, out: NDArray[np.float32], number: int, impacts: list[CourtImpact], first_s: int
    ) -> NDArray[np.float32]:
        """Add direct sound and reflections of a block's impacts; return what feeds the reverberation."""
        court = self.scene.courts[number]
        path = court.path
        near, far, dry = self._waves(number, impacts)
        buses = np.zeros((len(ZONES_Y_M), int((BLOCK_S + EARLY_S) * self.late)), dtype=np.float32)
        reflected = 0
        for i, impact in enumerate(impacts):
            way = path.length_m(impact.place)
            arrives = impact.time_s + way / SOUND_M_S
            gain = path.gain / max(way, 0.5)
            zone = int(np.argmin([abs(impact.place[1] - y) for y in ZONES_Y_M]))
            wet = path.late * path.gain
            _add(buses[zone], dry[i], round((arrives - first_s) * self.late), wet)
            for channel in range(self.phone.channels):
                _add(out[channel], near[channel][i], round(arrives * self.rate), gain)
            if impact.surface is not Surface.FOOT:
                self._reflections(out, [f[reflected] for f in far], impact, court, gain * max(way, 0.5))
                reflected += 1
                self._thump(out, impact, round(arrives * self.rate), gain * path.thump)
        return buses

    def _reflections(
        self,
        out: NDArray[np.float32],
        waves: list[NDArray[np.float32]],
        impact: CourtImpact,
        court: CourtSound,
        gain: float,
    ) -> None:
        for place, bounces in mirrored(impact.place, court.surfaces.height_m):
            way = court.path.length_m(place)
            moment = round((impact.time_s + way / SOUND_M_S) * self.rate)
            for channel, wave in enumerate(waves):
                _add(out[channel], wave, moment, gain * 0.8**bounces / way)

    def _thump(self, out: NDArray[np.float32], impact: CourtImpact, place: int, gain: float) -> None:
        """Add what walls and floor carry, as fast as air does (ASSUMED); nothing from a racket."""
        if gain <= 0.0 or impact.surface is Surface.RACKET:
            return
        time = np.arange(int(0.15 * self.rate)) / self.rate
        hz, lasts = float(self.rng.uniform(40.0, 170.0)), float(self.rng.uniform(0.01, 0.04))
        wave = (np.sin(2 * math.pi * hz * time) * np.exp(-time / lasts)).astype(np.float32)
        for channel in out:
            _add(channel, wave, place, gain * (impact.speed_m_s / 20.0) ** 1.2)

    def _voices(self, spectra: list[NDArray[np.complex64] | None], first_s: int) -> None:
        """Join one block of voices: those beside the phone with the gallery, those inside with the court."""
        size = self.fiftieths * VOICE_RATE // 50
        low, high = first_s * VOICE_RATE, (first_s + BLOCK_S) * VOICE_RATE
        for track, kind in ((self.scene.near, "near"), (self.scene.inside, "inside")):
            if track is None or not np.any(track[low:high]):
                continue
            spectrum = scipy.fft.rfft(track[low:high], size)
            for channel, capsule in enumerate(self.capsules):
                if (kind, channel) not in self.voice_responses:
                    response = self._voice_response(kind, channel, capsule, spectrum.size)
                    self.voice_responses[kind, channel] = response
                response = self.voice_responses[kind, channel]
                self._join(spectra, channel, (spectrum * response).astype(np.complex64), VOICE_RATE)

    def _voice_response(
        self, kind: str, channel: int, capsule: NDArray[np.complex64], bins: int
    ) -> NDArray[np.complex64]:
        if kind == "inside" and self.scene.courts:
            wet = self.zones[0][channel][1][:bins] * np.float32(self.scene.courts[0].path.late)
            return np.asarray(wet + np.float32(0.12) * capsule[:bins], dtype=np.complex64)
        if self.scene.gallery is None:
            return capsule[:bins]
        wet = scipy.fft.rfft(self.scene.gallery, self.late_size)[:bins]
        return np.asarray((1.0 + wet) * capsule[:bins], dtype=np.complex64)

    def _add_noise(self, out: NDArray[np.float32]) -> None:
        """Add noise, stretches of a loop that fade into one another, and hum."""
        fade = self.rate // 10
        rise = np.sin(np.linspace(0.0, math.pi / 2, fade, dtype=np.float32))
        for channel, loop in enumerate(self.noise):
            place = 0
            while place < out.shape[1]:
                start = int(self.rng.integers(0, loop.size // 3))
                piece = np.float32(self.scene.noise_rms) * loop[start:]
                if place:
                    piece[:fade] *= rise
                piece[-fade:] *= rise[::-1]
                _add(out[channel], piece, place, float(self.rng.choice([-1.0, 1.0])))
                place += piece.size - fade
        if self.scene.hum_rms > 0.0:
            hum = mains_hum(self.rng, self.rate, self.scene.mains_hz) * np.float32(self.scene.hum_rms)
            for start in range(0, out.shape[1], self.rate):
                out[:, start : start + self.rate] += hum[: out.shape[1] - start]


def hard_strike_peak(rng: np.random.Generator, court: CourtSound, phone: RecordingPhone) -> float:
    """Return the usual peak of a hard strike at the phone, reflections included, before any gain.

    Ten strikes that close at 22 m/s about the court are mixed by themselves and the middle peak taken.
    """
    places = np.column_stack(
        [rng.uniform(0.7, 5.7, 10), rng.uniform(2.5, 9.2, 10), rng.uniform(0.2, 1.6, 10)]
    )
    impacts = [
        CourtImpact(0.3 + 0.9 * i, Surface.RACKET, (float(x), float(y), float(z)), 22.0, i % 2)
        for i, (x, y, z) in enumerate(places)
    ]
    alone = MixedScene(BLOCK_S, [replace(court, impacts=impacts)])
    wave = np.abs(SceneMixer(rng, alone, phone).mix()[0])
    rate = phone.inner_rate
    arrive = [round((i.time_s + court.path.travel_s(i.place)) * rate) for i in impacts]
    return float(np.median([wave[i : i + round(0.04 * rate)].max() for i in arrive]))
