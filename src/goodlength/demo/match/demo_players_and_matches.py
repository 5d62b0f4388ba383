"""Simulated players and matches of the demo: who they are, and two further matches drawn from habits.

All of it is made up. The habits stand here as numbers; what the record of a drawn match shows of them is
left to the findings, luck included.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from goodlength.demo.match.scripted_rally_table_reader import RallyPlan
from goodlength.record.model import (
    Consent,
    Depth,
    Ending,
    Left,
    MatchInfo,
    Player,
    ReturnKind,
    ShotType,
)
from goodlength.scoring import Box, Format, Outcome, Side, Start, replay

T = TypeVar("T")

INVENTED = "Invented for the demonstration: no such person."
COURT = "Saltmarsh Racquets, court 2"
MATCH, EARLIER, LEFT_HANDER = "demo", "demo-earlier", "demo-left"
TRY = "demo-try"  # the filmed game once more, nothing logged: for the coach to try


def _adult(player_id: str, name: str, hand: str, born_year: int) -> Player:
    """Return a made-up adult who agreed to everything, for the demonstration only."""
    consent = Consent(f"{name} (invented)", date(2025, 9, 1), ("record", "clips", "handout"), None)
    return Player(player_id, name, hand, born_year, consent=consent, notes=INVENTED)


IMOGEN = _adult("demo-imogen-vale", "Imogen Vale", "right", 1998)
PETRA = _adult("demo-petra-lindqvist-ode", "Petra Lindqvist-Ode", "right", 1996)
OONA = _adult("demo-oona-marsh-tallis", "Oona Marsh-Tallis", "left", 2001)
PLAYERS = (IMOGEN, PETRA, OONA)


def info(match_id: str) -> MatchInfo:
    """Return details of one of the demo's matches; NotFound is for the library to say."""
    opponent, event, day, first = {
        MATCH: (PETRA, "Tideway Open, quarter-final", date(2025, 10, 11), Side.A),
        EARLIER: (PETRA, "Saltmarsh Racquets, autumn ladder", date(2025, 9, 20), Side.B),
        LEFT_HANDER: (OONA, "Saltmarsh Racquets, club night", date(2025, 10, 2), Side.A),
        TRY: (PETRA, "Tideway Open, game 1 once more: log it yourself", date(2025, 10, 11), Side.A),
    }[match_id]
    return MatchInfo(
        match_id,
        (IMOGEN.id, opponent.id),
        event=event,
        played_on=day,
        format=Format(),
        start=Start(server=first, box=Box.RIGHT),
        court=COURT,
        depth=Depth.SERVE,
        demo=True,
    )


@dataclass(frozen=True)
class Habits:
    """How an invented player serves, and how often each kind leaves the receiver weak, by box.

    `weak` is the share of returns loose or not made; `repeats` how often the last kind is served again.
    """

    mix: Mapping[str, float]
    weak: Mapping[str, Mapping[Box, float]]
    repeats: float


def _both(share: float) -> dict[Box, float]:
    return {Box.RIGHT: share, Box.LEFT: share}


_PLAIN = {kind: _both(0.3) for kind in ("lob", "mid-height", "hard", "body-feet", "body-nick")}
IMOGEN_V_PETRA = Habits(
    {"lob": 0.42, "hard": 0.36, "mid-height": 0.14, "body-feet": 0.08},
    {**_PLAIN, "lob": _both(0.58), "hard": _both(0.15)},
    0.25,
)
IMOGEN_V_LEFT = Habits(
    {"lob": 0.38, "hard": 0.36, "mid-height": 0.18, "body-nick": 0.08},
    {**_PLAIN, "lob": {Box.RIGHT: 0.25, Box.LEFT: 0.60}, "hard": {Box.RIGHT: 0.20, Box.LEFT: 0.25}},
    0.20,
)
OTHERS = Habits({"hard": 0.46, "mid-height": 0.34, "lob": 0.20}, _PLAIN, 0.05)


def _draw(rng: random.Random, weights: Mapping[T, float]) -> T:
    """Return one of the keys, by weight."""
    at = rng.random() * sum(weights.values())
    for key, weight in weights.items():
        at -= weight
        if at < 0:
            return key
    return next(reversed(list(weights)))


def _rally(
    place: tuple[int, int, Side, Box, bool],
    habits: Habits,
    before: str | None,
    even: float,
    rng: random.Random,
) -> RallyPlan:
    """Return one drawn rally; `even` is how often the server wins when nothing else is known."""
    game, n, server, box, box_free = place
    kind = before if before is not None and rng.random() < habits.repeats else _draw(rng, habits.mix)
    if rng.random() < 0.012:
        why = "short" if kind == "lob" else "down"
        return RallyPlan(game, n, server, box, kind, server.other, Ending.SERVICE_FAULT, fault_why=why)
    weak = rng.random() < habits.weak[kind][box]
    if weak and rng.random() < 0.2:
        return RallyPlan(
            game,
            n,
            server,
            box,
            kind,
            server,
            Ending.FORCED_ERROR,
            ReturnKind.NOT_MADE,
            Left.NOT_MADE,
            shots=2,
        )
    how = _draw(rng, _return_odds(kind))
    left = Left.LOOSE if weak else _draw(rng, {Left.TIGHT: 0.82, Left.ATTACKED: 0.18})
    if rng.random() < 0.045:
        return RallyPlan(game, n, server, box, kind, None, Ending.LET, how, left, shots=rng.randint(3, 9))
    edge = {Left.LOOSE: 0.06, Left.TIGHT: -0.02, Left.ATTACKED: -0.20}[left]
    winner = server if rng.random() < even + edge else server.other
    return _ended(RallyPlan(game, n, server, box, kind, winner, Ending.WINNER, how, left), box_free, rng)


def _return_odds(kind: str) -> dict[ReturnKind, float]:
    """Return how a return of a kind of serve is taken."""
    if kind == "lob":
        return {
            ReturnKind.VOLLEYED: 0.45,
            ReturnKind.AFTER_SIDE_WALL: 0.25,
            ReturnKind.AFTER_BOUNCE: 0.20,
            ReturnKind.OFF_BACK_WALL: 0.10,
        }
    return {ReturnKind.VOLLEYED: 0.6, ReturnKind.AFTER_SIDE_WALL: 0.12, ReturnKind.AFTER_BOUNCE: 0.28}


def _ended(plan: RallyPlan, box_free: bool, rng: random.Random) -> RallyPlan:
    """Return how a played rally ended, and after how many shots."""
    ending = _draw(
        rng,
        {Ending.WINNER: 0.55, Ending.FORCED_ERROR: 0.22, Ending.UNFORCED_ERROR: 0.18, Ending.STROKE: 0.05},
    )
    striker = plan.winner if ending is Ending.WINNER else (plan.winner or plan.server).other
    shots = 3 + min(22, int(rng.expovariate(1 / 5.0)))
    if (striker is plan.server) != bool(shots % 2):
        shots += 1
    strokes = {
        ShotType.DRIVE: 0.46,
        ShotType.DROP: 0.2,
        ShotType.CROSS_COURT: 0.16,
        ShotType.BOAST: 0.1,
        ShotType.KILL: 0.08,
    }
    stroke = None if ending is Ending.STROKE else _draw(rng, strokes)
    return RallyPlan(
        plan.game,
        plan.n_in_game,
        plan.server,
        plan.box,
        plan.kind,
        plan.winner,
        ending,
        plan.how,
        plan.left,
        stroke,
        stroke is not None and rng.random() < 0.2,
        shots,
        keep=not box_free and rng.random() < 0.1,
    )


def random_match(
    start: Start, habits: Mapping[Side, Habits], even: float, rng: random.Random, favours: float = 0.0
) -> tuple[RallyPlan, ...]:
    """Return a whole match drawn from habits, its score kept by the rules of play.

    Parameters
    ----------
    start : Start
    habits : mapping of Side to Habits
        How each serves.
    even : float
        How often a server wins an ordinary rally.
    rng : random.Random
    favours : float
        Added to `even` when A serves, taken off when B does.

    Returns
    -------
    tuple of RallyPlan
    """
    plans: list[RallyPlan] = []
    outcomes: list[Outcome] = []
    last: dict[tuple[int, Side], str] = {}
    while True:
        worked = replay(Format(), start, outcomes)
        following = worked.next
        if following is None or following.server is None:
            return tuple(plans)
        server, game = following.server, following.game
        box = following.box or Box.RIGHT
        if following.box_free:
            box = Box.RIGHT if rng.random() < (0.85 if server is Side.A else 0.5) else Box.LEFT
        n = sum(plan.game == game for plan in plans) + 1
        lean = favours if server is Side.A else -favours
        plan = _rally(
            (game, n, server, box, following.box_free),
            habits[server],
            last.get((game, server)),
            even + lean,
            rng,
        )
        last[(game, server)] = plan.kind
        plans.append(plan)
        fault = plan.ending is Ending.SERVICE_FAULT
        outcomes.append(
            Outcome(
                str(len(plans)), None if fault else plan.winner, plan.let, fault=fault, server=server, box=box
            )
        )


def plans_of(match_id: str) -> Sequence[RallyPlan]:
    """Return the rallies of a drawn match; the same whenever asked.

    The two seeds were chosen so that what was drawn resembles the habits: a show-piece, no sample.
    """
    if match_id == EARLIER:
        habits = {Side.A: IMOGEN_V_PETRA, Side.B: OTHERS}
        return random_match(info(EARLIER).start, habits, 0.49, random.Random(17), favours=-0.03)
    habits = {Side.A: IMOGEN_V_LEFT, Side.B: OTHERS}
    return random_match(info(LEFT_HANDER).start, habits, 0.50, random.Random(27), favours=0.04)
