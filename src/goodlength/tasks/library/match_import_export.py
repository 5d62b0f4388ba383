"""Import and export of matches; an import is previewed before it is done."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import Conflict, InputError, NoSpace, NotFound, UnclearError
from goodlength.files.atomic_write import atomic_write
from goodlength.measure.draft.proposal_acceptance_rates import drafted_rallies, watched_rallies
from goodlength.record.entry_ids_and_timestamps import new_id
from goodlength.record.entry_log_replay import match_from
from goodlength.record.import_export import (
    Document,
    Preview,
    from_csv_preview,
    from_json,
    shots_csv,
    shots_from_csv,
    to_csv,
    to_json,
    to_vtt,
)
from goodlength.record.import_export.coach_annotation_json import drawings_to_plain
from goodlength.record.import_export.match_json_document import used_kinds
from goodlength.record.model import DEFAULT_KINDS, Entry, KindOfServe, MatchInfo, Player
from goodlength.record.player_and_match_display_names import title_of
from goodlength.record.practice_log_entries import practice_to_plain
from goodlength.record.record_json_conversion import entry_to_plain, info_to_plain, player_to_plain
from goodlength.tasks.library.colliding_entry_ids_on_match_merge import with_ids_of_their_own
from goodlength.tasks.match.lazy_match import open_match
from goodlength.tasks.playback.coach_drawings_on_frames import (
    add_drawings,
    drawings_left_out,
    readable_drawings,
)
from goodlength.tasks.removal.recycle_bin import bin_contents

if TYPE_CHECKING:
    from goodlength.record.store import Library

SUFFIXES_OUT = (".json", ".csv", ".vtt")
SUFFIXES_IN = (".json", ".csv", ".txt", ".tsv")
WORKBOOKS = (".xlsx", ".xls", ".ods", ".numbers")
SHOTS_SUFFIX = "-shots.csv"
_MOST_BYTES = 16 * 1024 * 1024  # a match told shot by shot takes about one


@dataclass(frozen=True)
class ImportResult:
    """What an import did, or with `written` false would do.

    `problems` each name their line; where there is any, nothing was written unless asked for.
    `notes` say what was decided on the way, `meanings` what each column was taken for.
    """

    written: bool
    match: str
    title: str
    rallies: int
    entries: int
    new_entries: int
    players_added: tuple[str, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    meanings: tuple[tuple[str, str, bool], ...] = ()
    rows: tuple[str, ...] = ()


@dataclass(frozen=True)
class TableChoice:
    """What the coach says of a table: its columns by heading, its players, and how it writes them.

    `names` are the players' names, "" where the table has them; `written` how the table writes the two.
    """

    columns: Mapping[str, str]
    names: tuple[str, str] = ("", "")
    written: tuple[str, str] = ("", "")

    def mark(self) -> bytes:
        """Return bytes that differ where the choice does."""
        return json.dumps([dict(self.columns), self.names, self.written], sort_keys=True).encode()


@dataclass(frozen=True)
class _Plan:
    """An import ready to be written."""

    document: Document
    players: tuple[Player, ...]
    kinds: tuple[KindOfServe, ...] | None
    result: ImportResult


def document_of(library: Library, match_id: str) -> Document:
    """Return everything kept about one match; of drawings, what can be read."""
    match = open_match(library, match_id)
    return Document(
        match.info,
        match.players,
        used_kinds(match.entries, match.kinds),
        match.entries,
        match.footage,
        readable_drawings(library, match_id),
    )


def export_match(
    library: Library,
    match_id: str,
    to: str | Path,
    *,
    shots: bool = False,
    separator: str = ",",
    decimal: str = ".",
) -> tuple[Path, ...]:
    """Write a match to a file; the ending of its name says which form.

    Parameters
    ----------
    to : str or Path
        FILE.json (everything, can be read back), FILE.csv (a line a rally; where shots were written
        down, FILE-shots.csv beside it) or FILE.vtt (chapters).
    shots : bool
        With .csv: only the table of shots, into this file.

    Returns
    -------
    written : tuple of Path
        Drawings that cannot be read are not in them; `tasks.playback.drawings_left_out` says so.

    Raises
    ------
    InputError
        If the ending is none of these.
    NoSpace
        If the file cannot be written; nothing half-written stays.
    """
    target = Path(to).expanduser()
    if target.suffix.lower() not in SUFFIXES_OUT:
        raise InputError(
            f"The file {target.name!r} should end in .json (everything), .csv (a table) or .vtt (chapters)."
        )
    if target.suffix.lower() == ".json":
        return (_write(target, to_json(document_of(library, match_id)).encode("utf-8")),)
    opened = open_match(library, match_id)
    match, players, kinds = opened.match, opened.players, opened.kinds
    if target.suffix.lower() == ".vtt":
        return (_write(target, to_vtt(match, opened.names, kinds).encode("utf-8")),)
    of_shots = shots_csv(match, players, separator=separator, decimal=decimal)
    if shots:
        return (_write(target, of_shots),)
    watched, drafted = watched_rallies(opened.answers), drafted_rallies(opened.answers)
    table = to_csv(
        match, players, kinds, separator=separator, decimal=decimal, watched=watched, drafted=drafted
    )
    written = [_write(target, table)]
    shots_file = target.with_name(target.stem + SHOTS_SUFFIX)
    if any(rally.shots for rally in match.rallies):
        written.append(_write(shots_file, of_shots))
    return tuple(written)


def export_player(library: Library, player_id: str, to: str | Path) -> Path:
    """Write down everything the library holds on a person, as JSON.

    Details, every consent given or taken back, every match with its record and notes, the practice log, and
    the names of all files that show the person.

    Raises
    ------
    InputError
        If the file does not end in .json.
    """
    from goodlength.tasks.removal.generated_and_copied_file_removal import practice_files_of

    if Path(to).suffix.lower() != ".json":
        raise InputError(f"The file {Path(to).name!r} should end in .json.")
    player = library.player(player_id)
    infos = [info for info in library.matches() if player_id in info.players]
    account: dict[str, Any] = {
        "format": "goodlength person",
        "version": 1,
        "player": player_to_plain(player),
        "consents": [dict(consent) for consent in library.consents(player_id)],
        "matches": [_match_files(library, info) for info in infos],
        "practice": [practice_to_plain(entry) for entry in library.practice(player_id)],
        "files_of_practice": sorted(path.name for path in practice_files_of(library.folder, player_id)),
        "bin": bin_contents(library, player_id),
        "library_copies": [path.name for path in library.copies()],
    }
    text = json.dumps(account, ensure_ascii=False, indent=1) + "\n"
    return _write(Path(to).expanduser(), text.encode("utf-8"))


def _match_files(library: Library, info: MatchInfo) -> dict[str, Any]:
    from goodlength.tasks.removal.generated_and_copied_file_removal import files_only_of
    from goodlength.tasks.sharing.video_session_playlist import review_list

    opened = open_match(library, info.id)
    shown = review_list(opened)
    return {
        "match": info_to_plain(info),
        "title": title_of(*opened.players),
        "entries": [entry_to_plain(entry) for entry in opened.entries],
        "footage": [
            {
                "path": footage_file.path,
                "copied": footage_file.copied,
                "proxy": footage_file.proxy,
                "frames": footage_file.frames,
            }
            for footage_file in opened.footage
        ],
        "clips": [{"path": clip.path, "rally": clip.rally} for clip in library.clips(info.id)],
        "for_the_player": {
            "clips": [asdict(item) for item in shown.items],
            "look_again": None if shown.follow_up is None else shown.follow_up.isoformat(),
            "talks": [{**asdict(talk), "on": talk.on.isoformat()} for talk in shown.talks],
        },
        "drawings": drawings_to_plain(readable_drawings(library, info.id)),
        "left_out": drawings_left_out(library, info.id),
        "files_made": sorted(path.name for path in files_only_of(library, [info.id])),
    }


def _write(target: Path, data: bytes) -> Path:
    """Write whole or not at all."""
    try:
        with atomic_write(target) as part:
            part.write_bytes(data)
    except OSError as error:
        raise NoSpace(
            f"The file {target} cannot be written ({error.strerror or error}). "
            "Choose another place, or free some space."
        ) from error
    return target


def preview_import(library: Library, path: str | Path, **how: Any) -> ImportResult:
    """Return what bringing a file in would do, with every problem by line; nothing is written."""
    return _plan(library, Path(path).expanduser(), **how).result


def import_match(
    library: Library,
    path: str | Path,
    *,
    dry_run: bool = False,
    keep_going: bool = False,
    players: tuple[str, str] | None = None,
    choice: TableChoice | None = None,
) -> ImportResult:
    """Bring a match in from a .json or .csv file; nothing is guessed in silence.

    The same file brought in twice is written once. A match that is already here gets the entries it
    lacks; its details, and those of players, stay as they are here.

    Parameters
    ----------
    dry_run : bool
        Only say what would be done.
    keep_going : bool
        Leave broken lines out instead of refusing the whole; each is named in `problems`.
    players : (str, str), optional
        Ids of the two players, for a table that does not name them.
    choice : TableChoice, optional
        Columns and players of a table as the coach chose them; left out, its headings are goodlength's own.

    Raises
    ------
    NotFound
        If there is no such file.
    InputError
        If the file cannot be read, or has problems and neither `dry_run` nor `keep_going` was asked for.
    Conflict
        If an entry's id stands for another answer in this library; nothing is written.
    """
    plan = _plan(
        library, Path(path).expanduser(), keep_going=keep_going or dry_run, players=players, choice=choice
    )
    if dry_run:
        return plan.result
    problems = plan.result.problems
    if problems and not keep_going:
        more = f"; and {len(problems) - 10} more" if len(problems) > 10 else ""
        raise InputError(
            f"Nothing was written: {'; '.join(problems[:10])}{more}. "
            "Correct these in the file and import it again."
        )
    document = plan.document
    fresh = library.bring_in(
        plan.players, document.info, document.entries, kinds=plan.kinds, footage=document.footage
    )
    if document.drawings:
        add_drawings(library, document.info.id, document.drawings)
    return replace(plan.result, written=True, new_entries=sum(fresh))


def _plan(
    library: Library,
    path: Path,
    *,
    keep_going: bool = True,
    players: tuple[str, str] | None = None,
    choice: TableChoice | None = None,
) -> _Plan:
    data = read_match_file(path)
    if path.suffix.lower() == ".json":
        reading = from_json(data, keep_going=keep_going)
        return _plan_of(library, reading.document, reading.problems, ())
    preview, shots, shot_problems = _read_table(library, path, data, players, choice)
    pair = _players_named(library, preview, players)
    kinds = used_kinds(preview.entries, library.kinds())
    info = replace(preview.info, players=(pair[0].id, pair[1].id))
    document = Document(info, pair, kinds, (*preview.entries, *shots))
    problems = (*preview.problems, *shot_problems)
    plan = _plan_of(library, document, problems, preview.written)
    meanings = tuple((meaning.heading, meaning.words, meaning.read) for meaning in preview.meanings)
    return replace(plan, result=replace(plan.result, meanings=meanings, rows=preview.rows))


def read_match_file(path: Path) -> bytes:
    """Return the bytes of a file to import.

    Raises
    ------
    InputError, NotFound
        If it is not the kind of file that is read, too large, or cannot be read.
    """
    if path.suffix.lower() in WORKBOOKS:
        raise InputError(
            f"The file {path.name!r} is a workbook, which cannot be read as it is. Save its sheet as CSV in "
            "the program that made it and import that, or copy its cells and paste them on the Matches page."
        )
    if path.suffix.lower() not in SUFFIXES_IN:
        raise InputError(f"The file {path.name!r} should end in .json or .csv to be imported as a match.")
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError(
                f"The file {path} is larger than any record of a match ({_MOST_BYTES >> 20} MB)."
            )
        return path.read_bytes()
    except IsADirectoryError:
        raise InputError(f"{path} is a folder; choose a .json or .csv file.") from None
    except FileNotFoundError:
        raise NotFound(f"Cannot find {path}. Check its name and folder.") from None
    except OSError as error:
        raise InputError(f"The file {path} cannot be read ({error.strerror or error}).") from error


def _read_table(
    library: Library,
    path: Path,
    data: bytes,
    players: tuple[str, str] | None,
    choice: TableChoice | None,
) -> tuple[Preview, tuple[Entry, ...], tuple[str, ...]]:
    """Return the rallies, and the shots of the table beside it if there is one."""
    match_id = "csv-" + hashlib.sha256(data + (b"" if choice is None else choice.mark())).hexdigest()[:12]
    names = choice.names if choice is not None and all(choice.names) else None
    if players is not None:
        names = (library.player(players[0]).name, library.player(players[1]).name)
    preview = from_csv_preview(
        data,
        library.kinds(),
        names=names,
        ids=players or ("a", "b"),
        match_id=match_id,
        columns=None if choice is None else choice.columns,
        written=("", "") if choice is None else choice.written,
    )
    shots_file = path.with_name(path.stem + SHOTS_SUFFIX)
    if preview.match is None or not shots_file.is_file():
        return preview, (), ()
    shots, shot_problems = shots_from_csv(
        read_match_file(shots_file), preview.match, preview.names, preview.decimal
    )
    return (
        replace(preview, written=(*preview.written, f"{len(shots)} shots from {shots_file.name} beside it")),
        shots,
        tuple(f"{shots_file.name}, {text}" for text in shot_problems),
    )


def _players_named(
    library: Library, preview: Preview, players: tuple[str, str] | None
) -> tuple[Player, Player]:
    """Return the players of a table: those of the library with these names, else new ones."""
    if players is not None:
        return library.player(players[0]), library.player(players[1])
    found = []
    for name in preview.names:
        same = [player for player in library.players() if player.name.casefold() == name.casefold()]
        if len(same) > 1:
            raise UnclearError(
                f"Two players in this library are called {name!r}. Give one of them another name "
                "on the player's page, or choose who played.",
                command=f"--players A B, with two of the ids {', '.join(player.id for player in same)}",
            )
        found.append(same[0] if same else Player(new_id(), name))
    return found[0], found[1]


def _plan_of(library: Library, document: Document, problems: Sequence[str], notes: Sequence[str]) -> _Plan:
    """Hold a document against the library: what is new, what is already here, what differs."""
    all_notes = list(notes)
    here = {player.id: player for player in library.players()}
    new_players = tuple(player for player in document.players if player.id not in here)
    for player in document.players:
        if player.id in here and here[player.id] != player:
            all_notes.append(f"the player {here[player.id].name} is here already; the details here stay")
    known = {info.id: info for info in library.matches()}
    before = known.get(document.info.id)
    if before is not None and before.players != document.info.players:
        raise Conflict(
            f"A match {document.info.id!r} between other players is in this library already. "
            "Nothing was written. Bring the file into another library with --library.",
            page="Another match with different players uses the same name in this library. Nothing "
            "was written. Import the file into a library of its own.",
        )
    if before is not None:
        all_notes.append(f"the match {before.id} is here already; it gets the entries it lacks")
    here_now = library.entries(before.id) if before is not None else ()
    stored = {entry.id for entry in here_now}
    document = replace(document, entries=with_ids_of_their_own(document.entries, here_now))
    kinds, kind_notes = _kinds_with(library.kinds(), document.kinds)
    document = replace(document, footage=_footage_for(library, document, before))
    players = document.players
    match = match_from(
        document.info, document.entries, (players[0].name, players[1].name), kinds or library.kinds()
    )
    result = ImportResult(
        written=False,
        match=document.info.id,
        title=title_of(*players),
        rallies=len(match.rallies),
        entries=len(document.entries),
        new_entries=sum(1 for entry in document.entries if entry.id not in stored),
        players_added=tuple(player.name for player in new_players),
        problems=tuple(problems),
        notes=(*all_notes, *kind_notes),
    )
    return _Plan(document, new_players, kinds, result)


def _footage_for(library: Library, document: Document, before: MatchInfo | None) -> Any:
    there = set() if before is None else {file.id for file in library.footage(before.id)}
    new = tuple(file for file in document.footage if file.id not in there)
    others = {file.id for info in library.matches() for file in library.footage(info.id)} - there
    if taken := sorted(others & {file.id for file in new}):
        raise Conflict(
            f"The file of footage {taken[0]!r} belongs to another match of this library. Nothing was written."
        )
    return new


def _kinds_with(
    here: Sequence[KindOfServe], coming: Sequence[KindOfServe]
) -> tuple[tuple[KindOfServe, ...] | None, tuple[str, ...]]:
    """Return the library's kinds with those it lacks added, retired: old matches keep their words."""
    known = {kind.id: kind for kind in here}
    notes = [
        f"the kind of serve {kind.id!r} is “{known[kind.id].words}” here and “{kind.words}” in the file; "
        "the words here stay"
        for kind in coming
        if kind.id in known and known[kind.id].words != kind.words
    ]
    added = tuple(KindOfServe(kind.id, kind.words, retired=True) for kind in coming if kind.id not in known)
    if not added:
        return None, tuple(notes)
    words = ", ".join(f"“{kind.words}”" for kind in added)
    notes.append(f"kinds of serve added, and not offered for new rallies: {words}")
    return (*(here or DEFAULT_KINDS), *added), tuple(notes)
