"""Dependencies of the routes: the library, its jobs and transfers, and the match of the address, opened once
a request.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from goodlength.jobs.job_queue import Jobs
from goodlength.record.store import Library
from goodlength.tasks.match.lazy_match import OpenMatch, open_match
from goodlength.tasks.preparation import PreparationQueue
from goodlength.tasks.transfer import VideoTransfers


async def library_of(request: Request) -> Library:
    """Return the library behind the page."""
    library: Library = request.app.state.library
    return library


async def jobs_of(request: Request) -> Jobs:
    """Return the long jobs of the library."""
    jobs: Jobs = request.app.state.jobs
    return jobs


async def transfers_of(request: Request) -> VideoTransfers:
    """Return the videos that other devices are sending."""
    transfers: VideoTransfers = request.app.state.transfers
    return transfers


async def preparation_of(request: Request) -> PreparationQueue:
    """Return the queue of all that goodlength does by itself with videos."""
    preparation: PreparationQueue = request.app.state.preparation
    return preparation


CurrentPreparation = Annotated[PreparationQueue, Depends(preparation_of)]
CurrentTransfers = Annotated[VideoTransfers, Depends(transfers_of)]
CurrentLibrary = Annotated[Library, Depends(library_of)]
CurrentJobs = Annotated[Jobs, Depends(jobs_of)]


def match_of(request: Request, library: CurrentLibrary, match_id: str) -> OpenMatch:
    """Open the match that the address names, with the findings kept while it is unchanged.

    Raises
    ------
    NotFound
        There is no such match.
    """
    return open_match(library, match_id, request.app.state.found.findings)


CurrentMatch = Annotated[OpenMatch, Depends(match_of)]
