"""Conditions of pressure play: what each fixes, and the phone that records; all else is drawn at random.

Levels are in dB beside the peak of a hard strike of the own court at the phone. All ranges are ASSUMED.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from goodlength.synthetic.recordings.retired_test_families.pressure_play.phone_recording_chain import (
    LevelControl,
    RecordingPhone,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.session_event_timeline import (
    PlayHabits,
)

if TYPE_CHECKING:
    import numpy as np

Range = tuple[float, float]


@dataclass(frozen=True)
class RecordingCondition:
    """One condition. `special` names what is no match; `treated` is the share of absorbing ceiling."""

    places: tuple[str, ...] = ("above", "above", "gallery", "gallery", "corner", "door gap")
    habits: PlayHabits = field(default_factory=PlayHabits)
    treated: Range = (0.05, 0.55)
    noise_db: Range = (-57.0, -37.0)
    noise_slope: Range = (0.5, 2.0)
    neighbour_db: Range = (-32.0, -17.0)
    neighbour_chance: float = 0.4
    coach_db: Range = (-28.0, -15.0)
    coach_busy: Range = (0.0, 0.09)
    crowd_db: Range | None = None
    crowd_chance: float = 0.0
    music_db: Range | None = None
    rates: tuple[int, ...] = (16000, 22050, 24000, 32000, 44100, 48000)
    stereo: float = 0.3
    codec_kb_s: Range | None = (48.0, 160.0)
    mu_law: float = 0.0
    control: float = 0.5
    suppression: Range = (0.0, 0.0)
    peak: Range = (0.06, 0.4)
    level_share: float = 1.0
    feet_db: Range = (-6.0, 5.0)
    special: str = ""


_ANY = RecordingCondition(crowd_db=(-47.0, -35.0), crowd_chance=0.4)
_CALM = replace(_ANY, neighbour_chance=0.0, crowd_chance=0.0, control=0.0, noise_db=(-63.0, -51.0))
_LONG = PlayHabits(errs=0.36)
_SHORT = PlayHabits(errs=2.6)

USUAL = {
    "usual": _ANY,
    "above the back wall": replace(_ANY, places=("above",)),
    "gallery": replace(_ANY, places=("gallery",)),
    "behind the court, door gap": replace(_ANY, places=("door gap",)),
    "far corner of the gallery": replace(_ANY, places=("corner",)),
    "coach talks near": replace(_ANY, coach_db=(-9.0, 7.0), coach_busy=(0.25, 0.6), control=1.0),
    "long rallies": replace(_ANY, habits=_LONG),
    "fast and long": replace(_ANY, habits=replace(_LONG, power_m_s=(40.0, 54.0), fetch_s=(1.5, 4.0))),
    "short rallies": replace(_ANY, habits=_SHORT),
    "touch and short": replace(_ANY, habits=replace(_SHORT, touch=2.4, power_m_s=(22.0, 31.0))),
    "soft hitters": replace(_ANY, habits=PlayHabits(power_m_s=(17.0, 25.0), touch=1.7)),
    "echoing court": replace(_ANY, treated=(0.0, 0.0)),
    "dry court": replace(_ANY, treated=(0.65, 1.0)),
    "quiet": _CALM,
    "even strokes": replace(_CALM, level_share=0.0),
    "half the difference in level": replace(_CALM, level_share=0.5),
    "44.1 kHz without codec": replace(_CALM, rates=(44100,), codec_kb_s=None),
    "16 kHz": replace(_ANY, rates=(16000,), stereo=0.0),
    "next court at -15 dB": replace(_ANY, neighbour_db=(-15.5, -14.5), neighbour_chance=1.0),
    "long warm-up": replace(_ANY, habits=PlayHabits(warm_up_s=(210.0, 360.0), warm_up_chance=1.0)),
    "stereo, odd phase": replace(_ANY, stereo=1.0, rates=(16000, 24000, 32000)),
}
POOR = {
    "8 kHz": replace(_ANY, rates=(8000,), stereo=0.0, codec_kb_s=(16.0, 40.0), mu_law=0.5),
    "loud crowd": replace(_ANY, crowd_db=(-27.0, -15.0), crowd_chance=1.0),
    "music": replace(_ANY, music_db=(-27.0, -16.0)),
    "clipped": replace(_ANY, peak=(1.9, 6.5), control=0.15),
    "noise suppression": replace(_ANY, suppression=(0.5, 1.2)),
    "pink noise, loud": replace(_ANY, noise_db=(-32.0, -27.0), noise_slope=(1.0, 1.0)),
    "all at once": replace(
        _ANY,
        crowd_db=(-29.0, -19.0),
        crowd_chance=1.0,
        music_db=(-31.0, -21.0),
        neighbour_db=(-15.0, -9.0),
        neighbour_chance=1.0,
        noise_db=(-39.0, -31.0),
        coach_busy=(0.1, 0.3),
        coach_db=(-15.0, -1.0),
    ),
}
NEIGHBOUR = {"loud neighbour": replace(_ANY, neighbour_db=(-6.2, -5.8), neighbour_chance=1.0)}
GLASS = {"behind glass": replace(_ANY, places=("glass",), neighbour_chance=0.2)}
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


def draw_control(rng: np.random.Generator) -> LevelControl:
    """Return a gain control: a slow leveller, a quick one, or a strict limiter."""
    kind = int(rng.integers(0, 3))
    ratio = (float(rng.uniform(1.5, 3.5)), float(rng.uniform(1.5, 3.0)), float(rng.uniform(4.0, 12.0)))[kind]
    down = (float(rng.uniform(0.06, 0.4)), float(rng.uniform(0.006, 0.03)), 0.008)[kind]
    up = (float(rng.uniform(2.5, 9.0)), float(rng.uniform(0.25, 1.4)), float(rng.uniform(0.08, 0.3)))[kind]
    most = 0.0 if kind == 2 else float(rng.uniform(4.0, 16.0))
    return LevelControl(float(rng.uniform(-30.0, -16.0)), ratio, down, up, most)


def draw_recording_phone(rng: np.random.Generator, condition: RecordingCondition) -> RecordingPhone:
    """Return a phone as the condition asks; its level is set once the scene's is known."""
    rate = int(rng.choice(list(condition.rates)))
    channels = 2 if rng.random() < condition.stereo else 1
    narrow = rate == 8000
    codec, kb_s = "", 0.0
    if condition.codec_kb_s is not None:
        other, chance = ("mu-law", condition.mu_law) if narrow else ("layer II", 0.5)
        codec = other if rng.random() < chance else "aac"
        kb_s = 64.0 if codec == "mu-law" else float(rng.uniform(*condition.codec_kb_s))
    return RecordingPhone(
        rate=rate,
        channels=channels,
        low_hz=float(rng.uniform(170.0, 310.0)) if narrow else float(rng.uniform(35.0, 170.0)),
        high_hz=float(rng.uniform(3000.0, 3600.0)) if narrow else float(rng.uniform(6800.0, 19000.0)),
        resonance_hz=float(rng.uniform(1600.0, 7000.0)),
        resonance_db=float(rng.uniform(-4.0, 7.0)),
        level=1.0,
        control=draw_control(rng) if rng.random() < condition.control else None,
        suppression=float(rng.uniform(*condition.suppression)),
        codec=codec,
        codec_kb_s=kb_s,
        soft_clip=bool(rng.random() < 0.4),
        phase=str(rng.choice(["same", "delay", "opposite", "any"])),
        second_gain=float(rng.uniform(0.55, 1.0)),
        second_delay_s=float(rng.uniform(0.0, 4.5e-4)),
    )
