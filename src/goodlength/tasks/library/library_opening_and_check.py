"""Open a library, check it, and salvage what can be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import Conflict, DamagedFile, NotFound
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile

if TYPE_CHECKING:
    from goodlength.record.store import Library


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
