"""Conditions of the family of plan rays: what each fixes; everything else is drawn at random.

Levels are in dB beside the peak of a hard strike of the own court at the phone. All ranges are ASSUMED.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from goodlength.synthetic.recordings.retired_test_families.plan_rays.session_event_timeline import (
    SessionHabits,
)

Range = tuple[float, float]


@dataclass(frozen=True)
class WorldCondition:
    """One condition. `special` names what is no ordinary match; see `world`."""

    places: tuple[str, ...] = ("above", "gallery", "gallery", "above", "corner", "door gap")
    habits: SessionHabits = field(default_factory=SessionHabits)
    absorption: Range = (0.06, 0.25)
    noise_db: Range = (-58.0, -38.0)
    noise_slope: Range = (0.6, 2.2)
    neighbour_db: Range = (-34.0, -16.0)
    neighbour_chance: float = 0.4
    coach_db: Range = (-30.0, -16.0)
    coach_busy: Range = (0.0, 0.08)
    crowd_db: Range | None = None
    crowd_chance: float = 0.0
    music_db: Range | None = None
    rates: tuple[int, ...] = (16000, 22050, 24000, 32000, 44100, 48000)
    stereo: float = 0.3
    codec: Range | None = (48.0, 160.0)
    gain_control: float = 0.5
    suppression: Range = (0.0, 0.0)
    peak: Range = (0.05, 0.45)
    level_share: float = 1.0
    feet_db: Range = (-6.0, 4.0)
    special: str = ""


_ANY = WorldCondition(crowd_db=(-46.0, -34.0), crowd_chance=0.4)
_CALM = replace(_ANY, neighbour_chance=0.0, crowd_chance=0.0, gain_control=0.0, noise_db=(-62.0, -50.0))
_LONG = SessionHabits(shots=(17.0, 0.6))
_SHORT = SessionHabits(shots=(3.5, 0.6))

USUAL = {
    "usual": _ANY,
    "above the back wall": replace(_ANY, places=("above",)),
    "gallery": replace(_ANY, places=("gallery",)),
    "behind the court, door gap": replace(_ANY, places=("door gap",)),
    "far corner of the gallery": replace(_ANY, places=("corner",)),
    "coach talks near": replace(_ANY, coach_db=(-8.0, 8.0), coach_busy=(0.25, 0.6), gain_control=1.0),
    "long rallies": replace(_ANY, habits=_LONG),
    "fast and long": replace(_ANY, habits=replace(_LONG, pace=(1.05, 1.4))),
    "short rallies": replace(_ANY, habits=_SHORT),
    "touch and short": replace(_ANY, habits=replace(_SHORT, soft=2.2, pace=(0.65, 0.9))),
    "soft hitters": replace(_ANY, habits=SessionHabits(pace=(0.5, 0.72), soft=1.8)),
    "echoing court": replace(_ANY, absorption=(0.03, 0.055)),
    "dry court": replace(_ANY, absorption=(0.2, 0.38)),
    "quiet": _CALM,
    "even strokes": replace(_CALM, level_share=0.0),
    "half the difference in level": replace(_CALM, level_share=0.5),
    "44.1 kHz without codec": replace(_CALM, rates=(44100,), codec=None),
    "16 kHz": replace(_ANY, rates=(16000,), stereo=0.0),
    "next court at -15 dB": replace(_ANY, neighbour_db=(-16.0, -14.0), neighbour_chance=1.0),
    "long warm-up": replace(_ANY, habits=SessionHabits(warm_up_s=(200.0, 360.0), warm_up_chance=1.0)),
    "stereo, odd phase": replace(_ANY, stereo=1.0, rates=(16000, 24000, 32000)),
}
POOR = {
    "8 kHz": replace(_ANY, rates=(8000,), stereo=0.0, codec=(14.0, 64.0)),
    "loud crowd": replace(_ANY, crowd_db=(-26.0, -14.0), crowd_chance=1.0),
    "music": replace(_ANY, music_db=(-28.0, -15.0)),
    "clipped": replace(_ANY, peak=(1.8, 7.0), gain_control=0.15),
    "noise suppression": replace(_ANY, suppression=(0.5, 1.2)),
    "pink noise, loud": replace(_ANY, noise_db=(-33.0, -26.0), noise_slope=(1.0, 1.0)),
    "all at once": replace(
        _ANY,
        crowd_db=(-28.0, -18.0),
        crowd_chance=1.0,
        music_db=(-30.0, -20.0),
        neighbour_db=(-14.0, -8.0),
        neighbour_chance=1.0,
        noise_db=(-38.0, -30.0),
        coach_busy=(0.1, 0.3),
        coach_db=(-14.0, 0.0),
    ),
}
NEIGHBOUR = {"loud neighbour": replace(_ANY, neighbour_db=(-6.5, -5.5), neighbour_chance=1.0)}
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
