"""Search for rallies over every match of the library."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.forms.findings.season_search_json import search_form
from goodlength.media_time import clock_words
from goodlength.record.model import Ending, ReturnKind, ShotType
from goodlength.record.store import Library
from goodlength.tasks.findings.season_search import LEFTS, PHASES, WEAK, value_words
from goodlength.web.html_forms.form_model import Submitted, queried
from goodlength.web.html_forms.match_forms import SearchForm
from goodlength.web.http.dependencies import CurrentLibrary
from goodlength.web.page_rendering import page

router = APIRouter(include_in_schema=False)
AskedRallies = Annotated[Submitted[SearchForm], Depends(queried(SearchForm))]
SHOWN = 200

_PHASE_WORDS = {
    "first-points": "first four points",
    "middle": "in between",
    "late": "both on 8 or more",
    "ahead": "when ahead",
    "level": "when level",
    "behind": "when behind",
}


def _clock(start_s: float | None) -> str:
    return "" if start_s is None else clock_words(start_s)


@router.get("/search")
def search(request: Request, library: CurrentLibrary, form: AskedRallies) -> Response:
    """Rallies of every match that fit."""
    filled = {name: value for name, value in form.texts.items() if value}
    found, trouble = None, ""
    pressed = bool(request.query_params)  # with nothing chosen, all rallies are listed
    reading = request.app.state.season.long_reading() if pressed else ""
    try:
        if pressed and not reading:
            question = form.value.question()
            found = search_form(question, tasks.search(library, question, limit=SHOWN))
    except GoodlengthError as error:
        trouble = error.page_words
    rows = [{**row, "clock": _clock(row["start_s"])} for row in found["rallies"]] if found else []
    return page(
        request,
        "match/season_search.html",
        status=422 if trouble else 200,
        found=found,
        rows=rows,
        trouble=trouble,
        reading=reading,
        form=_form(library, filled),
        shown=SHOWN,
    )


def _form(library: Library, filled: Mapping[str, str]) -> dict[str, Any]:
    """Return the lists of the search form, and what is chosen."""
    people = [(player.id, player.name) for player in tasks.players(library)]

    def words(values: Any) -> list[tuple[str, str]]:
        return [("", "Any"), *((str(v), value_words(str(v))) for v in values)]

    return {
        "filled": filled,
        "lists": [
            ("player", "Player", [("", "Any player"), *people]),
            (
                "role",
                "Role",
                [("", "Either"), ("serving", "serving"), ("receiving", "receiving")],
            ),
            ("outcome", "Result", [("", "Either"), ("won", "won"), ("lost", "lost")]),
            ("opponent", "Against", [("", "Any opponent"), *people]),
            ("kind", "Serve", [("", "Any"), *((kind.id, kind.words) for kind in library.kinds())]),
            ("box", "Service box", words(("right", "left"))),
            ("how", "Return type", words(kind.value for kind in ReturnKind)),
            ("left", "Return quality", [*words(LEFTS)[:-1], (WEAK, "weak (loose or missed)")]),
            ("ending", "How it ended", words(ending.value for ending in Ending)),
            ("stroke", "Last shot", words(shot_type.value for shot_type in ShotType)),
            ("phase", "Part of the game", [("", "Any"), *((phase, _PHASE_WORDS[phase]) for phase in PHASES)]),
        ],
    }
