"""Pose the two figures' skeletons from a player's position, movement and strikes.

They are drawn people, not measured ones: nothing about a body may be learnt from them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from goodlength.demo.play.court_camera import Point

UPPER_LEG_M, LOWER_LEG_M = 0.45, 0.44
UPPER_ARM_M, LOWER_ARM_M = 0.29, 0.27
HAND_TO_HEAD_M = 0.50  # from the hand to the middle of the racket's head
PREPARES_S, FOLLOWS_S = 0.45, 0.40


@dataclass(frozen=True)
class FigureMoment:
    """What a figure is doing at one moment."""

    x: float
    y: float
    speed_x: float
    speed_y: float
    phase_rad: float  # of the steps
    to_strike_s: (
        float | None
    )  # from the nearest own strike: negative before it, positive after; None: far from one
    ball: Point | None  # where that strike meets the ball
    holds: Point | None = None  # the ball, or where it was tossed from, in the other hand
    playing: bool = True  # in a rally he goes back facing the front wall; between rallies he turns round
    bends: float = 0.0  # 1: down to the floor for the ball


@dataclass(frozen=True)
class FigureJoints:
    """Places of the joints in the court frame, metres; pairs are left, right."""

    head: Point
    neck: Point
    shoulders: tuple[Point, Point]
    elbows: tuple[Point, Point]
    hands: tuple[Point, Point]
    hips: tuple[Point, Point]
    knees: tuple[Point, Point]
    feet: tuple[Point, Point]
    toes: tuple[Point, Point]
    racket: Point  # middle of its head
    facing_rad: float


def _add(a: Point, b: Point, k: float = 1.0) -> Point:
    return (a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2])


def _unit(a: Point) -> Point:
    n = math.sqrt(a[0] ** 2 + a[1] ** 2 + a[2] ** 2) or 1.0
    return (a[0] / n, a[1] / n, a[2] / n)


def _mix(a: Point, b: Point, s: float) -> Point:
    return (a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1]), a[2] + s * (b[2] - a[2]))


def _ease(s: float) -> float:
    s = min(max(s, 0.0), 1.0)
    return s * s * (3 - 2 * s)


def _joint(root: Point, end: Point, first: float, second: float, bend: Point) -> tuple[Point, Point]:
    """Return the middle joint of a limb and its end, pulled in where it is out of reach."""
    gap = math.dist(root, end)
    reach = (first + second) * 0.995
    if gap > reach:
        end = _mix(root, end, reach / gap)
        gap = reach
    along = gap / 2 + (first**2 - second**2) / (2 * max(gap, 1e-6))
    off = math.sqrt(max(0.0, first**2 - along**2))
    d = _unit(_add(end, root, -1.0))
    across = bend[0] * d[0] + bend[1] * d[1] + bend[2] * d[2]
    side = _unit(_add(bend, d, -across))
    return _add(_add(root, d, along), side, off), end


def _near_strike(m: FigureMoment) -> float:
    """1 at the strike, 0 where the swing has not begun or is over."""
    if m.to_strike_s is None or m.ball is None:
        return 0.0
    t = m.to_strike_s
    return _ease(1 + t / PREPARES_S) if t < 0 else _ease(1 - t / FOLLOWS_S)


def _facing(m: FigureMoment, near: float) -> float:
    """Turn of the body, 0 towards the front wall, positive to the right."""
    speed = math.hypot(m.speed_x, m.speed_y)
    turn = 0.0
    if speed > 0.3:
        run = math.atan2(m.speed_x, -m.speed_y)
        if not m.playing:
            turn = run * _ease((speed - 0.3) / 0.7)
        elif abs(run) < 2.2:
            turn = run * min(1.0, speed / 2.5) * 0.7
    if m.ball is not None and near > 0:
        side = 1.0 if m.ball[0] > m.x else -1.0
        turn += near * (side * 1.15 - turn)
    return turn


def pose(m: FigureMoment, right_handed: bool = True) -> FigureJoints:
    """Return the joints of a figure at a moment."""
    near = _near_strike(m)
    turn = _facing(m, near)
    f: Point = (math.sin(turn), -math.cos(turn), 0.0)
    r: Point = (math.cos(turn), math.sin(turn), 0.0)
    speed = math.hypot(m.speed_x, m.speed_y)
    low = 0.0 if m.ball is None else max(0.0, 1.15 - m.ball[2])
    crouch = 0.05 + 0.03 * min(speed, 3.0) + near * 0.30 * low + 0.40 * m.bends
    toward: Point = (0.0, 0.0, 0.0)
    if m.ball is not None and near > 0:
        toward = _unit((m.ball[0] - m.x, m.ball[1] - m.y, 0.0))
    bob = 0.02 * math.cos(2 * m.phase_rad) * min(1.0, speed)
    lean = near * (0.10 + 0.28 * low)
    pelvis = _add((m.x, m.y, 0.93 - crouch + bob), toward, 0.5 * lean)
    stoop = 0.06 + 0.05 * min(speed, 3.0) + 0.30 * m.bends
    chest = _add(_add(_add(pelvis, (0.0, 0.0, 0.47 - 0.4 * lean - 0.22 * m.bends)), f, stoop), toward, lean)
    head = _add(_add(chest, (0.0, 0.0, 0.25)), f, 0.05)
    shoulders = (_add(chest, r, -0.18), _add(chest, r, 0.18))
    hips = (_add(pelvis, r, -0.11), _add(pelvis, r, 0.11))
    feet, toes = _feet(m, f, r, near, toward)
    ahead = _add(f, toward, 0.3 * near)
    legs = [
        _joint(h, _add(t, (0, 0, 0.07)), UPPER_LEG_M, LOWER_LEG_M, ahead)
        for h, t in zip(hips, feet, strict=True)
    ]
    hand, racket = _swing(
        m, shoulders[1] if right_handed else shoulders[0], f, r if right_handed else _add((0, 0, 0), r, -1)
    )
    arm, hand = _joint(shoulders[1 if right_handed else 0], hand, UPPER_ARM_M, LOWER_ARM_M, (0.0, 0.3, -1.0))
    other_hand = _other_hand(
        m, shoulders[0 if right_handed else 1], f, r if right_handed else _add((0, 0, 0), r, -1), near
    )
    other, other_hand = _joint(
        shoulders[0 if right_handed else 1], other_hand, UPPER_ARM_M, LOWER_ARM_M, (0, 0.3, -1)
    )
    elbows = (other, arm) if right_handed else (arm, other)
    hands = (other_hand, hand) if right_handed else (hand, other_hand)
    return FigureJoints(
        head,
        _add(chest, (0, 0, 0.06)),
        shoulders,
        elbows,
        hands,
        hips,
        (legs[0][0], legs[1][0]),
        feet,
        toes,
        racket,
        turn,
    )


def _feet(
    m: FigureMoment, f: Point, r: Point, near: float, toward: Point
) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
    """Feet and toes: steps while he moves, a wide stand or a lunge otherwise."""
    speed = math.hypot(m.speed_x, m.speed_y)
    go = _unit((m.speed_x, m.speed_y, 0.0)) if speed > 0.05 else f
    swing = 0.34 * min(1.0, speed / 2.0)
    low = 0.0 if m.ball is None else max(0.0, 1.1 - m.ball[2])
    feet = []
    for side, phase in ((-1.0, m.phase_rad), (1.0, m.phase_rad + math.pi)):
        width = 0.15 + 0.05 * near + (0.05 if speed < 0.3 else 0.0)
        spot = _add((m.x, m.y, 0.0), r, side * width)
        spot = _add(spot, go, swing * math.sin(phase))
        lifted = 0.10 * min(1.0, speed / 2.0) * max(0.0, math.cos(phase))
        reaches = toward[0] * r[0] + toward[1] * r[1]
        if near > 0 and side * reaches > 0:
            spot = _add(spot, toward, near * (0.12 + 0.40 * low))
        feet.append((spot[0], spot[1], lifted))
    toes = tuple(_add(foot, f, 0.17) for foot in feet)
    return (feet[0], feet[1]), (toes[0], toes[1])


def _swing(m: FigureMoment, shoulder: Point, f: Point, r: Point) -> tuple[Point, Point]:
    """Return the racket hand and the middle of the racket's head, from ready through the swing to ready."""
    ready = _add(_add(_add(shoulder, f, 0.34), r, -0.06), (0, 0, -0.30))
    up = _unit((f[0] * 0.35 - r[0] * 0.25, f[1] * 0.35 - r[1] * 0.25, 0.9))
    ready_racket = _add(ready, up, HAND_TO_HEAD_M)
    t, ball = m.to_strike_s, m.ball
    if t is None or ball is None:
        return ready, ready_racket
    out = _unit((ball[0] - shoulder[0], ball[1] - shoulder[1], 0.0))
    high = ball[2] > 1.7
    tilt = 0.9 if high else (-0.25 if ball[2] < 0.5 else 0.05)
    dirn = _unit((out[0], out[1], tilt))
    hit_hand = _add(ball, dirn, -HAND_TO_HEAD_M)
    back_hand = _add(_add(shoulder, out, 0.10), (0.0, 0.30, 0.16))
    back_racket = _add(back_hand, _unit((out[0] * 0.3, 0.45, 0.8)), HAND_TO_HEAD_M)
    through_hand = _add(_add(shoulder, out, 0.12), (0.0, -0.42, 0.12))
    through_racket = _add(through_hand, _unit((-out[0] * 0.5, -0.7, 0.7)), HAND_TO_HEAD_M)
    marks = [
        (-PREPARES_S, ready, ready_racket),
        (-0.16, back_hand, back_racket),
        (0.0, hit_hand, ball),
        (0.14, through_hand, through_racket),
        (FOLLOWS_S, ready, ready_racket),
    ]
    for (t0, h0, k0), (t1, h1, k1) in pairwise(marks):
        if t0 <= t <= t1:
            s = (t - t0) / (t1 - t0)
            s = s * s if t1 == 0.0 else (1 - (1 - s) ** 2 if t0 == 0.0 else _ease(s))
            hand = _mix(h0, h1, s)
            head = _add(hand, _unit(_add(_mix(k0, k1, s), hand, -1.0)), HAND_TO_HEAD_M)
            return hand, _mix(k0, k1, s) if t == 0.0 else head
    return ready, ready_racket


def _other_hand(m: FigureMoment, shoulder: Point, f: Point, r: Point, near: float) -> Point:
    """Return the hand without a racket: swinging with the steps, out for balance, or at the ball."""
    if m.holds is not None:
        return m.holds
    speed = math.hypot(m.speed_x, m.speed_y)
    hang = _add(_add(_add(shoulder, r, -0.08), f, 0.12), (0, 0, -0.42))
    hang = _add(hang, f, 0.18 * min(1.0, speed / 2.0) * math.sin(m.phase_rad + math.pi))
    wide = _add(_add(shoulder, r, -0.42), (0, 0, -0.05))
    return _mix(hang, wide, 0.8 * near)
