"""Forward model of a serve: launch, time, ball, court and camera to predicted marks.

Unknowns are written in units of what is known beforehand: every one has middle 0 and spread 1.

```
 0-2 place of the strike   3-5 velocity   6-8 spin   9 moment   10-20 ball and court   21-32 camera
```
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.ball import PlayConditions, draw, fly_contacts
from goodlength.ball.flight.batch_flight_simulation import Contacts
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.constants_with_sources import FASTEST_M_S
from goodlength.court import CourtSurface
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera import CameraCalibration, CourtPoint
from goodlength.footage.camera.camera_model import UNKNOWNS as LENS_UNKNOWNS
from goodlength.measure.serves.serve_marks_and_strike_prior import (
    ASSUMED_BALL_PX,
    ASSUMED_FEET_PICTURES,
    ASSUMED_FEET_PX,
    ASSUMED_REACH_M,
    ASSUMED_SPIN_RAD_S,
    ASSUMED_VELOCITY_M_S,
    FOUND_PX,
    MarkKind,
    ServeMark,
    strike_region,
)

Floats = NDArray[np.float64]
PLACE, VELOCITY, SPIN, WHEN = slice(0, 3), slice(3, 6), slice(6, 9), 9
WORLD = slice(10, 21)
CAMERA = slice(21, 21 + LENS_UNKNOWNS)
UNKNOWNS = CAMERA.stop
SOUND_M_S = 343.0  # in air of 20 °C; source: SOUND-SPEED-20C
ONSET_SD_S = 0.0015  # how sharply an onset is timed, with the place of the microphone taken as the camera's
ASSUMED_WHEN_S = 0.25  # spread of the moment of the strike before it is known
ABOUT = 4.0  # times as unsure is a mark made where the ball seemed to be
FAR = 60.0  # residual of a touch that the flight does not make
_COLUMNS = (
    at.E7,
    at.SPEED_POWER,
    at.GRIP,
    at.ALPHA,
    at.DRAG_BY_REYNOLDS,
    at.LIFT,
    at.K_FLOOR,
    at.K_FRONT,
    at.K_LEFT,
    at.K_BACK,
    at.MU_FLOOR,
)
_BOUNDS = {at.E7: (0.05, 0.9), at.GRIP: (-0.3, 0.6), at.MU_FLOOR: (0.1, 2.0), at.ALPHA: (0.45, 0.6)}
_SURFACE = {
    MarkKind.FRONT: (at.FRONT, at.TIN_PLATE),
    MarkKind.LEFT: (at.LEFT,),
    MarkKind.RIGHT: (at.RIGHT,),
    MarkKind.BACK: (at.BACK,),
    MarkKind.FLOOR: (at.FLOOR,),
    MarkKind.SECOND: (at.FLOOR,),
}


@dataclass(frozen=True, eq=False)
class ServeWorld:
    """Ball and court: the middle set of coefficients, and how the drawn ones spread together."""

    row: Floats
    spread: Floats  # (11, 11): lower triangle; columns of `_COLUMNS`

    @classmethod
    def of(cls, setting: PlayConditions, rng: np.random.Generator, count: int = 600) -> ServeWorld:
        """From the setting, its calibration included."""
        samples = draw(setting, count, rng, spin_sd_rad_s=0.0).sets
        columns = list(_COLUMNS)
        row = setting.coefficients().row()
        covariance = np.cov(samples[:, columns], rowvar=False) + 1e-14 * np.eye(len(columns))
        row[columns] = samples[:, columns].mean(axis=0)
        return cls(row, np.asarray(np.linalg.cholesky(covariance)))

    def rows(self, unknowns: Floats) -> Floats:
        """Return sets of coefficients, shape (n, 25), for unknowns (n, 11)."""
        rows = np.repeat(self.row[None], len(unknowns), axis=0)
        rows[:, list(_COLUMNS)] += unknowns @ self.spread.T
        for column, (low, high) in _BOUNDS.items():
            rows[:, column] = np.clip(rows[:, column], low, high)
        rows[:, at.K_RIGHT] = rows[:, at.K_LEFT]
        for column in (at.MU_FRONT, at.MU_LEFT, at.MU_RIGHT, at.MU_BACK):
            rows[:, column] = self.row[column] * rows[:, at.MU_FLOOR] / self.row[at.MU_FLOOR]
        return rows


class ServeModel:
    """What a camera would see of a serve with given unknowns, beside what was marked.

    Parameters
    ----------
    camera : Camera
        Must know walls and heights, not the floor alone.
    marks : sequence of Mark
        Checked.
    box : str or None
        "right", "left", or None where nobody knows.
    world : World
    """

    def __init__(
        self, camera: CameraCalibration, marks: Sequence[ServeMark], box: str | None, world: ServeWorld
    ) -> None:
        self.camera, self.marks, self.world = camera, tuple(marks), world
        self.scale = max(0.35, min(camera.lens.width, camera.lens.height) / 1080.0)
        across, depth, high = strike_region(box)
        ways = (across, depth, high, *ASSUMED_VELOCITY_M_S)
        self.middle = np.zeros(10)
        self.spread = np.ones(10)
        self.middle[:6], self.spread[:6] = [m for m, _ in ways], [s for _, s in ways]
        self.spread[SPIN] = ASSUMED_SPIN_RAD_S
        self.middle[WHEN], self.spread[WHEN] = self._when()
        self.camera_spread = np.linalg.cholesky(camera.covariance.covariance + 1e-16 * np.eye(LENS_UNKNOWNS))
        self.feet = self._feet()

    def _when(self) -> tuple[float, float]:
        at_s = {mark.what: mark for mark in self.marks}
        known = at_s.get(MarkKind.STRIKE) or at_s.get(MarkKind.FEET)
        if known is not None:
            return known.at_s, ASSUMED_WHEN_S
        return at_s[MarkKind.FRONT].at_s - 0.35, ASSUMED_WHEN_S

    def _feet(self) -> tuple[Floats, Floats] | None:
        """Place of the feet and the inverse root of how far from it the ball may be struck."""
        mark = next((serve_mark for serve_mark in self.marks if serve_mark.what is MarkKind.FEET), None)
        if mark is None:
            return None
        place = self.camera.place(CourtSurface.FLOOR, mark.u, mark.v, ASSUMED_FEET_PX * self.scale)
        if not isinstance(place, CourtPoint):
            return None
        covariance = np.array(place.covariance_m2) + ASSUMED_REACH_M**2 * np.eye(2)
        return np.array([place.x_m, place.y_m]), np.linalg.inv(np.linalg.cholesky(covariance))

    def click_px(self, mark: ServeMark) -> float:
        """Return how far off a mark of the ball is clicked, one standard error each way."""
        return (FOUND_PX if mark.found else ASSUMED_BALL_PX) * self.scale * (ABOUT if mark.about else 1.0)

    # ---- from unknowns to flights

    def launches(self, unknowns: Floats) -> Floats:
        """Return launches, shape (n, 9), kept inside the court and no faster than a ball ever flew."""
        launch = self.middle[:9] + unknowns[:, :9] * self.spread[:9]
        launch[:, :3] = np.clip(launch[:, :3], 0.03, [WIDTH_M - 0.03, LENGTH_M - 0.03, 4.0])
        speed = np.linalg.norm(launch[:, 3:6], axis=1, keepdims=True)
        launch[:, 3:6] *= np.minimum(1.0, 0.98 * FASTEST_M_S / np.maximum(speed, 1e-9))
        launch[:, 6:9] = np.clip(launch[:, 6:9], -900.0, 900.0)
        return np.asarray(launch)

    def moments(self, unknowns: Floats) -> Floats:
        """Return when the ball is struck, shape (n,)."""
        return np.asarray(self.middle[WHEN] + unknowns[:, WHEN] * self.spread[WHEN])

    def fly(self, unknowns: Floats) -> tuple[Floats, Floats, Contacts]:
        """Return launches, coefficients and contacts."""
        launches, rows = self.launches(unknowns), self.world.rows(unknowns[:, WORLD])
        return launches, rows, fly_contacts(launches, rows, np.arange(len(rows)), threads=1)

    # ---- from flights to residuals

    def residuals(self, unknowns: Floats) -> Floats:
        """Return everything marked and known beforehand beside what follows, in standard errors, shape
        (n, m).
        """
        launches, rows, flown = self.fly(unknowns)
        when = self.moments(unknowns)
        parts: list[Floats] = []
        for mark in self.marks:
            if mark.what is MarkKind.FEET:
                continue
            place, moment, made = self._predicted(mark, launches, rows, flown, when)
            error = self.click_px(mark)
            off = (self._seen(place, unknowns[:, CAMERA]) - np.array([mark.u, mark.v])) / error
            off = np.where(np.isfinite(off), np.clip(off, -1e4, 1e4), FAR)
            parts.append(np.where(made[:, None], off, FAR))
            if mark.what is not MarkKind.BALL:
                late = (moment - mark.at_s) / self.time_s(mark)
                parts.append(np.where(made, np.clip(late, -1e4, 1e4), FAR)[:, None])
                if mark.onset_s is not None:
                    way = np.linalg.norm(place - self.camera.lens.place_m, axis=1)
                    off_s = (moment + way / SOUND_M_S - mark.onset_s) / ONSET_SD_S
                    parts.append(np.where(made, np.clip(off_s, -1e4, 1e4), FAR)[:, None])
        if self.feet is not None:
            middle, root = self.feet
            parts.append((launches[:, :2] - middle) @ root.T)
        feet = [serve_mark for serve_mark in self.marks if serve_mark.what is MarkKind.FEET]
        parts += [(when - serve_mark.at_s)[:, None] / self.time_s(serve_mark) for serve_mark in feet]
        return np.hstack([*parts, unknowns])

    @staticmethod
    def time_s(mark: ServeMark) -> float:
        """Return how far off its picture's time a touch is, evenly: as a normal error of the same spread."""
        pictures = ASSUMED_FEET_PICTURES if mark.what is MarkKind.FEET else 0.5
        return pictures * mark.frame_s / math.sqrt(3.0)

    def named(self) -> list[tuple[int, str]]:
        """Return, for each residual before the unknowns, the number of its mark and "place", "time" or
        "sound".
        """
        found: list[tuple[int, str]] = []
        for n, mark in enumerate(self.marks):
            if mark.what is MarkKind.FEET:
                continue
            found += [(n, "place"), (n, "place")]
            if mark.what is not MarkKind.BALL:
                found.append((n, "time"))
                if mark.onset_s is not None:
                    found.append((n, "sound"))
        if self.feet is not None:
            feet = next(n for n, serve_mark in enumerate(self.marks) if serve_mark.what is MarkKind.FEET)
            found += [(feet, "place"), (feet, "place")]
        feet_marks = [n for n, serve_mark in enumerate(self.marks) if serve_mark.what is MarkKind.FEET]
        return found + [(n, "time") for n in feet_marks]

    def clicked(self) -> NDArray[np.bool_]:
        """Return which residuals before the unknowns are of the ball clicked by hand."""
        found = [
            kind == "place" and self.marks[n].what is not MarkKind.FEET and not self.marks[n].found
            for n, kind in self.named()
        ]
        return np.array(found, dtype=bool)

    def _predicted(
        self, mark: ServeMark, launches: Floats, rows: Floats, flown: Contacts, when: Floats
    ) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return where the ball is at a mark (n, 3), when (n,), and whether the flight comes to that at
        all.
        """
        if mark.what is MarkKind.STRIKE:
            return launches[:, :3], when, np.ones(len(launches), bool)
        if mark.what is MarkKind.BALL:
            place, made = in_the_air(launches, rows, flown, mark.at_s - when)
            return place, np.full(len(launches), mark.at_s), made
        index, made = touch_index(flown, mark.what)
        row = flown.rows[np.arange(len(launches)), index]
        return row[:, [at.X, at.Y, at.Z]], when + row[:, at.TIME], made

    def _seen(self, places: Floats, camera: Floats) -> Floats:
        """Return picture points of places, the camera a little otherwise than solved; to first order."""
        uv, by_unknowns, _ = self.camera.lens.slopes(places)
        behind = (places - self.camera.lens.place_m) @ self.camera.lens.axes[2] < 0.05
        uv = uv + np.einsum("nij,nj->ni", by_unknowns, camera @ self.camera_spread.T)
        uv[behind] = np.nan
        return np.asarray(uv)


def touch_index(flown: Contacts, what: MarkKind) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Return which contact of each flight a mark means: the first with that surface (the second, of a
    bounce).
    """
    surfaces = flown.rows[:, :, at.SURFACE]
    there = np.arange(surfaces.shape[1])[None] < flown.counts[:, None]
    hit = np.isin(surfaces, _SURFACE[what]) & there
    wanted = 2 if what is MarkKind.SECOND else 1
    order = np.cumsum(hit, axis=1)
    right = hit & (order == wanted)
    return np.argmax(right, axis=1), right.any(axis=1)


def in_the_air(
    launches: Floats, rows: Floats, flown: Contacts, after_s: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return where the ball of each flight is some time after the strike, (n, 3), and whether it still
    flies.
    """
    from goodlength.ball.flight import disk_cached_flight_functions_kernel

    out, found = np.empty((2, 6)), np.empty((len(launches), 3))
    made = np.zeros(len(launches), bool)
    for k, launch in enumerate(launches):
        t = float(after_s[k])
        times = flown.rows[k, : flown.counts[k], at.TIME]
        past = int(np.searchsorted(times, t, side="right"))
        made[k] = t >= -0.02 and past < max(1, flown.counts[k])
        state, since = np.ascontiguousarray(launch), t
        if past > 0:
            row = flown.rows[k, past - 1]
            state = np.array([*row[at.X : at.Z + 1], *row[at.VX : at.WZ + 1]])
            since = t - float(row[at.TIME])
        if abs(since) > 3.0:
            found[k], made[k] = state[:3], False
            continue
        # Long stretches in two halves keep the error of a step far under a millimetre.
        steps = max(1, math.ceil(abs(since) / 0.25))
        out = np.empty((steps + 1, 6))
        disk_cached_flight_functions_kernel.fly_free(state, rows[k], since / steps, out)
        found[k] = out[-1, :3]
    return found, made
