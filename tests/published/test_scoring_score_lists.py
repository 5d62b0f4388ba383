"""Score lists as printed, against the rules of their time (SCORE-LISTS; needs A6 and A7 of the study)."""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest

from goodlength.scoring import Format, State, System, read_score_list, read_scores

_LISTS = Path(__file__).parent / "authorities" / "scoring_score_lists.txt"
PAR_11 = Format()
PAR_15 = Format(System.RALLY, 15, edition="2020")
PAR_15_SET = Format(System.RALLY, 15, edition="2001")
HAND_OUT = Format(System.HAND_OUT, 9, edition="2001")


def _lists() -> dict[str, str]:
    rows = (row for row in _LISTS.read_text(encoding="utf-8").splitlines() if not row.startswith("#"))
    return dict(row.split(" = ", 1) for row in rows)


LISTS = _lists()


# SCORE-LISTS, figures computed there by another program: matches, games, points a game, games a match,
# share of games past 11, minutes a match, seconds a point (all, and the median match), winner's share of points.
@pytest.mark.parametrize(
    ("name", "matches", "games", "a_game", "a_match", "past_11", "minutes", "s_a_point", "median", "share"),
    [
        ("men 2010", 18, 60, 17.65, 3.33, 0.133, 47.9, 48.9, 47.7, 0.615),
        ("men 2011", 21, 77, 17.57, 3.67, 0.104, 58.3, 54.3, 52.1, 0.583),
        ("women 2011-13", 13, 46, 17.28, 3.54, 0.087, 42.8, 42.0, 41.9, 0.599),
    ],
)
def test_timed_lists_load_and_add_up(
    name, matches, games, a_game, a_match, past_11, minutes, s_a_point, median, share
):
    """Tolerances are half of the last digit printed."""
    read = read_score_list(LISTS[name], PAR_11)
    assert {reading.state for reading in read} == {State.FINISHED}
    assert (len(read), sum(len(r.games) for r in read)) == (matches, games)
    points = sum(r.points for r in read)
    won = sum(g.points[r.winner.place] for r in read for g in r.games)
    time = sum(r.minutes for r in read)
    assert points / games == pytest.approx(a_game, abs=0.005)
    assert games / matches == pytest.approx(a_match, abs=0.005)
    assert sum(max(g.points) > 11 for r in read for g in r.games) / games == pytest.approx(
        past_11, abs=0.0005
    )
    assert time / matches == pytest.approx(minutes, abs=0.05)
    assert 60 * time / points == pytest.approx(s_a_point, abs=0.05)
    assert statistics.median(60 * r.minutes / r.points for r in read) == pytest.approx(median, abs=0.05)
    assert won / points == pytest.approx(share, abs=0.0015)


def test_two_matches_with_the_same_score_stay_two():
    read = read_score_list(LISTS["men 2011"], PAR_11)
    twins = [r.minutes for r in read if [g.points for g in r.games] == [(11, 9), (11, 7), (11, 1)]]
    assert twins == [31, 42]


@pytest.mark.parametrize(
    ("match", "ending", "minutes", "won", "open_game"),
    [
        (0, "retired", 28, (2, 0), None),
        (1, "retired", 24, (2, 0), (3, 0)),
        (2, "disqualified", 35, (2, 0), None),
        (3, "retired, injured", None, (2, 0), (5, 4)),
    ],
)
def test_unfinished_matches_load_as_unfinished(match, ending, minutes, won, open_game):
    reading = read_score_list(LISTS["unfinished"], PAR_11)[match]
    assert (reading.state, reading.ending, reading.minutes) == (State.UNFINISHED, ending, minutes)
    assert (reading.games_won, reading.winner) == (won, None)
    assert reading.why.startswith(ending)
    assert [g.points for g in reading.games if not g.over] == ([open_game] if open_game else [])


def test_hand_out_lists_load():
    read = read_score_list(LISTS["hand-out 9"], HAND_OUT)
    assert {reading.state for reading in read} == {State.FINISHED}
    assert [note for r in read for note in r.notes] == [
        "game 2, 9–10: set two must have been called",
        "game 2, 10–8: set two must have been called",
        "game 2, 10–9: set two must have been called",
        "game 3, 9–10: set two must have been called",
    ]


@pytest.mark.parametrize("score", ["9-10", "10-9", "10-8", "9-8", "9-0"])
def test_finals_of_hand_out_scoring(score):
    """RULES-2001, rule 2: 9, or at 8-all to 9 or 10 as the receiver chooses."""
    assert [game.over for game in read_scores(f"{score} 9-1", HAND_OUT).games] == [True, True]


def test_9_8_says_that_set_one_must_have_been_called():
    assert read_scores("9-8 9-1 9-1", HAND_OUT).notes == ("game 1, 9–8: set one must have been called",)


@pytest.mark.parametrize("score", ["11-9", "9-9", "10-7", "8-6"])
def test_no_finals_of_hand_out_scoring(score):
    reading = read_scores(f"{score} 9-1 9-1", HAND_OUT)
    assert reading.state is State.REFUSED
    assert reading.why.startswith("game 1")


def test_rally_15_lists_load_with_setting():
    read = read_score_list(LISTS["rally 15"], PAR_15_SET)
    assert [r.state for r in read].count(State.UNFINISHED) == 1
    assert read[4].why == "abandoned, at 1–1 in games"
    assert {r.state for i, r in enumerate(read) if i != 4} == {State.FINISHED}


def test_17_16_needs_setting():
    """RULES-2001, appendix 8.1 (set three) against RULES-2014, rule 2.4 (two clear)."""
    line = "17-16 15-4 15-5"
    assert read_scores(line, PAR_15_SET).state is State.FINISHED
    refused = read_scores(line, PAR_15)
    assert refused.why == (
        "game 1, 17–16: from 14-all a player must lead by two points, and 17–16 leads by one. "
        "It would be a score of rally scoring to 15 with setting."
    )
    assert read_scores(line, PAR_11).state is State.REFUSED


def test_11_10_is_refused_today_with_the_reason():
    reading = read_scores("11-10 11-7 11-7", PAR_11)
    assert reading.state is State.REFUSED
    assert reading.why == (
        "game 1, 11–10: from 10-all a player must lead by two points, and 11–10 leads by one; "
        "older lists write it for a game decided in the tie-break."
    )


def test_11_10_of_an_older_list_is_kept_without_its_score():
    """NOTATION-11-10: one club's sheet writes any game beyond 10-all as 11-10."""
    reading = read_scores(LISTS["rally 11 of 2004"], PAR_11, importing=True)
    assert (reading.state, reading.games_won) == (State.FINISHED, (3, 1))
    assert [game.score_known for game in reading.games] == [False, True, False, True]
    assert [game.tie_break for game in reading.games] == [(4, 6), None, (3, 1), None]
    assert reading.notes[0] == (
        "game 1, 10–11: decided in the tie-break, score unknown; "
        "4–6 stands in brackets, which counted on from 10-all is 14–16"
    )
    assert reading.points == 36  # only the games whose score is known


def test_rally_11_finals_load():
    assert {r.state for r in read_score_list(LISTS["rally 11 finals"], PAR_11)} == {State.FINISHED}
