"""What the coach draws on frames of a match, stored beside the record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import DamagedFile, InputError, NotFound
from goodlength.files.library_layout import frame_drawings_file
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.import_export.coach_annotation_json import (
    MOST_DRAWINGS,
    FrameDrawing,
    drawing_from_plain,
    drawings_to_plain,
)

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

_KEY = "drawings"
NEAR_US = 3_000_000  # so far outside a rally its drawing still belongs to it


def frame_drawings(library: Library, match_id: str) -> tuple[FrameDrawing, ...]:
    """Return everything drawn on frames of a match, in the order drawn.

    Raises
    ------
    DamagedFile
        What was stored cannot be read; the file is left as it is.
    """
    path = frame_drawings_file(library.folder, match_id)
    try:
        return _read(path, JsonFile(path).read())
    except DamagedFile as error:
        raise _unreadable(path, error) from error


def drawings_left_out(library: Library, match_id: str) -> str:
    """Return why an export goes without the drawings of a match, in words; empty where they can be read."""
    try:
        frame_drawings(library, match_id)
    except DamagedFile as error:
        return error.page_words
    return ""


def readable_drawings(library: Library, match_id: str) -> tuple[FrameDrawing, ...]:
    """Return `frame_drawings`, or none where they cannot be read: `drawings_left_out` says it."""
    try:
        return frame_drawings(library, match_id)
    except DamagedFile:
        return ()


def save_drawing(opened: OpenMatch, fields: object) -> tuple[FrameDrawing, ...]:
    """Store one piece with the rally it was drawn in; sent twice, it is stored once.

    Parameters
    ----------
    fields : mapping
        `id`, `at_us`, `kind`, `points`, and `text` of a text.

    Raises
    ------
    InputError
        With the value, and what would be accepted; or there are too many.
    DamagedFile
        What was stored before cannot be read; it is not overwritten.
    NoSpace
        The library's folder cannot be written.
    """
    drawing = drawing_from_plain(fields)
    drawing = replace(drawing, rally=_rally_at(opened, drawing.at_us))
    return add_drawings(opened.library, opened.id, [drawing])


def add_drawings(
    library: Library, match_id: str, drawings: Sequence[FrameDrawing]
) -> tuple[FrameDrawing, ...]:
    """Store pieces as they are; one of the same id is replaced.

    Raises
    ------
    InputError, DamagedFile, NoSpace
        As `save_drawing`.
    """
    path = frame_drawings_file(library.folder, match_id)

    def with_these(stored: dict[str, Any]) -> dict[str, Any]:
        by_id = {drawing.id: drawing for drawing in (*_read(path, stored), *drawings)}
        if len(by_id) > MOST_DRAWINGS:
            raise InputError(
                f"At most {MOST_DRAWINGS} drawings fit in a match. Remove some, then draw again."
            )
        return {**stored, _KEY: drawings_to_plain(tuple(by_id.values()))}

    return _read(path, JsonFile(path).update(with_these))


def remove_drawing(library: Library, match_id: str, drawing_id: str) -> tuple[FrameDrawing, ...]:
    """Remove one piece; whoever asked has it still, and can store it again.

    Raises
    ------
    NotFound
        There is no such piece.
    DamagedFile, NoSpace
        As `save_drawing`.
    """
    path = frame_drawings_file(library.folder, match_id)
    if not any(drawing.id == drawing_id for drawing in frame_drawings(library, match_id)):
        raise NotFound("That drawing is not there any more. Reload the page.")

    def without(stored: dict[str, Any]) -> dict[str, Any]:
        rest = [drawing for drawing in _read(path, stored) if drawing.id != drawing_id]
        return {**stored, _KEY: drawings_to_plain(rest)}

    return _read(path, JsonFile(path).update(without))


def _read(path: Path, stored: dict[str, Any]) -> tuple[FrameDrawing, ...]:
    plain = stored.get(_KEY, [])
    try:
        if not isinstance(plain, list) or len(plain) > MOST_DRAWINGS:
            raise InputError("The drawings are not a list, or too many.")
        return tuple(drawing_from_plain(value, f"drawing {n}") for n, value in enumerate(plain, 1))
    except InputError as error:
        raise _unreadable(path, error) from error


def _unreadable(path: Path, error: InputError) -> DamagedFile:
    return DamagedFile(
        f"The drawings on frames cannot be read from {path} ({error}). The file is left as it is. "
        "Restore it from a back-up, or move it away and draw again.",
        page="The drawings of this match cannot be read. They are left as they are. Restore the library "
        f"from a backup, or move the file {path.name} out of its folder and draw again.",
    )


def _rally_at(opened: OpenMatch, us: int) -> str:
    """Return the key of the rally whose time holds a moment, or lies nearest to it; empty far from all."""
    near = [
        (max(rally.start_us - us, us - rally.end_us, 0), rally.key)
        for rally in opened.match.rallies
        if rally.start_us is not None and rally.end_us is not None
    ]
    distance, key = min(near, default=(NEAR_US + 1, ""))
    return key if distance <= NEAR_US else ""
