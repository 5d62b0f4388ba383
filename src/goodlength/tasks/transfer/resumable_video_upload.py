"""Receive a video in pieces, resume after any break, check it by hash, and add it to its match.

Each piece carries its SHA-256, and the whole file its own, worked out again from the disk at the end. A piece
that was sent twice changes nothing; one out of order is refused with the place to go on from. The same video
from two devices is one transfer.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import (
    Conflict,
    ConsentMissing,
    GoodlengthError,
    InputError,
    NoSpace,
    NotFootage,
    NotFound,
    StoreError,
    disk_trouble,
)
from goodlength.files import library_layout
from goodlength.files.atomic_write import put_in_place
from goodlength.files.copied_in_file_destination import safe_name, target_for
from goodlength.files.locked_json_file import exclusive
from goodlength.tasks.footage.footage_import_and_proxies import add_footage
from goodlength.tasks.transfer.video_transfer_state_file import (
    VideoTransfer,
    append_piece,
    bytes_file,
    read_transfer,
    transfer_id,
    upload_path,
    write_transfer,
)
from goodlength.tasks.transfer.video_upload_admission_rules import (
    check_beginning,
    check_piece,
    check_room,
    refuse_known,
    require_no_refusal,
)

if TYPE_CHECKING:
    from goodlength.record.model import Footage
    from goodlength.record.store import Library

READ_BYTES = 4 * 1024 * 1024
CLOSING_S = 10.0
ASSUMED_IDLE_S = 20.0  # a piece takes a second or less: after this nobody sends
_ID = re.compile(r"[0-9a-f]{24}")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_FULL = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})


class VideoTransfers:
    """The videos that are being sent to a library; thread-safe.

    Parameters
    ----------
    library : Library
        Where they go.
    added : callable, optional
        Given each video once its match has it, such as to begin a copy that plays.
    """

    def __init__(self, library: Library, added: Callable[[Footage], None] | None = None) -> None:
        self.library = library
        self._added = added
        self._guard = threading.Lock()
        self._turns: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
        self._checked: dict[str, float] = {}
        self._threads: dict[str, threading.Thread] = {}
        self._closing = threading.Event()

    def begin(self, match_id: str, name: str, size: int, fingerprint: str) -> VideoTransfer:
        """Begin to receive a video for a match, or go on with what has arrived of it.

        Parameters
        ----------
        name : str
            The file's name on the other device; made safe.
        size : int
            Bytes, 1 to `ASSUMED_MOST_BYTES`.
        fingerprint : str
            As by `footage.media.video_probe.fingerprint`: a video that the library has is told by it.

        Raises
        ------
        NotFound
            There is no such match.
        InputError, OutOfRange
            The file is empty or too large, or the fingerprint is none.
        ConsentMissing
            A player's consent was withdrawn, has expired, or does not include the record.
        Conflict
            The library has this video, or too many are being sent.
        NoSpace
            The disk has too little space for all that is being sent.
        """
        library, named = self.library, safe_name(name)
        info = library.match_info(match_id)
        check_beginning(named, size, fingerprint)
        require_no_refusal(library, info)
        refuse_known(library, info, fingerprint, size)
        state = library_layout.transfer_file(
            library.folder, match_id, transfer_id(match_id, size, fingerprint)
        )
        with self._turn(state.stem.rpartition(".")[2]), exclusive(state.parent):
            there = self._read(state)
            if there is not None and there.is_open:
                return there
            self._check_room(size)
            bytes_file(state).unlink(missing_ok=True)
            bytes_file(state).touch()
            made = VideoTransfer(transfer_id(match_id, size, fingerprint), match_id, named, size, fingerprint)
            write_transfer(state, made)
        return made

    def transfer(self, an_id: str) -> VideoTransfer:
        """Return how far a transfer is.

        Raises
        ------
        NotFound
            It was stopped, waited too long, or its match was removed.
        """
        found = read_transfer(self.library.folder, self._state(an_id))
        return replace(found, checked=self._checked.get(an_id, 0.0))

    def of_match(self, match_id: str) -> tuple[VideoTransfer, ...]:
        """Return every transfer to a match, the newest last."""
        paths = library_layout.transfer_files(self.library.folder, match_id, "json")
        found = [transfer for path in _by_age(paths) if (transfer := self._read(path)) is not None]
        return tuple(replace(item, checked=self._checked.get(item.id, 0.0)) for item in found)

    def under_way(self, size: int, fingerprint: str) -> VideoTransfer | None:
        """Return the transfer of a video that has begun to arrive, to any match; None where none has."""
        for path in _by_age(library_layout.transfer_folder(self.library.folder).glob("*.json")):
            found = self._read(path)
            if found is not None and found.is_open and (found.size, found.fingerprint) == (size, fingerprint):
                return found
        return None

    def waits_for_sender(self, match_id: str) -> bool:
        """Return whether a video has arrived in part, and nothing of it came for a while."""
        for path in library_layout.transfer_files(self.library.folder, match_id, "json"):
            found = self._read(path)
            with suppress(OSError):
                idle = time.time() - path.stat().st_mtime > ASSUMED_IDLE_S
                if found is not None and found.phase == "receiving" and idle:
                    return True
        return False

    def take_piece(self, an_id: str, at: int, piece: bytes, sha256: str) -> VideoTransfer:
        """Save one piece; what was saved before is left as it is.

        Parameters
        ----------
        at : int
            Where it begins in the file, bytes; pieces have `PIECE_BYTES`, the last one what is left.
        sha256 : str
            Of the piece, in hexadecimal digits.

        Raises
        ------
        NotFound
            There is no such transfer.
        Conflict
            It is not the next piece; the transfer has ended.
        InputError
            Its length or its hash is another.
        ConsentMissing
            Consent ended meanwhile; what had arrived is deleted.
        NotFootage
            The first piece shows that it is no video; it is deleted.
        NoSpace
            The disk is full; what had arrived before stays.
        """
        with self._turn(an_id):
            transfer, state = self.transfer(an_id), self._state(an_id)
            if transfer.phase == "failed":
                raise Conflict(transfer.words)
            if transfer.phase != "receiving" or at < transfer.received:
                return transfer
            self._hold_to_consent(transfer, state)
            check_piece(transfer, at, piece, sha256)
            try:
                if at == 0:
                    bytes_file(state).touch()
                append_piece(bytes_file(state), at, piece)
                os.utime(state)
            except FileNotFoundError:
                return self.transfer(an_id)  # removed meanwhile: says so
            except OSError as error:
                raise _not_written(error, transfer) from error
            if at == 0:
                self._check_first(transfer, state)
            return self.transfer(an_id)

    def finish(self, an_id: str, sha256: str, *, wait: bool = False) -> VideoTransfer:
        """Check a video that has arrived, and add it to its match, in the background.

        Any number of times: a check that was interrupted begins again.

        Parameters
        ----------
        sha256 : str
            Of the whole file, as the sender worked it out.
        wait : bool
            Return when all is done.

        Raises
        ------
        NotFound, ConsentMissing
            As for a piece.
        InputError
            That is no SHA-256.
        Conflict
            Something is still missing.
        """
        if not _SHA256.fullmatch(sha256):
            raise InputError(
                "The hash of the video cannot be read. Reload the page and send the video again."
            )
        with self._turn(an_id):
            transfer, state = self.transfer(an_id), self._state(an_id)
            if not transfer.is_open:
                return transfer
            if transfer.received < transfer.size:
                missing = transfer.size - transfer.received
                raise Conflict(f"{missing:,} bytes of the video are still missing. Keep this page open.")
            self._hold_to_consent(transfer, state)
            if an_id not in self._threads:
                write_transfer(state, replace(transfer, phase="checking", sha256=sha256, words=""))
                self._start_check(an_id)
            thread = self._threads.get(an_id)
        if wait and thread is not None:
            thread.join()
        return self.transfer(an_id)

    def cancel(self, an_id: str) -> None:
        """Stop a transfer and delete what has arrived; one that has ended is only taken from the list.

        Raises
        ------
        NotFound
            There is no such transfer.
        Conflict
            The video is being checked.
        """
        with self._turn(an_id):
            transfer, state = self.transfer(an_id), self._state(an_id)
            if an_id in self._threads:
                raise Conflict("The video has arrived and is being checked. Remove it on the Footage page.")
            self._delete_bytes(state, transfer)
            state.unlink(missing_ok=True)

    def resume(self) -> int:
        """Check what had arrived whole when the program ended; return how many videos that is."""
        count = 0
        for state in _by_age(library_layout.transfer_folder(self.library.folder).glob("*.json")):
            transfer = self._read(state)
            if transfer is not None and transfer.phase == "checking":
                with suppress(GoodlengthError):
                    self.finish(transfer.id, transfer.sha256)
                    count += 1
        return count

    def close(self) -> None:
        """Stop checking; it begins again at the next start."""
        self._closing.set()
        for thread in list(self._threads.values()):
            thread.join(CLOSING_S)

    def _turn(self, an_id: str) -> threading.Lock:
        with self._guard:
            return self._turns[an_id]

    def _state(self, an_id: str) -> Path:
        """Return the file of a transfer, by its id alone."""
        home = library_layout.transfer_folder(self.library.folder)
        found = sorted(home.glob(f"*.{an_id}.json")) if _ID.fullmatch(an_id) else []
        return found[0] if found else home / "none.json"

    def _read(self, state: Path) -> VideoTransfer | None:
        try:
            return read_transfer(self.library.folder, state)
        except NotFound:
            return None

    def _check_room(self, size: int) -> None:
        home = library_layout.transfer_folder(self.library.folder)
        known = [transfer for path in home.glob("*.json") if (transfer := self._read(path)) is not None]
        check_room(home, size, [transfer for transfer in known if transfer.is_open])

    def _hold_to_consent(self, transfer: VideoTransfer, state: Path) -> None:
        """Pass while nobody refuses; else nothing of the video stays."""
        try:
            require_no_refusal(self.library, self.library.match_info(transfer.match))
        except ConsentMissing as error:
            self._fail(state, transfer, error.page_words)
            raise

    def _check_first(self, transfer: VideoTransfer, state: Path) -> None:
        from goodlength.footage.media.video_file_opening_or_rejection import check_head

        path = bytes_file(state)
        try:
            check_head(path)
        except NotFootage as error:
            words = error.page_words.replace(path.name, transfer.name)
            self._fail(state, transfer, words)
            raise NotFootage(words) from error

    def _fail(self, state: Path, transfer: VideoTransfer, words: str) -> None:
        """Delete what has arrived, and say why."""
        self._delete_bytes(state, transfer)
        if state.is_file():
            write_transfer(state, replace(transfer, phase="failed", words=words, upload=""))

    def _delete_bytes(self, state: Path, transfer: VideoTransfer) -> None:
        bytes_file(state).unlink(missing_ok=True)
        whole = upload_path(self.library.folder, transfer)
        if whole is not None and transfer.phase != "done":
            whole.unlink(missing_ok=True)

    def _start_check(self, an_id: str) -> None:
        thread = threading.Thread(
            target=self._check, args=(an_id,), name="goodlength video check", daemon=True
        )
        self._threads[an_id] = thread
        thread.start()

    def _check(self, an_id: str) -> None:
        """Compare the hash, give the file its name, and add it to its match."""
        state = self._state(an_id)
        try:
            transfer = read_transfer(self.library.folder, state)
            try:
                self._add(state, transfer)
            except (StoreError, OSError) as error:
                self._wait(state, error)
            except GoodlengthError as error:
                self._fail(state, self._read(state) or transfer, error.page_words)
        except NotFound:
            pass  # stopped, or its match was removed
        finally:
            with self._guard:
                self._threads.pop(an_id, None)
                self._checked.pop(an_id, None)

    def _add(self, state: Path, transfer: VideoTransfer) -> None:
        from goodlength.footage.media.video_probe import fingerprint

        folder, library = self.library.folder, self.library
        whole = upload_path(folder, transfer)
        if whole is None or not whole.is_file():
            if not self._is_as_sent(transfer, bytes_file(state)):
                return
            whole = whole or target_for(folder, transfer.name)
            transfer = replace(transfer, upload=whole.name)
            write_transfer(state, transfer)
            whole.parent.mkdir(parents=True, exist_ok=True)
            put_in_place(bytes_file(state), whole)
        info = library.match_info(transfer.match)
        require_no_refusal(library, info)
        refuse_known(library, info, fingerprint(whole), transfer.size, but=whole)
        made = add_footage(library, transfer.match, whole, copied=True)
        write_transfer(state, replace(transfer, phase="done", words="", footage=made.id))
        if self._added is not None:
            with suppress(GoodlengthError):  # the match has it; a copy can be asked for on the page
                self._added(made)

    def _is_as_sent(self, transfer: VideoTransfer, path: Path) -> bool:
        """Return whether the whole file has the sender's hash; False when the program closes before."""
        digest, done = hashlib.sha256(), 0
        with path.open("rb") as file:
            while block := file.read(READ_BYTES):
                if self._closing.is_set():
                    return False
                digest.update(block)
                done += len(block)
                self._checked[transfer.id] = done / transfer.size
        if digest.hexdigest() != transfer.sha256:
            raise InputError(
                f"{transfer.name} did not arrive as it was sent: its hash (SHA-256) differs. What arrived "
                "was deleted. Send the video again; it is still on the phone."
            )
        return True

    def _wait(self, state: Path, error: Exception) -> None:
        """Keep what has arrived: the check can be asked for again once the disk is well."""
        transfer = self._read(state)
        if transfer is not None:
            trouble = error if isinstance(error, GoodlengthError) else _not_written(error, transfer)
            write_transfer(state, replace(transfer, phase="receiving", words=trouble.page_words))


def _by_age(paths: Iterable[Path]) -> list[Path]:
    aged = []
    for path in paths:
        with suppress(OSError):
            aged.append((path.stat().st_mtime, path))
    return [path for _, path in sorted(aged)]


def _not_written(error: Exception, transfer: VideoTransfer) -> GoodlengthError:
    if isinstance(error, OSError) and error.errno in _FULL:
        return NoSpace(
            f"The disk of the computer is full. {transfer.received / 1e6:,.0f} MB of {transfer.name} have "
            "arrived and are safe. Free some space on the computer, then continue."
        )
    trouble = disk_trouble(error) if isinstance(error, OSError) else None
    return trouble or NoSpace(
        f"The computer cannot save {transfer.name} ({error}). What has arrived is safe. Check the disk, then "
        "continue."
    )
