"""measure: what footage, ball, court and rules say together: drafts of the sheet, serves measured.

It never writes to the record: everything is a proposal with its doubt. It reads no pictures itself.
Public: `draft`, `Draft`, `NoDraft`, `Proposal`, `Lost`, `Told`, `Scores`, `Sighting`, `Feet`, `seen`,
`seen_from_feet`, `scores_from`, `OFFERED_RIGHT`; and in `served` and `servemarks` `measure_serve`,
`MeasuredServe`, `Mark`, which need the camera and the ball and are imported where they are used.
"""

from goodlength.measure.draft import (
    LEAST_OFFERED,
    OFFERED_RIGHT,
    Draft,
    Lost,
    NoDraft,
    Proposal,
    Told,
    draft,
)
from goodlength.measure.lattice import Scores, scores_from
from goodlength.measure.sightings import Feet, Sighting, seen, seen_from_feet

__all__ = [
    "LEAST_OFFERED",
    "OFFERED_RIGHT",
    "Draft",
    "Feet",
    "Lost",
    "NoDraft",
    "Proposal",
    "Scores",
    "Sighting",
    "Told",
    "draft",
    "scores_from",
    "seen",
    "seen_from_feet",
]
