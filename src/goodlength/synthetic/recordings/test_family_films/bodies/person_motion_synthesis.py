"""A person's movement: steps under a planned path, a crouch and lean for each stroke, arms led by keys.

Feet stand still while they carry weight; legs and arms follow by two-bone inverse kinematics. The racket's
head meets the ball at the moment of each strike, as far as arm and lean allow. Timing and reach are ASSUMED.

```
 path of the pelvis ──> steps ──> legs ┐
 strikes ──> turn, crouch, lean ───────┼──> joints, 100 a second
 strikes ──> keys for hand and racket ─┘
```
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from goodlength.synthetic.recordings.test_family_films.bodies import implicit_surface_body_mesh as body
from goodlength.synthetic.recordings.test_family_films.bodies.implicit_surface_body_mesh import BONES

Floats = NDArray[np.float64]
RATE_HZ = 100.0
RACKET_M, SWEET_SPOT_M = 0.64, 0.47  # from the hand to the tip and to the middle of the strings
UP = np.array([0.0, 0.0, 1.0])
_READY, _READY_RACKET = (-0.1, 0.6, -0.35), (-0.25, 0.65, 0.7)
# Keys about a strike: seconds, hand from the shoulder in arm lengths (outwards, forward, up), racket's way.
_FOREHAND = (
    (-0.30, (0.55, -0.35, 0.42), (0.1, -0.45, 0.9)),
    (-0.09, (0.72, -0.25, -0.2), (0.35, -0.9, -0.1)),
    (0.0, None, None),
    (0.09, (-0.05, 0.85, 0.05), (-0.55, 0.8, 0.2)),
    (0.22, (-0.6, 0.5, 0.35), (-0.75, 0.05, 0.65)),
)
_BACKHAND = (
    (-0.30, (-0.8, 0.25, 0.35), (-0.4, -0.35, 0.85)),
    (-0.09, (-0.75, 0.4, -0.25), (-0.6, -0.8, -0.1)),
    (0.0, None, None),
    (0.09, (0.1, 0.85, 0.05), (0.5, 0.85, 0.2)),
    (0.22, (0.7, 0.35, 0.35), (0.75, 0.2, 0.6)),
)


@dataclass(frozen=True)
class PlannedStroke:
    """One strike: when, where the ball is, which side, and the way the body is turned to (x, y)."""

    time_s: float
    ball_m: Floats
    forehand: bool
    facing: Floats


@dataclass(frozen=True)
class BodyMotion:
    """Joints, poles of bones and racket of one person over time, sampled at `RATE_HZ` from time 0.

    `joints` has shape (n, 20, 3), `poles` (n, 15, 3), `racket` (n, 2, 3): way of its shaft and of its
    face, or None. `soles` (n, 2, 3) are the middles of the feet's undersides.
    """

    joints: Floats
    poles: Floats
    soles: Floats
    racket: Floats | None = None

    def at(self, time_s: float) -> tuple[Floats, Floats, Floats | None, Floats]:
        """Return joints, poles, racket and soles at a time, between samples by a straight line."""
        place = min(max(time_s * RATE_HZ, 0.0), len(self.joints) - 1.001)
        i = int(place)
        f = place - i
        mixed = [(1.0 - f) * a[i] + f * a[i + 1] for a in (self.joints, self.poles, self.soles)]
        racket = None
        if self.racket is not None:
            racket = (1.0 - f) * self.racket[i] + f * self.racket[i + 1]
        return mixed[0], mixed[1], racket, mixed[2]


def unit(vectors: Floats) -> Floats:
    """Return vectors of length one along the last axis."""
    return np.asarray(vectors / (np.linalg.norm(vectors, axis=-1, keepdims=True) + 1e-12))


def to_right(facing: Floats) -> Floats:
    """Return the way to the right of a facing in the floor's plane, shape (n, 3), of shape (n, 2)."""
    return np.stack([-facing[:, 1], facing[:, 0], np.zeros(len(facing))], axis=1)


def _bump(times: Floats, rise: tuple[float, float], fall: tuple[float, float]) -> Floats:
    """Return 0, smoothly 1 between the rise's end and the fall's begin, and 0 again."""
    up = np.clip((times - rise[0]) / (rise[1] - rise[0]), 0.0, 1.0)
    down = np.clip((fall[1] - times) / (fall[1] - fall[0]), 0.0, 1.0)
    both = np.minimum(up, down)
    return np.asarray(both * both * (3.0 - 2.0 * both))


def plan_steps(
    times: Floats, path: Floats, facing: Floats, stature_m: float, strokes: list[PlannedStroke]
) -> tuple[Floats, Floats, Floats]:
    """Return ankles' places on the floor and lifts, shape (n, 2, 3), feet's ways (n, 2, 2), and swing (n, 2).

    Steps take turns, quicker at speed; a foot lands where the body will be, and reaches for the ball before
    a strike.
    """
    n = len(times)
    right = to_right(facing)[:, :2]
    apart = 0.075 * stature_m
    feet = np.zeros((n, 2, 3))
    ways, swing = np.repeat(facing[:, None], 2, axis=1).copy(), np.zeros((n, 2))
    stand = [path[0] - apart * right[0], path[0] + apart * right[0]]
    way = [facing[0].copy(), facing[0].copy()]
    i, foot = 0, 0
    while i < n:
        speed = _speed_at(path, i)
        seconds = float(np.clip(0.46 - 0.055 * speed, 0.24, 0.46))
        end = min(n, i + max(2, int(seconds * RATE_HZ)))
        landing, turned = _landing(times, path, facing, right, apart, foot, end, seconds, strokes)
        moved = float(np.hypot(*(landing - stand[foot])))
        k = slice(i, end)
        count = end - i
        feet[k, 0, :2], feet[k, 1, :2] = stand[0], stand[1]
        ways[k, 0], ways[k, 1] = way[0], way[1]
        if moved > 0.07 or float(way[foot] @ turned) < 0.85:
            s = (np.arange(count) + 1.0) / count
            ease = (s * s * (3.0 - 2.0 * s))[:, None]
            feet[k, foot, :2] = (1.0 - ease) * stand[foot] + ease * landing
            lift = np.sin(math.pi * s) * min(0.04 + 0.09 * moved, 0.16)
            feet[k, foot, 2], swing[k, foot] = lift, np.sin(math.pi * s) * min(1.0, moved)
            ways[k, foot] = unit((1.0 - ease) * way[foot] + ease * turned)
            stand[foot], way[foot] = landing, turned
        i, foot = end, 1 - foot
    return feet, ways, swing


def _speed_at(path: Floats, i: int) -> float:
    a, b = max(0, i - 5), min(len(path) - 1, i + 5)
    return float(np.hypot(*(path[b] - path[a]))) * RATE_HZ / max(b - a, 1)


def _landing(
    times: Floats,
    path: Floats,
    facing: Floats,
    right: Floats,
    apart: float,
    foot: int,
    end: int,
    seconds: float,
    strokes: list[PlannedStroke],
) -> tuple[Floats, Floats]:
    n, side = len(times), -1.0 if foot == 0 else 1.0
    j = min(n - 1, end + int(0.5 * seconds * RATE_HZ))
    landing = path[j] + side * apart * right[j]
    when = times[min(end, n - 1)]
    for stroke in strokes:
        if stroke.time_s - 0.22 < when < stroke.time_s + 0.2:
            k = min(n - 1, int(stroke.time_s * RATE_HZ))
            to_ball = stroke.ball_m[:2] - path[k]
            far = float(np.hypot(*to_ball)) + 1e-9
            ahead = float(to_ball @ right[k]) * side > -0.2 * far
            reach = min(0.42, 0.5 * far) if ahead else -0.22
            landing = path[k] + reach * to_ball / far + 0.5 * side * apart * right[k]
    return landing, facing[j]


def solve_two_bones(
    root: Floats, target: Floats, pole: Floats, upper: float, lower: float
) -> tuple[Floats, Floats]:
    """Return the middle joints and the ends reached, shape (n, 3); a target out of reach is come near to."""
    way = target - root
    far = np.linalg.norm(way, axis=1, keepdims=True) + 1e-9
    reach = np.clip(far, abs(upper - lower) + 0.02, 0.995 * (upper + lower))
    along = way / far
    side = unit(pole - np.sum(pole * along, axis=1, keepdims=True) * along)
    a = (reach**2 + upper**2 - lower**2) / (2.0 * reach)
    out = np.sqrt(np.maximum(upper**2 - a**2, 0.0))
    return root + a * along + out * side, root + reach * along


def _keyed(times: Floats, keys: list[tuple[float, Floats]]) -> Floats:
    """Return a smooth curve through keys (seconds, vector), shape (n, 3); the same key's time only once."""
    keys = sorted(keys, key=lambda k: k[0])
    chosen = [keys[0]]
    for key in keys[1:]:
        if key[0] - chosen[-1][0] > 0.02:
            chosen.append(key)
    if len(chosen) == 1:
        return np.tile(chosen[0][1], (len(times), 1))
    moments = np.array([k[0] for k in chosen])
    curve = PchipInterpolator(moments, np.stack([k[1] for k in chosen]))
    return np.asarray(curve(np.clip(times, moments[0], moments[-1])))


@dataclass
class BodyFrame:
    """The trunk over time: points and ways, each of shape (n, 3)."""

    pelvis: Floats
    spine: Floats
    right: Floats
    chest_right: Floats
    chest_forward: Floats
    chest: Floats
    neck: Floats
    head: Floats


def _trunk(
    times: Floats,
    path: Floats,
    height: Floats,
    facing: Floats,
    stature_m: float,
    strokes: list[PlannedStroke],
    ball: Floats | None,
) -> BodyFrame:
    """Return the trunk: it leans to the ball at a strike and twists into it."""
    forward = np.column_stack([facing, np.zeros(len(facing))])
    right = to_right(facing)
    velocity = np.gradient(path, axis=0) * RATE_HZ
    tilt = np.column_stack([0.035 * gaussian_filter1d(velocity, 8, axis=0), np.zeros(len(path))])
    lean = UP + 0.16 * forward + tilt
    twist = np.zeros(len(times))
    for s in strokes:
        k = min(len(times) - 1, int(s.time_s * RATE_HZ))
        to_ball = np.array([*(s.ball_m[:2] - path[k]), 0.0])
        low = float(np.clip((1.0 - s.ball_m[2]) / 1.0, -0.3, 1.0))
        lean += _bump(times - s.time_s, (-0.35, -0.03), (0.03, 0.4))[:, None] * (0.25 + 0.5 * low) * to_ball
        side = -1.0 if s.forehand else 1.0
        twist += side * -0.35 * _bump(times - s.time_s, (-0.5, -0.25), (-0.2, 0.02))
        twist += side * 0.45 * _bump(times - s.time_s, (-0.02, 0.15), (0.2, 0.5))
    spine = unit(lean)
    pelvis = np.column_stack([path, height])
    c, s_ = np.cos(twist)[:, None], np.sin(twist)[:, None]
    chest_right = c * right + s_ * forward
    chest_right = unit(chest_right - np.sum(chest_right * spine, 1, keepdims=True) * spine)
    chest_forward = unit(c * forward - s_ * right)
    chest_forward = unit(chest_forward - np.sum(chest_forward * spine, 1, keepdims=True) * spine)
    chest = pelvis + 0.14 * stature_m * spine
    neck = chest + 0.155 * stature_m * unit(spine + 0.1 * lean)
    head_way = UP + 0.35 * spine + 0.1 * forward
    if ball is not None:
        head_way = head_way + 0.15 * unit(ball - neck)
    return BodyFrame(
        pelvis,
        spine,
        right,
        chest_right,
        chest_forward,
        chest,
        neck,
        neck + 0.09 * stature_m * unit(head_way),
    )


def _arm_keys(
    times: Floats,
    frame: BodyFrame,
    shoulder: Floats,
    strokes: list[PlannedStroke],
    side: float,
    arm_m: float,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Return the racket hand from the shoulder, in metres, and the racket's way, both in chest axes."""
    hand = [(times[0], arm_m * np.array(_READY) * [side, 1, 1])]
    racket = [(times[0], np.array(_READY_RACKET) * [side, 1, 1])]
    for stroke in strokes:
        k = min(len(times) - 1, max(0, round(stroke.time_s * RATE_HZ)))
        axes = np.stack([frame.chest_right[k], frame.chest_forward[k], frame.spine[k]])
        way = stroke.ball_m - shoulder[k]
        shaft = unit(unit(way) + 0.25 * UP)
        grip = stroke.ball_m - (SWEET_SPOT_M + 0.09) * shaft
        keys = _FOREHAND if stroke.forehand else _BACKHAND
        for offset, at_hand, at_racket in keys:
            moment = stroke.time_s + offset
            if at_hand is None or at_racket is None:
                hand.append((moment, axes @ (grip - shoulder[k])))
                racket.append((moment, axes @ shaft))
            else:
                hand.append((moment, arm_m * np.array(at_hand) * [side, 1, 1]))
                racket.append((moment, np.array(at_racket) * [side, 1, 1]))
        for offset in (-0.6, 0.55):
            hand.append(
                (
                    stroke.time_s + offset,
                    arm_m * (np.array(_READY) + 0.05 * rng.standard_normal(3)) * [side, 1, 1],
                )
            )
            racket.append((stroke.time_s + offset, np.array(_READY_RACKET) * [side, 1, 1]))
    return _keyed(times, hand), unit(_keyed(times, racket))


def _from_chest(frame: BodyFrame, vectors: Floats) -> Floats:
    return (
        vectors[:, :1] * frame.chest_right
        + vectors[:, 1:2] * frame.chest_forward
        + vectors[:, 2:] * frame.spine
    )


def _free_hand(
    times: Floats, swing: Floats, strokes: list[PlannedStroke], side: float, arm_m: float
) -> Floats:
    """Return the other hand from its shoulder in chest axes: it swings with steps and balances a strike."""
    low = np.tile(arm_m * np.array([0.15 * side, 0.35, -0.75]), (len(times), 1))
    pace = gaussian_filter1d(swing[:, 0] - swing[:, 1], 6)
    low[:, 1] += 0.3 * arm_m * pace
    out = arm_m * np.array([0.6 * side, 0.5, 0.0])
    for stroke in strokes:
        weight = _bump(times - stroke.time_s, (-0.45, -0.2), (0.1, 0.5))[:, None]
        low = (1.0 - weight) * low + weight * out
    return low


def pelvis_height(feet: Floats, path: Floats, stature_m: float, crouch: Floats) -> Floats:
    """Return the height of the pelvis: what the legs reach, less the crouch."""
    leg = 0.485 * stature_m
    across = np.linalg.norm(feet[:, :, :2] - path[:, None], axis=2)
    lifted = feet[:, :, 2] > 0.02
    across = np.where(lifted, 0.0, across)
    most = 0.039 * stature_m + np.sqrt(
        np.maximum((0.975 * leg) ** 2 - np.minimum(across, 0.8 * leg) ** 2, 0.05)
    ).min(axis=1)
    wanted = (0.039 + 0.485 * (0.955 - crouch)) * stature_m
    height = np.minimum(most, wanted) + 0.028 * stature_m
    return np.asarray(np.maximum(gaussian_filter1d(height, 5), 0.3 * stature_m))


def _assemble(
    frame: BodyFrame,
    feet: Floats,
    ways: Floats,
    swing: Floats,
    hands: list[Floats],
    stature_m: float,
    hips: float,
    shafts: Floats | None,
    racket_right: bool,
) -> BodyMotion:
    """Return the motion with legs and arms solved."""
    n = len(feet)
    joints, poles = np.zeros((n, 20, 3)), np.zeros((n, len(BONES), 3))
    joints[:, body.PELVIS], joints[:, body.CHEST] = frame.pelvis, frame.chest
    joints[:, body.NECK], joints[:, body.HEAD] = frame.neck, frame.head
    poles[:, 0], poles[:, 1], poles[:, 2] = frame.right, frame.chest_right, frame.chest_right
    soles = np.zeros((n, 2, 3))
    for side, sign in ((0, -1.0), (1, 1.0)):
        way = np.column_stack([ways[:, side], np.zeros(n)])
        hip = frame.pelvis - 0.028 * stature_m * UP + sign * 0.052 * hips * stature_m * frame.right
        ankle = np.column_stack([feet[:, side, :2], feet[:, side, 2] + 0.039 * stature_m])
        knee_pole = way + 0.25 * sign * frame.right
        knee, ankle = solve_two_bones(hip, ankle, knee_pole, 0.242 * stature_m, 0.243 * stature_m)
        dip = -0.021 - 0.06 * swing[:, side] - 0.4 * np.maximum(0.0, ankle[:, 2] / stature_m - 0.045)
        toe = ankle + 0.1055 * stature_m * way + np.outer(dip * stature_m, UP)
        toe[:, 2] = np.maximum(toe[:, 2], 0.016 * stature_m)
        soles[:, side] = 0.62 * ankle + 0.38 * toe
        soles[:, side, 2] = np.maximum(
            0.0, np.minimum(ankle[:, 2] - 0.039 * stature_m, toe[:, 2] - 0.018 * stature_m)
        )
        joints[:, body.L_HIP + side], joints[:, body.L_KNEE + side] = hip, knee
        joints[:, body.L_ANKLE + side], joints[:, body.L_TOE + side] = ankle, toe
        poles[:, 9 + side], poles[:, 11 + side], poles[:, 13 + side] = knee_pole, knee_pole, UP
        shoulder = shoulders(frame, stature_m, sign)
        elbow_pole = -0.8 * frame.spine + 0.5 * sign * frame.chest_right - 0.35 * frame.chest_forward
        target = shoulder + _from_chest(frame, hands[side])
        elbow, wrist = solve_two_bones(shoulder, target, elbow_pole, 0.186 * stature_m, 0.146 * stature_m)
        along = unit(wrist - elbow)
        if shafts is not None and (side == 1) == racket_right:
            along = unit(along + 1.2 * shafts)
        joints[:, body.L_SHOULDER + side], joints[:, body.L_ELBOW + side] = shoulder, elbow
        joints[:, body.L_WRIST + side], joints[:, body.L_HAND + side] = (
            wrist,
            wrist + 0.055 * stature_m * along,
        )
        poles[:, 3 + side], poles[:, 5 + side], poles[:, 7 + side] = elbow_pole, elbow_pole, elbow_pole
    racket = None
    if shafts is not None:
        racket = np.stack([shafts, unit(frame.chest_forward + 0.3 * UP)], axis=1)
    return BodyMotion(joints, poles, soles, racket)


def shoulders(frame: BodyFrame, stature_m: float, sign: float) -> Floats:
    """Return a shoulder's places; sign -1 for the left, 1 for the right."""
    return np.asarray(
        frame.neck - 0.033 * stature_m * frame.spine + sign * 0.112 * stature_m * frame.chest_right
    )


def move_player(
    rng: np.random.Generator,
    path: Floats,
    facing: Floats,
    stature_m: float,
    hips: float,
    right_handed: bool,
    strokes: list[PlannedStroke],
    ball: Floats | None = None,
    with_racket: bool = True,
    crouch: Floats | None = None,
) -> BodyMotion:
    """Return the movement of a person whose pelvis follows a path (n, 2), facing ways (n, 2), at `RATE_HZ`.

    `ball` (n, 3) is what the head turns to. Strikes bend knees and trunk, and lead the racket to the ball.
    """
    times = np.arange(len(path)) / RATE_HZ
    feet, ways, swing = plan_steps(times, path, facing, stature_m, strokes)
    bend = np.full(len(times), 0.04) if crouch is None else crouch.copy()
    for s in strokes:
        low = float(np.clip((1.3 - s.ball_m[2]) / 1.1, 0.0, 1.0))
        bend += (0.06 + 0.24 * low) * _bump(times - s.time_s, (-0.4, -0.05), (0.05, 0.4))
    height = pelvis_height(feet, path, stature_m, bend)
    frame = _trunk(times, path, height, facing, stature_m, strokes, ball)
    side = 1.0 if right_handed else -1.0
    arm = 0.332 * stature_m
    free = _free_hand(times, swing, strokes, -side, arm)
    if not with_racket:
        other = _free_hand(times, -swing, [], side, arm)
        hands = [free, other] if right_handed else [other, free]
        return _assemble(frame, feet, ways, swing, hands, stature_m, hips, None, right_handed)
    hand, shaft = _arm_keys(times, frame, shoulders(frame, stature_m, side), strokes, side, arm, rng)
    hands = [free, hand] if right_handed else [hand, free]
    return _assemble(
        frame, feet, ways, swing, hands, stature_m, hips, unit(_from_chest(frame, shaft)), right_handed
    )
