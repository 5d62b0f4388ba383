"""Import a table of shots beside its table of rallies."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.import_export import csv_cell_parsing as c
from goodlength.record.import_export.delimited_table_reader import MOST_SHOTS, read_sheet
from goodlength.record.model import Entry, EntryKind, Match

_STROKE = c.choice(("serve", "drive", "cross-court", "boast", "drop", "lob", "kill", "other"))


def shots_from_csv(
    data: bytes, match: Match, names: tuple[str, str], decimal: str = "."
) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """Return the shots of a table as entries, and every problem with its line.

    Parameters
    ----------
    data : bytes
        A table with the headings rally or key, n, striker, and further those of `SHOT_COLUMNS`.
    match : Match
        The rallies they belong to, as read from the table of rallies.
    """
    sheet = read_sheet(data, MOST_SHOTS)
    by_number = {str(rally.n): rally.key for rally in match.rallies}
    keys = set(by_number.values())
    pen = EntryWriter(match.info.id, match.info.observer, mark=f"{match.info.id}-shot-")
    problems = list(sheet.problems)
    readers: Mapping[str, tuple[str, Callable[[str], Any]]] = {
        "n": ("n", c.whole),
        "striker": ("by", c.side_reader(names, match.info.players)),
        "stroke": ("stroke", _STROKE),
        "volley": ("volley", c.yes_no),
        "place": ("place", c.PLACE),
        "at_s": ("at_us", c.seconds_reader(decimal)),
        "pressed": ("pressed", c.yes_no),
    }
    for row in sheet.rows:
        given = c.words_of(row.cells.get("key", ""))
        key = given if given in keys else by_number.get(row.cells.get("rally", ""))
        if key is None:
            problems.append(f"line {row.line}: the shot belongs to no rally of the table of rallies")
            continue
        shot: dict[str, Any] = {}
        for heading, (name, read) in readers.items():
            cell = row.cells.get(heading, "")
            try:
                if cell:
                    shot[name] = read(cell)
            except c.CellFault as fault:
                problems.append(f"line {row.line}: {heading}: {fault}")
        if "n" in shot and "by" in shot:
            pen.write(key, EntryKind.SHOT, shot)
        else:
            problems.append(f"line {row.line}: a shot needs its number (n) and who struck it (striker)")
    return tuple(pen.entries), tuple(problems)
