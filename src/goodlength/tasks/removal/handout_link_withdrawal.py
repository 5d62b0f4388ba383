"""Stored links to handouts, and their withdrawal."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

if TYPE_CHECKING:
    from goodlength.record.store import Library


LINKS_SETTING = "handout.links"


class HandoutLinkJson(TypedDict):
    """A link to one handout: its token, its match, and the moment it ends."""

    token: str
    match: str
    until: str


def withdraw_links(library: Library, match_id: str) -> int:
    """End every link to a match's handout; gives how many there were."""
    links = stored_links(library)
    left = [link for link in links if link["match"] != match_id]
    if len(left) < len(links):
        library.set_setting(LINKS_SETTING, left or None)
    return len(links) - len(left)


def stored_links(library: Library) -> list[HandoutLinkJson]:
    """Return every link that stands."""
    return list(library.settings().get(LINKS_SETTING) or [])
