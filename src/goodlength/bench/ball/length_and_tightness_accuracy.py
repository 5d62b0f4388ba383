"""Length and tightness from followed paths beside the truth, on simulated rallies: bias and spread."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from goodlength.bench.ball.simulated_ball_candidate_generator import RallyWithTruth
from goodlength.court.dimensions import WIDTH_M
from goodlength.files.json_types import Json
from goodlength.findings.shot_places.shot_table import LENGTH_M, STRAIGHT, ShotRow, shot_table_of
from goodlength.measure.shots.followed_ball_types import FollowedRally
from goodlength.tasks.findings.shot_place_findings import shot_rows

SAME_STRIKE_S = 0.05
BEFORE_NEXT_S = 0.03
TO_LENGTH = ("drive", "cross-court", "lob")
Pair = tuple[float, float, float]  # as measured, as it was, stated standard error


@dataclass
class PlaceTally:
    """Pairs of places of usable shots to length, and all that were played, seen or not."""

    depth: list[Pair] = field(default_factory=list)
    wall: list[Pair] = field(default_factory=list)
    played_depth: list[float] = field(default_factory=list)
    wrong: int = 0  # usable shots that nobody struck, or whose bounce did not happen

    def figures(self) -> dict[str, Json]:
        """Return how far length and tightness are off, in metres and shares."""
        depth, wall = np.array(self.depth).reshape(-1, 3), np.array(self.wall).reshape(-1, 3)
        if len(depth) < 3 or len(wall) < 3:
            return {"shots": len(depth), "walls": len(wall)}
        played = np.array(self.played_depth)
        return {
            "shots": len(depth),
            "without_truth": self.wrong,
            "length": round(float((depth[:, 0] >= LENGTH_M).mean()), 3),
            "length_true": round(float((depth[:, 1] >= LENGTH_M).mean()), 3),
            "length_true_of_all": round(float((played >= LENGTH_M).mean()), 3),
            "all": len(played),
            "depth_off_m": round(float((depth[:, 0] - depth[:, 1]).mean()), 3),
            "walls": len(wall),
            "wall_off_m": round(float((wall[:, 0] - wall[:, 1]).mean()), 3),
            "wall_off_median_m": round(float(np.median(wall[:, 0]) - np.median(wall[:, 1])), 3),
            "spread_m": round(float(wall[:, 0].std(ddof=1)), 3),
            "spread_true_m": round(float(wall[:, 1].std(ddof=1)), 3),
            "spread_less_error_m": round(_less_error(wall), 3),
            "stated_error_m": round(float((wall[:, 2] ** 2).mean() ** 0.5), 3),
            "error_m": round(float(((wall[:, 0] - wall[:, 1]) ** 2).mean() ** 0.5), 3),
        }


def _less_error(wall: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> float:
    return float(max(0.0, wall[:, 0].var(ddof=1) - (wall[:, 2] ** 2).mean()) ** 0.5)


def judge_places(rally: RallyWithTruth, followed: FollowedRally, tally: PlaceTally) -> None:
    """Add the places of a rally to the pairs; wrong paths count as they are."""
    rows = shot_rows(followed, 0, 0)
    table = shot_table_of(rows, 1, 1)
    for row, to_length in zip(rows, table.to_length, strict=True):
        if to_length:
            _pair(rally, row, tally)
    for n, true in enumerate(rally.shots[1:], 1):
        bounce = _bounce(rally, n)
        if true.stroke in TO_LENGTH and bounce is not None:
            tally.played_depth.append(bounce)


def _bounce(rally: RallyWithTruth, n: int) -> float | None:
    """Return how far from the front wall a true shot bounced first; None where it was struck before."""
    last = n + 1 == len(rally.shots)
    until_s = rally.end_s + 1.0 if last else rally.shots[n + 1].time_s
    floor = next((c for c in rally.shots[n].contacts if c.kind == "floor"), None)
    return None if floor is None or floor.time_s >= until_s - BEFORE_NEXT_S else floor.place_m[1]


def _pair(rally: RallyWithTruth, row: ShotRow, tally: PlaceTally) -> None:
    near = [n for n, true in enumerate(rally.shots) if abs(true.time_s - row.struck_s) < SAME_STRIKE_S]
    if not near:
        tally.wrong += 1
        return
    bounce = _bounce(rally, near[0])
    if np.isfinite(row.bounce[1]):
        if bounce is None:
            tally.wrong += 1
        else:
            tally.depth.append((row.bounce[1], bounce, row.bounce_error[1]))
    if (
        row.stroke == STRAIGHT
        and row.struck_back
        and np.isfinite(row.end[0])
        and near[0] + 1 < len(rally.shots)
    ):
        x = rally.shots[near[0] + 1].place_m[0]
        tally.wall.append((min(row.end[0], WIDTH_M - row.end[0]), min(x, WIDTH_M - x), row.end_error[0]))
