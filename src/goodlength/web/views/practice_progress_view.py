"""View of practice progress in words and drawings, and the surfaces on which places are marked."""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.files.json_types import Json
from goodlength.practice.attempt_location_validation import WALL, surface_of
from goodlength.practice.planning.drill_library import Drill
from goodlength.practice.progress_sentences import HEADS
from goodlength.practice.statistics.attempt_scatter import AttemptScatter
from goodlength.practice.statistics.discounted_beta_hit_rate import hit_rate
from goodlength.practice.statistics.drill_progress import PracticeSet, Progress
from goodlength.show.draw.court.attempt_scatter_drawing import scatter_on_floor, scatter_on_wall
from goodlength.show.draw.court.drill_setup_drawing import WallScale, floor_ground, wall_ground
from goodlength.show.draw.hit_rate_by_session_chart import (
    ORDER_WORDS,
    SessionMark,
    order_key,
    session_chart,
)
from goodlength.show.draw.proportion_protocols_and_wording import CountedShare
from goodlength.show.draw.svg_primitives_and_themes import PAGE, drawing

MARKING_PX = 640.0  # the size a surface is drawn at; the page scales it


@dataclass(frozen=True)
class MarkingSurface:
    """A surface to mark on: its drawing, px a metre, and the height of its upper edge (None: the floor)."""

    name: str
    svg: str
    px: float
    top_m: float | None


def surfaces() -> tuple[MarkingSurface, MarkingSurface]:
    """Return the front wall and the floor, to be marked on."""
    wall = WallScale(MARKING_PX)
    px = (MARKING_PX - 4) / 6.4
    front = drawing(PAGE, MARKING_PX, wall.high, wall_ground(PAGE, wall), "The front wall, to mark places on")
    floor = drawing(
        PAGE,
        MARKING_PX,
        9.75 * px + 4,
        floor_ground(PAGE, px),
        "The floor, front wall at the top, to mark places on",
    )
    return MarkingSurface(WALL, front, wall.px, wall.top_m), MarkingSurface("floor", floor, px, None)


def drill_progress_view(
    drill: Drill, drill_progress: Progress, words: tuple[str, ...], sets: tuple[PracticeSet, ...]
) -> dict[str, object]:
    """Return one drill as it stands on the player's page."""
    marks = _session_marks(sets)
    days = [f"{day.day} {day:%b}" for day, _, _ in drill_progress.sessions]
    line = drill_progress.shown_curve.rates if drill_progress.shown_curve else None
    return {
        "key": drill.id,
        "name": drill.name,
        "counts": drill.counts,
        "head": HEADS[drill_progress.verdict],
        "words": words,
        "chart": session_chart(marks, days, line=line),
        "chart_key": [
            (order_key(order), words)
            for order, words in ORDER_WORDS.items()
            if any(session_mark.order == order for session_mark in marks)
        ],
        "sets": [
            {"id": s.id, "on": s.on, "count": s.hits, "of": s.attempts, "order": ORDER_WORDS[s.order.value]}
            for s in sets
        ],
        "scatter": _scatter(drill, drill_progress),
    }


def _session_marks(sets: tuple[PracticeSet, ...]) -> list[SessionMark]:
    """Return the hits of each day, one mark a practice type."""
    days = sorted({practice_set.on for practice_set in sets})
    marks = []
    for day, order in sorted({(practice_set.on, practice_set.order) for practice_set in sets}):
        alike = [each for each in sets if (each.on, each.order) == (day, order)]
        hits, attempts = sum(each.hits for each in alike), sum(each.attempts for each in alike)
        rate = hit_rate(hits, attempts)
        share = CountedShare(hits, attempts, rate.low, rate.high)
        marks.append(SessionMark(days.index(day), order.value, share))
    return marks


def _scatter(drill: Drill, drill_progress: Progress) -> dict[str, Json] | None:
    seen = drill_progress.scatter
    if seen is None:
        return None
    words = scatter_words(seen, on_wall=surface_of(drill) == WALL)
    if surface_of(drill) == WALL:
        svg = scatter_on_wall(
            drill_progress.places,
            aim=drill_progress.aim,
            middle=seen.middle_m,
            next_ball=seen.next_ball,
            box=drill.box,
            label=words,
        )
    else:
        svg = scatter_on_floor(
            drill_progress.places,
            aim=drill_progress.aim,
            middle=seen.middle_m,
            next_ball=seen.next_ball,
            label=words,
        )
    return {"svg": svg, "words": words}


def scatter_words(seen: AttemptScatter, on_wall: bool) -> str:
    """Return bias and spread in centimetres.

    Examples
    --------
    >>> from goodlength.practice.statistics.attempt_scatter import scatter_of
    >>> seen = scatter_of([(0.1, 0.4), (0.2, 0.3), (0.0, 0.6), (0.2, 0.6)], aim_m=(0.0, 0.5))
    >>> scatter_words(seen, on_wall=True).split(". ")[0]
    'On average the 4 balls were 12 cm right of and 3 cm below the target'
    """
    half = f"{round(100 * seen.next_ball.major_m)} by {round(100 * seen.next_ball.minor_m)} cm"
    spread = (
        f"The next ball should land inside the dashed ellipse ({half} from its centre) 95% of the time. "
        "With few balls the ellipse is wide."
    )
    if seen.bias_m is None:
        return f"{seen.n} balls. No target was set, so the distance from it is not known. {spread}"
    across, along = (round(100 * v) for v in seen.bias_m)
    side = f"{abs(across)} cm {'right' if across > 0 else 'left'} of"
    ways = ("above", "below") if on_wall else ("deeper than", "short of")
    up = f"{abs(along)} cm {ways[0] if along > 0 else ways[1]}"
    return f"On average the {seen.n} balls were {side} and {up} the target. {spread}"
