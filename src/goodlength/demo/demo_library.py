"""Add the demo to a library, and remove it again in one step."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.demo.match import demo_players_and_matches
from goodlength.errors import Cancelled, InputError, NoSpace, NotFound
from goodlength.files import library_layout
from goodlength.files.atomic_write import LEFTOVER, atomic_write, sweep
from goodlength.jobs.job_queue import ACTIVE, read_state
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.record.model import Entry, Footage
from goodlength.record.store import Library

if TYPE_CHECKING:
    from goodlength.demo.film.game_timeline import Filmed

VERSION = 2  # a library with another version's demo gets this one in its place
SETTING, COACHED = "demo", "coached"
FOLDER = "demo"
PRACTICE_PREFIX = "demo-"  # of the ids of what was put into the practice log
FILM, TRUTH, FRAMES = "game-1.mp4", "truth.json", "game-1.frames.npz"
FOOTAGE_ID = "demo-game-1"
NEEDED_BYTES = 60_000_000
STALE_S = 600.0  # an unfinished file untouched this long belongs to nobody
RECORD_SHARE, FILM_SHARE = 0.05, 0.70  # of the work, up to the matches and the film; the rest reads the film
MATCHES = (
    demo_players_and_matches.MATCH,
    demo_players_and_matches.EARLIER,
    demo_players_and_matches.LEFT_HANDER,
)
TRY_FOOTAGE_ID = "demo-game-1-try"


@dataclass(frozen=True)
class Built:
    """What a build left in the library; `new_entries` is 0 where the demo was there already.

    `matches` are those with a record; with the film comes one more, for the coach to log.
    """

    folder: Path
    matches: tuple[str, ...]
    new_entries: int
    film: Path | None
    truth: Path | None


@dataclass(frozen=True)
class Removed:
    """What was taken out; `still_named` names demo players who stay because other matches name them."""

    matches: tuple[str, ...]
    players: tuple[str, ...]
    still_named: tuple[str, ...]
    files: tuple[Path, ...]


def build(
    place_or_library: str | Path | Library, progress: Progress | None = None, footage: bool = True
) -> Built:
    """Add the invented players, matches, the film and a coach's work on it to a library.

    A second call finds them and returns. Matches come first, so that they are there while the film is still
    being made. A build that was interrupted is taken up where it stopped; nothing half-written is left in
    the library.

    Parameters
    ----------
    place_or_library : str, Path or Library
        The library; made where there is none. A program that has it open passes it open: one that opens its
        database a second time and closes it loses its own locks on the file.
    progress : callable (share, words), optional
        Told about once a second of film; what it raises (for instance `Cancelled`) stops the build.
    footage : bool
        False leaves out the film and everything that a coach makes of it.

    Returns
    -------
    Built

    Raises
    ------
    NoSpace
        If the disk has no room for the film.
    """
    tell = progress or _say_nothing
    with _opened(place_or_library, create=True) as library:
        _make_room_for_this_version(library)
        folder = library.folder / FOLDER
        film = folder / FILM
        wants_film = footage and not _film_is_there(library, film)
        wants_work = footage and (wants_film or not _is_coached(library))
        new = 0
        if wants_work or not _records_are_there(library):
            from goodlength.demo.record_entries_of_demo_matches import (
                demo_entries,
                filmed_game,
                random_match_entries,
            )

            tell(0.0, "Making the demo matches")
            filmed = filmed_game()
            new = _write_records(
                library, [demo_entries(filmed), *(random_match_entries(text) for text in MATCHES[1:])]
            )
            library.set_setting(SETTING, {"version": VERSION})
            tell(RECORD_SHARE, "Three invented matches are in the library")
            if wants_film:
                _write_film(library, filmed, folder, tell)
            if wants_work:
                _coach(library, filmed, tell)
                library.set_setting(SETTING, {"version": VERSION, COACHED: True})
        tell(1.0, "The demo is ready")
        there = film.exists()
        return Built(library.folder, MATCHES, new, film if there else None, folder / TRUTH if there else None)


def demo_job(folder: str, *, progress: Progress, cancel: Cancel) -> dict[str, object]:
    """Run `build` as a job."""

    def each(share: float, words: str) -> None:
        if cancel():
            raise Cancelled("The demo was stopped. Add it again and it goes on where it stopped.")
        progress(share, words)

    build(folder, each)
    return {"words": "The demo is ready."}


def _say_nothing(_share: float, _words: str) -> None:
    """For callers who do not listen."""


def is_built(library_folder: str | Path, footage: bool = True) -> bool:
    """Return whether this version's demo is in a library, with film and work if asked; makes no library."""
    try:
        library = Library.open(library_folder, create=False)
    except NotFound:
        return False
    with library:
        film = library.folder / FOLDER / FILM
        whole = _is_coached(library) and _film_is_there(library, film)
        return _is_this_version(library) and _records_are_there(library) and (whole or not footage)


def _is_this_version(library: Library) -> bool:
    known = library.settings().get(SETTING)
    return isinstance(known, dict) and known.get("version") == VERSION


def _is_coached(library: Library) -> bool:
    """Return whether everything that a coach makes of the film was made; a coach may remove any of it."""
    known = library.settings().get(SETTING)
    return isinstance(known, dict) and bool(known.get(COACHED))


def _make_room_for_this_version(library: Library) -> None:
    """Take another version's demo out; a match of the coach's own under a demo id is never touched."""
    infos = {info.id: info for info in library.matches()}
    for match_id in (*MATCHES, demo_players_and_matches.TRY):
        if match_id in infos and not infos[match_id].demo:
            raise InputError(
                f"The library holds a match of your own with the id {match_id!r}, so the demo was not added. "
                "Give the demo a library of its own, with --library and another folder."
            )
    if library.settings().get(SETTING) is not None and not _is_this_version(library):
        _take_out(library)


def _records_are_there(library: Library) -> bool:
    """Return whether all three matches have been written."""
    counts = library.rally_counts()
    return all(counts.get(match_id, 0) > 0 for match_id in MATCHES)


def _film_is_there(library: Library, film: Path) -> bool:
    """Return whether the film was finished, is known to the library, and is as long as it was."""
    known = next((f for f in _footage_of(library) if f.id == FOOTAGE_ID), None)
    return (
        known is not None
        and Path(known.path) == film
        and film.exists()
        and film.stat().st_size == known.size
        and (film.parent / TRUTH).exists()
    )


def _footage_of(library: Library) -> tuple[Footage, ...]:
    if demo_players_and_matches.MATCH not in {info.id for info in library.matches()}:
        return ()
    return library.footage(demo_players_and_matches.MATCH)


def _write_records(library: Library, logs: list[tuple[Entry, ...]]) -> int:
    """Players, matches and entries; what is there already stays as it is. Gives the number of new entries."""
    there = {player.id for player in library.players()}
    for player in demo_players_and_matches.PLAYERS:
        if player.id not in there:
            library.save_player(player)
    known = {info.id for info in library.matches()}
    new = 0
    for match_id, log in zip(MATCHES, logs, strict=True):
        if match_id not in known:
            library.save_match(demo_players_and_matches.info(match_id))
        new += sum(library.append(log))
    return new


def _write_film(library: Library, filmed: Filmed, place: Path, tell: Progress) -> None:
    """The film and its truth beside it, each under another name until it is whole."""
    from goodlength.demo.film.game_timeline import SEED
    from goodlength.demo.film.ground_truth import truth_of
    from goodlength.demo.film.video_writer import write_film
    from goodlength.demo.play.court_camera import CAMERA

    place.mkdir(parents=True, exist_ok=True)
    sweep(place, STALE_S)
    if shutil.disk_usage(place).free < NEEDED_BYTES:
        raise _no_space(place)

    def report(share: float, words: str) -> None:
        tell(RECORD_SHARE + (FILM_SHARE - RECORD_SHARE) * share, f"Making the demo video, {words}")

    try:
        # The truth takes its place first: a film that is there has its truth beside it
        with atomic_write(place / FILM) as part, atomic_write(place / TRUTH) as note:
            write_film(filmed, CAMERA, part, SEED, progress=report)
            truth = truth_of(filmed, CAMERA, demo_players_and_matches.MATCH)
            truth["film"] = {"name": FILM, "bytes": part.stat().st_size}
            note.write_text(json.dumps(truth, separators=(",", ":")), encoding="utf-8")
    except NoSpace as error:
        raise _no_space(place) from error
    _know_film(library, place / FILM, FOOTAGE_ID, demo_players_and_matches.MATCH)


def _no_space(place: Path) -> NoSpace:
    return NoSpace(
        f"The demo's film needs about {NEEDED_BYTES // 1_000_000} MB and the disk of {place} has less. "
        "Its matches are in the library; make room and build the demo again for the film."
    )


def _know_film(library: Library, film: Path, footage_id: str, match_id: str) -> None:
    """Tell the library of the film, as it does of any file."""
    from goodlength.footage.media.video_probe import probe_with_frames

    seen, table = probe_with_frames(film, thorough=False)
    table.save(film.parent / FRAMES)
    state = film.stat()
    library.save_footage(
        Footage(
            footage_id,
            match_id,
            str(film),
            copied=True,
            size=state.st_size,
            mtime_ns=state.st_mtime_ns,
            sha256=seen.fingerprint,
            look=seen.to_json(),
            frames=f"{FOLDER}/{FRAMES}",
            first_us=table.first_us,
            end_us=table.end_us,
        )
    )


def _coach(library: Library, filmed: Filmed, tell: Progress) -> None:
    """Do a coach's work on the film: everything that a page of goodlength can show of a match."""
    from goodlength.demo.coaching import clips_and_handout, demo_film_analysis_run, practice_sessions

    match_id, again = demo_players_and_matches.MATCH, demo_players_and_matches.TRY

    def part(of: float, until: float) -> Progress:
        def report(share: float, words: str) -> None:
            tell(of + (until - of) * share, words)

        return report

    demo_film_analysis_run.read_film(library, match_id, FOOTAGE_ID, part(FILM_SHARE, 0.80))
    demo_film_analysis_run.add_ball(library)
    demo_film_analysis_run.add_paths(library)
    tell(0.80, "Measuring serves")
    demo_film_analysis_run.measure_serves(library, filmed)
    practice_sessions.log_practice(library)
    tell(0.86, "Making clips and the handout")
    clips_and_handout.make_previews(library, FOOTAGE_ID)
    clips_and_handout.show_player(library)
    clips_and_handout.make_page(library)
    if again not in {info.id for info in library.matches()}:
        library.save_match(demo_players_and_matches.info(again))
    _know_film(library, library.folder / FOLDER / FILM, TRY_FOOTAGE_ID, again)
    demo_film_analysis_run.copy_sound(library, FOOTAGE_ID, TRY_FOOTAGE_ID)
    demo_film_analysis_run.read_film(library, again, TRY_FOOTAGE_ID, part(0.94, 0.98))
    demo_film_analysis_run.prepare_draft(library, again)
    clips_and_handout.make_previews(library, TRY_FOOTAGE_ID)


def remove(place_or_library: str | Path | Library) -> Removed:
    """Take the demo out of a library: matches with their record, players, film, and what was made from it.

    Nothing else is touched. A demo player whom the coach put into another match stays and is named.
    """
    with _opened(place_or_library, create=False) as library:
        return _take_out(library)


@contextmanager
def _opened(place_or_library: str | Path | Library, *, create: bool) -> Iterator[Library]:
    """Yield a library, opened and closed here unless it is open already."""
    if isinstance(place_or_library, Library):
        yield place_or_library
        return
    with Library.open(place_or_library, create=create) as library:
        yield library


def _take_out(library: Library) -> Removed:
    there = {info.id for info in library.matches() if info.demo}
    gone = tuple(match_id for match_id in (*MATCHES, demo_players_and_matches.TRY) if match_id in there)
    _forget_jobs(library, gone)
    for match_id in gone:
        tasks.remove_match(library, match_id)
    players: list[str] = []
    still_named: list[str] = []
    logs = library.practice_logs()
    for player in library.players():
        if player.id in {player_item.id for player_item in demo_players_and_matches.PLAYERS}:
            in_a_match = any(player.id in info.players for info in library.matches())
            (still_named if in_a_match else players).append(player.id)
            library.remove_practice(
                [entry.id for entry in logs.get(player.id, ()) if entry.id.startswith(PRACTICE_PREFIX)]
            )
    for player_id in players:
        library.remove_player(player_id)
    library.set_setting(SETTING, None)
    place = library.folder / FOLDER
    files = tuple(path for path in (place / FILM, place / TRUTH, place / FRAMES, *place.glob(f"{LEFTOVER}*")))
    found = tuple(path for path in files if path.exists())
    for path in found:
        path.unlink()
    with suppress(OSError):
        place.rmdir()
    return Removed(gone, tuple(players), tuple(still_named), found)


def _forget_jobs(library: Library, matches: tuple[str, ...]) -> None:
    """Remove the notes of finished long work on the demo's matches and videos."""
    own = {*matches, *(file.id for match_id in matches for file in library.footage(match_id))}
    for note in library_layout.job_folder(library.folder).glob("*.json"):
        job = read_state(note)
        if job is None or job.state in ACTIVE:
            continue
        args = json.dumps(job.args or {})
        if (job.args or {}).get("match") in own or f"/{FOLDER}/{FILM}" in args.replace("\\\\", "/"):
            note.unlink(missing_ok=True)
