"""The sheet between games, from what is written down so far."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from goodlength.findings import Names
from goodlength.record.columns import rally_table
from goodlength.tasks.agree import doubted_columns
from goodlength.tasks.found import side_of
from goodlength.tasks.matches import names_of, show_match

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


def between_form(sheet: BetweenGames) -> dict[str, Any]:
    """`match between ID --json`."""
    return {
        "match": sheet.match,
        "game": sheet.game,
        "finished": sheet.finished,
        "title": sheet.title,
        "lines": [
            {
                "words": line.words,
                "you_words": line.you_words,
                "grade": None if line.grade is None else line.grade.value,
                "grade_words": None if line.grade is None else line.grade.words,
                "scope": line.scope,
                "about": line.about,
                "count": line.count,
                "of": line.of,
                "rallies": list(line.rallies),
            }
            for line in sheet.lines
        ],
    }
