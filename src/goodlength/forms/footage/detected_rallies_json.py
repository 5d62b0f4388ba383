"""JSON form of detected rallies."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.tasks.footage.rally_detection import ListedRallies

if TYPE_CHECKING:
    pass


def rallies_form(found: ListedRallies) -> dict[str, Json]:
    """Return the same as plain values for the page and `--json`; times in microseconds of match time."""
    plain = asdict(found)
    plain["rallies"] = [{**item, "hits_us": list(item["hits_us"])} for item in plain["rallies"]]
    return plain
