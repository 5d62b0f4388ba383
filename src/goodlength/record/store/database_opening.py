"""Open a library's database: find it, check it, migrate it, or explain why not."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import sqlalchemy as sa

from goodlength.errors import NewerLibrary, NoSpace, NotFound, NotOurLibrary, StoreError
from goodlength.record.store import postgres, sqlite
from goodlength.record.store.database_errors import database_errors_in_words, in_words
from goodlength.record.store.database_tables import HEAD, MARK, about, metadata

_open_here: WeakKeyDictionary[sa.Engine, Path] = (
    WeakKeyDictionary()
)  # database files that this process has open

FILE_NAME = "library.sqlite3"
ASSUMED_QUICK_CHECK_BYTES = 64_000_000  # up to this size a library is looked over at each start: tens of ms
FOLDERS = ("proxies", "clips", "uploads")
MIGRATIONS = Path(__file__).parent / "migrations"
_VERSION_TABLE = (
    "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, "
    "CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num))"
)
_SHARES = ("nfs", "nfs4", "cifs", "smbfs", "smb3", "fuse.sshfs", "9p", "afpfs", "webdav", "davfs")


@dataclass(frozen=True)
class Opened:
    """An open database, the folder its files go to, and what the coach should be told about it."""

    engine: sa.Engine
    folder: Path
    place: str
    problems: tuple[str, ...]


def is_server(place: str | Path | None) -> bool:
    """Return whether a library is named by a server's URL."""
    return isinstance(place, str) and "://" in place


def default_place() -> str | Path:
    """Return the library where none is named: GOODLENGTH_LIBRARY (a folder or a URL), or the user's data
    folder.
    """
    named = os.environ.get("GOODLENGTH_LIBRARY", "")
    return named if is_server(named) else default_folder()


def default_folder() -> Path:
    """Return the folder of the library's files: the variable GOODLENGTH_LIBRARY, or the user's data folder.

    With a library on a server GOODLENGTH_FILES names the folder of clips and uploads.
    """
    named = os.environ.get("GOODLENGTH_LIBRARY", "")
    if is_server(named):
        named = ""
    named = named or os.environ.get("GOODLENGTH_FILES", "")
    if named:
        return Path(named).expanduser()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "goodlength"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "goodlength"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "goodlength"


def open_folder(folder: Path, *, create: bool) -> Opened:
    """Open the library in a folder, making it where `create` allows, and bring it up to date."""
    if _only_to_read(folder):
        return _to_read(
            folder,
            folder / FILE_NAME,
            still=True,
            why="lies where nothing can be written. Copy its folder to a disk of this computer to work.",
        )
    file = _file_in(folder, create=create)
    place = str(file)
    if not _is_new(file):
        _refuse_strangers(file)
        damage = _damage(file, place)
        if damage:
            return _to_read(
                folder,
                file,
                still=False,
                why=f"is damaged ({damage}). Restore a back-up, or save what can be read into a new folder: "
                "goodlength library check --save-to NEW-FOLDER",
            )
    with database_errors_in_words(place):
        problems = _migrate(file, place)
        engine = sqlite.engine_for(file)
        with engine.connect() as connection:
            mode = sqlite.journal_mode(connection)
    if mode != "wal":
        problems += (
            f"The library {place} runs in the slower and less crash-proof mode “{mode}”, because its disk "
            "refuses a write-ahead log. Keep the library on a disk of this computer; the footage may stay "
            "where it is.",
        )
    share = _share_under(folder)
    if share:
        problems += (
            f"The library {place} lies on a network disk ({share}), where two programs can damage it. "
            "Move the library folder to a disk of this computer; the footage may stay where it is.",
        )
    _open_here[engine] = file
    return Opened(engine, folder, place, problems)


def let_go(engine: sa.Engine) -> None:
    """Close the connections of an engine that was opened here."""
    engine.dispose()
    _open_here.pop(engine, None)


def open_server(url: str, folder: Path) -> Opened:
    """Open a library on a database server; files still go to `folder`."""
    engine = postgres.engine_for_url(url)
    place = engine.url.set(drivername="postgresql").render_as_string(hide_password=True)
    _make_folders(folder)
    try:
        with database_errors_in_words(place), engine.execution_options(write=True).begin() as connection:
            version = _version_of(connection)
            postgres.refuse_strangers(connection, version, HEAD, place)
            if version != HEAD:
                upgrade(connection)
                _mark(connection)
    except BaseException:
        engine.dispose()
        raise
    return Opened(engine, folder, place, ())


def upgrade(connection: sa.Connection, to: str = "head", migrations: Path = MIGRATIONS) -> None:
    """Run the migrations on a connection whose transaction the caller holds."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)


@cache
def _tables_as_sql() -> tuple[str, ...]:
    """Return the statements that make all tables and indexes, put into words once a process."""
    made: list[str] = []

    def note(statement: Any, *_: object, **__: object) -> None:
        made.append(str(statement.compile(dialect=engine.dialect)))

    engine = sa.create_mock_engine("sqlite://", note)
    metadata.create_all(engine, checkfirst=False)
    return tuple(made)


def _make_tables(connection: sa.Connection) -> None:
    """Make what is missing; in an empty file that is everything."""
    if sa.inspect(connection).get_table_names():
        metadata.create_all(connection)
        return
    for statement in _tables_as_sql():
        connection.exec_driver_sql(statement)


def make_file(file: Path) -> None:
    """Make the tables of a new library in one go; a test holds them to what the migrations make.

    Two programs may do this at the same moment: whoever comes second finds them made.
    """
    engine = sqlite.engine_for(file).execution_options(write=True)
    with engine.begin() as connection:
        if _version_of(connection) is None:
            _make_tables(connection)
            connection.execute(sa.text(_VERSION_TABLE))
            connection.execute(sa.text("INSERT INTO alembic_version VALUES (:head)"), {"head": HEAD})
            _mark(connection)
            sqlite.mark_as_ours(connection)
    engine.dispose()


def migrate_file(
    file: Path, to: str = "head", migrations: Path = MIGRATIONS, *, backup: bool = True
) -> Path | None:
    """Migrate one file to a newer form, safely; return the copy made beforehand.

    Rebuilding a table that others point to deletes every row of those others, in silence, while
    foreign keys are on. So: a whole copy first, keys off before the transaction begins, one
    transaction of our own, a check that every row still has its parent, and only then the end of it.
    """
    copy: Path | None = None
    if backup:
        copy = file.with_name(f"{file.name}.before-{to}")
        sqlite.copy_to(file, copy)
    engine = sqlite.engine_for(file, foreign_keys=False).execution_options(write=True)
    with engine.begin() as connection:
        broken_before = sqlite.broken_links(connection)
        upgrade(connection, to, migrations)
        broken = [text for text in sqlite.broken_links(connection) if text not in broken_before]
        if broken:
            raise StoreError(
                f"The library {file} could not be brought to the new form: {broken[0]}. "
                "It was left as it was. Please keep the file and report this."
            )
        _mark(connection)
        sqlite.mark_as_ours(connection)
    engine.dispose()
    return copy


def _only_to_read(folder: Path) -> bool:
    file = folder / FILE_NAME
    return (
        file.is_file()
        and file.stat().st_size > 0
        and not (os.access(folder, os.W_OK) and os.access(file, os.W_OK))
    )


def _damage(file: Path, place: str) -> str | None:
    """Return what the quick check finds in a library that is small enough to look over at each start."""
    if file.stat().st_size > ASSUMED_QUICK_CHECK_BYTES:
        return None
    engine = sqlite.read_only_engine(file)
    try:
        with engine.connect() as connection:
            return sqlite.first_damage(connection)
    except sa.exc.DatabaseError as error:
        refusal = in_words(error, place)
        if isinstance(refusal, NotOurLibrary):
            return str(error.orig)
        raise refusal from error
    finally:
        engine.dispose()


def _to_read(folder: Path, file: Path, *, still: bool, why: str) -> Opened:
    """Open a library that cannot or must not be written; every write is refused in words."""
    engine = sqlite.engine_to_read(file, still=still)
    _refuse_strangers(file, engine)
    place = str(file)
    with database_errors_in_words(place), engine.connect() as connection:
        version = _version_of(connection)
    if version != HEAD:
        raise StoreError(
            f"The library {place} is of an older form and {why} It can be read only once it was brought to "
            "the new form."
        )
    words = f"The library {place} was opened to read only: it {why}"
    wal = file.with_name(file.name + "-wal")
    if still and wal.exists() and wal.stat().st_size > 0:
        words += f" Answers in {wal.name} cannot be seen there."
    return Opened(engine, folder, place, (words,))


def _file_in(folder: Path, *, create: bool) -> Path:
    if folder.is_file():
        if folder.name == FILE_NAME:
            return folder
        raise NotOurLibrary(
            f"{folder} is a file; a library is a folder that holds {FILE_NAME}. "
            "Name a folder with --library; a new one is made where there is none.",
            page="The library cannot be opened. Close goodlength, then start it again with another "
            "folder or restore a back-up.",
        )
    file = folder / FILE_NAME
    if not create and not file.exists():
        raise NotFound(
            f"There is no library in {folder} (no {FILE_NAME}). "
            "Name the folder of an existing one with --library, or create one.",
            command="goodlength open",
            page="The library cannot be opened. Close goodlength, then start it again with another "
            "folder or restore a back-up.",
        )
    _make_folders(folder)
    return file


def _make_folders(folder: Path) -> None:
    try:
        for name in ("", *FOLDERS):
            (folder / name).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NoSpace(
            f"The library folder {folder} cannot be made ({error.strerror or error}). "
            "Choose a folder you may write to with --library, or free some space.",
            page="The library cannot be opened. Close goodlength, then start it again with another "
            "folder or restore a back-up.",
        ) from error


def _is_new(file: Path) -> bool:
    return not file.exists() or file.stat().st_size == 0


def _head_of(file: Path) -> bytes:
    """Return the first bytes of a database file.

    A file that this process has open is not read: closing it gives up the locks that SQLite holds on it, as
    on every system but Windows, and another program then takes away the log under this one's feet.
    """
    if file in list(_open_here.values()):
        return sqlite.HEAD_BYTES
    try:
        with file.open("rb") as stream:
            return stream.read(len(sqlite.HEAD_BYTES))
    except OSError as error:
        raise NoSpace(f"The library {file} cannot be read ({error.strerror or error}).") from error


def _refuse_strangers(file: Path, engine: sa.Engine | None = None) -> None:
    """Read the file without changing it, and stop where it is not ours or is newer than we are."""
    head = _head_of(file)
    stranger = (
        f"{file} is not a goodlength library: it belongs to another program, or its head is damaged. "
        "It was left as it is. Choose another folder with --library."
    )
    on_page = stranger.replace(" with --library", "")
    if head != sqlite.HEAD_BYTES:
        raise NotOurLibrary(stranger, page=on_page)
    with database_errors_in_words(str(file)):
        engine = engine or sqlite.read_only_engine(file)
        with engine.connect() as connection:
            ours = sqlite.application_id(connection) == sqlite.APPLICATION_ID
            foreign = sqlite.foreign_parts(connection)
            tables = set(sa.inspect(connection).get_table_names())
            version = _version_of(connection) if ours else None
        engine.dispose()
    if not ours and tables:
        raise NotOurLibrary(stranger, page=on_page)
    if foreign:
        raise NotOurLibrary(
            f"The library {file} holds what goodlength never writes and what could change answers by itself "
            f"({', '.join(foreign[:3])}). It was not used and left as it is. If it came from somebody else, "
            "ask for the match as a file (.json).",
            command="goodlength library check --save-to NEW-FOLDER",
        )
    if version is not None and version > HEAD:
        raise NewerLibrary(
            f"The library {file} was written by a newer goodlength (its form is {version}, this version "
            f"knows up to {HEAD}). It was left as it is. Update goodlength, or choose another folder."
        )


def _version_of(connection: sa.Connection) -> str | None:
    if "alembic_version" not in sa.inspect(connection).get_table_names():
        return None
    version = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
    return None if version is None else str(version)


def _migrate(file: Path, place: str) -> tuple[str, ...]:
    """Migrate where needed; gives what the coach should know about it."""
    version = None
    if not _is_new(file):
        engine = sqlite.engine_for(file)
        with engine.connect() as connection:
            version = _version_of(connection)
        engine.dispose()
    if version == HEAD:
        return ()
    if version is None:
        make_file(file)
        return ()
    copy = migrate_file(file, HEAD)
    return (
        ()
        if copy is None
        else (f"The library {place} was brought to a new form; the old one is kept as {copy}.",)
    )


def _mark(connection: sa.Connection) -> None:
    known = connection.execute(sa.select(about.c.value).where(about.c.key == "what")).scalar()
    if known is None:
        connection.execute(sa.insert(about).values(key="what", value=MARK))


def _share_under(folder: Path) -> str | None:
    """Return the kind of network disk a folder lies on, where the system tells (Linux), else None."""
    mounts = Path("/proc/mounts")
    if not mounts.exists():
        return None
    best, kind = "", ""
    there = str(folder.absolute())
    for line in mounts.read_text(errors="replace").splitlines():
        fields = line.split()
        if len(fields) < 3:
            continue
        point = fields[1].replace("\\040", " ")
        inside = there == point or there.startswith(point.rstrip("/") + "/")
        if inside and len(point) > len(best):
            best, kind = point, fields[2]
    return kind if kind in _SHARES else None
