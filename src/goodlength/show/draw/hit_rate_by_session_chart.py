"""Chart of the hit rate by session with its interval, and a trend line only where there is a trend."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from goodlength.show.draw.proportion_labels import ShareLike, count_words, counted_share
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


def session_chart(
    shares: Sequence[ShareLike],
    days: Sequence[str],
    *,
    line: Sequence[float] | None = None,
    wide: float = 420.0,
    look: DrawingTheme = PAGE,
) -> str:
    """Return one column a session, from none hit at the bottom to all at the top.

    Parameters
    ----------
    shares : sequence of ShareLike
        Hits of attempts of each session, with their ranges.
    days : sequence of str
        A short name of each session's day.
    line : sequence of float, optional
        Rates of the shape that describes the sessions; left out when none does.
    """
    step = (wide - _LEFT - _RIGHT) / max(len(shares), 1)
    bottom = _TOP + _HIGH

    def x(k: int) -> float:
        return _LEFT + step * (k + 0.5)

    def y(share: float) -> float:
        return bottom - share * _HIGH

    body = ""
    for height, words in ((0.0, "none"), (0.5, "half"), (1.0, "all")):
        body += path(look, f"M{num(_LEFT)} {num(y(height))}H{num(wide - _RIGHT)}", stroke="rule", thick=1)
        body += svg_text(look, _LEFT - 8, y(height) + 4, words, anchor="end")
    if line:
        d = "M" + "L".join(f"{num(x(k))} {num(y(rate))}" for k, rate in enumerate(line))
        body += path(look, d, stroke="ink-2", thick=1.6, dash="6 4")
    every = max(1, -(-len(days) // int(max(1, (wide - _LEFT) // 52))))
    for k, (share, day) in enumerate(zip(shares, days, strict=True)):
        body += _upright(look, share, x(k), y)
        if k % every == 0:
            body += svg_text(look, x(k), bottom + 18, day, anchor="middle")
    told = "; ".join(f"{day}: {count_words(share)}" for share, day in zip(shares, days, strict=True))
    return drawing(look, wide, bottom + _BOTTOM, body, f"Hits by session. {told}.")


def _upright(look: DrawingTheme, share: ShareLike, x: float, y: Scale) -> str:
    bar = path(look, f"M{num(x)} {num(y(share.low))}V{num(y(share.high))}", stroke="side-a", thick=3)
    return bar + shape(look, "circle", fill="side-a", cx=x, cy=y(counted_share(share)), r=5)
