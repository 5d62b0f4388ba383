"""Simulated rallies as a search leaves them: candidates a frame, sounds, players' places, a solved camera.

Play and flight are the demo's (its own integrator and bounce, not the ball room's kernel), the camera is
`synthetic.simulated_camera_clicks` with its own projection. Candidates, sounds and places get errors:

```
 path ─> row by row in the picture ─> lost behind bodies, at random ─> off by noise ─┐
 bodies ─> hands, shoes, rackets for some frames ────────────────────────────────────┼─> candidates
 anywhere ───────────────────────────────────────────────────────────────────────────┘
 contacts ─> way of sound, jitter, some unheard, others that are none ─> sounds
```
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.demo.match.scripted_rally_table_reader import RallyPlan
from goodlength.demo.play import ball_flight
from goodlength.demo.play.ball_flight import DemoSurface
from goodlength.demo.play.player_walking import Steps, during
from goodlength.demo.play.rally_simulation import PlayedRally, play, receiving_spot, serving_spot
from goodlength.errors import GoodlengthError
from goodlength.footage.ball_detection.ball_candidate_selection import MOST_CANDIDATES, BallCandidates
from goodlength.footage.camera import CameraCalibration, calibrate_camera
from goodlength.record.model import Ending, Left, ReturnKind, ShotType
from goodlength.scoring.scoring_types import Box, Side
from goodlength.synthetic.simulated_camera_clicks import (
    HEIGHT,
    SETTINGS,
    WIDTH,
    RealCamera,
    real_camera,
    real_clicks,
)

Floats = NDArray[np.float64]
SOUND_M_S = 343.0  # source: SOUND-SPEED-20C
BEFORE_S, AFTER_S = 0.5, 1.0  # searched around a rally
BODY_M, BODY_HIGH_M = 0.24, 1.75  # ASSUMED_: what hides the ball
PARTS_M = ((0.55, 0.05), (0.75, 1.0), (0.95, 1.3), (0.2, 1.7))  # how far out and up moving parts are
ENDINGS = (Ending.WINNER, Ending.FORCED_ERROR, Ending.UNFORCED_ERROR)
STOPPED = (Ending.SERVICE_FAULT, Ending.LET, Ending.STROKE)
KINDS = ("lob", "mid-height", "hard", "body-feet")
RETURNS = (ReturnKind.VOLLEYED, ReturnKind.AFTER_SIDE_WALL, ReturnKind.AFTER_BOUNCE)
LAST = (ShotType.DRIVE, ShotType.CROSS_COURT, ShotType.DROP, ShotType.BOAST, ShotType.KILL)


@dataclass(frozen=True)
class ShotCondition:
    """What is drawn of a film and its sound; standard errors in pixels at 1080 lines, seconds, metres.

    `recall` is the share of seen balls found; `false` the mean of false candidates a frame besides those on
    moving parts; `named` whether sounds come with their names, some of them wrong.
    """

    name: str
    frames_s: float = 30.0
    recall: float = 0.9
    off_px: float = 0.8
    false: float = 1.0
    racket_missed: float = 0.02
    front_missed: float = 0.08
    false_sounds_s: float = 0.3
    jitter_s: float = 0.004
    offset_s: float = 0.006
    readout_s: float = 0.012
    player_m: float = 0.12
    click_px: float = 2.0
    with_sound: bool = True
    with_players: bool = True
    named: bool = False


CONDITIONS = (
    ShotCondition("good, 30 fps"),
    ShotCondition("good, 60 fps", frames_s=60.0),
    ShotCondition("good, 25 fps", frames_s=25.0),
    ShotCondition("sounds named", named=True),
    ShotCondition("recall 0.7", recall=0.7, false=2.0),
    ShotCondition("recall 0.5, 3 false", recall=0.5, false=3.0),
    ShotCondition("8% of racket hits unheard", racket_missed=0.08),
    ShotCondition("camera clicked 6 px off", click_px=6.0),
    ShotCondition("no sound", with_sound=False),
    ShotCondition("no players", with_players=False),
)


@dataclass(frozen=True)
class TrueContact:
    """A touch as it was: kind as in `ContactKind`, time from the first frame's clock, place."""

    kind: str
    time_s: float
    place_m: tuple[float, float, float]


@dataclass(frozen=True)
class TrueShot:
    """A shot as it was: its strike, who, what, and its contacts until the next strike."""

    time_s: float
    by: int
    stroke: str
    place_m: tuple[float, float, float]
    speed_m_s: float
    contacts: tuple[TrueContact, ...]
    free: tuple[TrueContact, ...] = ()  # those of the flight had nobody struck it, to the second bounce


@dataclass(frozen=True, eq=False)
class RallyWithTruth:
    """Everything a rally is followed from, and its truth; times begin at the first frame.

    `kind` is the serve's, `how` how the return was to be taken, `left` what it was to leave, `ended` by what
    the rally was over, `winner` which of the two tracks won it, `ending` the word of the sheet. `ball_px`
    (n, 2) is where the ball is in each frame, hidden or not; NaN outside the picture and in a hand.
    """

    camera: CameraCalibration
    found: BallCandidates
    sounds: tuple[tuple[float, str, float], ...]
    player_times_s: Floats
    players_m: Floats  # (n, 2, 2): track, x and y
    shots: tuple[TrueShot, ...]
    end_s: float
    real: RealCamera
    ball_px: Floats
    kind: str = ""
    how: str = ""
    ended: str = ""
    left: str = ""
    winner: int | None = None
    ending: str = ""


@contextmanager
def ball_of(bounce: float, floor: float, friction: float, drag: float) -> Iterator[None]:
    """Let the demo's ball fly with other coefficients for a while."""
    names = ("ASSUMED_RESTITUTION_7", "ASSUMED_FLOOR_FACTOR", "ASSUMED_FRICTION", "DRAG_PER_M")
    before = [getattr(ball_flight, name) for name in names]
    try:
        for name, value in zip(names, (bounce, floor, friction, drag), strict=True):
            setattr(ball_flight, name, value)
        yield
    finally:
        for name, value in zip(names, before, strict=True):
            setattr(ball_flight, name, value)


def played(rng: np.random.Generator, *, varied: bool, stopped: bool = False) -> PlayedRally:
    """Return a rally played out; with `varied` the ball is another in every rally.

    With `stopped` half of them are service faults, lets and strokes.
    """
    chance = random.Random(int(rng.integers(2**31)))
    ball = (0.516, 0.95, 0.6, 0.0147)
    if varied:
        ball = (
            rng.uniform(0.47, 0.55),
            rng.uniform(0.9, 1.0),
            rng.uniform(0.45, 0.75),
            rng.uniform(0.0138, 0.0156),
        )
    with ball_of(*ball):
        while True:
            try:
                return play(rally_plan(rng, stopped=stopped), 2.0, chance)
            except GoodlengthError:
                continue


def rally_plan(rng: np.random.Generator, *, stopped: bool = False) -> RallyPlan:
    """Return a drawn plan of a rally; with `stopped` half are service faults, lets and strokes."""
    plan = _plan(rng)
    return _stopped(plan, rng) if stopped else plan


def _plan(rng: np.random.Generator) -> RallyPlan:
    server = (Side.A, Side.B)[rng.integers(2)]
    shots = int(rng.integers(2, 12))
    ending = ENDINGS[rng.integers(3)]
    last = server if shots % 2 else server.other
    winner = last if ending is Ending.WINNER else last.other
    how = RETURNS[rng.integers(len(RETURNS))] if shots > 1 else None
    return RallyPlan(
        1,
        1,
        server,
        (Box.RIGHT, Box.LEFT)[rng.integers(2)],
        KINDS[rng.integers(len(KINDS))],
        winner,
        ending,
        how,
        (Left.TIGHT, Left.LOOSE, Left.ATTACKED)[rng.integers(3)] if shots > 2 else None,
        LAST[rng.integers(len(LAST))] if ending is not Ending.FORCED_ERROR or shots > 1 else None,
        shots=shots,
    )


def _stopped(plan: RallyPlan, rng: np.random.Generator) -> RallyPlan:
    """Return a plan, in half of the cases as a service fault, a let or a stroke."""
    ending = STOPPED[rng.integers(len(STOPPED))] if rng.random() < 0.5 else None
    if ending is None:
        return plan
    if ending is Ending.SERVICE_FAULT:
        return replace(plan, winner=plan.receiver, ending=ending, how=None, left=None, stroke=None, shots=1)
    shots = max(3, plan.shots)
    next_one = plan.server if shots % 2 == 0 else plan.receiver  # about to strike when play stopped
    winner = None if ending is Ending.LET else next_one
    return replace(plan, winner=winner, ending=ending, shots=shots, stroke=None)


def simulate_rally(
    rng: np.random.Generator, condition: ShotCondition, *, varied: bool, stopped: bool = False
) -> RallyWithTruth:
    """Return one rally with its errors.

    Parameters
    ----------
    varied : bool
        Ball, air and floor are drawn anew in each rally: for judging.
    stopped : bool
        Half of the rallies are service faults, lets and strokes.
    """
    rally = played(rng, varied=varied, stopped=stopped)
    begin = rally.start_s - BEFORE_S
    real, camera = _camera(rng, condition)
    steps = {
        rally.plan.server: Steps(-5.0, serving_spot(rally.plan.box)),
        rally.plan.receiver: Steps(-5.0, receiving_spot(rally.plan.box)),
    }
    during(rally, steps)
    walks = [steps[side].walk() for side in (Side.A, Side.B)]
    frames = int((rally.end_s + AFTER_S - begin) * condition.frames_s)
    times = np.arange(frames) / condition.frames_s
    offset = rng.normal(0.0, condition.offset_s)
    bodies = np.array([[walk.at(begin + t) for walk in walks] for t in times])
    found = _candidates(rng, condition, rally, real, times, begin + offset, bodies)
    shots = _shots(rally, begin)
    sounds = _sounds(rng, condition, shots, real, times[-1])
    places = bodies + _slow_noise(rng, bodies.shape, condition.player_m)
    return RallyWithTruth(
        camera,
        found,
        sounds,
        times,
        places,
        shots,
        rally.end_s - begin,
        real,
        np.array([_ball_px(condition, rally, real, begin + offset + t) for t in times]),
        rally.plan.kind,
        "" if rally.plan.how is None else rally.plan.how.value,
        rally.end_how,
        "" if rally.plan.left is None else rally.plan.left.value,
        (Side.A, Side.B).index(rally.plan.winner) if rally.plan.winner is not None else None,
        rally.plan.ending.value,
    )


def _camera(rng: np.random.Generator, condition: ShotCondition) -> tuple[RealCamera, CameraCalibration]:
    """Return a camera and what clicks on the court make of it."""
    setting = replace(SETTINGS[0], click_px=condition.click_px)
    while True:
        real = real_camera(rng, setting)
        clicks = real_clicks(rng, real, setting)
        try:
            camera = calibrate_camera(clicks, WIDTH, HEIGHT)
        except GoodlengthError:
            continue
        if not camera.floor_only and not camera.front_only:
            return real, camera


def _slow_noise(rng: np.random.Generator, shape: tuple[int, ...], spread_m: float) -> Floats:
    """Return errors of places that change within about a third of a second."""
    out = np.zeros(shape)
    keep = 0.9
    now = rng.normal(0.0, spread_m, shape[1:])
    for k in range(shape[0]):
        now = keep * now + math.sqrt(1 - keep * keep) * rng.normal(0.0, spread_m, shape[1:])
        out[k] = now
    return out


def _ball(rally: PlayedRally, time_s: float) -> Floats | None:
    """Return the ball's place at a time of play; None while it is in a hand."""
    for start, path in reversed(rally.flights):
        if time_s >= start:
            return np.array(path.at(time_s - start))
    return None


def _candidates(
    rng: np.random.Generator,
    condition: ShotCondition,
    rally: PlayedRally,
    real: RealCamera,
    times: Floats,
    begin: float,
    bodies: Floats,
) -> BallCandidates:
    uv = np.full((len(times), MOST_CANDIDATES, 2), np.nan)
    score = np.full((len(times), MOST_CANDIDATES), np.nan)
    ghosts: list[tuple[int, Floats, int]] = []
    for k, time_s in enumerate(times):
        places: list[Floats] = []
        scores: list[float] = []
        ball = _seen_ball(condition, rally, real, begin + time_s)
        if ball is not None:
            at, where = ball
            if not _hidden(where, real.place_m, bodies[k]) and rng.random() < condition.recall:
                places.append(at + rng.normal(0.0, condition.off_px, 2))
                scores.append(rng.beta(5.0, 0.7))
        if rng.random() < 0.25:
            out, up = PARTS_M[rng.integers(len(PARTS_M))]
            way = rng.uniform(0.0, 2.0 * math.pi)
            ghosts.append(
                (
                    int(rng.integers(2)),
                    np.array([out * math.cos(way), out * math.sin(way), up]),
                    int(rng.integers(3, 9)),
                )
            )
        ghosts = [(who, off, left - 1) for who, off, left in ghosts if left > 0]
        for who, off, _ in ghosts:
            if rng.random() < 0.75:
                place = np.append(bodies[k, who], 0.0) + off + rng.normal(0.0, 0.03, 3)
                places.append(real.see(place[None])[0])
                scores.append(rng.beta(1.2, 2.5))
        for _ in range(rng.poisson(condition.false)):
            if rng.random() < 0.6:
                place = np.append(bodies[k, rng.integers(2)], 0.9) + rng.normal(0.0, [0.35, 0.35, 0.5])
                places.append(real.see(place[None])[0])
            else:
                places.append(rng.uniform([0.0, 0.0], [WIDTH, HEIGHT]))
            scores.append(rng.beta(0.9, 3.0))
        good = [n for n in np.argsort(-np.array(scores)) if np.isfinite(places[n]).all()][:MOST_CANDIDATES]
        for n, each in enumerate(good):
            uv[k, n], score[k, n] = places[each], scores[each]
    return BallCandidates(
        np.round(times * 1e6).astype(np.int64), uv, score, np.ones(len(times), bool), "network"
    )


def _seen_ball(
    condition: ShotCondition, rally: PlayedRally, real: RealCamera, time_s: float
) -> tuple[Floats, Floats] | None:
    """Return where the ball is in the picture and in the court when its row is read."""
    at = np.array([WIDTH, HEIGHT]) / 2.0
    where = None
    for _ in range(2):
        where = _ball(rally, time_s + condition.readout_s * (at[1] / HEIGHT - 0.5))
        if where is None:
            return None
        at = real.see(where[None])[0]
        if not np.isfinite(at).all():
            return None
    return (at, where) if where is not None else None


def _ball_px(condition: ShotCondition, rally: PlayedRally, real: RealCamera, time_s: float) -> Floats:
    seen = _seen_ball(condition, rally, real, time_s)
    return np.full(2, np.nan) if seen is None else seen[0]


def _hidden(ball: Floats, eye: Floats, bodies: Floats) -> bool:
    """Return whether a body stands between the camera and the ball."""
    way = ball - eye
    flat = way[:2] @ way[:2]
    for body in bodies:
        along = float((body - eye[:2]) @ way[:2] / flat)
        if 0.0 < along < 1.0 - 0.25 / math.sqrt(flat):
            near = eye + along * way
            if math.dist(near[:2], body) < BODY_M and near[2] < BODY_HIGH_M:
                return True
    return False


def _shots(rally: PlayedRally, begin: float) -> tuple[TrueShot, ...]:
    out = []
    for n, strike in enumerate(rally.strikes):
        last = n + 1 == len(rally.strikes)
        until = rally.end_s + 0.01 if last else rally.strikes[n + 1].time_s
        path = rally.dead if last else strike.path
        free: list[TrueContact] = []
        floors = 0
        for contact in path.contacts:
            floors += contact.surface is DemoSurface.FLOOR
            kind = contact.surface.value.replace("side-wall", "wall")
            kind = "second-bounce" if kind == "floor" and floors == 2 else kind
            free.append(TrueContact(kind, strike.time_s + contact.time_s - begin, contact.at))
        contacts = [contact for contact in free if contact.time_s < until - begin]
        speed = float(np.linalg.norm(path.knots[0][4:7]))
        by = 0 if strike.by is Side.A else 1
        out.append(
            TrueShot(
                strike.time_s - begin, by, strike.stroke, strike.ball, speed, tuple(contacts), tuple(free)
            )
        )
    return tuple(out)


SOUND_CHANCE = {"front-wall": None, "tin": 0.95, "left-wall": 0.35, "right-wall": 0.35, "back-wall": 0.35}
NAMES = {"racket": "racket", "front-wall": "front", "tin": "tin", "floor": "floor", "second-bounce": "floor"}


def _sounds(
    rng: np.random.Generator,
    condition: ShotCondition,
    shots: tuple[TrueShot, ...],
    real: RealCamera,
    length_s: float,
) -> tuple[tuple[float, str, float], ...]:
    """Return sounds as the microphone beside the camera has them, with name and its chance."""
    if not condition.with_sound:
        return ()
    made: list[tuple[float, str]] = []
    for shot in shots:
        if rng.random() >= condition.racket_missed:
            made.append((_arrival(shot.time_s, shot.place_m, real), "racket"))
        for contact in shot.contacts:
            chance = SOUND_CHANCE.get(contact.kind, 0.25)
            chance = 1.0 - condition.front_missed if chance is None else chance
            if rng.random() < chance:
                made.append(
                    (_arrival(contact.time_s, contact.place_m, real), NAMES.get(contact.kind, "side"))
                )
    made += [
        (t, "other") for t in rng.uniform(0.0, length_s, rng.poisson(condition.false_sounds_s * length_s))
    ]
    out = []
    for time_s, name in sorted(made):
        at = time_s + rng.normal(0.0, condition.jitter_s)
        if not condition.named:
            out.append((at, "", 0.5))
            continue
        right = rng.random() < 0.9
        is_racket = (name == "racket") == right
        out.append((at, "racket" if is_racket else "other", float(rng.beta(6.0, 1.0))))
    return tuple(out)


def _arrival(time_s: float, place: tuple[float, float, float], real: RealCamera) -> float:
    return time_s + math.dist(place, real.place_m.tolist()) / SOUND_M_S
