"""JSON form of the sheet between games."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.files.json_types import Json

if TYPE_CHECKING:
    from goodlength.findings.reports.between_games_sheet import BetweenGames


def between_form(sheet: BetweenGames) -> dict[str, Json]:
    """Return the JSON of `match between ID --json`."""
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
                "standing": line.standing,
                "about": line.about,
                "count": line.count,
                "of": line.of,
                "rallies": list(line.rallies),
                "likely": line.likely,
            }
            for line in sheet.lines
        ],
    }


def between_note(*, over: bool) -> str:
    """Return how to use the lines, during a match and after it."""
    if over:
        return "The match is over: use these lines to prepare the next one."
    return "Pick one line and say it once. After one game almost anything can be chance."
