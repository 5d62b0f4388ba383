"""Routes, one module for each step or page; each parses, calls one task and renders."""

from goodlength.web.routes import fonts, later, matches, players, record, settings

ROUTERS = (
    fonts.router,
    matches.router,
    players.router,
    settings.router,
    later.router,
    record.router,
)
