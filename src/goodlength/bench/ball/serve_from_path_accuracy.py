"""Accuracy of serves measured from their paths, and whether their ranges hold, on simulated rallies."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from goodlength.bench.ball.simulated_ball_candidate_generator import RallyWithTruth, TrueShot
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.files.json_types import Json
from goodlength.measure.shots.followed_ball_types import FollowedRally
from goodlength.record.entry_value_types import Measured


@dataclass
class ServeTally:
    """Serves of one condition: how many were offered, and what was measured beside what was."""

    serves: int = 0
    offered: int = 0
    pairs: dict[str, list[tuple[float, Measured]]] = field(default_factory=dict)

    def figures(self) -> dict[str, Json]:
        """Return the share offered, the median error of the speed, and for each value error and coverage."""
        speeds = self.pairs.get("speed_m_s", [])
        off = [abs(measured[0] / true - 1.0) for true, measured in speeds]
        values: dict[str, Json] = {name: _figures(pairs) for name, pairs in sorted(self.pairs.items())}
        inside = [low <= true <= high for pairs in self.pairs.values() for true, (_, low, high) in pairs]
        return {
            "serves": self.serves,
            "offered": round(self.offered / self.serves, 3) if self.serves else None,
            "speed_off": round(float(np.median(off)), 4) if off else None,
            "ranges_hold": round(float(np.mean(inside)), 3) if inside else None,
            "values": values,
        }


def _figures(pairs: list[tuple[float, Measured]]) -> dict[str, Json]:
    inside = [low <= true <= high for true, (_, low, high) in pairs]
    return {
        "n": len(pairs),
        "median_off": round(float(np.median([abs(measured[0] - true) for true, measured in pairs])), 4),
        "holds": round(float(np.mean(inside)), 3),
    }


def judge_serve(rally: RallyWithTruth, followed: FollowedRally, tally: ServeTally) -> None:
    """Add the serve of a rally to the counts.

    Wrong paths count as they are: a range that comes of one is as likely to be believed as any other.
    """
    tally.serves += 1
    serve = followed.serve
    if serve is None:
        return
    tally.offered += 1
    truth = true_values(rally.shots[0], rally.shots[1] if len(rally.shots) > 1 else None)
    for name, true in truth.items():
        value = getattr(serve if name.startswith("receiver") else serve.value, name)
        if value is not None:
            tally.pairs.setdefault(name, []).append((true, value))


def true_values(serve: TrueShot, returned: TrueShot | None) -> dict[str, float]:
    """Return what a serve was, by the names of measured values; the flight goes on where it was struck."""
    truth = {"speed_m_s": serve.speed_m_s}
    places = {contact.kind: contact.place_m for contact in reversed(serve.free)}
    if "front-wall" in places:
        x, _, z = places["front-wall"]
        truth |= {"front_x_m": x, "front_z_m": z}
    if "floor" in places:
        x, y, _ = places["floor"]
        truth |= {"bounce_x_m": x, "bounce_y_m": y}
    if "second-bounce" in places:
        back = any(contact.kind == "back-wall" for contact in serve.free)
        gap = LENGTH_M - places["second-bounce"][1]
        truth["room_m"] = gap if back else -gap
    if returned is not None:
        x, _, z = returned.place_m
        truth |= {"receiver_z_m": z, "receiver_side_m": min(x, WIDTH_M - x)}
    return truth
