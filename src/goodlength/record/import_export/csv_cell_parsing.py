"""Parse and check the cells of the rally table; a fault is reported, never repaired."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from goodlength.record.answer_enumerations import PLACES, RECEIVER_PLACES, RETURN_TO
from goodlength.record.import_export.delimited_table_reader import is_number, looks_like_date
from goodlength.record.import_export.match_csv_export import DOUBTFUL, DRAFTED, SKIPPED, unsafe
from goodlength.record.model import Depth, Ending, KindOfServe, Left, ReturnKind, ShotType

NO_ANSWER = object()  # an empty cell: the question was not answered
YES = ("yes", "true", "1", "y", "x")
NO = ("no", "false", "0", "n")


class CellFault(Exception):
    """What is wrong with a cell, in words."""


def words_of(cell: str) -> str:
    """Return a cell of words."""
    return unsafe(cell)


def whole(cell: str) -> int:
    """Return a whole number; a date made of a score is named as such."""
    if looks_like_date(cell):
        raise CellFault(
            f"{cell!r} is a date. A spreadsheet has turned a score such as 11-9 into it, and what it was "
            "cannot be told for sure. Write the points in two columns of numbers, score_a and score_b"
        )
    try:
        return int(cell)
    except ValueError:
        raise CellFault(f"{cell!r} is not a whole number") from None


def seconds_reader(decimal: str) -> Callable[[str], int]:
    """Return a reader for seconds (or minutes:seconds) with this decimal sign, as microseconds.

    Examples
    --------
    >>> seconds_reader(",")("12,5"), seconds_reader(".")("31:14.6")
    (12500000, 1874600000)
    """

    def read(cell: str) -> int:
        *before, last = cell.split(":")
        if len(before) > 2 or not all(part.isdecimal() for part in before) or not _is_time(last, decimal):
            raise CellFault(f"{cell!r} is not a time in seconds (such as 12{decimal}5) or minutes:seconds")
        total = 0
        for part in before:
            total = total * 60 + int(part)
        return round((total * 60 + float(last.replace(decimal, "."))) * 1e6)

    return read


def _is_time(cell: str, decimal: str) -> bool:
    other = "," if decimal == "." else "."
    return is_number(cell) and other not in cell


def yes_no(cell: str) -> bool:
    """Yes or no."""
    low = cell.casefold()
    if low in YES or low in NO:
        return low in YES
    raise CellFault(f"{cell!r} is not yes or no")


def watched(cell: str) -> bool | str:
    """Yes or no, or that the draft put the rally on the sheet."""
    word = cell.casefold()
    if word in (DRAFTED, DOUBTFUL):
        return word
    try:
        return yes_no(cell)
    except CellFault:
        raise CellFault(f"{cell!r} is not yes, no, {DRAFTED} or {DOUBTFUL}") from None


def choice(words: Sequence[str]) -> Callable[[str], str]:
    """Return a reader for one of some words, in any case, with spaces or dashes."""
    known = {word.casefold(): word for word in words}

    def read(cell: str) -> str:
        plain = cell.casefold().replace(" ", "-").replace("_", "-")
        if plain not in known:
            raise CellFault(f"{cell!r} is not known; it can be {', '.join(words)}")
        return known[plain]

    return read


def kind_reader(kinds: Sequence[KindOfServe]) -> Callable[[str], str]:
    """Return a reader for a kind of serve by its id or its words."""
    known = {kind.id.casefold(): kind.id for kind in kinds}
    known.update({kind.words.casefold(): kind.id for kind in kinds})

    def read(cell: str) -> str:
        plain = unsafe(cell).casefold()
        if plain not in known:
            offered = ", ".join(kind.words for kind in kinds if not kind.retired)
            raise CellFault(
                f"the kind of serve {cell!r} is not in this library; it has {offered}. "
                "Add the kind in Settings first"
            )
        return known[plain]

    return read


def side_reader(
    names: tuple[str, str], ids: tuple[str, str], written: tuple[str, str] = ("", "")
) -> Callable[[str], str]:
    """Return a reader for a player by name, id, as the table writes the player, or a and b."""
    known: dict[str, str] = {}
    for letter, *spellings in (("a", names[0], ids[0]), ("b", names[1], ids[1])):
        for spelling in spellings:
            if spelling:
                known[spelling.casefold()] = letter
    if names[0].casefold() == names[1].casefold():
        known.pop(names[0].casefold(), None)
    known.update({"a": "a", "b": "b"})
    known.update(
        {spelling.casefold(): letter for letter, spelling in zip("ab", written, strict=True) if spelling}
    )

    def read(cell: str) -> str:
        plain = unsafe(cell).casefold()
        if plain not in known:
            also = [spelling or letter for letter, spelling in zip("ab", written, strict=True)]
            raise CellFault(
                f"the player {cell!r} is neither {names[0]} (or {also[0]}) nor {names[1]} (or {also[1]})"
            )
        return known[plain]

    return read


def skippable(read: Callable[[str], Any]) -> Callable[[str], Any]:
    """Return a reader that knows the words for a skipped answer; they give None."""
    return lambda cell: None if cell.casefold() == SKIPPED else read(cell)


HOW = choice([kind.value for kind in ReturnKind])
LEFT = choice([left.value for left in Left])
ENDING = choice([ending.value for ending in Ending])
STROKE = choice([shot_type.value for shot_type in ShotType])
PLACE = choice(PLACES)
TO = choice(RETURN_TO)
RECEIVER = choice(RECEIVER_PLACES)
BOX = choice(("right", "left"))
WHY = choice(("choice", "execution"))
DEPTH = choice([depth.value for depth in Depth])
DECISION = choice(("let", "no-let", "stroke"))
CALL = choice(("fault", "down", "not-up", "out"))
EVENT = choice(("rally", "conduct", "conduct-game", "retired"))
SYSTEM = choice(("rally", "hand-out"))
