"""Footage of a match: probe, add, order, proxies, and clips with the consent they need."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import FootageError, FootageGone, InputError, NotFound
from goodlength.files import library_layout
from goodlength.files.tilde_path_expansion import with_home
from goodlength.jobs.progress_callback import Progress
from goodlength.media_time import MediaPosition, Timeline, us
from goodlength.record.entry_ids_and_timestamps import new_id
from goodlength.record.model import Clip, Footage, MatchInfo
from goodlength.tasks.match.lazy_match import open_match
from goodlength.tasks.match.match_editing_and_answers import timeline_of
from goodlength.tasks.people.player_records_and_consent import players_of, require_consent

if TYPE_CHECKING:
    from goodlength.footage.edit.clip_export import ClipResult
    from goodlength.footage.edit.remux import Repacked
    from goodlength.footage.media.frame_presentation_time_table import FrameTable
    from goodlength.footage.media.video_probe import Probe
    from goodlength.jobs.job_queue import Jobs
    from goodlength.record.store import Library

NAME_LETTERS = 60


def probe_file(path: str | Path) -> Probe:
    """Return what a recording holds, and its problems in words; the file is not changed.

    Raises
    ------
    FootageGone, NotFootage, Unfinished
        Each with its own words and next step.
    """
    from goodlength.footage.media.video_probe import probe

    return probe(path)


def add_footage(
    library: Library,
    match_id: str,
    path: str | Path,
    *,
    copied: bool = False,
    waiting: Callable[[str], None] | None = None,
) -> Footage:
    """Add a recording to a match, behind those already there; the file stays where it is.

    Adding the same file again gives the one already added: looked at anew where it has changed since, as
    after a copy that had not been finished, and found again where it was moved.

    Parameters
    ----------
    copied : bool
        The file is an upload that lies in the library folder and is erased with the match.
    waiting : callable, optional
        Told in words when a file written a moment ago is watched for some seconds.

    Raises
    ------
    NotFound
        If there is no such match.
    FootageGone, NotFootage, Unfinished
        If the file cannot serve as footage; nothing is added.
    """
    from goodlength.footage.media.file_completeness import SETTLE_S, WATCH_S
    from goodlength.footage.media.video_probe import probe_with_frames

    library.match_info(match_id)
    where = with_home(path).absolute()
    _storable(where)
    # An upload was written by goodlength itself, which knows that it is whole.
    seen, table = probe_with_frames(where, settle_s=SETTLE_S if copied else WATCH_S, waiting=waiting)
    already = library.footage(match_id)
    same = _same_file(already, where, seen.fingerprint)
    if same is not None and same.sha256 == seen.fingerprint and Path(same.path) == where:
        return same
    place = max((footage_file.place for footage_file in already), default=-1) + 1
    new = same or Footage(id=new_id(), match=match_id, path="", place=place)
    return _put(library, new, where, seen, table, copied=copied)


def _storable(where: Path) -> None:
    """Refuse, by its name, a file whose name is written in an alphabet that no text can hold."""
    try:
        str(where).encode("utf-8")
    except UnicodeEncodeError:
        raise FootageError(
            f"The file name {os.fsencode(where.name).decode('latin-1')!r} is written in an older alphabet "
            "(Latin-1), which cannot be stored. Rename the file with plain letters, then add it again."
        ) from None


def _same_file(already: Sequence[Footage], where: Path, fingerprint: str) -> Footage | None:
    """Return the footage that is this file: in the same place, or the same content whose own place is
    empty now.
    """
    for footage_file in already:
        path = footage_file.where
        if path == where or (path.exists() and path.samefile(where)):
            return footage_file
        if footage_file.to_be_found and (
            footage_file.path == where.name or footage_file.sha256 == fingerprint
        ):
            return footage_file
    return next(
        (
            candidate
            for candidate in already
            if candidate.sha256 == fingerprint and not candidate.where.exists()
        ),
        None,
    )


def _put(
    library: Library, file: Footage, where: Path, seen: Probe, table: FrameTable, *, copied: bool
) -> Footage:
    """Save what a file is now; a copy made of what it was before is taken away."""
    state = where.stat()
    place = library_layout.original_frames_file(library.folder, file.id)
    table.save(place)
    frames = place.relative_to(library.folder).as_posix()
    if file.sha256 not in (None, seen.fingerprint) and file.proxy is not None:
        old = library.folder / file.proxy
        old.unlink(missing_ok=True)
        old.with_suffix(".frames.npz").unlink(missing_ok=True)
        file = replace(file, proxy=None)
    library.save_footage(
        replace(
            file,
            path=str(where),
            copied=copied,
            size=state.st_size,
            mtime_ns=state.st_mtime_ns,
            sha256=seen.fingerprint,
            look=seen.to_json(),
            frames=frames,
            first_us=table.first_us,
            end_us=table.end_us,
        )
    )
    return library.footage_file(file.id)


def repack(
    path: str | Path,
    out: str | Path,
    *,
    picture: int | None = None,
    sound: int | None = None,
    rate_hz: float | None = None,
    progress: Progress | None = None,
) -> Repacked:
    """Copy one picture and one sound of a recording into a file of their own; see `footage.edit.remux`."""
    from goodlength.footage.edit import remux as packing

    return packing.repack(path, out, picture=picture, sound=sound, rate_hz=rate_hz, progress=progress)


def add_bare(library: Library, match_id: str, path: str | Path, rate_hz: float) -> Footage:
    """Add bare pictures without times: packed into a film in the library folder, which is added.

    Parameters
    ----------
    rate_hz : float
        Pictures a second the camera took.

    Raises
    ------
    OutOfRange, FootageError, NoSpace
        Nothing is added.
    """
    library.match_info(match_id)
    packed = _packed(library, Path(path), rate_hz=rate_hz)
    return add_footage(library, match_id, packed, copied=True)


def choose_tracks(
    library: Library, footage_id: str, *, picture: int | None = None, sound: int | None = None
) -> Footage:
    """Use another picture or sound of a recording than the one found.

    A copy with the chosen tracks, not encoded again, is written to the library folder and takes the file's
    place: its times, camera and rallies stay. An original that was copied in goes to the bin, to be put back
    from there for 30 days; one that lies elsewhere stays where it is.

    Parameters
    ----------
    picture, sound : int, optional
        The numbers in the file's look, from 1; left out, those used now.

    Raises
    ------
    OutOfRange, FootageError, NoSpace
        Nothing is changed.
    """
    from goodlength.footage.media.video_probe import probe_with_frames
    from goodlength.tasks.removal.recycle_bin import bin_original, take_from_bin

    file = library.footage_file(footage_id)
    original = _original(file)
    packed = _packed(library, original, picture=picture, sound=sound)
    item = ""
    try:
        seen, table = probe_with_frames(packed, settle_s=0)
        if file.copied and original.parent == packed.parent:
            frames = library_layout.original_frames_file(library.folder, file.id)
            item = bin_original(library, file, [original, frames])
        return _put(library, file, packed, seen, table, copied=True)
    except BaseException:
        packed.unlink(missing_ok=True)
        if item:
            take_from_bin(library, item)
        raise


def _packed(
    library: Library,
    source: Path,
    *,
    picture: int | None = None,
    sound: int | None = None,
    rate_hz: float | None = None,
) -> Path:
    """Return a repacked file among the uploads of the library."""
    from goodlength.footage.edit import remux as packing

    name = f"{source.stem[-NAME_LETTERS:]}{packing.suffix_for(source)}"
    target = library_layout.upload_file(library.folder, new_id()[:8], name)
    packing.repack(source, target, picture=picture, sound=sound, rate_hz=rate_hz)
    return target


def order_footage(library: Library, match_id: str, ids: Sequence[str]) -> tuple[Footage, ...]:
    """Put the files of a match in the order played."""
    files = {file.id: file for file in library.footage(match_id)}
    if sorted(ids) != sorted(files):
        raise InputError(
            "The order should name every file of the match once; look at the list of files again."
        )
    for place, footage_id in enumerate(ids):
        library.save_footage(replace(files[footage_id], place=place))
    return library.footage(match_id)


def place_footage(library: Library, footage_id: str, starts_us: int | None) -> Footage:
    """Say at which match time a file starts, where there is a gap before it; None joins it to the last."""
    file = replace(library.footage_file(footage_id), starts_us=starts_us)
    before = library.footage_file(footage_id)
    library.save_footage(file)
    try:
        timeline_of(library, file.match)
    except Exception:
        library.save_footage(before)
        raise
    return file


def remove_footage(library: Library, footage_id: str) -> str:
    """Take a file out of its match with what was made from it, into the bin; return the item's id.

    An original that lies elsewhere stays.
    """
    from goodlength.tasks.removal.generated_and_copied_file_removal import derived_files
    from goodlength.tasks.removal.recycle_bin import bin_footage

    file = library.footage_file(footage_id)
    made = derived_files(library, file)
    return bin_footage(library, file, made)


def proxy_reason(library: Library, footage_id: str) -> str | None:
    """Return why the page needs a copy of a file to play it, in words; None where it plays as it is."""
    from goodlength.footage.edit.proxy_video import needs_proxy

    return needs_proxy(probe_file(_original(library.footage_file(footage_id))))


def proxy_path(library: Library, footage_id: str) -> Path:
    """Return where the copy of a file lies, or is to lie."""
    return library_layout.proxy_file(library.folder, footage_id)


def make_proxy(library: Library, footage_id: str, progress: Progress | None = None) -> Path:
    """Make a copy that any browser plays and steps through, and wait for it.

    Raises
    ------
    FootageGone
        If the original is not there.
    NoSpace, Cancelled
        Nothing half-written stays.
    """
    from goodlength.footage.edit import proxy_video

    target = proxy_path(library, footage_id)
    proxy_video.make_proxy(_original(library.footage_file(footage_id)), target, progress)
    note_proxy(library, footage_id)
    return target


def start_proxy(library: Library, footage_id: str, jobs: Jobs, *, short_side: int = 720) -> str:
    """Begin making a proxy in a process of its own; gives the job's id. See `note_proxy`.

    The same reading measures the movement for the rallies.
    """
    from goodlength.footage.edit.proxy_video import proxy_job

    source = _original(library.footage_file(footage_id))
    target = proxy_path(library, footage_id)
    motion = library_layout.motion_file(library.folder, footage_id)
    args = {"src": str(source), "dst": str(target), "short_side": short_side, "motion": str(motion)}
    return jobs.start("proxy", proxy_job, args)


def note_proxy(library: Library, footage_id: str) -> Footage:
    """Take a proxy that has been made into use; called when its job is done, any number of times."""
    target = proxy_path(library, footage_id)
    if not target.is_file():
        raise NotFound(f"There is no copy {target.name} yet. Start it again on the Footage page.")
    updated = replace(library.footage_file(footage_id), proxy=target.relative_to(library.folder).as_posix())
    library.save_footage(updated)
    return updated


def original_path(library: Library, footage_id: str) -> Path:
    """Return where a recording lies; FootageGone where it is not there."""
    return _original(library.footage_file(footage_id))


def _original(file: Footage) -> Path:
    path = file.where
    if file.to_be_found:
        raise FootageGone(to_be_found_words(file.path))
    if not path.is_file():
        raise FootageGone(
            f"The video {path} cannot be found: it was moved or renamed, or its disk is not connected. "
            "Move it back, or add it again on the Footage page. The match log is safe."
        )
    return path


def to_be_found_words(name: str) -> str:
    """Return what to do about a file of a match that came from another machine."""
    return (
        f"The video {name} came with a match from another computer: only its name is known. "
        "Add the file on the match's Footage page; it takes its old place."
    )


@dataclass(frozen=True)
class _Seen:
    """Footage of the library that is the same recording as a file, and the matches it shows."""

    files: tuple[Footage, ...]
    infos: tuple[MatchInfo, ...]


def _known(library: Library, path: Path) -> _Seen:
    """Return where the library knows a file from: by its place, or by its content under another name."""
    from goodlength.footage.media.video_probe import fingerprint

    where = with_home(path).absolute()
    mark = fingerprint(where) if where.is_file() else None
    files, infos = [], []
    for info in library.matches():
        for footage_file in library.footage(info.id):
            proxy = None if footage_file.proxy is None else library.folder / footage_file.proxy
            same = where in (footage_file.where, proxy)
            if same or (mark is not None and footage_file.sha256 == mark):
                files.append(footage_file)
                infos.append(info)
    return _Seen(tuple(files), tuple(infos))


def cut_clip(
    path: str | Path,
    from_s: float,
    to_s: float,
    out: str | Path,
    progress: Progress | None = None,
    *,
    library: Library | None = None,
    library_folder: str | Path | None = None,
    covered: bool = False,
) -> ClipResult:
    """Cut a clip out of a file, exact to the frame, upright, without the original's place and device data.

    Where the library knows the recording, every player of its match must have agreed to clips.

    Parameters
    ----------
    from_s, to_s : float
        The file's own media time, s.
    library, library_folder : optional
        The library to ask about consent; left out, the coach's own where there is one.
    covered : bool
        Make every head unknowable; then nobody need have agreed.

    Raises
    ------
    ConsentMissing
        If a player in a match with this recording has not agreed; nothing is written.
    OutOfRange
        If the span is empty or lies outside the film.
    """
    from goodlength.footage.edit.clip_export import encode_clip

    if library is not None:
        return _cut_known(library, Path(path), (us(from_s), us(to_s)), Path(out), progress, covered)
    opened = _library_if_any(library_folder)
    if opened is None:
        return encode_clip(path, us(from_s), us(to_s), out, heads_covered=covered, progress=progress)
    with opened:
        return _cut_known(opened, Path(path), (us(from_s), us(to_s)), Path(out), progress, covered)


def _library_if_any(folder: str | Path | None) -> Any:
    from goodlength.record.store import Library

    try:
        return Library.open(folder, create=False)
    except NotFound:
        return None


def _cut_known(
    library: Library,
    path: Path,
    span: tuple[int, int],
    out: Path,
    progress: Progress | None,
    covered: bool,
) -> ClipResult:
    from goodlength.footage.edit.clip_export import encode_clip

    seen = _known(library, path)
    for info in () if covered else seen.infos:
        require_consent(players_of(library, info), "clips", f"The clip {out.name}")
    made = encode_clip(path, *span, out, heads_covered=covered, progress=progress)
    for file in seen.files:
        _remember(library, file.match, made.path, None, (made.first_us, made.end_us))
    return made


def cut_rally(
    library: Library,
    match_id: str,
    from_us: int,
    to_us: int,
    out: str | Path | None = None,
    *,
    rally: str | None = None,
    progress: Progress | None = None,
) -> ClipResult:
    """Cut a span of match time out of a match's footage; every player must have agreed to clips.

    Parameters
    ----------
    from_us, to_us : int
        Match time, microseconds.
    out : str or Path, optional
        Left out, a file in the library's own folder of clips; its name holds no person's name.

    Raises
    ------
    ConsentMissing
        If a player has not agreed; nothing is written.
    InputError
        If there is no footage there, or the span lies over two files.
    """
    from goodlength.footage.edit.clip_export import encode_clip

    opened = open_match(library, match_id)
    target = (
        Path(out)
        if out is not None
        else library_layout.clip_file(library.folder, match_id, rally or new_id())
    )
    require_consent(opened.players, "clips", f"The clip {target.name}")
    place, length = _place(opened.timeline, from_us, to_us)
    file = opened.file(place.footage_id)
    made = encode_clip(_original(file), place.media_us, place.media_us + length, target, progress=progress)
    _remember(library, match_id, made.path, rally, (from_us, to_us))
    return made


def _place(timeline: Timeline | None, from_us: int, to_us: int) -> tuple[MediaPosition, int]:
    if timeline is None:
        raise InputError("This match has no video to cut from. Add one on the match's Footage page first.")
    if not 0 <= from_us < to_us:
        raise InputError("A clip must end after it starts. Set the end of the rally first.")
    first, last = timeline.locate(from_us), timeline.locate(to_us - 1)
    if not isinstance(first, MediaPosition) or not isinstance(last, MediaPosition):
        raise InputError(
            "There is no video at that time: it falls in a gap between files, or after the last one."
        )
    if first.footage_id != last.footage_id:
        raise InputError(
            "This clip starts in one file and ends in the next. Cut the part of each file separately, "
            "or move the end before the join."
        )
    return first, to_us - from_us


def _remember(library: Library, match: str, path: str, rally: str | None, span: tuple[int, int]) -> None:
    """Keep where a clip lies, so that it is found and erased with its match; one row a file."""
    there = next((clip for clip in library.clips(match) if clip.path == path), None)
    clip_id = new_id() if there is None else there.id
    library.save_clip(Clip(clip_id, match, path, rally, *span, datetime.now(UTC)))
