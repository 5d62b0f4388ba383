"""The library store: players, matches, their entries and files, behind plain calls.

Every write is one transaction, on the disk when the call returns. Any thread may call.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from goodlength.errors import Conflict, InputError, NotOurLibrary, StoreError
from goodlength.files.json_types import JsonObject
from goodlength.record.entry_validation_schemas import check_entries
from goodlength.record.model import Clip, Entry, EntryKind, Footage, KindOfServe, MatchInfo, Player
from goodlength.record.practice_log_entries import PracticeEntry
from goodlength.record.store import (
    damaged_row_preservation,
    database_opening,
    entry_log,
    footage_and_clip_rows,
    match_rows,
    player_and_consent_rows,
    postgres,
    practice_log_rows,
    row_checksums,
    sqlite,
)
from goodlength.record.store.database_errors import database_errors_in_words
from goodlength.record.store.listing import cached_rally_counts
from goodlength.record.store.listing.match_list_rows import MatchHead, match_heads
from goodlength.record.store.season import season_columns_parquet_cache

MOST_NAMED = 5  # damaged rows named on the page; the check names all


@dataclass(frozen=True)
class Parts:
    """A match as stored: details, log, players, the library's kinds of serve, and files."""

    info: MatchInfo
    entries: tuple[Entry, ...]
    players: tuple[Player, Player]
    kinds: tuple[KindOfServe, ...]
    footage: tuple[Footage, ...]


class Library:
    """One coach's library: a folder with one database file, proxies, clips and uploads.

    Examples
    --------
    >>> import tempfile
    >>> folder = tempfile.mkdtemp()
    >>> with Library.open(folder) as library:
    ...     library.save_player(Player("iv", "Imogen Vale"))
    ...     [player.name for player in library.players()]
    ['Imogen Vale']
    """

    def __init__(self, opened: database_opening.Opened) -> None:
        self.folder: Path = opened.folder
        self.address: str | Path = opened.folder  # what to open it with again; a URL with its password
        self.place: str = opened.place
        self.problems: tuple[str, ...] = opened.problems
        self._engine = opened.engine
        self._writing = opened.engine.execution_options(write=True)
        self._lock = threading.RLock()  # one writer at a time
        self._reader = entry_log.EntryReader()
        self._reading = threading.Lock()  # of what `_reader` keeps; whoever reads waits for no commit

    @classmethod
    def open(
        cls, path: str | Path | None = None, *, create: bool = True, folder: str | Path | None = None
    ) -> Library:
        """Open a library, making it where there is none and `create` allows it.

        Parameters
        ----------
        path : str or Path, optional
            Its folder; or the URL of a database server, and then `folder` is where files go.
            Left out: GOODLENGTH_LIBRARY, or the user's data folder.

        Raises
        ------
        NotFound
            If there is none and `create` is false.
        NotOurLibrary, NewerLibrary
            If the file belongs to another program, or to a later version of this one.
        NoSpace
            If the folder cannot be written.
        """
        named = database_opening.default_place() if path is None else path
        if isinstance(named, str) and database_opening.is_server(named):
            files_in = Path(folder) if folder is not None else database_opening.default_folder()
            library = cls(database_opening.open_server(named, files_in.absolute()))
            library.address = named
            return library
        return cls(database_opening.open_folder(Path(named).expanduser().absolute(), create=create))

    def close(self) -> None:
        """Let go of the file."""
        database_opening.let_go(self._engine)

    def __enter__(self) -> Library:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _read(self) -> Iterator[sa.Connection]:
        with database_errors_in_words(self.place), self._engine.connect() as connection:
            try:
                yield connection
            except (ValueError, TypeError, KeyError, AttributeError) as error:
                # A value that no version of this program wrote
                raise NotOurLibrary(
                    f"The library {self.place} holds something that cannot be read ({error}). Restore a "
                    "back-up, or save what can be read.",
                    command="goodlength library check --save-to NEW-FOLDER",
                ) from error

    @contextmanager
    def _write(self) -> Iterator[sa.Connection]:
        with self._lock, database_errors_in_words(self.place), self._writing.begin() as connection:
            yield connection

    # Players

    def players(self) -> tuple[Player, ...]:
        """Return everybody in the library, by name."""
        with self._read() as connection:
            return player_and_consent_rows.players(connection)

    def player(self, player_id: str) -> Player:
        """Return one player; NotFound names the id."""
        with self._read() as connection:
            return player_and_consent_rows.player(connection, player_id)

    def save_player(self, player: Player) -> None:
        """Add a player or change one; a changed consent is kept beside the earlier ones."""
        with self._write() as connection:
            player_and_consent_rows.save(connection, player)

    def consents(self, player_id: str) -> tuple[JsonObject, ...]:
        """Return every consent a player gave or took back, oldest first, as JSON values."""
        with self._read() as connection:
            return player_and_consent_rows.consents(connection, player_id)

    def remove_player(self, player_id: str) -> None:
        """Take a player out who is in no match."""
        with self._write() as connection:
            player_and_consent_rows.remove(connection, player_id)

    # Kinds of serve and settings

    def kinds(self) -> tuple[KindOfServe, ...]:
        """Return the library's own list of kinds of serve, retired ones at their places."""
        with self._read() as connection:
            return player_and_consent_rows.kinds(connection)

    def save_kinds(self, kinds: Sequence[KindOfServe]) -> None:
        """Keep the list in this order; a kind left out is retired, so that old matches keep its words."""
        with self._write() as connection:
            player_and_consent_rows.save_kinds(connection, kinds)

    def settings(self) -> dict[str, Any]:
        """Return every setting that was changed."""
        with self._read() as connection:
            return player_and_consent_rows.settings(connection)

    def set_setting(self, key: str, value: Any) -> None:
        """Keep one setting; None puts it back to what it is when nothing is said."""
        with self._write() as connection:
            player_and_consent_rows.set_setting(connection, key, value)

    # Matches

    def matches(self) -> tuple[MatchInfo, ...]:
        """Return details of every match, newest day first, then in the order made."""
        with self._read() as connection:
            return match_rows.all_infos(connection)

    def match_heads(self, player_id: str | None = None) -> tuple[MatchHead, ...]:
        """Return what a list needs of every match, of one player where named, in the order of `matches`."""
        with self._read() as connection:
            return match_heads(connection, player_id)

    def match_count(self) -> int:
        """Return how many matches there are."""
        with self._read() as connection:
            return match_rows.count(connection)

    def match_infos(self, ids: Collection[str]) -> dict[str, MatchInfo]:
        """Return details of some matches by id, without their footage."""
        with self._read() as connection:
            return match_rows.infos(connection, ids)

    def match_info(self, match_id: str) -> MatchInfo:
        """Return details of one match; NotFound names the id."""
        with self._read() as connection:
            return match_rows.info(connection, match_id)

    def save_match(self, info: MatchInfo) -> None:
        """Add a match or change its details; what changed is written to its log too."""
        with self._write() as connection:
            match_rows.save(connection, info)

    def remove_match(self, match_id: str) -> None:
        """Take a match out with its entries and the rows of its files; the files themselves stay."""
        with self._write() as connection:
            match_rows.remove(connection, match_id)
            season_columns_parquet_cache.forget_parts_with(connection, match_id)
        with self._reading:
            self._reader.forget(match_id)

    # Entries

    def entries(self, match_id: str, observer: str | None = None) -> tuple[Entry, ...]:
        """Return the log of a match in the order written; only one observer's where named."""
        with self._reading, self._read() as connection:
            match_rows.info_text(connection, match_id)
            everything = self._reader.read(connection, match_id)
        if observer is None:
            return everything
        return tuple(entry for entry in everything if entry.observer.split("/", 1)[0] == observer)

    def everything(self, match_id: str) -> Parts:
        """Return all that replay needs of a match, read at one moment."""
        with self._reading, self._read() as connection:
            info = match_rows.info(connection, match_id)
            return Parts(
                info,
                self._reader.read(connection, match_id),
                player_and_consent_rows.pair(connection, info.players),
                player_and_consent_rows.kinds(connection),
                footage_and_clip_rows.footage_of_match(connection, match_id) if info.footage else (),
            )

    def logs(
        self, ids: Sequence[str]
    ) -> tuple[dict[str, MatchInfo], dict[str, list[Entry]], tuple[KindOfServe, ...]]:
        """Return details and entries of some matches by id, and the kinds of serve, read at one moment.

        For many matches in one go: nothing is kept of them, and details lack the footage.
        """
        with self._read() as connection:
            infos = match_rows.infos(connection, ids)
            return infos, entry_log.of_matches(connection, ids), player_and_consent_rows.kinds(connection)

    def plain_logs(self, ids: Sequence[str]) -> tuple[dict[str, MatchInfo], dict[str, entry_log.PlainLog]]:
        """Return the same as `logs` without all of each entry, which takes a third of the time."""
        with self._read() as connection:
            return match_rows.infos(connection, ids), entry_log.plain_logs(connection, ids)

    def append(self, entries: Sequence[Entry]) -> list[bool]:
        """Write entries in one transaction; when this returns they survive a crash.

        The same entry sent again changes nothing. An entry that changes match details changes them.

        Returns
        -------
        new : list of bool
            True for each entry that was not there before.

        Raises
        ------
        InputError
            If any entry is badly written; all faults are named and nothing is written.
        Conflict
            If an id already stands for another answer; nothing is written.
        """
        if not entries:
            return []
        check_entries(entries)
        try:
            return self._append(entries)
        except IntegrityError:
            # Another program wrote one of them at this very moment: now it is there to be seen
            try:
                return self._append(entries)
            except IntegrityError as error:
                raise Conflict(
                    "Another program wrote one of these answers at the same moment. Nothing was written "
                    "here; read the match again and send what is missing."
                ) from error

    def _append(self, entries: Sequence[Entry]) -> list[bool]:
        with self._write() as connection:
            fresh = entry_log.append(connection, entries)
            for entry, is_new in zip(entries, fresh, strict=True):
                if is_new and entry.what is EntryKind.MATCH:
                    match_rows.apply_change(connection, entry)
        return fresh

    def bring_in(
        self,
        players: Sequence[Player],
        info: MatchInfo,
        entries: Sequence[Entry],
        *,
        kinds: Sequence[KindOfServe] | None = None,
        footage: Sequence[Footage] = (),
    ) -> list[bool]:
        """Write a whole match from elsewhere, all of it or nothing; gives which entries were new.

        Details of a match that is already here stay as they are here.
        """
        check_entries(entries)
        with self._write() as connection:
            for player in players:
                player_and_consent_rows.save(connection, player)
            if kinds is not None:
                player_and_consent_rows.save_kinds(connection, kinds)
            if not match_rows.is_there(connection, info.id):
                match_rows.save(connection, info)
            fresh = entry_log.append(connection, entries)
            for file in footage:
                footage_and_clip_rows.save(connection, file)
        return fresh

    def damaged_rows(self, match_id: str) -> list[damaged_row_preservation.DamagedRowJson]:
        """Return the rows of a match that are not as they were written, as JSON values."""
        with self._read() as connection:
            return damaged_row_preservation.of_match(connection, match_id)

    def restore_damaged_rows(
        self, match_id: str, rows: Sequence[damaged_row_preservation.DamagedRowJson]
    ) -> None:
        """Write damaged rows back as they were, so that they are told as damaged again."""
        with self._write() as connection:
            damaged_row_preservation.restore(connection, match_id, rows)
        with self._reading:
            self._reader.forget(match_id)

    def counts(self, ids: Collection[str] | None = None) -> dict[str, cached_rally_counts.RallyCount]:
        """Return the rallies written down in some matches, or all, lets included, without replaying them.

        What was counted is kept for the next list; where it cannot be written, it is counted each time.
        """
        with self._read() as connection:
            found, stale = cached_rally_counts.counts_on_record(connection, ids)
            fresh = cached_rally_counts.count_rallies(connection, stale)
        if fresh:
            with suppress(StoreError, IntegrityError), self._write() as connection:
                cached_rally_counts.keep_counts(connection, fresh)
        return {**found, **fresh}

    def rally_counts(self) -> dict[str, int]:
        """Return how many rallies each match has written down."""
        return {match: count.rallies for match, count in self.counts().items()}

    # Practice

    def practice(self, player_id: str) -> tuple[PracticeEntry, ...]:
        """Return a player's practice log in the order written."""
        with self._read() as connection:
            player_and_consent_rows.player(connection, player_id)
            return practice_log_rows.of_player(connection, player_id)

    def practice_logs(self) -> dict[str, tuple[PracticeEntry, ...]]:
        """Return the practice log of each player who has one."""
        with self._read() as connection:
            return practice_log_rows.of_everybody(connection)

    def append_practice(self, entries: Sequence[PracticeEntry]) -> list[bool]:
        """Write lines of the practice log in one transaction; the same line sent again changes nothing."""
        with self._write() as connection:
            return practice_log_rows.append(connection, entries)

    def remove_practice(self, ids: Sequence[str]) -> None:
        """Delete lines of the practice log for good."""
        with self._write() as connection:
            practice_log_rows.remove(connection, ids)

    # Footage and clips

    def footage(self, match_id: str) -> tuple[Footage, ...]:
        """Return the files of a match in the order played."""
        with self._read() as connection:
            return footage_and_clip_rows.footage_of_match(connection, match_id)

    def footage_and_clips(self) -> tuple[tuple[Footage, ...], tuple[Clip, ...]]:
        """Return the files of every match, and what was cut from them, match by match."""
        with self._read() as connection:
            return footage_and_clip_rows.of_every_match(connection)

    def footage_file(self, footage_id: str) -> Footage:
        """Return one file; NotFound names the id."""
        with self._read() as connection:
            return footage_and_clip_rows.footage_row(connection, footage_id)

    def save_footage(self, footage: Footage) -> None:
        """Add a file to a match, or change what is known about it."""
        with self._write() as connection:
            match_rows.info_text(connection, footage.match)
            footage_and_clip_rows.save(connection, footage)

    def remove_footage(self, footage_id: str) -> None:
        """Forget a file; the file itself stays."""
        with self._write() as connection:
            footage_and_clip_rows.remove(connection, footage_id)

    def clips(self, match_id: str) -> tuple[Clip, ...]:
        """Return files cut from a match, oldest first."""
        with self._read() as connection:
            return footage_and_clip_rows.clips(connection, match_id)

    def save_clip(self, clip: Clip) -> None:
        """Remember a file cut from a match."""
        with self._write() as connection:
            match_rows.info_text(connection, clip.match)
            footage_and_clip_rows.save_clip(connection, clip)

    def remove_clips(self, ids: Sequence[str]) -> None:
        """Forget files cut from a match; the files themselves stay."""
        with self._write() as connection:
            footage_and_clip_rows.remove_clips(connection, ids)

    # The file itself

    @property
    def on_server(self) -> bool:
        """Whether the record lies on a database server and only the files in the folder."""
        return self._engine.dialect.name != "sqlite"

    def check(self, *, rows: bool = True) -> tuple[str, ...]:
        """Return what the database's own checks find, and rows whose checksum does not fit; empty when
        all is well.

        A server checks its own files. Without `rows` no checksum is looked at.
        """
        found: list[str] = []
        with self._read() as connection:
            if not self.on_server:
                found += [*sqlite.damage(connection), *sqlite.broken_links(connection)]
            if rows:
                found += [_not_as_written(table, row) for table, row in row_checksums.spoilt(connection)]
        return tuple(found)

    def check_when_idle(self) -> None:
        """Check the whole library and tell what was found among its `problems`; made for the background."""
        found = self.check()
        if len(found) > MOST_NAMED:
            more = f"{len(found) - MOST_NAMED} more like these: goodlength library check names them all."
            found = (*found[:MOST_NAMED], more)
        self.problems = (*self.problems, *(text for text in found if text not in self.problems))

    def clean(self) -> None:
        """Leave nothing of deleted rows in the file, or in the server's tables."""
        ways = postgres if self.on_server else sqlite
        with self._lock, database_errors_in_words(self.place):
            ways.clean(self._engine)

    def copies(self) -> tuple[Path, ...]:
        """Return copies of the database made before it was brought to a new form."""
        return tuple(sorted(self.folder.glob(f"{database_opening.FILE_NAME}.before-*")))

    def copy_to(self, target: Path) -> None:
        """Copy the whole database, also while it is in use; a copy of the file alone would lose its log."""
        if self.on_server:
            raise InputError(
                "A library on a database server is copied with that server's own tools (pg_dump). "
                f"Its clips and uploads lie in {self.folder}: copy that folder too."
            )
        with database_errors_in_words(str(target)):
            sqlite.copy_to(Path(self.place), target)


def _not_as_written(table: str, row: str) -> str:
    if table == "entries":
        return f"The {row} is not as it was written: it is left out. Answer that question again."
    return (
        f"In the list of {table}, {row} is not as it was written. Look at it and save it again, or restore a "
        "back-up."
    )


def now_utc() -> datetime:
    """Return this moment, to the millisecond, in UTC."""
    moment = datetime.now(UTC)
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)
