"""Routes of footage: files of a match by path or upload, their order, proxies, and the media itself."""

from __future__ import annotations

from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect
from starlette.responses import Response

from goodlength import tasks
from goodlength.errors import BarePictures, GoodlengthError, NotFound
from goodlength.files import copied_in_file_destination
from goodlength.footage.media.recording_date import recorded_words
from goodlength.footage.media.stream_selection import TRACK_WORDS
from goodlength.jobs.job_queue import Jobs
from goodlength.media_time import clock_words, minutes_words, seconds
from goodlength.record.model import Footage
from goodlength.record.player_and_match_display_names import title_of
from goodlength.tasks.ball.ball_detection import start_ball_search
from goodlength.tasks.ball.ball_following_and_corrections import start_following
from goodlength.tasks.footage import camera_calibration, player_tracking
from goodlength.tasks.footage.rally_detection import PICTURE_KIND
from goodlength.tasks.footage.serve_measurement import measured_of
from goodlength.tasks.footage.stored_video_probe import copy_reason, day_of, probe_of
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.preparation.interrupted_work import interrupted_work
from goodlength.web.http import upload_to_disk
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.phone_qr_code_invitation import is_computer, phone_invitation
from goodlength.web.http.range_requests import FootageResponse
from goodlength.web.http.remote_file_access_policy import may_be_sent
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentLibrary, CurrentMatch
from goodlength.web.page_json_types.video_playback_and_jobs import JobJson
from goodlength.web.routes.footage.ball_visibility_and_search_status_view import ball_view
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.video_file_track_and_split_forms import (
    STARTS,
    FootageForm,
    PlaceForm,
    TrackForm,
)
from goodlength.web.undo_message import redirect
from goodlength.web.views import proxy_or_original_video_files
from goodlength.web.views.match_description_and_result_phrases import day_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.point_picking_view import court_view
from goodlength.web.views.rally_scoresheet import SheetData, span_ids
from goodlength.web.watched_folder_offers import watched_folder

if TYPE_CHECKING:
    from goodlength.footage.media.video_probe import Probe
    from goodlength.jobs.job_queue import JobState

router = APIRouter()
PostedFootage = Annotated[Submitted[FootageForm], Depends(posted(FootageForm))]
PostedPlace = Annotated[Submitted[PlaceForm], Depends(posted(PlaceForm))]
PostedTrack = Annotated[Submitted[TrackForm], Depends(posted(TrackForm))]


@router.get("/matches/{match_id}/footage", include_in_schema=False)
def footage(request: Request, opened: CurrentMatch, jobs: CurrentJobs) -> Response:
    """Return the files of a match, and when its rallies were played."""
    return _page(request, opened, jobs)


@router.post("/matches/{match_id}/footage", include_in_schema=False)
def add(request: Request, opened: CurrentMatch, jobs: CurrentJobs, form: PostedFootage) -> Response:
    """Add a file by its path; its court is looked for at once, and a copy begun where it is needed."""
    try:
        file = form.value
        if file.rate is None:
            added = tasks.add_footage(opened.library, opened.id, file.path)
        else:
            added = tasks.add_bare(opened.library, opened.id, file.path, file.rate)
    except GoodlengthError as error:
        bare = isinstance(error, BarePictures) or bool(form.shown("rate"))
        typed, faults = form.shown("path"), {"path": error.page_words}
        return _page(request, opened, jobs, typed=typed, bare=bare, faults=faults)
    proxy_or_original_video_files.begin_work(opened.library, jobs, added)
    return _back(opened.id)


@router.post("/api/matches/{match_id}/footage/upload")
async def upload(request: Request, opened: CurrentMatch, jobs: CurrentJobs, name: str = "") -> dict[str, str]:
    """Take a file in, byte by byte, and look at it; what is no footage is not kept."""
    library = opened.library
    target = copied_in_file_destination.target_for(library.folder, name)
    length = request.headers.get("content-length", "")
    try:
        size = int(length) if length.isascii() and length.isdigit() else None
        await upload_to_disk.receive(request.stream(), target, size)
        added = await run_in_threadpool(tasks.add_footage, library, opened.id, target, copied=True)
    except ClientDisconnect:
        return {"id": ""}
    except GoodlengthError:
        target.unlink(missing_ok=True)
        raise
    await run_in_threadpool(proxy_or_original_video_files.begin_work, library, jobs, added)
    return {"id": added.id}


@router.post("/matches/{match_id}/footage/{footage_id}/{way}", include_in_schema=False)
def change(
    request: Request,
    opened: CurrentMatch,
    jobs: CurrentJobs,
    footage_id: str,
    way: str,
    place: PostedPlace,
    track: PostedTrack,
) -> Response:
    """Move a file, take it off the list, approve its detected court, or make a copy of it that plays."""
    library = opened.library
    if way == "remove":
        return _back(opened.id, tasks.remove_footage(library, footage_id))
    if way == "place":
        return _place(request, opened, jobs, footage_id, place)
    if way == "date":
        _take_date(opened, footage_id)
    elif way == "tracks":
        return _take_tracks(request, opened, jobs, footage_id, track)
    elif way == "court":
        return _approve_court(request, opened, jobs, footage_id)
    elif way == "proxy":
        proxy_or_original_video_files.begin_copy(library, jobs, library.footage_file(footage_id), wanted=True)
    elif way in ("earlier", "later"):
        ids = [footage_file.id for footage_file in opened.footage]
        at = ids.index(library.footage_file(footage_id).id)
        to = max(0, min(len(ids) - 1, at + (1 if way == "later" else -1)))
        ids.insert(to, ids.pop(at))
        with _videos_undoable(opened, "Order of the videos") as change:
            tasks.order_footage(library, opened.id, ids)
        return _back(opened.id, change.item)
    return _back(opened.id)


def _videos_undoable(opened: OpenMatch, what: str) -> AbstractContextManager[tasks.UndoableChange]:
    title = f"{what} of {title_of(*opened.players)}"
    watched = tasks.Watched(videos=opened.id)
    return tasks.undoable(opened.library, title, watched, about=opened.info.players, of_match=opened.id)


# Where work that was interrupted is started again, behind the address of its match
RESTART_ADDRESSES = {
    "rallies": "hear",
    "picture": "picture",
    "players": "players",
    "ball": "ball/search",
    "ball-sample": "ball/sample",
    "ball-paths": "ball/follow",
}


@router.post("/matches/{match_id}/ball/{way}", include_in_schema=False)
def search_ball(request: Request, opened: CurrentMatch, jobs: CurrentJobs, way: str) -> Response:
    """Search the ball in all rallies, look at a sample of each video, or follow the ball that was found."""
    if way not in ("sample", "search", "follow"):
        raise NotFound("There is no such search for the ball. Reload the page.")
    try:
        if way == "follow":
            start_following(opened, jobs)
        else:
            start_ball_search(opened, jobs, sample=way == "sample")
    except GoodlengthError as error:
        return _page(request, opened, jobs, message=error.page_words)
    request.app.state.preparation.notify()
    return _back(opened.id)


@router.get("/api/matches/{match_id}/films")
def get_films(opened: CurrentMatch) -> Response:
    """Return the files of a match on its time line."""
    found = proxy_or_original_video_files.films_of(opened)
    return json_answer({"parts": [part.as_json() for part in found.parts], "waits": found.waits})


@router.api_route("/api/footage/{footage_id}/media", methods=["GET", "HEAD"], include_in_schema=False)
def media(request: Request, library: CurrentLibrary, footage_id: str) -> Response:
    """Return the file the page plays, whole or in pieces."""
    file = library.footage_file(footage_id)
    return FootageResponse(
        may_be_sent(request, library, proxy_or_original_video_files.played_path(library, file), file.sha256)
    )


@router.get("/api/footage/{footage_id}/frames")
def frames(library: CurrentLibrary, footage_id: str) -> Response:
    """Return the table of frame times of the file the page plays."""
    return json_answer(
        proxy_or_original_video_files.table_at(
            proxy_or_original_video_files.table_path(library, library.footage_file(footage_id))
        ).to_json()
    )


@router.get("/api/jobs/{job_id}")
def job(jobs: CurrentJobs, job_id: str) -> Response:
    """Return how far a copy is."""
    return json_answer(dict(_job_data(jobs.state(job_id))))


@router.post("/api/jobs/{job_id}/cancel")
def cancel(jobs: CurrentJobs, job_id: str) -> Response:
    """Stop making a copy; nothing half-written stays."""
    return json_answer(dict(_job_data(jobs.cancel(job_id))))


def _job_data(job: JobState) -> JobJson:
    return {"id": job.id, "state": job.state, "share": job.share, "words": job.error or job.words}


def _take_date(opened: OpenMatch, footage_id: str) -> None:
    """Use the date in the file as the match's."""
    seen = probe_of(opened.library.footage_file(footage_id))
    if seen is not None and seen.recorded is not None:
        tasks.change_match(opened.library, opened.id, played_on=day_of(seen.recorded))


def _take_tracks(
    request: Request, opened: OpenMatch, jobs: Jobs, footage_id: str, form: Submitted[TrackForm]
) -> Response:
    """Use another picture or sound of a file."""
    try:
        track = form.value.track
        changed = tasks.choose_tracks(opened.library, footage_id, **{track.kind: track.number})
    except GoodlengthError as error:
        return _page(request, opened, jobs, message=error.page_words)
    proxy_or_original_video_files.begin_work(opened.library, jobs, changed)
    return _back(opened.id)


def _approve_court(request: Request, opened: OpenMatch, jobs: Jobs, footage_id: str) -> Response:
    """Save the court found by itself, which the coach has looked at."""
    try:
        camera_calibration.approve_court(opened.library, footage_id)
    except GoodlengthError as error:
        return _page(request, opened, jobs, message=error.page_words)
    request.app.state.preparation.notify()
    return _back(opened.id)


def _place(
    request: Request, opened: OpenMatch, jobs: Jobs, footage_id: str, form: Submitted[PlaceForm]
) -> Response:
    """Put a file at a match time, or, with nothing typed, right after the one before it."""
    name = f"{STARTS}{footage_id}"
    try:
        with _videos_undoable(opened, "Start time of a video") as change:
            tasks.place_footage(opened.library, footage_id, form.value.starts.get(footage_id))
    except GoodlengthError as error:
        faults = {name: error.page_words}
        return _page(request, opened, jobs, faults=faults, typed_start=form.shown(name))
    return _back(opened.id, change.item)


def _back(match_id: str, item: str = "") -> Response:
    return redirect(f"/matches/{quote(match_id, safe='')}/footage", item)


def _page(request: Request, opened: OpenMatch, jobs: Jobs, **shown: Any) -> Response:
    data = sheet_data(opened)
    placed = {part.id: part for part in data.films.parts}
    rows = [_file(opened, jobs, footage_file, placed.get(footage_file.id)) for footage_file in opened.footage]
    joined(rows)
    length = data.films.length_us
    context: dict[str, Any] = {
        "message": "",
        "faults": {},
        "typed": "",
        "typed_start": "",
        "bare": False,
        **shown,
    }
    return match_page(
        request,
        data,
        "footage/footage_files.html",
        "footage",
        status=422 if context["faults"] else 200,
        files=rows,
        awaited=any(row["job"] for row in rows),
        length_words=minutes_words(seconds(length)) if length else "No video yet",
        spans=_games(_spans(data)),
        found=data.detected,
        hearing_job=tasks.rally_detection_job_of(jobs, opened.id),
        picture_job=tasks.rally_detection_job_of(jobs, opened.id, PICTURE_KIND),
        picture_started=tasks.picture_started(opened),
        measured=_measured(data),
        followed=player_tracking.tracked_match(opened),
        following_job=player_tracking.tracking_job_of(jobs, opened.id),
        interrupted=[
            (work, RESTART_ADDRESSES[work.kind]) for work in interrupted_work(opened, jobs, data.detected)
        ],
        ball=ball_view(opened, jobs),
        phone=phone_invitation(request, opened.id),
        watched=watched_folder(opened.library, here=is_computer(request)),
        **context,
    )


def _measured(data: SheetData) -> str:
    """Return how many serves of the match are measured so far."""
    have = len(measured_of(data.match))
    return f"{have} of {len(data.match.rallies)} measured" if have else "none measured yet"


def joined(rows: list[dict[str, Any]]) -> None:
    """Say of each file how it follows the one before it: at once, after a gap, or laid over it."""
    ends: int | None = None
    for row in rows:
        row["join"] = ""
        if row["starts_us"] is None:
            continue
        if ends is not None:
            apart = row["starts_us"] - ends
            if apart > 0:
                row["join"] = f"Filming paused for {clock_words(seconds(apart))} before it."
            elif apart < 0:
                row["join"] = f"It overlaps the previous file by {clock_words(seconds(-apart))}."
        ends = row["starts_us"] + row["length_us"]


def _file(
    opened: OpenMatch,
    jobs: Jobs,
    footage_file: Footage,
    placed: proxy_or_original_video_files.PagePart | None,
) -> dict[str, Any]:
    """One file as the page lists it."""
    library = opened.library
    seen = probe_of(footage_file)
    job = proxy_or_original_video_files.job_of(jobs, library, footage_file)
    calibrated = camera_calibration.has_camera(library, footage_file.id)
    reason = copy_reason(footage_file)
    problems = [] if seen is None else [problem.words for problem in seen.problems]
    if not footage_file.where.is_file():
        problems.insert(0, proxy_or_original_video_files.missing_words(footage_file))
    copied = proxy_or_original_video_files.copy_of(library, footage_file) is not None
    if copied:
        words = "This page plays a copy. The original is not changed, and clips are cut from it."
    else:
        words = (
            f"This video needs a browser-friendly copy: {reason}."
            if reason
            else "Plays in this browser. No copy needed."
        )
    return {
        "id": quote(footage_file.id, safe=""),
        "key": footage_file.id,
        "starts_us": None if placed is None else placed.starts_us,
        "length_us": None if placed is None else placed.end_us - placed.first_us,
        "starts": "" if placed is None else clock_words(seconds(placed.starts_us)),
        "by_hand": footage_file.starts_us is not None,
        "seen_us": _preview_us(footage_file),
        "in_library": footage_file.copied,
        "name": Path(footage_file.path).name,
        "about": _about(footage_file, seen),
        "problems": problems,
        "recorded": "" if seen is None or seen.recorded is None else recorded_words(seen.recorded),
        "can_date": _other_date(opened, seen),
        "tracks": _other_tracks(seen),
        "job": job,
        "proxy_words": words,
        "has_camera": calibrated,
        "camera": "done; positions and serves can be measured"
        if calibrated
        else "needed to measure positions and serves",
        "court": None if calibrated else court_view(library, jobs, footage_file.id),
        "can_proxy": bool(reason) and not copied and jobs.owner,
    }


def _other_date(opened: OpenMatch, seen: Probe | None) -> str:
    """Return the day in the file, in words, where the match has another or none."""
    if seen is None or seen.recorded is None:
        return ""
    day = day_of(seen.recorded)
    return "" if opened.info.played_on == day else day_words(day)


def _other_tracks(seen: Probe | None) -> list[dict[str, str]]:
    """Pictures and sounds of a file that are not used, where the coach can choose one."""
    return [
        {
            "value": f"{track.kind}-{track.number}",
            "words": f"{TRACK_WORDS[track.kind]} {track.number}: {track.words}",
        }
        for track in (() if seen is None else seen.tracks)
        if not track.used
    ]


def _preview_us(footage_file: Footage) -> int | None:
    """The moment a file is shown by: a tenth of the way in, where play is likelier than at its start."""
    if footage_file.first_us is None or footage_file.end_us is None or not footage_file.where.is_file():
        return None
    return footage_file.first_us + (footage_file.end_us - footage_file.first_us) // 10


def _games(spans: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the rallies game by game, with how many of them have a time."""
    found: list[dict[str, Any]] = []
    for game in dict.fromkeys(span["game"] for span in spans):
        rows = [span for span in spans if span["game"] == game]
        timed = sum(row["start_us"] is not None for row in rows)
        found.append({"game": game, "rows": rows, "timed": timed})
    return found


def _about(footage_file: Footage, seen: Any) -> str:
    if seen is None or footage_file.first_us is None or footage_file.end_us is None:
        return "Not checked yet."
    parts = [
        minutes_words(seconds(footage_file.end_us - footage_file.first_us)),
        f"{seen.width} × {seen.height}",
        f"{seen.rate_hz:.4g} frames per second" + (", uneven" if seen.variable_rate else ""),
        "with sound" if seen.sound else "without sound",
        "copied into the library" if footage_file.copied else str(footage_file.where.parent),
    ]
    return ", ".join(parts)


def _spans(data: SheetData) -> list[dict[str, Any]]:
    """Rallies with their times, to be put right."""
    ids = span_ids(data)
    how = {"answers": "from answers", "marked": "set by hand", "heard": "detected", None: ""}
    return [
        {
            "key": rally.key,
            "game": rally.game,
            "score": f"{rally.before[0]}–{rally.before[1]}{' (let)' if rally.let else ''}",
            "start_us": rally.start_us,
            "end_us": rally.end_us,
            "start": "" if rally.start_us is None else clock_words(seconds(rally.start_us)),
            "end": "" if rally.end_us is None else clock_words(seconds(rally.end_us)),
            "length": ""
            if rally.start_us is None or rally.end_us is None
            else f"{seconds(rally.end_us - rally.start_us):.1f} s",
            "how": how.get(rally.span_how, rally.span_how),
            "replaces": ids.get(rally.key, ""),
        }
        for rally in data.match.rallies
    ]
