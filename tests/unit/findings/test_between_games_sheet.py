"""The sheet over the games so far: grades that stand after many looks, then counts, never a percentage."""

from __future__ import annotations

import time

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.reports.between_games_sheet import (
    LONGEST,
    between_games_report,
    grade_after_looks,
    rallies_upto,
)
from goodlength.findings.result_types import Grade
from goodlength.synthetic.simulated_matches import null_match


def scores_of(table):
    """Final points of each game of a rally-scored table."""
    out = {}
    for game in np.unique(table.game):
        last = np.flatnonzero(table.game == game)[-1]
        points = [int(table.score_a[last]), int(table.score_b[last])]
        if table.winner[last] >= 0:
            points[table.winner[last]] += 1
        out[int(game)] = tuple(points)
    return out


def sheet_of(table, names, game=None, side="a", **more):
    scores = scores_of(table)
    return between_games_report(table, side, names, scores, set(scores), game=game, **more)


def test_what_has_a_grade_comes_first_and_one_line_stays_for_the_game(tale, names):
    sheet = sheet_of(tale, names)
    assert sheet.game == 4
    assert sheet.title.startswith("After game 4: Imogen ")
    assert len(sheet.lines) == 3
    graded = [line for line in sheet.lines if line.grade is not None]
    assert graded
    weak = next(line for line in graded if "lob" in line.words)
    assert weak.words.endswith(": 11 of 17 against 1 of 12 hard serves.")
    assert weak.you_words.startswith("Your lob draws weak returns more often")
    assert (weak.count, weak.of, len(weak.rallies)) == (11, 17, 11)
    assert weak.scope == "over 4 games"
    assert sheet.lines[-1].grade is None
    assert sheet.lines[-1].scope == "in game 4"


def test_a_grade_here_is_never_higher_than_on_the_page_read_once(tale):
    for item in judge_all(RallyMasks(tale)):
        for looks in (1, 2, 5):
            here = grade_after_looks(item, looks)
            if item.grade is Grade.TOO_FEW:
                assert here is None
            if item.grade is Grade.LEANING:
                assert here in (None, Grade.LEANING)
            if here is not None and looks > 1:
                assert grade_after_looks(item, looks - 1) is not None


def test_a_lower_grade_says_it_less_surely(tale, names):
    for line in sheet_of(tale, names).lines:
        if line.grade is Grade.LEANING:
            assert "seem" in line.words or "may" in line.words
        if line.grade is Grade.CLEAR:
            assert "seem" not in line.words


def test_rallies_after_the_chosen_game_are_not_looked_at(tale, names):
    upto = rallies_upto(tale, 2)
    assert set(np.unique(upto.game)) == {1, 2}
    assert len(upto.key) == len(upto.placed) == int((tale.game <= 2).sum())
    assert upto.kinds == tale.kinds
    whole, cut = (sheet_of(table, names, game=2) for table in (tale, upto))
    assert whole.lines == cut.lines
    later = set(tale.key) - set(upto.key)
    assert not any(later & set(line.rallies) for line in whole.lines)


def test_for_the_other_player_own_points_come_first(make, names):
    rows = [{"server": "a", "winner": "a"}, {"server": "a", "winner": "a"}, {"server": "a", "winner": "b"}]
    table = make(rows)
    mine = between_games_report(table, "a", names, {1: (2, 1)}, set())
    theirs = between_games_report(table, "b", names, {1: (2, 1)}, set())
    assert mine.title == "Game 1 so far: Imogen 2–1"
    assert theirs.title == "Game 1 so far: Petra 1–2"
    assert not mine.finished


def test_the_last_finished_game_is_looked_back_on_even_when_the_next_has_begun(make, names):
    rows = [{"game": g, "server": "a", "winner": "a", "kind": "lob", "left": "loose"} for g in (1, 1, 2)]
    sheet = between_games_report(make(rows), "a", names, {1: (2, 0), 2: (1, 0)}, {1})
    assert (sheet.game, sheet.title) == (1, "After game 1: Imogen 2–0")
    assert "lob 2 of 2" in sheet.lines[0].words


def test_nothing_written_down_says_so_and_a_missing_game_is_refused(make, names):
    empty = between_games_report(make([]), "a", names, {}, set())
    assert (empty.game, empty.lines) == (None, ())
    assert empty.title == "No rallies are logged yet."
    with pytest.raises(OutOfRange, match="Choose one of: game 1"):
        between_games_report(make([{"server": "a", "winner": "a"}]), "a", names, {1: (1, 0)}, set(), game=3)


@pytest.mark.parametrize(
    "row", [{"server": "a", "let": True}, {"winner": "a"}, {"server": "a", "kind": "lob", "left": "tight"}]
)
def test_hardly_anything_written_down_still_gives_a_sheet(make, names, row):
    sheet = between_games_report(make([row]), "a", names, {1: (0, 0)}, set())
    assert len(sheet.lines) <= 3
    assert "nan" not in repr(sheet)


def test_a_column_the_observers_disagree_on_carries_no_grade_here(tale, names):
    sheet = sheet_of(tale, names, unreliable={"kind", "left"})
    assert not any(line.grade is not None and "lob" in line.words for line in sheet.lines)
    assert any(line.grade is not None and "lob" in line.words for line in sheet_of(tale, names).lines)


def test_sheets_of_null_matches_seldom_cry_wolf():
    """After every game of 60 null matches: any Clear 5 in 100, any Leaning 20, with four standard errors."""
    rng = np.random.default_rng(41)
    clear = leaning = 0
    for _ in range(60):
        table = null_match(rng)
        grades = set()
        for looks, game in enumerate(np.unique(table.game), 1):
            found = judge_all(RallyMasks(rallies_upto(table, int(game))))
            grades |= {grade_after_looks(item, looks) for item in found}
        clear += Grade.CLEAR in grades
        leaning += bool(grades & {Grade.CLEAR, Grade.LEANING})
    assert clear / 60 <= 0.05 + 4 * 0.028
    assert leaning / 60 <= 0.20 + 4 * 0.052


@pytest.mark.parametrize("seed", range(3))
def test_three_short_lines_without_a_percentage_in_under_a_second(names, seed):
    table = null_match(np.random.default_rng(seed))
    began = time.process_time()
    sheet = sheet_of(table, names)
    assert time.process_time() - began < 1
    assert len(sheet.lines) == 3
    for line in sheet.lines:
        graded = f"{line.grade.words}: " if line.grade else ""
        assert len(graded + line.words) <= LONGEST
        assert "%" not in line.words
