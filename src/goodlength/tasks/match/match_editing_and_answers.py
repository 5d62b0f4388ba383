"""Create, edit, delete, list and show matches, and append the coach's answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.errors import InputError, NotFound
from goodlength.files.safe_file_names_from_ids import require_free_name
from goodlength.media_time import UNKNOWN_ZONE, Timeline, local_zone
from goodlength.record.effective_answers import entry_to_redo, entry_to_undo
from goodlength.record.entry_ids_and_timestamps import new_id, utc_now
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import Depth, Entry, EntryKind, Match, MatchInfo
from goodlength.record.player_and_match_display_names import plain_letters, title_of
from goodlength.scoring import Format, Side, Start, check_format, check_start
from goodlength.tasks.match.lazy_match import OpenMatch, open_match, timeline_over

MOST_CLOTHES = 60  # letters of what a player wears

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.record.store.listing.match_list_rows import MatchHead


@dataclass(frozen=True)
class MatchRow:
    """One line of the list of matches."""

    id: str
    title: str
    rallies: int
    event: str
    played_on: date | None
    coached: str  # id of the coached player
    players: tuple[str, str]
    depth: Depth
    demo: bool


@dataclass(frozen=True)
class AppendResult:
    """What became of answers sent in: which were new, and the match opened after them."""

    new: tuple[bool, ...]
    opened: OpenMatch

    @property
    def match(self) -> Match:
        """The match as it stands now."""
        return self.opened.match


def list_matches(library: Library) -> tuple[MatchRow, ...]:
    """Return every match of the library, newest day first."""
    return match_rows_of(library, library.match_heads())


def find_matches(library: Library, words: str = "") -> tuple[MatchHead, ...]:
    """Return the matches in which every word stands in a name, the event or the date, newest day first.

    Examples
    --------
    "vale 2026-03" finds Imogen Vale's matches of March 2026; capitals and accents do not matter.
    """
    wanted = plain_letters(words).split()
    heads = library.match_heads()
    if not wanted:
        return heads
    names = {player.id: player.name for player in library.players()}

    def fits(head: MatchHead) -> bool:
        parts = (*(names[player] for player in head.players), head.event, str(head.played_on or ""))
        text = plain_letters(" ".join(parts))
        return all(word in text for word in wanted)

    return tuple(head for head in heads if fits(head))


def match_rows_of(library: Library, heads: Sequence[MatchHead]) -> tuple[MatchRow, ...]:
    """Return the lines of some matches of the list; one that was just removed is left out."""
    ids = [head.id for head in heads]
    counts, infos = library.counts(ids), library.match_infos(ids)
    players = {player.id: player for player in library.players()}
    return tuple(
        MatchRow(
            info.id,
            title_of(players[info.players[0]], players[info.players[1]]),
            counts[info.id].rallies if info.id in counts else 0,
            info.event,
            info.played_on,
            info.players[info.coached.place],
            info.players,
            info.depth,
            info.demo,
        )
        for info in (infos[match] for match in ids if match in infos)
    )


def timeline_of(library: Library, match_id: str) -> Timeline | None:
    """Return the match time over the files of a match; None without footage that was probed.

    Files are joined in order by the end of their last frames; one placed by hand starts where it was
    placed.
    """
    return timeline_over(library.footage(match_id))


def show_match(library: Library, match_id: str) -> Match:
    """Return a match replayed from its record, with every fault.

    Raises
    ------
    NotFound
        If there is no such match.
    """
    return open_match(library, match_id).match


def new_match(
    library: Library,
    players: tuple[str, str],
    *,
    match_id: str | None = None,
    coached: Side = Side.A,
    event: str = "",
    played_on: date | None = None,
    format: Format | None = None,
    start: Start | None = None,
    depth: Depth = Depth.SERVE,
    observer: str = "coach",
    zone: str | None = None,
    **details: Any,
) -> MatchInfo:
    """Begin a match between two players of the library.

    Parameters
    ----------
    players : (str, str)
        Ids of the first- and the second-named player.
    details
        Further parts of `MatchInfo`: tin_height_m, court, ball, ball_warmth, demo.

    Raises
    ------
    RulesError
        If no edition of the rules knows this format or starting score.
    NotFound
        If a player is not in the library.
    InputError
        Both players are the same; or the id is taken, differs from another in capitals only, or is like a
        name that goodlength makes.
    """
    if players[0] == players[1]:
        raise InputError("The two players must differ.")
    info = MatchInfo(
        id=require_free_name(match_id, "the match") if match_id else new_id(),
        players=players,
        coached=coached,
        event=event,
        played_on=played_on,
        format=format or Format(),
        start=start or Start(),
        depth=depth,
        observer=observer,
        zone=zone or local_zone() or UNKNOWN_ZONE,
        **details,
    )
    _check(info)
    if library.match_infos([info.id]):
        raise InputError(
            f"There is a match {info.id!r} already. Choose another id, or change that match.",
            page="This match is in the library already. Open it on the Matches page.",
        )
    library.save_match(info)
    return info


def change_match(library: Library, match_id: str, **changes: Any) -> MatchInfo:
    """Change details of a match; what was recorded stays, and is replayed under the new details.

    Parameters
    ----------
    changes
        Parts of `MatchInfo` by name, such as `event="Tideway Open"`.
    """
    info = library.match_info(match_id)
    fixed = {"id", "footage"} & set(changes)
    unknown = set(changes) - set(info.__dataclass_fields__) | fixed
    if unknown:
        raise InputError(f"{sorted(unknown)[0]!r} is not a detail of a match that can be changed here.")
    changed = replace(info, **changes)
    _check(changed)
    library.save_match(changed)
    return changed


def _check(info: MatchInfo) -> None:
    check_format(info.format)
    check_start(info.format, info.start)
    if not 0.3 <= info.tin_height_m <= 0.6:
        raise InputError(
            f"A tin of {info.tin_height_m:g} m is not known: 0.48 m is the standard, 0.43 m the tour height."
        )
    for words in (info.clothes_a, info.clothes_b):
        if len(words) > MOST_CLOTHES:
            raise InputError(
                f"What a player wears has at most {MOST_CLOTHES} letters, such as “dark blue shirt”; got "
                f"{len(words)}. Shorten it."
            )


def remove_match(library: Library, match_id: str) -> str:
    """Take a match out of the library, with its record and what was made from its footage.

    It lies in the bin for 30 days, by the id that is returned; the demo's is deleted at once, and nothing is
    returned. Originals added by path stay where they are.
    """
    from goodlength.tasks.removal.generated_and_copied_file_removal import files_only_of, remove_files
    from goodlength.tasks.removal.handout_link_withdrawal import withdraw_links
    from goodlength.tasks.removal.recycle_bin import bin_match

    info = library.match_info(match_id)
    made = files_only_of(library, [match_id])
    withdraw_links(library, match_id)
    if info.demo:
        library.remove_match(match_id)
        remove_files(made)
        return ""
    return bin_match(library, info, made)


def record_answers(library: Library, match_id: str, entries: Sequence[Entry]) -> AppendResult:
    """Write answers down, durable when this returns, and open the match anew.

    Raises as `store_answers` does.
    """
    new = store_answers(library, match_id, entries)
    return AppendResult(new, open_match(library, match_id))


def store_answers(library: Library, match_id: str, entries: Sequence[Entry]) -> tuple[bool, ...]:
    """Write answers down, durable when this returns; give which were new.

    Raises
    ------
    InputError
        If an answer is badly written or belongs to another match; nothing is written.
    Conflict
        If an id already stands for another answer; nothing is written.
    """
    strangers = [entry for entry in entries if entry.match != match_id]
    if strangers:
        raise InputError(
            f"The answer {strangers[0].id} belongs to the match {strangers[0].match!r}, not to {match_id!r}. "
            "Nothing was written.",
            page="Nothing was saved: the answer belongs to another match. Reload the page.",
        )
    return tuple(library.append(entries))


def undo(library: Library, match_id: str, observer: str = "coach", key: str | None = None) -> AppendResult:
    """Take back the newest answer that stands; again and again, without limit.

    Parameters
    ----------
    key : str, optional
        Id for the undo, so that a repeated request takes back one answer only.
    """
    return _step(library, match_id, observer, key, back=True)


def redo(library: Library, match_id: str, observer: str = "coach", key: str | None = None) -> AppendResult:
    """Bring back what the last undo took, as long as nothing else was answered since."""
    return _step(library, match_id, observer, key, back=False)


def _step(library: Library, match_id: str, observer: str, key: str | None, *, back: bool) -> AppendResult:
    entries = library.entries(match_id)
    if key is not None and any(entry.id == key for entry in entries):
        return AppendResult((False,), open_match(library, match_id))
    target = (entry_to_undo if back else entry_to_redo)(entries, observer)
    if target is None:
        raise NotFound("There is nothing to undo." if back else "There is nothing to bring back.")
    pen = EntryWriter(match_id, observer, utc_now(), mark=key)
    step = pen.undo(target)
    return record_answers(library, match_id, [replace(step, id=key) if key else step])


def answer(
    library: Library,
    match_id: str,
    rally: str,
    what: EntryKind,
    value: Any,
    *,
    observer: str = "coach",
    **more: Any,
) -> AppendResult:
    """Write one answer down from Python: `answer(lib, "m1", "r1", What.WINNER, "a")`."""
    entry = EntryWriter(match_id, observer, utc_now()).write(rally, what, value)
    return record_answers(library, match_id, [replace(entry, **more)])
