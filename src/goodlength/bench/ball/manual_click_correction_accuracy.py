"""What a click on the ball costs and mends, on simulated rallies: one click in the middle of each shot."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from goodlength.bench.ball.simulated_ball_candidate_generator import RallyWithTruth
from goodlength.files.json_types import Json
from goodlength.measure.shots.followed_ball_types import BallMark, FollowedRally, RallyCorrections

LEAST_S = 0.15  # from a strike, within which nobody clicks

Follow = Callable[[RallyCorrections, "FollowedRally | None"], FollowedRally]
RightShots = Callable[[FollowedRally], list[bool]]


@dataclass
class RefitTally:
    """Clicks of one condition: what each took, and whether the shot clicked was right before and after."""

    cpu_s: list[float] = field(default_factory=list)
    anew_cpu_s: list[float] = field(default_factory=list)
    before: list[bool] = field(default_factory=list)
    after: list[bool] = field(default_factory=list)
    others_lost: int = 0

    def figures(self) -> dict[str, Json]:
        """Return medians and 95th percentiles, and the counts of shots right before and after."""
        if not self.cpu_s:
            return {"clicks": 0}
        wrong = [after for before, after in zip(self.before, self.after, strict=True) if not before]
        return {
            "clicks": len(self.cpu_s),
            "cpu_ms_median": round(1000 * float(np.median(self.cpu_s)), 1),
            "cpu_ms_95": round(1000 * float(np.percentile(self.cpu_s, 95)), 1),
            "within_150_ms": round(float(np.mean(np.array(self.cpu_s) <= 0.15)), 3),
            "anew_cpu_ms_median": round(1000 * float(np.median(self.anew_cpu_s)), 1),
            "wrong_before": len(wrong),
            "of_these_right_after": sum(wrong),
            "right_before_wrong_after": sum(
                before and not after for before, after in zip(self.before, self.after, strict=True)
            ),
            "others_right_before_wrong_after": self.others_lost,
        }


def judge_refits(
    rally: RallyWithTruth, followed: FollowedRally, follow: Follow, right: RightShots, tally: RefitTally
) -> None:
    """Click the true ball in the middle of each shot, each time from the rally as it was followed.

    Parameters
    ----------
    follow : callable
        Follows the rally with corrections, near the rally shown or anew.
    right : callable
        Says of each true shot whether it is followed rightly.
    """
    before = right(followed)
    for n, shot in enumerate(rally.shots):
        until_s = rally.end_s if n + 1 == len(rally.shots) else rally.shots[n + 1].time_s
        times_s = rally.found.times_us / 1e6
        inside = (times_s > shot.time_s + LEAST_S) & (times_s < until_s - LEAST_S)
        frames = np.flatnonzero(inside & np.isfinite(rally.ball_px).all(axis=1))
        if not len(frames):
            continue
        k = int(frames[len(frames) // 2])
        u, v = (float(value) for value in rally.ball_px[k])
        corrections = RallyCorrections(marks=(BallMark(int(rally.found.times_us[k]), u, v),))
        began = time.process_time()
        again = follow(corrections, followed)
        middle = time.process_time()
        follow(corrections, None)
        tally.cpu_s.append(middle - began)
        tally.anew_cpu_s.append(time.process_time() - middle)
        after = right(again)
        tally.before.append(before[n])
        tally.after.append(after[n])
        tally.others_lost += sum(was and not now for was, now in zip(before, after, strict=True)) - (
            before[n] and not after[n]
        )
