"""The unfolded court: contacts where the sheet says, numbers that cover nothing, lengths one can tape."""

import itertools
import math
from dataclasses import dataclass

import pytest
from lxml import etree

from goodlength.court import to_sheet
from goodlength.errors import InputError, OutOfRange
from goodlength.show.draw import label_placement
from goodlength.show.draw.court import aim_window_drawing, unfolded_flight
from goodlength.show.draw.court.aim_window_drawing import WallWindow
from goodlength.show.draw.court.flight_side_view import ReceiverReach
from goodlength.show.draw.svg_primitives_and_themes import FILE, PAGE, PAPER


@dataclass
class Touch:
    surface: str
    x_m: float
    y_m: float
    z_m: float


LOB = (
    Touch("racket", 5.05, 6.15, 1.3),
    Touch("front-wall", 3.1, 0, 4.05),
    Touch("left-side-wall", 0, 7.2, 2.23),
    Touch("floor", 0.6, 9.04, 0),
    Touch("back-wall", 0.82, 9.75, 0.49),
    Touch("floor", 1.28, 8.65, 0),
)
RING = tuple((3.1 + 0.3 * math.cos(a), 4.05 + 0.4 * math.sin(a)) for a in (0, 1, 2, 3, 4, 5, 6))
WINDOW = WallWindow(3.1, 4.05, (RING,), 0.3, 0.5)
FLIGHT = ((5.05, 6.15, 1.3), (3.1, 0, 4.05), (1.5, 4.0, 4.5), (0, 7.2, 2.23), (0.6, 9.04, 0.02))
PETRA = ReceiverReach("Petra", 1.75, 7.75, 2.4)


def tree(svg: str) -> etree._Element:
    return etree.fromstring(svg.encode())


def discs(root):
    """Middle of each numbered disc, by its number."""
    found = {}
    circles = [c for c in root.findall("circle") if c.get("r") == "225"]
    for circle in circles:
        at = (float(circle.get("cx")), float(circle.get("cy")))
        number = circle.getnext().text or "".join(circle.getnext().itertext())
        found[number] = at
    return found


@pytest.mark.parametrize("look", [PAGE, PAPER, FILE])
def test_every_drawing_is_well_formed_and_free_of_style_script_and_ids(look):
    for svg in (
        unfolded_flight.draw_path(LOB, flight=FLIGHT, window=WINDOW, receiver=PETRA, theme=look),
        unfolded_flight.draw_path(LOB[:1], theme=look),
    ):
        for element in tree(svg).iter():
            assert element.tag.split("}")[-1] not in {"style", "script", "pattern"}
            assert not {"style", "id", "href"} & set(element.attrib)
        assert tree(svg).get("aria-label")
        assert ("class=" in svg) == look.page


def test_the_floor_trace_runs_through_the_contacts_as_seen_from_above():
    lines = [p.get("d") for p in tree(unfolded_flight.draw_path(LOB, theme=PAPER)).findall("path")]
    assert "M5050 6150L3100 0L0 7200L600 9040L820 9750L1280 8650" in lines


@pytest.mark.parametrize("n", [1, 2, 4])
def test_risers_join_the_fold_to_the_wall_contact_at_its_true_height(n):
    touch = LOB[n]
    u, v = to_sheet(touch.surface, touch.x_m, touch.y_m, touch.z_m)
    ends = [
        p.get("d").split("L")[1]
        for p in tree(unfolded_flight.draw_path(LOB, theme=PAPER)).findall("path")
        if p.get("stroke-dasharray") == "110 90"
    ]
    assert f"{u * 1000:g} {v * 1000:g}" in ends


def test_contacts_are_numbered_in_order_near_their_places():
    found = discs(
        tree(unfolded_flight.draw_path(LOB, flight=FLIGHT, window=WINDOW, receiver=PETRA, theme=PAPER))
    )
    assert sorted(found) == ["1", "2", "3", "4", "5", "6"]
    for n, touch in enumerate(LOB, start=1):
        surface = "floor" if touch.surface == "racket" else touch.surface
        place = [c * 1000 for c in to_sheet(surface, touch.x_m, touch.y_m, touch.z_m)]
        assert math.dist(found[str(n)], place) <= 225 * 3.8 + 1


def test_numbers_stand_apart_and_off_the_path():
    found = discs(tree(unfolded_flight.draw_path(LOB, window=WINDOW, receiver=PETRA, theme=PAPER)))
    assert all(math.dist(a, b) > 2 * 225 for a, b in itertools.combinations(found.values(), 2))
    trace = [(t.x_m * 1000, t.y_m * 1000) for t in LOB]
    for number in ("4", "6"):
        gap = min(label_placement.distance(found[number], *piece) for piece in itertools.pairwise(trace))
        assert gap > 225


def test_the_label_tells_the_path_in_lengths_one_can_tape():
    label = tree(unfolded_flight.draw_path(LOB, shot="Lob from the right box")).get("aria-label")
    assert label == (
        "The court unfolded, to scale. Lob from the right box: 1 racket, 1.30 m up; "
        "2 front wall, 2.22 m above the service line, 3.10 m from the left wall; "
        "3 left wall, 2.23 m up, 7.20 m from the front wall; "
        "4 floor, 0.71 m from the back wall, 0.60 m from the left wall; "
        "5 back wall, 0.49 m up, 0.82 m from the left wall; "
        "6 floor, 1.10 m from the back wall, 1.28 m from the left wall."
    )


def test_the_tape_runs_from_the_top_edge_of_the_service_line():
    assert WINDOW.above_m == pytest.approx(4.05 - 1.83)
    svg = aim_window_drawing.tapes(PAPER, WINDOW)
    assert "M4150 -1830V-4050" in svg
    assert "2.22 m" in svg
    assert "from the left wall" in svg


def test_the_nearer_wall_is_measured_from():
    right = WallWindow(4.4, 3.0)
    assert right.from_right
    assert right.along_m == pytest.approx(2.0)
    assert right.words == "1.17 m above the service line and 2.00 m from the right wall"
    assert "from the right wall" in aim_window_drawing.tapes(PAPER, right)


def test_no_tape_from_a_service_line_that_the_ball_does_not_clear():
    assert aim_window_drawing.tapes(PAPER, WallWindow(3.0, 1.5)) == ""
    assert "0.33 m below the service line" in WallWindow(3.0, 1.5).words


def test_the_enlarged_window_says_the_box_and_the_nearest_line():
    words = "|".join(tree(unfolded_flight.draw_path(LOB, window=WINDOW)).itertext())
    assert "tape 30 cm|by 50 cm" in words
    assert "out line|52 cm" in words  # 4.57 - 4.05
    low = "|".join(tree(unfolded_flight.draw_path(LOB, window=WallWindow(3.1, 2.1, (), 0.3, 0.3))).itertext())
    assert "service line|27 cm" in low  # 2.10 - 1.83


def test_rings_keep_their_order_and_edges():
    ringed = WallWindow(3, 3, (RING, RING, RING))
    found = tree(f"<g>{aim_window_drawing.rings(PAPER, ringed)}</g>").findall("path")
    assert [p.get("fill") for p in found] == ["#CFE6DD", "#8CCAB3", "#009E73"]
    assert all(p.get("stroke") == "#1A2026" for p in found)


@pytest.mark.parametrize(("x", "z"), [(-0.1, 2), (6.5, 2), (3, 4.6), (3, -0.1), (math.nan, 2)])
def test_a_spot_off_the_wall_is_refused(x, z):
    with pytest.raises(OutOfRange, match="Cannot tape a spot"):
        unfolded_flight.draw_path(LOB, window=WallWindow(x, z))


def test_more_than_three_rings_are_refused():
    with pytest.raises(OutOfRange, match="4 rings"):
        unfolded_flight.draw_path(LOB, window=WallWindow(3, 3, (RING,) * 4))


def test_a_path_needs_a_contact_and_surfaces_need_a_place():
    with pytest.raises(InputError, match="without a contact"):
        unfolded_flight.draw_path(())
    with pytest.raises(InputError, match="'ceiling' has no place"):
        unfolded_flight.draw_path((*LOB, Touch("ceiling", 1, 1, 1)))


def test_a_label_goes_where_it_covers_nothing():
    spread = label_placement.Spread((0, 0, 1000, 1000), 50)
    spread.keep_clear_of_line([(0, 500), (1000, 500)])
    spread.keep_clear_of_point((500, 500))
    first = spread.place_near((500, 500))
    assert abs(first[1] - 500) > 80
    spread.take(first)
    second = spread.place_near((500, 500))
    assert math.dist(first, second) > 100


def test_a_label_stays_inside_the_drawing():
    u, v = label_placement.Spread((0, 0, 1000, 1000), 50).place_near((10, 10))
    assert u >= 50
    assert v >= 50
