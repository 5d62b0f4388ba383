"""Turning points chart: each rally a step as wide as it could swing the match."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from goodlength.errors import InputError, OutOfRange
from goodlength.languages import Language, language
from goodlength.show.draw.font_metrics import width
from goodlength.show.draw.proportion_protocols_and_wording import percent
from goodlength.show.draw.svg_primitives_and_themes import (
    FILE,
    PAGE,
    DrawingTheme,
    drawing,
    num,
    path,
    safe,
    shape,
    svg_text,
)

GAME_WIDE = 168.0  # px; two games stand beside each other on a phone
_TRACKS = (58.0, 110.0)  # px, across: the first player's column and the second's
_TOP = 66.0  # px, of the first rally
_FOOT = 44.0  # px, below the last rally
_MOST_HIGH = 300.0  # px, of the longest game
_ROWS_PX = (7.0, 14.0)  # least and most height of a rally
_GAP = 3.0  # px between two steps: room for the slanting line of a hand-out
_LEAST, _MOST = 2.0, 26.0  # px, width of a step without any swing, and of the widest
_LABELS_APART = 15.0  # px
_LABEL_PX = 13.0  # of the score beside a turning point; less where its words are wider than the room
_ENGLISH = language("en")


@dataclass(frozen=True)
class PointStep:
    """One decided rally: who won it (0 or 1), how far it could swing the match (0 to 1), the score before.

    `turning` marks the few that get their score beside them; `key` is the rally's, for its link.
    """

    winner: int
    swing: float
    score: str
    turning: bool = False
    key: str = ""


@dataclass(frozen=True)
class PointGame:
    """One game: its name, its final score in words, its rallies, and the chance of the match after it."""

    words: str
    score: str
    steps: tuple[PointStep, ...]
    chance: float


def turning_games(
    games: Sequence[PointGame],
    names: tuple[str, str],
    *,
    side: str = "a",
    theme: DrawingTheme = PAGE,
    play: Callable[[str], str] | None = None,
    most_high: float = _MOST_HIGH,
    spoken: Language = _ENGLISH,
) -> list[str]:
    """Return one drawing a game, in order; all to the same scale, so that they wrap on a narrow screen.

    Parameters
    ----------
    games : sequence of PointGame
        In the order played; lets left out.
    names : (str, str)
        The player whose chance it is, then the opponent; the left column is the first's.
    side : str
        "a" or "b": whose colour the first player has.
    play : callable, optional
        The address that plays a rally, by its key, empty for one without video; without it steps are no
        links. Turning points and the first link of a game are stops of the keyboard; arrow keys of the page
        reach the others.
    most_high : float
        Height of the rallies of the longest game, px; a rally is never lower than seven.
    spoken : Language
        The language of what is written under a game, and of the words for those who do not see it.

    Raises
    ------
    InputError
        If there is no game with a rally.
    OutOfRange
        If a chance or a swing is not 0 to 1.
    """
    scale = _scale(games, most_high)
    drawings = []
    for game in games:
        high = _TOP + scale.row * len(game.steps) + _FOOT
        body = _game(theme, game, names, side, scale, play)
        body += _foot(theme, game, _TOP + scale.row * len(game.steps), spoken)
        svg = drawing(theme, GAME_WIDE, high, body, _description(game, names, spoken))
        drawings.append(svg.replace('role="img"', 'role="group"', 1) if "<a " in body else svg)
    return drawings


@dataclass(frozen=True)
class _Scale:
    """What all games share: height of a rally, and the widest swing."""

    row: float
    most: float


def _scale(games: Sequence[PointGame], most_high: float) -> _Scale:
    steps = [step for game in games for step in game.steps]
    if not steps:
        raise InputError("Turning points cannot be drawn: no rally has a winner yet. Log one rally first.")
    for value in (*(step.swing for step in steps), *(game.chance for game in games)):
        if not 0 <= value <= 1:
            raise OutOfRange(f"Chances and swings are shares from 0 to 1; got {value!r}.")
    longest = max(len(game.steps) for game in games)
    row = min(max(most_high / longest, _ROWS_PX[0]), _ROWS_PX[1])
    return _Scale(row, max(step.swing for step in steps) or 1.0)


def _game(
    theme: DrawingTheme,
    game: PointGame,
    names: tuple[str, str],
    side: str,
    scale: _Scale,
    play: Callable[[str], str] | None,
) -> str:
    body = svg_text(theme, GAME_WIDE / 2, 18, game.words, size=15, ink="ink", bold=True, anchor="middle")
    body += svg_text(theme, GAME_WIDE / 2, 36, game.score, anchor="middle") if game.score else ""
    for name, x, anchor in ((names[0], _TRACKS[0], "end"), (names[1], _TRACKS[1], "start")):
        body += svg_text(theme, x + (22 if anchor == "end" else -22), 56, _short(name), anchor=anchor)
    bottom = _TOP + scale.row * len(game.steps)
    for x in _TRACKS:
        body += path(theme, f"M{num(x)} {num(_TOP)}V{num(bottom)}", stroke="rule", thick=1)
    body += _hand_outs(theme, game, scale)
    addresses = [play(step.key) if play is not None and step.key else "" for step in game.steps]
    linked = [n for n, address in enumerate(addresses) if address]
    stops = [n for n in linked if game.steps[n].turning] or linked[:1]
    for n, step in enumerate(game.steps):
        bar = _step(theme, step, side, scale, _TOP + n * scale.row)
        if addresses[n]:
            bar = _link(
                bar, addresses[n], f"{game.words}, {step.score}: play the rally", n in stops, scale, n
            )
        body += bar
    return body + _labels(theme, game, scale)


def _short(name: str) -> str:
    """Return the name, cut where it would run into the other's."""
    room = GAME_WIDE / 2 - 6
    while name and width(name, 13) > room:
        name = name.rstrip("…")[:-1] + "…"
    return name


def _half(step: PointStep, scale: _Scale) -> float:
    return (_LEAST + (_MOST - _LEAST) * step.swing / scale.most) / 2


def _hand_outs(theme: DrawingTheme, game: PointGame, scale: _Scale) -> str:
    """Return a slanting line wherever the other player wins the next rally, as on the sheet."""
    lines = ""
    for n, (step, after) in enumerate(zip(game.steps, game.steps[1:], strict=False), start=1):
        if step.winner != after.winner:
            y = _TOP + n * scale.row
            lines += f"M{num(_TRACKS[step.winner])} {num(y - _GAP)}L{num(_TRACKS[after.winner])} {num(y)}"
    return path(theme, lines, stroke="rule-strong", thick=1) if lines else ""


def _step(theme: DrawingTheme, step: PointStep, side: str, scale: _Scale, y: float) -> str:
    """Return one rally: filled in the colour of player A, open in that of player B."""
    half, x = _half(step, scale), _TRACKS[step.winner]
    token = side if step.winner == 0 else ("b" if side == "a" else "a")
    fill, stroke, thick = ("side-a", None, None) if token == "a" else ("sheet", "side-b", 1.4)
    return shape(
        theme,
        "rect",
        fill=fill,
        stroke=stroke,
        thick=thick,
        x=x - half,
        y=y,
        width=2 * half,
        height=scale.row - _GAP,
    )


def _link(bar: str, address: str, named: str, is_stop: bool, scale: _Scale, n: int) -> str:
    """Return a step that plays when its row is pressed."""
    y, order = _TOP + n * scale.row, "" if is_stop else ' tabindex="-1"'
    field = f'<rect x="6" y="{num(y - 1)}" width="{num(GAME_WIDE - 12)}" height="{num(scale.row)}"'
    return (
        f'<a href="{safe(address)}" aria-label="{safe(named)}"{order}><title>{safe(named)}</title>'
        f'{field} fill="none" pointer-events="all"/>{bar}</a>'
    )


def _labels(theme: DrawingTheme, game: PointGame, scale: _Scale) -> str:
    """Return the score before each turning point, outside its step; moved apart where two are close."""
    body, last = "", {0: -_LABELS_APART, 1: -_LABELS_APART}
    for n, step in enumerate(game.steps):
        if not step.turning:
            continue
        middle = _TOP + (n + 0.5) * scale.row - _GAP / 2
        y = last[step.winner] = max(middle + 4.5, last[step.winner] + _LABELS_APART)
        out = -1 if step.winner == 0 else 1
        x = _TRACKS[step.winner] + out * (_half(step, scale) + 5)
        anchor = "end" if out < 0 else "start"
        room = x if out < 0 else GAME_WIDE - x
        wide = width(step.score, _LABEL_PX, bold=True)
        body += svg_text(
            theme,
            x,
            y,
            step.score,
            size=_LABEL_PX if wide <= room else _LABEL_PX * room / wide,
            ink="ink",
            bold=True,
            anchor=anchor,
            halo=None if theme is FILE else "sheet",
        )
    return body


def _foot(theme: DrawingTheme, game: PointGame, bottom: float, spoken: Language) -> str:
    """Return the chance of the match after the game, under the double line that ends a game on the sheet."""
    left, right = GAME_WIDE / 2 - 38, GAME_WIDE / 2 + 38
    lines = "".join(f"M{num(left)} {num(bottom + y)}H{num(right)}" for y in (7.0, 10.0))
    words = spoken.phrase("chance {share}", share=percent(game.chance, spoken))
    body = path(theme, lines, stroke="rule-strong", thick=1)
    return body + svg_text(theme, GAME_WIDE / 2, bottom + 29, words, size=15, ink="ink", anchor="middle")


def _description(game: PointGame, names: tuple[str, str], spoken: Language) -> str:
    """Return the game for those who do not see it."""
    turning = [
        spoken.phrase("{score}, won by {player}", score=step.score, player=names[step.winner])
        for step in game.steps
        if step.turning
    ]
    name = f"{game.words} {game.score}".strip()
    played = spoken.phrase(
        "{game}: {player} won {won} of {of} rallies; the chance of the match for {player} after it was "
        "{share}.",
        game=name,
        player=names[0],
        won=sum(step.winner == 0 for step in game.steps),
        of=len(game.steps),
        share=percent(game.chance, spoken),
    )
    if not turning:
        return played
    points = spoken.phrase("Turning points: {points}.", points="; ".join(turning))
    return f"{played} {points}"
