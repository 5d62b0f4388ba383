"""Practice plans from a match's findings, the log of sets on court, and what it shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from goodlength.errors import InputError, NotFound, OutOfRange
from goodlength.findings import Finding, Grade
from goodlength.media_time import read_day
from goodlength.practice.attempt_location_validation import places_on
from goodlength.practice.planning.drill_library import Drill, DrillLevel, Theme, drill
from goodlength.practice.planning.practice_plan import (
    Need,
    Plan,
    PlanItemJson,
    PracticePlanJson,
    Time,
    propose,
    target_hits,
)
from goodlength.practice.statistics.drill_progress import PracticeOrder, PracticeSet
from goodlength.record.practice_log_entries import PracticeEntry, PracticeWhat, effective_entries
from goodlength.tasks.people.player_records_and_consent import is_junior
from goodlength.tasks.practice.library_and_custom_drills import drill_named, drills_in
from goodlength.tasks.removal.recycle_bin import bin_practice

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

# What a question of findings leads to on court, and what would show in the next match that it worked.
# The third is the key under which carry-over counts it (`practice.match_measure_counts_by_service_box`);
# empty: it cannot.
LEADS: Mapping[str, tuple[Theme, str, str]] = {
    "weak": (Theme.SERVE, "weak returns (loose or missed) on that serve", "weak"),
    "kind-weak": (Theme.SERVE, "weak returns (loose or missed) on that serve", "weak"),
    "box-weak": (Theme.SERVE, "weak returns (loose or missed) from each box", "weak"),
    "won": (Theme.SERVE_AND_NEXT, "rallies won on that serve", "won"),
    "kind-won": (Theme.SERVE_AND_NEXT, "rallies won on that serve", "won"),
    "box-won": (Theme.SERVE_AND_NEXT, "rallies won from each box", "won"),
    "repeat": (Theme.SERVE, "how often a serve is repeated", "repeat"),
    "after": (Theme.SERVE, "how often a serve is repeated", "repeat"),
    "change": (Theme.SERVE, "rallies won when the serve changed", "changed-won"),
    "drift": (Theme.SERVE, "the share of that serve, game by game", ""),
    "kind-drift": (Theme.SERVE, "the share of that serve, game by game", ""),
    "serve-edge": (Theme.SERVE_AND_NEXT, "rallies won serving", "won"),
    "volley": (Theme.SERVE, "returns volleyed", "volleyed"),
    "long": (Theme.MOVEMENT, "longer rallies won", ""),
}
_OF_THE_MIX = {"repeat", "after", "change", "drift", "kind-drift"}


@dataclass(frozen=True)
class LoggedSet:
    """One set as it is logged, not yet checked: places and the aim in metres of the drill's target."""

    id: str
    drill: str
    hits: int
    attempts: int
    on: str
    order: str = PracticeOrder.BLOCKED.value
    places: Sequence[Sequence[float]] = ()
    aim: Sequence[float] | None = None


@dataclass(frozen=True)
class PracticeLogResult:
    """What became of sets sent in: which were new."""

    new: tuple[bool, ...]


def needs_of(opened: OpenMatch, keys: Sequence[str] | None = None) -> tuple[Need, ...]:
    """Return what a match's findings ask for on court: the program's three, or those named by key.

    Raises
    ------
    NotFound
        If there is no finding of a key.
    """
    found = opened.findings()
    by_key = {finding.key: finding for finding in found.all}
    for key in keys or ():
        if key not in by_key:
            raise NotFound(
                f"There is no finding {key!r} in this match. Open Findings and choose again.",
                page="That finding is no longer in this match because the data changed. Open Findings "
                "and choose again.",
            )
    chosen = found.top if keys is None else tuple(by_key[key] for key in keys)
    kinds = [kind.id for kind in opened.kinds]
    return tuple(need_of(finding, kinds) for finding in chosen if finding.question in LEADS)


def propose_plan(
    opened: OpenMatch,
    time: Time,
    *,
    begins: date | None = None,
    level: DrillLevel = DrillLevel.CLUB,
    keys: Sequence[str] | None = None,
    chosen: Sequence[str] = (),
) -> Plan:
    """Return a plan for the coached player of a match; nothing is stored until `save_plan`.

    `keys` names the findings to serve (the program's three when left out), `chosen` drills to put in by hand.

    Raises
    ------
    InputError
        If there is no finding to plan from, or no time.
    """
    player = opened.coached
    hits = _hits_of_attempts(opened.library, player.id)
    own = drills_in(opened.settings)
    every = drills_in(opened.settings, retired=True)
    return propose(
        needs_of(opened, keys),
        time,
        begins or date.today(),
        level,
        is_junior(player),
        hits,
        own,
        tuple(drill(fromkey, every) for fromkey in dict.fromkeys(chosen)),
    )


def save_plan(library: Library, player_id: str, plan: PracticePlanJson, plan_id: str | None = None) -> str:
    """Write a plan, as `plan_form` gives it and the coach edited it, into the player's practice log.

    Raises
    ------
    OutOfRange
        If an edited dose or target cannot be, or a day is missing.
    """
    if not _is_plan(plan):
        raise OutOfRange("A plan needs the days on which it begins and is checked, as 2026-12-16.")
    for item in plan["items"]:
        for given, words, most in ((item["sets"], "sets", 20), (item["attempts"], "attempts", 500)):
            if not 1 <= given <= most:
                raise OutOfRange(f"{item['name']}: from 1 to {most} {words}; got {given}.")
        if item["target"] is not None and not 0 <= item["target"] <= item["attempts"]:
            raise OutOfRange(
                f"{item['name']}: the target of {item['target']} hits is more than the "
                f"{item['attempts']} attempts."
            )
    entry = PracticeEntry(plan_id or str(uuid4()), player_id, _now(), PracticeWhat.PLAN, dict(plan), None)
    library.append_practice([entry])
    return entry.id


def log_set(
    library: Library,
    player_id: str,
    drill_id: str,
    hits: int,
    attempts: int,
    *,
    on: date | None = None,
    order: PracticeOrder | None = None,
    places: Sequence[Sequence[float]] = (),
    aim: Sequence[float] | None = None,
    set_id: str | None = None,
    today: date | None = None,
) -> PracticeLogResult:
    """Log one set of a drill; the same id sent again counts once.

    Without an order it is the drill's own: random practice where the task draws each shot, else blocked.

    Raises
    ------
    InputError, OutOfRange
        More hits than attempts, no attempts, or a day still to come.
    NotFound
        No such drill or player.
    """
    drill_item = drill_named(library, drill_id)
    if order is None:
        order = PracticeOrder.MIXED if drill_item.mixed else PracticeOrder.BLOCKED
    logged_set = LoggedSet(
        id=set_id or str(uuid4()),
        drill=drill_item.id,
        hits=hits,
        attempts=attempts,
        order=order.value,
        on=(on or today or date.today()).isoformat(),
        places=tuple(tuple(place) for place in places),
        aim=None if aim is None else tuple(aim),
    )
    return log_sets(library, player_id, [logged_set], today=today)


def log_sets(
    library: Library, player_id: str, sets: Sequence[LoggedSet], *, today: date | None = None
) -> PracticeLogResult:
    """Log sets as the court-side page sends them."""
    entries = [
        _set_entry(player_id, drill_named(library, logged_set.drill), logged_set, today or date.today())
        for logged_set in sets
    ]
    return PracticeLogResult(tuple(library.append_practice(entries)))


def undo_set(library: Library, player_id: str, set_id: str) -> str:
    """Remove a logged set, into the bin: it no longer counts. Return the item's id, empty where nothing went.

    A set that does not stand is passed over, so that a repeated request does no harm.
    """
    for drill_id, sets in sets_of(library, player_id).items():
        for practice_set in sets:
            if practice_set.id == set_id:
                title = (
                    f"{drill_named(library, drill_id).name}: {practice_set.hits} of {practice_set.attempts}"
                )
                return bin_practice(library, "set", title, _undoing(player_id, set_id))
    return ""


def remove_plan(library: Library, player_id: str, plan_id: str) -> str:
    """Remove a plan, into the bin; the one before it is in force then. Return the item's id.

    Raises
    ------
    NotFound
        No such plan stands.
    """
    plan = dict(plans_of(library, player_id)).get(plan_id)
    if plan is None:
        raise NotFound("This plan is not there any more. It may have been removed already: look in the bin.")
    names = ", ".join(str(item["name"]) for item in plan["items"])
    return bin_practice(library, "plan", f"Plan: {names}" if names else "Plan", _undoing(player_id, plan_id))


def _undoing(player_id: str, entry_id: str) -> PracticeEntry:
    return PracticeEntry(str(uuid4()), player_id, _now(), PracticeWhat.UNDO, None, entry_id)


def sets_of(library: Library, player_id: str) -> dict[str, tuple[PracticeSet, ...]]:
    """Return the sets that stand, by drill, in the order logged."""
    return sets_in(library.practice(player_id))


def sets_in(log: tuple[PracticeEntry, ...]) -> dict[str, tuple[PracticeSet, ...]]:
    """Return the readable sets of one player's log that stand, by drill, in the order logged."""
    by_drill: dict[str, list[PracticeSet]] = {}
    for entry in effective_entries(log):
        if entry.what is PracticeWhat.SET and (found := _drill_and_set(entry)) is not None:
            by_drill.setdefault(found[0], []).append(found[1])
    return {drill_id: tuple(sets) for drill_id, sets in by_drill.items()}


def _drill_and_set(entry: PracticeEntry) -> tuple[str, PracticeSet] | None:
    """Return a logged set with its drill; None for a line that no page of this program wrote."""
    try:
        value = entry.value
        drill_id, hits, attempts, aim = value["drill"], value["hits"], value["attempts"], value.get("aim")
        if not (isinstance(drill_id, str) and isinstance(hits, int) and isinstance(attempts, int)):
            return None
        return drill_id, PracticeSet(
            date.fromisoformat(value["on"]),
            hits,
            attempts,
            PracticeOrder(value["order"]),
            tuple((float(x), float(z)) for x, z in value.get("places") or ()),
            (float(aim[0]), float(aim[1])) if aim else None,
            entry.id,
        )
    except (AttributeError, LookupError, TypeError, ValueError):
        return None


def plans_of(library: Library, player_id: str) -> tuple[tuple[str, PracticePlanJson], ...]:
    """Return plans kept for a player, the newest first, each with its id."""
    return plans_in(library.practice(player_id))


def plans_in(log: tuple[PracticeEntry, ...]) -> tuple[tuple[str, PracticePlanJson], ...]:
    """Return the readable plans kept in one player's log, the newest first, each with its id."""
    plans = [e for e in effective_entries(log) if e.what is PracticeWhat.PLAN and _is_plan(e.value)]
    return tuple((entry.id, entry.value) for entry in reversed(plans))


def _is_plan(value: Any) -> bool:
    """Return whether a stored plan has the days that everything about it is read by."""
    try:
        date.fromisoformat(value["begins"])
        date.fromisoformat(value["check_on"])
    except (LookupError, TypeError, ValueError):
        return False
    return isinstance(value.get("items"), list)


def current_plan(library: Library, player_id: str) -> PracticePlanJson | None:
    """Return the plan in force, with a target from the sets logged by now where it was saved without one."""
    plans = plans_of(library, player_id)
    if not plans:
        return None
    plan, logged = plans[0][1], _hits_of_attempts(library, player_id)
    items: list[PlanItemJson] = [
        {**item, "target": target_hits(logged.get(item["drill"]), item["attempts"])}
        if item["target"] is None
        else item
        for item in plan["items"]
    ]
    return {**plan, "items": items}


def need_of(finding: Finding, kinds: Sequence[str]) -> Need:
    """Return what one finding asks for on court, with a reason where the finding itself only asks."""
    theme, measure, carry = LEADS[finding.question]
    rest = finding.key.removeprefix(f"{finding.about}-{finding.question}")
    named = sorted((kind for kind in kinds if f"-{kind}" in rest), key=lambda kind: rest.index(f"-{kind}"))
    wanted = () if finding.question in _OF_THE_MIX else tuple(named[:1])
    reason = _reason(finding) if finding.grade is Grade.TOO_FEW else ""
    return Need(finding.key, finding.headline, finding.grade.value, theme, measure, wanted, carry, reason)


def _reason(finding: Finding) -> str:
    """Return why to practise what cannot be judged yet; "" where the finding says it."""
    if finding.doubted or finding.words.endswith("to judge this."):
        return "Log it in the next match, so that it can be judged."
    if "cannot tell" in finding.headline or finding.headline.endswith(
        (": nothing to compare yet.", ": no order to read.")
    ):
        return "Practise and log more matches."
    if "?" not in finding.headline:
        return ""
    unit = "rallies" if finding.question in ("serve-edge", "long") else "serves"
    return f"Too few {unit} to judge, so practise and log more."


def _hits_of_attempts(library: Library, player_id: str) -> dict[str, tuple[int, int]]:
    return {
        key: (sum(s.hits for s in sets), sum(s.attempts for s in sets))
        for key, sets in sets_of(library, player_id).items()
    }


def _set_entry(player_id: str, drill: Drill, logged_set: LoggedSet, today: date) -> PracticeEntry:
    hits, attempts = logged_set.hits, logged_set.attempts
    if not (isinstance(hits, int) and isinstance(attempts, int)) or isinstance(hits, bool):
        raise InputError(f"Hits and attempts must be whole numbers; got {hits!r} of {attempts!r}.")
    if not 1 <= attempts <= 500:
        raise OutOfRange(f"A set can have 1 to 500 attempts; got {attempts}. Log it as several sets.")
    if not 0 <= hits <= attempts:
        raise InputError(f"{hits} hits in {attempts} attempts is not possible. Correct the two numbers.")
    on = _day(logged_set.on)
    if on > today:
        raise OutOfRange(f"A set on {on.isoformat()} is in the future; today is {today.isoformat()}.")
    try:
        order = PracticeOrder(logged_set.order)
    except ValueError:
        raise InputError(
            f"The practice type must be blocked, mixed or retention; got {logged_set.order!r}."
        ) from None
    value: dict[str, Any] = {
        "drill": drill.id,
        "hits": hits,
        "attempts": attempts,
        "order": order.value,
        "on": on.isoformat(),
    }
    if logged_set.places:
        value["places"] = places_on(drill, logged_set.places, attempts)
        value["aim"] = places_on(drill, [logged_set.aim], 1)[0] if logged_set.aim else None
    at = datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    return PracticeEntry(logged_set.id, player_id, at, PracticeWhat.SET, value)


def _day(text: Any) -> date:
    try:
        return read_day(str(text))
    except ValueError:
        raise InputError(f"{text!r} is not a date. Write the day of a set as 2026-11-25.") from None


def _now() -> datetime:
    moment = datetime.now(UTC)
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)
