"""Allowlist of requests that another machine may make once it holds a session.

Default deny: a route that is not in the table is done where goodlength runs. Reading is allowed, and so is
recording: answers, marks, clips, plans, practice. Not in the table, on purpose: what names or reads paths of
this machine (films by path, imports), what removes or erases, and the settings, kinds of serve included.
"""

from __future__ import annotations

import re

ALLOWED: dict[str, tuple[str, ...]] = {
    "HEAD": (
        "/api/footage/{footage}/media",
        "/api/practice/{player}/recordings/{recording}/media",
    ),
    "GET": (
        "/",
        "/aim",
        "/aim/answer",
        "/aim/map",
        "/aim/path",
        "/api/footage/{footage}/camera",
        "/api/footage/{footage}/court",
        "/api/footage/{footage}/drift",
        "/api/footage/{footage}/frames",
        "/api/footage/{footage}/media",
        "/api/footage/{footage}/picture",
        "/api/footage/{footage}/previews",
        "/api/footage/{footage}/previews/{sheet}",
        "/api/footage/{footage}/times",
        "/api/jobs/{job}",
        "/api/match-states",
        "/api/matches/{match}/body",
        "/api/matches/{match}/drawings",
        "/api/matches/{match}/films",
        "/api/matches/{match}/heard",
        "/api/matches/{match}/impacts",
        "/api/matches/{match}/preparation",
        "/api/matches/{match}/overlay",
        "/api/matches/{match}/review",
        "/api/matches/{match}/sheet",
        "/api/matches/{match}/transfers",
        "/api/practice/{player}/recordings/{recording}/media",
        "/api/transfers/{transfer}",
        "/fonts/{name}.ttf",
        "/help",
        "/help/{name}",
        "/help/{folder}/{name}",
        "/matches",
        "/matches/{match}",
        "/matches/{match}/agree",
        "/matches/{match}/beside",
        "/matches/{match}/between",
        "/matches/{match}/body",
        "/matches/{match}/camera",
        "/matches/{match}/clips/{clip}",
        "/matches/{match}/details",
        "/matches/{match}/draft",
        "/matches/{match}/export/{kind}",
        "/matches/{match}/findings",
        "/matches/{match}/findings/parents",
        "/matches/{match}/footage",
        "/matches/{match}/handout",
        "/matches/{match}/handout/file/{kind}",
        "/matches/{match}/handout/version/{version_id}",
        "/matches/{match}/made/{made}",
        "/matches/{match}/measure",
        "/matches/{match}/phone",
        "/matches/{match}/plan",
        "/matches/{match}/players",
        "/matches/{match}/prepare",
        "/matches/{match}/rallies",
        "/matches/{match}/record",
        "/matches/{match}/review",
        "/matches/{match}/review/figures",
        "/matches/{match}/show",
        "/matches/{match}/talk",
        "/matches/{match}/talk/show",
        "/matches/{match}/tell",
        "/players",
        "/players/{player}",
        "/players/{player}/brief",
        "/players/{player}/export",
        "/practice",
        "/practice/calendar",
        "/practice/drills",
        "/practice/{player}",
        "/practice/{player}/log",
        "/practice/{player}/recordings",
        "/practice/{player}/recordings/{recording}",
        "/search",
        "/settings",
        "/trust",
    ),
    "POST": (
        "/aim/practise",
        "/api/footage/{footage}/camera",
        "/api/footage/{footage}/previews",
        "/api/jobs/{job}/cancel",
        "/api/matches/{match}/beside",
        "/api/matches/{match}/body/feet",
        "/api/matches/{match}/body/joint",
        "/api/matches/{match}/draft",
        "/api/matches/{match}/draft/accept",
        "/api/matches/{match}/draft/take-back",
        "/api/matches/{match}/drawings",
        "/api/matches/{match}/drawings/{drawing}/remove",
        "/api/matches/{match}/entries",
        "/api/matches/{match}/footage/upload",
        "/api/matches/{match}/heard",
        "/api/matches/{match}/heard/{rally}",
        "/api/matches/{match}/names",
        "/api/matches/{match}/review/{card}",
        "/api/matches/{match}/serves/{rally}/ball",
        "/api/matches/{match}/serves/{rally}/forget",
        "/api/matches/{match}/serves/{rally}/keep",
        "/api/matches/{match}/serves/{rally}/kind",
        "/api/matches/{match}/serves/{rally}/try",
        "/api/matches/{match}/span",
        "/api/matches/{match}/transfers",
        "/api/new-match-from-video",
        "/api/practice/{player}/sets",
        "/api/transfers/{transfer}/cancel",
        "/api/transfers/{transfer}/finish",
        "/api/transfers/{transfer}/piece",
        "/leave",
        "/matches",
        "/matches/{match}/agree",
        "/matches/{match}/clips",
        "/matches/{match}/details",
        "/matches/{match}/footage/{footage}/date",
        "/matches/{match}/footage/{footage}/earlier",
        "/matches/{match}/footage/{footage}/later",
        "/matches/{match}/footage/{footage}/place",
        "/matches/{match}/footage/{footage}/proxy",
        "/matches/{match}/footage/{footage}/tracks",
        "/matches/{match}/handout",
        "/matches/{match}/handout/link",
        "/matches/{match}/hear",
        "/matches/{match}/made/{made}/name",
        "/matches/{match}/picture",
        "/matches/{match}/picture/cancel",
        "/matches/{match}/plan",
        "/matches/{match}/players",
        "/matches/{match}/prepare",
        "/matches/{match}/prepare/cancel",
        "/matches/{match}/prepare/pause",
        "/matches/{match}/prepare/skip/{step}",
        "/matches/{match}/review/adapt",
        "/matches/{match}/review/again",
        "/matches/{match}/review/undo",
        "/matches/{match}/split",
        "/matches/{match}/talk",
        "/matches/{match}/talk/shown",
        "/players",
        "/players/{player}",
        "/players/{player}/consent",
        "/players/{player}/consent/withdraw",
        "/practice/drills",
        "/practice/{player}/group",
        "/practice/{player}/undo",
    ),
}


def may_over_network(method: str, path: str) -> bool:
    """Return whether a request of another machine is in the table.

    Examples
    --------
    >>> may_over_network("POST", "/api/matches/m1/entries"), may_over_network("POST", "/matches/m1/remove")
    (True, False)
    """
    allowed = _ALLOWED.get(method)
    return allowed is not None and allowed.fullmatch(path) is not None


def _pattern(template: str) -> str:
    """Return the template as a regular expression: a name in braces is one part of the path."""
    return re.sub(r"\\\{\w+\\\}", "[^/]+", re.escape(template))


_ALLOWED = {method: re.compile("|".join(map(_pattern, paths))) for method, paths in ALLOWED.items()}
