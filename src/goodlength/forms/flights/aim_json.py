"""JSON form of an aim."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.tasks.aim.serve_aim import ABOVE_LINE_M, AimAnswer

if TYPE_CHECKING:
    pass


def aim_form(answer: AimAnswer) -> dict[str, Json]:
    """Return the JSON of `serve aim --json` and `serve spread --json`."""
    from goodlength.forms.flights.flight_json import serve_form

    odds, best = answer.odds, answer.best
    parts = ("goal", "good", "dies", "volley", "off_back", "fault")
    shares = {name: getattr(odds, name) for name in parts}
    return {
        "box": answer.task.box,
        "hand": answer.task.hand,
        "kind": answer.task.wanted.kind,
        "goal": answer.task.goal.words,
        "front_wall": {"x_m": answer.aim.across_m, "z_m": answer.aim.up_m},
        "above_service_line_m": answer.aim.up_m - ABOVE_LINE_M,
        "speed_m_s": answer.aim.speed_m_s,
        "of_100": {name: share.of_100 for name, share in shares.items()},
        "bands": {name: [share.low, share.high] for name, share in shares.items()},
        "faults_of_100": odds.faults,
        "worth": odds.worth,
        "fault_cost": answer.fault_cost,
        "time_to_receiver_s": odds.time_s,
        "height_at_receiver_m": odds.height_m,
        "scatter": {
            "across_m": answer.scatter.across_m,
            "up_m": answer.scatter.up_m,
            "speed_m_s": answer.scatter.speed_m_s,
            "balls": answer.scatter.balls,
        },
        "box_to_tape": None
        if best is None
        else dict(zip(("left_m", "low_m", "wide_m", "tall_m"), best.box, strict=True)),
        "moved": []
        if best is None
        else [
            {
                "scatter_times": move.factor,
                "front_wall": {"x_m": move.aim.across_m, "z_m": move.aim.up_m},
                "speed_m_s": move.aim.speed_m_s,
                "worth": move.worth,
            }
            for move in best.moved
        ],
        "window": {
            "share": answer.window.share,
            **_window_at_pace(answer),
            "edges": [
                {"way": edge.way, "distance": edge.distance, "at": edge.at, "beyond": edge.beyond}
                for edge in answer.window.edges or ()
            ],
        },
        "misses": [
            {"words": miss.words, "of_100": {name: getattr(miss.odds, name).of_100 for name in parts}}
            for miss in answer.misses
        ],
        "flight": serve_form(answer.flight, answer.setting),
        "assumed": list(answer.assumed),
    }


def _window_at_pace(answer: AimAnswer) -> dict[str, Json]:
    """Return the window as a map at the searched pace nearest the aim's: `met` has a row for each place
    across.
    """
    window = answer.window
    k = int(abs(window.speed_m_s - answer.aim.speed_m_s).argmin())
    return {
        "across_m": window.across_m.round(3).tolist(),
        "up_m": window.up_m.round(3).tolist(),
        "speed_m_s": float(window.speed_m_s[k]),
        "met": window.met[:, :, k].tolist(),
    }
