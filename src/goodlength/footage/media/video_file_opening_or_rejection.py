"""Open a file as a video, or explain in words why it is none.

The file is only ever read. It is opened by its absolute path with the file protocol, so that no name
(`12:30 final.mp4`, `%03d`, a leading `-`) means anything but itself, and only by readers of films and
sounds, so that no text file can make the library fetch another address.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Protocol

import av
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.stream import Discard, Disposition
from av.video.stream import VideoStream

from goodlength.errors import BarePictures, FootageError, FootageGone, NotFootage, Unfinished
from goodlength.footage.media.mp4_top_level_box_listing import top_boxes
from goodlength.footage.media.stream_selection import Picked, Track, mix_of, pick_streams
from goodlength.media_time import TimeBase

# Silent by intent: damage is counted and said in words, not printed line by line on stderr.
av.logging.set_level(None)

# Tags written in other alphabets must not stop a film from opening: av 19 always keeps their bytes as
# surrogates, av 18 (the last for Python 3.11) only when told to.
TAG_BYTES: dict[str, Any] = (
    {} if int(av.__version__.split(".")[0]) >= 19 else {"metadata_errors": "surrogateescape"}
)
READERS = (
    "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,asf,flv,live_flv,ogg,mxf,gxf,dv,"
    "nut,ivf,wtv,rm,swf,dhav,mp3,wav,w64,aac,flac,aiff,ac3,eac3,amr,caf,wv,ape,dts,au"
)
PICTURE_HEADS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF8", b"BM", b"II*\0", b"MM\0*")
PHOTO_BRANDS = (b"heic", b"heix", b"heif", b"mif1", b"msf1", b"avif", b"crx ")
SHADOW_HEADS = (b"\x00\x05\x16\x07", b"\x00\x05\x16\x00")
ARCHIVE_HEADS = (b"PK\x03\x04", b"7z\xbc\xaf", b"Rar!", b"\x1f\x8b")
BARE_NAMES = {"h264": "H.264", "hevc": "HEVC"}
MP4_BOXES = frozenset((b"ftyp", b"mdat", b"moov", b"moof", b"free", b"wide", b"skip", b"uuid", b"pnot"))
ADVICE = "Choose a video from a phone or camera, such as an .mp4 or .mov file."


class Ratio(Protocol):
    """A time base or rate, as either version of the video library gives it."""

    @property
    def numerator(self) -> int:
        """Its upper number."""

    @property
    def denominator(self) -> int:
        """Its lower number."""


@dataclass(frozen=True)
class VideoFile:
    """An open file with a picture: the container, its one film stream and its one sound stream, if any."""

    path: Path
    container: InputContainer
    video: VideoStream
    audio: AudioStream | None
    base: TimeBase
    tracks: tuple[Track, ...] = ()  # every picture and sound there is, where there is a choice

    @property
    def name(self) -> str:
        """The file's own name, for sentences."""
        return self.path.name


@contextlib.contextmanager
def open_video(
    path: str | Path, *, with_sound: bool = True, with_picture: bool = True
) -> Iterator[VideoFile]:
    """Open a file for reading; refuse in one sentence what is no video.

    Parameters
    ----------
    path : str or Path
    with_sound, with_picture : bool
        False lets the reader leap over that stream's data.

    Raises
    ------
    FootageGone
        Nothing is there.
    NotFootage
        Empty, text, a picture, a system's shadow file, sound only, or no known kind of film.
    Unfinished
        The camera never closed the recording.
    FootageError
        It may not be read.
    """
    where = absolute(path)
    check_head(where)
    container = _open(where)
    with container:
        video, audio, picked = _streams(container, where)
        for stream in container.streams:
            wanted = (stream is video and with_picture) or (stream is audio and with_sound)
            stream.discard = Discard.default if wanted else Discard.all
        video.thread_type = "AUTO"
        base = video.time_base
        if base is None:
            raise NotFootage(f"{where.name} carries no times for its frames. {ADVICE}")
        try:
            time_base = TimeBase(base.numerator, base.denominator)
            yield VideoFile(where, container, video, audio, time_base, picked.tracks)
        except av.FFmpegError as error:
            # Never to be taken for the disk that is written to: the library's words for a refused seek are
            # the system's for a refused file.
            raise FootageError(
                f"{where.name} could not be worked through: the video library stopped with "
                f"{(error.strerror or str(error)).lower()!r}. Copy it again from the camera, or make a copy "
                "as H.264 .mp4 with the program that came with it, and add that."
            ) from error


def mixed_by(film: VideoFile) -> tuple[float, ...]:
    """Return the weight of each channel when a film's sound is made one, so that nothing cancels."""
    assert film.audio is not None
    return mix_of(film.path, film.audio.index, film.audio.codec_context.channels, lambda: _open(film.path))


def exact(ratio: Ratio) -> Fraction:
    """Return a ratio of the video library as a fraction: av 18 gives fractions, av 19 numbers of its own."""
    return Fraction(ratio.numerator, ratio.denominator)


def absolute(path: str | Path) -> Path:
    """Return the path from the root, links and odd characters left as they are."""
    return Path(path).expanduser().absolute()


def check_head(path: Path) -> None:
    """Refuse, in words, what its first bytes show to be no film."""
    head, size = _head(path)
    name = path.name
    if size == 0:
        raise NotFootage(
            f"{name} is empty (0 bytes): nothing was recorded or copied. Copy it again from the camera."
        )
    if head.startswith(SHADOW_HEADS):
        raise NotFootage(
            f"{name} is not a video but a helper file that another system left next to it. "
            f"Choose the video of the same name without the leading '._'."
        )
    if not any(head):
        raise NotFootage(
            f"{name} begins with nothing but zeros: it was never filled, as when a copy is stopped. "
            "Copy it again from the camera."
        )
    if head.startswith(PICTURE_HEADS) or (head[4:8] == b"ftyp" and head[8:12] in PHOTO_BRANDS):
        raise NotFootage(f"{name} is a photograph, not a video. {ADVICE}")
    if head.startswith(ARCHIVE_HEADS):
        raise NotFootage(f"{name} is an archive, not a video. Unpack it first and choose the video inside.")
    if kind := _bare(head):
        raise BarePictures(
            f"{name} holds {BARE_NAMES[kind]} frames alone, without times. Pack it into a "
            "video and say how many frames per second the camera took: on the Footage page, or with "
            "goodlength footage repack FILE --out VIDEO.mp4 --rate 30.",
            page="The file holds frames without times. Enter the frame rate of the camera on the "
            "Footage page, and goodlength makes a video of it.",
        )
    if _is_text(head):
        raise NotFootage(f"{name} is not a video: it holds text. {ADVICE}")


def bare_kind(path: str | Path) -> str:
    """Return the reader for a bare stream of pictures, "h264" or "hevc"; empty for any other file."""
    return _bare(_head(absolute(path))[0])


def _bare(head: bytes) -> str:
    """By the units after the first start codes, among them parameters; source: H264-ITU, HEVC-ITU."""
    if not head.startswith((b"\0\0\1", b"\0\0\0\1")):
        return ""
    units = [unit[:2] for unit in head.split(b"\0\0\1")[1:] if len(unit) >= 2]
    if not units or units[0][0] & 0x80:
        return ""
    if any(
        unit[0] & 0x9F == 7 and unit[0] & 0x60 for unit in units
    ):  # sequence parameters, always referred to
        return "h264"
    return "hevc" if any(unit in (b"\x40\x01", b"\x42\x01") for unit in units) else ""  # video, sequence


def _head(path: Path) -> tuple[bytes, int]:
    try:
        if path.is_dir():
            raise NotFootage(f"{path.name or path} is a folder, not a video. Choose a file inside it.")
        with path.open("rb") as file:
            return file.read(4096), path.stat().st_size
    except PermissionError:
        raise FootageError(
            f"{path.name} may not be read by this program. Allow reading it, or copy it to another folder."
        ) from None
    except FileNotFoundError:
        raise FootageGone(
            f"Cannot find {path}. Check its name and folder, and that its disk is connected.",
            page=f"Cannot find {path.name} in {path.parent}. Check the path. If the file was moved or "
            "renamed, choose it where it is now; if its disk is not connected, connect it.",
        ) from None
    except OSError as error:
        # A name that the system refuses (too long, a broken disk) is as far away as one that is missing.
        raise FootageGone(
            f"Cannot find {path.name} in {path.parent} ({error.strerror or error}): it was moved or "
            "renamed, or "
            "its disk is not connected. Connect the disk, or choose the file where it is now."
        ) from None


def _is_text(head: bytes) -> bool:
    if b"\0" in head and not head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return False
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return True
    try:
        head[: len(head) - 3 if len(head) == 4096 else None].decode("utf-8")
    except UnicodeDecodeError:
        return False
    return not any(byte < 9 or 13 < byte < 27 for byte in head)


def _open(path: Path) -> InputContainer:
    options = {"format_whitelist": READERS, "protocol_whitelist": "file"}
    try:
        container: InputContainer = av.open(f"file:{path}", container_options=options, **TAG_BYTES)
        return container
    except av.FFmpegError as error:
        broken = mp4_without_index(path)
        if broken:
            raise Unfinished(f"{path.name} {broken}") from error
        raise NotFootage(
            f"{path.name} is not a video that goodlength can read: its first bytes match no known format. "
            f"{ADVICE}"
        ) from error


def mp4_without_index(path: Path) -> str | None:
    """Return what is wrong with a phone's file that has pictures but no index; None if it is another kind."""
    boxes = list(top_boxes(path))
    kinds = [kind for kind, _, _ in boxes]
    if not kinds or kinds[0] not in MP4_BOXES:
        return None
    if b"moov" in kinds:
        return (
            "has an index that cannot be read: the file is damaged. Copy it again from the camera, or try a "
            "repair program."
        )
    size = path.stat().st_size
    if any(end > size for _, _, end in boxes):
        return (
            "is cut short: its index, which stands at the end, is missing. Copy it again from the camera; "
            "if it "
            "is no longer there, a repair program may help."
        )
    return (
        "was not closed by the camera (power or memory ran out): its index is missing. Open it once on the "
        "phone or camera that filmed it, which may repair it, or try a repair program, then add it again."
    )


def _streams(container: InputContainer, path: Path) -> tuple[VideoStream, AudioStream | None, Picked]:
    films = [
        s
        for s in container.streams.video
        if not s.disposition & (Disposition.attached_pic | Disposition.timed_thumbnails)
    ]
    if not films:
        if container.streams.audio:
            raise NotFootage(
                f"{path.name} holds sound only. Choose the video itself; goodlength needs to see the court."
            )
        raise NotFootage(f"{path.name} holds no video. {ADVICE}")
    known = [s for s in films if s.codec_context is not None and s.codec_context.width > 0]
    if not known:
        raise NotFootage(
            f"{path.name} holds video in a form goodlength cannot decode. Make a copy as H.264 .mp4 with "
            "the "
            "program that came with the camera, and add that."
        )
    sounds = [s for s in container.streams.audio if s.codec_context is not None]
    picked = pick_streams(path, known, sounds, lambda: _open(path))
    video = next(s for s in known if s.index == picked.picture)
    return video, next((s for s in sounds if s.index == picked.sound), None), picked


def aspect_of(film: VideoFile) -> tuple[int, int]:
    """Return the width to height of one stored pixel, as the film says."""
    ratio = film.video.sample_aspect_ratio
    return (ratio.numerator, ratio.denominator) if ratio else (1, 1)


def rate_of(film: VideoFile) -> Fraction:
    """Return the usual pictures a second as the file claims, for the encoder's rate control only."""
    rate = film.video.guessed_rate or film.video.average_rate
    return exact(rate) if rate else Fraction(25)
