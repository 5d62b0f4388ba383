"""Routes, one module for each step or page; each parses, calls one task and renders."""

from goodlength.web.routes.footage import (
    camera,
    detection_review,
    files,
    poses,
    rallies,
    serve_cues,
    serve_measurement,
    tracking,
)
from goodlength.web.routes.library import bin, fonts, players, settings, trust
from goodlength.web.routes.match import findings, imports, matches, record, reports, score_draft
from goodlength.web.routes.practice import aim, calendar, drills, plan, practice, recordings
from goodlength.web.routes.sharing import clips, handout, login, review_list, side_by_side

ROUTERS = (
    login.router,
    fonts.router,
    imports.router,
    matches.router,
    bin.router,
    reports.router,  # before players: /players/{id}/brief
    players.router,
    settings.router,
    trust.router,
    aim.router,
    record.router,
    score_draft.router,
    findings.router,
    handout.router,
    files.router,
    rallies.router,
    detection_review.router,
    camera.router,
    tracking.router,
    serve_measurement.router,
    clips.router,
    side_by_side.router,
    poses.router,
    review_list.router,
    serve_cues.router,
    plan.router,
    drills.router,  # before practice, whose paths end in a player
    calendar.router,
    recordings.router,
    practice.router,
)
