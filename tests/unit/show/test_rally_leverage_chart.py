"""Turning points: steps as wide as their swing, each in its winner's column, the few that turned it named."""

import itertools
import re

import pytest
from lxml import etree

from goodlength.errors import InputError, OutOfRange
from goodlength.languages import LANGUAGES, language
from goodlength.show.draw.font_metrics import width
from goodlength.show.draw.rally_leverage_chart import (
    GAME_WIDE,
    PointGame,
    PointStep,
    turning_games,
)
from goodlength.show.draw.svg_primitives_and_themes import FILE, LIGHT, PAPER

NAMES = ("Imogen", "Petra")
GAMES = (
    PointGame(
        "Game 1",
        "2–1",
        (
            PointStep(0, 0.2, "0–0", key="k0"),
            PointStep(1, 0.1, "1–0", key="k1"),
            PointStep(0, 0.25, "1–1", turning=True, key="k2"),
        ),
        0.75,
    ),
    PointGame("Game 2", "0–1", (PointStep(1, 0.5, "0–0", turning=True, key="k3"),), 0.25),
)


def tree(svg: str) -> etree._Element:
    return etree.fromstring(svg.encode())


def steps(svg: str) -> list[tuple[float, float, float]]:
    """Middle across, top and width of each step, in the order drawn."""
    boxes = [item for item in tree(svg).iter("{*}rect") if item.get("pointer-events") is None]
    return [
        (float(b.get("x")) + float(b.get("width")) / 2, float(b.get("y")), float(b.get("width")))
        for b in boxes
    ]


def test_each_rally_is_a_step_down_in_the_column_of_its_winner() -> None:
    first, _ = turning_games(GAMES, NAMES, theme=PAPER)
    (x0, y0, _), (x1, y1, _), (x2, y2, _) = steps(first)
    assert x0 == x2 < x1
    assert y0 < y1 < y2


def test_a_step_is_as_wide_as_its_swing_by_one_scale_for_all_games() -> None:
    wide = [item for svg in turning_games(GAMES, NAMES, theme=PAPER) for _, _, item in steps(svg)]
    least = 2.0
    swings = [0.2, 0.1, 0.25, 0.5]
    assert [(item - least) / (wide[3] - least) for item in wide] == pytest.approx(
        [swing / 0.5 for swing in swings], abs=0.01
    )


def test_a_hand_out_slants_and_a_held_serve_does_not() -> None:
    held = (PointGame("Game 1", "", (PointStep(0, 0.2, "0–0"), PointStep(0, 0.2, "1–0")), 0.6),)
    slant = re.compile(r"M58 [\d.]+L110 ")
    assert slant.search(turning_games(GAMES, NAMES)[0])
    assert not slant.search(turning_games(held, NAMES)[0])


def test_the_score_stands_beside_a_turning_point_and_the_chance_below_each_game() -> None:
    texts = [
        "".join(item.itertext()) for svg in turning_games(GAMES, NAMES) for item in tree(svg).iter("text")
    ]
    assert texts.count("1–1") == 1
    assert "1–0" not in texts
    assert {"chance 75%", "chance 25%", "Game 1", "2–1"} <= set(texts)


def test_scores_of_neighbours_do_not_run_into_each_other() -> None:
    close = PointGame("Game 1", "", tuple(PointStep(0, 0.3, f"{n}–0", turning=n < 3) for n in range(40)), 0.5)
    (svg,) = turning_games((close,), NAMES)
    ys = [
        float(item.get("y"))
        for item in tree(svg).iter("text")
        if item.get("font-weight") or "b" in (item.get("class") or "")
    ]
    labels = sorted(ys[1:])
    assert all(b - a >= 15 for a, b in itertools.pairwise(labels))


def test_a_press_plays_the_rally_and_turning_points_take_the_focus() -> None:
    first, second = turning_games(GAMES, NAMES, play=lambda key: f"/show?rallies={key}&x=1")
    links = [*tree(first).iter("a"), *tree(second).iter("a")]
    assert [link.get("href") for link in links] == [f"/show?rallies=k{n}&x=1" for n in range(4)]
    assert [link.get("tabindex") for link in links] == ["-1", "-1", None, None]
    assert links[2].get("aria-label") == "Game 1, 1–1: play the rally"
    assert tree(first).get("role") == "group"
    assert "<a " not in turning_games(GAMES, NAMES)[0]


def test_a_rally_without_video_is_no_link() -> None:
    first, second = turning_games(GAMES, NAMES, play=lambda key: "/show" if key == "k1" else "")
    assert [link.get("aria-label") for link in tree(first).iter("a")] == ["Game 1, 1–0: play the rally"]
    assert next(tree(first).iter("a")).get("tabindex") is None  # the only way in for the keyboard
    assert "<a " not in second and tree(second).get("role") == "img"


def test_two_games_stand_beside_each_other_on_a_phone() -> None:
    assert 2 * GAME_WIDE <= 390 - 2 * 16
    assert all(float(tree(svg).get("width")) == GAME_WIDE for svg in turning_games(GAMES, NAMES))


def test_long_names_are_cut_before_they_meet() -> None:
    names = ("Bartholomea Featherstonehaugh", "Wilhelmina-Constance")
    (svg, _) = turning_games(GAMES, names)
    texts = ["".join(item.itertext()) for item in tree(svg).iter("text")]
    cut = [text for text in texts if text.endswith("…")]
    assert len(cut) == 2
    assert all(width(item, 13) <= GAME_WIDE / 2 - 6 for item in cut)


def test_on_paper_each_game_is_drawn_in_the_light_colours() -> None:
    for look in (PAPER, FILE):
        drawn = turning_games(GAMES, NAMES, theme=look)
        assert len(drawn) == 2
        assert all("var(" not in svg for svg in drawn)
        assert any(LIGHT["side-a"] in svg for svg in drawn)


def test_the_figures_are_said_to_those_who_do_not_see_it() -> None:
    label = " ".join(tree(svg).get("aria-label") or "" for svg in turning_games(GAMES, NAMES))
    assert "Game 1 2–1: Imogen won 2 of 3 rallies" in label
    assert "chance of the match for Imogen after it was 75%" in label
    assert "Turning points: 0–0, won by Petra." in label


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(InputError, match="no rally has a winner yet"):
        turning_games((PointGame("Game 1", "", (), 0.5),), NAMES)
    with pytest.raises(OutOfRange):
        turning_games((PointGame("Game 1", "", (PointStep(0, 1.2, "0–0"),), 0.5),), NAMES)


@pytest.mark.parametrize("code", LANGUAGES)
def test_the_score_beside_a_turning_point_stands_within_the_drawing(code: str) -> None:
    """Words of another language were wider than the room, and cut off on the handout."""
    level = [language(code).phrase("{points}-all", points=n) for n in range(15)]
    for score in (*level, "14–13", "a very long score"):
        for winner in (0, 1):
            game = PointGame("Game 1", "", (PointStep(winner, 0.5, score, turning=True),), 0.5)
            (svg,) = turning_games([game], NAMES, theme=PAPER)
            (text,) = (item for item in tree(svg).iter("{*}text") if item.text == score)
            at, wide = float(text.get("x")), width(score, float(text.get("font-size")), bold=True)
            left = at - wide if text.get("text-anchor") == "end" else at
            assert left >= -0.1
            assert left + wide <= GAME_WIDE + 0.1
