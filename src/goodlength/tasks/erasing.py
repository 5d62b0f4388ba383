"""Taking a person out of the library, and everything that was made of them, with a written account."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from goodlength.record.store import Library


@dataclass(frozen=True)
class Erased:
    """What was taken out (or would be), what stays, and what older copies may still hold."""

    done: bool
    matches: int
    entries: int
    files: tuple[str, ...]  # made or copied by goodlength: proxies, clips, frame tables, uploads
    originals: tuple[str, ...]  # recordings that lie elsewhere
    originals_removed: bool
    copies: tuple[str, ...]  # of the library file, made before it was brought to a new form
    account: str | None  # path of the written account

    @property
    def words(self) -> str:
        """The account for the person who asked; it holds no name."""
        verb = "were taken out" if self.done else "would be taken out"
        lines = [
            f"{self.matches} matches with {self.entries} answers, the player's details and consents, and "
            f"{len(self.files)} files (proxies, clips, tables of frames, uploads) {verb}."
        ]
        if self.done:
            lines.append("The free pages of the library file were wiped.")
        if self.originals:
            what = (
                "were deleted too" if self.originals_removed else "stay where they are; delete them by hand"
            )
            lines.append(f"{len(self.originals)} original recordings {what}: {', '.join(self.originals)}.")
        if self.copies:
            lines.append(f"Older copies of the library may still hold this person: {', '.join(self.copies)}.")
        lines.append(
            "goodlength cannot reach back-ups made by other programs, clips and handouts saved elsewhere, "
            "or what was given to others."
        )
        return "\n".join(lines)


def files_only_of(library: Library, match_ids: Iterable[str]) -> tuple[Path, ...]:
    """Files that goodlength made for these matches or copied in, and that no other match uses.

    Originals that lie elsewhere are never among them.
    """
    going = set(match_ids)
    doomed: dict[Path, None] = {}
    kept: set[Path] = set()
    for info in library.matches():
        found = _files_of(library, info.id)
        if info.id in going:
            doomed.update(dict.fromkeys(found))
        else:
            kept |= set(found)
    return tuple(path for path in doomed if path not in kept)


def _files_of(library: Library, match_id: str) -> list[Path]:
    found: list[str] = []
    for footage in library.footage(match_id):
        found += [path for path in (footage.proxy, footage.frames) if path]
        if footage.copied:
            found.append(footage.path)
    found += [clip.path for clip in library.clips(match_id)]
    return [_inside(library.folder, path) for path in found]


def _inside(folder: Path, path: str) -> Path:
    """A path as kept: absolute, or within the library folder."""
    return Path(path) if Path(path).is_absolute() else folder / path


def remove_files(paths: Iterable[Path]) -> tuple[str, ...]:
    """Delete files that are there; gives those that could not be deleted."""
    left = []
    for path in paths:
        try:
            path.unlink(missing_ok=True)
        except OSError:
            left.append(str(path))
    return tuple(left)


def erase_player(
    library: Library, player_id: str, *, originals: bool = False, only_look: bool = False
) -> Erased:
    """Take a player out: details, consents, every match they played with its record, and all files made.

    The opponent stays as a player, but the matches go: they hold the erased person's play.

    Parameters
    ----------
    originals : bool
        Delete recordings that lie outside the library too. Without it they are only named.
    only_look : bool
        Say what would go, and change nothing.

    Raises
    ------
    NotFound
        If there is no such player.
    """
    library.player(player_id)
    infos = [info for info in library.matches() if player_id in info.players]
    files = files_only_of(library, [info.id for info in infos])
    kept_elsewhere = tuple(
        dict.fromkeys(
            footage.path for info in infos for footage in library.footage(info.id) if not footage.copied
        )
    )
    entries = sum(len(library.entries(info.id)) for info in infos)
    copies = tuple(str(path) for path in library.copies())

    def told(done: bool, account: str | None = None) -> Erased:
        names = tuple(str(path) for path in files)
        return Erased(done, len(infos), entries, names, kept_elsewhere, originals, copies, account)

    if only_look:
        return told(False)
    for info in infos:
        library.remove_match(info.id)
    library.remove_player(player_id)
    doomed = [*files, *(Path(path) for path in kept_elsewhere if originals)]
    left = remove_files(doomed)
    library.clean()
    erased = told(True)
    path = _write_account(library.folder, erased, left)
    return told(True, str(path))


def _write_account(folder: Path, erased: Erased, left: tuple[str, ...]) -> Path:
    """Keep the account in the library folder, under the moment, without any name."""
    moment = datetime.now(UTC)
    path = folder / f"erased-{moment:%Y-%m-%d-%H%M%S-%f}.txt"
    text = f"Erased on {moment:%Y-%m-%d %H:%M} UTC.\n{erased.words}\n"
    if left:
        text += f"These files could not be deleted; delete them by hand: {', '.join(left)}.\n"
    part = path.with_suffix(".part")
    part.write_text(text, encoding="utf-8")
    part.replace(path)
    return path
