"""Routes of players: list, add, change, consent, export, erase."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.findings.shot_places.shot_place_report import PlaceFindings
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import origin_words
from goodlength.jobs.job_queue import Jobs
from goodlength.media_time import read_day
from goodlength.practice.planning.practice_plan import PracticePlanJson
from goodlength.record.model import Consent, Player
from goodlength.record.rally_sentences import kind_words
from goodlength.record.store import Library
from goodlength.record.store.listing.match_list_rows import MatchHead
from goodlength.show.draw.court.attempt_scatter_drawing import scatter_on_floor, scatter_on_wall
from goodlength.show.draw.evidence_grade_icons import grade_svg
from goodlength.tasks.ball.player_measured_serves import matches_with_paths, path_files_version
from goodlength.tasks.ball.serve_statistics_by_kind import (
    KindMeasured,
    kind_line,
    measured_kinds,
)
from goodlength.tasks.findings.season_search import player_version
from goodlength.tasks.findings.shot_place_findings import player_places
from goodlength.tasks.people.player_handout_language import SETTING as LANGUAGES_SETTING
from goodlength.tasks.sharing.handout_content_and_files import handout_exists
from goodlength.tasks.sharing.video_export_jobs import count_exports
from goodlength.web.coach_settings import PURPOSES, read_settings
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentLibrary
from goodlength.web.list_pagination import LONGEST_WORDS, list_page, named_like
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.player_consent_and_settings_forms import (
    NEW_PLAYER,
    ConsentForm,
    EraseForm,
    PlayerForm,
    player_texts,
    usual_consent,
)
from goodlength.web.undo_message import redirect
from goodlength.web.views.match_description_and_result_phrases import count_words, day_words
from goodlength.web.views.search_and_import.player_trend_view import (
    KEY_WORDS,
    NEWEST,
    honest_words,
    trend_rows,
)

router = APIRouter(include_in_schema=False)
SOON_DAYS = 30
LATEST_MATCHES = 8
UNREAD = 25  # matches; while more are read, the figures over the matches are not waited for
PostedPlayer = Annotated[Submitted[PlayerForm], Depends(posted(PlayerForm))]
PostedConsent = Annotated[Submitted[ConsentForm], Depends(posted(ConsentForm))]
PostedErasure = Annotated[Submitted[EraseForm], Depends(posted(EraseForm))]


@router.get("/players")
def players(
    request: Request,
    library: CurrentLibrary,
    find: str = "",
    number: Annotated[str, Query(alias="page")] = "",
) -> Response:
    """Return a page of the players, and the form of a new one."""
    return _players(request, library, NEW_PLAYER, {}, asked=(find[:LONGEST_WORDS].strip(), number))


@router.post("/players")
def add(request: Request, library: CurrentLibrary, form: PostedPlayer) -> Response:
    """Add a player."""
    typed = {**NEW_PLAYER, **form.texts}
    if form.model is None:
        return _players(request, library, typed, form.faults)
    try:
        player = tasks.add_player(library, **form.model.details())
        if form.model.language:
            tasks.choose_language(library, player.id, form.model.language)
    except GoodlengthError as error:
        return _players(request, library, typed, {}, [error.page_words])
    return RedirectResponse(f"/players/{quote(player.id, safe='')}", status_code=303)


@router.get("/players/{player_id}")
def player(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, done: str = ""
) -> Response:
    """Return one player: details, consent, export, erase."""
    return _player(request, library, jobs, player_id, message=_DONE.get(done, ""))


@router.get("/players/{player_id}/trend")
def trend(request: Request, library: CurrentLibrary, player_id: str, answers: str = "") -> Response:
    """Return a player over the matches: serve, return and errors match by match, and what can be said.

    With `answers=watched` what was proposed and taken in rallies nobody watched is left out.
    """
    only_watched = answers == "watched"
    reading, trouble, found = request.app.state.season.long_reading(UNREAD), "", None
    try:
        found = None if reading else tasks.over_matches(library, player_id, only_watched=only_watched)
    except GoodlengthError as error:
        trouble = error.page_words
    return page(
        request,
        "library/player_trend.html",
        player=library.player(player_id),
        trouble=reading or trouble,
        found=found,
        origins=origin_words(found.answers) if found else "",
        only_watched=only_watched,
        rows=trend_rows(found) if found else [],
        honest=honest_words(len(found.matches)) if found else "",
        key_words=KEY_WORDS,
        shown=NEWEST,
        left_out=bool(found and len(found.matches) > NEWEST),
    )


@router.post("/players/{player_id}")
def change(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, form: PostedPlayer
) -> Response:
    """Change a player's details."""
    if form.model is None:
        return _player(request, library, jobs, player_id, typed=form.texts, faults=form.faults)
    watched = tasks.Watched(players=(player_id,), settings=(LANGUAGES_SETTING,))
    try:
        with tasks.undoable(library, f"Details of {library.player(player_id).name}", watched) as changed:
            tasks.change_player(library, player_id, **form.model.details())
            if form.model.language:
                tasks.choose_language(library, player_id, form.model.language)
    except GoodlengthError as error:
        return _player(request, library, jobs, player_id, typed=form.texts, form_faults=[error.page_words])
    return _back(player_id, "changed", changed.item)


@router.post("/players/{player_id}/consent")
def consent(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, form: PostedConsent
) -> Response:
    """Write down who agreed to what, when, and until when."""
    faults = form.faults
    try:
        if form.model is not None:
            with _consent_undoable(library, player_id) as changed:
                tasks.consent(library, player_id, **form.model.details())
            return _back(player_id, "consent", changed.item)
    except GoodlengthError as error:
        faults = {"": error.page_words}
    typed = {**form.texts, "purposes": form.every("purposes")}
    return _player(
        request, library, jobs, player_id, consent=typed, consent_faults=list(faults.values()), faults=faults
    )


@router.post("/players/{player_id}/consent/withdraw")
def withdraw(library: CurrentLibrary, player_id: str) -> Response:
    """Withdraw consent: from then on nothing is made, and what was made is held back."""
    with _consent_undoable(library, player_id) as changed:
        tasks.withdraw_consent(library, player_id)
    return _back(player_id, "withdrawn", changed.item)


@router.post("/players/{player_id}/consent/undo")
def undo_withdrawal(request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str) -> Response:
    """Undo a withdrawal: the consent before it stands again."""
    try:
        tasks.give_consent_back(library, player_id)
    except GoodlengthError as error:
        return _player(request, library, jobs, player_id, message=error.page_words, status=422)
    return _back(player_id, "given-back")


@router.get("/players/{player_id}/export")
def export(library: CurrentLibrary, player_id: str) -> Response:
    """Return everything the library holds about a player, as a file."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "player.json"
        tasks.export_player(library, player_id, path)
        data = path.read_bytes()
    headers = {"content-disposition": 'attachment; filename="player.json"'}
    return Response(data, media_type="application/json", headers=headers)


@router.post("/players/{player_id}/erase")
def erase(
    request: Request, library: CurrentLibrary, jobs: CurrentJobs, player_id: str, form: PostedErasure
) -> Response:
    """Erase a player whose name was typed, and say what went and what may be left."""
    name = library.player(player_id).name
    if form.value.sure.casefold() != name.casefold():
        faults = {"sure": f"Nothing was erased. Type {name} to erase this player."}
        return _player(request, library, jobs, player_id, faults=faults)
    erased = tasks.erase_player(library, player_id)
    return page(request, "library/player_erased.html", name=name, lines=erased.words.splitlines())


_NOTHING = "No handout can be made, and no clip unless all faces are hidden."
_DONE = {
    "changed": "Details saved.",
    "consent": "The consent was saved.",
    "withdrawn": "Consent is withdrawn. " + _NOTHING + " You can undo this below.",
    "given-back": "The consent is restored. Files held back because of it can be used again.",
}


def _consent_undoable(library: Library, player_id: str) -> AbstractContextManager[tasks.UndoableChange]:
    name = library.player(player_id).name
    return tasks.undoable(library, f"Consent of {name}", tasks.Watched(consent=player_id))


def _back(player_id: str, done: str, item: str = "") -> Response:
    return redirect(f"/players/{quote(player_id, safe='')}?done={done}", item)


def _players(
    request: Request,
    library: Library,
    form: Mapping[str, str],
    faults: Mapping[str, str],
    form_faults: list[str] | None = None,
    asked: tuple[str, str] = ("", ""),
) -> Response:
    everybody = tasks.players(library)
    words, number = asked
    fitting = named_like(everybody, words)
    players_page = list_page(fitting, "/players", number, words)
    played: dict[str, list[date | None]] = {}
    for head in library.match_heads():
        for player_id in head.players:
            played.setdefault(player_id, []).append(head.played_on)
    rows = [
        {
            "id": player_item.id,
            "name": player_item.name,
            "hand": player_item.hand,
            "junior": player_item.junior,
            "consent_words": _short(player_item),
            "ask": _runs_out(player_item),
            "matches": len(played.get(player_item.id, ())),
            "last": next((day for day in played.get(player_item.id, ()) if day), None),
        }
        for player_item in players_page.rows
    ]
    shown: dict[str, Any] = {"form": form, "faults": faults, "form_faults": form_faults, "message": ""}
    return page(
        request,
        "library/player_list.html",
        status=422 if faults or form_faults else 200,
        players=rows,
        list=players_page,
        in_library=len(everybody),
        fitting=f"{count_words(len(fitting), 'player fits', 'players fit')}."
        if fitting
        else "No player fits.",
        **shown,
    )


def _player(request: Request, library: Library, jobs: Jobs, player_id: str, **shown: Any) -> Response:
    player = library.player(player_id)
    settings = read_settings(library)
    matches = library.match_heads(player_id)
    usual = usual_consent(player, settings.consent_months, settings.consent_purposes)
    status = shown.pop("status", 200)
    context: dict[str, Any] = {
        "message": "",
        "faults": {},
        "form_faults": None,
        "consent_faults": None,
        **shown,
        "consent": {**usual, **shown.get("consent", {})},
    }
    wrong = context["faults"] or context["form_faults"] or context["consent_faults"]
    kinds, places = _from_videos(request, library, player_id)
    stored = {**player_texts(player), "language": tasks.chosen_language(library, player_id)}
    typed = {**NEW_PLAYER, **context.pop("typed", stored)}
    return page(
        request,
        "library/player_profile.html",
        status=422 if wrong else status,
        player=player,
        withheld=_withheld(library, jobs, player_id) if player.consent else "",
        can_undo=_consent_words(tasks.withdrawn_consent(library, player_id)),
        form=typed,
        matches=_match_lines(library, matches),
        more_matches=max(0, len(matches) - LATEST_MATCHES),
        plan=_plan_words(tasks.current_plan(library, player_id)),
        ask=_runs_out(player),
        in_matches=f"In {count_words(len(matches), 'match', 'matches')}",
        consent_words=_long(player),
        has_consent=player.consent is not None and bool(player.consent.purposes),
        measured=[_measured(kind, kind_words(library.kinds())) for kind in kinds],
        places=places,
        grade_mark=grade_svg,
        history=[_plain_words(fields) for fields in library.consents(player_id)],
        purposes=list(PURPOSES.items()),
        **context,
    )


def _from_videos(
    request: Request, library: Library, player_id: str
) -> tuple[tuple[KindMeasured, ...], PlaceFindings | None]:
    """Return measured serves, and length and tightness, over all matches; kept where paths are read."""
    matches = tasks.open_matches(library, player_id)
    if not matches_with_paths(library, matches.infos):
        return measured_kinds(matches), None
    key = ("videos", *player_version(library, player_id), path_files_version(library.folder))
    found: tuple[tuple[KindMeasured, ...], PlaceFindings | None] = request.app.state.found.keep(
        key, lambda: (measured_kinds(matches), player_places(library, player_id))
    )
    return found


def _measured(kind_statistics: KindMeasured, words: dict[str, str]) -> dict[str, Any]:
    """Measured serves of a kind: in words, on the front wall, and where they land."""
    line = kind_line(kind_statistics, words)
    floor = f"First bounces: {line}"
    fronts = [((place.across_m, place.up_m), place.by) for place in kind_statistics.places]
    bounces = [(place.bounce_m, place.by) for place in kind_statistics.places if place.bounce_m is not None]
    return {
        "line": line,
        "wall": scatter_on_wall(
            [place for place, by in fronts if by == "clicks"],
            hollow=[place for place, by in fronts if by == "path"],
            label=f"On the front wall: {line}",
            wide=240.0,
        ),
        "floor": scatter_on_floor(
            [place for place, by in bounces if by == "clicks"],
            hollow=[place for place, by in bounces if by == "path"],
            label=floor,
            wide=150.0,
        )
        if kind_statistics.bounces
        else "",
    }


def _short(player: Player) -> str:
    """Consent in a cell."""
    given = player.consent
    if given is None:
        return "no consent yet"
    if not given.purposes:
        return "withdrawn"
    if given.until is not None and given.until < date.today():
        return f"ran out on {day_words(given.until)}"
    return f"for {', '.join(given.purposes)}; {_until(given)}"


def _runs_out(player: Player) -> str:
    """Return that consent has to be asked for again, or soon; "" where it has not."""
    given = player.consent
    if given is None or not given.purposes or given.until is None:
        return ""
    days = (given.until - date.today()).days
    if days < 0:
        return "ask again"
    return f"ends in {count_words(days, 'day')}" if days <= SOON_DAYS else ""


def _match_lines(library: Library, heads: Sequence[MatchHead]) -> list[dict[str, Any]]:
    """Return the latest matches of a player as the page lists them."""
    return [
        {"id": row.id, "title": row.title, "event": row.event, "played_on": row.played_on, "demo": row.demo}
        for row in tasks.match_rows_of(library, heads[:LATEST_MATCHES])
    ]


def _plan_words(plan: PracticePlanJson | None) -> str:
    """Return the plan in force in one line; "" where there is none."""
    if plan is None:
        return ""
    drills = count_words(len(plan["items"]), "drill")
    return (
        f"{drills} in {count_words(plan['sessions'], 'session')}, from {day_words(read_day(plan['begins']))}."
    )


def _withheld(library: Library, jobs: Jobs, player_id: str) -> str:
    """Return what a withdrawal holds back now, in words."""
    ids = [head.id for head in library.match_heads(player_id)]
    clips = sum(count_exports(library, text, jobs) for text in ids)
    handouts = sum(handout_exists(library, text) for text in ids)
    binned = sum(player_id in item.players and item.kind != "change" for item in tasks.bin_items(library))
    counted = (
        (clips, "clip or other thing made", "clips and other things made"),
        (handouts, "handout", "handouts"),
        (binned, "thing in the bin", "things in the bin"),
    )
    parts = [count_words(*triple) for triple in counted if triple[0]]
    return (
        f"Held back until consent is given again: {', '.join(parts)}."
        if parts
        else "No clip or handout has been made yet."
    )


def _consent_words(given: Consent | None) -> str:
    """Return a consent in one line; "" where there is none."""
    if given is None:
        return ""
    return f"given by {given.given_by} on {day_words(given.when)}, valid {_until(given)}."


def _until(given: Consent) -> str:
    return "until withdrawn" if given.until in (None, date.max) else f"until {day_words(given.until)}"


def _long(player: Player) -> str:
    """Consent in a sentence."""
    given = player.consent
    if given is None:
        return f"No consent yet. {_NOTHING}"
    if not given.purposes:
        return f"Withdrawn on {day_words(given.when)}. {_NOTHING}"
    for_what = "; ".join(PURPOSES.get(purpose, purpose) for purpose in given.purposes)
    words = (
        f"Given by {given.given_by} on {day_words(given.when)}, valid {_until(given)}. It allows "
        f"you to: {for_what}."
    )
    ran_out = given.until is not None and given.until < date.today()
    return f"{words} It has run out: ask again." if ran_out else words


def _plain_words(plain: Any) -> str:
    """One earlier consent, from the values it is kept as."""
    for_what = ", ".join(plain["purposes"]) or "nothing (withdrawn)"
    until = (
        ""
        if plain["until"] in (None, "9999-12-31")
        else f", until {day_words(date.fromisoformat(plain['until']))}"
    )
    return f"{day_words(date.fromisoformat(plain['when']))}: {plain['given_by']}, for {for_what}{until}"
