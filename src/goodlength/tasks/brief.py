"""The brief about an opponent, from every match on record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.errors import NotFound
from goodlength.findings.model import Finding, Grade
from goodlength.jobs.progress import Progress
from goodlength.tasks.season import matches_of, player_called

if TYPE_CHECKING:
    from goodlength.findings.reports.opponent_report import Advice, OpponentReport, RallyAt
    from goodlength.record.store import Library

SHOWN = 6  # rallies named a line


def brief_about(
    library: Library,
    player: str,
    *,
    since: date | None = None,
    with_demo: bool | None = None,
    progress: Progress | None = None,
) -> OpponentReport:
    """One page about an opponent: at most three habits, what to serve, what not to give.

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
    progress : callable, optional
        Called with a share from 0 to 1 and words while matches are read.

    Raises
    ------
    NotFound, UnclearError
        If nobody is called so, more than one is, or no match is on record.
    """
    from goodlength.findings.reports.opponent_report import opponent_report

    who = player_called(library.players(), player)
    found = matches_of(library, who.id, since=since, with_demo=with_demo, progress=progress)
    if not found.matches:
        raise NotFound(
            f"No match of {who.name} with a rally written down is on record"
            + (f" since {since.isoformat()}" if since else "")
            + ". Record one first, or name another player."
        )
    kind_words = {kind.id: kind.words for kind in library.kinds()}
    return opponent_report(found.matches, who.name, None, kind_words, found.notes)


def brief_form(page: OpponentReport) -> dict[str, Any]:
    """`player brief ID --json`; each rally with its match, number, game and day."""
    return {
        "opponent": page.opponent,
        "title": page.title,
        "matches": page.matches,
        "last_played": _day(page.last_played),
        "habits": [
            {
                "words": habit.finding.words,
                "headline": habit.finding.headline,
                "grade": habit.finding.grade.value,
                "grade_words": habit.finding.grade.words,
                "count": habit.finding.count,
                "of": habit.finding.of,
                "interval": list(habit.finding.interval),
                "q": habit.finding.q,
                "scope": habit.finding.scope,
                "last_seen": _day(habit.last_seen),
                "rallies": _rallies(habit.rallies),
            }
            for habit in page.habits
        ],
        "habits_words": page.habits_words,
        "serve": _advice(page.serve),
        "avoid": _advice(page.avoid),
        "winners": [
            {
                "what": one.what,
                "words": one.words,
                "count": one.share.count,
                "of": one.share.of,
                "interval": [one.share.low, one.share.high],
                "rallies": _rallies(one.rallies),
            }
            for one in page.winners
        ],
        "winners_words": page.winners_words,
        "counts": list(page.counts),
        "caution": page.caution,
        "notes": list(page.notes),
    }


def brief_lines(page: OpponentReport) -> Iterator[str]:
    """The page as lines for a terminal."""
    yield page.title
    for number, habit in enumerate(page.habits, 1):
        yield ""
        yield f"{number}. {graded(habit.finding)}"
        yield f"   {habit.finding.words}"
        yield f"   {_where(habit.rallies)}"
    if page.habits_words:
        yield ""
        yield page.habits_words
    yield ""
    yield f"What to serve. {page.serve.words}"
    yield f"What not to give. {page.avoid.words}"
    yield page.winners_words
    yield from page.counts
    yield page.caution
    yield from page.notes


def graded(finding: Finding) -> str:
    """A headline behind its grade and scope; "too few to say" is not said twice."""
    scope = finding.scope
    if Grade.TOO_FEW.words.lower() in finding.headline.lower():
        return f"{scope[:1].upper()}{scope[1:]}: {finding.headline}"
    return f"{finding.grade.words}, {scope}: {finding.headline}"


def _advice(one: Advice) -> dict[str, Any]:
    return {
        "words": one.words,
        "kind": None if one.serve is None else one.serve.kind,
        "box": None if one.serve is None else one.serve.box,
        "count": one.count,
        "of": one.of,
        "others": None if one.others is None else {"count": one.others.count, "of": one.others.of},
        "q": one.q,
        "grade": one.grade.value,
        "grade_words": one.grade.words,
        "rallies": _rallies(one.rallies),
    }


def _rallies(rallies: Sequence[RallyAt]) -> list[dict[str, Any]]:
    return [
        {"match": one.match, "n": one.n, "game": one.game, "day": _day(one.day), "key": one.key}
        for one in rallies
    ]


def _where(rallies: Sequence[RallyAt]) -> str:
    """The newest rallies by match and number."""
    if not rallies:
        return "No rally shows it."
    newest = rallies[::-1]
    named = ", ".join(f"{one.match} {one.n}" for one in newest[:SHOWN])
    day = max((one.day for one in rallies if one.day is not None), default=None)
    last = f"Last seen {day.isoformat()}. " if day else ""
    more = f" and {len(newest) - SHOWN} more" if len(newest) > SHOWN else ""
    return f"{last}Rallies: {named}{more}."


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
