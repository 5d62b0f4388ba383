"""How a phone gets to the page that sends a video, or to a clip: a QR code, the address and the pass code."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from starlette.requests import Request

from goodlength.web.http.passcode_sessions import Sharing, from_here


@dataclass(frozen=True)
class PhoneInvitation:
    """What the Footage page says of sending from a phone.

    `href` is for the device that reads the page; the rest is shown on the computer alone, while the page is
    shared: `address` for a phone, `qr_code` of it as SVG, and the pass code in two groups.
    """

    href: str
    here: bool
    address: str = ""
    qr_code: str = ""
    code: str = ""


def is_computer(request: Request) -> bool:
    """Return whether the page is read on the computer where goodlength runs."""
    return request.app.state.sharing is None or from_here(request.scope)


def phone_invitation(request: Request, match_id: str) -> PhoneInvitation:
    """Return how a phone gets to the sending page of a match."""
    return address_invitation(request, f"/matches/{quote(match_id, safe='')}/phone")


def address_invitation(request: Request, href: str) -> PhoneInvitation:
    """Return how a phone gets to a path of this page."""
    sharing: Sharing | None = request.app.state.sharing
    addresses: tuple[str, ...] = request.app.state.addresses
    here = is_computer(request)
    if not here or sharing is None or not addresses:
        return PhoneInvitation(href, here)
    address = f"{addresses[0].rstrip('/')}{href}"
    return PhoneInvitation(href, here, address, qr_code(address), sharing.code_words)


def qr_code(address: str) -> str:
    """Return the QR code of an address as SVG."""
    import segno

    drawing: str = segno.make(address, error="m").svg_inline(
        scale=4, border=4, dark="#16191C", light="#FFFFFF", omitsize=True
    )
    return drawing
