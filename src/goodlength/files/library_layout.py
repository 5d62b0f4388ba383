"""Every folder and kind of file in a library: its path, its owner, and how it is backed up and erased.

```
 library.sqlite3   the record          heard/ tracks/ balls/ bodies/ cameras/   found, and corrected by hand
 uploads/ proxies/   videos                handouts/                         pages made, and what was typed
 clips/              cut videos; lists and lines typed by the coach          jobs/   long work, its lists
 bin/                removed, for 30 days  season/   columns, made anew      demo/   the invented match
 transfers/          videos that arrive in pieces         preparation/  what was asked of the queue
```

Paths of the library are made here and nowhere else. A file of a kind that is not declared belongs to no
library: `library check` names it, and no back-up that holds one is restored.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path, PurePosixPath

from goodlength.files.safe_file_names_from_ids import MADE, stem, strict_stem

DATABASE = "library.sqlite3"

_REVIEW_LIST = "-talk-list.json"  # behind the match's own stem


class Owner(StrEnum):
    """Whose file it is: with whom it is exported and erased."""

    LIBRARY = "library"
    MATCH = "match"
    FOOTAGE = "footage"
    PLAYER = "player"


class BackUp(StrEnum):
    """Whether a back-up holds it."""

    ALWAYS = "always"
    WITH_FILMS = "with films"  # large
    NEVER = "never"  # made anew, or of the moment


@dataclass(frozen=True)
class Kind:
    """A kind of file.

    `pattern` fits the file's name in `folder`. `erased` tells that it goes with its owner, `exported` that a
    person is told of it, `swept` that it is removed when abandoned, after `abandoned_s` at the earliest. What
    a back-up with films holds is moved.
    """

    name: str
    folder: str
    pattern: str
    owner: Owner
    back_up: BackUp
    erased: bool
    exported: bool
    swept: bool = False
    abandoned_s: float = 0.0

    @property
    def moved(self) -> bool:
        """Whether a move of the library brings it along."""
        return self.back_up is not BackUp.NEVER


_ID = r"[A-Za-z0-9_-]{1,64}"
_NAME = r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,63}"  # what `names.stem` makes
_MADE = "|".join(MADE)
PART = ".goodlength-part-"
ASSUMED_TRANSFER_S = 3 * 86400.0  # so long a video that was sent in part waits for the rest: our own choice


def _kind(
    name: str,
    folder: str,
    pattern: str,
    owner: Owner,
    back_up: BackUp,
    *,
    swept: bool = False,
    abandoned_s: float = 0.0,
) -> Kind:
    personal = owner is not Owner.LIBRARY
    return Kind(
        name, folder, pattern, owner, back_up, personal, personal, swept or abandoned_s > 0, abandoned_s
    )


# What a back-up without films holds of a match, it holds of a removed one
_SMALL = (
    r"[0-9a-f]{12}/files/((heard|tracks|balls|bodies|cameras|handouts|jobs|preparation)/.*|clips/.*\.json)"
)
_L, _M, _F, _P = Owner.LIBRARY, Owner.MATCH, Owner.FOOTAGE, Owner.PLAYER
_A, _W, _N = BackUp.ALWAYS, BackUp.WITH_FILMS, BackUp.NEVER
_SENT = rf"{_ID}\.[0-9a-f]{{24}}"
KINDS: tuple[Kind, ...] = (
    _kind("part of a write", "*", rf"{re.escape(PART)}.*|\..*\.part|.*\.part", _L, _N, swept=True),
    _kind("database", "", rf"{re.escape(DATABASE)}", _L, _A),
    _kind("database at work", "", rf"{re.escape(DATABASE)}-(wal|shm|journal)", _L, _N),
    _kind("older database", "", rf"{re.escape(DATABASE)}\.before-.*", _L, _N),
    _kind("account of an erasure", "", r"erased-[0-9-]+\.txt", _L, _A),
    _kind("import looked at", "uploads", r"[0-9a-f]{8}-import-.*", _L, _N, swept=True),
    _kind("upload", "uploads", r"[^./][^/]*", _F, _W),
    _kind("practice copy", "proxies", r"practice-[0-9a-f]+(\.heard\.npz|\.mp4|\.frames\.npz)", _P, _W),
    _kind("frames of the original", "proxies", rf"{_NAME}\.original\.frames\.npz", _F, _A),
    _kind("frames of the copy", "proxies", rf"{_NAME}\.frames\.npz", _F, _W),
    _kind("previews of a video", "proxies", rf"{_NAME}\.previews(\.json|-\d{{1,3}}\.jpg)", _F, _N),
    _kind("copy that plays", "proxies", rf"{_NAME}\.mp4", _F, _W),
    _kind("state of a transfer", "transfers", rf"{_SENT}\.json", _M, _N, abandoned_s=ASSUMED_TRANSFER_S),
    _kind("video being received", "transfers", rf"{_SENT}\.bytes", _M, _N, abandoned_s=ASSUMED_TRANSFER_S),
    _kind("list for the player", "clips", rf"{_NAME}-talk-list\.json", _M, _A),
    _kind("lines on a pair", "clips", rf"{_NAME}-beside-lines\.json", _M, _A),
    _kind("drawings on frames", "clips", rf"{_NAME}-frame-drawings\.json", _M, _A),
    _kind("names of clips", "clips", rf"{_NAME}-clip-names\.json", _M, _A),
    _kind("notes between games", "clips", rf"{_NAME}-between-notes\.json", _M, _A),
    _kind("made to show", "clips", rf"{_NAME}-({_MADE})-.*", _M, _W),
    _kind("clip", "clips", r"[^.].*", _M, _W),
    _kind("sound of a file", "heard", rf"{_ID}\.npz", _F, _A),
    _kind("motion of a file", "heard", rf"{_ID}\.motion\.npz", _F, _A),
    _kind("rallies heard", "heard", rf"{_ID}\.json", _M, _A),
    _kind("rallies corrected", "heard", rf"{_ID}\.said\.json", _M, _A),
    _kind("answers to a review", "heard", rf"{_ID}\.review\.json", _M, _A),
    _kind("players tracked", "tracks", rf"{_ID}\.json", _M, _A),
    _kind("tracks corrected", "tracks", rf"{_ID}\.said\.json", _M, _A),
    _kind("ball detected", "balls", rf"{_ID}\.npz", _M, _A),
    _kind("ball followed", "balls", rf"{_ID}\.json", _M, _A),
    _kind("ball corrected", "balls", rf"{_ID}\.said\.json", _M, _A),
    _kind("joints found", "bodies", rf"{_ID}\.json", _M, _A),
    _kind("joints corrected", "bodies", rf"{_ID}\.said\.json", _M, _A),
    _kind("cameras of a file", "cameras", rf"{_ID}\.json", _F, _A),
    _kind("court found in a file", "cameras", rf"{_ID}\.court\.json", _F, _A),
    _kind("pack", "handouts", rf"{_NAME}-pack-.*", _M, _A),
    _kind("handout", "handouts", rf"handout-{_NAME}(\.v\d+)?\.(pdf|html)", _M, _A),
    _kind("handout as typed", "handouts", rf"handout-{_NAME}\.json", _M, _A),
    _kind("preparation as asked for", "preparation", rf"{_ID}\.json", _M, _A),
    _kind("list of a long task", "jobs", r"[0-9a-f]+\.json", _P, _A),
    _kind("word to a long task", "jobs", r"[0-9a-f]+\.cancel", _L, _N),
    _kind("record of what was removed", "bin", r"[0-9a-f]{12}/item\.json", _P, _A),
    _kind("small file removed", "bin", _SMALL, _P, _A),
    _kind("removed", "bin", r"[0-9a-f]{12}/.*", _P, _W),
    _kind("columns of the season", "season", r".*", _L, _N),
    _kind("lock", "*", r"\..*lock|owner\.lock", _L, _N),
    _kind("demo film", "demo", r"game-1\.mp4|truth\.json|game-1\.frames\.npz", _F, _W),
)
FOLDERS = tuple(dict.fromkeys(kind.folder for kind in KINDS if kind.folder not in ("", "*")))


def kind_of(name: str) -> Kind | None:
    """Return the kind of a file by its path within the library, with `/` between; None for a stranger's.

    Examples
    --------
    >>> kind_of("bodies/m1.said.json").name, kind_of("clips/m1-talk-list.json").back_up.value
    ('joints corrected', 'always')
    >>> kind_of("notes/secret.txt") is None
    True
    """
    folder, _, rest = name.partition("/")
    if not rest:
        folder, rest = "", name
    last = PurePosixPath(rest).name
    for kind in KINDS:
        if kind.folder == "*" and re.fullmatch(kind.pattern, last):
            return kind
        if kind.folder == folder and re.fullmatch(kind.pattern, rest):
            return kind
    return None


def files_in(folder: Path) -> Iterator[tuple[str, Path, Kind | None]]:
    """Yield every file of a library with its name within it and its kind; links are passed over."""
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not path.is_symlink():
            name = path.relative_to(folder).as_posix()
            yield name, path, kind_of(name)


def backed_up(folder: Path, *, films: bool) -> list[tuple[str, Path]]:
    """Return names and paths of the files a back-up holds beside the database."""
    wanted = {BackUp.ALWAYS, BackUp.WITH_FILMS} if films else {BackUp.ALWAYS}
    return [
        (name, path)
        for name, path, kind in files_in(folder)
        if kind is not None and kind.back_up in wanted and name != DATABASE
    ]


def may_be_restored(name: str) -> bool:
    """Return whether a back-up may hold a file of this name."""
    kind = kind_of(name)
    return kind is not None and kind.back_up is not BackUp.NEVER


def may_be_deleted(folder: Path, path: Path) -> bool:
    """Return whether a path is a file that goodlength made or copied in; never the database."""
    try:
        name = path.resolve().relative_to(folder.resolve()).as_posix()
    except (ValueError, OSError):
        return False
    kind = kind_of(name)
    return kind is not None and (kind.erased or kind.swept) and kind.folder != ""


def swept(folder: Path, older_than_s: float, *, name: str | None = None) -> int:
    """Remove what was abandoned: parts of writes, and records looked at that were never imported.

    Parameters
    ----------
    older_than_s : float
        Only files that have not changed for so long: others may be at work on the rest.
    name : str, optional
        Only files of this kind.
    """
    count = 0
    for _, path, kind in files_in(folder):
        if kind is not None and kind.swept and name in (None, kind.name):
            with suppress(OSError):
                if time.time() - path.stat().st_mtime >= max(older_than_s, kind.abandoned_s):
                    path.unlink()
                    count += 1
    return count


# Paths, by owner


def upload_file(folder: Path, mark: str, name: str) -> Path:
    """Return where a file copied in lies; `mark` is eight hexadecimal digits, so that no two meet."""
    return folder / "uploads" / f"{mark}-{name}"


def import_file(folder: Path, token: str) -> Path:
    """Return where a record that was looked at and not yet imported lies."""
    return folder / "uploads" / token


def transfer_folder(folder: Path) -> Path:
    """Return where videos lie that arrive in pieces, each with its state."""
    return folder / "transfers"


def transfer_file(folder: Path, match_id: str, transfer_id: str) -> Path:
    """Return where the state of a transfer lies; the bytes beside it, as `.bytes`."""
    return transfer_folder(folder) / f"{strict_stem(match_id)}.{transfer_id}.json"


def transfer_files(folder: Path, match_id: str, ending: str = "*") -> list[Path]:
    """Return the files of every transfer to a match."""
    own = re.escape(strict_stem(match_id))
    found = transfer_folder(folder).glob(f"*.{ending}")
    return sorted(path for path in found if re.fullmatch(rf"{own}\.[0-9a-f]{{24}}\.\w+", path.name))


def proxy_file(folder: Path, footage_id: str) -> Path:
    """Return where the copy that plays lies."""
    return folder / "proxies" / f"{stem(footage_id)}.mp4"


def original_frames_file(folder: Path, footage_id: str) -> Path:
    """Return where the table of frames of the original lies."""
    return folder / "proxies" / f"{stem(footage_id)}.original.frames.npz"


def previews_file(folder: Path, footage_id: str) -> Path:
    """Return where the list of a file's small pictures lies; the sheets lie beside it."""
    return folder / "proxies" / f"{stem(footage_id)}.previews.json"


def preview_sheet_file(listed: Path, number: int) -> Path:
    """Return where one sheet of small pictures lies, by its list."""
    return listed.with_name(f"{listed.stem}-{number}.jpg")


def practice_files(folder: Path, mark: str) -> tuple[Path, Path]:
    """Return where the sound and the copy that plays of a practice recording lie."""
    return folder / "proxies" / f"practice-{mark}.heard.npz", folder / "proxies" / f"practice-{mark}.mp4"


def clip_file(folder: Path, match_id: str, name: str) -> Path:
    """Return where a clip of a match lies."""
    return folder / "clips" / f"{stem(match_id)}-{stem(name)}.mp4"


def export_file(folder: Path, match_id: str, what: str, name: str, ending: str) -> Path:
    """Return where a film, sheet or pack made to be shown lies."""
    home = "handouts" if what == "pack" else "clips"
    return folder / home / f"{stem(match_id)}-{what}-{name}.{ending}"


def export_files(folder: Path, match_id: str) -> list[Path]:
    """Return handouts, films, stills and packs made under a match's name."""
    own = re.escape(stem(match_id))
    named = re.compile(rf"{own}-({_MADE})-.*|handout-{own}(\.v\d+)?\.\w+")
    homes = (folder / "handouts", folder / "clips")
    return [path for home in homes for path in home.glob("*") if named.fullmatch(path.name)]


def review_list_file(folder: Path, match_id: str) -> Path:
    """Return where the list of clips for the player, and the notes of talks, lie."""
    return folder / "clips" / f"{stem(match_id)}{_REVIEW_LIST}"


def with_review_list(folder: Path, matches: Iterable[str]) -> list[str]:
    """Return those of some matches that have a list of clips for the player; the folder is read once."""
    there = {path.name for path in (folder / "clips").glob(f"*{_REVIEW_LIST}")}
    return [match for match in matches if f"{stem(match)}{_REVIEW_LIST}" in there] if there else []


def pair_lines_file(folder: Path, match_id: str) -> Path:
    """Return where the lines drawn on pairs lie."""
    return folder / "clips" / f"{stem(match_id)}-beside-lines.json"


def frame_drawings_file(folder: Path, match_id: str) -> Path:
    """Return where what is drawn on frames of a match lies."""
    return folder / "clips" / f"{stem(match_id)}-frame-drawings.json"


def clip_names_file(folder: Path, match_id: str) -> Path:
    """Return where the coach's names of what was made of a match lie."""
    return folder / "clips" / f"{stem(match_id)}-clip-names.json"


def between_notes_file(folder: Path, match_id: str) -> Path:
    """Return where the coach's notes between the games of a match lie."""
    return folder / "clips" / f"{stem(match_id)}-between-notes.json"


def rally_files(folder: Path, match_id: str) -> list[Path]:
    """Return the files made by listening to a match: what was found, what was corrected by hand."""
    return _detected_and_corrected(folder / "heard", match_id)


def review_answers_file(folder: Path, match_id: str) -> Path:
    """Return where a coach's answers on detected rallies lie."""
    return folder / "heard" / f"{strict_stem(match_id)}.review.json"


def track_files(folder: Path, match_id: str) -> list[Path]:
    """Return the files made by tracking the players of a match."""
    return _detected_and_corrected(folder / "tracks", match_id)


def ball_file(folder: Path, match_id: str) -> Path:
    """Return where the candidates for the ball in a match lie."""
    return folder / "balls" / f"{strict_stem(match_id)}.npz"


def followed_ball_file(folder: Path, match_id: str) -> Path:
    """Return where the ball followed through the rallies of a match lies."""
    return folder / "balls" / f"{strict_stem(match_id)}.json"


def ball_corrections_file(folder: Path, match_id: str) -> Path:
    """Return where what the coach corrected of the followed ball lies."""
    return folder / "balls" / f"{strict_stem(match_id)}.said.json"


def body_files(folder: Path, match_id: str) -> list[Path]:
    """Return the files made by finding joints in a match."""
    return _detected_and_corrected(folder / "bodies", match_id)


def _detected_and_corrected(home: Path, match_id: str) -> list[Path]:
    name = strict_stem(match_id)
    return [home / f"{name}.json", home / f"{name}.said.json"]


def sound_file(folder: Path, footage_id: str) -> Path:
    """Return where what the sound of one file holds lies."""
    return folder / "heard" / f"{strict_stem(footage_id)}.npz"


def motion_file(folder: Path, footage_id: str) -> Path:
    """Return where how much moves in one file lies."""
    return folder / "heard" / f"{strict_stem(footage_id)}.motion.npz"


def camera_file(folder: Path, footage_id: str) -> Path:
    """Return where the cameras of a file lie."""
    return folder / "cameras" / f"{strict_stem(footage_id)}.json"


def court_proposal_file(folder: Path, footage_id: str) -> Path:
    """Return where the court found by itself in a file lies until it is approved."""
    return folder / "cameras" / f"{strict_stem(footage_id)}.court.json"


def handout_folder(folder: Path) -> Path:
    """Return where handouts lie."""
    return folder / "handouts"


def handout_stem(match_id: str) -> str:
    """Return the name of a match's handout without its ending."""
    return f"handout-{stem(match_id)}"


def film_folders(folder: Path) -> tuple[Path, ...]:
    """Return where long tasks write films."""
    return folder / "proxies", folder / "clips"


def preparation_folder(folder: Path) -> Path:
    """Return where it lies which matches are to be prepared."""
    return folder / "preparation"


def preparation_file(folder: Path, match_id: str) -> Path:
    """Return where it lies what was asked of the preparation of a match."""
    return preparation_folder(folder) / f"{strict_stem(match_id)}.json"


def job_folder(folder: Path) -> Path:
    """Return where the states of long tasks lie."""
    return folder / "jobs"


def job_file(folder: Path, job_id: str) -> Path:
    """Return where the state of a long task lies."""
    return job_folder(folder) / f"{job_id}.json"


def bin_folder(folder: Path) -> Path:
    """Return where removed things lie until they are deleted."""
    return folder / "bin"


def match_files(folder: Path, match_id: str) -> list[Path]:
    """Return every file of a match that lies under its name, whether it is there or not."""
    return [
        *rally_files(folder, match_id),
        review_answers_file(folder, match_id),
        *track_files(folder, match_id),
        ball_file(folder, match_id),
        followed_ball_file(folder, match_id),
        ball_corrections_file(folder, match_id),
        *body_files(folder, match_id),
        review_list_file(folder, match_id),
        pair_lines_file(folder, match_id),
        frame_drawings_file(folder, match_id),
        clip_names_file(folder, match_id),
        between_notes_file(folder, match_id),
        preparation_file(folder, match_id),
        *export_files(folder, match_id),
        *transfer_files(folder, match_id),
    ]


def footage_files(folder: Path, footage_id: str) -> list[Path]:
    """Return every file made of a recording that lies under its id, whether it is there or not."""
    proxy = proxy_file(folder, footage_id)
    previews = previews_file(folder, footage_id)
    sheets = re.compile(rf"{re.escape(previews.stem)}-\d{{1,3}}\.jpg")
    return [
        proxy,
        previews,
        *(path for path in previews.parent.glob("*.jpg") if sheets.fullmatch(path.name)),
        proxy.with_suffix(".frames.npz"),
        original_frames_file(folder, footage_id),
        sound_file(folder, footage_id),
        motion_file(folder, footage_id),
        camera_file(folder, footage_id),
        court_proposal_file(folder, footage_id),
    ]
