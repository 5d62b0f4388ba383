"""Benchmark of serve measurement from simulated marks, against flights with known truth.

The flights are made by scipy's DOP853 with coefficients, friction and spin about all three axes drawn from
their ranges, seen by random cameras whose marks were clicked with the usual error; touches are clicked 2 px
off and timed by the picture they fall into. Some conditions are worse than that on purpose.

Serves come in sets of one coach: from each measured serve the next ones learn how exactly that coach clicks.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from goodlength.ball import Ball, PlayConditions
from goodlength.ball.model import flight_array_indices as at
from goodlength.errors import CalibrationError, GoodlengthError
from goodlength.footage.camera import CameraCalibration, calibrate_camera
from goodlength.measure.serves.click_error_estimation import ClickEvidence
from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind, ServeMark
from goodlength.measure.serves.serve_measurement import Interval, MeasuredServe, measure_serve
from goodlength.synthetic.simulated_camera_clicks import HEIGHT, WIDTH, real_camera, real_clicks
from goodlength.synthetic.simulated_serve_clicks import (
    CONDITIONS,
    MarkingCondition,
    TrueServe,
    marks_clicked_twice,
    marks_of,
    true_serve,
)

Floats = NDArray[np.float64]
LEVEL = 0.90
TWICE = 10  # marks of a match that a coach is asked to click a second time
HARDER = CONDITIONS[8:]  # cut, clicked far off, ball colder, feet late, lens off, all together
COACH_SERVES, FIRST_SERVES = 40, 10  # of one coach, and those of them that have few before them


@dataclass
class _Tally:
    serves: int = 0
    refused: int = 0
    coach: list[ClickEvidence] = field(default_factory=list)
    marks: int = 0
    twice: bool = False
    doubled: int = 0
    seconds: list[float] = field(default_factory=list)
    errors: dict[str, list[float]] = field(default_factory=dict)
    covered: dict[str, list[bool]] = field(default_factory=dict)
    of_serves: list[tuple[int, int, int]] = field(default_factory=list)  # before it, ranges held, ranges
    now: list[bool] = field(default_factory=list)

    def note(self, name: str, error: float) -> None:
        self.errors.setdefault(name, []).append(error)

    def hold(self, name: str, found: Interval | None, truth: float) -> None:
        if found is not None:
            self.covered.setdefault(name, []).append(found.low <= truth <= found.high)
            if name != "up":  # among "front" already
                self.now.append(found.low <= truth <= found.high)

    def close(self) -> None:
        """Note how many ranges of the serve in hand held."""
        self.of_serves.append((len(self.coach), sum(self.now), len(self.now)))
        self.now.clear()

    def error(self, name: str, quantile: float) -> float:
        """Return a quantile of errors."""
        found = self.errors.get(name)
        return float(np.quantile(found, quantile)) if found else math.nan

    def share(self, name: str) -> float:
        """Return the share of ranges that hold."""
        return float(np.mean(self.covered[name])) if self.covered.get(name) else math.nan

    def coverage(self, before: int) -> tuple[float, float]:
        """Return the share of ranges that hold, of serves with fewer of their coach before them, and its
        standard error, in which serves count, not ranges.
        """
        counts = np.array(
            [(covered, of) for earlier, covered, of in self.of_serves if earlier < before], dtype=float
        )
        if not len(counts):
            return math.nan, math.nan
        covered, of = counts.sum(axis=0)
        off = counts[:, 0] - covered / of * counts[:, 1]
        return float(covered / of), float(np.sqrt((off**2).sum()) / of)


@dataclass(frozen=True)
class ServeRates:
    """What came out of one condition: errors median and 90th percentile, shares held by 90 in 100 ranges.

    `coverage_error` is the standard error of `coverage`; `coverage_first` is of each coach's first ten
    serves alone.
    """

    condition: str
    serves: int
    refused: int
    marks: float
    speed_median: float
    speed_p90: float
    speed_bias: float
    front_median_m: float
    front_p90_m: float
    bounce_median_m: float
    bounce_p90_m: float
    second_median_m: float
    room_median_m: float
    coverage_speed: float
    coverage_front: float
    coverage_front_up: float
    coverage_bounce: float
    coverage_room: float
    coverage: float
    coverage_error: float
    coverage_first: float
    fit_ms: float

    @property
    def line(self) -> str:
        """One line of a table."""
        return (
            f"{self.condition}: {self.serves} serves ({self.refused} refused), {self.marks:.1f} marks; speed "
            f"{100 * self.speed_median:.1f} / {100 * self.speed_p90:.1f} % (bias "
            f"{100 * self.speed_bias:+.1f}), front wall "
            f"{100 * self.front_median_m:.1f} / {100 * self.front_p90_m:.1f} cm, first bounce "
            f"{100 * self.bounce_median_m:.0f} / {100 * self.bounce_p90_m:.0f} cm, second "
            f"{100 * self.second_median_m:.0f} cm, room {100 * self.room_median_m:.0f} cm; ranges hold "
            f"{100 * self.coverage:.1f} of 100, error {100 * self.coverage_error:.1f}, first serves "
            f"{100 * self.coverage_first:.0f} (speed {100 * self.coverage_speed:.0f}, front "
            f"{100 * self.coverage_front:.0f}, its height {100 * self.coverage_front_up:.0f}, bounce "
            f"{100 * self.coverage_bounce:.0f}, room "
            f"{100 * self.coverage_room:.0f}); {self.fit_ms:.0f} ms"
        )


def serve_rates(
    rng: np.random.Generator,
    condition: MarkingCondition = CONDITIONS[0],
    serves: int = 100,
    *,
    clicked_twice: int = 0,
) -> ServeRates:
    """Measure so many simulated serves and hold each against the truth.

    Each coach clicks the first serves a second time, until so many marks of the ball are `clicked_twice`.
    """
    tally = _Tally(twice=clicked_twice > 0)
    while tally.serves < serves:
        real = real_camera(rng, condition.camera)
        try:
            camera = calibrate_camera(real_clicks(rng, real, condition.camera), WIDTH, HEIGHT)
        except CalibrationError:
            continue
        serve = true_serve(rng, condition)
        if tally.serves % COACH_SERVES == 0:
            tally.doubled = 0
        click = marks_clicked_twice if tally.doubled < clicked_twice else marks_of
        marks = click(rng, serve, real, condition)
        if len(marks) < 2 or not any(mark.what is MarkKind.FRONT for mark in marks):
            continue
        if tally.serves % COACH_SERVES == 0:
            tally.coach.clear()
        tally.serves += 1
        tally.doubled += sum(mark.again is not None and mark.what is not MarkKind.FEET for mark in marks)
        tally.marks += len(marks)
        _one(tally, camera, serve, marks, PlayConditions(Ball(warmth=condition.warmth)))
    return _rates(condition, tally)


def serve_table(rng: np.random.Generator, serves: int = 100) -> tuple[ServeRates, ...]:
    """Return `serve_rates` of every condition, and of the harder ones where ten marks are clicked twice."""
    once = tuple(serve_rates(rng, condition, serves) for condition in CONDITIONS)
    return once + tuple(
        serve_rates(rng, condition, serves, clicked_twice=TWICE) for condition in (CONDITIONS[0], *HARDER)
    )


def _one(
    tally: _Tally,
    camera: CameraCalibration,
    serve: TrueServe,
    marks: list[ServeMark],
    setting: PlayConditions,
) -> None:
    began = time.perf_counter()
    try:
        found = measure_serve(camera, marks, serve.box, setting, level=LEVEL, others=tally.coach)
    except GoodlengthError:
        tally.refused += 1
        return
    tally.seconds.append(time.perf_counter() - began)
    _compare(tally, found, serve)
    tally.close()
    tally.coach.append(found.click_evidence)


def _compare(tally: _Tally, found: MeasuredServe, serve: TrueServe) -> None:
    speed = float(np.linalg.norm(serve.launch[3:6]))
    tally.note("speed", abs(found.speed_m_s.middle / speed - 1.0))
    tally.note("bias", found.speed_m_s.middle / speed - 1.0)
    tally.hold("speed", found.speed_m_s, speed)
    x, _, z = serve.places[0]
    tally.note("front", math.hypot(found.front_x_m.middle - x, found.front_z_m.middle - z))
    tally.hold("front", found.front_x_m, x)
    tally.hold("front", found.front_z_m, z)
    tally.hold("up", found.front_z_m, z)
    number, two = (serve.touch(what) for what in (MarkKind.FLOOR, MarkKind.SECOND))
    if number is not None and found.bounce_x_m and found.bounce_y_m:
        x, y, _ = serve.places[number]
        tally.note("bounce", math.hypot(found.bounce_x_m.middle - x, found.bounce_y_m.middle - y))
        tally.hold("bounce", found.bounce_x_m, x)
        tally.hold("bounce", found.bounce_y_m, y)
    if two is not None and found.second_x_m and found.second_y_m and found.room_m:
        x, y, _ = serve.places[two]
        gap = 9.75 - float(y)
        room = gap if at.BACK in serve.surfaces[:two] else -gap
        tally.note("second", math.hypot(found.second_x_m.middle - x, found.second_y_m.middle - y))
        tally.note("room", abs(found.room_m.middle - room))
        tally.hold("room", found.room_m, room)


def _rates(condition: MarkingCondition, tally: _Tally) -> ServeRates:
    error, share = tally.error, tally.share
    coverage, coverage_error = tally.coverage(COACH_SERVES)
    return ServeRates(
        condition=condition.name + (", ten marks clicked twice" if tally.twice else ""),
        serves=tally.serves,
        refused=tally.refused,
        marks=tally.marks / max(1, tally.serves),
        speed_median=error("speed", 0.5),
        speed_p90=error("speed", 0.9),
        speed_bias=error("bias", 0.5),
        front_median_m=error("front", 0.5),
        front_p90_m=error("front", 0.9),
        bounce_median_m=error("bounce", 0.5),
        bounce_p90_m=error("bounce", 0.9),
        second_median_m=error("second", 0.5),
        room_median_m=error("room", 0.5),
        coverage_speed=share("speed"),
        coverage_front=share("front"),
        coverage_front_up=share("up"),
        coverage_bounce=share("bounce"),
        coverage_room=share("room"),
        coverage=coverage,
        coverage_error=coverage_error,
        coverage_first=tally.coverage(FIRST_SERVES)[0],
        fit_ms=1000.0 * float(np.mean(tally.seconds)) if tally.seconds else math.nan,
    )
