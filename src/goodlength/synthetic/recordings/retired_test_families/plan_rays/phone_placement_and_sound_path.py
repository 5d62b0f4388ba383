"""Random phone placement: acoustic paths from court to phone, and recorder types."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.retired_test_families.plan_rays.audio_rendering import Path
from goodlength.synthetic.recordings.retired_test_families.plan_rays.phone_audio_effects import (
    GainControl,
    Phone,
)

if TYPE_CHECKING:
    import numpy as np

    from goodlength.synthetic.recordings.retired_test_families.plan_rays.recording_conditions import (
        WorldCondition,
    )


def draw_path(rng: np.random.Generator, place: str) -> Path:
    """Return the own court's way to the phone: "above", "gallery", "corner", "door gap" or "glass"."""
    x = float(rng.uniform(1.0, WIDTH_M - 1.0))
    far = 0.4 if rng.random() < 0.5 else WIDTH_M - 0.4
    late = float(rng.uniform(0.35, 0.9))
    if place == "above":
        return Path(
            (x, LENGTH_M, float(rng.uniform(2.3, 4.2))),
            float(rng.uniform(0.1, 0.6)),
            15000.0,
            3.0,
            -30.0,
            late=late,
        )
    if place == "gallery":
        low = float(rng.uniform(8000.0, 15000.0))
        return Path(
            (x, LENGTH_M, float(rng.uniform(2.3, 4.5))),
            float(rng.uniform(1.2, 6.0)),
            low,
            4.0,
            -40.0,
            late=late,
        )
    if place == "corner":
        low = float(rng.uniform(3500.0, 8000.0))
        return Path(
            (far, LENGTH_M, float(rng.uniform(2.3, 4.0))),
            float(rng.uniform(5.0, 12.0)),
            low,
            4.0,
            -40.0,
            late=late,
        )
    if place == "door gap":
        low, gap = float(rng.uniform(2200.0, 6000.0)), float(rng.uniform(0.3, 0.5))
        door_x = WIDTH_M / 2 + float(rng.uniform(-0.6, 0.6))
        return Path(
            (door_x, LENGTH_M, float(rng.uniform(0.8, 1.6))),
            float(rng.uniform(0.5, 4.0)),
            low,
            5.0,
            -40.0,
            gap,
            late,
            thump=0.01,
        )
    low = float(rng.uniform(220.0, 420.0))
    deep = float(rng.uniform(-46.0, -34.0))
    return Path(
        (x, LENGTH_M, 1.4),
        float(rng.uniform(0.3, 3.0)),
        low,
        12.0,
        deep,
        0.7,
        late,
        thump=float(rng.uniform(0.01, 0.06)),
    )


def draw_neighbour_path(rng: np.random.Generator) -> Path:
    """Return a neighbouring court's way: over its back wall and along the gallery, or through the wall."""
    portal = (float(rng.uniform(0.5, WIDTH_M - 0.5)), LENGTH_M, float(rng.uniform(2.2, 4.5)))
    through = rng.random() < 0.25
    low = float(rng.uniform(300.0, 900.0)) if through else float(rng.uniform(1800.0, 9000.0))
    late = float(rng.uniform(0.6, 1.2))
    return Path(portal, float(rng.uniform(3.0, 12.0)), low, float(rng.uniform(3.0, 6.0)), -40.0, late=late)


def draw_phone(rng: np.random.Generator, condition: WorldCondition) -> Phone:
    """Return a phone as the condition asks."""
    rate = int(rng.choice(list(condition.rates)))
    channels = 2 if rng.random() < condition.stereo else 1
    control = None
    if rng.random() < condition.gain_control:
        slow = rng.random() < 0.5
        up = float(rng.uniform(2.0, 8.0)) if slow else float(rng.uniform(0.2, 1.2))
        down = float(rng.uniform(0.05, 0.3)) if slow else float(rng.uniform(0.005, 0.03))
        control = GainControl(
            down, up, float(rng.uniform(0.2, 0.7)), float(rng.uniform(2.0, 8.0)), float(rng.uniform(0.3, 0.9))
        )
    top = (
        float(rng.uniform(2900.0, 3600.0))
        if rate == 8000
        else min(0.47 * rate, float(rng.uniform(7000.0, 18000.0)))
    )
    codec = (
        0.0
        if condition.codec is None
        else float(rng.uniform(*condition.codec)) * (channels if rate > 16000 else 1)
    )
    return Phone(
        rate=rate,
        channels=channels,
        low_hz=float(rng.uniform(180.0, 320.0)) if rate == 8000 else float(rng.uniform(30.0, 160.0)),
        high_hz=top,
        bump_hz=float(rng.uniform(1500.0, 6000.0)),
        bump_db=float(rng.uniform(-3.0, 8.0)),
        level=1.0,
        gain_control=control,
        suppression=float(rng.uniform(*condition.suppression)),
        codec_kb_s=min(codec, 160.0),
        phase=str(rng.choice(["same", "delay", "opposite", "any"])),
    )
