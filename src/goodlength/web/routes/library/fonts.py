"""Serve the page's fonts from the font's own Python package."""

from __future__ import annotations

import fontpkg
from fastapi import APIRouter
from fastapi.responses import FileResponse
from starlette.responses import Response

from goodlength.errors import NotFound

router = APIRouter()
FAMILY = "Atkinson Hyperlegible"
CUTS = {"400-normal": (400, "normal"), "700-normal": (700, "normal"), "400-italic": (400, "italic")}


@router.get("/fonts/{cut}.ttf", include_in_schema=False)
def font(cut: str) -> Response:
    """Return one cut of the font; it never changes while the page runs, so the browser may keep it."""
    if cut not in CUTS:
        raise NotFound(f"There is no cut {cut!r} of the font; there are: {', '.join(CUTS)}.")
    weight, style = CUTS[cut]
    path = fontpkg.path(FAMILY, weight=weight, style=style)
    return FileResponse(path, media_type="font/ttf", headers={"cache-control": "max-age=86400"})
