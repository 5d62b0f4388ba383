"""State of one transfer: a small file beside the bytes that have arrived, so that a restart loses nothing.

```
 begin ──> receiving ──> checking ──> done
               └── no video, no consent ──┴── another hash ──> failed: the bytes are deleted
```

How much has arrived is the length of the bytes: whole pieces only, so a piece cut by a kill does not count.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal, get_args

from goodlength.errors import NotFound
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile

PIECE_BYTES = 4 * 1024 * 1024  # ASSUMED_: lost by a cut, and held in memory, at most; 0.4 s on a 10 MB/s link
TransferPhase = Literal["receiving", "checking", "done", "failed"]
OPEN: tuple[TransferPhase, ...] = ("receiving", "checking")


@dataclass(frozen=True)
class VideoTransfer:
    """A video that is being sent in pieces.

    `size` and `received` count bytes; `checked` is the share of the hash worked out, 0 to 1. `words` say
    what went wrong, or why it waits. `fingerprint` is that of `footage.media.video_probe`, `sha256` the hash
    of the whole file as the sender gave it. `upload` is the file's name once it lies among the uploads,
    `footage` the id under which its match has it.
    """

    id: str
    match: str
    name: str
    size: int
    fingerprint: str
    phase: TransferPhase = "receiving"
    words: str = ""
    sha256: str = ""
    upload: str = ""
    footage: str = ""
    received: int = 0
    checked: float = 0.0

    @property
    def is_open(self) -> bool:
        """Whether more may come."""
        return self.phase in OPEN


def transfer_id(match_id: str, size: int, fingerprint: str) -> str:
    """Return the id of a video's transfer to a match: the same from whichever device it is sent."""
    return hashlib.sha256(f"{match_id}\n{size}\n{fingerprint}".encode()).hexdigest()[:24]


def bytes_file(state: Path) -> Path:
    """Return where the bytes lie that have arrived."""
    return state.with_suffix(".bytes")


def read_transfer(folder: Path, state: Path) -> VideoTransfer:
    """Return a transfer as it stands on the disk.

    Raises
    ------
    NotFound
        There is none, or its file is damaged: it begins again.
    """
    made = _transfer_in(JsonFile(state).shown())
    if made is None:
        raise NotFound("This video is no longer being received. Choose it again to send it.")
    return replace(made, received=_received(folder, state, made))


def _received(folder: Path, state: Path, transfer: VideoTransfer) -> int:
    whole = upload_path(folder, transfer)
    if transfer.phase == "done" or (whole is not None and whole.is_file()):
        return transfer.size
    try:
        length = bytes_file(state).stat().st_size
    except OSError:
        return 0
    return transfer.size if length >= transfer.size else length // PIECE_BYTES * PIECE_BYTES


def upload_path(folder: Path, transfer: VideoTransfer) -> Path | None:
    """Return where the whole video lies among the uploads, or is to lie; None before that is decided."""
    name = Path(transfer.upload).name
    return library_layout.import_file(folder, name) if name else None


def _transfer_in(plain: Mapping[str, Any]) -> VideoTransfer | None:
    """Return the transfer that a file holds; None where it holds none."""
    known = {field.name for field in fields(VideoTransfer)} - {"received", "checked"}
    if set(plain) != known or type(plain["size"]) is not int:
        return None
    texts = all(isinstance(plain[name], str) for name in known - {"size"})
    return VideoTransfer(**plain) if texts and plain["phase"] in get_args(TransferPhase) else None


def write_transfer(state: Path, transfer: VideoTransfer) -> None:
    """Save a transfer, whole or not at all."""
    plain = {name: value for name, value in asdict(transfer).items() if name not in ("received", "checked")}
    JsonFile(state).write(plain)


def append_piece(path: Path, at: int, piece: bytes) -> None:
    """Write a piece at its place and wait until it is on the disk; what stood behind it is cut off."""
    with path.open("r+b", buffering=0) as file:
        file.truncate(at)
        file.seek(at)
        try:
            left = memoryview(piece)
            while left:
                left = left[file.write(left) :]
            os.fsync(file.fileno())
        except OSError:
            file.truncate(at)
            raise
