"""The sheet between games, from what is recorded so far."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.findings import Names

if TYPE_CHECKING:
    from goodlength.findings.reports.between_games_sheet import BetweenGames
    from goodlength.tasks.match.lazy_match import OpenMatch


def between_games(opened: OpenMatch, whose: str = "coached", game: int | None = None) -> BetweenGames:
    """Return at most three lines for the break: what has a grade so far, then counts of the game just played.

    Parameters
    ----------
    opened : OpenMatch
    whose : str
        "coached" or "opponent": whom the sheet is for.
    game : int, optional
        The game to look back on; the last one finished without it.
    """
    from goodlength.findings.reports.between_games_sheet import between_games_report

    games = opened.match.games
    return between_games_report(
        opened.table,
        opened.side_of(whose).value,
        Names(*opened.names),
        {game_item.n: game_item.points for game_item in games},
        {candidate.n for candidate in games if candidate.winner is not None},
        kind_words=opened.kind_words,
        game=game,
        unreliable=opened.doubted_columns,
    )
