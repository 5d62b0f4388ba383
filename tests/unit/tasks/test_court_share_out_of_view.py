"""How much of the court a camera cannot show."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.tasks.ball.court_share_out_of_view import outside_shares, outside_words


class LeftPart:
    """A lens that shows what lies left of a place across the court; without the floor, the front wall alone."""

    def __init__(self, until_m: float, *, floor: bool = True) -> None:
        self.until_m, self.floor = until_m, floor

    def project(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return points[:, :2], np.ones(len(points), bool) if self.floor else points[:, 1] < 0.1

    def inside(self, uv: np.ndarray) -> np.ndarray:
        return uv[:, 0] <= self.until_m


def test_half_a_court_outside_the_picture_is_told() -> None:
    half = LeftPart(3.2)
    assert outside_shares(half) == pytest.approx((0.5, 0.5))  # type: ignore[arg-type]
    assert outside_words(half).startswith("About 50% of the floor and 50% of the front wall is outside")  # type: ignore[arg-type]
    wall_only = LeftPart(7.0, floor=False)
    assert outside_words(wall_only).startswith("About 96% of the floor is outside")  # type: ignore[arg-type]
    assert outside_words(LeftPart(7.0)) == ""  # type: ignore[arg-type]
