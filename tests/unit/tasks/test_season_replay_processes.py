"""Many matches replayed in several processes come to the same columns as one after another."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures.process import BrokenProcessPool
from typing import Any

import numpy as np
import pytest

from goodlength.errors import Cancelled
from goodlength.record.model import MatchInfo, Player
from goodlength.record.sequential_entry_writer import EntryWriter
from goodlength.record.store import Library
from goodlength.record.store.season import season_duckdb_file
from goodlength.record.store.season.rally_search_query import SeasonFilter
from goodlength.scoring.scoring_types import Side, Start
from goodlength.tasks.findings import season_replay_processes as processes
from goodlength.tasks.findings import season_search

NAMES = tuple(f"m{n}" for n in range(12))
BATCHES = [NAMES[:5], NAMES[5:10], NAMES[10:]]


@pytest.fixture
def library(tmp_path: Any) -> Iterator[Library]:
    with Library.open(tmp_path / "lib") as opened:
        for player_id in ("iv", "pl"):
            opened.save_player(Player(player_id, player_id))
        for n, match_id in enumerate(NAMES):
            opened.save_match(MatchInfo(match_id, ("iv", "pl"), start=Start(server=Side.A)))
            for observer in ("coach", "helper") if n == 3 else ("coach",):
                pen = EntryWriter(match_id, observer, mark=f"{match_id}{observer}")
                for k in range(n + 1):
                    pen.rally(f"r{k}", kind="lob", winner="ab"[k % 2], ending="winner", note="Größe")
                opened.append(pen.entries)
        yield opened


def same(first: Any, second: Any) -> bool:
    return first.keys() == second.keys() and all(
        np.array_equal(first[name], second[name], equal_nan=first[name].dtype.kind == "f") for name in first
    )


def test_two_processes_give_the_columns_of_each_batch_in_order(library: Library) -> None:
    found = list(processes.columns_by_processes(library, BATCHES, 2))
    one_by_one = list(processes.columns_by_processes(library, BATCHES, 1))
    assert [len(columns["n"]) for columns in found] == [15, 40, 23]
    assert all(same(a, b) for a, b in zip(found, one_by_one, strict=True))


def test_a_search_of_many_matches_finds_what_one_of_few_does(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = season_search.up_to_date(library).search(SeasonFilter())
    season_search.forget_season(library)
    monkeypatch.setattr(season_duckdb_file, "MANY", 2)
    monkeypatch.setattr(season_duckdb_file, "BATCH", 5)
    monkeypatch.setattr(processes, "processors", lambda: 1)
    shares: list[float] = []
    season = season_search.up_to_date(library, lambda share, _: shares.append(share))
    assert season.search(SeasonFilter()) == few
    assert shares == [5 / 12, 10 / 12, 1.0]


@pytest.mark.parametrize("trouble", [BrokenProcessPool("killed"), OSError(1, "Operation not permitted")])
def test_where_a_process_dies_the_rest_is_replayed_here(
    library: Library, monkeypatch: pytest.MonkeyPatch, trouble: Exception
) -> None:
    def one_then_dead(*_: Any) -> Iterator[Any]:
        yield from processes.columns_by_processes(library, BATCHES[:1], 1)
        raise trouble

    wanted = list(processes.columns_by_processes(library, BATCHES, 1))
    monkeypatch.setattr(processes, "_by_processes", one_then_dead)
    found = list(processes.columns_by_processes(library, BATCHES, 2))
    assert len(found) == 3 and all(same(a, b) for a, b in zip(found, wanted, strict=True))


def test_a_match_removed_meanwhile_is_left_out(library: Library) -> None:
    library.remove_match("m1")
    (columns,) = processes.columns_by_processes(library, [("m0", "m1", "m2")], 1)
    assert set(columns["match"]) == {"m0", "m2"}


def test_a_reading_that_is_stopped_keeps_what_it_read(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(season_duckdb_file, "MANY", 2)
    monkeypatch.setattr(season_duckdb_file, "BATCH", 5)
    monkeypatch.setattr(processes, "processors", lambda: 1)

    def stop(share: float, _: str) -> None:
        if share > 0.5:
            raise Cancelled("Stopped.")

    with pytest.raises(Cancelled, match="Stopped after 10 of 12"):
        season_search.up_to_date(library, stop)
    read: list[tuple[float, str]] = []
    season_search.up_to_date(library, lambda *given: read.append(given))
    assert read == [(1.0, "2 of 2 matches read")]
