"""The floor: lines and marks stand to scale where the court says."""

import re

import pytest
from lxml import etree

from goodlength.errors import OutOfRange
from goodlength.show.draw.court import floor_maps
from goodlength.show.draw.court.floor_maps import BoxServes, FloorPoint, FloorWords, SpotMark
from goodlength.show.draw.proportion_protocols_and_wording import CountedShare
from goodlength.show.draw.svg_primitives_and_themes import FILE, PAGE, PAPER

WIDE = 644.0  # 2 px of edge each side: 100 px a metre


def tree(svg: str) -> etree._Element:
    return etree.fromstring(svg.encode())


def outlines(root, colour):
    """Left, top, right and bottom of every path of a colour, px."""
    found = []
    for part in root.findall("path"):
        if part.get("fill") == colour:
            points = [tuple(map(float, p.split())) for p in re.findall(r"[\d.]+ [\d.]+", part.get("d"))]
            xs, ys = zip(*points, strict=True)
            found.append((min(xs), min(ys), max(xs), max(ys)))
    return found


def test_the_lines_stand_to_scale():
    root = tree(floor_maps.floor_map(label="x", wide=WIDE, theme=PAPER))
    assert outlines(root, "#EFE2CB") == [(2, 2, 642, 977)]
    lines = outlines(root, "#AF241C")
    assert len(lines) == 4
    assert (2, 546, 642, 551) in lines  # short line 5440 to 5490 mm from the front wall
    assert (319.5, 551, 324.5, 977) in lines  # half-court line, centred
    assert (2, 551, 167, 716) in lines  # left box: 1600 mm clear of its lines
    assert (477, 551, 642, 716) in lines


@pytest.mark.parametrize("look", [PAGE, PAPER, FILE])
def test_landings_are_marked_by_shape(look):
    points = (
        FloorPoint(0.5, 9.0, SpotMark.WEAK),
        FloorPoint(1.0, 8.0, SpotMark.GOOD),
        FloorPoint(2, 7, SpotMark.UNKNOWN),
    )
    root = tree(
        floor_maps.landing_map(points, served="lobs", from_right=3, from_left=0, wide=WIDE, theme=look)
    )
    disc = root.find("{*}circle")
    assert (float(disc.get("cx")), float(disc.get("cy"))) == (52, 902)
    assert "3 lobs" in set(root.itertext())
    assert "from the right box" in set(root.itertext())
    assert "from the left box" not in set(root.itertext())
    assert (
        "3 lobs landed where marked: 1 with a weak return (loose or missed), 1 returned well, 1 with the"
        in root.get("aria-label")
    )


def test_a_landing_measured_a_little_outside_is_drawn_at_the_wall():
    disc = tree(floor_maps.landing_map((FloorPoint(-0.2, 9.9, SpotMark.WEAK),), wide=WIDE)).find("circle")
    assert (float(disc.get("cx")), float(disc.get("cy"))) == (2, 977)


@pytest.mark.parametrize(("x", "y"), [(-0.4, 5), (7.0, 5), (3, 10.2), (float("nan"), 5)])
def test_a_landing_off_the_court_is_refused(x, y):
    with pytest.raises(OutOfRange, match=r"the floor runs from 0 to 6\.4 m"):
        floor_maps.landing_map((FloorPoint(x, y, SpotMark.WEAK),))


def test_box_map_writes_the_share_in_the_quarter_across():
    root = tree(
        floor_maps.box_map(BoxServes(22, CountedShare(10, 22, 0.27, 0.65)), BoxServes(0, None), wide=WIDE)
    )
    places = {"".join(t.itertext()): float(t.get("x")) for t in root.findall("text")}
    assert places["22"] > 322  # served from the right box
    assert places["10 of 22"] < 322  # returned from the left quarter
    assert "From the right box 22 served; weak returns: 10 of 22, range 27% to 65%." in root.get("aria-label")
    assert "From the left box 0 served; weak returns: none served." in root.get("aria-label")


def test_box_map_says_when_returns_were_not_recorded():
    root = tree(floor_maps.box_map(BoxServes(1, None), None, wide=300))
    words = list(root.itertext())
    assert "serve" in words
    assert "returns not recorded" in " ".join(words)


def test_words_stay_inside_their_region():
    long = FloorWords("left-quarter", "3 of 7", ("a rather long explanation of what was seen here today",))
    svg = floor_maps.floor_map(label="x", words=[long], wide=216, theme=PAPER)
    assert len(tree(svg).findall("text")) > 4


def test_an_unknown_region_is_refused_by_name():
    with pytest.raises(OutOfRange, match=r"'pantry'.*left-box"):
        floor_maps.floor_map(label="x", words=[FloorWords("pantry", "1")])


@pytest.mark.parametrize("spot", list(SpotMark))
def test_each_mark_has_a_key(spot):
    assert len(tree(floor_maps.spot_key(spot))) == 1
