"""Notes of the coach between the games of a match, one a game, stored beside the record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.errors import InputError, NotFound
from goodlength.files.library_layout import between_notes_file
from goodlength.files.locked_json_file import JsonFile

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

MOST_LETTERS = 600


def between_notes(opened: OpenMatch) -> dict[int, str]:
    """Return the note written after each game, by the game's number; an empty note is left out."""
    stored = JsonFile(between_notes_file(opened.library.folder, opened.id)).shown().get("notes")
    if not isinstance(stored, dict):
        return {}
    fits = {int(n): text for n, text in stored.items() if n.isdecimal() and len(n) < 4}
    return {n: text for n, text in sorted(fits.items()) if isinstance(text, str) and text}


def save_between_note(opened: OpenMatch, game: int, note: str) -> None:
    """Store the note written after a game, in place of the one before; an empty one deletes it.

    Raises
    ------
    NotFound
        The match has no such game.
    InputError
        The note is longer than 600 letters.
    DamagedFile
        The notes stored before cannot be read; they are not overwritten.
    """
    text = note.replace("\r\n", "\n").strip()
    if len(text) > MOST_LETTERS:
        raise InputError(f"A note has at most {MOST_LETTERS} letters; this one has {len(text)}. Shorten it.")
    games = [game_item.n for game_item in opened.match.games]
    if game not in games:
        named = ", ".join(map(str, games)) or "none yet"
        raise NotFound(f"There is no game {game} in this match (games: {named}). Choose a game of the list.")

    def with_note(plain: dict[str, object]) -> dict[str, object]:
        before = plain.get("notes")
        notes = dict(before) if isinstance(before, dict) else {}
        notes.pop(str(game), None)
        return {**plain, "notes": {**notes, str(game): text} if text else notes}

    JsonFile(between_notes_file(opened.library.folder, opened.id)).update(with_note)
