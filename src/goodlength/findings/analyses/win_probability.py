"""Win probability after each rally, how far each rally could swing it, and the decisive rallies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.analyses.serve_advantage import serve_edge
from goodlength.findings.rally_masks import SIDES, RallyMasks
from goodlength.findings.result_types import Names, SideKey
from goodlength.findings.statistics.win_probability_model import match_table
from goodlength.findings.text.win_probability_and_trend_sentences import (
    ASSUMED,
    moment_sentence,
    runs_sentence,
    worth_words,
)
from goodlength.record.tables.rally_table import RallyTable
from goodlength.scoring.scoring_types import Format, Points, Start, System

Floats = NDArray[np.float64]
SHOWN = 3  # rallies named as having decided the match
DRAWS = 400


@dataclass(frozen=True)
class RallyMoment:
    """One decided rally. Chances are of the player the line is about; `swing` is zero or more.

    `points` are the score before the rally, server's points first, as a marker says it.
    """

    key: str
    game: int
    points: Points
    server: SideKey
    winner: SideKey
    before: float
    after: float
    swing: float
    words: str


@dataclass(frozen=True)
class MatchLine:
    """Chance after each decided rally, if the two were equal from there (or with the rates given).

    `decided` are the rallies with the widest swing, first the widest. `stopped` says why the line ends
    early, "" where it goes through.
    """

    side: SideKey
    start: float
    moments: tuple[RallyMoment, ...]
    decided: tuple[RallyMoment, ...]
    rates: tuple[float, float]
    assumption: str
    stopped: str


@dataclass(frozen=True)
class ServeWorth:
    """What a better serve is worth: the change of the chance of a match, as shares."""

    rise: float  # of the share of rallies won when serving
    gain: float  # of the chance of a match, from what was seen
    gain_low: float  # over what the shares could be, 90 in 100
    gain_high: float
    even_gain: float  # between two equal players
    words: str


def _winner_of(fmt: Format, points: Points) -> int | None:
    """Return who won a game that ended at these points; None while it is open."""
    high, gap = max(points), abs(points[0] - points[1])
    over = high >= fmt.target and gap >= (2 if fmt.system is System.RALLY else 1)
    return (0 if points[0] > points[1] else 1) if over else None


def match_line(
    table: RallyTable,
    side: SideKey,
    names: Names,
    fmt: Format | None = None,
    start: Start | None = None,
    rates: tuple[float, float] = (0.5, 0.5),
) -> MatchLine:
    """Return the line of the match for one player.

    Parameters
    ----------
    table : RallyTable
        The match as columns; lets are passed over.
    side : "a" or "b"
        Whose chance it is.
    names : Names
        For the sentences.
    fmt : Format, optional
        How the match is scored; best of five to 11 without it.
    start : Start, optional
        Games already won where the recording begins.
    rates : (float, float)
        Chance that A wins a rally served by A, by B; even by default: "if the two were equal from there".

    Returns
    -------
    MatchLine
        Without moments where no rally is decided. It stops, and says so, at a rally whose winner nobody
        wrote down, at a game whose end is missing, and at a score the format does not know.

    Source
    ------
    STATS-REF 1.2 and 1.4. Not a forecast: it shows where the match turned.
    """
    fmt, start = fmt or Format(), start or Start()
    view, me = RallyMasks(table), SIDES.index(side)
    model = match_table(*rates, fmt)
    moments = []
    steps, stopped = _walk(view, fmt, start, model.need)
    for step in steps:
        before = float(model.at(step.games, step.points, step.server, step.first))
        if step.won is None:
            after = float(model.at(step.games, step.then, step.winner, step.first))
        else:
            after = float(model.after_game(step.games, step.won, step.first))
        swing = float(model.swing(step.games, step.points, step.server, step.first))
        moments.append(_moment(table, step, me, names, before, after, swing))
    opening = float(model.at(start.games, start.points or (0, 0), _first_server(view)))
    widest = sorted(range(len(moments)), key=lambda k: (-round(moments[k].swing, 9), k))
    return MatchLine(
        side,
        opening if me == 0 else 1 - opening,
        tuple(moments),
        tuple(moments[k] for k in widest[:SHOWN]),
        rates,
        f"{ASSUMED} {runs_sentence(serve_edge(view))}".strip(),
        stopped,
    )


@dataclass(frozen=True)
class _Step:
    """One decided rally as the scoreboard saw it: 0 is A, 1 is B; `won` is who won the game with it."""

    row: int
    games: Points
    points: Points
    then: Points
    server: int
    winner: int
    first: int
    won: int | None


def _walk(view: RallyMasks, fmt: Format, start: Start, need: int) -> tuple[list[_Step], str]:
    """Decided rallies in order, and why the walk ended early ("" where it did not)."""
    table, games, steps = view.table, list(start.games), list[_Step]()
    for game in view.games:
        rows = np.flatnonzero((table.game == game) & ~table.let)
        won: int | None = None
        for i in rows:
            points, winner, server = _before(table, int(i)), int(table.winner[i]), int(table.server[i])
            odd = _odd(fmt, points, winner, max(games) >= need, game)
            if odd:
                return steps, odd
            gained = fmt.system is System.RALLY or winner == server
            then = (points[0] + (gained and winner == 0), points[1] + (gained and winner == 1))
            won = None if _chose_ten(fmt, then) and i != rows[-1] else _winner_of(fmt, then)
            here = (games[0], games[1])
            steps.append(_Step(int(i), here, points, then, server, winner, int(table.server[rows[0]]), won))
        if won is not None:
            games[won] += 1
        elif game != view.games[-1]:
            return steps, f"The end of game {game} is not logged, so the chart stops there."
    return steps, ""


def _chose_ten(fmt: Format, points: Points) -> bool:
    """9-8 in hand-out scoring: over, unless the receiver chose 10 and another rally follows."""
    one_up = max(points) == fmt.target and min(points) == fmt.target - 1
    return fmt.system is System.HAND_OUT and one_up


def _first_server(view: RallyMasks) -> int:
    return int(view.table.server[0]) if view.n and view.table.server[0] >= 0 else 0


def _before(table: RallyTable, row: int) -> Points:
    return int(table.score_a[row]), int(table.score_b[row])


def _odd(fmt: Format, points: Points, winner: int, match_over: bool, game: int) -> str:
    """Return why the line cannot go on at this rally; "" where it can."""
    if winner < 0:
        return f"It is not logged who won a rally of game {game}, so the chart stops there."
    if min(points) < 0 or match_over or _over_before(fmt, points):
        return f"The score of game {game} does not fit the scoring system, so the chart stops there."
    return ""


def _over_before(fmt: Format, points: Points) -> bool:
    """Return whether no rally can be played at this score; 9-8 can, where the receiver chose 10."""
    if fmt.system is System.HAND_OUT and min(points) >= fmt.target - 1:
        return max(points) > fmt.target
    return _winner_of(fmt, points) is not None


def _moment(
    table: RallyTable, step: _Step, me: int, names: Names, before: float, after: float, swing: float
) -> RallyMoment:
    server, winner = SIDES[step.server], SIDES[step.winner]
    called = step.points if server == "a" else (step.points[1], step.points[0])
    if me == 1:
        before, after = 1 - before, 1 - after
    game = int(table.game[step.row])
    sentence = moment_sentence(names, game, called, server, winner, swing)
    return RallyMoment(table.key[step.row], game, called, server, winner, before, after, swing, sentence)


def serve_worth(
    table: RallyTable,
    side: SideKey,
    names: Names,
    fmt: Format | None = None,
    rise: float = 0.02,
    rng: np.random.Generator | None = None,
) -> ServeWorth | None:
    """Return what winning a little more of the rallies she serves would be worth in matches.

    Parameters
    ----------
    table, side, names, fmt
        As in `match_line`.
    rise : float
        Rise of the share of rallies won when serving, 0 to 0.2.
    rng : numpy Generator, optional
        Draws what the shares could be; seeded from the counts by default.

    Returns
    -------
    Worth or None
        None without a decided rally on both serves.

    Source
    ------
    STATS-REF 1.5: both shares are drawn from Beta(won + 10, lost + 10), which is drawn in towards even by
    about 20 rallies (a choice of this project); never a forecast of one match.
    """
    from goodlength.findings.statistics.diversity_entropy import seeded

    view, me = RallyMasks(table), SIDES.index(side)
    won = view.won(me)
    serving, receiving = view.decided & view.served(me), view.decided & view.served(1 - me)
    if not serving.any() or not receiving.any():
        return None
    counts = [
        int(x) for x in ((won & serving).sum(), serving.sum(), (won & receiving).sum(), receiving.sum())
    ]
    rng = seeded("serve worth", tuple(counts)) if rng is None else rng
    a = rng.beta(counts[0] + 10, counts[1] - counts[0] + 10, DRAWS)
    b = rng.beta(counts[2] + 10, counts[3] - counts[2] + 10, DRAWS)
    means = ((counts[0] + 10) / (counts[1] + 20), (counts[2] + 10) / (counts[3] + 20))
    gains = _gain(a, b, rise, fmt)
    low, high = np.quantile(gains, [0.025, 0.975])
    gain, even = (float(_gain(np.array(x), np.array(y), rise, fmt)) for x, y in (means, (0.5, 0.5)))
    sentence = worth_words(names, side, rise, gain, float(low), float(high), even)
    return ServeWorth(rise, gain, float(low), float(high), even, sentence)


def _gain(a: Floats, b: Floats, rise: float, fmt: Format | None) -> Floats:
    """Rise of the chance of a match, mean over who serves first."""

    def chance(p: Floats) -> Floats:
        table = match_table(p, b, fmt)
        return np.asarray((table.at((0, 0), (0, 0), 0) + table.at((0, 0), (0, 0), 1)) / 2)

    return np.asarray(chance(np.minimum(a + rise, 0.999)) - chance(a))
