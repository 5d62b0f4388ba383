"""Routes of the demo, added and removed by a button, and of the tour through its pages."""

from __future__ import annotations

from pathlib import Path

from fastapi import APIRouter
from starlette.responses import RedirectResponse, Response

from goodlength import demo
from goodlength.jobs.job_queue import ACTIVE, Jobs
from goodlength.web.demo_tour import end_tour, go_to_step
from goodlength.web.http.route_dependencies import CurrentJobs, CurrentLibrary

router = APIRouter(include_in_schema=False)
KIND = "demo"
STOPS_WITHIN_S = 20.0


@router.post("/demo")
def add_demo(library: CurrentLibrary, jobs: CurrentJobs) -> Response:
    """Add the demo's matches at once; its video and a coach's work on it follow in a job."""
    demo.build(library, footage=False)
    if isinstance(library.address, Path) and jobs.owner and demo_job_of(jobs) is None:
        jobs.start(KIND, demo.demo_job, {"folder": str(library.folder)})
    return RedirectResponse("/matches?done=demo-added", status_code=303)


@router.post("/demo/remove")
def remove_demo(library: CurrentLibrary, jobs: CurrentJobs) -> Response:
    """Take the demo's matches, players and footage out; a demo still being made is stopped first."""
    under_way = demo_job_of(jobs)
    if under_way is not None:
        jobs.cancel(under_way)
        jobs.wait(under_way, STOPS_WITHIN_S)
    demo.remove(library)
    return RedirectResponse("/matches?done=demo-removed", status_code=303)


@router.post("/tour/leave")
def leave(library: CurrentLibrary) -> Response:
    """End the tour, or refuse it."""
    end_tour(library)
    return RedirectResponse("/matches?done=tour-over", status_code=303)


@router.post("/tour/{number}")
def go_on(library: CurrentLibrary, number: int) -> Response:
    """Open a step of the tour."""
    return RedirectResponse(go_to_step(library, number), status_code=303)


def demo_job_of(jobs: Jobs) -> str | None:
    """Return the job that makes the demo now."""
    return next((job.id for job in jobs.states() if job.kind == KIND and job.state in ACTIVE), None)
