"""Query of the Aim page, as its address and its form hold it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.aim.aim_optimisation import ASSUMED_FAULT_COST, AimPoint
from goodlength.aim.front_wall_scatter import ASSUMED_BY_LEVEL, AimScatter
from goodlength.aim.serve_goals import KINDS, Task, task_of, with_goal
from goodlength.ball import Ball, Court, PlayConditions
from goodlength.ball.model.play_conditions import DOTS, FLOORS, WALLS, WARMTH_WORDS
from goodlength.errors import InputError
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
from goodlength.tasks.footage.serve_statistics_by_kind import KM_H, kind_line, measured_kinds
from goodlength.tasks.match.lazy_player_matches import OpenMatches

if TYPE_CHECKING:
    from goodlength.record.store import Library

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


def matches_asked_of(library: Library, said: Mapping[str, str]) -> OpenMatches | None:
    """Return the matches of the player that an address names, for a scatter of their own; None of nobody."""
    player = said.get("player", "")
    return tasks.open_matches(library, player) if player else None


def question_of(library: Library, said: Mapping[str, str], matches: OpenMatches | None) -> AimQuestion:
    """Read an address.

    Parameters
    ----------
    matches : OpenMatches or None
        The player's, for a scatter of their own; without them it is the level's.

    Raises
    ------
    InputError, OutOfRange, NotFound
        A value that cannot be, with what would be accepted.
    """
    player = said.get("player", "")
    hand = said.get("hand") or (library.player(player).hand if player else "right")
    contact = [number_in_query(said, f"contact_{axis}", "contact point") for axis in "xyz"]
    whole = None if any(v is None for v in contact) else contact_of([v for v in contact if v is not None])
    task = task_of(said.get("kind", "lob"), said.get("box", "right"), hand, contact_m=whole)
    changes = {
        name: number_in_query(said, name, words)
        for name, words, _ in GOAL_FIELDS
        if getattr(task.goal, name) is not None and said.get(name)
    }
    level = said.get("level", "club")
    base = AimScatter.of_level(level) if matches is None else scatter_of_player(matches, level)
    wide = number_in_query(said, "scatter", "scatter")
    if wide is not None and round(wide) == round(100 * base.up_m):
        wide = None
    places = None if wide is None else wide / 100
    cost = number_in_query(said, "fault_cost", "cost of a fault")
    return AimQuestion(
        with_goal(task, **changes),
        _setting(library, said),
        scatter_sentence(base, places, places, None),
        ASSUMED_FAULT_COST if cost is None else cost,
        _at(said),
    )


def _setting(library: Library, said: Mapping[str, str]) -> PlayConditions:
    """Ball, court and room; a court of the library brings its own build, altitude and calibration."""
    dot, warmth = said.get("dot", "double-yellow"), said.get("warmth", "warm")
    if said.get("court"):
        return tasks.court_named_by(library, said["court"]).setting(Ball(dot, warmth))
    built = Court(said.get("walls", "plaster"), said.get("back", "glass"), said.get("floor", "sprung"))
    return aim_setting(
        dot, warmth, built, room_c=_or(said, "room", 20.0), altitude_m=_or(said, "altitude", 0.0)
    )


def _or(said: Mapping[str, str], name: str, usual: float) -> float:
    value = number_in_query(said, name, {"room": "court temperature", "altitude": "altitude"}[name])
    return usual if value is None else value


def number_in_query(said: Mapping[str, str], name: str, words: str) -> float | None:
    """Return a number of the address; None where nothing is said.

    Raises
    ------
    InputError
        It is not a number.
    """
    text = said.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e6:
        raise InputError(f"The {words} must be a number; got {said.get(name, '')[:40]!r}.")
    return value


def _at(said: Mapping[str, str]) -> AimPoint | None:
    """Return the aim of the address: its field says km/h (`speed`), links carry m/s (`pace`)."""
    across = number_in_query(said, "across", "distance from the left wall")
    above = number_in_query(said, "above", "height")
    speed = number_in_query(said, "speed", "speed")
    pace = number_in_query(said, "pace", "speed") if speed is None else speed / KM_H
    if across is None or above is None or pace is None:
        return None
    return AimPoint(across, above + ABOVE_LINE_M, pace)


@lru_cache(maxsize=64)
def answer_to(question: AimQuestion) -> AimAnswer:
    """Return the answer, worked out once: the same question always has the same one."""
    q = question
    if q.at is None:
        return aim_serve(q.task, q.setting, q.scatter, fault_cost=q.fault_cost)
    return spread_serve(q.task, q.setting, q.scatter, q.at, fault_cost=q.fault_cost)


def form_of(
    library: Library,
    said: Mapping[str, str],
    question: AimQuestion | None,
    matches: OpenMatches | None,
) -> dict[str, Json]:
    """Return what the form shows: the lists, and what is chosen."""
    task = question.task if question else task_of("lob", "right")
    scatter = question.scatter if question else AimScatter.of_level("club")
    contact = task.contact_m
    return {
        "players": [("", "No player chosen"), *((p.id, p.name) for p in tasks.players(library))],
        "player": said.get("player", ""),
        "courts": [
            ("", "Any court, as set below"),
            *((c.id, c.name + (", calibrated" if c.calibration else "")) for c in tasks.courts(library)),
        ],
        "court": said.get("court", ""),
        "box": task.box,
        "hand": task.hand,
        "kind": task.wanted.kind,
        "kinds": [(goal.kind, goal.words) for goal in KINDS],
        "warmth": said.get("warmth", "warm"),
        "warmths": [(name, words.capitalize()) for name, words in WARMTH_WORDS.items()],
        "level": said.get("level", "club"),
        "levels": [("new", "Beginner"), ("club", "Club"), ("county", "Advanced")],
        "scatter_cm": round(100 * scatter.up_m),
        "scatter_words": _scatter_words(scatter),
        "measured_words": _measured_words(matches, task),
        "dot": said.get("dot", "double-yellow"),
        "dots": [(name, dot.words) for name, dot in DOTS.items()],
        "walls": [(name, bounce.words) for name, bounce in WALLS.items()],
        "floors": [(name, bounce.words) for name, bounce in FLOORS.items()],
        "chosen": {
            name: said.get(name, usual)
            for name, usual in (("walls", "plaster"), ("back", "glass"), ("floor", "sprung"))
        },
        "room_c": said.get("room", "20"),
        "altitude": said.get("altitude", "0"),
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
