"""A new match that begins with its video: made before anybody has named the players."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Any

from goodlength.errors import GoodlengthError, NotFound
from goodlength.record.model import EntryKind, MatchInfo, Player
from goodlength.tasks.footage.stored_video_probe import recorded_day
from goodlength.tasks.match.match_editing_and_answers import change_match, new_match, remove_match
from goodlength.tasks.people.player_records_and_consent import add_player, players_named, players_of
from goodlength.tasks.preparation.preparation_request_file import note_begin, read_state

if TYPE_CHECKING:
    from goodlength.record.model import Footage
    from goodlength.record.store import Library
    from goodlength.tasks.transfer.resumable_video_upload import VideoTransfers
    from goodlength.tasks.transfer.video_transfer_state_file import VideoTransfer

UNNAMED = ("Unnamed player 1", "Unnamed player 2")


def begin_match_from_video(
    library: Library,
    transfers: VideoTransfers,
    name: str,
    size: int,
    fingerprint: str,
    *,
    observer: str = "coach",
    zone: str | None = None,
) -> VideoTransfer:
    """Make a match for a video and begin to receive it, or go on with one that has arrived in part.

    Parameters
    ----------
    name, size, fingerprint
        Of the video, as for `VideoTransfers.begin`.

    Raises
    ------
    GoodlengthError
        As `VideoTransfers.begin`; then no match is made.
    """
    there = transfers.under_way(size, fingerprint)
    if there is not None:
        with suppress(NotFound):
            library.match_info(there.match)
            note_begin(library.folder, there.match)
            return there
    pair = _unnamed_players(library)
    info = new_match(library, pair, observer=observer, zone=zone)
    try:
        sent = transfers.begin(info.id, name, size, fingerprint)
        note_begin(library.folder, info.id)
    except BaseException:
        library.remove_match(info.id)
        remove_unused_names(library)
        raise
    return sent


def is_unnamed(players: tuple[Player, Player]) -> bool:
    """Return whether a match still waits for a player's name."""
    return any(player.name in UNNAMED for player in players)


def remove_unused_names(library: Library) -> None:
    """Remove the stand-ins for players without a name that no match needs any more."""
    for player in library.players():
        if player.name in UNNAMED and not library.match_heads(player.id):
            with suppress(GoodlengthError):  # a match was made with it meanwhile
                library.remove_player(player.id)


def change_match_by_names(
    library: Library, match_id: str, names: tuple[str, str], **details: Any
) -> MatchInfo:
    """Change the players of a match by name, and its details; a player who is not known yet is added.

    Raises
    ------
    NotFound, InputError, RulesError
        As `change_match`.
    """
    library.match_info(match_id)
    with players_named(library, names) as pair:
        changed = change_match(library, match_id, players=pair, **details)
    remove_unused_names(library)
    return changed


def abandon_match_from_video(library: Library, transfers: VideoTransfers, match_id: str) -> bool:
    """Remove a match whose video never came and of which nothing is recorded; return whether it was removed.

    A match that somebody has named goes to the bin, from which it can be put back.
    """
    info = library.match_info(match_id)
    state = read_state(library.folder, match_id)
    arriving = any(sent.is_open for sent in transfers.of_match(match_id))
    logged = any(entry.what is not EntryKind.MATCH for entry in library.entries(match_id))
    if not state.wanted or arriving or library.footage(match_id) or logged:
        return False
    if is_unnamed(players_of(library, info)):
        _remove_empty(library, match_id)
    else:
        remove_match(library, match_id)
    return True


def _remove_empty(library: Library, match_id: str) -> None:
    """Remove a match that holds nothing, without the bin: there is nothing to put back."""
    from goodlength.files import library_layout

    library.remove_match(match_id)
    for path in library_layout.match_files(library.folder, match_id):
        path.unlink(missing_ok=True)
    remove_unused_names(library)


def date_from_video(library: Library, added: Footage) -> MatchInfo:
    """Take a match's date from its video, where it has none and the video says when it was recorded."""
    info = library.match_info(added.match)
    day = recorded_day(added)
    if info.played_on is None and day is not None and read_state(library.folder, info.id).wanted:
        return change_match(library, info.id, played_on=day)
    return info


def _unnamed_players(library: Library) -> tuple[str, str]:
    known = {player.name: player.id for player in library.players()}
    first, second = (known.get(name) or add_player(library, name).id for name in UNNAMED)
    return first, second
