"""Entries of the simulated matches, as the Record page would write them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

from goodlength.court import floor_zone
from goodlength.demo.film.game_timeline import Filmed, film_game
from goodlength.demo.match import demo_players_and_matches
from goodlength.demo.match.scripted_games import rallies
from goodlength.demo.match.scripted_rally_table_reader import RallyPlan
from goodlength.demo.play.rally_simulation import PlayedRally, PlayedShot
from goodlength.record.model import Ending, Entry, EntryKind, Left, ReturnKind

FILMED_GAME = 1
BETWEEN_GAMES_S = 90.0
SHOT_S = 1.43  # time from strike to strike; near the filmed game's own
OBSERVER = "coach"
FAULT_WORDS = {
    "out": "out on the side wall",
    "short": "short of the short line",
    "down": "below the service line",
}


class _Sheet:
    """Entries of one match in the order written; ids and times follow from the order."""

    def __init__(self, match_id: str, began: datetime) -> None:
        self.match_id = match_id
        self.at = began
        self.entries: list[Entry] = []
        self.rally = ""

    def write(self, what: EntryKind, value: Any) -> None:
        """One more answer, three seconds after the last."""
        self.at += timedelta(seconds=3)
        entry_id = f"{self.match_id}-{len(self.entries) + 1:04d}"
        self.entries.append(Entry(entry_id, self.match_id, OBSERVER, self.at, self.rally, what, value))

    def open(self, plan: RallyPlan) -> None:
        """Begin a rally."""
        self.rally = f"{self.match_id}-g{plan.game}-r{plan.n_in_game:02d}"
        self.at += timedelta(seconds=6)


def _answers(sheet: _Sheet, plan: RallyPlan, box_free: bool, played: PlayedRally | None) -> None:
    """The answers of one rally in the order of the questions; a skipped one holds nothing."""
    if box_free:
        sheet.write(EntryKind.BOX, plan.box.value)
    sheet.write(EntryKind.KIND, plan.kind)
    if plan.ending is Ending.SERVICE_FAULT:
        sheet.write(EntryKind.ENDING, plan.ending.value)
        if plan.fault_why is not None:
            sheet.write(EntryKind.FAULT_WHY, FAULT_WORDS[plan.fault_why])
        return
    _asked(sheet, plan, EntryKind.HOW_TAKEN, plan.how)
    if plan.how is not ReturnKind.NOT_MADE:
        if played is not None:
            sheet.write(EntryKind.RETURN_STROKE, played.strikes[1].stroke)
        _asked(sheet, plan, EntryKind.LEFT, plan.left)
    if played is not None:
        _shots(sheet, played.strikes)
    if plan.let:
        sheet.write(EntryKind.ENDING, plan.ending.value)
    elif plan.called is not None and plan.winner is not None:
        sheet.write(EntryKind.CALLED, {"decision": plan.called, "to": plan.winner.value})
    elif plan.left is not Left.NOT_MADE:
        sheet.write(EntryKind.WINNER, None if plan.winner is None else plan.winner.value)
        sheet.write(EntryKind.ENDING, plan.ending.value)
        if plan.stroke is not None:
            sheet.write(EntryKind.ENDING_STROKE, plan.stroke.value)
            if plan.volley:
                sheet.write(EntryKind.ENDING_VOLLEY, True)
            if played is not None:
                sheet.write(EntryKind.ENDING_PLACE, place_of(played.strikes[-1]))


def _asked(sheet: _Sheet, plan: RallyPlan, what: EntryKind, value: ReturnKind | Left | None) -> None:
    """An answer, or the mark that it was passed over."""
    if value is not None:
        sheet.write(what, value.value)
    elif what.value in plan.skipped:
        sheet.write(what, None)


def place_of(strike: PlayedShot) -> str:
    """Return where on court a ball was struck, as one of the nine places."""
    return floor_zone(strike.ball[0], strike.ball[1]).place


def _shots(sheet: _Sheet, strikes: Sequence[PlayedShot]) -> None:
    """Every shot with its time, and how many there were."""
    for strike in strikes:
        value = {
            "n": strike.n,
            "by": strike.by.value,
            "stroke": strike.stroke,
            "volley": strike.volley,
            "place": place_of(strike),
            "at_us": micro(strike.time_s),
        }
        sheet.write(EntryKind.SHOT, value)
    sheet.write(EntryKind.SHOT, {"count": len(strikes)})


def micro(seconds: float) -> int:
    """Return whole microseconds."""
    return round(seconds * 1_000_000)


def _spans(plans: Sequence[RallyPlan], first_s: float, rng: random.Random) -> list[tuple[float, float]]:
    """Start and end of rallies that were not filmed, with the dead time of a real match."""
    spans: list[tuple[float, float]] = []
    at, game = first_s, plans[0].game
    for plan in plans:
        if plan.game != game:
            at, game = at + BETWEEN_GAMES_S, plan.game
        length = SHOT_S * plan.shots * rng.uniform(0.93, 1.07) + rng.uniform(0.3, 0.9)
        spans.append((at, at + length))
        at += length + rng.uniform(11.0, 21.0)
    return spans


def write_match(
    match_id: str,
    plans: Sequence[RallyPlan],
    spans: Sequence[tuple[float, float] | None],
    played: Sequence[PlayedRally] = (),
) -> tuple[Entry, ...]:
    """Return the entries of a match.

    Parameters
    ----------
    match_id : str
    plans : sequence of RallyPlan
        Every rally in the order played.
    spans : sequence of (start, end) or None
        Seconds of match time, one for each rally; None where nobody kept the time.
    played : sequence of Played
        The first rallies as they were filmed: their shots are written down too.
    """
    day = demo_players_and_matches.info(match_id).played_on
    assert day is not None
    sheet = _Sheet(match_id, datetime(day.year, day.month, day.day, 19, 0, tzinfo=UTC) + timedelta(days=1))
    before: RallyPlan | None = None
    for n, (plan, span) in enumerate(zip(plans, spans, strict=True)):
        sheet.open(plan)
        if span is not None:
            sheet.write(
                EntryKind.SPAN, {"start_us": micro(span[0]), "end_us": micro(span[1]), "how": "marked"}
            )
        free = before is None or before.game != plan.game or before.server is not plan.server
        _answers(sheet, plan, free, played[n] if n < len(played) else None)
        if plan.note:
            sheet.write(EntryKind.NOTE, plan.note)
        if plan.keep:
            sheet.write(EntryKind.KEEP, True)
        before = plan
    return tuple(sheet.entries)


@cache
def filmed_game() -> Filmed:
    """Return the filmed game played out: about two seconds of work, once."""
    return film_game(tuple(plan for plan in rallies() if plan.game == FILMED_GAME))


def demo_entries(filmed: Filmed) -> tuple[Entry, ...]:
    """Return the demo match: game 1 as filmed, at every shot; games 2 to 4 at serve and return, not filmed.

    Rallies that were not filmed have no span: a time after the end of the footage would be a fault.
    """
    plans = rallies()
    spans: list[tuple[float, float] | None] = [(r.start_s, r.end_s) for r in filmed.rallies]
    spans += [None] * (len(plans) - len(spans))
    return write_match(demo_players_and_matches.MATCH, plans, spans, filmed.rallies)


@cache
def random_match_entries(match_id: str) -> tuple[Entry, ...]:
    """Return one of the two further matches, at serve and return, not filmed."""
    plans = demo_players_and_matches.plans_of(match_id)
    return write_match(match_id, plans, _spans(plans, 20.0, random.Random(len(plans))))
