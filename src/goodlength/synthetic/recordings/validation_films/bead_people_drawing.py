"""People as strings of overlapping shaded balls along a skeleton; looks are ASSUMED."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numba import njit
from numpy.typing import NDArray

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
# From, to, balls, radii at begin, middle and end in m, part. Points 20 to 23: shoulders, hips, hands' ends
ASSUMED_STRINGS: tuple[tuple[int, int, int, tuple[float, float, float], str], ...] = (
    (10, 12, 9, (0.088, 0.078, 0.058), "leg"), (11, 13, 9, (0.088, 0.078, 0.058), "leg"),
    (12, 14, 9, (0.054, 0.060, 0.036), "leg"), (13, 15, 9, (0.054, 0.060, 0.036), "leg"),
    (16, 18, 6, (0.042, 0.046, 0.032), "shoe"), (17, 19, 6, (0.042, 0.046, 0.032), "shoe"),
    (14, 16, 2, (0.040, 0.040, 0.040), "shoe"), (15, 17, 2, (0.040, 0.040, 0.040), "shoe"),
    (4, 6, 7, (0.056, 0.052, 0.042), "skin"), (5, 7, 7, (0.056, 0.052, 0.042), "skin"),
    (6, 8, 7, (0.042, 0.038, 0.028), "skin"), (7, 9, 7, (0.042, 0.038, 0.028), "skin"),
    (8, 22, 2, (0.034, 0.036, 0.034), "skin"), (9, 23, 2, (0.034, 0.036, 0.034), "skin"),
    (2, 20, 3, (0.056, 0.056, 0.060), "skin"),
)  # fmt: skip
ASSUMED_COMPLEXIONS = ((0.66, 0.45, 0.36), (0.42, 0.27, 0.19), (0.20, 0.11, 0.07), (0.52, 0.34, 0.22))


@dataclass(frozen=True)
class BeadLooks:
    """Colours of skin, shirt, shorts, legs, shoes, hair and racket, and girth beside the usual."""

    colours: dict[str, Points]
    girth: float
    bands: int


def draw_bead_looks(seed: int, clothes: str, played: bool) -> BeadLooks:
    """Return looks from a seed."""
    rng = np.random.default_rng([seed, 11])
    skin = np.array(ASSUMED_COMPLEXIONS[rng.integers(len(ASSUMED_COMPLEXIONS))])
    colours = {part: rng.uniform(0.015, 1, 3) ** 1.7 * 0.8 for part in ("shirt", "shorts", "shoe", "racket")}
    if clothes == "both white" and played:
        colours["shirt"], colours["shorts"] = np.full(3, 0.76), np.full(3, 0.7)
    colours["skin"], colours["leg"] = skin, skin
    if not played and rng.random() < 0.75:
        colours["leg"] = colours["shorts"]
    colours["hair"] = np.array([1.0, 0.8, 0.6]) * rng.choice([0.012, 0.05, 0.14, 0.35])
    return BeadLooks(colours, float(rng.uniform(0.92, 1.16)), int(rng.integers(0, 3)))


@cache  # a handful of strings, for every body of every frame
def _string(count: int, radii: tuple[float, float, float]) -> tuple[Points, Points]:
    """Return where the balls of a string lie along it, shape (n, 1), and their radii; not to be changed."""
    share = np.linspace(0, 1, count)
    size = np.interp(share, [0, 0.45, 1], radii)
    for part in (share, size):
        part.flags.writeable = False
    return share[:, None], size


def beads(joints: Points, racket: Points | None, looks: BeadLooks) -> tuple[Points, Points, Points]:
    """Return places (n, 3), radii (n,) and colours (n, 3) of a person's balls."""
    shoulders, hips = 0.5 * (joints[4] + joints[5]), 0.5 * (joints[10] + joints[11])
    lift = np.sign(joints[2, 2]) * np.array([0, 0, 0.035])
    points = np.concatenate([joints, [joints[2] + 0.45 * (joints[1] - joints[2]), hips],
                             joints[8:10] + 0.35 * (joints[8:10] - joints[6:8])])  # fmt: skip
    points[16:20] += lift
    out: list[tuple[Points, Points, Points]] = []

    def string(a: Points, b: Points, count: int, radii: tuple[float, float, float], colour: Points) -> None:
        share, size = _string(count, radii)
        out.append((a + share * (b - a), size, np.broadcast_to(colour, (count, 3))))

    for a, b, count, radii, part in ASSUMED_STRINGS:
        string(points[a], points[b], count, radii, looks.colours[part])
    for side in (0, 1):
        hip, knee = points[10 + side], points[12 + side]
        string(hip, hip + 0.66 * (knee - hip), 7, (0.104, 0.105, 0.1), looks.colours["shorts"])
        shoulder, elbow = points[4 + side], points[6 + side]
        string(shoulder, shoulder + 0.5 * (elbow - shoulder), 5, (0.072, 0.07, 0.068), looks.colours["shirt"])
    _torso(out, points, shoulders, hips, looks)
    string(hips, points[10], 3, (0.12, 0.115, 0.11), looks.colours["shorts"])
    string(hips, points[11], 3, (0.12, 0.115, 0.11), looks.colours["shorts"])
    _head(out, joints, looks)
    if racket is not None:
        _racket(out, racket, looks)
    places, sizes, colours = (np.concatenate([part[i] for part in out]) for i in range(3))
    fleshy = sizes > 0.02
    return places, np.where(fleshy, sizes * looks.girth, sizes), colours


def _torso(
    out: list[tuple[Points, Points, Points]],
    points: Points,
    shoulders: Points,
    hips: Points,
    looks: BeadLooks,
) -> None:
    """Add rows of three balls from hips to shoulders; bands change their colour."""
    across = points[5] - points[4]
    share = np.linspace(0.05, 0.96, 11)
    half = np.interp(share, [0, 0.4, 0.85, 1], [0.10, 0.09, 0.15, 0.16])
    size = np.interp(share, [0, 0.4, 0.8, 1], [0.115, 0.108, 0.112, 0.07])
    middle = hips + share[:, None] * (shoulders + 0.2 * (points[2] - shoulders) - hips)
    unit = across / max(float(np.linalg.norm(across)), 1e-6)
    for off in (-1, -0.5, 0, 0.5, 1):
        colours = np.tile(looks.colours["shirt"], (len(share), 1))
        if looks.bands:
            colours[3 :: 4 - looks.bands] *= 0.55
        out.append((middle + off * (half - 0.3 * size)[:, None] * unit, size, colours))


def _head(out: list[tuple[Points, Points, Points]], joints: Points, looks: BeadLooks) -> None:
    """Add a head of two balls, hair over and behind it."""
    neck, crown, nose = joints[2], joints[1], joints[0]
    up = (crown - neck) / max(float(np.linalg.norm(crown - neck)), 1e-6)
    ahead = nose - neck - ((nose - neck) @ up) * up
    ahead = ahead / max(float(np.linalg.norm(ahead)), 1e-6)
    centre = crown - 0.1 * up
    places = [centre + 0.01 * ahead, centre - 0.055 * up + 0.025 * ahead, centre + 0.022 * up - 0.012 * ahead,
              centre - 0.03 * up - 0.035 * ahead]  # fmt: skip
    colours = [looks.colours[part] for part in ("skin", "skin", "hair", "hair")]
    out.append((np.array(places), np.array([0.09, 0.066, 0.094, 0.082]), np.array(colours)))


def _racket(out: list[tuple[Points, Points, Points]], racket: Points, looks: BeadLooks) -> None:
    """Add balls along handle, shaft and head."""
    hand, tip, across = racket
    unit = (tip - hand) / max(float(np.linalg.norm(tip - hand)), 1e-6)
    line = hand + np.linspace(-0.08, 0.32, 26)[:, None] * unit
    turns = np.linspace(0, 2 * np.pi, 44)[:, None]
    ring = hand + 0.5 * unit + 0.18 * np.cos(turns) * unit + 0.1 * np.sin(turns) * across
    places = np.concatenate([line, ring])
    sizes = np.concatenate([np.full(26, 0.013), np.full(44, 0.01)])
    out.append((places, sizes, np.tile(looks.colours["racket"], (len(places), 1))))


@njit(cache=True)
def splat(
    colour: Picture, depth: Picture, pixels: Points, distance: Points, radii: Points, tints: Points
) -> None:
    """Draw shaded balls into a colour and a depth buffer; light falls from above and the left."""
    height, width = depth.shape
    for i in range(len(pixels)):
        if distance[i] < 0.3:
            continue
        radius = max(radii[i], 0.5)
        low_v, high_v = max(0, int(pixels[i, 1] - radius)), min(height - 1, int(pixels[i, 1] + radius + 1))
        low_u, high_u = max(0, int(pixels[i, 0] - radius)), min(width - 1, int(pixels[i, 0] + radius + 1))
        for v in range(low_v, high_v + 1):
            for u in range(low_u, high_u + 1):
                x, y = (u + 0.5 - pixels[i, 0]) / radius, (v + 0.5 - pixels[i, 1]) / radius
                squared = x * x + y * y
                if squared > 1:
                    continue
                bulge = (1 - squared) ** 0.5
                here = distance[i] - bulge * radius * distance[i] * 0.0015
                if here >= depth[v, u]:
                    continue
                depth[v, u] = here
                tone = 0.62 + 0.3 * bulge - 0.26 * y - 0.08 * x
                for channel in range(3):
                    colour[v, u, channel] = tone * tints[i, channel]
