"""List of drills: the library's and the coach's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

from goodlength.errors import InputError, NotFound
from goodlength.files.json_file_reading_with_line_errors import read_typed_json
from goodlength.practice.planning.custom_drills import drill_value, own_drill
from goodlength.practice.planning.drill_library import DRILLS, Drill, drill

if TYPE_CHECKING:
    from goodlength.record.store import Library

SETTING = "practice.drills"


def drills(library: Library | None = None) -> tuple[Drill, ...]:
    """Return the coach's own drills first, then the library of drills."""
    return (*own_drills(library), *DRILLS) if library else DRILLS


def own_drills(library: Library, *, retired: bool = False) -> tuple[Drill, ...]:
    """Return the coach's own drills in the order they were made; `retired` adds those taken out of use."""
    return drills_in(library.settings(), retired=retired)


def drills_in(settings: Mapping[str, object], *, retired: bool = False) -> tuple[Drill, ...]:
    """Return the coach's own drills from settings that were read already."""
    stored = cast("Sequence[object]", settings.get(SETTING) or ())
    return tuple(own_drill(item) for item in stored if retired or not _is_retired(item))


def _is_retired(stored: object) -> bool:
    return isinstance(stored, Mapping) and bool(stored.get("retired"))


def drill_named(library: Library, drill_id: str) -> Drill:
    """Return one drill by id, also one taken out of use: sets logged with it keep their meaning.

    Raises
    ------
    NotFound
        If there is none of that id.
    """
    return drill(drill_id, own_drills(library, retired=True))


def add_drill(library: Library, value: Mapping[str, object]) -> Drill:
    """Keep a drill of the coach's own; `value` as `practice.planning.custom_drills.own_drill` reads it.

    Raises
    ------
    InputError
        With every fault of it: a place off the court, a target outside the wall, a name used already.
    """
    stored = list(library.settings().get(SETTING) or [])
    made = own_drill(value, [drill_item.id for drill_item in own_drills(library, retired=True)])
    library.set_setting(SETTING, [*stored, drill_value(made)])
    return made


def add_drill_from(library: Library, path: Path) -> Drill:
    """Keep a drill of the coach's own from a JSON file.

    Raises
    ------
    InputError
        If the file is not a JSON object, or with every fault of the drill.
    """
    value = read_typed_json(
        path,
        "It should hold a drill, in the form that `practice drills --json` prints.",
        page="The file holds no drill. Add the drill on the Drills page.",
    )
    if not isinstance(value, dict):
        raise InputError(
            f"{path.name} holds no drill: one drill is one JSON object, not a list. Try again.",
            page="The file holds no drill. Add the drill on the Drills page.",
        )
    return add_drill(library, value)


def retire_drill(library: Library, drill_id: str) -> None:
    """Take a drill of the coach's own out of use; what was logged with it stays.

    Raises
    ------
    NotFound
        If no drill of the coach's own has that id.
    """
    stored = list(library.settings().get(SETTING) or [])
    if not any(item["id"] == drill_id for item in stored):
        raise NotFound(
            f"There is no drill of your own called {drill_id!r}. The library's drills stay.",
            page="Only your own drills can be archived. The library's drills stay.",
        )
    library.set_setting(
        SETTING, [{**item, "retired": True} if item["id"] == drill_id else item for item in stored]
    )
