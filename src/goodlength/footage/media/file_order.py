"""Several files of one match: their order by name, and their place on one time line.

Files are joined by the end of their last picture, not by the length a container claims, which may be
longer by its sound and would let every mark drift at each join.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from goodlength.clock import Timeline
from goodlength.footage.media.frame_table import FrameTable

# Cameras that split a recording write two letters, the part (two digits) and the recording (four): the
# part stands before the recording, so plain order would mix recordings. Common practice, no source.
SPLIT_NAME = re.compile(r"^([A-Za-z]{2})(\d{2})(\d{4})$")
DIGITS = re.compile(r"(\d+)")

Key = tuple[tuple[int, int, str], ...]


@dataclass(frozen=True)
class OrderedFile:
    """A file in its order, with the reason in words for the preview."""

    path: Path
    words: str


def in_natural_order(paths: Iterable[str | Path]) -> tuple[OrderedFile, ...]:
    """Files in the order their names count: part 2 before part 10, parts of one recording together.

    Shadow files of other systems (`._name`) are left out. The two Unicode forms of a letter are one.

    Examples
    --------
    >>> [p.path.name for p in in_natural_order(["game 10.mp4", "Game 2.mp4", "._game 2.mp4"])]
    ['Game 2.mp4', 'game 10.mp4']
    >>> [p.path.name for p in in_natural_order(["AB020007.MP4", "AB010008.MP4", "AB010007.MP4"])]
    ['AB010007.MP4', 'AB020007.MP4', 'AB010008.MP4']
    """
    files = [Path(p) for p in paths]
    kept = sorted((f for f in files if not f.name.startswith("._")), key=lambda f: (_key(f), f.name))
    return tuple(OrderedFile(f, _words(f, i, len(kept))) for i, f in enumerate(kept))


def _key(path: Path) -> Key:
    stem = unicodedata.normalize("NFC", path.stem)
    split = SPLIT_NAME.match(stem)
    if split:
        letters, part, recording = split.groups()
        return ((1, 0, letters.casefold()), (0, int(recording), ""), (0, int(part), ""))
    pieces = [piece for piece in DIGITS.split(stem.casefold()) if piece]
    return tuple((0, int(p), "") if p.isdecimal() and p.isascii() else (1, 0, p) for p in pieces)


def _words(path: Path, i: int, n: int) -> str:
    split = SPLIT_NAME.match(path.stem)
    place = f"{i + 1} of {n}"
    if split:
        return f"{place}: part {int(split[2])} of recording {int(split[3])}, by its name"
    return f"{place}, by its name"


def join(tables: Sequence[tuple[str, FrameTable]]) -> Timeline:
    """Match time over files one after the other, each from its first picture to the end of its last.

    Parameters
    ----------
    tables : sequence of (footage_id, FrameTable)
        In the order filmed; match time 0 is the first picture of the first file.
    """
    return Timeline.in_order([(name, table.first_us, table.end_us) for name, table in tables])
