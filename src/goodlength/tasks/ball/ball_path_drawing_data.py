"""The followed ball of a rally as it is drawn: over the film, and on the unfolded court beside it.

Each contact has a ring that holds its place 90 times in 100 where the errors given are right. On a wall the
ring lies in the wall, on floor and racket it is seen from above.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from goodlength.court import CourtSurface, riser_foot, to_sheet
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.measure.shots.followed_ball_types import ContactKind

if TYPE_CHECKING:
    from goodlength.footage.camera.camera_model import CameraModel
    from goodlength.measure.shots.followed_ball_types import (
        Covariance,
        FollowedRally,
        FollowedShot,
        PathContact,
        Place,
        ShotPath,
    )

Point = tuple[float, float]
Floats = NDArray[np.float64]
RING_90 = math.sqrt(
    -2.0 * math.log(0.1)
)  # radius in standard errors of 90 in 100 of a plane normal distribution
RING_POINTS = 24
WORDS = {
    ContactKind.RACKET: "racket",
    ContactKind.FRONT: "front wall",
    ContactKind.LEFT: "left wall",
    ContactKind.RIGHT: "right wall",
    ContactKind.BACK: "back wall",
    ContactKind.FLOOR: "floor",
    ContactKind.SECOND_BOUNCE: "second bounce",
    ContactKind.TIN: "tin",
    ContactKind.OUT: "out",
}
_SURFACES = {
    ContactKind.FRONT: CourtSurface.FRONT,
    ContactKind.TIN: CourtSurface.TIN,
    ContactKind.LEFT: CourtSurface.LEFT,
    ContactKind.RIGHT: CourtSurface.RIGHT,
    ContactKind.BACK: CourtSurface.BACK,
}


@dataclass(frozen=True)
class ContactDrawing:
    """One touch: where it is drawn on the sheet (metres of `court.unfolded`) and in the picture (shares).

    `foot` is where a wall's riser begins; rings are empty where the error is not known, `picture` is None
    outside the picture.
    """

    kind: str
    words: str
    us: int
    with_sound: bool
    sheet: Point
    foot: Point | None
    sheet_ring: tuple[Point, ...]
    picture: Point | None
    picture_ring: tuple[Point, ...]


@dataclass(frozen=True)
class SampleDrawing:
    """The ball at one time: from above on the sheet, and in the picture; `seen`: a candidate lies on it."""

    us: int
    sheet: Point
    picture: Point | None
    seen: bool


@dataclass(frozen=True)
class PathDrawing:
    """One way in which a shot may have gone."""

    chance: float
    speed_km_h: float
    words: str
    contacts: tuple[ContactDrawing, ...]
    samples: tuple[SampleDrawing, ...]


@dataclass(frozen=True)
class ShotDrawing:
    """A shot, match times; `striker` is "a", "b" or "" where not known, `hidden_s` how long it was hidden.

    `corrected`: something of it was said by the coach.
    """

    number: int
    striker: str
    struck_us: int
    until_us: int
    sure: bool
    corrected: bool
    reason: str
    hidden_s: float
    paths: tuple[PathDrawing, ...]


def shot_drawings(rally: FollowedRally, lens: CameraModel | None, shift_us: int) -> tuple[ShotDrawing, ...]:
    """Return the shots of a rally as they are drawn.

    Parameters
    ----------
    lens : CameraModel, optional
        Without it nothing is drawn over the picture.
    shift_us : int
        From media time of the rally's file to match time.
    """
    return tuple(_shot(shot, lens, shift_us) for shot in rally.shots)


def _shot(shot: FollowedShot, lens: CameraModel | None, shift_us: int) -> ShotDrawing:
    hidden_us = sum(until - begin for begin, until in shot.hidden_us)
    return ShotDrawing(
        shot.number,
        "" if shot.striker is None else shot.striker.value,
        shot.struck_us + shift_us,
        shot.until_us + shift_us,
        shot.sure,
        shot.corrected,
        shot.reason,
        round(hidden_us / 1e6, 2),
        tuple(_path(path, lens, shift_us) for path in shot.paths),
    )


def _path(path: ShotPath, lens: CameraModel | None, shift_us: int) -> PathDrawing:
    pictures = _in_picture([sample.place_m for sample in path.samples], lens)
    samples = tuple(
        SampleDrawing(sample.time_us + shift_us, _rounded(sample.place_m[:2]), picture, sample.seen)
        for sample, picture in zip(path.samples, pictures, strict=True)
    )
    contacts = tuple(_contact(contact, lens, shift_us) for contact in path.contacts)
    words = ", ".join(contact.words for contact in contacts)
    return PathDrawing(round(path.chance, 3), round(3.6 * path.speed_m_s, 1), words, contacts, samples)


def _contact(contact: PathContact, lens: CameraModel | None, shift_us: int) -> ContactDrawing:
    surface = surface_of(contact)
    x, y, z = contact.place_m
    wall = surface is not CourtSurface.FLOOR
    return ContactDrawing(
        contact.kind.value,
        WORDS[contact.kind],
        contact.time_us + shift_us,
        contact.with_sound,
        _rounded(to_sheet(surface, x, y, z)),
        _rounded(riser_foot(surface, x, y)) if wall else None,
        _sheet_ring(surface, contact.place_m, contact.covariance_m2),
        _in_picture([contact.place_m], lens)[0],
        _picture_ring(contact.place_m, contact.covariance_m2, lens),
    )


def surface_of(contact: PathContact) -> CourtSurface:
    """Return the surface on which a contact is drawn; what went out on that of the nearest wall.

    Examples
    --------
    >>> from goodlength.measure.shots.followed_ball_types import ContactKind, PathContact
    >>> surface_of(PathContact(ContactKind.OUT, 0, (0.02, 3.0, 4.4))).value
    'left-side-wall'
    """
    if contact.kind is not ContactKind.OUT:
        return _SURFACES.get(contact.kind, CourtSurface.FLOOR)
    x, y, _ = contact.place_m
    away = {
        CourtSurface.LEFT: abs(x),
        CourtSurface.RIGHT: abs(WIDTH_M - x),
        CourtSurface.FRONT: abs(y),
        CourtSurface.BACK: abs(LENGTH_M - y),
    }
    return min(away, key=lambda surface: away[surface])


def _sheet_ring(surface: CourtSurface, place: Place, covariance: Covariance | None) -> tuple[Point, ...]:
    if covariance is None:
        return ()
    plane = {
        CourtSurface.FLOOR: (0, 1),
        CourtSurface.LEFT: (1, 2),
        CourtSurface.RIGHT: (1, 2),
    }.get(surface, (0, 2))
    around = np.zeros((RING_POINTS, 3))
    around[:, plane] = _ring(np.array(covariance, float)[np.ix_(plane, plane)])
    return tuple(_rounded(to_sheet(surface, *(place + off).tolist())) for off in around)


def _picture_ring(place: Place, covariance: Covariance | None, lens: CameraModel | None) -> tuple[Point, ...]:
    """Return the ring of a place in the picture, its error carried through the camera's slopes."""
    if covariance is None or lens is None:
        return ()
    middle = np.array([place])
    uv, seen = lens.project(middle)
    if not seen[0]:
        return ()
    by_point = lens.slopes(middle)[2][0]
    ring = uv[0] + _ring(by_point @ np.array(covariance, float) @ by_point.T)
    return tuple(_rounded((u / lens.width, v / lens.height)) for u, v in ring.tolist())


def _ring(covariance: Floats) -> Floats:
    """Return the points of the 90-in-100 ellipse about nought; a covariance that is none gives a point."""
    values, axes = np.linalg.eigh(0.5 * (covariance + covariance.T))
    turn = np.linspace(0.0, 2.0 * math.pi, RING_POINTS, endpoint=False)
    lengths = RING_90 * np.sqrt(np.clip(values, 0.0, None))
    return np.asarray((np.column_stack([np.cos(turn), np.sin(turn)]) * lengths) @ axes.T)


def _in_picture(places: Sequence[Place], lens: CameraModel | None) -> list[Point | None]:
    if lens is None or not places:
        return [None] * len(places)
    uv, seen = lens.project(np.array(places, float))
    inside = seen & lens.inside(uv)
    return [
        _rounded((u / lens.width, v / lens.height)) if shown else None
        for (u, v), shown in zip(uv.tolist(), inside.tolist(), strict=True)
    ]


def _rounded(point: Sequence[float]) -> Point:
    return round(float(point[0]), 4), round(float(point[1]), 4)
