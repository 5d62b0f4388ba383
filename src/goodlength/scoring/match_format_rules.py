"""Rules of a match format: which scores end a game, which can stand, how long intervals are.

Clause numbers are those of the singles rules of 2014 to 2024 unless an edition is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.errors import RulesError
from goodlength.scoring.scoring_types import Format, Points, Side, Start, System

EDITIONS = ("2001", "2010", "2014", "2019", "2020", "2024", "2025")
_TARGETS = {System.RALLY: (11, 15), System.HAND_OUT: (9,)}


@dataclass(frozen=True)
class Times:
    """Warm-up and intervals of one edition, in seconds, with what is doubtful about them."""

    warm_up_s: int
    before_play_s: int
    between_games_s: int
    equipment_s: int
    warning_s: int
    caveat: str


_OLD = "90 s before play and for equipment is inferred from its neighbours"
# source: RULES-2001, RULES-2014, RULES-2019, RULES-2025-SUMMARY
_TIMES = {
    "2001": Times(300, 90, 90, 90, 15, ""),
    "2010": Times(300, 90, 90, 90, 15, "not read; the editions of 2001 and 2014 agree on these"),
    "2014": Times(300, 90, 90, 90, 15, _OLD),
    "2019": Times(240, 90, 90, 90, 15, "the 15 s warning is from memory"),
    "2020": Times(240, 90, 90, 90, 15, "the 15 s warning is from memory"),
    "2024": Times(240, 90, 90, 90, 15, "the 15 s warning is from memory"),
    "2025": Times(240, 60, 120, 120, 15, "from one club's summary; the text itself was not read"),
}


def times_for(edition: str) -> Times:
    """Return warm-up, intervals and warning of an edition of the rules, each in seconds.

    Raises
    ------
    RulesError
        If the edition is not one of `EDITIONS`.

    Source
    ------
    RULES-2001, RULES-2014, RULES-2019, RULES-2025-SUMMARY; `doubt` says which figures were not read.

    Examples
    --------
    >>> times_for("2025").between_games_s, times_for("2019").between_games_s
    (120, 90)
    """
    if edition not in _TIMES:
        raise RulesError(
            f"There is no edition {edition!r} of the rules here; editions known are {', '.join(EDITIONS)}. "
            "Choose the one the match was played under."
        )
    return _TIMES[edition]


def check_format(fmt: Format) -> None:
    """Raise RulesError, in words, for a way of scoring that no edition of the rules has."""
    if fmt.target not in _TARGETS[fmt.system]:
        raise RulesError(
            f"{fmt.system} scoring to {fmt.target} is not known here: rally scoring goes to 11 or 15, "
            "hand-out scoring to 9. Choose one of these."
        )
    if fmt.best_of not in (3, 5):
        raise RulesError(f"Best of {fmt.best_of} games is not known here: a match is best of 3 or of 5.")
    times_for(fmt.edition)
    if fmt.system is System.HAND_OUT and fmt.setting is False:
        raise RulesError(
            "Hand-out scoring always has the receiver's choice at 8-all; leave the setting as it is."
        )
    if fmt.system is System.RALLY and fmt.target == 11 and fmt.setting:
        raise RulesError(
            "Rally scoring to 11 has no setting: from 10-all a player must win by two points. "
            "Choose rally scoring to 15, or leave the setting out."
        )


def check_start(fmt: Format, start: Start) -> None:
    """Raise RulesError for a starting score from which no match of this format can go on."""
    needed = games_to_win(fmt)
    if min(start.games) < 0 or max(start.games) >= needed:
        raise RulesError(
            f"A match best of {fmt.best_of} cannot begin at {_pair(start.games)} in games: "
            f"each player may have 0 to {needed - 1} there."
        )
    tie = tie_at(fmt)
    if max(start.handicap) > tie or min(start.handicap) < -fmt.target:
        raise RulesError(
            f"A game to {fmt.target} cannot begin at {_pair(start.handicap)}: "
            f"a handicap start is minus {fmt.target} to {tie} for either player."
        )
    if start.points is None:
        return
    why = score_problem(fmt, start.points, start.handicap)
    if why is not None:
        raise RulesError(f"The recording cannot begin at {_pair(start.points)}: {why}.")
    setting = implied_setting(fmt, start.points)
    if winner_at(fmt, start.points, setting) is not None:
        raise RulesError(
            f"The recording cannot begin at {_pair(start.points)}: that game is over. "
            "Begin with the games it made, and the points of the next game."
        )


def games_to_win(fmt: Format) -> int:
    """Return games that win the match: 2 of 3, or 3 of 5."""
    return fmt.best_of // 2 + 1


def tie_at(fmt: Format) -> int:
    """Return the score one short of the game: 10, 14, or 8 in hand-out scoring."""
    return fmt.target - 1


def has_setting(fmt: Format) -> bool:
    """Return whether the receiver chooses the length of the game at 8-all or 14-all."""
    if fmt.system is System.HAND_OUT:
        return True
    if fmt.setting is None:
        return fmt.target == 15 and fmt.edition == "2001"
    return fmt.setting


def set_choices(fmt: Format) -> tuple[int, ...]:
    """Return the scores the receiver may choose to play to: 9 or 10; 15 or 17; none without setting.

    Source
    ------
    RULES-2001, rule 2 and appendix 8.1: set one or set two at 8-all, set one or set three at 14-all.
    """
    if not has_setting(fmt):
        return ()
    return (9, 10) if fmt.system is System.HAND_OUT else (15, 17)


def winner_at(fmt: Format, points: Points, set_to: int | None = None) -> Side | None:
    """Return who has won a game that stands at these points; None while it goes on.

    Parameters
    ----------
    fmt : Format
    points : (int, int)
        A's and B's points.
    set_to : int, optional
        The receiver's choice in formats with setting; None before it is made.

    Source
    ------
    RULES-2014, rule 2.2 (two clear after 10-all); RULES-2001, rule 2 (setting).

    Examples
    --------
    >>> winner_at(Format(), (11, 10)) is None, winner_at(Format(), (12, 10)).value
    (True, 'a')
    """
    high, low = max(points), min(points)
    if high < fmt.target:  # set to more than that, never to less
        return None
    if has_setting(fmt):
        tied = low >= tie_at(fmt)
        goal = (set_to or max(set_choices(fmt))) if tied else fmt.target
        over = high >= goal
    else:
        over = high >= fmt.target and high - low >= 2
    if not over or high == low:
        return None
    return Side.A if points[0] == high else Side.B


def implied_setting(fmt: Format, points: Points) -> int | None:
    """Return the choice that must have been made for a game to stand at these points; None if open."""
    if not has_setting(fmt):
        return None
    high, low = max(points), min(points)
    if low >= tie_at(fmt) and high >= fmt.target:
        return max(set_choices(fmt))
    return None


def score_problem(fmt: Format, points: Points, handicap: Points = (0, 0)) -> str | None:
    """Return why a game, open or over, can never stand at these points; None if it can.

    Examples
    --------
    >>> score_problem(Format(), (12, 9))
    'the game would have ended at 11–9'
    """
    for who in (0, 1):
        if points[who] < handicap[who]:
            return f"each game begins at {_pair(handicap)}" if any(handicap) else "points are 0 or more"
    high, low = max(points), min(points)
    if high <= fmt.target:
        return None
    tie = tie_at(fmt)
    if low < tie:
        return f"the game would have ended at {_winner_first(points, fmt.target)}"
    if has_setting(fmt):
        most = max(set_choices(fmt))
        if high > most or low >= most:
            return f"no game goes past {most} points"
        return None
    if high - low > 2:
        return f"the game would have ended at {_winner_first(points, low + 2)}"
    return None


def final_problem(
    fmt: Format, points: Points, set_to: int | None = None, handicap: Points = (0, 0)
) -> str | None:
    """Return why these points cannot be the final score of a game; None if they can.

    For checking scores that come from outside. Without `set_to` any choice the receiver could have
    made is allowed: 9–8 and 10–8 are both possible in hand-out scoring.

    Source
    ------
    RULES-2014, rule 2.2: finals of a game to 11 are (11, 0 to 9) and (n, n − 2) from n = 12 on.

    Examples
    --------
    >>> final_problem(Format(), (11, 9)) is None
    True
    >>> final_problem(Format(), (11, 10))
    'from 10-all a player must lead by two points, and 11–10 leads by one'
    """
    problem = score_problem(fmt, points, handicap)
    if problem is not None:
        return problem
    high, low = max(points), min(points)
    if high < fmt.target:
        return f"nobody has {fmt.target} points"
    if high == low:
        return f"nobody leads at {high}-all"
    if not has_setting(fmt):
        if high - low < 2:
            tie = tie_at(fmt)
            return f"from {tie}-all a player must lead by two points, and {high}–{low} leads by one"
        return None
    choices = [set_to] if set_to is not None else list(set_choices(fmt))
    if any(winner_at(fmt, points, choice) and high <= _goal(fmt, low, choice) for choice in choices):
        return None
    allowed = " or ".join(str(_goal(fmt, low, choice)) for choice in choices)
    return f"with {low} points on the other side the game goes to {allowed}"


def _goal(fmt: Format, low: int, choice: int) -> int:
    """Return the score that wins when the loser has `low`."""
    return choice if low >= tie_at(fmt) else fmt.target


def _pair(points: Points) -> str:
    """Return two figures with an en dash."""
    return f"{points[0]}–{points[1]}"


def _winner_first(points: Points, winner: int) -> str:
    """Return the score at which a game would have ended, in the order of `points`."""
    low = min(points)
    return _pair((winner, low) if points[0] >= points[1] else (low, winner))
