"""Synthetic videos in which every frame carries its own number, for tests, benchmarks and trials.

The number stands as bars that survive encoding, scaling and turning back: sixteen bits and, below them,
the same bits inverted, so that a blurred or wrong picture reads as nothing rather than as another number.

```
 ┌──────────────────────────┐
 │ ■                      ▪ │   corners differ in brightness: which way is up can be read
 │  ▌▐ ▌▌▐▐ ▌▐ ▌▐▌▐ ▌▐▌▐    │   bits
 │  ▐▌ ▐▐▌▌ ▐▌ ▐▌▐▌ ▐▌▐▌    │   the same, inverted
 │ ▫                        │
 └──────────────────────────┘
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import cast

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.packet import Packet
from av.stream import Stream
from av.video.frame import VideoFrame
from av.video.stream import VideoStream
from numpy.typing import NDArray

Luma = NDArray[np.uint8]
BITS = 16
WHITE, BLACK, GREY = 225, 30, 118
CORNERS = {"top left": 220, "top right": 170, "bottom left": 70, "bottom right": 35}
BEEP_HZ, BEEP_S = 2000, 0.05
SOUND_HZ = 48_000


def card(number: int, width: int = 160, height: int = 120) -> Luma:
    """Return the luma of picture `number`, shape (height, width)."""
    picture = np.full((height, width), GREY, np.uint8)
    ch, cw = height // 6, width // 8
    picture[:ch, :cw] = CORNERS["top left"]
    picture[:ch, -cw:] = CORNERS["top right"]
    picture[-ch:, :cw] = CORNERS["bottom left"]
    picture[-ch:, -cw:] = CORNERS["bottom right"]
    edges = np.linspace(0.1 * width, 0.9 * width, BITS + 1).round().astype(int)
    top, middle, bottom = (round(height * share) for share in (0.25, 0.5, 0.75))
    for bit in range(BITS):
        on = number >> (BITS - 1 - bit) & 1
        picture[top:middle, edges[bit] : edges[bit + 1]] = WHITE if on else BLACK
        picture[middle:bottom, edges[bit] : edges[bit + 1]] = BLACK if on else WHITE
    return picture


def read_card(luma: Luma) -> int | None:
    """Return the number of a picture, at any size; None when the bars cannot be read for certain."""
    height, width = luma.shape
    number = 0
    rows = [slice(round(height * a), round(height * b)) for a, b in ((0.31, 0.44), (0.56, 0.69))]
    for bit in range(BITS):
        centre = width * (0.1 + 0.8 * (bit + 0.5) / BITS)
        half = max(0.5, 0.8 * width / BITS * 0.25)
        columns = slice(max(0, int(centre - half)), max(1, int(np.ceil(centre + half))))
        upper, lower = (float(luma[row, columns].mean()) for row in rows)
        if abs(upper - lower) < 60:
            return None
        number = number << 1 | (upper > lower)
    return number


def way_up(luma: Luma) -> tuple[str, ...]:
    """Return where the corners stand, from brightest to darkest; upright gives `CORNERS` in order."""
    height, width = luma.shape
    h, w = height // 10, width // 12
    means = {
        "top left": luma[:h, :w].mean(),
        "top right": luma[:h, -w:].mean(),
        "bottom left": luma[-h:, :w].mean(),
        "bottom right": luma[-h:, -w:].mean(),
    }
    return tuple(sorted(means, key=lambda name: -means[name]))


@dataclass(frozen=True)
class Recipe:
    """How to draw a film.

    Parameters
    ----------
    stamps : sequence of int
        Of each picture, in ticks of `base`; pictures are numbered from `first_number`.
    base : Fraction
    width, height : int
    codec, pixels : str
    key_every : int
        Pictures between key pictures.
    b_frames : int
    sound : str
        Codec of the sound, or "" for none.
    beeps_s : sequence of float
        Media times of beeps.
    sound_from_s, sound_to_s : float
        Where the sound begins and ends.
    turn_deg, mirror : int, bool
        Written as the display matrix, not drawn.
    aspect : Fraction
        Of one pixel.
    flash_s : sequence of float
        The picture shown at these times is white at its top edge (bars stay readable).
    options, metadata : dict
        For the encoder, for the file.
    """

    stamps: Sequence[int]
    base: Fraction = Fraction(1, 30)
    width: int = 160
    height: int = 120
    codec: str = "libx264"
    pixels: str = "yuv420p"
    key_every: int = 30
    b_frames: int = 2
    sound: str = "aac"
    beeps_s: Sequence[float] = ()
    sound_from_s: float = 0.0
    sound_to_s: float | None = None
    turn_deg: int = 0
    mirror: bool = False
    aspect: Fraction = Fraction(1)
    flash_s: Sequence[float] = ()
    first_number: int = 0
    options: dict[str, str] = field(default_factory=dict)
    metadata: dict[str, str] = field(default_factory=dict)
    container: dict[str, str] = field(default_factory=dict)
    colours: dict[str, int] = field(default_factory=dict)


def draw(path: Path, recipe: Recipe) -> Path:
    """Write the film of a recipe; the container is chosen by the name's ending."""
    with av.open(f"file:{path.absolute()}", "w", container_options=recipe.container) as container:
        container.metadata.update(recipe.metadata)
        video = cast(VideoStream, container.add_stream(recipe.codec, _rate(recipe), _options(recipe)))
        video.width, video.height, video.pix_fmt = recipe.width, recipe.height, recipe.pixels
        video.codec_context.time_base = recipe.base
        video.codec_context.sample_aspect_ratio = recipe.aspect
        for name, value in recipe.colours.items():
            setattr(video.codec_context, name, value)
        if recipe.turn_deg or recipe.mirror:
            video.set_display_rotation(recipe.turn_deg, hflip=recipe.mirror)
        audio = None
        if recipe.sound:
            audio = cast(AudioStream, container.add_stream(recipe.sound, SOUND_HZ, layout="mono"))
        packets: list[Packet[Stream]] = []
        timestamps = list(recipe.stamps)
        for frame in _frames(recipe):
            packets += video.encode(frame)
        packets += video.encode(None)
        if audio is not None:
            end = recipe.sound_to_s
            end = float((timestamps[-1] + 1) * recipe.base) if end is None else end
            packets += _sound(audio, recipe, end)
        # Sorted by time so that the writer need not hold one stream back for the other.
        packets.sort(
            key=lambda packet: packet.dts * packet.time_base if packet.dts is not None else Fraction(0)
        )
        container.mux(packets)
    return path


def _frames(recipe: Recipe) -> list[VideoFrame]:
    frames = []
    flashes = {
        int(np.searchsorted([float(s * recipe.base) for s in recipe.stamps], at, "right")) - 1
        for at in recipe.flash_s
    }
    for i, timestamp in enumerate(recipe.stamps):
        luma = card(i + recipe.first_number, recipe.width, recipe.height)
        if i in flashes:
            luma[: recipe.height // 6, recipe.width // 3 : 2 * recipe.width // 3] = 235
        frame = VideoFrame.from_ndarray(luma, format="gray").reformat(format=recipe.pixels)
        frame.pts, frame.time_base = timestamp, recipe.base
        frames.append(frame)
    return frames


def flashing(luma: Luma) -> bool:
    """Return whether a picture carries the flash of a recipe."""
    height, width = luma.shape
    return bool(luma[: height // 8, int(width * 0.4) : int(width * 0.6)].mean() > 190)


def _sound(stream: AudioStream, recipe: Recipe, end_s: float) -> list[Packet[Stream]]:
    """Encoded sound: silence with beeps, on the film's clock."""
    first = round(recipe.sound_from_s * SOUND_HZ)
    t = np.arange(first, round(end_s * SOUND_HZ)) / SOUND_HZ
    wave = np.zeros(len(t), np.float32)
    for at in recipe.beeps_s:
        on = (t >= at) & (t < at + BEEP_S)
        wave[on] = 0.6 * np.sin(2 * np.pi * BEEP_HZ * (t[on] - at))
    packets: list[Packet[Stream]] = []
    for start in range(0, len(wave), 1024):
        block = wave[None, start : start + 1024]
        frame = AudioFrame.from_ndarray(np.ascontiguousarray(block), format="flt", layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = SOUND_HZ, first + start, Fraction(1, SOUND_HZ)
        packets += stream.encode(frame)
    return packets + stream.encode(None)


def _options(recipe: Recipe) -> dict[str, str]:
    own = {"g": str(recipe.key_every), "bf": str(recipe.b_frames)}
    if recipe.codec == "libx264":
        own |= {"preset": "ultrafast", "crf": "20", "sc_threshold": "0"}
    return own | recipe.options


def _rate(recipe: Recipe) -> Fraction:
    if len(recipe.stamps) < 2:
        return Fraction(25)
    steps = np.diff(np.array(recipe.stamps, np.int64))
    return Fraction(1) / (int(np.median(steps)) * recipe.base)


def beeps_in(samples: NDArray[np.float32], rate_hz: int) -> list[float]:
    """Return when beeps begin, in seconds from sample 0, to about half a millisecond."""
    loud = np.abs(samples) > 0.25 * max(1e-6, float(np.abs(samples).max()))
    at = np.flatnonzero(loud)
    if not len(at) or float(np.abs(samples).max()) < 0.05:
        return []
    breaks = np.flatnonzero(np.diff(at) > 0.5 * BEEP_S * rate_hz)
    return [float(i) / rate_hz for i in at[np.concatenate(([0], breaks + 1))]]


def lumas(path: Path) -> list[Luma]:
    """Return the luma of every picture as a plain decoder gives it, for checks made apart from our
    readers.
    """
    out: list[Luma] = []
    with av.open(f"file:{path.absolute()}") as container:
        for frame in container.decode(video=0):
            out.append(np.asarray(frame.reformat(format="gray").to_ndarray(), np.uint8))
    return out
