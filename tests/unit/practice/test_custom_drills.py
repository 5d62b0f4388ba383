"""Drills of the coach's own: what is refused, what is kept, and how a set-up is drawn."""

from __future__ import annotations

from typing import Any

import pytest

from goodlength.court import SINGLES
from goodlength.errors import InputError, NotFound
from goodlength.practice.planning.custom_drills import drill_value, own_drill
from goodlength.practice.planning.drill_library import DRILLS, DrillSpot, WallBox, drill
from goodlength.practice.planning.safety_cautions import SOURCE_WORDS, cautions_for
from goodlength.show.draw.court.drill_setup_drawing import (
    drill_floor,
    floor_words,
    wall_box,
    wall_words,
)
from goodlength.tasks.practice.library_and_custom_drills import drills_in

MINE: dict[str, Any] = {
    "name": "Nick hunter",
    "theme": "serve",
    "company": "pair",
    "do": "Serve for the nick.",
    "counts": "The ball dies.",
    "changes": "More nicks.",
    "sets": "3",
    "attempts": "10",
    "rest_s": "45",
    "minutes": "12",
    "spots": [{"words": "server", "x_m": "5,6", "y_m": "6.3"}],
    "box": {"left_m": "1.0", "low_m": "2.6", "wide_m": "0.3", "tall_m": "0.5"},
}


def test_a_drill_of_ones_own_is_read_from_a_form_and_back_again() -> None:
    made = own_drill(MINE)
    assert (made.id, made.own, made.place) == ("own-nick-hunter", True, "front-wall")
    assert made.spots[0] == DrillSpot("server", 5.6, 6.3)
    assert made.box is not None
    assert made.box.middle_m == pytest.approx((1.15, 2.85))
    assert own_drill(drill_value(made)) == made


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"box": {"left_m": 6.2, "low_m": 2, "wide_m": 0.3, "tall_m": 0.5}}, "outside the wall"),
        ({"box": {"left_m": 1, "low_m": 4.3, "wide_m": 0.3, "tall_m": 0.5}}, "outside the wall"),
        ({"box": {"left_m": 1, "low_m": 0.1, "wide_m": 0.3, "tall_m": 0.5}}, "tin"),
        ({"box": {"left_m": 1, "low_m": "", "wide_m": 0.3, "tall_m": 0.5}}, "four numbers"),
        ({"spots": [{"words": "me", "x_m": 7, "y_m": 2}]}, "off the court"),
        ({"name": " "}, "a name"),
        ({"attempts": "nan"}, "Attempts per set"),
        ({"sets": 0}, "Sets"),
        ({"theme": "yoga"}, "yoga"),
        ({"id": "lob-to-the-box"}, "already"),
        ({"place": "roof"}, "roof"),
        ({"place": "back-quarter"}, "Choose one"),
    ],
)
def test_a_drill_that_cannot_be_is_refused_in_words(change: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said):
        own_drill({**MINE, **change})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"spots": 3}, "spots is 3; a list is needed"),
        ({"spots": ["T"]}, "spots.0 is 'T'; named values are needed"),
        ({"kinds": "lob"}, "kinds is 'lob'; a list is needed"),
        ({"kinds": [3]}, "kinds.0 is 3; a text is needed"),
        ({"box": [1, 2]}, r"box is \[1, 2\]; named values are needed"),
    ],
)
def test_a_form_of_the_wrong_shape_is_refused_in_words(change: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said):
        own_drill({**MINE, **change})


@pytest.mark.parametrize("stored", [3, "lob", ["lob"], None])
def test_a_damaged_stored_drill_is_told_in_words(stored: object) -> None:
    """Before: AttributeError."""
    with pytest.raises(InputError, match="drill: named values are needed"):
        drills_in({"practice.drills": [stored]})


def test_all_faults_are_said_at_once() -> None:
    with pytest.raises(InputError) as refused:
        own_drill({**MINE, "name": "", "counts": "", "company": "crowd"})
    assert all(words in str(refused.value) for words in ("a name", "counts as a hit", "crowd"))


def test_the_librarys_drills_pass_the_same_check() -> None:
    for item in DRILLS:
        again = own_drill({**drill_value(item), "id": f"copy-{item.id}"})
        assert (again.spots, again.dose, again.place) == (item.spots, item.dose, item.place)


def test_the_floor_numbers_each_place_and_says_it() -> None:
    item = drill("serve-and-first-volley")
    svg = drill_floor(item.spots, back_quarters=True)
    assert svg.count("<circle") == len(item.spots)
    assert "style=" not in svg
    assert "0.8 m from the right wall, 6.3 m from the front wall" in floor_words(item.spots)


def test_the_box_is_drawn_where_it_is_taped() -> None:
    box = WallBox(left_m=5.0, low_m=2.83, wide_m=0.3, tall_m=0.5)
    assert "1.00 m above the service line, 1.10 m from the right wall" in wall_words(box)
    svg = wall_box(box, wide=644)  # 100 px a metre inside a 2 px edge
    top = SINGLES.front_out_line.value_m + SINGLES.line_width.value_m
    assert f'x="502" y="{2 + (top - 3.33) * 100:g}" width="30" height="50"' in svg


def test_a_drill_is_named_by_its_name_and_by_the_id_stored_since() -> None:
    named = {item.name_id: item for item in DRILLS}
    assert len(named) == len(DRILLS)
    for item in DRILLS:
        assert drill(item.name_id) is item
        assert drill(item.id) is item
        assert item.name_id not in {other.id for other in DRILLS if other is not item}
    with pytest.raises(NotFound, match="lobs-to-the-taped-box, one-swing-two-serves"):
        drill("lobs")


def test_every_source_of_a_caution_has_words_for_the_page() -> None:
    """The plan showed the keys of the list of sources."""
    named = {key for junior in (False, True) for note in cautions_for(DRILLS, junior) for key in note.sources}
    assert named
    assert named <= set(SOURCE_WORDS)
    assert not [words for words in SOURCE_WORDS.values() if words.isupper()]
