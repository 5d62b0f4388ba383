"""Levels of background sounds in a training recording by condition, in dB relative to a strike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

CONDITIONS = (
    "", "quiet", "voices", "noisy", "music", "8 kHz", "clipped", "gain control", "door gap", "behind glass",
    "next court", "long echo", "all at once", "short rallies", "long warm-up",
)  # fmt: skip


@dataclass(frozen=True)
class Setting:
    """What is heard besides the play; None leaves a sound out.

    Levels are in dB beside a usual strike; `t60_s` is the fading time of the hall, `wet_db` its level;
    `neighbours` holds a level and a low-pass in Hz for each court next door.
    """

    condition: str
    t60_s: float
    wet_db: float
    noise_db: float
    hum_db: float | None
    speech_db: float | None
    talk: float
    music_db: float | None
    applause_db: float | None
    doors: float
    squeaks: float
    steps: float
    neighbours: tuple[tuple[float, float], ...]
    warm_up_s: float
    rally_mean: float


def draw_setting(rng: np.random.Generator, condition: str, seconds: float) -> Setting:
    """Return a setting; the condition's own sound is loud, the others come now and then."""
    every = condition == "all at once"

    def happens(name: str, share: float) -> bool:
        return condition == name or (condition != "quiet" and rng.random() < (0.5 if every else share))

    def level(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    noisy, long_echo = happens("noisy", 0.12), happens("long echo", 0.12)
    courts = int(rng.integers(1, 3)) if happens("next court", 0.4) else 0
    loud = condition == "next court"
    warm = rng.random() < 0.35 or condition == "long warm-up"
    short = condition == "short rallies" or rng.random() < 0.12
    return Setting(
        condition=condition,
        t60_s=level(2.5, 6.0) if long_echo else float(np.exp(rng.uniform(np.log(0.25), np.log(3.0)))),
        wet_db=level(-30, -8) if not long_echo else level(-18, -4),
        noise_db=level(-34, -14) if noisy else level(-70, -32),
        hum_db=level(-50, -22) if rng.random() < 0.3 else None,
        speech_db=level(-12, 6)
        if happens("voices", 0.15)
        else level(-34, -8)
        if rng.random() < 0.8
        else None,
        talk=level(0.5, 1.0) if condition == "voices" else level(0.1, 0.6),
        music_db=level(-26, -8) if happens("music", 0.1) else None,
        applause_db=level(-22, 3) if happens("voices", 0.5) else None,
        doors=level(0.0, 0.25),
        squeaks=level(0.0, 0.8),
        steps=level(0.0, 0.6),
        neighbours=tuple(
            (
                level(-14, -2) if loud else level(-36, -8),
                float(np.exp(rng.uniform(np.log(500), np.log(7000)))),
            )
            for _ in range(courts)
        ),
        warm_up_s=level(0.2, 0.6) * seconds if warm else 0.0,
        rally_mean=level(1.5, 4.0) if short else level(3.0, 12.0),
    )
