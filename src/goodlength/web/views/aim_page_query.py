"""Query of the Aim page, as its address and its form hold it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.aim.aim_optimisation import ASSUMED_FAULT_COST, AimPoint
from goodlength.aim.serve_goals import KINDS, Task, task_of, with_goal
from goodlength.aim.serve_scatter_on_front_wall import ASSUMED_BY_LEVEL, AimScatter
from goodlength.ball import Ball, Court, PlayConditions
from goodlength.ball.model.ball_court_room_conditions import DOTS, FLOORS, WALLS, WARMTH_WORDS
from goodlength.files.json_types import Json
from goodlength.record.rally_sentences import kind_words
from goodlength.tasks.aim.serve_aim import (
    ABOVE_LINE_M,
    AimAnswer,
    aim_serve,
    aim_setting,
    contact_of,
    scatter_of_player,
    scatter_sentence,
    spread_serve,
)
from goodlength.tasks.ball.serve_statistics_by_kind import KM_H, kind_line, measured_kinds
from goodlength.tasks.match.lazy_player_matches import OpenMatches
from goodlength.web.submitted_forms.aim_form import AimForm, aim_texts
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted

if TYPE_CHECKING:
    from goodlength.record.store import Library

USUAL_ROOM_C = 20.0
GOAL_FIELDS = (
    ("above_m", "Height one step in front of the receiver", "m"),
    ("dies_within_m", "Second bounce, distance from the back wall", "m"),
    ("off_back_within_m", "Maximum distance off the back wall", "m"),
    ("there_within_s", "Time to the receiver", "s"),
    ("feet_within_m", "First bounce, distance from the receiver’s feet", "m"),
    ("first_from_back_m", "First bounce, distance from the back wall", "m"),
)


@dataclass(frozen=True)
class AimQuestion:
    """What is asked: everything an answer depends on, so that the same question is answered once."""

    task: Task
    setting: PlayConditions
    scatter: AimScatter
    fault_cost: float
    at: AimPoint | None
    moving: bool = False  # asked while the target is being moved: without the effect of misses


def matches_asked_of(library: Library, form: Submitted[AimForm]) -> OpenMatches | None:
    """Return the matches of the player that an address names, for a scatter of their own; None of nobody."""
    player = form.value.player
    return tasks.open_matches(library, player) if player else None


def question_of(library: Library, form: AimForm, matches: OpenMatches | None) -> AimQuestion:
    """Return the question that a form asks.

    Parameters
    ----------
    library : Library
        For the player's hand and the court.
    form : AimForm
        The question as the page asks it.
    matches : OpenMatches or None
        The player's, for a scatter of their own; without them it is the level's.

    Raises
    ------
    InputError, OutOfRange, NotFound
        A value that cannot be, with what would be accepted.
    """
    hand = form.hand or (library.player(form.player).hand if form.player else "right")
    contact = [value for value in (form.contact_x, form.contact_y, form.contact_z) if value is not None]
    task = task_of(form.kind, form.box, hand, contact_m=contact_of(contact) if len(contact) == 3 else None)
    changes = {
        name: value
        for name, _, _ in GOAL_FIELDS
        if getattr(task.goal, name) is not None and (value := getattr(form, name)) is not None
    }
    base = AimScatter.of_level(form.level) if matches is None else scatter_of_player(matches, form.level)
    places = form.scatter
    if places is not None and round(places) == round(100 * base.up_m):
        places = None
    places = None if places is None else places / 100
    return AimQuestion(
        with_goal(task, **changes),
        _setting(library, form),
        scatter_sentence(base, places, places, None),
        ASSUMED_FAULT_COST if form.fault_cost is None else form.fault_cost,
        _at(form),
        bool(form.moving),
    )


def _setting(library: Library, form: AimForm) -> PlayConditions:
    """Ball, court and room; a court of the library brings its own build, altitude and calibration."""
    if form.court:
        return tasks.court_named_by(library, form.court).setting(Ball(form.dot, form.warmth))
    return aim_setting(
        form.dot,
        form.warmth,
        Court(form.walls, form.back, form.floor),
        room_c=USUAL_ROOM_C if form.room is None else form.room,
        altitude_m=0.0 if form.altitude is None else form.altitude,
    )


def _at(form: AimForm) -> AimPoint | None:
    """Return the aim of the address: its field says km/h (`speed`), links carry m/s (`pace`)."""
    pace = form.pace if form.speed is None else form.speed / KM_H
    if form.across is None or form.above is None or pace is None:
        return None
    return AimPoint(form.across, form.above + ABOVE_LINE_M, pace)


@lru_cache(maxsize=64)
def answer_to(question: AimQuestion) -> AimAnswer:
    """Return the answer, worked out once: the same question always has the same one."""
    q = question
    if q.at is None:
        return aim_serve(q.task, q.setting, q.scatter, fault_cost=q.fault_cost, brief=q.moving)
    return spread_serve(q.task, q.setting, q.scatter, q.at, fault_cost=q.fault_cost, with_misses=not q.moving)


def form_of(
    library: Library,
    texts: Mapping[str, str],
    question: AimQuestion | None,
    matches: OpenMatches | None,
) -> dict[str, Json]:
    """Return what the form shows: the lists, and what is chosen.

    Parameters
    ----------
    library : Library
        For players and courts.
    texts : mapping of str to str
        What was typed or chosen, by the names of the form's fields.
    question : AimQuestion or None
        The question read; None where it could not be.
    matches : OpenMatches or None
        The player's, for the speed of their own serves.
    """
    typed = aim_texts(texts)
    task = question.task if question else task_of("lob", "right")
    scatter = question.scatter if question else AimScatter.of_level("club")
    contact = task.contact_m
    return {
        "players": [("", "No player chosen"), *((p.id, p.name) for p in tasks.players(library))],
        "player": typed["player"],
        "courts": [
            ("", "Any court, as set below"),
            *((c.id, c.name + (", calibrated" if c.calibration else "")) for c in tasks.courts(library)),
        ],
        "court": typed["court"],
        "box": task.box,
        "hand": task.hand,
        "kind": task.wanted.kind,
        "kinds": [(goal.kind, goal.words) for goal in KINDS],
        "warmth": typed["warmth"],
        "warmths": [(name, words.capitalize()) for name, words in WARMTH_WORDS.items()],
        "level": typed["level"],
        "levels": [("new", "Beginner"), ("club", "Club"), ("county", "Advanced")],
        "scatter_cm": round(100 * scatter.up_m),
        "scatter_words": _scatter_words(scatter),
        "measured_words": _measured_words(matches, task),
        "dot": typed["dot"],
        "dots": [(name, dot.words) for name, dot in DOTS.items()],
        "walls": [(name, bounce.words) for name, bounce in WALLS.items()],
        "floors": [(name, bounce.words) for name, bounce in FLOORS.items()],
        "chosen": {name: typed[name] for name in ("walls", "back", "floor")},
        "room_c": typed["room"],
        "altitude": typed["altitude"],
        "goal": [
            (name, words, unit, getattr(task.goal, name))
            for name, words, unit in GOAL_FIELDS
            if getattr(task.goal, name) is not None
        ],
        "contact": [
            (axis, words, value)
            for axis, words, value in zip(
                "xyz", ("from left wall", "from front wall", "height"), contact, strict=True
            )
        ],
        "fault_cost": question.fault_cost if question else ASSUMED_FAULT_COST,
    }


def _measured_words(matches: OpenMatches | None, task: Task) -> str:
    """Return how fast the player's own serves of this kind from this box were, where any was measured."""
    if matches is None:
        return ""
    same = [
        measured_kind
        for measured_kind in measured_kinds(matches)
        if (measured_kind.kind, measured_kind.box) == (task.wanted.kind, task.box)
    ]
    return kind_line(same[0], kind_words(matches.library.kinds())) if same else ""


def _scatter_words(scatter: AimScatter) -> str:
    if scatter.balls is not None and scatter.speed_measured:
        return "from measured serves"
    if scatter.balls is not None:
        return f"from {scatter.balls} balls marked"
    usual = {round(up, 3) for _, up, _ in ASSUMED_BY_LEVEL.values()}
    return "a guess by level" if round(scatter.up_m, 3) in usual else "set by you"
