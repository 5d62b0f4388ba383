"""View of an aim: unfolded court, tape, tallies, edges, the cost of a miss, and the map of the front wall."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from goodlength import tasks
from goodlength.aim.serve_goals import ServeGoal, Task, task_of
from goodlength.ball import UNSURE, WARMTH_WORDS, Ball, ServeFlight
from goodlength.court.dimensions import FRONT_OUT_M, SERVICE_LINE_TOP_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.files.json_types import Json
from goodlength.show.draw.court.aim_success_contour_drawing import WallMap, draw_front_wall_map
from goodlength.show.draw.court.aim_window_drawing import WallWindow
from goodlength.show.draw.court.flight_side_view import ReceiverReach
from goodlength.show.draw.court.front_wall_contours import rings_of
from goodlength.show.draw.court.unfolded_flight import RACKET, draw_path
from goodlength.show.draw.five_bar_tally_and_tape_measure_drawing import tally
from goodlength.tasks.aim.serve_aim import AimAnswer, fly_aim, goal_sentence
from goodlength.tasks.ball.serve_statistics_by_kind import KM_H
from goodlength.web.views.aim_page_query import AimQuestion, answer_to

ROWS = (
    ("goal", "meet the goal"),
    ("dies", "die at the back wall"),
    ("volley", "could be volleyed"),
    ("off_back", "come off the back wall"),
    ("fault", "are faults"),
)


@dataclass(frozen=True)
class Struck:
    """The strike as a contact of the drawing."""

    surface: str
    x_m: float
    y_m: float
    z_m: float


def answer_view(answer: AimAnswer) -> dict[str, Json]:
    """Return everything the answer's template uses."""
    aim, odds, kind = answer.aim, answer.odds, answer.task.wanted
    window = _window(answer)
    return {
        "court": _court(answer.task, answer.flight, window),
        "searched": answer.best is not None,
        "above": f"{aim.up_m - SERVICE_LINE_TOP_M:.2f} m",
        "above_feet": feet_words(aim.up_m - SERVICE_LINE_TOP_M),
        "along": f"{window.along_m:.2f} m",
        "along_feet": feet_words(window.along_m),
        "wall": "right" if window.from_right else "left",
        "window_words": _window_words(answer, window),
        "plural": kind.plural,
        "goal_words": goal_sentence(answer.task),
        "rows": [_row(name, words, getattr(odds, name)) for name, words in ROWS],
        "faults": _faults(odds.faults),
        "good": _row("good", "are good serves (no fault)", odds.good),
        "speed": f"{aim.speed_m_s * KM_H:.0f} km/h",
        "m_s": f"{aim.speed_m_s:.1f} m/s",
        "time": None if odds.time_s is None else f"{odds.time_s:.1f} s",
        "height": None if odds.height_m is None else f"{odds.height_m:.1f} m",
        "edges": [_edge(edge) for edge in answer.window.edges or ()],
        "in_window": answer.window.edges is not None,
        "misses": [
            {"words": miss.words, "cells": [round(getattr(miss.odds, name).of_100) for name, _ in ROWS]}
            for miss in answer.misses
        ],
        "here": [round(getattr(odds, name).of_100) for name, _ in ROWS],
        "moved": _moved(answer),
        "assumed": answer.assumed,
        "at": {
            "across": f"{aim.across_m:.2f}",
            "above": f"{aim.up_m - SERVICE_LINE_TOP_M:.2f}",
            "speed": f"{aim.speed_m_s * KM_H:.0f}",
        },
        "warm": _ball_words(answer.setting.ball),
        "dies_short": odds.off_back.of_100 < odds.good.of_100 - odds.dies.of_100 - odds.off_back.of_100,
        "calibrated": answer.setting.calibration is not None,
        "body": kind.kind.startswith("body"),
    }


def feet_words(metres: float) -> str:
    """Return a length in feet and inches, to the nearest inch.

    Examples
    --------
    >>> feet_words(2.22), feet_words(0.3), feet_words(1.82)
    ('7 ft 3 in', '1 ft', '6 ft')
    """
    feet, inches = divmod(round(metres / 0.0254), 12)
    return " ".join([f"{feet} ft"] * (feet > 0 or inches == 0) + [f"{inches} in"] * (inches > 0))


def path_drawing(question: AimQuestion) -> str:
    """Return the court with the single path of the question's own aim, without odds.

    Raises
    ------
    InputError
        If no aim is said, or no ball of that pace gets there.
    """
    if question.at is None:
        raise InputError("Give the place across, the height above the service line and the speed.")
    flight = fly_aim(question.task, question.setting, question.at)
    window = WallWindow(question.at.across_m, min(question.at.up_m, FRONT_OUT_M))
    return _court(question.task, flight, window)


def _court(task: Task, flight: ServeFlight, window: WallWindow) -> str:
    contacts = [Struck(RACKET, *task.contact_m)]
    contacts += [
        Struck(str(contact.surface), contact.x_m, contact.y_m, contact.z_m)
        for contact in (touch.on_surface() for touch in flight.flight.contacts)
    ]
    receiver = task.receiver
    return draw_path(
        contacts,
        flight=[(x, y, z) for _, x, y, z in flight.flight.path(0.03).tolist()],
        window=window,
        receiver=ReceiverReach("Receiver", receiver.x_m, receiver.y_m, receiver.reach_up_m),
        shot=f"{task.wanted.words} from the {task.box} box",
    )


def _window(answer: AimAnswer) -> WallWindow:
    aim, best = answer.aim, answer.best
    if best is None:
        return WallWindow(aim.across_m, min(aim.up_m, FRONT_OUT_M))
    _, _, wide, tall = best.box
    rings = rings_of(best.map_across_m, best.map_up_m, best.map)
    return WallWindow(aim.across_m, aim.up_m, rings, round(wide, 1), round(tall, 1))


def _window_words(answer: AimAnswer, window: WallWindow) -> str:
    """Return where that is, in words a coach can check with the eye."""
    middle = answer.aim.across_m - WIDTH_M / 2
    side = (
        "in the middle of the wall"
        if abs(middle) < 0.005
        else (f"{abs(middle) * 100:.0f} cm {'right' if middle > 0 else 'left'} of the middle of the wall")
    )
    under = FRONT_OUT_M - answer.aim.up_m
    words = (
        f"Measured from the top of the service line to the centre of the ball. {side[0].upper()}{side[1:]}, "
    )
    words += f"{under * 100:.0f} cm under the out line."
    if window.wide_m:
        words += (
            f" Tape a box {window.wide_m * 100:.0f} cm wide and {window.tall_m * 100:.0f} cm tall around it."
        )
    return words


def _ball_words(ball: Ball) -> str:
    """Return a ball by its temperature, with its article.

    Examples
    --------
    >>> _ball_words(Ball(warmth="club")), _ball_words(Ball(warmth="unsure"))
    ('a lukewarm ball', 'a ball whose temperature is not known')
    """
    known = ball.warmth != UNSURE
    return f"a {WARMTH_WORDS[ball.warmth]} ball" if known else "a ball whose temperature is not known"


def _row(name: str, words: str, share: Any) -> dict[str, Json]:
    count = round(share.of_100)
    return {
        "name": name,
        "count": count,
        "words": words,
        "tally": tally(count) if count else "",
        "range": f"{share.low:.0f} to {share.high:.0f}",
    }


def _faults(faults: dict[str, float]) -> str:
    """Return the faults of a hundred by what is wrong, commonest first; those under one in 100 together."""
    named = [(share, words) for words, share in faults.items() if round(share) >= 1]
    named.sort(reverse=True)
    return ", ".join(f"{share:.0f} {words}" for share, words in named)


def _edge(edge: Any) -> dict[str, str]:
    pace = edge.way in ("too slow", "too fast")
    size, unit = (edge.distance * KM_H, "km/h") if pace else (edge.distance * 100, "cm")
    far = f"{size:.0f} {unit}" if size >= 0.5 else f"less than 1 {unit}"
    return {"way": edge.way, "far": far, "beyond": edge.beyond}


def _moved(answer: AimAnswer) -> list[str]:
    """Return where the best aim goes with the scatter, one sentence each."""
    if answer.best is None:
        return []
    names = {0.5: "Scatter × 0.5", 1.5: "Scatter × 1.5", 2.0: "Scatter × 2"}
    return [
        f"{names[move.factor]}: {move.aim.up_m - SERVICE_LINE_TOP_M:.2f} m above the service line, "
        f"{move.aim.across_m:.2f} m from the left wall, {move.aim.speed_m_s * KM_H:.0f} km/h."
        for move in answer.best.moved
        if move.factor in names
    ]


@lru_cache(maxsize=16)
def map_view(question: AimQuestion, compare: str) -> dict[str, Json]:
    """Return the drawing and its words; `compare` is a second kind of serve, aimed at its best target.

    Raises
    ------
    InputError, OutOfRange
        If a kind is none that can be aimed, or nothing in the range searched works.
    """
    questions = [question]
    if compare and compare != question.task.wanted.kind:
        questions.append(_other(question, compare))
    maps, words = [], []
    for asked in questions:
        answer = answer_to(asked)
        aim, kind = answer.aim, asked.task.wanted
        found = tasks.map_serve(asked.task, asked.setting, asked.scatter, aim.speed_m_s)
        maps.append(WallMap(kind.words, found.across_m, found.up_m, found.of_100, (aim.across_m, aim.up_m)))
        words.append(_caption(kind, aim.speed_m_s, found.best[2]))
    return {"drawing": draw_front_wall_map(maps), "words": words[0], "compared": words[1:]}


def _other(question: AimQuestion, kind: str) -> AimQuestion:
    """Return the same question for another kind of serve, with its usual contact point and goal."""
    task = question.task
    return replace(
        question, task=task_of(kind, task.box, task.hand, receiver=task.receiver), at=None, moving=False
    )


def _caption(kind: ServeGoal, speed_m_s: float, most: float) -> str:
    return (
        f"{kind.words}, at {speed_m_s * KM_H:.0f} km/h: at most {most:.0f} of 100 meet the goal, "
        "from the best place."
    )
