"""Routes of the guides: the list, and each of them."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from goodlength import demo
from goodlength.errors import NotFound
from goodlength.web.help_pages import NAMES, SECTIONS, guide, guide_title
from goodlength.web.http.phone_qr_code_invitation import is_computer
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.page_rendering import page

router = APIRouter(include_in_schema=False)


@router.get("/help")
def guides(request: Request, library: CurrentLibrary) -> Response:
    """Return the list of guides, and the way to the tour."""
    return page(
        request,
        "library/guide_list.html",
        sections=_sections(),
        has_demo=demo.SETTING in library.settings(),
        on_computer=is_computer(request),
    )


@router.get("/help/{name}")
def show_first_guide(request: Request, name: str) -> Response:
    """Return a guide of no folder."""
    return _guide(request, name)


@router.get("/help/{folder}/{name}")
def show_guide(request: Request, folder: str, name: str) -> Response:
    """Return a guide of a folder."""
    return _guide(request, f"{folder}/{name}")


def _guide(request: Request, name: str) -> Response:
    if name not in NAMES:
        raise NotFound("There is no such guide. Open Help for the list of guides.")
    return page(request, "library/guide.html", guide=guide(name), sections=_sections())


def _sections() -> list[tuple[str, list[tuple[str, str]]]]:
    return [(title, [(name, guide_title(name)) for name in names]) for title, names in SECTIONS.items()]
