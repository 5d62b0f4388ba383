"""Simulated serves with known flight, and a coach's clicks on them.

The flights are made by scipy's DOP853 with coefficients, friction and spin about all three axes drawn from
their ranges, seen by random cameras; touches are clicked with an error and timed by their frame.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.ball import Coefficients, PerSurface, aim_at_spots, e7_at
from goodlength.ball.model import constants_with_sources as c
from goodlength.ball.model import flight_array_indices as at
from goodlength.court import BallContact, CourtSurface, serve_verdict
from goodlength.measure.serves.serve_forward_model import SOUND_M_S
from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind, ServeMark
from goodlength.synthetic.reference_flight_integration import peer_flight, peer_path
from goodlength.synthetic.simulated_camera_clicks import (
    HEIGHT,
    SETTINGS,
    WIDTH,
    CameraSetting,
    RealCamera,
)

Floats = NDArray[np.float64]


_SEEN = {at.FRONT: MarkKind.FRONT, at.LEFT: MarkKind.LEFT, at.RIGHT: MarkKind.RIGHT, at.BACK: MarkKind.BACK}


_SURFACES = (CourtSurface.FLOOR, CourtSurface.FRONT, CourtSurface.LEFT, CourtSurface.RIGHT, CourtSurface.BACK)


FEET_PX = 4.0


@dataclass(frozen=True)
class MarkingCondition:
    """What a coach marks, at which rate of pictures, and how the world really is.

    `feet_late` is how many pictures, at most and evenly, the feet are marked before or after the strike;
    `ball_c` the ball's true temperature, `warmth` what the coach says of it.
    """

    name: str
    rate_hz: float
    marks: tuple[MarkKind, ...]
    onset_known: bool = False
    balls: int = 0
    spin_rad_s: float = c.ASSUMED_SPIN_SD_RAD_S.sd
    click_px: float = 2.0
    feet_late: float = 0.0
    ball_c: float = c.GOOD_CLUB_C
    warmth: str = "warm"
    camera: CameraSetting = SETTINGS[0]


ALL = (
    MarkKind.STRIKE,
    MarkKind.FRONT,
    MarkKind.LEFT,
    MarkKind.RIGHT,
    MarkKind.FLOOR,
    MarkKind.BACK,
    MarkKind.SECOND,
)


THREE, FEET = (
    (MarkKind.STRIKE, MarkKind.FRONT, MarkKind.FLOOR),
    (MarkKind.FEET, MarkKind.FRONT, MarkKind.FLOOR),
)


TO_BOUNCE = (MarkKind.STRIKE, MarkKind.FRONT, MarkKind.LEFT, MarkKind.RIGHT, MarkKind.FLOOR)


CONDITIONS = (
    MarkingCondition("25 pictures a second, every touch seen", 25.0, ALL),
    MarkingCondition("50 pictures a second, every touch seen", 50.0, ALL),
    MarkingCondition("50 pictures a second, to the first bounce", 50.0, TO_BOUNCE),
    MarkingCondition("25, three marks: strike, front wall, bounce", 25.0, THREE),
    MarkingCondition("25, three marks: feet, front wall, bounce", 25.0, FEET),
    MarkingCondition("25, two marks: strike, front wall", 25.0, (MarkKind.STRIKE, MarkKind.FRONT)),
    MarkingCondition("25, strike heard, front wall, bounce", 25.0, TO_BOUNCE, onset_known=True),
    MarkingCondition(
        "25, strike, front wall, ball on three pictures", 25.0, (MarkKind.STRIKE, MarkKind.FRONT), balls=3
    ),
    MarkingCondition("25, every touch, cut: spin of 200 rad/s", 25.0, ALL, spin_rad_s=200.0),
    MarkingCondition("25, every touch, ball clicked 5 px off", 25.0, ALL, click_px=5.0),
    MarkingCondition("25, strike, front wall, bounce, 5 px off", 25.0, THREE, click_px=5.0),
    MarkingCondition(
        "25, every touch, ball at 25 °C, warmth unsure", 25.0, ALL, ball_c=25.0, warmth="unsure"
    ),
    MarkingCondition("25, every touch, ball at 38 °C, warmth unsure", 25.0, ALL, warmth="unsure"),
    MarkingCondition("25, feet marked up to a picture early or late", 25.0, FEET, feet_late=1.0),
    MarkingCondition("25, every touch, middle off by 15 px, lens askew", 25.0, ALL, camera=SETTINGS[-1]),
    MarkingCondition(
        "25, every touch, all of these together",
        25.0,
        ALL,
        spin_rad_s=200.0,
        click_px=5.0,
        ball_c=25.0,
        warmth="unsure",
        camera=SETTINGS[-1],
    ),
)


@dataclass(frozen=True, eq=False)
class TrueServe:
    """A serve as it really was: launch, box, and its touches in order."""

    launch: Floats
    box: str
    surfaces: tuple[int, ...]
    times_s: Floats
    places: Floats
    path: Floats  # (n, 4): time and place, every millisecond to the first bounce

    def at(self, moment_s: float) -> Floats:
        """Return where the ball is."""
        return np.array([np.interp(moment_s, self.path[:, 0], self.path[:, k]) for k in (1, 2, 3)])

    def touch(self, what: MarkKind) -> int | None:
        """Return the number of a touch."""
        floors = [n for n, surface in enumerate(self.surfaces) if surface == at.FLOOR]
        if what in (MarkKind.FLOOR, MarkKind.SECOND):
            wanted = 0 if what is MarkKind.FLOOR else 1
            return floors[wanted] if len(floors) > wanted else None
        return next((n for n, s in enumerate(self.surfaces) if _SEEN.get(s) is what), None)


def true_world(rng: np.random.Generator, ball_c: float = c.GOOD_CLUB_C) -> Coefficients:
    """Return ball and court drawn from the ranges in which they are known, none of it told to the fit."""

    def some(quantity: c.Quantity, low: float, high: float) -> float:
        return float(np.clip(rng.normal(quantity.value, quantity.sd), low, high))

    def friction(quantity: c.Quantity) -> float:
        spread = math.log(quantity.high / quantity.low) / c.NINE_IN_TEN_SDS
        return quantity.value * math.exp(float(np.clip(rng.normal(0.0, spread), -1.2, 1.2)))

    side = some(c.ASSUMED_WALL_FACTOR, 0.8, 1.2)
    on_walls = friction(c.ASSUMED_FRICTION)
    return Coefficients(
        e7=e7_at(ball_c) + rng.normal(0.0, c.BOUNCE_E7_SPREAD.sd),
        speed_power=some(c.ASSUMED_SPEED_POWER, 0.0, 0.3),
        grip=some(c.ASSUMED_GRIP, -0.3, 0.6),
        bounce=PerSurface(
            some(c.ASSUMED_FLOOR_FACTOR, 0.7, 1.2),
            some(c.ASSUMED_WALL_FACTOR, 0.8, 1.2),
            side,
            side,
            some(c.ASSUMED_GLASS_FACTOR, 0.8, 1.2),
        ),
        friction=PerSurface(
            friction(c.ASSUMED_FRICTION),
            friction(c.ASSUMED_FRICTION),
            on_walls,
            on_walls,
            friction(c.ASSUMED_FRICTION_GLASS),
        ),
        drag_factor=some(c.DRAG_FACTOR, 0.7, 1.4),
        lift=some(c.ASSUMED_LIFT, -0.3, 1.6),
    )


def true_serve(rng: np.random.Generator, condition: MarkingCondition | None = None) -> TrueServe:
    """Return a good serve of any kind, from either box, flown by DOP853."""
    how = condition or CONDITIONS[0]
    while True:
        world = true_world(rng, how.ball_c)
        start = np.array([rng.uniform(5.0, 6.0), rng.uniform(5.6, 6.7), rng.uniform(0.7, 2.2)])
        spin = rng.normal(0.0, how.spin_rad_s, 3)
        spot = [rng.uniform(1.6, 4.2), rng.uniform(1.9, 4.4)]
        launch, miss = aim_at_spots([[*start, *spin]], [rng.uniform(14.0, 36.0)], [spot], [world.row()])
        if miss[0] > 1e-3:
            continue
        surfaces, times, places = peer_flight(launch[0], world, 1e-9)
        touched = [
            BallContact(_SURFACES[s], float(x), float(y), float(z))
            for s, (x, y, z) in zip(surfaces, places, strict=True)
        ]
        if surfaces.count(at.FLOOR) < 2 or not serve_verdict("right", touched).good:
            continue
        path = peer_path(launch[0], world, surfaces, times)
        serve = TrueServe(launch[0], "right", surfaces, times, places, path)
        return serve if rng.random() < 0.5 else _mirrored(serve)


def _mirrored(serve: TrueServe) -> TrueServe:
    launch = serve.launch * [1, 1, 1, -1, 1, 1, 1, -1, -1]
    launch[0] = 6.40 - serve.launch[0]
    places = serve.places * [-1, 1, 1] + [6.40, 0, 0]
    swap = {at.LEFT: at.RIGHT, at.RIGHT: at.LEFT}
    path = serve.path * [1, -1, 1, 1] + [0, 6.40, 0, 0]
    return TrueServe(
        launch, "left", tuple(swap.get(s, s) for s in serve.surfaces), serve.times_s, places, path
    )


def marks_of(
    rng: np.random.Generator, serve: TrueServe, real: RealCamera, condition: MarkingCondition
) -> list[ServeMark]:
    """Return what a coach marks: what is in the picture, 2 px off, at the picture nearest to the touch."""
    frame = 1.0 / condition.rate_hz
    phase = rng.uniform(0.0, frame)
    found = []
    for what in condition.marks:
        if what in (MarkKind.STRIKE, MarkKind.FEET):
            place, moment, error = serve.launch[:3].copy(), 0.0, condition.click_px
            if what is MarkKind.FEET:
                place[:2] += rng.normal(0.0, 0.35, 2)
                place[2], error = 0.0, FEET_PX
                moment = frame * condition.feet_late * rng.uniform(-1.0, 1.0)
        else:
            n = serve.touch(what)
            if n is None:
                continue
            place, moment, error = serve.places[n], float(serve.times_s[n]), condition.click_px
        shown = phase + frame * round((moment - phase) / frame)
        onset_s = None
        if condition.onset_known and what is MarkKind.STRIKE:
            onset_s = float(np.linalg.norm(place - real.place_m)) / SOUND_M_S + rng.normal(0.0, 0.0005)
        found += _clicked(rng, real, ServeMark(what, shown, 0.0, 0.0, frame, onset_s), place, error)
    last = serve.touch(MarkKind.FLOOR) or 0
    for moment in rng.uniform(0.03, float(serve.times_s[last]) - 0.03, condition.balls):
        shown = phase + frame * round((moment - phase) / frame)
        mark = ServeMark(MarkKind.BALL, shown, 0.0, 0.0, frame)
        found += _clicked(rng, real, mark, serve.at(shown), condition.click_px)
    return found


def marks_clicked_twice(
    rng: np.random.Generator, serve: TrueServe, real: RealCamera, condition: MarkingCondition
) -> list[ServeMark]:
    """Return what a coach marks who clicks each thing a second time, without sight of the first click."""
    exact = copy.deepcopy(rng)
    marks = marks_of(rng, serve, real, condition)
    truth = {
        (mark.what, mark.at_s): (mark.u, mark.v)
        for mark in marks_of(exact, serve, real, replace(condition, click_px=0.0))
    }
    twice = []
    for mark in marks:
        place = truth.get((mark.what, mark.at_s))
        if place is not None:
            off = rng.normal(0.0, condition.click_px, 2)
            twice.append(replace(mark, again=(place[0] + float(off[0]), place[1] + float(off[1]))))
        else:
            twice.append(mark)
    return twice


def _clicked(
    rng: np.random.Generator, real: RealCamera, mark: ServeMark, place: Floats, error_px: float
) -> list[ServeMark]:
    """Return the mark with its place in the picture; nothing where it is not seen."""
    u, v = real.see(place[None])[0] + rng.normal(0.0, error_px, 2)
    if not (math.isfinite(u) and 0 <= u <= WIDTH and 0 <= v <= HEIGHT):
        return []
    return [replace(mark, u=float(u), v=float(v))]
