"""The sixth learning family: impacts as pulses of contact sent through waveguides, echo of sparse pulses.

A contact is a short push, shorter and brighter the harder it is. It runs round one to three delay loops that
lose their high tones at every turn (a string, a bar, a cavity), some of them dispersive, and a part goes past
them. The echo is a train of single pulses that grows denser, with the first walls standing out. Play comes
from flights or from random processes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.recording_types import Surface, WorldContact, WorldRecording
from goodlength.synthetic.recordings.session_recording import RATE, record_session
from goodlength.synthetic.recordings.training_background_levels import CONDITIONS, Setting
from goodlength.synthetic.recordings.training_flights.simulated_flight_play import FlightSession
from goodlength.synthetic.recordings.training_random_session_play import PlayedSession, RandomSession

Wave = NDArray[np.float32]
FAMILY = "learning waveguides"
TAKES, HARDNESSES, DB_A_HARDNESS = 4, 4, 6.0
# Mean level beside a racket in dB: lowest, highest, ASSUMED
LEVELS = {
    Surface.RACKET: (-2, 2),
    Surface.FRONT_WALL: (-14, 7),
    Surface.OTHER_WALL: (-18, 3),
    Surface.FLOOR: (-24, 0),
    Surface.TIN: (-6, 8),
    Surface.OTHER: (-14, 4),
}
LONGEST_S = {Surface.TIN: 0.2}


@dataclass(frozen=True)
class ImpactBody:
    """What is struck: its contact time in s, how much hardness shortens it, its loops, what goes past them.

    A loop is a delay in s, the share kept at each turn, how dull it is, its dispersion and its share.
    """

    contact_s: float
    shortened: float
    loops: tuple[tuple[float, float, float, float, float], ...]
    past: float
    rough: float


def draw_body(rng: np.random.Generator, longest_s: float) -> ImpactBody:
    """Return a body of any kind; `longest_s` bounds how long it rings."""
    loops = []
    for _ in range(int(rng.integers(1, 4))):
        delay = float(np.exp(rng.uniform(np.log(1 / 4000), np.log(1 / 120))))
        ring = float(np.exp(rng.uniform(np.log(0.0015), np.log(longest_s))))
        feedback = float(10 ** (-3 * delay / ring))
        loops.append(
            (delay, feedback, float(rng.uniform(0, 0.6)), float(rng.uniform(-0.7, 0.7)), float(rng.random()))
        )
    return ImpactBody(
        contact_s=float(np.exp(rng.uniform(np.log(1.5e-4), np.log(4e-3)))),
        shortened=float(rng.uniform(0, 0.5)),
        loops=tuple(loops),
        past=float(rng.uniform(0, 1.2)),
        rough=float(rng.uniform(0, 0.7)),
    )


def impact_wave(rng: np.random.Generator, body: ImpactBody, hardness: float) -> Wave:
    """Return an impact on a body, with its peak at 1; `hardness` is 0 for a usual one, in doublings."""
    contact = body.contact_s * 2 ** (-body.shortened * hardness)
    push = np.sin(np.pi * np.arange(1, max(2, round(contact * RATE)) + 1) / (max(2, contact * RATE) + 1))
    push = push * (1 + body.rough * rng.standard_normal(len(push)))
    count = round((0.02 + max(-3 * d / np.log10(k + 1e-9) for d, k, *_ in body.loops)) * RATE)
    drive = np.zeros(min(count, RATE // 2) + len(push))
    drive[: len(push)] = push
    wave = body.past * drive
    for delay, feedback, dull, dispersion, share in body.loops:
        turn = max(2, round(delay * float(np.exp(rng.normal(0, 0.01))) * RATE))
        denominator = np.zeros(turn + 2)
        denominator[0] = 1.0
        denominator[turn : turn + 2] -= feedback * np.array([1 - dull, dull])
        loop = signal.lfilter([1.0], denominator, drive)
        wave = wave + share * signal.lfilter([dispersion, 1.0], [1.0, dispersion], loop)
    wave = wave - np.convolve(wave, np.full(65, 1 / 65), mode="same") * float(rng.uniform(0, 1))
    return hall_background_sounds.unit_peak(wave * np.minimum(1, np.arange(len(wave))[::-1] / 48))


class WaveguideHall:
    """The bodies of a recording's surfaces, by hardness, and its echo."""

    def __init__(self, rng: np.random.Generator, setting: Setting) -> None:
        self.rng = rng
        self.level = {surface: float(rng.uniform(*pair)) for surface, pair in LEVELS.items()}
        self.sounds = {}
        shared = draw_body(rng, 0.03)
        for surface in LEVELS:
            body = shared if rng.random() < 0.1 else draw_body(rng, LONGEST_S.get(surface, 0.04))
            self.sounds[surface] = [
                [impact_wave(rng, body, hard - 1.5) for _ in range(TAKES)] for hard in range(HARDNESSES)
            ]
        self.late = sparse_echo(rng, setting.t60_s, setting.wet_db)

    def render(self, session: PlayedSession, count: int) -> tuple[Wave, list[WorldContact]]:
        """Return the session's sound without the late echo, and its truth."""
        rng = self.rng
        out, contacts = np.zeros(count, np.float32), []
        for knock in session.knocks:
            surface = knock.surface if knock.surface in self.sounds else Surface.OTHER
            hard = int(np.clip(round(2 + knock.level_db / DB_A_HARDNESS), 0, HARDNESSES - 1))
            wave = self.sounds[surface][hard][int(rng.integers(TAKES))]
            begin = round(knock.time_s * RATE)
            if 0 <= begin < count - len(wave):
                gain = 10 ** ((self.level[surface] + knock.level_db) / 20)
                out[begin : begin + len(wave)] += np.float32(gain) * wave
                contacts.append(WorldContact(knock.time_s, knock.surface, knock.striker))
        return out, contacts


def sparse_echo(rng: np.random.Generator, t60_s: float, wet_db: float) -> Wave:
    """Return the direct sound and single pulses, denser and duller with time, the first walls louder."""
    count = round(min(2.5, 0.9 * t60_s + 0.05) * RATE)
    out = np.zeros(count)
    density = float(np.exp(rng.uniform(np.log(300), np.log(4000))))
    at = np.sort(rng.random(round(density * count / RATE)) ** float(rng.uniform(0.6, 1.0)) * count)
    place = np.minimum(at.astype(np.int64), count - 1)
    np.add.at(out, place, rng.choice([-1.0, 1.0], len(place)) * 10 ** (-3 * place / RATE / t60_s))
    dull = signal.lfilter([0.35], [1, -0.65], out)
    bright = np.exp(-np.arange(count) / RATE / (float(rng.uniform(0.05, 0.6)) * t60_s))
    out = bright * out + (1 - bright) * dull
    out *= 10 ** ((wet_db + float(rng.uniform(-4, 16))) / 20) / (np.sqrt((out**2).sum()) + 1e-9)
    loud = float(rng.uniform(0.0, 0.8))
    for first_s in rng.uniform(0.001, 0.06, int(rng.integers(0, 7))).tolist():
        k = round(first_s * RATE)
        if k < count:
            out[k] += loud * float(rng.choice([-1, 1]) * rng.random()) * float(np.exp(-first_s / 0.05))
    out[0] = 1.0
    return np.asarray(out, np.float32)


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    play = FlightSession if rng.random() < 0.6 else RandomSession
    return record_session(rng, FAMILY, condition, seconds, play, WaveguideHall)
