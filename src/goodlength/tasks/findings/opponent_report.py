"""Report on an opponent, from every match on record."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from goodlength.errors import NotFound
from goodlength.findings.result_types import Finding, Grade
from goodlength.jobs.progress_callback import Progress
from goodlength.media_time import day_words
from goodlength.tasks.ball.serve_statistics_by_kind import kind_line, measured_kinds
from goodlength.tasks.findings.season_search import matches_of
from goodlength.tasks.findings.shot_place_findings import player_places
from goodlength.tasks.match.lazy_player_matches import open_matches
from goodlength.tasks.people.player_records_and_consent import player_called

if TYPE_CHECKING:
    from goodlength.findings.reports.opponent_habits_and_serve_advice import OpponentReport
    from goodlength.record.store import Library


def brief_about(
    library: Library,
    player: str,
    *,
    since: date | None = None,
    with_demo: bool | None = None,
    only_watched: bool = False,
    progress: Progress | None = None,
) -> OpponentReport:
    """Return one page about an opponent: at most three habits, what to serve, what not to give.

    Parameters
    ----------
    library : Library
        Where the matches are.
    player : str
        The opponent, by id or name.
    since : date, optional
        Only matches from this day on; those without a day are then left out.
    with_demo : bool, optional
        Demo matches too; without it only where there are no others.
    only_watched : bool
        Leave out answers that were proposed and taken in rallies nobody watched.
    progress : callable, optional
        Called with a share from 0 to 1 and words while matches are read.

    Raises
    ------
    NotFound, UnclearError
        If nobody is called so, more than one is, or no match is on record.
    """
    from goodlength.findings.reports.opponent_habits_and_serve_advice import opponent_report

    who = player_called(library.players(), player)
    found = matches_of(
        library, who.id, since=since, with_demo=with_demo, only_watched=only_watched, progress=progress
    )
    if not found.matches:
        raise NotFound(
            f"There is no match of {who.name} with a logged rally"
            + (f" since {day_words(since)}" if since else "")
            + ". Log one first, or choose another player."
        )
    kind_words = {kind.id: kind.words for kind in library.kinds()}
    report = opponent_report(found.matches, who.name, None, kind_words, found.notes)
    used = {match.table.match for match in found.matches}
    places = player_places(library, who.id, used)
    return replace(
        report,
        measured=_measured(library, who.id, used),
        places=None if places is None or not places.shots else places,
        answers=found.answers,
    )


def _measured(library: Library, player_id: str, used: set[str]) -> tuple[str, ...]:
    """Return the measured serves of these matches, a sentence for each kind and box."""
    words = {kind.id: kind.words for kind in library.kinds()}
    matches = open_matches(library, player_id)
    infos = tuple(info for info in matches.infos if info.id in used)
    return tuple(kind_line(kind, words) for kind in measured_kinds(replace(matches, infos=infos)))


def graded(finding: Finding) -> str:
    """Return a headline behind its grade and scope; "too few to say" is not said twice."""
    scope = finding.scope
    if Grade.TOO_FEW.words.lower() in finding.headline.lower():
        return f"{scope[:1].upper()}{scope[1:]}: {finding.headline}"
    return f"{finding.grade.words}, {scope}: {finding.headline}"
