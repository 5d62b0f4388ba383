"""Skeletons that walk, run and swing a racket along given paths: joints on a time grid.

Feet are planted and stepped; the pelvis hangs as high as both legs reach; knees and elbows follow from the
lengths of the limbs. Lengths and habits are parameters, so that families differ in them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from goodlength.synthetic.recordings.training_films.ball_and_player_positions_of_play import (
    GRID_HZ,
    SeenStrike,
)

Points = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])
RACKET_LENGTH_M = 0.68  # of the equipment rules' greatest 686 mm; from memory
RACKET_MIDDLE_M = 0.52  # from the hand to the middle of the strings; ASSUMED


@dataclass(frozen=True)
class BodyHabits:
    """Lengths of a body in metres, and how it moves.

    `crouch` is the share of leg length given away in play, `step_s` the time of a quick step, `swing_s` the
    time from the highest backswing to the strike.
    """

    stature_m: float
    thigh_m: float
    shank_m: float
    trunk_m: float
    shoulder_m: float
    hip_m: float
    upper_arm_m: float
    forearm_m: float
    crouch: float
    lean: float
    step_s: float
    swing_s: float
    right_handed: bool = True
    racket: bool = True


@dataclass(frozen=True)
class SkeletonMotion:
    """Joints of one person on a grid of `GRID_HZ` from time 0.

    `joints_m` has shape (n, 20, 3), `racket_m` (n, 3, 3): hand, tip, and a direction across the strings.
    """

    habits: BodyHabits
    joints_m: Points
    racket_m: Points

    def at(self, times_s: Points) -> tuple[Points, Points]:
        """Return joints (m, 20, 3) and racket (m, 3, 3) at times of shape (m,)."""
        place = np.clip(times_s * GRID_HZ, 0, len(self.joints_m) - 1.001)
        low = place.astype(int)
        share = (place - low)[:, None, None]
        joints = self.joints_m[low] * (1 - share) + self.joints_m[low + 1] * share
        racket = self.racket_m[low] * (1 - share) + self.racket_m[low + 1] * share
        return joints, racket


def draw_habits(rng: np.random.Generator, statures_m: tuple[float, float], racket: bool) -> BodyHabits:
    """Return habits with segment lengths near the usual shares of the stature (DRILLIS-CONTINI-1966)."""
    tall = float(rng.uniform(*statures_m))

    def about(share: float) -> float:
        return tall * share * float(rng.normal(1, 0.03))

    return BodyHabits(
        stature_m=tall,
        thigh_m=about(0.245),
        shank_m=about(0.246),
        trunk_m=about(0.288),
        shoulder_m=about(0.225),
        hip_m=about(0.115),
        upper_arm_m=about(0.172),
        forearm_m=about(0.157),
        crouch=float(rng.uniform(0.03, 0.1)) if racket else 0.01,
        lean=float(rng.uniform(0.15, 0.45)) if racket else 0.04,
        step_s=float(rng.uniform(0.2, 0.3)),
        swing_s=float(rng.uniform(0.18, 0.3)),
        right_handed=bool(rng.random() < 0.88),
        racket=racket,
    )


def move_body(
    habits: BodyHabits, path_m: Points, strikes: list[SeenStrike], facing: Points
) -> SkeletonMotion:
    """Return the motion of a person.

    Parameters
    ----------
    habits : BodyHabits
    path_m : ndarray, shape (n, 2)
        Where the body is, on a grid of `GRID_HZ`.
    strikes : list of SeenStrike
        This person's own strikes.
    facing : ndarray, shape (n, 2)
        Where the chest looks, unit vectors.
    """
    velocity = gaussian_filter1d(np.gradient(path_m, axis=0) * GRID_HZ, 4, axis=0)
    right = np.column_stack([-facing[:, 1], facing[:, 0]])
    feet, lift = _steps(habits, path_m, velocity, right)
    ankles = np.concatenate([feet, lift[..., None] + 0.08], axis=2)
    legs = 0.985 * (habits.thigh_m + habits.shank_m)
    middle = 0.6 * path_m + 0.4 * feet.mean(1)
    away = np.linalg.norm(ankles[..., :2] - middle[:, None], axis=2)
    reach = np.sqrt(np.maximum(legs**2 - away**2, (0.45 * legs) ** 2)) + ankles[..., 2] - 0.5 * lift
    height = np.minimum(reach.min(1), 0.08 + legs * (1 - habits.crouch))
    pelvis = np.column_stack([middle, gaussian_filter1d(height, 5) - 0.01])
    facing3, right3 = _flat3(facing), _flat3(right)
    turn = _shoulder_turn(habits, path_m, strikes, right, len(path_m))
    chest_right = right3 * np.cos(turn)[:, None] + facing3 * np.sin(turn)[:, None]
    lean = habits.lean * (0.6 + 0.2 * np.linalg.norm(velocity, axis=1, keepdims=True).clip(0, 3))
    spine = UP + lean * facing3
    spine = spine / np.linalg.norm(spine, axis=1, keepdims=True)
    joints = np.empty((len(path_m), 20, 3))
    joints[:, 3], joints[:, 2] = pelvis, pelvis + habits.trunk_m * 1.04 * spine
    _head(joints, habits, facing3)
    for side, sign in ((0, -1), (1, 1)):
        joints[:, 10 + side] = pelvis + sign * 0.5 * habits.hip_m * right3
        joints[:, 4 + side] = joints[:, 2] - 0.05 * spine + sign * 0.46 * habits.shoulder_m * chest_right
        joints[:, 14 + side] = ankles[:, side]
        heading = facing3 + sign * 0.3 * right3
        heading = heading / np.linalg.norm(heading, axis=1, keepdims=True)
        joints[:, 16 + side] = _flat3(feet[:, side], lift[:, side]) - 0.07 * heading
        joints[:, 18 + side] = _flat3(feet[:, side], 0.4 * lift[:, side]) + 0.17 * heading
        joints[:, 12 + side] = _bend(
            joints[:, 10 + side], joints[:, 14 + side], habits.thigh_m, habits.shank_m, facing3
        )
    racket = _arms(joints, habits, strikes, feet, facing3, chest_right)
    return SkeletonMotion(habits, joints, racket)


def facing_of(path_m: Points, strikes: list[SeenStrike], play: bool) -> Points:
    """Return where a chest looks: players to the front wall and to their ball, others where they walk."""
    velocity = gaussian_filter1d(np.gradient(path_m, axis=0) * GRID_HZ, 12, axis=0)
    if not play:
        out = velocity + np.array([0.0, -0.25])
    else:
        out = 0.16 * velocity + np.array([0.0, -1.0])
        times = np.arange(len(path_m)) / GRID_HZ
        for strike in strikes:
            near = np.exp(-(((times - strike.time_s + 0.08) / 0.28) ** 2))[:, None]
            out = out + 1.1 * near * (np.sign(strike.ball_m[0] - strike.body_m[0]) * np.array([1.0, -0.2]))
        out = gaussian_filter1d(out, 6, axis=0)
    unit: Points = out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-3)
    return unit


def _flat3(flat: Points, height: Points | float = 0.0) -> Points:
    return np.column_stack([flat, np.broadcast_to(height, len(flat))])


def _steps(habits: BodyHabits, path: Points, velocity: Points, right: Points) -> tuple[Points, Points]:
    """Return both feet on the floor, shape (n, 2, 2), and how high they are lifted, shape (n, 2)."""
    speed = np.linalg.norm(velocity, axis=1)
    wide = (0.10 if not habits.racket else 0.17) * habits.stature_m / 1.75
    lead = np.minimum(0.16, 0.55 / np.maximum(speed, 0.1))[:, None] * velocity
    home = np.stack([path + lead - wide * right, path + lead + wide * right], axis=1)
    feet, lift = np.empty((len(path), 2, 2)), np.zeros((len(path), 2))
    now, swinging, begin, start, goal, lasts = home[0].copy(), -1, 0, home[0, 0], home[0, 0], 1
    for i in range(len(path)):
        if swinging >= 0:
            share = (i - begin) / lasts
            if share >= 1:
                now[swinging], swinging = goal, -1
            else:
                smooth = share * share * (3 - 2 * share)
                now[swinging] = start + smooth * (goal - start)
                lift[i, swinging] = (0.04 + 0.02 * min(speed[i], 4)) * 4 * share * (1 - share)
        if swinging < 0:
            off = np.linalg.norm(now - home[i], axis=1)
            worst = int(off.argmax())
            if off[worst] > 0.16:
                lasts = max(6, round(GRID_HZ * habits.step_s * (1.5 - 0.15 * min(speed[i], 4))))
                swinging, begin, start = worst, i, now[worst].copy()
                goal = home[min(i + lasts + lasts // 3, len(path) - 1), worst].copy()
        feet[i] = now
    return feet, lift


def _bend(upper: Points, lower: Points, first: float, second: float, towards: Points) -> Points:
    """Return the joint between two limbs of given lengths, bent towards a direction."""
    line = lower - upper
    span = np.linalg.norm(line, axis=1).clip(1e-3, None)
    along = (span**2 + first**2 - second**2) / (2 * span)
    along = along.clip(0, first)
    out = np.sqrt(np.maximum(first**2 - along**2, 0))
    unit = line / span[:, None]
    aside = towards - (towards * unit).sum(1, keepdims=True) * unit
    aside = aside / np.maximum(np.linalg.norm(aside, axis=1, keepdims=True), 1e-6)
    return np.asarray(upper + along[:, None] * unit + out[:, None] * aside)


def _head(joints: Points, habits: BodyHabits, facing3: Points) -> None:
    """Set crown and nose; the head is racket_way more upright than the trunk."""
    up = UP + 0.25 * habits.lean * facing3
    up = up / np.linalg.norm(up, axis=1, keepdims=True)
    joints[:, 1] = joints[:, 2] + 0.165 * habits.stature_m * up + 0.03 * facing3
    joints[:, 0] = joints[:, 2] + 0.09 * habits.stature_m * up + 0.115 * facing3


def _shoulder_turn(
    habits: BodyHabits, path: Points, strikes: list[SeenStrike], right: Points, count: int
) -> Points:
    """Return how far the shoulders turn against the hips: back before a strike, through after it."""
    times = np.arange(count) / GRID_HZ
    turn = 0.12 * np.sin(2 * np.pi * 0.9 * times)
    for strike in strikes:
        i = min(round(strike.time_s * GRID_HZ), count - 1)
        side = np.sign((strike.ball_m[:2] - path[i]) @ right[i]) or 1.0
        since = times - strike.time_s
        back = np.exp(-(((since + habits.swing_s) / 0.16) ** 2))
        turn -= side * (0.7 * back - 0.6 * np.exp(-(((since - 0.15) / 0.16) ** 2)))
    return turn


def _arms(
    joints: Points,
    habits: BodyHabits,
    strikes: list[SeenStrike],
    feet: Points,
    facing3: Points,
    chest_right: Points,
) -> Points:
    """Set elbows and wrists; return the racket, shape (n, 3, 3)."""
    count, reach = len(joints), 0.97 * (habits.upper_arm_m + habits.forearm_m)
    hand = 1 if habits.right_handed else 0
    racket = np.empty((count, 3, 3))
    gait = ((feet[:, 0] - feet[:, 1]) * facing3[:, :2]).sum(1) * 0.35
    for side, sign in ((0, -1), (1, 1)):
        shoulder = joints[:, 4 + side]
        ahead, down = (0.3, -0.2) if habits.racket else (0.03, -0.47)
        swing = (sign * gait)[:, None] * facing3
        wrist = shoulder + sign * 0.1 * chest_right + ahead * facing3 + down * UP + swing
        if side == hand:
            wrist, tip = _swung(habits, strikes, wrist, shoulder, facing3, sign * chest_right, reach)
            away = tip - wrist
        wrist = _within(shoulder, wrist, reach)
        bend = -0.6 * UP + 0.5 * sign * chest_right - 0.5 * facing3
        joints[:, 6 + side] = _bend(shoulder, wrist, habits.upper_arm_m, habits.forearm_m, bend)
        joints[:, 8 + side] = wrist
        if side == hand:
            unit = away / np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-6)
            racket[:, 0], racket[:, 1] = wrist, wrist + RACKET_LENGTH_M * unit
            across = np.cross(unit, facing3 + 0.05 * UP)
            racket[:, 2] = across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-6)
    return racket


def _within(centre: Points, places: Points, most: float) -> Points:
    away = places - centre
    length = np.linalg.norm(away, axis=1, keepdims=True)
    return np.asarray(centre + away * np.minimum(1.0, most / np.maximum(length, 1e-6)))


def _swung(
    habits: BodyHabits,
    strikes: list[SeenStrike],
    wrist: Points,
    shoulder: Points,
    facing3: Points,
    outward: Points,
    reach: float,
) -> tuple[Points, Points]:
    """Return the racket hand's wrist and the racket's tip with all strikes; between them held ready."""
    count = len(wrist)
    times = np.arange(count) / GRID_HZ
    tip_way = 0.55 * facing3 + 0.75 * UP - 0.25 * outward
    wrist, way = wrist.copy(), tip_way.copy()
    for strike in strikes:
        first, last = np.searchsorted(times, [strike.time_s - 0.75, strike.time_s + 0.7])
        i = min(round(strike.time_s * GRID_HZ), count - 1)
        if last - first < 20:
            continue
        at = slice(int(first), int(last))
        line = strike.ball_m - shoulder[i]
        flat = line * [1, 1, 0.6]
        racket_way = flat / max(float(np.linalg.norm(flat)), 1e-3)
        meet = strike.ball_m - RACKET_MIDDLE_M * racket_way
        short = meet - shoulder[i]
        meet = shoulder[i] + short * min(1.0, reach / max(float(np.linalg.norm(short)), 1e-3))
        racket_way = (strike.ball_m - meet) / max(float(np.linalg.norm(strike.ball_m - meet)), 1e-3)
        side = 1.0 if line @ outward[i] > 0 else -1.0
        o, f = outward[i], facing3[i]
        knots_s = np.array([-0.75, -habits.swing_s - 0.12, -habits.swing_s + 0.03, 0.0, 0.14, 0.3, 0.7])
        back = shoulder[i] + side * 0.22 * o - 0.28 * f + 0.22 * UP
        after = shoulder[i] - side * 0.3 * o + 0.3 * f + 0.12 * UP
        knots = np.array([wrist[first], back, back - 0.1 * f, meet, meet + 0.3 * f - side * 0.15 * o,
                          after, wrist[last - 1]])  # fmt: skip
        ways = np.array([way[first], 0.9 * UP - 0.2 * f, 0.4 * UP + side * 0.5 * o - 0.5 * f, racket_way,
                         0.7 * f - side * 0.2 * o, 0.8 * UP - side * 0.4 * o, way[last - 1]])  # fmt: skip
        own = times[at] - strike.time_s
        moved = shoulder[at] - shoulder[i]
        near = np.exp(-((own / 0.12) ** 2))[:, None]
        wrist[at] = PchipInterpolator(knots_s, knots)(own) + (1 - near) * 0.8 * moved * _ends(own)
        way[at] = PchipInterpolator(knots_s, ways)(own)
    return wrist, wrist + way


def _ends(own: Points) -> Points:
    """Return a weight that is 0 at the swing's ends, so that it joins the ready hand."""
    return np.asarray(np.minimum(np.minimum((own + 0.75) / 0.3, (0.7 - own) / 0.3), 1.0).clip(0, 1))[:, None]
