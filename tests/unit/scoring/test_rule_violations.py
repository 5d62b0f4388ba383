"""Records that the rules contradict: every fault at once, what was seen stands, nothing cascades."""

from __future__ import annotations

import pytest

from goodlength.scoring import (
    Box,
    Conduct,
    Decision,
    Format,
    Outcome,
    PutRight,
    Retired,
    Side,
    Start,
    System,
    replay,
)

A, B = Side.A, Side.B
R, L = Box.RIGHT, Box.LEFT
PAR = Format()
HAND_OUT = Format(System.HAND_OUT, 9, edition="2001")
NAMES = ("Imogen", "Petra")


def rallies(winners, first=0):
    return [Outcome(str(first + i), A if who == "A" else B) for i, who in enumerate(winners)]


def codes(match):
    return [(fault.key, fault.code) for fault in match.faults]


def test_a_clean_match_has_no_faults():
    assert codes(replay(PAR, Start(server=A), rallies("ABAB"))) == []


def test_wrong_server_stands_and_the_winner_serves_next():
    events = [Outcome("1", A), Outcome("2", A, server=B), Outcome("3", B)]
    match = replay(PAR, Start(server=A), events, NAMES)
    assert codes(match) == [("2", "wrong-server")]
    assert match.faults[0].words.startswith(
        "Rally 2 of game 1: Petra served, but by the score it was Imogen's"
    )
    assert [line.server for line in match.lines] == [A, B, A]
    assert [line.after for line in match.lines] == [(1, 0), (2, 0), (2, 1)]
    assert match.lines[1].hand_out


def test_wrong_server_has_a_free_choice_of_box_and_makes_no_second_fault():
    match = replay(PAR, Start(server=A), [Outcome("1", A, box=R), Outcome("2", A, server=B, box=R)])
    assert codes(match) == [("2", "wrong-server")]


def test_the_server_seen_and_expected_is_no_fault():
    assert codes(replay(PAR, Start(server=A), [Outcome("1", B, server=A), Outcome("2", B, server=B)])) == []


def test_wrong_box_after_a_let():
    """Rule 5.3: after a let the serve comes from the same box."""
    events = [Outcome("1", let=True, box=R), Outcome("2", A, box=L)]
    match = replay(PAR, Start(server=A), events)
    assert codes(match) == [("2", "wrong-box")]
    assert "served from the left box where the right box was due" in match.faults[0].words


def test_a_box_that_was_never_written_down_cannot_be_wrong():
    events = [Outcome("1", A), Outcome("2", A, box=R), Outcome("3", A, box=R)]
    match = replay(PAR, Start(server=A), events)
    assert codes(match) == [("3", "wrong-box")]
    assert [line.box_known for line in match.lines] == [False, True, True]


def test_a_proposed_box_is_the_one_chosen_last():
    events = [Outcome("1", B, box=L), Outcome("2", A)]
    match = replay(PAR, Start(server=A), events)
    assert (match.next.box, match.next.box_free) == (L, True)
    assert match.lines[1].box is R  # B has not chosen yet


def test_unknown_winner_makes_one_fault_and_no_cascade():
    """Server and box after it are not known; the score is only a lower bound."""
    events = [
        Outcome("1", A, box=R),
        Outcome("2"),
        Outcome("3", B, server=B, box=R),
        Outcome("4", B, box=R),
        Outcome("5", A),
    ]
    match = replay(PAR, Start(server=A), events)
    assert codes(match) == [("2", "winner-missing")]
    assert [line.certain for line in match.lines] == [True, False, False, False, False]
    assert [line.call for line in match.lines] == ["1–love", "", "", "", ""]
    assert [line.server_known for line in match.lines] == [True, True, True, True, True]
    assert match.lines[1].after == (1, 0)


def test_the_server_after_an_unknown_winner_is_not_known_until_seen_or_won():
    match = replay(PAR, Start(server=A), [Outcome("1"), Outcome("2", B), Outcome("3", B)])
    assert [line.server_known for line in match.lines] == [True, False, True]
    pending = replay(PAR, Start(server=A), [Outcome("1")])
    assert (pending.next.server, pending.next.box) == (None, None)


def test_put_right_ends_the_uncertainty():
    events = [*rallies("A"), Outcome("x"), *rallies("A", 5), PutRight("p", (2, 1)), *rallies("B", 10)]
    match = replay(PAR, Start(server=A), events)
    assert [line.certain for line in match.lines] == [True, False, False, True, True]
    assert match.lines[-1].call == "Hand-out, 2-all"


def test_put_right_can_end_a_game_or_the_match():
    match = replay(PAR, Start((2, 0), server=A), [Outcome("x"), PutRight("p", (11, 4))], NAMES)
    assert (match.winner, match.how_over) == (A, "won")
    assert match.lines[-1].call == "Game and match to Imogen, 11–4"
    assert match.games[0].points == (11, 4)


@pytest.mark.parametrize(
    ("points", "why"),
    [((13, 5), "the game would have ended at 11–5"), ((-1, 0), "points are 0 or more"), ((14, 11), "13–11")],
)
def test_a_game_that_cannot_be_is_a_fault_and_changes_nothing(points, why):
    match = replay(PAR, Start(server=A), [*rallies("A"), PutRight("p", points)])
    assert codes(match) == [("p", "score-impossible")]
    assert why in match.faults[0].words
    assert match.next.points == (1, 0)


def test_put_right_of_server_and_box():
    match = replay(
        PAR, Start(server=A), [*rallies("A"), PutRight("p", server=B, box=L), Outcome("2", B, box=L)]
    )
    assert codes(match) == []
    assert match.lines[-1].server is B
    assert match.lines[1].is_rally is False


@pytest.mark.parametrize(
    ("event", "counts_as"),
    [
        (Outcome("1", A, let=True), "let"),
        (Outcome("1", let=True, decision=Decision.STROKE), "let"),
        (Outcome("1", let=True, fault=True), "let"),
        (Outcome("1", A, decision=Decision.YES_LET), "won"),
        (Outcome("1", A, fault=True), "won"),
    ],
)
def test_two_answers_that_cannot_both_be_true(event, counts_as):
    match = replay(PAR, Start(server=A), [event])
    assert codes(match) == [("1", "contradiction")]
    assert match.lines[0].let is (counts_as == "let")
    assert match.lines[0].after == ((1, 0) if counts_as == "won" else (0, 0))


def test_a_service_fault_is_won_by_the_receiver_and_a_yes_let_is_a_let():
    match = replay(PAR, Start(server=A), [Outcome("1", fault=True), Outcome("2", decision=Decision.YES_LET)])
    assert codes(match) == []
    assert [line.call for line in match.lines] == ["Fault, hand-out, 1–love", "Yes let, 1–love"]


def test_play_after_the_end_is_one_fault_and_keeps_every_event():
    start = Start((2, 0), (10, 0), A, R)
    events = [*rallies("A"), *rallies("BB", 5), PutRight("p", (1, 1)), Conduct("c", A), Retired("r", B)]
    match = replay(PAR, start, events)
    assert codes(match) == [("5", "after-the-end")]
    assert "with 4 more after it" in match.faults[0].words
    assert len(match.lines) == 6
    assert [line.certain for line in match.lines] == [True] + [False] * 5
    assert [line.is_rally for line in match.lines] == [True, True, True, False, False, False]
    assert [game.points for game in match.games] == [(11, 0)]
    assert (match.winner, match.how_over) == (A, "won")


def test_first_server_missing_is_said_once_and_the_score_stands():
    match = replay(PAR, Start(), rallies("ABB"), NAMES)
    assert codes(match) == [("0", "server-missing")]
    assert "Imogen or Petra" in match.faults[0].words
    assert [line.after for line in match.lines] == [(1, 0), (1, 1), (1, 2)]
    assert [line.call for line in match.lines] == ["", "Hand-out, 1-all", "2–1"]
    assert [line.server_known for line in match.lines] == [False, True, True]
    assert match.games[0].first_server is None


def test_first_server_seen_on_the_first_rally():
    match = replay(PAR, Start(), [Outcome("1", B, server=B)])
    assert codes(match) == []
    assert match.games[0].first_server is B


def test_without_a_first_server_hand_out_scoring_is_not_certain():
    match = replay(HAND_OUT, Start(), rallies("AA"))
    assert codes(match) == [("0", "server-missing")]
    assert not match.lines[0].certain


def test_setting_not_written_down():
    match = replay(HAND_OUT, Start(points=(7, 8), server=A, box=R), rallies("AAA"))
    assert codes(match) == [("1", "setting-missing")]
    assert [line.certain for line in match.lines] == [True, False, False]
    assert match.games[0].points == (10, 8)


@pytest.mark.parametrize(
    ("fmt", "points", "set_to", "codes_found"),
    [
        (HAND_OUT, (7, 8), 11, ["setting-wrong", "setting-missing"]),
        (HAND_OUT, (3, 3), 10, ["setting-wrong"]),
        (PAR, (10, 9), 12, ["setting-wrong"]),
    ],
)
def test_setting_that_the_rules_do_not_offer(fmt, points, set_to, codes_found):
    match = replay(
        fmt, Start(points=points, server=A, box=R), [Outcome("1", A), Outcome("2", A, set_to=set_to)]
    )
    assert [fault.code for fault in match.faults] == codes_found


def test_the_choice_said_again_after_a_let_is_no_fault():
    events = [Outcome("1", A), Outcome("2", let=True, set_to=9), Outcome("3", A, set_to=9)]
    match = replay(HAND_OUT, Start(points=(7, 8), server=A, box=R), events)
    assert codes(match) == []
    assert match.games[0].points == (9, 8)


def test_nine_eight_means_that_set_two_was_chosen_before():
    match = replay(HAND_OUT, Start(points=(9, 8), server=A, box=R), rallies("A"))
    assert codes(match) == []
    assert match.games[0].points == (10, 8)


def test_every_fault_is_there_at_once_in_order():
    events = [
        Outcome("1", A, box=R),
        Outcome("2", A, box=R),
        Outcome("3"),
        PutRight("4", (40, 1)),
        Outcome("5", B, let=True),
    ]
    assert [code for _, code in codes(replay(PAR, Start(server=A), events))] == [
        "wrong-box",
        "winner-missing",
        "score-impossible",
        "contradiction",
    ]


def test_putting_right_a_server_who_serves_anyway_changes_no_box():
    match = replay(PAR, Start(server=A), [Outcome("1", A, box=R), PutRight("p", server=A)])
    assert (match.next.box, match.next.box_free) == (L, False)


def test_putting_the_score_right_to_the_tie_offers_the_choice():
    match = replay(HAND_OUT, Start(points=(7, 7), server=A, box=R), [PutRight("p", (8, 8))])
    assert match.next.set_choice
    past = replay(
        HAND_OUT, Start(points=(7, 7), server=A, box=R), [PutRight("p", (9, 8)), Outcome("1", A, set_to=9)]
    )
    assert [fault.code for fault in past.faults] == ["setting-wrong"]
    assert past.games[0].points == (10, 8)


@pytest.mark.parametrize("points", [(10, 10), (9, 7), (12, 10)])
def test_scores_that_setting_in_hand_out_scoring_never_reaches(points):
    match = replay(HAND_OUT, Start(points=(7, 7), server=A, box=R), [PutRight("p", points)])
    reached = match.games[0].winner is not None
    assert ([fault.code for fault in match.faults] == []) is reached
    assert reached is (points == (9, 7))


def test_while_the_score_is_not_certain_a_choice_is_taken_as_it_is_told():
    events = [Outcome("x"), *rallies("A"), Outcome("2", A, set_to=9), Outcome("3", A, set_to=11)]
    match = replay(HAND_OUT, Start(points=(6, 8), server=A, box=R), events)
    assert codes(match) == [("x", "winner-missing"), ("3", "setting-wrong")]


def test_put_right_tells_the_server_and_the_box_after_an_unknown_winner():
    match = replay(PAR, Start(server=A), [Outcome("x"), PutRight("p", (0, 1), B, L)])
    assert (match.next.server, match.next.box, match.next.box_free) == (B, L, False)
    assert (match.lines[1].server_known, match.lines[1].box_known) == (True, True)


def test_what_was_seen_after_the_end_is_kept():
    seen = Outcome("5", B, server=B, box=L)
    lines = replay(PAR, Start((2, 0), (10, 0), A, R), [*rallies("A"), seen, Outcome("6", A)]).lines
    assert [(line.n, line.n_in_game) for line in lines] == [(1, 1), (2, 2), (3, 3)]
    assert (lines[1].server, lines[1].box, lines[1].server_known, lines[1].box_known) == (B, L, True, True)
    assert (lines[2].server_known, lines[2].box_known) == (False, False)
    assert (lines[1].before, lines[1].after, lines[1].call) == ((11, 0), (11, 0), "")
