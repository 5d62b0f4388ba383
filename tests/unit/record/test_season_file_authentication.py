"""Season files that this user did not write here are never opened, and what they hold is worked out again."""

from __future__ import annotations

import os
import shutil
import stat

import pytest

from goodlength.record.effective_answers import effective_answers
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import MatchInfo, Player
from goodlength.record.store import Library
from goodlength.record.store.season import season_duckdb_file, season_file_authentication
from goodlength.record.store.season.rally_search_query import SeasonFilter
from goodlength.record.store.season.season_column_building import replayed_from
from goodlength.record.store.season.season_duckdb_file import Season
from goodlength.record.store.season.season_file_authentication import KEY_FILE, KEY_FOLDER, is_sealed

RALLIES = 8


@pytest.fixture
def library(tmp_path):
    with Library.open(tmp_path / "lib") as opened:
        for player_id, name in (("iv", "Imogen Vale"), ("pl", "Petra Lindqvist-Ode")):
            opened.save_player(Player(player_id, name))
        for match in ("m1", "m2"):
            opened.save_match(MatchInfo(match, ("iv", "pl")))
            pen = EntryWriter(match)
            for n in range(RALLIES // 2):
                pen.rally(f"r{n}", kind="lob", winner="ab"[n % 2], ending="winner")
            opened.append(pen.entries)
        yield opened


def read_again(library):
    """The matches a refresh has to read."""
    asked = []

    def replayed(match):
        asked.append(match)
        info = library.match_info(match)
        return replayed_from(info, effective_answers(library.entries(match), info.observer))

    Season(library.folder).refresh(library, replayed)
    return sorted(asked)


@pytest.fixture
def files_opened(monkeypatch):
    """The files that were opened as a database."""
    files = []

    def spy(before):
        def opening(file, *args, **how):
            files.extend(path.name for path in (file, how.get("attached")) if path is not None)
            return before(file, *args, **how)

        return opening

    for name in ("season_connection", "opened_season"):
        monkeypatch.setattr(season_duckdb_file, name, spy(getattr(season_duckdb_file, name)))
    return files


def file_of(library):
    (file,) = (library.folder / "season").glob("*.duckdb")
    return file


def of_another_computer(file, tmp_path, monkeypatch):
    """The same file under the name another user's key gives it."""
    with monkeypatch.context() as elsewhere:
        elsewhere.setenv(KEY_FOLDER, str(tmp_path / "elsewhere"))
        name = season_file_authentication.sealed_name(file, 1)
    return file.with_name(name)


def test_a_file_from_another_computer_is_never_opened(library, tmp_path, monkeypatch, files_opened):
    read_again(library)
    foreign = file_of(library).rename(of_another_computer(file_of(library), tmp_path, monkeypatch))
    files_opened.clear()
    assert read_again(library) == ["m1", "m2"]
    assert Season(library.folder).search(SeasonFilter()).total == RALLIES
    assert foreign.name not in files_opened
    assert files_opened
    assert not foreign.exists()
    assert read_again(library) == []


def flipped(file, _tmp_path, _monkeypatch):
    written = bytearray(file.read_bytes())
    written[len(written) // 2] ^= 1
    file.write_bytes(written)


def renumbered(file, _tmp_path, _monkeypatch):
    file.rename(file.with_name("rallies-99999999-" + "0" * 32 + ".duckdb"))


def older_name(file, _tmp_path, _monkeypatch):
    file.rename(file.with_name("rallies-00000007-0123abcd.duckdb"))


def log_beside(file, _tmp_path, _monkeypatch):
    file.with_name(f"{file.name}.wal").write_bytes(b"what DuckDB would play into the file")


def link_elsewhere(file, tmp_path, _monkeypatch):
    shutil.move(file, tmp_path / "elsewhere.duckdb")
    file.symlink_to(tmp_path / "elsewhere.duckdb")


def another_key(_file, tmp_path, monkeypatch):
    monkeypatch.setenv(KEY_FOLDER, str(tmp_path / "new-user"))


def too_large(_file, _tmp_path, monkeypatch):
    monkeypatch.setattr(season_file_authentication, "MOST_BYTES", 1000)


@pytest.mark.parametrize(
    "change", [flipped, renumbered, older_name, log_beside, link_elsewhere, another_key, too_large]
)
def test_a_file_that_is_not_as_it_was_written_is_never_opened(
    library, tmp_path, monkeypatch, files_opened, change
):
    read_again(library)
    season = library.folder / "season"
    change(file_of(library), tmp_path, monkeypatch)
    present = {file.name for file in season.iterdir()}
    files_opened.clear()
    assert read_again(library) == ["m1", "m2"]
    assert not present & set(files_opened)
    assert files_opened
    if change is not too_large:
        assert Season(library.folder).search(SeasonFilter()).total == RALLIES


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with a name")
def test_a_pipe_under_the_name_of_a_file_does_not_block(library):
    read_again(library)
    os.mkfifo(library.folder / "season" / ("rallies-00000009-" + "a" * 32 + ".duckdb"))
    assert read_again(library) == []


def test_the_key_lies_outside_the_library_and_is_the_user_s_alone(library, tmp_path, monkeypatch):
    monkeypatch.setenv(KEY_FOLDER, str(tmp_path / "own"))
    read_again(library)
    key = tmp_path / "own" / KEY_FILE
    assert len(bytes.fromhex(key.read_text())) == 32
    if os.name == "posix":
        assert stat.S_IMODE(key.stat().st_mode) & 0o077 == 0
    assert key.read_text().encode() not in b"".join(
        path.read_bytes() for path in library.folder.rglob("*") if path.is_file()
    )


def test_where_no_key_can_be_kept_the_season_is_searched_all_the_same(library, tmp_path, monkeypatch):
    (tmp_path / "no-folder").write_text("a file is in the way")
    monkeypatch.setenv(KEY_FOLDER, str(tmp_path / "no-folder"))
    assert read_again(library) == ["m1", "m2"]
    assert read_again(library) == []
    assert is_sealed(file_of(library))


def test_a_file_just_written_is_not_read_once_more(library, monkeypatch):
    read = []
    seal = season_file_authentication.seal_of
    monkeypatch.setattr(
        season_file_authentication, "seal_of", lambda file: read.append(file.name) or seal(file)
    )
    read_again(library)
    assert Season(library.folder).search(SeasonFilter()).total == RALLIES
    assert len(read) == 1, read
    flipped(file_of(library), None, None)
    assert not is_sealed(file_of(library))
