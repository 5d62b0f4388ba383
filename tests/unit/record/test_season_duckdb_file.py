"""The season's columns: what replay says, found again; read anew when the record changes, and only then."""

from __future__ import annotations

import dataclasses
import shutil
import threading
from datetime import date

import duckdb
import numpy as np
import pytest
import sqlalchemy as sa

from goodlength.errors import Cancelled, StoreError
from goodlength.record import EntryKind
from goodlength.record.effective_answers import effective_answers
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import MatchInfo, Player
from goodlength.record.store import Library
from goodlength.record.store.season.rally_search_query import SeasonFilter
from goodlength.record.store.season.remembered_answers import Answers, answers_of
from goodlength.record.store.season.season_column_building import TYPES, replayed_from, table_sql
from goodlength.record.store.season.season_duckdb_file import MANY_COUNTS, Season
from goodlength.record.store.season.season_file_authentication import note_sealed, sealed_name
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.scoring.scoring_types import Side, Start


@pytest.fixture
def library(tmp_path):
    with Library.open(tmp_path / "lib") as opened:
        for player_id, name in (("iv", "Imogen Vale"), ("pl", "Petra Lindqvist-Ode"), ("om", "Oona Marsh")):
            opened.save_player(Player(player_id, name))
        add(opened, "m1", ("iv", "pl"), date(2026, 1, 5))
        add(opened, "m2", ("om", "iv"), None)
        yield opened


def add(library, match_id, players, day, rallies=4):
    library.save_match(MatchInfo(match_id, players, played_on=day, start=Start(server=Side.A)))
    pen = EntryWriter(match_id)
    for n in range(rallies):
        pen.rally(
            f"r{n}",
            span=(n * 10**7, n * 10**7 + 6 * 10**6),
            box="right",
            kind=("lob", "hard")[n % 2],
            receiver_place="usual",
            how="volleyed",
            return_to="straight",
            left="loose",
            winner="ab"[n % 2],
            ending="winner",
            ending_stroke="drop",
            ending_place="front-left",
            note=f"Überkopf {n}" if n == 2 else "",
        )
    library.append(pen.entries)


class Replayer:
    """Replays a match of the library, and remembers which were asked for."""

    def __init__(self, library):
        self.library, self.asked = library, []

    def __call__(self, match_id):
        self.asked.append(match_id)
        info = self.library.match_info(match_id)
        answers = effective_answers(self.library.entries(match_id), info.observer)
        return replayed_from(info, answers, frozenset({"left", "kind"}) if match_id == "m2" else frozenset())


def read_again(library):
    """The matches a refresh has to read."""
    replay = Replayer(library)
    Season(library.folder).refresh(library, replay)
    return sorted(replay.asked)


def test_only_what_changed_is_read_again(library):
    assert read_again(library) == ["m1", "m2"]
    assert read_again(library) == []
    pen = EntryWriter("m2")
    pen.write("r9", EntryKind.NOTE, "later")
    library.append(pen.entries)
    assert read_again(library) == ["m2"]
    library.save_match(dataclasses.replace(library.match_info("m1"), event="Tideway Open"))
    assert read_again(library) == ["m1"]
    library.remove_match("m1")
    assert read_again(library) == []
    assert Season(library.folder).search(SeasonFilter()).matches == 1
    add(library, "m1", ("iv", "pl"), None, rallies=2)
    assert read_again(library) == ["m1"]
    assert Season(library.folder).search(SeasonFilter(match="m1")).total == 2


def test_what_changed_is_found_without_walking_the_whole_log(library):
    read_again(library)
    statements = []
    sa.event.listen(library._engine, "after_cursor_execute", lambda *told: statements.append(told[2]))
    assert read_again(library) == []
    (newer,) = [sql for sql in statements if "entries.seq > ?" in sql]
    with library._engine.connect() as connection:
        plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {newer}", (5,)).all()
    assert [row[3].split(" USING ")[0] for row in plan] == ["SEARCH entries"]


def test_several_questions_open_the_file_once(library, monkeypatch):
    read_again(library)
    opened = []
    before = duckdb.connect
    monkeypatch.setattr(duckdb, "connect", lambda *file, **how: opened.append(file) or before(*file, **how))
    season = Season(library.folder)
    with season.open_once():
        assert season.own_and_demo() == (8, 0)
        assert season.search(SeasonFilter(kind="lob")).total == 4
    assert len(opened) == 1
    season.search(SeasonFilter(kind="hard"))
    assert len(opened) == 2
    assert season.search(SeasonFilter(kind="lob")).total == 4
    assert len(opened) == 2, "what was found in the same file is remembered"


def test_what_is_remembered_goes_with_the_file(library):
    read_again(library)
    asked = [[SeasonFilter(kind=kind) for kind in ("lob", "hard", "mid-height")]]
    assert Season(library.folder).counts(asked) == ((4, 4, 0),)
    assert Season(library.folder).search(SeasonFilter(kind="lob")).total == 4
    add(library, "m3", ("iv", "pl"), None, rallies=2)
    assert read_again(library) == ["m3"]
    assert Season(library.folder).counts(asked) == ((5, 5, 0),)
    assert Season(library.folder).search(SeasonFilter(kind="lob")).total == 5
    (file,) = (library.folder / "season").glob("*.duckdb")
    assert answers_of(file).found, "nothing was remembered: the next line says nothing"
    Season(library.folder).drop()
    assert answers_of(file) == Answers(), "names and notes stay in memory after the columns were deleted"


def test_a_library_put_back_from_a_copy_is_noticed(library, tmp_path):
    library.copy_to(tmp_path / "copy.sqlite3")
    pen = EntryWriter("m1")
    pen.write("r0", EntryKind.NOTE, "before the copy was put back")
    library.append(pen.entries)
    read_again(library)
    library.close()
    shutil.copyfile(tmp_path / "copy.sqlite3", library.place)
    with Library.open(library.folder) as back:
        pen = EntryWriter("m2")
        pen.write("r0", EntryKind.NOTE, "another answer with the same number")
        back.append(pen.entries)
        assert read_again(back) == ["m1", "m2"]
        season = Season(back.folder)
        assert season.search(SeasonFilter(text="put back")).total == 0
        assert season.search(SeasonFilter(text="same number")).total == 1


def test_tables_are_those_that_replay_gives(library):
    read_again(library)
    kinds = [kind.id for kind in library.kinds()]
    played = Season(library.folder).tables("iv", kinds)
    assert [(element.match, element.day, element.players) for element in played] == [
        ("m2", None, ("om", "iv")),
        ("m1", date(2026, 1, 5), ("iv", "pl")),
    ]
    for item in played:
        wanted = rally_table(match_from(library.match_info(item.match), library.entries(item.match)))
        for field in dataclasses.fields(wanted):
            left, right = getattr(wanted, field.name), getattr(item.table, field.name)
            if isinstance(left, np.ndarray):
                assert left.dtype == right.dtype, field.name
                np.testing.assert_array_equal(left, right, err_msg=field.name)
            else:
                assert left == right, field.name
    assert [element.doubted for element in played] == [{"left", "kind"}, frozenset()]
    assert Season(library.folder).tables("nobody", kinds) == ()


@pytest.mark.parametrize(
    ("wanted", "total"),
    [
        (SeasonFilter(), 8),
        (SeasonFilter(player="iv"), 8),
        (SeasonFilter(player="pl"), 4),
        (SeasonFilter(player="iv", opponent="om"), 4),
        (SeasonFilter(kind="lob"), 4),
        (SeasonFilter(left=("loose", "not-made")), 8),
        (SeasonFilter(left=("tight",)), 0),
        (SeasonFilter(player="iv", won=True), 4),
        (SeasonFilter(game=2), 0),
        (SeasonFilter(points_below=2), 4),
        (SeasonFilter(points_from=2), 4),
        (SeasonFilter(both_from=1), 4),
        (SeasonFilter(not_both_from=1), 4),
        (SeasonFilter(since=date(2026, 1, 1)), 4),
        (SeasonFilter(until=date(2025, 1, 1)), 0),
        (SeasonFilter(text="UBERKOPF"), 2),
        (SeasonFilter(text="%"), 0),
        (SeasonFilter(text="' OR true --"), 0),
        (SeasonFilter(keep=True), 0),
        (SeasonFilter(how="volleyed", return_to="straight", stroke="drop", place="front-left"), 8),
        (SeasonFilter(ending="let"), 0),
        (SeasonFilter(player="iv", lead=0), 4),
    ],
)
def test_each_option_is_a_condition(library, wanted, total):
    read_again(library)
    assert Season(library.folder).search(wanted).total == total


def test_serving_and_leading_are_seen_from_the_player(library):
    read_again(library)
    season = Season(library.folder)
    served = season.search(SeasonFilter(player="iv", serving=True))
    received = season.search(SeasonFilter(player="iv", serving=False))
    assert served.total + received.total == 8
    assert all(rally.server == "iv" for rally in served.rallies)
    ahead, behind = (season.search(SeasonFilter(player="iv", lead=sign)).rallies for sign in (1, -1))
    assert all(item.points[item.players.index("iv")] > min(item.points) for item in ahead)
    assert all(item.points[item.players.index("iv")] < max(item.points) for item in behind)
    assert len(ahead) + len(behind) == 4


def test_the_newest_day_comes_first_and_counts_are_of_all(library):
    read_again(library)
    found = Season(library.folder).search(SeasonFilter(), limit=5)
    assert [rally.match for rally in found.rallies] == ["m1"] * 4 + ["m2"]
    assert [rally.n for rally in found.rallies[:4]] == [1, 2, 3, 4]
    assert (found.total, found.matches, found.decided, found.lets) == (8, 2, 8, 0)
    first = found.rallies[0]
    assert (first.start_s, first.end_s, first.call) == (0.0, 6.0, "1–love")


def test_an_interrupted_reading_keeps_what_it_has_and_goes_on_later(library, monkeypatch):
    monkeypatch.setattr("goodlength.record.store.season.season_duckdb_file.BATCH", 1)

    def stop(share, words):
        raise Cancelled("enough")

    with pytest.raises(Cancelled, match="1 of 2"):
        Season(library.folder).refresh(library, Replayer(library), stop)
    assert read_again(library) == ["m2"]
    assert Season(library.folder).search(SeasonFilter()).total == 8


def test_a_damaged_file_is_made_anew(library):
    read_again(library)
    (file,) = (library.folder / "season").glob("*.duckdb")
    file.write_bytes(b"not a database" * 1000)
    assert read_again(library) == ["m1", "m2"]
    assert Season(library.folder).search(SeasonFilter()).total == 8


def test_nothing_else_can_be_read_through_it(library):
    read_again(library)
    season = Season(library.folder)
    with season._reading() as (_, connection):
        import duckdb

        with pytest.raises(duckdb.PermissionException):
            connection.execute("SELECT * FROM read_csv('/etc/hostname')")
        with pytest.raises(duckdb.Error):
            connection.execute("SET enable_external_access = true")
        with pytest.raises(duckdb.Error):
            connection.execute("DELETE FROM rallies")
        told = dict(connection.execute("SELECT name, value FROM duckdb_settings()").fetchall())
    assert told["autoinstall_known_extensions"] == told["autoload_known_extensions"] == "false"


def test_what_is_taken_out_leaves_no_trace_in_the_file(library):
    pen = EntryWriter("m2")
    pen.write("r0", EntryKind.NOTE, "Geheimnisvoll-und-einmalig")
    library.append(pen.entries)
    read_again(library)
    assert any(b"Geheimnisvoll" in file.read_bytes() for file in (library.folder / "season").iterdir())
    library.remove_match("m2")
    read_again(library)
    assert not any(b"Geheimnisvoll" in file.read_bytes() for file in (library.folder / "season").iterdir())
    assert Season(library.folder).drop() == ()
    assert list((library.folder / "season").iterdir()) == []
    with pytest.raises(StoreError, match="not been read"):
        Season(library.folder).search(SeasonFilter())


def test_others_may_search_while_one_brings_it_up_to_date(library):
    read_again(library)
    wrong: list[str] = []

    def look():
        for _ in range(15):
            try:
                found = Season(library.folder).search(SeasonFilter(kind="lob"))
                assert found.total == 4
            except Exception as error:
                wrong.append(repr(error))

    lookers = [threading.Thread(target=look) for _ in range(3)]
    for looker in lookers:
        looker.start()
    for n in range(4):
        pen = EntryWriter("m1")
        pen.write("r0", EntryKind.NOTE, f"note {n}")
        library.append(pen.entries)
        assert read_again(library) == ["m1"]
    for looker in lookers:
        looker.join()
    assert wrong == []


def test_a_newer_file_put_in_place_within_a_page_is_not_given_the_older_one_s_answers(tmp_path):
    """Before: what the open file answered was remembered under the newer file's name."""
    season = Season(tmp_path)
    season.folder.mkdir()
    of_own, by_game = SeasonFilter(demo=False), [[SeasonFilter(game=n) for n in range(1, MANY_COUNTS + 1)]]
    _sealed(season, 1, rallies=5)
    with season.open_once():
        assert season.own_and_demo() == (5, 0)
        _sealed(season, 2, rallies=7)
        assert season.search(of_own).total == season.counts(by_game)[0][0] == 5
    assert Season(tmp_path).search(of_own).total == 7
    assert Season(tmp_path).counts(by_game)[0][0] == 7


def _sealed(season, number, rallies):
    """Put a finished file of so many rallies in place."""
    part = season.folder / "part.duckdb"
    row = dict.fromkeys(TYPES) | {"match": "m", "player_a": "a", "player_b": "b", "key": "r", "call": ""}
    row |= {"n": 1, "n_in_game": 1, "let": False, "demo": False, "keep": False, "game": 1}
    row |= {"points_a": 0, "points_b": 0, "watched": True}
    with duckdb.connect(str(part)) as connection:
        connection.execute(table_sql())
        marks = ", ".join("?" * len(TYPES))
        connection.executemany(f"INSERT INTO rallies VALUES ({marks})", [tuple(row.values())] * rallies)
    target = season.folder / sealed_name(part, number)
    part.rename(target)
    note_sealed(target)
