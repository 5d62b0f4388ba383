"""Headline, counts and grade of the families beside the findings of one match, read back and held together."""

from __future__ import annotations

import re
from datetime import date, timedelta

import numpy as np
import pytest

from goodlength.findings.reports.between_games_sheet import between_games_report
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.reports.opponent_habits_and_serve_advice import opponent_report
from goodlength.findings.reports.player_across_matches import across, changes
from goodlength.findings.result_types import Grade, Names, Pronoun, Share
from goodlength.findings.text.win_probability_and_trend_sentences import before_after_words
from goodlength.synthetic.findings_of_simulated_matches import generated, match
from goodlength.synthetic.simulated_matches import World, invent_match

NAMES = Names("Mara Okonkwo", "Bo Lind", Pronoun.SHE, None)
COUNTS = re.compile(r"(\d+) of (\d+)")


def season(rng, matches, world=None):
    return [
        SeasonMatch(
            match(rng, f"m{n}") if world is None else invent_match(rng, world).table,
            "ab"[n % 2],
            ("Ada One", "Bo Lind")[n % 3 == 0],
            date(2026, 1, 5) + timedelta(days=7 * n),
        )
        for n in range(matches)
    ]


def share_in(words, at=0):
    count, of = (int(x) for x in COUNTS.findall(words)[at])
    assert 0 <= count <= of
    return count / of if of else 0.0


def test_seasons_over_matches_say_what_the_counts_hide():
    """Before: "118 of 165 on the hard serve and 96 of 181 on the lob. Luck alone ... one time in eight"."""
    named = 0
    for seed in range(20261220, 20261222):
        for item in generated(np.random.default_rng(seed), 45):
            if item.scope == "in this match" or item.against is None or not item.of or not item.against.of:
                continue
            item.count / item.of - item.against.count / item.against.of
            hidden = "mislead" in item.words or "In a game, the player who wins more" in item.words
            named += hidden
            if (
                item.grade is Grade.TOO_FEW
                and item.question in ("weak", "won", "change")
                and item.p
                and item.effect
            ) and hidden:
                assert re.search(r"about \d+ percentage points?|less than a percentage point", item.words)
            assert "It holds up" not in item.words  # said of one match only
    assert named


@pytest.mark.parametrize("weak", [(0.85, 0.25), None])
def test_the_advice_of_a_brief_follows_from_its_counts(weak):
    rng = np.random.default_rng(61)
    graded = 0
    for _ in range(6):
        page = opponent_report(season(rng, 4, World(mix=(0.5, 0.3, 0.2), weak=weak)), "Mara Okonkwo")
        for advice in (page.serve, page.avoid):
            if advice.serve is None:
                assert advice.grade is Grade.TOO_FEW
                continue
            assert share_in(advice.words) == pytest.approx(advice.count / max(advice.of, 1))
            seems = "seems to" in advice.words
            assert seems == (advice.grade is Grade.LEANING)
            assert seems or "Not enough data" in advice.words
            if seems:
                graded += 1
                assert advice.others is not None
                assert advice.likely is not None
                assert (
                    0 < advice.likely.gap <= advice.count / advice.of - advice.others.count / advice.others.of
                )
    assert graded if weak else True


def test_lines_between_games_carry_the_likely_size_of_what_they_claim():
    """Before: only the counts, which are wider than the truth wherever a line has a grade."""
    rng, seen = np.random.default_rng(62), 0
    for _ in range(15):
        table = invent_match(rng, World(mix=(0.5, 0.4, 0.1), weak=(0.9, 0.15))).table
        over = sorted({int(game) for game in table.game})
        page = between_games_report(table, "a", NAMES, dict.fromkeys(over, (11, 7)), over)
        for line in page.lines:
            if line.grade is None:
                assert line.likely == ""
                assert "seems" not in line.words
                continue
            assert (line.grade is Grade.LEANING) == bool(re.search(r"\bseems?\b", line.words)), line.words
            if " against " in line.words:
                seen += 1
                first, second = share_in(line.words), share_in(line.words, 1)
                assert (
                    first > second
                    or "smaller" in line.words
                    or "receiving" in line.words
                    or "shorter" in (line.words)
                ), line.words
                numbers = COUNTS.findall(line.likely)
                if len(numbers) == 2:
                    near = share_in(line.likely) - share_in(line.likely, 1)
                    assert near * (first - second) > 0
                    assert abs(near) <= abs(first - second) + 0.1
    assert seen >= 5


def test_before_and_after_says_no_more_than_its_grade_and_names_what_counts_hide():
    rng = np.random.default_rng(63)
    for _ in range(12):
        for change in changes(season(rng, 10), date(2026, 2, 5)):
            seems = "seems to have" in change.words
            assert seems == (change.grade is Grade.LEANING), change.words
            if not seems:
                assert "We cannot say" in change.words or "no opponent was met" in change.words
                continue
            found = change.found if hasattr(change, "found") else None
            after, before = share_in(change.words), share_in(change.words, 1)
            risen = "risen" in change.words
            assert (after > before) == risen or "opponent by opponent" in change.words, (change.words, found)


def test_a_change_that_the_counts_turn_round_is_said_to_be_opponent_by_opponent():
    """Before: "It rose by ..." beside counts that fell."""
    words = before_after_words(
        "Rallies won", Share(60, 100, 0, 1), Share(50, 100, 0, 1), 0.12, 0.05, 0.2, 2, 0
    )
    assert "It rose by" in words
    assert "opponent by opponent" in words


def test_trends_are_no_surer_than_all_of_them_together():
    rng = np.random.default_rng(64)
    for _ in range(2):
        page = across(season(rng, 9), "Mara Okonkwo")
        for row in (*page.rows, *page.kinds):
            if row.trend is None:
                continue
            if "seems to" in row.trend.words:
                way = "rise" if row.trend.per_match > 0 else "fall"
                assert f"seems to {way}" in row.trend.words
                assert row.trend.low * row.trend.high > 0
            else:
                assert not re.search(r"\b(rises|falls|rose|fell)\b", row.trend.words), row.trend.words
