"""The line with Undo that stands on the page after something was removed or changed."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode, urlsplit

from starlette.requests import Request
from starlette.responses import RedirectResponse

from goodlength import tasks
from goodlength.errors import GoodlengthError

NAME = "undo"  # in the address of a page: the id of what lies in the bin


@dataclass(frozen=True)
class UndoLine:
    """What was done, and the way back: the thing in the bin, and the page to come back to."""

    words: str
    item: str
    back: str


def undo_line(request: Request) -> UndoLine | None:
    """Return the line for what the address names; None where it names nothing that can be undone."""
    named = request.query_params.get(NAME, "")
    if not named:
        return None
    try:
        item = tasks.bin_item(request.app.state.library, named)
    except GoodlengthError:
        return None
    if item is None or item.refusal:
        return None
    done = "Changed" if item.kind == "change" else "Removed"
    rest = [(key, value) for key, value in request.query_params.multi_items() if key not in _OF_THE_ACT]
    back = request.url.path + (f"?{urlencode(rest)}" if rest else "")
    return UndoLine(f"{done}: {item.title}.", item.id, back)


_OF_THE_ACT = (NAME, "done", "removed", "made", "kept", "undone")


def redirect(address: str, item: str = "") -> RedirectResponse:
    """Return to a page, with the line with Undo where something lies in the bin."""
    path, mark, fragment = address.partition("#")
    if item:
        path += ("&" if "?" in path else "?") + urlencode({NAME: item})
    return RedirectResponse(path + mark + fragment, status_code=303)


def page_of_ours(address: str, otherwise: str) -> str:
    """Return an address if it is a path of this page, else another; so that a form leads nowhere strange."""
    parts = urlsplit(address)
    fine = address.startswith("/") and not address.startswith(("//", "/\\")) and not parts.netloc
    return address if fine and not any(ord(letter) < 32 for letter in address) else otherwise
