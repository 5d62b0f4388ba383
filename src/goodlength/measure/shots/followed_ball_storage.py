"""The followed ball of a match as one JSON file, and the published schema of it."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from goodlength.errors import DamagedFile
from goodlength.files.json_types import Json, JsonObject
from goodlength.files.locked_json_file import JsonFile
from goodlength.measure.shots.followed_ball_types import FORMAT, FollowedMatch, FollowedRally

_TITLE = "The ball followed through a match, by goodlength"
_MATCH: TypeAdapter[FollowedMatch] = TypeAdapter(FollowedMatch)
_RALLY: TypeAdapter[FollowedRally] = TypeAdapter(FollowedRally)
_SPAN = ("key", "footage", "from_us", "until_us")
UNREADABLE = "What is stored of this rally cannot be read. Follow the ball again."


def followed_json(followed: FollowedMatch) -> dict[str, Json]:
    """Return the followed ball as plain values, in the form of docs/reference/followed-ball.schema.json."""
    plain: dict[str, Json] = _MATCH.dump_python(followed, mode="json")
    return plain


def followed_from_json(plain: JsonObject) -> FollowedMatch:
    """Return the followed ball from plain values.

    Raises
    ------
    pydantic.ValidationError
        They are not in that form.
    """
    return _MATCH.validate_python(plain)


def check_followed(rally: FollowedRally) -> None:
    """Check that a rally can be stored and read again.

    Raises
    ------
    pydantic.ValidationError
        A value is not what the form allows, such as a place that is no number.
    """
    followed_from_json(followed_json(FollowedMatch("", "", 1, (rally,))))


def write_followed(path: Path, followed: FollowedMatch) -> None:
    """Write everything to a file, whole or not at all; its folder is made.

    Raises
    ------
    NoSpace
        The folder cannot be written; the file is as it was.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    JsonFile(path).write(followed_json(followed))


def read_followed(path: Path) -> FollowedMatch | None:
    """Return what was followed; None where nothing is stored, or another version stored it.

    Of a rally that is not in the form, such as one with a variance below nought, only its span is given, and
    why; the others stand.

    Raises
    ------
    DamagedFile
        No rally of it can be read; the text says what to do.
    """
    return _of_content(path, JsonFile(path).content())


@lru_cache(maxsize=2)
def _of_content(path: Path, content: bytes | None) -> FollowedMatch | None:
    """Return what the bytes of a file hold; a correction reads the same bytes several times."""
    return _validated(path, JsonFile(path).parsed(content))


def read_followed_lightly(path: Path) -> FollowedMatch | None:
    """Return the same with the last sample of each path alone; read once a change of the file.

    For lists and proposals, which draw no path: a match of 80 rallies has a hundred thousand samples.

    Raises
    ------
    DamagedFile
        As `read_followed`.
    """
    try:
        seen = path.stat()
    except OSError:
        return None
    return _light(path, seen.st_mtime_ns, seen.st_size)


@lru_cache(maxsize=4)
def _light(path: Path, _changed_ns: int, _size: int) -> FollowedMatch | None:
    plain = JsonFile(path).read()
    for rally in _dicts(plain.get("rallies")):
        for shot in _dicts(rally.get("shots")):
            for each in _dicts(shot.get("paths")):
                samples = each.get("samples")
                each["samples"] = samples[-1:] if isinstance(samples, list) else samples
    return _validated(path, plain)


def _dicts(value: object) -> list[dict[str, Any]]:
    return [item for item in value if isinstance(item, dict)] if isinstance(value, list) else []


def _validated(path: Path, plain: JsonObject) -> FollowedMatch | None:
    if not plain or plain.get("format") != FORMAT:
        return None
    try:
        return followed_from_json(plain)
    except ValidationError as error:
        rest = _sound_rallies(plain)
        if rest is not None:
            return rest
        raise DamagedFile(
            f"The file {path} does not hold a followed ball ({error.error_count()} faults, the first at "
            f"{_place_of(error)}). Delete it and follow the ball again.",
            page="The followed ball of this match cannot be read. Press “Follow the ball again” on the "
            "Footage page.",
        ) from None


def _sound_rallies(plain: JsonObject) -> FollowedMatch | None:
    """Return the match with each rally that is not in the form as one without shots; None where none is.

    Nothing is given either where such a rally's key, file or span cannot be read.
    """
    rallies: list[Json] = []
    sound = 0
    for rally in _dicts(plain.get("rallies")):
        try:
            _RALLY.validate_python(rally)
        except ValidationError:
            rallies.append({name: rally.get(name) for name in _SPAN} | {"shots": [], "reason": UNREADABLE})
        else:
            rallies.append(rally)
            sound += 1
    try:
        return followed_from_json({**plain, "rallies": rallies}) if sound else None
    except ValidationError:
        return None


def _place_of(error: ValidationError) -> str:
    return ".".join(str(part) for part in error.errors()[0]["loc"])


def followed_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of what `footage shots --to FILE.json` writes."""
    schema = TypeAdapter(FollowedMatch).json_schema()
    schema["title"] = _TITLE
    schema["description"] = (
        "Shots of each rally with their contacts, places with covariance, path and chance. Times are media "
        "time in microseconds of the rally's file; places are metres in the court's frame (x from the left "
        "wall facing the front wall, y from the front wall, z up). Everything is a proposal; nothing of it "
        "is in the record of the match."
    )
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def followed_schema_text() -> str:
    """Return the schema as the published file holds it."""
    return json.dumps(followed_schema(), indent=2, ensure_ascii=False, sort_keys=True) + "\n"
