"""The answer to a search over a season as JSON."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.tasks.findings.season_search import SeasonFound, SeasonQuestion

if TYPE_CHECKING:
    pass


CAUTION = "These are counts, not findings: whoever searches long enough meets a pattern that is luck."


def search_form(question: SeasonQuestion, found: SeasonFound) -> dict[str, Any]:
    """`findings search --json`."""
    asked = {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in vars(question).items()
        if value not in (None, False)
    }
    rows = [
        {**vars(row), "day": None if row.day is None else row.day.isoformat(), "score": list(row.score)}
        for row in found.rows
    ]
    return {
        "question": asked,
        "words": found.words,
        "total": found.total,
        "matches": found.matches,
        "won": found.won,
        "decided": found.decided,
        "lets": found.lets,
        "demo_left_out": found.demo_left_out,
        "caution": CAUTION,
        "rallies": rows,
    }
