"""JSON form of the bounce calibration of a court."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from goodlength.ball.model.ball_and_court_calibration_result import Calibration
from goodlength.files.json_types import Json

if TYPE_CHECKING:
    pass


def calibration_form(found: Calibration) -> dict[str, Json]:
    """Return the JSON of `court calibrate --json`: each number before and after."""
    return {
        "court": found.court,
        "ball": found.ball,
        "date": found.date,
        "drops": found.drops,
        "hits": found.hits,
        "marks": found.marks,
        "words": found.words(),
        "learnt": [asdict(row) for row in found.learnt()],
    }
