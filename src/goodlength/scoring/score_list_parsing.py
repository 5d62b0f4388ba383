"""Parse scores as written in result lists, checked against the format.

Nothing is guessed: a line is a finished match, an unfinished one, or refused with the reason.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from dataclasses import replace as changed
from enum import StrEnum

from goodlength.scoring.match_format_rules import (
    check_format,
    final_problem,
    games_to_win,
    has_setting,
    score_problem,
    tie_at,
    winner_at,
)
from goodlength.scoring.scoring_types import Format, Points, Side, System

_DASH = r"\s*[-–−/:]\s*"
_TOKEN = re.compile(
    rf"""(?P<date>\d{{4}}-\d\d-\d\d\b|\d{{1,2}}([./-])\d{{1,2}}\2\d{{4}}\b)
    |\(\s*(?P<tie_a>\d{{1,3}}){_DASH}(?P<tie_b>\d{{1,3}})\s*\)
    |\(?\s*(?P<minutes>\d{{1,3}})\s*(?:minutes|mins?|m|')(?![a-z])\.?\s*\)?
    |(?P<a>\d{{1,3}}){_DASH}(?P<b>\d{{1,3}})
    |\(?(?P<bare>\d{{1,3}})\)?(?!\d)
    |(?P<word>[^\W\d_][\w/'’.]*)
    |(?P<gap>[\s,;.]+)
    |(?P<other>.)""",
    re.VERBOSE | re.IGNORECASE,
)
_ENDINGS = {
    "retired": ("rtd", "ret", "retd", "ret'd", "retired"),
    "injured": ("inj", "injured", "injury"),
    "disqualified": ("disq", "dsq", "dq", "disqualified"),
    "abandoned": ("abandoned", "aband", "abd"),
    "conceded": ("conc", "conceded"),
    "walkover": ("wo", "w/o", "walkover"),
    "unfinished": ("unfinished",),
}
_ENDING_OF = {short: words for words, all_of in _ENDINGS.items() for short in all_of}


class State(StrEnum):
    """What a line of scores turned out to be."""

    FINISHED = "finished"
    UNFINISHED = "unfinished"
    REFUSED = "refused"


@dataclass(frozen=True)
class ReadGame:
    """One game of a line: its points in the order written, and whether it is over.

    `score_known` is false for an older 11–10: decided in the tie-break, score unknown. `tie_break` is
    what stood in brackets after it.
    """

    points: Points
    over: bool
    score_known: bool = True
    tie_break: Points | None = None

    @property
    def winner(self) -> Side | None:
        """Who won it; A is the side written first."""
        if not self.over:
            return None
        return Side.A if self.points[0] > self.points[1] else Side.B


@dataclass(frozen=True)
class ScoreReading:
    """A line of scores, read: its games, what it is, and why.

    `why` is empty for a finished match. `ending` is what the line said ("retired", "abandoned").
    `notes` say what had to be taken into account ("9–8: set one must have been called").
    """

    games: tuple[ReadGame, ...]
    state: State
    why: str
    games_won: Points = (0, 0)
    winner: Side | None = None
    minutes: int | None = None
    ending: str | None = None
    notes: tuple[str, ...] = ()

    @property
    def points(self) -> int:
        """All points played in games whose score is known."""
        return sum(sum(game.points) for game in self.games if game.score_known)


@dataclass
class _Line:
    """The pieces of a line before they are judged."""

    scores: list[Points]
    ties: dict[int, Points]
    endings: list[str]
    minutes: int | None = None
    problem: str = ""


def read_scores(
    text: str, fmt: Format, *, importing: bool = False, handicap: Points = (0, 0)
) -> ScoreReading:
    """Read one match's scores, such as ``11-8 6-11 11/4 rtd 28``.

    Parameters
    ----------
    text : str
        Games with a hyphen, dash, slash or colon; minutes, "rtd", "inj", "DISQ", "abandoned" may follow.
        The side written first is A.
    fmt : Format
        How the match was scored: the same figures mean different things in different formats.
    importing : bool
        Accept 11–10 of older lists (14-all likewise) as "decided in the tie-break, score unknown".
    handicap : (int, int)
        The score at which every game began.

    Returns
    -------
    ScoreReading
        Finished, unfinished or refused, always with the reason for the last two.

    Raises
    ------
    RulesError
        If no edition of the rules has such a format.

    Source
    ------
    RULES-2014, rules 2.2 and 2.3; RULES-2001, rule 2 and appendix 8.1; 11–10 in older lists: NOTATION-11-10.

    Examples
    --------
    >>> read_scores("11-8 6-11 11/4 12-10 (53m)", Format()).state.value
    'finished'
    >>> read_scores("11-6 11-8 rtd 28", Format()).why
    'retired, at 2–0 in games'
    """
    check_format(fmt)
    reading = _read(text, fmt, importing, handicap)
    if reading.state is State.REFUSED and reading.games:
        others = [changed(usual, best_of=fmt.best_of) for usual in _USUAL if not _same(usual, fmt)]
        fits = [o for o in others if _read(text, o, importing, handicap).state is State.FINISHED]
        if fits:
            hint = f" It would be a score of {' or '.join(map(format_words, fits))}."
            return ScoreReading(reading.games, reading.state, reading.why + hint, minutes=reading.minutes)
    return reading


def read_score_list(text: str, fmt: Format, *, importing: bool = False) -> tuple[ScoreReading, ...]:
    """Read several matches, one a line or parted by upright bars; empty ones are passed over."""
    lines = (line.strip() for line in re.split(r"[|\n]", text))
    return tuple(read_scores(line, fmt, importing=importing) for line in lines if line)


def format_words(fmt: Format) -> str:
    """Return a way of scoring in words: "rally scoring to 11", "hand-out scoring to 9".

    Examples
    --------
    >>> format_words(Format(System.RALLY, 15, edition="2001"))
    'rally scoring to 15 with setting'
    """
    if fmt.system is System.HAND_OUT:
        return f"hand-out scoring to {fmt.target}"
    return f"rally scoring to {fmt.target}" + (" with setting" if has_setting(fmt) else "")


_USUAL = (
    Format(),
    Format(System.RALLY, 15),
    Format(System.RALLY, 15, edition="2001"),
    Format(System.HAND_OUT, 9, edition="2001"),
)


def _same(first: Format, second: Format) -> bool:
    """Return whether two formats end games alike."""
    return (first.system, first.target, has_setting(first)) == (
        second.system,
        second.target,
        has_setting(second),
    )


def _split(text: str) -> _Line:
    """Take a line apart, noting the first thing that cannot be read."""
    line = _Line([], {}, [])
    for match in _TOKEN.finditer(text):
        token = match.groupdict()
        if token["gap"] or line.problem:
            continue
        if token["date"]:
            line.problem = (
                f"{token['date']} is a date; a spreadsheet may have made it from a score. "
                "Write scores as 11-5, in a column of text."
            )
        elif token["tie_a"]:
            line.ties[len(line.scores) - 1] = (int(token["tie_a"]), int(token["tie_b"]))
        elif token["a"]:
            line.scores.append((int(token["a"]), int(token["b"])))
        elif token["minutes"] or token["bare"]:
            if line.minutes is not None or not (line.scores or line.endings):
                line.problem = f"{match[0].strip()!r} stands alone; a game is two figures, such as 11-5."
            line.minutes = int(token["minutes"] or token["bare"])
        elif token["word"] and token["word"].lower().rstrip(".") in _ENDING_OF:
            line.endings.append(_ENDING_OF[token["word"].lower().rstrip(".")])
        else:
            rest = token["word"] or text[match.start() : match.start() + 12].strip()
            known = ", ".join(words for words in _ENDINGS)
            line.problem = f"{rest!r} cannot be read. After the games may stand minutes or one of: {known}."
    return line


def _read(text: str, fmt: Format, importing: bool, handicap: Points) -> ScoreReading:
    """Judge a line in one format."""
    line = _split(text)
    if line.problem:
        return ScoreReading((), State.REFUSED, line.problem)
    ending = ", ".join(line.endings) or None
    if not line.scores:
        if ending:
            return ScoreReading((), State.UNFINISHED, f"{ending}, no game score", ending=ending)
        return ScoreReading((), State.REFUSED, "there is no score here. Write games as 11-5.")
    games, notes = _games(line, fmt, importing, handicap, ending)
    if isinstance(games, str):
        return _refused(line, games)
    needed = games_to_win(fmt)
    winners = [game.winner for game in games]
    won = (winners.count(Side.A), winners.count(Side.B))
    winner = Side.A if won[0] == needed else Side.B if won[1] == needed else None
    if winner and ending:
        return _refused(line, f"the match was over at {_pair(won)}, yet it says {ending}.")
    return ScoreReading(
        games=tuple(games),
        state=State.FINISHED if winner else State.UNFINISHED,
        why="" if winner else _why_open(games, won, needed, ending),
        games_won=won,
        winner=winner,
        minutes=line.minutes,
        ending=ending,
        notes=tuple(notes),
    )


def _games(
    line: _Line, fmt: Format, importing: bool, handicap: Points, ending: str | None
) -> tuple[list[ReadGame] | str, list[str]]:
    """Return the games of a line, or why it cannot be; and notes about them."""
    games: list[ReadGame] = []
    notes: list[str] = []
    won = {Side.A: 0, Side.B: 0}
    for n, points in enumerate(line.scores, start=1):
        last, here = n == len(line.scores), f"game {n}, {_pair(points)}"
        if max(won.values()) == games_to_win(fmt):
            over = f"the match was over after game {n - 1}, yet {_pair(points)} follows."
            return f"{over} Check best of three or five.", notes
        game, note = _judge(fmt, points, line.ties.get(n - 1), importing, handicap)
        if isinstance(game, str):
            if not (last and ending and score_problem(fmt, points, handicap) is None):
                return f"{here}: {game}.", notes
            game = ReadGame(points, over=False)
        if not game.over and not last:
            return f"game {n} stops at {_pair(points)}, yet another game follows.", notes
        games.append(game)
        notes += [f"{here}: {note}"] if note else []
        if game.winner is not None:
            won[game.winner] += 1
    return games, notes


def _judge(
    fmt: Format, points: Points, tie: Points | None, importing: bool, handicap: Points
) -> tuple[ReadGame | str, str]:
    """Return one game, or why it cannot be; and a note about it."""
    problem = final_problem(fmt, points, handicap=handicap)
    if problem is None:
        note = ""
        if has_setting(fmt) and min(points) >= tie_at(fmt):
            set_one = winner_at(fmt, points, fmt.target) and max(points) == fmt.target
            choice = fmt.target - tie_at(fmt) if set_one else max(points) - tie_at(fmt)
            note = f"set {'one' if choice == 1 else 'two' if choice == 2 else 'three'} must have been called"
        return ReadGame(points, over=True), note
    if score_problem(fmt, points, handicap) is not None or max(points) < fmt.target:
        stands = score_problem(fmt, points, handicap) is None
        return (ReadGame(points, over=False) if stands else problem), ""
    if sorted(points) == [tie_at(fmt), fmt.target] and not has_setting(fmt):
        if importing:
            note = "decided in the tie-break, score unknown"
            if tie is not None:
                on = _pair((tie_at(fmt) + tie[0], tie_at(fmt) + tie[1]))
                note += f"; {_pair(tie)} stands in brackets, which counted on from {tie_at(fmt)}-all is {on}"
            return ReadGame(points, over=True, score_known=False, tie_break=tie), note
        return f"{problem}; older lists write it for a game decided in the tie-break", ""
    return problem, ""


def _refused(line: _Line, why: str) -> ScoreReading:
    """Refused, with the figures kept so that they can be shown."""
    games = tuple(ReadGame(points, over=False) for points in line.scores)
    return ScoreReading(games, State.REFUSED, why, minutes=line.minutes)


def _why_open(games: list[ReadGame], won: Points, needed: int, ending: str | None) -> str:
    """Return why a match is not finished."""
    stood = f"at {_pair(won)} in games"
    if not games[-1].over:
        stood += f" and {_pair(games[-1].points)} in game {len(games)}"
    if ending:
        return f"{ending}, {stood}"
    return f"nobody has won {needed} games ({stood}), and the line does not say why it stopped"


def _pair(points: Points) -> str:
    """Return two figures with an en dash."""
    return f"{points[0]}–{points[1]}"
