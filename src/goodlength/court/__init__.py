"""court: the singles court. Dimensions with source, lines, places on the floor, verdicts, the sheet.

It never knows the score. Metres in the one frame: x from the left wall facing the front wall, y from the
front wall, z up. Public: `SINGLES`, `TIN_M`, `side_wall_line_m`, `floor_zone`, `ZONES`,
`serve_verdict`, `return_verdict`, `CourtSurface`, `BallContact`, `Delivery`, `unfolded`, `to_sheet`.
"""

from goodlength.court.dimensions import SINGLES, TIN_M, Measure, Singles, side_wall_line_m
from goodlength.court.floor_zones import MARKED, PLACES, Zone, clearance_m, floor_zone
from goodlength.court.serve_and_return_legality import (
    VIDEO_MARGIN_M,
    BallContact,
    CourtSurface,
    Delivery,
    Result,
    Verdict,
    return_verdict,
    serve_verdict,
)
from goodlength.court.unfolded_court_layout import (
    SheetLabel,
    SheetShape,
    UnfoldedCourt,
    riser_foot,
    to_sheet,
    unfolded,
)

__all__ = [
    "MARKED",
    "PLACES",
    "SINGLES",
    "TIN_M",
    "VIDEO_MARGIN_M",
    "BallContact",
    "CourtSurface",
    "Delivery",
    "Measure",
    "Result",
    "SheetLabel",
    "SheetShape",
    "Singles",
    "UnfoldedCourt",
    "Verdict",
    "Zone",
    "clearance_m",
    "floor_zone",
    "return_verdict",
    "riser_foot",
    "serve_verdict",
    "side_wall_line_m",
    "to_sheet",
    "unfolded",
]
