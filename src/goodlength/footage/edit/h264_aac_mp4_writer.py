"""Write a widely playable video: H.264 with AAC sound in an MP4 with its index in front.

Stamps go in as they are, picture by picture; no picture leans on a later one, so the first shown is the
first stored. Nothing of the original's tags (place, device, date) is carried over.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.container import OutputContainer
from av.packet import Packet
from av.video.frame import PictureType, VideoFrame
from av.video.stream import VideoStream

from goodlength.footage.media.audio_decoding import RATE_HZ, SampleReader
from goodlength.footage.media.display_transform import FULL_RANGE
from goodlength.media_time import TimeBase

AAC_BLOCK = 1024
LARGEST_SCALE = 2**31 - 1


@dataclass(frozen=True)
class EncoderSettings:
    """How pictures are encoded: preset and quality of x264, and the longest way between key pictures.

    `tools` of x264 are added to those of its preset.
    """

    preset: str = "veryfast"
    quality: int = 20
    key_s: Fraction = Fraction(2)
    sound_bit_s: int = 128_000
    tools: str = ""

    def options(self) -> dict[str, str]:
        """Return the encoder's options, the same for a clip, a proxy and the bare loop they are measured
        against.
        """
        return {
            "preset": self.preset,
            "crf": str(self.quality),
            "profile": "high",
            "forced-idr": "1",
            "bf": "0",
            "x264-params": f"keyint=infinite:scenecut=0{self.tools}",
        }


CLIP = EncoderSettings()
# Half the work of "veryfast" at 23, and nearer to the original where something moves, in a file up to twice
# as large: docs/bench.md, "Clips"
PROXY = EncoderSettings(
    preset="ultrafast",
    quality=26,
    key_s=Fraction(1),
    sound_bit_s=96_000,
    tools=":cabac=1:8x8dct=1:deblock=0,0",
)


class Writer:
    """Encodes upright pictures and the sound that goes with them into one MP4 file.

    Parameters
    ----------
    container : OutputContainer
    base : TimeBase
        Of the stamps given to `picture`.
    size : (int, int)
        Even width and height.
    rate : Fraction
        Usual pictures a second, for the encoder's rate control only.
    settings : Settings
    sound : SoundLine or None
        Its sample 0 belongs to stamp 0.
    """

    def __init__(
        self,
        container: OutputContainer,
        base: TimeBase,
        size: tuple[int, int],
        rate: Fraction,
        settings: EncoderSettings,
        sound: SampleReader | None,
    ) -> None:
        self._container, self._base, self._settings = container, base, settings
        self._video: VideoStream = container.add_stream(
            "libx264", rate=_plain_rate(rate), options=settings.options()
        )
        self._video.width, self._video.height = size
        self._video.pix_fmt = "yuv420p"
        self._video.codec_context.time_base = base.tick
        self._video.thread_type = "AUTO"
        self._sound = sound
        self._audio: AudioStream | None = None
        if sound is not None:
            self._audio = container.add_stream("aac", rate=RATE_HZ, options={"b": str(settings.sound_bit_s)})
            self._audio.layout = "stereo"
        self._samples = 0
        self._last_key: Fraction | None = None
        self._end = Fraction(0)
        self._lengths: dict[int, int] = {}
        self.stamps: list[int] = []

    def picture(self, frame: VideoFrame, pts: int, length: int) -> None:
        """Encode one picture shown from `pts` for `length` ticks, and the sound up to its beginning."""
        if not self.stamps:
            self._tag(frame)
        at, tick = pts * self._base.tick, self._base.tick
        frame.pts, frame.duration, frame.time_base = pts, length, tick
        key = self._last_key is None or at + length * tick - self._last_key > self._settings.key_s
        if key:
            self._last_key = at
        frame.pict_type = PictureType.I if key else PictureType.NONE
        self.stamps.append(pts)
        self._end = at + length * tick
        self._sound_up_to(at)
        self._lengths[pts] = length
        self._mux(self._video.encode(frame))

    def finish(self) -> None:
        """Encode what is left; the sound ends with the last picture."""
        self._sound_up_to(self._end)
        if self._sound is not None and self._audio is not None:
            left = round(self._end * RATE_HZ) - self._samples
            if left > 0:
                self._block(left)
            self._container.mux(self._audio.encode(None))
        self._mux(self._video.encode(None))

    def _mux(self, packets: list[Packet[VideoStream]]) -> None:
        """Store pictures with their true lengths: the encoder's own guess would stretch the last one."""
        for packet in packets:
            if packet.pts is not None:
                packet.duration = self._lengths.pop(packet.pts, packet.duration)
            self._container.mux_one(packet)

    def _sound_up_to(self, at: Fraction) -> None:
        if self._sound is None:
            return
        wanted = round(at * RATE_HZ)
        while self._samples + AAC_BLOCK <= wanted:
            self._block(AAC_BLOCK)

    def _block(self, count: int) -> None:
        assert self._sound is not None and self._audio is not None
        frame = AudioFrame.from_ndarray(self._sound.take(count), format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = RATE_HZ, self._samples, Fraction(1, RATE_HZ)
        self._samples += count
        self._container.mux(self._audio.encode(frame))

    def _tag(self, frame: VideoFrame) -> None:
        """Colour tags as the pictures have them, so that every player shows the same."""
        context = self._video.codec_context
        context.colorspace = frame.colorspace
        context.color_range = frame.color_range if frame.color_range != FULL_RANGE else 1
        context.color_trc = frame.color_trc
        context.color_primaries = frame.color_primaries


def _plain_rate(rate: Fraction) -> Fraction:
    """Return a rate the encoder accepts, whatever the file claims."""
    return min(max(rate, Fraction(1)), Fraction(1000)).limit_denominator(100_000)


@contextlib.contextmanager
def mp4(part: Path, base: TimeBase) -> Iterator[OutputContainer]:
    """Open a new MP4 file, its index moved to the front at the end; it is closed quietly when writing
    fails.
    """
    options = {
        "movflags": "+faststart",
        "fflags": "+bitexact",
        # A late first picture is told in these ticks; in the usual milliseconds it would be rounded.
        "movie_timescale": str(base.den if base.den <= LARGEST_SCALE else 1000),
    }
    container = av.open(f"file:{part}", "w", format="mp4", container_options=options)
    try:
        yield container
    except BaseException:
        with contextlib.suppress(Exception):
            container.close()
        raise
    container.close()


class DelayedWriter:
    """Holds each picture until the next is known, since its length is the way to the next."""

    def __init__(self, writer: Writer, zero: int) -> None:
        self._writer, self._zero = writer, zero
        self._pending: VideoFrame | None = None
        self.length = 0

    def put(self, frame: VideoFrame) -> None:
        """Write the picture held, whose length is now known, and hold this one."""
        pending = self._pending
        if pending is not None and pending.pts is not None and frame.pts is not None:
            if frame.pts <= pending.pts:
                return  # a second picture of the same moment: the first stands
            self._writer.picture(pending, pending.pts - self._zero, frame.pts - pending.pts)
        self._pending = frame

    def last(self, length: int) -> None:
        """Write the last picture with its own length."""
        if self._pending is not None and self._pending.pts is not None:
            self.length = length
            self._writer.picture(self._pending, self._pending.pts - self._zero, length)
