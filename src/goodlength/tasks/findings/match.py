"""Findings of a match, for the player who is coached or for the opponent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.findings import Findings, Names
from goodlength.findings import find as find_in
from goodlength.record.rally_columns import rally_table
from goodlength.scoring import Side
from goodlength.tasks.match.matches import show_match
from goodlength.tasks.match.observers import doubted_columns
from goodlength.tasks.people.player_records import names_of

if TYPE_CHECKING:
    from goodlength.record.store import Library

UNNAMED = "the opponent"


def side_of(coached: Side, whose: str) -> Side:
    """The side meant by "coached" or "opponent".

    Examples
    --------
    >>> side_of(Side.B, "opponent").value
    'a'
    """
    return coached if whose == "coached" else coached.other


def find(library: Library, match_id: str, whose: str = "coached", *, name_opponent: bool = True) -> Findings:
    """What a match says about the coached player, or with `whose="opponent"` about the other.

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
    match = show_match(library, match_id)
    side = side_of(match.info.coached, whose)
    called = list(names_of(library, match.info))
    if not name_opponent:
        called[match.info.coached.other.place] = UNNAMED
    kinds = library.kinds()
    return find_in(
        rally_table(match, kinds),
        side.value,
        Names(called[0], called[1]),
        {kind.id: kind.words for kind in kinds},
        doubted_columns(library, match_id),
    )
