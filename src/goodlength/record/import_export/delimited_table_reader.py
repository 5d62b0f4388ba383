"""Read the bytes of a delimited table into rows of cells, with the dialect that was detected."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from goodlength.errors import InputError, UnclearError
from goodlength.record.import_export.text_decoding import decode

_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_MOST_CELLS = 200
MOST_RALLIES = 2_000  # lines of a table of rallies; five games of 40 rallies are 200
MOST_SHOTS = 40_000  # lines of a table of shots
_MOST_LINES = 100_000  # blank ones too, as spreadsheets leave them below a table
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_DATE_LIKE = (
    re.compile(r"\d{1,4}\s*[-./ ]\s*[^\W\d]{3,}\.?(?:\s*[-./ ]\s*\d{1,4})?"),  # 11-Sep, 9. Nov, 11-Sep-25
    re.compile(r"[^\W\d]{3,}\.?\s*[-./ ]\s*\d{1,4}"),  # Sep-11
    re.compile(r"\d{4}-\d{1,2}-\d{1,2}(?:[ T]\d{1,2}:\d{2}.*)?"),  # 2025-09-11
    re.compile(r"\d{1,2}([./-])\d{1,2}\1\d{2,4}"),  # 11/09/2025, 11.9.25
)


@dataclass(frozen=True)
class TableRow:
    """One line of the table: its number in the file, and its cells by heading."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class TableSheet:
    """A table as read: headings, rows, and how it was written, in words.

    `written_as` gives the heading of the file for a column that was chosen for it.
    """

    headings: tuple[str, ...]
    rows: tuple[TableRow, ...]
    written: tuple[str, ...]
    separator: str
    problems: tuple[str, ...] = ()
    written_as: Mapping[str, str] = field(default_factory=dict)

    def heading_words(self, column: str) -> str:
        """Return a column as the file heads it."""
        own = self.written_as.get(column, column)
        return column if own == column else f"“{own.replace('_', ' ')}”"


def read_sheet(data: bytes, most: int = MOST_RALLIES) -> TableSheet:
    """Read a table written by any spreadsheet, of at most so many lines that say something.

    Copes with a byte-order mark, UTF-16, Windows-1252, a first line `sep=;`, commas, semicolons and
    tabs. Nothing is guessed: where two separators would fit, it asks.

    Raises
    ------
    InputError
        If it is empty, no text, too long for one match, or has no line of headings.
    UnclearError
        If more than one separator would give a table.
    """
    text = decode(data)
    body, first_line, declared = text.text, 1, None
    head, _, rest = body.partition("\n")
    named = re.fullmatch(r"\s*\"?sep=(.)\"?\s*", head.rstrip("\r\n"))
    if named:
        declared, body, first_line = named.group(1), rest, 2
        if declared not in _SEPARATORS:
            raise InputError(
                f"The first line says cells are separated by {declared!r}; commas, semicolons and tabs can "
                "be read. Save the table with one of these."
            )
    separator = declared or _separator(body)
    written = (
        f"written in {text.written_in}",
        f"cells separated by {_SEPARATORS[separator]}" + (" (as the first line says)" if declared else ""),
    )
    return _cells(body, separator, first_line, written, most)


def _separator(body: str) -> str:
    """Return the separator that gives the same number of cells, more than one, in every line read."""
    fits: dict[str, int] = {}
    for separator in _SEPARATORS:
        counts = {len(row) for row in _some_rows(body, separator) if row}
        widest = max(counts, default=1)
        if widest > 1 and len(counts) == 1:
            fits[separator] = widest
    if len(fits) == 1:
        return next(iter(fits))
    if not fits:
        in_heading = {s: body.partition("\n")[0].count(s) for s in _SEPARATORS}
        best = max(in_heading, key=lambda s: in_heading[s])
        if in_heading[best] == 0 or list(in_heading.values()).count(in_heading[best]) > 1:
            return ","
        return best
    raise UnclearError(
        f"The table could be separated by {' or by '.join(_SEPARATORS[s] for s in fits)}; each fits every "
        "line. Say which by a first line such as sep=; and import it again."
    )


def _some_rows(body: str, separator: str) -> list[list[str]]:
    rows = []
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=separator)
    try:
        for row in reader:
            rows.append(row)
            if len(rows) >= 50:
                break
    except csv.Error:
        return []
    return rows


def _cells(body: str, separator: str, first_line: int, written: tuple[str, ...], most: int) -> TableSheet:
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=separator)
    headings: tuple[str, ...] = ()
    rows: list[TableRow] = []
    problems: list[str] = []
    at = first_line
    try:
        for cells in reader:
            line, at = at, first_line + reader.line_num
            has_text = any(cell.strip() for cell in cells)
            if at > _MOST_LINES or (has_text and len(rows) >= most):
                raise InputError(
                    f"The table has more than {most:,} lines; one match has a few hundred rallies. "
                    "Save the lines of one match as a table of their own, and choose that."
                )
            if not has_text:
                continue
            if not headings:
                headings = tuple(cell.strip().casefold().replace(" ", "_") for cell in cells)
                continue
            if len(cells) > len(headings) and any(cell.strip() for cell in cells[len(headings) :]):
                problems.append(
                    f"line {line}: {len(cells)} cells under {len(headings)} headings; "
                    "a cell that holds the separator needs quotes around it"
                )
            rows.append(TableRow(line, dict(zip(headings, (cell.strip() for cell in cells), strict=False))))
    except csv.Error as error:
        problems.append(f"line {at}: the table ends here ({error})")
    if not headings or len(headings) > _MOST_CELLS:
        raise InputError(
            "The table has no line of headings that can be read. See docs/reference/csv.md.",
            page="The table has no line of headings that can be read. Its first line must name the columns, "
            "such as game, server and winner.",
        )
    doubled = sorted({name for name in headings if name and headings.count(name) > 1})
    if doubled:
        problems.append(
            f"line {first_line}: the heading {doubled[0]!r} is there twice; which one counts is unclear"
        )
    return TableSheet(headings, tuple(rows), written, separator, tuple(problems))


def looks_like_date(cell: str) -> bool:
    """Return whether a spreadsheet has turned a score into a date, or something else into one.

    Examples
    --------
    >>> [looks_like_date(c) for c in ("11-Sep", "Sep-11", "2025-09-11", "11/09/2025", "11", "12.5")]
    [True, True, True, True, False, False]
    """
    return any(pattern.fullmatch(cell.strip()) for pattern in _DATE_LIKE)


def is_number(cell: str) -> bool:
    """Return whether a cell holds one number, with a decimal point or comma."""
    return _NUMBER.fullmatch(cell) is not None
