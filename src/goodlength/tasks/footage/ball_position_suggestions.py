"""Suggest ball positions between the clicks of a serve; never stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from goodlength.errors import GoodlengthError
from goodlength.measure.serves.serve_marks_and_strike_prior import WORDS, MarkKind
from goodlength.measure.serves.serve_path_projection import serve_path
from goodlength.record.entry_value_types import MarkValue
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.serve_measurement import (
    TrialMeasurement,
    serve_to_measure,
    trial_measurement,
)

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

PATHS = 16  # flights that fit the clicks, to say how far off the expected place may be
BALL_M = 0.04
LEAST_RADIUS_PX, MOST_RADIUS_PX = 5.0, 60.0
LEAST_FOUND = 4  # fewer say nothing
MOST_MARKS = 8
NEAR_TOUCH_S = 0.03  # a picture so near a touch may show the ball before or after it
STRAY_PX = 2.5  # a spot so far from the even way of the others is something else; ASSUMED
WORSE = 1.05  # a range that grows beyond this share was not helped


@dataclass(frozen=True, eq=False)
class BallFound:
    """Marks of the ball offered besides the clicks, the serve with them, and in words how it went.

    `marks` is empty where too little was found, or what was found did not fit; `searched` pictures were
    looked at, in `seen` of them something stood out.
    """

    marks: tuple[MarkValue, ...]
    trial: TrialMeasurement
    searched: int
    seen: int
    words: str


def find_ball(
    opened: OpenMatch,
    rally_key: str,
    marks: Sequence[MarkValue],
    *,
    sound: bool = True,
    warmth: str = "",
) -> BallFound:
    """Look for the ball in the pictures between strike and last click.

    Raises
    ------
    InputError, CalibrationError, UnclearError, FootageError
        As `trial_measurement`, which the clicks must pass by themselves.
    """
    from goodlength.footage.vision.predicted_ball_search import search_ball

    before = trial_measurement(opened, rally_key, marks, sound=sound, warmth=warmth)
    seen = serve_to_measure(opened, rally_key)
    assert seen.footage_id is not None
    file = opened.file(seen.footage_id)
    table = camera_calibration.original_table(opened.library, file)
    wanted = _wanted(before, marks, np.asarray(table.starts_us), file)
    spots = _on_one_path(search_ball(file.path, wanted, table=table), wanted)
    if len(spots) < LEAST_FOUND:
        words = (
            f"The ball was visible in only {len(spots)} of {len(wanted)} frames between the marks: too few."
        )
        return BallFound((), before, len(wanted), len(spots), words)
    chosen = [spots[k] for k in np.unique(np.linspace(0, len(spots) - 1, MOST_MARKS).round().astype(int))]
    found = [MarkValue(what="ball", at_us=item.us, u=item.u, v=item.v, found=True) for item in chosen]
    after = _fitting(opened, rally_key, marks, found, sound=sound, warmth=warmth)
    if after is None or len(after[0]) < LEAST_FOUND:
        words = (
            f"Something was visible in {len(spots)} of {len(wanted)} frames, but it does not fit the marks."
        )
        return BallFound((), before, len(wanted), len(spots), words)
    fitting, trial = after
    if spread(trial) > WORSE * spread(before):
        words = f"The ball was found in {len(fitting)} frames, but the ranges did not become narrower."
        return BallFound((), before, len(wanted), len(spots), words)
    words = (
        f"The ball was found in {len(spots)} of {len(wanted)} frames; {len(fitting)} of them are marked now. "
        "Check each one, and remove any mark that is not on the ball."
    )
    return BallFound(tuple(fitting), trial, len(wanted), len(spots), words)


def _wanted(before: TrialMeasurement, marks: Sequence[MarkValue], starts: Any, file: Any) -> list[Any]:
    """Return where the ball is expected in each picture between strike and last click."""
    from goodlength.footage.vision.predicted_ball_search import SearchWindow

    found, lens = before.found, before.camera.lens
    struck = found.struck_at_s * 1e6
    last = max(mark.at_us for mark in marks)
    rows = np.flatnonzero((starts > struck) & (starts < last))
    paths = [serve_path(before.camera, found.launch, found.row)]
    picks = np.unique(np.linspace(0, len(found.launches) - 1, PATHS).round().astype(int))
    paths += [serve_path(before.camera, found.launches[k], found.rows[k]) for k in picks]
    touches = np.array([touch.t_s for touch in paths[0].touches])
    wide, high = camera_calibration.picture_size(file)
    out = []
    for row in rows:
        t = (float(starts[row]) - struck) / 1e6
        if len(touches) and np.abs(touches - t).min() < NEAR_TOUCH_S:
            continue
        places = np.array([[np.interp(t, p.points[:, 0], p.points[:, k]) for k in (1, 2, 3)] for p in paths])
        uv, there = lens.project(places)
        if not there.all():
            continue
        u, v = (float(x) for x in uv[0])
        if not (0 <= u < wide and 0 <= v < high):
            continue
        off = float(np.sqrt(((uv[1:] - uv[0]) ** 2).sum(axis=1).mean()))
        (side, _), _ = (x[0] for x in lens.project(places[:1] + np.array([BALL_M, 0.0, 0.0])))
        radius = float(np.clip(3.0 * off + LEAST_RADIUS_PX, LEAST_RADIUS_PX, MOST_RADIUS_PX))
        out.append(SearchWindow(int(starts[row]), u, v, radius, max(1.5, abs(float(side) - u))))
    return out


def _on_one_path(spots: list[Any], wanted: list[Any]) -> list[Any]:
    """Spots whose distance from the expected path changes evenly with time: the ball, not a shoe."""
    expected = {item.us: (item.u, item.v) for item in wanted}
    consistent = list(spots)
    while len(consistent) > LEAST_FOUND:
        t = np.array([item.us for item in consistent], float)
        t = (t - t.mean()) / max(float(np.ptp(t)), 1.0)
        off = np.array(
            [(item.u - expected[item.us][0], item.v - expected[item.us][1]) for item in consistent]
        )
        even = np.column_stack([np.ones_like(t), t, t * t])
        known, *_ = np.linalg.lstsq(even, off, rcond=None)
        apart = np.hypot(*(off - even @ known).T)
        if float(apart.max()) <= max(STRAY_PX, 4.0 * float(np.median(apart))):
            break
        del consistent[int(np.argmax(apart))]
    return consistent


def _fitting(
    opened: OpenMatch,
    rally_key: str,
    marks: Sequence[MarkValue],
    found: list[MarkValue],
    *,
    sound: bool,
    warmth: str,
) -> tuple[list[MarkValue], TrialMeasurement] | None:
    """Return the serve with the marks found, those that do not fit taken off one after the other."""
    fitting = list(found)
    while len(fitting) >= LEAST_FOUND:
        try:
            trial = trial_measurement(opened, rally_key, [*marks, *fitting], sound=sound, warmth=warmth)
        except GoodlengthError:
            return None
        worst = max(
            (mark for mark in trial.found.marks[len(marks) :]),
            key=lambda residual: residual.sigmas,
            default=None,
        )
        if worst is None or worst not in trial.found.doubted or worst.what != WORDS[MarkKind.BALL]:
            return fitting, trial
        at = next(n for n, residual in enumerate(trial.found.marks) if residual is worst) - len(marks)
        del fitting[at]
    return None


def spread(trial: TrialMeasurement) -> float:
    """Return how wide the range of the speed is."""
    interval = trial.found.speed_m_s
    return interval.high - interval.low
