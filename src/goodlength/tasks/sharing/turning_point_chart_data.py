"""Turning points of a match as games of their chart, for the findings page and the handout."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from goodlength.languages import Language, language
from goodlength.show.draw.rally_leverage_chart import PointGame, PointStep
from goodlength.show.handout.handout_types import HandoutTurningPoints

if TYPE_CHECKING:
    from goodlength.findings.analyses.win_probability import MatchLine
    from goodlength.record.model import Match

_ENGLISH = language("en")
MOST_GAMES = 2  # on the handout: more do not fit under the serves at a size that can be read


def point_games(line: MatchLine, scores: Mapping[int, str]) -> tuple[PointGame, ...]:
    """Return the games of a match line as steps; the player of the line stands first."""
    numbers = dict.fromkeys(moment.game for moment in line.moments)
    return tuple(_point_game(line, n, scores.get(n, "")) for n in numbers)


def game_scores(match: Match, first: int = 0) -> dict[int, str]:
    """Return the score of each game; `first` (0 or 1) is the player whose points stand first."""
    return {game.n: f"{game.points[first]}–{game.points[1 - first]}" for game in match.games}


def handout_turning_points(
    line: MatchLine, scores: Mapping[int, str], names: tuple[str, str], spoken: Language = _ENGLISH
) -> HandoutTurningPoints | None:
    """Return the chart of a handout: the two games that could swing it most, as played; None without any."""
    by_swing = sorted(line.moments, key=lambda moment: -moment.swing)
    widest = list(dict.fromkeys(moment.game for moment in by_swing))[:MOST_GAMES]
    games = tuple(_point_game(line, n, scores.get(n, ""), spoken) for n in sorted(widest))
    return HandoutTurningPoints(games, line.side, names) if games else None


def _score_words(score: str, spoken: Language) -> str:
    """Return a score as it is called: "8-all", "10–9"."""
    level, called, _ = score.partition("-all")
    return spoken.phrase("{points}-all", points=level) if called else score


def _point_game(line: MatchLine, n: int, score: str, spoken: Language = _ENGLISH) -> PointGame:
    turning = {moment.key for moment in line.decided}
    moments = [moment for moment in line.moments if moment.game == n]
    steps = tuple(
        PointStep(
            0 if moment.winner == line.side else 1,
            moment.swing,
            _score_words(moment.words.partition(",")[0], spoken),
            moment.key in turning,
            moment.key,
        )
        for moment in moments
    )
    return PointGame(spoken.phrase("Game {n}", n=n), score, steps, moments[-1].after)
