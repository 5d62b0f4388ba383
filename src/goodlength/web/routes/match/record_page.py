"""Routes of the Record page: the page, the scoresheet as JSON, and answers."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field, StrictInt
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.record.effective_answers import is_only_the_programs
from goodlength.record.model import Depth, Entry, EntryKind
from goodlength.record.record_json_conversion import entry_from_plain
from goodlength.record.store import Library
from goodlength.record.store.library_store import now_utc
from goodlength.tasks.match.lazy_match import open_match
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentLibrary, CurrentMatch
from goodlength.web.scoresheet_change_tracking import FollowedSheet, FollowedSheets
from goodlength.web.views.keyboard_shortcuts import KEYS, with_player
from goodlength.web.views.match_description_and_result_phrases import hands_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data, sheet_source
from goodlength.web.views.rally_scoresheet import sheet

router = APIRouter()
MOVING = frozenset(
    {
        "play",
        "earlier",
        "later",
        "rally-before",
        "rally-after",
        "frame-back",
        "frame-on",
        "serve-again",
        "speed",
    }
    | {"rallies-only"}
)
MOST_ENTRIES = 500
Name = Annotated[str, Field(min_length=1, max_length=100)]


class EntriesIn(BaseModel):
    """Entries as the page sends them: `record.record_json_conversion` reads each and names what is wrong."""

    model_config = ConfigDict(extra="forbid")
    entries: Annotated[list[dict[str, object]], Field(max_length=MOST_ENTRIES)]
    since: Annotated[str, Field(max_length=100)] | None = None  # the version of the sheet that the page holds


class SpanIn(BaseModel):
    """The time of a rally put right on the Footage page."""

    model_config = ConfigDict(extra="forbid")
    id: Name
    tab: Name
    rally: Name
    start_us: StrictInt
    end_us: StrictInt | None = None
    replaces: Name | None = None


@router.get("/matches/{match_id}/record", include_in_schema=False)
def record_page(request: Request, opened: CurrentMatch) -> Response:
    """Return the page on which a match is written down."""
    data = sheet_data(opened)
    return match_page(
        request,
        data,
        "match/rally_logging.html",
        "record",
        keys=with_player(KEYS) if data.films.parts else KEYS,
        moving=MOVING,
        has_footage=bool(data.films.parts),
        no_footage=data.films.waits or "No video: times come from the clock.",
        winner_only=opened.info.depth is Depth.SCORE,
        who=hands_words(data.players, opened.info),
    )


@router.get("/api/matches/{match_id}/sheet")
def get_sheet(request: Request, library: CurrentLibrary, match_id: str, follow: bool = False) -> Response:
    """Return everything the Record page needs; with `follow`, its version too, to ask for changes with."""
    # plain values already: FastAPI would walk through them once more, 8 ms for a whole match
    if not follow:
        return json_answer(sheet(sheet_source(open_match(library, match_id))))
    with _followed(request, match_id, time.monotonic()) as followed:
        whole = followed.whole()
    return json_answer(whole)


@router.post("/api/matches/{match_id}/entries")
def post_entries(request: Request, library: CurrentLibrary, match_id: str, body: EntriesIn) -> Response:
    """Store answers, once each however often they are sent; answer with what they change of the sheet."""
    entries = [entry_from_plain(fields, match_id) for fields in _without_match(body.entries, match_id)]
    _require_a_persons(entries)
    tasks.store_answers(library, match_id, entries)
    reply: dict[str, object] = {"stored": [entry.id for entry in entries]}
    with _followed(request, match_id, time.monotonic()) as followed:
        changes = None if body.since is None else followed.changes(body.since)
        whole = followed.whole()
    if changes is not None:
        if changes["parts"].get("winner") is not None:
            request.app.state.season.start()
        return json_answer({**reply, "changes": changes})
    if body.since is None:
        del whole["version"]
    return json_answer({**reply, "sheet": whole})


@contextmanager
def _followed(request: Request, match_id: str, since: float) -> Iterator[FollowedSheet]:
    """Give the sheet of a match as it stood after a moment of the monotonic clock."""
    library: Library = request.app.state.library
    sheets: FollowedSheets = request.app.state.sheets
    with sheets.of(match_id) as followed:
        followed.refresh(since, lambda memo: sheet_source(open_match(library, match_id, memo=memo)))
        yield followed


@router.post("/api/matches/{match_id}/span")
def post_span(opened: CurrentMatch, body: SpanIn) -> Response:
    """Store the time of one rally."""
    value = {"start_us": body.start_us, "end_us": body.end_us, "how": "marked"}
    observer = f"{opened.info.observer}/{body.tab}"
    entry = Entry(body.id, opened.id, observer, now_utc(), body.rally, EntryKind.SPAN, value, body.replaces)
    _require_a_persons([entry])
    tasks.record_answers(opened.library, opened.id, [entry])
    return json_answer({"id": entry.id})


def _require_a_persons(entries: Iterable[Entry]) -> None:
    """Check that a page sends what a person gave, and nothing as the program's own.

    Raises
    ------
    InputError
        If one bears a tab of the program's, or says what the draft proposed or which rallies were drawn.
    """
    for entry in entries:
        if is_only_the_programs(entry):
            raise InputError(
                f"The answer {entry.id} ({entry.what.value}, by {entry.observer}) is of a sort that only the "
                "program writes: drafts, samples and rallies taken unwatched. Nothing was "
                "written. Send answers under a tab name of your own.",
                page="Nothing was saved: the program alone may write this. Reload the page and answer again.",
            )


def _without_match(entries: list[dict[str, object]], match_id: str) -> list[dict[str, object]]:
    """Entries without the match's id, which the address already says.

    Raises
    ------
    InputError
        If one names another match.
    """
    strangers = {str(entry["match"]) for entry in entries if entry.get("match", match_id) != match_id}
    if strangers:
        raise InputError(
            f"Nothing was written: answers for the match {sorted(strangers)[0]!r} were sent to {match_id!r}.",
            page="Nothing was saved: the answers belong to another match. Reload the page.",
        )
    return [{name: value for name, value in entry.items() if name != "match"} for entry in entries]
