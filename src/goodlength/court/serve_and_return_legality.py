"""Decide whether a serve or a return is good, by where and in what order the ball touched the court.

A touch is taken as a point: where the ball's centre stood, moved to the surface. A real ball flattens,
and a mark may be 5 mm off, so a measured touch needs a margin: with `margin_m` a touch nearer to a
deciding edge than that is "too close to call". `VIDEO_MARGIN_M` (25 mm) is ours, from the ball's
radius of 20 mm and a mark's 5 mm.

Every line is out, down or a fault when it is touched.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from goodlength.court.dimensions import (
    BACK_OUT_M,
    FRONT_OUT_M,
    LENGTH_M,
    SERVICE_LINE_M,
    SERVICE_LINE_TOP_M,
    TIN_M,
    WIDTH_M,
    side_wall_line_m,
)
from goodlength.court.floor_zones import MARKED
from goodlength.errors import InputError

VIDEO_MARGIN_M = 0.025
_TOUCH_M = 1e-9


class CourtSurface(StrEnum):
    """What a ball can touch; left and right as the player facing the front wall sees them."""

    FRONT = "front-wall"
    TIN = "tin"
    LEFT = "left-side-wall"
    RIGHT = "right-side-wall"
    BACK = "back-wall"
    FLOOR = "floor"
    ABOVE = "above"  # lamp, rail, ceiling, the top of a wall


@dataclass(frozen=True)
class BallContact:
    """One touch: the surface and the point of it, m; `also` is a second surface touched at once."""

    surface: CourtSurface
    x_m: float
    y_m: float
    z_m: float
    also: CourtSurface | None = None


class Result(StrEnum):
    """What a serve or a return was."""

    GOOD = "good"
    FAULT = "fault"
    OUT = "out"
    DOWN = "down"
    NOT_UP = "not-up"
    NO_SERVE = "no-serve"  # dropped, and no attempt to strike it: start again
    UNCLEAR = "unclear"


@dataclass(frozen=True)
class Verdict:
    """The result, why, at which contact, and how near the nearest deciding edge was (m)."""

    result: Result
    why: str
    contact: int | None = None
    clearance_m: float | None = None

    @property
    def good(self) -> bool:
        """Whether play goes on."""
        return self.result is Result.GOOD


@dataclass(frozen=True)
class Delivery:
    """How the ball was put in play.

    `feet` holds, for each foot on the floor at the strike, the points of it that touch the floor
    (x, y in metres); None when nobody looked. `swings` counts attempts; `touched` is whether the ball
    touched anything between the hand and the strike.
    """

    feet: tuple[tuple[tuple[float, float], ...], ...] | None = None
    swings: int = 1
    struck: bool = True
    touched: bool = False


@dataclass
class _Edges:
    """Clearances met on the way; the first that is surely lost decides, a near one makes it unclear."""

    margin_m: float
    least_m: float | None = None
    near: Verdict | None = None
    lost: Verdict | None = None

    def need(self, clearance: float, result: Result, why: str, contact: int) -> None:
        """The ball had to clear an edge by more than zero."""
        if self.lost is not None:
            return
        if math.isnan(clearance):
            self.near = self.near or Verdict(Result.UNCLEAR, f"not measured: {why}", contact)
            return
        if self.least_m is None or clearance < self.least_m:
            self.least_m = clearance
        if self.margin_m > 0.0 and abs(clearance) < self.margin_m:
            words = f"too close to call, {abs(clearance) * 1000:.0f} mm from the edge: {why}"
            self.near = self.near or Verdict(Result.UNCLEAR, words, contact, clearance)
        elif clearance <= _TOUCH_M:
            self.lost = Verdict(result, why, contact, clearance)

    def fail(self, result: Result, why: str, contact: int | None) -> None:
        """Lost whatever the figures are."""
        self.lost = self.lost or Verdict(result, why, contact)

    def verdict(self, good: str) -> Verdict:
        """Lost, too close, or good."""
        return self.lost or self.near or Verdict(Result.GOOD, good, None, self.least_m)


def serve_verdict(
    box: str,
    contacts: Sequence[BallContact],
    *,
    delivery: Delivery | None = None,
    volleyed: bool = False,
    margin_m: float = 0.0,
    tin_m: float = TIN_M["standard"],
) -> Verdict:
    """Return whether a serve is good, a fault, out, or too close to call, and why.

    Parameters
    ----------
    box : str
        "right" or "left": the box served from.
    contacts : sequence of Contact
        What the ball touched after the strike, in order, at least to the first bounce.
    delivery : Delivery, optional
        Foot, drop and swing, where they were seen; without it they are taken as correct.
    volleyed : bool
        The receiver took the ball before it bounced, so where it would have landed does not matter.
    margin_m : float
        Touches nearer than this to a deciding edge are unclear; `VIDEO_MARGIN_M` for measured ones.
    tin_m : float
        Top of the tin, m.

    Returns
    -------
    Verdict
        good, fault, out, unclear, or no-serve when the ball was dropped without a swing.

    Raises
    ------
    InputError
        If the box is neither right nor left.

    Source
    ------
    RULES-2014, rules 5.7 to 5.9; edges: COURT-2014 appendix 7.1. Whether a fault or out, the receiver
    wins the rally.

    Examples
    --------
    >>> front = BallContact(CourtSurface.FRONT, 3.1, 0.0, 3.9)
    >>> serve_verdict("right", [front, BallContact(CourtSurface.FLOOR, 1.5, 7.0, 0.0)]).result.value
    'good'
    >>> serve_verdict("right", [front, BallContact(CourtSurface.FLOOR, 3.175, 8.0, 0.0)]).why
    'the first bounce touched the half-court line or was beyond it'
    """
    if box not in ("right", "left"):
        raise InputError(f"A serve comes from the 'right' or the 'left' box; got {box!r}. Say one of them.")
    edges = _Edges(margin_m)
    if delivery is not None:
        early = _delivered(box, delivery, edges)
        if early is not None:
            return early
    if not contacts:
        return edges.lost or Verdict(Result.UNCLEAR, "nothing was seen of the ball after the strike")
    _serve_front(contacts[0], edges, tin_m)
    if edges.lost is not None:
        return edges.lost
    bounced = _after_front(box, contacts, edges, volleyed)
    if not bounced and not volleyed and edges.lost is None:
        return Verdict(Result.UNCLEAR, "the first bounce was not seen")
    return edges.verdict("good, volleyed" if volleyed else "good")


def return_verdict(
    contacts: Sequence[BallContact],
    *,
    bounces_before: int = 1,
    struck_correctly: bool = True,
    margin_m: float = 0.0,
    tin_m: float = TIN_M["standard"],
) -> Verdict:
    """Return whether a return is good, down, not up, out, or too close to call, and why.

    Parameters
    ----------
    contacts : sequence of Contact
        What the ball touched after the strike, in order, at least to the front wall.
    bounces_before : int
        Bounces on the floor since the opponent's shot.
    struck_correctly : bool
        False for a double hit or a carry.

    Source
    ------
    RULES-2014, rules 6.1 and 6.2 and the definitions of correctly, down, not up and out.

    Examples
    --------
    >>> return_verdict([BallContact(CourtSurface.FRONT, 1.0, 0.0, 0.48)]).result.value
    'down'
    """
    if bounces_before >= 2:
        return Verdict(Result.NOT_UP, "the ball had bounced twice before it was struck")
    if not struck_correctly:
        return Verdict(Result.NOT_UP, "the ball was not struck correctly: hit twice, or carried")
    edges = _Edges(margin_m)
    reached = False
    for n, contact in enumerate(contacts):
        if contact.surface is CourtSurface.TIN:
            edges.fail(Result.DOWN, "the ball touched the tin", n)
        elif CourtSurface.FLOOR in (contact.surface, contact.also):
            if reached:
                break
            edges.fail(Result.DOWN, "the ball touched the floor before the front wall", n)
        elif contact.surface is CourtSurface.FRONT:
            reached = True
            edges.need(contact.z_m - tin_m, Result.DOWN, "the ball touched the tin", n)
            _inside(contact, n, edges)
        else:
            _inside(contact, n, edges)
        if edges.lost is not None:
            break
    if not reached and edges.lost is None:
        return Verdict(Result.UNCLEAR, "the ball was not seen to reach the front wall")
    return edges.verdict("good")


def _delivered(box: str, delivery: Delivery, edges: _Edges) -> Verdict | None:
    """Foot, drop and swing; a verdict where they alone decide."""
    if not delivery.struck:
        if delivery.swings == 0:
            return Verdict(Result.NO_SERVE, "the ball was dropped without an attempt to strike it: again")
        return Verdict(Result.FAULT, "the ball was missed and fell")
    if delivery.touched:
        return Verdict(Result.FAULT, "the ball touched something before it was struck")
    if delivery.feet is None:
        return None
    best = max((_foot_clearance_m(box, foot) for foot in delivery.feet), default=-math.inf)
    why = "no foot was on the floor inside the box, clear of its lines, at the strike"
    if best == -math.inf:
        return Verdict(Result.FAULT, why)
    edges.need(best, Result.FAULT, why, 0)
    return edges.lost


def _foot_clearance_m(box: str, foot: Sequence[tuple[float, float]]) -> float:
    """Return how far the nearest touching point of a foot lies inside the box, wall included."""
    if not foot:
        return -math.inf
    x0, y0, x1, y1 = MARKED[f"{box}-box"]
    return min(min(x - x0, x1 - x, y - y0, y1 - y) for x, y in foot)


def _serve_front(contact: BallContact, edges: _Edges, tin_m: float) -> None:
    """The first touch: the front wall alone, between service line and out line."""
    touched = {contact.surface, contact.also}
    if CourtSurface.FLOOR in touched:
        edges.fail(Result.FAULT, "the ball touched the floor before or with the front wall", 0)
    elif CourtSurface.TIN in touched or (contact.surface is CourtSurface.FRONT and contact.z_m <= tin_m):
        edges.fail(Result.FAULT, "the ball touched the tin", 0)
    elif CourtSurface.ABOVE in touched:
        edges.fail(Result.OUT, "the ball touched something above the court", 0)
    elif contact.surface is not CourtSurface.FRONT:
        edges.fail(Result.FAULT, "the ball touched another wall before the front wall", 0)
    elif contact.also is not None:
        edges.fail(Result.FAULT, "the ball touched the front wall and another wall at once", 0)
    else:
        below = contact.z_m < SERVICE_LINE_M - _TOUCH_M
        why = "the ball hit below the service line" if below else "the ball touched the service line"
        edges.need(contact.z_m - SERVICE_LINE_TOP_M, Result.FAULT, why, 0)
        corner = min(contact.x_m, WIDTH_M - contact.x_m)
        edges.need(corner, Result.FAULT, "the ball touched the front wall and a side wall at once", 0)
        _inside(contact, 0, edges)


def _after_front(box: str, contacts: Sequence[BallContact], edges: _Edges, volleyed: bool) -> bool:
    """Return everything touched after the front wall, up to the second bounce; whether there was a bounce."""
    bounces = 0
    for n, contact in enumerate(contacts[1:], start=1):
        if CourtSurface.FLOOR in (contact.surface, contact.also):
            bounces += 1
            if bounces == 1 and not volleyed:
                _first_bounce(box, contact, n, edges)
            if bounces == 2 or edges.lost is not None:
                break
        elif contact.surface is CourtSurface.TIN:
            edges.fail(Result.FAULT, "the ball touched the tin", n)
        else:
            _inside(contact, n, edges)
    return bounces > 0


def _first_bounce(box: str, contact: BallContact, n: int, edges: _Edges) -> None:
    """The first bounce: in the opposite quarter, no line touched."""
    left = box == "right"
    x_in = _half_clearance_m(left, contact.x_m)
    y_in = contact.y_m - MARKED["left-quarter"][1]
    edges.need(y_in, Result.FAULT, "the first bounce touched the short line or was before it", n)
    edges.need(x_in, Result.FAULT, "the first bounce touched the half-court line or was beyond it", n)


def _half_clearance_m(left: bool, x_m: float) -> float:
    """Return how far a point lies on its side of the half-court line."""
    return MARKED["left-quarter"][2] - x_m if left else x_m - MARKED["right-quarter"][0]


def _front_out(_: BallContact) -> float:
    return FRONT_OUT_M


def _side_out(contact: BallContact) -> float:
    return side_wall_line_m(min(max(contact.y_m, 0.0), LENGTH_M)) if contact.y_m == contact.y_m else math.nan


def _back_out(_: BallContact) -> float:
    return BACK_OUT_M


_OUT_LINES: dict[CourtSurface, tuple[Callable[[BallContact], float], str]] = {
    CourtSurface.FRONT: (_front_out, "front"),
    CourtSurface.LEFT: (_side_out, "side"),
    CourtSurface.RIGHT: (_side_out, "side"),
    CourtSurface.BACK: (_back_out, "back"),
}


def _inside(contact: BallContact, n: int, edges: _Edges) -> None:
    """Below the out line of every wall touched."""
    for surface in (contact.surface, contact.also):
        if surface is CourtSurface.ABOVE:
            edges.fail(Result.OUT, "the ball touched something above the court", n)
        elif surface in _OUT_LINES:
            line_at, wall = _OUT_LINES[surface]
            why = f"the ball touched the {wall} wall on or above the out line"
            edges.need(line_at(contact) - contact.z_m, Result.OUT, why, n)
