"""Validation family: thresholds and weights of the detectors are chosen on it; no model is trained on it.

By other means than the learning families: an impact is a pulse through a random all-pole filter, a hall is
a train of sparse echoes, strokes follow each other with a memory (pressed, then calm), loud and quick go
together, and the file is made by a real encoder at the rate of the recording.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import av
import numpy as np
from av.audio.frame import AudioFrame
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)

Wave = NDArray[np.float32]
FAMILY = "choosing"
CONDITIONS = (
    "usual", "clean", "voices", "door gap", "short rallies", "long warm-up", "gain control", "clipped",
    "8 kHz", "noisy", "music", "long echo", "next court", "behind glass",
)  # fmt: skip
RATES = {"8 kHz": 8_000}
KINDS = (Surface.RACKET, Surface.FRONT_WALL, Surface.OTHER_WALL, Surface.FLOOR, Surface.TIN, Surface.OTHER)
LEVEL_DB = (
    (0, 0),
    (-9, -1),
    (-14, -4),
    (-22, -8),
    (-4, 3),
    (-10, 0),
)  # lowest, highest beside a racket; ASSUMED
FADE_S = ((1e-3, 5e-3), (2e-3, 9e-3), (2e-3, 1e-2), (2e-3, 9e-3), (1e-2, 6e-2), (1e-3, 2e-2))


@dataclass
class CourtSounds:
    """A court's sounds: variants of each impact, its mean level, and the echo they share."""

    rng: np.random.Generator
    rate: int
    sounds: dict[Surface, list[Wave]]
    level: dict[Surface, float]
    echo: Wave
    out: Wave
    contacts: list[WorldContact]
    spans: list[WorldSpan]
    quiet: list[tuple[float, float]]

    def impact(self, kind: Surface, at_s: float, db: float, striker: int | None = None) -> None:
        """Add an impact and note its truth."""
        waves = self.sounds[kind]
        wave = waves[int(self.rng.integers(len(waves)))]
        begin = round(at_s * self.rate)
        if 0 <= begin < len(self.out) - len(wave):
            gain = 10 ** ((self.level[kind] + db + self.rng.normal(0, 1.5)) / 20)
            self.out[begin : begin + len(wave)] += np.float32(gain) * wave
            self.contacts.append(WorldContact(at_s, kind, striker))


def new_court(rng: np.random.Generator, rate: int, seconds: float, echo_s: float) -> CourtSounds:
    """Return a silent court with sounds of its own."""
    level, sounds = {}, {}
    for kind, (low, high), fades in zip(KINDS, LEVEL_DB, FADE_S, strict=True):
        level[kind] = float(rng.uniform(low, high))
        centre = float(np.exp(rng.uniform(np.log(400), np.log(4500))))
        poles = _poles(rng, rate, centre)
        fade = float(np.exp(rng.uniform(*np.log(fades))))
        sounds[kind] = [_pulse(rng, rate, poles, fade) for _ in range(4)]
    count = round(seconds * rate) + rate
    return CourtSounds(
        rng, rate, sounds, level, _sparse_echo(rng, rate, echo_s), np.zeros(count, np.float32), [], [], []
    )


def _poles(rng: np.random.Generator, rate: int, centre: float) -> NDArray[np.complex128]:
    count = int(rng.integers(3, 9))
    hertz = np.clip(centre * np.exp(rng.normal(0, 0.7, count)), 100, 0.46 * rate)
    wide = hertz * rng.uniform(0.05, 0.6, count) + 30
    return np.exp(-np.pi * wide / rate + 2j * np.pi * hertz / rate)


def _pulse(rng: np.random.Generator, rate: int, poles: NDArray[np.complex128], fade_s: float) -> Wave:
    """Return a burst of pulses of a few tenths of a millisecond through the poles, with its peak at 1."""
    count = round(8 * fade_s * rate) + round(0.004 * rate)
    t = np.arange(count) / rate
    drive = rng.standard_normal(count) * np.exp(-t / fade_s) * (rng.random(count) < 0.3)
    drive[0] += float(rng.uniform(1, 4))
    wave = drive
    for pole in poles * np.exp(1j * rng.normal(0, 0.01, len(poles))):
        wave = signal.lfilter([1.0], [1.0, -2 * pole.real, abs(pole) ** 2], wave)
        wave = wave / (np.abs(wave).max() + 1e-12)
    return hall_background_sounds.unit_peak(
        wave * np.exp(-t / (3 * fade_s)) * np.minimum(1, (t[-1] - t) / 0.001)
    )


def _sparse_echo(rng: np.random.Generator, rate: int, t60_s: float) -> Wave:
    """Return a direct sound and thousands of single echoes, thinning out and darkening."""
    count = round(min(2.0, t60_s) * rate)
    out = np.zeros(count)
    places = rng.integers(round(0.002 * rate), count, round(2500 * count / rate))
    out[places] = rng.choice([-1.0, 1.0], len(places)) * 10 ** (-3 * places / rate / t60_s)
    dark = signal.lfilter([0.4], [1, -0.6], out)
    share = np.exp(-np.arange(count) / rate / (0.3 * t60_s))
    out = share * out + (1 - share) * dark
    out *= float(rng.uniform(0.1, 0.9)) / np.sqrt((out**2).sum())
    out[0] = 1.0
    return np.asarray(out, np.float32)


class RememberedPlay:
    """Plays a recording; strokes remember how hard pressed the players are."""

    def __init__(self, court: CourtSounds, condition: str) -> None:
        rng = court.rng
        self.court, self.rng = court, rng
        self.pace = float(rng.uniform(0.9, 1.35))
        self.memory = float(rng.uniform(0.2, 0.8))
        self.swing = float(rng.uniform(0.1, 0.25))
        self.loud = float(rng.uniform(1.0, 3.5))
        self.serve_db = float(rng.uniform(-8, 0))
        self.on = 1 - 1 / float(rng.uniform(1.8, 3.5) if condition == "short rallies" else rng.uniform(5, 12))
        self.wait_s = float(rng.uniform(6, 14))
        self.at = float(rng.uniform(1, 6))

    def shot(self, player: int, press: float, db: float) -> float:
        """Play a shot: strike, wall, what it touches on the way back; the time of the next."""
        rng, court, begin = self.rng, self.court, self.at
        gap = float(np.clip(self.pace * np.exp(-press), 0.55, 3.2))
        court.impact(Surface.RACKET, begin, db, player)
        wall = begin + gap * float(rng.beta(4, 8)) * 0.9
        if rng.random() < 0.1:
            court.impact(Surface.OTHER_WALL, begin + 0.5 * (wall - begin), db - 1)
        court.impact(Surface.FRONT_WALL, wall, db)
        rest = begin + gap - wall
        if rng.random() < 0.4:
            court.impact(Surface.OTHER_WALL, wall + rest * float(rng.uniform(0.3, 0.9)), 0.7 * db - 1)
        if rng.random() < 0.65:
            court.impact(Surface.FLOOR, wall + rest * float(rng.uniform(0.45, 0.9)), 0.6 * db)
        return begin + gap

    def rally(self) -> None:
        """Bounce, serve, play, and the end."""
        rng, court = self.rng, self.court
        for _ in range(int(rng.integers(0, 5))):
            court.impact(Surface.FLOOR, self.at, float(rng.uniform(-12, -4)))
            self.at += float(rng.uniform(0.35, 0.6))
        self.at += float(rng.uniform(0.8, 2.0))
        start, player, press, db = self.at, int(rng.integers(2)), -0.25, self.serve_db
        last = start
        while True:
            last, self.at = self.at, self.shot(player, press, db)
            if rng.random() > self.on:
                break
            player = 1 - player
            press = self.memory * press + float(rng.normal(0, self.swing))
            db = 6 * press - abs(float(rng.normal(0, self.loud)))
            if rng.random() < 0.12:
                db, press = db - 8, press - 0.3
        if rng.random() < 0.25:
            court.impact(Surface.TIN, self.at - 0.2, float(rng.uniform(-6, 2)))
        gap = float(rng.uniform(0.4, 0.7))
        for k in range(int(rng.integers(0, 5))):
            court.impact(Surface.FLOOR, self.at, -2.0 * k - 3)
            self.at += gap * 0.75**k
        court.spans.append(WorldSpan(start, self.at, Activity.RALLY, last, bool(rng.random() < 0.05)))

    def hit_about(self, seconds: float, players: int, activity: Activity) -> None:
        """Hit without a match for a while."""
        rng = self.rng
        begin, last, loud = self.at, self.at, float(rng.uniform(-7, -1))
        turns, slow = int(rng.integers(1, 6)), float(rng.uniform(-0.5, -0.1))
        player = 0
        while self.at < begin + seconds:
            for _ in range(int(rng.integers(1, turns + 1))):
                last, self.at = self.at, self.shot(player, slow + float(rng.normal(0, 0.08)), loud)
            player = (player + 1) % players
            if rng.random() < 0.12:
                self.at += float(rng.uniform(2, 7))
        self.court.spans.append(WorldSpan(begin, self.at, activity, last))

    def between(self) -> None:
        """Wait for the next serve; the ball is sent back, or hit to keep it warm."""
        rng, court = self.rng, self.court
        begin = self.at
        wait = self.wait_s * float(rng.uniform(0.5, 1.6)) + 2
        choice = float(rng.random())
        if choice < 0.05:
            self.at += 2
            self.hit_about(float(rng.uniform(3, 8)), 1, Activity.KNOCKING)
        elif choice < 0.4:
            at, db = begin + 0.4 * wait, float(rng.uniform(-14, -3))
            court.impact(Surface.RACKET, at, db, 1)
            court.impact(Surface.FLOOR, at + 0.6, db)
            court.impact(Surface.FLOOR, at + 1.1, db - 3)
        self.at = max(self.at + 2, begin + wait)
        court.quiet.append((begin, self.at))

    def play(self, seconds: float, warm_s: float) -> None:
        """The whole recording."""
        rng = self.rng
        if warm_s:
            self.hit_about(warm_s, 2, Activity.WARM_UP)
            self.at += float(rng.uniform(15, 45))
        until_break = int(rng.integers(5, 20))
        while self.at < seconds - 8:
            self.rally()
            self.between()
            until_break -= 1
            if until_break == 0:
                until_break = 20
                self.at += float(rng.uniform(15, 50))
                if rng.random() < 0.6:
                    self.hit_about(float(rng.uniform(8, 40)), 1, Activity.BETWEEN_GAMES)
                    self.at += float(rng.uniform(8, 20))


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 420.0
) -> WorldRecording:
    """Return one recording with its truth.

    Parameters
    ----------
    rng : numpy Generator
    condition : str, optional
        One of `CONDITIONS`; drawn when None.
    seconds : float
        Its length; less where a rally would be cut.
    """
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    rate = RATES.get(condition, int(rng.choice([16_000, 22_050, 32_000, 44_100])))
    long_echo = condition == "long echo"
    court = new_court(
        rng, rate, seconds, float(rng.uniform(2.5, 5)) if long_echo else float(rng.uniform(0.5, 2))
    )
    warm = condition == "long warm-up" or rng.random() < 0.35
    RememberedPlay(court, condition).play(seconds, float(rng.uniform(0.25, 0.5)) * seconds if warm else 0.0)
    if condition != "clean":
        _people(court, 4.0 if condition == "voices" else -12.0)
    cut = [s.start_s for s in court.spans if s.activity is Activity.RALLY and s.end_s >= seconds - 0.5]
    until = min([seconds, *(max(1.0, start - 1.0) for start in cut)])  # no rally is cut by the end
    whole = np.asarray(signal.oaconvolve(court.out, court.echo)[: len(court.out)], np.float32)
    if condition == "next court" or rng.random() < 0.2:
        db = float(rng.uniform(-11, -5)) if condition == "next court" else float(rng.uniform(-30, -14))
        court.contacts += _next_court(rng, whole, rate, seconds, db)
    _air(rng, whole, rate, condition, seconds)
    samples = _filmed(rng, whole[: round(until * rate)], rate, condition)
    contacts = tuple(sorted((c for c in court.contacts if c.time_s < until - 0.5), key=lambda c: c.time_s))
    spans = tuple(s for s in court.spans if s.start_s < until and s.start_s not in cut)
    return WorldRecording(FAMILY, condition, samples[None], rate, contacts, spans)


def _people(court: CourtSounds, db: float) -> None:
    """Add talk, claps and doors, mostly between rallies."""
    rng, rate = court.rng, court.rate
    for a, b in court.quiet:
        waves = []
        if rng.random() < 0.6:
            waves.append(hall_background_sounds.speech(rng, float(rng.uniform(0.5, 4)), rate))
        if rng.random() < 0.3:
            waves.append(hall_background_sounds.applause(rng, float(rng.uniform(0.5, 3)), rate))
        if rng.random() < 0.1:
            waves.append(hall_background_sounds.door(rng, rate))
        for wave in waves:
            _mix(court.out, wave, round(float(rng.uniform(a, b)) * rate), db + float(rng.normal(-3, 4)))
    seconds = len(court.out) / rate
    for at in rng.uniform(0, seconds, int(rng.poisson(seconds / 12))):
        wave = (
            hall_background_sounds.squeak(rng, rate)
            if rng.random() < 0.6
            else hall_background_sounds.step(rng, rate)
        )
        _mix(court.out, wave, round(float(at) * rate), float(rng.uniform(-28, -10)))


def _mix(out: Wave, wave: Wave, begin: int, db: float) -> None:
    stop = min(len(out), begin + len(wave))
    if begin < stop:
        out[begin:stop] += np.float32(10 ** (db / 20)) * wave[: stop - begin]


def _next_court(
    rng: np.random.Generator, whole: Wave, rate: int, seconds: float, db: float
) -> list[WorldContact]:
    """Add another court's play, heard through the wall."""
    other = new_court(rng, rate, seconds, 1.0)
    RememberedPlay(other, "usual").play(seconds, 0.0)
    sections = signal.butter(2, min(float(rng.uniform(900, 5000)), 0.45 * rate), fs=rate, output="sos")
    through_wall = signal.sosfilt(sections.astype(np.float32), other.out)
    through_wall = signal.oaconvolve(through_wall, other.echo)[: len(whole)]
    whole += np.asarray(10 ** (db / 20) * through_wall, np.float32)
    return [WorldContact(c.time_s, c.surface, c.striker, False) for c in other.contacts]


def _air(rng: np.random.Generator, whole: Wave, rate: int, condition: str, seconds: float) -> None:
    """Add the noise of the hall, and music where the condition says so."""
    db = float(rng.uniform(-30, -20)) if condition == "noisy" else float(rng.uniform(-60, -40))
    whole += np.float32(10 ** (db / 20)) * hall_background_sounds.steady_noise(rng, len(whole), rate)
    if condition == "music":
        tune = hall_background_sounds.music(rng, seconds + 1, rate)[: len(whole)]
        whole[: len(tune)] += np.float32(10 ** (rng.uniform(-22, -14) / 20)) * tune


def _filmed(rng: np.random.Generator, whole: Wave, rate: int, condition: str) -> Wave:
    """Return what the phone's file gives back: its place, gain, clipping and encoder."""
    out = whole
    if condition == "behind glass":
        sections = signal.butter(2, float(rng.uniform(500, 1800)), fs=rate, output="sos")
        out = np.asarray(signal.sosfilt(sections, out), np.float32)
        near = hall_background_sounds.steady_noise(rng, len(out), rate)
        out = out + np.float32(np.abs(out).max() * 10 ** (-rng.uniform(34, 48) / 20)) * near
    if condition == "door gap":
        sections = signal.butter(1, float(rng.uniform(2500, 6000)), fs=rate, output="sos")
        out = np.asarray(signal.sosfilt(sections, out) * 0.4, np.float32)
        out = out + np.float32(10 ** (-rng.uniform(42, 54) / 20)) * hall_background_sounds.steady_noise(
            rng, len(out), rate
        )
    out = np.asarray(out / (np.quantile(np.abs(out[::7]), 0.9995) + 1e-9), np.float32)
    if condition == "gain control":
        slow = np.sqrt(signal.lfilter([1e-4], [1, -(1 - 1e-4)], out**2)) + 0.02
        out = np.asarray(out / slow**0.6, np.float32)
        out /= np.quantile(np.abs(out[::7]), 0.9995) + 1e-9
    if condition == "clipped":
        out = np.asarray(np.clip(out * rng.uniform(2, 8), -1, 1), np.float32)
    out = np.asarray(np.clip(out * rng.uniform(0.2, 0.8), -1, 1), np.float32)
    return encoded(out, rate, int(rng.choice([48_000, 64_000, 96_000, 128_000])))


def encoded(wave: Wave, rate: int, bits_s: int) -> Wave:
    """Return the wave as an AAC file of so many bits a second gives it back, in step with what went in."""
    buffer = io.BytesIO()
    with av.open(buffer, "w", format="mp4") as container:
        stream = container.add_stream("aac", rate, layout="mono")
        stream.bit_rate = bits_s
        for at in range(0, len(wave), rate):
            frame = AudioFrame.from_ndarray(wave[None, at : at + rate], format="fltp", layout="mono")
            frame.sample_rate, frame.pts = rate, at
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    buffer.seek(0)
    out = np.zeros(len(wave), np.float32)
    with av.open(buffer, "r") as written:
        for piece in written.decode(audio=0):
            at = round(float((piece.pts or 0) * piece.time_base) * rate) if piece.time_base else 0
            part = piece.to_ndarray()[0][max(0, -at) :]
            stop = min(len(out), max(0, at) + len(part))
            out[max(0, at) : stop] = part[: stop - max(0, at)]
    return out
