"""Transform decoded frames for display: upright, square pixels, deinterlaced, standard colours.

One frame space everywhere: what is analysed, played, cut and drawn on is the upright picture. Every
picture in gives one picture out, with the same stamp.
"""

from __future__ import annotations

import tempfile
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from typing import cast

import numpy as np
from av.buffer import Buffer
from av.filter import Graph
from av.video.frame import VideoFrame

from goodlength.footage.media import hdr_tone_mapping_lut

TURNS = {
    # signs of the display matrix (a, b, c, d), where x' = a x + c y and y' = b x + d y, y downward:
    # turn to the left in degrees, mirrored after that?, filters
    # source: ISO-14496-12, matrix of the track header
    (1, 0, 0, 1): (0, False, ()),
    (-1, 0, 0, -1): (180, False, ("hflip", "vflip")),
    (0, -1, 1, 0): (90, False, ("transpose=cclock",)),
    (0, 1, -1, 0): (270, False, ("transpose=clock",)),
    (-1, 0, 0, 1): (0, True, ("hflip",)),
    (1, 0, 0, -1): (180, True, ("vflip",)),
    (0, 1, 1, 0): (270, True, ("transpose=cclock_flip",)),
    (0, -1, -1, 0): (90, True, ("transpose=clock_flip",)),
}
PLAIN = ("yuv420p",)
BT709 = 1  # source: ITU-H273, tables 2 and 3
FULL_RANGE = 2


@dataclass(frozen=True)
class DisplayShape:
    """How the pictures of a film lie in the file.

    Parameters
    ----------
    coded_width, coded_height : int
        As stored.
    aspect : tuple of int
        Width to height of one stored pixel.
    turn_deg : int
        By how much to turn to the left to be upright: 0, 90, 180 or 270.
    mirrored : bool
    transfer : int
        16 for PQ, 18 for HLG, 0 for ordinary light.
    interlaced : bool
    """

    coded_width: int
    coded_height: int
    aspect: tuple[int, int] = (1, 1)
    turn_deg: int = 0
    mirrored: bool = False
    transfer: int = 0
    interlaced: bool = False

    @property
    def size(self) -> tuple[int, int]:
        """Width and height as seen: upright and with square pixels."""
        width, height = self._square()
        return (height, width) if self.turn_deg in {90, 270} else (width, height)

    def _square(self) -> tuple[int, int]:
        num, den = self.aspect
        return max(1, round(self.coded_width * num / den)), self.coded_height

    def fitted(self, short_side: int | None) -> tuple[int, int]:
        """Return even width and height as seen, the shorter side at most `short_side`; never enlarged."""
        width, height = self.size
        if short_side is not None:
            scale = min(1.0, short_side / min(width, height), short_side * 16 / 9 / max(width, height))
            width, height = round(width * scale), round(height * scale)
        return max(2, width - width % 2), max(2, height - height % 2)


def display_shape_of(
    frame: VideoFrame, aspect: tuple[int, int], interlaced: bool | None = None
) -> DisplayShape:
    """Return the shape told by a decoded picture."""
    turn, mirrored, _ = TURNS[_signs(frame)]
    return DisplayShape(
        frame.width,
        frame.height,
        aspect if aspect[0] > 0 and aspect[1] > 0 else (1, 1),
        turn,
        mirrored,
        frame.color_trc if frame.color_trc in hdr_tone_mapping_lut.NAMES else 0,
        frame.interlaced_frame if interlaced is None else interlaced,
    )


def _signs(frame: VideoFrame) -> tuple[int, int, int, int]:
    """Return the nearest of the eight ways a picture can lie."""
    data = frame.side_data.get("DISPLAYMATRIX")
    if data is None:
        return (1, 0, 0, 1)
    matrix = np.frombuffer(bytes(cast(Buffer, data)), np.int32)[:9].reshape(3, 3)
    a, b, c, d = (int(v) for v in (matrix[0, 0], matrix[0, 1], matrix[1, 0], matrix[1, 1]))
    if abs(a) + abs(d) >= abs(b) + abs(c):
        signs = (1 if a >= 0 else -1, 0, 0, 1 if d >= 0 else -1)
    else:
        signs = (0, 1 if b >= 0 else -1, 1 if c >= 0 else -1, 0)
    return signs if any((a, b, c, d)) else (1, 0, 0, 1)


class DisplayTransform:
    """Turns decoded pictures upright at a fixed size, one out for each one in.

    Parameters
    ----------
    shape : Shape
    size : (int, int)
        Even width and height wanted.
    pixels : str
        Pixel format wanted: "yuv420p" for films, "rgb24" for stills.
    """

    def __init__(self, shape: DisplayShape, size: tuple[int, int], pixels: str = "yuv420p") -> None:
        self.shape, self.size, self.pixels = shape, size, pixels
        self._graph: Graph | None = None
        self._key: tuple[object, ...] = ()
        self._stamps: deque[tuple[int | None, int]] = deque()
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    def turn(self, frame: VideoFrame) -> list[VideoFrame]:
        """Return the upright pictures ready after this one: usually one; none at first when lines are
        woven.
        """
        if self._untouched(frame):
            return [frame]
        done: list[VideoFrame] = []
        key = (frame.width, frame.height, frame.format.name, frame.colorspace, frame.color_range)
        if key != self._key:
            done = self.rest()
            self._graph, self._key = self._build(frame), key
        assert self._graph is not None
        self._stamps.append((frame.pts, frame.duration))
        base, frame.pts = frame.time_base, len(self._stamps)
        self._graph.vpush(frame)
        return [*done, *self._pull(base)]

    def rest(self) -> list[VideoFrame]:
        """Return what is still held back at the end of the film."""
        if self._graph is None:
            return []
        try:
            self._graph.vpush(None)
            return self._pull(None)
        finally:
            self._graph = None
            self._key = ()

    def close(self) -> None:
        """Remove the colour table, if one was written."""
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def _untouched(self, frame: VideoFrame) -> bool:
        shape = self.shape
        return (
            frame.format.name == self.pixels
            and self.pixels in PLAIN
            and (frame.width, frame.height) == self.size
            and not shape.turn_deg
            and not shape.mirrored
            and not shape.transfer
            and not shape.interlaced
            and frame.color_range != FULL_RANGE
        )

    def _pull(self, base: object) -> list[VideoFrame]:
        done = []
        while self._graph is not None and self._stamps:
            try:
                frame = self._graph.vpull()
            except (BlockingIOError, EOFError):
                break
            frame.pts, frame.duration = self._stamps.popleft()
            if self.shape.transfer:
                frame.color_trc, frame.color_primaries = BT709, BT709
            if base is not None:
                frame.time_base = base  # type: ignore[assignment]
            done.append(frame)
        return done

    def _build(self, frame: VideoFrame) -> Graph:
        graph = Graph()
        # The range of JPEG-like formats is part of their name; swscale still wants it said.
        colour = f":colorspace={frame.colorspace}:range={frame.color_range}"
        at = graph.add(
            "buffer",
            f"video_size={frame.width}x{frame.height}:pix_fmt={frame.format.name}:time_base=1/1000:pixel_aspect=1/1"
            + colour,
        )
        for name, options in self._filters():
            step = graph.add(name, **options)
            at.link_to(step)
            at = step
        at.link_to(graph.add("buffersink"))
        graph.configure()
        return graph

    def _filters(self) -> list[tuple[str, dict[str, str]]]:
        _, _, turns = next(t for t in TURNS.values() if t[:2] == (self.shape.turn_deg, self.shape.mirrored))
        width, height = self.size
        if self.shape.turn_deg in {90, 270}:
            width, height = height, width
        steps: list[tuple[str, dict[str, str]]] = []
        if self.shape.interlaced:
            steps.append(("bwdif", {"mode": "send_frame", "deint": "all"}))
        ordinary = {"out_color_matrix": "bt709"} if self.shape.transfer and self.pixels in PLAIN else {}
        steps.append(("scale", {"w": str(width), "h": str(height), "flags": "bilinear"}))
        if self.shape.transfer:
            steps += [("format", {"pix_fmts": "gbrp10le"}), ("lut3d", {"file": self._table()})]
        for turn in turns:
            name, _, direction = turn.partition("=")
            steps.append((name, {"dir": direction} if direction else {}))
        tv = {"out_range": "tv"} if self.pixels in PLAIN else {}
        return [*steps, ("scale", {**ordinary, **tv}), ("format", {"pix_fmts": self.pixels})]

    def _table(self) -> str:
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="goodlength-")
        path = Path(self._folder.name) / "colours.cube"
        if not path.exists():
            hdr_tone_mapping_lut.write_table(path, self.shape.transfer)
        return str(path)
