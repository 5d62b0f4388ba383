"""Charts of proportions: range bar, effect by box, repeats against chance, effective number of kinds.

Each function is pure and returns one SVG. Every share stands with its count, in the picture or in the
words beside it, and shape tells apart what colour tells apart.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from goodlength.languages import Language, language
from goodlength.show.draw.font_metrics import lines
from goodlength.show.draw.proportion_protocols_and_wording import (
    BoxRowLike,
    RepeatRowLike,
    ShareLike,
    count_words,
    counted_share,
    few,
    share_words,
)
from goodlength.show.draw.svg_primitives_and_themes import (
    PAGE,
    DrawingTheme,
    drawing,
    hatch,
    num,
    path,
    shape,
    svg_text,
)

Scale = Callable[[float], float]
_ENGLISH = language("en")
_DISC = 3.6  # px, radius of the mark of a bar in a table
_PAD = 4.6  # px, room beside the line so that a mark at 0 or 100 % is whole
_LABEL_WIDE = 116.0  # px, the column of row labels
_LINE = 17.0  # px, from one line of a label to the next


def _across(left: float, right: float) -> Scale:
    return lambda share: left + share * (right - left)


def mark(theme: DrawingTheme, share: ShareLike, side: str, x: Scale, *, y: float, radius: float) -> str:
    """Return bar and mark of one share on its line, without the line.

    Side a: disc on a solid bar. Side b: open square on a dashed bar. Fewer than five: the mark is open
    (a square is dotted all round) and the bar dotted.
    """
    colour = f"side-{side}"
    scarce = few(share)
    dash = "2 3" if scarce else "6 3" if side == "b" else None
    thick = 2.0 if scarce else 3.0
    bar = path(
        theme, f"M{num(x(share.low))} {num(y)}H{num(x(share.high))}", stroke=colour, thick=thick, dash=dash
    )
    at = x(counted_share(share))
    if side == "a":
        spot = (
            shape(theme, "circle", fill="sheet", stroke=colour, thick=1.8, cx=at, cy=y, r=radius - 0.6)
            if scarce
            else shape(theme, "circle", fill=colour, cx=at, cy=y, r=radius)
        )
    else:
        half = radius - 0.4
        spot = shape(
            theme,
            "rect",
            fill="sheet",
            stroke=colour,
            thick=1.8,
            dash="1.6 1.4" if scarce else None,
            x=at - half,
            y=y - half,
            width=2 * half,
            height=2 * half,
        )
    return bar + spot


def range_bar(
    share: ShareLike | None,
    side: str = "a",
    *,
    theme: DrawingTheme = PAGE,
    wide: float = 48,
    none: str = "none",
    spoken: Language = _ENGLISH,
) -> str:
    """Return a hairline from 0 to 100 %, the range on it, and the share seen; the count stands beside it.

    Parameters
    ----------
    share : ShareLike or None
        None, or a total of nothing, leaves the hairline alone.
    side : "a" or "b"
        a: blue disc, solid bar. b: vermilion open square, dashed bar.
    none : str
        What is said where there is nothing to count ("not served").

    Examples
    --------
    >>> from goodlength.show.draw.proportion_protocols_and_wording import CountedShare
    >>> 'aria-label="7 of 12, range 32% to 81%"' in range_bar(CountedShare(7, 12, 0.32, 0.81))
    True
    """
    high = 14.0
    x = _across(_PAD, wide - _PAD)
    body = path(theme, f"M{num(x(0))} 7H{num(x(1))}", stroke="rule-strong", thick=1)
    if share is not None and share.of:
        body += mark(theme, share, side, x, y=7, radius=_DISC)
    return drawing(theme, wide, high, body, share_words(share, none, spoken))


def range_key(side: str = "a", *, theme: DrawingTheme = PAGE) -> str:
    """Return the small sample of a range bar that stands in a key; the words beside it explain it."""
    x = _across(_PAD, 52 - _PAD)
    body = path(theme, f"M{num(x(0))} 7H{num(x(1))}", stroke="rule-strong", thick=1)
    body += mark(theme, _KEY, side, x, y=7, radius=_DISC)
    return drawing(theme, 52, 14, body, None)


class _Key:
    count, of, low, high = 5, 10, 0.22, 0.78


_KEY = _Key()


def _label(theme: DrawingTheme, words: str, middle: float, *, bold: bool = False) -> str:
    """Return a row label in as many lines as it needs, centred on the row."""
    broken = lines(words, 15, _LABEL_WIDE, bold)
    first = middle + 5 - (len(broken) - 1) * _LINE / 2
    return "".join(
        svg_text(theme, 0, first + n * _LINE, line, size=15, ink="ink", bold=bold)
        for n, line in enumerate(broken)
    )


def _row_height(words: str, least: float, bold: bool = False) -> float:
    return max(least, len(lines(words, 15, _LABEL_WIDE, bold)) * _LINE + 8)


def _axis(theme: DrawingTheme, x: Scale, top: float, bottom: float, *, quarters: bool = False) -> str:
    """Hairlines at 0, 50 and 100 % with their words below."""
    body = ""
    for share in (0.0, 0.25, 0.5, 0.75, 1.0) if quarters else (0.0, 0.5, 1.0):
        body += path(theme, f"M{num(x(share))} {num(top)}V{num(bottom)}", stroke="rule", thick=1)
        if share in {0.0, 0.5, 1.0}:
            body += svg_text(theme, x(share), bottom + 18, f"{share:.0%}", anchor="middle")
    return body


def effect_chart(
    rows: Sequence[BoxRowLike],
    whole: ShareLike | None,
    side: str = "a",
    *,
    what: str,
    theme: DrawingTheme = PAGE,
) -> str:
    """Return what each kind of serve did, right box and left box side by side.

    Parameters
    ----------
    rows : sequence of BoxRowLike
        One a kind of serve; None for a box means it was not served from there.
    whole : ShareLike or None
        The share over all her serves, drawn dashed through both halves.
    what : str
        What is counted, as the drawing's spoken label begins ("Share of returns loose or not made").
    """
    top, first = 40.0, 48.0
    heights = [_row_height(row.words, 40) for row in rows]
    bottom = first + sum(heights)
    panels = (("Right box", _across(132, 234), 253.0), ("Left box", _across(316, 418), 437.0))
    body = ""
    for name, x, _ in panels:
        body += svg_text(theme, x(0), 15, name, size=15, ink="ink", bold=True)
        body += _axis(theme, x, top, bottom)
        if whole is not None and whole.of:
            at = x(counted_share(whole))
            body += path(theme, f"M{num(at)} {num(top)}V{num(bottom)}", stroke="ink-3", thick=1, dash="3 3")
    if whole is not None and whole.of:
        body += svg_text(theme, 275, 35, f"dashed: both boxes, {count_words(whole)}", anchor="middle")
    y = first
    for n, (row, high) in enumerate(zip(rows, heights, strict=True)):
        middle = y + high / 2
        if n:
            body += path(theme, f"M0 {num(y)}H484", stroke="rule", thick=1)
        body += _label(theme, row.words, middle)
        for (_, x, count_at), share in zip(panels, (row.right, row.left), strict=True):
            body += _effect_cell(theme, share, side, x, at=(count_at, middle))
        y += high
    return drawing(theme, 484, bottom + 26, body, _effect_words(rows, whole, what))


def _effect_cell(
    theme: DrawingTheme, share: ShareLike | None, side: str, x: Scale, *, at: tuple[float, float]
) -> str:
    count_at, middle = at
    if share is not None and share.of:
        spot = mark(theme, share, side, x, y=middle, radius=5)
        return spot + svg_text(theme, count_at, middle + 5, count_words(share))
    words = "not served" if share is None else "not recorded"
    blank = shape(theme, "rect", fill="sheet", x=x(0.5) - 44, y=middle - 10, width=88, height=20)
    return blank + svg_text(theme, x(0.5), middle + 5, words, anchor="middle")


def _effect_words(rows: Sequence[BoxRowLike], whole: ShareLike | None, what: str) -> str:
    sentences = [f"{what}, by kind of serve and box."]
    if whole is not None and whole.of:
        sentences.append(f"All: {share_words(whole)}.")
    for row in rows:
        right, left = (share_words(share, "not served") for share in (row.right, row.left))
        sentences.append(f"{row.words}: right box {right}; left box {left}.")
    return " ".join(sentences)


def repeat_chart(
    rows: Sequence[RepeatRowLike],
    side: str = "a",
    *,
    what: str,
    theme: DrawingTheme = PAGE,
    bold_first: bool = True,
) -> str:
    """Return how often the next serve was the same kind as the last, against the hatched band of luck."""
    x = _across(126, 390)
    top, first = 24.0, 30.0
    bolds = [bold_first and n == 0 for n in range(len(rows))]
    heights = [_row_height(row.words, 38, bold) for row, bold in zip(rows, bolds, strict=True)]
    bottom = first + sum(heights)
    body = _axis(theme, x, top, bottom, quarters=True)
    y, sentences = first, [f"{what}."]
    for row, bold, high in zip(rows, bolds, heights, strict=True):
        middle = y + high / 2
        body += _label(theme, row.words, middle, bold=bold)
        left, right = x(row.luck_low), x(row.luck_high)
        body += hatch(theme, left, middle - 9, max(right - left, 1.0), 18)
        if y == first:
            body += svg_text(
                theme, (left + right) / 2, middle - 14, "by chance", anchor="middle", halo="sheet"
            )
        counted = row.seen.of > 0
        if counted:
            body += mark(theme, row.seen, side, x, y=middle, radius=5)
        body += svg_text(theme, 404, middle + 5, count_words(row.seen) if counted else "none")
        sentences.append(
            f"{row.words}: {share_words(row.seen)}; chance with the same mix gives "
            f"{row.luck_low:.0%} to {row.luck_high:.0%}."
        )
        y += high
    return drawing(theme, 484, bottom + 26, body, " ".join(sentences))


def luck_key(*, theme: DrawingTheme = PAGE) -> str:
    """Return the small sample of the luck band that stands in a key."""
    return drawing(theme, 26, 12, hatch(theme, 0.5, 0.5, 25, 11), None)


def kinds_in_use(effective: float, kinds: int, side: str = "a", *, theme: DrawingTheme = PAGE) -> str:
    """Return one square a kind, as many filled as kinds are really in use (2.6 of 5: two and a half and a
    bit).

    Parameters
    ----------
    effective : float
        Effective number of kinds, 0 to `kinds`.
    kinds : int
        How many kinds were served at all.
    """
    pitch, size = 26.0, 20.0
    body = ""
    for n in range(kinds):
        left = 1 + n * pitch
        full = min(max(effective - n, 0.0), 1.0)
        if full > 0:
            body += shape(theme, "rect", fill=f"side-{side}", x=left, y=2, width=size * full, height=size)
        dash = None if full >= 1 else "3 3"
        ink = f"side-{side}" if full >= 1 else "rule-strong"
        body += shape(
            theme, "rect", fill="none", stroke=ink, thick=1.6, dash=dash, x=left, y=2, width=size, height=size
        )
    label = f"About {effective:.1f} of {kinds} kinds really in use"
    return drawing(theme, kinds * pitch - 4, 24, body, label)
