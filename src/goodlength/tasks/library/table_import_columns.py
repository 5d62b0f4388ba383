"""Columns of a table to import: first guesses, what the coach chose before, and a template to fill in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.record.import_export.delimited_table_reader import read_sheet
from goodlength.record.import_export.rally_csv_columns import MEANINGS
from goodlength.record.import_export.table_column_guesses import (
    NOT_USED,
    ColumnGuess,
    guess_columns,
    player_spellings,
)
from goodlength.tasks.library.match_import_export import read_match_file

if TYPE_CHECKING:
    from goodlength.record.store import Library

SETTING = "import_columns"
MOST_REMEMBERED = 300  # headings; the oldest go first
LONGEST_HEADING = 60
_TEMPLATE_HEADINGS = (
    "player_a,player_b,played_on,match_event,game,score_a,score_b,server,box,kind,"
    "how_taken,left,winner,ending,ending_stroke,start_s,end_s,note"
)
_TEMPLATE_MATCH = "Sam Pell,Ola Dun,2026-03-07,Club night"
_TEMPLATE_RALLIES = (
    "1,0,0,a,right,lob,volleyed,loose,a,winner,drive,0:12.5,0:24.0,",
    "1,1,0,a,left,hard,after-the-bounce,tight,b,unforced-error,drop,0:41.0,0:55.5,too short",
    "1,1,1,b,right,,,,b,,,,,",
)
_TEMPLATE_LINES = (_TEMPLATE_HEADINGS, *(f"{_TEMPLATE_MATCH},{rally}" for rally in _TEMPLATE_RALLIES), "")
TEMPLATE = "\ufeff" + "\r\n".join(_TEMPLATE_LINES)


@dataclass(frozen=True)
class ForeignTable:
    """A table before it is imported: its columns with a guess each, and how it writes its two players."""

    columns: tuple[ColumnGuess, ...]
    written: tuple[str, str]


def foreign_table(library: Library, path: Path, chosen: Mapping[str, str] | None = None) -> ForeignTable:
    """Return the columns of a table, each with what it was chosen for or is taken for.

    Parameters
    ----------
    chosen : mapping of str to str, optional
        Columns chosen now, by heading; left out, they are guessed.

    Raises
    ------
    InputError, UnclearError, NotFound
        If the file cannot be read as a table at all.
    """
    sheet = read_sheet(read_match_file(path))
    guesses = guess_columns(sheet, remembered_columns(library))
    if chosen is not None:
        guesses = tuple(
            ColumnGuess(guess.heading, guess.examples, chosen.get(guess.heading, NOT_USED))
            for guess in guesses
        )
    return ForeignTable(guesses, player_spellings(sheet, {guess.heading: guess.column for guess in guesses}))


def remembered_columns(library: Library) -> dict[str, str]:
    """Return the columns chosen at earlier imports, by heading; what cannot be read is passed over."""
    stored = library.settings().get(SETTING)
    pairs = stored.items() if isinstance(stored, Mapping) else ()
    return {
        str(heading): str(column) for heading, column in pairs if column == NOT_USED or column in MEANINGS
    }


def remember_columns(library: Library, columns: Mapping[str, str]) -> None:
    """Store the columns chosen, by heading; a heading that names a player is not stored."""
    names = {word for player in library.players() for word in player.name.casefold().split() if len(word) > 2}
    fit = {
        heading: column
        for heading, column in columns.items()
        if len(heading) <= LONGEST_HEADING and not names & set(heading.casefold().split("_"))
    }
    before = {
        heading: column for heading, column in remembered_columns(library).items() if heading not in fit
    }
    newest = list({**before, **fit}.items())[-MOST_REMEMBERED:]
    library.set_setting(SETTING, dict(newest))
