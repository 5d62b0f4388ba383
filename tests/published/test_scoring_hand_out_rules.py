"""Worked scenarios of hand-out scoring and of setting (source: RULES-2001, rule 2, appendices 3.1 and 8.1)."""

from __future__ import annotations

import pytest

from goodlength.scoring import Box, Format, Outcome, Side, Start, System, replay

A, B = Side.A, Side.B
R, L = Box.RIGHT, Box.LEFT
HAND_OUT = Format(System.HAND_OUT, 9, edition="2001")
PAR_15 = Format(System.RALLY, 15, edition="2001")


def calls(match):
    return [line.call for line in match.lines]


def test_only_the_server_scores():
    """Rule 2: the receiver who wins the rally becomes server, the score unchanged."""
    events = [
        Outcome("1", A, box=R),
        Outcome("2", A),
        Outcome("3", B),
        Outcome("4", B, box=L),
        Outcome("5", B),
        Outcome("6", A),
        Outcome("7", A, box=R),
        Outcome("8", B),
        Outcome("9", B, box=L),
    ]
    match = replay(HAND_OUT, Start(server=A), events)
    assert match.opening == "Love-all"
    assert calls(match) == [
        "1–love",
        "2–love",
        "Hand-out, love–2",
        "1–2",
        "2-all",
        "Hand-out, 2-all",
        "3–2",
        "Hand-out, 2–3",
        "3-all",
    ]
    assert [(line.server, line.box) for line in match.lines] == [
        (A, R),
        (A, L),
        (A, R),
        (B, L),
        (B, R),
        (B, L),
        (A, R),
        (A, L),
        (B, L),
    ]
    assert match.faults == ()


def test_set_two():
    """Rule 2: A serving reaches 8-all, receiver B says two; to 10, game ball for the server only."""
    winners = [A, B, B, A, A, A]
    events = [Outcome(str(i), who, set_to=10 if i == 1 else None) for i, who in enumerate(winners)]
    match = replay(HAND_OUT, Start(points=(7, 8), server=A, box=R), events)
    assert calls(match) == [
        "8-all, set two",
        "Hand-out, 8-all",
        "9–8, game ball",
        "Hand-out, 8–9",
        "9-all, game ball",
        "Game to A, 10–9",
    ]


def test_set_one():
    """Appendix 3.1: "8-all, set one, game ball"."""
    events = [Outcome("1", A), Outcome("2", B, set_to=9), Outcome("3", B)]
    match = replay(HAND_OUT, Start(points=(7, 8), server=A, box=R), events)
    assert calls(match) == ["8-all, set one, game ball", "Hand-out, 8-all, game ball", "Game to B, 9–8"]


def test_the_choice_is_offered_once_a_game_and_to_the_receiver_before_the_next_serve():
    reached = replay(HAND_OUT, Start(points=(7, 8), server=A, box=R), [Outcome("1", A)])
    assert (reached.next.set_choice, reached.next.server, calls(reached)) == (True, A, ["8-all"])
    chosen = replay(HAND_OUT, Start(points=(7, 8), server=A, box=R), [Outcome("1", A)], set_to=9)
    assert (chosen.next.set_choice, calls(chosen)) == (False, ["8-all, set one, game ball"])
    later = replay(
        HAND_OUT, Start(points=(7, 8), server=A, box=R), [Outcome("1", A), Outcome("2", B, set_to=10)]
    )
    assert not later.next.set_choice
    assert calls(later) == ["8-all, set two", "Hand-out, 8-all"]


def test_game_ball_only_when_the_server_needs_one():
    """Appendix 3.1."""
    match = replay(
        HAND_OUT, Start(points=(7, 3), server=A, box=R), [Outcome("1", A), Outcome("2", B), Outcome("3", A)]
    )
    assert calls(match) == ["8–3, game ball", "Hand-out, 3–8", "Hand-out, 8–3, game ball"]


def test_nine_love_may_take_any_number_of_rallies():
    match = replay(
        HAND_OUT,
        Start(server=A),
        [Outcome(str(i), B if i % 2 == 0 else A) for i in range(20)]
        + [Outcome(str(20 + i), A) for i in range(9)],
    )
    assert match.games[0].points == (9, 0)
    assert len(match.lines) == 29


@pytest.mark.parametrize(
    ("set_to", "winners", "said"),
    [
        (15, "AB", ["14-all, set one, game ball", "Hand-out, game to B, 15–14"]),
        (17, "ABBB", ["14-all, set three", "Hand-out, 15–14", "16–14, game ball", "Game to B, 17–14"]),
        (
            17,
            "ABBAAA",
            [
                "14-all, set three",
                "Hand-out, 15–14",
                "16–14, game ball",
                "Hand-out, 15–16, game ball",
                "16-all, game ball",
                "Game to A, 17–16",
            ],
        ),
    ],
)
def test_setting_at_fourteen_all(set_to, winners, said):
    """Appendix 8.1: rally scoring to 15, the receiver chooses 15 or 17."""
    events = [
        Outcome(str(i), A if who == "A" else B, set_to=set_to if i == 1 else None)
        for i, who in enumerate(winners)
    ]
    match = replay(PAR_15, Start(points=(13, 14), server=A, box=R), events)
    said = [words.replace("Hand-out, game", "Game") for words in said]  # a game's end names no hand-out
    assert calls(match) == said
    assert match.faults == ()
