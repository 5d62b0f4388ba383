"""Counts in memory are those of the search in SQL, whatever is asked together."""

from __future__ import annotations

from dataclasses import asdict, fields
from datetime import date, timedelta

import duckdb
import numpy as np
import pytest

from goodlength.record.store.season.coded_rally_columns import coded_rallies
from goodlength.record.store.season.rally_search_query import SeasonFilter, counts_in
from goodlength.record.store.season.season_column_building import TYPES, table_sql

PEOPLE = ("iv", "o'hara", 'the "wall"', "Çelik")
WORDS = {
    "box": ("right", "left"),
    "kind": ("lob", "hard", "my o'wn kind"),
    "how": ("volleyed", "not-made"),
    "return_to": ("straight", "boast"),
    "left": ("loose", "tight", "not-made"),
    "ending": ("winner", "let"),
    "stroke": ("drop", "drive"),
    "place": ("front-left", "back-right"),
}
DAY = date(1969, 12, 20)  # days before 1970 are days too
EQUAL = tuple(name for name in WORDS if name != "left")


def _row(rng):
    a, b = (PEOPLE[int(k)] for k in rng.choice(len(PEOPLE), 2, replace=False))
    server, winner = (rng.choice(3) for _ in range(2))
    sides = {0: (a, b), 1: (b, a), 2: (None, None)}
    row = dict.fromkeys(TYPES)
    row |= {"match": "m", "player_a": a, "player_b": b, "key": "r", "call": "", "n": 1, "n_in_game": 1}
    row |= {"server": sides[server][0], "receiver": sides[server][1]}
    row |= {"winner": sides[winner][0], "loser": sides[winner][1], "let": False}
    row |= {"demo": bool(rng.integers(2)), "keep": bool(rng.integers(2)), "game": int(rng.integers(1, 4))}
    row |= {"points_a": int(rng.integers(12)), "points_b": int(rng.integers(12))}
    row["watched"] = (True, False, None)[int(rng.integers(3))]
    row["day"] = None if rng.random() < 0.2 else DAY + timedelta(days=int(rng.integers(40)))
    for name, words in WORDS.items():
        row[name] = None if rng.random() < 0.3 else words[int(rng.integers(len(words)))]
    return tuple(row.values())


@pytest.fixture(scope="module")
def rallies():
    rng = np.random.default_rng(22)
    with duckdb.connect() as connection:
        connection.execute(table_sql())
        marks = ", ".join("?" * len(TYPES))
        connection.executemany(f"INSERT INTO rallies VALUES ({marks})", [_row(rng) for _ in range(600)])
        yield connection


def _filter(rng):
    """Return a filter with up to five conditions, some of values that nothing has."""
    some = {}
    for name in EQUAL:
        some[name] = lambda words=WORDS[name]: str(rng.choice([*words, "nothing like it"]))
    some["left"] = lambda: tuple(rng.choice([*WORDS["left"], "odd"], int(rng.integers(1, 3)), replace=False))
    for name in ("player", "opponent"):
        some[name] = lambda: str(rng.choice([*PEOPLE, "nobody"]))
    for name in ("serving", "won", "server_won", "keep", "demo", "watched"):
        some[name] = lambda: bool(rng.integers(2))
    for name, most in (("game", 5), ("points_below", 20), ("points_from", 20)):
        some[name] = lambda most=most: int(rng.integers(most))
    for name in ("both_from", "not_both_from"):
        some[name] = lambda: int(rng.integers(10))
    some["lead"] = lambda: int(rng.integers(-1, 2))
    for name in ("since", "until"):
        some[name] = lambda: DAY + timedelta(days=int(rng.integers(-5, 45)))
    asked = rng.choice(list(some), int(rng.integers(0, 6)), replace=False)
    if rng.random() < 0.5:
        asked = [*asked, "player"]
    return SeasonFilter(**{str(name): some[name]() for name in asked})


def test_counts_in_memory_are_those_of_the_search(rallies):
    rng = np.random.default_rng(2026)
    asked = [_filter(rng) for _ in range(400)]
    wanted = tuple(counts_in(rallies, [question])[0] for question in asked)
    assert coded_rallies(rallies).counts(asked) == wanted
    assert sum(count > 0 for count in wanted) > 150, "most questions found nothing: the test says little"


def test_every_condition_of_a_search_is_counted(rallies):
    """Before: rallies that nobody watched were counted where only watched ones were asked for."""
    rng = np.random.default_rng(22)
    met = {
        name for _ in range(300) for name, value in asdict(_filter(rng)).items() if value not in (None, ())
    }
    assert {field.name for field in fields(SeasonFilter)} - met == {"text", "match"}  # counted in the file


def test_no_rally_is_no_fault():
    with duckdb.connect() as connection:
        connection.execute(table_sql())
        asked = [SeasonFilter(), SeasonFilter(kind="lob"), SeasonFilter(player="iv", won=True)]
        assert coded_rallies(connection).counts(asked) == (0, 0, 0)
