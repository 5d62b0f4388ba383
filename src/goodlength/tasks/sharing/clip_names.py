"""Names of what was made for showing: by its content, or as the coach has named it.

The name is that of the file a coach saves; the file in the library keeps its own.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import InputError
from goodlength.files.library_layout import clip_names_file, export_file
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.rally_sentences import sheet_words

if TYPE_CHECKING:
    from goodlength.record.model import Rally
    from goodlength.tasks.match.lazy_match import OpenMatch

MOST_LETTERS = 80
_KEY = "names"
_KINDS = {
    "clip": "clip",
    "reel": "highlights",
    "pair": "side by side",
    "stills": "stills",
    "pack": "handout with clips",
}
_UNFIT = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]+')  # what some system does not take in a file's name


def clip_name(opened: OpenMatch, kind: str, path: str) -> str:
    """Return the name of something made, without ending: the coach's own, else what it shows.

    Parameters
    ----------
    kind : str
        "clip", "reel", "pair", "stills" or "pack".
    path : str
        Where it lies.
    """
    own = JsonFile(clip_names_file(opened.library.folder, opened.id)).shown().get(_KEY, {})
    given = own.get(Path(path).name) if isinstance(own, dict) else None
    if isinstance(given, str) and (name := _fit(given)):
        return name
    rally = _rally_of(opened, path) if kind == "clip" else None
    return _KINDS[kind] if rally is None else rally_name(rally, opened)


def rally_name(rally: Rally, opened: OpenMatch) -> str:
    """Return what a rally's clip shows, fit for the name of a file: "game 2, 7–6, lob, loose"."""
    words = sheet_words(rally, opened.kind_words).lower()
    score = f"game {rally.game}, {rally.before[0]}–{rally.before[1]}"
    return _fit(f"{score}, {words}" if words else score)


def rename_clip(opened: OpenMatch, path: str, name: str) -> str:
    """Store another name for something made; empty brings back the one by its content.

    Raises
    ------
    InputError
        The name is too long, or has letters that no file's name may have.
    DamagedFile
        The names stored before cannot be read; they are not overwritten.
    NoSpace
        The library's folder cannot be written.
    """
    wished = name.strip()
    if len(wished) > MOST_LETTERS:
        raise InputError(f"A name has at most {MOST_LETTERS} letters; this one has {len(wished)}.")
    if wished != _fit(wished):
        raise InputError(
            'The name cannot be used for a file. Leave out the characters < > : " / \\ | ? * and a full stop '
            "at its ends."
        )

    def with_name(stored: dict[str, Any]) -> dict[str, Any]:
        names = stored.get(_KEY, {})
        names = {} if not isinstance(names, dict) else {**names}
        names.pop(Path(path).name, None)
        return {**stored, _KEY: {**names, Path(path).name: wished} if wished else names}

    JsonFile(clip_names_file(opened.library.folder, opened.id)).update(with_name)
    return wished


def _rally_of(opened: OpenMatch, path: str) -> Rally | None:
    folder = opened.library.folder
    for rally in opened.match.rallies:
        if export_file(folder, opened.id, "clip", rally.key, "mp4").name == Path(path).name:
            return rally
    return None


def _fit(name: str) -> str:
    """Return a name without what no file's name may have."""
    return _UNFIT.sub(" ", name).strip(" .")[:MOST_LETTERS]
