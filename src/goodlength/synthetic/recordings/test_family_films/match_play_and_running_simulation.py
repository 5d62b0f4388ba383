"""The match behind a film: the judging family's rallies, and two players who run to meet every ball.

Rallies, shots and the ball's walk are those of `rally_play`. Here the players get
paths: to the place of each strike, back towards the T, out of the other's way, to the ball after the
rally, to the box.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from goodlength.court.dimensions import LENGTH_M, T_M, WIDTH_M
from goodlength.synthetic.recordings.test_family_films.bodies.person_motion_synthesis import (
    RATE_HZ,
    PlannedStroke,
    unit,
)
from goodlength.synthetic.recordings.test_family_films.rally_play.ball_flight import (
    GRAVITY_M_S2,
    BallInFlight,
)
from goodlength.synthetic.recordings.test_family_films.rally_play.rally_simulation import (
    Hit,
    SimulatedRally,
    play_rally,
)
from goodlength.synthetic.recordings.test_family_films.rally_play.shot_simulation import draw_player

Floats = NDArray[np.float64]
BALL_HZ = 1000.0  # the ball turns round in a contact: its track is finer than the players'
ENDINGS = ("bounce", "tin", "out", "down", "let", "stroke")
END_WEIGHTS = (0.5, 0.17, 0.08, 0.08, 0.1, 0.07)
TOSS_S = 0.4
SHORT_S = 6.0  # a film this short begins just before the serve
WAIT_M = (T_M[0], T_M[1] + 0.45)


@dataclass
class FilmPlay:
    """What is played in a film: rallies, the ball (n, 3) at `BALL_HZ`, and who holds it (-1: nobody).

    The ball is NaN until `toss_ball` puts it into the hands that hold it. Paths and facings at `RATE_HZ`, and
    strokes, are lists, one a player.
    """

    seconds: float
    rallies: list[SimulatedRally]
    ball: Floats
    holder: NDArray[np.int64]
    paths: list[Floats]
    facings: list[Floats]
    strokes: list[list[PlannedStroke]]
    right_handed: tuple[bool, ...]
    watched: Floats
    hits: list[Hit] = field(default_factory=list)


def _rallies(rng: np.random.Generator, seconds: float, pace: tuple[float, float]) -> list[SimulatedRally]:
    players = (draw_player(rng, pace), draw_player(rng, pace))
    ball = BallInFlight(float(rng.uniform(0.44, 0.58)), float(rng.uniform(0.57, 0.68)))
    lead = (1.2, 3.5) if seconds > SHORT_S else (0.6, 1.1)
    time, server = float(rng.uniform(*lead)), int(rng.integers(0, 2))
    out: list[SimulatedRally] = []
    while not out or time < seconds - 1.0:
        shots = int(np.clip(round(float(rng.lognormal(math.log(9.0), 0.6))), 1, 30))
        rally = play_rally(rng, players, ball, server, shots, str(rng.choice(ENDINGS, p=END_WEIGHTS)), time)
        out.append(rally)
        time = max(h.time_s for h in rally.hits) + float(rng.uniform(5.0, 9.0))
        server = int(rng.integers(0, 2))
    return out


def ball_between(hits: list[Hit], times: Floats) -> Floats:
    """Return the ball's places (n, 3) at times within a rally's hits: parabolas from contact to contact."""
    moments = np.array([h.time_s for h in hits])
    places = np.array([h.place for h in hits])
    i = np.clip(np.searchsorted(moments, times, side="right") - 1, 0, len(hits) - 2)
    span = np.maximum(moments[i + 1] - moments[i], 1e-6)
    share = np.clip((times - moments[i]) / span, 0.0, 1.0)[:, None]
    out = places[i] + share * (places[i + 1] - places[i])
    out[:, 2:] += 0.5 * GRAVITY_M_S2 * (span**2)[:, None] * share * (1.0 - share)
    return np.asarray(out)


def _between(rng: np.random.Generator, way: Floats, times: Floats, start: Hit, until_s: float) -> None:
    """Let the ball roll after the rally's last contact until it is picked up."""
    here = (times >= start.time_s) & (times < until_s)
    roll = rng.normal(0.0, 0.5, 2)
    since = times[here] - start.time_s
    gone = 0.8 * (1.0 - np.exp(-since / 0.8))
    x = np.clip(start.place[0] + roll[0] * gone, 0.05, WIDTH_M - 0.05)
    y = np.clip(start.place[1] + roll[1] * gone, 0.05, LENGTH_M - 0.05)
    fall = np.maximum(0.02, start.place[2] - 0.5 * GRAVITY_M_S2 * since**2)
    way[here] = np.column_stack([x, y, fall])


def _meeting(rng: np.random.Generator, hit: Hit, right_handed: bool) -> tuple[Floats, PlannedStroke]:
    """Return where the pelvis is at a strike, and the stroke: side, and the way the body faces."""
    x, y, z = hit.place
    to_right = x > WIDTH_M / 2 if abs(x - WIDTH_M / 2) > 0.5 else bool(rng.random() < 0.5)
    if x < 0.75 or x > WIDTH_M - 0.75:
        to_right = x > WIDTH_M / 2
    forehand = to_right == right_handed
    sign = 1.0 if to_right else -1.0
    angle = float(rng.uniform(0.25, 0.65))
    facing = np.array([sign * math.cos(angle), -math.sin(angle)])
    far = float(rng.uniform(0.72, 0.95)) * (0.75 if z > 1.7 else 1.0)
    place = np.array([x, y]) - far * facing + np.array([0.0, 0.12])
    place = np.clip(place, [0.5, 0.7], [WIDTH_M - 0.5, LENGTH_M - 0.45])
    to_ball = np.array([x, y]) - place
    turned = unit(0.7 * facing + 0.3 * unit(to_ball))
    return place, PlannedStroke(hit.time_s, np.array(hit.place), forehand, turned)


def _waiting(rng: np.random.Generator, other: Floats) -> Floats:
    """Return a place near the T, a stride from the other player."""
    place = np.array(WAIT_M) + rng.normal(0.0, [0.28, 0.35])
    way = place - other
    far = float(np.hypot(*way))
    if far < 1.2:
        place = other + way / max(far, 1e-3) * 1.2
    return np.clip(place, [0.7, 1.5], [WIDTH_M - 0.7, LENGTH_M - 0.6])


def _glide(times: Floats, stops: list[tuple[float, Floats]]) -> Floats:
    """Return a path (n, 2) that comes to each stop at its time, slow at both ends."""
    stops = sorted(stops, key=lambda s: s[0])
    path = np.tile(stops[0][1], (len(times), 1))
    for (begin, a), (end, b) in itertools.pairwise(stops):
        s = np.clip((times - begin) / max(end - begin, 1e-3), 0.0, 1.0)
        ease = s * s * (3.0 - 2.0 * s)
        inside = times >= begin
        path[inside] = (a + ease[:, None] * (b - a))[inside]
    return path


def _stops_of_rally(
    rng: np.random.Generator,
    rally: SimulatedRally,
    right_handed: tuple[bool, ...],
    stops: list[list[tuple[float, Floats]]],
    strokes: list[list[PlannedStroke]],
) -> None:
    strikes = [h for h in rally.hits if h.striker is not None]
    for number, hit in enumerate(strikes):
        who = int(hit.striker or 0)
        place, stroke = _meeting(rng, hit, right_handed[who])
        stops[who].append((hit.time_s - 0.02, place))
        stops[who].append((hit.time_s + 0.1, place + 0.05 * stroke.facing))
        strokes[who].append(stroke)
        after = strikes[number + 1].time_s if number + 1 < len(strikes) else hit.time_s + 1.3
        other = np.array(strikes[number + 1].place[:2]) if number + 1 < len(strikes) else np.array([3.2, 8.0])
        wait = _waiting(rng, other)
        back = min(after + 0.05, hit.time_s + 0.35 + float(np.hypot(*(wait - place))) / 2.4)
        stops[who].append((max(back, hit.time_s + 0.3), wait))
        stops[who].append((max(after + 0.08, back + 0.05), wait + rng.normal(0.0, 0.06, 2)))


def _serve_places(
    rng: np.random.Generator, rally: SimulatedRally, right_handed: tuple[bool, ...]
) -> tuple[int, Floats, Floats]:
    serve = rally.hits[0]
    server = int(serve.striker or 0)
    left = serve.place[0] < WIDTH_M / 2
    place, _ = _meeting(rng, serve, right_handed[server])
    receiver = np.array([WIDTH_M - 1.5 if left else 1.5, 7.7]) + rng.normal(0.0, 0.25, 2)
    return server, place, receiver


def _apart(paths: list[Floats], strokes: list[list[PlannedStroke]], least_m: float = 0.75) -> None:
    """Push players who would stand in each other sideways; whoever strikes keeps his way."""
    times = np.arange(len(paths[0])) / RATE_HZ
    for _ in range(3):
        way = paths[1] - paths[0]
        far = np.linalg.norm(way, axis=1)
        lack = gaussian_filter1d(np.maximum(least_m - far, 0.0), 12)
        along = gaussian_filter1d(way / (far[:, None] + 1e-6), 12, axis=0)
        yields = np.full(len(times), 0.5)
        for who, sign in ((0, 1.0), (1, -1.0)):
            for s in strokes[who]:
                yields[np.abs(times - s.time_s) < 0.6] = 0.5 + 0.5 * sign
        yields = gaussian_filter1d(yields, 10)
        paths[0] -= ((1.0 - yields) * lack)[:, None] * along
        paths[1] += (yields * lack)[:, None] * along
    for path in paths:
        np.clip(path, [0.4, 0.5], [WIDTH_M - 0.4, LENGTH_M - 0.4], out=path)


def _facing(path: Floats, ball: Floats, strokes: list[PlannedStroke], busy: NDArray[np.bool_]) -> Floats:
    """Return where a player faces: ball and front wall in play, ahead while walking, a stroke's way in it."""
    times = np.arange(len(path)) / RATE_HZ
    velocity = gaussian_filter1d(np.gradient(path, axis=0) * RATE_HZ, 15, axis=0)
    speed = np.linalg.norm(velocity, axis=1, keepdims=True)
    play = 0.5 * unit(np.nan_to_num(ball[:, :2]) - path) + np.array([0.0, -0.75])
    walk = np.where(speed > 0.5, velocity / (speed + 1e-6), np.array([0.0, -1.0]))
    wanted = np.where(busy[:, None], play, walk)
    for s in strokes:
        since = times - s.time_s
        weight = np.clip(np.minimum((since + 0.55) / 0.25, (0.35 - since) / 0.3), 0.0, 1.0)[:, None]
        wanted = (1.0 - weight) * wanted + weight * s.facing
    return unit(gaussian_filter1d(wanted, 9, axis=0))


def play_film(rng: np.random.Generator, seconds: float, pace: tuple[float, float] = (0.68, 1.0)) -> FilmPlay:
    """Return the match of a film: rallies with pauses of walking between them."""
    rallies = _rallies(rng, seconds, pace)
    right_handed = (bool(rng.random() < 0.88), bool(rng.random() < 0.88))
    n = math.ceil((seconds + 0.5) * RATE_HZ) + 1
    fine = np.arange(n * int(BALL_HZ / RATE_HZ)) / BALL_HZ
    ball, holder = np.full((len(fine), 3), np.nan), np.full(len(fine), -1)
    busy = np.zeros(n, dtype=bool)
    stops: list[list[tuple[float, Floats]]] = [[], []]
    strokes: list[list[PlannedStroke]] = [[], []]
    since = 0.0
    for number, rally in enumerate(rallies):
        server = _to_serve(rng, rally, right_handed, stops, number == 0)
        toss = rally.start_s - TOSS_S
        holder[(fine >= since) & (fine < toss)] = server
        _stops_of_rally(rng, rally, right_handed, stops, strokes)
        last = rally.hits[-1]
        inside = (fine >= rally.start_s) & (fine <= last.time_s)
        ball[inside] = ball_between(list(rally.hits), fine[inside])
        busy[int((toss - 0.5) * RATE_HZ) : int((last.time_s + 0.5) * RATE_HZ)] = True
        since = last.time_s + 2.6
        picker = int(rallies[number + 1].hits[0].striker or 0) if number + 1 < len(rallies) else server
        _between(rng, ball, fine, last, since)
        _pick_up(rng, ball, since, stops, picker)
        holder[fine >= since] = picker
    paths = [_glide(np.arange(n) / RATE_HZ, s) + _sway(rng, n) for s in stops]
    _apart(paths, strokes)
    coarse = ball[:: int(BALL_HZ / RATE_HZ)]
    watched = np.where(np.isfinite(coarse), coarse, np.array([WIDTH_M / 2, 0.0, 1.0]))
    facings = [_facing(p, watched, s, busy) for p, s in zip(paths, strokes, strict=True)]
    hits = [h for rally in rallies for h in rally.hits]
    return FilmPlay(seconds, rallies, ball, holder, paths, facings, strokes, right_handed, watched, hits)


def _to_serve(
    rng: np.random.Generator,
    rally: SimulatedRally,
    right_handed: tuple[bool, ...],
    stops: list[list[tuple[float, Floats]]],
    first: bool,
) -> int:
    """Send both players to their places for the serve; return who serves."""
    server, at_serve, receiver = _serve_places(rng, rally, right_handed)
    if first:
        for who, place in ((server, at_serve), (1 - server, receiver)):
            stops[who].append((0.0, place + rng.normal(0.0, 0.6, 2)))
    stops[server].append((rally.start_s - 0.7, at_serve + rng.normal(0.0, 0.03, 2)))
    stops[1 - server].append((rally.start_s - 0.5, receiver))
    stops[1 - server].append((rally.start_s + 0.25, receiver))
    return server


def _pick_up(
    rng: np.random.Generator, ball: Floats, since: float, stops: list[list[tuple[float, Floats]]], picker: int
) -> None:
    """Send one player to the ball at rest and the other anywhere in the back of the court."""
    rest = ball[min(int(since * BALL_HZ), len(ball)) - 1]
    if np.isfinite(rest).all():
        place = np.clip(rest[:2] + np.array([0.0, 0.25]), [0.5, 0.6], [WIDTH_M - 0.5, LENGTH_M - 0.5])
        stops[picker].append((since, place))
    stops[1 - picker].append((since - 0.4, np.array([rng.uniform(1.2, 5.2), rng.uniform(5.0, 8.5)])))


def _sway(rng: np.random.Generator, n: int) -> Floats:
    """Return the small unrest of somebody who stands, in metres."""
    return np.asarray(gaussian_filter1d(rng.normal(0.0, 1.0, (n, 2)), 40, axis=0) * 0.12)


def toss_ball(play: FilmPlay, hands: list[Floats]) -> None:
    """Fill the ball where a player holds or tosses it, from the free hands' places (n, 3) at `RATE_HZ`."""
    fine = np.arange(len(play.ball)) / BALL_HZ
    coarse = np.arange(len(hands[0])) / RATE_HZ
    above = np.array([0.0, 0.0, 0.03])
    for who, hand in enumerate(hands):
        rows = play.holder == who
        for axis in range(3):
            play.ball[rows, axis] = np.interp(fine[rows], coarse, hand[:, axis] + above[axis])
    for rally in play.rallies:
        rows = (fine >= rally.start_s - TOSS_S) & (fine < rally.start_s)
        if not rows.any():
            continue
        begin = min(int((rally.start_s - TOSS_S) * RATE_HZ), len(coarse) - 1)
        hand = hands[int(rally.hits[0].striker or 0)][begin] + above
        share = ((fine[rows] - (rally.start_s - TOSS_S)) / TOSS_S)[:, None]
        arc = hand + share * (np.array(rally.hits[0].place) - hand)
        arc[:, 2:] += 0.5 * GRAVITY_M_S2 * TOSS_S**2 * share * (1.0 - share)
        play.ball[rows] = arc


def split_doubles(
    rng: np.random.Generator, play: FilmPlay
) -> tuple[list[Floats], list[Floats], list[list[PlannedStroke]]]:
    """Return paths, facings and strokes of four players: each side's strokes go to its left or right partner.

    Players 1 and 3 are partners, as are 2 and 4.
    """
    n = len(play.paths[0])
    times = np.arange(n) / RATE_HZ
    paths, facings, strokes = [], [], []
    for partner in (0, 1):
        for side in (0, 1):
            own = [s for s in play.strokes[side] if (s.ball_m[0] > WIDTH_M / 2) == (partner == 1)]
            home = np.array([1.7 if partner == 0 else WIDTH_M - 1.7, 6.0 + 1.9 * side]) + rng.normal(
                0.0, 0.2, 2
            )
            stops = [(0.0, home)]
            for s in own:
                k = min(n - 1, int(s.time_s * RATE_HZ))
                before = max(stops[-1][0] + 0.01, s.time_s - 0.9)
                stops += [
                    (before, home),
                    (s.time_s, play.paths[side][k]),
                    (s.time_s + 0.1, play.paths[side][k]),
                ]
                stops.append((s.time_s + 1.0, home))
            path = _glide(times, stops) + _sway(rng, n)
            paths.append(path)
            strokes.append(own)
            facings.append(_facing(path, play.watched, own, np.ones(n, dtype=bool)))
    return paths, facings, strokes
