"""Findings of a match, for the coached player or for the opponent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.findings import Findings
from goodlength.tasks.match.lazy_match import open_match

if TYPE_CHECKING:
    from goodlength.record.store import Library


def find(library: Library, match_id: str, whose: str = "coached", *, name_opponent: bool = True) -> Findings:
    """Return what a match says about the coached player, or with `whose="opponent"` about the other.

    What rests on an answer that a second observer did not agree on is greyed and carries no grade.

    Parameters
    ----------
    library : Library
        Where the match is.
    match_id : str
        Its id.
    whose : str
        "coached" or "opponent".
    name_opponent : bool
        False says "the opponent" in every sentence: for a page that goes out of the house.

    Raises
    ------
    NotFound
        If there is no such match.
    """
    return open_match(library, match_id).findings(whose, name_opponent=name_opponent)
