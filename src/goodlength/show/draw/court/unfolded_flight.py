"""One flight on the unfolded court: floor trace, walls at true height, contacts numbered in order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

from goodlength.court import CourtSurface, riser_foot, to_sheet, unfolded
from goodlength.court.dimensions import LENGTH_M, SERVICE_LINE_TOP_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.show.draw.court.aim_window_drawing import (
    MM,
    TEXT,
    WallWindow,
    check_window,
    rings,
    tapes,
    wall_faces,
    window_large,
    words_middle,
)
from goodlength.show.draw.court.flight_side_view import Flight, ReceiverReach, side_fragment
from goodlength.show.draw.label_placement import Spread
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    path,
    polyline,
    shape,
    svg_text,
)

RACKET = "racket"
VIEW = (-5100.0, -5560.0, 16560.0, 18640.0)  # mm: left, top, width, height
_INSET = 300.0  # titles of the two insets: hidden with the small labels on a narrow page
_DISC = 225.0
_SHEET_TEXT = 380.0  # 13 px where the sheet is 560 px wide
_LONG_RISER_M = 1.75  # words fit under a riser this long
_WALLS = (CourtSurface.LEFT, CourtSurface.RIGHT, CourtSurface.FRONT, CourtSurface.BACK, CourtSurface.TIN)
_NAMES = {
    RACKET: "racket",
    CourtSurface.FRONT: "front wall",
    CourtSurface.TIN: "tin",
    CourtSurface.LEFT: "left wall",
    CourtSurface.RIGHT: "right wall",
    CourtSurface.BACK: "back wall",
    CourtSurface.FLOOR: "floor",
}
Point = tuple[float, float]


class ContactLike(Protocol):
    """A touch of the ball: the first is the racket ("racket"), the others name a surface of the court."""

    @property
    def surface(self) -> str: ...
    @property
    def x_m(self) -> float: ...
    @property
    def y_m(self) -> float: ...
    @property
    def z_m(self) -> float: ...


def draw_path(
    contacts: Sequence[ContactLike],
    *,
    flight: Flight = (),
    window: WallWindow | None = None,
    receiver: ReceiverReach | None = None,
    shot: str = "Serve",
    wide: float = 716.0,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return the court unfolded, to scale, with one flight on it.

    The line on the floor is the path seen from above. A wall contact is drawn at its true height, and a
    dashed riser joins it to the fold below it. Contacts are numbered discs in the order they came.

    Parameters
    ----------
    contacts : sequence of ContactLike
        In order; the racket first. Surfaces as `court.Surface` names them.
    flight : sequence of (x_m, y_m, z_m)
        With it the view from the side is drawn in the lower left corner.
    window : Window or None
        Rings and tapes on the front wall, and the window enlarged in the lower right corner.
    shot : str
        What the drawing's spoken label begins with ("Lob from the right box").

    Raises
    ------
    InputError
        If there is no contact, or a surface has no place on the sheet.
    OutOfRange
        If the window is not on the front wall.
    """
    if not contacts:
        raise InputError("Cannot draw a path without a contact: give at least where the ball was struck.")
    if window is not None:
        check_window(window)
    trace = [(c.x_m * MM, c.y_m * MM) for c in contacts]
    body = wall_faces(theme, tuple(CourtSurface)) + _folds(theme) + _labels(theme)
    body += rings(theme, window) if window else ""
    body += path(theme, polyline(trace), stroke="side-a", thick=60, stroke_linejoin="round")
    body += _arrows(theme, trace) + "".join(_riser(theme, c) for c in contacts)
    body += tapes(theme, window) if window else ""
    body += _receiver(theme, receiver) if receiver else ""
    body += _numbers(theme, contacts, trace, window, receiver)
    body += _insets(theme, flight, window, receiver)
    return drawing(theme, wide, wide * VIEW[3] / VIEW[2], body, path_words(contacts, shot), view=VIEW)


def draw_court_sheet(label: str, wide: float = 640.0, theme: DrawingTheme = PAGE) -> str:
    """Return the court unfolded, to scale, with nothing on it: a page draws over it, 1000 units a metre."""
    body = wall_faces(theme, tuple(CourtSurface)) + _folds(theme) + _labels(theme, _SHEET_TEXT)
    return drawing(theme, wide, wide * VIEW[3] / VIEW[2], body, label, view=VIEW)


def path_words(contacts: Sequence[ContactLike], shot: str = "Serve") -> str:
    """Return the path in words, contact by contact, as a coach would point to them on court."""
    contact_words = [f"{n} {_contact_words(c)}" for n, c in enumerate(contacts, start=1)]
    return f"The court unfolded, to scale. {shot}: {'; '.join(contact_words)}."


def _contact_words(contact: ContactLike) -> str:
    name = _NAMES.get(contact.surface, contact.surface)
    x, y, z = contact.x_m, contact.y_m, contact.z_m
    near = f"{min(x, WIDTH_M - x):.2f} m from the {'left' if x <= WIDTH_M / 2 else 'right'} wall"
    if contact.surface == CourtSurface.FRONT:
        above = z - SERVICE_LINE_TOP_M
        return f"{name}, {abs(above):.2f} m {'above' if above >= 0 else 'below'} the service line, {near}"
    if contact.surface in (CourtSurface.LEFT, CourtSurface.RIGHT):
        return f"{name}, {z:.2f} m up, {y:.2f} m from the front wall"
    if contact.surface == CourtSurface.FLOOR:
        return f"{name}, {LENGTH_M - y:.2f} m from the back wall, {near}"
    if contact.surface == CourtSurface.BACK:
        return f"{name}, {z:.2f} m up, {near}"
    return f"{name}, {z:.2f} m up" if contact.surface == RACKET else f"{name}, {near}"


def _folds(theme: DrawingTheme) -> str:
    return "".join(
        path(theme, polyline([(u * MM, v * MM) for u, v in fold]), stroke="rule-strong", thick=30)
        for fold in unfolded().folds
    )


def _labels(theme: DrawingTheme, size: float = TEXT) -> str:
    body = ""
    for label in unfolded().labels:
        u, v = label.at[0] * MM, label.at[1] * MM
        if label.anchor == "start" and label.at[0] > WIDTH_M:
            v += 100  # beside a line: on its height
        body += svg_text(theme, u, v, label.words, size=size, anchor=label.anchor)
    return body


def _arrows(theme: DrawingTheme, trace: Sequence[Point]) -> str:
    """Return a head in the middle of each long stretch of the floor trace, pointing the way the ball goes."""
    body = ""
    for (u0, v0), (u1, v1) in pairwise(trace):
        length = math.hypot(u1 - u0, v1 - v0)
        if length < 900:
            continue
        cos, sin = (u1 - u0) / length, (v1 - v0) / length
        u, v = u0 + (u1 - u0) * 0.55, v0 + (v1 - v0) * 0.55
        head = [
            (u + a * cos - b * sin, v + a * sin + b * cos) for a, b in ((150, 0), (-110, -120), (-110, 120))
        ]
        body += path(theme, polyline(head, closed=True), fill="side-a")
    return body


def _on_sheet(contact: ContactLike) -> Point:
    """Return where the contact itself is drawn, mm: the racket and the floor as seen from above."""
    surface = CourtSurface.FLOOR if contact.surface == RACKET else contact.surface
    u, v = to_sheet(surface, contact.x_m, contact.y_m, contact.z_m)
    return u * MM, v * MM


def _riser(theme: DrawingTheme, contact: ContactLike) -> str:
    if contact.surface not in _WALLS:
        return ""
    u, v = riser_foot(contact.surface, contact.x_m, contact.y_m)
    line = polyline([(u * MM, v * MM), _on_sheet(contact)])
    return path(theme, line, stroke="side-a", thick=42, dash="110 90")


def _receiver(theme: DrawingTheme, receiver: ReceiverReach) -> str:
    """Return the opponent: an open square in a ring, with the name beside."""
    u, v = receiver.x_m * MM, receiver.y_m * MM
    body = shape(theme, "circle", fill="sheet", stroke="side-b", thick=60, cx=u, cy=v, r=250)
    body += shape(
        theme, "rect", fill="none", stroke="side-b", thick=50, x=u - 105, y=v - 105, width=210, height=210
    )
    return body + svg_text(theme, u + 360, v + 100, receiver.name, size=TEXT, halo="floor")


def _numbers(
    theme: DrawingTheme,
    contacts: Sequence[ContactLike],
    trace: Sequence[Point],
    window: WallWindow | None,
    receiver: ReceiverReach | None,
) -> str:
    """Numbered discs, moved off their contacts to where they cover nothing, and joined to them."""
    spread = Spread(VIEW, _DISC)
    spread.keep_clear_of_line(trace)
    places = [_on_sheet(c) for c in contacts]
    for contact, place in zip(contacts, places, strict=True):
        if contact.surface in _WALLS:
            u, v = riser_foot(contact.surface, contact.x_m, contact.y_m)
            spread.keep_clear_of_line([(u * MM, v * MM), place])
        spread.keep_clear_of_point(place)
    if receiver is not None:
        spread.keep_clear_of_point((receiver.x_m * MM, receiver.y_m * MM), 260)
        spread.keep_clear_of_line(
            [(receiver.x_m * MM, receiver.y_m * MM), (receiver.x_m * MM + 1200, receiver.y_m * MM)]
        )
    if window is not None:
        for line in _tape_lines(window):
            spread.keep_clear_of_line(line)
    body = ""
    for n, (contact, place) in enumerate(zip(contacts, places, strict=True), start=1):
        still = contact.surface == RACKET or contact.surface in (CourtSurface.LEFT, CourtSurface.RIGHT)
        disc = place if still else spread.place_near(place)
        spread.take(disc)
        body += _numbered(theme, n, place, disc)
        body += _contact_label(theme, contact, disc)
    return body


def _tape_lines(window: WallWindow) -> list[list[Point]]:
    """Return the tapes and the words beside them, as lines to keep clear of."""
    flip = -1.0 if window.from_right else 1.0
    spot = (window.x_m * MM, -window.z_m * MM)
    foot = -SERVICE_LINE_TOP_M * MM
    tape_u = spot[0] + flip * 1050
    middle = words_middle(window)
    words = [[(tape_u, middle + at), (tape_u + flip * 1900, middle + at)] for at in (-250, 100, 450)]
    return [[(tape_u, foot), (tape_u, spot[1])], [spot, (tape_u, spot[1])], *words]


def _numbered(theme: DrawingTheme, n: int, place: Point, disc: Point) -> str:
    body = ""
    if disc != place:
        body += path(theme, polyline([place, disc]), stroke="ink", thick=22)
        body += shape(theme, "circle", fill="ink", cx=place[0], cy=place[1], r=80)
    body += shape(theme, "circle", fill="ink", stroke="sheet", thick=30, cx=disc[0], cy=disc[1], r=_DISC)
    return body + svg_text(
        theme, disc[0], disc[1] + 105, str(n), size=300, ink="sheet", bold=True, anchor="middle"
    )


def _contact_label(theme: DrawingTheme, contact: ContactLike, disc: Point) -> str:
    """ "racket" beside the first disc, and the height beside a side wall's."""
    u, v = disc
    if contact.surface == RACKET:
        right = contact.x_m < WIDTH_M - 1.5
        return svg_text(
            theme,
            u + (330 if right else -330),
            v + 260,
            "racket",
            size=TEXT,
            anchor="start" if right else "end",
            halo="floor",
        )
    if contact.surface in (CourtSurface.LEFT, CourtSurface.RIGHT):
        outward = -1 if contact.surface == CourtSurface.LEFT else 1
        if contact.z_m < _LONG_RISER_M:  # too short to write under: beyond the disc
            at, v, outward = u + outward * 330, v + 100, -outward
        else:
            at, v = u - outward * 330, v + 400
        anchor = "start" if outward < 0 else "end"
        return svg_text(theme, at, v, f"{contact.z_m:.2f} m up", size=TEXT, anchor=anchor, halo="wall")
    return ""


def _insets(
    theme: DrawingTheme, flight: Flight, window: WallWindow | None, receiver: ReceiverReach | None
) -> str:
    """From the side at the lower left, the window enlarged at the lower right."""
    body = ""
    if flight:
        body += svg_text(theme, -5040, 9960, "From the side", size=_INSET, ink="ink", bold=True)
        body += side_fragment(theme, flight, receiver, corner=(-5040, 12480), scale=500, size=TEXT)
        body += svg_text(theme, -5040, 12890, "half scale", size=TEXT)
    if window is not None and (window.rings or window.wide_m > 0):
        body += svg_text(
            theme, 11400, 9960, "Target area, enlarged", size=_INSET, ink="ink", bold=True, anchor="end"
        )
        body += window_large(theme, window, (7000, 10180), (4400, 2400))
        if len(window.rings) > 1:
            words = "inner rings: meets the goal more often"
            body += svg_text(theme, 11400, 12890, words, size=TEXT, anchor="end")
    return body
