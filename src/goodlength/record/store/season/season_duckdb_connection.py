"""Connections to the season's file: nothing else can be read through one, and faults are said in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import numpy as np

from goodlength.errors import NoSpace, StoreError, disk_trouble
from goodlength.record.store.season.season_column_building import TYPES, Columns, insert_sql
from goodlength.record.store.season.season_columns_parquet_cache import MatchVersion

# Nothing is fetched and no other file is read, whatever a query says.
_SAFE = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "allow_community_extensions": "false",
    "max_temp_directory_size": "0KB",  # nothing of the record in files that are not ours to delete
    "memory_limit": "512MB",
    "threads": "2",
}
_PICKED = ("file", "match")
MOST_RALLIES = 2_000  # of one match
MOST_UNPACKED = 1_000_000_000  # bytes of ready columns of one part
_SHUT = {"enable_external_access": "false"}  # cannot be opened again while the file is open


def season_connection(
    file: Path, *, read_only: bool = False, attached: Path | None = None, outside: bool = False
) -> Any:
    """Open a file so that nothing else can be read, written or fetched, whatever is asked of it.

    With `outside` statements of ours may read and write files beside it; nothing that is typed reaches them.
    """
    import duckdb

    try:
        if outside:
            return duckdb.connect(str(file), read_only=read_only, config=dict(_SAFE))
        if attached is None:
            return duckdb.connect(str(file), read_only=read_only, config={**_SAFE, **_SHUT})
        connection = duckdb.connect(str(file), config=dict(_SAFE))
        connection.execute(f"ATTACH '{str(attached).replace(chr(39), chr(39) * 2)}' AS beside (READ_ONLY)")
        for name, value in _SHUT.items():
            connection.execute(f"SET {name} = {value}")
        return connection
    except duckdb.Error as error:
        raise _season_trouble(file, "cannot be read", error) from error


@contextmanager
def opened_season(
    file: Path, *, read_only: bool = False, attached: Path | None = None, outside: bool = False
) -> Iterator[Any]:
    """Open a file for a while; its faults are said in words."""
    import duckdb

    with closing(
        season_connection(file, read_only=read_only, attached=attached, outside=outside)
    ) as connection:
        try:
            yield connection
        except duckdb.Error as error:
            raise _season_trouble(file, "is damaged", error) from error


def _season_trouble(file: Path, what: str, error: Exception) -> StoreError:
    message = str(error).splitlines()[0]
    low = message.lower()
    if "no space" in low or "disk quota" in low or "file too large" in low:
        return NoSpace(
            f"The disk with {file.parent} is full, so the matches could not be made ready for searching. "
            "Free some space, then search again; the record is safe."
        )
    if "read-only" in low or "permission denied" in low:
        return NoSpace(
            f"Nothing can be written in {file.parent}, where matches are made ready for searching "
            f"({message}). Give yourself the right to write there, or copy the library's folder to another "
            "disk."
        )
    return StoreError(
        f"The season's file {file} {what} ({message}). It is only a copy made for speed: delete it and "
        "search again."
    )


@contextmanager
def disk_in_words() -> Iterator[None]:
    """Turn a fault of the disk into one of our own errors."""
    try:
        yield
    except OSError as error:
        trouble = disk_trouble(error)
        if trouble is None:
            raise
        raise trouble from error


def note_state(connection: Any, values: Mapping[str, str]) -> None:
    """Keep words about the file itself."""
    for key, value in values.items():
        connection.execute("DELETE FROM state WHERE key = ?", [key])
        connection.execute("INSERT INTO state VALUES (?, ?)", [key, value])


def forget_matches(connection: Any, names: Sequence[str]) -> None:
    """Take the rallies of some matches out, and what they were made from."""
    with picked_matches(connection, names):
        for table in ("rallies", "seen"):
            connection.execute(f"DELETE FROM {table} WHERE match IN (SELECT match FROM picked)")


def take_columns(connection: Any, files: Mapping[Path, Mapping[str, MatchVersion]]) -> bool:
    """Put ready columns of some matches, as Parquet, into the table; False, and nothing is put in, where they
    are others.

    One statement for all files: DuckDB writes the end of the table anew after each.

    Raises
    ------
    NoSpace
        If the disk is full.
    """
    import duckdb

    names = ", ".join(f'"{name}"' for name in TYPES)
    try:
        for file, versions in files.items():
            if columns_trouble(connection, file, len(versions)) is not None:
                return False
        connection.execute("BEGIN")
        pairs = [(str(file), name) for file, versions in files.items() for name in versions]
        columns = zip(*pairs, ("", ""), strict=True)
        picked = {key: np.array(column, dtype=object) for key, column in zip(_PICKED, columns, strict=True)}
        connection.register("picked", picked)
        connection.execute(
            f"INSERT INTO rallies SELECT {names} FROM read_parquet(?, filename = true) f "
            "WHERE EXISTS (SELECT 1 FROM picked p WHERE p.match = f.match AND p.file = f.filename)",
            [[str(file) for file in files]],
        )
        connection.unregister("picked")
        note_versions(
            connection, {name: of for versions in files.values() for name, of in versions.items()}, None
        )
        connection.execute("COMMIT")
    except duckdb.Error as error:
        trouble = _season_trouble(next(iter(files)), "cannot be read", error)
        if isinstance(trouble, NoSpace):
            raise trouble from error
        with suppress(duckdb.Error):
            connection.execute("ROLLBACK")
        return False
    return True


def columns_trouble(connection: Any, parquet: Path, matches: int) -> str | None:
    """Return why a file does not hold ready columns of so many matches; None where it may.

    What it says of itself is looked at before a row is read.
    """
    source = [str(parquet)]
    wanted = list(TYPES.items())
    described = connection.execute("DESCRIBE SELECT * FROM read_parquet(?)", source).fetchall()
    if [(name, sql) for name, sql, *_ in described] != wanted:
        return "its columns are others"
    (rows,) = connection.execute("SELECT sum(num_rows) FROM parquet_file_metadata(?)", source).fetchone()
    if (rows or 0) > matches * MOST_RALLIES:
        return "it has more rallies than so many matches can have"
    query = "SELECT sum(total_uncompressed_size) FROM parquet_metadata(?)"
    (size,) = connection.execute(query, source).fetchone()
    if (size or 0) > MOST_UNPACKED:
        return "it would fill the disk"
    return None


def remove_database(path: Path) -> None:
    """Delete a file and what DuckDB keeps beside it, if nobody holds them."""
    with suppress(OSError):
        path.unlink(missing_ok=True)
    with suppress(OSError):
        path.with_name(f"{path.name}.wal").unlink(missing_ok=True)


def insert_columns(connection: Any, columns: Columns) -> None:
    """Put replayed rallies into the table."""
    if len(columns["n"]):
        connection.register("fresh", columns)
        connection.execute(insert_sql("fresh"))
        connection.unregister("fresh")


def note_versions(connection: Any, marks: Mapping[str, MatchVersion], anchor: tuple[int, str] | None) -> None:
    """Keep what was read; the end of the log only once everything up to it is in the file."""
    if marks:
        many = list(marks.values())
        fresh = {
            "match": np.array(list(marks), dtype=object),
            "details": np.array([mark.details for mark in many], dtype=object),
            "entries": np.array([mark.entries for mark in many], dtype=np.int64),
            "last_seq": np.array([mark.last_seq for mark in many], dtype=np.int64),
            "last_id": np.array([mark.last_id for mark in many], dtype=object),
        }
        connection.register("fresh", fresh)
        connection.execute("INSERT INTO seen SELECT match, details, entries, last_seq, last_id FROM fresh")
        connection.unregister("fresh")
    if anchor is not None:
        values = [str(anchor[0]), anchor[1]]
        connection.execute("INSERT INTO state VALUES ('last_seq', ?), ('last_id', ?)", values)


@contextmanager
def picked_matches(connection: Any, names: Sequence[str]) -> Iterator[None]:
    """Names as a table `picked`."""
    connection.register("picked", {"match": np.array([*names, ""], dtype=object)})
    yield
    connection.unregister("picked")
