"""A player over the matches of the library: findings, profile, opponents, before and after a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from goodlength.errors import NotFound
from goodlength.jobs.progress_callback import Progress
from goodlength.tasks.findings.season_search import matches_of
from goodlength.tasks.people.player_records_and_consent import player_called

if TYPE_CHECKING:
    from goodlength.findings.reports.player_across_matches import PlayerAcrossMatches
    from goodlength.record.store import Library


def over_matches(
    library: Library,
    player: str,
    *,
    opponent: str | None = None,
    since: date | None = None,
    until: date | None = None,
    change_on: date | None = None,
    with_demo: bool | None = None,
    only_watched: bool = False,
    progress: Progress | None = None,
) -> PlayerAcrossMatches:
    """Return what a player's matches say together.

    Parameters
    ----------
    library : Library
        Where the matches are.
    player, opponent : str
        Id or name; with an opponent only the matches of the two.
    since, until : date, optional
        First and last day; matches without a day are then left out.
    change_on : date, optional
        First day after a practice block: every measure before and from it, like with like.
    with_demo : bool, optional
        Demo matches too; without it only where there are no others.
    only_watched : bool
        Leave out answers that were proposed and taken in rallies nobody watched.
    progress : callable, optional
        Called with a share from 0 to 1 and words while matches are read.

    Raises
    ------
    NotFound, UnclearError
        If nobody is called so, more than one is, or no match fits.
    OutOfRange
        If `change_on` has matches on one side only.
    """
    from goodlength.findings.reports.player_across_matches import across

    people = library.players()
    who = player_called(people, player)
    against = None if opponent is None else player_called(people, opponent)
    found = matches_of(
        library,
        who.id,
        opponent=None if against is None else against.id,
        since=since,
        until=until,
        with_demo=with_demo,
        only_watched=only_watched,
        progress=progress,
    )
    if not found.matches:
        raise NotFound(
            f"No match of {who.name} with a logged rally matches these choices.",
            command="goodlength match list",
        )
    kind_words = {kind.id: kind.words for kind in library.kinds()}
    whole = across(found.matches, who.name, None, kind_words, change_on, found.notes)
    return replace(whole, answers=found.answers)
