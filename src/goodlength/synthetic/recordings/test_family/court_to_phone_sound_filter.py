"""The way of a court's sound to the phone: levels by octave, drawn for each place, as one all-pole filter.

No edge or wall is worked out: each place has a range of loss at 500 Hz, of slope by octave and of unevenness,
all ASSUMED. The sound leaves the court at a portal; what is further is a way of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.test_family.all_pole_filters import BANDS_HZ
from goodlength.synthetic.recordings.test_family.ray_traced_room_acoustics import SOUND_M_S

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from goodlength.synthetic.recordings.test_family.shot_flight_timing import Spot

Range = tuple[float, float]


@dataclass(frozen=True)
class WayToPhone:
    """A way: portal, metres beyond it, level by octave in dB, factors on direct and late sound, a gain."""

    portal: Spot
    beyond_m: float
    level_db: NDArray[np.float64]
    direct: float = 1.0
    late: float = 1.0
    gain: float = 1.0

    def length_m(self, place: Spot) -> float:
        """Return the way from a place on the court to the phone."""
        return math.dist(place, self.portal) + self.beyond_m

    def travel_s(self, place: Spot) -> float:
        """Return how long the direct sound travels, as the truth counts it."""
        return self.length_m(place) / SOUND_M_S


@dataclass(frozen=True)
class _PlaceRange:
    """From what a place's way is drawn: portal's height, way beyond, loss, slope, unevenness, factors."""

    height_m: Range
    beyond_m: Range
    loss_db: Range
    slope_db: Range
    uneven_db: float
    direct: Range
    late: Range


_PLACES = {
    "above": _PlaceRange((2.2, 4.2), (0.05, 0.8), (0.0, 1.0), (0.0, 0.4), 1.0, (0.9, 1.0), (0.5, 1.0)),
    "gallery": _PlaceRange((2.2, 4.5), (0.9, 7.0), (0.0, 4.0), (0.1, 0.9), 1.8, (0.6, 1.0), (0.6, 1.1)),
    "corner": _PlaceRange((2.2, 4.2), (4.0, 13.0), (2.0, 8.0), (0.4, 1.6), 2.5, (0.3, 0.9), (0.7, 1.1)),
    "door gap": _PlaceRange((0.6, 1.8), (0.3, 3.5), (3.0, 9.0), (0.6, 2.2), 2.5, (0.4, 1.0), (0.5, 0.9)),
    "glass": _PlaceRange((0.9, 1.8), (0.3, 3.0), (17.0, 27.0), (1.0, 3.6), 3.5, (0.5, 1.0), (0.5, 1.0)),
    "next court": _PlaceRange((2.2, 4.6), (3.0, 14.0), (5.0, 14.0), (0.4, 1.8), 3.0, (0.15, 0.8), (0.8, 1.3)),
    "through the wall": _PlaceRange(
        (1.0, 4.0), (1.0, 6.0), (20.0, 30.0), (2.0, 4.5), 4.0, (0.3, 0.8), (0.8, 1.2)
    ),
}


def draw_way(rng: np.random.Generator, place: str) -> WayToPhone:
    """Return a way to the phone from a place of the table: "above", "door gap", "next court" and so on."""
    r, u = _PLACES[place], rng.uniform
    octaves = np.log2(BANDS_HZ / 500.0)
    uneven = np.cumsum(rng.normal(0.0, 0.5 * r.uneven_db, BANDS_HZ.size))
    level = -float(u(*r.loss_db)) - float(u(*r.slope_db)) * octaves + uneven - uneven[3]
    x = float(rng.choice([0.4, WIDTH_M - 0.4])) if place == "corner" else float(u(0.8, WIDTH_M - 0.8))
    if place == "through the wall":
        portal = (0.05, float(u(3.0, 9.0)), float(u(*r.height_m)))
    else:
        portal = (x, LENGTH_M, float(u(*r.height_m)))
    return WayToPhone(
        portal, float(u(*r.beyond_m)), np.clip(level, -60.0, 6.0), float(u(*r.direct)), float(u(*r.late))
    )
