"""Text that the coach typed on the handout page, stored beside the handout."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, StrictBool, StrictStr

from goodlength.errors import DamagedFile, InputError
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.files.typed_value_parsing import read_as
from goodlength.record.model import Clip
from goodlength.record.store.library_store import now_utc

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


class EditedField(BaseModel):
    """A text typed over the program's own, kept beside the one it was typed over."""

    model_config = ConfigDict(frozen=True)
    said: StrictStr
    was: StrictStr


class HandoutText(BaseModel):
    """Findings chosen, in order; fields typed over (`headline:KEY`, `words:KEY`); a text of one's own.

    `grades` are those that the findings chosen had then, `language` that of the sentences typed over; empty
    where it was not kept. With `watched` only rallies that a person watched are counted.
    """

    model_config = ConfigDict(frozen=True)
    chosen: list[StrictStr]
    fields: dict[str, EditedField]
    own: StrictStr
    stills: StrictBool = False
    week: StrictBool = False
    turning: StrictBool = False
    back: StrictBool = False
    watched: StrictBool = False
    language: StrictStr = ""
    grades: dict[str, StrictStr] = {}

    def over(self, name: str) -> str | None:
        """Return what was typed over a field; None where nothing was."""
        return self.fields[name].said if name in self.fields else None


def read_handout_text(opened: OpenMatch) -> HandoutText | None:
    """Return what was typed last time; None for nothing.

    Raises
    ------
    DamagedFile
        It cannot be read; the file is left as it is.
    """
    path = _file(opened)
    try:
        stored = JsonFile(path).read()
    except DamagedFile as error:
        raise _damaged(path, error) from error
    return _read(path, stored) if stored else None


def save_handout_text(opened: OpenMatch, text: HandoutText) -> None:
    """Keep what was typed; it goes when the match or a player is erased.

    Raises
    ------
    DamagedFile
        What was kept before cannot be read; it is not overwritten.
    NoSpace
        The library's folder cannot be written.
    """
    path = _file(opened)
    read_handout_text(opened)
    JsonFile(path).update(lambda _: text.model_dump())
    opened.library.save_clip(Clip(path.name, opened.id, str(path), made_utc=now_utc()))


def _file(opened: OpenMatch) -> Path:
    folder = library_layout.handout_folder(opened.library.folder)
    return folder / f"{library_layout.handout_stem(opened.id)}.json"


def _read(path: Path, stored: Mapping[str, object]) -> HandoutText:
    try:
        return read_as(HandoutText, stored, "text of the handout")
    except InputError as error:
        raise _damaged(path, error) from error


def _damaged(path: Path, error: InputError) -> DamagedFile:
    return DamagedFile(
        f"The text typed for this handout cannot be read from {path} ({error}). It is left as it is. Restore "
        "it from a back-up, or move it away and type the text again.",
        page=f"The text you typed for this handout cannot be read. It is left as it is. Restore the library "
        f"from a back-up, or move the file {path.name} out of its folder and type the text again.",
    )
