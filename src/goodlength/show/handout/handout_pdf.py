"""The handout as a tagged PDF (PDF/UA-1), typeset by typst from data alone."""

from __future__ import annotations

import json
import math
import re
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict

import typst

from goodlength.errors import GoodlengthError, InputError, PageFull
from goodlength.show.draw.font_metrics import FOLDER
from goodlength.show.draw.svg_primitives_and_themes import FILE
from goodlength.show.handout.handout_content_blocks import Contents, Picture, contents, labels
from goodlength.show.handout.handout_types import HandoutLayout

if TYPE_CHECKING:
    from goodlength.show.handout.handout_types import HandoutData

SIZES_PT = (11.0, 10.5, 10.0, 9.5, 9.0)  # 9 pt is the floor: smaller is not read at arm's length
_SHEET = Path(__file__).parent.parent / "paper" / "handout.typ"
_LONG_WORD = 26  # letters; a longer word may be broken, as it could run off the page
_NO_SHAPE = re.compile(r"the text `\"(.+?)\"` could not be displayed")
# How much of the page each part may take at 9 pt before it is named as too long, mm.
_ROOM_MM = {"header": 30.0, "findings": 62.0, "serves": 95.0, "unknown": 40.0, "words": 75.0, "caution": 18.0}


@dataclass(frozen=True)
class PdfPage:
    """The bytes of the PDF, the size of type that fitted, and how its parts are laid out."""

    pdf: bytes
    type_pt: float
    layout: HandoutLayout


def pdf_page(data: HandoutData) -> PdfPage:
    """Set the page as large as fits on one A4 sheet; on its front and back where `data.back` allows that.

    Raises
    ------
    InputError
        If 9 pt is still too large (the parts to shorten are named), or a letter has no shape.
    """
    words = _breakable(contents(data, FILE))
    try:
        return _set(words, data, own_fonts_only=True)
    except typst.TypstError as fault:
        if not _NO_SHAPE.search(fault.message):
            raise _our_fault(fault.message) from fault
    try:  # a name in another script: take the computer's fonts for it, rather than refuse the player
        return _set(words, data, own_fonts_only=False)
    except typst.TypstError as fault:
        raise _no_shape(fault, data) from fault


def _set(words: Contents, data: HandoutData, *, own_fonts_only: bool) -> PdfPage:
    compiler = typst.Compiler(
        str(_SHEET), root=str(_SHEET.parent), font_paths=[str(FOLDER)], ignore_system_fonts=own_fonts_only
    )
    fixed = {"labels": json.dumps(labels(data))}
    _send_data(compiler, words, fixed)
    fits = json.loads(compiler.query("<fit>", field="value", one=True))
    chosen = _largest_that_fits(fits, back=data.back)
    if chosen is None:
        raise _too_long(fits, data)
    size, layout = chosen
    made = datetime(data.made.year, data.made.month, data.made.day, tzinfo=UTC)
    inputs = {
        **fixed,
        "size": str(size),
        "layout": json.dumps(asdict(layout)),
    }
    pdf, warnings = compiler.compile_with_warnings(
        format="pdf", sys_inputs=_inputs(words, inputs), pdf_standards=["ua-1"], timestamp=made
    )
    if warnings:
        raise _our_fault("; ".join(str(warning.message) for warning in warnings))
    if not isinstance(pdf, bytes):
        raise _our_fault("no PDF came back")
    return PdfPage(pdf, size, layout)


def _largest_that_fits(fits: _Fits, *, back: bool) -> tuple[float, HandoutLayout] | None:
    """Return the largest type that fits one page, else two where they are allowed, and the layout."""
    for fit in fits["sizes"]:
        if fit["total"] <= fits["room"]:
            return fit["size"], HandoutLayout(**fit["layout"])
    for fit in fits["sizes"]:
        if back and fit["two"] <= fits["room"]:
            return fit["size"], HandoutLayout(**fit["layout_two"])
    return None


def _inputs(words: Contents, more: dict[str, str]) -> dict[str, str]:
    return {"data": json.dumps(words), "sizes": json.dumps(SIZES_PT), **more}


def _send_data(compiler: typst.Compiler, words: Contents, more: dict[str, str]) -> None:
    """Hand the data to the compiler for queries, which take them from the last compile."""
    compiler.compile(format="svg", sys_inputs=_inputs(words, more))


def _breakable(value: Any) -> Any:
    """Return the same contents, with a place to break in words too long for any line (pictures left
    alone).
    """
    if isinstance(value, Picture):
        return value
    if isinstance(value, str):
        return _soften(value)
    if isinstance(value, list):
        return [_breakable(item) for item in value]
    if isinstance(value, dict):
        return {key: _breakable(item) for key, item in value.items()}
    return value


def _soften(text: str) -> str:
    def broken(found: re.Match[str]) -> str:
        word = found.group()
        return "\u200b".join(word[at : at + 8] for at in range(0, len(word), 8))

    return re.sub(rf"\S{{{_LONG_WORD},}}", broken, text)


class _Layout(TypedDict):
    stills_aside: bool
    words_aside: bool
    pages: int
    upfront: int
    lines: int
    front_lines: int
    aims: int


class _Size(TypedDict):
    size: float
    total: float
    layout: _Layout
    two: float
    layout_two: _Layout
    parts: dict[str, float]


class _Fits(TypedDict):
    sizes: list[_Size]
    room: float


def _too_long(fits: _Fits, data: HandoutData) -> PageFull:
    """Return the names of the parts that take more than their room, longest first."""
    least = fits["sizes"][-1]
    over_mm = (least["two"] if data.back else least["total"]) - fits["room"]
    parts = least["parts"]
    named = {
        "header": "the names, event and result at the top",
        "findings": "the findings ("
        + ", ".join(f"{n}: {len(f.headline) + len(f.words)} letters" for n, f in enumerate(data.findings, 1))
        + ")",
        "serves": f"the table of serves ({len(data.serves)} kinds)",
        "unknown": f"what is not known ({len(data.unknown)} sentences)",
        "words": f"your own words to the player ({len(data.words)} letters)",
        "caution": f"the caution ({len(data.caution)} letters)",
    }
    excess = {part: parts[part] - room for part, room in _ROOM_MM.items() if part in parts}
    guilty = [part for part in sorted(excess, key=lambda p: -excess[p]) if excess[part] > 0]
    guilty = guilty or [max(excess, key=lambda p: excess[p])]
    return PageFull(
        f"Cannot fit the handout on {'two pages' if data.back else 'one page'}: at 9 pt, the smallest type "
        f"that is read with ease, it is {math.ceil(over_mm)} mm too long. "
        f"Shorten {' and '.join(named[part] for part in guilty)}; "
        "nothing was left out and no file was written."
        + ("" if data.back else " Or let it go on over the back of the page.")
    )


def _no_shape(fault: typst.TypstError, data: HandoutData) -> GoodlengthError:
    found = _NO_SHAPE.search(fault.message)
    if not found:
        return _our_fault(fault.message)
    letters = re.sub(r"\\u\{([0-9a-f]+)\}", lambda code: chr(int(code.group(1), 16)), found.group(1))
    places = {
        "the player's name": data.player,
        "the opponent's name": data.opponent or "",
        "the club": data.club,
        "the event": data.event,
        "your words": data.words,
        "a finding": " ".join(f.headline + f.words for f in data.findings),
        "a kind of serve": " ".join(s.words for s in data.serves),
    }
    where = next((place for place, words in places.items() if letters in words), "the text")
    return InputError(
        f"Cannot print {letters!r} in {where}: no font on this computer has a shape for it. "
        "Write it in other letters for the handout, or install a font that has it."
    )


def _our_fault(words: str) -> GoodlengthError:
    return GoodlengthError(
        f"The handout could not be created ({words}). This is an error in goodlength, not in your data. "
        "No file was written. Please report it with these words."
    )
