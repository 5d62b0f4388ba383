"""Conditions of the test family: what each fixes; all else is drawn.

Levels are in dB beside the usual peak of a hard strike of the own court at the phone. All ranges are ASSUMED.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from goodlength.synthetic.recordings.test_family.phone_recording_chain import (
    AutomaticGain,
    PocketRecorder,
    draw_response,
)
from goodlength.synthetic.recordings.test_family.session_event_timeline import DiaryHabits

if TYPE_CHECKING:
    import numpy as np

Range = tuple[float, float]


@dataclass(frozen=True)
class JudgingCondition:
    """One condition. `special` names what is no plain match; `treated` is the share of absorbing ceiling."""

    places: tuple[str, ...] = ("above", "above", "gallery", "gallery", "corner", "door gap")
    habits: DiaryHabits = field(default_factory=DiaryHabits)
    treated: Range = (0.05, 0.6)
    noise_db: Range = (-56.0, -36.0)
    noise_slope: Range = (0.4, 2.0)
    next_db: Range = (-33.0, -17.0)
    next_chance: float = 0.4
    coach_db: Range = (-28.0, -14.0)
    coach_busy: Range = (0.0, 0.08)
    crowd_db: Range = (-46.0, -34.0)
    crowd_chance: float = 0.4
    music_db: Range | None = None
    mono_rates: tuple[int, ...] = (16000, 22050, 24000, 32000, 44100, 48000)
    stereo: float = 0.25
    coded: float = 0.85
    kb_s: Range = (28.0, 112.0)
    automatic: float = 0.5
    suppression: Range = (0.0, 0.0)
    peak: Range = (0.05, 0.4)
    level_share: float = 1.0
    feet: Range = (0.5, 1.8)
    special: str = ""


_ANY = JudgingCondition()
_CALM = replace(_ANY, next_chance=0.0, crowd_chance=0.0, automatic=0.0, noise_db=(-62.0, -50.0))
_FAST = DiaryHabits(pace=(1.0, 1.35), length=2.0, rest_s=(4.0, 10.0))

USUAL = {
    "usual": _ANY,
    "above the back wall": replace(_ANY, places=("above",)),
    "gallery": replace(_ANY, places=("gallery",)),
    "behind the court, door gap": replace(_ANY, places=("door gap",)),
    "far corner of the gallery": replace(_ANY, places=("corner",)),
    "coach talks near": replace(_ANY, coach_db=(-9.0, 7.0), coach_busy=(0.25, 0.6), automatic=1.0),
    "long rallies": replace(_ANY, habits=DiaryHabits(length=2.2)),
    "fast and long": replace(_ANY, habits=_FAST),
    "short rallies": replace(_ANY, habits=DiaryHabits(length=0.45)),
    "touch and short": replace(_ANY, habits=DiaryHabits(pace=(0.55, 0.75), length=0.5, touch=3.0)),
    "soft hitters": replace(_ANY, habits=DiaryHabits(pace=(0.42, 0.6), touch=1.8)),
    "echoing court": replace(_ANY, treated=(0.0, 0.0)),
    "dry court": replace(_ANY, treated=(0.7, 1.0)),
    "quiet": _CALM,
    "even strokes": replace(_CALM, level_share=0.0),
    "half the difference in level": replace(_CALM, level_share=0.5),
    "44.1 kHz without codec": replace(_CALM, mono_rates=(44100,), stereo=0.0, coded=0.0),
    "16 kHz": replace(_ANY, mono_rates=(16000,), stereo=0.0),
    "next court at -15 dB": replace(_ANY, next_db=(-15.4, -14.6), next_chance=1.0),
    "long warm-up": replace(_ANY, habits=DiaryHabits(knock_up_s=(210.0, 360.0), knock_up_chance=1.0)),
    "stereo, odd phase": replace(_ANY, stereo=1.0),
}
POOR = {
    "8 kHz": replace(_ANY, mono_rates=(8000,), stereo=0.0, coded=0.8, kb_s=(9.0, 26.0)),
    "loud crowd": replace(_ANY, crowd_db=(-27.0, -16.0), crowd_chance=1.0),
    "music": replace(_ANY, music_db=(-27.0, -16.0)),
    "clipped": replace(_ANY, peak=(1.8, 6.0), automatic=0.15),
    "noise suppression": replace(_ANY, suppression=(0.4, 1.0)),
    "pink noise, loud": replace(_ANY, noise_db=(-32.0, -27.0), noise_slope=(1.0, 1.0)),
    "all at once": replace(
        _ANY,
        crowd_db=(-30.0, -20.0),
        crowd_chance=1.0,
        music_db=(-31.0, -22.0),
        next_db=(-15.0, -9.0),
        next_chance=1.0,
        noise_db=(-39.0, -31.0),
        coach_busy=(0.1, 0.3),
        coach_db=(-15.0, -1.0),
    ),
}
NEIGHBOUR = {"loud neighbour": replace(_ANY, next_db=(-6.2, -5.8), next_chance=1.0)}
GLASS = {"behind glass": replace(_ANY, places=("glass",), next_chance=0.2)}
ODD = {
    "speech only": replace(_ANY, special="speech", coach_busy=(0.4, 0.95)),
    "music only": replace(_ANY, special="music"),
    "street": replace(_ANY, special="street"),
    "two matches": replace(_ANY, special="two matches"),
    "two parts": replace(_ANY, special="two parts"),
    "half silent": replace(_ANY, special="half silent"),
    "doubles warm-up": replace(_ANY, special="doubles"),
}
TABLE = {**USUAL, **POOR, **NEIGHBOUR, **GLASS, **ODD}


def draw_recorder(rng: np.random.Generator, condition: JudgingCondition) -> PocketRecorder:
    """Return a phone as a condition asks; its level is set once the scene's is known."""
    u = rng.uniform
    stereo = rng.random() < condition.stereo
    rate = int(rng.choice([16000, 24000, 48000] if stereo else list(condition.mono_rates)))
    codec = ""
    if rng.random() < condition.coded:
        codec = "opus" if rate in {8000, 16000, 24000, 48000} else "mp3"
    low, high = float(u(40.0, 190.0)), float(u(6500.0, 18000.0))
    if rate == 8000:
        low, high = float(u(150.0, 320.0)), float(u(3000.0, 3700.0))
    gain = AutomaticGain(
        float(u(-30.0, -14.0)),
        float(u(20.0, 400.0)),
        float(u(1.0, 30.0)),
        float(u(0.0, 15.0)),
        float(u(0.0, 1.5)),
    )
    response = draw_response(rng, low, high, float(u(0.5, 3.0)))
    return PocketRecorder(
        rate=rate,
        channels=2 if stereo else 1,
        response_db=response,
        second_db=response + rng.normal(-2.0, 1.5, response.size),
        second_delay_s=float(u(0.0, 5e-4)),
        phase=str(rng.choice(["same", "delay", "opposite", "any"])),
        level=1.0,
        gain=gain if rng.random() < condition.automatic else None,
        suppression=float(u(*condition.suppression)),
        soft=bool(rng.random() < 0.4),
        codec=codec,
        codec_kb_s=float(u(*condition.kb_s)) if codec else 0.0,
    )
