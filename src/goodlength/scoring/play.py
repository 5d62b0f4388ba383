"""A match worked through, rally by rally: server, box, score and the marker's call.

```
        event ──> who served? from where? ──> who scores? ──> line with the call
                       │ faults                   │
                  seen beats rules          game over? match over?
```
What was seen always stands; where the rules say otherwise a fault is added and play goes on from what
was seen. After a rally without a known winner the score is only a lower bound: lines are marked
uncertain, calls are empty, and nothing that follows from the score is reported as a fault.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace as changed

from goodlength.scoring.faults import FaultList
from goodlength.scoring.model import (
    Box,
    Conduct,
    Decision,
    Event,
    Format,
    Game,
    Line,
    Next,
    Outcome,
    Points,
    PutRight,
    Replay,
    Retired,
    Side,
    Start,
    System,
)
from goodlength.scoring.rules import (
    check_format,
    check_start,
    games_to_win,
    has_setting,
    implied_setting,
    score_problem,
    set_choices,
    tie_at,
    winner_at,
)
from goodlength.scoring.words import (
    ball_words,
    call_words,
    decided_words,
    score_words,
    setting_words,
    tie_words,
)


def replay(
    fmt: Format,
    start: Start,
    events: Iterable[Event],
    names: tuple[str, str] = ("A", "B"),
    set_to: int | None = None,
) -> Replay:
    """Work a match through and say, for every event, who served, from where, and the score.

    Never raises for what players or markers did: everything the rules contradict comes back as a
    fault, all at once, with the rally to look at.

    Parameters
    ----------
    fmt, start : Format, Start
        How the match is scored and where the recording begins.
    events : iterable of Outcome, PutRight, Conduct or Retired
        In the order they happened.
    names : (str, str)
        How the marker says the players in "stroke to ..." and "game to ...".
    set_to : int, optional
        The receiver's choice for the serve to come, when it is already made.

    Returns
    -------
    Replay
        One line an event; games won include those of `start`.

    Raises
    ------
    RulesError
        Only for a format or a start that no edition of the rules knows.

    Source
    ------
    RULES-2014, rules 2.1 to 2.3 (scoring), 5.1 to 5.5 (server and box), 3.6 (calls); RULES-2001, rule 2
    and appendix 8.1 (server only scores, setting). From memory: 5.11 (a rally served from the wrong
    box stands; the next serve comes from the other box) and conduct strokes and games (rule 15).

    Examples
    --------
    >>> match = replay(Format(), Start(server=Side.A), [Outcome("1", Side.A), Outcome("2", Side.B)])
    >>> [line.call for line in match.lines]
    ['1–love', 'Hand-out, 1-all']
    """
    check_format(fmt)
    check_start(fmt, start)
    marker = _Marker(fmt, start, names)
    opening = marker.score_call()
    for event in events:
        marker.take(event)
    return marker.result(opening, set_to)


class _Marker:
    """The state of a match between two events."""

    def __init__(self, fmt: Format, start: Start, names: tuple[str, str]) -> None:
        self.fmt, self.names, self.handicap = fmt, names, start.handicap
        self.setting, self.tie, self.needed = has_setting(fmt), tie_at(fmt), games_to_win(fmt)
        self.points: Points = start.handicap if start.points is None else start.points
        self.games = list(start.games)
        self.game = sum(start.games) + 1
        at_love_all = self.points == start.handicap
        self.server = start.server or (_last_game_to(start.games) if at_love_all else None)
        self.server_known = self.server is not None
        self.first_server = self.server if at_love_all else None
        self.box = start.box or Box.RIGHT
        self.box_known = start.box is not None
        self.box_free = at_love_all or start.box is None
        self.certain = True
        self.set_to = implied_setting(fmt, self.points)
        self.set_due = self.setting and self.set_to is None and self._tied(self.points)
        self.tie_called = start.ten_all_called
        self.tie_call: tuple[int, tuple[str, ...]] | None = None
        self.chosen: dict[Side, Box] = {}
        self.n = self.n_in_game = 0
        self.played = False
        self.lines: list[Line] = []
        self.done: list[Game] = []
        self.faults = FaultList(names)
        self.winner: Side | None = None
        self.how_over: str | None = None
        self.late: list[tuple[str, str]] = []

    def take(self, event: Event) -> None:
        """Go on by one event."""
        if self.how_over is not None:
            self._take_late(event)
        elif isinstance(event, Outcome):
            self._take_rally(event)
        elif isinstance(event, PutRight):
            self._take_put_right(event)
        elif isinstance(event, Conduct):
            self._take_conduct(event)
        else:
            self._take_retired(event)

    # -- a rally --------------------------------------------------------------------------------

    def _take_rally(self, event: Outcome) -> None:
        """One serve and what came of it."""
        self.n += 1
        self.n_in_game += 1
        self.played = True
        self._settle_setting(event)
        server, server_known = self._who_served(event)
        box, box_known = self._which_box(event, server)
        box_free, before = self.box_free, self.points
        if self.n_in_game == 1 and server_known and before == self.handicap:
            self.first_server = server
        if box_free and box_known:
            self.chosen[server] = box
        winner, let = self._decided(event, server)
        hand_out = False
        if let:
            self.server, self.server_known = server, server_known
            self.box, self.box_known, self.box_free = box, box_known, False
        elif winner is None:
            self._lose_track(event, server)
        else:
            hand_out = server_known and winner is not server
            self._score(winner, server, server_known)
            self._pass_serve(winner, server, box, box_known, server_known)
        call = ""
        if self.certain and (server_known or winner is None):
            decided = decided_words(
                let=let,
                decision=event.decision,
                fault=event.fault,
                called=event.called,
                to=self.names[winner.place] if winner is not None else None,
            )
            call = self._call(decided, hand_out, fresh=self.points != before)
        self._close(
            Line(
                key=event.key,
                n=self.n,
                game=self.game,
                n_in_game=self.n_in_game,
                server=server,
                box=box,
                box_free=box_free,
                before=before,
                after=self.points,
                winner=winner,
                let=let,
                hand_out=hand_out,
                call=call,
                ends_game=None,
                ends_match=None,
                certain=self.certain,
                is_rally=True,
                server_known=server_known,
                box_known=box_known,
            )
        )

    def _who_served(self, event: Outcome) -> tuple[Side, bool]:
        """The server seen, else the server the rules give, and whether that is known."""
        if event.server is None:
            if self.server is None:
                if self.n == 1:
                    self.faults.server_missing(event.key, self._place())
                self.certain = self.certain and self.fmt.system is System.RALLY
            return self.server or Side.A, self.server_known
        if self.server_known and self.server is not None and event.server is not self.server:
            self.faults.wrong_server(event.key, self._place(), event.server.place, self.server.place)
            self._free_box(event.server)
        elif not self.server_known and event.server is not self.server:
            self._free_box(event.server)
        return event.server, True

    def _which_box(self, event: Outcome, server: Side) -> tuple[Box, bool]:
        """The box seen, else the one that is due (or proposed), and whether that is known."""
        if event.box is None:
            return self.box, self.box_known and (self.certain or not self.box_free)
        due = self.box_known and not self.box_free and self.certain
        if due and event.box is not self.box:
            self.faults.wrong_box(event.key, self._place(), event.box, self.box)
        return event.box, True

    def _decided(self, event: Outcome, server: Side) -> tuple[Side | None, bool]:
        """Who won, or that it was a let; contradictions become faults."""
        winner, key = event.winner, event.key
        let = event.let or (winner is None and event.decision is Decision.YES_LET)
        if let:
            if winner is not None or event.fault or event.decision not in (None, Decision.YES_LET):
                words = "written down as a let and as won. It counts as a let until one is taken back."
                self.faults.contradiction(key, self._place(), words)
            return None, True
        if event.decision is Decision.YES_LET:
            words = "the decision was a let, yet a winner is written down. The winner counts."
            self.faults.contradiction(key, self._place(), words)
        if event.fault and winner is None:
            winner = server.other
        if event.fault and winner is server:
            words = "a serve that is a fault is won by the receiver, yet the server is written down."
            self.faults.contradiction(key, self._place(), words)
        return winner, False

    def _score(self, winner: Side, server: Side, server_known: bool) -> None:
        """Add the point, if this rally gives one."""
        if self.fmt.system is System.RALLY or winner is server:
            self._add_point(winner)
        if self.fmt.system is System.HAND_OUT and not server_known:
            self.certain = False

    def _add_point(self, side: Side) -> None:
        """One more point, and the receiver's choice if that made the tie."""
        a, b = self.points
        self.points = (a + 1, b) if side is Side.A else (a, b + 1)
        if self.setting and self.set_to is None and self._tied(self.points):
            self.set_due = True

    def _pass_serve(self, winner: Side, server: Side, box: Box, box_known: bool, server_known: bool) -> None:
        """The winner serves next: from the other box, or after a hand-out from the box of choice."""
        self.server, self.server_known = winner, True
        if winner is server and server_known:
            self.box, self.box_known, self.box_free = box.other, box_known, False
        else:
            self._free_box(winner)

    def _free_box(self, server: Side) -> None:
        """The server chooses; proposed is the box this player chose last, at first the right one."""
        self.box = self.chosen.get(server, Box.RIGHT)
        self.box_known, self.box_free = False, True

    def _lose_track(self, event: Outcome, server: Side) -> None:
        """Nobody wrote down who won: the next server and the score are not known."""
        self.faults.winner_missing(event.key, self._place())
        self.certain = False
        self.server, self.server_known = server, False
        self._free_box(server)

    def _settle_setting(self, event: Outcome) -> None:
        """Take the receiver's choice, made before this serve when the game first stood at the tie."""
        choices = set_choices(self.fmt)
        if not self.set_due:
            if event.set_to is not None and event.set_to != self.set_to:
                if event.set_to in choices and not self.certain:
                    self.set_to = event.set_to
                else:
                    self.faults.setting_wrong(event.key, self._place(), event.set_to, self.tie, choices)
            return
        self.set_due = False
        if event.set_to in choices:
            self._set(event.set_to)
            return
        if event.set_to is not None:
            self.faults.setting_wrong(event.key, self._place(), event.set_to, self.tie, choices)
        self.faults.setting_missing(event.key, self._place(), self.tie, choices)
        self.set_to, self.certain = max(choices), False

    def _set(self, set_to: int | None) -> None:
        """The choice is made: the call that reached the tie gets its words."""
        self.set_to = set_to
        if self.tie_call is not None and set_to is not None:
            at, parts = self.tie_call
            server = self.server or Side.A
            ball = ball_words(self.fmt, self.points, self._games(), server, set_to)
            call = call_words((*parts, setting_words(self.fmt, set_to), ball))
            self.lines[at] = changed(self.lines[at], call=call)
        self.tie_call = None

    # -- what is no rally -----------------------------------------------------------------------

    def _take_put_right(self, event: PutRight) -> None:
        """The marker put the score, the server or the box right."""
        before = self.points
        self.played = True
        if event.points is not None:
            why = score_problem(self.fmt, event.points, self.handicap)
            if why is None:
                self.points, self.certain = event.points, True
                self.set_to = self.set_to or implied_setting(self.fmt, event.points)
                self.set_due = self.setting and self.set_to is None and self._tied(event.points)
            else:
                self.faults.score_impossible(event.key, self._place("After "), event.points, why)
        if event.server is not None and (event.server is not self.server or not self.server_known):
            self.server, self.server_known = event.server, True
            self._free_box(event.server)
        if event.box is not None:
            self.box, self.box_known, self.box_free = event.box, True, False
        call = self._call("", False, fresh=self.points != before) if self.certain else ""
        self._between(event.key, before, call)

    def _take_conduct(self, event: Conduct) -> None:
        """A conduct stroke is added to the score, a conduct game ends the game; from memory.

        The server and the box stay as they were. In hand-out scoring a stroke to the receiver is
        taken as a hand-out without a point.
        """
        before, to = self.points, self.names[event.to.place]
        self.played = True
        hand_out = False
        if event.game:
            self.points = self._won_by(event.to)
            self.set_due, self.certain = False, True
        elif self.fmt.system is System.HAND_OUT and self.server_known and event.to is not self.server:
            hand_out = True
            self.server = event.to
            self._free_box(event.to)
        else:
            self._add_point(event.to)
        said = f"conduct {'game' if event.game else 'stroke'} to {to}"
        call = self._call(said, hand_out, fresh=self.points != before) if self.certain else ""
        self._between(event.key, before, call, hand_out=hand_out, winner=event.to)

    def _take_retired(self, event: Retired) -> None:
        """A player stopped: the other wins the match, the score stays as it stood."""
        other = event.side.other
        self.winner, self.how_over = other, event.why
        stopped, to = self.names[event.side.place], self.names[other.place]
        call = call_words((f"{stopped} {event.why}", f"match to {to}"))
        line = self._between_line(event.key, self.points, call, winner=other)
        self.lines.append(changed(line, ends_match=other))

    def _take_late(self, event: Event) -> None:
        """Something after the match was over: kept, counted, without effect."""
        rally = isinstance(event, Outcome)
        if rally:
            self.n += 1
            self.n_in_game += 1
        self.late.append((event.key, self._place() if rally else self._place("After ")))
        line = self._between_line(event.key, self.points, "")
        if isinstance(event, Outcome):
            line = changed(
                line,
                is_rally=True,
                winner=event.winner,
                let=event.let,
                server=event.server or line.server,
                box=event.box or line.box,
                server_known=event.server is not None,
                box_known=event.box is not None,
            )
        self.lines.append(changed(line, certain=False))

    def _between(
        self, key: str, before: Points, call: str, hand_out: bool = False, winner: Side | None = None
    ) -> None:
        """Write the line of something between rallies, and close the game if it ended it."""
        self._close(self._between_line(key, before, call, hand_out, winner))

    def _between_line(
        self, key: str, before: Points, call: str, hand_out: bool = False, winner: Side | None = None
    ) -> Line:
        """A line that is no rally; it names the server and the box to come."""
        return Line(
            key=key,
            n=self.n,
            game=self.game,
            n_in_game=self.n_in_game,
            server=self.server or Side.A,
            box=self.box,
            box_free=self.box_free,
            before=before,
            after=self.points,
            winner=winner,
            let=False,
            hand_out=hand_out,
            call=call,
            ends_game=None,
            ends_match=None,
            certain=self.certain,
            is_rally=False,
            server_known=self.server_known,
            box_known=self.box_known,
        )

    # -- calls, games, the end ------------------------------------------------------------------

    def score_call(self) -> str:
        """The score as it would be called now, before a serve."""
        if self.server is None and self.points[0] != self.points[1]:
            return ""
        return call_words(self._score_parts(fresh=False))

    def _call(self, decided: str, hand_out: bool, fresh: bool) -> str:
        """The call after an event: what decided it, hand-out, score, game or match ball."""
        winner = self._game_winner()
        if winner is not None:
            last = self.games[winner.place] + 1 == self.needed
            won, lost = self.points[winner.place], self.points[winner.other.place]
            said = f"{'game and match' if last else 'game'} to {self.names[winner.place]}"
            return call_words((decided, said, score_words(won, lost)))
        parts = (decided, "hand-out" if hand_out else "")
        if self.set_due and fresh:
            self.tie_call = (len(self.lines), (*parts, score_words(self.tie, self.tie)))
        return call_words((*parts, *self._score_parts(fresh)))

    def _score_parts(self, fresh: bool) -> tuple[str, str]:
        """The score, server's first, and game or match ball; the sentence of the first 10-all."""
        server = self.server or Side.A
        here, there = self.points[server.place], self.points[server.other.place]
        if fresh and not self.setting and self._tied(self.points):
            told, self.tie_called = self.tie_called, True
            if not told or self.fmt.edition == "2010":
                return tie_words(self.fmt), ""
        ball = "" if self.set_due else ball_words(self.fmt, self.points, self._games(), server, self.set_to)
        return score_words(here, there), ball

    def _close(self, line: Line) -> None:
        """Keep the line; if it ended the game, begin the next one or end the match."""
        winner = self._game_winner()
        if winner is None:
            self.lines.append(line)
            return
        self.games[winner.place] += 1
        over = winner if self.games[winner.place] == self.needed else None
        self.lines.append(changed(line, ends_game=winner, ends_match=over))
        self.done.append(Game(self.game, self.points, winner, self.first_server))
        if over is not None:
            self.winner, self.how_over = over, "won"
            self.played = False
            return
        self.game += 1
        self.n_in_game = 0
        self.played = False
        self.points = self.handicap
        self.set_to, self.set_due = None, self.setting and self._tied(self.handicap)
        self.tie_call = None
        self.server, self.server_known = winner, True
        self.first_server = winner
        self._free_box(winner)

    def _game_winner(self) -> Side | None:
        """Who has won the game as it stands."""
        return None if self.set_due else winner_at(self.fmt, self.points, self.set_to)

    def _won_by(self, side: Side) -> Points:
        """The score of a game given to a side: made up to what wins, the other's points kept."""
        lost = self.points[side.other.place]
        goal = self.fmt.target
        if self.setting and lost >= self.tie:
            goal = self.set_to or max(set_choices(self.fmt))
            self.set_to = goal
        elif lost >= self.tie:
            goal = lost + 2
        return (goal, lost) if side is Side.A else (lost, goal)

    def _tied(self, points: Points) -> bool:
        """Whether the game stands at 8-all, 10-all or 14-all."""
        return points == (self.tie, self.tie)

    def _games(self) -> Points:
        return (self.games[0], self.games[1])

    def _place(self, before: str = "") -> str:
        """Where in the match we are, for a fault."""
        words = f"{before}rally {self.n_in_game} of game {self.game}"
        return words[:1].upper() + words[1:]

    def result(self, opening: str, set_to: int | None) -> Replay:
        """Everything at once; the game in play is listed once something has happened in it."""
        if self.late:
            key, place = self.late[0]
            self.faults.after_the_end(key, place, len(self.late) - 1)
        games = list(self.done)
        if self.played or (not games and self.how_over is None):
            games.append(Game(self.game, self.points, None, self.first_server))
        if set_to in set_choices(self.fmt) and self.set_due:
            self.set_due = False
            self._set(set_to)
        coming = None
        if self.how_over is None:
            coming = Next(
                game=self.game,
                server=self.server if self.server_known else None,
                box=self.box if self.server_known else None,
                box_free=self.box_free,
                points=self.points,
                set_choice=self.set_due,
                opening=self.score_call() if self.n_in_game == 0 and self.certain else "",
            )
        return Replay(
            lines=tuple(self.lines),
            games=tuple(games),
            games_won=self._games(),
            faults=tuple(self.faults.found),
            next=coming,
            winner=self.winner,
            how_over=self.how_over,
            opening=opening,
        )


def _last_game_to(games: Points) -> Side | None:
    """Who won the last game, where only one of the two has won any; that player serves next."""
    if games[0] and not games[1]:
        return Side.A
    return Side.B if games[1] and not games[0] else None
