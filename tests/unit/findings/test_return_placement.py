"""Where returns went, and the mix by where the receiver stood, when a coach writes these down."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from goodlength.findings import Names, find
from goodlength.findings.analyses.serve_mixed_strategy import advise_match, solve_games
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch, one_table
from goodlength.record.tables.rally_table import RallyTable
from oracles.games import solve_game


def test_returns_by_where_they_went_leave_out_those_not_made(
    make: Callable[..., RallyTable], names: Names
) -> None:
    rows: list[dict[str, Any]] = [
        {"server": "a", "kind": "lob", "how": "volleyed", "left": "tight", "winner": "b"},
        {"server": "a", "kind": "lob", "how": "volleyed", "left": "loose", "winner": "a"},
        {"server": "a", "kind": "lob", "how": "volleyed", "left": "tight", "winner": "b"},
        {"server": "a", "kind": "lob", "how": "not-made", "winner": "a"},
        {"server": "b", "kind": "hard", "how": "volleyed", "left": "tight", "winner": "a"},
        {"server": "a", "kind": "lob", "how": "volleyed", "left": "tight", "winner": "b"},
    ]
    table = replace(
        make(rows), return_to=("straight", "straight", "back-left", "straight", "cross-court", None)
    )
    tables = find(table, "a", names).tables
    straight, back = tables.returned_to
    assert (straight.words, straight.sent.count, straight.sent.of) == ("Straight", 2, 3)
    assert straight.sent.rallies == ("k0", "k1")
    assert straight.weak is not None
    assert (straight.weak.count, straight.weak.of) == (1, 2)
    assert (straight.won.count, straight.won.of) == (1, 2)
    assert (back.words, back.sent.count) == ("Back left", 1)
    assert [row.to for row in tables.returns_to] == ["cross-court"]


def test_without_the_columns_there_are_no_rows(tale: RallyTable, names: Names) -> None:
    tables = find(tale, "a", names).tables
    assert tables.returned_to == tables.returns_to == ()
    assert not RallyMasks(tale).written(tale.return_to).any()


def test_several_matches_keep_the_columns_in_step(tale: RallyTable) -> None:
    item = replace(tale, receiver_place=("up",) * len(tale.key), return_to=("boast",) * len(tale.key))
    whole, _ = one_table([SeasonMatch(tale, "a", "P"), SeasonMatch(item, "b", "P")])
    n = len(tale.key)
    assert whole.receiver_place == (None,) * n + ("up",) * n
    assert whole.return_to[-1] == "boast"
    assert len(whole.placed) == 2 * n


def stood(table: RallyTable, places: tuple[str, ...]) -> RallyTable:
    return replace(table, receiver_place=tuple(places[i // 2 % len(places)] for i in range(len(table.key))))


def test_the_mix_is_a_game_where_the_receiver_stood_in_two_places(tale: RallyTable) -> None:
    advice = advise_match(RallyMasks(stood(tale, ("up", "back"))), 0)
    assert advice is not None
    assert advice.stances == ("up", "back")
    assert "find the best mix" in advice.words
    assert advice.serves == int((RallyMasks(tale).served(0) & RallyMasks(tale).decided).sum())


def test_one_place_only_or_few_rallies_is_no_game(tale: RallyTable) -> None:
    for table in (tale, stood(tale, ("usual",))):
        advice = advise_match(RallyMasks(table), 0)
        assert advice is not None
        assert advice.stances == ()
        assert "which kind wins most" in advice.words
    few = replace(tale, receiver_place=("up",) * 6 + ("back",) * 6 + (None,) * (len(tale.key) - 12))
    advice = advise_match(RallyMasks(few), 0)
    assert advice is not None
    assert advice.stances == ()  # three of her serves at each place


def test_a_game_in_a_table_by_hand(make: Callable[..., RallyTable]) -> None:
    """Two kinds that each beat one stance and lose to the other: the even mix gives nothing away."""
    rows: list[dict[str, Any]] = []
    places: list[str] = []
    for kind, place, won in (("lob", "up", 20), ("lob", "back", 0), ("hard", "up", 0), ("hard", "back", 20)):
        for i in range(20):
            rows.append({"server": "a", "kind": kind, "winner": "a" if i < won else "b"})
            places.append(place)
    advice = advise_match(RallyMasks(replace(make(rows), receiver_place=tuple(places))), 0)
    assert advice is not None
    assert np.allclose(advice.careful, (0.5, 0.5), atol=0.1)
    assert advice.present_loss[0] < 0.05


def test_many_games_at_once_are_the_same_as_one_by_one() -> None:
    rng = np.random.default_rng(4)
    for kinds, answers in ((1, 1), (5, 1), (2, 2), (3, 4), (6, 3), (2, 4)):
        draws = rng.beta(3, 3, size=(25, kinds, answers))
        rows, values = solve_games(draws)
        assert np.allclose(values, [solve_game(a).value for a in draws], atol=1e-9)
        assert np.allclose(rows.sum(axis=1), 1)
        worst = np.einsum("sk,ska->sa", rows, draws).min(axis=1)
        assert np.allclose(worst, values)
