"""Charts: where marks sit, what is said, and that shape tells apart what colour tells apart."""

from dataclasses import dataclass

import pytest
from lxml import etree

from goodlength.errors import OutOfRange
from goodlength.show.draw import (
    evidence_grade_icons,
    five_bar_tally_and_tape_measure_drawing,
    proportion_charts,
)
from goodlength.show.draw.proportion_protocols_and_wording import CountedShare, percent, share_words
from goodlength.show.draw.svg_primitives_and_themes import FILE, PAGE, PAPER

LOOKS = (PAGE, PAPER, FILE)


@dataclass
class BoxRow:
    words: str
    right: CountedShare | None
    left: CountedShare | None


@dataclass
class RepeatRow:
    words: str
    seen: CountedShare
    luck_low: float
    luck_high: float


ROWS = (
    BoxRow("Lob", CountedShare(7, 12, 0.32, 0.81), CountedShare(4, 5, 0.38, 0.96)),
    BoxRow("Body, bouncing at the feet", CountedShare(2, 2, 0.34, 1.0), None),
    BoxRow("A <kind> & more", CountedShare(1, 3, 0.06, 0.79), CountedShare(0, 0, 0.0, 1.0)),
)
REPEATS = (
    RepeatRow("Any serve", CountedShare(19, 33, 0.41, 0.73), 0.18, 0.42),
    RepeatRow("After a lob", CountedShare(0, 0, 0, 1), 0.2, 0.2),
)


def tree(svg: str) -> etree._Element:
    return etree.fromstring(svg.encode())


def all_drawings(look):
    return [
        proportion_charts.range_bar(CountedShare(1, 2, 0.1, 0.9), theme=look),
        proportion_charts.range_bar(None, "b", theme=look, none="not served"),
        proportion_charts.range_key("b", theme=look),
        proportion_charts.luck_key(theme=look),
        proportion_charts.effect_chart(ROWS, CountedShare(16, 37, 0.29, 0.59), what="Share", theme=look),
        proportion_charts.repeat_chart(REPEATS, "b", what="Repeats", theme=look),
        proportion_charts.kinds_in_use(2.6, 5, theme=look),
        five_bar_tally_and_tape_measure_drawing.tally(47, theme=look),
        *(evidence_grade_icons.grade_svg(grade, theme=look) for grade in evidence_grade_icons.WORDS),
    ]


@pytest.mark.parametrize("look", LOOKS)
def test_every_drawing_is_well_formed_and_free_of_style_script_and_ids(look):
    for svg in all_drawings(look):
        for element in tree(svg).iter():
            assert element.tag.split("}")[-1] not in {"style", "script", "pattern", "image"}
            assert not {"style", "id", "href"} & {name.split("}")[-1] for name in element.attrib}


def test_page_drawings_name_no_colour_and_paper_drawings_no_token():
    assert not any("#" in svg for svg in all_drawings(PAGE))
    assert not any("var(" in svg or "class=" in svg for svg in all_drawings(PAPER) + all_drawings(FILE))


def test_every_drawing_says_its_figures_or_is_decoration():
    for svg in all_drawings(PAGE):
        root = tree(svg)
        assert root.get("aria-hidden") == "true" or (root.get("role") == "img" and root.get("aria-label"))


@pytest.mark.parametrize(("count", "at"), [(0, 4.6), (10, 52.0), (20, 99.4)])
def test_a_share_sits_where_it_should_on_the_bar(count, at):
    disc = tree(proportion_charts.range_bar(CountedShare(count, 20, 0.1, 0.9), wide=104)).find("circle")
    assert float(disc.get("cx")) == pytest.approx(at)


def test_the_bar_spans_the_range_on_the_hairline():
    bars = [
        p.get("d")
        for p in tree(proportion_charts.range_bar(CountedShare(5, 10, 0.25, 0.75), wide=109.2)).findall(
            "path"
        )
    ]
    assert bars == ["M4.6 7H104.6", "M29.6 7H79.6"]


def test_five_is_enough_for_a_filled_disc_and_four_is_not():
    enough = tree(proportion_charts.range_bar(CountedShare(2, 5, 0.1, 0.8), theme=PAPER))
    scarce = tree(proportion_charts.range_bar(CountedShare(2, 4, 0.1, 0.9), theme=PAPER))
    assert enough.find("circle").get("fill") == "#0072B2"
    assert enough.findall("path")[1].get("stroke-dasharray") is None
    assert scarce.find("circle").get("fill") == "#FFFFFF"
    assert scarce.findall("path")[1].get("stroke-dasharray") == "2 3"


def test_the_opponent_is_an_open_square_on_a_dashed_bar():
    root = tree(proportion_charts.range_bar(CountedShare(7, 12, 0.32, 0.81), "b", theme=PAPER))
    assert root.find("circle") is None
    assert root.find("rect").get("stroke") == "#D55E00"
    assert root.findall("path")[1].get("stroke-dasharray") == "6 3"


def test_nothing_counted_leaves_the_hairline_and_says_so():
    root = tree(proportion_charts.range_bar(CountedShare(0, 0, 0, 1), none="not served"))
    assert len(root) == 1
    assert root.get("aria-label") == "not served"


def test_effect_chart_writes_each_count_and_what_is_missing():
    root = tree(proportion_charts.effect_chart(ROWS, CountedShare(16, 37, 0.29, 0.59), what="Weak returns"))
    words = list(root.itertext())
    assert {
        "7 of 12",
        "4 of 5",
        "2 of 2",
        "1 of 3",
        "not served",
        "not recorded",
        "dashed: both boxes, 16 of 37",
    } <= set(words)
    label = root.get("aria-label")
    assert "Lob: right box 7 of 12, range 32% to 81%; left box 4 of 5, range 38% to 96%." in label
    assert "All: 16 of 37" in label


def test_effect_chart_draws_all_at_the_same_share_in_both_boxes():
    svg = proportion_charts.effect_chart(ROWS, CountedShare(1, 2, 0.1, 0.9), what="x", theme=PAPER)
    dashed = [p.get("d") for p in tree(svg).findall("path") if p.get("stroke-dasharray") == "3 3"]
    assert [d.split()[0] for d in dashed] == ["M183", "M367"]  # the middles of 132..234 and 316..418


def test_effect_chart_without_rows_still_draws():
    assert tree(proportion_charts.effect_chart((), None, what="x")).get("role") == "img"


def test_repeat_chart_hatches_luck_and_counts_repeats():
    root = tree(proportion_charts.repeat_chart(REPEATS, what="Repeats", theme=PAPER))
    band = root.findall("rect")[0]
    assert float(band.get("x")) == pytest.approx(126 + 0.18 * 264)
    assert float(band.get("width")) == pytest.approx((0.42 - 0.18) * 264)
    assert {"19 of 33", "by chance", "none"} <= set(root.itertext())
    assert "chance with the same mix gives 18% to 42%" in root.get("aria-label")


@pytest.mark.parametrize(("effective", "widths"), [(2.5, [20, 20, 10]), (0.0, []), (3.0, [20, 20, 20])])
def test_kinds_in_use_fills_as_much_as_is_in_use(effective, widths):
    root = tree(proportion_charts.kinds_in_use(effective, 3, theme=PAPER))
    assert [float(r.get("width")) for r in root.findall("rect") if r.get("fill") != "none"] == widths
    assert root.get("aria-label") == f"About {effective:.1f} of 3 kinds really in use"


@pytest.mark.parametrize("look", LOOKS)
def test_the_four_grades_differ_in_shape(look):
    drawn = {grade: evidence_grade_icons.grade_svg(grade, theme=look) for grade in evidence_grade_icons.WORDS}
    assert len(set(drawn.values())) == 4
    assert "stroke-dasharray" in drawn["too-few"]


def test_an_unknown_grade_is_refused_by_name():
    with pytest.raises(OutOfRange, match=r"'proven'.*clear, leaning, too-few, no-difference"):
        evidence_grade_icons.grade_svg("proven")


@pytest.mark.parametrize(
    ("count", "bars", "gates"), [(0, 0, 0), (4, 4, 0), (5, 4, 1), (47, 38, 9), (100, 80, 20)]
)
def test_a_tally_has_four_posts_and_a_bar_for_each_five(count, bars, gates):
    svg = five_bar_tally_and_tape_measure_drawing.tally(count)
    assert svg.count("v12") == bars
    assert svg.count("L") == gates


@pytest.mark.parametrize("count", [-1, 201])
def test_a_tally_nobody_can_read_is_refused(count):
    with pytest.raises(OutOfRange, match=str(count)):
        five_bar_tally_and_tape_measure_drawing.tally(count)


@pytest.mark.parametrize(("metres", "ticks"), [(0.1, 0), (0.15, 1), (0.5, 4), (2.22, 22), (3.1, 30)])
def test_a_tape_has_a_tick_each_ten_centimetres_between_its_ends(metres, ticks):
    svg = five_bar_tally_and_tape_measure_drawing.tape(PAPER, (0, 0), metres * 1000, unit=1000)
    small = svg.split("<path")[2:]
    assert sum(part.count("v") for part in small) - sum(part.count("var(") for part in small) == ticks


def test_a_tape_can_run_up():
    assert "V-2220" in five_bar_tally_and_tape_measure_drawing.tape(
        PAPER, (10, 0), 2220, unit=1000, upright=True
    )


@pytest.mark.parametrize(("share", "words"), [(0.005, "1%"), (0.004, "0%"), (0.125, "13%"), (1.0, "100%")])
def test_percentages_are_whole(share, words):
    assert percent(share) == words


def test_said_never_gives_a_percentage_without_its_count():
    assert share_words(CountedShare(1, 3, 0.06, 0.79)).startswith("1 of 3, ")
