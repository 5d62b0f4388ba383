"""Page on the reliability of the results: every limit that the pages name."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from goodlength.web.page_rendering import page

router = APIRouter(include_in_schema=False)


@router.get("/trust")
def trust(request: Request) -> Response:
    """Return the page that other pages link to with the name of a section."""
    return page(request, "library/reliability.html")
