"""SVG primitives in two themes: the page's tokens, or fixed colours for paper and files.

Every drawing is built from the elements here. On the page they carry the classes of tokens.css (and
`var(--token)` where no class exists), so both themes work and no style attribute is needed; on paper
they carry the light theme's colours as presentation attributes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from goodlength.show.draw.font_metrics import FAMILY

# The light theme of tokens.css; `sheet` is the white of paper. A test holds them equal.
LIGHT: Mapping[str, str] = {
    "sheet": "#FFFFFF",
    "sheet-2": "#F5F5F1",
    "ink": "#1A2026",
    "ink-2": "#434C55",
    "ink-3": "#59626B",
    "rule": "#D5D6D0",
    "rule-strong": "#7F8587",
    "court-line": "#AF241C",
    "floor": "#EFE2CB",
    "floor-2": "#E0CCA6",
    "wall": "#F8F7F3",
    "ball": "#16191C",
    "ball-dot": "#F4D03F",
    "side-a": "#0072B2",
    "side-b": "#D55E00",
    "chance": "#7F8587",
    "aim-1": "#CFE6DD",
    "aim-2": "#8CCAB3",
    "aim-3": "#009E73",
}

# Fill and stroke for which tokens.css has a class.
_CLASSES: Mapping[tuple[str | None, str | None], str] = {
    ("floor", None): "c-floor",
    ("wall", None): "c-wall",
    ("court-line", None): "c-line",
    ("none", "court-line"): "c-line-s",
    ("none", "rule"): "ax",
    ("none", "rule-strong"): "ax-strong",
    ("side-a", None): "a-dot",
    ("none", "side-a"): "a-line",
    ("sheet", "side-b"): "b-box",
    ("none", "side-b"): "b-line",
}
_ANCHORS = {"start": "", "middle": "mid", "end": "end"}
_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class DrawingTheme:
    """Where a drawing will stand: `page` takes colours from tokens.css, `xmlns` is for a file of its own."""

    page: bool
    xmlns: bool

    def paint(self, token: str) -> str:
        """Return the value of a colour attribute: a token of the page, or the light theme's colour.

        Examples
        --------
        >>> PAGE.paint("side-a"), PAPER.paint("side-a"), PAPER.paint("none")
        ('var(--side-a)', '#0072B2', 'none')
        """
        if token == "none":
            return token
        return f"var(--{token})" if self.page else LIGHT[token]


PAGE = DrawingTheme(page=True, xmlns=False)  # inside a page of the program
PAPER = DrawingTheme(page=False, xmlns=False)  # inside a stand-alone HTML file
FILE = DrawingTheme(page=False, xmlns=True)  # a file of its own, or a picture in the PDF


def num(value: float) -> str:
    """Return a coordinate, to a hundredth, without trailing noughts.

    Examples
    --------
    >>> num(12.0), num(-0.001), num(7.456)
    ('12', '0', '7.46')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def safe(text: str) -> str:
    """Return words as XML text or attribute; what XML cannot hold is left out."""
    return escape(_NOT_XML.sub("", text), quote=True)


def shape(
    theme: DrawingTheme,
    tag: str,
    *,
    fill: str | None = None,
    stroke: str | None = None,
    thick: float | None = None,
    dash: str | None = None,
    **geometry: float | str,
) -> str:
    """Return one filled or stroked element; `fill` and `stroke` are names of tokens."""
    parts = [tag]
    known = _CLASSES.get((fill, stroke)) if theme.page else None
    if known:
        parts.append(f'class="{known}"')
    else:
        parts.extend(
            f'{name}="{theme.paint(token)}"'
            for name, token in (("fill", fill), ("stroke", stroke))
            if token is not None
        )
    for name, value in geometry.items():
        text = value if isinstance(value, str) else num(value)
        parts.append(f'{name.replace("_", "-")}="{safe(text)}"')
    if thick is not None:
        parts.append(f'stroke-width="{num(thick)}"')
    if dash is not None:
        parts.append(f'stroke-dasharray="{dash}"')
    return f"<{' '.join(parts)}/>"


def path(
    theme: DrawingTheme,
    d: str,
    *,
    fill: str | None = "none",
    stroke: str | None = None,
    thick: float | None = None,
    dash: str | None = None,
    **geometry: float | str,
) -> str:
    """Return a path; without a fill it is a line."""
    return shape(theme, "path", fill=fill, stroke=stroke, thick=thick, dash=dash, d=d, **geometry)


def polyline(points: Sequence[tuple[float, float]], closed: bool = False) -> str:
    """Return the `d` of straight lines through the points."""
    return "M" + "L".join(f"{num(x)} {num(y)}" for x, y in points) + ("Z" if closed else "")


def svg_text(
    theme: DrawingTheme,
    x: float,
    y: float,
    words: str,
    *,
    size: float = 13,
    ink: str = "ink-2",
    bold: bool = False,
    anchor: str = "start",
    halo: str | None = None,
    halo_width: float = 0.0,
) -> str:
    """Return words at a place; `halo` names the colour that keeps them clear of lines behind."""
    where = f'x="{num(x)}" y="{num(y)}"'
    edge = ""
    if halo is not None:
        wide = num(halo_width or size * 0.38)
        colour = theme.paint(halo)
        edge = f' paint-order="stroke" stroke="{colour}" stroke-width="{wide}" stroke-linejoin="round"'
    if not theme.page:
        weight = ' font-weight="700"' if bold else ""
        at = "" if anchor == "start" else f' text-anchor="{anchor}"'
        return (
            f'<text {where} font-size="{num(size)}"{weight}{at} fill="{theme.paint(ink)}"{edge}>'
            f"{safe(words)}</text>"
        )
    classes = ["t1"] if (size, ink) == (13, "ink-2") else ["t2"] if (size, ink) == (15, "ink") else []
    sized = "" if classes else f' font-size="{num(size)}"'
    inner = safe(words)
    if not classes and ink != "ink":  # the page's rule for `svg text` outranks a fill attribute
        inner = f'<tspan fill="{theme.paint(ink)}">{inner}</tspan>'
    classes += ["b"] if bold else []
    classes += [_ANCHORS[anchor]] if _ANCHORS[anchor] else []
    named = f' class="{" ".join(classes)}"' if classes else ""
    return f"<text {where}{named}{sized}{edge}>{inner}</text>"


def hatch(
    theme: DrawingTheme, x: float, y: float, wide: float, high: float, *, gap: float = 5.0, thick: float = 1.6
) -> str:
    """Return a rectangle hatched with slanting lines, each cut at the edge: no pattern, so no id to clash."""
    strokes: list[str] = []
    step = gap * 2**0.5
    offset = step / 2
    while offset < wide + high:
        x0, y0 = (offset, 0.0) if offset <= wide else (wide, offset - wide)
        x1, y1 = (0.0, offset) if offset <= high else (offset - high, high)
        strokes.append(f"M{num(x + x0)} {num(y + y0)}L{num(x + x1)} {num(y + y1)}")
        offset += step
    frame = shape(theme, "rect", fill="none", stroke="chance", thick=0.8, x=x, y=y, width=wide, height=high)
    if not strokes:
        return frame
    return path(theme, "".join(strokes), stroke="chance", thick=thick) + frame


def drawing(
    theme: DrawingTheme,
    wide: float,
    high: float,
    body: str,
    label: str | None,
    *,
    view: tuple[float, float, float, float] | None = None,
) -> str:
    """Return the whole SVG; `label` says the figures to those who do not see it, None marks decoration."""
    box = " ".join(num(v) for v in (view or (0.0, 0.0, wide, high)))
    xmlns = ' xmlns="http://www.w3.org/2000/svg"' if theme.xmlns else ""
    family = "" if theme.page else f' font-family="{FAMILY}"'
    role = f'role="img" aria-label="{safe(label)}"' if label else 'aria-hidden="true"'
    return f'<svg{xmlns} width="{num(wide)}" height="{num(high)}" viewBox="{box}"{family} {role}>{body}</svg>'
