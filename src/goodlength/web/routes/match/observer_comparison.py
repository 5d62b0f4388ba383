"""Comparison of two observers of one match, and upload of the second observer's record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from goodlength.errors import GoodlengthError, InputError
from goodlength.files import copied_in_file_destination
from goodlength.forms.findings.observer_agreement_json import (
    IDENTICAL_WORDS,
    AgreementJson,
    VariableJson,
    agree_form,
)
from goodlength.media_time import clock_words
from goodlength.tasks.findings.season_search import value_words
from goodlength.tasks.match.blank_match_for_second_observer import (
    own_kinds,
    second_observer_file,
    timed_rallies,
)
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.match.observer_comparison import add_layer, compare_observers, layers_of
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.submitted_forms.form_reading_and_faults import file_in, read_sent
from goodlength.web.submitted_forms.match_import_and_search_forms import ObserverForm
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

_VALUE_WORDS = {"let": "a let"}
VARIABLE_WORDS = {
    "server": "who served",
    "box": "box",
    "kind": "kind of serve",
    "how_taken": "how the return was taken",
    "left": "return quality",
    "winner": "who won",
    "ending": "how the rally ended",
}
router = APIRouter(include_in_schema=False)


@router.get("/matches/{match_id}/agree")
def agree(
    request: Request, opened: CurrentMatch, second: str = "", added: Annotated[str, Query(alias="kept")] = ""
) -> Response:
    """Return two observers of one match, variable by variable."""
    return _agree(request, opened, second, message="The other log was added." if added else "")


@router.get("/matches/{match_id}/agree/file")
def blank_file(opened: CurrentMatch) -> Response:
    """Return the match without answers, for a second observer."""
    headers = {"content-disposition": 'attachment; filename="match for a second observer.json"'}
    return Response(second_observer_file(opened), media_type="application/json", headers=headers)


@router.post("/matches/{match_id}/agree")
async def bring(request: Request, opened: CurrentMatch) -> Response:
    """Keep another person's exported record of this match beside this one."""
    library, match_id = opened.library, opened.id
    async with request.form(max_files=1, max_fields=4) as form:
        sent, name = file_in(form, "file"), read_sent(ObserverForm, form).value.observer
        try:
            if sent is None:
                raise InputError("Choose the file the other person exported (.json).")
            path = copied_in_file_destination.target_for(library.folder, sent.filename or "")
            path.parent.mkdir(parents=True, exist_ok=True)
            try:
                path.write_bytes(await sent.read())
                await run_in_threadpool(add_layer, library, match_id, path, name)
            finally:
                path.unlink(missing_ok=True)
        except GoodlengthError as error:
            return await run_in_threadpool(_agree, request, opened, "", fault=error.page_words, name=name)
    address = f"/matches/{quote(match_id, safe='')}/agree?second={quote(name)}&kept=1"
    return RedirectResponse(address, status_code=303)


def _agree(
    request: Request, opened: OpenMatch, second: str, *, fault: str = "", message: str = "", name: str = ""
) -> Response:
    own = opened.info.observer
    others = [layer.observer for layer in layers_of(opened) if layer.observer != own]
    found, trouble = None, ""
    scores: dict[str, str] = {}
    try:
        if others:
            chosen = second if second in others else others[0]
            compared = compare_observers(opened, own, chosen)
            found = agree_form(compared)
            scores = {
                rally.key: f"{rally.before[0]}–{rally.before[1]}"
                for rally in compared.first.rallies
                if rally.certain
            }
    except GoodlengthError as error:
        trouble = error.page_words
    return match_page(
        request,
        sheet_data(opened),
        "exchange/observer_agreement.html",
        "findings",
        status=422 if fault else 200,
        found=found,
        others=others,
        own=own,
        fault=fault,
        trouble=trouble,
        message=message,
        name=name,
        second=second,
        again=_differing_rallies(found, opened, scores) if found else (),
        beyond=chance_corrected_words,
        identical_words=IDENTICAL_WORDS,
        timed=timed_rallies(opened),
        logged=len(opened.match.rallies),
        kinds=own_kinds(opened),
        count=count_words,
        variable_words=VARIABLE_WORDS,
    )


def chance_corrected_words(row: VariableJson) -> str:
    """Return in plain words how far the agreement on a question goes beyond guessing.

    Examples
    --------
    >>> row = {"value": 0.74, "interval": (0.58, 0.86), "measure": "alpha"}
    >>> chance_corrected_words(row)
    '74% of the way from guessing to always the same (95% range 58% to 86%)'
    >>> chance_corrected_words({"value": -0.1, "interval": (None, None), "measure": "alpha"})
    'no better than guessing (95% range unknown)'
    """
    value, (low, high) = row["value"], row["interval"]
    if value is None:
        return "cannot be told: too few answers, or the same one throughout"
    lead = "no better than guessing"
    if value > 0:
        lead = f"{100 * value:.0f}% of the way from guessing to always the same"
    if low is None or high is None:
        return f"{lead} (95% range unknown)"
    return f"{lead} (95% range {100 * low:.0f}% to {100 * high:.0f}%)".replace("-", "−")


def _differing_rallies(
    found: AgreementJson, opened: OpenMatch, scores: Mapping[str, str]
) -> list[dict[str, Any]]:
    """Return the rallies on which the two differ, in order, each with every answer that differs."""
    rallies: dict[str, dict[str, Any]] = {}
    for row in found["variables"]:
        for differing in row["disagreements"]:
            if (rally := differing["rally"]) is None:
                continue
            answers = [
                _answer_words(row["variable"], differing[side], opened) for side in ("first", "second")
            ]
            seen = rallies.setdefault(
                rally["key"],
                {
                    **rally,
                    "score": scores.get(rally["key"], ""),
                    "clock": "" if rally["start_s"] is None else clock_words(rally["start_s"]),
                    "answers": [],
                },
            )
            seen["answers"].append((VARIABLE_WORDS.get(row["variable"], row["variable"]), *answers))
    return sorted(rallies.values(), key=lambda rally: int(rally["n"]))


def _answer_words(variable: str, answer: str, opened: OpenMatch) -> str:
    """Return an answer of a comparison as a coach says it: names for a and b, the words of a kind."""
    if variable in ("server", "winner") and answer in ("a", "b"):
        return opened.names["ab".index(answer)]
    if variable == "kind":
        return opened.kind_words.get(answer, answer).lower()
    return _VALUE_WORDS.get(answer, value_words(answer))
