"""The match line: who led, rally by rally, game by game."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from goodlength.errors import InputError
from goodlength.show.draw.primitives import (
    PAGE,
    DrawingTheme,
    drawing,
    num,
    path,
    polyline,
    shape,
    svg_text,
)
from goodlength.show.draw.text_width import width

_WIDE = 812.0
_LEFT, _RIGHT = 44.0, 804.0
_TOP, _PER_POINT = 44.0, 12.0  # px; a lead of one point is 12 px high
_LEAST_LEAD = 4  # points: the scale shows at least this lead either way


@dataclass(frozen=True)
class LineGame:
    """One game: its name, its final score in words, and the points of both after each rally.

    `points` begins with the score the game started from, so a game of n rallies has n + 1 pairs.
    """

    words: str
    score: str
    points: tuple[tuple[int, int], ...]


def match_line(
    games: Sequence[LineGame],
    names: tuple[str, str],
    *,
    marks: Sequence[tuple[int, int]] = (),
    look: DrawingTheme = PAGE,
) -> str:
    """How far the first-named player led after each rally; above the middle line she led.

    Parameters
    ----------
    games : sequence of LineGame
        In the order played; lets left out.
    names : (str, str)
        The player the line belongs to, then the opponent.
    marks : sequence of (game, rally)
        Places to number 1, 2, ... on the line; both count from 0, rally 0 is the game's start.

    Raises
    ------
    InputError
        If there is no game with a rally.
    """
    rallies = sum(len(game.points) - 1 for game in games)
    if rallies < 1:
        raise InputError("cannot draw the match line: no rally is recorded yet. Record one rally first.")
    most = max(_LEAST_LEAD, *(abs(a - b) for game in games for a, b in game.points))
    middle = _TOP + 8 + most * _PER_POINT
    bottom = middle + most * _PER_POINT + 8
    step = (_RIGHT - _LEFT) / rallies
    starts = [_LEFT]
    for game in games:
        starts.append(starts[-1] + step * (len(game.points) - 1))
    body = _ground(look, games, starts, (_TOP, bottom)) + _leads(look, most, middle)
    for name, y in ((names[0], _TOP + 12.0), (names[1], bottom - 5.0)):
        body += svg_text(look, _RIGHT, y, f"{name} ahead", anchor="end", halo="sheet")

    def place(game: int, rally: int) -> tuple[float, float]:
        a, b = games[game].points[rally]
        return starts[game] + rally * step, middle - (a - b) * _PER_POINT

    for n, game in enumerate(games):
        line = polyline([place(n, rally) for rally in range(len(game.points))])
        body += path(look, line, stroke="side-a", thick=2.2, stroke_linejoin="round")
    for n, (game_n, rally) in enumerate(marks, start=1):
        body += _numbered(look, n, *place(game_n, rally))
    body += svg_text(look, _LEFT, bottom + 18, "Rally 1")
    body += svg_text(look, _RIGHT, bottom + 18, f"Rally {rallies}, lets left out", anchor="end")
    return drawing(look, _WIDE, bottom + 26, body, _words(games, names))


def _ground(
    look: DrawingTheme, games: Sequence[LineGame], starts: Sequence[float], span: tuple[float, float]
) -> str:
    """Every other game on a second tone, its name above, a line between games."""
    top, bottom = span
    body = ""
    for n, game in enumerate(games):
        left, right = starts[n], starts[n + 1]
        if n % 2:
            body += shape(
                look, "rect", fill="sheet-2", x=left, y=top, width=right - left, height=bottom - top
            )
        name, score = (game.words, f" {game.score}") if game.score else (game.words, "")
        room = width(name, 15, bold=True)
        whole = room + width(score, 15)
        if whole <= right - left:
            at = (left + right - whole) / 2
            body += svg_text(look, at, 20, name, size=15, ink="ink", bold=True)
            body += svg_text(look, at + room, 20, score, size=15, ink="ink") if score else ""
        elif right - left >= width(game.score, 13):
            body += svg_text(look, (left + right) / 2, 20, game.score, anchor="middle")
        if n:
            body += path(look, f"M{num(left)} {num(top)}V{num(bottom)}", stroke="rule-strong", thick=1)
    return body


def _leads(look: DrawingTheme, most: int, middle: float) -> str:
    """The level line, dashed, and hairlines at each few points of lead."""
    every = 2 if most <= 6 else 4
    body = path(look, f"M{num(_LEFT)} {num(middle)}H{num(_RIGHT)}", stroke="ink-3", thick=1, dash="4 3")
    body += svg_text(look, _LEFT - 8, middle + 4.5, "level", anchor="end")
    for lead in range(every, most + 1, every):
        for y in (middle - lead * _PER_POINT, middle + lead * _PER_POINT):
            body += path(look, f"M{num(_LEFT)} {num(y)}H{num(_RIGHT)}", stroke="rule", thick=1)
            body += svg_text(look, _LEFT - 8, y + 4.5, f"{lead}", anchor="end")
    return body


def _numbered(look: DrawingTheme, n: int, x: float, y: float) -> str:
    """A numbered ring over the line, joined to its place."""
    ring_y = _TOP + 14
    body = path(look, f"M{num(x)} {num(ring_y + 10)}V{num(y)}", stroke="ink", thick=1.2)
    body += shape(look, "circle", fill="ink", cx=x, cy=y, r=2.6)
    body += shape(look, "circle", fill="sheet", stroke="ink", thick=1.6, cx=x, cy=ring_y, r=10)
    return body + svg_text(look, x, ring_y + 4.6, str(n), ink="ink", bold=True, anchor="middle")


def _words(games: Sequence[LineGame], names: tuple[str, str]) -> str:
    told = [f"Points {names[0]} led {names[1]} by after each rally."]
    for game in games:
        leads = [a - b for a, b in game.points]
        ahead, behind = max(leads), -min(leads)
        told.append(
            f"{game.words}{' ' + game.score if game.score else ''}: "
            + (f"led by at most {ahead}" if ahead > 0 else "never led")
            + (f", trailed by at most {behind}." if behind > 0 else ", never trailed.")
        )
    return " ".join(told)
