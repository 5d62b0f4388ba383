"""People as painted silhouettes: limbs as tapered strips, further ones first, cloth as a layer over them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
Bytes = NDArray[np.uint8]
SHIFT = 4
# From joint, to joint, half widths at both ends in m, part; ASSUMED
ASSUMED_STRIPS = (
    (10, 12, 0.085, 0.060, "skin"), (11, 13, 0.085, 0.060, "skin"),
    (12, 14, 0.058, 0.038, "skin"), (13, 15, 0.058, 0.038, "skin"),
    (10, 12, 0.100, 0.098, "shorts"), (11, 13, 0.100, 0.098, "shorts"),
    (14, 18, 0.043, 0.030, "shoe"), (15, 19, 0.043, 0.030, "shoe"),
    (16, 18, 0.038, 0.030, "shoe"), (17, 19, 0.038, 0.030, "shoe"),
    (4, 6, 0.050, 0.042, "skin"), (5, 7, 0.050, 0.042, "skin"),
    (6, 8, 0.041, 0.028, "skin"), (7, 9, 0.041, 0.028, "skin"),
    (4, 6, 0.070, 0.068, "shirt"), (5, 7, 0.070, 0.068, "shirt"),
)  # fmt: skip
ASSUMED_PART_ENDS = {"shorts": 0.72, "shirt": 0.55, "skin": 1.0, "shoe": 1.0}
PARTS = ("skin", "shirt", "shorts", "shoe", "hair", "racket")


@dataclass(frozen=True)
class PaintedLooks:
    """Colours by part (linear, 0 to 1), a pattern of cloth, and girth beside the usual."""

    colours: dict[str, Picture]
    pattern: Picture
    girth: float
    trousers: bool


def draw_painted_looks(seed: int, clothes: str, played: bool) -> PaintedLooks:
    """Return looks from a seed."""
    rng = np.random.default_rng([seed, 7])
    skin = float(np.exp(rng.uniform(np.log(0.07), np.log(0.6))))
    colours = {part: rng.beta(0.8, 1.2, 3) * 0.75 + 0.02 for part in PARTS}
    colours["skin"] = skin * np.array([1.0, rng.uniform(0.56, 0.7), rng.uniform(0.38, 0.55)])
    colours["hair"] = float(np.exp(rng.uniform(np.log(0.01), np.log(0.4)))) * np.array([1.0, 0.75, 0.5])
    if clothes == "both white" and played:
        colours["shirt"] = colours["shorts"] = np.full(3, 0.72)
    rows = rng.normal(0, 1, (int(rng.integers(4, 20)), int(rng.integers(3, 10)))).astype(np.float32)
    pattern = 1 + float(rng.choice([0.06, 0.12, 0.25])) * cv2.resize(rows, (96, 192))
    return PaintedLooks(
        {part: np.asarray(colour, np.float32) for part, colour in colours.items()},
        np.asarray(pattern.clip(0.4, 1.6), np.float32),
        float(rng.uniform(0.88, 1.2)),
        not played and bool(rng.random() < 0.85),
    )


class SilhouetteBrush:
    """Paints parts of one body on a patch of bytes, with soft edges."""

    def __init__(self, shape: tuple[int, int], corner: Points, light_from: float) -> None:
        self.paint = np.zeros((*shape, 3), np.uint8)
        self.cover = np.zeros(shape, np.uint8)
        self.corner, self.light_from = corner, light_from

    def polygon(self, points: Points, colour: Picture, cover: bool = True) -> None:
        """Fill a convex polygon."""
        fixed = np.round((points - self.corner - 0.5) * 2**SHIFT).clip(-(2**20), 2**20).astype(np.int32)
        shown = tuple(float(c) for c in (255 * np.sqrt(colour.clip(0, 1))))
        cv2.fillConvexPoly(self.paint, fixed, shown, cv2.LINE_AA, SHIFT)
        if cover:
            cv2.fillConvexPoly(self.cover, fixed, 255, cv2.LINE_AA, SHIFT)

    def strip(self, a: Points, b: Points, wide_a: float, wide_b: float, colour: Picture) -> None:
        """Paint a limb: a tapered strip with round ends, darker at its edge, lighter towards the lamps."""
        way = b - a
        unit = way / max(float(np.hypot(*way)), 1e-6)
        aside = np.array([-unit[1], unit[0]])
        to_light = self.light_from if aside[1] < 0 else -self.light_from
        for share, tone, off in ((1.0, 0.62, 0.0), (0.78, 0.86, 0.1), (0.42, 1.05, 0.25)):
            move = off * to_light * aside
            turns = np.linspace(0, np.pi, 7)[:, None]
            head = a + wide_a * (move + share * (np.cos(turns) * aside - np.sin(turns) * unit))
            tail = b + wide_b * (move + share * (-np.cos(turns) * aside + np.sin(turns) * unit))
            self.polygon(np.concatenate([head, tail]), tone * colour, share == 1.0)


def paint_body(
    brush: SilhouetteBrush,
    pixels: Points,
    distance: Points,
    racket_px: Points | None,
    focal: float,
    looks: PaintedLooks,
) -> None:
    """Paint a person.

    Parameters
    ----------
    brush : SilhouetteBrush
    pixels, distance : ndarray, shape (20, 2) and (20,)
        Joints in the picture and how far away they are.
    racket_px : ndarray, shape (4, 2), optional
        Hand, throat, tip and the racket's side.
    focal : float
    looks : PaintedLooks
    """
    scale = focal * looks.girth / np.maximum(distance, 0.3)
    order: list[tuple[float, int]] = [
        (float(distance[[a, b]].mean()), i) for i, (a, b, *_) in enumerate(ASSUMED_STRIPS)
    ]
    trunk = float(distance[[4, 5, 10, 11]].mean())
    order += [(trunk, -1), (float(distance[1]), -2)]
    if racket_px is not None:
        order.append((float(distance[8:10].min()), -3))
    for _, index in sorted(order, key=lambda item: (-item[0], item[1] == -1)):
        if index == -1:
            _trunk(brush, pixels, scale, looks)
        elif index == -2:
            _head(brush, pixels, scale, distance, looks)
        elif index == -3 and racket_px is not None:
            _racket(brush, racket_px, float(scale[8:10].max()), looks)
        else:
            a, b, wide_a, wide_b, part = ASSUMED_STRIPS[index]
            name = "shorts" if looks.trousers and a in (10, 11, 12, 13) and part == "skin" else part
            end = pixels[a] + ASSUMED_PART_ENDS[part] * (pixels[b] - pixels[a])
            brush.strip(
                pixels[a], end, wide_a * float(scale[a]), wide_b * float(scale[b]), looks.colours[name]
            )


def _trunk(brush: SilhouetteBrush, pixels: Points, scale: Points, looks: PaintedLooks) -> None:
    """Paint hips in the shorts' colour and the shirt over them."""
    hips, shoulders = pixels[[10, 11]], pixels[[4, 5]]
    low, high = hips.mean(0), 0.5 * shoulders.mean(0) + 0.5 * pixels[2]
    brush.strip(hips[0], hips[1], 0.10 * float(scale[3]), 0.10 * float(scale[3]), looks.colours["shorts"])
    waist = low + 0.12 * (high - low)
    size, colour = float(scale[4]), looks.colours["shirt"]
    brush.strip(waist, high, 0.125 * float(scale[3]), 0.085 * size, colour)
    along = (low - high) / max(float(np.hypot(*(low - high))), 1e-6)
    outward = (shoulders[1] - shoulders[0]) / max(float(np.hypot(*(shoulders[1] - shoulders[0]))), 1e-6)
    corners = np.array([shoulders[0], shoulders[1], hips[1], hips[0]])
    for tone, inset in ((0.82, 0.0), (0.98, 0.03)):
        wide = np.array([-0.045, 0.045, 0.03, -0.03])[:, None] * (1 - 8 * inset) * size * outward
        deep = np.array([-0.03 + inset, -0.03 + inset, -0.02 - inset, -0.02 - inset])[:, None] * size * along
        brush.polygon(corners + wide + deep, tone * colour, inset == 0.0)


def _head(
    brush: SilhouetteBrush, pixels: Points, scale: Points, distance: Points, looks: PaintedLooks
) -> None:
    """Paint neck, head and hair; of a head turned away the hair is seen."""
    size = float(scale[1]) / looks.girth
    brush.strip(
        pixels[2], pixels[2] + 0.5 * (pixels[1] - pixels[2]), 0.055 * size, 0.05 * size, looks.colours["skin"]
    )
    base = pixels[2] + 0.5 * (pixels[1] - pixels[2])
    top = pixels[2] + 0.86 * (pixels[1] - pixels[2])
    away = distance[0] > distance[1] + 0.03
    first, second = ("skin", "hair") if not away else ("hair", "hair")
    brush.strip(base, top, 0.068 * size, 0.078 * size, looks.colours[first])
    brush.strip(
        top - 0.1 * (top - base), top + 0.12 * (top - base), 0.082 * size, 0.072 * size, looks.colours[second]
    )


def _racket(brush: SilhouetteBrush, racket_px: Points, scale: float, looks: PaintedLooks) -> None:
    """Paint a handle, and the head as an outline of short strips."""
    hand, throat, tip, side = racket_px
    colour, thick = looks.colours["racket"], max(0.012 * scale / looks.girth, 0.35)
    brush.strip(hand, throat, thick, 0.7 * thick, colour)
    middle, along = 0.5 * (throat + tip), 0.5 * (tip - throat)
    turns = np.linspace(0, 2 * np.pi, 13)[:, None]
    ring = middle + np.cos(turns) * along + np.sin(turns) * (side - middle)
    for a, b in itertools.pairwise(ring):
        brush.strip(a, b, 0.8 * thick, 0.8 * thick, colour)
