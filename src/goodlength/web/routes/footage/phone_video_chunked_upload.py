"""Routes of a video that a phone sends in pieces: its page, the pieces, and how far each video is."""

from __future__ import annotations

from asyncio import Semaphore
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, ConfigDict, Field, StrictInt
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from goodlength.record.player_and_match_display_names import title_of
from goodlength.tasks.people.player_records_and_consent import players_of
from goodlength.tasks.transfer import VideoTransfers
from goodlength.tasks.transfer.video_transfer_state_file import PIECE_BYTES, VideoTransfer
from goodlength.web.http.error_handlers import answer
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentLibrary, CurrentTransfers
from goodlength.web.page_json_types.video_playback_and_jobs import TransferJson
from goodlength.web.page_rendering import page
from goodlength.web.views.match_description_and_result_phrases import where_words

router = APIRouter()
MOST_LETTERS = 1000
# a whole number that no file reaches, so that no text of a number is too long to be read
Place = Annotated[int, Query(ge=0, le=2**53)]


class TransferIn(BaseModel):
    """A video that is to be sent."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(max_length=MOST_LETTERS)
    size: StrictInt
    fingerprint: str = Field(max_length=MOST_LETTERS)


class FinishIn(BaseModel):
    """The hash of a video that has been sent whole."""

    model_config = ConfigDict(extra="forbid")
    sha256: str = Field(max_length=MOST_LETTERS)


@router.get("/matches/{match_id}/phone", include_in_schema=False)
def phone(request: Request, library: CurrentLibrary, match_id: str) -> Response:
    """Return the page on which a phone chooses a video and sends it."""
    info = library.match_info(match_id)
    shown: dict[str, Any] = {
        "match_id": quote(info.id, safe=""),
        "title": title_of(*players_of(library, info)),
        "where": where_words(info),
    }
    return page(request, "footage/phone_transfer.html", **shown)


@router.get("/api/matches/{match_id}/transfers")
def transfers(library: CurrentLibrary, sent: CurrentTransfers, match_id: str) -> Response:
    """Return the videos that are being sent to a match."""
    return _transfers(sent, library.match_info(match_id).id)


@router.post("/api/matches/{match_id}/transfers")
def begin(sent: CurrentTransfers, match_id: str, body: TransferIn) -> Response:
    """Begin to receive a video, or go on with it."""
    return json_answer(dict(transfer_json(sent.begin(match_id, body.name, body.size, body.fingerprint))))


@router.get("/api/transfers/{transfer_id}")
def transfer(sent: CurrentTransfers, transfer_id: str) -> Response:
    """Return how far a video is."""
    return json_answer(dict(transfer_json(sent.transfer(transfer_id))))


@router.post("/api/transfers/{transfer_id}/piece")
async def piece(
    request: Request, sent: CurrentTransfers, transfer_id: str, at: Place, sha256: str = ""
) -> Response:
    """Take one piece in, as the body of the request; only so many are in memory at once."""
    turns: Semaphore = request.app.state.pieces
    if turns.locked():
        return answer(request, 429, "refused", "The computer is busy with other videos. Try again soon.")
    async with turns:
        body = await request.body()
        state = await run_in_threadpool(sent.take_piece, transfer_id, at, body, sha256)
    return json_answer(dict(transfer_json(state)))


@router.post("/api/transfers/{transfer_id}/finish")
def finish(sent: CurrentTransfers, transfer_id: str, body: FinishIn) -> Response:
    """Begin to check a video that was sent whole, and to add it to its match."""
    return json_answer(dict(transfer_json(sent.finish(transfer_id, body.sha256))))


@router.post("/api/transfers/{transfer_id}/cancel")
def cancel(sent: CurrentTransfers, transfer_id: str) -> Response:
    """Stop receiving a video, or clear one that has ended from the list; return what is left there."""
    match_id = sent.transfer(transfer_id).match
    sent.cancel(transfer_id)
    return _transfers(sent, match_id)


def _transfers(sent: VideoTransfers, match_id: str) -> Response:
    return json_answer({"transfers": [transfer_json(state) for state in sent.of_match(match_id)]})


def transfer_json(state: VideoTransfer) -> TransferJson:
    """Return a transfer as the scripts take it."""
    return {
        "id": state.id,
        "name": state.name,
        "size": state.size,
        "received": state.received,
        "piece": PIECE_BYTES,
        "phase": state.phase,
        "checked": state.checked,
        "words": state.words,
    }
