"""Open a library, check it, and salvage what can be read."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import Conflict, DamagedFile, InputError, NoSpace, NotFound, StoreError
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.files.tilde_path_expansion import with_home
from goodlength.tasks.library.library_identity import library_identity, renew_identity

if TYPE_CHECKING:
    from goodlength.record.store import Library


LONGEST_PATH = 4_000


def open_library(path: str | Path | None = None, *, create: bool = True) -> Library:
    """Open the coach's library, making it where there is none.

    Parameters
    ----------
    path : str or Path, optional
        Its folder; left out, the variable GOODLENGTH_LIBRARY or the user's data folder.
    create : bool
        False raises NotFound where there is no library yet.

    Examples
    --------
    >>> import tempfile
    >>> library = open_library(tempfile.mkdtemp())
    >>> library.matches()
    ()
    >>> library.close()
    """
    from goodlength.record.store import Library

    return Library.open(path, create=create)


def library_to_open(named: str, open_now: Library, *, make: bool = False) -> Path:
    """Return the folder of another library, opened once to see that it can be.

    Parameters
    ----------
    named : str
        A complete path, as typed or pasted.
    make : bool
        A folder that is not there yet, or is empty, becomes a new library; False refuses it.

    Raises
    ------
    InputError
        The path is not complete, is no folder, cannot be written, or lies in the open library or around it;
        or the library there belongs to another program or a newer goodlength, or is damaged.
    NotFound
        There is no such folder, or no library in it, and none is to be made.
    Conflict
        It is the library that is open, or a folder with other files in it.
    NoSpace
        Nothing can be written there.
    """
    path = _complete_path(named)
    try:
        _refuse_circular_links(path)
        _check_apart(path, open_now.folder)
        file = path / "library.sqlite3"
        is_library = file.is_file() and file.stat().st_size > 0
        is_there, holds = path.exists(), path.is_dir() and any(path.iterdir())
        if is_there and not path.is_dir():
            raise InputError(f"{path} is a file. Give the path of a folder.")
        if not is_library:
            if holds:
                raise Conflict(
                    f"{path} holds other files and no library. Choose a library's folder, or a new one."
                )
            if not make:
                what = "no library in the folder" if is_there else "no folder"
                raise NotFound(f"There is {what} {path}. Check the path, or tick “make a new library there”.")
            path.mkdir(parents=True, exist_ok=True)
        with open_library(path) as opened:
            if library_identity(opened) == library_identity(open_now):
                renew_identity(opened)
    except NoSpace:
        raise
    except StoreError as error:  # the library named, not the open one: nothing is wrong with this page
        raise InputError(
            f"The folder {path} cannot be opened as a library. {error.page_words} "
            "The library that is open was not changed."
        ) from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise InputError(f"The folder {path} cannot be used: {why}. Choose another folder.") from None
    return path


def _refuse_circular_links(path: Path) -> None:
    """Raise OSError where links lead in a circle; `Path.resolve` raises nothing of it from Python 3.13 on."""
    with suppress(FileNotFoundError, NotADirectoryError):
        path.stat()


def _check_apart(path: Path, open_now: Path) -> None:
    here, there = open_now.resolve(), path.resolve()
    if there == here:
        raise Conflict(f"The library {path} is open already.")
    if there.is_relative_to(here) or here.is_relative_to(there):
        raise InputError(
            f"{path} lies in the folder of the open library, or around it. Choose a folder apart from {here}."
        )


def _complete_path(named: str) -> Path:
    text = named.strip().strip('"')
    path = with_home(text)
    if text and "\0" not in text and len(text) <= LONGEST_PATH and path.is_absolute():
        return path
    raise InputError(
        f"The folder {text[:200]!r} is not a complete path. "
        "Give the full path, for example /clubs/goodlength."
    )


@dataclass(frozen=True)
class LibraryState:
    """What a check of the library found; `problems` empty means all is well."""

    folder: str
    players: int
    matches: int
    problems: tuple[str, ...]


def library_check(library: Library) -> LibraryState:
    """Look the library over: the database's own checks, each checksum, footage and clips that are gone."""
    return _state(library, (*library.problems, *library.check()))


def library_state(library: Library) -> LibraryState:
    """Return what is known of the library, and files that are gone; its rows are not looked at.

    For a page, which has them checked in the background.
    """
    return _state(library, library.problems)


def _state(library: Library, known: Sequence[str]) -> LibraryState:
    problems = [*dict.fromkeys(known)]
    footage, clips = library.footage_and_clips()
    heads = library.match_heads()
    names = {player.id: player.name for player in library.players()}
    titles = {head.id: " v ".join(names.get(who, who) for who in head.players) for head in heads}
    for file in footage:
        if not file.where.exists():
            problems.append(
                f"{titles.get(file.match, file.match)}: the video {file.path} cannot be found. "
                "Move it back, or add it again on the Footage page of the match."
            )
    for clip in clips:
        if not Path(clip.path).exists():
            problems.append(
                f"{titles.get(clip.match, clip.match)}: the clip {clip.path} is missing. "
                "Make it again on the page Clips if you need it."
            )
    problems += _odd_files(library.folder)
    return LibraryState(str(library.folder), len(names), len(heads), tuple(problems))


def _odd_files(folder: Path) -> list[str]:
    """Return files that are no part of a library, and those typed by the coach that cannot be read."""
    problems = []
    for name, path, kind in library_layout.files_in(folder):
        if kind is None:
            problems.append(
                f"The file {name} is not one of goodlength's: no back-up includes it. Move it elsewhere."
            )
        elif path.suffix == ".json" and kind.folder not in ("demo", "uploads") and kind.name != "removed":
            try:
                JsonFile(path).read()
            except DamagedFile as error:
                problems.append(str(error))
    return problems


def save_what_can_be_read(damaged: str | Path, folder: str | Path) -> tuple[str, ...]:
    """Make a new library of what can be read of a damaged one; gives the account in words.

    The damaged library is only read. Uploads, clips and copies that play stay where they are; those named by
    their place within the old folder must be copied by hand.

    Raises
    ------
    NotFound
        If there is no library file.
    Conflict
        If the new folder holds something.
    NotOurLibrary
        If nothing can be read.
    """
    from goodlength.record.store.damaged_library_salvage import UNPLACED_ROWS_FILE, salvage

    source, target = Path(damaged).expanduser(), Path(folder).expanduser().absolute()
    file = source if source.is_file() else source / "library.sqlite3"
    if not file.is_file():
        raise NotFound(
            f"There is no library in {source} (no library.sqlite3). Name its folder with --library.",
            page="The library cannot be opened. Close goodlength, then start it again with another "
            "folder or restore a back-up.",
        )
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise Conflict(f"{target} is not empty. Name a new folder; nothing is overwritten.")
    found = salvage(file, target)
    words = [
        f"{target}: saved {found.saved.get('matches', 0)} matches with {found.saved.get('entries', 0)} "
        f"answers, {found.saved.get('players', 0)} players, {found.saved.get('practice', 0)} lines of "
        "practice."
    ]
    words += [f"Of {name}, {n} stretches could not be read." for name, n in found.unreadable.items()]
    if found.names_lost:
        words.append(
            f"{found.names_lost} players lost their names; type them in, they count as juniors till then."
        )
    if found.without_a_place:
        words.append(
            f"{found.without_a_place} rows belong to nothing that was saved; they are in "
            f"{UNPLACED_ROWS_FILE}."
        )
    words.append(
        f"Copy uploads, clips and proxies from {file.parent} by hand. The damaged library is as it was."
    )
    return tuple(words)
