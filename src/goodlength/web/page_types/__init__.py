"""The shapes of everything that the server sends to the page's scripts.

`scripts/page_types.py` writes them to static/js/lib/server/message-types.d.ts, together with the bodies that
routes take. Every answer that the tests ask for is held against `ANSWERS`.
"""

from collections.abc import Mapping
from typing import Any

from goodlength.web.page_types.ball_paths import PathProposalsJson, RallyDrawingJson
from goodlength.web.page_types.clips_and_poses import (
    HandoutPreviewJson,
    PoseJson,
    SetsStoredJson,
    SideBySideJson,
)
from goodlength.web.page_types.detected_rallies import (
    DetectedRalliesJson,
    DetectionReviewJson,
    DraftJson,
)
from goodlength.web.page_types.picked_points import (
    CameraDriftJson,
    CameraRemovedJson,
    CourtProposalJson,
    FoundBallJson,
    KindRecordedJson,
    MeasuredServeJson,
    MeasurementSavedJson,
    SavedCamerasJson,
    SolvedCameraJson,
)
from goodlength.web.page_types.playback import (
    AbandonedJson,
    BallInPictureJson,
    FilesJson,
    FootageAddedJson,
    FrameDrawingsJson,
    FrameTableJson,
    FrameTimesJson,
    ImpactsJson,
    JobJson,
    MatchStatesJson,
    NewMatchJson,
    PictureOverlayJson,
    PreparationJson,
    PreviewSheetsJson,
    RestoredJson,
    SavedNamesJson,
    TransferJson,
    TransfersJson,
)
from goodlength.web.page_types.rally_scoresheet import SheetJson, StoredJson, StoredSpanJson

FOOTAGE, MATCH = "/api/footage/{id}", "/api/matches/{id}"
ANSWERS: Mapping[str, Any] = {
    f"GET {FOOTAGE}/camera": SavedCamerasJson,
    f"POST {FOOTAGE}/camera": SolvedCameraJson,
    f"POST {FOOTAGE}/camera/forget": CameraRemovedJson,
    f"GET {FOOTAGE}/court": CourtProposalJson,
    f"GET {FOOTAGE}/drift": CameraDriftJson,
    f"GET {FOOTAGE}/frames": FrameTableJson,
    f"GET {FOOTAGE}/previews": PreviewSheetsJson,
    f"POST {FOOTAGE}/previews": PreviewSheetsJson,
    f"GET {FOOTAGE}/times": FrameTimesJson,
    "GET /api/jobs/{id}": JobJson,
    "POST /api/jobs/{id}/cancel": JobJson,
    "GET /api/match-states": MatchStatesJson,
    "POST /api/settings/restore/upload": RestoredJson,
    "POST /api/new-match-from-video": NewMatchJson,
    f"POST {MATCH}/abandon": AbandonedJson,
    f"POST {MATCH}/names": SavedNamesJson,
    f"GET {MATCH}/preparation": PreparationJson,
    f"POST {MATCH}/beside": SideBySideJson,
    f"GET {MATCH}/body": PoseJson,
    f"POST {MATCH}/body/feet": PoseJson,
    f"POST {MATCH}/body/joint": PoseJson,
    f"POST {MATCH}/draft": DraftJson,
    f"POST {MATCH}/draft/accept": DraftJson,
    f"POST {MATCH}/draft/take-back": DraftJson,
    f"GET {MATCH}/drawings": FrameDrawingsJson,
    f"POST {MATCH}/drawings": FrameDrawingsJson,
    f"POST {MATCH}/drawings/{{drawing}}/remove": FrameDrawingsJson,
    f"POST {MATCH}/entries": StoredJson,
    f"GET {MATCH}/films": FilesJson,
    f"POST {MATCH}/footage/upload": FootageAddedJson,
    f"GET {MATCH}/heard": DetectedRalliesJson,
    f"POST {MATCH}/handout/preview": HandoutPreviewJson,
    f"GET {MATCH}/impacts": ImpactsJson,
    f"POST {MATCH}/heard": DetectedRalliesJson,
    f"POST {MATCH}/heard/{{rally}}": DetectedRalliesJson,
    f"GET {MATCH}/ball": BallInPictureJson,
    f"GET {MATCH}/paths/{{rally}}": RallyDrawingJson,
    f"POST {MATCH}/paths/{{rally}}/next": RallyDrawingJson,
    f"POST {MATCH}/paths/{{rally}}/strike": RallyDrawingJson,
    f"POST {MATCH}/paths/{{rally}}/no-shot": RallyDrawingJson,
    f"POST {MATCH}/paths/{{rally}}/mark": RallyDrawingJson,
    f"POST {MATCH}/paths/{{rally}}/undo": RallyDrawingJson,
    f"POST {MATCH}/paths/{{rally}}/again": RallyDrawingJson,
    f"GET {MATCH}/proposals": PathProposalsJson,
    f"GET {MATCH}/overlay": PictureOverlayJson,
    f"GET {MATCH}/review": DetectionReviewJson,
    f"POST {MATCH}/review/{{card}}": DetectionReviewJson,
    f"POST {MATCH}/serves/{{rally}}/ball": FoundBallJson,
    f"POST {MATCH}/serves/{{rally}}/forget": MeasurementSavedJson,
    f"POST {MATCH}/serves/{{rally}}/keep": MeasurementSavedJson,
    f"POST {MATCH}/serves/{{rally}}/kind": KindRecordedJson,
    f"POST {MATCH}/serves/{{rally}}/try": MeasuredServeJson,
    f"GET {MATCH}/sheet": SheetJson,
    f"POST {MATCH}/span": StoredSpanJson,
    f"GET {MATCH}/transfers": TransfersJson,
    f"POST {MATCH}/transfers": TransferJson,
    "GET /api/transfers/{id}": TransferJson,
    "POST /api/transfers/{id}/cancel": TransfersJson,
    "POST /api/transfers/{id}/finish": TransferJson,
    "POST /api/transfers/{id}/piece": TransferJson,
    "POST /api/practice/{id}/sets": SetsStoredJson,
}
