"""Chart of a share match by match, each with its interval, in the order played."""

from __future__ import annotations

from collections.abc import Sequence

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

_LEFT, _RIGHT, _TOP, _BOTTOM, _HIGH = 44.0, 10.0, 8.0, 26.0, 96.0
FEWEST = 5  # below it the disc is open, as in every chart


def shares_chart(
    shares: Sequence[ShareLike],
    days: Sequence[str],
    label: str,
    *,
    wide: float = 420.0,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return one upright range bar a match, from 0% at the bottom to 100% at the top.

    Parameters
    ----------
    shares : sequence of ShareLike
        In the order played; a match in which nothing was counted leaves its place empty.
    days : sequence of str
        A short name of the day of each match.
    label : str
        What is counted, for those who hear the page.
    """
    step = (wide - _LEFT - _RIGHT) / max(len(shares), 1)
    bottom = _TOP + _HIGH
    body = ""
    for height, words in ((0.0, "0%"), (0.5, "50%"), (1.0, "100%")):
        y = bottom - height * _HIGH
        body += path(theme, f"M{num(_LEFT)} {num(y)}H{num(wide - _RIGHT)}", stroke="rule", thick=1)
        body += svg_text(theme, _LEFT - 8, y + 4, words, anchor="end")
    every = max(1, -(-len(days) // int(max(1, (wide - _LEFT) // 58))))
    counts = []
    for n, (share, day) in enumerate(zip(shares, days, strict=True)):
        x = _LEFT + step * (n + 0.5)
        if share.of:
            body += _upright(theme, share, x, bottom)
        if n % every == 0:
            body += svg_text(theme, x, bottom + 18, day, anchor="middle")
        counts.append(f"{day}: {count_words(share)}")
    return drawing(theme, wide, bottom + _BOTTOM, body, f"{label}, match by match. {'; '.join(counts)}.")


def _upright(theme: DrawingTheme, share: ShareLike, x: float, bottom: float) -> str:
    low, high, seen = (bottom - value * _HIGH for value in (share.low, share.high, counted_share(share)))
    bar = path(theme, f"M{num(x)} {num(low)}V{num(high)}", stroke="side-a", thick=3)
    if share.of < FEWEST:
        return bar + shape(theme, "circle", fill="sheet", stroke="side-a", thick=2, cx=x, cy=seen, r=4.5)
    return bar + shape(theme, "circle", fill="side-a", cx=x, cy=seen, r=4.5)
