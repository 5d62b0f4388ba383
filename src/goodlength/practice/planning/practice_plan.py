"""Make an editable practice plan from the findings and the time available."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NotRequired, TypedDict

from goodlength.errors import InputError
from goodlength.practice import input_validation
from goodlength.practice.planning.drill_library import (
    DRILLS,
    Company,
    Dose,
    Drill,
    DrillLevel,
    Theme,
    dose_for,
)
from goodlength.practice.planning.safety_cautions import PracticeCaution, cautions_for
from goodlength.practice.statistics.drill_progress import PracticeOrder

_ORDER = {"clear": 0, "leaning": 1, "too-few": 2, "no-difference": 3}
_ALLOWED = {
    Company.SOLO: {Company.SOLO},
    Company.PAIR: {Company.SOLO, Company.PAIR},
    Company.FEEDER: {Company.SOLO, Company.PAIR, Company.FEEDER},
}
LONGEST_WEEKS = 12
MOST_DRILLS = 3  # what fits one sheet, and one head


class PlanItemJson(TypedDict):
    """One drill of a plan."""

    drill: str
    name: str
    why: str
    finding: str
    grade: str
    do: str
    counts: str
    shows: str
    carry: str | None
    kinds: list[str]
    sets: int
    attempts: int
    rest_s: int
    minutes: int
    target: int | None
    same_in: list[int]
    mixed_in: list[int]


class PlanCautionJson(TypedDict):
    """A caution that goes with a plan."""

    lead: str
    words: str
    sources: list[str]


class PracticePlanJson(TypedDict):
    """A plan as it is printed, edited and stored; `match` once it is stored from the page of one."""

    items: list[PlanItemJson]
    sessions: int
    begins: str
    check_on: str
    cautions: list[PlanCautionJson]
    left_out: list[str]
    match: NotRequired[str]


@dataclass(frozen=True)
class Need:
    """Something found that practice may change.

    `finding` and `words` name the finding; `measure` is what would show in the next match that it worked.
    `kinds` narrows it to kinds of serve; `carry` is the key under which carry-over counts it, if it can.
    `reason` says why to practise it where the finding only asks.
    """

    finding: str
    words: str
    grade: str
    theme: Theme
    measure: str
    kinds: tuple[str, ...] = ()
    carry: str = ""
    reason: str = ""


@dataclass(frozen=True)
class Time:
    """Time and people available."""

    sessions_a_week: int
    minutes: int
    weeks: int = 3
    company: Company = Company.PAIR


@dataclass(frozen=True)
class PlanItem:
    """One drill of the plan, whom it serves, how much, and what would show that it worked.

    `order` is blocked in the first sessions and mixed later; a drill that is mixed by its task is so from
    the first. `target_hits` is of `dose.attempts` in the last set, and None until a first set has been
    logged.
    """

    drill: Drill
    need: Need
    dose: Dose
    minutes: int
    sessions: tuple[int, ...]
    order: PracticeOrder
    target_hits: int | None


@dataclass(frozen=True)
class Plan:
    """What to do, when it is checked, and what must be said beside it.

    `left_out` names needs there was no time or no partner for.
    """

    items: tuple[PlanItem, ...]
    sessions: int
    begins: date
    check_on: date
    cautions: tuple[PracticeCaution, ...]
    left_out: tuple[str, ...]


def propose(
    needs: Sequence[Need],
    time: Time,
    begins: date,
    level: DrillLevel = DrillLevel.CLUB,
    junior: bool = False,
    hit_rates: dict[str, tuple[int, int]] | None = None,
    own: tuple[Drill, ...] = (),
    chosen: tuple[Drill, ...] = (),
) -> Plan:
    """Return a plan for these needs in the time there is; the coach edits it.

    Parameters
    ----------
    needs : sequence of Need
        What was found; the surest come first, at most three are served.
    time : Time
        Sessions a week, minutes a session, weeks, who is on court.
    begins : date
        First day; the check date follows the last week.
    hit_rates : mapping of drill id to (hits, of), optional
        What the player has hit so far: the target is set just above it.
    own : tuple of Drill
        The coach's own drills; they are looked at before the library's.
    chosen : tuple of Drill
        Drills the coach puts in by hand, before anything else; they serve no finding.

    Raises
    ------
    InputError
        Neither needs nor chosen drills, no time, or a time that cannot be.

    Limits
    ------
    Blocked order first and mixed order later is common practice with some support in the study of motor
    learning (from memory); how many sessions of each is ours.
    """
    _refuse_bad_time([*needs, *(by_hand(drill_item) for drill_item in chosen)], time)
    sessions = time.sessions_a_week * time.weeks
    items: list[PlanItem] = []
    left_out: list[str] = []
    minutes_left = time.minutes
    served = sorted(needs, key=lambda n: _ORDER.get(n.grade, 9))
    wanted = [
        *((by_hand(drill_item), drill_item) for drill_item in chosen),
        *((need, None) for need in served),
    ]
    for need, given in wanted:
        used = {item.drill.id for item in items}
        drill = given or _drill_for(need, time.company, own, used)
        dose = dose_for(drill, level, junior) if drill else None
        minutes = _minutes(drill, dose) if drill and dose else 0
        if drill is None or dose is None or minutes > minutes_left or len(used) == MOST_DRILLS:
            why = "no drill fits who is on court" if drill is None else "there is no time for it"
            left_out.append(f"{need.words} ({why})")
            continue
        minutes_left -= minutes
        items.extend(_items(drill, need, dose, minutes, sessions, (hit_rates or {}).get(drill.id)))
    drills = tuple(item.drill for item in items)
    return Plan(
        tuple(items),
        sessions,
        begins,
        begins + timedelta(weeks=time.weeks),
        cautions_for(drills, junior),
        tuple(left_out),
    )


def by_hand(drill: Drill) -> Need:
    """Return the need of a drill the coach chose without a finding."""
    measure = "the goal of the drill: " + drill.changes[:1].lower() + drill.changes[1:].rstrip(".")
    return Need("", f"Your choice: {drill.name}", "chosen", drill.theme, measure)


def target_hits(seen: tuple[int, int] | None, attempts: int) -> int | None:
    """Return a target reachable now: one step above the rate seen, of so many attempts; None with
    nothing seen.

    Examples
    --------
    >>> target_hits((22, 45), 15)
    9
    """
    if seen is None or seen[1] == 0:
        return None
    input_validation.counts(*seen)
    rate = (seen[0] + 0.5) / (seen[1] + 1.0)
    return min(attempts, round(attempts * min(rate + 0.10, 0.95)))


def _refuse_bad_time(needs: Sequence[Need], time: Time) -> None:
    if not needs:
        raise InputError("There is no finding to plan from yet. Log a match first, or add a drill by hand.")
    for words, value, most in (
        ("sessions per week", time.sessions_a_week, 7),
        ("minutes per session", time.minutes, 180),
        ("weeks", time.weeks, LONGEST_WEEKS),
    ):
        if not 1 <= value <= most:
            raise InputError(f"A plan has 1 to {most} {words}; got {value}. Correct the number.")


def _drill_for(need: Need, company: Company, own: tuple[Drill, ...], used: set[str]) -> Drill | None:
    fitting = [
        drill
        for drill in (*own, *DRILLS)
        if drill.theme is need.theme and drill.company in _ALLOWED[company] and drill.id not in used
    ]
    special = [drill for drill in fitting if set(drill.kinds) & set(need.kinds)]
    general = [drill for drill in fitting if not drill.kinds]
    choice = [*special, *general, *([] if need.kinds else fitting)]
    return choice[0] if choice else None


def _minutes(drill: Drill, dose: Dose) -> int:
    usual = drill.dose.sets * drill.dose.attempts
    return max(4, round(drill.minutes * dose.sets * dose.attempts / usual))


def _items(
    drill: Drill, need: Need, dose: Dose, minutes: int, sessions: int, seen: tuple[int, int] | None
) -> list[PlanItem]:
    alike = 0 if drill.mixed else sessions // 2
    blocked, mixed = tuple(range(1, alike + 1)), tuple(range(alike + 1, sessions + 1))
    aim = target_hits(seen, dose.attempts)
    parts = ((blocked, PracticeOrder.BLOCKED), (mixed, PracticeOrder.MIXED))
    return [PlanItem(drill, need, dose, minutes, when, order, aim) for when, order in parts if when]


def plan_form(plan: Plan) -> PracticePlanJson:
    """Return a plan as plain values: one item a drill, with the sessions it is alike in and those it is
    mixed in.
    """
    items: dict[str, PlanItemJson] = {}
    for item in plan.items:
        plan_item = items.setdefault(
            item.drill.id,
            {
                "drill": item.drill.id,
                "name": item.drill.name,
                "why": f"{item.need.words} {item.need.reason}".strip(),
                "finding": item.need.finding,
                "grade": item.need.grade,
                "do": item.drill.do,
                "counts": item.drill.counts,
                "shows": item.need.measure,
                "carry": item.need.carry,
                "kinds": list(item.need.kinds),
                "sets": item.dose.sets,
                "attempts": item.dose.attempts,
                "rest_s": item.dose.rest_s,
                "minutes": item.minutes,
                "target": item.target_hits,
                "same_in": [],
                "mixed_in": [],
            },
        )
        plan_item["mixed_in" if item.order is PracticeOrder.MIXED else "same_in"] += list(item.sessions)
    return {
        "items": list(items.values()),
        "sessions": plan.sessions,
        "begins": plan.begins.isoformat(),
        "check_on": plan.check_on.isoformat(),
        "cautions": [
            {"lead": caution.lead, "words": caution.words, "sources": list(caution.sources)}
            for caution in plan.cautions
        ],
        "left_out": list(plan.left_out),
    }
