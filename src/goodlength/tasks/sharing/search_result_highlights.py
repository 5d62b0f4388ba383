"""Highlights of rallies that a search found: one video for each match they are from.

A video of one match shows its two players alone, so consent, removing and erasing stay as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.errors import GoodlengthError, InputError
from goodlength.record.player_and_match_display_names import title_of
from goodlength.tasks.match.lazy_match import open_match
from goodlength.tasks.sharing.video_export_jobs import start_reel

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.tasks.sharing.video_export_jobs import Starter

MOST_RALLIES = 60  # in all videos begun at once


@dataclass(frozen=True)
class MatchHighlights:
    """What was begun for one match, or why nothing was."""

    match: str
    title: str
    rallies: int
    job: str
    refusal: str


def start_highlights(
    library: Library,
    rallies: Sequence[tuple[str, str]],
    jobs: Starter,
    *,
    covered: bool = False,
    slower: int = 1,
) -> tuple[MatchHighlights, ...]:
    """Begin one video for each match that the rallies are from, in the order they are named.

    Parameters
    ----------
    rallies : sequence of (str, str)
        Match and key of each rally.
    covered, slower
        As for `start_reel`.

    Returns
    -------
    tuple of MatchHighlights
        One a match; where it could not be begun, `refusal` says why and the others go on.

    Raises
    ------
    InputError
        There are none, or more than `MOST_RALLIES`.
    """
    if not rallies:
        raise InputError("No rally was named. Choose the rallies for the highlights first.")
    if len(rallies) > MOST_RALLIES:
        raise InputError(
            f"{len(rallies)} rallies are too many for highlights; up to {MOST_RALLIES} can be made at once. "
            "Choose fewer."
        )
    by_match: dict[str, list[str]] = {}
    for match_id, key in rallies:
        by_match.setdefault(match_id, []).append(key)
    return tuple(
        _begin(library, match_id, keys, jobs, covered=covered, slower=slower)
        for match_id, keys in by_match.items()
    )


def _begin(
    library: Library, match_id: str, keys: list[str], jobs: Starter, *, covered: bool, slower: int
) -> MatchHighlights:
    title, job, refusal = match_id, "", ""
    try:
        opened = open_match(library, match_id)
        title = title_of(*opened.players)
        job = start_reel(opened, keys, jobs, covered=covered, slower=slower, most=MOST_RALLIES)
    except GoodlengthError as error:
        refusal = error.page_words
    return MatchHighlights(match_id, title, len(keys), job, refusal)
