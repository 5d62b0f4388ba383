"""JSON form of measured serves by kind."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.tasks.footage.serve_statistics_by_kind import KindMeasured

if TYPE_CHECKING:
    pass


def kind_form(one: KindMeasured) -> dict[str, Json]:
    """Return the same as plain values."""
    return {
        "kind": one.kind or None,
        "box": one.box,
        "serves": one.serves,
        "matches": one.matches,
        "speed_m_s": {
            "median": round(one.speed_m_s, 2),
            "slowest": round(one.slowest_m_s, 2),
            "fastest": round(one.fastest_m_s, 2),
            "error_of_one": round(one.off_m_s, 2),
        },
        "front_wall_m": [[round(v, 3) for v in place] for place in one.fronts],
        "first_bounce_m": [[round(v, 3) for v in place] for place in one.bounces],
    }
