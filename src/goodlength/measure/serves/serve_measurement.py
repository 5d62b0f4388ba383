"""Measurement of a serve: speed, front-wall contact, bounce and where it dies, each with its interval.

Marks on a few pictures, the solved camera and the flight of the ball are put together by least squares in
which everything that is only roughly known (spin, bounce, drag, the camera itself) is left free within what
is known of it. Ranges come from flights drawn from what remains open.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from goodlength.ball import PlayConditions, fly_summaries
from goodlength.ball.flight.batch_serve_legality import legal
from goodlength.ball.flight.single_flight_simulation import DIES_WITHIN_M
from goodlength.ball.model import flight_array_indices as at
from goodlength.court import SINGLES
from goodlength.errors import CalibrationError, UnclearError
from goodlength.footage.camera import CameraCalibration
from goodlength.measure.serves.click_error_estimation import (
    ClickEvidence,
    joined_evidence,
    repeated_click_evidence,
)
from goodlength.measure.serves.serve_fit import PosteriorMode, fit
from goodlength.measure.serves.serve_forward_model import Floats, ServeModel, ServeWorld
from goodlength.measure.serves.serve_laplace_posterior import sample_posterior
from goodlength.measure.serves.serve_marks_and_strike_prior import WORDS, ServeMark, check_marks

SAMPLES = 500
LEVEL = 0.95
PATHS = 24
WRONG = 3.5  # a mark so many standard errors off is named
HOPELESS = 60.0  # mean squared residual of the marks from which on nothing is told
OFTEN = 0.5  # what happens in fewer of the drawn flights is not given a place


@dataclass(frozen=True)
class Interval:
    """A measured value: the middle one, and the range that holds `LEVEL` of what is possible."""

    middle: float
    low: float
    high: float

    @classmethod
    def of(cls, values: Floats, level: float = LEVEL) -> Interval:
        """Of drawn values."""
        low, middle, high = np.quantile(values, [(1 - level) / 2, 0.5, (1 + level) / 2])
        return cls(float(middle), float(low), float(high))


@dataclass(frozen=True)
class MarkResidual:
    """How far a mark lies from the fitted path: px in the picture, s in time, and in standard errors."""

    what: str
    px: float
    late_s: float | None
    sigmas: float

    @property
    def words(self) -> str:
        """What to tell the coach of a mark that does not fit."""
        return (
            f"“{self.what}” does not fit the other marks"
            + ("" if self.late_s is None else f" ({1000 * abs(self.late_s):.0f} ms off)")
            + ". Check it."
        )


@dataclass(frozen=True, eq=False)
class MeasuredServe:
    """What marks on a recording say of one serve.

    `of_100` gives, of a hundred flights that fit the marks, how many are good if left, touch the side wall
    before they bounce, and die at the back wall. Places that seldom happen are None. `click_evidence` is what
    the marks tell of the click error, for the coach's other serves.
    """

    speed_m_s: Interval
    up_deg: Interval
    struck_m: tuple[Interval, Interval, Interval]
    front_x_m: Interval
    front_z_m: Interval
    to_front_s: Interval
    side: Literal["right", "left"] | None
    side_y_m: Interval | None
    side_z_m: Interval | None
    bounce_x_m: Interval | None
    bounce_y_m: Interval | None
    second_x_m: Interval | None
    second_y_m: Interval | None
    room_m: Interval | None
    of_100: dict[str, int]
    marks: tuple[MarkResidual, ...]
    rivals: int
    click_evidence: ClickEvidence
    struck_at_s: float
    launch: Floats = field(repr=False)
    row: Floats = field(repr=False)
    launches: Floats = field(repr=False)
    rows: Floats = field(repr=False)

    @property
    def doubted(self) -> tuple[MarkResidual, ...]:
        """Marks that the rest contradicts."""
        return tuple(mark for mark in self.marks if mark.sigmas > WRONG)


def measure_serve(
    camera: CameraCalibration,
    marks: Sequence[ServeMark],
    box: str | None,
    setting: PlayConditions | None = None,
    rng: np.random.Generator | None = None,
    *,
    level: float = LEVEL,
    others: Sequence[ClickEvidence] = (),
) -> MeasuredServe:
    """Measure one serve from marks on pictures of a calibrated recording.

    Parameters
    ----------
    camera : Camera
        Solved with marks above the floor.
    marks : sequence of Mark
        At least three, the front wall among them.
    box : str or None
        The box served from, "right" or "left"; None if not known.
    setting : Setting, optional
        Ball, court and room, with the calibration where there is one.
    rng : numpy.random.Generator, optional
        Draws; always the same ones if left out, so that the same marks give the same answer.
    level : float
        Share of what is possible that each range holds.
    others : sequence of ClickEvidence
        What serves that the same coach measured on the same screen tell of the click error.

    Raises
    ------
    InputError
        Too few marks, or in an order that no serve has.
    CalibrationError
        The camera knows only the floor.
    UnclearError
        No flight comes near the marks, or most that do miss the front wall.

    Limits
    ------
    One wall at a time; no racket but the server's; held against simulated serves only, see
    docs/reasons/measured-serve.md.
    """
    if camera.floor_only:
        raise CalibrationError(
            "This camera knows only the floor, and a serve flies above it. Mark the ends of the front wall's "
            "lines on the Camera page first."
        )
    if camera.front_only:
        raise CalibrationError(
            "This camera knows only the front wall, and contact and bounces are before it. Mark at "
            "least four points on the floor on the Camera page first."
        )
    check_marks(marks, camera.lens.width, camera.lens.height)
    chance = np.random.default_rng(5) if rng is None else rng
    model = ServeModel(camera, marks, box, ServeWorld.of(setting or PlayConditions(), chance))
    modes = fit(model, chance)
    offs = _mark_residuals(model, modes[0])
    mean = float(np.mean([min(off.sigmas, 50.0) ** 2 for off in offs]))
    if mean > HOPELESS:
        worst = max(offs, key=lambda residual: residual.sigmas)
        raise UnclearError(
            f"No serve flies through these marks; “{worst.what}” is furthest off. Check the frame and "
            "surface of each mark, and whether the camera belongs to this video."
        )
    again = repeated_click_evidence(marks, model.scale)
    known = others if again is None else (*others, again)
    samples, click_evidence = sample_posterior(model, modes, SAMPLES, chance, known)
    found = _measurement(model, modes, samples, box, offs, level, joined_evidence(click_evidence, again))
    if not math.isfinite(found.front_x_m.middle):
        raise UnclearError(
            "Most flights that fit these marks miss the front wall, so the serve cannot be measured. Check "
            "the mark on the front wall, its frame, and whether the camera belongs to this video."
        )
    return found


@dataclass(frozen=True)
class FlightRanges:
    """Ranges of what flights do; fields as those of `MeasuredServe`."""

    speed_m_s: Interval
    up_deg: Interval
    struck_m: tuple[Interval, Interval, Interval]
    front_x_m: Interval
    front_z_m: Interval
    to_front_s: Interval
    side: Literal["right", "left"] | None
    side_y_m: Interval | None
    side_z_m: Interval | None
    bounce_x_m: Interval | None
    bounce_y_m: Interval | None
    second_x_m: Interval | None
    second_y_m: Interval | None
    room_m: Interval | None
    of_100: dict[str, int]


def flight_ranges(
    launches: Floats,
    rows: Floats,
    box: str | None,
    level: float,
    errors: Mapping[str, float] | None = None,
    rng: np.random.Generator | None = None,
) -> FlightRanges:
    """Return the ranges of what drawn flights do, each of `level` of them.

    Parameters
    ----------
    launches : ndarray, shape (n, 9)
    rows : ndarray, shape (n, 25)
        Coefficients of each.
    box : str or None
        As for `measure_serve`.
    errors : mapping, optional
        Standard error, by the name of a field, that is drawn and added to each flight's value: what the
        flights leave out. Of the speed it is a share. Needs `rng`.
    """
    extra = errors or {}

    def noisy(name: str, values: Floats) -> Floats:
        if name not in extra or rng is None:
            return values
        return np.asarray(values + rng.normal(0.0, extra[name], len(values)))

    def given(name: str, values: Floats) -> Interval | None:
        """Return the range of what happens, where it happens often enough."""
        there = np.isfinite(values)
        return Interval.of(noisy(name, values[there]), level) if float(there.mean()) >= OFTEN else None

    nothing = Interval(math.nan, math.nan, math.nan)
    flown = fly_summaries(launches, rows, np.arange(len(rows)), threads=1)
    row = flown.rows
    speed = np.linalg.norm(launches[:, 3:6], axis=1)
    up = np.degrees(np.arctan2(launches[:, 5], np.hypot(launches[:, 3], launches[:, 4])))
    room = _room(row)
    side = np.isfinite(row[:, at.SIDE_T])
    of_100 = {"side_wall_first": round(100 * float(side.mean()))}
    of_100["dies"] = round(100 * float((np.abs(np.nan_to_num(room, nan=9.0)) < DIES_WITHIN_M).mean()))
    if box is not None:
        of_100["good"] = round(100 * float(legal(box, flown).mean()))
    x, y, z = (Interval.of(noisy("struck_m", launches[:, k]), level) for k in range(3))
    often = float(side.mean()) >= OFTEN
    return FlightRanges(
        speed_m_s=Interval.of(speed * np.exp(noisy("speed_m_s", np.zeros(len(speed)))), level),
        up_deg=Interval.of(up, level),
        struck_m=(x, y, z),
        front_x_m=given("front_x_m", row[:, at.FRONT_X]) or nothing,
        front_z_m=given("front_z_m", row[:, at.FRONT_Z]) or nothing,
        to_front_s=given("to_front_s", row[:, at.FRONT_T]) or nothing,
        side=_side(launches, row) if often else None,
        side_y_m=given("side_y_m", row[:, at.SIDE_Y]),
        side_z_m=given("side_z_m", row[:, at.SIDE_Z]),
        bounce_x_m=given("bounce_x_m", row[:, at.ONE_X]),
        bounce_y_m=given("bounce_y_m", row[:, at.ONE_Y]),
        second_x_m=given("second_x_m", row[:, at.TWO_X]),
        second_y_m=given("second_y_m", row[:, at.TWO_Y]),
        room_m=given("room_m", room),
        of_100=of_100,
    )


def _measurement(
    model: ServeModel,
    modes: list[PosteriorMode],
    samples: Floats,
    box: str | None,
    offs: tuple[MarkResidual, ...],
    level: float,
    click_evidence: ClickEvidence,
) -> MeasuredServe:
    launches, rows = model.launches(samples), model.world.rows(samples[:, 10:21])
    ranges = flight_ranges(launches, rows, box, level)
    here = modes[0].unknowns[None]
    return MeasuredServe(
        **{each.name: getattr(ranges, each.name) for each in fields(ranges)},
        marks=offs,
        rivals=len(modes) - 1,
        click_evidence=click_evidence,
        struck_at_s=float(model.moments(here)[0]),
        launch=model.launches(here)[0],
        row=model.world.rows(here[:, 10:21])[0],
        launches=launches[:PATHS],
        rows=rows[:PATHS],
    )


def _room(row: Floats) -> Floats:
    """Return distance of the second bounce from the back wall: positive off it, negative short of it."""
    gap = SINGLES.length.value_m - row[:, at.TWO_Y]
    off: NDArray[np.bool_] = row[:, at.BACK_T] < row[:, at.TWO_T]
    return np.asarray(np.where(off, gap, -gap))


def _side(launches: Floats, row: Floats) -> Literal["right", "left"]:
    """Return which side wall it touches first: the one its way across leads to."""
    touched = np.isfinite(row[:, at.SIDE_T])
    return "left" if float(np.median(row[touched, at.FRONT_X] - launches[touched, 0])) < 0.0 else "right"


def _mark_residuals(model: ServeModel, mode: PosteriorMode) -> tuple[MarkResidual, ...]:
    """Return how far each mark lies from the best path."""
    named = model.named()
    values = mode.residuals[: len(named)]
    found = []
    for n, mark in enumerate(model.marks):
        mine = [(kind, float(value)) for (k, kind), value in zip(named, values, strict=True) if k == n]
        if not mine:
            continue
        place = math.hypot(*(value for kind, value in mine if kind == "place"))
        times = [value for kind, value in mine if kind == "time"]
        error = model.click_px(mark)
        sigmas = max(place / math.sqrt(2.0), *(abs(value) for kind, value in mine if kind != "place"), 0.0)
        late = times[0] * model.time_s(mark) if times else None
        found.append(MarkResidual(WORDS[mark.what], place * error, late, sigmas))
    return tuple(found)
