"""Clicks on court marks, validated before anything is solved."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from goodlength.errors import CalibrationError
from goodlength.footage.camera.camera_model import Floats
from goodlength.footage.camera.court_mark_definitions import court_marks, mark_named

FLOOR_MARKS_NEEDED = 4
MARKS_NEEDED = 6
COUNT_ONCE_PX = 12.0  # at 1080 lines: six times the error of a click
NEIGHBOURS_M = 0.10  # marks this near on the court may be one place of the picture: a line is 5 cm wide
ON_A_LINE_M = 0.3  # marks whose spread across their longest line is less lie on a line


@dataclass(frozen=True)
class Click:
    """A court mark and where it was clicked, px of the upright picture.

    `detected` marks were not clicked: all come from one fit to the lines, so that they agree with each other
    however far off they are.
    """

    mark: str
    u: float
    v: float
    detected: bool = False


def points_and_clicks(clicks: Sequence[Click], tin: str = "standard") -> tuple[Floats, Floats]:
    """Return court points (n, 3) and picture points (n, 2) of the clicks."""
    marks = court_marks(tin)
    return (
        np.array([marks[click.mark].at for click in clicks], dtype=float),
        np.array([(click.u, click.v) for click in clicks], dtype=float),
    )


def on_front_wall(points: Floats) -> bool:
    """Return whether all marks lie on the front wall, its lower edge included."""
    return bool((points[:, 1] == 0.0).all())


def check_clicks(clicks: Sequence[Click], width: int, height: int, tin: str = "standard") -> None:
    """Raise CalibrationError, in words, for clicks nothing can be solved from."""
    if width < 16 or height < 16:
        raise CalibrationError(
            f"A frame of {width} by {height} px is too small to mark a court in. Choose a larger video.",
            page="The frame is too small to mark a court in. Use a video with a larger frame.",
        )
    _each(clicks, width, height, tin)
    names = [click.mark for click in clicks]
    points, _ = points_and_clicks(clicks, tin)
    on_floor = [name for name in names if mark_named(name, tin).on_floor]
    if len(names) < FLOOR_MARKS_NEEDED or (len(on_floor) < FLOOR_MARKS_NEEDED and len(names) < MARKS_NEEDED):
        raise CalibrationError(
            f"Cannot place the camera from {len(names)} court marks ({', '.join(names) or 'none'}): "
            f"at least {FLOOR_MARKS_NEEDED} on the floor are needed, and {MARKS_NEEDED} for the whole court. "
            f"Click another line crossing, for instance {_another(names, tin)}."
        )
    _distinct(clicks, min(width, height))
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    if spread[1] < ON_A_LINE_M:
        raise CalibrationError(
            f"The {len(names)} marks ({', '.join(names)}) lie on one line of the court, which is not "
            f"enough to place the camera. Click a mark away from that line, for instance "
            f"{_away(points, tin)}."
        )
    if len(on_floor) < 2 and not on_front_wall(points):
        raise CalibrationError(
            f"Of the {len(names)} marks only {len(on_floor)} lie on the floor: positions on the floor "
            "are unknown. Click at least 2 on the floor, better 4."
        )


def _each(clicks: Sequence[Click], width: int, height: int, tin: str) -> None:
    """Every click by itself, and against the ones before it."""
    before: dict[str, Click] = {}
    for click in clicks:
        mark_named(click.mark, tin)
        if click.mark in before:
            raise CalibrationError(f"The mark {click.mark!r} is clicked twice. Delete one of the clicks.")
        if not (math.isfinite(click.u) and math.isfinite(click.v)):
            raise CalibrationError(
                f"The click on {click.mark!r} has no position in the frame. Click it again."
            )
        if not (0.0 <= click.u <= width and 0.0 <= click.v <= height):
            raise CalibrationError(
                f"The click on {click.mark!r} at ({click.u:g}, {click.v:g}) lies outside the frame of "
                f"{width} by {height}. Click only marks that can be seen, in the upright frame."
            )
        for other in before.values():
            if math.hypot(click.u - other.u, click.v - other.v) < 1.0 and not _neighbours(click, other, tin):
                raise CalibrationError(
                    f"{other.mark!r} and {click.mark!r} are clicked at the same place, "
                    "but they are two places on the court. Click one of them again."
                )
        before[click.mark] = click


def _neighbours(click: Click, other: Click, tin: str) -> bool:
    """Return whether two marks lie so near on the court, as the two sides of a line do, that far off
    they merge.
    """
    apart = np.subtract(mark_named(click.mark, tin).at, mark_named(other.mark, tin).at)
    return bool(np.linalg.norm(apart) <= NEIGHBOURS_M)


def _distinct(clicks: Sequence[Click], short_side: int) -> None:
    """Marks so near together in the picture that click errors could exchange them count as one."""
    apart: list[Click] = []
    near: tuple[str, str] | None = None
    for click in clicks:
        close = [
            c for c in apart if math.hypot(c.u - click.u, c.v - click.v) < COUNT_ONCE_PX * short_side / 1080.0
        ]
        if close:
            near = (close[0].mark, click.mark)
        else:
            apart.append(click)
    if near is not None and len(apart) < FLOOR_MARKS_NEEDED:
        raise CalibrationError(
            f"{near[0]} and {near[1]} are so close together in the frame that they count as one mark, which "
            f"leaves {len(apart)}: at least {FLOOR_MARKS_NEEDED} are needed. Click another line crossing, "
            "further away."
        )


def _another(names: Sequence[str], tin: str) -> str:
    """Return a floor mark not clicked yet."""
    order = ("left-box-front", "right-box-front", "short-left", "short-right", "left-box-corner")
    return next((name for name in order if name not in names), next(iter(court_marks(tin))))


def _away(points: Floats, tin: str) -> str:
    """Return the commonly seen mark furthest from the line through the points."""
    middle = points.mean(axis=0)
    along = np.linalg.svd(points - middle)[2][0]

    def off(name: str) -> float:
        at = np.array(mark_named(name, tin).at) - middle
        return float(np.linalg.norm(at - (at @ along) * along))

    return max(
        ("front-left-floor", "left-box-corner", "right-box-corner", "short-left", "short-right"), key=off
    )
