"""Second training family: play as a random rhythm, impacts as shaped noise bursts, no room geometry.

Written apart from the first: the gaps between strikes, and what is touched between them, come from
distributions drawn for the recording; an impact is noise of any spectrum with any rise and fall, resonances
far apart, perhaps struck twice; the hall is a scatter of echoes and a fading noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.image_source_family_match_play import Played
from goodlength.synthetic.recordings.phone_recording_chain import draw_chain, record_through
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)
from goodlength.synthetic.recordings.training_background_levels import (
    CONDITIONS,
    Setting,
    draw_setting,
)
from goodlength.synthetic.recordings.training_family_image_source import add_to_pauses

Wave = NDArray[np.float32]
FAMILY = "learning bursts"
RATE = 16_000
TAKES = 6
# Mean level beside a racket in dB: lowest, highest, ASSUMED
LEVELS = {
    Surface.RACKET: (-1, 1),
    Surface.FRONT_WALL: (-15, 7),
    Surface.OTHER_WALL: (-18, 3),
    Surface.FLOOR: (-26, -1),
    Surface.TIN: (-8, 6),
    Surface.OTHER: (-15, 3),
}


@dataclass(frozen=True)
class Rhythm:
    """How a recording is played: gaps in seconds, chances, levels in dB."""

    gap_s: float
    gap_spread: float
    out_share: tuple[float, float]
    side: float
    floor: float
    strokes_db: float
    strike_db: float
    serve_db: float
    mean: float
    soft_gap: float


class BurstHall:
    """The bodies of a recording's impacts and its echo."""

    def __init__(self, rng: np.random.Generator, setting: Setting) -> None:
        self.rng = rng
        self.echo = self._echo(setting)
        self.level = {surface: float(rng.uniform(*pair)) for surface, pair in LEVELS.items()}
        alike = float(rng.random()) ** 2  # how alike all surfaces sound here
        common = self._character(None)
        self.takes = {
            surface: [self._burst(surface, c) for c in [self._character(common, alike)] for _ in range(TAKES)]
            for surface in LEVELS
        }

    def _character(
        self, common: dict[str, NDArray[np.float64]] | None, alike: float = 0.0
    ) -> dict[str, NDArray[np.float64]]:
        """Return what a surface sounds like; `alike` pulls it towards what all share."""
        rng = self.rng
        own = {
            "shape": rng.normal(0, 7, 10) + np.linspace(0, float(rng.uniform(-30, 12)), 10),
            "bumps": np.exp(rng.uniform(np.log(150), np.log(7000), int(rng.integers(0, 5)))),
            "times": np.exp(rng.uniform(np.log([1e-4, 8e-4, 2e-3]), np.log([3e-3, 3e-2, 6e-2]))),
            "shares": rng.uniform(0, 1.0, 3),
        }
        if common is not None:
            own["shape"] = alike * common["shape"] + (1 - alike) * own["shape"]
        return own

    def _burst(self, surface: Surface, c: dict[str, NDArray[np.float64]]) -> Wave:
        rng = self.rng
        rise, fall, ring = c["times"].tolist()
        ring = ring * 4 if surface is Surface.TIN else ring
        count = round((rise + max(6 * fall, 6 * ring) + 0.005) * RATE)
        count = min(max(count, 200), RATE // 2)
        t = np.arange(count) / RATE
        noise = hall_background_sounds.shaped_noise(rng, count, RATE, c["shape"] + rng.normal(0, 1.5, 10))
        wave = noise * np.minimum(1, t / rise) * np.exp(-np.maximum(0, t - rise) / fall)
        for pitch in c["bumps"] * np.exp(rng.normal(0, 0.02, len(c["bumps"]))):
            tone = np.sin(2 * np.pi * pitch * t + rng.uniform(0, 6.28)) * np.exp(-t / ring)
            wave += 2 * c["shares"][0] * tone * np.minimum(1, t / rise)
        if c["shares"][1] > 0.75:  # struck twice
            late = round((0.002 + 0.012 * c["shares"][2]) * RATE)
            wave[late:] += 0.6 * wave[: count - late]
        wave *= np.minimum(1, (t[-1] - t) / 0.002)
        return hall_background_sounds.unit_peak(wave)

    def _echo(self, setting: Setting) -> Wave:
        rng = self.rng
        count = round(min(2.0, 0.9 * setting.t60_s) * RATE)
        t = np.arange(count) / RATE
        shape = np.cumsum(rng.normal(-2, 3, 7))
        out = hall_background_sounds.shaped_noise(rng, count, RATE, shape) * 10 ** (-3 * t / setting.t60_s)
        high = hall_background_sounds.shaped_noise(rng, count, RATE, shape[::-1] - 6)
        out = out + high * 10 ** (-3 * t / (setting.t60_s * float(rng.uniform(0.2, 0.8))))
        out *= np.minimum(1, t / float(rng.uniform(0.004, 0.08)))
        out *= 10 ** (setting.wet_db / 20) * 3 / (np.sqrt((out**2).sum()) + 1e-9)
        out[0] = 1.0
        for at in rng.gamma(2, 0.008, int(rng.integers(2, 20))):
            place = round(float(at + 0.0015) * RATE)
            if place < count:
                out[place] += float(rng.uniform(-0.7, 0.7)) * np.exp(-at / 0.03)
        return np.asarray(out, np.float32)

    def strike(self, out: Wave, surface: Surface, at_s: float, db: float) -> None:
        """Add an impact whose rise begins at a moment."""
        takes = self.takes[surface]
        wave = takes[int(self.rng.integers(len(takes)))]
        begin = round(at_s * RATE)
        if 0 <= begin < len(out) - len(wave):
            out[begin : begin + len(wave)] += np.float32(10 ** ((self.level[surface] + db) / 20)) * wave


class Rounds:
    """Plays a recording by its rhythm, writing sound and truth at once."""

    def __init__(self, rng: np.random.Generator, hall: BurstHall, setting: Setting, out: Wave) -> None:
        low = float(rng.uniform(0.12, 0.4))
        self.rng, self.hall, self.setting, self.out = rng, hall, setting, out
        self.rhythm = Rhythm(
            gap_s=float(np.exp(rng.uniform(np.log(0.9), np.log(1.8)))),
            gap_spread=float(rng.uniform(0.12, 0.4)),
            out_share=(low, low + float(rng.uniform(0.05, 0.35))),
            side=float(rng.uniform(0.05, 0.8)),
            floor=float(rng.uniform(0.3, 1.0)),
            strokes_db=float(rng.uniform(1, 6)),
            strike_db=float(rng.uniform(0.5, 3)),
            serve_db=float(rng.uniform(-11, 2)),
            mean=setting.rally_mean,
            soft_gap=float(rng.uniform(0.0, 0.4)),
        )
        self.contacts: list[WorldContact] = []
        self.played = Played()
        self.at = float(rng.uniform(0, 10))

    def sound(self, surface: Surface, at: float, db: float, striker: int | None = None) -> None:
        """Add an impact and its truth."""
        if 0 <= at < len(self.out) / RATE - 0.6:
            self.hall.strike(self.out, surface, at, db + float(self.rng.normal(0, self.rhythm.strike_db)))
            self.contacts.append(WorldContact(at, surface, striker))

    def gap(self, db: float) -> float:
        """Return the time to the next strike; soft strokes take longer or shorter ones."""
        slow = self.rhythm.soft_gap * max(0.0, -db) / 10 * float(self.rng.choice([-0.5, 1.0]))
        usual = self.rhythm.gap_s * float(np.exp(self.rng.normal(slow, self.rhythm.gap_spread)))
        return float(np.clip(usual, 0.45, 3.4))

    def stroke(self, player: int, db: float, gap: float) -> None:
        """One strike, the front wall, and what is touched before the next."""
        rng, rhythm = self.rng, self.rhythm
        self.sound(Surface.RACKET, self.at, db, player)
        wall = self.at + gap * float(rng.uniform(*rhythm.out_share))
        if rng.random() < 0.08:
            self.sound(Surface.OTHER_WALL, self.at + (wall - self.at) * float(rng.uniform(0.3, 0.8)), db)
        self.sound(Surface.FRONT_WALL, wall, db)
        left = self.at + gap - wall
        if rng.random() < rhythm.side:
            self.sound(Surface.OTHER_WALL, wall + left * float(rng.uniform(0.15, 0.9)), db * 0.7)
        if rng.random() < rhythm.floor:
            self.sound(Surface.FLOOR, wall + left * float(rng.uniform(0.4, 0.95)), db * 0.5)

    def level(self) -> float:
        """Return how loud the next stroke is, beside the usual one."""
        loud = -abs(float(self.rng.normal(0, self.rhythm.strokes_db)))
        return loud * 2 if self.rng.random() < 0.15 else loud

    def rally(self) -> None:
        """Bounces, serve, strokes, and the ball running dead."""
        rng = self.rng
        if rng.random() < 0.6:
            period = float(rng.uniform(0.25, 0.9))
            for _ in range(int(rng.integers(1, 7))):
                kind = Surface.FLOOR if rng.random() < 0.8 else Surface.RACKET
                self.sound(kind, self.at, float(rng.uniform(-18, -3)))
                self.at += period * float(rng.uniform(0.9, 1.1))
            self.at += float(rng.uniform(0.2, 2.5))
        start, player = self.at, int(rng.integers(2))
        last, db = start, self.rhythm.serve_db
        count = max(1, int(rng.negative_binomial(2, 2 / (2 + self.rhythm.mean))))
        for k in range(count):
            last, gap = self.at, self.gap(db)
            if k == count - 1 and rng.random() < 0.3:
                self.sound(Surface.RACKET, self.at, db, player)
                self.at += gap * float(rng.uniform(*self.rhythm.out_share))
                self.sound(Surface.TIN, self.at, db + float(rng.uniform(-4, 4)))
                self.at += float(rng.uniform(0.15, 0.6))
                break
            self.stroke(player, db, gap)
            self.at += gap
            player, db = 1 - player, self.level()
        self.dead()
        self.played.spans.append(WorldSpan(start, self.at, Activity.RALLY, last, bool(rng.random() < 0.06)))
        self.played.ends.append(self.at)

    def dead(self) -> None:
        """The ball after the last strike: walls and bounces, ever sooner."""
        rng = self.rng
        gap, loud = float(rng.uniform(0.2, 0.9)), float(rng.uniform(-10, 3))
        for _ in range(int(rng.integers(0, 8))):
            kind = Surface.FLOOR if rng.random() < 0.75 else Surface.OTHER_WALL
            self.sound(kind, self.at, loud)
            self.at += gap
            gap *= float(rng.uniform(0.5, 0.95))
            loud -= float(rng.uniform(0, 5))

    def alone(self, length: float, activity: Activity, players: int) -> None:
        """Hitting without a match: runs of one player, turned over to the other or not."""
        rng = self.rng
        begin, last = self.at, self.at
        steady, loud = float(rng.uniform(0.8, 2.0)), float(rng.uniform(-10, 1))
        run = int(rng.integers(1, 9))
        while self.at < begin + length:
            player = int(rng.integers(players))
            for _ in range(int(rng.integers(1, run + 1))):
                last = self.at
                gap = steady * float(np.exp(rng.normal(0, 0.12)))
                self.stroke(player, loud + float(rng.normal(0, 1)), gap)
                self.at += gap
            if rng.random() < 0.15:
                self.at += float(rng.uniform(1, 8))
        self.played.spans.append(WorldSpan(begin, self.at, activity, last))

    def pause(self) -> None:
        """Between rallies: nothing, a ball sent back, a ball kept warm, or other knocks."""
        rng = self.rng
        begin, length = self.at, float(rng.uniform(2.6, 6) + rng.gamma(2, 4))
        what = float(rng.random())
        self.at += float(rng.uniform(0.8, 0.4 * length))
        if what < 0.08 and length > 8:
            self.alone(float(rng.uniform(2, 9)), Activity.KNOCKING, 1)
        elif what < 0.4:
            loud = float(rng.uniform(-18, 0))
            self.sound(Surface.RACKET, self.at, loud, 0)
            for _ in range(int(rng.integers(0, 5))):
                self.at += float(rng.uniform(0.2, 0.9))
                kind = [Surface.FLOOR, Surface.OTHER_WALL, Surface.FRONT_WALL][int(rng.integers(3))]
                self.sound(kind, self.at, loud)
        for _ in range(int(rng.poisson(0.4))):
            self.sound(Surface.OTHER, begin + length * float(rng.random()), float(rng.uniform(-10, 4)))
        self.at = max(self.at + 1.5, begin + length)
        self.played.pauses.append((begin, self.at))

    def match(self, seconds: float, warm_up_s: float) -> None:
        """The whole recording."""
        rng = self.rng
        if warm_up_s:
            self.alone(warm_up_s, Activity.WARM_UP, 2)
            self.at += float(rng.uniform(6, 50))
        points, count = int(rng.integers(8, 25)), int(rng.integers(8))
        while self.at < seconds - 5:
            self.rally()
            self.pause()
            count += 1
            if count >= points:
                count = 0
                self.at += float(rng.uniform(10, 40))
                if rng.random() < 0.5 and self.at < seconds - 15:
                    self.alone(float(rng.uniform(5, 50)), Activity.BETWEEN_GAMES, 1)
                    self.at += float(rng.uniform(5, 25))


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_room_acoustics.draw_world`."""
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    setting = draw_setting(rng, condition, seconds)
    count = round(seconds * RATE)
    out = np.zeros(count + RATE, np.float32)
    hall = BurstHall(rng, setting)
    rounds = Rounds(rng, hall, setting, out)
    rounds.match(seconds, setting.warm_up_s)
    contacts = list(rounds.contacts)
    add_to_pauses(rng, setting, rounds.played, out, np.zeros_like(out))
    _add_noises(rng, setting, out)
    whole = np.asarray(signal.oaconvolve(out, hall.echo)[: len(out)], np.float32)
    contacts += _add_neighbours(rng, setting, whole, seconds)
    whole += np.float32(10 ** (setting.noise_db / 20)) * hall_background_sounds.steady_noise(
        rng, len(whole), RATE
    )
    samples = record_through(draw_chain(rng, condition), whole[:count], RATE, rng)
    spans = tuple(
        s for s in rounds.played.spans if s.end_s < seconds - 0.7 or s.activity is not Activity.RALLY
    )
    inside = tuple(sorted((c for c in contacts if c.time_s < seconds - 0.7), key=lambda c: c.time_s))
    return WorldRecording(FAMILY, condition or "usual", samples[None], RATE, inside, spans)


def _add_noises(rng: np.random.Generator, setting: Setting, out: Wave) -> None:
    """Add clicks and tones of every kind that are no impact of the ball, and music."""
    seconds = len(out) / RATE
    for _ in range(int(rng.poisson((setting.squeaks + setting.steps) * seconds / 3))):
        wave = [hall_background_sounds.squeak, hall_background_sounds.step, hall_background_sounds.door][
            int(rng.choice(3, p=[0.5, 0.45, 0.05]))
        ](rng, RATE)
        begin = int(rng.integers(max(1, len(out) - len(wave))))
        out[begin : begin + len(wave)] += np.float32(10 ** (rng.uniform(-32, -6) / 20)) * wave
    if setting.music_db is not None:
        out += (
            np.float32(10 ** (setting.music_db / 20))
            * hall_background_sounds.music(rng, seconds + 1, RATE)[: len(out)]
        )
    if setting.hum_db is not None:
        out += np.float32(10 ** (setting.hum_db / 20)) * hall_background_sounds.hum(rng, len(out), RATE)


def _add_neighbours(
    rng: np.random.Generator, setting: Setting, whole: Wave, seconds: float
) -> list[WorldContact]:
    contacts = []
    for db, lowpass in setting.neighbours:
        other = draw_setting(rng, "quiet", seconds)
        out = np.zeros_like(whole)
        hall = BurstHall(rng, other)
        rounds = Rounds(rng, hall, other, out)
        rounds.match(seconds, float(rng.choice([0.0, 0.0, 80.0])))
        through_wall = signal.oaconvolve(out, hall.echo)[: len(whole)]
        sections = signal.butter(int(rng.integers(1, 4)), lowpass, fs=RATE, output="sos").astype(np.float32)
        whole += np.float32(10 ** (db / 20)) * np.asarray(signal.sosfilt(sections, through_wall), np.float32)
        contacts += [WorldContact(c.time_s, c.surface, c.striker, False) for c in rounds.contacts]
    return contacts
