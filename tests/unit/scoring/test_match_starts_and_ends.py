"""Recordings that do not begin at love-all, handicaps, and matches that do not end by points."""

from __future__ import annotations

import pytest

from goodlength.errors import RulesError
from goodlength.scoring import Box, Conduct, Format, Outcome, Retired, Side, Start, System, replay

A, B = Side.A, Side.B
R, L = Box.RIGHT, Box.LEFT
PAR = Format()
HAND_OUT = Format(System.HAND_OUT, 9, edition="2001")


def rallies(winners):
    return [Outcome(str(i), A if who == "A" else B) for i, who in enumerate(winners)]


def test_a_recording_from_3_2():
    match = replay(PAR, Start(points=(3, 2), server=B, box=L), rallies("BA"))
    assert match.opening == "2–3"
    assert [line.call for line in match.lines] == ["3-all", "Hand-out, 4–3"]
    assert [line.box for line in match.lines] == [L, R]
    assert not match.lines[0].box_free
    assert match.games[0].first_server is None  # the game began before the recording


def test_a_recording_from_3_2_without_a_box_leaves_it_open():
    match = replay(PAR, Start(points=(3, 2), server=A), [Outcome("1", A, box=L), Outcome("2", A, box=R)])
    assert match.faults == ()
    assert match.lines[0].box_free


def test_games_won_before_count_and_number_the_game():
    match = replay(Format(best_of=3), Start((1, 0), (10, 4), A, R), rallies("A"))
    assert (match.games_won, match.winner) == ((2, 0), A)
    assert [(game.n, game.points) for game in match.games] == [(2, (11, 4))]


@pytest.mark.parametrize(("games", "server"), [((1, 0), A), ((0, 2), B), ((1, 1), None)])
def test_who_won_the_only_games_serves_first(games, server):
    """RULES-2001, rule 4.1: the winner of a game serves first in the next."""
    assert replay(PAR, Start(games), []).next.server is server


def test_an_empty_record_expects_the_first_serve():
    match = replay(PAR, Start(server=B), [])
    assert (match.lines, match.faults, match.winner) == ((), (), None)
    assert (match.games[0].points, match.games[0].winner) == ((0, 0), None)
    assert (match.next.game, match.next.server, match.next.opening) == (1, B, "Love-all")


def test_every_game_begins_at_the_handicap():
    match = replay(Format(best_of=3), Start(server=A, handicap=(0, 5)), rallies("A" * 11 + "B"))
    assert match.opening == "Love–5"
    assert [line.call for line in match.lines[:2]] == ["1–5", "2–5"]
    assert match.games[0].points == (11, 5)
    assert match.lines[-1].before == (0, 5)
    assert match.lines[-1].call == "Hand-out, 6–love"


def test_a_handicap_below_zero_is_said_as_minus():
    match = replay(PAR, Start(server=A, handicap=(-2, 0)), rallies("ABA"))
    assert match.opening == "Minus 2–love"
    assert [line.call for line in match.lines] == ["Minus 1–love", "Hand-out, 1–minus 1", "Hand-out, love–1"]


def test_the_open_game_is_listed_once_something_happened_in_it():
    won = replay(PAR, Start(server=A), rallies("A" * 11))
    assert [game.points for game in won.games] == [(11, 0)]
    begun = replay(PAR, Start(server=A), rallies("A" * 11 + "B"))
    assert [(game.points, game.winner) for game in begun.games] == [((11, 0), A), ((0, 1), None)]
    let = replay(PAR, Start(server=A), [*rallies("A" * 11), Outcome("x", let=True)])
    assert [game.points for game in let.games] == [(11, 0), (0, 0)]


@pytest.mark.parametrize("why", ["retired", "disqualified", "injured"])
def test_a_player_who_stops_loses_the_match_and_the_score_stays(why):
    match = replay(PAR, Start(server=A), [*rallies("AAB"), Retired("r", A, why)], ("Imogen", "Petra"))
    assert (match.winner, match.how_over, match.next) == (B, why, None)
    assert match.lines[-1].call == f"Imogen {why}, match to Petra"
    assert (match.lines[-1].ends_match, match.lines[-1].is_rally) == (B, False)
    assert [(game.points, game.winner) for game in match.games] == [((2, 1), None)]


def test_a_player_who_stops_before_the_first_serve():
    match = replay(PAR, Start(), [Retired("r", B)])
    assert (match.winner, match.games, match.faults) == (A, (), ())


def test_counts_of_serves_hold_lets_and_restart_with_the_game():
    events = [Outcome("x", let=True), *rallies("A" * 11), Outcome("y", B)]
    lines = replay(PAR, Start(server=A), events).lines
    assert [(line.n, line.game, line.n_in_game) for line in (lines[0], lines[1], lines[11], lines[12])] == [
        (1, 1, 1),
        (2, 1, 2),
        (12, 1, 12),
        (13, 2, 1),
    ]


def test_a_line_that_is_no_rally_names_the_serve_to_come():
    match = replay(PAR, Start(server=A), [Outcome("1", A, box=R), Conduct("c", B)])
    line = match.lines[1]
    assert (line.n, line.server, line.box, line.winner, line.after) == (1, A, L, B, (1, 1))


def test_conduct_stroke_to_the_receiver_in_hand_out_scoring_is_a_hand_out():
    """Ours, without a source."""
    match = replay(HAND_OUT, Start(points=(3, 1), server=A, box=R), [Conduct("c", B)])
    assert match.lines[0].call == "Conduct stroke to B, hand-out, 1–3"
    assert (match.next.server, match.next.points) == (B, (3, 1))


@pytest.mark.parametrize(
    ("fmt", "points", "made"),
    [
        (PAR, (4, 10), (12, 10)),
        (HAND_OUT, (8, 8), (10, 8)),
        (HAND_OUT, (3, 8), (10, 8)),
        (HAND_OUT, (3, 7), (9, 7)),
    ],
)
def test_a_conduct_game_is_made_up_to_what_wins(fmt, points, made):
    """RULES-2014 rule 15, from memory; where no choice was made at 8-all the longer one is taken."""
    match = replay(fmt, Start(points=points, server=A, box=R), [Conduct("c", A, game=True)])
    assert match.games[0].winner is A
    assert match.games[0].points == made


@pytest.mark.parametrize(
    ("start", "why"),
    [
        (Start((3, 0)), "each player may have 0 to 2"),
        (Start((-1, 0)), "each player may have 0 to 2"),
        (Start(points=(11, 3)), "that game is over"),
        (Start(points=(12, 3)), "the game would have ended at 11–3"),
        (Start(points=(-1, 0)), "points are 0 or more"),
        (Start(points=(1, 0), handicap=(2, 0)), "each game begins at 2–0"),
        (Start(handicap=(11, 0)), "a handicap start is minus 11 to 10"),
        (Start(handicap=(0, -12)), "a handicap start is minus 11 to 10"),
    ],
)
def test_a_start_that_cannot_be_is_refused_in_words(start, why):
    with pytest.raises(RulesError, match=why):
        replay(PAR, start, [])


@pytest.mark.parametrize(
    ("fmt", "why"),
    [
        (Format(target=9), "rally scoring goes to 11 or 15"),
        (Format(System.HAND_OUT, 11), "hand-out scoring to 9"),
        (Format(best_of=4), "best of 3 or of 5"),
        (Format(best_of=1), "best of 3 or of 5"),
        (Format(edition="1999"), "no edition '1999'"),
        (Format(System.HAND_OUT, 9, setting=False), "receiver's choice at 8-all"),
        (Format(setting=True), "has no setting"),
    ],
)
def test_a_format_that_no_edition_knows_is_refused_in_words(fmt, why):
    with pytest.raises(RulesError, match=why):
        replay(fmt, Start(), [])


def test_setting_can_be_asked_for_or_left_out_in_rally_scoring_to_15():
    asked = Format(System.RALLY, 15, edition="2020", setting=True)
    left_out = Format(System.RALLY, 15, edition="2001", setting=False)
    start = Start(points=(13, 14), server=A, box=R)
    assert replay(asked, start, rallies("A")).next.set_choice
    assert not replay(left_out, start, rallies("A")).next.set_choice


@pytest.mark.parametrize(("points", "opening"), [((3, 3), "3-all"), ((3, 2), "")])
def test_without_a_server_only_a_level_score_can_be_called(points, opening):
    assert replay(PAR, Start(points=points), []).opening == opening


def test_a_handicap_may_be_as_low_as_minus_the_game():
    assert replay(PAR, Start(handicap=(-11, 10), server=A), []).opening == "Minus 11–10, game ball"
