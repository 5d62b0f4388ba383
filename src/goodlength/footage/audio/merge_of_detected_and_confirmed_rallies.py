"""Store newly detected rallies without touching those the coach has confirmed or changed.

```
 saved before  |a|   |b, confirmed|  |c|           |d, corrected|
 found anew    |a2|  |b2|  |b3|         |e|
 saved now     |a2|  |b, confirmed|     |e|        |d, corrected|
```
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NotRequired, TypedDict, cast

from goodlength.errors import NotFound
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.media_time import Gap, Part, Timeline


class StoredFilm(TypedDict):
    """A film as a search took it: where its range lies on match time."""

    id: str
    path: str
    starts_us: int
    first_us: int
    end_us: int
    keep: NotRequired[str | None]
    keep_motion: NotRequired[str | None]


class StoredRally(TypedDict):
    """A rally as a search saves it, in match time."""

    start_us: int
    end_us: int
    hits_us: Sequence[int]
    doubtful: bool
    why: str
    chance: NotRequired[float | None]
    strikes: NotRequired[Sequence[tuple[int, str, float]]]
    clip_end_us: NotRequired[int | None]


class StoredDetection(TypedDict):
    """What a search found, as it is saved; the rest of its keys say by what and in words."""

    rallies: Sequence[StoredRally]
    films: NotRequired[Sequence[StoredFilm]]


def timeline_of_films(films: Sequence[StoredFilm]) -> Timeline:
    """Return match time over films as a job took them."""
    return Timeline(Part(film["id"], film["starts_us"], film["first_us"], film["end_us"]) for film in films)


def detected_rally_id(timeline: Timeline, start_us: int) -> str | None:
    """Return the id by which corrections name a detected rally: its film, and its start in milliseconds of
    media time; None where no film lies there.
    """
    place = timeline.locate(start_us)
    return None if isinstance(place, Gap) else f"{place.footage_id}-{place.media_us // 1000}"


def corrected_ids(corrections: Mapping[str, Mapping[str, Mapping[str, object]]]) -> set[str]:
    """Return the ids of the rallies that the coach has confirmed or changed in any way."""
    return {key for key, fields in corrections.get("rallies", {}).items() if any(fields.values())}


def sound_searched(to: Path, films: Sequence[StoredFilm]) -> bool:
    """Return whether the sound of these films, placed as they are, was searched."""
    then = cast("Sequence[StoredFilm]", JsonFile(to).shown().get("films", ()))
    return _places(then) == _places(films)


def _places(films: Sequence[StoredFilm]) -> list[tuple[str, int, int, int]]:
    return [(film["id"], film["starts_us"], film["first_us"], film["end_us"]) for film in films]


def save_detection(to: Path, match: str, films: Sequence[StoredFilm], found: StoredDetection) -> None:
    """Save what was found in a match; rallies that the coach has confirmed or changed stay as they were.

    Parameters
    ----------
    to : Path
        The file of what was found; corrections lie beside it (`.said.json`).

    Raises
    ------
    DamagedFile
        The corrections cannot be read; nothing is changed.
    """
    corrections = JsonFile(to.with_suffix(".said.json"))
    with exclusive(to.parent):
        before = cast("StoredDetection", {"rallies": (), **JsonFile(to).shown()})
        stay = retained_rallies(before, films, corrected_ids(corrections.read()))
        rallies = [rally for rally in found["rallies"] if not any(_overlap(rally, old) for old in stay)]
        merged = sorted([*rallies, *stay], key=lambda rally: int(rally["start_us"]))
        JsonFile(to).write({"match": match, "films": list(films), **found, "rallies": merged})


def retained_rallies(
    before: StoredDetection, films: Sequence[StoredFilm], ids: set[str]
) -> list[StoredRally]:
    """Return the rallies saved before whose ids are given, on match time as the films lie now."""
    then, now = timeline_of_films(before.get("films", ())), timeline_of_films(films)
    out = []
    for rally in before["rallies"]:
        if detected_rally_id(then, rally["start_us"]) not in ids:
            continue
        place = then.locate(rally["start_us"])
        if isinstance(place, Gap):
            continue
        try:
            shift = now.match_time(place.footage_id, place.media_us) - rally["start_us"]
        except NotFound:
            continue
        out.append(_shifted(rally, shift))
    return out


def _shifted(rally: StoredRally, by_us: int) -> StoredRally:
    moved = rally.copy()
    moved["start_us"], moved["end_us"] = rally["start_us"] + by_us, rally["end_us"] + by_us
    moved["hits_us"] = [at + by_us for at in rally["hits_us"]]
    if strikes := rally.get("strikes"):
        moved["strikes"] = [(at + by_us, name, chance) for at, name, chance in strikes]
    if clip := rally.get("clip_end_us"):
        moved["clip_end_us"] = clip + by_us
    return moved


def _overlap(a: StoredRally, b: StoredRally) -> bool:
    return a["start_us"] <= b["end_us"] and b["start_us"] <= a["end_us"]
