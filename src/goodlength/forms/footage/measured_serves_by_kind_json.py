"""JSON form of measured serves by kind."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.tasks.footage.serve_statistics_by_kind import KindMeasured

if TYPE_CHECKING:
    pass


def kind_form(kind_statistics: KindMeasured) -> dict[str, Json]:
    """Return the same as plain values."""
    return {
        "kind": kind_statistics.kind or None,
        "box": kind_statistics.box,
        "serves": kind_statistics.serves,
        "matches": kind_statistics.matches,
        "speed_m_s": {
            "median": round(kind_statistics.speed_m_s, 2),
            "slowest": round(kind_statistics.slowest_m_s, 2),
            "fastest": round(kind_statistics.fastest_m_s, 2),
            "error_of_one": round(kind_statistics.off_m_s, 2),
        },
        "front_wall_m": [[round(v, 3) for v in place] for place in kind_statistics.fronts],
        "first_bounce_m": [[round(v, 3) for v in place] for place in kind_statistics.bounces],
    }
