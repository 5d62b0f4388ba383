"""Error responses: the same words as JSON for scripts and as a page for people."""

from __future__ import annotations

import logging

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.responses import JSONResponse, Response

from goodlength import errors as gl
from goodlength.files.typed_value_parsing import fault_list
from goodlength.web.page_rendering import page

LOG = logging.getLogger("goodlength.web")

# the first that fits counts
STATUSES: tuple[tuple[type[gl.GoodlengthError], int, str], ...] = (
    (gl.NotFound, 404, "not-found"),
    (gl.OutOfRange, 422, "out-of-range"),
    (gl.InputError, 422, "input"),
    (gl.RulesError, 422, "rules"),
    (gl.UnclearError, 422, "unclear"),
    (gl.FootageGone, 410, "footage-gone"),
    (gl.FootageError, 422, "footage"),
    (gl.CalibrationError, 422, "calibration"),
    (gl.NoSpace, 507, "no-space"),
    (gl.StoreError, 500, "library"),
    (gl.Conflict, 409, "conflict"),
    (gl.ConsentMissing, 403, "consent-missing"),
    (gl.NotBuilt, 501, "not-built"),
    (gl.Cancelled, 409, "cancelled"),
)
OUR_MISTAKE = (
    "goodlength hit an error of its own. Your earlier answers are saved. Reload the page; if it "
    "happens again, the window in which goodlength was started shows what to report."
)


def status_of(error: gl.GoodlengthError) -> tuple[int, str]:
    """Return the HTTP status of an error and its name in JSON."""
    for kind, status, name in STATUSES:
        if isinstance(error, kind):
            return status, name
    return 400, "refused"


def answer(request: Request, status: int, kind: str, words: str) -> Response:
    """Return the words as JSON under /api, as a page everywhere else.

    Half a character, which JSON can send and no answer can hold, is written as its number.
    """
    words = words.encode("utf-8", "backslashreplace").decode("utf-8")
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": {"kind": kind, "words": words}}, status_code=status)
    href, name = _list_of(request.url.path)
    heading = "This page was not found" if status == 404 else "Something went wrong"
    if request.url.path.startswith("/handed/"):  # the player's, who has no way into the pages of the coach
        return page(request, "layout/link_error.html", status=status, words=words, tour=None)
    return page(
        request,
        "layout/error.html",
        status=status,
        heading=heading,
        words=words,
        list_href=href,
        list_words=name,
    )


def _list_of(path: str) -> tuple[str, str]:
    """Return the address and the name of the list from which a coach goes on after an error."""
    if path.startswith("/players"):
        return "/players", "All players"
    return "/matches", "All matches"


def add_handlers(app: FastAPI) -> None:
    """Let every error of the app be answered in one of the two shapes."""

    @app.exception_handler(gl.GoodlengthError)
    def ours(request: Request, error: gl.GoodlengthError) -> Response:
        status, kind = status_of(error)
        return answer(request, status, kind, error.page_words)

    @app.exception_handler(RequestValidationError)
    def malformed(request: Request, error: RequestValidationError) -> Response:
        faults = error.errors()
        why = "; ".join(fault_list(faults[:10], "request", skip=1)) or "it cannot be read"
        return answer(request, 422, "input", f"The request cannot be read ({why}).")

    @app.exception_handler(HTTPException)
    def plain(request: Request, error: HTTPException) -> Response:
        words = {
            404: "This page does not exist. Go to Matches.",
            405: "This page cannot be opened or reloaded like this. Go back, or go to Matches.",
        }.get(error.status_code, str(error.detail))
        return answer(request, error.status_code, "refused", words)

    @app.exception_handler(ClientDisconnect)
    def gone(_request: Request, _error: ClientDisconnect) -> Response:
        return Response(status_code=400)  # nobody is there to read it, and nothing is wrong here

    @app.exception_handler(OSError)
    def system(request: Request, error: OSError) -> Response:
        trouble = gl.disk_trouble(error)
        return mistake(request, error) if trouble is None else ours(request, trouble)

    @app.exception_handler(Exception)
    def mistake(request: Request, error: Exception) -> Response:
        LOG.error("%s %s", request.method, request.url.path, exc_info=error)
        return answer(request, 500, "mistake", OUR_MISTAKE)
