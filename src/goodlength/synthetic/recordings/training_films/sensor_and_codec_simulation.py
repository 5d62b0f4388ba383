"""From linear light to a file: flicker, noise, tone, codec, and a messenger's copy."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import cast

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.video.frame import VideoFrame
from av.video.stream import VideoStream
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings

Picture = NDArray[np.float32]
Bytes = NDArray[np.uint8]
TILES, STEPS = 6, 4095
MAINS_HZ = 100.0
MESSENGER_SIDE, MESSENGER_MEGABITS_S = 480, 0.9  # of a copy sent by messenger; ASSUMED


class PhoneSensor:
    """Turns linear pictures into bytes, with noise that differs from frame to frame."""

    def __init__(self, rng: np.random.Generator, settings: FilmSettings, size: tuple[int, int]) -> None:
        self.rng, self.settings = rng, settings
        width, height = size
        self.tiles = rng.standard_normal((TILES, height + 32, width + 32, 3), dtype=np.float32)
        self.phase, bend = float(rng.uniform(0, 6.28)), float(rng.uniform(2.0, 2.4))
        light = np.linspace(0, 1.5, STEPS + 1)
        shown = np.clip(light, 0, None) ** (1 / bend)
        knee = 0.85
        shown = np.where(shown > knee, knee + (1 - knee) * np.tanh((shown - knee) / (1 - knee)), shown)
        self.tone = (255 * shown).astype(np.float32)
        self.rows = np.arange(height) / height * settings.readout_s

    def flicker_gain(self, time_s: float) -> Picture:
        """Return the lamps' gain of each row for a frame that begins at a time."""
        blurred = np.sinc(MAINS_HZ * self.settings.exposure_s)
        wave = np.sin(2 * np.pi * MAINS_HZ * (time_s + self.rows) + self.phase)
        return (1 + self.settings.flicker * blurred * wave).astype(np.float32)[:, None, None]

    def expose(self, light: Picture, time_s: float) -> Bytes:
        """Return a frame of bytes, red, green, blue."""
        height, width = light.shape[:2]
        if self.settings.flicker:
            light = light * self.flicker_gain(time_s)
        index = np.clip(light * np.float32(STEPS / 1.5), 0, STEPS).astype(np.int16)
        shown = self.tone[index]
        down, right = self.rng.integers(0, 32, 2)
        tile = self.tiles[self.rng.integers(TILES), down : down + height, right : right + width]
        shown += tile * np.float32(self.settings.noise)
        return np.asarray(np.clip(shown, 0, 255), np.uint8)


def write_frames(
    path: Path, frames: Iterable[Bytes], settings: FilmSettings, sound: tuple[NDArray[np.float32], int] | None
) -> Path:
    """Write a film and return its path.

    Parameters
    ----------
    path : Path
        Ends in .mp4 or .mov.
    frames : iterable of ndarray, shape (height, width, 3)
    settings : FilmSettings
        Gives codec, rate and frames a second; for a messenger's copy the film is written again, smaller.
    sound : tuple, optional
        Samples of shape (n,) and their rate.
    """
    if not settings.messenger:
        _write(path, frames, settings.codec, settings.megabits_s, settings.frames_per_second, sound)
        return path
    first = path.with_suffix(".first.mp4")
    _write(first, frames, settings.codec, settings.megabits_s, settings.frames_per_second, None)
    with av.open(str(first)) as container:
        video = container.streams.video[0]
        width, height = copy_size((video.width, video.height))
        small = (
            np.asarray(frame.to_ndarray(format="rgb24", width=width, height=height), np.uint8)
            for frame in container.decode(video)
        )
        _write(path, small, "libx264", MESSENGER_MEGABITS_S, settings.frames_per_second, sound)
    first.unlink()
    return path


def copy_size(size: tuple[int, int]) -> tuple[int, int]:
    """Return the size of a messenger's copy of a picture."""
    share = min(1.0, MESSENGER_SIDE / max(size))
    return round(size[0] * share / 2) * 2, round(size[1] * share / 2) * 2


def _write(
    path: Path,
    frames: Iterable[Bytes],
    codec: str,
    megabits_s: float,
    rate: float,
    sound: tuple[NDArray[np.float32], int] | None,
) -> None:
    options = {"preset": "superfast" if codec == "libx264" else "ultrafast"}
    if codec == "libx265":
        options["x265-params"] = "log-level=none"
    with av.open(str(path), "w") as container:
        fraction = Fraction(rate).limit_denominator(1001)
        video = cast(VideoStream, container.add_stream(codec, fraction, options))
        video.pix_fmt, video.bit_rate = "yuv420p", round(megabits_s * 1e6)
        audio = None
        if sound is not None:
            audio = container.add_stream("aac", sound[1], layout="mono")
        for i, picture in enumerate(frames):
            if i == 0:
                video.height, video.width = picture.shape[:2]
            frame = VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
            frame.pts, frame.time_base = i, 1 / fraction
            container.mux(video.encode(frame))
        container.mux(video.encode(None))
        if audio is not None and sound is not None:
            _write_sound(container, audio, *sound)


def _write_sound(
    container: av.container.OutputContainer, audio: AudioStream, samples: NDArray[np.float32], rate: int
) -> None:
    for begin in range(0, len(samples), rate):
        piece = np.ascontiguousarray(samples[None, begin : begin + rate], np.float32)
        frame = AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = rate, begin, Fraction(1, rate)
        container.mux(audio.encode(frame))
    container.mux(audio.encode(None))
