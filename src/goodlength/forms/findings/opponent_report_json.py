"""JSON form and terminal lines of the opponent report."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import counted_form, origin_words
from goodlength.forms.findings.shot_place_findings_json import brief_places_lines, places_form
from goodlength.media_time import day_words
from goodlength.tasks.findings.opponent_report import graded

if TYPE_CHECKING:
    from goodlength.findings.reports.opponent_habits_and_serve_advice import Advice, OpponentReport, RallyAt


SHOWN = 6  # rallies named a line


def brief_form(page: OpponentReport) -> dict[str, Json]:
    """Return the JSON of `player brief ID --json`; each rally with its match, number, game and day."""
    return {
        "opponent": page.opponent,
        "title": page.title,
        "matches": page.matches,
        "last_played": _day(page.last_played),
        "habits": [
            {
                "words": habit.finding.words,
                "headline": habit.finding.headline,
                "grade": habit.finding.grade.value,
                "grade_words": habit.finding.grade.words,
                "count": habit.finding.count,
                "of": habit.finding.of,
                "interval": list(habit.finding.interval),
                "q": habit.finding.q,
                "scope": habit.finding.scope,
                "last_seen": _day(habit.last_seen),
                "rallies": _rallies(habit.rallies),
            }
            for habit in page.habits
        ],
        "habits_words": page.habits_words,
        "serve": _advice(page.serve),
        "avoid": _advice(page.avoid),
        "winners": [
            {
                "what": winner.what,
                "words": winner.words,
                "count": winner.share.count,
                "of": winner.share.of,
                "interval": [winner.share.low, winner.share.high],
                "rallies": _rallies(winner.rallies),
            }
            for winner in page.winners
        ],
        "winners_words": page.winners_words,
        "counts": list(page.counts),
        "measured_serves": list(page.measured),
        "places": None if page.places is None else places_form(page.places),
        "answers": counted_form(page.answers),
        "origins": origin_words(page.answers),
        "caution": page.caution,
        "notes": list(page.notes),
    }


def brief_lines(page: OpponentReport) -> Iterator[str]:
    """Yield the page as lines for a terminal."""
    yield page.title
    for number, habit in enumerate(page.habits, 1):
        yield ""
        yield f"{number}. {graded(habit.finding)}"
        yield f"   {habit.finding.words}"
        yield f"   {_where(habit.rallies)}"
    if page.habits_words:
        yield ""
        yield page.habits_words
    yield ""
    yield f"What to serve. {page.serve.words}"
    yield f"Serves that were attacked. {page.avoid.words}"
    yield page.winners_words
    yield from page.counts
    yield from page.measured
    if page.places is not None:
        yield ""
        yield from brief_places_lines(page.places)
    if page.answers is not None and origin_words(page.answers):
        yield origin_words(page.answers)
    yield page.caution
    yield from page.notes


def _advice(advice: Advice) -> dict[str, Json]:
    return {
        "words": advice.words,
        "kind": None if advice.serve is None else advice.serve.kind,
        "box": None if advice.serve is None else advice.serve.box,
        "count": advice.count,
        "of": advice.of,
        "others": None if advice.others is None else {"count": advice.others.count, "of": advice.others.of},
        "likely": None
        if advice.likely is None
        else {"first": advice.likely.first, "second": advice.likely.second, "gap": advice.likely.gap},
        "q": advice.q,
        "grade": advice.grade.value,
        "grade_words": advice.grade.words,
        "rallies": _rallies(advice.rallies),
    }


def _rallies(rallies: Sequence[RallyAt]) -> list[dict[str, Json]]:
    return [
        {"match": rally.match, "n": rally.n, "game": rally.game, "day": _day(rally.day), "key": rally.key}
        for rally in rallies
    ]


def _where(rallies: Sequence[RallyAt]) -> str:
    """Return the newest rallies by match and number."""
    if not rallies:
        return "No rally shows it."
    newest = rallies[::-1]
    named = ", ".join(f"{at.match} {at.n}" for at in newest[:SHOWN])
    day = max((rally.day for rally in rallies if rally.day is not None), default=None)
    last = f"Last seen {day_words(day)}. " if day else ""
    more = f" and {len(newest) - SHOWN} more" if len(newest) > SHOWN else ""
    return f"{last}Rallies by match and number: {named}{more}."


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
