"""First training family: a box room by image sources, impacts as damped resonances.

Every recording draws the bodies of all surfaces anew, over a very wide range: what a surface sounds like
cannot be learnt, only how the sounds of one recording stand to each other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.image_source_family_match_play import (
    LENGTH_M,
    WIDTH_M,
    Impact,
    Played,
    StrokeMatch,
)
from goodlength.synthetic.recordings.phone_recording_chain import draw_chain, record_through
from goodlength.synthetic.recordings.recording_types import (
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

Wave = NDArray[np.float32]
FAMILY = "learning rooms"
RATE = 16_000
SOUND_M_S = 343.0
EARLY_S = 0.05
VARIANTS = 5
# Level in dB beside a racket: lowest, highest; fading time in s of the partials: shortest, longest; ASSUMED
LEVELS = {
    Surface.RACKET: (-2, 2),
    Surface.FRONT_WALL: (-14, 6),
    Surface.OTHER_WALL: (-18, 2),
    Surface.FLOOR: (-24, -2),
    Surface.TIN: (-6, 6),
    Surface.OTHER: (-12, 2),
}
FADES = {Surface.TIN: (0.008, 0.12)}
USUAL_FADE = (0.0008, 0.03)


class ImageRoom:
    """A room with a microphone, its echoes, and the bodies of its impacts."""

    def __init__(self, rng: np.random.Generator, setting: Setting) -> None:
        self.rng = rng
        height = float(rng.uniform(5.0, 9.0))
        self.size = np.array([WIDTH_M, LENGTH_M, height])
        self.mic = np.array([rng.uniform(0.4, 6.0), rng.uniform(9.0, 13.0), rng.uniform(0.8, 4.5)])
        if rng.random() < 0.15:
            self.mic = np.array([rng.uniform(0.4, 6.0), rng.uniform(0.3, 9.0), rng.uniform(0.1, 3.0)])
        self.walls = rng.uniform(0.35, 0.97, 6)
        self.wet = 10 ** (setting.wet_db / 20)
        self.tail = _tail(rng, setting.t60_s)
        self.bodies = {surface: self._bodies(surface) for surface in LEVELS}
        self.level = {surface: float(rng.uniform(low, high)) for surface, (low, high) in LEVELS.items()}
        self.cells, self.times = _lattice(2 if rng.random() < 0.7 else 1)

    def _bodies(self, surface: Surface) -> list[Wave]:
        """Return variants of one body: the same resonances, excited a little differently."""
        rng = self.rng
        low = float(np.exp(rng.uniform(np.log(120), np.log(3500))))
        high = min(7600.0, low * float(np.exp(rng.uniform(np.log(1.3), np.log(20)))))
        short, long = FADES.get(surface, USUAL_FADE)
        count = int(rng.integers(2, 26))
        pitches = np.exp(rng.uniform(np.log(low), np.log(high), count))
        fades = np.exp(rng.uniform(np.log(short), np.log(long), count)) * np.sqrt(500 / (pitches + 200))
        weights = rng.uniform(0.2, 1, count)
        click, click_s = float(rng.uniform(0, 1.2)), float(np.exp(rng.uniform(np.log(2e-4), np.log(6e-3))))
        attack = float(np.exp(rng.uniform(np.log(1e-4), np.log(2.5e-3))))
        jitter = float(rng.uniform(0.0, 0.1))
        out = []
        for _ in range(VARIANTS):
            length = min(0.3, max(0.02, 6 * float(fades.max())))
            t = np.arange(round(RATE * length)) / RATE
            f = np.minimum(pitches * np.exp(rng.normal(0, jitter, count)), 7700)
            a = weights * np.exp(rng.normal(0, 0.4, count))
            phase = 2 * np.pi * f[:, None] * t + rng.uniform(0, 6.28, count)[:, None]
            wave = (a[:, None] * np.exp(-t / fades[:, None]) * np.sin(phase)).sum(axis=0)
            wave = wave / (np.abs(wave).max() + 1e-9)
            wave += click * rng.standard_normal(len(t)) * np.exp(-t / click_s)
            wave *= np.minimum(1, t / attack) * np.minimum(1, (t[-1] - t) / 0.003)
            out.append(hall_background_sounds.unit_peak(wave))
        return out

    def body(self, surface: Surface) -> Wave:
        """Return an impact of a surface: two of its variants mixed."""
        item, other = self.rng.choice(len(self.bodies[surface]), 2)
        share = float(self.rng.random())
        wave = self.bodies[surface]
        return np.asarray(share * wave[int(item)] + (1 - share) * wave[int(other)], np.float32)

    def strike(self, out: Wave, send: Wave, impact: Impact, gain_db: float) -> float:
        """Add an impact with its early echoes; when its direct sound comes to the microphone."""
        surface = impact.surface if impact.surface in self.bodies else Surface.OTHER
        wave = self.body(surface)
        gain = 10 ** ((self.level[surface] + impact.level_db + gain_db) / 20)
        source = np.array(impact.place)
        images = np.where(
            self.cells % 2 == 0, self.cells * self.size + source, (self.cells + 1) * self.size - source
        )
        far = np.linalg.norm(images - self.mic, axis=1)
        direct = float(np.linalg.norm(source - self.mic))
        fall = self.walls.mean() ** self.times * 4.0 / np.maximum(far, 1.0)
        for d, g in zip(far.tolist(), fall.tolist(), strict=True):
            if direct - 1e-6 <= d < direct + EARLY_S * SOUND_M_S:  # behind the court no echo comes first
                _put(out, wave, impact.time_s + d / SOUND_M_S, gain * g)
        _put(send, wave, impact.time_s + direct / SOUND_M_S, gain)
        return impact.time_s + direct / SOUND_M_S


def _lattice(order: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    axis = np.arange(-order, order + 1)
    cells = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    times = np.abs(cells).sum(axis=1)
    return cells[times <= order], times[times <= order]


def _tail(rng: np.random.Generator, t60_s: float) -> Wave:
    """Return the late echo: noise of a tilt of its own, high tones fading sooner."""
    count = round(min(t60_s * 0.8, 2.5) * RATE)
    t = np.arange(count) / RATE
    out = np.zeros(count)
    edges = (90, 600, 1800, 4500, 7800)
    share = np.sort(rng.uniform(0.25, 1.2, len(edges) - 1))[::-1]
    tilt = np.cumsum(rng.normal(-2, 2, len(edges) - 1))
    for low, high, part, db in zip(edges[:-1], edges[1:], share, tilt, strict=True):
        band = signal.sosfilt(
            signal.butter(2, (low, high), "bandpass", fs=RATE, output="sos"), rng.standard_normal(count)
        )
        out += band * 10 ** (db / 20) * 10 ** (-3 * t / (t60_s * part))
    out *= np.clip((t - 0.003) / float(rng.uniform(0.005, 0.06)), 0, 1)
    return np.asarray(out / (np.sqrt((out**2).sum()) + 1e-9), np.float32)


def _put(out: Wave, wave: Wave, at_s: float, gain: float) -> None:
    """Add a wave at a moment, to the fraction of a sample."""
    place = at_s * RATE
    begin = int(place)
    if 0 <= begin < len(out) - len(wave) - 1:
        part = np.float32(gain * (place - begin))
        out[begin : begin + len(wave)] += (np.float32(gain) - part) * wave
        out[begin + 1 : begin + 1 + len(wave)] += part * wave


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth.

    Parameters
    ----------
    rng : numpy Generator
    condition : str, optional
        One of `settings.CONDITIONS`; drawn when None.
    seconds : float
        Its length.
    """
    condition = str(rng.choice(CONDITIONS)) if condition is None else condition
    setting = draw_setting(rng, condition, seconds)
    room = ImageRoom(rng, setting)
    count = round(seconds * RATE)
    out, send = np.zeros(count + RATE, np.float32), np.zeros(count + RATE, np.float32)
    played = StrokeMatch(rng, setting).play(seconds, setting.warm_up_s)
    contacts, delay = render_play(room, played, out, send, seconds)
    _add_surroundings(rng, setting, played, out, send)
    contacts += _add_neighbours(rng, setting, out, send, seconds)
    wet = signal.oaconvolve(send, room.tail)[: len(out)] * np.float32(room.wet * 3)
    whole = out + wet
    whole += np.float32(10 ** (setting.noise_db / 20)) * hall_background_sounds.steady_noise(
        rng, len(whole), RATE
    )
    samples = record_through(draw_chain(rng, condition), whole[:count], RATE, rng)
    spans = spans_at_microphone(played, delay, seconds)
    inside = tuple(sorted((c for c in contacts if c.time_s < seconds - 0.5), key=lambda c: c.time_s))
    return WorldRecording(FAMILY, condition or "usual", samples[None], RATE, inside, spans)


def render_play(
    room: ImageRoom, played: Played, out: Wave, send: Wave, seconds: float
) -> tuple[list[WorldContact], float]:
    """Add all impacts of a match; their truth at the microphone, and the mean delay."""
    contacts, delays = [], [0.02]
    for impact in played.impacts:
        if impact.time_s < seconds:
            arrival_s = room.strike(out, send, impact, 0.0)
            delays.append(arrival_s - impact.time_s)
            contacts.append(WorldContact(arrival_s, impact.surface, impact.striker))
    return contacts, float(np.mean(delays))


def spans_at_microphone(played: Played, delay: float, seconds: float) -> tuple[WorldSpan, ...]:
    """Return the spans as heard; a rally cut by the recording's end is left out."""
    return tuple(
        WorldSpan(
            s.start_s + delay,
            s.end_s + delay,
            s.activity,
            None if s.last_strike_s is None else s.last_strike_s + delay,
            s.let,
        )
        for s in played.spans
        if s.end_s < seconds - 0.5 or s.activity.value != "rally"
    )


def _add_neighbours(
    rng: np.random.Generator, setting: Setting, out: Wave, send: Wave, seconds: float
) -> list[WorldContact]:
    """Add the courts next door: their own play and bodies, muffled by the wall."""
    contacts = []
    for db, lowpass in setting.neighbours:
        other = ImageRoom(rng, setting)
        dry, wet = np.zeros_like(out), np.zeros_like(send)
        played = StrokeMatch(rng, draw_setting(rng, "quiet", seconds)).play(
            seconds, 60.0 * float(rng.random() < 0.33)
        )
        found, _ = render_play(other, played, dry, wet, seconds)
        sections = signal.butter(int(rng.integers(1, 4)), lowpass, fs=RATE, output="sos").astype(np.float32)
        gain = np.float32(10 ** (db / 20))
        share = np.float32(rng.uniform(0.2, 1.0))
        out += gain * share * np.asarray(signal.sosfilt(sections, dry), np.float32)
        send += gain * np.asarray(signal.sosfilt(sections, dry), np.float32)
        contacts += [WorldContact(c.time_s, c.surface, c.striker, False) for c in found]
    return contacts


def _add_surroundings(
    rng: np.random.Generator, setting: Setting, played: Played, out: Wave, send: Wave
) -> None:
    """Add voices, applause, doors, shoes, music and hum."""
    add_to_pauses(rng, setting, played, out, send)
    seconds = len(out) / RATE
    for _ in range(int(rng.poisson(setting.squeaks * seconds / 4))):
        wave = hall_background_sounds.squeak(rng, RATE)
        _both(out, send, wave, float(rng.uniform(0, seconds)), float(rng.uniform(-30, -6)))
    for _ in range(int(rng.poisson(setting.steps * seconds))):
        _both(
            out,
            send,
            hall_background_sounds.step(rng, RATE),
            float(rng.uniform(0, seconds)),
            float(rng.uniform(-34, -12)),
        )
    if setting.music_db is not None:
        tune = hall_background_sounds.music(rng, seconds, RATE)
        begin = int(rng.integers(len(out))) if rng.random() < 0.5 else 0
        out[begin:] += np.float32(10 ** (setting.music_db / 20)) * tune[: len(out) - begin]
    if setting.hum_db is not None:
        out += np.float32(10 ** (setting.hum_db / 20)) * hall_background_sounds.hum(rng, len(out), RATE)


def add_to_pauses(rng: np.random.Generator, setting: Setting, played: Played, out: Wave, send: Wave) -> None:
    """Add talk and doors between rallies, applause after them, and talk over play now and then."""
    seconds = len(out) / RATE
    if setting.speech_db is not None:
        moments = [a + float(rng.uniform(0.3, 2)) for a, _ in played.pauses if rng.random() < setting.talk]
        moments += rng.uniform(0, seconds, int(rng.poisson(setting.talk * seconds / 25))).tolist()
        for at in moments:
            wave = hall_background_sounds.speech(rng, float(rng.uniform(0.4, 5)), RATE)
            _both(out, send, wave, at, setting.speech_db + float(rng.normal(-4, 4)))
    for at in played.ends:
        if setting.applause_db is not None and rng.random() < 0.5:
            wave = hall_background_sounds.applause(rng, float(rng.uniform(0.6, 4)), RATE)
            _both(
                out,
                send,
                wave,
                at + float(rng.uniform(0.1, 1)),
                setting.applause_db + float(rng.normal(0, 3)),
            )
    for a, b in played.pauses:
        if rng.random() < setting.doors:
            _both(
                out,
                send,
                hall_background_sounds.door(rng, RATE),
                float(rng.uniform(a, b)),
                float(rng.uniform(-14, 6)),
            )


def _both(out: Wave, send: Wave, wave: Wave, at_s: float, db: float) -> None:
    _put(out, wave, at_s, 10 ** (db / 20))
    _put(send, wave, at_s, 10 ** (db / 20))
