"""Many matches replayed in several processes come to the same columns as one after another."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from goodlength.errors import Cancelled
from goodlength.record.effective_answers import (
    ALONG,
    DOUBTFUL_TAB,
    DRAFT_TAB,
    UNWATCHED_TAB,
    effective_answers,
    is_watched,
)
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import Depth, EntryKind, Match, MatchInfo, Player
from goodlength.record.store import Library
from goodlength.record.store.season import season_duckdb_file
from goodlength.record.store.season.rally_search_query import SeasonFilter
from goodlength.record.store.season.season_column_building import NAME_A, NAME_B
from goodlength.record.tables.answer_origins import answers_of_rally
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.scoring.scoring_types import Format, Side, Start, System
from goodlength.synthetic.simulated_matches import null_match
from goodlength.synthetic.simulated_season_library import written_entries
from goodlength.tasks.findings import multiprocess_match_replay as processes
from goodlength.tasks.findings import season_search
from goodlength.tasks.match.observer_record_replay import doubted_columns

ORIGINS = ("watched", "by_person", "unwatched", "drafted", "along")
TABS = ("tab1", UNWATCHED_TAB, DRAFT_TAB, f"tab1{ALONG}", DOUBTFUL_TAB)
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


def rows_of(match: Match) -> list[dict[str, Any]]:
    """Columns as the whole replay of a match gives them, written out by hand."""
    table = rally_table(match)
    rallies = [rally for rally in match.rallies if rally.key != match.open_key]

    def player(side: Side | None) -> str | None:
        return None if side is None else match.info.players[side.place]

    def word(value: Any) -> Any:
        return getattr(value, "value", value)

    rows = []
    for n, rally in enumerate(rallies):
        server = rally.server if rally.server_known else None
        winner = None if rally.let else rally.winner
        rows.append(
            {
                "match": match.info.id,
                "day": None if match.info.played_on is None else match.info.played_on.isoformat(),
                "demo": match.info.demo,
                "player_a": match.info.players[0],
                "player_b": match.info.players[1],
                "key": rally.key,
                "n": rally.n,
                "game": rally.game,
                "n_in_game": rally.n_in_game,
                "server": player(server),
                "receiver": player(server and server.other),
                "winner": player(winner),
                "loser": player(winner and winner.other),
                "let": rally.let,
                "box": rally.box.value if rally.box_known else None,
                "points_a": rally.before[0],
                "points_b": rally.before[1],
                "call": rally.call,
                "kind": rally.serve.kind,
                "receiver_place": rally.serve.receiver_place,
                "how": word(rally.ret.how),
                "return_stroke": word(rally.ret.stroke),
                "return_to": rally.ret.to,
                "left": word(rally.ret.left),
                "ending": word(rally.ending),
                "stroke": word(rally.ending_stroke),
                "volley": rally.ending_volley,
                "place": rally.ending_place,
                "why": rally.ending_why,
                "start_s": np.nan if rally.start_us is None else rally.start_us / 1e6,
                "end_s": np.nan if rally.end_us is None else rally.end_us / 1e6,
                "length_s": table.length_s[n],
                "shots": table.shots[n],
                "note": rally.note or None,
                "keep": rally.keep,
            }
        )
    return rows


def every_kind_of_log(library: Library, rng: np.random.Generator) -> list[str]:
    """Simulated matches, and logs with all that is unusual in one: undo, moves, lets, calls, damage."""
    names = [f"x{n}" for n in range(12)]
    depths = (Depth.SERVE, Depth.SHOTS, Depth.SCORE)
    for n, name in enumerate(names):
        hand_out = Format(System.HAND_OUT, 9, edition="2001") if n == 5 else Format()
        day = None if n == 2 else date(2026, 1, 1 + n)
        library.save_match(
            MatchInfo(name, ("iv", "pl"), format=hand_out, depth=depths[n % 3], played_on=day, demo=n == 4)
        )
        if n < 2:
            library.append(
                [replace(e, match=name, id=f"{name}{e.id}") for e in written_entries(name, null_match(rng))]
            )
            continue
        pen = EntryWriter(name, "coach/tab1" if n % 2 else "coach")
        for k in range(40):
            if n > 8:
                pen.observer = f"coach/{TABS[k % len(TABS)]}"
            unusual_rally(pen, f"r{k}", rng)
            if n > 8 and k % 2:
                pen.observer = "coach/tab1"
                pen.write(f"r{k}", EntryKind.WINNER, "a")
        if n == 6:
            pen.write("r9", EntryKind.PLACE, {"after": "r3"})
        if n == 7:
            pen.write("r5", EntryKind.REMOVE, True)
        library.append(pen.entries)
    helper = EntryWriter("x8", "helper")
    helper.rally("r0", kind="lob", winner="a")
    library.append(helper.entries)
    with library._write() as connection:
        connection.execute(sa.text("UPDATE entries SET value = '\"b\"' WHERE match = 'x9' AND rally = 'r4'"))
    return names


def unusual_rally(pen: EntryWriter, key: str, rng: np.random.Generator) -> None:
    odd = rng.random()
    if odd < 0.05:
        pen.write(key, EntryKind.CONDUCT, {"to": "a", "game": False})
        return
    answers: dict[str, Any] = {
        "kind": rng.choice(["lob", "hard", "of no kind"]),
        "how": rng.choice(["volleyed", "not-made", "after-the-bounce"]),
        "left": rng.choice(["loose", "tight", "not-made"]),
        "ending": rng.choice(["winner", "let", "service-fault", "stroke", "forced-error"]),
        "span": (int(rng.integers(0, 10**9)), int(rng.integers(0, 10**9))),
    }
    for name in list(answers):
        if rng.random() < 0.3:
            answers.pop(name)
    if rng.random() < 0.7:
        answers["winner"] = str(rng.choice(["a", "b"]))
    pen.rally(
        key, **{name: str(value) if isinstance(value, str) else value for name, value in answers.items()}
    )
    if odd < 0.2:
        pen.rally(key, left="loose", shots=["drive", "drop"], winner="b", ending="winner")
    if odd > 0.9:
        pen.undo(pen.write(key, EntryKind.WINNER, "b"))
        pen.undo(pen.undo(pen.write(key, EntryKind.NOTE, "taken back, and back")))
    if 0.8 < odd < 0.9:
        pen.write(key, EntryKind.CALLED, {"call": "out", "to": "b", "points": [3, 2]})
        pen.write(key, EntryKind.SERVER, "b")
        pen.write(key, EntryKind.BOX, "left")
        pen.write(key, EntryKind.KEEP, True)
        pen.write(key, EntryKind.RETURN_STROKE, "boast")
        pen.write(key, EntryKind.RECEIVER_PLACE, None)


def test_columns_are_those_of_the_whole_replay(tmp_path: Any) -> None:
    with Library.open(tmp_path / "lib") as library:
        for player_id in ("iv", "pl"):
            library.save_player(Player(player_id, player_id))
        names = every_kind_of_log(library, np.random.default_rng(20261130))
        (columns,) = processes.columns_by_processes(library, [names], 1)
        parts = [library.everything(name) for name in names]
        logs = [(of.info, of.entries, (NAME_A, NAME_B), library.kinds()) for of in parts]
        wanted = []
        for log in logs:
            facts = {item.key: item for item in effective_answers(log[1], log[0].observer).facts}
            doubted = ",".join(sorted(doubted_columns(*log))) or None
            for row in rows_of(match_from(*log)):
                given = answers_of_rally(facts[row["key"]])
                origins = {
                    "watched": is_watched(facts[row["key"]]),
                    "by_person": given.by_person,
                    "unwatched": given.unwatched,
                    "drafted": given.proposed,
                    "along": given.along,
                }
                wanted.append({**row, **origins, "doubted": doubted})
    assert {name: sum(row[name] > 0 for row in wanted) > 10 for name in ORIGINS} == dict.fromkeys(
        ORIGINS, True
    )
    assert len(wanted) > 350 and len(wanted) == len(columns["n"])
    assert list(columns) == list(wanted[0])
    for name, column in columns.items():
        for n, (found, row) in enumerate(zip(column.tolist(), wanted, strict=True)):
            same_number = isinstance(found, float) and np.isnan(found) and np.isnan(row[name])
            assert same_number or found == row[name], (name, n, row["match"], row["key"])


def test_a_plain_log_is_read_with_its_checksums(library: Library) -> None:
    with library._write() as connection:
        connection.execute(sa.text("UPDATE entries SET value = '\"x\"' WHERE match = 'm4' AND rally = 'r1'"))
    _, logs = library.plain_logs(["m3", "m4", "m5"])
    assert [logs[name].sound for name in ("m3", "m4", "m5")] == [True, False, True]
    assert logs["m3"].observers == {"coach", "helper"}
