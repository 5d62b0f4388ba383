"""From the light on a sensor to a file: softness, noise, tone, codec, and copies as messengers make them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import cast

import av
import cv2
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.video.frame import VideoFrame
from av.video.stream import VideoStream
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films.frame_compositing import expose

Picture = NDArray[np.float32]
Bytes = NDArray[np.uint8]
NOISE_SIDE = 1024
CODECS = {"H.264": "libx264", "HEVC": "libx265"}
_PRESETS = {"libx264": "veryfast", "libx265": "ultrafast"}


@dataclass(frozen=True)
class SensorSettings:
    """How light becomes numbers: blur in pixels, noise, corners, sharpening, white balance, contrast."""

    blur_px: float
    shot_noise: float
    read_noise: float
    corner_fall: float
    sharpening: float
    white: tuple[float, float, float]
    contrast: float
    brightness: float


@dataclass(frozen=True)
class CodecSettings:
    """The file: codec ("H.264" or "HEVC"), rate in Mb/s, seconds between keyframes, rotation by a flag.

    `copy_height` is the height of a messenger's copy, 0 for the file as filmed; `copy_mb_s` its rate.
    """

    codec: str
    mb_s: float
    keyframe_s: float
    copy_height: int = 0
    copy_mb_s: float = 0.0


def tone_curve(contrast: float) -> Bytes:
    """Return the curve from light (0 to 2, 4096 steps) to eight bits: sRGB's, with a soft shoulder.

    Source: IEC-61966-2-1 for the curve below the shoulder; the shoulder is ASSUMED.
    """
    x = np.linspace(0.0, 2.0, 4096)
    x = np.where(x < 0.7, x, 0.7 + 0.3 * (1.0 - np.exp(-(x - 0.7) / 0.3)))
    y = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1.0 / 2.4) - 0.055)
    y += contrast * np.sin(2.0 * np.pi * (y - 0.5)) / (2.0 * np.pi)
    return np.asarray(np.clip(np.round(255.0 * y), 0, 255), dtype=np.uint8)


class SensorChain:
    """Turns frames of light into eight-bit pictures; the exposure is set on the first frame and kept."""

    def __init__(self, rng: np.random.Generator, settings: SensorSettings) -> None:
        self.settings = settings
        self.rng = rng
        self.noise = rng.standard_normal((NOISE_SIDE, NOISE_SIDE)).astype(np.float32)
        self.curve = tone_curve(settings.contrast)
        self.gain = 0.0

    def expose(self, light: Picture) -> Bytes:
        """Return the picture, shape (height, width, 3), red first."""
        s = self.settings
        if self.gain == 0.0:
            bright = float(np.percentile(light[::4, ::4].mean(axis=2), 88))
            self.gain = s.brightness / max(bright, 1e-6)
        if s.blur_px > 0.2:
            light = cv2.GaussianBlur(light, (0, 0), s.blur_px).astype(np.float32, copy=False)
        light = light * np.array(s.white, dtype=np.float32)
        out = np.empty(light.shape, dtype=np.uint8)
        row, column = (int(n) for n in self.rng.integers(0, NOISE_SIDE, 2))
        expose(
            light,
            self.gain,
            self.noise,
            s.shot_noise,
            s.read_noise,
            s.corner_fall,
            self.curve,
            row,
            column,
            out,
        )
        if s.sharpening > 0.05:
            soft = cv2.blur(out, (3, 3))
            out = np.asarray(
                cv2.addWeighted(out, 1.0 + s.sharpening, soft, -s.sharpening, 0.0), dtype=np.uint8
            )
        return out


def write_video(
    path: Path,
    pictures: Iterable[Bytes],
    frames_per_s: float,
    codec: str,
    mb_s: float,
    keyframe_s: float,
    sound: tuple[NDArray[np.float32], int] | None = None,
) -> Path:
    """Write pictures of even sizes as a film, with a sound (samples, rate) if given; return its path."""
    rate = Fraction(frames_per_s).limit_denominator(1001)
    name = CODECS[codec]
    options = {"preset": _PRESETS[name], "maxrate": f"{1.5 * mb_s:.3f}M", "bufsize": f"{2.0 * mb_s:.3f}M"}
    if name == "libx265":
        options["x265-params"] = (
            f"log-level=none:pools=1:frame-threads=1:keyint={round(keyframe_s * frames_per_s)}"
        )
    with av.open(str(path), "w") as container:
        stream = cast(VideoStream, container.add_stream(name, rate, options))
        track = None
        if sound is not None:
            layout = "stereo" if sound[0].shape[0] == 2 else "mono"
            track = container.add_stream("aac", sound[1], layout=layout)
        stream.pix_fmt, stream.bit_rate = "yuv420p", int(mb_s * 1e6)
        stream.gop_size = max(1, round(keyframe_s * frames_per_s))
        stream.thread_count = 1
        if name == "libx265":
            stream.codec_context.codec_tag = "hvc1"
        for index, picture in enumerate(pictures):
            if index == 0:
                stream.height, stream.width = picture.shape[0], picture.shape[1]
            frame = VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = index, 1 / rate
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        if track is not None and sound is not None:
            _write_sound(container, track, sound[0], sound[1])
    return path


def _write_sound(
    container: av.container.OutputContainer, track: AudioStream, samples: NDArray[np.float32], rate: int
) -> None:
    layout = "stereo" if samples.shape[0] == 2 else "mono"
    for start in range(0, samples.shape[1], rate):
        block = np.ascontiguousarray(samples[:, start : start + rate])
        frame = AudioFrame.from_ndarray(block, format="fltp", layout=layout)
        frame.sample_rate, frame.pts, frame.time_base = rate, start, Fraction(1, rate)
        container.mux(track.encode(frame))
    container.mux(track.encode(None))


def read_pictures(path: Path) -> Iterator[Bytes]:
    """Yield a film's pictures, shape (height, width, 3), red first."""
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            yield np.asarray(frame.to_ndarray(format="rgb24"), dtype=np.uint8)


def messenger_copy(source: Path, path: Path, frames_per_s: float, height: int, mb_s: float) -> Path:
    """Write a copy as messengers make it: scaled down, coded again in H.264 at a low rate; return its path.

    The sound is left out; `height` is the length of the shorter side.
    """

    def small() -> Iterator[Bytes]:
        for picture in read_pictures(source):
            high, wide = picture.shape[:2]
            scale = height / min(high, wide)
            size = (2 * round(0.5 * wide * scale), 2 * round(0.5 * high * scale))
            yield np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)

    return write_video(path, small(), frames_per_s, "H.264", mb_s, 5.0)
