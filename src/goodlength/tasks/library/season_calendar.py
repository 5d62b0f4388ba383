"""Season calendar: matches, practice and planned sessions by day, training groups, and what is due."""

from __future__ import annotations

import calendar
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING
from uuid import uuid4

from goodlength.errors import InputError
from goodlength.media_time import read_day
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat, effective_entries
from goodlength.tasks.match.match_editing_and_answers import match_rows_of
from goodlength.tasks.people.player_records_and_consent import expiring_consents

if TYPE_CHECKING:
    from goodlength.record.store import Library

LONGEST_GROUP = 40
SOON_DAYS = 30


@dataclass(frozen=True)
class CalendarEvent:
    """Something of a day: a match, all sets a player logged, or a planned session (with its id)."""

    on: date
    kind: str  # match | practice | session
    words: str
    href: str
    player: str
    session: str = ""


@dataclass(frozen=True)
class DueItem:
    """Something to look at: a session, a plan's check date, a consent that runs out, what was shown."""

    on: date
    kind: str  # plan | session | consent | clips
    words: str
    href: str
    days_left: int


@dataclass(frozen=True)
class CalendarMonth:
    """One month: its weeks (Monday first; None outside the month), what happened, what is due.

    `latest` is the last day of all with a match or practice; `players` are those shown, as (id, name).
    """

    month: date
    weeks: tuple[tuple[date | None, ...], ...]
    days: Mapping[date, tuple[CalendarEvent, ...]]
    due: tuple[DueItem, ...]
    groups: tuple[str, ...]
    undated: int
    demo_left_out: int
    latest: date | None = None
    players: tuple[tuple[str, str], ...] = ()


def month_of(text: str, today: date | None = None) -> date:
    """Return the first day of a month written like 2026-11; this month for nothing.

    Raises
    ------
    InputError
        If it is written otherwise.

    Examples
    --------
    >>> month_of("2026-02")
    datetime.date(2026, 2, 1)
    """
    if not text:
        return (today or date.today()).replace(day=1)
    try:
        year, month = text.split("-")
        return read_day(f"{int(year):04}-{int(month):02}-01")
    except ValueError:
        raise InputError(f"{text!r} is not a month. Choose one such as 2026-11.") from None


def set_group(library: Library, player_id: str, group: str) -> None:
    """Say which group a player trains with; an empty word takes it out of any.

    Raises
    ------
    InputError
        If the word is longer than 40 letters.
    """
    word = " ".join(group.split())
    if len(word) > LONGEST_GROUP:
        raise InputError(f"A group is a word or two, at most {LONGEST_GROUP} letters; got {len(word)}.")
    at = datetime.now(UTC)
    at = at.replace(microsecond=at.microsecond // 1000 * 1000)
    library.append_practice([PracticeEntry(str(uuid4()), player_id, at, PracticeWhat.GROUP, word)])


def groups_of(library: Library) -> dict[str, str]:
    """Return the group of each player who has one, by player's id."""
    found = {}
    for player_id, log in library.practice_logs().items():
        group_entries = [e.value for e in effective_entries(log) if e.what is PracticeWhat.GROUP]
        if group_entries and group_entries[-1]:
            found[player_id] = str(group_entries[-1])
    return found


def calendar_month(
    library: Library, month: date | None = None, group: str = "", today: date | None = None
) -> CalendarMonth:
    """Return matches and practice of a month by day, and what is due, for everybody or one group.

    Demo matches, and the practice of players who are in no other match, are left out where there are other
    matches; the matches are counted.
    """
    today = today or date.today()
    month = (month or today).replace(day=1)
    groups = groups_of(library)
    invented = _demo_players(library)
    people = {
        p.id: p.name
        for p in library.players()
        if p.id not in invented and (not group or groups.get(p.id) == group)
    }
    matches, undated, demo, last = _matches(library, people, month)
    sets = _sets(library, people)
    planned = _planned(library, people)
    happened = [*matches, *(event for event in (*sets, *planned) if _in(event.on, month))]
    days: dict[date, list[CalendarEvent]] = {}
    for event in sorted(happened, key=lambda h: (h.on, h.kind, h.words)):
        days.setdefault(event.on, []).append(event)
    weeks = calendar.Calendar().monthdatescalendar(month.year, month.month)
    return CalendarMonth(
        month,
        tuple(tuple(day if day.month == month.month else None for day in week) for week in weeks),
        {day: tuple(several) for day, several in days.items()},
        _due(library, people, planned, today),
        tuple(sorted(set(groups.values()))),
        undated,
        demo,
        max((*(event.on for event in sets), *last), default=None),
        tuple(people.items()),
    )


def _demo_players(library: Library) -> set[str]:
    """Return the players of demo matches alone; none where there are no other matches."""
    heads = library.match_heads()
    own = {player for head in heads if not head.demo for player in head.players}
    return {player for head in heads if head.demo for player in head.players} - own if own else set()


def _in(day: date, month: date) -> bool:
    return (day.year, day.month) == (month.year, month.month)


def _matches(
    library: Library, people: Mapping[str, str], month: date
) -> tuple[list[CalendarEvent], int, int, list[date]]:
    """Return the matches of a month, how many have no date and are left out as demo, and all days played."""
    heads = library.match_heads()
    real_or_demo = [head for head in heads if not head.demo] or list(heads)
    mine = [head for head in real_or_demo if any(player in people for player in head.players)]
    of_month = [head for head in mine if head.played_on is not None and _in(head.played_on, month)]
    found = [
        CalendarEvent(row.played_on, "match", row.title, f"/matches/{row.id}/findings", row.coached)
        for row in match_rows_of(library, of_month)
        if row.played_on is not None
    ]
    undated = sum(head.played_on is None for head in mine)
    played = [head.played_on for head in mine if head.played_on is not None]
    return found, undated, len(heads) - len(real_or_demo), played


def _sets(library: Library, people: Mapping[str, str]) -> list[CalendarEvent]:
    from goodlength.tasks.practice.practice_plans_and_log import sets_in

    found = []
    logs = library.practice_logs()
    for player_id, name in people.items():
        by_day: dict[date, list[int]] = {}
        for sets_of_drill in sets_in(logs.get(player_id, ())).values():
            for practice_set in sets_of_drill:
                tally = by_day.setdefault(practice_set.on, [0, 0])
                tally[0] += 1
                tally[1] += practice_set.attempts
        for day, (sets, attempts) in by_day.items():
            tries = "1 attempt" if attempts == 1 else f"{attempts} attempts"
            words = f"{name}: {sets} {'set' if sets == 1 else 'sets'}, {tries}"
            found.append(CalendarEvent(day, "practice", words, f"/practice/{player_id}", player_id))
    return found


def _planned(library: Library, people: Mapping[str, str]) -> list[CalendarEvent]:
    from goodlength.tasks.practice.planned_sessions import sessions_in

    found = []
    logs = library.practice_logs()
    for player_id, name in people.items():
        for session in sessions_in(logs.get(player_id, ())):
            words = f"{name}: {session.words}" if session.words else f"{name}: session planned"
            href = f"/practice/{player_id}"
            found.append(CalendarEvent(session.on, "session", words, href, player_id, session.id))
    return found


def _due(
    library: Library, people: Mapping[str, str], planned: Sequence[CalendarEvent], today: date
) -> tuple[DueItem, ...]:
    from goodlength.tasks.practice.practice_plans_and_log import plans_in
    from goodlength.tasks.sharing.video_session_playlist import reviews_due

    found = [
        DueItem(event.on, "session", event.words, event.href, (event.on - today).days)
        for event in planned
        if 0 <= (event.on - today).days <= SOON_DAYS
    ]
    logs = library.practice_logs()
    for player_id, name in people.items():
        plans = plans_in(logs.get(player_id, ()))
        if plans:
            on = date.fromisoformat(plans[0][1]["check_on"])
            if (on - today).days <= SOON_DAYS:
                words = f"{name}: review the plan"
                found.append(DueItem(on, "plan", words, f"/practice/{player_id}", (on - today).days))
    for match_id, on in reviews_due(library, today):
        info = library.match_info(match_id)
        player_id = info.players["ab".index(info.coached.value)]
        if player_id in people:
            words = f"{people[player_id]}: follow up the player review"
            found.append(DueItem(on, "clips", words, f"/matches/{match_id}/talk", (on - today).days))
    for expiry in expiring_consents(library, SOON_DAYS, today):
        if expiry.player in people:
            words = f"{expiry.name}: consent {'has run out' if expiry.days_left < 0 else 'runs out'}"
            found.append(
                DueItem(expiry.until, "consent", words, f"/players/{expiry.player}", expiry.days_left)
            )
    return tuple(sorted(found, key=lambda due: due.on))
