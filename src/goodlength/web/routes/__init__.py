"""Routes, one module for each step or page; each parses, calls one task and renders."""

from goodlength.web.routes.footage import (
    camera_calibration,
    detected_rallies,
    detection_review,
    footage_files,
    player_tracking,
    poses,
    serve_disguise,
    serve_measurement,
)
from goodlength.web.routes.library import fonts, players, recycle_bin, reliability_page, settings
from goodlength.web.routes.match import (
    findings,
    match_import,
    match_reports,
    matches,
    record_page,
    score_draft,
)
from goodlength.web.routes.practice import (
    aim,
    calendar,
    drills,
    practice_pages,
    practice_plan,
    practice_recordings,
)
from goodlength.web.routes.sharing import clips, handout, login, review_list, side_by_side

ROUTERS = (
    login.router,
    fonts.router,
    match_import.router,
    matches.router,
    recycle_bin.router,
    match_reports.router,  # before players: /players/{id}/brief
    players.router,
    settings.router,
    reliability_page.router,
    aim.router,
    record_page.router,
    score_draft.router,
    findings.router,
    handout.router,
    footage_files.router,
    detected_rallies.router,
    detection_review.router,
    camera_calibration.router,
    player_tracking.router,
    serve_measurement.router,
    clips.router,
    side_by_side.router,
    poses.router,
    review_list.router,
    serve_disguise.router,
    practice_plan.router,
    drills.router,  # before practice, whose paths end in a player
    calendar.router,
    practice_recordings.router,
    practice_pages.router,
)
