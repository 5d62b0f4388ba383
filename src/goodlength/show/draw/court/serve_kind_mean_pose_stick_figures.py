"""Mean movements side by side at a few moments: one kind of serve against all the others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.errors import OutOfRange
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    path,
    polyline,
    shape,
    svg_text,
)

Floats = NDArray[np.float64]

# Joints in the order of COCO; the head is drawn as a ring round the nose
BONES = (
    (5, 6),
    (5, 7),
    (7, 9),
    (6, 8),
    (8, 10),
    (11, 12),
    (5, 11),
    (6, 12),
    (11, 13),
    (13, 15),
    (12, 14),
    (14, 16),
)
NOSE = 0
MOMENTS_S = (-0.4, -0.3, -0.2, -0.1, 0.0)
NEAR_S = 0.035
CELL_WIDE, CELL_HIGH, TOP, FOOT = 136.0, 208.0, 26.0, 48.0
TRUNK_PX = 58.0
HIPS_AT = 0.6  # of the height of a cell


def draw_movements(
    times_s: ArrayLike,
    of_kind: ArrayLike,
    others: ArrayLike,
    words: tuple[str, str],
    *,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return stick figures of both averages over each other, at up to five moments to the strike.

    Parameters
    ----------
    times_s : array_like, shape (T,)
        Seconds from the strike.
    of_kind, others : array_like, shape (T, 17, 2)
        Average movements in trunk lengths from the hips, down the picture; NaN where not known.
    words : (str, str)
        What each is, with its count ("24 lob serves", "30 other serves").

    Raises
    ------
    OutOfRange
        No moment near any that is drawn.
    """
    times = np.asarray(times_s, float)
    picked = [(at, int(np.argmin(np.abs(times - at)))) for at in MOMENTS_S if len(times)]
    picked = [(at, n) for at, n in picked if abs(times[n] - at) <= NEAR_S]
    if not picked:
        raise OutOfRange("There is no moment within the last 0.4 s before the strike to draw.")
    body = ""
    for k, (at, n) in enumerate(picked):
        middle = CELL_WIDE * (k + 0.5)
        body += _figure(theme, np.asarray(others, float)[n], middle, stroke="side-b", dash="5 4")
        body += _figure(theme, np.asarray(of_kind, float)[n], middle, stroke="side-a", dash=None)
        moment = "the strike" if at == 0 else f"{-at:.1f} s before"
        body += svg_text(theme, middle, TOP + CELL_HIGH + 18, moment, anchor="middle")
    wide = CELL_WIDE * len(picked)
    y = TOP + CELL_HIGH + FOOT - 8
    body += path(theme, f"M4 {y - 4}H34", stroke="side-a", thick=3) + svg_text(theme, 40, y, words[0])
    half = wide / 2
    body += path(theme, f"M{half} {y - 4}H{half + 30}", stroke="side-b", thick=2, dash="5 4")
    body += svg_text(theme, half + 36, y, words[1])
    label = (
        f"Average movement of {words[0]}, drawn through, over {words[1]}, dashed, at {len(picked)} moments."
    )
    return drawing(theme, wide, TOP + CELL_HIGH + FOOT, body, label)


def _figure(theme: DrawingTheme, joints: Floats, middle: float, *, stroke: str, dash: str | None) -> str:
    hips = np.array([middle, TOP + HIPS_AT * CELL_HIGH])
    place: Floats = np.asarray(hips + TRUNK_PX * joints, float)
    seen = [bool(np.isfinite(item).all()) for item in place]
    thick = 3.0 if dash is None else 2.0
    bones = [(a, b) for a, b in BONES if seen[a] and seen[b]]
    parts = [
        path(
            theme, polyline(_pair(place, a, b)), stroke=stroke, thick=thick, dash=dash, stroke_linecap="round"
        )
        for a, b in bones
    ]
    if seen[NOSE]:
        x, y = (float(v) for v in place[NOSE])
        parts.append(
            shape(theme, "circle", fill="none", stroke=stroke, thick=thick, dash=dash, cx=x, cy=y, r=9.0)
        )
    return "".join(parts)


def _pair(place: Floats, a: int, b: int) -> Sequence[tuple[float, float]]:
    return [(float(place[n, 0]), float(place[n, 1])) for n in (a, b)]
