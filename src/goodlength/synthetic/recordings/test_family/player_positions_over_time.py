"""Where two players of a recording of the test family are, every twentieth of a second.

The recording's truth fixes who strikes when and, where it carries it, where the ball is then; rules and
habits of `movement` do the rest. The diary draws the box of each serve at random, the rules do not: a rally
whose box is the wrong one is mirrored left to right, which the sound hardly shows.
"""

from __future__ import annotations

import bisect
import itertools
import math
import statistics
from dataclasses import replace
from typing import TYPE_CHECKING

from goodlength.court.dimensions import MIDDLE_M, WIDTH_M
from goodlength.errors import OutOfRange
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldContact, WorldSpan
from goodlength.synthetic.recordings.test_family.movement.movement_between_rallies import (
    PauseEvents,
    after_play,
    break_moves,
    draw_pause_habits,
    pause_moves,
)
from goodlength.synthetic.recordings.test_family.movement.movement_in_rallies import (
    RallyStrike,
    draw_ball,
    draw_stand,
    play_rally_moves,
)
from goodlength.synthetic.recordings.test_family.movement.movement_in_warm_up import (
    four_player_moves,
    warm_up_moves,
)
from goodlength.synthetic.recordings.test_family.movement.people_walking_to_goals import (
    MovementPlan,
    draw_mover,
    walked_places,
)
from goodlength.synthetic.recordings.test_family.movement.people_where_nobody_plays import scenes_without_play

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from goodlength.synthetic.recordings.recording_types import WorldRecording

AWAY_S = 40.0
"""A pause so long, outside a break between games, is taken to part two matches."""


def player_places(rng: np.random.Generator, world: WorldRecording, seconds: float) -> NDArray[np.float64]:
    """Return where both players are while a recording is made.

    Parameters
    ----------
    rng : numpy.random.Generator
        The same state gives the same places; it is not the one that the sound was drawn from.
    world : WorldRecording
        Contacts of the own court, spans, condition and details are read; the sound is not.
    seconds : float
        Length, above zero.

    Returns
    -------
    places : ndarray, shape (2, round(seconds / 0.05) + 1, 2)
        x from the left wall and y from the front wall, m, every 0.05 s from 0. The first index is the player
        whom `WorldContact.striker` names. Who left the court has y of 11.5 or more once through the door.
        Of four who share a court two are given, and a strike may be another's.

    Raises
    ------
    OutOfRange
        If the length is not a number above zero.

    Limits
    ------
    No tracked player stands behind any pace, place or habit; what no rule fixes is ASSUMED and drawn wide.
    In a silent half, whose truth is left out, play of its own goes on.
    """
    if not 0.0 < seconds < math.inf:
        raise OutOfRange(f"places need a length above 0 s; got {seconds:g} s. Give the recording's length.")
    builder = _Builder(rng, world, seconds)
    builder.write()
    return walked_places(builder.plan, seconds)


class _Builder:
    """The plan of one recording while it is written down, block by block."""

    def __init__(self, rng: np.random.Generator, world: WorldRecording, seconds: float) -> None:
        self.rng, self.world, self.seconds = rng, world, seconds
        level = _level(rng, world)
        levels = [min(max(level + float(rng.normal(0.0, 0.15)), 0.0), 1.0) for _ in range(2)]
        self.plan = MovementPlan(rng, (draw_mover(rng, levels[0]), draw_mover(rng, levels[1])))
        self.habits = draw_pause_habits(rng)
        contacts, spans = [c for c in world.contacts if c.own_court], list(world.spans)
        if world.details.get("silent"):
            more = _silent_play(rng, world, seconds)
            contacts = sorted([*contacts, *more[0]], key=lambda c: c.time_s)
            spans = sorted([*spans, *more[1]], key=lambda s: s.start_s)
        self.contacts, self.spans = contacts, spans
        self.times = [c.time_s for c in contacts]
        self.server: int | None = None
        self.right, self.again = False, False
        self.fatigue = [0.0, 0.0]

    def write(self) -> None:
        """Write the plan down from the first second to the last."""
        blocks = [s for s in self.spans if s.activity is not Activity.KNOCKING]
        if not blocks and not any(c.striker is not None for c in self.contacts):
            if self._doors(0.0, self.seconds):
                self._enter(self.seconds)
                after_play(self.plan, replace(self.habits, leaves=0.0), 5.0, self.seconds)
            else:
                scenes_without_play(self.plan, self.world.condition, 0.0, self.seconds)
            return
        cursor = self._enter(blocks[0].start_s if blocks else self.seconds)
        for span in blocks:
            if span.activity is not Activity.BETWEEN_GAMES and span.start_s - cursor > AWAY_S:
                # Others come on: nobody stays.
                away = replace(self.habits, stays_in_breaks=0.0)
                break_moves(
                    self.plan, away, cursor, span.start_s - 4.0, self._events(cursor, span.start_s, 9.0)
                )
                cursor, self.server = span.start_s - 4.0, None
            if span.activity is Activity.RALLY:
                self._rally(cursor, span)
            elif span.activity is Activity.WARM_UP:
                self._warm_up(cursor, span)
            else:
                events = self._events(span.start_s, span.end_s, 9.0)
                break_moves(self.plan, self.habits, span.start_s, span.end_s, events)
                self.server = None
            self._tire(span.activity, span.start_s - cursor, span.end_s - span.start_s)
            cursor = span.end_s
        self._finish(cursor, bool(blocks) and blocks[-1].activity is Activity.RALLY)

    def _enter(self, until_s: float) -> float:
        """Put both on the court, or before its door until it opens; return when the first block may begin."""
        rng, plan = self.rng, self.plan
        doors = self._doors(0.0, until_s)
        late = 0.0
        for who in (0, 1):
            place = (float(rng.uniform(1.0, 5.4)), float(rng.uniform(4.5, 8.7)))
            if not doors or rng.random() < 0.2 or until_s - doors[0] < 3.0:
                plan.go(who, 0.0, place)
            else:
                plan.stay_out(who, 0.0)
                enters = min(doors[0] + late + float(rng.uniform(0.4, 2.0)), until_s - 2.5)
                plan.come_in(who, enters, place)
                late += float(rng.uniform(0.5, 3.0))
        return min(doors[0] + 2.5, until_s) if doors else 0.0

    def _between(self, start_s: float, end_s: float) -> list[WorldContact]:
        low, high = bisect.bisect_left(self.times, start_s), bisect.bisect_right(self.times, end_s)
        return self.contacts[low:high]

    def _doors(self, start_s: float, end_s: float) -> tuple[float, ...]:
        return tuple(c.time_s for c in self._between(start_s, end_s) if c.surface is Surface.DOOR)

    def _strikes(self, start_s: float, end_s: float, server: int | None) -> list[RallyStrike]:
        """Return the strikes of a stretch; unknown strikers alternate, unknown places are drawn."""
        out: list[RallyStrike] = []
        for contact in self._between(start_s - 1e-6, end_s + 1e-6):
            if contact.surface is not Surface.RACKET:
                continue
            who = contact.striker
            if who is None:
                who = 1 - out[-1].who if out else (int(self.rng.integers(0, 2)) if server is None else server)
            ball = contact.place_m
            if ball is None:
                before = out[-1] if out else None
                from_place = before.ball if before else (float(self.rng.uniform(0.8, 5.6)), 6.5)
                ball = draw_ball(self.rng, from_place, contact.time_s - before.time_s if before else 1.4)
            out.append(RallyStrike(contact.time_s, who, ball))
        return out

    def _events(self, start_s: float, end_s: float, ball_s: float) -> PauseEvents:
        """Return what the recording holds of a pause; the ball lies where it last struck the floor."""
        inside = self._between(start_s + 0.05, end_s - 0.05)
        floors = [
            c.place_m
            for c in inside
            if c.surface is Surface.FLOOR and c.place_m is not None and c.time_s < start_s + ball_s
        ]
        return PauseEvents(
            tuple(self._strikes(start_s + 0.05, end_s - 0.05, None)),
            tuple(
                (c.time_s, c.place_m) for c in inside if c.surface is Surface.OTHER and c.place_m is not None
            ),
            tuple(c.time_s for c in inside if c.surface is Surface.DOOR),
            floors[-1] if floors else None,
        )

    def _rally(self, cursor_s: float, span: WorldSpan) -> None:
        rng = self.rng
        strikes = self._strikes(span.start_s, span.end_s, self.server)
        if not strikes:
            return
        server = strikes[0].who
        if self.server != server:
            self.right = bool(rng.random() < self.plan.movers[server].right_box)
        elif not self.again:
            self.right = not self.right
        self.server, self.again = server, span.let
        stand = draw_stand(rng, server, self.right)
        if (strikes[0].ball[0] > MIDDLE_M) != self.right:
            strikes = [replace(s, ball=(WIDTH_M - s.ball[0], s.ball[1])) for s in strikes]
        pause_moves(
            self.plan,
            self.habits,
            cursor_s,
            stand,
            span.start_s,
            self._events(cursor_s, span.start_s, 3.0),
        )
        play_rally_moves(self.plan, strikes, span.end_s, (self.fatigue[0], self.fatigue[1]), span.let)
        for goals in self.plan.goals:
            goals.sort(key=lambda g: g.time_s)

    def _warm_up(self, cursor_s: float, span: WorldSpan) -> None:
        strikes = self._strikes(span.start_s, span.end_s, None)
        if span.start_s - cursor_s > 8.0:
            after_play(self.plan, replace(self.habits, leaves=0.0), cursor_s, span.start_s - 5.0)
            for who in (0, 1):
                self.plan.cut(who, span.start_s - 2.6)
        if self.world.condition == "doubles warm-up":
            four_player_moves(self.plan, span.start_s, span.end_s, strikes)
        else:
            warm_up_moves(self.plan, span.start_s, span.end_s, strikes)

    def _tire(self, activity: Activity, rest_s: float, lasts_s: float) -> None:
        for who in (0, 1):
            tired = self.fatigue[who] * math.exp(-max(rest_s, 0.0) / 200.0)
            if activity is Activity.RALLY:
                tired += self.plan.movers[who].tires * lasts_s / 60.0
            elif activity is Activity.BETWEEN_GAMES:
                tired *= math.exp(-lasts_s / 90.0)
            self.fatigue[who] = min(tired, 1.0)

    def _finish(self, cursor_s: float, rallies: bool) -> None:
        """Write down what follows the last block: on to a serve that is not struck, or the end of play."""
        left_s = self.seconds - cursor_s
        if rallies and self.server is not None and left_s < 25.0 and self.rng.random() < 0.8:
            serve_s = self.seconds + float(self.rng.uniform(0.1, 6.0))
            stand = draw_stand(self.rng, self.server, self.right if self.again else not self.right)
            pause_moves(
                self.plan, self.habits, cursor_s, stand, serve_s, self._events(cursor_s, self.seconds, 3.0)
            )
        elif left_s > 0.0:
            after_play(self.plan, self.habits, cursor_s, self.seconds)
        for goals in self.plan.goals:
            goals.sort(key=lambda g: g.time_s)


def _level(rng: np.random.Generator, world: WorldRecording) -> float:
    """Return how good a pair is, 0 to 1: who plays faster is better (ASSUMED)."""
    level = float(rng.uniform(0.0, 1.0))
    gaps = [
        b.time_s - a.time_s
        for a, b in itertools.pairwise(
            c for c in world.contacts if c.own_court and c.surface is Surface.RACKET and c.striker is not None
        )
        if a.striker != b.striker and b.time_s - a.time_s < 4.0
    ]
    if len(gaps) < 10:
        return level
    fast = min(max((1.85 - statistics.mean(gaps)) / 0.7, 0.0), 1.0)
    return 0.45 * level + 0.55 * fast


def _silent_play(
    rng: np.random.Generator, world: WorldRecording, seconds: float
) -> tuple[list[WorldContact], list[WorldSpan]]:
    """Return rallies for the half whose sound is missing: the players do not know that it is."""
    cut = float(world.details["cut_s"])
    low, high = (2.0, cut - 3.0) if world.details["silent"] == "before" else (cut + 2.0, seconds - 2.0)
    contacts: list[WorldContact] = []
    spans: list[WorldSpan] = []
    time, server = low + float(rng.uniform(4.0, 15.0)), int(rng.integers(0, 2))
    while True:
        start, who = time, server
        strikes = []
        for _ in range(1 + int(rng.geometric(0.12))):
            strikes.append(WorldContact(time, Surface.RACKET, who))
            time += min(max(float(rng.normal(1.45, 0.35)), 0.7), 3.0)
            who = 1 - who
        if time > high:
            return contacts, spans
        contacts += strikes
        spans.append(
            WorldSpan(start, time, Activity.RALLY, strikes[-1].time_s, let=bool(rng.random() < 0.08))
        )
        server = server if rng.random() < 0.5 else 1 - server
        time += float(rng.uniform(7.0, 20.0))
