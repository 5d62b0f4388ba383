"""Each kind of file that is no film is told in its own words (odd files C23, C26, C28)."""

from __future__ import annotations

import unicodedata
import wave
from collections.abc import Callable
from pathlib import Path

import pytest

from goodlength.errors import FootageError, FootageGone, NotFootage, Unfinished
from goodlength.footage.media.video_file_opening_or_rejection import open_video, top_boxes
from goodlength.footage.media.video_probe import probe

Film = Callable[..., Path]
JPEG = b"\xff\xd8\xff\xe0" + bytes(100)


@pytest.mark.parametrize(
    ("name", "content", "error", "words"),
    [
        ("empty.mp4", b"", NotFootage, "empty (0 bytes)"),
        ("hello.mp4", b"hello", NotFootage, "holds text"),
        ("umlaut.mov", "Übung für morgen\n".encode(), NotFootage, "holds text"),
        ("wide.mp4", "hello".encode("utf-16"), NotFootage, "holds text"),
        ("list.mp4", b"#EXTM3U\n#EXTINF:10,\nhttp://example.org/a.ts\n", NotFootage, "holds text"),
        ("._x.mp4", bytes.fromhex("00051607000200004d61632000") + bytes(4000), NotFootage, "helper file"),
        ("zeros.mp4", bytes(5000), NotFootage, "nothing but zeros"),
        ("photo.mp4", JPEG, NotFootage, "photograph"),
        ("photo.heic", b"\0\0\0\x18ftypheic" + bytes(100), NotFootage, "photograph"),
        ("films.zip", b"PK\x03\x04" + bytes(100), NotFootage, "archive"),
        ("noise.mp4", bytes(range(128, 256)) * 40, NotFootage, "match no known format"),
    ],
)
def test_what_is_no_film_is_named(tmp_path: Path, name: str, content: bytes, error: type, words: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(error, match=r".") as caught:
        probe(path, settle_s=0)
    said = str(caught.value)
    assert words in said
    assert name in said
    assert said.endswith(".")


def test_a_missing_file_is_gone_and_says_where_it_was_looked_for(tmp_path: Path) -> None:
    with pytest.raises(FootageGone, match="that its disk is connected") as caught:
        probe(tmp_path / "away.mp4")
    assert str(tmp_path) in str(caught.value)


def test_a_name_the_system_refuses_is_told_not_thrown(tmp_path: Path) -> None:
    with pytest.raises(FootageGone):
        probe(tmp_path / ("x" * 300))


def test_a_folder_is_no_film(tmp_path: Path) -> None:
    with pytest.raises(NotFootage, match="is a folder"):
        probe(tmp_path)


def test_sound_only_is_refused_politely(tmp_path: Path) -> None:
    path = tmp_path / "voice.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 8000, 0, "NONE", ""))
        file.writeframes(bytes(16000))
    with pytest.raises(NotFootage, match="sound only"):
        probe(path, settle_s=0)


def test_a_recording_never_closed_names_the_camera_and_a_cut_one_the_copy(even: Path, tmp_path: Path) -> None:
    """C23: first 60 % of a plain MP4, and a file whose pictures are complete but whose index was never written."""
    data = even.read_bytes()
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(data[: int(len(data) * 0.6)])
    with pytest.raises(Unfinished, match="cut short: its index") as caught:
        probe(cut, settle_s=0)
    assert "Copy it again" in str(caught.value)
    boxes = {kind: (a, b) for kind, a, b in top_boxes(even)}
    open_end = bytearray(data[: boxes[b"moov"][0]])
    start = boxes[b"mdat"][0]
    open_end[start : start + 4] = bytes(4)  # length 0: until the end, as recorders write it while filming
    unclosed = tmp_path / "unclosed.mp4"
    unclosed.write_bytes(open_end)
    with pytest.raises(Unfinished, match="not closed by the camera"):
        probe(unclosed, settle_s=0)


def test_a_file_that_may_not_be_read_says_so(
    even: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(FootageError, match="may not be read"):
        probe(even)


@pytest.mark.parametrize(
    "name",
    [
        "12:30 final.mp4",
        "concat:x.mp4",
        "100%03d %s.mp4",
        "game #1?.mp4",
        "-leading.mp4",
        "line\nbreak 'quote\".mp4",
        unicodedata.normalize("NFC", "Übung.mp4"),
        unicodedata.normalize("NFD", "Übung.mp4"),
        "比賽.mp4",
        "n" * 240 + ".mp4",
    ],
)
def test_odd_names_mean_themselves(
    untouched: Path, tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """C28, by absolute and by relative path."""
    (tmp_path / name).write_bytes(untouched.read_bytes())
    assert probe(tmp_path / name, settle_s=0).frames == 60
    monkeypatch.chdir(tmp_path)
    assert probe(name, settle_s=0).frames == 60


def test_a_file_growing_while_looked_at_is_still_being_copied(
    even: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "copying.mp4"
    data = even.read_bytes()
    path.write_bytes(data[:-1000])

    def copy_on(_: float) -> None:
        path.write_bytes(data)

    monkeypatch.setattr("goodlength.footage.media.file_completeness.time.sleep", copy_on)
    with pytest.raises(Unfinished, match="still being written") as caught:
        probe(path)
    assert f"{len(data):,}" in str(caught.value)


def test_an_open_film_tells_its_streams(even: Path) -> None:
    with open_video(even) as opened:
        assert opened.audio is not None
        assert opened.video.width == 160
        assert opened.base.den == 15360


def test_a_tag_in_another_alphabet_does_not_stop_a_film(film: Film, tmp_path: Path) -> None:
    """Tags in Latin-1 raise in av 18 unless it is told to keep their bytes; av 19 has no such argument."""
    plain = film("tagged.mp4", stamps=range(10), metadata={"title": "Ueberblick"})
    path = tmp_path / "latin.mp4"
    path.write_bytes(plain.read_bytes().replace(b"Ueberblick", b"\xdcberblick!"))
    assert b"\xdcberblick!" in path.read_bytes()
    with open_video(path) as opened:
        assert "berblick" in opened.container.metadata["title"]
    assert probe(path, settle_s=0).frames == 10
