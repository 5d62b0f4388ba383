"""The sheet between games, from what is written down so far."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.findings import Names
from goodlength.record.rally_columns import rally_table
from goodlength.tasks.findings.match import side_of
from goodlength.tasks.match.matches import show_match
from goodlength.tasks.match.observers import doubted_columns
from goodlength.tasks.people.player_records import names_of

if TYPE_CHECKING:
    from goodlength.findings.reports.between_games import BetweenGames
    from goodlength.record.store import Library


def between_games(
    library: Library, match_id: str, whose: str = "coached", game: int | None = None
) -> BetweenGames:
    """At most three lines for the break: what has a grade so far, then counts of the game just played.

    Parameters
    ----------
    library : Library
        Where the match is.
    match_id : str
        Its id.
    whose : str
        "coached" or "opponent": whom the sheet is for.
    game : int, optional
        The game to look back on; the last one finished without it.

    Raises
    ------
    NotFound
        If there is no such match.
    """
    from goodlength.findings.reports.between_games import between_games_report

    match = show_match(library, match_id)
    kinds = library.kinds()
    return between_games_report(
        rally_table(match, kinds),
        side_of(match.info.coached, whose).value,
        Names(*names_of(library, match.info)),
        {one.n: one.points for one in match.games},
        {one.n for one in match.games if one.winner is not None},
        kind_words={kind.id: kind.words for kind in kinds},
        game=game,
        unreliable=doubted_columns(library, match_id),
    )
