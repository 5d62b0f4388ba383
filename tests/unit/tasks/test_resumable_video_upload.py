"""Videos that arrive in pieces: resumed, sent twice, changed on the way, refused, and never half added."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import struct
import threading
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import (
    Conflict,
    ConsentMissing,
    GoodlengthError,
    InputError,
    NoSpace,
    NotFootage,
    NotFound,
    OutOfRange,
)
from goodlength.files import library_layout
from goodlength.footage.media.video_probe import fingerprint
from goodlength.record.model import MatchInfo, Player
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.transfer import (
    resumable_video_upload,
    video_transfer_state_file,
    video_upload_admission_rules,
)
from goodlength.tasks.transfer.resumable_video_upload import VideoTransfers
from goodlength.tasks.transfer.video_transfer_state_file import PIECE_BYTES, VideoTransfer

NAME = "IMG_0007.MOV"


def padded(path: Path, size: int) -> Path:
    """A video that plays, with a box of random bytes behind it that players skip, `size` bytes long."""
    draw(path, Recipe(tuple(range(30)), sound=""))
    left = size - path.stat().st_size
    with path.open("ab") as file:
        file.write(struct.pack(">I4s", left, b"free") + np.random.default_rng(7).bytes(left - 8))
    return path


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two whole pieces and a part of one."""
    return padded(tmp_path_factory.mktemp("film") / "phone.mov", 2 * PIECE_BYTES + 12_345)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Any]:
    with tasks.open_library(tmp_path / "library") as made:
        for player in (Player("p1", "Petra"), Player("p2", "Opal")):
            made.save_player(player)
        for match_id in ("m1", "m2"):
            made.save_match(MatchInfo(match_id, ("p1", "p2")))
        yield made


@pytest.fixture
def transfers(library: Any) -> Iterator[VideoTransfers]:
    made = VideoTransfers(library)
    yield made
    made.close()


def begin(transfers: VideoTransfers, film: Path, match_id: str = "m1", name: str = NAME) -> VideoTransfer:
    return transfers.begin(match_id, name, film.stat().st_size, fingerprint(film))


def pieces(film: Path) -> list[tuple[int, bytes, str]]:
    data = film.read_bytes()
    cut = [(at, data[at : at + PIECE_BYTES]) for at in range(0, len(data), PIECE_BYTES)]
    return [(at, piece, hashlib.sha256(piece).hexdigest()) for at, piece in cut]


def send(transfers: VideoTransfers, an_id: str, film: Path, only: slice = slice(None)) -> VideoTransfer:
    for at, piece, digest in pieces(film)[only]:
        transfers.take_piece(an_id, at, piece, digest)
    return transfers.transfer(an_id)


def sha256(film: Path) -> str:
    return hashlib.sha256(film.read_bytes()).hexdigest()


def left_in(library: Any) -> list[str]:
    """What lies among the uploads and the bytes of transfers."""
    homes = (library.folder / "uploads", library_layout.transfer_folder(library.folder))
    return [path.name for home in homes for path in sorted(home.glob("*")) if path.suffix != ".json"][:9]


def stray(library: Any) -> list[str]:
    return [name for name in left_in(library) if not name.endswith(".lock")]


def test_a_video_sent_in_pieces_is_the_file_that_was_sent(
    library: Any, transfers: VideoTransfers, film: Path
) -> None:
    begun = begin(transfers, film)
    assert (begun.phase, begun.received) == ("receiving", 0)
    assert send(transfers, begun.id, film, slice(1)).received == PIECE_BYTES
    assert send(transfers, begun.id, film, slice(1, None)).received == film.stat().st_size
    done = transfers.finish(begun.id, sha256(film), wait=True)
    (added,) = library.footage("m1")
    assert (done.phase, done.footage, done.words) == ("done", added.id, "")
    assert added.copied and added.where.parent == library.folder / "uploads"
    assert added.where.name.endswith(NAME)
    assert hashlib.sha256(added.where.read_bytes()).hexdigest() == sha256(film)
    assert stray(library) == [added.where.name]
    assert transfers.finish(begun.id, sha256(film)).phase == "done"  # asked again after a lost answer
    assert transfers.of_match("m1") == (done,)
    assert transfers.of_match("m2") == ()


def test_what_follows_is_told_of_the_video(library: Any, film: Path) -> None:
    added: list[str] = []

    def refusing(footage: Any) -> None:
        added.append(footage.id)
        raise Conflict("another program makes the copies")

    transfers = VideoTransfers(library, refusing)
    an_id = begin(transfers, film).id
    send(transfers, an_id, film)
    assert transfers.finish(an_id, sha256(film), wait=True).phase == "done"
    assert added == [library.footage("m1")[0].id]


def test_it_goes_on_after_a_restart_even_in_the_middle_of_a_piece(library: Any, film: Path) -> None:
    an_id = begin(VideoTransfers(library), film).id
    send(VideoTransfers(library), an_id, film, slice(1))
    state = library_layout.transfer_file(library.folder, "m1", an_id)
    with video_transfer_state_file.bytes_file(state).open("ab") as file:
        file.write(b"half a piece when the power went")
    again = VideoTransfers(library)
    assert begin(again, film).received == PIECE_BYTES
    send(again, an_id, film, slice(1, None))
    assert again.finish(an_id, sha256(film), wait=True).phase == "done"
    assert library.footage("m1")[0].where.read_bytes() == film.read_bytes()


@pytest.mark.parametrize("after", ["the hash was asked for", "the file got its name", "the match had it"])
def test_a_check_that_was_cut_is_done_again(
    library: Any, film: Path, after: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = VideoTransfers(library)
    an_id = begin(first, film).id
    send(first, an_id, film)
    real = resumable_video_upload.add_footage

    def killed(*given: Any, **more: Any) -> Any:
        if after == "the match had it":
            real(*given, **more)
        raise KeyboardInterrupt

    if after == "the hash was asked for":
        first.close()  # the hash is not worked out any more
    else:
        monkeypatch.setattr(resumable_video_upload, "add_footage", killed)
        monkeypatch.setattr(threading, "excepthook", lambda _: None)
    assert first.finish(an_id, sha256(film), wait=True).phase == "checking"
    monkeypatch.undo()
    second = VideoTransfers(library)
    assert second.resume() == 1
    assert second.finish(an_id, sha256(film), wait=True).phase == "done"
    assert [item.where.read_bytes() for item in library.footage("m1")] == [film.read_bytes()]
    assert stray(library) == [library.footage("m1")[0].where.name]
    assert VideoTransfers(library).resume() == 0


def test_a_piece_sent_twice_changes_nothing_and_one_out_of_order_is_refused(
    library: Any, transfers: VideoTransfers, film: Path
) -> None:
    an_id = begin(transfers, film).id
    first, second, third = pieces(film)
    with pytest.raises(Conflict, match=r"the next one is at 0\. Nothing"):
        transfers.take_piece(an_id, *second)
    transfers.take_piece(an_id, *first)
    assert transfers.take_piece(an_id, *first).received == PIECE_BYTES
    other = bytes(PIECE_BYTES)
    assert transfers.take_piece(an_id, 0, other, hashlib.sha256(other).hexdigest()).received == PIECE_BYTES
    with pytest.raises(Conflict, match="the next one is at 4,194,304"):
        transfers.take_piece(an_id, *third)
    with pytest.raises(Conflict, match="still missing"):
        transfers.finish(an_id, sha256(film))
    transfers.take_piece(an_id, *second)
    transfers.take_piece(an_id, *third)
    assert transfers.finish(an_id, sha256(film), wait=True).phase == "done"
    assert transfers.take_piece(an_id, *third).phase == "done"


def test_a_piece_of_another_size_or_hash_is_not_saved(transfers: VideoTransfers, film: Path) -> None:
    an_id = begin(transfers, film).id
    at, piece, digest = pieces(film)[0]
    for wrong, said in (
        (piece[:-1], "bytes arrived where 4,194,304 were expected"),
        (piece + b"x", "bytes arrived where 4,194,304 were expected"),
        (b"", "0 bytes arrived"),
        (piece[:-1] + bytes([piece[-1] ^ 1]), "changed on its way"),
    ):
        with pytest.raises(InputError, match=said):
            transfers.take_piece(an_id, at, wrong, digest)
    for wrong_hash in ("", "x" * 64, digest.upper()):
        with pytest.raises(InputError, match="changed on its way"):
            transfers.take_piece(an_id, at, piece, wrong_hash)
    with pytest.raises(Conflict):
        transfers.take_piece(an_id, 5, piece, digest)
    assert transfers.take_piece(an_id, -1, piece, digest).received == 0
    assert transfers.take_piece(an_id, at, piece, digest).received == PIECE_BYTES


def test_a_video_whose_hash_differs_is_deleted_and_can_be_sent_again(
    library: Any, transfers: VideoTransfers, film: Path
) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film)
    with pytest.raises(InputError, match="hash"):
        transfers.finish(an_id, "no hash")
    failed = transfers.finish(an_id, "0" * 64, wait=True)
    assert failed.phase == "failed"
    assert "its hash (SHA-256) differs" in failed.words
    assert (library.footage("m1"), stray(library), failed.received) == ((), [], 0)
    with pytest.raises(Conflict, match="differs"):
        transfers.take_piece(an_id, *pieces(film)[0])
    assert begin(transfers, film).phase == "receiving"
    send(transfers, an_id, film)
    assert transfers.finish(an_id, sha256(film), wait=True).phase == "done"


@pytest.mark.parametrize(
    ("data", "said"), [(b"hello " * 900, "holds text"), (b"PK\x03\x04" + b"z" * 99, "archive")]
)
def test_what_is_no_video_is_refused_at_its_first_piece(
    library: Any, transfers: VideoTransfers, tmp_path: Path, data: bytes, said: str
) -> None:
    (tmp_path / "x.mp4").write_bytes(data)
    an_id = begin(transfers, tmp_path / "x.mp4").id
    with pytest.raises(NotFootage, match=rf"{NAME} is .*{said}"):
        send(transfers, an_id, tmp_path / "x.mp4")
    assert transfers.transfer(an_id).phase == "failed"
    assert (library.footage("m1"), stray(library)) == ((), [])


def test_what_shows_only_as_a_whole_that_it_is_no_video_is_deleted(
    library: Any, transfers: VideoTransfers, tmp_path: Path
) -> None:
    (tmp_path / "x.mp4").write_bytes(np.random.default_rng(3).bytes(50_000))
    an_id = begin(transfers, tmp_path / "x.mp4").id
    send(transfers, an_id, tmp_path / "x.mp4")
    failed = transfers.finish(an_id, sha256(tmp_path / "x.mp4"), wait=True)
    assert failed.phase == "failed"
    assert failed.words
    assert (library.footage("m1"), stray(library)) == ((), [])


@pytest.mark.parametrize("size", [0, -1, video_upload_admission_rules.ASSUMED_MOST_BYTES + 1])
def test_a_size_that_cannot_be_is_refused(library: Any, transfers: VideoTransfers, size: int) -> None:
    with pytest.raises(InputError, match=r"empty|bytes\. A video of 1 byte"):
        transfers.begin("m1", NAME, size, "0" * 32)
    assert transfers.of_match("m1") == ()


def test_limits_are_told(library: Any, transfers: VideoTransfers, film: Path) -> None:
    with pytest.raises(OutOfRange, match="A video of 1 byte to 100 GB"):
        transfers.begin("m1", NAME, 10**12, "0" * 32)
    with pytest.raises(InputError, match="fingerprint"):
        transfers.begin("m1", NAME, 5, "../../etc/passwd")
    with pytest.raises(NotFound):
        transfers.begin("m9", NAME, 5, "0" * 32)
    for bad in ("", "x", "*", "../library", "0" * 24, "0" * 25):
        with pytest.raises(NotFound, match="no longer being received"):
            transfers.transfer(bad)
    for n in range(video_upload_admission_rules.ASSUMED_MOST_OPEN):
        transfers.begin("m1", NAME, 5, f"{n:032x}")
    with pytest.raises(Conflict, match="6 videos are being received already"):
        begin(transfers, film, "m2")
    transfers.cancel(transfers.of_match("m1")[0].id)
    assert begin(transfers, film, "m2").phase == "receiving"


@pytest.mark.parametrize(
    "name",
    ["../../../etc/passwd", "C:\\Windows\\x.mp4", "\x00\n<b>.mp4", "a" * 500, "", "..", "con", "ä\ud800.mov"],
)
def test_a_hostile_name_lies_among_the_uploads(
    library: Any, transfers: VideoTransfers, film: Path, name: str
) -> None:
    an_id = begin(transfers, film, name=name).id
    send(transfers, an_id, film)
    assert transfers.finish(an_id, sha256(film), wait=True).phase == "done"
    (added,) = library.footage("m1")
    assert added.where.parent == library.folder / "uploads"
    assert added.where.read_bytes() == film.read_bytes()
    assert library_layout.kind_of(added.where.relative_to(library.folder).as_posix()).name == "upload"  # type: ignore[union-attr]


def test_the_same_video_is_not_stored_twice(library: Any, transfers: VideoTransfers, film: Path) -> None:
    tasks.add_footage(library, "m1", film)
    with pytest.raises(Conflict, match="already in this match"):
        begin(transfers, film)
    with pytest.raises(Conflict, match=r"in the match Petra .* Opal"):
        begin(transfers, film, "m2")
    assert transfers.of_match("m1") == ()


def test_a_video_added_meanwhile_is_not_stored_twice(
    library: Any, transfers: VideoTransfers, film: Path
) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film)
    tasks.add_footage(library, "m2", film)
    failed = transfers.finish(an_id, sha256(film), wait=True)
    assert (failed.phase, stray(library)) == ("failed", [])
    assert "already in the library" in failed.words
    assert film.is_file()


def test_a_video_whose_file_is_gone_can_be_sent(
    library: Any, transfers: VideoTransfers, film: Path, tmp_path: Path
) -> None:
    moved = Path(shutil.copy(film, tmp_path / "moved.mov"))
    known = tasks.add_footage(library, "m1", moved)
    moved.unlink()
    an_id = begin(transfers, film).id
    send(transfers, an_id, film)
    assert transfers.finish(an_id, sha256(film), wait=True).footage == known.id


def test_two_phones_send_at_once(library: Any, transfers: VideoTransfers, film: Path, tmp_path: Path) -> None:
    """The same video is one transfer, whoever sends which piece; another goes beside it."""
    other = padded(tmp_path / "other.mov", PIECE_BYTES + 99)
    ids = {begin(transfers, film).id, begin(transfers, film, name="b.mov").id}
    assert len(ids) == 1
    an_id, other_id = ids.pop(), begin(transfers, other).id
    faults: list[GoodlengthError] = []

    def phone() -> None:
        while (now := transfers.transfer(an_id)).received < now.size:
            try:
                transfers.take_piece(an_id, *pieces(film)[now.received // PIECE_BYTES])
            except GoodlengthError as error:
                faults.append(error)

    phones = [threading.Thread(target=phone) for _ in range(3)]
    for thread in phones:
        thread.start()
    send(transfers, other_id, other)
    for thread in phones:
        thread.join()
    assert faults == []
    assert transfers.finish(an_id, sha256(film), wait=True).phase == "done"
    assert transfers.finish(other_id, sha256(other), wait=True).phase == "done"
    assert {item.where.read_bytes() for item in library.footage("m1")} == {
        film.read_bytes(),
        other.read_bytes(),
    }


# The disk


def with_free(monkeypatch: pytest.MonkeyPatch, free: int) -> None:
    usage = type(shutil.disk_usage("."))(10**12, 10**12 - free, free)
    monkeypatch.setattr(video_upload_admission_rules.shutil, "disk_usage", lambda _: usage)


def test_space_is_asked_before_anything_is_sent(
    library: Any, transfers: VideoTransfers, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_free(monkeypatch, 3_000_000_000)
    with pytest.raises(NoSpace, match=r"has 3\.0 GB and the computer has 3\.0 GB free\. Nothing was sent"):
        transfers.begin("m1", NAME, 3_000_000_000, "1" * 32)
    assert transfers.of_match("m1") == ()
    transfers.begin("m1", NAME, 2_000_000_000, "1" * 32)
    with pytest.raises(NoSpace, match=r"2\.0 GB of it is for videos being received"):
        transfers.begin("m1", NAME, 1_000_000_000, "2" * 32)


def test_a_disk_that_fills_up_midway_keeps_what_has_arrived(
    library: Any, transfers: VideoTransfers, film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film, slice(1))

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(video_transfer_state_file.os, "fsync", full)
    with pytest.raises(NoSpace, match=r"disk of the computer is full\. 4 MB of IMG_0007\.MOV have arrived"):
        send(transfers, an_id, film, slice(1, 2))
    monkeypatch.undo()
    state = library_layout.transfer_file(library.folder, "m1", an_id)
    assert video_transfer_state_file.bytes_file(state).stat().st_size == PIECE_BYTES
    assert send(transfers, an_id, film, slice(1, None)).received == film.stat().st_size

    def no_room(*_: Any, **__: Any) -> None:
        raise NoSpace("could not write the table of frames: the disk is full.")

    monkeypatch.setattr(resumable_video_upload, "add_footage", no_room)
    waits = transfers.finish(an_id, sha256(film), wait=True)
    assert (waits.phase, waits.received) == ("receiving", film.stat().st_size)
    assert "the disk is full" in waits.words
    monkeypatch.undo()
    assert transfers.finish(an_id, sha256(film), wait=True).phase == "done"


# Consent


def agree(library: Any, **more: Any) -> None:
    tasks.consent(library, "p1", given_by="Petra", **more)


@pytest.mark.parametrize("how", ["withdrawn", "expired", "for clips only"])
def test_consent_that_does_not_hold_refuses_a_video(
    library: Any, transfers: VideoTransfers, film: Path, how: str
) -> None:
    if how == "withdrawn":
        agree(library)
        tasks.withdraw_consent(library, "p1")
    elif how == "expired":
        day = date.today() - timedelta(days=30)
        agree(library, when=day, until=day + timedelta(days=3))
    else:
        agree(library, purposes=("clips",))
    with pytest.raises(ConsentMissing, match="the consent of Petra for the record"):
        begin(transfers, film)
    assert transfers.of_match("m1") == ()


@pytest.mark.parametrize("when", ["a piece", "the end"])
def test_consent_withdrawn_midway_leaves_nothing(
    library: Any, transfers: VideoTransfers, film: Path, when: str
) -> None:
    agree(library)
    an_id = begin(transfers, film).id
    send(transfers, an_id, film, slice(1 if when == "a piece" else 3))
    tasks.withdraw_consent(library, "p1")
    with pytest.raises(ConsentMissing, match="Nothing of it stays on the computer"):
        if when == "a piece":
            send(transfers, an_id, film, slice(1, 2))
        else:
            transfers.finish(an_id, sha256(film))
    assert (library.footage("m1"), stray(library)) == ((), [])
    assert transfers.transfer(an_id).phase == "failed"
    tasks.give_consent_back(library, "p1")
    assert begin(transfers, film).received == 0


# Stopped, removed, abandoned


def test_a_stopped_transfer_leaves_nothing(library: Any, transfers: VideoTransfers, film: Path) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film, slice(1))
    transfers.cancel(an_id)
    assert (stray(library), transfers.of_match("m1")) == ([], ())
    with pytest.raises(NotFound, match="no longer being received"):
        send(transfers, an_id, film, slice(1, 2))


def test_a_listed_end_is_cleared_and_the_video_stays(
    library: Any, transfers: VideoTransfers, film: Path
) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film)
    transfers.finish(an_id, sha256(film), wait=True)
    transfers.cancel(an_id)
    assert transfers.of_match("m1") == ()
    assert library.footage("m1")[0].where.is_file()


def test_a_removed_match_takes_its_transfers_along_and_brings_them_back(
    library: Any, transfers: VideoTransfers, film: Path
) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film, slice(1))
    tasks.remove_match(library, "m1")
    assert stray(library) == []
    with pytest.raises(NotFound):
        send(transfers, an_id, film, slice(1, 2))
    tasks.take_from_bin(library, tasks.bin_items(library)[0].id)
    assert transfers.transfer(an_id).received == PIECE_BYTES


@pytest.mark.parametrize(("age_days", "left"), [(2.5, 1), (3.5, 0)])
def test_parts_are_deleted_after_three_days(
    library: Any, transfers: VideoTransfers, film: Path, age_days: float, left: int
) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film, slice(1))
    state = library_layout.transfer_file(library.folder, "m1", an_id)
    then = time.time() - age_days * 86400
    for path in (state, video_transfer_state_file.bytes_file(state)):
        os.utime(path, (then, then))
    tasks.sweep(library)
    assert len(transfers.of_match("m1")) == len(stray(library)) == left
    if left:  # another piece, and it waits three days again
        send(transfers, an_id, film, slice(1, 2))
        assert time.time() - state.stat().st_mtime < 60


@pytest.mark.parametrize("damage", ["{", '{"id": 7}', "[]", ""])
def test_a_damaged_state_begins_again(
    library: Any, transfers: VideoTransfers, film: Path, damage: str
) -> None:
    an_id = begin(transfers, film).id
    send(transfers, an_id, film, slice(1))
    library_layout.transfer_file(library.folder, "m1", an_id).write_text(damage)
    with pytest.raises(NotFound):
        transfers.transfer(an_id)
    assert transfers.of_match("m1") == ()
    assert begin(transfers, film).received == 0
    send(transfers, an_id, film)
    assert transfers.finish(an_id, sha256(film), wait=True).phase == "done"


def test_memory_stays_flat(library: Any, transfers: VideoTransfers, tmp_path: Path) -> None:
    """A file of sixteen pieces is checked in blocks: at most a few megabytes are held at once."""
    import tracemalloc

    film = padded(tmp_path / "long.mov", 16 * PIECE_BYTES)
    an_id = begin(transfers, film).id
    tracemalloc.start()
    _send_from_disk(transfers, an_id, film)
    transfers.finish(an_id, _hash_from_disk(film), wait=True)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert transfers.transfer(an_id).phase == "done"
    assert peak < 5 * PIECE_BYTES


def _send_from_disk(transfers: VideoTransfers, an_id: str, film: Path) -> None:
    with film.open("rb") as file:
        at = 0
        while piece := file.read(PIECE_BYTES):
            transfers.take_piece(an_id, at, piece, hashlib.sha256(piece).hexdigest())
            at += len(piece)


def _hash_from_disk(film: Path) -> str:
    with film.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
