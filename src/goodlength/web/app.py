"""The web application, built around one library without global state."""

from __future__ import annotations

import threading
from asyncio import Semaphore, to_thread
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from fastapi import FastAPI
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.files.temporary_export_folders import sweep_private
from goodlength.jobs.job_queue import Jobs
from goodlength.web.background_season_reader import SeasonReader
from goodlength.web.coach_settings import read_settings
from goodlength.web.demo_tour import tour_of
from goodlength.web.http import error_handlers
from goodlength.web.http.host_origin_and_body_size_guard import LOCAL_HOSTS, BodyLimit, Guard
from goodlength.web.http.library_switch_on_running_server import LibraryCheck, LibraryReopening
from goodlength.web.http.passcode_sessions import Gate, Sharing
from goodlength.web.network_sharing_switch import NetworkSwitch
from goodlength.web.page_language.language_of_requests import PageLanguage, SpokenLanguage
from goodlength.web.page_rendering import HERE
from goodlength.web.routes import ROUTERS
from goodlength.web.scoresheet_change_tracking import FollowedSheets
from goodlength.web.views.findings_cache import FindingsCache, warm_up
from goodlength.web.views.frame_cache import FrameCache
from goodlength.web.views.proxy_or_original_video_files import begin_work

if TYPE_CHECKING:
    from goodlength.record.model import Footage
    from goodlength.record.store import Library


ASSUMED_PIECES = 12  # of 4 MB in memory at once: two for each of the videos that may be sent at a time
CLOSING_S = 5.0  # the check of the library in the background is waited for so long


class Static(StaticFiles):
    """Files of the package: asked for anew each time, so that a new version never meets old scripts."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer one file, or 304 when the browser's copy is the same."""
        response = await super().get_response(path, scope)
        response.headers["cache-control"] = "no-cache"
        return response


ABANDONED_S = 3600.0  # a page left open for longer has to look at its import again


def _check_library(library: Library) -> None:
    """Check the library while the page is used already; closed meanwhile, there is nothing to tell."""
    with suppress(GoodlengthError):
        library.check_when_idle()


def _tidy(library: Library, closing: threading.Event) -> None:
    """Remove what was abandoned, at the start and every hour, and what lay in the bin for 30 days."""
    with suppress(OSError):
        sweep_private()
    while True:
        with suppress(GoodlengthError, OSError):
            tasks.sweep(library)
        if closing.wait(ABANDONED_S):
            return


def _take_up(app: FastAPI, added: Footage) -> None:
    """Begin what a video that has arrived needs: its date, its court, a copy that plays, its queue."""
    with suppress(GoodlengthError):
        tasks.date_from_video(app.state.library, added)
    begin_work(app.state.library, app.state.jobs, added)
    app.state.preparation.notify()


async def _begin_work_in_background(app: FastAPI, closing: threading.Event) -> None:
    try:
        if app.state.jobs.owner:  # two programs on one library would check the same videos
            await to_thread(app.state.transfers.resume)
        app.state.preparation.start()
    except BaseException:  # nothing is served: another start must find nothing in use
        closing.set()
        app.state.jobs.close()
        app.state.library.close()
        raise


def create_app(
    library_path: str | Path | None = None,
    *,
    sharing: Sharing | None = None,
    hosts: Iterable[str] = LOCAL_HOSTS,
) -> FastAPI:
    """Return the page for one library, opened at once so that a fault is told before anything is served.

    Parameters
    ----------
    library_path : str or Path, optional
        The library's folder, made if missing; left out, GOODLENGTH_LIBRARY or the user's data folder.
    sharing : Sharing, optional
        With it requests from other machines are let in by pass code; without, none should reach it.
    hosts : iterable of str
        Names the page answers to.

    Raises
    ------
    NotOurLibrary, NewerLibrary, NoSpace
        If the library cannot be used as it is.
    """
    library = tasks.open_library(library_path)
    try:
        return _app_of(library, sharing, hosts)
    except BaseException:
        library.close()
        raise


def _app_of(library: Library, sharing: Sharing | None, hosts: Iterable[str]) -> FastAPI:
    names = set(hosts)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        threading.Thread(target=warm_up, name="goodlength warm-up", daemon=True).start()
        closing = threading.Event()
        check = threading.Thread(target=_check_library, args=(library,), name="goodlength check", daemon=True)
        tidy = threading.Thread(target=_tidy, args=(library, closing), name="goodlength tidy", daemon=True)
        check.start()
        tidy.start()
        await _begin_work_in_background(app, closing)
        yield
        closing.set()
        await app.state.network.switch_off()
        await to_thread(app.state.preparation.close)
        app.state.jobs.close()
        await to_thread(app.state.transfers.close)
        await to_thread(app.state.season.close)
        # A connection still in use when the library closes would stay open.
        for thread in (check, tidy):
            await to_thread(thread.join, CLOSING_S)
        library.close()

    app = FastAPI(
        title="goodlength",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
        middleware=[
            Middleware(Guard, hosts=names),
            Middleware(Gate),
            Middleware(LibraryCheck),
            Middleware(BodyLimit),
            Middleware(SpokenLanguage),
        ],
    )
    app.state.sharing = app.state.gate = sharing
    app.state.network = NetworkSwitch(app, names)
    app.state.library = library
    app.state.library_id = tasks.library_identity(library)
    app.state.found = FindingsCache()
    app.state.sheets = FollowedSheets()
    app.state.season = SeasonReader(library)
    app.state.pictures = FrameCache(library)
    app.state.jobs = Jobs(library.folder)
    app.state.preparation = tasks.PreparationQueue(library, app.state.jobs)
    app.state.transfers = tasks.VideoTransfers(library, lambda added: _take_up(app, added))
    app.state.pieces = Semaphore(ASSUMED_PIECES)
    app.state.reopening = LibraryReopening()
    app.state.addresses = ()  # where other devices reach the page, once it is served
    app.state.page_language = PageLanguage(library)
    app.state.room = lambda: read_settings(library).room
    app.state.tour = lambda request: tour_of(library.settings(), request)
    error_handlers.add_handlers(app)
    app.mount("/static", Static(directory=HERE / "static"), name="static")
    for router in ROUTERS:
        # As built on import: `include_router` would build each route a second time at the first request
        app.router.routes.extend(router.routes)

    @app.get("/", include_in_schema=False)
    def first(_: Request) -> Response:
        return RedirectResponse("/matches", status_code=303)

    return app
