"""What the import page shows of a table: its columns, likely players, and what was not understood."""

from __future__ import annotations

import re
from collections.abc import Sequence

from goodlength import tasks
from goodlength.record.import_export.rally_csv_columns import MEANINGS
from goodlength.record.import_export.table_column_guesses import MAIN_COLUMNS
from goodlength.record.store import Library

Options = Sequence[tuple[str, str]]
_OF_MATCH = ("player_a", "player_b", "match_event", "played_on", "depth", "scoring", "game_to", "best_of")
_LINE = re.compile(r"line (\d+): (.*)", re.DOTALL)


def column_options() -> Sequence[tuple[str, Options]]:
    """Return what a column can be, in groups: the rally, the match, and everything else a table can hold."""
    rest = [name for name in MEANINGS if name not in MAIN_COLUMNS and name not in _OF_MATCH]
    return (
        ("Rally", tuple(MAIN_COLUMNS.items())),
        ("Match", tuple((name, _short(name)) for name in _OF_MATCH)),
        ("More", tuple((name, _short(name)) for name in rest)),
    )


def _short(name: str) -> str:
    """Return the meaning of a column without what is said about checking and writing."""
    words = re.split(r"[;,]", MEANINGS[name], maxsplit=1)[0].removeprefix("answer: ")
    return words.replace(".", ": ").replace("_", " ").replace("-", " ")


def likely_name(library: Library, spelling: str) -> str:
    """Return the name of the one player whom a table may mean: the whole name, a part, or the initials."""
    low = spelling.casefold()
    names = [player.name for player in tasks.players(library)]
    fitting = [
        name
        for name in names
        if low and (low in (name.casefold(), *name.casefold().split()) or low == _initials(name))
    ]
    return fitting[0] if len(fitting) == 1 else spelling


def _initials(name: str) -> str:
    """Return the initials of a name in small letters.

    Examples
    --------
    >>> _initials("Petra Lindqvist-Ode")
    'pl'
    """
    return "".join(part[0] for part in name.casefold().split())


def problem_rows(problems: Sequence[str]) -> list[tuple[str, str]]:
    """Return each problem with its line, "" where it is about the whole table.

    Examples
    --------
    >>> problem_rows(["line 5: kind: 'lbo' is not known", "two lines have the same key"])
    [('5', "kind: 'lbo' is not known"), ('', 'two lines have the same key')]
    """
    found = [(problem, _LINE.fullmatch(problem)) for problem in problems]
    return [(match[1], match[2]) if match else ("", problem) for problem, match in found]
