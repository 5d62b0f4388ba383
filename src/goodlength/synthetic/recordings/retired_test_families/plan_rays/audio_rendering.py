"""Render the sound at the microphone block by block: impacts, reflections, late reverberation, voices,
noise.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft
from scipy.signal import resample_poly

from goodlength.court.dimensions import LENGTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.retired_test_families.plan_rays.impact_synthesis import Body, sound_of
from goodlength.synthetic.recordings.retired_test_families.plan_rays.phone_audio_effects import (
    Phone,
    microphone,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.room_acoustics import (
    SOUND_M_S,
    Room,
    barrier,
    late_field,
    late_to_direct,
    minimum_phase,
    walk_rays,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.voice_synthesis import VOICE_RATE
from goodlength.synthetic.recordings.test_family_films.rally_play.rally_simulation import Hit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from goodlength.synthetic.recordings.test_family_films.rally_play.ball_flight import Point

BLOCK_S = 8
EVENT_S = 0.17
MOST_EARLY_M = 55.0


@dataclass(frozen=True)
class Path:
    """The way of a court's sound to the phone.

    It leaves the court at `portal` (the top of the back wall, the door's gap, the glass), goes `beyond_m`
    further, and passes a barrier: a low pass in Hz with its slope in dB an octave and its deepest loss.
    `gain` is a factor on all of it, `late` one on the late field, `early` one on reflections, `thump` what
    comes through the building as shaking below 200 Hz.
    """

    portal: Point
    beyond_m: float
    low_pass_hz: float
    slope_db: float
    deepest_db: float
    gain: float = 1.0
    late: float = 0.7
    early: float = 1.0
    thump: float = 0.0

    def length_m(self, place: Point) -> float:
        """Return the way from a place on the court to the phone, the truth's travel."""
        return math.dist(place, self.portal) + self.beyond_m


@dataclass(frozen=True)
class PlanRayCourt:
    """One court: its impacts in the court's time, bodies, room, and way to the phone."""

    hits: list[Hit]
    bodies: dict[str, Body]
    room: Room
    path: Path
    own: bool


@dataclass
class Scene:
    """All that is heard: courts, voices beside the phone and on the court, noise and hum."""

    seconds: int
    courts: list[PlanRayCourt]
    near: NDArray[np.float32] | None = None
    inside: NDArray[np.float32] | None = None
    noise_rms: float = 0.0
    noise_slope: float = 1.0
    hum: tuple[float, float] = (50.0, 0.0)
    gallery: Room | None = None


def body_name(hit: Hit) -> str:
    """Return the body that an impact strikes."""
    if hit.sound:
        return hit.sound
    if hit.surface is Surface.RACKET:
        return f"racket{hit.striker or 0}"
    if hit.surface is Surface.OTHER_WALL:
        return "back" if hit.place[1] > LENGTH_M - 0.1 else "side"
    return {Surface.FRONT_WALL: "front", Surface.FLOOR: "floor", Surface.TIN: "tin"}[hit.surface]


def _path_filter(path: Path, size: int, rate: int) -> NDArray[np.complex64]:
    return barrier(size, rate, path.low_pass_hz, path.slope_db, path.deepest_db)


def _event_waves(
    rng: np.random.Generator, court: PlanRayCourt, hits: list[Hit], rate: int
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Return direct waves, dull ones for reflections, dry ones for the late field, shape (n, samples)."""
    size = 2 * scipy.fft.next_fast_len(int(EVENT_S * rate / 2), real=True)
    spectra = np.zeros((len(hits), size // 2 + 1), dtype=np.complex64)
    names = [body_name(h) for h in hits]
    for name in sorted(set(names)):
        rows = [i for i, n in enumerate(names) if n == name]
        spectra[rows] = sound_of(rng, court.bodies[name], name, [hits[i].speed_m_s for i in rows], rate, size)
    passed = _path_filter(court.path, size, rate)
    dull = barrier(size, rate, 5500.0, 4.0)
    fade = np.ones(size, dtype=np.float32)
    fade[-(size // 8) :] = np.linspace(1.0, 0.0, size // 8)
    direct = scipy.fft.irfft(spectra * passed, size) * fade
    return (
        direct,
        scipy.fft.irfft(spectra * passed * dull, size) * fade,
        scipy.fft.irfft(spectra, size) * fade,
    )


def _add(out: NDArray[np.float32], wave: NDArray[np.float32], place: float, gain: float) -> None:
    """Add a wave at a place between samples, shared linearly between the two nearest."""
    start = int(place)
    part = place - start
    if start >= 0 and start + wave.size + 1 < out.size:
        out[start : start + wave.size] += np.float32(gain * (1.0 - part)) * wave
        out[start + 1 : start + 1 + wave.size] += np.float32(gain * part) * wave


class Renderer:
    """Renders a scene through a phone's microphone into samples of shape (channels, n)."""

    def __init__(self, rng: np.random.Generator, scene: Scene, phone: Phone) -> None:
        self.rng, self.scene, self.phone = rng, scene, phone
        self.rate = phone.inner_rate
        rooms = [c.room for c in scene.courts] + ([scene.gallery] if scene.gallery else [])
        longest = max([float(r.decay_s[2:].max()) for r in rooms], default=0.3)
        self.tail = int(min(0.8 * longest, 3.2) * self.rate)
        self.block = BLOCK_S * self.rate
        early = int((EVENT_S * 1.3 + MOST_EARLY_M / SOUND_M_S + 0.1) * self.rate)
        self.buffer = self.block + early
        self.size = 2 * int(scipy.fft.next_fast_len((self.buffer + self.tail) // 2 + 1, real=True))
        self.noise_left: dict[int, NDArray[np.float32]] = {}
        self.responses = self._responses()
        self.times = [[h.time_s for h in c.hits] for c in scene.courts]

    def _microphones(self) -> list[NDArray[np.complex64]]:
        """Return each channel's response: the second lies centimetres off, at times wired the other way."""
        plain = minimum_phase(microphone(self.phone, self.size))
        hz = np.fft.rfftfreq(self.size, 1.0 / self.rate)
        late = float(self.rng.uniform(0.0, 4e-4)) if self.phone.phase in {"delay", "any"} else 0.0
        turn = {"opposite": math.pi, "any": float(self.rng.uniform(-math.pi, math.pi))}.get(
            self.phone.phase, 0.0
        )
        gain = float(self.rng.uniform(0.6, 1.0))
        second = plain * gain * np.exp(-1j * (2 * math.pi * hz * late + turn))
        return [m.astype(np.complex64) for m in (plain, second)[: self.phone.channels]]

    def _responses(self) -> list[list[NDArray[np.complex64]]]:
        """Return, per channel, the responses: direct, courts' late fields, voices near and inside, noise."""
        rate, size = self.rate, self.size
        out = []
        for mic in self._microphones():
            row = [mic]
            for court in self.scene.courts:
                late = scipy.fft.rfft(late_field(self.rng, court.room, rate, self.tail), size)
                row.append(late * _path_filter(court.path, size, rate) * mic)
            row.append(self._voice_response(self.scene.gallery, 0.35) * mic)
            row.append(self._inside_response() * mic)
            row.append(self._noise_response(mic))
            out.append([r.astype(np.complex64) for r in row])
        return out

    def _voice_response(self, room: Room | None, wet: float) -> NDArray[np.complex64]:
        if room is None:
            return np.ones(self.size // 2 + 1, dtype=np.complex64)
        late = scipy.fft.rfft(late_field(self.rng, room, self.rate, self.tail), self.size)
        return np.asarray(1.0 + wet * late, dtype=np.complex64)

    def _inside_response(self) -> NDArray[np.complex64]:
        if not self.scene.courts or self.scene.inside is None:
            return np.ones(self.size // 2 + 1, dtype=np.complex64)
        court = self.scene.courts[0]
        late = scipy.fft.rfft(late_field(self.rng, court.room, self.rate, self.tail), self.size)
        passed = _path_filter(court.path, self.size, self.rate)
        return np.asarray((0.4 + late) * passed, dtype=np.complex64)

    def _noise_response(self, mic: NDArray[np.complex64]) -> NDArray[np.complex64]:
        hz = np.fft.rfftfreq(self.size, 1.0 / self.rate)
        shape = (np.maximum(hz, 30.0) / 1000.0) ** (-0.5 * self.scene.noise_slope) * np.abs(mic)
        shape = shape / math.sqrt(float(np.mean(shape**2)))
        return np.asarray(shape * self.scene.noise_rms, dtype=np.complex64)

    def render(self) -> NDArray[np.float32]:
        """Return the whole scene; memory is the samples and one block."""
        total = self.scene.seconds * self.rate
        out = np.zeros((self.phone.channels, total), dtype=np.float32)
        for start in range(0, total, self.block):
            buses = self._buses(start)
            spectra = [None if b is None else scipy.fft.rfft(b, self.size) for b in buses]
            for channel, row in enumerate(self.responses):
                mixed = sum(s * r for s, r in zip(spectra, row, strict=False) if s is not None)
                wave = scipy.fft.irfft(mixed, self.size) if not isinstance(mixed, int) else None
                end = min(start + self.size, total)
                if wave is not None:
                    out[channel, start:end] += wave[: end - start].astype(np.float32)
                self._noise(out[channel, start : start + self.block], row[-1], channel)
        return out

    def _buses(self, start: int) -> list[NDArray[np.float32] | None]:
        direct = np.zeros(self.buffer, dtype=np.float32)
        buses: list[NDArray[np.float32] | None] = [direct]
        for i, court in enumerate(self.scene.courts):
            first = bisect.bisect_left(self.times[i], start / self.rate)
            last = bisect.bisect_left(self.times[i], (start + self.block) / self.rate)
            buses.append(self._court(court, court.hits[first:last], start, direct))
        buses.append(self._voices(self.scene.near, start))
        buses.append(self._voices(self.scene.inside, start))
        return buses

    def _court(
        self, court: PlanRayCourt, hits: list[Hit], start: int, direct: NDArray[np.float32]
    ) -> NDArray[np.float32] | None:
        """Add direct sound and early reflections of a block's impacts; return what feeds the late field."""
        if not hits:
            return None
        late = np.zeros(self.buffer, dtype=np.float32)
        bright, dull, dry = _event_waves(self.rng, court, hits, self.rate)
        path = court.path
        plan = np.array([h.place[:2] for h in hits])
        ear = (path.portal[0], min(path.portal[1], LENGTH_M - 0.05))
        taps = walk_rays(self.rng, court.room, plan, ear)
        wet = path.late * late_to_direct(court.room, 1.0) * path.gain
        for i, hit in enumerate(hits):
            place = hit.time_s * self.rate - start
            way = path.length_m(hit.place)
            gain = path.gain / max(way, 0.5)
            travel = way / SOUND_M_S * self.rate
            _add(direct, bright[i], place + travel, gain)
            for extra, tap in zip(taps.extra_m[i], taps.gain[i], strict=True):
                if tap > 0.0 and extra < MOST_EARLY_M:
                    _add(
                        direct,
                        dull[i],
                        place + travel + extra / SOUND_M_S * self.rate,
                        gain * tap * path.early,
                    )
            _add(late, dry[i], place + travel, wet)
            if path.thump > 0.0:
                self._thump(direct, hit, place, gain * path.thump, way)
        return late

    def _thump(self, direct: NDArray[np.float32], hit: Hit, place: float, gain: float, way: float) -> None:
        """Add what wall and floor carry: a low shake at 340 to 700 m/s (ASSUMED), nothing from a racket."""
        if hit.surface is Surface.RACKET:
            return
        time = np.arange(int(0.12 * self.rate)) / self.rate
        hz = float(self.rng.uniform(35.0, 190.0))
        decay = float(self.rng.uniform(0.008, 0.035))
        wave = np.sin(2 * math.pi * hz * time) * np.exp(-time / decay)
        arrives = place + way / float(self.rng.uniform(343.0, 700.0)) * self.rate
        _add(direct, wave.astype(np.float32), arrives, gain * (hit.speed_m_s / 20.0))

    def _voices(self, track: NDArray[np.float32] | None, start: int) -> NDArray[np.float32] | None:
        """Return one block of a track of voices at the scene's rate."""
        if track is None:
            return None
        first = start // self.rate * VOICE_RATE
        pad = 160
        piece = track[max(first - pad, 0) : first + BLOCK_S * VOICE_RATE + pad]
        if not np.any(piece):
            return None
        if first == 0:
            piece = np.concatenate([np.zeros(pad, np.float32), piece])
        short = BLOCK_S * VOICE_RATE + 2 * pad - piece.size
        piece = np.concatenate([piece, np.zeros(max(short, 0), np.float32)])
        share = math.gcd(self.rate, VOICE_RATE)
        wave = (
            piece
            if self.rate == VOICE_RATE
            else resample_poly(piece, self.rate // share, VOICE_RATE // share)
        )
        skip = round(pad * self.rate / VOICE_RATE)
        return np.asarray(wave[skip : skip + self.block], dtype=np.float32)

    def _noise(self, out: NDArray[np.float32], response: NDArray[np.complex64], channel: int) -> None:
        """Add noise of the scene's colour, and hum, to one block in place; blocks fade into each other."""
        if self.scene.noise_rms <= 0.0:
            return
        fade = min(self.rate // 20, out.size)
        white = self.rng.standard_normal(self.size, dtype=np.float32)
        wave = scipy.fft.irfft(scipy.fft.rfft(white) * response, self.size)
        before = self.noise_left.get(channel)
        if before is not None:
            angle = np.linspace(0.0, math.pi / 2, fade, dtype=np.float32)
            wave[:fade] = np.sin(angle) * wave[:fade] + np.cos(angle) * before[:fade]
        self.noise_left[channel] = wave[out.size : out.size + self.rate // 20].copy()
        out += wave[: out.size]
        hz, level = self.scene.hum
        if level > 0.0:
            time = np.arange(self.rate // 10) / self.rate
            number = np.array([1.0, 2.0, 3.0, 4.0, 6.0])[:, None]
            table = (np.sin(2 * math.pi * number * hz * time + number**2) / number).sum(axis=0)
            out += np.resize((level * table).astype(np.float32), out.size)


def reference_peak(rng: np.random.Generator, court: PlanRayCourt, phone: Phone) -> float:
    """Return the usual peak of a hard strike at the phone, reflections included, before any gain.

    Twelve strikes of 26 m/s about the court are rendered by themselves and the middle peak taken.
    """
    places = np.column_stack(
        [rng.uniform(0.8, 5.6, 12), rng.uniform(3.0, 9.0, 12), rng.uniform(0.3, 1.8, 12)]
    )
    hits = [
        Hit(0.3 + 0.6 * i, Surface.RACKET, (float(x), float(y), float(z)), 26.0, i % 2)
        for i, (x, y, z) in enumerate(places)
    ]
    alone = Scene(BLOCK_S, [replace(court, hits=hits)])
    wave = np.abs(Renderer(rng, alone, phone).render()[0])
    rate = phone.inner_rate
    arrive = [round((h.time_s + court.path.length_m(h.place) / SOUND_M_S) * rate) for h in hits]
    return float(np.median([wave[i : i + round(0.04 * rate)].max() for i in arrive]))
