"""Lattice of every score state before a serve, and every transition the rules allow.

```
 (games, points, server, box) ──A or B wins──> points + 1, winner serves
                                  same server: the other box
                                  hand-out or new game: either box
```
Only rally scoring without setting. Known game scores and a known end leave out what cannot be.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import RulesError
from goodlength.scoring import Box, Format, Points, ScoreReading, Start, State, System, final_problem
from goodlength.scoring.match_format_rules import (
    check_format,
    check_start,
    games_to_win,
    has_setting,
    score_problem,
    tie_at,
    winner_at,
)

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
TIES_FOLLOWED = 20  # a game whose score is not given is followed up to so many points past the tie


@dataclass(frozen=True)
class Scores:
    """What is known of the score: finals of the games recorded, in order, and how the recording ends.

    `finals` begins with the game in which the recording begins; None stands for a game whose score
    nobody gave. `stands` is the score of the game still open when the recording stops. `over` says
    whether the match ended in the recording; None takes it from the finals, if they end a match.
    """

    finals: tuple[Points | None, ...] = ()
    stands: Points | None = None
    over: bool | None = None


def scores_from(reading: ScoreReading) -> Scores:
    """Return the scores of a line such as "11-8 6-11 11-4 5-3", as `scoring.read_scores` reads it.

    An 11–10 whose tie-break is unknown counts as a game without a known score.

    Raises
    ------
    RulesError
        If the line was refused.

    Examples
    --------
    >>> from goodlength.scoring import read_scores
    >>> scores_from(read_scores("11-8 6-11 5-3", Format()))
    Scores(finals=((11, 8), (6, 11)), stands=(5, 3), over=False)
    """
    if reading.state is State.REFUSED:
        raise RulesError(f"These scores cannot be used for a draft: {reading.why}")
    finals = tuple(game.points if game.score_known else None for game in reading.games if game.over)
    still_open = [game.points for game in reading.games if not game.over]
    stands = still_open[-1] if still_open else None
    return Scores(finals, stands, reading.state is State.FINISHED and reading.ending is None)


@dataclass(frozen=True)
class Lattice:
    """States as columns and steps as columns; the last state is "the match is over".

    `at` is, for each state, games won by A and B in the recording and before, points of A and B, server
    (0 A, 1 B) and box (0 right, 1 left). A step goes from `source` to `target` when `winner` wins the
    rally; `chance` is what it has before anything was seen. `first` is the chance of each state to be
    the one the recording begins in, `last` whether it may end there.
    """

    at: Ints
    source: Ints
    target: Ints
    winner: Ints
    chance: Floats
    first: Floats
    last: Floats

    @property
    def over(self) -> int:
        """The state after the match."""
        return len(self.at) - 1


def lattice(
    fmt: Format,
    start: Start,
    scores: Scores,
    a_wins: float = 0.5,
    right_at_choice: tuple[float, float] = (0.5, 0.5),
) -> Lattice:
    """Return all states and steps of a match of this format that agree with the scores given.

    Parameters
    ----------
    fmt, start : Format, Start
        How the match is scored and where the recording begins.
    scores : Scores
        What the coach knows of the score.
    a_wins : float
        Chance that A wins a rally before anything was seen.
    right_at_choice : (float, float)
        How often A and B choose the right box when the choice is theirs.

    Raises
    ------
    RulesError
        For hand-out scoring or a format with setting; for scores no game of the format can have.
    """
    _check(fmt, start, scores)
    building = _Building(fmt, start, scores, a_wins, right_at_choice)
    return building.made()


def _check(fmt: Format, start: Start, scores: Scores) -> None:
    """Raise RulesError in words for what cannot be drafted or cannot be a score."""
    check_format(fmt)
    check_start(fmt, start)
    if fmt.system is not System.RALLY or has_setting(fmt):
        raise RulesError(
            "A draft score sheet needs point-a-rally (PAR) scoring without setting, where the winner "
            f"of a rally gets the point and serves next; this match is {fmt.system} scoring to {fmt.target}"
            f"{' with the receiver’s choice at the tie' if has_setting(fmt) else ''}. "
            "Log it by hand."
        )
    needed = games_to_win(fmt)
    won = list(start.games)
    for n, final in enumerate(scores.finals):
        if max(won) >= needed:
            raise RulesError(
                f"{len(scores.finals)} game scores were given, but the match is over after {n} of them. "
                "Give the games of the recording only, in order."
            )
        if final is None:
            won = [min(needed - 1, w) for w in won]  # who won it is open: count nothing
            continue
        why = final_problem(fmt, final, handicap=start.handicap)
        if why is not None:
            raise RulesError(
                f"Game {n + 1} of the recording cannot have ended {final[0]}–{final[1]}: {why}. "
                "Correct the score, or leave that game out."
            )
        if n == 0 and start.points is not None and (final[0] < start.points[0] or final[1] < start.points[1]):
            raise RulesError(
                f"The recording begins at {start.points[0]}–{start.points[1]}, so its first game cannot have "
                f"ended {final[0]}–{final[1]}. Correct one of the two."
            )
        winner = winner_at(fmt, final)
        if winner is not None and None not in scores.finals:
            won[winner.place] += 1
    if scores.stands is not None:
        why = score_problem(fmt, scores.stands, start.handicap)
        if why is None and winner_at(fmt, scores.stands) is not None:
            why = "that game is over"
        if why is not None:
            raise RulesError(
                f"The recording cannot stop at {scores.stands[0]}–{scores.stands[1]}: {why}. "
                "Give a finished game among the finals."
            )


Standing = tuple[int, int, int, int, int, int]


@dataclass
class _Building:
    """States numbered as they are reached, breadth first from the start."""

    fmt: Format
    start: Start
    scores: Scores
    a_wins: float
    right: tuple[float, float]
    number: dict[Standing, int] = field(default_factory=dict)
    states: list[Standing] = field(default_factory=list)
    steps: list[tuple[int, int, int, float]] = field(default_factory=list)

    def made(self) -> Lattice:
        """Follow every step from the start."""
        initial = self._begin()
        at = 0
        while at < len(self.states):
            self._steps_from(self.states[at])
            at += 1
        over = len(self.states)
        columns = np.array(self.steps, dtype=float).reshape(-1, 4)
        target = columns[:, 1].astype(np.int64)
        target[target < 0] = over
        first = np.zeros(over + 1)
        for state, chance in initial:
            first[self.number[state]] += chance
        rows = [*self.states, (0, 0, 0, 0, 0, 0)]
        return Lattice(
            at=np.array(rows, dtype=np.int64),
            source=columns[:, 0].astype(np.int64),
            target=target,
            winner=columns[:, 2].astype(np.int64),
            chance=columns[:, 3],
            first=first,
            last=self._ends(),
        )

    def _begin(self) -> list[tuple[Standing, float]]:
        """Return the states the recording may begin in, with their chances."""
        start = self.start
        points = start.handicap if start.points is None else start.points
        initial = []
        for who in (0, 1):
            if start.server is not None and start.server.place != who:
                continue
            for box, share in enumerate((self.right[who], 1.0 - self.right[who])):
                if start.box is not None and (start.box is Box.RIGHT) != (box == 0):
                    continue
                state = (*start.games, *points, who, box)
                self._of(state)
                initial.append((state, 1.0 if start.box is not None else share))
        return initial

    def _of(self, state: Standing) -> int:
        """Return the number of a state, new or old."""
        if state not in self.number:
            self.number[state] = len(self.states)
            self.states.append(state)
        return self.number[state]

    def _steps_from(self, state: Standing) -> None:
        """What may follow one state."""
        won_a, won_b, a, b, server, box = state
        source = self.number[state]
        for who in (0, 1):
            points = (a + (who == 0), b + (who == 1))
            if not self._can_stand(won_a + won_b, points):
                continue
            chance = self.a_wins if who == 0 else 1.0 - self.a_wins
            won = winner_at(self.fmt, points)
            if won is None and who == server:
                target = self._of((won_a, won_b, *points, who, 1 - box))
                self.steps.append((source, target, who, chance))
                continue
            games = (won_a, won_b)
            if won is not None:
                games = (won_a + (who == 0), won_b + (who == 1))
                points = self.start.handicap
                if max(games) == games_to_win(self.fmt):
                    self.steps.append((source, -1, who, chance))
                    continue
            for new, share in enumerate((self.right[who], 1.0 - self.right[who])):
                if share > 0.0:
                    self.steps.append((source, self._of((*games, *points, who, new)), who, chance * share))

    def _can_stand(self, game: int, points: Points) -> bool:
        """Return whether a game of the recording can come to these points."""
        n = game - sum(self.start.games)
        final = self.scores.finals[n] if n < len(self.scores.finals) else None
        if final is None:
            return max(points) <= tie_at(self.fmt) + TIES_FOLLOWED
        if points[0] > final[0] or points[1] > final[1]:
            return False
        return winner_at(self.fmt, points) is None or points == final

    def _ends(self) -> Floats:
        """Return where the recording may end."""
        finals, stands = self.scores.finals, self.scores.stands
        over = self.scores.over
        if over is None and stands is None and finals and None not in finals:
            over = self._finals_end_it() or None
        rows = np.array(self.states, dtype=np.int64)
        may = np.ones(len(rows) + 1)
        if over is True:
            may[:-1] = 0.0
        elif over is False or stands is not None:
            may[-1] = 0.0
        played = rows[:, 0] + rows[:, 1] - sum(self.start.games)
        if stands is not None:
            here = (rows[:, 2] == stands[0]) & (rows[:, 3] == stands[1]) & (played == len(finals))
            may[:-1] *= here
        else:
            may[:-1] *= played >= len(finals)  # every game whose score was given has been played
        return may

    def _finals_end_it(self) -> bool:
        """Return whether the finals given are a whole match."""
        won = list(self.start.games)
        for final in self.scores.finals:
            side = None if final is None else winner_at(self.fmt, final)
            if side is not None:
                won[side.place] += 1
        return max(won) >= games_to_win(self.fmt)
