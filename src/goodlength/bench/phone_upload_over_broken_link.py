"""Benchmark of a video sent from a phone-size browser over a link that is cut: time, hash, memory.

```
 browser ──> relay on this machine, whose connections are cut ──> page in a process of its own ──> library
```
"""

from __future__ import annotations

import hashlib
import json
import socket
import struct
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import goodlength
from goodlength import tasks
from goodlength.bench.response_times_and_keypresses import page_process
from goodlength.errors import GoodlengthError
from goodlength.files import library_layout
from goodlength.synthetic.numbered_frame_video import Recipe, draw

MATCH = "m1"
DOWN_S = 2.0  # how long the link is down at each cut
BLOCK_BYTES = 1 << 16
POLL_S = 0.05


@dataclass(frozen=True)
class PhoneFigures:
    """What was measured. Memory is that of the server's process in MB, not a number outside Linux.

    `server_mb_before` is what it holds before the phone's page is asked for, `server_mb_peak` the most it
    ever held until the video was added, `server_mb_after` what it holds then. `lost` counts how often the
    phone's page noticed that the link was down.
    """

    gigabytes: float
    cuts: int
    lost: int
    seconds: float
    mb_per_s: float
    hash_equal: bool
    files_stored: int
    server_mb_before: float
    server_mb_peak: float
    server_mb_after: float


class Relay:
    """Pass on what comes to a port of this machine to another, until it is cut."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._up = True
        self._open: set[socket.socket] = set()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self, seconds: float) -> None:
        """Break every connection, and refuse others for some time."""
        self._up = False
        for connection in list(self._open):
            with suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
            connection.close()
        self._open.clear()
        time.sleep(seconds)
        self._up = True

    def close(self) -> None:
        """Take no more connections."""
        self._listening.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listening.accept()
                if not self._up:
                    near.close()
                    continue
                far = socket.create_connection(("127.0.0.1", self._to))
                self._open |= {near, far}
                for source, target in ((near, far), (far, near)):
                    threading.Thread(target=self._pass_on, args=(source, target), daemon=True).start()

    def _pass_on(self, source: socket.socket, target: socket.socket) -> None:
        with suppress(OSError):
            while block := source.recv(BLOCK_BYTES):
                target.sendall(block)
        for connection in (source, target):
            self._open.discard(connection)
            connection.close()


def bench_phone(seed: int = 20261125, gigabytes: float = 1.0, cuts: int = 5) -> PhoneFigures:
    """Send a made-up video of so many gigabytes, the link being cut so often on the way.

    Parameters
    ----------
    seed : int
        Random state of the bytes.
    gigabytes : float
        Size of the file, of 10^9 bytes; a box of random bytes that players skip makes a short video so long.
    cuts : int
        Spread evenly over what arrives.

    Raises
    ------
    GoodlengthError
        The source code with its browser is not there, or the video did not arrive.
    """
    script = Path(goodlength.__file__).resolve().parents[2] / "scripts" / "phone_upload_in_browser.py"
    if not script.is_file():
        raise GoodlengthError(
            "The command bench phone needs the source code with the browser of its tests. Run it there."
        )
    with tempfile.TemporaryDirectory() as place:
        folder, film = Path(place) / "library", Path(place) / "IMG_0001.MOV"
        sent_hash = _write_film(film, round(gigabytes * 1e9), seed)
        with tasks.open_library(folder) as library:
            ids = [tasks.add_player(library, name).id for name in ("Player A", "Player B")]
            tasks.new_match(library, (ids[0], ids[1]), match_id=MATCH)
        with page_process(folder) as (port, process), _relay(port) as relay:
            address = f"http://127.0.0.1:{relay.port}/matches/{MATCH}/phone"
            before = _memory_mb(process, "VmRSS")
            command = [sys.executable, str(script), address, str(film)]
            phone = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
            _cut_on_the_way(relay, folder, film.stat().st_size, cuts, phone)
            output, trouble = phone.communicate()
            memory = before, _memory_mb(process, "VmHWM"), _memory_mb(process, "VmRSS")
        if phone.returncode:
            raise GoodlengthError(f"The browser could not be driven. {trouble.strip()[-400:]}")
        found = json.loads(output)
        if found["ended"] != "done":
            raise GoodlengthError(f"The video did not arrive. The page said: {found['words']}")
        with tasks.open_library(folder) as library:
            stored = [file.where for file in library.footage(MATCH)]
            equal = [_sha256(path) for path in stored] == [sent_hash]
        seconds = float(found["seconds"])
        return PhoneFigures(
            gigabytes,
            cuts,
            int(found["lost"]),
            seconds,
            gigabytes * 1e3 / seconds,
            equal,
            len(stored),
            *memory,
        )


def _cut_on_the_way(relay: Relay, folder: Path, size: int, cuts: int, phone: subprocess.Popen[str]) -> None:
    """Cut the link each time another part of the video has arrived."""
    for n in range(1, cuts + 1):
        while _arrived(folder) < size * n / (cuts + 1):
            if phone.poll() is not None:
                return
            time.sleep(POLL_S)
        relay.cut(DOWN_S)


def _arrived(folder: Path) -> int:
    """Return how many bytes have arrived."""
    found = library_layout.transfer_files(folder, MATCH, "bytes")
    return max((path.stat().st_size for path in found), default=0)


@contextmanager
def _relay(port: int) -> Iterator[Relay]:
    relay = Relay(port)
    try:
        yield relay
    finally:
        relay.close()


def _write_film(path: Path, size: int, seed: int) -> str:
    """Write a video that plays, `size` bytes long; return its SHA-256."""
    draw(path, Recipe(tuple(range(60)), sound=""))
    left = size - path.stat().st_size
    rng = np.random.default_rng(seed)
    with path.open("ab") as file:
        file.write(struct.pack(">I4sQ", 1, b"free", left))
        left -= 16
        while left > 0:
            file.write(rng.bytes(min(left, 1 << 24)))
            left -= 1 << 24
    return _sha256(path)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _memory_mb(process: int, kind: str) -> float:
    """Return memory of a process as the kernel counts it: "VmRSS" now, "VmHWM" the most so far."""
    status = Path("/proc") / str(process) / "status"
    if not status.exists():
        return float("nan")
    lines = status.read_text(encoding="utf-8").splitlines()
    return next((int(line.split()[1]) * 1024 / 1e6 for line in lines if line.startswith(kind)), float("nan"))
