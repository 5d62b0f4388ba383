"""Simulated cameras behind the back wall, and clicks on their court marks, with known truth.

The projection is written here again, so that it shares no code with the calibration.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.camera import Click, court_marks

Floats = NDArray[np.float64]


WIDTH, HEIGHT = 1920, 1080


@dataclass(frozen=True)
class CameraSetting:
    """What is drawn: distortion, click error, and what the solver does not know of."""

    name: str
    k1: tuple[float, float] = (-0.12, 0.02)
    click_px: float = 2.0
    off_middle_px: float = 0.0
    off_edge_m: float = 0.0
    floor_only: bool = False
    tangential: float = 0.0  # one sd of each of the two tangential terms


SETTINGS = (
    CameraSetting("phone, 2 px"),
    CameraSetting("wide lens, 2 px", k1=(-0.30, -0.20)),
    CameraSetting("phone, 1 px", click_px=1.0),
    CameraSetting("phone, 2 px, middle of the picture off by 50 px", off_middle_px=50.0),
    CameraSetting("phone, 2 px, middle of lines clicked instead of edges", off_edge_m=0.025),
    CameraSetting("phone, 2 px, marks on the floor only", floor_only=True),
    CameraSetting(
        "phone, 2 px, middle off by 15 px, lens a little askew", off_middle_px=15.0, tangential=0.001
    ),
)


@dataclass(frozen=True, eq=False)
class RealCamera:
    """A camera as it really is: place, axes (rows right, down, forward), focal length, lens, middle."""

    place_m: Floats
    axes: Floats
    focal_px: float
    k1: float
    middle: Floats
    askew: tuple[float, float] = (0.0, 0.0)  # tangential terms p1, p2

    def see(self, points: Floats) -> Floats:
        """Return picture points, NaN where nothing is seen or outside the picture."""
        eye = (points - self.place_m) @ self.axes.T
        x, y = eye[:, 0] / eye[:, 2], eye[:, 1] / eye[:, 2]
        r2 = x**2 + y**2
        p1, p2 = self.askew
        u = (1.0 + self.k1 * r2) * x + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x**2)
        v = (1.0 + self.k1 * r2) * y + p1 * (r2 + 2.0 * y**2) + 2.0 * p2 * x * y
        uv = self.middle + self.focal_px * np.column_stack([u, v])
        inside = (uv >= 0.0).all(axis=1) & (uv[:, 0] <= WIDTH) & (uv[:, 1] <= HEIGHT)
        uv[~(inside & (eye[:, 2] > 0.1) & (1.0 + 3.0 * self.k1 * r2 > 0.0))] = np.nan
        return uv


def real_camera(rng: np.random.Generator, setting: CameraSetting) -> RealCamera:
    """Return a camera 0.6 to 3 m behind the back wall, 1.8 to 4 m high, 60 to 90 degrees wide, rolled a
    little.
    """
    place = np.array([rng.uniform(1.6, 4.8), 9.75 + rng.uniform(0.6, 3.0), rng.uniform(1.8, 4.0)])
    aim = np.array([rng.uniform(2.7, 3.7), rng.uniform(2.0, 5.0), rng.uniform(0.6, 1.6)])
    forward = (aim - place) / np.linalg.norm(aim - place)
    right = np.array([-forward[1], forward[0], 0.0])  # to the player's right, seen from behind
    right /= np.linalg.norm(right)
    down = np.array([0.0, 0.0, -1.0]) + forward[2] * forward
    down /= np.linalg.norm(down)
    roll = math.radians(rng.normal(0.0, 1.0))
    axes = np.array(
        [
            math.cos(roll) * right + math.sin(roll) * down,
            -math.sin(roll) * right + math.cos(roll) * down,
            forward,
        ]
    )
    focal = WIDTH / 2.0 / math.tan(math.radians(rng.uniform(60.0, 90.0)) / 2.0)
    way = rng.uniform(0.0, 2.0 * math.pi)
    off = setting.off_middle_px * np.array([math.cos(way), math.sin(way)])
    middle, k1 = np.array([WIDTH, HEIGHT]) / 2.0 + off, rng.uniform(*setting.k1)
    p1, p2 = rng.normal(0.0, setting.tangential, 2) if setting.tangential else (0.0, 0.0)
    return RealCamera(place, axes, focal, k1, middle, (float(p1), float(p2)))


def real_clicks(rng: np.random.Generator, real: RealCamera, setting: CameraSetting) -> list[Click]:
    """Return a click on every mark in the picture."""
    marks = [m for m in court_marks().values() if m.on_floor or not setting.floor_only]
    at = np.array([mark.at for mark in marks])
    if setting.off_edge_m:
        at = at + _to_the_middle(at, setting.off_edge_m)
    uv = real.see(at) + rng.normal(0.0, setting.click_px, (len(marks), 2))
    uv = np.clip(uv, 0.0, [WIDTH, HEIGHT])  # NaN stays: clip never makes a number of it
    seen = np.flatnonzero(np.isfinite(uv).all(axis=1))
    return [Click(marks[k].name, float(uv[k, 0]), float(uv[k, 1])) for k in seen]


def plain_clicks(width: int = 480, height: int = 360, off_px: float = 0.0) -> list[dict[str, float | str]]:
    """Return clicks on all marks in the picture of one plain camera behind the back wall, without any
    error.
    """
    tilt, focal = 0.2, 0.75 * width
    axes = np.array(
        [
            [1.0, 0.0, 0.0],
            [0.0, math.sin(tilt), -math.cos(tilt)],
            [0.0, -math.cos(tilt), -math.sin(tilt)],
        ]
    )
    named = court_marks()
    eye = (np.array([mark.at for mark in named.values()]) - np.array([3.2, 13.0, 3.0])) @ axes.T
    uv = np.array([width, height]) / 2.0 + focal * eye[:, :2] / eye[:, 2:]
    uv[:, 0] += off_px
    inside = (eye[:, 2] > 0.1) & (uv >= 0.0).all(axis=1) & (uv[:, 0] <= width) & (uv[:, 1] <= height)
    found = zip(named, uv, inside, strict=True)
    return [{"mark": name, "u": float(u), "v": float(v)} for name, (u, v), good in found if good]


def _to_the_middle(at: Floats, off_m: float) -> Floats:
    """From the edge of a line to its middle: short line and boxes towards the front, walls upward."""
    off = np.zeros_like(at)
    floor = (at[:, 2] == 0.0) & (at[:, 1] > 0.0) & (at[:, 1] < 9.0)
    off[floor & (at[:, 1] < 6.0), 1] = -off_m
    off[floor & (at[:, 1] > 6.0), 1] = off_m
    inner = floor & (at[:, 0] > 1.0) & (at[:, 0] < 5.4)
    off[inner, 0] = np.where(at[inner, 0] < 3.2, off_m, -off_m)
    off[(at[:, 2] > 1.0), 2] = off_m
    off[(at[:, 2] > 0.0) & (at[:, 2] < 1.0), 2] = -off_m
    return off
