"""The sheet between games: three short lines that count and claim nothing."""

from __future__ import annotations

import time

import numpy as np
import pytest

from goodlength.findings.reports.last_game_counts import LONGEST, between_games_lines
from goodlength.synthetic.simulated_matches import null_match


def test_the_last_game_in_three_lines(tale, names):
    sheet = between_games_lines(tale, "a", names)
    assert sheet.game == 4
    assert sheet.title == "Game 4: Imogen 8–8"
    assert [line.words for line in sheet.lines] == [
        "Weak returns of Imogen’s serves (loose or missed): lob 0 of 2, mid-height serve 0 of 2.",
        "Unforced errors: Imogen 4, Petra 0.",
        "Rallies she won: 4 of 8 serving, 4 of 8 receiving.",
    ]


def test_numbers_come_from_the_game_asked_for(make, names):
    rows = [
        {"game": 1, "server": "a", "kind": "lob", "left": "loose", "winner": "a", "ending": "winner"},
        {"game": 2, "server": "a", "kind": "lob", "left": "tight", "winner": "b", "ending": "unforced-error"},
        {
            "game": 2,
            "server": "b",
            "kind": "hard",
            "left": "loose",
            "winner": "a",
            "ending": "unforced-error",
        },
    ]
    first, second = (between_games_lines(make(rows), "a", names, game=g) for g in (1, 2))
    assert first.title == "Game 1: Imogen 1–0"
    assert first.lines[0].words == "Weak returns of Imogen’s serves (loose or missed): lob 1 of 1."
    assert second.title == "Game 2: Imogen 1–1"
    assert second.lines[0].words == "Weak returns of Imogen’s serves (loose or missed): lob 0 of 1."
    assert second.lines[0].you_words == "Weak returns of your serves (loose or missed): lob 0 of 1."
    assert second.lines[1].words == "Unforced errors: Imogen 1, Petra 1."
    assert second.lines[1].you_words == "Unforced errors: you 1, Petra 1."
    assert second.lines[1].rallies == ("k1",)
    assert second.lines[2].you_words == "Rallies you won: 0 of 1 serving, 1 of 1 receiving."


def test_errors_say_of_how_many_rallies_the_ending_is_known(make, names):
    """Nine rallies with one ending logged are no game without unforced errors."""
    rows = [{"server": "a", "winner": "b"}] * 8 + [{"server": "a", "winner": "b", "ending": "winner"}]
    errors = next(
        line for line in between_games_lines(make(rows), "a", names).lines if "errors" in line.words
    )
    assert errors.you_words == (
        "Unforced errors: you 0, Petra 0, in the 1 of 9 rallies with the ending logged."
    )


def test_hand_out_scoring_gives_no_point_to_the_receiver(make, names):
    rows = [{"server": "a", "winner": "b"}, {"server": "b", "winner": "b"}, {"server": "b", "winner": "a"}]
    table = make(rows)
    columns = {"score_a": np.array([0, 0, 0], np.int16), "score_b": np.array([0, 0, 1], np.int16)}
    assert (
        between_games_lines(type(table)(**{**vars(table), **columns}), "a", names).title
        == "Game 1: Imogen 0–1"
    )


def test_nothing_recorded_and_no_such_game(make, names):
    assert between_games_lines(make([]), "a", names).title == "No rallies are logged yet."
    sheet = between_games_lines(make([{"server": "a", "winner": "a"}]), "a", names, game=3)
    assert (sheet.title, sheet.lines) == ("Game 3 is not in this match.", ())
    assert between_games_lines(make([{"server": "a", "let": True}]), "a", names).lines == ()


@pytest.mark.parametrize("seed", range(4))
def test_lines_are_short_and_quick(names, seed):
    table = null_match(np.random.default_rng(seed))
    began = time.process_time()
    sheets = [between_games_lines(table, side, names, game=g) for side in ("a", "b") for g in (1, 2, 3)]
    assert time.process_time() - began < 1
    for sheet in sheets:
        assert len(sheet.lines) == 3
        for line in sheet.lines:
            assert len(line.words) <= LONGEST
            assert "%" not in line.words
