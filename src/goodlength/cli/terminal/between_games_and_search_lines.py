"""Terminal lines of the sheet between games, the opponent report, the search and the observer comparison."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

from goodlength.media_time import clock_words, day_words

if TYPE_CHECKING:
    from goodlength.findings.reports.between_games_sheet import BetweenGames
    from goodlength.forms.findings.season_search_json import SearchJson


def between_lines(sheet: BetweenGames, note: str) -> Iterator[str]:
    """Yield the title, at most three lines, each with how sure it is and its games, and how to use them."""
    yield sheet.title
    for line in sheet.lines:
        yield ""
        yield f"  {line.standing}. {line.words}"
        if line.likely:
            yield f"  {line.likely}"
    yield ""
    yield note


def search_lines(found: SearchJson) -> Iterator[str]:
    """Yield the counts, then the rallies under their matches: number, game, time, call; below, what was
    logged.
    """
    yield str(found["words"])
    match = None
    for rally in found["rallies"]:
        if rally["match"] != match:
            match = rally["match"]
            day = f", {day_words(date.fromisoformat(rally['day']))}" if rally["day"] else ""
            yield ""
            yield f"{rally['title']}{day} ({match})"
        at = "" if rally["start_s"] is None else f", at {clock_words(rally['start_s'])}"
        yield f"  Rally {rally['n']}, game {rally['game']}{at}: {rally['call']}"
        note = f"Note: “{rally['note']}”" if rally["note"] else ""
        about = " ".join(part for part in (rally["logged"], note) if part)
        if about:
            yield f"    {about}"
    yield ""
    if found["origins"]:
        yield str(found["origins"])
    if found["demo_left_out"]:
        yield "Demo matches are not included; --with-demo includes them."
    yield str(found["caution"])
