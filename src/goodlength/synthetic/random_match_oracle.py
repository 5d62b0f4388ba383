"""Random legal matches by an independent implementation of the rules, and the invariants of replay.

For tests, the bench and the demo's own checks. `play_match` shares no code with `play.py` or `rules.py`
beyond the types, so that the two can be held against each other.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from goodlength.scoring.match_replay import replay
from goodlength.scoring.scoring_types import (
    Box,
    Conduct,
    Decision,
    Event,
    Format,
    Outcome,
    Points,
    Replay,
    ScoredEvent,
    Side,
    Start,
    System,
)


class Rng(Protocol):
    """Anything with `random()`: `random.Random` or a numpy generator."""

    def random(self) -> float:
        """Return a number from 0 up to, not with, 1."""


@dataclass(frozen=True)
class EventTruth:
    """What one event of a random match must replay to."""

    server: Side
    box: Box
    after: Points
    ends_game: Side | None


@dataclass(frozen=True)
class RandomMatch:
    """A random match: its format, start, events, and the truth of each event."""

    fmt: Format
    start: Start
    events: tuple[Event, ...]
    truth: tuple[EventTruth, ...]
    finals: tuple[Points, ...]
    winner: Side


@dataclass(frozen=True)
class Checked:
    """How many matches were replayed, in how many seconds, and the laws that were broken."""

    matches: int
    rallies: int
    replay_s: float
    broken: tuple[str, ...]


FORMATS = (
    Format(),
    Format(best_of=3),
    Format(edition="2010"),
    Format(System.RALLY, 15, edition="2020"),
    Format(System.RALLY, 15, 3, edition="2001"),
    Format(System.HAND_OUT, 9, edition="2001"),
    Format(System.HAND_OUT, 9, 3, edition="2001"),
)


def play_match(
    rng: Rng,
    fmt: Format | None = None,
    handicap: Points = (0, 0),
    a_wins: float = 0.5,
    let_share: float = 0.1,
    conduct_share: float = 0.004,
) -> RandomMatch:
    """Return a random legal match from love-all, or from a handicap, to its end.

    Parameters
    ----------
    rng : Rng
        Source of chance; the same state gives the same match.
    fmt : Format, optional
        Rally scoring to 11, best of 5, when not given.
    handicap : (int, int)
        The score at which every game begins.
    a_wins, let_share, conduct_share : float
        Chances that A wins a decided rally, that a serve ends in a let, and that a conduct stroke is
        given after a rally (rally scoring only: what it does in hand-out scoring is not settled).
    """
    court = _Court(rng, fmt or Format(), handicap)
    conduct = conduct_share if court.fmt.system is System.RALLY else 0.0
    while court.winner is None:
        court.rally(a_wins, let_share)
        if court.winner is None and rng.random() < conduct:
            court.conduct_stroke()
    return RandomMatch(
        court.fmt, court.start, tuple(court.events), tuple(court.truth), tuple(court.finals), court.winner
    )


class _Court:
    """A match being played, by the letter of the rules and nothing else."""

    def __init__(self, rng: Rng, fmt: Format, handicap: Points) -> None:
        self.rng, self.fmt, self.handicap = rng, fmt, list(handicap)
        self.server = Side.A if rng.random() < 0.5 else Side.B
        self.start = Start(server=self.server, handicap=handicap)
        self.sets = fmt.system is System.HAND_OUT or (fmt.target == 15 and fmt.edition == "2001")
        self.points = list(handicap)
        self.won = [0, 0]
        self.box: Box | None = None
        self.goal: int | None = None
        self.events: list[Event] = []
        self.truth: list[EventTruth] = []
        self.finals: list[Points] = []
        self.winner: Side | None = None

    def rally(self, a_wins: float, let_share: float) -> None:
        """One serve: box chosen or due, then a let or a winner."""
        draw = self.rng.random
        seen = None
        if self.box is None:
            seen = self.box = Box.RIGHT if draw() < 0.5 else Box.LEFT
        choice = None
        tie = self.fmt.target - 1
        if self.sets and self.goal is None and self.points == [tie, tie]:
            longer = tie + 2 if self.fmt.target == 9 else tie + 3
            choice = self.goal = self.fmt.target if draw() < 0.5 else longer
        key, served, box = str(len(self.events)), self.server, self.box
        if draw() < let_share:
            self.events.append(Outcome(key, let=True, decision=Decision.YES_LET, box=seen, set_to=choice))
            self.truth.append(EventTruth(served, box, self._score(), None))
            return
        winner = Side.A if draw() < a_wins else Side.B
        fault = winner is not served and draw() < 0.02
        decision = Decision.STROKE if not fault and draw() < 0.05 else None
        self.events.append(
            Outcome(key, winner, box=seen, set_to=choice, fault=fault, decision=decision),
        )
        if self.fmt.system is System.RALLY or winner is served:
            self.points[winner.place] += 1
        self.box = (Box.LEFT if box is Box.RIGHT else Box.RIGHT) if winner is served else None
        self.server = winner
        score = self._score()
        self.truth.append(EventTruth(served, box, score, self._finish(winner)))

    def conduct_stroke(self) -> None:
        """A conduct stroke after a rally: added to the score, server and box unchanged."""
        tie = self.fmt.target - 1
        if self.sets and self.points[0] >= tie - 1 and self.points[1] >= tie - 1:
            return  # the choice of the receiver would stand between: left to written tests
        to = Side.A if self.rng.random() < 0.5 else Side.B
        self.events.append(Conduct(str(len(self.events)), to))
        self.points[to.place] += 1
        self.truth.append(EventTruth(self.server, self.box or Box.RIGHT, self._score(), self._finish(to)))

    def _finish(self, scorer: Side) -> Side | None:
        """End the game, and the match, if the scorer has what it takes."""
        mine, other = self.points[scorer.place], self.points[scorer.other.place]
        if self.sets:
            over = mine >= (self.goal or self.fmt.target)
        else:
            over = mine >= self.fmt.target and mine >= other + 2
        if not over:
            return None
        self.finals.append(self._score())
        self.won[scorer.place] += 1
        if self.won[scorer.place] == (self.fmt.best_of + 1) // 2:
            self.winner = scorer
        self.points, self.goal, self.box, self.server = list(self.handicap), None, None, scorer
        return scorer

    def _score(self) -> Points:
        return (self.points[0], self.points[1])


def broken_laws(match: Replay, fmt: Format, handicap: Points = (0, 0)) -> list[str]:
    """Return what a replay without faults breaks of the laws every match keeps; empty when it keeps them all.

    Points of a game are its decided rallies and conduct strokes (rally scoring); the winner of a rally
    serves the next; the box alternates while the server keeps the serve and stays after a let; the score
    never goes down in a game; two clear points leave only one player at game ball.
    """
    broken: list[str] = []
    two_clear = not (fmt.system is System.HAND_OUT or (fmt.target == 15 and fmt.edition == "2001"))
    last: ScoredEvent | None = None
    decided = 0
    for line in match.lines:
        where = f"rally {line.n_in_game} of game {line.game}"
        gained = sum(line.after) - sum(line.before)
        if min(a - b for a, b in zip(line.after, line.before, strict=True)) < 0 or gained > 1:
            broken.append(f"{where}: the score went from {line.before} to {line.after}")
        if line.let and gained:
            broken.append(f"{where}: a let was scored")
        decided += line.winner is not None
        if line.is_rally:
            if last is not None:
                broken += _handover(where, last, line)
            last = line
        if two_clear and min(line.after) >= fmt.target - 1 and line.ends_game is None:
            ahead = [p for p in line.after if p + 1 >= fmt.target and p + 1 - min(line.after) >= 2]
            if len(ahead) > 1:
                broken.append(f"{where}: both players at game ball")
        if line.ends_game is not None:
            if fmt.system is System.RALLY and decided != sum(line.after) - sum(handicap):
                broken.append(f"{where}: {decided} decided rallies made {line.after}")
            decided = 0
    return broken


def _handover(where: str, last: ScoredEvent, line: ScoredEvent) -> list[str]:
    """Return whether server and box of a rally follow from the rally before it."""
    server = last.server if last.let else last.winner
    if line.server is not server and last.ends_game is None and line.game == last.game:
        return [f"{where}: {line.server} served where {server} was due"]
    if last.ends_game is not None or last.winner is last.server.other or line.game != last.game:
        return [] if line.box_free else [f"{where}: the server had no choice of box"]
    if line.box is not (last.box if last.let else last.box.other) or line.box_free:
        return [f"{where}: the {line.box} box after the {last.box} one"]
    return []


def replay_many(n: int, rng: Rng, formats: Sequence[Format] = FORMATS) -> Checked:
    """Play `n` random matches, replay each, and hold it against its truth and the laws.

    Returns
    -------
    Checked
        `replay_s` is the time of the replays alone; `broken` is empty when everything held.
    """
    broken: list[str] = []
    rallies, spent = 0, 0.0
    for i in range(n):
        fmt = formats[i % len(formats)]
        handicap = (0, 0) if rng.random() < 0.8 else (int(rng.random() * 5) - 2, int(rng.random() * 5))
        played = play_match(rng, fmt, handicap, a_wins=0.35 + 0.3 * rng.random())
        began = time.perf_counter()
        match = replay(fmt, played.start, played.events)
        spent += time.perf_counter() - began
        rallies += len(played.events)
        broken += [f"match {i}, {words}" for words in _against_truth(match, played)]
        broken += [f"match {i}, {words}" for words in broken_laws(match, fmt, handicap)]
    return Checked(n, rallies, spent, tuple(broken))


def _against_truth(match: Replay, played: RandomMatch) -> list[str]:
    """Return where a replay differs from the match as it was played."""
    broken = [fault.words for fault in match.faults]
    if tuple(game.points for game in match.games) != played.finals or match.winner is not played.winner:
        broken.append(f"games {[game.points for game in match.games]} instead of {played.finals}")
    for line, truth in zip(match.lines, played.truth, strict=True):
        seen = (line.server, line.after, line.ends_game)
        if seen != (truth.server, truth.after, truth.ends_game) or (line.is_rally and line.box != truth.box):
            broken.append(f"event {line.key}: {seen} from the {line.box} box instead of {truth}")
    return broken
