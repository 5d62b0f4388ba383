"""JSON form of measured serves by kind."""

from __future__ import annotations

from goodlength.files.json_types import Json
from goodlength.tasks.ball.serve_statistics_by_kind import KindMeasured


def kind_form(kind_statistics: KindMeasured) -> dict[str, Json]:
    """Return the same as plain values."""
    return {
        "kind": kind_statistics.kind or None,
        "box": kind_statistics.box,
        "serves": kind_statistics.serves,
        "matches": kind_statistics.matches,
        "from_paths": kind_statistics.from_paths,
        "speed_m_s": {
            "median": round(kind_statistics.speed_m_s, 2),
            "slowest": round(kind_statistics.slowest_m_s, 2),
            "fastest": round(kind_statistics.fastest_m_s, 2),
            "error_of_one": round(kind_statistics.off_m_s, 2),
        },
        "front_wall_m": [[round(v, 3) for v in place] for place in kind_statistics.fronts],
        "first_bounce_m": [[round(v, 3) for v in place] for place in kind_statistics.bounces],
        "measured": [
            {
                "match": place.match,
                "rally_key": place.rally,
                "measured_by": place.by,
                "speed_m_s": round(place.speed_m_s, 2),
                "speed_error_m_s": round(place.errors[2], 2),
                "front_wall_m": [round(place.across_m, 3), round(place.up_m, 3)],
                "front_wall_error_m": [round(place.errors[0], 3), round(place.errors[1], 3)],
                "first_bounce_m": None if place.bounce_m is None else [round(v, 3) for v in place.bounce_m],
            }
            for place in kind_statistics.places
        ],
    }
