"""JSON form of detected rallies."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from goodlength.files.json_types import Json
from goodlength.tasks.footage.rally_detection import ListedRallies

_JSON_KEYS = {"outcome": "told", "picture_searched": "looked_at"}


def rallies_form(found: ListedRallies) -> dict[str, Json]:
    """Return the same as plain values for the page and `--json`; times in microseconds of match time."""
    plain = _with_json_keys(asdict(found))
    plain["rallies"] = [
        {
            name: value
            for name, value in _with_json_keys(rally).items()
            if name not in ("impacts", "impact_chances")
        }
        | {"hits_us": list(rally["hits_us"])}
        for rally in plain["rallies"]
    ]
    return plain


def _with_json_keys(fields: dict[str, Any]) -> dict[str, Any]:
    return {_JSON_KEYS.get(name, name): value for name, value in fields.items()}
