"""Conditions of a transfer: consent, a video that the library has already, limits, the next piece."""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import Conflict, ConsentMissing, InputError, NoSpace, OutOfRange
from goodlength.files.copied_in_file_destination import SPARE_BYTES
from goodlength.record.player_and_match_display_names import title_of
from goodlength.tasks.people.player_records_and_consent import has_agreed, players_of
from goodlength.tasks.transfer.video_transfer_state_file import PIECE_BYTES, VideoTransfer

if TYPE_CHECKING:
    from goodlength.record.model import MatchInfo
    from goodlength.record.store import Library

# Our own choice: an hour and a half at 4K and 60 frames a second is about 40 GB
ASSUMED_MOST_BYTES = 100_000_000_000
ASSUMED_MOST_OPEN = 6
_FINGERPRINT = re.compile(r"[0-9a-f]{32}")


def require_no_refusal(library: Library, info: MatchInfo) -> None:
    """Pass unless a player's saved consent does not hold for the record today; who was never asked passes.

    Raises
    ------
    ConsentMissing
        It was withdrawn, has expired, or was given for other purposes only.
    """
    refusing = [
        player
        for player in players_of(library, info)
        if player.consent is not None and not has_agreed(player, "record")
    ]
    if refusing:
        names = " and ".join(player.name for player in refusing)
        raise ConsentMissing(
            f"This video cannot be received: the consent of {names} for the record has expired or was "
            "withdrawn. Nothing of it stays on the computer; the phone still has it. Ask for consent (for a "
            "junior, a parent gives it), save it on the player's page, then send the video again."
        )


def refuse_known(
    library: Library, info: MatchInfo, fingerprint: str, size: int, *, but: Path | None = None
) -> None:
    """Pass unless the library has a video of this content, and the file is there.

    Parameters
    ----------
    but : Path, optional
        The file itself, which may have been added already.

    Raises
    ------
    Conflict
        It has, in this match or another.
    """
    footage, _ = library.footage_and_clips()
    same = [
        file
        for file in footage
        if file.sha256 == fingerprint and file.size == size and file.where.is_file() and file.where != but
    ]
    if any(file.match == info.id for file in same):
        raise Conflict("This video is already in this match. It was not stored twice.")
    if same:
        title = title_of(*players_of(library, library.match_info(same[0].match)))
        raise Conflict(
            f"This video is already in the library, in the match {title}. It was not stored twice. To use it "
            "here, remove it from that match first."
        )


def check_beginning(name: str, size: int, fingerprint: str) -> None:
    """Pass when a video of this size can be sent.

    Raises
    ------
    InputError, OutOfRange
        It is empty or too large, or its fingerprint is none.
    """
    if size == 0:
        raise InputError(f"{name} is empty, so nothing was sent. Check it on the phone.")
    if not 0 < size <= ASSUMED_MOST_BYTES:
        raise OutOfRange(
            f"{name} has {size:,} bytes. A video of 1 byte to {ASSUMED_MOST_BYTES / 1e9:.0f} GB can be sent."
        )
    if not _FINGERPRINT.fullmatch(fingerprint):
        raise InputError("The fingerprint of the video cannot be read. Reload the page and choose it again.")


def check_piece(transfer: VideoTransfer, at: int, piece: bytes, sha256: str) -> None:
    """Pass when a piece is the next one and arrived as it was sent.

    Raises
    ------
    Conflict
        It is not the next one.
    InputError
        Its length or its hash is another.
    """
    if at != transfer.received:
        raise Conflict(
            f"A piece at byte {at:,} was sent; the next one is at {transfer.received:,}. Nothing was changed."
        )
    wanted = min(PIECE_BYTES, transfer.size - at)
    if len(piece) != wanted:
        raise InputError(
            f"A piece of {len(piece):,} bytes arrived where {wanted:,} were expected. It was not saved; send "
            "it again."
        )
    if hashlib.sha256(piece).hexdigest() != sha256:
        raise InputError("A piece changed on its way (its hash differs). It was not saved; send it again.")


def check_room(home: Path, size: int, waiting: Sequence[VideoTransfer]) -> None:
    """Pass when one more video may be sent and has space beside what the others still need.

    Raises
    ------
    Conflict
        `ASSUMED_MOST_OPEN` are being received already.
    NoSpace
        The disk would be full.
    """
    if len(waiting) >= ASSUMED_MOST_OPEN:
        raise Conflict(
            f"{len(waiting)} videos are being received already, which is the most at a time. Finish or "
            "stop one of them on the Footage page of its match, then send this one."
        )
    promised = sum(transfer.size - transfer.received for transfer in waiting)
    free = shutil.disk_usage(home).free
    if size + promised + SPARE_BYTES > free:
        others = f", and {promised / 1e9:.1f} GB of it is for videos being received" if promised else ""
        raise NoSpace(
            f"The video has {size / 1e9:.1f} GB and the computer has {free / 1e9:.1f} GB free{others}. "
            "Nothing was sent. Free some space on the computer, then send the video again."
        )
