"""Routes, one module for each step or page; each parses, calls one task and renders."""

from goodlength.web.routes import (
    aim,
    book,
    camera,
    door,
    draft,
    drills,
    findings,
    fonts,
    footage,
    handout,
    imports,
    matches,
    plan,
    players,
    practice,
    rallies,
    record,
    recordings,
    settings,
    sheets,
    show,
)

ROUTERS = (
    door.router,
    fonts.router,
    imports.router,
    matches.router,
    sheets.router,  # before players: /players/{id}/brief
    players.router,
    settings.router,
    aim.router,
    record.router,
    draft.router,
    findings.router,
    handout.router,
    footage.router,
    rallies.router,
    camera.router,
    show.router,
    plan.router,
    drills.router,  # before practice, whose paths end in a player
    book.router,
    recordings.router,
    practice.router,
)
