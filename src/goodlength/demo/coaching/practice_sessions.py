"""Plans saved after two matches of the demo, and six practice sessions between; the figures are invented."""

from __future__ import annotations

import random
from datetime import date

from goodlength import tasks
from goodlength.demo.match.demo_players_and_matches import EARLIER, IMOGEN, MATCH
from goodlength.practice.planning.practice_plan import Time, plan_form
from goodlength.practice.statistics.drill_progress import PracticeOrder
from goodlength.record.store import Library
from goodlength.tasks.practice.practice_plans_and_log import LoggedSet

DAYS = tuple(date(2025, month, day) for month, day in ((9, 23), (9, 26), (9, 30), (10, 3), (10, 7), (10, 9)))
FIRST_DAY, NEXT_DAY = date(2025, 9, 22), date(2025, 10, 13)
HOURS = Time(2, 60)
PLANS = ("demo-plan-1", "demo-plan-2")
LOB, HARD, MIXED = "lob-to-the-box", "hard-to-the-back-corner", "same-swing-two-serves"
# Hits of 12 and of 10 a session: invented, with the ups and downs that practice has
HARD_HITS = ((4, 5), (5, 4), (6, 5), (5, 7), (7, 6), (7, 8))
MIXED_HITS = (4, 5, 4, 6, 6, 7)
AIM_M = (3.3, 4.0)  # on the front wall: across from the left wall, and up
BOX_M = (0.15, 0.25)  # half of the taped box, across and up
LOBS, LOB_SETS = 15, 2
SPREAD_M = ((0.30, 0.34), (0.28, 0.30), (0.26, 0.27), (0.22, 0.25), (0.20, 0.22), (0.18, 0.20))
LOW_M = (0.22, 0.18, 0.14, 0.10, 0.07, 0.05)  # how far under the aim the lobs begin, and end
SEED = 11


def log_practice(library: Library) -> None:
    """Save a plan made after the earlier match, six sessions with it, and the plan after the last match."""
    known = {entry.id for entry in library.practice(IMOGEN.id)}  # of a build that was interrupted
    if PLANS[0] not in known:
        _save_plan(library, EARLIER, FIRST_DAY, PLANS[0])
    rng = random.Random(SEED)
    sets = [logged for n in range(len(DAYS)) for logged in _session(n, rng)]
    tasks.log_sets(library, IMOGEN.id, sets)
    if PLANS[1] not in known:
        _save_plan(library, MATCH, NEXT_DAY, PLANS[1])


def _save_plan(library: Library, match_id: str, begins: date, plan_id: str) -> None:
    plan = plan_form(tasks.propose_plan(tasks.open_match(library, match_id), HOURS, begins=begins))
    tasks.save_plan(library, IMOGEN.id, {**plan, "match": match_id}, plan_id)


def _session(n: int, rng: random.Random) -> list[LoggedSet]:
    """Return the sets of one session: lobs with their places on the wall, hard serves, and the two mixed."""
    day = DAYS[n].isoformat()
    order = PracticeOrder.BLOCKED if n < len(DAYS) // 2 else PracticeOrder.MIXED
    sets = []
    for k in range(LOB_SETS):
        places = [_place(n, rng) for _ in range(LOBS)]
        hits = sum(_in_the_box(place) for place in places)
        how = PracticeOrder.RETENTION if n == len(DAYS) - 1 and k == 0 else order
        sets.append(
            LoggedSet(f"demo-set-{n + 1}-lob-{k + 1}", LOB, hits, LOBS, day, how.value, places, AIM_M)
        )
    for k, hits in enumerate(HARD_HITS[n]):
        sets.append(LoggedSet(f"demo-set-{n + 1}-hard-{k + 1}", HARD, hits, 12, day, order.value))
    mixed = PracticeOrder.MIXED.value
    sets.append(LoggedSet(f"demo-set-{n + 1}-mixed", MIXED, MIXED_HITS[n], 10, day, mixed))
    return sets


def _in_the_box(place: tuple[float, float]) -> bool:
    return all(round(abs(at - aim), 2) <= half for at, aim, half in zip(place, AIM_M, BOX_M, strict=True))


def _place(n: int, rng: random.Random) -> tuple[float, float]:
    across, up = SPREAD_M[n]
    return round(rng.gauss(AIM_M[0], across), 2), round(rng.gauss(AIM_M[1] - LOW_M[n], up), 2)
