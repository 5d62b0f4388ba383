"""An evening on one court as a diary: knock-up, games, what happens between rallies, breaks; by scripts.

Between two rallies stands a script of small doings drawn from a grammar: the ball is fetched, hit back to the
server, bounced by hand or racket, tapped on the strings; players talk, tap the wall, wipe a hand, leave by
the door. Rules of play fix the rest (to 11 by two; knock-up of about four minutes, two minutes between games:
common practice, no source). Chances and lengths are ASSUMED; rests of 8 to 20 s are about those published.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, field

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldSpan
from goodlength.synthetic.recordings.test_family.footfalls_and_squeaks import rally_steps, walking_steps
from goodlength.synthetic.recordings.test_family.rally_stroke_markov_chain import (
    TempoPair,
    TempoPlayer,
    draw_pair,
    draw_player,
    meeting,
    play_rally,
    strike,
    stroke_speed,
)
from goodlength.synthetic.recordings.test_family.shot_flight_timing import (
    KINDS,
    CourtMoment,
    Spot,
    ball_way,
    dead_ball,
)

Range = tuple[float, float]


@dataclass(frozen=True)
class DiaryHabits:
    """What a condition asks of the play: pace, factor on the length of rallies, touch, rests, knock-up."""

    pace: Range = (0.58, 1.0)
    length: float = 1.0
    touch: float = 1.0
    rest_s: Range = (6.0, 17.0)
    knock_up_s: Range = (60.0, 300.0)
    knock_up_chance: float = 0.8


@dataclass(frozen=True)
class DiaryCue:
    """Somebody speaks or claps: when, who, for about how long."""

    time_s: float
    who: str
    seconds: float


@dataclass
class CourtDiary:
    """Impacts, spans and cues of one court, in the time of the court."""

    moments: list[CourtMoment] = field(default_factory=list)
    spans: list[WorldSpan] = field(default_factory=list)
    cues: list[DiaryCue] = field(default_factory=list)


@dataclass(frozen=True)
class _KnockUp:
    """How a knock-up goes: strokes to oneself before the ball goes across, how soft, how often it is lost."""

    to_self: float
    soft: float
    lost: float
    fetch_s: float
    kinds: tuple[str, ...] = ("feed",)


_KNOCK_UPS = (
    _KnockUp(0.0, 0.95, 0.06, 2.5),
    _KnockUp(2.0, 0.9, 0.07, 3.0),
    _KnockUp(3.5, 0.85, 0.1, 3.0, ("feed", "feed", "drop", "lob")),
    _KnockUp(0.6, 1.05, 0.12, 4.0, ("feed", "drive")),
    _KnockUp(1.5, 0.75, 0.3, 6.0),
    _KnockUp(0.3, 0.8, 0.09, 2.0, ("feed", "volley")),
    _KnockUp(1.0, 0.9, 0.2, 12.0),
)


def _friendly(
    rng: np.random.Generator,
    pair: TempoPair,
    hitters: tuple[TempoPlayer, TempoPlayer],
    style: _KnockUp,
    start_s: float,
    until_s: float,
    numbers: tuple[int, int] = (0, 1),
    most: int = 80,
) -> list[CourtMoment]:
    """Return one run of friendly strokes until the ball is lost or time is up."""
    out: list[CourtMoment] = []
    who = int(rng.integers(0, 2))
    left = int(rng.poisson(style.to_self))
    time = start_s
    place: Spot = (float(rng.uniform(0.9, 5.5)), float(rng.uniform(5.0, 8.5)), 0.9)
    for _ in range(most):
        name = str(rng.choice(style.kinds))
        across = left <= 0
        kind = KINDS["cross" if across and name in {"feed", "drive"} else name]
        speed = min(style.soft * stroke_speed(rng, hitters[who], "feed" if across else name, place), 26.0)
        out.append(strike(time, place, speed, numbers[who], 4.0))
        way = ball_way(rng, pair.ball, kind, time, place, speed)
        if rng.random() < style.lost or way.bounce_s > until_s:
            out += way.moments[: int(rng.integers(1, len(way.moments) + 1))]
            if rng.random() < 0.6:
                out += dead_ball(rng, pair.ball, max(out, key=lambda m: m.time_s))
            break
        left = int(rng.poisson(style.to_self)) if across else left - 1
        who = 1 - who if across else who
        time, place, before = meeting(rng, way, hitters[who], 0.5 if name == "volley" else 0.08)
        out += way.moments[:before]
    return sorted(out, key=lambda m: m.time_s)


def knock_up(
    rng: np.random.Generator,
    diary: CourtDiary,
    pair: TempoPair,
    start_s: float,
    seconds: float,
    four: bool = False,
) -> float:
    """Add a knock-up and its span, sides changed half-way; return when it ended. `four` use two balls."""
    style = _KNOCK_UPS[int(rng.integers(0, len(_KNOCK_UPS)))]
    moments: list[CourtMoment] = []
    for ball in range(2 if four else 1):
        hitters = pair.players if ball == 0 else (draw_player(rng, (0.55, 0.9), 1.0), pair.players[1])
        time, changed = start_s + ball * float(rng.uniform(0.3, 2.0)), False
        while time < start_s + seconds - 2.0:
            run = _friendly(rng, pair, hitters, style, time, start_s + seconds)
            moments += run
            time = run[-1].time_s + 0.7 + float(rng.gamma(2.0, 0.5 * style.fetch_s))
            if not changed and time > start_s + seconds / 2:
                changed = True
                time += float(rng.uniform(2.0, 10.0))
            if rng.random() < 0.12:
                diary.cues.append(DiaryCue(time - 1.5, "talk", float(rng.uniform(0.6, 2.5))))
    moments.sort(key=lambda m: m.time_s)
    strikes = [m.time_s for m in moments if m.striker is not None]
    diary.moments += moments
    for number, player in enumerate(pair.players):
        diary.moments += walking_steps(rng, player, number, start_s, moments[-1].time_s)
    diary.spans.append(WorldSpan(moments[0].time_s, moments[-1].time_s, Activity.WARM_UP, strikes[-1]))
    return moments[-1].time_s


def door(rng: np.random.Generator, diary: CourtDiary, time_s: float) -> float:
    """Add a door: a latch, the leaf that knocks once or twice, a latch again; return when it is shut."""
    place = (WIDTH_M / 2 + float(rng.uniform(-0.8, 0.8)), LENGTH_M - 0.04, 1.1)
    diary.moments.append(CourtMoment(time_s, Surface.DOOR, place, float(rng.uniform(2.0, 8.0)), "latch"))
    time = time_s + float(rng.uniform(0.7, 3.0))
    hard = float(rng.uniform(2.0, 13.0))
    for _ in range(int(rng.integers(1, 3))):
        diary.moments.append(CourtMoment(time, Surface.DOOR, place, hard, "door"))
        time += float(rng.uniform(0.09, 0.25))
        hard *= 0.5
    diary.moments.append(CourtMoment(time, Surface.DOOR, place, float(rng.uniform(2.0, 7.0)), "latch"))
    return time


def _bounced_by_hand(
    rng: np.random.Generator, place: Spot, start_s: float, count: int, gap_s: float
) -> list[CourtMoment]:
    out, time = [], start_s
    for _ in range(count):
        speed = 0.5 * 9.81 * 0.8 * gap_s
        out.append(
            CourtMoment(
                time, Surface.FLOOR, (place[0], place[1], 0.02), speed + float(rng.normal(0.4, 0.2)), "floor"
            )
        )
        time += gap_s * float(rng.normal(1.0, 0.07))
    return out


def _bounced_by_racket(
    rng: np.random.Generator, place: Spot, start_s: float, count: int, who: int, floor: bool
) -> list[CourtMoment]:
    """Return a ball tapped up on the strings, or down to the floor, by one player."""
    out, time = [], start_s
    gap = float(rng.uniform(0.42, 0.65) if floor else rng.uniform(0.3, 0.6))
    for _ in range(count):
        racket = (place[0], place[1], 0.8)
        out.append(
            CourtMoment(
                time, Surface.RACKET, racket, float(rng.uniform(1.5, 4.0)), f"racket{who % 2}", who % 2
            )
        )
        if floor:
            out.append(
                CourtMoment(
                    time + 0.45 * gap,
                    Surface.FLOOR,
                    (*place[:2], 0.02),
                    float(rng.uniform(3.0, 5.0)),
                    "floor",
                )
            )
        time += gap * float(rng.normal(1.0, 0.08))
    return out


def _fidget(
    rng: np.random.Generator, player: TempoPlayer, who: int, place: Spot, start_s: float, end_s: float
) -> list[CourtMoment]:
    """Return what the server does with the ball, the last of it a second or two before `end_s`."""
    count = int(rng.poisson(player.bounces))
    if not count or player.fidget == "none":
        return []
    span = 0.55 * count
    begins = end_s - float(rng.uniform(0.8, 2.0)) - span
    if begins < start_s:
        return []
    if player.fidget == "hand":
        return _bounced_by_hand(rng, place, begins, count, float(rng.uniform(0.36, 0.6)))
    return _bounced_by_racket(rng, place, begins, count, who, player.fidget == "racket")


def _hit_back(rng: np.random.Generator, diary: CourtDiary, pair: TempoPair, who: int, time_s: float) -> float:
    """Add a ball hit back to the server by way of the front wall, at times knocked about first."""
    place: Spot = (float(rng.uniform(0.8, 5.6)), float(rng.uniform(3.0, 8.0)), float(rng.uniform(0.3, 0.9)))
    style = _KnockUp(0.0, 0.7, 0.0, 1.0)
    count = 1 if rng.random() < 0.6 else int(rng.integers(2, 6))
    if count > 1:
        run = _friendly(rng, pair, (pair.players[who],) * 2, style, time_s, time_s + 25.0, (who, who), count)
    else:
        speed = float(rng.uniform(7.0, 15.0))
        way = ball_way(rng, pair.ball, KINDS["feed"], time_s, place, speed)
        run = [
            strike(time_s, place, speed, who, 0.5),
            *way.moments[: way.before_bounce + int(rng.integers(0, 3))],
        ]
    strikes = [m.time_s for m in run if m.striker is not None]
    diary.moments += run
    diary.spans.append(WorldSpan(run[0].time_s, run[-1].time_s, Activity.KNOCKING, strikes[-1]))
    return run[-1].time_s


def between_rallies(
    rng: np.random.Generator,
    diary: CourtDiary,
    pair: TempoPair,
    habits: DiaryHabits,
    start_s: float,
    server: int,
) -> float:
    """Add a script of doings between two rallies; return when the next serve is struck."""
    player = pair.players[server]
    rest = float(rng.uniform(*habits.rest_s)) * float(rng.lognormal(0.0, 0.35))
    time = start_s + float(rng.uniform(0.8, 3.0))
    place: Spot = (float(rng.choice([1.2, 5.2])), float(rng.uniform(5.6, 6.9)), 0.8)
    for speaker, chance, lasts in (
        ("referee", 0.7, (0.6, 2.6)),
        ("applause", 0.3, (1.0, 4.0)),
        ("player", 0.25, (0.3, 1.8)),
    ):
        if rng.random() < chance:
            diary.cues.append(
                DiaryCue(start_s + float(rng.uniform(0.2, 1.6)), speaker, float(rng.uniform(*lasts)))
            )
    end = start_s + rest
    doing = rng.random()
    if doing < 0.35:
        time = _hit_back(rng, diary, pair, 1 - server, time) + 1.0
    elif doing < 0.43:
        # A talk about a call, the ball bounced the while.
        seconds = float(rng.uniform(8.0, 30.0))
        who = str(rng.choice(["player", "referee"]))
        for begins in np.arange(time, time + seconds, 4.5):
            diary.cues.append(DiaryCue(float(begins), who, float(rng.uniform(1.0, 4.0))))
        diary.moments += _bounced_by_hand(
            rng, place, time + 0.5, int(seconds / 1.1), float(rng.uniform(0.6, 1.0))
        )
        time += seconds
    elif doing < 0.49:
        # Out of the door for a towel or a ball.
        away = float(rng.uniform(8.0, 25.0))
        door(rng, diary, time + 2.0)
        time = door(rng, diary, time + away)
    if rng.random() < 0.25:
        tapped = (float(rng.choice([0.05, WIDTH_M - 0.05])), float(rng.uniform(2.0, 9.0)), 0.5)
        begins = time
        for _ in range(1 + int(rng.geometric(0.4))):
            diary.moments.append(
                CourtMoment(begins, Surface.OTHER, tapped, float(rng.uniform(1.5, 7.0)), "tap")
            )
            begins += float(rng.uniform(0.18, 0.5))
        time = begins
    end = max(end, time + float(rng.uniform(1.8, 5.0)))
    diary.moments += _fidget(rng, player, server, place, time + 0.3, end)
    for number, mover in enumerate(pair.players):
        diary.moments += walking_steps(rng, mover, number, start_s, end - 0.7)
    return end


def play_game(
    rng: np.random.Generator,
    diary: CourtDiary,
    pair: TempoPair,
    habits: DiaryHabits,
    start_s: float,
    until_s: float,
) -> float:
    """Add one game to 11 by two, or until the recording ends; return when it ended."""
    score, server, time = [0, 0], int(rng.integers(0, 2)), start_s
    while max(score) < 11 or abs(score[0] - score[1]) < 2:
        serve_s = between_rallies(rng, diary, pair, habits, time, server)
        rally = play_rally(rng, pair, server, serve_s)
        last = max(m.time_s for m in rally.moments)
        if last > until_s - 1.5:
            # The next serve is not struck: what was to lead to it stays, as when a match is broken off.
            break
        diary.moments += rally.moments
        diary.moments += rally_steps(rng, pair.players, rally.moments, rally.end_s)
        let = rally.ending == "let"
        diary.spans.append(WorldSpan(rally.start_s, rally.end_s, Activity.RALLY, rally.last_strike_s, let))
        time = last
        if not let:
            server = rally.winner
            score[server] += 1
    return time


def game_break(
    rng: np.random.Generator, diary: CourtDiary, pair: TempoPair, start_s: float, seconds: float
) -> float:
    """Add a break between games: door, talk, at times somebody who hits to himself; return when it ends."""
    end = start_s + seconds
    door(rng, diary, start_s + float(rng.uniform(3.0, 12.0)))
    door(rng, diary, end - float(rng.uniform(6.0, 15.0)))
    time = start_s + 3.0
    while time < end - 7.0:
        diary.cues.append(DiaryCue(time, "talk", float(rng.uniform(0.8, 5.0))))
        time += float(rng.gamma(2.0, 4.5))
    last_strike = None
    if rng.random() < 0.55:
        who = int(rng.integers(0, 2))
        begins = start_s + seconds * float(rng.uniform(0.3, 0.6))
        run = _friendly(rng, pair, (pair.players[who],) * 2, _KNOCK_UPS[2], begins, end - 5.0, (who, who), 25)
        run = [m for m in run if m.time_s < end - 4.0]
        diary.moments += run
        last_strike = max((m.time_s for m in run if m.striker is not None), default=None)
    diary.spans.append(WorldSpan(start_s, end, Activity.BETWEEN_GAMES, last_strike))
    return end


def match_diary(rng: np.random.Generator, habits: DiaryHabits, start_s: float, until_s: float) -> CourtDiary:
    """Return a match from `start_s`: door, perhaps a knock-up, games and breaks until `until_s`."""
    diary = CourtDiary()
    pair = draw_pair(rng, habits.pace, habits.length, habits.touch)
    time = door(rng, diary, start_s + float(rng.uniform(0.5, 15.0))) + float(rng.uniform(1.0, 5.0))
    if rng.random() < habits.knock_up_chance:
        wanted = min(float(rng.uniform(*habits.knock_up_s)), 0.35 * (until_s - start_s))
        time = knock_up(rng, diary, pair, time, wanted) + float(rng.uniform(4.0, 25.0))
    while time < until_s - 25.0:
        ended = play_game(rng, diary, pair, habits, time, until_s)
        rest = float(rng.uniform(60.0, 150.0))
        if ended + rest > until_s - 25.0:
            break
        time = game_break(rng, diary, pair, ended + 2.5, rest)
    diary.moments.sort(key=lambda m: m.time_s)
    return diary


def doubles_diary(rng: np.random.Generator, until_s: float) -> CourtDiary:
    """Return four people who warm up with two balls, rest, and never play a rally."""
    diary = CourtDiary()
    time = door(rng, diary, float(rng.uniform(0.5, 3.0))) + 1.5
    while time < until_s - 12.0:
        length = min(float(rng.uniform(60.0, 330.0)), until_s - 4.0 - time)
        time = knock_up(rng, diary, draw_pair(rng), time, length, four=True) + float(rng.uniform(10.0, 50.0))
    diary.moments.sort(key=lambda m: m.time_s)
    return diary


def free_moment_s(diary: CourtDiary, wanted_s: float) -> float:
    """Return a moment near the one wanted, outside every span and half a second from what is struck."""
    times = [m.time_s for m in diary.moments if m.surface is not Surface.FOOT]
    busy = [(s.start_s - 1.0, s.end_s + 1.0) for s in diary.spans]
    for step in range(6000):
        moment = wanted_s + math.copysign(0.25 * (step // 2), (step % 2) - 0.5)
        at = bisect.bisect(times, moment)
        if moment < 1.0 or any(a < moment < b for a, b in busy):
            continue
        if all(abs(t - moment) > 0.5 for t in times[max(0, at - 1) : at + 1]):
            return moment
    return wanted_s
