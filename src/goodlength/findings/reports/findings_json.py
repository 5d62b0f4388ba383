"""Findings as plain JSON values, in the form that the command line and the page print."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

from goodlength.files.json_types import Json
from goodlength.findings.result_types import Findings


def plain(value: Any) -> Any:
    """Return frozen results as lists, dictionaries, numbers and text; a number that is not finite becomes
    null.
    """
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list | frozenset):
        return [plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def as_json(found: Findings) -> dict[str, Json]:
    """Return findings in the published form: `findings` (the surest first), `top`, `tables`, what they rest
    on.

    Parameters
    ----------
    found : Findings
        Of one player of one match.

    Returns
    -------
    dict
        Ready for `json.dumps`; shares are 0 to 1, ranges 95 in 100.
    """
    every = []
    for finding in found.all:
        form = plain(finding)
        form["grade_words"] = finding.grade.words
        every.append(form)
    return {
        "match": found.match,
        "side": found.side,
        "summary": found.summary,
        "notes": list(found.notes),
        "asked": found.asked,
        "looked_at": found.exploratory,
        "top": [finding.key for finding in found.top],
        "findings": every,
        "tables": plain(found.tables),
    }
