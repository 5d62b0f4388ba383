"""Simulate one flight in detail: numbered contacts, verdict, volley, time, and how it ends.

`fly` takes any shot; `serve` adds what only a serve has.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.flight.batch_flight_simulation import fly_contacts, fly_summaries, free_path, launches_of
from goodlength.ball.flight.receiver_position_and_reach import BOXES, Receiver
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.ball_court_air_coefficients import Coefficients
from goodlength.ball.model.ball_court_room_conditions import PlayConditions
from goodlength.ball.model.constants_with_sources import CLEAR_HEIGHT_M
from goodlength.ball.model.input_validation import Floats, one_of
from goodlength.court import SINGLES, BallContact, CourtSurface, Verdict, serve_verdict

DIES_WITHIN_M = 0.6  # second bounce this near the back wall; source: BALL-NOTE 3, a choice

_SURFACES = (
    CourtSurface.FLOOR,
    CourtSurface.FRONT,
    CourtSurface.LEFT,
    CourtSurface.RIGHT,
    CourtSurface.BACK,
    CourtSurface.TIN,
)
_ENDS = (
    "second bounce",
    "more contacts than are followed",
    "still flying",
    "rolling",
    "rolled out of the nick",
)


@dataclass(frozen=True)
class Touch:
    """One contact: where the ball's centre stood, when, and its speed before and after.

    `also` is a second surface within two millimetres (a corner: the order may be the other way round);
    `nick_chance` the chance that the ball rolls out here, a guess without data.
    """

    surface: CourtSurface
    t_s: float
    x_m: float
    y_m: float
    z_m: float
    speed_m_s: float
    speed_after_m_s: float
    velocity_after_m_s: tuple[float, float, float]
    spin_after_rad_s: tuple[float, float, float]
    also: CourtSurface | None = None
    nick_chance: float = 0.0

    def on_surface(self) -> BallContact:
        """Return the point of the surface that was touched, as verdicts want it."""
        x, y, z = self.x_m, self.y_m, self.z_m
        if self.surface is CourtSurface.FLOOR:
            z = 0.0
        elif self.surface in (CourtSurface.FRONT, CourtSurface.TIN):
            y = 0.0
        elif self.surface is CourtSurface.BACK:
            y = SINGLES.length.value_m
        else:
            x = 0.0 if self.surface is CourtSurface.LEFT else SINGLES.width.value_m
        return BallContact(self.surface, x, y, z, self.also)


@dataclass(frozen=True)
class BallFlight:
    """A flight from strike to its last followed bounce."""

    launch: tuple[float, ...]  # x, y, z, vx, vy, vz, spin x, y, z
    coefficients: Coefficients = field(repr=False)
    contacts: tuple[Touch, ...]
    ended: str
    top_m: float
    other_order: BallFlight | None = field(default=None, repr=False)

    @property
    def speed_m_s(self) -> float:
        """Speed off the racket."""
        return math.hypot(*self.launch[3:6])

    @property
    def bounces(self) -> tuple[Touch, ...]:
        """Its contacts with the floor."""
        return tuple(t for t in self.contacts if t.surface is CourtSurface.FLOOR)

    @property
    def room_m(self) -> float | None:
        """Distance of the second bounce from the back wall: positive off it, negative short of it."""
        if len(self.bounces) < 2:
            return None
        second = self.bounces[1]
        gap = SINGLES.length.value_m - second.y_m
        before = self.contacts[: self.contacts.index(second)]
        return gap if any(t.surface is CourtSurface.BACK for t in before) else -gap

    @property
    def dies(self) -> bool:
        """Whether the second bounce is within `DIES_WITHIN_M` of the back wall, or the ball rolled out."""
        if self.ended == _ENDS[4]:
            return True
        return self.room_m is not None and abs(self.room_m) < DIES_WITHIN_M

    @property
    def near_ceiling(self) -> bool:
        """Whether it flies higher than the lowest lamp or beam may hang."""
        return self.top_m + self.coefficients.radius_m >= CLEAR_HEIGHT_M

    @property
    def nick_chance(self) -> float:
        """Chance that it rolls out of the nick on the way; a guess without data."""
        return 1.0 - math.prod(1.0 - t.nick_chance for t in self.contacts)

    def path(self, spacing_s: float = 0.02) -> Floats:
        """Return points along the flight for drawing, shape (n, 4): time, x, y, z; contacts included."""
        row, parts, start, t = self.coefficients.row(), [], np.array(self.launch), 0.0
        for touch in self.contacts:
            points = max(1, math.ceil((touch.t_s - t) / spacing_s))
            step = (touch.t_s - t) / points
            free = free_path(_clamp_inside(start, self.coefficients.radius_m), row, step, points)
            parts.append(np.column_stack([t + step * np.arange(points), free[:, :3]]))
            t = touch.t_s
            start = np.array(
                [touch.x_m, touch.y_m, touch.z_m, *touch.velocity_after_m_s, *touch.spin_after_rad_s]
            )
        last = self.contacts[-1:] and [[t, *start[:3]]]
        return np.vstack([*parts, np.array(last, dtype=float).reshape(-1, 4)])


def _clamp_inside(start: Floats, radius: float) -> Floats:
    """Rounding must not put a ball that touches a wall outside the court."""
    clamped = start.copy()
    clamped[:3] = np.clip(
        start[:3],
        0.02,
        [SINGLES.width.value_m - max(radius, 0.02), SINGLES.length.value_m - max(radius, 0.02), 20.0],
    )
    return clamped


@dataclass(frozen=True)
class Passing:
    """The ball as it first passes a line across the court: when, where, how high, bounced before or not."""

    y_m: float
    t_s: float
    x_m: float
    z_m: float
    bounced: bool
    in_reach: bool


@dataclass(frozen=True)
class ServeFlight:
    """A serve: its flight, the verdict, and what the receiver meets."""

    box: str
    flight: BallFlight
    verdict: Verdict
    receiver: Receiver
    passing: tuple[Passing, ...]  # at the receiver's three lines, those it passes

    @property
    def legal(self) -> bool:
        """Whether it is good if nobody volleys it."""
        return self.verdict.good

    @property
    def volleys(self) -> tuple[Passing, ...]:
        """Where the receiver could volley it, and how high."""
        return tuple(p for p in self.passing if p.in_reach)

    @property
    def at_receiver(self) -> Passing | None:
        """The ball level with the receiver; None if it never gets there."""
        return next((p for p in self.passing if p.y_m == self.receiver.y_m), None)

    @property
    def second_bounce_from_side_m(self) -> float | None:
        """Distance of the second bounce from the side wall on the receiver's side."""
        if len(self.flight.bounces) < 2:
            return None
        x = self.flight.bounces[1].x_m
        return x if self.box == "right" else SINGLES.width.value_m - x


def fly(
    launch: ArrayLike, how: PlayConditions | Coefficients | None = None, *, bounces: int = 2
) -> BallFlight:
    """Return the whole flight of one ball, whatever the shot and wherever it is struck.

    For thousands of serves use `fly_summaries`; for a serve with its verdict, `serve`.

    Parameters
    ----------
    launch : array_like, shape (6,) or (9,)
        Place, velocity and (optionally) spin of the ball's centre at the strike; court frame, SI.
    how : Setting or Coefficients, optional
        Ball, court and air; a warm match ball on plaster at sea level if left out.
    bounces : int
        Followed to this floor contact.

    Returns
    -------
    Flight
        `other_order` holds the flight with two surfaces taken the other way round, where they lie so
        close together that nobody can say which came first.

    Raises
    ------
    OutOfRange
        If the launch is not a number, not inside the court, or too fast to be.

    Limits
    ------
    The model of docs/reasons/ball.md; about half a metre (1 sd) until a court is calibrated.

    Examples
    --------
    >>> flight = fly([4.6, 5.6, 1.2, -5.5, -19.0, 5.0])
    >>> [str(t.surface) for t in flight.contacts]
    ['front-wall', 'floor', 'left-side-wall', 'floor']
    """
    coefficients = how if isinstance(how, Coefficients) else (how or PlayConditions()).coefficients()
    array = launches_of(launch)[:1]
    flight = _flown(array, coefficients, bounces, -1)
    corner = next((k for k, t in enumerate(flight.contacts) if t.also is not None), None)
    if corner is None:
        return flight
    other = _flown(array, coefficients, bounces, corner)
    return BallFlight(flight.launch, coefficients, flight.contacts, flight.ended, flight.top_m, other)


def _flown(array: Floats, coefficients: Coefficients, bounces: int, swap: int) -> BallFlight:
    found = fly_contacts(array, [coefficients.row()], bounces=bounces, swaps=[swap])
    touches = []
    for row in found.rows[0, : found.counts[0]]:
        near = int(row[at.CORNER])
        touches.append(
            Touch(
                surface=_SURFACES[int(row[at.SURFACE])],
                t_s=float(row[at.TIME]),
                x_m=float(row[at.X]),
                y_m=float(row[at.Y]),
                z_m=float(row[at.Z]),
                speed_m_s=float(np.linalg.norm(row[at.VX_IN : at.VZ_IN + 1])),
                speed_after_m_s=float(np.linalg.norm(row[at.VX : at.VZ + 1])),
                velocity_after_m_s=(float(row[at.VX]), float(row[at.VY]), float(row[at.VZ])),
                spin_after_rad_s=(float(row[at.WX]), float(row[at.WY]), float(row[at.WZ])),
                also=_SURFACES[near] if near >= 0 else None,
                nick_chance=float(row[at.NICK]),
            )
        )
    launch = tuple(float(x) for x in array[0])
    return BallFlight(
        launch, coefficients, tuple(touches), _ENDS[int(found.ended[0])], float(found.tops_m[0])
    )


def serve(
    box: str,
    launch: ArrayLike,
    how: PlayConditions | Coefficients | None = None,
    receiver: Receiver | None = None,
) -> ServeFlight:
    """Return one serve from strike to second bounce, with its verdict and what the receiver meets.

    Parameters
    ----------
    box : str
        "right" or "left": the box served from.
    launch, how
        As for `fly`.
    receiver : Receiver, optional
        Place and reach; the usual ones if left out.

    Returns
    -------
    Serve

    Raises
    ------
    InputError, OutOfRange
        If the box or launch cannot be.

    Examples
    --------
    >>> seen = serve("right", [4.6, 5.8, 0.8, -5.0, -15.5, 9.5], PlayConditions())
    >>> seen.legal, seen.flight.contacts[0].surface.value
    (True, 'front-wall')
    """
    one_of("box", box, BOXES)
    receiver = receiver or Receiver.usual(box)
    flight = fly(launch, how)
    seen = fly_summaries([list(flight.launch)], [flight.coefficients.row()], lines_m=receiver.lines_m).seen[0]
    passing = tuple(
        Passing(
            y, float(t), float(x), float(z), bool(b), not b and in_reach(receiver, box, float(x), float(z))
        )
        for y, (t, x, z, _, b) in zip(receiver.lines_m, seen, strict=True)
        if not math.isnan(t)
    )
    verdict = serve_verdict(box, [t.on_surface() for t in flight.contacts], tin_m=flight.coefficients.tin_m)
    return ServeFlight(box, flight, verdict, receiver, passing)


def in_reach(receiver: Receiver, box: str, x_m: float, z_m: float) -> bool:
    """Return whether a ball passing the receiver's line at (x, z) can be struck."""
    from_wall = x_m if box == "right" else SINGLES.width.value_m - x_m
    return (
        z_m <= receiver.reach_up_m
        and abs(x_m - receiver.x_m) <= receiver.reach_across_m
        and from_wall >= receiver.racket_room_m
    )
