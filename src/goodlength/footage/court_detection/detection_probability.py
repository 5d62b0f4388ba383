"""The chance that a court found by itself is right, from what speaks for it and what against.

```
 share of the lines found ┐
 share of the weakest group │
 strain of the lens         ├─ logistic ─> chance ─> offered, or a reason why not
 lead over the next view    ┘
```
Weights are fitted on films of the learning families and pictures made from them that show no court, part of a
court stretched, other lines, or two courts (`scripts/fit_court_detection_probability.py`); from which chance
on a court is offered was chosen on the choosing family.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.camera.camera_fitting import ASSUMED_OFF_MIDDLE, ASSUMED_TANGENTIAL
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.court_detection.camera_refinement_on_lines import (
    LARGE_PX,
    CameraCandidate,
    views_apart,
)
from goodlength.footage.court_detection.subpixel_line_measurement import MeasuredLine

Bytes = NDArray[np.uint8]
GROUPS = ("floor", "front", "side", "join")
LEAST_GROUP = 0.08  # a group with less of its lines in the picture, in longer sides, is not judged
RIVAL_APART = 0.03
MOST_LEAD = 0.5
# Intercept, and weights of share, weakest group, log of strain, lead.
WEIGHTS = (-9.6, 1.53, 9.21, -2.34, 11.33)
OFFERED_FROM = 0.8
BLOCKS, DARK_SHARE, DARK_BLOCKS = 12, 0.15, 0.3
UNLIT_SHARE, UNLIT_FOUND = 0.35, 0.3  # of the light, and of the lines: what is less is worth a word; ASSUMED


@dataclass(frozen=True)
class CourtEvidence:
    """What speaks for a camera.

    `share` is how much of all lines in the picture was found, `weakest` the same for the group of lines
    least found, `strain` how far the lens is from what lenses are, in standard errors, `lead` how much more
    than the next unlike view this one explains, in longer sides of the picture.
    """

    share: float
    weakest: float
    strain: float
    lead: float

    @property
    def features(self) -> tuple[float, float, float, float]:
        """What the chance is computed from."""
        return self.share, self.weakest, math.log1p(self.strain), min(max(self.lead, 0.0), MOST_LEAD)

    @property
    def chance(self) -> float:
        """Chance that the court is right, 0 to 1."""
        total = WEIGHTS[0] + sum(w * x for w, x in zip(WEIGHTS[1:], self.features, strict=True))
        return 1.0 / (1.0 + math.exp(-total))


def court_evidence(candidates: Sequence[CameraCandidate]) -> CourtEvidence:
    """Return the evidence for the first of some candidates."""
    best = candidates[0]
    long_px = min(1280, best.camera.long_px)
    groups = [[line for line in best.lines if line.line.group == group] for group in GROUPS]
    judged = [lines for lines in groups if sum(line.length_px for line in lines) > LEAST_GROUP * long_px]
    rivals = [c.support for c in candidates[1:] if views_apart(best.camera, c.camera) > RIVAL_APART]
    return CourtEvidence(
        share=_share(best.lines),
        weakest=min(map(_share, judged), default=0.0),
        strain=_strain(best.camera),
        lead=best.support - max([0.0, *rivals]),
    )


def _share(lines: Sequence[MeasuredLine]) -> float:
    """Return which part of the lines was found, by length."""
    total = sum(line.length_px for line in lines)
    return sum(line.share * line.length_px for line in lines) / total if total else 0.0


def _strain(camera: CameraModel) -> float:
    """Return how far off the usual the middle and the tangential terms of a lens are, in standard errors."""
    off = max(map(abs, camera.off_middle)) / ASSUMED_OFF_MIDDLE
    return max(off, max(map(abs, camera.tangential)) / ASSUMED_TANGENTIAL)


def partly_dark(picture: Bytes) -> bool:
    """Return whether a large part of a picture is next to black while the rest is lit."""
    return bool((_light(picture) < DARK_SHARE).mean() >= DARK_BLOCKS)


def unlit_lines(picture: Bytes, best: CameraCandidate) -> bool:
    """Return whether lines of the court lie in a darker part of a picture and next to nothing of them was
    found.
    """
    light = _light(picture)
    here = best.camera
    measured = min(1.0, LARGE_PX / here.long_px) * np.array([here.width, here.height])
    there = found = 0.0
    for line in best.lines:
        uv, seen = here.project(line.line.points(np.linspace(0.0, 1.0, 50)))
        uv = uv[seen & here.inside(uv)]
        there += line.length_px * _unlit_share(light, uv / [here.width, here.height])
        found += line.share * line.length_px * _unlit_share(light, line.uv / measured)
    return bool(there > LEAST_GROUP * measured.max() and found < UNLIT_FOUND * there)


def _unlit_share(light: NDArray[np.float64], places: NDArray[np.float64]) -> float:
    """Return which share of places, 0 to 1 across and down a picture, lies where it is darker."""
    at = np.clip((places * BLOCKS).astype(int), 0, BLOCKS - 1)
    return float((light[at[:, 1], at[:, 0]] < UNLIT_SHARE).mean()) if len(at) else 0.0


def _light(picture: Bytes) -> NDArray[np.float64]:
    """Return the light of parts of a picture, rows by columns, beside that of its lightest tenth."""
    rows, columns = (np.array_split(np.arange(side), BLOCKS) for side in picture.shape[:2])
    grey = picture.mean(axis=2)
    light = np.array([[grey[r[0] : r[-1] + 1, c[0] : c[-1] + 1].mean() for c in columns] for r in rows])
    return np.asarray(light / max(float(np.quantile(light, 0.9)), 1.0))
