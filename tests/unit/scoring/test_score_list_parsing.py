"""Lines of scores that are odd, and the words they get."""

from __future__ import annotations

import pytest

from goodlength.errors import RulesError
from goodlength.scoring import Format, Side, State, System, format_words, read_score_list, read_scores

PAR = Format()


@pytest.mark.parametrize(
    "line",
    [
        "11-4 11-5 11-6",
        "11/4 11/5 11/6",
        "11–4, 11−5; 11:6",
        "11/4. 11/5. 11/6.(38m)",
        "11 - 4  11 - 5  11 - 6 38",
        "11-4 11-5 11-6 38 min.",
        "11-4 11-5 11-6 38'",
        "\t11-4\n11-5\u00a011-6",
    ],
)
def test_separators_and_minutes(line):
    reading = read_scores(line, PAR)
    assert reading.state is State.FINISHED
    assert [game.points for game in reading.games] == [(11, 4), (11, 5), (11, 6)]
    assert reading.minutes in (None, 38)
    assert (reading.winner, reading.games_won, reading.why) == (Side.A, (3, 0), "")


def test_the_second_player_may_win():
    reading = read_scores("11-4 5-11 6-11 9-11", PAR)
    assert (reading.winner, reading.games_won) == (Side.B, (1, 3))


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("", "there is no score here"),
        ("38", "'38' stands alone"),
        ("11-4 11-5 11-6 38 40", "'40' stands alone"),
        ("11-4 11-5 foo", "'foo' cannot be read"),
        ("11-4 * 11-5", "cannot be read"),
        ("11-4 5-4 11-6", "game 2 stops at 5–4, yet another game follows"),
        ("11-4 11-5 11-6 11-7", "the match was over after game 3, yet 11–7 follows"),
        ("11-4 11-5 11-6 rtd", "the match was over at 3–0, yet it says retired"),
        ("12-9 11-2 11-2", "game 1, 12–9: the game would have ended at 11–9"),
        ("9-12 11-2 11-2", "game 1, 9–12: the game would have ended at 9–11"),
        ("11-4 05/11/2010", "05/11/2010 is a date"),
        ("2010-11-05", "2010-11-05 is a date"),
        ("111-4", "game 1, 111–4"),
    ],
)
def test_refused_with_the_reason(line, why):
    reading = read_scores(line, PAR)
    assert reading.state is State.REFUSED
    assert why in reading.why
    assert reading.winner is None


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("11-4 11-5", "nobody has won 3 games (at 2–0 in games), and the line does not say why it stopped"),
        ("11-4 5-4 abandoned", "abandoned, at 1–0 in games and 5–4 in game 2"),
        ("11-4 11-10 rtd", "retired, at 1–0 in games and 11–10 in game 2"),
        ("w/o", "walkover, no game score"),
        ("rtd.", "retired, no game score"),
    ],
)
def test_unfinished_with_the_reason(line, why):
    reading = read_scores(line, PAR)
    assert (reading.state, reading.why) == (State.UNFINISHED, why)


def test_best_of_three():
    assert read_scores("11-4 11-5", Format(best_of=3)).state is State.FINISHED


def test_a_refused_line_keeps_its_figures():
    games = read_scores("12-9 11-2", PAR).games
    assert [(game.points, game.over) for game in games] == [((12, 9), False), ((11, 2), False)]


def test_a_score_of_another_format_is_named():
    assert read_scores("9-2 9-7 10-8", PAR).why.endswith("It would be a score of hand-out scoring to 9.")
    assert "15 with setting" in read_scores("15-14 15-2 15-2", PAR).why


def test_a_list_is_split_at_bars_and_lines():
    assert [r.state.value for r in read_score_list("11-4 11-5 11-6 | 11-4\n\n12-9", PAR)] == [
        "finished",
        "unfinished",
        "refused",
    ]


def test_a_handicap_moves_the_least_score():
    assert read_scores("11-2 11-4 11-5", PAR, handicap=(0, 3)).state is State.REFUSED
    assert read_scores("11-3 11-4 11-5", PAR, handicap=(0, 3)).state is State.FINISHED


def test_words_of_formats():
    assert format_words(Format(System.HAND_OUT, 9)) == "hand-out scoring to 9"
    assert format_words(Format(System.RALLY, 15, edition="2024")) == "rally scoring to 15"


def test_a_format_that_cannot_be_is_the_callers_fault():
    with pytest.raises(RulesError):
        read_scores("11-4", Format(target=12))
