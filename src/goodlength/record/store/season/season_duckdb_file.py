"""The season file: the rallies of every match as columns, made from the record and searched by DuckDB.

```
 entries ──> stale? ──> replay those matches ──> columns ──> season/rallies-N.duckdb ──> search
                └─ nothing new: straight to the file
```
Columns that another coach of the same library made already are taken from it instead
(`season_columns_parquet_cache`). The file is a copy made for speed: it can be deleted at any time, and is
made again from the record. A new one is written beside it under a temporary name and takes the next number,
so any number of programs may read. Files that this user did not write on this computer are never opened
(`season_file_authentication`).
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable, Collection, Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from goodlength.errors import Cancelled, StoreError
from goodlength.files.atomic_write import LEFTOVER, part_file, put_in_place, sweep
from goodlength.record.store import database_tables as t
from goodlength.record.store.season.coded_rally_columns import coded_rallies
from goodlength.record.store.season.rally_search_query import (
    SeasonFilter,
    SeasonRallies,
    counts_in,
    found_in,
)
from goodlength.record.store.season.rally_tables_from_season import PlayedTable, tables_in
from goodlength.record.store.season.remembered_answers import Answers, answers_of, forget_answers
from goodlength.record.store.season.season_column_building import (
    Columns,
    Replayed,
    columns_of,
    table_sql,
)
from goodlength.record.store.season.season_columns_parquet_cache import (
    FORM,
    MatchVersion,
    add_part,
    forget_parts,
    part_columns,
    season_parts,
    superseded_parts,
)
from goodlength.record.store.season.season_duckdb_connection import (
    disk_in_words,
    forget_matches,
    insert_columns,
    note_state,
    note_versions,
    opened_season,
    picked_matches,
    remove_database,
    season_connection,
    take_columns,
)
from goodlength.record.store.season.season_file_authentication import (
    STEM,
    is_sealed,
    note_sealed,
    number_of,
    sealed_name,
)

if TYPE_CHECKING:
    from goodlength.record.store import Library

FOLDER = "season"
BATCH = 50  # matches written at a time
SHARED_FROM = 1_000  # one match in so many that nobody has shared yet: the next coach replays fewer quickly
MOST_STATES = 4
MANY_COUNTS = 3  # from which the columns are read into memory
MANY = 400  # matches from which several processes replay them
PART_MATCHES = 1_000  # matches of one part of ready columns in the library
REWRITE_FROM = 10  # one stale match in so many and more: write the file anew rather than change it

# Gives the columns of each batch of matches, in order
ReadColumns = Callable[[Sequence[Sequence[str]]], Generator[Columns, None, None]]

_CHUNK = 400
_LEFT_BEHIND_S = 86_400  # an unfinished file as old as this belongs to a program that was stopped
_EMPTY = (0, 0, "")


@dataclass(frozen=True)
class StaleSeason:
    """What has to be read again: matches changed or new, and matches that are gone from the record."""

    changed: tuple[str, ...]
    gone: tuple[str, ...]
    marks: Mapping[str, MatchVersion]  # of the changed ones, as the record is now
    anchor: tuple[int, str]  # the last entry of the whole log: its number and its id

    def __bool__(self) -> bool:
        return bool(self.changed or self.gone)


@dataclass(frozen=True)
class _Known:
    """What a file was made from; `anchor` is None where it was not finished."""

    file: Path | None
    marks: dict[str, MatchVersion]
    anchor: tuple[int, str] | None
    unshared: int = 0  # matches replayed here that no part of the library may have


_NOTHING = _Known(None, {}, None)


@dataclass
class _OpenOnce:
    """A file, and a connection to it, that several questions share from the first on."""

    stack: ExitStack
    file: Path | None = None
    connection: Any = None


class Season:
    """The columns of one library.

    Examples
    --------
    >>> import tempfile
    >>> from goodlength.record.store import Library
    >>> with Library.open(tempfile.mkdtemp()) as library:
    ...     season = Season(library.folder)
    ...     season.refresh(library, lambda match: None)
    ...     season.search(SeasonFilter(kind="lob")).total
    0
    0
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder / FOLDER
        self._open: _OpenOnce | None = None  # while several questions are asked of one file

    def stale(self, library: Library) -> StaleSeason:
        """Return what of the file no longer fits the record."""
        return _compared(library, self._known())

    def refresh(
        self,
        library: Library,
        replayed: Callable[[str], Replayed | None],
        progress: Callable[[float, str], None] | None = None,
        many: ReadColumns | None = None,
    ) -> int:
        """Update the file from the record; return how many matches were read again.

        Parameters
        ----------
        library : Library
            The record.
        replayed : callable
            Gives the match of an id, replayed with `NAME_A` and `NAME_B` as names; None leaves it out.
        progress : callable, optional
            Called with a share from 0 to 1 and words.
        many : callable, optional
            Gives the columns of batches of matches, in order; asked instead of `replayed` from 400 on.

        Raises
        ------
        Cancelled
            If `progress` raises it, or on a keyboard interrupt; what was read until then is kept.
        """
        known = self._known()
        stale = _compared(library, known)
        if not stale and known.file is not None:
            return 0
        with self._new_part() as part:
            self._begin(part, known, stale)
            ready = self._take_ready(library, part, stale.marks)
            left = replace(stale, changed=tuple(name for name in stale.changed if name not in ready))
            with opened_season(part) as connection:
                few = many is None or len(left.changed) < MANY
                read = _one_by_one(replayed) if many is None or few else many
                done = _write(connection, left, read, progress)
                gone = {*stale.gone, *stale.changed}
                standing = {match: of for match, of in known.marks.items() if match not in gone}
                marks = {**standing, **stale.marks}
                unshared = known.unshared + done
                due = bool(stale.gone) or unshared * SHARED_FROM >= len(marks)
                note_state(connection, {"unshared": str(0 if due else unshared)})
            file = self._put_in_place(part)
        if done < len(left.changed):
            raise Cancelled(
                f"Stopped after {done} of {len(left.changed)} matches; they stay. Search again to go on."
            )
        _keep_state(file, _Known(file, marks, stale.anchor, 0 if due else unshared))
        if due:
            with suppress(StoreError):  # a full disk, a server that is only read: the next coach replays
                self._share(library, marks)
        return done

    def _take_ready(self, library: Library, part: Path, wanted: Mapping[str, MatchVersion]) -> set[str]:
        """Put columns that somebody made already into the file; gives the matches they are of.

        Only on a server, which asks for a password: the folder of a library may come from a stranger.
        """
        if not library.on_server:
            return set()
        chosen: dict[str, list[str]] = {}
        with library._read() as connection:
            ready = {match: of for of in season_parts(connection, wanted) for match in of.matches}
            for match, version in wanted.items():
                if match in ready and ready[match].matches[match] == version:
                    chosen.setdefault(ready[match].id, []).append(match)
            if not chosen:
                return set()
            with opened_season(part, outside=True) as season:
                return self._put_in(season, connection, chosen, wanted)

    def _put_in(
        self,
        season: Any,
        connection: sa.Connection,
        chosen: Mapping[str, list[str]],
        wanted: Mapping[str, MatchVersion],
    ) -> set[str]:
        """Put the rallies of the matches chosen from each part into the file; gives those that fitted.

        All parts go in at once; where one of them turns out to be spoilt, they go in one after another.
        """
        forget_matches(season, [name for names in chosen.values() for name in names])
        with ExitStack() as made:
            files: dict[Path, Mapping[str, MatchVersion]] = {}
            with disk_in_words():
                for part_id, rallies in part_columns(connection, chosen):
                    file = made.enter_context(part_file(self.folder))
                    file.write_bytes(rallies)
                    files[file] = {name: wanted[name] for name in chosen[part_id]}
            if len(files) > 1 and take_columns(season, files):
                return {name for versions in files.values() for name in versions}
            taken = [versions for file, versions in files.items() if take_columns(season, {file: versions})]
            return {name for versions in taken for name in versions}

    def _share(self, library: Library, marks: Mapping[str, MatchVersion]) -> None:
        """Add what no part of the library has, for the next coach; parts that are out of date go.

        Only on a server: the library of one coach has one folder, which holds the columns already.
        """
        if not library.on_server:
            return
        with library._read() as connection:
            parts = season_parts(connection)
        going = superseded_parts(parts, marks)
        has = {
            match
            for part in parts
            if part.id not in going
            for match, version in part.matches.items()
            if marks.get(match) == version
        }
        missing = [match for match in marks if match not in has]
        for at in range(0, len(missing), PART_MATCHES):
            names = missing[at : at + PART_MATCHES]
            rallies = self._parquet(names)
            with library._write() as connection:
                if not add_part(connection, {name: marks[name] for name in names}, rallies):
                    return
        if going:
            with library._write() as connection:
                forget_parts(connection, going)

    def _parquet(self, names: Sequence[str]) -> bytes:
        """Return the rallies of some matches of the newest file as Parquet."""
        with part_file(self.folder) as parquet:
            with (
                opened_season(self._files()[0], read_only=True, outside=True) as connection,
                picked_matches(connection, names),
            ):
                target = str(parquet).replace("'", "''")
                connection.execute(
                    "COPY (SELECT * FROM rallies WHERE match IN (SELECT match FROM picked)) "
                    f"TO '{target}' (FORMAT parquet, COMPRESSION zstd)"
                )
            try:
                return parquet.read_bytes()
            finally:
                remove_database(parquet)

    @contextmanager
    def open_once(self) -> Iterator[None]:
        """Open the file once for several questions, which then see the same state of it.

        It is opened at the first question whose answer is not remembered.
        """
        with ExitStack() as opened:
            self._open = _OpenOnce(opened)
            try:
                yield
            finally:
                self._open = None

    def search(self, wanted: SeasonFilter, limit: int = 200) -> SeasonRallies:
        """Return rallies that fit, the newest match first, within a match in the order played."""
        found = self._answers().found.get((wanted, limit))
        if found is None:
            with self._reading() as (file, connection):
                found = found_in(connection, wanted, limit)
            answers_of(file).keep(wanted, limit, found)
        return found

    def counts(self, groups: Sequence[Sequence[SeasonFilter]]) -> tuple[tuple[int, ...], ...]:
        """Return how many rallies fit each filter of each group, a group in one reading of the file."""
        several = [wanted for group in groups for wanted in group]
        if any(wanted.text or wanted.match is not None for wanted in several):
            return self._counts_in_file(groups)
        coded = self._answers().coded
        if coded is None:
            if len(several) < MANY_COUNTS:
                return self._counts_in_file(groups)
            with self._reading() as (file, connection):
                answers_of(file).coded = coded = coded_rallies(connection)
        numbers = iter(coded.counts(several))
        return tuple(tuple(islice(numbers, len(group))) for group in groups)

    def _counts_in_file(self, groups: Sequence[Sequence[SeasonFilter]]) -> tuple[tuple[int, ...], ...]:
        with self._reading() as (_, connection):
            return tuple(counts_in(connection, group) for group in groups)

    def own_and_demo(self, player: str | None = None) -> tuple[int, int]:
        """Return rallies of the coach's own matches, and of demo matches; of one player where named."""
        ((own, of_demo),) = self.counts([[SeasonFilter(demo=demo, player=player) for demo in (False, True)]])
        return own, of_demo

    def tables(self, player: str, kinds: Sequence[str]) -> tuple[PlayedTable, ...]:
        """Return every match of one player as findings read it, the oldest first."""
        with self._reading() as (_, connection):
            return tables_in(connection, player, kinds)

    def drop(self) -> tuple[str, ...]:
        """Delete the file, with whatever it holds of anybody; gives what could not be deleted."""
        for path in self._all():
            remove_database(path)
        _states.clear()
        forget_answers()
        return tuple(str(path) for path in self._all())

    def match_count(self) -> int:
        """Return how many matches the newest file was made from."""
        return len(self._known().marks)

    def versions(self, matches: Collection[str]) -> tuple[tuple[str, MatchVersion | None], ...]:
        """Return what the columns of some matches were made from; None for one that has none."""
        marks = self._known().marks
        return tuple((match, marks.get(match)) for match in matches)

    def _all(self) -> list[Path]:
        """Return every file of the season, unfinished ones too."""
        return sorted(path for name in (STEM + "-", LEFTOVER) for path in self.folder.glob(f"{name}*"))

    def write_columns(self, library: Library, columns: Iterable[Columns]) -> None:
        """Take ready columns, a part at a time, for those of the record as it stands (for measuring)."""
        stale = _compared(library, _NOTHING)
        with self._new_part() as part:
            self._begin(part, _NOTHING, stale)
            with opened_season(part) as connection:
                for part_of in columns:
                    insert_columns(connection, part_of)
                note_versions(connection, stale.marks, stale.anchor)
            self._put_in_place(part)
        self._share(library, stale.marks)

    def _files(self) -> list[Path]:
        """Finished files of our own, the newest first."""
        return [file for file in sorted(self._finished(), reverse=True) if is_sealed(file)]

    def _finished(self) -> list[Path]:
        """Return files under a finished name, a stranger's too."""
        return list(self.folder.glob(f"{STEM}-*.duckdb"))

    @contextmanager
    def _reading(self) -> Iterator[tuple[Path, Any]]:
        """The newest file or the open one, and its connection; an older one may be taken away meanwhile."""
        if self._open is None:
            with self._opened() as opened:
                yield opened
            return
        if self._open.file is None or self._open.connection is None:
            self._open.file, self._open.connection = self._open.stack.enter_context(self._opened())
        yield self._open.file, self._open.connection

    @contextmanager
    def _opened(self) -> Iterator[tuple[Path, Any]]:
        for _ in range(5):
            for file in self._files():
                try:
                    opened = season_connection(file, read_only=True)
                except StoreError:
                    if file.exists():
                        raise
                    continue
                with closing(opened) as connection:
                    yield file, connection
                return
        raise StoreError("The season has not been read yet. Bring it up to date, then search.")

    def _answers(self) -> Answers:
        """Return what is remembered of the open file, else of the newest: its name stands for its bytes."""
        if self._open is not None and self._open.connection is not None:
            return answers_of(self._open.file)
        files = self._files()
        return answers_of(files[0] if files else None)

    def _known(self) -> _Known:
        """Return what the newest file was made from; nothing where there is none, or none that can be
        read.
        """
        for file in self._files():
            with suppress(StoreError, FileNotFoundError):
                found = _file_state(file)
                if found is not None:
                    return found
        return _NOTHING

    def _new_part(self) -> AbstractContextManager[Path]:
        """Return a temporary name in the folder, which is made."""
        with disk_in_words():
            self.folder.mkdir(parents=True, exist_ok=True)
        return part_file(self.folder)

    def _begin(self, part: Path, known: _Known, stale: StaleSeason) -> None:
        """A file under a temporary name that holds what may be kept of the present one."""
        few = len(stale.changed) * REWRITE_FROM <= len(known.marks)
        if known.file is not None and few and not stale.gone:
            with suppress(FileNotFoundError), disk_in_words():
                shutil.copyfile(known.file, part)
                return
        keeps = known.file is not None and not set(known.marks) <= {*stale.gone, *stale.changed}
        with opened_season(part, attached=known.file if keeps else None) as connection:
            connection.execute(table_sql())
            connection.execute(
                "CREATE TABLE seen "
                "(match VARCHAR, details VARCHAR, entries BIGINT, last_seq BIGINT, last_id VARCHAR)"
            )
            connection.execute("CREATE TABLE state (key VARCHAR, value VARCHAR)")
            connection.execute("INSERT INTO state VALUES ('form', ?)", [FORM])
            if keeps:  # written anew, so that nothing of what is gone stays in the file
                with picked_matches(connection, [*stale.gone, *stale.changed]):
                    for name in ("rallies", "seen"):
                        connection.execute(
                            f"INSERT INTO {name} SELECT * FROM beside.{name} "
                            "WHERE match NOT IN (SELECT match FROM picked)"
                        )

    def _put_in_place(self, part: Path) -> Path:
        """Give the file the next number; older ones and a stranger's go, unless somebody still reads them."""
        older, own = self._finished(), self._files()
        with disk_in_words():
            target = self.folder / sealed_name(part, number_of(own[0]) + 1 if own else 1)
            put_in_place(part, target)
        note_sealed(target)
        for file in older:
            remove_database(file)
        sweep(self.folder, _LEFT_BEHIND_S)
        return target


_states: dict[tuple[Path, int], _Known] = {}  # of the files read last


def _file_state(file: Path) -> _Known | None:
    """Return what a finished file was made from, read once while it is the same; None of another form."""
    known = _states.get((file, file.stat().st_mtime_ns))
    if known is not None:
        return known
    with opened_season(file, read_only=True) as connection:
        state = dict(connection.execute("SELECT key, value FROM state").fetchall())
        rows = connection.execute("SELECT match, details, entries, last_seq, last_id FROM seen")
        marks = {str(match): MatchVersion(*mark) for match, *mark in rows.fetchall()}
    if state.get("form") != FORM:
        return None
    anchor = (int(state["last_seq"]), str(state["last_id"])) if "last_seq" in state else None
    return _keep_state(file, _Known(file, marks, anchor, int(state.get("unshared", 0))))


def _keep_state(file: Path, known: _Known) -> _Known:
    with suppress(FileNotFoundError):
        _states[file, file.stat().st_mtime_ns] = known
    while len(_states) > MOST_STATES:
        _states.pop(next(iter(_states)), None)
    return known


def _compared(library: Library, known: _Known) -> StaleSeason:
    """Return the record beside what the file was made from; the log is not read where that can be seen
    without.
    """
    marks = known.marks
    with library._read() as connection:
        details = _details(connection)
        last = connection.execute(
            sa.select(t.entries.c.seq, t.entries.c.id).order_by(t.entries.c.seq.desc()).limit(1)
        ).first()
        gone = tuple(sorted(set(marks) - set(details)))
        changed = {match for match in details if match not in marks or marks[match].details != details[match]}
        if _same_log(connection, known.anchor):  # one writer at a time, on a server too
            assert known.anchor is not None
            # without "distinct", for which SQLite walks the whole index of matches
            newer = sa.select(t.entries.c.match).where(t.entries.c.seq > known.anchor[0])
            changed |= set(connection.execute(newer).scalars()) & set(details)
            ends = _ends(connection, sorted(changed))
        else:  # an unfinished file, a library put back from a copy: match by match
            ends = _ends(connection, None)
            changed |= {
                match
                for match in set(details) & set(marks)
                if ends.get(match, _EMPTY)
                != (marks[match].entries, marks[match].last_seq, marks[match].last_id)
            }
    anchor = (0, "") if last is None else (int(last.seq), str(last.id))
    now = {match: MatchVersion(details[match], *ends.get(match, _EMPTY)) for match in sorted(changed)}
    return StaleSeason(tuple(now), gone, now, anchor)


def _details(connection: sa.Connection) -> dict[str, str]:
    """Return what stands for the details of each match: the checksum of its row, written with it."""
    m = t.matches.c
    sums = {str(match): str(crc32) for match, crc32 in connection.execute(sa.select(m.id, m.crc32))}
    without = connection.execute(sa.select(m.id, m.info).where(m.crc32.is_(None)))
    return sums | {str(match): _digest(str(info)) for match, info in without}


def _same_log(connection: sa.Connection, anchor: tuple[int, str] | None) -> bool:
    """Return whether the entry the file ends with still stands at its number.

    Numbers only grow and none is given twice, so whatever came later has a higher one. A library put back
    from a copy has another entry there, or none.
    """
    if anchor is None or anchor[0] == 0:
        return False
    found = connection.execute(sa.select(t.entries.c.id).where(t.entries.c.seq == anchor[0])).scalar()
    return bool(found == anchor[1])


def _ends(connection: sa.Connection, matches: list[str] | None) -> dict[str, tuple[int, int, str]]:
    """Number of entries of each match, and number and id of its last one; of all matches with None."""
    out: dict[str, tuple[int, int, str]] = {}
    parts: list[list[str] | None] = [None]
    if matches is not None:
        parts = [matches[at : at + _CHUNK] for at in range(0, len(matches), _CHUNK)]
    for part in parts:
        counted = sa.select(
            t.entries.c.match, sa.func.count().label("n"), sa.func.max(t.entries.c.seq).label("seq")
        ).group_by(t.entries.c.match)
        if part is not None:
            counted = counted.where(t.entries.c.match.in_(part))
        ends = counted.subquery()
        query = sa.select(ends.c.match, ends.c.n, ends.c.seq, t.entries.c.id).join(
            t.entries, t.entries.c.seq == ends.c.seq
        )
        out |= {str(match): (int(n), int(seq), str(id)) for match, n, seq, id in connection.execute(query)}
    return out


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:32]


def _one_by_one(replayed: Callable[[str], Replayed | None]) -> ReadColumns:
    def read(batches: Sequence[Sequence[str]]) -> Generator[Columns, None, None]:
        for names in batches:
            yield columns_of([found for found in map(replayed, names) if found is not None])

    return read


def _write(
    connection: Any,
    stale: StaleSeason,
    read: ReadColumns,
    progress: Callable[[float, str], None] | None,
) -> int:
    """Replay the stale matches into the file; gives how many were done before it was stopped."""
    connection.execute("DELETE FROM state WHERE key IN ('last_seq', 'last_id')")
    done = 0
    batches = [stale.changed[at : at + BATCH] for at in range(0, len(stale.changed), BATCH)]
    with suppress(Cancelled, KeyboardInterrupt), closing(read(batches)) as ready:
        for names, columns in zip(batches, ready, strict=True):
            forget_matches(connection, names)
            insert_columns(connection, columns)
            note_versions(connection, {name: stale.marks[name] for name in names}, None)
            done += len(names)
            if progress is not None:
                progress(done / len(stale.changed), f"{done} of {len(stale.changed)} matches read")
    if done == len(stale.changed):
        note_versions(connection, {}, stale.anchor)
    return done
