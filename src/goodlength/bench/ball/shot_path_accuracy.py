"""Accuracy and cost of shots joined from candidates and sounds, on simulated rallies with known truth."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from scipy.special import chdtri

from goodlength.bench.ball.length_and_tightness_accuracy import PlaceTally, judge_places
from goodlength.bench.ball.manual_click_correction_accuracy import RefitTally, judge_refits
from goodlength.bench.ball.path_proposed_answer_accuracy import DraftTally, judge_draft
from goodlength.bench.ball.serve_from_path_accuracy import ServeTally, judge_serve
from goodlength.bench.ball.simulated_ball_candidate_generator import (
    CONDITIONS,
    RallyWithTruth,
    ShotCondition,
    TrueShot,
    simulate_rally,
)
from goodlength.court.dimensions import SHORT_LINE_FRONT_M, WIDTH_M
from goodlength.files.json_types import Json
from goodlength.measure.players.player_tracking import Tracks
from goodlength.measure.shots.ball_following_through_rally import RallyToFollow, follow_rally
from goodlength.measure.shots.followed_ball_types import (
    ContactKind,
    FollowedRally,
    FollowedShot,
    PathContact,
    RallyCorrections,
)

STRIKE_S = 0.05  # a strike is found within this
NEAR_M, SIDE_M = 0.3, 0.15
CHOOSING, JUDGING, STOPPED = 41, 73, 97  # added to the seed: no rally is drawn for both
END_S = 0.03
LEVEL = 0.9


@dataclass
class ShotTally:
    """Counts of one condition; lists hold a value a shot or a place."""

    rallies: int = 0
    shots: int = 0
    found: int = 0
    false: int = 0
    striker: int = 0
    order: int = 0
    bounces: int = 0
    near: int = 0
    quarter: int = 0
    side: int = 0
    sure: int = 0
    sure_right: int = 0
    cpu_s: float = 0.0
    off_m: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    speeds: list[float] = field(default_factory=list)
    order_by_rally: list[float] = field(default_factory=list)
    serves: ServeTally = field(default_factory=ServeTally)
    draft: DraftTally = field(default_factory=DraftTally)
    places: PlaceTally = field(default_factory=PlaceTally)
    refits: RefitTally = field(default_factory=RefitTally)

    def figures(self) -> dict[str, Json]:
        """Return shares, and the standard error of the order by rally."""

        def share(count: float, of: float) -> float | None:
            return round(count / of, 3) if of else None

        spread = float(np.std(self.order_by_rally)) if self.order_by_rally else math.nan
        return {
            "rallies": self.rallies,
            "shots": self.shots,
            "strikes_found": share(self.found, self.shots),
            "strikes_false": share(self.false, self.shots),
            "striker": share(self.striker, self.found),
            "order": share(self.order, self.shots),
            "order_se_by_rally": round(spread / max(1, self.rallies) ** 0.5, 3),
            "bounces": self.bounces,
            "within_30_cm": share(self.near, self.bounces),
            "quarter": share(self.quarter, self.bounces),
            "side_within_15_cm": share(self.side, self.bounces),
            "median_cm": round(100 * float(np.median(self.off_m)), 1) if self.off_m else None,
            "sure": share(self.sure, self.shots),
            "sure_right": share(self.sure_right, self.sure),
            "ellipse_90_holds": share(sum(self.inside), len(self.inside)),
            "speed_off": round(float(np.median(self.speeds)), 3) if self.speeds else None,
            "cpu_s_a_shot": round(self.cpu_s / max(1, self.shots), 3),
            "serves": self.serves.figures(),
            "draft": self.draft.figures(),
            "places": self.places.figures(),
            "clicks": self.refits.figures(),
        }


def tracks_of(rally: RallyWithTruth) -> Tracks:
    """Return the players' places as tracking stores them."""
    n = len(rally.player_times_s)
    every = slice(0, n, 3)
    m = len(rally.player_times_s[every])
    full, colours = np.ones((m, 2), bool), np.ones((m, 12))
    return Tracks(
        rally.player_times_s[every],
        rally.players_m[every],
        np.full((m, 2), 0.15),
        full,
        full,
        colours,
        colours[0],
        1.0,
    )


def follow_simulated(
    rally: RallyWithTruth,
    condition: ShotCondition,
    corrections: RallyCorrections | None = None,
    shown: FollowedRally | None = None,
) -> FollowedRally:
    """Return what is followed of a simulated rally, with a coach's corrections of what was shown."""
    end_us = int(rally.found.times_us[-1])
    impacts = [(max(0, round(1e6 * t)), c if name != "other" else 1.0 - c) for t, name, c in rally.sounds]
    return follow_rally(
        RallyToFollow("r:1", "f1", 0, end_us),
        rally.found,
        rally.camera,
        impacts=impacts if condition.with_sound else None,
        tracks=tracks_of(rally) if condition.with_players else None,
        corrections=corrections,
        shown=shown,
    )


def right_shot(shot: FollowedShot, true: TrueShot, until_s: float) -> tuple[bool, float | None]:
    """Return whether the order of contacts is right, and how far off the bounce is; None without both."""
    if shot.best is None:
        return False, None
    order = [c.kind.value for c in shot.best.contacts[1:]]
    wanted = [c.kind for c in true.contacts if c.time_s < until_s - END_S]
    reported, was = first_bounce(shot), next((c for c in true.contacts if c.kind == "floor"), None)
    if reported is None or was is None or was.time_s >= until_s - END_S:
        return order == wanted, None
    return order == wanted, math.dist(reported.place_m[:2], was.place_m[:2])


def right_shots(rally: RallyWithTruth, followed: FollowedRally) -> list[bool]:
    """Return for each true shot whether its order of contacts, and its bounce within 30 cm, are right."""
    out = []
    for n, true in enumerate(rally.shots):
        until_s = rally.end_s + 1.0 if n + 1 == len(rally.shots) else rally.shots[n + 1].time_s
        shot = next((s for s in followed.shots if abs(s.struck_us / 1e6 - true.time_s) < STRIKE_S), None)
        order, off = (False, None) if shot is None else right_shot(shot, true, until_s)
        out.append(order and (off is None or off < NEAR_M))
    return out


def first_bounce(shot: FollowedShot) -> PathContact | None:
    """Return the first contact of a shot's best path with the floor."""
    contacts = () if shot.best is None else shot.best.contacts
    return next((c for c in contacts if c.kind is ContactKind.FLOOR), None)


def judge_rally(rally: RallyWithTruth, followed: FollowedRally, tally: ShotTally) -> None:
    """Add a rally to the counts."""
    tally.rallies += 1
    used: set[int] = set()
    in_order = 0
    for n, true in enumerate(rally.shots):
        last = n + 1 == len(rally.shots)
        until_s = rally.end_s + 1.0 if last else rally.shots[n + 1].time_s
        shot = next((s for s in followed.shots if abs(s.struck_us / 1e6 - true.time_s) < STRIKE_S), None)
        was = next((c for c in true.contacts if c.kind == "floor" and c.time_s < until_s - END_S), None)
        tally.shots += 1
        tally.bounces += was is not None
        if shot is None:
            continue
        used.add(shot.number)
        tally.found += 1
        tally.striker += shot.track == true.by
        order, off = right_shot(shot, true, until_s)
        tally.order += order
        in_order += order
        if off is not None and was is not None:
            _judge_bounce(shot, was.place_m, off, tally)
        right = order if was is None else order and off is not None and off < NEAR_M
        tally.sure += shot.sure
        tally.sure_right += shot.sure and right
        if shot.best is not None and order:
            tally.speeds.append(abs(shot.best.speed_m_s / true.speed_m_s - 1.0))
            tally.inside += _inside_ellipses(shot, true)
    tally.order_by_rally.append(in_order / max(1, len(rally.shots)))
    tally.false += sum(shot.number not in used for shot in followed.shots)


def _judge_bounce(shot: FollowedShot, was: tuple[float, float, float], off: float, tally: ShotTally) -> None:
    reported = first_bounce(shot)
    assert reported is not None
    x, y, _ = reported.place_m
    half = WIDTH_M / 2
    same_side = (x < half) == (was[0] < half)
    tally.off_m.append(off)
    tally.near += off < NEAR_M
    tally.quarter += same_side and (y < SHORT_LINE_FRONT_M) == (was[1] < SHORT_LINE_FRONT_M)
    tally.side += same_side and abs(min(x, WIDTH_M - x) - min(was[0], WIDTH_M - was[0])) < SIDE_M


def _inside_ellipses(shot: FollowedShot, true: TrueShot) -> list[bool]:
    """Return for each contact but the strike whether its true place lies in its 90% ellipse."""
    out = []
    assert shot.best is not None
    for reported, was in zip(shot.best.contacts[1:], true.contacts, strict=False):
        if reported.covariance_m2 is None:
            continue
        free = {"floor": (0, 1), "second-bounce": (0, 1), "left-wall": (1, 2), "right-wall": (1, 2)}.get(
            reported.kind.value, (0, 2)
        )
        off = np.array([reported.place_m[k] - was.place_m[k] for k in free])
        covariance = np.array(reported.covariance_m2)[np.ix_(free, free)]
        out.append(bool(off @ np.linalg.solve(covariance, off) < chdtri(2, 1.0 - LEVEL)))
    return out


def bench_shots(
    seed: int,
    rallies: int,
    conditions: Sequence[str] = (),
    family: str = "judging",
    progress: Callable[[str], None] = lambda _: None,
) -> dict[str, Json]:
    """Return figures of shots joined, by condition.

    Parameters
    ----------
    seed : int
    rallies : int
        Of each condition.
    conditions : sequence of str
        Names out of `CONDITIONS`; all where empty.
    family : str
        "judging": ball, floor and air are drawn anew in each rally. "choosing": on which numbers were chosen.
        "stopped": drawn as for judging, by other draws, and half are service faults, lets and strokes.
    """
    varied = family != "choosing"
    first = {"judging": JUDGING, "stopped": STOPPED}.get(family, CHOOSING)
    out: dict[str, Json] = {}
    for number, condition in enumerate(CONDITIONS):
        if conditions and condition.name not in conditions:
            continue
        tally = ShotTally()
        for n in range(rallies):
            rng = np.random.default_rng([first, seed, number, n])
            rally = simulate_rally(rng, condition, varied=varied, stopped=family == "stopped")
            began = time.process_time()
            followed = follow_simulated(rally, condition)
            tally.cpu_s += time.process_time() - began
            judge_rally(rally, followed, tally)
            judge_serve(rally, followed, tally.serves)
            judge_draft(rally, followed, tally.draft)
            judge_places(rally, followed, tally.places)
            judge_refits(
                rally,
                followed,
                partial(follow_simulated, rally, condition),
                partial(right_shots, rally),
                tally.refits,
            )
        out[condition.name] = tally.figures()
        progress(f"{condition.name}: {tally.figures()}")
    return out
