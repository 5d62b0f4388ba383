"""Header of a match's pages: names, place and time, and the six steps with their state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse

from goodlength.media_time import minutes_words, seconds
from goodlength.record.player_and_match_display_names import title_of
from goodlength.web.demo_tour import tour_of
from goodlength.web.next_step_and_queue_of_match import MatchNext, match_next, next_json
from goodlength.web.page_json_types.detected_rallies_and_score_draft import StepJson
from goodlength.web.page_json_types.video_playback_and_jobs import NextStepJson
from goodlength.web.page_rendering import page
from goodlength.web.views.match_description_and_result_phrases import count_words, over_words, where_words
from goodlength.web.views.rally_scoresheet import SheetData

if TYPE_CHECKING:
    from goodlength.tasks.preparation import NextStep

STEPS = ("footage", "record", "findings", "show", "plan", "handout")
STEP_NAMES = {"show": "Clips"}  # where a page is called otherwise than its address
ENOUGH_RALLIES = 1  # from here on the Findings page has something to count


@dataclass(frozen=True)
class Step:
    """One of the six steps: `state` is now, done or todo."""

    name: str
    href: str
    state: str
    words: str


@dataclass(frozen=True)
class MatchHeader:
    """What stands above every page of a match."""

    id: str
    title: str
    where: str
    steps: tuple[Step, ...]
    next: NextStepJson


def match_header(data: SheetData, here: str, step: NextStep) -> MatchHeader:
    """Return the head of a match's page; `here` names the step that is open, or none of them."""
    info = data.match.info
    base = f"/matches/{quote(info.id, safe='')}"
    steps = tuple(
        Step(
            STEP_NAMES.get(name, name.capitalize()), f"{base}/{name}", "now" if name == here else state, words
        )
        for name, (state, words) in zip(STEPS, _states(data), strict=True)
    )
    title = title_of(*data.players)
    return MatchHeader(quote(info.id, safe=""), title, where_words(info), steps, next_json(info.id, step))


def _states(data: SheetData) -> tuple[tuple[str, str], ...]:
    """State and words of each step, in their order."""
    match = data.match
    rallies = sum(1 for rally in match.rallies if rally.complete)
    length = data.films.length_us
    some = rallies >= ENOUGH_RALLIES
    timed = sum(1 for rally in match.rallies if rally.end_us is not None)
    over = match.winner is not None
    return (
        ("done", minutes_words(seconds(length))) if length else ("todo", "none yet"),
        ("done" if over else "todo", _record_words(data, rallies)),
        ("done", count_words(rallies, "rally", "rallies")) if some else ("todo", "after logging"),
        ("done", count_words(timed, "rally", "rallies")) if timed and length else ("todo", "no clips yet"),
        _plan_state(data, some),
        ("done", "created") if data.handout_made else ("todo", "not created"),
    )


def _plan_state(data: SheetData, some: bool) -> tuple[str, str]:
    if data.has_plan:
        return "done", "saved"
    return ("todo", "from findings") if some else ("todo", "after logging")


def steps_form(data: SheetData) -> list[StepJson]:
    """Return the steps as plain values, for a page that has changed one of them."""
    states = zip(STEPS, _states(data), strict=True)
    return [{"name": name, "state": state, "words": words} for name, (state, words) in states]


def result_words(data: SheetData) -> str:
    """Return how a match ended, or how far its record is."""
    names = (data.players[0].name, data.players[1].name)
    if not data.match.rallies:
        return "not logged yet"
    return over_words(data.match, names) or _record_words(data, 0)


def _record_words(data: SheetData, rallies: int) -> str:
    match = data.match
    if match.next is None:
        names = (data.players[0].name, data.players[1].name)
        return count_words(rallies, "rally", "rallies") if over_words(match, names) else "over"
    done = sum(1 for rally in match.rallies if rally.key != match.open_key)
    return f"Game {match.next.game}, rally {done + 1}"


def next_of(request: Request, data: SheetData, here: str = "") -> MatchNext:
    """Return what comes next in the match of a page."""
    return match_next(
        request, data.opened, data.detected, here, plan=data.has_plan, handout=data.handout_made
    )


def match_page(
    request: Request, data: SheetData, template: str, here: str, *, status: int = 200, **shown: Any
) -> HTMLResponse:
    """Render one page of a match under its head."""
    room = data.settings.room
    header = match_header(data, here, next_of(request, data, here).step)
    tour = tour_of(data.opened.settings, request)
    return page(request, template, status=status, match=header, room=room, tour=tour, **shown)
