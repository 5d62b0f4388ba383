"""The two inks: same shapes, page classes or paper colours, always well-formed."""

import re
from pathlib import Path

import pytest
from lxml import etree

import goodlength.web
from goodlength.show.draw import font_metrics, svg_primitives_and_themes
from goodlength.show.draw.svg_primitives_and_themes import FILE, PAGE, PAPER


def tokens() -> dict[str, str]:
    """The light theme as the page's own style sheet gives it."""
    sheet = next(Path(goodlength.web.__file__).parent.rglob("tokens.css")).read_text(encoding="utf-8")
    light = sheet[sheet.index(":root") : sheet.index("}", sheet.index(":root"))]
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9A-Fa-f]{6})", light))


@pytest.mark.parametrize("token", sorted(set(svg_primitives_and_themes.LIGHT) - {"sheet"}))
def test_paper_has_the_light_colours_of_the_page(token):
    assert svg_primitives_and_themes.LIGHT[token].upper() == tokens()[token].upper()


def test_paper_itself_is_white():
    assert svg_primitives_and_themes.LIGHT["sheet"] == "#FFFFFF"


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (-0.004, "0"), (1.005, "1"), (2.5, "2.5"), (-3.456, "-3.46"), (100.0, "100")],
)
def test_a_coordinate_is_written_short_and_exact_to_a_hundredth(value, text):
    assert svg_primitives_and_themes.num(value) == text


def test_known_fill_and_stroke_become_a_class_on_the_page_and_a_colour_on_paper():
    assert (
        svg_primitives_and_themes.shape(PAGE, "rect", fill="court-line", x=1)
        == '<rect class="c-line" x="1"/>'
    )
    assert (
        svg_primitives_and_themes.shape(PAPER, "rect", fill="court-line", x=1)
        == '<rect fill="#AF241C" x="1"/>'
    )


def test_fill_without_a_class_becomes_a_token_of_the_page():
    assert svg_primitives_and_themes.shape(PAGE, "rect", fill="sheet-2") == '<rect fill="var(--sheet-2)"/>'


@pytest.mark.parametrize("look", [PAGE, PAPER, FILE])
@pytest.mark.parametrize(
    "words", ['#evil[*x*] $1$ <b>&"', "a\x00b\x0bc", "</text><script>x</script>", "Zoë 李"]
)
def test_words_stay_words(look, words):
    label = words
    svg = svg_primitives_and_themes.drawing(
        look, 10, 10, svg_primitives_and_themes.svg_text(look, 1, 1, words, bold=True, halo="floor"), label
    )
    root = etree.fromstring(svg.encode())
    kept = "".join(c for c in words if c >= " ")
    assert "".join(root.itertext()) == kept
    assert root.get("aria-label") == kept
    assert not root.findall(".//{*}script")


def test_only_a_file_of_its_own_names_the_svg_namespace():
    assert "xmlns" in svg_primitives_and_themes.drawing(FILE, 1, 1, "", "x")
    assert "xmlns" not in svg_primitives_and_themes.drawing(
        PAPER, 1, 1, "", "x"
    ) + svg_primitives_and_themes.drawing(PAGE, 1, 1, "", "x")


def test_a_drawing_without_words_is_hidden_from_readers():
    assert 'aria-hidden="true"' in svg_primitives_and_themes.drawing(PAGE, 1, 1, "", None)


def test_hatching_stays_inside_its_rectangle_and_needs_no_id():
    svg = svg_primitives_and_themes.hatch(PAPER, 10, 20, 66, 18)
    assert "id=" not in svg
    path = re.search(r'd="([^"]+)"', svg).group(1)
    points = [tuple(map(float, p.split())) for p in re.findall(r"[ML]([\d.]+ [\d.]+)", path)]
    assert len(points) >= 20
    assert all(10 <= x <= 76 and 20 <= y <= 38 for x, y in points)
    assert all(
        abs((x1 - x0) + (y1 - y0)) < 0.05
        for (x0, y0), (x1, y1) in zip(points[::2], points[1::2], strict=True)
    )


def test_hatching_of_a_hair_is_only_its_frame():
    assert svg_primitives_and_themes.hatch(PAPER, 0, 0, 0.5, 0.5).count("<") == 1


def test_lines_break_by_measure_and_cut_a_word_that_fits_nowhere():
    broken = font_metrics.lines("short " + "W" * 40, 15, 100)
    assert broken[0] == "short"
    assert "".join(broken[1:]) == "W" * 40
    assert all(font_metrics.width(line, 15) <= 100 for line in broken)
    assert font_metrics.lines("", 15, 100) == [""]


def test_bold_is_wider():
    assert font_metrics.width("Any serve", 15, bold=True) > font_metrics.width("Any serve", 15)
