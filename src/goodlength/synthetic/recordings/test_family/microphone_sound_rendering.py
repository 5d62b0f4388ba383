"""Render a scene at the microphone block by block: direct and early sound, late noise, voices, hum.

Each impact is made by itself; its early echo is that of the nearest spot. Late echo is added for three zones
at half the rate where that is enough. Memory is the samples and one block.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft

from goodlength.court.dimensions import LENGTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.test_family.all_pole_filters import all_pole
from goodlength.synthetic.recordings.test_family.court_to_phone_sound_filter import WayToPhone
from goodlength.synthetic.recordings.test_family.formant_grain_voice_synthesis import SPEECH_RATE
from goodlength.synthetic.recordings.test_family.hall_background_sounds import colour_noise, mains_hum
from goodlength.synthetic.recordings.test_family.impact_sound_synthesis import (
    VARIANTS,
    StruckBody,
    impact_sound,
    squeak_sound,
)
from goodlength.synthetic.recordings.test_family.phone_recording_chain import PocketRecorder, channel_taps
from goodlength.synthetic.recordings.test_family.ray_traced_room_acoustics import (
    CourtEcho,
    CourtRoom,
    court_echo,
    spot_of,
    zone_of,
)
from goodlength.synthetic.recordings.test_family.shot_flight_timing import CourtMoment

if TYPE_CHECKING:
    from numpy.typing import NDArray

BLOCK_S = 15
EDGE_S = 0.7  # travel, early echo and ringing of a block's last impacts
NOISE_S = 37.0


def late_rate(rate: int) -> int:
    """Return the rate at which late echo is worked out."""
    return rate if rate <= 24000 else rate // 2


@dataclass(frozen=True)
class SoundingCourt:
    """A court: its impacts in order of time, bodies, echo, way to the phone; `own` or a neighbour's."""

    moments: list[CourtMoment]
    bodies: dict[str, StruckBody]
    room: CourtRoom
    echo: CourtEcho
    way: WayToPhone
    own: bool


@dataclass
class MicrophoneScene:
    """All that reaches the phone: courts, voices near it and inside at `SPEECH_RATE`, noise, hum."""

    seconds: int
    courts: list[SoundingCourt]
    near: NDArray[np.float32] | None = None
    inside: NDArray[np.float32] | None = None
    noise_rms: float = 0.0
    noise_slope: float = 1.0
    hum_rms: float = 0.0


def echo_of(
    rng: np.random.Generator, room: CourtRoom, way: WayToPhone, recorder: PocketRecorder
) -> CourtEcho:
    """Return the echo of a court at its portal for the rates and channels of a recorder."""
    rate = recorder.inner_rate
    ear = (way.portal[0], min(way.portal[1], LENGTH_M - 0.06), min(way.portal[2], room.height_m - 0.1))
    return court_echo(rng, room, ear, (rate, late_rate(rate)), recorder.channels)


def _put(out: NDArray[np.float32], wave: NDArray[np.float32], at: int, gain: float) -> None:
    skip, end = max(-at, 0), min(at + wave.size, out.size)
    if end > at + skip:
        out[at + skip : end] += np.float32(gain) * wave[skip : end - at]


class MicrophoneRenderer:
    """Renders a scene through a recorder's capsules into samples of shape (channels, n)."""

    def __init__(self, rng: np.random.Generator, scene: MicrophoneScene, recorder: PocketRecorder) -> None:
        self.rng, self.scene, self.recorder = rng, scene, recorder
        self.rate = recorder.inner_rate
        self.late = late_rate(self.rate)
        tail = max((c.echo.late.shape[2] / self.late for c in scene.courts), default=0.1)
        step = scipy.fft.next_fast_len(math.ceil(50.0 * (BLOCK_S + EDGE_S + tail + 0.1)), real=True)
        self.size, self.late_size = step * self.rate // 50, step * self.late // 50
        self.times = [[m.time_s for m in c.moments] for c in scene.courts]
        rates = ((self.rate, self.size), (self.late, self.late_size))
        self.capsules = [
            scipy.fft.rfft(channel_taps(recorder, c, self.rate), self.size) for c in range(recorder.channels)
        ]
        self.ways = [
            [scipy.fft.rfft(all_pole(c.way.level_db, r).astype(np.float32), n) for r, n in rates]
            for c in scene.courts
        ]
        self.echoes = [
            [scipy.fft.rfft(zones, self.late_size, axis=1) for zones in c.echo.late] for c in scene.courts
        ]

    def render(self) -> NDArray[np.float32]:
        """Return the scene's samples, shape (channels, n)."""
        count = self.scene.seconds * self.rate
        out = np.zeros((self.recorder.channels, count), dtype=np.float32)
        for first_s in range(0, self.scene.seconds, BLOCK_S):
            self._block(out, first_s)
        self._add_noise(out)
        return out

    def _block(self, out: NDArray[np.float32], first_s: int) -> None:
        spectra = [np.zeros(self.size // 2 + 1, dtype=np.complex64) for _ in range(self.recorder.channels)]
        sounds = False
        for number, court in enumerate(self.scene.courts):
            low = bisect.bisect_left(self.times[number], first_s)
            high = bisect.bisect_left(self.times[number], first_s + BLOCK_S)
            if high > low:
                sounds = True
                self._add_court(spectra, number, court, court.moments[low:high], first_s)
        for kind, track in (("near", self.scene.near), ("inside", self.scene.inside)):
            if track is not None:
                sounds |= self._add_voices(spectra, kind, track, first_s)
        if not sounds:
            return
        for channel, spectrum in enumerate(spectra):
            wave = scipy.fft.irfft(spectrum * self.capsules[channel], self.size)
            _put(out[channel], wave, first_s * self.rate, 1.0)

    def _add_court(
        self,
        spectra: list[NDArray[np.complex64]],
        number: int,
        court: SoundingCourt,
        moments: list[CourtMoment],
        first_s: int,
    ) -> None:
        dry = np.zeros(self.size, dtype=np.float32)
        zones = np.zeros((3, self.late_size), dtype=np.float32)
        ratio = self.rate // self.late
        way = court.way
        for moment in moments:
            wave = self._impact(court, moment)
            arrives = (moment.time_s - first_s + way.travel_s(moment.place)) * self.rate
            at = math.floor(arrives)
            beyond = max(way.beyond_m, 0.3)
            far = max(math.dist(moment.place, way.portal), 0.5)
            # What goes on beyond the portal spreads further; the echo spreads from the portal only.
            spread = 1.0 / (1.0 + beyond / 3.0)
            _put(dry, wave, at, way.gain * way.direct / (far + beyond))
            if moment.surface is not Surface.FOOT:
                self._add_early(dry, wave, at, spot_of(moment.place), way.gain * way.late * spread, court)
            coarse = (
                wave
                if ratio == 1
                else 0.5 * (wave[: wave.size // 2 * 2 : 2] + wave[1 : wave.size // 2 * 2 : 2])
            )
            start = at - round(far / 343.5 * self.rate)
            _put(zones[zone_of(moment.place)], coarse, start // ratio, way.gain * way.late * spread * ratio)
        spectra_dry = scipy.fft.rfft(dry) * self.ways[number][0]
        late = scipy.fft.rfft(zones, axis=1)
        for channel, whole in enumerate(spectra):
            both = (late * self.echoes[number][channel]).sum(axis=0) * self.ways[number][1]
            # Both transforms span the same time, so that their bins are the same frequencies.
            np.add(whole, spectra_dry, out=whole)
            whole[: both.size] += both

    def _impact(self, court: SoundingCourt, moment: CourtMoment) -> NDArray[np.float32]:
        if moment.body == "squeak":
            return squeak_sound(self.rng, self.rate, moment.speed_m_s)
        body = court.bodies[moment.body]
        spot = int(1.7 * moment.place[0] + 2.3 * moment.place[1] + 1.3 * moment.place[2])
        variant = (
            spot % VARIANTS if moment.surface is not Surface.RACKET else int(self.rng.integers(0, VARIANTS))
        )
        return impact_sound(self.rng, body, moment.speed_m_s, variant)

    def _add_early(
        self,
        dry: NDArray[np.float32],
        wave: NDArray[np.float32],
        at: int,
        spot: int,
        gain: float,
        court: SoundingCourt,
    ) -> None:
        early = court.echo.early[spot]
        size = scipy.fft.next_fast_len(wave.size + early.size, real=True)
        both = scipy.fft.rfft(wave, size) * scipy.fft.rfft(early, size)
        _put(dry, scipy.fft.irfft(both, size)[: wave.size + early.size], at, gain)

    def _add_voices(
        self, spectra: list[NDArray[np.complex64]], kind: str, track: NDArray[np.float32], first_s: int
    ) -> bool:
        piece = track[first_s * SPEECH_RATE : (first_s + BLOCK_S) * SPEECH_RATE]
        if not piece.size or float(np.abs(piece).max()) < 1e-7:
            return False
        size = self.size // self.rate * SPEECH_RATE + (self.size % self.rate) * SPEECH_RATE // self.rate
        spectrum = scipy.fft.rfft(piece, size) * np.float32(self.rate / SPEECH_RATE)
        bins = min(spectrum.size, self.size // 2 + 1)
        for channel, whole in enumerate(spectra):
            response = self._room_voice(kind, channel, bins)
            whole[:bins] += spectrum[:bins] * response
        return True

    def _room_voice(self, kind: str, channel: int, bins: int) -> NDArray[np.complex64]:
        """Return what a voice goes through: a little echo near the phone, the court's way inside it."""
        if not self.scene.courts:
            return np.ones(bins, dtype=np.complex64)
        court = self.scene.courts[0]
        out = np.ones(bins, dtype=np.complex64)
        if kind == "inside":
            out *= np.float32(0.15) * self.ways[0][0][:bins]
        share = np.float32((1.0 if kind == "inside" else 0.25) * court.way.late)
        late = self.echoes[0][channel][1][:bins] * share
        if kind == "inside":
            late = late * self.ways[0][1][: late.size]
        out[: late.size] += late
        return out

    def _add_noise(self, out: NDArray[np.float32]) -> None:
        if self.scene.noise_rms > 0.0:
            for channel in out:
                loop = np.float32(self.scene.noise_rms) * colour_noise(
                    self.rng, self.rate, NOISE_S, self.scene.noise_slope
                )
                start, place = int(self.rng.integers(0, loop.size)), 0
                while place < channel.size:
                    piece = loop[start : start + channel.size - place]
                    channel[place : place + piece.size] += piece
                    place, start = place + piece.size, 0
        if self.scene.hum_rms > 0.0:
            hum = np.float32(self.scene.hum_rms) * mains_hum(self.rng, self.rate)
            for place in range(0, out.shape[1], self.rate):
                out[:, place : place + self.rate] += hum[: out.shape[1] - place]


def usual_peak(rng: np.random.Generator, court: SoundingCourt, recorder: PocketRecorder) -> float:
    """Return the usual peak of a hard strike at the phone before any gain: the middle of nine strikes."""
    moments = [
        CourtMoment(
            0.3 + 1.1 * i,
            Surface.RACKET,
            (float(rng.uniform(0.7, 5.7)), float(rng.uniform(2.5, 9.2)), float(rng.uniform(0.3, 1.6))),
            22.0,
            f"racket{i % 2}",
            i % 2,
        )
        for i in range(9)
    ]
    alone = MicrophoneScene(11, [replace(court, moments=moments)])
    wave = np.abs(MicrophoneRenderer(rng, alone, recorder).render()[0])
    rate = recorder.inner_rate
    starts = [round((m.time_s + court.way.travel_s(m.place)) * rate) for m in moments]
    return float(np.median([wave[s : s + rate // 25].max() for s in starts]))
