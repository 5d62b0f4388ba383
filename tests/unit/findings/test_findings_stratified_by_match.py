"""Several matches of one player: nothing pooled blindly, the same sign asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.analyses import match_questions
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.reports.findings_stratified_by_match import (
    SeasonMatch,
    find_season,
    one_table,
)
from goodlength.findings.result_types import Grade, Pronoun
from goodlength.findings.statistics.restricted_permutation_tests import (
    expected_repeats_within,
    repeats_within,
)
from goodlength.synthetic.simulated_matches import null_match


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
    assert lob.headline == "Her lob draws weak returns more often than the hard serve."
    assert lob.scope == "in this match"
    assert (lob.count, lob.of) == (11, 17)
    assert lob.rallies[0].startswith("m0/")


def test_two_matches_that_agree_are_surer_and_say_their_scope(tale):
    item, two = (find_season(season([tale] * n), "Imogen Vale", Pronoun.SHE) for n in (1, 2))
    first, second = (next(f for f in found.all if f.question == "weak") for found in (item, two))
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
    assert RallyMasks(found.table).n == len(rows)


def test_no_match_is_refused():
    with pytest.raises(OutOfRange, match="at least one match"):
        find_season([], "Imogen Vale")


def mixed_match(make, name, strength, lobs, rng):
    """A match whose mix depends on how strong the opponent is; the lob wins 20 points in 100 more."""
    rows = []
    for i in range(50):
        lob = i < lobs
        chance = strength + (0.2 if lob else 0.0)
        won = "a" if rng.random() < chance else "b"
        kind = "lob" if lob else "hard"
        rows.append({"server": "a", "kind": kind, "box": ("right", "left")[i % 2], "winner": won})
    return SeasonMatch(named(make(rows), name), "a", f"Opponent {strength}", date(2026, 1, 1))


def test_a_certain_gap_within_matches_is_never_too_small_to_matter(make):
    """All together hide it: lobs go to strong opponents. Before: "Any difference is too small to matter"."""
    rng = np.random.default_rng(5)
    played = [mixed_match(make, f"m{n}", *((0.25, 38) if n % 2 else (0.55, 12)), rng) for n in range(30)]
    won = next(f for f in find_season(played, "Mara Okonkwo").all if f.question == "won")
    assert won.grade is Grade.CLEAR
    assert 0.14 < won.effect.low < 0.2 < won.effect.high < 0.28
    assert won.headline == "Within matches, Mara wins more often on the lob than on the hard serve."
    assert "The totals of all matches understate the gap, because the mix differed" in won.words
    assert "Within matches the average gap is about 21 percentage points" in won.words
    assert won.likely.gap == pytest.approx(won.effect.value, abs=0.02)


def test_changing_the_serve_is_judged_within_its_strata_too(make):
    """The same trap for change and repeat: the range of "no difference" is that within the strata."""
    rng = np.random.default_rng(6)
    played = []
    for n in range(40):
        strength, again = (0.25, 0.2) if n % 2 else (0.6, 0.8)
        rows, kind = [], "lob"
        for i in range(40):
            changed = rng.random() >= again
            kind = {"lob": "hard", "hard": "lob"}[kind] if changed else kind
            won = "a" if rng.random() < strength + (0.25 if changed else 0.0) else "b"
            rows.append({"server": "a", "kind": kind, "box": ("right", "left")[i % 2], "winner": won})
        played.append(SeasonMatch(named(make(rows), f"m{n}"), "a", f"P{n % 2}", date(2026, 1, 1)))
    change = next(f for f in find_season(played, "Mara Okonkwo").all if f.question == "change")
    assert change.grade is Grade.CLEAR
    assert change.effect.low > 0.15
    assert abs(change.count / change.of - change.against.count / change.against.of) < 0.1
    assert change.headline.startswith("Within matches, Mara wins more often after changing")


@pytest.mark.parametrize("left", [None, "loose", "tight"])
@pytest.mark.parametrize("winner", ["a", "b", None])
def test_one_sided_records_yield_no_grade_and_read_well(make, left, winner):
    """All won, all lost, a receiver who never missed, nothing written down: no grade and no 0 of 0."""
    rows = [
        {"server": "ab"[i % 2], "kind": ("lob", "hard")[i % 3 == 0], "left": left, "winner": winner}
        for i in range(60)
    ]
    found = find_season(season([make(rows)]), "Imogen Vale")
    for item in found.all:
        if item.question in ("weak", "won", "change"):
            assert item.grade is Grade.TOO_FEW, item
        assert "0 of 0" not in item.words
        assert "nan" not in item.words


def test_the_direction_of_repeats_in_each_match_is_that_of_the_whole_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A season asks each match for it; only where the drawn orders may decide are any drawn."""
    rng, asked = np.random.default_rng(20261130), []
    whole = match_questions.repeat
    monkeypatch.setattr(match_questions, "repeat", lambda *of: asked.append(of) or whole(*of))
    views = [RallyMasks(null_match(rng)) for _ in range(12)]
    for view in views:
        for side in (0, 1):
            wanted = whole(view, side)
            sign = match_questions.repeat_sign(view, side)
            assert sign == (None if wanted is None else np.sign(wanted.gap))
    assert len(asked) < 12  # of 24


def test_the_exact_mean_of_repeats_is_that_of_many_drawn_orders() -> None:
    kinds, boxes = [[0, 0, 1, 2, 1, 0, 0, 1], [1, 1, 0]], [[0, 1, 0, 1, 0, -1, 0, 1], [1, 1, 1]]
    exact = expected_repeats_within(kinds, boxes)
    drawn = repeats_within(kinds, boxes, 20_000, np.random.default_rng(1)).repeats[1:]
    assert exact == pytest.approx(drawn.mean(), abs=5 * drawn.std() / 20_000**0.5)
