"""Counts kept with each match: counted once, and again only where the log grew."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime

import pytest

from goodlength import tasks
from goodlength.record import Entry, EntryKind, MatchInfo, Player
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.store import Library, database_opening, entry_log
from goodlength.record.store.listing import cached_rally_counts


@pytest.fixture
def library(tmp_path):
    with Library.open(tmp_path / "lib") as library:
        for name in ("iv", "pl", "zm"):
            library.save_player(
                Player(name, {"iv": "Imogen Vale", "pl": "Petra Ode", "zm": "Zoë Müller"}[name])
            )
        for n, pair in enumerate((("iv", "pl"), ("pl", "zm"), ("zm", "iv"))):
            library.save_match(
                MatchInfo(
                    f"m{n}", pair, event=f"League {n}", played_on=None if n == 2 else date(2026, 3, 1 + n)
                )
            )
            pen = EntryWriter(f"m{n}")
            for key in range(n + 1):
                pen.rally(f"r{key}", server="a", winner="a")
            library.append(pen.entries)
        yield library


def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return a list that takes the id of every match whose entries are read to count them."""
    seen: list[str] = []
    before = entry_log.rally_marks

    def marks(connection, ids):
        seen.extend(ids)
        return before(connection, ids)

    monkeypatch.setattr(entry_log, "rally_marks", marks)
    return seen


def note(match: str, name: str, what: EntryKind = EntryKind.NOTE, replaces: str | None = None) -> Entry:
    moment = datetime(2026, 3, 7, tzinfo=UTC)
    value = None if what is EntryKind.UNDO else "x"
    return Entry(name, match, "coach", moment, "r9", what, value, replaces)


def test_a_match_is_counted_once_and_again_only_when_its_log_grew(library, monkeypatch):
    seen = counted(monkeypatch)
    assert library.rally_counts() == {"m0": 1, "m1": 2, "m2": 3}
    assert sorted(seen) == ["m0", "m1", "m2"]
    seen.clear()
    assert library.rally_counts() == {"m0": 1, "m1": 2, "m2": 3}
    assert seen == []
    library.append([note("m1", "e1")])
    assert (library.rally_counts()["m1"], seen) == (3, ["m1"])
    library.append([note("m1", "e2", EntryKind.UNDO, "e1")])
    assert (library.rally_counts()["m1"], seen) == (2, ["m1", "m1"])


def test_another_observer_of_the_match_is_counted_when_the_details_name_another(library):
    assert library.rally_counts()["m0"] == 1
    tasks.change_match(library, "m0", observer="second")
    assert library.rally_counts()["m0"] == 0


def test_a_match_that_came_back_with_fewer_answers_is_counted_again(library):
    assert library.rally_counts()["m2"] == 3
    info = library.match_info("m2")
    library.remove_match("m2")
    library.save_match(info)
    assert library.rally_counts()["m2"] == 0


def test_a_damaged_count_is_counted_again(library, monkeypatch):
    assert library.rally_counts()["m2"] == 3
    with closing(sqlite3.connect(library.folder / database_opening.FILE_NAME)) as raw:
        raw.execute("UPDATE match_counts SET rallies = 99 WHERE \"match\" = 'm2'")
        raw.commit()
    seen = counted(monkeypatch)
    assert (library.rally_counts()["m2"], seen) == (3, ["m2"])
    assert library.check() == ()


def test_counts_that_cannot_be_kept_are_still_given(library, monkeypatch):
    monkeypatch.setattr(cached_rally_counts, "keep_counts", raise_full)
    assert library.rally_counts() == {"m0": 1, "m1": 2, "m2": 3}


def raise_full(connection, counts):
    raise OSError(28, "No space left on device")


def test_a_library_of_the_form_before_gives_the_same_list(library, tmp_path):
    before = tasks.list_matches(library)
    library.close()
    with closing(sqlite3.connect(tmp_path / "lib" / database_opening.FILE_NAME)) as raw:
        raw.execute("DROP TABLE match_counts")
        raw.execute("DROP TABLE season_parts")
        raw.execute("UPDATE alembic_version SET version_num = '0003'")
        raw.commit()
    with Library.open(tmp_path / "lib") as again:
        assert tasks.list_matches(again) == before


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("", ["m1", "m0", "m2"]),
        ("VALE", ["m0", "m2"]),
        ("zoe muller", ["m1", "m2"]),
        ("ode league", ["m1", "m0"]),
        ("2026-03-02", ["m1"]),
        ("nobody", []),
    ],
)
def test_every_word_must_stand_in_a_name_the_event_or_the_date(library, words, found):
    assert [head.id for head in tasks.find_matches(library, words)] == found
    assert [row.id for row in tasks.match_rows_of(library, tasks.find_matches(library, words))] == found


def test_the_list_has_the_order_of_the_matches(library):
    assert [head.id for head in library.match_heads()] == [info.id for info in library.matches()]


def test_what_was_proposed_counts_as_no_rally(library):
    pen = EntryWriter("m0", mark="p")
    answers = [{"what": "serve.kind", "value": "lob", "chance": 0.97}]
    library.append([pen.write("r9", EntryKind.PROPOSED, {"by": "ball-path", "answers": answers})])
    assert library.rally_counts()["m0"] == 1
