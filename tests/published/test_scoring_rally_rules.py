"""Worked scenarios of rally scoring (source: RULES-2014, clauses named; order of a call from memory)."""

from __future__ import annotations

import pytest

from goodlength.scoring import (
    Box,
    Conduct,
    Decision,
    Format,
    Outcome,
    PutRight,
    Side,
    Start,
    System,
    final_problem,
    replay,
)

A, B = Side.A, Side.B
R, L = Box.RIGHT, Box.LEFT
PAR = Format()
NAMES = ("Imogen", "Petra")


def rallies(winners, first=0):
    """Rallies won by the players named in a string such as "AAB"."""
    return [Outcome(str(first + i), A if who == "A" else B) for i, who in enumerate(winners)]


def calls(match):
    return [line.call for line in match.lines]


def test_first_rallies_with_boxes_and_calls():
    """Rules 2.1, 5.2, 5.3: hand-outs choose a box, a let is replayed from the same one."""
    events = [
        Outcome("1", A, box=R),
        Outcome("2", A),
        Outcome("3", B),
        Outcome("4", let=True, decision=Decision.YES_LET, box=L),
        Outcome("5", B),
        Outcome("6", A),
        Outcome("7", B, box=R),
        Outcome("8", B, box=L),
    ]
    match = replay(PAR, Start(server=A), events)
    assert match.opening == "Love-all"
    served = [(line.server, line.box, line.call) for line in match.lines]
    assert served == [
        (A, R, "1–love"),
        (A, L, "2–love"),
        (A, R, "Hand-out, 1–2"),
        (B, L, "Yes let, 1–2"),
        (B, L, "2-all"),
        (B, R, "Hand-out, 3–2"),
        (A, R, "Hand-out, 3-all"),
        (B, L, "4–3"),
    ]
    assert [line.box_free for line in match.lines] == [True, False, False, True, False, False, True, True]
    assert match.faults == ()


def test_tie_at_ten_all():
    """Rules 2.2, 3.6.7, 3.6.8: from 9-all with B serving, the first tie of the match."""
    match = replay(PAR, Start(points=(9, 9), server=B), rallies("ABABBB"), NAMES)
    assert calls(match) == [
        "Hand-out, 10–9, game ball",
        "Hand-out, 10-all: a player must win by 2 points",
        "Hand-out, 11–10, game ball",
        "Hand-out, 11-all",
        "12–11, game ball",
        "Game to Petra, 13–11",
    ]
    assert (match.next.server, match.next.box_free, match.next.opening) == (B, True, "Love-all")


@pytest.mark.parametrize(
    ("edition", "second"),
    [("2010", "10-all: a player must win by 2 points"), ("2014", "10-all"), ("2025", "10-all")],
)
def test_the_sentence_at_ten_all_comes_once_a_match_and_each_time_in_2010(edition, second):
    """Rule 3.6.8; RULES-2010, rule 2.4."""
    game = "A" * 9 + "B" * 9 + "AB"
    match = replay(Format(edition=edition), Start(server=A), rallies(game + "AA" + game))
    said = [line.call for line in match.lines if "10-all" in line.call]
    assert said == ["Hand-out, 10-all: a player must win by 2 points", f"Hand-out, {second}"]


def test_no_sentence_when_it_was_called_before_the_recording_began():
    match = replay(PAR, Start(points=(10, 9), server=A, ten_all_called=True), rallies("B"))
    assert calls(match) == ["Hand-out, 10-all"]


def test_a_let_at_ten_all_does_not_say_the_sentence_again():
    events = [*rallies("B"), Outcome("x", let=True)]
    match = replay(PAR, Start(points=(10, 9), server=A), events)
    assert calls(match)[1] == "Let, 10-all"


def test_comeback_of_ten_points():
    """Rules 2.1, 2.2: A wins 9, B wins 10, A wins 3."""
    match = replay(
        PAR,
        Start(server=A, box=R),
        [*rallies("A" * 9), Outcome("b", B), Outcome("c", B, box=L), *rallies("B" * 8 + "AAA", 20)],
        NAMES,
    )
    assert calls(match) == [
        "1–love",
        *[f"{n}–love" for n in range(2, 10)],
        "Hand-out, 1–9",
        *[f"{n}–9" for n in range(2, 9)],
        "9-all",
        "10–9, game ball",
        "Hand-out, 10-all: a player must win by 2 points",
        "11–10, game ball",
        "Game to Imogen, 12–10",
    ]
    served = [line.server for line in match.lines]
    assert (served[:10], served[10:20], served[20:]) == ([A] * 10, [B] * 10, [A] * 2)
    assert match.lines[19].box is R  # L chosen at 1-9, alternating nine times


def test_games_and_first_servers():
    """Rules 2.1, 2.3: the winner of a game serves first in the next."""
    games = [
        "BA" * 7 + "AAAA",
        "AB" * 9 + "BB",
        "AB" * 10 + "AA",
        "BA" * 3 + "A" * 8,
    ]
    match = replay(PAR, Start(server=A), rallies("".join(games)))
    assert [game.points for game in match.games] == [(11, 7), (9, 11), (12, 10), (11, 3)]
    assert [game.first_server for game in match.games] == [A, A, B, A]
    assert (match.games_won, match.winner, match.how_over, match.next) == ((3, 1), A, "won", None)


def test_a_new_game_is_a_fresh_choice_of_box():
    """Rule 5.2: A wins game 1 from the right box and may serve from the right again."""
    match = replay(PAR, Start(points=(10, 7), server=A, box=R), [Outcome("1", A), Outcome("2", A, box=R)])
    assert [line.box for line in match.lines] == [R, R]
    assert match.faults == ()
    assert match.lines[1].box_free


@pytest.mark.parametrize(
    ("best_of", "games", "points", "winner", "call"),
    [
        (5, (2, 0), (9, 4), A, "10–4, match ball"),
        (3, (1, 0), (9, 4), A, "10–4, match ball"),
        (5, (1, 0), (9, 4), A, "10–4, game ball"),
        (5, (2, 0), (4, 9), B, "Hand-out, 10–4, game ball"),
        (5, (2, 2), (4, 9), B, "Hand-out, 10–4, match ball"),
        (5, (2, 0), (10, 6), B, "Hand-out, 7–10, match ball"),
    ],
)
def test_game_ball_and_match_ball(best_of, games, points, winner, call):
    """Rule 3.6.7: either player needs one point."""
    start = Start(games, points, A, R)
    assert calls(replay(Format(best_of=best_of), start, [Outcome("1", winner)])) == [call]


def test_game_ball_of_the_receiver_is_called():
    """RULES-2010, rule 2.5: "hand out, 7-10, game ball" follows "10-6, game ball"."""
    match = replay(PAR, Start(points=(9, 6), server=A, box=R), rallies("AB"))
    assert calls(match) == ["10–6, game ball", "Hand-out, 7–10, game ball"]


@pytest.mark.parametrize(
    ("points", "over"),
    [
        ((11, 9), True),
        ((12, 10), True),
        ((15, 13), True),
        ((11, 0), True),
        ((11, 10), False),
        ((12, 9), False),
        ((13, 10), False),
        ((10, 8), False),
        ((11, 11), False),
        ((19, 18), False),
    ],
)
def test_final_scores_of_a_game(points, over):
    """Rule 2.2: (11, 0 to 9) or (n, n - 2) from 12 on."""
    assert (final_problem(PAR, points) is None) is over
    assert (final_problem(PAR, points[::-1]) is None) is over


def test_every_final_score_up_to_thirty():
    """Rule 2.2, written out as a set."""
    allowed = {(11, n) for n in range(10)} | {(n, n - 2) for n in range(12, 31)}
    found = {(a, b) for a in range(31) for b in range(a) if final_problem(PAR, (a, b)) is None}
    assert found == allowed


@pytest.mark.parametrize(
    ("event", "box", "call", "next_box"),
    [
        (Outcome("1", let=True, decision=Decision.YES_LET), L, "Yes let, 7–5", (A, L, False)),
        (Outcome("1", B, decision=Decision.STROKE), L, "Stroke to Petra, hand-out, 6–7", (B, R, True)),
        (Outcome("1", A, decision=Decision.NO_LET), L, "No let, 8–5", (A, R, False)),
        (Outcome("1", let=True), L, "Let, 7–5", (A, L, False)),
        (Outcome("1", B, fault=True), L, "Fault, hand-out, 6–7", (B, R, True)),
        (Outcome("1", A, called="down"), L, "Down, 8–5", (A, R, False)),
        (Outcome("1", B, called="not up"), L, "Not up, hand-out, 6–7", (B, R, True)),
    ],
)
def test_decisions_at_7_5(event, box, call, next_box):
    """Rules 3.6.5, 5.2, 5.3, 5.8: server A in the left box; broken ball and let alike (rule 11)."""
    match = replay(PAR, Start(points=(7, 5), server=A, box=box), [event], NAMES)
    assert calls(match) == [call]
    assert (match.next.server, match.next.box, match.next.box_free) == next_box


def test_ball_that_proves_sound_loses_the_rally_for_who_stopped():
    """Rule 11: a plain lost rally to the score."""
    match = replay(PAR, Start(points=(7, 5), server=A, box=L), rallies("B"))
    assert calls(match) == ["Hand-out, 6–7"]


def test_conduct_stroke_after_a_rally_keeps_the_box():
    """Rule 15, from memory: 7-5 to 8-5, conduct stroke to A: 9-5, box as if 8-5 only."""
    match = replay(PAR, Start(points=(7, 5), server=A, box=L), [*rallies("A"), Conduct("c", A)], NAMES)
    assert calls(match) == ["8–5", "Conduct stroke to Imogen, 9–5"]
    assert (match.next.points, match.next.box, match.next.box_free) == ((9, 5), R, False)


def test_conduct_stroke_at_game_ball_gives_the_game():
    """Rule 15, from memory: 10-9 and a conduct stroke against B."""
    match = replay(PAR, Start(points=(10, 9), server=A, box=L), [Conduct("c", A)], NAMES)
    assert calls(match) == ["Conduct stroke to Imogen, game to Imogen, 11–9"]
    assert match.games_won == (1, 0)


def test_conduct_game_is_the_one_in_progress_and_the_offender_keeps_points():
    """Rule 15, from memory."""
    match = replay(PAR, Start(points=(5, 8), server=B, box=L), [Conduct("c", A, game=True)], NAMES)
    assert match.games[0].points == (11, 8)
    between = replay(PAR, Start(server=A), [*rallies("A" * 11), Conduct("c", B, game=True)], NAMES)
    assert [game.points for game in between.games] == [(11, 0), (0, 11)]
    assert between.lines[-1].call == "Conduct game to Petra, game to Petra, 11–love"


def test_wrong_box_stands_and_the_next_serve_comes_from_the_other_side():
    """Rule 5.11, from memory."""
    events = [Outcome("1", A, box=R), Outcome("2", A, box=R), Outcome("3", A)]
    match = replay(PAR, Start(server=A), events)
    assert [line.box for line in match.lines] == [R, R, L]
    assert [(fault.key, fault.code) for fault in match.faults] == [("2", "wrong-box")]
    assert match.lines[-1].after == (3, 0)


@pytest.mark.parametrize(
    ("points", "winners", "said"),
    [
        ((13, 13), "AB", ["14–13, game ball", "Hand-out, 14-all: a player must win by 2 points"]),
        ((14, 14), "AA", ["15–14, game ball", "Game to A, 16–14"]),
    ],
)
def test_rally_scoring_to_fifteen_two_clear(points, winners, said):
    """PAR-15-CLUB: the alternative of 2009 to 2024; the sentence at 14-all is worded like the one at 10-all."""
    fmt = Format(System.RALLY, 15, edition="2020")
    assert calls(replay(fmt, Start(points=points, server=A, box=R), rallies(winners))) == said


def test_put_right_takes_over_the_score():
    match = replay(PAR, Start(server=A), [*rallies("AAB"), PutRight("p", (2, 2)), *rallies("A", 9)], NAMES)
    assert calls(match) == ["1–love", "2–love", "Hand-out, 1–2", "2-all", "Hand-out, 3–2"]
