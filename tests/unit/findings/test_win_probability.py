"""The line of a match: its ends, its swings, and where it stops."""

from __future__ import annotations

import re

import numpy as np
import pytest

from goodlength.findings.analyses.win_probability import match_line, serve_worth
from goodlength.findings.statistics.win_probability_model import match_table
from goodlength.findings.text.win_probability_and_trend_sentences import worth_words
from goodlength.scoring.scoring_types import Format, Start, System
from goodlength.synthetic.simulated_matches import null_match


def rally_rows(winners, game=1, first="a"):
    rows, server = [], first
    for winner in winners:
        rows.append({"game": game, "server": server, "winner": winner})
        server = winner
    return rows


@pytest.fixture
def played():
    return null_match(np.random.default_rng(3))


def test_a_whole_match_ends_at_one_or_none(played, names):
    line = match_line(played, "a", names)
    assert line.stopped == ""
    assert line.moments[-1].after in (0.0, 1.0)
    assert line.start == 0.5
    assert len(line.moments) == int((~played.let).sum())


def test_each_rally_begins_where_the_last_ended(played, names):
    line = match_line(played, "a", names)
    for item, two in zip(line.moments[:-1], line.moments[1:], strict=True):
        assert two.before == pytest.approx(item.after, abs=1e-12)
    for moment in line.moments:
        step = moment.after - moment.before
        assert abs(step) <= moment.swing + 1e-12
        assert (step > 0) == (moment.winner == "a")
        assert moment.swing == pytest.approx(2 * abs(step), abs=1e-9)  # even players: half up, half down


def test_the_other_players_line_is_the_mirror(played, names):
    item, two = match_line(played, "a", names), match_line(played, "b", names)
    for mine, theirs in zip(item.moments, two.moments, strict=True):
        assert mine.after + theirs.after == pytest.approx(1)
        assert mine.swing == theirs.swing


def test_three_rallies_are_named_first_the_widest(played, names):
    line = match_line(played, "a", names)
    swings = [moment.swing for moment in line.decided]
    assert len(swings) == 3
    assert swings == sorted(swings, reverse=True)
    assert swings[0] == max(moment.swing for moment in line.moments)
    for moment in line.decided:
        assert re.fullmatch(
            r"\d+(–\d+|-all), game \d\. \w+ served( and won it|, \w+ won it): \d+ percentage points? of the"
            r" chance to win the match (was|were) at stake\.",
            moment.words,
        )


def test_the_server_s_points_are_said_first(make, names):
    line = match_line(make(rally_rows("ab")), "a", names)
    assert line.moments[1].points == (1, 0)
    assert line.moments[1].words.startswith("1–0, game 1. Imogen served, Petra won it")
    line = match_line(make(rally_rows("bb", first="b")), "a", names)
    assert line.moments[1].points == (1, 0)


def test_games_already_won_count(make, names):
    line = match_line(make(rally_rows("a")), "a", names, start=Start(games=(2, 0)))
    assert line.start == pytest.approx(match_table(0.5, 0.5).at((2, 0), (0, 0), 0).item())


def test_an_unknown_winner_stops_the_line(make, names):
    rows = [*rally_rows("ab"), {"game": 1, "server": "b"}, {"game": 1, "server": "b", "winner": "a"}]
    line = match_line(make(rows), "a", names)
    assert len(line.moments) == 2
    assert line.stopped == "It is not logged who won a rally of game 1, so the chart stops there."


def test_a_game_without_its_end_stops_the_line(make, names):
    line = match_line(make([*rally_rows("ab"), *rally_rows("a", game=2)]), "a", names)
    assert line.stopped == "The end of game 1 is not logged, so the chart stops there."


def test_a_score_that_does_not_fit_the_format_stops_the_line(make, names):
    line = match_line(make(rally_rows("a" * 13)), "a", names)
    assert len(line.moments) == 11
    assert "does not fit" in line.stopped


def test_nothing_recorded_gives_an_empty_line(make, names):
    line = match_line(make([]), "a", names)
    assert (line.moments, line.decided, line.start, line.stopped) == ((), (), 0.5, "")


def hand_out_rows(winners, points=(0, 0), first="a"):
    """Rows and scores of a game in hand-out scoring."""
    rows, scores, server, now = [], [], first, list(points)
    for winner in winners:
        rows.append({"game": 1, "server": server, "winner": winner})
        scores.append(tuple(now))
        if winner == server:
            now["ab".index(winner)] += 1
        server = winner
    return rows, scores


def hand_out_table(make, winners, points):
    rows, scores = hand_out_rows(winners, points)
    table = make(rows)
    a, b = (np.array(column, dtype=np.int16) for column in zip(*scores, strict=True))
    return type(table)(**{**vars(table), "score_a": a, "score_b": b})


def test_hand_out_scoring_set_to_ten_goes_on_at_nine_eight(make, names):
    fmt = Format(system=System.HAND_OUT, target=9)
    ended_at_nine = match_line(hand_out_table(make, "a", (8, 8)), "a", names, fmt)
    to_ten = match_line(hand_out_table(make, "aa", (8, 8)), "a", names, fmt)
    after_a_game = match_table(0.5, 0.5, fmt).after_game((0, 0), 0, 0).item()
    assert ended_at_nine.moments[-1].after == pytest.approx(after_a_game)
    assert len(to_ten.moments) == 2
    assert to_ten.moments[0].after < after_a_game
    assert to_ten.moments[1].after == pytest.approx(after_a_game)


def test_worth_is_worded_with_its_own_range_and_the_level_only_beside_a_range(played, names):
    worth = serve_worth(played, "a", names)
    assert worth is not None
    low, high = round(100 * worth.gain_low), round(100 * worth.gain_high)
    assert low < high and f"it would win {low} to {high} more (95% range)." in worth.words
    assert f"about {round(100 * worth.even_gain)} more matches in 100" in worth.words
    flat = worth_words(names, "a", 0.02, 0.071, 0.071, 0.072, 0.0722)
    assert "it would win about 7 more." in flat and "range" not in flat


def test_worth_of_a_better_serve_is_a_range_and_a_change(played, names):
    worth = serve_worth(played, "a", names)
    assert worth is not None
    assert worth.even_gain == pytest.approx(0.0721702051, rel=1e-8)
    assert 0 <= worth.gain_low <= worth.gain <= worth.gain_high
    assert worth == serve_worth(played, "a", names)
    assert worth.words.startswith(
        "Winning two more in every 100 rallies on serve would win Imogen about 7 more matches in 100"
    )


def test_without_serves_of_both_nothing_is_said_of_worth(make, names):
    assert serve_worth(make([]), "a", names) is None
    assert serve_worth(make([{"server": "a", "winner": "a"}]), "a", names) is None


def test_the_assumption_is_named(played, make, names):
    line = match_line(played, "a", names)
    assert line.assumption.startswith("This treats every rally as independent")
    runs = match_line(make(rally_rows("a" * 9 + "b" * 9)), "a", names)
    assert "contradicts it" in runs.assumption
