"""The Aim page while something is moved: less is worked out, the same figures; and the map of the front wall."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from starlette.testclient import TestClient

ASKED = "box=right&kind=hard&level=club&warmth=warm"
AT = "across=2.9&above=0.4&pace=31"


def figures(html: str) -> list[str]:
    """The counts of 100 and their ranges."""
    part = html.partition('data-part="out"')[2].partition("</ol>")[0]
    return re.findall(r"<b>(\d+)</b>|<i>([\d to]+)</i>", part)


def test_while_it_is_moved_the_figures_are_those_of_the_whole_answer(client: TestClient) -> None:
    """Before, figures came only after the pointer was let go, and 1.0 to 1.6 s later."""
    whole = client.get(f"/aim/answer?{ASKED}&{AT}").text
    moving = client.get(f"/aim/answer?{ASKED}&{AT}&moving=1").text
    assert figures(moving) == figures(whole) != []
    assert 'data-part="misses"' in whole
    assert 'data-part="misses"' not in moving
    assert 'name="moving"' not in moving
    searched, brief = (client.get(f"/aim/answer?{ASKED}{more}").text for more in ("", "&moving=1"))
    assert figures(searched) == figures(brief) != []
    assert "more or less accurate" in searched and 'data-part="moved"' not in brief


def test_the_same_question_has_the_same_figures_and_a_near_one_near_figures(client: TestClient) -> None:
    """The throws are the same for every target: a centimetre moves no count by more than two of 100."""
    counts = []
    for k in range(6):
        html = client.get(f"/aim/answer?{ASKED}&across={2.9 + 0.01 * k}&above=0.4&pace=31&moving=1").text
        part = html.partition('data-part="out"')[2].partition("</ol>")[0]
        counts.append([int(found) for found in re.findall(r"<b>(\d+)</b>", part)])
    for before, after in pairwise(counts):
        assert max(abs(a - b) for a, b in zip(before, after, strict=True)) <= 2


def test_the_map_says_how_many_meet_the_goal_and_compares_a_second_serve(client: TestClient) -> None:
    drawn = client.get(f"/aim/map?{ASKED}&{AT}").text
    assert "<svg" in drawn and "service line" in drawn
    assert "Hard, at 112 km/h: at most" in drawn
    assert "Dashed" not in drawn
    both = client.get(f"/aim/map?{ASKED}&{AT}&compare=lob").text
    assert "Dashed: Lob, at" in both
    assert client.get(f"/aim/map?{ASKED}&{AT}&compare=hard").text == drawn


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("across=7.0&above=0.4&pace=31", "from 0.1 to 6.3 m from the left wall"),
        ("across=2.9&above=3.9&pace=31", "from 0.5 to 5 m"),
        ("across=2.9&above=0.4&pace=2", "from 8 to 70 m/s"),
        ("compare=sideways", "kind of serve"),
        ("there_within_s=0.06", "no hard from there"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_drawn(client: TestClient, asked: str, words: str) -> None:
    answer = client.get(f"/aim/map?{ASKED}&{asked}")
    assert answer.status_code == 422
    assert words in answer.json()["error"]["words"]
    if "compare" not in asked:
        live = client.get(f"/aim/answer?{ASKED}&{asked}&moving=1")
        assert live.status_code == 422
        assert "data-part" not in live.text
