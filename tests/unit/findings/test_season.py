"""Several matches of one player: nothing pooled blindly, the same sign asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from goodlength.bench.nulls import null_match
from goodlength.errors import OutOfRange
from goodlength.findings.model import Grade, Pronoun
from goodlength.findings.season import SeasonMatch, find_season, one_table
from goodlength.findings.view import View


def named(table, name):
    return replace(table, match=name)


def season(tables, opponent="Petra Lindqvist-Ode"):
    return [SeasonMatch(named(t, f"m{i}"), "a", opponent, date(2026, 1, i + 1)) for i, t in enumerate(tables)]


def test_matches_one_after_another_with_the_player_as_a(tale):
    swapped = replace(
        tale,
        server=(1 - tale.server).astype(np.int16),
        winner=(1 - tale.winner).astype(np.int16),
        score_a=tale.score_b,
        score_b=tale.score_a,
        kinds=tuple(reversed(tale.kinds)),
        kind=(len(tale.kinds) - 1 - tale.kind).astype(np.int16),
    )
    table, groups = one_table(
        [SeasonMatch(named(tale, "x"), "a", "P"), SeasonMatch(named(swapped, "y"), "b", "P")]
    )
    half = len(tale.key)
    assert table.key[0] == "x/k0"
    assert table.key[half] == "y/k0"
    for name in ("server", "winner", "score_a", "score_b", "kind", "left", "box"):
        column = getattr(table, name)
        assert (column[:half] == column[half:]).all(), name
    assert set(np.unique(table.game)) == set(range(1, 9))
    assert (groups[:half] == 0).all()
    assert (groups[half:] == 1).all()


def test_one_match_says_what_the_match_says(tale):
    found = find_season(season([tale]), "Imogen Vale", Pronoun.SHE)
    lob = next(f for f in found.all if f.question == "weak")
    assert lob.headline == "More weak returns came on her lob."
    assert lob.scope == "in this match"
    assert (lob.count, lob.of) == (11, 17)
    assert lob.rallies[0].startswith("m0/")


def test_two_matches_that_agree_are_surer_and_say_their_scope(tale):
    one, two = (find_season(season([tale] * n), "Imogen Vale", Pronoun.SHE) for n in (1, 2))
    first, second = (next(f for f in found.all if f.question == "weak") for found in (one, two))
    assert second.q < first.q
    assert (second.count, second.of) == (22, 34)
    assert second.scope == "over 2 matches"
    assert second.grade is Grade.CLEAR
    assert len(set(second.rallies)) == 22


def turned(table):
    """The same match with weak and good returns exchanged."""
    left = np.where(table.left == 1, 2, np.where(table.left == 2, 1, table.left)).astype(np.int16)
    return replace(table, left=left)


def test_clear_needs_the_same_sign_in_three_quarters_of_matches(tale):
    steady = find_season(season([tale] * 4), "Imogen Vale")
    mixed = find_season(season([tale, tale, tale, tale, turned(tale), turned(tale)]), "Imogen Vale")
    grades = [next(f for f in found.all if f.question == "weak").grade for found in (steady, mixed)]
    assert grades[0] is Grade.CLEAR
    assert grades[1] is not Grade.CLEAR


def test_pooling_two_opponents_would_turn_the_answer_round(make):
    """Simpson's trap: within each match the hard serve does better, all together the lob seems to."""

    def rows(kind, n, weak):
        return [
            {
                "server": "a",
                "kind": kind,
                "box": "right",
                "left": "loose" if i < weak else "tight",
                "winner": "a",
            }
            for i in range(n)
        ]

    easy = make([*rows("lob", 40, 30), *rows("hard", 10, 9)])
    tough = make([*rows("lob", 10, 1), *rows("hard", 39, 10)])
    found = find_season(
        [SeasonMatch(named(easy, "e"), "a", "Ada One"), SeasonMatch(named(tough, "t"), "a", "Bo Two")],
        "Imogen Vale",
    )
    weak = next(f for f in found.all if f.question == "weak")
    assert weak.grade is Grade.TOO_FEW
    assert "the other player" in weak.words.lower()
    assert found.opponents == ("Ada One", "Bo Two")


def test_null_seasons_seldom_cry_wolf():
    """Three null matches together: any Clear at most 5 in 100, any Leaning 20, with four standard errors."""
    rng = np.random.default_rng(19)
    clear = leaning = 0
    for _ in range(40):
        found = find_season(season([null_match(rng) for _ in range(3)]), "Imogen Vale")
        grades = {f.grade for f in found.all}
        clear += Grade.CLEAR in grades
        leaning += bool(grades & {Grade.CLEAR, Grade.LEANING})
    assert clear / 40 <= 0.05 + 4 * 0.035
    assert leaning / 40 <= 0.20 + 4 * 0.063


@pytest.mark.parametrize("rows", [[], [{"server": "b"}], [{"server": "a", "let": True}]])
def test_hardly_anything_recorded(make, rows):
    found = find_season(season([make(rows)]), "Imogen Vale")
    assert all(f.grade is Grade.TOO_FEW for f in found.all)
    assert View(found.table).n == len(rows)


def test_no_match_is_refused():
    with pytest.raises(OutOfRange, match="at least one match"):
        find_season([], "Imogen Vale")
