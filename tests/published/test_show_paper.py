"""The page against published figures: paper size, contrast, and the lines of the court."""

import re

import pytest

from goodlength.show.draw.court import floor_maps
from goodlength.show.draw.svg_primitives_and_themes import LIGHT, PAPER


def luminance(colour: str) -> float:
    """WCAG 2.1, definition of relative luminance (source: WCAG-21)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(text: str, other: str) -> float:
    """WCAG 2.1, definition of contrast ratio (source: WCAG-21)."""
    light, dark = sorted((luminance(text), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_its_published_ends():
    assert contrast("#FFFFFF", "#000000") == pytest.approx(21)
    assert contrast("#123456", "#123456") == 1


@pytest.mark.parametrize("ground", ["sheet", "sheet-2", "floor", "wall"])
@pytest.mark.parametrize("ink", ["ink", "ink-2", "ink-3"])
def test_words_have_the_contrast_asked_for_text(ink, ground):
    assert contrast(LIGHT[ink], LIGHT[ground]) >= 4.5  # WCAG 2.1, 1.4.3


@pytest.mark.parametrize("ground", ["sheet", "floor"])
@pytest.mark.parametrize("token", ["side-a", "side-b", "court-line", "ink-3"])
def test_marks_have_the_contrast_asked_for_graphics(token, ground):
    assert contrast(LIGHT[token], LIGHT[ground]) >= 3.0  # WCAG 2.1, 1.4.11


@pytest.mark.parametrize(
    ("token", "hue"), [("side-a", "#0072B2"), ("side-b", "#D55E00"), ("aim-3", "#009E73")]
)
def test_hues_are_those_kept_apart_by_colour_blind_readers(token, hue):
    """OKABE-ITO: blue, vermilion, bluish green."""
    assert LIGHT[token] == hue


@pytest.mark.parametrize(
    ("millimetres", "horizontal"),
    [
        (5440, True),
        (5490, True),
        (7090, True),
        (7140, True),
        (1600, False),
        (1650, False),
        (3175, False),
        (3225, False),
    ],
)
def test_floor_lines_stand_at_the_published_distances(millimetres, horizontal):
    """WSF court specification, singles: distances from the front wall and the left wall, mm."""
    svg = floor_maps.floor_map(label="x", wide=644, theme=PAPER)  # 100 px a metre after 2 px of edge
    edges = set()
    for d in re.findall(r'<path fill="#AF241C" d="([^"]+)"', svg):
        for x, y in re.findall(r"([\d.]+) ([\d.]+)", d):
            edges.add(round((float(y if horizontal else x) - 2) * 10))
    assert millimetres in edges
