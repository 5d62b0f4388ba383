"""Settings of a side-by-side pair of serves: the common moment and mirroring; stored by pair.

What is drawn belongs to the frames of the match, as on every page. Lines that an earlier version stored with
a pair are moved there when the pair is opened.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import BaseModel, Field, StrictBool, StrictInt, model_validator

from goodlength.errors import DamagedFile, InputError, NotFound
from goodlength.files.json_types import Json
from goodlength.files.library_layout import pair_lines_file
from goodlength.files.locked_json_file import JsonFile
from goodlength.files.typed_value_parsing import read_as
from goodlength.footage.edit.drawing_overlay import POINTS, OverlayLine
from goodlength.tasks.sharing.coach_drawing_selection_by_clip_span import move_to_frames, turned_over

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

MOST_LINES, MOST_PAIRS = 20, 40
MOST_NUDGE_US = 2_000_000


_Nudge = Annotated[StrictInt, Field(ge=-MOST_NUDGE_US, le=MOST_NUDGE_US)]
_Share = Annotated[float, Field(ge=0, le=1, strict=True)]  # of the picture's width or height


class _LineValue(BaseModel):
    kind: Literal["line", "arrow", "angle"]
    points: tuple[tuple[_Share, _Share], ...]

    @model_validator(mode="after")
    def _has_its_points(self) -> Self:
        if len(self.points) != POINTS[self.kind]:
            raise ValueError("a line or an arrow needs two points, an angle three")
        return self


class _PairValue(BaseModel):
    nudge_us: tuple[_Nudge, _Nudge] = (0, 0)
    mirrored: StrictBool = False
    lines: tuple[tuple[_LineValue, ...], tuple[_LineValue, ...]] = ((), ())


@dataclass(frozen=True)
class SideBySide:
    """Two serves: by how much each moment lies from contact, the second one turned over; and lines of before,
    drawn at contact as it is seen.
    """

    rallies: tuple[str, str]
    nudge_us: tuple[int, int] = (0, 0)
    mirrored: bool = False
    lines: tuple[tuple[OverlayLine, ...], tuple[OverlayLine, ...]] = field(default=((), ()))

    def as_json(self) -> dict[str, Json]:
        """Return plain values, without lines of before."""
        return {key: value for key, value in asdict(self).items() if key != "lines"}


def side_by_side_of(opened: OpenMatch, rallies: Sequence[str]) -> SideBySide:
    """As the coach left this pair, or as it begins.

    Raises
    ------
    NotFound
        No such rally.
    DamagedFile
        What was kept cannot be read; the file is left as it is.
    """
    a, b = _pair(opened, rallies)
    path = pair_lines_file(opened.library.folder, opened.id)
    try:
        stored = JsonFile(path).read().get(f"{a} {b}")
        return SideBySide((a, b)) if stored is None else _read((a, b), stored)
    except InputError as error:
        raise _damaged(path, error) from error


def latest_pair(opened: OpenMatch) -> tuple[str, ...]:
    """Return the two rallies set last beside each other that are still in the match; empty for none."""
    known = {rally.key for rally in opened.match.rallies}
    stored = JsonFile(pair_lines_file(opened.library.folder, opened.id)).shown()
    pairs = [tuple(name.split(" ")) for name in stored]
    return next((pair for pair in reversed(pairs) if len(pair) == 2 and known >= set(pair)), ())


def opened_side_by_side(opened: OpenMatch, rallies: Sequence[str]) -> SideBySide:
    """As `side_by_side_of`, once lines stored with the pair are drawings on the frames of the match.

    Raises
    ------
    DamagedFile, NotFound, NoSpace, InputError
        As `side_by_side_of` and `save_drawing`; nothing is lost.
    """
    settings = side_by_side_of(opened, rallies)
    if not any(settings.lines):
        return settings
    for n, (key, lines) in enumerate(zip(settings.rallies, settings.lines, strict=True)):
        at_us = (opened.rally(key).start_us or 0) + settings.nudge_us[n]
        seen = turned_over(lines) if n and settings.mirrored else lines
        move_to_frames(opened, f"{' '.join(settings.rallies)} {n}", seen, at_us)
    plain = {"nudge_us": list(settings.nudge_us), "mirrored": settings.mirrored}
    return save_side_by_side(opened, settings.rallies, plain)


def save_side_by_side(opened: OpenMatch, rallies: Sequence[str], fields: Mapping[str, object]) -> SideBySide:
    """Keep a pair as set; the oldest goes when there are too many.

    Parameters
    ----------
    fields : mapping
        `nudge_us` (two whole numbers), `mirrored`, and of before `lines` (two lists of {kind, points}).

    Raises
    ------
    InputError, NotFound
        With the value, and what would be accepted.
    DamagedFile
        What was kept before cannot be read; it is not overwritten.
    NoSpace
        The library's folder cannot be written.
    """
    pair = _pair(opened, rallies)
    side_by_side_of(opened, pair)
    made = _read(pair, fields)
    new = {**made.as_json(), "lines": [[_plain(line) for line in side] for side in made.lines]}
    del new["rallies"]

    def with_pair(pairs: dict[str, Any]) -> dict[str, Any]:
        pairs.pop(" ".join(pair), None)
        pairs[" ".join(pair)] = new
        return dict(list(pairs.items())[-MOST_PAIRS:])

    JsonFile(pair_lines_file(opened.library.folder, opened.id)).update(with_pair)
    return made


def _pair(opened: OpenMatch, rallies: Sequence[str]) -> tuple[str, str]:
    known = {rally.key for rally in opened.match.rallies}
    if len(rallies) != 2 or rallies[0] == rallies[1]:
        raise InputError("Choose two different rallies to show side by side.")
    for key in rallies:
        if key not in known:
            raise NotFound(
                f"There is no rally {key!r} in this match.",
                page="That rally is no longer in this match. Reload the page and choose another.",
            )
    return rallies[0], rallies[1]


def _read(pair: tuple[str, str], fields: object) -> SideBySide:
    try:
        read = read_as(_PairValue, fields, "pair")
    except InputError as error:
        raise InputError(str(error), page="The drawing could not be read. Reload the page.") from error
    if max(len(side) for side in read.lines) > MOST_LINES:
        raise InputError(f"At most {MOST_LINES} lines on a frame. Undo some.")
    left, right = (tuple(OverlayLine(value.kind, value.points) for value in side) for side in read.lines)
    return SideBySide(pair, read.nudge_us, read.mirrored, (left, right))


def _plain(line: OverlayLine) -> dict[str, Json]:
    return {"kind": line.kind, "points": [list(point) for point in line.points]}


def _damaged(path: Path, error: InputError) -> DamagedFile:
    return DamagedFile(
        f"The lines drawn on pairs cannot be read from {path} ({error}). It is left as it is. Restore it "
        "from a back-up, or move it away and draw again.",
        page=f"The lines drawn on this pair cannot be read. They are left as they are. Restore the library "
        f"from a back-up, or move the file {path.name} out of its folder and draw again.",
    )
