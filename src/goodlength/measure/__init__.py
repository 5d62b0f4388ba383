"""measure: what footage, ball, court and rules say together: drafts of the sheet, serves measured.

It never writes to the record: everything is a proposal with its doubt. It reads no pictures itself.
Public: `draft_scores`, `ScoreDraft`, `DraftRefused`, `Proposal`, `UnplacedRally`, `CoachAnswer`, `Scores`,
`Observation`, `FeetObservation`, `observe`,
`observe_from_feet`, `scores_from`, `OFFERED_RIGHT`; and in `served` and `servemarks` `measure_serve`,
`MeasuredServe`, `Mark`, which need the camera and the ball and are imported where they are used.
"""

from goodlength.measure.score.score_draft_from_servers import (
    LEAST_OFFERED,
    OFFERED_RIGHT,
    CoachAnswer,
    DraftRefused,
    Proposal,
    ScoreDraft,
    UnplacedRally,
    draft_scores,
)
from goodlength.measure.score.score_lattice import Scores, scores_from
from goodlength.measure.score.server_and_box_likelihoods import (
    FeetObservation,
    Observation,
    no_rally_given_feet,
    observe,
    observe_from_feet,
)

__all__ = [
    "LEAST_OFFERED",
    "OFFERED_RIGHT",
    "CoachAnswer",
    "DraftRefused",
    "FeetObservation",
    "Observation",
    "Proposal",
    "ScoreDraft",
    "Scores",
    "UnplacedRally",
    "draft_scores",
    "no_rally_given_feet",
    "observe",
    "observe_from_feet",
    "scores_from",
]
