"""The line of the chance: where it runs, what is numbered, what is said."""

import itertools
import re

import pytest
from lxml import etree

from goodlength.errors import InputError, OutOfRange
from goodlength.show.draw import win_probability_chart
from goodlength.show.draw.primitives import FILE, LIGHT, PAGE, PAPER
from goodlength.show.draw.win_probability_chart import ChanceGame, chance_line

GAMES = (
    ChanceGame("Game 1", "2–1", ((0.6, 0.2), (0.5, 0.2), (0.75, 0.25))),
    ChanceGame("Game 2", "0–2", ((0.5, 0.5), (0.0, 0.0))),
)


def tree(svg: str) -> etree._Element:
    return etree.fromstring(svg.encode())


def test_the_line_runs_from_the_start_through_every_rally() -> None:
    svg = tree(chance_line(GAMES, "Imogen", start=0.5))
    lines = [one for one in svg.iter("path") if "M44" in one.get("d") and one.get("d").count("L") == 5]
    assert len(lines) == 1
    numbers = [float(value) for value in re.findall(r"[\d.]+", lines[0].get("d"))]
    xs, ys = numbers[::2], numbers[1::2]
    assert xs == sorted(xs)
    assert (xs[0], xs[-1]) == (44, 804)
    assert ys[0] == ys[2] == ys[4]  # 50 %
    assert ys[3] < ys[1] < ys[0] < ys[5]  # the higher the chance, the higher the line


def test_the_widest_swing_has_the_highest_bar_and_none_has_none() -> None:
    svg = chance_line(GAMES, "Imogen", marks=(3,))
    bars = [float(high) for high in re.findall(r"v-([\d.]+)\"", svg)]
    assert len(bars) == 4  # the last rally could swing nothing
    assert max(bars) == bars[3]
    assert bars[0] == pytest.approx(bars[3] * 0.2 / 0.5, abs=0.02)


def test_numbers_stand_apart_and_inside_the_drawing() -> None:
    many = (ChanceGame("Game 1", "", tuple((0.5, 0.1) for _ in range(80))),)
    for marks in ((77, 78, 79), (0, 1, 2), (10, 11, 60), (79, 5, 6)):
        svg = tree(chance_line(many, "Imogen", marks=marks))
        rings = [float(one.get("cx")) for one in svg.iter("circle") if one.get("r") == "10"]
        assert len(rings) == 3
        rings.sort()
        assert all(b - a >= 20 for a, b in itertools.pairwise(rings))
        assert rings[0] - 10 >= 0
        assert rings[-1] + 10 <= 812
        texts = ["".join(one.itertext()) for one in svg.iter("text")]
        assert {"1", "2", "3"} <= set(texts)


@pytest.mark.parametrize("chance", [0.0, 1.0])
def test_rings_go_below_where_the_line_runs_high(chance: float) -> None:
    one = (ChanceGame("Game 1", "", ((chance, 0.1),) * 4),)
    svg = tree(chance_line(one, "Imogen", start=chance, marks=(1,)))
    ring = next(float(c.get("cy")) for c in svg.iter("circle") if c.get("r") == "10")
    dot = next(float(c.get("cy")) for c in svg.iter("circle") if c.get("r") == "2.6")
    assert abs(ring - dot) > 12


def test_all_looks_are_xml_without_style_and_paper_has_fixed_colours() -> None:
    for look in (PAGE, PAPER, FILE):
        for side in ("a", "b"):
            svg = chance_line(GAMES, "P & <Q>", marks=(0, 3, 4), look=look, side=side)
            assert "style=" not in svg
            assert tree(svg).get("aria-label").startswith("P & <Q>’s chance")
            assert ("var(--" in svg or 'class="' in svg) == look.page
    assert LIGHT["side-b"] in chance_line(GAMES, "P", look=PAPER, side="b")
    dashed = chance_line(GAMES, "P", side="b")
    assert 'class="b-line"' in dashed
    assert 'stroke-dasharray="6 3"' in dashed


def test_words_for_those_who_hear_it() -> None:
    label = tree(chance_line((*GAMES, ChanceGame("Game 3", "", ())), "Imogen", start=0.5)).get("aria-label")
    assert "after each of 5 rallies, 50% before the first" in label
    assert "Game 1 2–1: between 50% and 75%, 75% after its last rally" in label
    assert "Game 3" not in label


def test_a_short_game_keeps_its_score_or_nothing() -> None:
    games = (
        ChanceGame("Game 1", "11–9", ((0.5, 0.1),) * 90),
        ChanceGame("Game 2", "1–0", ((0.5, 0.1),) * 4),
        ChanceGame("Game 3", "1–0", ((0.5, 0.1),)),
    )
    texts = ["".join(one.itertext()) for one in tree(chance_line(games, "I")).iter("text")]
    assert "Game 1" in texts
    assert "Game 2" not in texts
    assert texts.count("1–0") == 1


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InputError, match="Record one rally first"):
        chance_line((ChanceGame("Game 1", "", ()),), "I")
    with pytest.raises(OutOfRange, match="from 0 to 1"):
        chance_line((ChanceGame("Game 1", "", ((1.2, 0.1),)),), "I")
    with pytest.raises(OutOfRange, match="marks count"):
        chance_line(GAMES, "I", marks=(5,))
    assert win_probability_chart.chance_line(GAMES, "I")
