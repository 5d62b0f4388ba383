"""Friendly hits of the family of plan rays: warm-ups and a ball kept warm, where nobody tries to win."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.test_family_films.rally_play.rally_simulation import (
    Hit,
    hits_of,
    strike_hit,
)
from goodlength.synthetic.recordings.test_family_films.rally_play.shot_simulation import (
    Reply,
    ShotKind,
    ShotMaker,
    good_flight,
    launch,
    reply_to,
)

if TYPE_CHECKING:
    import numpy as np

    from goodlength.synthetic.recordings.test_family_films.rally_play.ball_flight import (
        Arc,
        BallInFlight,
        Point,
    )


def exchange(
    rng: np.random.Generator,
    players: tuple[ShotMaker, ...],
    ball: BallInFlight,
    order: list[int],
    start_s: float,
    cross: float,
    volley: float,
) -> list[Hit]:
    """Return friendly hits: those of `order` strike in turn, a run ends when the ball gets away.

    With `order` all the same a player drives to himself, alternating it is a cross-court warm-up.
    """
    side = {p: (p % 2 == 0) for p in set(order)}
    x = 1.2 if side[order[0]] else WIDTH_M - 1.2
    now = Reply(start_s, (x, float(rng.uniform(5.0, LENGTH_M - 1.5)), 0.9), 0, 2.0)
    hits: list[Hit] = []
    for i, who in enumerate(order):
        following = order[i + 1] if i + 1 < len(order) else who
        kind = ShotKind.CROSS if following != who or rng.random() < cross else ShotKind.FEED
        found = _friendly(rng, ball, players[who], players[following], now, kind, volley)
        if found is None:
            break
        velocity, arcs, answer = found
        hits.append(strike_hit(now.time_s, now.place, velocity, now.incoming_m_s, who % 2))
        last = i + 1 == len(order)
        hits += hits_of(arcs[: int(rng.integers(1, len(arcs) + 1))] if last else arcs[: answer.contacts])
        now = answer
    return hits


def _friendly(
    rng: np.random.Generator,
    ball: BallInFlight,
    hitter: ShotMaker,
    other: ShotMaker,
    now: Reply,
    kind: ShotKind,
    volley: float,
) -> tuple[Point, list[Arc], Reply] | None:
    for _ in range(30):
        chosen = ShotKind.DRIVE if kind is ShotKind.FEED and rng.random() < 0.3 else kind
        velocity = launch(rng, ball, chosen, now.place, 0.8 * hitter.pace)
        arcs = good_flight(ball, now.time_s, now.place, velocity)
        answer = None if arcs is None else reply_to(rng, arcs, other, volley)
        if arcs is not None and answer is not None:
            return velocity, arcs, answer
    return None
