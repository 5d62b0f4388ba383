"""Inverse problem: find the launches that pass wanted places, all of them or the nearest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.flight.batch_flight_simulation import Ints, Summaries, aim_at_spots, fly_summaries
from goodlength.ball.flight.batch_serve_legality import room_m, side_before_bounce
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.ball_court_air_coefficients import Coefficients
from goodlength.ball.model.ball_court_room_conditions import PlayConditions
from goodlength.ball.model.constants_with_sources import BALL_RADIUS_M
from goodlength.ball.model.input_validation import Floats, numbers, one_of, within
from goodlength.court import SINGLES
from goodlength.errors import InputError

MET_WITHIN_M = 1e-3
SPEEDS_M_S = (8.0, 45.0)  # searched when no speed is given: a soft lob to a hard drive
_GRID = (27, 33, 20)  # front wall across, front wall up, speeds
_FINE_GRID = (105, 93)  # where the speed is given
_MOST_CANDIDATES = 60


@dataclass(frozen=True)
class FlightConstraints:
    """Places a flight must pass; what is None is not asked. Ball's centre, metres, court frame.

    Parameters
    ----------
    front : (x, z)
        On the front wall.
    side : (wall, y, z)
        On the "left" or "right" wall, before the first bounce.
    first_bounce : (x, y)
        On the floor.
    second_bounce_room : float
        Distance of the second bounce from the back wall: positive off it, negative short of it. Less than
        a ball's radius means at the wall itself, in the nick or nearly: either side of it will do.
    """

    front: tuple[float, float] | None = None
    side: tuple[str, float, float] | None = None
    first_bounce: tuple[float, float] | None = None
    second_bounce_room: float | None = None

    def __post_init__(self) -> None:
        wide, long = SINGLES.width.value_m, SINGLES.length.value_m
        if self.front is not None:
            within(
                "wanted place across the front wall", self.front[0], 0.02, wide - 0.02, "m from the left wall"
            )
            within("wanted height on the front wall", self.front[1], 0.02, 6.0, "m")
        if self.side is not None:
            one_of("wanted side wall", self.side[0], ["left", "right"])
            within(
                "wanted place along the side wall", self.side[1], 0.02, long - 0.02, "m from the front wall"
            )
            within("wanted height on the side wall", self.side[2], 0.02, 6.0, "m")
        if self.first_bounce is not None:
            within(
                "wanted first bounce across", self.first_bounce[0], 0.02, wide - 0.02, "m from the left wall"
            )
            within("wanted first bounce", self.first_bounce[1], 0.02, long - 0.02, "m from the front wall")
        if self.second_bounce_room is not None:
            within("wanted room off the back wall", self.second_bounce_room, -long, long, "m")

    @property
    def conditions(self) -> int:
        """How many numbers are asked for."""
        pairs = sum(x is not None for x in (self.front, self.side, self.first_bounce))
        return 2 * pairs + (self.second_bounce_room is not None)

    @property
    def words(self) -> str:
        """What is wanted, in words."""
        parts = []
        if self.front is not None:
            parts.append(f"the front wall {self.front[0]:.2f} m from the left and {self.front[1]:.2f} m up")
        if self.side is not None:
            parts.append(f"the {self.side[0]} wall at {self.side[1]:.2f} m and {self.side[2]:.2f} m up")
        if self.first_bounce is not None:
            parts.append(f"a first bounce at {self.first_bounce[0]:.2f}, {self.first_bounce[1]:.2f} m")
        if self.second_bounce_room is not None:
            room = self.second_bounce_room
            if abs(room) < BALL_RADIUS_M.value:
                parts.append("a second bounce at the back wall")
                return ", ".join(parts)
            parts.append(
                f"a second bounce {abs(room):.2f} m {'off' if room >= 0 else 'short of'} the back wall"
            )
        return ", ".join(parts)


@dataclass(frozen=True)
class Way:
    """One launch: speed, spot on the front wall, lofted or not, and how far it misses what is wanted."""

    launch: tuple[float, ...]
    speed_m_s: float
    front_x_m: float
    front_z_m: float
    lofted: bool
    miss_m: float


@dataclass(frozen=True)
class Ways:
    """Every way found (slowest first), or none with the nearest; `words` says which, for the coach."""

    ways: tuple[Way, ...]
    nearest: Way | None
    words: str


def launches_through(
    start: ArrayLike,
    wanted: FlightConstraints,
    how: PlayConditions | Coefficients | None = None,
    speed_m_s: float | None = None,
) -> Ways:
    """Return all launches from a place that pass the places wanted.

    For the spot on the front wall alone, `aim_at_spots` does thousands; this one searches.

    Parameters
    ----------
    start : array_like, shape (3,) or (6,)
        Place of the strike, with spin if there is any.
    wanted : Wanted
        As many numbers as are free: two with a speed given, three without.
    speed_m_s : float, optional
        Speed off the racket; searched from 8 to 45 m/s if left out.

    Returns
    -------
    Ways

    Raises
    ------
    InputError
        If so little is asked that endless launches would do.

    Limits
    ------
    Searched from a grid of 10 000 spots (18 000 spots and speeds where the speed is free), so of two ways
    within a few centimetres of each other on the front wall one may be missed.

    Examples
    --------
    >>> found = launches_through([4.6, 5.6, 1.2], FlightConstraints(side=("left", 6.8, 1.6)), speed_m_s=20.0)
    >>> [round(way.front_z_m, 1) for way in found.ways]
    [3.4]
    """
    place = np.asarray(start, dtype=object).reshape(-1)
    six = numbers("place of the strike", [*place, *([0.0] * (6 - len(place)))], 6)[0]
    if speed_m_s is not None:
        within("speed off the racket", speed_m_s, 1.0, 80.0, "m/s")
    free = 3 - (speed_m_s is not None)
    if wanted.conditions < free:
        raise InputError(
            f"Many different shots would fit: {free} numbers are free and {wanted.conditions} asked "
            "for. Give a "
            "speed, or one more place the ball should pass."
        )
    coefficients = how if isinstance(how, Coefficients) else (how or PlayConditions()).coefficients()
    search = _Search(six, wanted, coefficients, speed_m_s)
    found = [way for lofted in (False, True) for way in search.ways(lofted)]
    if not found and wanted.front is not None and speed_m_s is not None:
        return _too_slow(search, wanted, speed_m_s)
    return _ways_result(found, wanted, speed_m_s)


def _too_slow(search: _Search, wanted: FlightConstraints, speed_m_s: float) -> Ways:
    """Return the spot is out of reach at that speed: the least speed that gets there, if any does."""
    speeds = np.arange(speed_m_s, 45.0, 0.05)
    assert wanted.front is not None
    q = np.column_stack(
        [np.full(len(speeds), wanted.front[0]), np.full(len(speeds), wanted.front[1]), speeds]
    )
    launches, miss, _ = search.fly(q, lofted=False)
    there = np.flatnonzero(miss < 1e-4)
    if not there.size:
        return Ways((), None, f"No shot from there reaches {wanted.words} at any speed. Try another place.")
    k = int(there[0])
    way = Way(tuple(map(float, launches[k])), float(speeds[k]), *wanted.front, False, 0.0)
    return Ways(
        (),
        way,
        f"At {speed_m_s:g} m/s no ball struck there comes to {wanted.words}: it takes at least "
        f"{speeds[k]:.1f} m/s.",
    )


def _ways_result(found: list[Way], wanted: FlightConstraints, speed_m_s: float | None) -> Ways:
    """Return the ways that meet what is wanted, without doubles, or the nearest and a sentence."""
    met: list[Way] = []
    for way in sorted(found, key=lambda w: w.miss_m):
        if way.miss_m <= MET_WITHIN_M and all(math.dist(way.launch, m.launch) > 0.05 for m in met):
            met.append(way)
    met.sort(key=lambda w: w.speed_m_s)
    pace = f" at {speed_m_s:g} m/s" if speed_m_s is not None else " from 8 to 45 m/s"
    nearest = min(found, key=lambda w: w.miss_m, default=None)
    if met:
        many = "One shot" if len(met) == 1 else f"{len(met)} shots"
        return Ways(tuple(met), nearest, f"{many}{pace}: {wanted.words}.")
    if nearest is None:
        return Ways((), None, f"No shot from there{pace} reaches {wanted.words}. Try another speed or place.")
    return Ways(
        (),
        nearest,
        f"No shot from there{pace} reaches {wanted.words}. The nearest misses by {nearest.miss_m:.2f} m, "
        f"hit at {nearest.speed_m_s:.1f} m/s at the front wall {nearest.front_x_m:.2f} m from the left "
        f"and {nearest.front_z_m:.2f} m up.",
    )


class _Search:
    """A grid of starts, then Newton's method from each low place of it."""

    def __init__(
        self, start: Floats, wanted: FlightConstraints, c: Coefficients, speed: float | None
    ) -> None:
        self.start, self.wanted, self.row = start, wanted, c.row()
        wide = SINGLES.width.value_m
        spots = wanted.front
        across, up = _GRID[:2] if speed is None else _FINE_GRID
        self.axes = [
            np.array([spots[0]]) if spots else np.linspace(0.1, wide - 0.1, across),
            np.array([spots[1]]) if spots else np.linspace(0.1, 5.2, up),
            np.array([speed]) if speed is not None else np.linspace(*SPEEDS_M_S, _GRID[2]),
        ]
        self.free = [k for k in range(3) if len(self.axes[k]) > 1]

    def ways(self, lofted: bool) -> list[Way]:
        """Candidates of one branch, polished."""
        grid = np.array(list(product(*self.axes)))
        _, _, off = self.fly(grid, lofted)
        size = np.linalg.norm(off, axis=1).reshape([len(a) for a in self.axes])
        q = grid[_low_places(size)[:_MOST_CANDIDATES]]
        if len(q) == 0:
            return []
        q = self.polished(q, lofted) if self.free else q
        launches, miss, off = self.fly(q, lofted)
        left = np.linalg.norm(off, axis=1)
        return [
            Way(
                tuple(map(float, launches[k])),
                float(q[k, 2]),
                float(q[k, 0]),
                float(q[k, 1]),
                lofted,
                float(left[k]),
            )
            for k in range(len(q))
            if np.isfinite(left[k]) and miss[k] < 1e-4
        ]

    def fly(self, q: Floats, lofted: bool) -> tuple[Floats, Floats, Floats]:
        """Return launches to spots q[:, :2] at speeds q[:, 2], what is left of the aim, and what they
        miss.
        """
        starts = np.tile(self.start, (len(q), 1))
        launches, miss = aim_at_spots(starts, q[:, 2], q[:, :2], [self.row], high=lofted)
        safe = np.where(
            (miss < 1e-4)[:, None], launches, launches * 0 + np.array([3, 5, 1, 0, -9, 1, 0, 0, 0])
        )
        off = self.missed(fly_summaries(safe, [self.row], checked=True))
        off[miss >= 1e-4] = np.inf
        return launches, miss, off

    def missed(self, flown: Summaries) -> Floats:
        """Differences from what is wanted, shape (n, conditions that the spot does not settle)."""
        rows, columns = flown.rows, []
        if self.wanted.side is not None:
            wall, y, z = self.wanted.side
            other = side_before_bounce(flown) != (at.LEFT if wall == "left" else at.RIGHT)
            columns += [
                np.where(other, np.inf, rows[:, at.SIDE_Y] - y),
                np.where(other, np.inf, rows[:, at.SIDE_Z] - z),
            ]
        if self.wanted.first_bounce is not None:
            x, y = self.wanted.first_bounce
            columns += [rows[:, at.ONE_X] - x, rows[:, at.ONE_Y] - y]
        if self.wanted.second_bounce_room is not None:
            columns.append(self.room_missed(room_m(flown), self.wanted.second_bounce_room))
        if not columns:
            columns = [np.zeros(len(rows))]
        off: Floats = np.column_stack(columns)
        off[~np.isfinite(off)] = np.inf
        return off

    def room_missed(self, room: Floats, wanted: float) -> Floats:
        """Return difference of room; at the back wall itself the ball's middle cannot be, so one radius is
        met.
        """
        radius = float(self.row[at.RADIUS])
        if abs(wanted) >= radius:
            return room - wanted
        off: Floats = np.sign(room) * np.maximum(np.abs(room) - radius, 0.0)
        return off

    def polished(self, q: Floats, lofted: bool) -> Floats:
        """Gauss-Newton from each row; a step that makes it worse is halved."""
        low = np.array([a[0] for a in self.axes])
        high = np.array([a[-1] for a in self.axes])
        best = np.linalg.norm(self.fly(q, lofted)[2], axis=1)
        scale = np.ones(len(q))
        for _ in range(25):
            move = self.newton(q, lofted)
            trial = np.clip(q + scale[:, None] * move, low, high)
            size = np.linalg.norm(self.fly(trial, lofted)[2], axis=1)
            better = size < best
            q, best = np.where(better[:, None], trial, q), np.where(better, size, best)
            scale = np.where(better, np.minimum(1.0, 2.0 * scale), 0.4 * scale)
            if (best < 1e-7).all() or (scale < 1e-4).all():
                break
        return q

    def newton(self, q: Floats, lofted: bool) -> Floats:
        """Return the step each row would take, by differences of 0.1 mm and 0.1 mm/s."""
        here = self.fly(q, lofted)[2]
        slopes = np.zeros((len(q), here.shape[1], len(self.free)))
        for j, k in enumerate(self.free):
            near = q.copy()
            near[:, k] += 1e-4
            slopes[:, :, j] = (self.fly(near, lofted)[2] - here) / 1e-4
        move = np.zeros_like(q)
        for i in range(len(q)):
            if np.isfinite(here[i]).all() and np.isfinite(slopes[i]).all():
                move[i, self.free] = -np.linalg.lstsq(slopes[i], here[i], rcond=1e-8)[0]
        return np.clip(move, [-0.4, -0.4, -3.0], [0.4, 0.4, 3.0])


def _low_places(size: Floats) -> Ints:
    """Return places of the grid no higher than their neighbours, lowest first."""
    padded = np.pad(size, 1, constant_values=np.inf)
    low = np.isfinite(size)
    for shift in product((-1, 0, 1), repeat=size.ndim):
        window = tuple(slice(1 + s, 1 + s + n) for s, n in zip(shift, size.shape, strict=True))
        low &= size <= padded[window]
    places = np.flatnonzero(low.ravel())
    return np.array(places[np.argsort(size.ravel()[places], kind="stable")], dtype=np.int64)
