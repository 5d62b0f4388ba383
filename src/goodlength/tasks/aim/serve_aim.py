"""Where to aim a serve and how hard, its outcomes, and the cost of a miss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from goodlength.aim.aim_optimisation import (
    ASSUMED_FAULT_COST,
    SCATTER_FACTORS,
    AimPoint,
    Best,
    ServeOutcomes,
    best_aim,
    odds_of,
)
from goodlength.aim.serve_goals import Task
from goodlength.aim.serve_scatter_on_front_wall import LEVEL_WORDS, AimScatter
from goodlength.ball import Air, Ball, Court, PlayConditions
from goodlength.ball.model.air_density_and_viscosity import pressure_at
from goodlength.ball.model.input_validation import within
from goodlength.court import SINGLES
from goodlength.errors import InputError

if TYPE_CHECKING:
    from goodlength.aim.front_wall_success_map import FrontWallMap
    from goodlength.aim.serve_launch_window import LaunchWindow
    from goodlength.ball import ServeFlight
    from goodlength.practice.planning.drill_library import Drill
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_player_matches import OpenMatches

FEWEST_BALLS = 5
HARDER, HIGHER_M, ASIDE_M = 0.10, 0.30, 0.30
MISS_THROWS = 16  # in the same worlds as the aim itself: a miss is set beside it, not beside other luck
ABOVE_LINE_M = SINGLES.service_line.value_m + SINGLES.line_width.value_m


@dataclass(frozen=True)
class MissCost:
    """What becomes of 100 serves that are all off in one way."""

    words: str
    odds: ServeOutcomes


@dataclass(frozen=True)
class AimAnswer:
    """Everything the Aim page says; `best` is None where the aim was given and not searched.

    `flight` is the single path in the middle of what is known, without scatter.
    """

    task: Task
    setting: PlayConditions
    scatter: AimScatter
    aim: AimPoint
    odds: ServeOutcomes
    best: Best | None
    window: LaunchWindow
    misses: tuple[MissCost, ...]
    flight: ServeFlight
    fault_cost: float

    @property
    def assumed(self) -> tuple[str, ...]:
        """What the answer takes for granted, in sentences."""
        x, y, z = self.task.contact_m
        lines = [
            f"Contact {x:.1f} m from the left wall, {y:.1f} m from the front wall and {z:.1f} m high, "
            "without added spin.",
            f"{goal_sentence(self.task)} The receiver's position and reach are guesses.",
            f"A fault costs {_times(self.fault_cost)} a serve that meets the goal gains. "
            "You can change this.",
        ]
        if self.scatter.assumed:
            lines.insert(0, f"{self.scatter.assumed[0].upper()}{self.scatter.assumed[1:]}.")
        return (*lines, *self.setting.assumed())


def goal_sentence(task: Task) -> str:
    """Return what the serve is meant to do.

    Examples
    --------
    >>> from goodlength.aim.serve_goals import task_of
    >>> goal_sentence(task_of("lob", "right"))[:52]
    'Goal: a serve (lob) that is still 1.8 m high one ste'
    """
    return f"Goal: a serve ({task.wanted.words.lower()}) that {task.goal.words}."


def aim_setting(
    dot: str = "double-yellow",
    warmth: str = "warm",
    court: Court | None = None,
    *,
    room_c: float = 20.0,
    altitude_m: float = 0.0,
) -> PlayConditions:
    """Return ball, court and room as a coach says them.

    Raises
    ------
    InputError, OutOfRange
        If there is no such ball or warmth, or a temperature or altitude cannot be.
    """
    air = Air(temperature_c=room_c, pressure_pa=pressure_at(altitude_m))
    return PlayConditions(ball=Ball(dot, warmth), court=court or Court(), air=air)


def aim_serve(
    task: Task,
    setting: PlayConditions,
    scatter: AimScatter,
    *,
    fault_cost: float = ASSUMED_FAULT_COST,
    brief: bool = False,
) -> AimAnswer:
    """Search the best spot and pace for a task, and say what comes of it.

    `brief` leaves out the effect of misses and where the aim goes with the scatter: half of the work.

    Raises
    ------
    InputError
        If nothing in the range searched ever does what is wanted.

    Examples
    --------
    >>> from goodlength.aim.serve_goals import task_of
    >>> answer = aim_serve(task_of("mid-height", "right"), aim_setting(), AimScatter.of_level("club"))
    >>> 60 < answer.odds.good.of_100 <= 100
    True
    """
    factors = () if brief else SCATTER_FACTORS
    best = best_aim(task, setting, scatter, fault_cost=fault_cost, factors=factors)
    return _answer(task, setting, scatter, best.aim, best, fault_cost, with_misses=not brief)


def spread_serve(
    task: Task,
    setting: PlayConditions,
    scatter: AimScatter,
    aim: AimPoint,
    *,
    fault_cost: float = ASSUMED_FAULT_COST,
    with_misses: bool = True,
) -> AimAnswer:
    """Return what comes of a given spot and pace, with this scatter.

    `with_misses` False leaves out what becomes of serves that are all off one way: two thirds of the work.

    Raises
    ------
    InputError
        If no ball of that pace reaches the spot.
    """
    return _answer(task, setting, scatter, aim, None, fault_cost, with_misses=with_misses)


def map_serve(task: Task, setting: PlayConditions, scatter: AimScatter, speed_m_s: float) -> FrontWallMap:
    """Return of 100 serves aimed at each place of the front wall at one speed how many meet the goal.

    Raises
    ------
    OutOfRange
        If the speed cannot be.

    Examples
    --------
    >>> from goodlength.aim.serve_goals import task_of
    >>> found = map_serve(task_of("hard", "right"), aim_setting(), AimScatter.of_level("club"), 31.0)
    >>> 20 < found.best[2] < 90
    True
    """
    from goodlength.aim.front_wall_success_map import map_of

    return map_of(task, setting, scatter, speed_m_s)


def scatter_of_player(matches: OpenMatches, level: str = "club") -> AimScatter:
    """Return a player's scatter: from serves measured in footage, else from practice, else the level's
    preset.

    Measured serves, clicked or from their paths, count around the middle of their kind and box, less the
    error of measuring; a path whose kind nobody logged does not count, since kinds would be mixed. In the
    practice log sets with an aim count around it, less what all of them miss by, a set without one around
    its own middle; speed is not marked on court: it stays the level's guess. `balls` is one more than what
    is left to judge the spread by.
    """
    measured = _measured_scatter(matches)
    if measured is not None:
        return measured
    return _practised_scatter(matches.library, matches.player_id, level)


def _measured_scatter(matches: OpenMatches) -> AimScatter | None:
    """From measured serves of any match, where there are enough of a kind from a box."""
    from goodlength.aim.serve_scatter_on_front_wall import true_spread
    from goodlength.tasks.ball.player_measured_serves import measured_by_kind

    groups = {
        key: tuple(place for place in group if key[0] or place.by == "clicks")
        for key, group in measured_by_kind(matches).items()
    }
    (across, up, speed), balls = true_spread(
        [
            [
                (measured_place.across_m, measured_place.up_m, measured_place.speed_m_s)
                for measured_place in group
            ]
            for group in groups.values()
        ],
        [[measured_place.errors for measured_place in group] for group in groups.values()],
    )
    if balls < FEWEST_BALLS:
        return None
    used = [measured_place for group in groups.values() if len(group) > 1 for measured_place in group]
    measured_in = len({measured_place.match for measured_place in used})
    from_paths = sum(measured_place.by == "path" for measured_place in used)
    return AimScatter(
        min(max(across, 0.02), 1.5),
        min(max(up, 0.02), 1.5),
        min(max(speed, 0.05), 8.0),
        balls,
        f"scatter across, up and in speed from {len(used)} serves measured in "
        f"{'1 match' if measured_in == 1 else f'{measured_in} matches'}"
        f"{f' ({from_paths} of them from their paths)' if from_paths else ''}, less measurement error",
        speed_measured=True,
    )


def _practised_scatter(library: Library, player_id: str, level: str) -> AimScatter:
    """From places marked in practice, else the level's preset."""
    from goodlength.aim.serve_scatter_on_front_wall import spread_of
    from goodlength.practice.attempt_location_validation import WALL, surface_of
    from goodlength.tasks.practice.library_and_custom_drills import drill_named
    from goodlength.tasks.practice.practice_plans_and_log import sets_of

    groups, aimed = [], []
    for drill_id, sets in sets_of(library, player_id).items():
        if surface_of(drill_named(library, drill_id)) != WALL:
            continue
        for practice_set in sets:
            if practice_set.aim is None:
                groups.append(practice_set.places)
            else:
                aimed += [(x - practice_set.aim[0], z - practice_set.aim[1]) for x, z in practice_set.places]
    marked = sum(len(group) for group in groups if len(group) >= 2) + len(aimed)
    preset = AimScatter.of_level(level)
    across, up, balls = spread_of([*groups, aimed])
    if balls < FEWEST_BALLS:
        return preset
    return AimScatter(
        max(across, 0.02),
        max(up, 0.02),
        preset.speed_m_s,
        balls,
        f"scatter across and up from {marked} balls marked in practice; the scatter of the speed is a "
        f"guess by level ({LEVEL_WORDS[level]})",
    )


def scatter_sentence(
    base: AimScatter, across_m: float | None, up_m: float | None, speed_m_s: float | None
) -> AimScatter:
    """Return a scatter with parts said by the coach."""
    parts = {"across_m": across_m, "up_m": up_m, "speed_m_s": speed_m_s}
    given = {name: value for name, value in parts.items() if value is not None}
    if not given:
        return base
    places = "across_m" in given or "up_m" in given
    words = "scatter set by the coach"
    if len(given) < 3:
        words += "; the rest: " + base.assumed
    values: dict[str, Any] = {**given, "balls": None if places else base.balls, "assumed": words}
    if "speed_m_s" in given or places:
        values["speed_measured"] = False
    return replace(base, **values)


def _answer(
    task: Task,
    setting: PlayConditions,
    scatter: AimScatter,
    aim: AimPoint,
    best: Best | None,
    fault_cost: float,
    *,
    with_misses: bool = True,
) -> AimAnswer:
    from goodlength.aim.serve_launch_window import window_of

    flight = fly_aim(task, setting, aim)
    odds = odds_of(task, setting, aim, scatter, fault_cost=fault_cost)
    misses = tuple(
        MissCost(
            words,
            odds_of(task, setting, off, scatter, fault_cost=fault_cost, throws=MISS_THROWS),
        )
        for words, off in (_misses(aim) if with_misses else ())
    )
    return AimAnswer(
        task, setting, scatter, aim, odds, best, window_of(task, setting, aim), misses, flight, fault_cost
    )


def _misses(aim: AimPoint) -> list[tuple[str, AimPoint]]:
    found = []
    for words, factor in (("10% harder", 1 + HARDER), ("10% softer", 1 - HARDER)):
        found.append((words, replace(aim, speed_m_s=min(max(aim.speed_m_s * factor, 8.0), 70.0))))
    for words, up in (("30 cm higher", HIGHER_M), ("30 cm lower", -HIGHER_M)):
        found.append((words, replace(aim, up_m=min(max(aim.up_m + up, 0.5), 5.0))))
    for words, across in (("30 cm farther left", -ASIDE_M), ("30 cm farther right", ASIDE_M)):
        found.append((words, replace(aim, across_m=min(max(aim.across_m + across, 0.1), 6.3))))
    return found


def fly_aim(task: Task, setting: PlayConditions, aim: AimPoint) -> ServeFlight:
    """Return the single path of an aim, in the middle of what is known and without scatter.

    Raises
    ------
    InputError
        If no ball of that pace reaches the spot.
    """
    from goodlength.ball import aim_at_spots, serve

    within("height of the aim", aim.up_m, 0.5, 5.0, "m")
    start = [[*task.contact_m, 0.0, 0.0, 0.0]]
    row = setting.coefficients().row()
    launches, miss = aim_at_spots(start, [aim.speed_m_s], [[aim.across_m, aim.up_m]], [row])
    if miss[0] > 1e-4:
        raise InputError(
            f"At {aim.speed_m_s * 3.6:.0f} km/h no ball hit from there reaches the front wall at "
            f"{aim.up_m:g} m. "
            "Choose a higher speed, or a lower target."
        )
    return serve(task.box, launches[0], setting, task.receiver)


def fly_kind(task: Task, setting: PlayConditions) -> ServeFlight:
    """Return a serve of a kind as its window has it: the spot and pace farthest inside, flown once.

    Raises
    ------
    InputError
        If no spot and pace searched reaches the goal with this ball.
    """
    from goodlength.aim.serve_launch_window import middle_of_window

    aim = middle_of_window(task, setting)
    if aim is None:
        raise InputError(
            f"With this ball no {task.wanted.words.lower()} in the range searched {task.goal.words}. "
            "Warm the ball, or fly a launch of your own with --contact and --velocity.",
            page="With this ball no such serve reaches the goal. Choose a warmer ball or another goal.",
        )
    return fly_aim(task, setting, aim)


def drill_from_aim(library: Library, answer: AimAnswer) -> Drill:
    """Return a drill of the coach's own that practises an aim: its box taped on the front wall, its
    place and kind.

    The same aim asked again gives the drill already made.

    Raises
    ------
    InputError
        If the aim was given and not searched: it has no box.
    """
    from goodlength.tasks.practice.library_and_custom_drills import add_drill, drills

    if answer.best is None:
        raise InputError(
            "Your own target has no calculated box. Go back to the best target, then practise it."
        )
    left, low, wide, tall = (round(v, 2) for v in answer.best.box)
    kind, task = answer.task.wanted, answer.task
    x, y, _ = task.contact_m
    name = f"{kind.words}, {task.box} box: {low + tall / 2:.2f} m up, {left + wide / 2:.2f} m across"
    made = next((drill for drill in drills(library) if drill.name == name and drill.box), None)
    if made is not None:
        return made
    pace = answer.aim.speed_m_s
    do = (
        f"Tape a box {wide * 100:.0f} cm wide and {tall * 100:.0f} cm tall, its middle "
        f"{low + tall / 2 - ABOVE_LINE_M:.2f} m above the service line and {left + wide / 2:.2f} m from "
        f"the left wall. Serve from the {task.box} box at about {pace * 3.6:.0f} km/h ({pace:.0f} m/s)."
    )
    if kind.kind.startswith("body"):
        do += (
            " With a partner who has agreed, both in eye protection, a slow ball; stop when "
            "either of you says so."
        )
    return add_drill(
        library,
        {
            "name": name,
            "theme": "serve",
            "company": "pair" if kind.kind.startswith("body") else "solo",
            "do": do,
            "counts": "The ball hits the front wall inside the tape and the serve is good.",
            "changes": f"More serves that meet the goal: a serve that {task.goal.words}.",
            "spots": [{"words": "server", "x_m": x, "y_m": y}],
            "place": "front-wall",
            "box": {"left_m": left, "low_m": low, "wide_m": wide, "tall_m": tall},
            "sets": 3,
            "attempts": 15,
            "rest_s": 45,
            "minutes": 12,
            "kinds": [kind.kind],
            "body_target": kind.kind.startswith("body"),
        },
    )


def contact_of(values: Sequence[float] | None) -> tuple[float, float, float] | None:
    """Return a contact point as three numbers inside the court.

    Raises
    ------
    OutOfRange
        If it is not there.
    """
    if values is None:
        return None
    x, y, z = values
    within("contact point from the left wall", x, 0.1, 6.3, "m")
    within("contact point from the front wall", y, 1.0, 9.6, "m")
    within("contact point above the floor", z, 0.1, 3.2, "m")
    return x, y, z


def _times(cost: float) -> str:
    """Return how much a fault costs beside what a serve gains.

    Examples
    --------
    >>> _times(1.0), _times(1.5)
    ('as much as', '1.5 times what')
    """
    return "as much as" if cost == 1.0 else f"{cost:g} times what"
