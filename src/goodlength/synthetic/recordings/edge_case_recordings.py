"""Edge case recordings derived from those of a family: two matches, half without sound.

What a program says about them in words is judged by these; the truth of a rally stays with each part.
"""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
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
ODD = ("two matches", "two parts", "half silent", "two balls", "speech", "music", "street")
NO_SQUASH = ("speech", "music", "street")


def draw_odd(rng: np.random.Generator, family: ModuleType, kind: str, seconds: float) -> WorldRecording:
    """Return a recording of a kind of `ODD`, made of one or two of a family."""
    if kind in NO_SQUASH:
        return _no_squash(rng, kind, seconds)
    if kind == "two matches":
        parts = [family.draw_world(rng, "long warm-up", seconds / 2) for _ in range(2)]
        return _one_after_the_other(parts, kind, pause_s=float(rng.uniform(60, 150)))
    world: WorldRecording = family.draw_world(rng, None if kind == "two balls" else "clean", seconds)
    if kind == "two balls":
        return _two_balls(
            family.draw_world(rng, "clean", seconds), family.draw_world(rng, "long warm-up", seconds)
        )
    half = world.samples.shape[1] // 2
    samples = world.samples.copy()
    samples[:, half:] *= 0.0 if kind == "half silent" else np.float32(10 ** (-rng.uniform(14, 22) / 20))
    spans = tuple(s for s in world.spans if kind != "half silent" or s.end_s * world.rate < half)
    return replace(world, condition=kind, samples=samples, spans=spans)


def _one_after_the_other(parts: list[WorldRecording], kind: str, pause_s: float) -> WorldRecording:
    """Return two recordings as one, brought to one rate, with a quiet pause between."""
    first, second = parts
    rate = first.rate
    later = signal.resample_poly(second.samples[0], rate, second.rate).astype(np.float32)
    quiet = (0.002 * np.random.default_rng(0).standard_normal(round(pause_s * rate))).astype(np.float32)
    shift = first.samples.shape[1] / rate + pause_s
    samples = np.concatenate([first.samples[0], quiet, later])[None]
    contacts = first.contacts + tuple(replace(c, time_s=c.time_s + shift) for c in second.contacts)
    spans = first.spans + tuple(_later(span, shift) for span in second.spans)
    return WorldRecording(first.family, kind, samples, rate, contacts, spans, {"second_from_s": shift})


def _later(span: WorldSpan, by_s: float) -> WorldSpan:
    last = None if span.last_strike_s is None else span.last_strike_s + by_s
    return replace(span, start_s=span.start_s + by_s, end_s=span.end_s + by_s, last_strike_s=last)


def _two_balls(recording: WorldRecording, two: WorldRecording) -> WorldRecording:
    """Return four players who warm up with two balls, and then the match of the first two."""
    rate = recording.rate
    until = min(
        (s.end_s for w in (recording, two) for s in w.spans if s.activity is Activity.WARM_UP), default=60.0
    )
    other = signal.resample_poly(two.samples[0], rate, two.rate).astype(np.float32)[: round(until * rate)]
    samples = recording.samples[:1].copy()
    samples[0, : len(other)] += other
    contacts = (*recording.contacts, *(contact for contact in two.contacts if contact.time_s < until))
    ordered = tuple(sorted(contacts, key=lambda contact: contact.time_s))
    return replace(recording, condition="two balls", samples=0.7 * samples, contacts=ordered)


def _no_squash(rng: np.random.Generator, kind: str, seconds: float) -> WorldRecording:
    """Return speech, music, or a street with steps, doors and engines."""
    rate = 22_050
    count = round(seconds * rate)
    out = np.float32(0.01) * hall_background_sounds.steady_noise(rng, count, rate)
    contacts: list[WorldContact] = []
    if kind == "music":
        tune = hall_background_sounds.music(rng, seconds + 1, rate)[:count]
        out[: len(tune)] += np.float32(0.5) * tune
    for at in np.cumsum(rng.uniform(0.8, 6.0, int(seconds / 2))):
        begin = round(float(at) * rate)
        wave = _piece(rng, kind, rate)
        if begin + len(wave) < count:
            out[begin : begin + len(wave)] += np.float32(rng.uniform(0.1, 0.5)) * wave
            if kind == "street":
                contacts.append(WorldContact(float(at), Surface.FOOT, None, False))
    return WorldRecording("odd", kind, out[None].astype(np.float32), rate, tuple(contacts), ())


def _piece(rng: np.random.Generator, kind: str, rate: int) -> Wave:
    if kind == "street":
        choice = rng.random()
        if choice < 0.6:
            return hall_background_sounds.step(rng, rate)
        return (
            hall_background_sounds.door(rng, rate)
            if choice < 0.8
            else hall_background_sounds.applause(rng, 1.0, rate)
        )
    return hall_background_sounds.speech(rng, float(rng.uniform(0.5, 4)), rate)
