"""What the coach asked of the preparation of a match: a small file beside the library's database."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile, exclusive


@dataclass(frozen=True)
class PreparationState:
    """Preparation of one match as asked for.

    `since_s` is when it was begun or continued, seconds since 1970: of the jobs, only later ones count.
    `faults` say by step why it could not be started, `skipped` names next steps that the coach leaves out.
    `ball` says whether to search the ball: "search", "leave out", or "" while the coach has not said.
    """

    match: str = ""
    wanted: bool = False
    paused: bool = False
    since_s: float = 0.0
    faults: Mapping[str, str] = ()  # type: ignore[assignment]
    skipped: tuple[str, ...] = ()
    ball: str = ""

    def __post_init__(self) -> None:
        """Take what a file held in their types."""
        object.__setattr__(self, "faults", dict(self.faults))
        object.__setattr__(self, "skipped", tuple(self.skipped))


def read_state(folder: Path, match_id: str) -> PreparationState:
    """Return what was asked for; nothing where there is no file, or none that can be read."""
    plain = JsonFile(library_layout.preparation_file(folder, match_id)).shown()
    return _state_in(plain)


def _state_in(plain: Mapping[str, Any]) -> PreparationState:
    known = {field.name for field in fields(PreparationState)}
    values = {name: value for name, value in plain.items() if name in known}
    sound = (
        all(isinstance(values.get(name, False), bool) for name in ("wanted", "paused"))
        and isinstance(values.get("since_s", 0.0), int | float)
        and isinstance(values.get("faults", {}), dict)
        and isinstance(values.get("skipped", []), list)
    )
    if not sound or not all(isinstance(text, str) for text in _texts(values)):
        return PreparationState()
    return PreparationState(**values)


def _texts(values: Mapping[str, Any]) -> list[object]:
    faults = values.get("faults", {})
    return [
        values.get("match", ""),
        values.get("ball", ""),
        *faults,
        *faults.values(),
        *values.get("skipped", []),
    ]


def change_state(folder: Path, match_id: str, **changes: object) -> PreparationState:
    """Change what is asked for, whole or not at all.

    Raises
    ------
    NoSpace, Conflict
        It cannot be written.
    """
    path = library_layout.preparation_file(folder, match_id)
    path.parent.mkdir(parents=True, exist_ok=True)
    with exclusive(path.parent):
        plain = {**asdict(_state_in(JsonFile(path).shown())), **changes, "match": match_id}
        made = PreparationState(**plain)
        JsonFile(path).write({**asdict(made), "skipped": list(made.skipped)})
    return made


def note_begin(folder: Path, match_id: str) -> PreparationState:
    """Note that a match is to be prepared from now on."""
    return change_state(folder, match_id, wanted=True, paused=False, since_s=time.time(), faults={})


def wanted_matches(folder: Path) -> list[str]:
    """Return the ids of the matches to be prepared, those first asked for first."""
    found = []
    for path in library_layout.preparation_folder(folder).glob("*.json"):
        state = _state_in(JsonFile(path).shown())
        if state.wanted and not state.paused:
            found.append((state.since_s, state.match))
    return [match for _, match in sorted(found)]
