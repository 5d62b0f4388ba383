"""Routes, one module for each step or page; each parses, calls one task and renders."""

from goodlength.web.routes.footage import (
    camera_calibration,
    detected_rallies,
    detection_audit,
    footage_files,
    player_tracking,
    serve_anticipation_cues,
    serve_measurement,
    strike_pose_correction,
    video_transfer,
)
from goodlength.web.routes.library import (
    demo_and_tour,
    fonts,
    help,
    library_care,
    players,
    recycle_bin,
    reliability_page,
    settings,
)
from goodlength.web.routes.match import (
    between_games_sheet,
    findings,
    match_import_confirmation,
    match_preparation,
    matches,
    observer_comparison,
    opponent_report,
    record_page,
    score_draft,
    season_search,
)
from goodlength.web.routes.playback import frame_drawings, previews_and_impacts
from goodlength.web.routes.practice import (
    aim,
    drills,
    practice_log,
    practice_plan,
    practice_recordings,
    season_calendar,
)
from goodlength.web.routes.sharing import (
    handout,
    passcode_login_and_handout_links,
    rally_playback_and_clips,
    side_by_side,
    video_session_playlist,
)

ROUTERS = (
    passcode_login_and_handout_links.router,
    fonts.router,
    match_import_confirmation.router,
    match_preparation.router,
    demo_and_tour.router,
    matches.router,
    recycle_bin.router,
    opponent_report.router,  # before players: /players/{id}/brief
    between_games_sheet.router,
    season_search.router,
    observer_comparison.router,
    players.router,
    settings.router,
    library_care.router,
    help.router,
    reliability_page.router,
    aim.router,
    record_page.router,
    score_draft.router,
    findings.router,
    handout.router,
    video_transfer.router,
    footage_files.router,
    previews_and_impacts.router,
    frame_drawings.router,
    detected_rallies.router,
    detection_audit.router,
    camera_calibration.router,
    player_tracking.router,
    serve_measurement.router,
    rally_playback_and_clips.router,
    side_by_side.router,
    strike_pose_correction.router,
    video_session_playlist.router,
    serve_anticipation_cues.router,
    practice_plan.router,
    drills.router,  # before practice, whose paths end in a player
    season_calendar.router,
    practice_recordings.router,
    practice_log.router,
)
