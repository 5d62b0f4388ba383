"""Text width in the font of page and paper, so that drawings break lines by measure."""

from __future__ import annotations

import base64
from functools import lru_cache
from pathlib import Path

import fontpkg_atkinson_hyperlegible
from PIL import ImageFont

FAMILY = "Atkinson Hyperlegible"
FOLDER = Path(fontpkg_atkinson_hyperlegible.ROOT) / "files"
LICENCE = "Atkinson Hyperlegible, copyright 2020 Braille Institute of America, SIL Open Font License 1.1"
_MEASURED_AT = 1000  # px: large enough that hinting does not round the width


def font_file(bold: bool = False) -> Path:
    """Return the TrueType file of the upright or bold cut."""
    return FOLDER / f"AtkinsonHyperlegible-{'Bold' if bold else 'Regular'}.ttf"


@lru_cache(maxsize=2)
def font_base64(bold: bool = False) -> str:
    """Return the font file as base64, for a page that must stand alone."""
    return base64.b64encode(font_file(bold).read_bytes()).decode("ascii")


@lru_cache(maxsize=2)
def _measure(bold: bool) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(font_file(bold), _MEASURED_AT)


@lru_cache(maxsize=4096)
def width(text: str, size: float, bold: bool = False) -> float:
    """Return the advance width of `text` set at `size`, in the unit of `size`.

    Examples
    --------
    >>> width("", 13)
    0.0
    >>> width("lob lob", 20) > width("lob", 20) * 2
    True
    """
    return float(_measure(bold).getlength(text)) * size / _MEASURED_AT


def lines(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """Break `text` at spaces into lines no wider than `room`; a word too wide is cut where it must be.

    Examples
    --------
    >>> lines("Body, for the back-wall nick", 15, 112)
    ['Body, for the', 'back-wall nick']
    """
    done: list[str] = []
    line = ""
    for word in text.split():
        trial = f"{line} {word}" if line else word
        if width(trial, size, bold) <= room:
            line = trial
            continue
        if line:
            done.append(line)
        *full, line = _cut(word, size, room, bold)
        done.extend(full)
    return [*done, line] if line or not done else done


def _cut(word: str, size: float, room: float, bold: bool) -> list[str]:
    """Pieces of one word, each no wider than `room` (a piece is at least one letter)."""
    pieces = [""]
    for letter in word:
        if pieces[-1] and width(pieces[-1] + letter, size, bold) > room:
            pieces.append("")
        pieces[-1] += letter
    return pieces
