"""Which column of a foreign table is which: first guesses, and the table under the headings chosen.

Nothing is settled here: the coach sees each guess and changes it before anything is read into the record.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from goodlength.record.import_export.csv_cell_parsing import NO, YES, words_of
from goodlength.record.import_export.delimited_table_reader import TableRow, TableSheet, is_number
from goodlength.record.import_export.match_csv_export import SKIPPED
from goodlength.record.import_export.rally_csv_columns import MEANINGS, TIMES

NOT_USED = ""
# What a coach chooses among first, in the coach's words; all other columns of MEANINGS follow.
MAIN_COLUMNS: Mapping[str, str] = {
    "winner": "who won the rally",
    "server": "who served",
    "score_a": "points of player 1 before the rally",
    "score_b": "points of player 2 before the rally",
    "game": "number of the game",
    "box": "service box",
    "kind": "kind of serve",
    "how_taken": "how the return was taken",
    "return_to": "where the return went",
    "left": "return quality",
    "ending": "how it ended",
    "ending_stroke": "last shot",
    "ending_place": "where it ended",
    "let": "let (yes or no)",
    "start_s": "start of the rally in the video",
    "end_s": "end of the rally in the video",
    "shots": "number of shots",
    "note": "note",
    "keep": "flagged for clips (yes or no)",
}
# Headings that coaches write, in English and German: practice, no source.
_ALIASES: Mapping[str, tuple[str, ...]] = {
    "winner": ("won", "won_by", "who_won", "point", "point_to", "rally_won_by", "gewinner", "punkt"),
    "server": ("served", "served_by", "serving", "who_served", "aufschläger", "aufschlag_von"),
    "score_a": ("points_1", "score_1", "punkte_1", "player_1_points"),
    "score_b": ("points_2", "score_2", "punkte_2", "player_2_points"),
    "game": ("game_number", "game_no", "satz"),
    "box": ("side", "service_box", "from", "feld", "aufschlagfeld"),
    "kind": ("serve", "service", "serve_type", "kind_of_serve", "type_of_serve", "aufschlag"),
    "how_taken": ("return", "return_type", "taken", "rückschlag"),
    "return_to": ("return_direction", "return_place"),
    "left": ("return_quality", "quality", "qualität"),
    "ending": ("end", "ended", "how_it_ended", "result_of_rally", "ende"),
    "ending_stroke": ("last_shot", "shot", "final_shot", "letzter_schlag"),
    "ending_place": ("place", "where", "ort"),
    "start_s": ("start", "begin", "time", "from_time", "beginn", "zeit"),
    "end_s": ("end_time", "until", "to_time", "stop"),
    "shots": ("strokes", "rally_length", "number_of_shots", "schläge"),
    "note": ("notes", "comment", "comments", "remark", "notiz", "bemerkung"),
    "keep": ("clip", "clips", "flag", "flagged"),
    "player_a": ("player_1", "player1", "spieler_1"),
    "player_b": ("player_2", "player2", "spieler_2"),
    "match_event": ("event", "tournament", "turnier"),
    "played_on": ("date", "day", "datum"),
}
_BY_ALIAS = {alias: column for column, aliases in _ALIASES.items() for alias in aliases}


@dataclass(frozen=True)
class ColumnGuess:
    """One heading of a table, what its cells look like, and what it is taken for.

    `column` is a name of `MEANINGS`, or "" where the column is not used.
    """

    heading: str
    examples: tuple[str, ...]
    column: str


def guess_columns(sheet: TableSheet, remembered: Mapping[str, str] | None = None) -> tuple[ColumnGuess, ...]:
    """Return a first guess for every heading; no column is given to two headings.

    A heading is taken as goodlength writes it, else as the coach chose it before, else by the words coaches
    use for it, else by its cells.

    Parameters
    ----------
    sheet : TableSheet
        The table as read.
    remembered : mapping of str to str, optional
        Columns chosen before, by heading.
    """
    chosen: dict[str, str] = {}
    steps = (
        {heading: heading for heading in sheet.headings if heading in MEANINGS},
        {
            heading: column
            for heading, column in (remembered or {}).items()
            if column in {*MEANINGS, NOT_USED}
        },
        _BY_ALIAS,
    )
    for step in steps:
        for heading in sheet.headings:
            column = step.get(heading)
            free = column == NOT_USED or column not in chosen.values()
            if heading and heading not in chosen and column is not None and free:
                chosen[heading] = column
    for heading in sheet.headings:
        column = _by_cells(distinct_cells(sheet, heading))
        if heading and heading not in chosen and column and column not in chosen.values():
            chosen[heading] = column
    return tuple(
        ColumnGuess(heading, distinct_cells(sheet, heading)[:3], chosen.get(heading, NOT_USED))
        for heading in sheet.headings
        if heading
    )


def distinct_cells(sheet: TableSheet, heading: str) -> tuple[str, ...]:
    """Return the different cells of a column, in the order they come; empty and skipped ones left out."""
    cells = (words_of(row.cells.get(heading, "")) for row in sheet.rows)
    return tuple(dict.fromkeys(cell for cell in cells if cell and cell.casefold() != SKIPPED))


def _by_cells(cells: Sequence[str]) -> str | None:
    """Return what a column is by its cells alone, where only one meaning fits."""
    low = {cell.casefold() for cell in cells}
    if not low:
        return None
    if low <= {"right", "left", "r", "l"}:
        return "box"
    if low <= {"loose", "tight", "attacked", "not-made", "missed"}:
        return "left"
    if low & {"winner", "unforced error", "unforced-error", "forced error", "forced-error"}:
        return "ending"
    return "kind" if "lob" in low and not low & {"drive", "boast", "drop"} else None


def player_spellings(sheet: TableSheet, columns: Mapping[str, str]) -> tuple[str, str]:
    """Return how the table writes its two players, in the order they come; "" where that cannot be told.

    Parameters
    ----------
    columns : mapping of str to str
        Column by heading; those for server and winner are looked at, and the players' own first.
    """
    headings = {column: heading for heading, column in columns.items() if column}
    named = [
        distinct_cells(sheet, headings[name])[:1] if name in headings else ()
        for name in ("player_a", "player_b")
    ]
    if all(named):
        return named[0][0], named[1][0]
    seen: dict[str, str] = {}
    for column in ("server", "winner"):
        for cell in distinct_cells(sheet, headings[column]) if column in headings else ():
            seen.setdefault(cell.casefold(), cell)
    first, second = (*seen.values(), "", "")[:2]
    return (first, second) if len(seen) <= 2 else ("", "")


def under_columns(sheet: TableSheet, columns: Mapping[str, str]) -> TableSheet:
    """Return the table with each heading as the column it was chosen for; unused columns are left out.

    Two headings for one column: the later one is a problem, named as in the file.
    """
    problems, named = list(sheet.problems), dict[str, str]()
    for heading in sheet.headings:
        column = columns.get(heading, NOT_USED)
        if column and column in named:
            problems.append(
                f"“{_heading_words(named[column])}” and “{_heading_words(heading)}” are both chosen "
                f"as “{MAIN_COLUMNS.get(column, column)}”. "
                "Choose one of them, and “not used” for the other"
            )
        elif column:
            named[column] = heading
    rows = tuple(
        TableRow(
            row.line,
            {column: _plain(column, row.cells.get(heading, "")) for column, heading in named.items()},
        )
        for row in sheet.rows
    )
    return replace(
        sheet,
        headings=tuple(named),
        rows=rows,
        problems=tuple(problems),
        written_as={**sheet.written_as, **named},
    )


def _heading_words(heading: str) -> str:
    return heading.replace("_", " ")


def _plain(column: str, cell: str) -> str:
    """Return a cell as its column is written: r and l are the boxes, and missed is not made."""
    low = cell.casefold()
    if column == "box" and low in ("r", "l"):
        return {"r": "right", "l": "left"}[low]
    if column == "left" and low == "missed":
        return "not-made"
    if column == "let" and low not in (*YES, *NO) and low:
        return "yes" if low == "let" else cell
    if column in TIMES and low.endswith("s") and is_number(low[:-1].strip()):
        return low[:-1].strip()
    return cell
