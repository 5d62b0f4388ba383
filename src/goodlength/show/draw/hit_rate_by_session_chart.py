"""Chart of the hit rate by session with its interval, and a trend line only where there is a trend."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from goodlength.show.draw.proportion_protocols_and_wording import ShareLike, count_words, counted_share
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    num,
    path,
    shape,
    svg_text,
)

Scale = Callable[[float], float]
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 14.0, 12.0, 30.0
_HIGH = 150.0
_APART, _SIZE = 13.0, 5.0
ORDER_WORDS = {"blocked": "blocked practice", "mixed": "random practice", "retention": "retention"}


@dataclass(frozen=True)
class SessionMark:
    """Hits of attempts of one practice type in one session, by the session's place in the list of days."""

    session: int
    order: str  # one of `ORDER_WORDS`
    share: ShareLike


def session_chart(
    marks: Sequence[SessionMark],
    days: Sequence[str],
    *,
    line: Sequence[float] | None = None,
    wide: float = 420.0,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return one column a session, from none hit at the bottom to all at the top.

    Parameters
    ----------
    marks : sequence of SessionMark
        Each practice type has a mark of its own; those of one session stand side by side.
    days : sequence of str
        A short name of each session's day.
    line : sequence of float, optional
        Rates of the shape that describes the sessions; left out when none does.
    """
    step = (wide - _LEFT - _RIGHT) / max(len(days), 1)
    bottom = _TOP + _HIGH

    def x(k: int) -> float:
        return _LEFT + step * (k + 0.5)

    def y(share: float) -> float:
        return bottom - share * _HIGH

    body = ""
    for height, words in ((0.0, "none"), (0.5, "half"), (1.0, "all")):
        body += path(theme, f"M{num(_LEFT)} {num(y(height))}H{num(wide - _RIGHT)}", stroke="rule", thick=1)
        body += svg_text(theme, _LEFT - 8, y(height) + 4, words, anchor="end")
    if line:
        d = "M" + "L".join(f"{num(x(k))} {num(y(rate))}" for k, rate in enumerate(line))
        body += path(theme, d, stroke="ink-2", thick=1.6, dash="6 4")
    every = max(1, -(-len(days) // int(max(1, (wide - _LEFT) // 52))))
    by_session = []
    for k, day in enumerate(days):
        of_day = [session_mark for session_mark in marks if session_mark.session == k]
        for n, session_mark in enumerate(of_day):
            apart = (n - (len(of_day) - 1) / 2) * min(_APART, step / max(len(of_day), 1))
            body += _upright(theme, session_mark, x(k) + apart, y)
            by_session.append(f"{day}, {ORDER_WORDS[session_mark.order]}: {count_words(session_mark.share)}")
        if k % every == 0:
            body += svg_text(theme, x(k), bottom + 18, day, anchor="middle")
    return drawing(theme, wide, bottom + _BOTTOM, body, f"Hits by session. {'; '.join(by_session)}.")


def order_key(order: str, *, theme: DrawingTheme = PAGE) -> str:
    """Return the mark of a practice type as it stands in the chart's key."""
    return drawing(theme, 14, 14, _order_mark(theme, order, 7, 7), None)


def _upright(theme: DrawingTheme, session_mark: SessionMark, x: float, y: Scale) -> str:
    share = session_mark.share
    bar = path(theme, f"M{num(x)} {num(y(share.low))}V{num(y(share.high))}", stroke="side-a", thick=3)
    return bar + _order_mark(theme, session_mark.order, x, y(counted_share(share)))


def _order_mark(theme: DrawingTheme, order: str, x: float, y: float) -> str:
    """Return a disc for blocked, an open square for random, a triangle for retention practice."""
    if order == "mixed":
        left, top, wide = x - _SIZE, y - _SIZE, 2 * _SIZE
        return shape(
            theme, "rect", fill="sheet", stroke="side-a", thick=2, x=left, y=top, width=wide, height=wide
        )
    if order == "retention":
        wide = _SIZE + 1.5
        corners = (
            f"{num(x - wide)},{num(y + _SIZE)} {num(x + wide)},{num(y + _SIZE)} {num(x)},{num(y - wide)}"
        )
        return shape(theme, "polygon", fill="side-a", points=corners)
    return shape(theme, "circle", fill="side-a", cx=x, cy=y, r=_SIZE)
