"""Replay a match rally by rally: server, box, score and the marker's call.

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

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import replace as changed
from typing import NamedTuple, Self

from goodlength.scoring.match_format_rules import (
    check_format,
    check_start,
    score_problem,
    set_choices,
)
from goodlength.scoring.points_games_and_score_calls import Board
from goodlength.scoring.rule_violation_messages import FaultList
from goodlength.scoring.score_calls import call_words, decided_words
from goodlength.scoring.scoring_types import (
    Box,
    Conduct,
    Decision,
    Event,
    Format,
    Game,
    Next,
    Outcome,
    Points,
    PutRight,
    Replay,
    Retired,
    ScoredEvent,
    Side,
    Start,
    System,
)


def replay(
    fmt: Format,
    start: Start,
    events: Iterable[Event],
    names: tuple[str, str] = ("A", "B"),
    set_to: int | None = None,
    memo: ReplayMemo | None = None,
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
    memo : ReplayMemo, optional
        Where this match stood in its last replay: events up to the first that differs are not taken again.

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
    if memo is None:
        for event in events:
            marker.take(event)
    else:
        marker = memo._go_on(marker, tuple(events))
    return marker.result(opening, set_to)


class ReplayMemo:
    """Where one match stood every few events of its last replay; for one thread at a time."""

    _EVERY = 8  # events between two states that are kept

    def __init__(self) -> None:
        self._of: tuple[Format, Start, tuple[str, str]] | None = None
        self._events: tuple[Event, ...] = ()
        self._stood: list[_Marker] = []  # before event 0, 8, 16, ...

    def _go_on(self, fresh: _Marker, events: Sequence[Event]) -> _Marker:
        """Return the state after the events, begun at the last state before the first that differs."""
        of = (fresh.fmt, fresh.start, fresh.names)
        same = _same_at_first(self._events, events) if of == self._of else 0
        del self._stood[same // self._EVERY + 1 :]
        if of != self._of or not self._stood:
            self._stood = [fresh.copied()]
        self._of, self._events = of, tuple(events)
        at = (len(self._stood) - 1) * self._EVERY
        marker = self._stood[-1].copied()
        for n, event in enumerate(events[at:], at):
            if n % self._EVERY == 0 and n > at:
                self._stood.append(marker.copied())
            marker.take(event)
        return marker


def _same_at_first(before: Sequence[Event], now: Sequence[Event]) -> int:
    """Return how many events are the same from the first on."""
    for n, (was, event) in enumerate(zip(before, now, strict=False)):
        if was is not event and was != event:
            return n
    return min(len(before), len(now))


class _Serve(NamedTuple):
    """Who served from where, and what of it is known."""

    server: Side
    server_known: bool
    box: Box
    box_known: bool
    box_free: bool


class _Marker:
    """The state of a match between two events."""

    def __init__(self, fmt: Format, start: Start, names: tuple[str, str]) -> None:
        self.fmt, self.start, self.names = fmt, start, names
        self.board = Board(fmt, start, names)
        fresh = self.board.at_start
        self.server = start.server or (_last_game_to(start.games) if fresh else None)
        self.server_known = self.server is not None
        self.first_server = self.server if fresh else None
        self.box = start.box or Box.RIGHT
        self.box_known = start.box is not None
        self.box_free = fresh or start.box is None
        self.certain = True
        self.tie_line: tuple[int, tuple[str, str]] | None = None  # the call that reached 8-all
        self.chosen: dict[Side, Box] = {}
        self.n = self.n_in_game = 0
        self.played = False
        self.lines: list[ScoredEvent] = []
        self.done: list[Game] = []
        self.faults = FaultList(names)
        self.winner: Side | None = None
        self.how_over: str | None = None
        self.late: list[tuple[str, str]] = []

    def copied(self) -> Self:
        """Return this state, which goes its own way from here."""
        other = copy(self)
        other.board, other.faults = copy(self.board), self.faults.copied()
        other.chosen = dict(self.chosen)
        other.lines, other.done, other.late = list(self.lines), list(self.done), list(self.late)
        return other

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
        box, box_known = self._which_box(event)
        serve = _Serve(server, server_known, box, box_known, self.box_free)
        before = self.board.points
        if self.n_in_game == 1 and server_known and before == self.board.handicap:
            self.first_server = server
        if serve.box_free and box_known:
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
            self._pass_serve(winner, serve)
        call = ""
        if server_known or winner is None:
            to = None if winner is None else self.names[winner.place]
            decided = decided_words(
                let=let, decision=event.decision, fault=event.fault, called=event.called, to=to
            )
            call = self._call(decided, hand_out, before)
        self._close(self._line(event.key, before, call, serve, winner, let=let, hand_out=hand_out))

    def _who_served(self, event: Outcome) -> tuple[Side, bool]:
        """Return the server seen, else the server the rules give, and whether that is known."""
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

    def _which_box(self, event: Outcome) -> tuple[Box, bool]:
        """Return the box seen, else the one that is due (or proposed), and whether that is known."""
        if event.box is None:
            return self.box, self.box_known
        due = self.box_known and not self.box_free and self.certain
        if due and event.box is not self.box:
            self.faults.wrong_box(event.key, self._place(), event.box, self.box)
        return event.box, True

    def _decided(self, event: Outcome, server: Side) -> tuple[Side | None, bool]:
        """Return who won, or that it was a let; contradictions become faults."""
        winner, key = event.winner, event.key
        let = event.let or (winner is None and event.decision is Decision.YES_LET)
        if let:
            if winner is not None or event.fault or event.decision not in (None, Decision.YES_LET):
                words = "logged as a let and as won. It counts as a let until you correct one of the two."
                self.faults.contradiction(key, self._place(), words)
            return None, True
        if event.decision is Decision.YES_LET:
            words = "the decision was a let, yet a winner is logged. The winner counts."
            self.faults.contradiction(key, self._place(), words)
        if event.fault and winner is None:
            winner = server.other
        if event.fault and winner is server:
            words = "the receiver wins a service fault, yet the server is logged as the winner."
            self.faults.contradiction(key, self._place(), words)
        return winner, False

    def _score(self, winner: Side, server: Side, server_known: bool) -> None:
        """Add the point, if this rally gives one."""
        if self.fmt.system is System.RALLY or winner is server:
            self.board.add_point(winner)
        if self.fmt.system is System.HAND_OUT and not server_known:
            self.certain = False

    def _pass_serve(self, winner: Side, serve: _Serve) -> None:
        """The winner serves next: from the other box, or after a hand-out from the box of choice."""
        self.server, self.server_known = winner, True
        if winner is serve.server and serve.server_known:
            self.box, self.box_known, self.box_free = serve.box.other, serve.box_known, False
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
        board = self.board
        if event.set_to is None and not board.set_due:
            return
        choices = set_choices(self.fmt)
        if not board.set_due:
            if event.set_to in choices and not self.certain:
                board.set_to = event.set_to
            elif event.set_to is not None and event.set_to != board.set_to:
                self.faults.setting_wrong(event.key, self._place(), event.set_to, board.tie, choices)
            return
        if event.set_to is not None and event.set_to in choices:
            self._choose(event.set_to)
            return
        if event.set_to is not None:
            self.faults.setting_wrong(event.key, self._place(), event.set_to, board.tie, choices)
        self.faults.setting_missing(event.key, self._place(), board.tie, choices)
        board.set_to, board.set_due, self.certain = max(choices), False, False

    def _choose(self, set_to: int) -> None:
        """The choice is made: the call that reached the tie gets its words."""
        self.board.set_to, self.board.set_due = set_to, False
        if self.tie_line is not None:
            at, head = self.tie_line
            call = self.board.call_with_choice(head, self.server or Side.A)
            self.lines[at] = changed(self.lines[at], call=call)
        self.tie_line = None

    # -- what is no rally -----------------------------------------------------------------------

    def _take_put_right(self, event: PutRight) -> None:
        """The marker put the score, the server or the box right."""
        before = self.board.points
        self.played = True
        if event.points is not None:
            why = score_problem(self.fmt, event.points, self.board.handicap)
            if why is None:
                self.board.put(event.points)
                self.certain = True
            else:
                self.faults.score_impossible(event.key, self._place("After "), event.points, why)
        if event.server is not None and (event.server is not self.server or not self.server_known):
            self.server, self.server_known = event.server, True
            self._free_box(event.server)
        if event.box is not None:
            self.box, self.box_known, self.box_free = event.box, True, False
        call = self._call("", False, before)
        self._close(self._between(event.key, before, call))

    def _take_conduct(self, event: Conduct) -> None:
        """A conduct stroke is added to the score, a conduct game ends the game; from memory.

        The server and the box stay as they were. In hand-out scoring a stroke to the receiver is
        taken as a hand-out without a point.
        """
        before, to = self.board.points, self.names[event.to.place]
        self.played = True
        hand_out = False
        if event.game:
            self.board.give(event.to)
            self.certain = True
        elif self.fmt.system is System.HAND_OUT and self.server_known and event.to is not self.server:
            hand_out = True
            self.server = event.to
            self._free_box(event.to)
        else:
            self.board.add_point(event.to)
        decision = f"conduct {'game' if event.game else 'stroke'} to {to}"
        call = self._call(decision, hand_out, before)
        self._close(self._between(event.key, before, call, hand_out, event.to))

    def _take_retired(self, event: Retired) -> None:
        """A player stopped: the other wins the match, the score stays as it stood."""
        other = event.side.other
        self.winner, self.how_over = other, event.why
        stopped, to = self.names[event.side.place], self.names[other.place]
        call = call_words((f"{stopped} {event.why}", f"match to {to}"))
        line = self._between(event.key, self.board.points, call, winner=other)
        self.lines.append(changed(line, ends_match=other))

    def _take_late(self, event: Event) -> None:
        """Something after the match was over: kept, counted, without effect."""
        rally = isinstance(event, Outcome)
        if rally:
            self.n += 1
            self.n_in_game += 1
        self.late.append((event.key, self._place() if rally else self._place("After ")))
        line = self._between(event.key, self.board.points, "")
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
    ) -> ScoredEvent:
        """Return a line that is no rally; it names the server and the box to come."""
        serve = _Serve(self.server or Side.A, self.server_known, self.box, self.box_known, self.box_free)
        line = self._line(key, before, call, serve, winner, hand_out=hand_out)
        return changed(line, is_rally=False)

    def _line(
        self,
        key: str,
        before: Points,
        call: str,
        serve: _Serve,
        winner: Side | None,
        *,
        let: bool = False,
        hand_out: bool = False,
    ) -> ScoredEvent:
        """Return what one event came to, as the score stands now."""
        return ScoredEvent(
            key=key,
            n=self.n,
            game=self.board.game,
            n_in_game=self.n_in_game,
            server=serve.server,
            box=serve.box,
            box_free=serve.box_free,
            before=before,
            after=self.board.points,
            winner=winner,
            let=let,
            hand_out=hand_out,
            call=call,
            ends_game=None,
            ends_match=None,
            certain=self.certain,
            server_known=serve.server_known,
            box_known=serve.box_known,
        )

    # -- calls, games, the end ------------------------------------------------------------------

    def score_call(self) -> str:
        """Return the score as it would be called now, before a serve; empty where the order is not known."""
        points = self.board.points
        if self.server is None and points[0] != points[1]:
            return ""
        return self.board.score_call(self.server or Side.A)

    def _call(self, decided: str, hand_out: bool, before: Points) -> str:
        """Return the call after an event that found the score at `before`; empty where nobody can know it."""
        if not self.certain:
            return ""
        fresh = self.board.points != before
        if self.board.set_due and fresh:
            self.tie_line = (len(self.lines), self.board.head(decided, hand_out))
        return self.board.call(decided, hand_out, self.server or Side.A, fresh)

    def _close(self, line: ScoredEvent) -> None:
        """Keep the line; if it ended the game, begin the next one or end the match."""
        winner = self.board.game_winner()
        if winner is None:
            self.lines.append(line)
            return
        self.done.append(Game(self.board.game, self.board.points, winner, self.first_server))
        over = self.board.next_game(winner)
        self.lines.append(changed(line, ends_game=winner, ends_match=winner if over else None))
        self.played = False
        self.tie_line = None
        if over:
            self.winner, self.how_over = winner, "won"
            return
        self.n_in_game = 0
        self.server = self.first_server = winner
        self.server_known = True
        self._free_box(winner)

    def _place(self, before: str = "") -> str:
        """Return where in the match we are, for a fault."""
        words = f"{before}rally {self.n_in_game} of game {self.board.game}"
        return words[:1].upper() + words[1:]

    def result(self, opening: str, set_to: int | None) -> Replay:
        """Return everything at once; the game in play is listed once something has happened in it."""
        if self.late:
            key, place = self.late[0]
            self.faults.after_the_end(key, place, len(self.late) - 1)
        games = list(self.done)
        if self.played or (not games and self.how_over is None):
            games.append(Game(self.board.game, self.board.points, None, self.first_server))
        if set_to is not None and set_to in set_choices(self.fmt) and self.board.set_due:
            self._choose(set_to)
        coming = None
        if self.how_over is None:
            coming = Next(
                game=self.board.game,
                server=self.server if self.server_known else None,
                box=self.box if self.server_known else None,
                box_free=self.box_free,
                points=self.board.points,
                set_choice=self.board.set_due,
                opening=self.score_call() if self.n_in_game == 0 and self.certain else "",
            )
        return Replay(
            lines=tuple(self.lines),
            games=tuple(games),
            games_won=self.board.won,
            faults=tuple(self.faults.found),
            next=coming,
            winner=self.winner,
            how_over=self.how_over,
            opening=opening,
        )


def _last_game_to(games: Points) -> Side | None:
    """Return who won the last game, where only one of the two has won any; that player serves next."""
    if games[0] and not games[1]:
        return Side.A
    return Side.B if games[1] and not games[0] else None
