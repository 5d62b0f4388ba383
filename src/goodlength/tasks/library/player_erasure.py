"""Erase a person and everything made of them from the library, with a written account."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.files import library_layout
from goodlength.files.atomic_write import atomic_write
from goodlength.files.locked_json_file import JsonFile
from goodlength.tasks.library.name_mentions import Mention, mentions
from goodlength.tasks.people.handout_still_cache import forget_stills
from goodlength.tasks.people.player_handout_language import forget_language
from goodlength.tasks.removal.generated_and_copied_file_removal import (
    clips_elsewhere,
    files_only_of,
    practice_files_of,
    remove_files,
)
from goodlength.tasks.removal.handout_link_withdrawal import withdraw_links
from goodlength.tasks.removal.recycle_bin import bin_items, empty_bin

if TYPE_CHECKING:
    from goodlength.record.store import Library


def _counted(n: int, singular: str, many: str = "") -> str:
    return f"{n} {singular if n == 1 else many or singular + 's'}"


@dataclass(frozen=True)
class ErasureReport:
    """What was taken out (or would be), what stays, and what older copies may still hold."""

    done: bool
    matches: int
    entries: int
    files: tuple[str, ...]  # made or copied by goodlength: proxies, clips, frame tables, uploads
    originals: tuple[str, ...]  # recordings that lie elsewhere
    originals_removed: bool
    copies: tuple[str, ...]  # of the library file, made before it was brought to a new form
    left: tuple[str, ...] = ()  # files that could not be deleted
    account: str | None = None  # path of the written account
    on_server: bool = False
    mentions: tuple[Mention, ...] = ()  # other places that hold the name, for the coach to decide on
    binned: int = 0  # things in the bin that went too
    clips_elsewhere: tuple[str, ...] = ()  # saved outside the library: never deleted, only named

    @property
    def words(self) -> str:
        """The account for the person who asked; it names files, for they may need deleting by hand."""
        return "\n".join(self._lines(named=True))

    @property
    def anonymous_words(self) -> str:
        """The account as it is kept: without any name, of a person or of a file."""
        return "\n".join(self._lines(named=False))

    def _lines(self, *, named: bool) -> list[str]:
        def listed(paths: tuple[str, ...]) -> str:
            return f": {', '.join(paths)}." if named else "."

        verb = "were deleted" if self.done else "would be deleted"
        lines = [
            f"{_counted(self.matches, 'match', 'matches')} with {_counted(self.entries, 'answer')}, the "
            f"player's details and consents, and {_counted(len(self.files), 'file')} "
            f"(copies, clips, handouts, frame tables, uploads) {verb}."
        ]
        if self.done:
            lines.append(
                "The server's tables were rewritten without it; its log and back-ups may hold it for longer."
                if self.on_server
                else "The free space in the library file was cleared."
            )
        if self.binned:
            lines.append(f"{_counted(self.binned, 'removed thing')} in the bin {verb} too.")
        if self.mentions:
            places = f": {'; '.join(mention.words for mention in self.mentions)}." if named else "."
            lines.append(
                f"{_counted(len(self.mentions), 'other place')} with the name or a part of it will stay; "
                "decide on each" + places
            )
        if self.left:
            lines.append(
                f"{_counted(len(self.left), 'file')} could not be deleted. Delete by hand" + listed(self.left)
            )
        if self.originals:
            what = "deleted too" if self.originals_removed else "not deleted; delete by hand if you wish"
            lines.append(f"{_counted(len(self.originals), 'original video')} {what}" + listed(self.originals))
        if self.clips_elsewhere:
            clips = _counted(len(self.clips_elsewhere), "clip")
            lines.append(
                f"{clips} outside the library not deleted; delete by hand" + listed(self.clips_elsewhere)
            )
        if self.copies:
            lines.append(
                f"{_counted(len(self.copies), 'older copy', 'older copies')} of the library "
                "may still hold this person" + listed(self.copies)
            )
        lines.append(
            "goodlength cannot reach back-ups made by other programs, clips and handouts saved elsewhere, "
            "or what was given to others."
        )
        return lines


def erase_player(
    library: Library, player_id: str, *, originals: bool = False, dry_run: bool = False
) -> ErasureReport:
    """Take a player out: details, consents, every match they played with its record, and all files made.

    The opponent stays as a player, but the matches go: they hold the erased person's play.

    Parameters
    ----------
    originals : bool
        Delete recordings that lie outside the library too. Without it they are only named.
    dry_run : bool
        Say what would go, and change nothing.

    Raises
    ------
    NotFound
        If there is no such player.
    """
    from goodlength.tasks.findings.season_search import forget_season

    player = library.player(player_id)
    infos = [info for info in library.matches() if player_id in info.players]
    going = {info.id for info in infos}
    practice_files = practice_files_of(library.folder, player_id)
    found = ErasureReport(
        done=False,
        matches=len(infos),
        entries=sum(len(library.entries(info.id)) for info in infos),
        files=tuple(str(path) for path in (*files_only_of(library, going), *practice_files)),
        originals=_originals_only_of(library, going),
        originals_removed=originals,
        copies=tuple(str(path) for path in library.copies()),
        on_server=library.on_server,
        mentions=mentions(library, player.name, frozenset(going)),
        clips_elsewhere=clips_elsewhere(library, going),
        binned=sum(player_id in item.players for item in bin_items(library)),
    )
    if dry_run:
        return found
    # Files before rows: stopped half way, the same call finds the rest again
    doomed = (*found.files, *(found.originals if originals else ()))
    left = remove_files(Path(path) for path in doomed) + forget_season(library)
    forget_stills()
    _forget_jobs(library.folder, (*found.files, *found.originals, player_id))
    library_layout.swept(library.folder, 0.0, name="import looked at")
    empty_bin(library, player_id=player_id)
    for info in infos:
        withdraw_links(library, info.id)
        library.remove_match(info.id)
    forget_language(library, player_id)
    library.remove_player(player_id)
    library.clean()
    # Looked for again: what was made of the person, and is gone now, held the name too
    done = replace(found, done=True, left=left, mentions=mentions(library, player.name))
    return replace(done, account=str(_write_account(library.folder, done)))


def _originals_only_of(library: Library, going: set[str]) -> tuple[str, ...]:
    """Recordings of these matches that lie outside the library and that no other match uses."""
    ours = library.folder.resolve()
    doomed: dict[str, None] = {}
    shared: set[str] = set()
    for info in library.matches():
        for file in library.footage(info.id):
            if ours in file.where.resolve().parents:
                continue
            if info.id in going:
                doomed[file.path] = None
            else:
                shared.add(file.path)
    return tuple(path for path in doomed if path not in shared)


def _forget_jobs(folder: Path, names: Iterable[str]) -> None:
    """Delete notes of ended jobs that name any of these files, or the person, as a whole value."""
    sought = set(names)
    for note in library_layout.job_folder(folder).glob("*.json"):
        plain = JsonFile(note).shown()
        if plain.get("state") not in ("queued", "running") and sought & set(_texts(plain)):
            with suppress(OSError):
                note.unlink()


def _texts(plain: Any) -> Iterator[str]:
    """Yield every text among plain values."""
    if isinstance(plain, str):
        yield plain
    elif isinstance(plain, dict | list):
        for item in plain.values() if isinstance(plain, dict) else plain:
            yield from _texts(item)


def _write_account(folder: Path, erased: ErasureReport) -> Path:
    """Keep the account in the library folder, under the moment, without any name."""
    moment = datetime.now(UTC)
    path = folder / f"erased-{moment:%Y-%m-%d-%H%M%S-%f}.txt"
    with atomic_write(path) as part:
        part.write_text(
            f"Erased on {moment:%Y-%m-%d %H:%M} UTC.\n{erased.anonymous_words}\n", encoding="utf-8"
        )
    return path
