"""Tell two players apart by clothing colours, learnt over a match and applied to each rally."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from goodlength.measure.players.player_tracking import ClothingColours, Tracks

Floats = NDArray[np.float64]

LEAST_SPREAD = 6.0  # of 255: light over the court differs by about so much
ALIKE = 4.0  # spreads apart under which clothes do not tell two players from each other
SURE = 3.0  # log odds from which a rally's players count as told apart


def clothing_of(rallies: Sequence[Tracks]) -> ClothingColours | None:
    """Return the clothes of both players, learnt from paths whose players are in no order.

    Each rally has one of each; which is which is guessed, the colours worked out, and guessed again.

    Returns
    -------
    Clothing or None
        None where no rally shows the clothes of both.

    Examples
    --------
    >>> clothing_of([]) is None
    True
    """
    usable = [rally for rally in rallies if np.isfinite(rally.colours).all()]
    if not usable:
        return None
    pairs = np.array([tracks.colours for tracks in usable])
    varied = np.maximum(LEAST_SPREAD, np.median([tracks.varied for tracks in usable], axis=0))
    best: tuple[float, Floats] | None = None
    # Begun from the rallies in which the two differ most; the best end is taken.
    apart = np.linalg.norm((pairs[:, 0] - pairs[:, 1]) / varied, axis=1)
    for start in np.argsort(-apart)[:5]:
        middle = pairs[start]
        for _ in range(20):
            turned = order_by_player(pairs, middle, varied)
            fresh = np.median(turned, axis=0)
            if np.allclose(fresh, middle):
                break
            middle = fresh
        cost = float(np.abs((order_by_player(pairs, middle, varied) - middle) / varied).sum())
        if best is None or cost < best[0]:
            best = (cost, middle)
    assert best is not None
    return ClothingColours(best[1], varied)


def order_by_player(pairs: Floats, middle: Floats, spread: Floats) -> Floats:
    """Return pairs of colours (n, 2, 12), each in the order that fits the two cluster centres better."""
    straight = (((pairs - middle) / spread) ** 2).sum(axis=(1, 2))
    crossed = (((pairs[:, ::-1] - middle) / spread) ** 2).sum(axis=(1, 2))
    return np.where((crossed < straight)[:, None, None], pairs[:, ::-1], pairs)


def separate_players(paths: Tracks, clothing: ClothingColours) -> float:
    """Log odds that path 0 is player 0, by the clothes: positive for yes, 0 for no telling.

    Limits
    ------
    Of a path that mixes both players it says only which of them there is more of.
    """
    known = np.isfinite(paths.colours).all(axis=0)
    if not known.any() or clothing.apart < ALIKE:
        return 0.0
    colours, middle, spread = paths.colours[:, known], clothing.middle[:, known], clothing.spread[known]
    straight = (((colours - middle) / spread) ** 2).sum()
    crossed = (((colours[::-1] - middle) / spread) ** 2).sum()
    return float(np.clip((crossed - straight) / 2.0, -20.0, 20.0))


def colours_seen(clothing: ClothingColours) -> tuple[tuple[str, str], tuple[str, str]]:
    """Return shirt and shorts of both players as colours for a screen, such as "#2d4c66".

    Source: CIE-LAB, to sRGB with the white point D65.
    """
    return _pair(clothing.middle[0]), _pair(clothing.middle[1])


def _pair(middle: Floats) -> tuple[str, str]:
    return _hex(middle[3:6]), _hex(middle[6:9])


def _hex(lab: Floats) -> str:
    """Return a colour as OpenCV counts it (0 to 255, colours from 128) as red, green and blue."""
    y = (lab[0] * 100.0 / 255.0 + 16.0) / 116.0
    steps = np.array([y + (lab[1] - 128.0) / 500.0, y, y - (lab[2] - 128.0) / 200.0])
    white = np.array([0.95047, 1.0, 1.08883])
    xyz = white * np.where(steps > 6.0 / 29.0, steps**3, 3 * (6.0 / 29.0) ** 2 * (steps - 4.0 / 29.0))
    to_rgb = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
    light = np.clip(to_rgb @ xyz, 0.0, 1.0)
    shown = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * float(value)):02x}" for value in shown)
