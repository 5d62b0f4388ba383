"""Links to single handouts for a player's own phone on the same network, read-only."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from goodlength.errors import ConsentMissing, NotFound
from goodlength.tasks.removal.handout_link_withdrawal import LINKS_SETTING, stored_links
from goodlength.tasks.sharing.handout_content_and_files import handout_refusal

if TYPE_CHECKING:
    from goodlength.record.store import Library

DAYS = 7


@dataclass(frozen=True)
class HandoutLink:
    """A link to one handout and how long it holds."""

    token: str
    match: str
    until: datetime


def make_link(library: Library, match_id: str, now: datetime | None = None) -> HandoutLink:
    """Return a link to the handout of a match, good for seven days; the player must have agreed to handouts.

    Raises
    ------
    NotFound
        If there is no such match.
    ConsentMissing
        If the player (for a junior a parent) has not agreed.
    """
    info = library.match_info(match_id)
    refusal = handout_refusal(library.player(info.players[info.coached.place]))
    if refusal:
        raise ConsentMissing(refusal)
    now = now or datetime.now(UTC)
    made = HandoutLink(secrets.token_urlsafe(18), match_id, now + timedelta(days=DAYS))
    current = [
        stored_link
        for stored_link in stored_links(library)
        if datetime.fromisoformat(stored_link["until"]) > now
    ]
    plain = {"token": made.token, "match": match_id, "until": made.until.isoformat()}
    library.set_setting(LINKS_SETTING, [*current, plain])
    return made


def match_of_link(library: Library, token: str, now: datetime | None = None) -> str:
    """Return the match whose handout a link shows.

    Raises
    ------
    NotFound
        The link is unknown, has run out, its match is gone, or consent was taken back.
    """
    now = now or datetime.now(UTC)
    for stored_link in stored_links(library):
        if secrets.compare_digest(str(stored_link["token"]).encode(), token.encode()):
            info = library.match_info(stored_link["match"])
            agreed = not handout_refusal(library.player(info.players[info.coached.place]))
            if agreed and datetime.fromisoformat(stored_link["until"]) > now:
                return str(stored_link["match"])
    raise NotFound("This link has expired. Ask the coach for a new one.")
