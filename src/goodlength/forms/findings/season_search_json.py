"""JSON form of the result of a search over a season."""

from __future__ import annotations

from datetime import date
from typing import Any, TypedDict

from goodlength.files.json_types import Json
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import counted_form, origin_words
from goodlength.tasks.findings.season_search import SeasonFound, SeasonQuestion

CAUTION = (
    "These are counts, not findings: search long enough and you will find patterns that are just chance."
)


class RallyFoundJson(TypedDict):
    """One rally that fits a search."""

    match: str
    title: str
    day: str | None
    n: int
    game: int
    start_s: float | None
    call: str
    kind: str | None
    left: str | None
    let: bool
    ending: str | None
    logged: str
    note: str


class SearchJson(TypedDict):
    """`findings search --json`."""

    question: dict[str, Json]
    words: str
    total: int
    matches: int
    won: int
    decided: int
    lets: int
    demo_left_out: int
    answers: Json
    origins: str
    caution: str
    rallies: list[RallyFoundJson]


def search_form(question: SeasonQuestion, found: SeasonFound) -> SearchJson:
    """Return the JSON of `findings search --json`."""
    asked = {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in vars(question).items()
        if value not in (None, False)
    }
    rows: list[Any] = [
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
        "answers": counted_form(found.answers),
        "origins": origin_words(found.answers),
        "caution": CAUTION,
        "rallies": rows,
    }
