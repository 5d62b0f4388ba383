"""JSON form of how early a serve shows, and sentences on the receiver's pressure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.measure.body.serve_cue_onset import TooFewServes
from goodlength.tasks.findings.serve_kind_disclosure_time import (
    LEAST_ANGLES,
    KindDisguise,
    ReceiverPressure,
)

if TYPE_CHECKING:
    pass


def pressure_words(rows: list[ReceiverPressure], kinds: Mapping[str, str]) -> list[str]:
    """Return one line an angle and kind; a line that says so where there are too few."""
    if not rows:
        return [
            "Not enough data about the receiver's body: "
            f"{LEAST_ANGLES} serves of a kind with body points are needed."
        ]
    return [
        f"Receiver's {row.angle} at contact, {kinds.get(row.kind, row.kind).lower()}: "
        f"{row.median_deg:.0f}° (middle half {row.low_deg:.0f} to {row.high_deg:.0f}; {row.serves} serves, "
        f"each within about {row.error_deg:.0f}°, in the image)"
        for row in rows
    ]


def disguise_form(kind_disguise: KindDisguise) -> dict[str, Json]:
    """Return plain values: the words, counts, moments and scores."""
    form: dict[str, Json] = {
        "kind": kind_disguise.kind,
        "words": list(kind_disguise.words),
        "without_joints": kind_disguise.without_joints,
        "serves": kind_disguise.serves,
        "matches": kind_disguise.matches,
        "with_video": kind_disguise.with_video,
    }
    found = kind_disguise.found
    if isinstance(found, TooFewServes):
        return {
            **form,
            "enough": False,
            "of_kind": found.of_kind,
            "others": found.others,
            "needed": found.needed,
        }
    return {
        **form,
        "enough": True,
        "of_kind": found.of_kind,
        "others": found.others,
        "tell_s": found.tell_s,
        "range_s": found.range_s,
        "threshold": round(found.threshold, 4),
        "until_s": [round(float(t), 3) for t in found.until_s],
        "score": [round(float(s), 4) for s in found.score],
        "place_score": found.place_score,
        "place_tells": found.place_tells,
    }
