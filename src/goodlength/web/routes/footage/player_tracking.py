"""Routes of player tracking: the job, the page with each rally's paths from above, and who is who."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength.errors import GoodlengthError
from goodlength.findings.analyses.player_distance_from_t_quartiles import CourtPositions
from goodlength.forms.footage.player_tracking_json import PlayerWorkJson, tracking_form
from goodlength.jobs.job_queue import Jobs
from goodlength.media_time import clock_words, seconds
from goodlength.show.draw.court.floor_maps import FloorLine, SpotMark, floor_map, spot_key
from goodlength.tasks.footage import player_tracking
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentMatch
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, posted
from goodlength.web.submitted_forms.video_file_track_and_split_forms import WhoIsWhoForm
from goodlength.web.views.keyboard_shortcuts import TRACK_KEYS, with_player
from goodlength.web.views.match_description_and_result_phrases import worn_names
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.player_movement.time_on_court_view import time_on_court_view

router = APIRouter(include_in_schema=False)
PostedNames = Annotated[Submitted[WhoIsWhoForm], Depends(posted(WhoIsWhoForm))]


@router.get("/matches/{match_id}/players")
def players(
    request: Request, opened: CurrentMatch, jobs: CurrentJobs, rally: str = "", game: str = ""
) -> Response:
    """Return the rallies followed, one of them from above, and the time on court of the match or a game."""
    return _page(request, opened, jobs, rally, game)


@router.post("/matches/{match_id}/players")
def begin(request: Request, opened: CurrentMatch, jobs: CurrentJobs, form: PostedNames) -> Response:
    """Begin following the players, or keep who is who."""
    try:
        if form.value.first_is is None:
            player_tracking.start_tracking(opened, jobs)
        else:
            player_tracking.name_players(opened, form.value.first_is)
    except GoodlengthError as error:
        return _page(request, opened, jobs, message=error.page_words, status=422)
    return RedirectResponse(f"/matches/{quote(opened.id, safe='')}/players", status_code=303)


def _page(
    request: Request,
    opened: OpenMatch,
    jobs: Jobs,
    rally: str = "",
    game: str = "",
    *,
    message: str = "",
    status: int = 200,
) -> Response:
    found, names = player_tracking.tracked_match(opened), opened.names
    form = tracking_form(opened, found) if found.rallies else None
    chosen = next((tracked_rally for tracked_rally in found.rallies if tracked_rally.key == rally), None)
    chosen = chosen or next((tracked_rally for tracked_rally in found.rallies if tracked_rally.shown), None)
    waits = player_tracking.positions_at_opponent_strikes(found) if form else {}
    data = sheet_data(opened)
    return match_page(
        request,
        data,
        "footage/player_tracking.html",
        "footage",
        status=status,
        message=message,
        found=found,
        job=player_tracking.tracking_job_of(jobs, opened.id),
        names=names,
        worn=worn_names(names, opened.info),
        time_maps=time_on_court_view(opened, found, game),
        key_a=spot_key(SpotMark.WEAK, side="a"),
        key_b=spot_key(SpotMark.GOOD, side="b"),
        chosen=None if chosen is None else _chosen(found, chosen, names),
        playing=chosen is not None and bool(data.films.parts),
        keys=with_player(TRACK_KEYS, without=("short",)),
        rows=[_row(tracked_rally, chosen) for tracked_rally in found.rallies],
        work=[
            {**_work(form["work"][side], name), "waits": _waits(waits[side])}
            for side, name in zip("ab", names, strict=True)
        ]
        if form
        else [],
    )


def _row(
    tracked_rally: player_tracking.TrackedRally, chosen: player_tracking.TrackedRally | None
) -> dict[str, Any]:
    rally = tracked_rally.rally
    return {
        "key": tracked_rally.key,
        "name": f"Game {rally.game}, {rally.before[0]}–{rally.before[1]}"
        if rally
        else "Detected, not logged",
        "time": clock_words(seconds(tracked_rally.start_us)),
        "hidden": tracked_rally.track.hidden,
        "partial": "" if tracked_rally.track.hidden else tracked_rally.track.partial,
        "told": tracked_rally.track.identified,
        "here": tracked_rally is chosen,
        "start_us": tracked_rally.start_us,
        "end_us": tracked_rally.end_us,
    }


def _chosen(
    found: player_tracking.TrackedMatch, tracked_rally: player_tracking.TrackedRally, names: tuple[str, str]
) -> dict[str, Any]:
    """One rally from above, with each hit's place where it is known who hit."""
    row = _row(tracked_rally, tracked_rally)
    if not tracked_rally.shown:
        return {**row, "picture": "", "words": f"Not shown: {tracked_rally.track.hidden}."}
    hits: dict[str, list[tuple[float, float]]] = {"a": [], "b": []}
    for hit in player_tracking.hit_places(found):
        if hit.key == tracked_rally.key and hit.striker_m is not None:
            hits[hit.by].append(hit.striker_m)
    inside = (tracked_rally.track.paths.times_s >= tracked_rally.start_us / 1e6) & (
        tracked_rally.track.paths.times_s <= tracked_rally.end_us / 1e6
    )
    ways = [
        FloorLine(
            [(float(x), float(y)) for x, y in tracked_rally.track.paths.xy[inside, p]], side, hits[side]
        )
        for p, side in enumerate("ab")
    ]
    who = names if tracked_rally.track.identified else ("one player", "the other")
    label = (
        f"Court floor from above, front wall at the top: the movement of {who[0]} and {who[1]} in this rally."
    )
    error = (
        100 * float(sum(tracked_rally.track.paths.error_m[inside].mean(axis=0)) / 2) if inside.any() else 0.0
    )
    return {
        **row,
        "picture": floor_map(label=label, ways=ways, wide=320.0),
        "who": who,
        "words": f"Positions are accurate to about {error:.0f} cm.",
    }


def _waits(stood: CourtPositions) -> str:
    """Return how far from the T a player stood when the other hit: middle, its range, and how many hits."""
    middle = stood.from_t
    if middle is None or middle.median is None or middle.low is None or middle.high is None:
        return "too few hits known"
    return f"{middle.median:.1f} m ({middle.low:.1f} to {middle.high:.1f}), {stood.n} hits"


def _work(done: PlayerWorkJson, name: str) -> dict[str, str]:
    """Return what one player did, for the table; only rallies in which it is known who is who."""
    if not done["rallies"]:
        return {"name": name, "rallies": "none", "way": "–", "away": "–"}
    share = 100 * done["away_s"] / max(done["seconds"], 0.1)
    return {
        "name": name,
        "rallies": str(done["rallies"]),
        "way": f"{done['way_m']:.0f} m",
        "away": f"{share:.0f}%",
    }
