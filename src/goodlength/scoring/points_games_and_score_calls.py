"""Score state of a match between two events: points, games, the receiver's choice, and the call."""

from __future__ import annotations

from goodlength.scoring.match_format_rules import (
    games_to_win,
    has_setting,
    implied_setting,
    set_choices,
    tie_at,
    winner_at,
)
from goodlength.scoring.score_calls import (
    ball_words,
    call_words,
    score_words,
    setting_words,
    tie_words,
)
from goodlength.scoring.scoring_types import Format, Points, Side, Start


class Board:
    """Points and games, kept by the format; it does not know who serves.

    `set_due` is true from the moment a game first stands at 8-all (14-all) until the receiver has chosen
    `set_to`.
    """

    def __init__(self, fmt: Format, start: Start, names: tuple[str, str]) -> None:
        self.fmt, self.names, self.handicap = fmt, names, start.handicap
        self.setting, self.tie, self.needed = has_setting(fmt), tie_at(fmt), games_to_win(fmt)
        self.points: Points = start.handicap if start.points is None else start.points
        self.won: Points = start.games
        self.game = sum(start.games) + 1
        self.set_to = implied_setting(fmt, self.points)
        self.set_due = self._choice_due()
        self.tie_called = start.ten_all_called

    @property
    def at_start(self) -> bool:
        """Whether the game stands where it began."""
        return self.points == self.handicap

    def add_point(self, side: Side) -> None:
        """One more point, and the receiver's choice if that made the tie."""
        a, b = self.points
        self.put((a + 1, b) if side is Side.A else (a, b + 1))

    def put(self, points: Points) -> None:
        """The game stands at these points, however it came there."""
        self.points = points
        if self.setting:
            self.set_to = self.set_to or implied_setting(self.fmt, points)
            self.set_due = self._choice_due()

    def give(self, side: Side) -> None:
        """Give the game in progress: the score is made up to what wins, the other's points kept."""
        lost = self.points[side.other.place]
        goal = self.fmt.target
        if self.setting and lost >= self.tie:
            goal = self.set_to = self.set_to or max(set_choices(self.fmt))
        elif lost >= self.tie:
            goal = lost + 2
        self.points = (goal, lost) if side is Side.A else (lost, goal)
        self.set_due = False

    def game_winner(self) -> Side | None:
        """Return who has won the game as it stands."""
        return None if self.set_due else winner_at(self.fmt, self.points, self.set_to)

    def next_game(self, winner: Side) -> bool:
        """Count the game and begin the next one; whether the match is over instead."""
        a, b = self.won
        self.won = (a + 1, b) if winner is Side.A else (a, b + 1)
        if self.won[winner.place] == self.needed:
            return True
        self.game += 1
        self.points, self.set_to = self.handicap, None
        self.set_due = self._choice_due()
        return False

    def call(self, decided: str, hand_out: bool, server: Side, fresh: bool) -> str:
        """Return the call after an event: what decided it, hand-out, score, game or match ball.

        `fresh` is true when the event changed the score: only then comes the sentence of 10-all.
        """
        winner = self.game_winner()
        if winner is not None:
            last = self.won[winner.place] + 1 == self.needed
            score = score_words(self.points[winner.place], self.points[winner.other.place])
            result = f"{'game and match' if last else 'game'} to {self.names[winner.place]}"
            return call_words((decided, result, score))
        return call_words((*self.head(decided, hand_out), *self._score(server, fresh)))

    def head(self, decided: str, hand_out: bool) -> tuple[str, str]:
        """Return what stands before the score in a call."""
        return decided, "hand-out" if hand_out else ""

    def score_call(self, server: Side) -> str:
        """Return the score alone, as called before a serve."""
        return call_words(self._score(server, fresh=False))

    def call_with_choice(self, head: tuple[str, str], server: Side) -> str:
        """Return the call of the tie once the receiver has chosen: "8-all, set two"."""
        assert self.set_to is not None
        ball = ball_words(self.fmt, self.points, self.won, server, self.set_to)
        score = score_words(self.tie, self.tie)
        return call_words((*head, score, setting_words(self.fmt, self.set_to), ball))

    def _score(self, server: Side, fresh: bool) -> tuple[str, str]:
        """Return the score, server's first, and game or match ball; or the sentence of 10-all."""
        if fresh and not self.setting and self.points == (self.tie, self.tie):
            announced, self.tie_called = self.tie_called, True
            if not announced or self.fmt.edition == "2010":
                return tie_words(self.fmt), ""
        ball = "" if self.set_due else ball_words(self.fmt, self.points, self.won, server, self.set_to)
        return score_words(self.points[server.place], self.points[server.other.place]), ball

    def _choice_due(self) -> bool:
        """Return whether the receiver must choose before the next serve."""
        return self.setting and self.set_to is None and self.points == (self.tie, self.tie)
