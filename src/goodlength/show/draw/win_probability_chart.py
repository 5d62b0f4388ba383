"""The line of the match: the chance of it after each rally, and how far each rally could swing it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from goodlength.errors import InputError, OutOfRange
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
from goodlength.show.draw.values import percent

_WIDE = 812.0
_LEFT, _RIGHT = 44.0, 804.0
_TOP, _HIGH = 36.0, 192.0  # px, of the panel of the chance
_PAD = 8.0  # px, room above 100 % and below 0 %
_RING_Y = 28.0  # px below the top of the panel
_RING = 10.0
_SPACE = 5.0  # px, between the name of a game and its score
_APART = 30.0  # px between two numbered rings
_SWING_TOP, _SWING_HIGH = 250.0, 46.0  # px, of the bars; the widest swing fills them
_BASE = _SWING_TOP + _SWING_HIGH


@dataclass(frozen=True)
class ChanceGame:
    """One game of the line: its name, its final score in words, and one pair a rally.

    `rallies` are (chance after the rally, how far it could swing the match), both 0 to 1.
    """

    words: str
    score: str
    rallies: tuple[tuple[float, float], ...]


def chance_line(
    games: Sequence[ChanceGame],
    name: str,
    *,
    start: float = 0.5,
    marks: Sequence[int] = (),
    look: DrawingTheme = PAGE,
    side: str = "a",
) -> str:
    """One player's chance of the match after each rally, with the swing of each rally below.

    Parameters
    ----------
    games : sequence of ChanceGame
        In the order played; lets left out.
    name : str
        Whose chance it is, for those who hear the drawing.
    start : float
        The chance before the first rally, 0 to 1.
    marks : sequence of int
        Rallies to number 1, 2, ... on the line, counted from 0 through the whole match.
    side : str
        "a" or "b": whose colour; the opponent's line is dashed.

    Raises
    ------
    InputError
        If there is no game with a rally.
    OutOfRange
        If a chance is not 0 to 1, or a mark names no rally.
    """
    rallies = [pair for game in games for pair in game.rallies]
    if not rallies:
        raise InputError(
            "cannot draw the line of the match: no rally is decided yet. Record one rally first."
        )
    _check(start, rallies, marks)
    step = (_RIGHT - _LEFT) / len(rallies)
    edges = [_LEFT]
    for game in games:
        edges.append(edges[-1] + step * len(game.rallies))
    points = [(_LEFT, _y(start))]
    points += [(_LEFT + (n + 1) * step, _y(chance)) for n, (chance, _) in enumerate(rallies)]
    body = _ground(look, games, edges) + _scale(look)
    dash = "6 3" if side == "b" else None
    body += path(look, polyline(points), stroke=f"side-{side}", thick=2.2, dash=dash, stroke_linejoin="round")
    body += _swings(look, [swing for _, swing in rallies], step, marks)
    body += _numbers(look, [points[n + 1] for n in marks])
    body += svg_text(look, _LEFT, _BASE + 18, "Rally 1")
    body += svg_text(look, _RIGHT, _BASE + 18, f"Rally {len(rallies)}, lets left out", anchor="end")
    return drawing(look, _WIDE, _BASE + 26, body, _description(games, name, start, len(rallies)))


def _check(start: float, rallies: Sequence[tuple[float, float]], marks: Sequence[int]) -> None:
    for value in (start, *(value for pair in rallies for value in pair)):
        if not 0 <= value <= 1:
            raise OutOfRange(f"chances and swings are shares from 0 to 1; got {value!r}.")
    for n in marks:
        if not 0 <= n < len(rallies):
            raise OutOfRange(f"marks count rallies from 0 to {len(rallies) - 1}; got {n}.")


def _y(chance: float) -> float:
    return _TOP + _PAD + (1 - chance) * (_HIGH - 2 * _PAD)


def _ground(look: DrawingTheme, games: Sequence[ChanceGame], edges: Sequence[float]) -> str:
    """Every other game on a second tone, its name above, a line between games."""
    body = ""
    for n, game in enumerate(games):
        left, right = edges[n], edges[n + 1]
        if n % 2:
            body += shape(
                look, "rect", fill="sheet-2", x=left, y=_TOP, width=right - left, height=_BASE - _TOP
            )
        if n:
            body += path(look, f"M{num(left)} {num(_TOP)}V{num(_BASE)}", stroke="rule-strong", thick=1)
        body += _name(look, game, left, right)
    return body


def _name(look: DrawingTheme, game: ChanceGame, left: float, right: float) -> str:
    """Name and score over the game; in a short game its score only, or nothing."""
    room = width(game.words, 15, bold=True) + (_SPACE if game.score else 0.0)
    whole = room + width(game.score, 15)
    if whole <= right - left:
        at = (left + right - whole) / 2
        said = svg_text(look, at, 20, game.words, size=15, ink="ink", bold=True)
        return said + (svg_text(look, at + room, 20, game.score, size=15, ink="ink") if game.score else "")
    if game.score and width(game.score, 13) <= right - left:
        return svg_text(look, (left + right) / 2, 20, game.score, anchor="middle")
    return ""


def _scale(look: DrawingTheme) -> str:
    """Hairlines at quarters; half, where the two are level, dashed."""
    body = ""
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        dash, stroke = ("4 3", "ink-3") if share == 0.5 else (None, "rule")
        if share in {0.0, 1.0}:
            stroke = "rule-strong"
        body += path(look, f"M{num(_LEFT)} {num(_y(share))}H{num(_RIGHT)}", stroke=stroke, thick=1, dash=dash)
        body += svg_text(look, _LEFT - 8, _y(share) + 4.5, f"{share:.0%}", anchor="end")
    return body


def _swings(look: DrawingTheme, swings: Sequence[float], step: float, marks: Sequence[int]) -> str:
    """A bar a rally, the widest as high as the panel; those with a number darker and thicker."""
    most = max(swings) or 1.0
    body = path(look, f"M{num(_LEFT)} {num(_BASE)}H{num(_RIGHT)}", stroke="rule-strong", thick=1)
    body += svg_text(look, _LEFT - 8, _BASE - 1, "swing", anchor="end")
    for n, swing in enumerate(swings):
        high = swing / most * (_SWING_HIGH - 4)
        if high <= 0:
            continue
        marked = n in marks
        at = _LEFT + (n + 0.5) * step
        thick = min(3.4, step * 0.6) if marked else min(2.0, step * 0.35)
        ink = "ink" if marked else "ink-3"
        body += path(look, f"M{num(at)} {num(_BASE)}v{num(-high)}", stroke=ink, thick=thick)
    return body


def _numbers(look: DrawingTheme, places: Sequence[tuple[float, float]]) -> str:
    """Numbered rings over the line, moved apart, each joined to its rally."""
    order = sorted(range(len(places)), key=lambda n: places[n][0])
    ring_x: dict[int, float] = {}
    last = -_WIDE
    for n in order:
        last = ring_x[n] = max(places[n][0], last + _APART)
    if order:  # what went over the edge comes back as one
        over = max(0.0, last - (_RIGHT - _RING))
        middle = sum(ring_x[n] - places[n][0] for n in order) / len(order)
        shift = max(over, middle)
        ring_x = {n: x - shift for n, x in ring_x.items()}
    body = ""
    low = any(y < _TOP + _RING_Y + 24 for _, y in places)
    ring_y = _TOP + _HIGH - _RING_Y if low else _TOP + _RING_Y
    for n, (x, y) in enumerate(places):
        edge = ring_y - _RING if low else ring_y + _RING
        body += path(look, f"M{num(ring_x[n])} {num(edge)}L{num(x)} {num(y)}", stroke="ink", thick=1.2)
        body += shape(look, "circle", fill="ink", cx=x, cy=y, r=2.6)
    for n in range(len(places)):
        body += shape(look, "circle", fill="sheet", stroke="ink", thick=1.6, cx=ring_x[n], cy=ring_y, r=_RING)
        body += svg_text(look, ring_x[n], ring_y + 4.6, str(n + 1), ink="ink", bold=True, anchor="middle")
    return body


def _description(games: Sequence[ChanceGame], name: str, start: float, n: int) -> str:
    told = [f"{name}’s chance of the match after each of {n} rallies, {percent(start)} before the first."]
    for game in games:
        if not game.rallies:
            continue
        chances = [chance for chance, _ in game.rallies]
        score = f" {game.score}" if game.score else ""
        told.append(
            f"{game.words}{score}: between {percent(min(chances))} and {percent(max(chances))}, "
            f"{percent(chances[-1])} after its last rally."
        )
    return " ".join(told)
