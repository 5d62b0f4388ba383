"""Two serves beside each other as the coach set them: contact nudged, turned over, lines drawn; kept by pair.

Lines belong to the picture at contact. They are kept as shares of the picture's width and height, and are
burnt in only when a film is made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from goodlength.errors import InputError, NotFound
from goodlength.files.json_file import JsonFile
from goodlength.files.json_types import Json
from goodlength.files.library_layout import pair_lines_file
from goodlength.footage.edit.drawing_overlay import POINTS, OverlayLine

if TYPE_CHECKING:
    from goodlength.tasks.match.open_match import OpenMatch

MOST_LINES, MOST_PAIRS = 20, 40
MOST_NUDGE_US = 2_000_000


@dataclass(frozen=True)
class SideBySide:
    """Two serves: by how much each contact was moved, the second one turned over, and what is drawn."""

    rallies: tuple[str, str]
    nudge_us: tuple[int, int] = (0, 0)
    mirrored: bool = False
    lines: tuple[tuple[OverlayLine, ...], tuple[OverlayLine, ...]] = field(default=((), ()))

    def as_json(self) -> dict[str, Json]:
        """Plain values."""
        return asdict(self)


def side_by_side_of(opened: OpenMatch, rallies: Sequence[str]) -> SideBySide:
    """As the coach left this pair, or as it begins.

    Raises
    ------
    NotFound
        No such rally.
    """
    a, b = _pair(opened, rallies)
    kept = JsonFile(pair_lines_file(opened.library.folder, opened.id)).shown().get(f"{a} {b}")
    if kept is None:
        return SideBySide((a, b))
    try:
        return _read((a, b), kept)
    except InputError:  # written by something else: begin anew
        return SideBySide((a, b))


def save_side_by_side(opened: OpenMatch, rallies: Sequence[str], told: Mapping[str, object]) -> SideBySide:
    """Keep a pair as set; the oldest goes when there are too many.

    Parameters
    ----------
    told : mapping
        `nudge_us` (two whole numbers), `mirrored`, `lines` (two lists of {kind, points}).

    Raises
    ------
    InputError, NotFound
        With the value, and what would be accepted.
    NoSpace
        The library's folder cannot be written.
    """
    pair = _pair(opened, rallies)
    made = _read(pair, told)
    new = {key: value for key, value in made.as_json().items() if key != "rallies"}

    def with_pair(kept: dict[str, Any]) -> dict[str, Any]:
        kept.pop(" ".join(pair), None)
        kept[" ".join(pair)] = new
        return dict(list(kept.items())[-MOST_PAIRS:])

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


def _read(pair: tuple[str, str], told: Mapping[str, Any]) -> SideBySide:
    nudge, lines = told.get("nudge_us", (0, 0)), told.get("lines", ((), ()))
    if not (_two(nudge) and all(_whole(one) and abs(one) <= MOST_NUDGE_US for one in nudge)):
        raise InputError(f"A contact is moved by at most 2 s, in microseconds; got {nudge!r:.60}.")
    if not _two(lines):
        raise InputError("The drawing could not be read. Reload the page.")
    left, right = (tuple(_line(one) for one in side) for side in _lists(lines))
    if max(len(left), len(right)) > MOST_LINES:
        raise InputError(f"At most {MOST_LINES} lines on a frame. Undo some.")
    return SideBySide(pair, (int(nudge[0]), int(nudge[1])), told.get("mirrored") is True, (left, right))


def _two(value: object) -> bool:
    return isinstance(value, list | tuple) and len(value) == 2


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _lists(lines: Any) -> list[Any]:
    if not all(isinstance(side, list | tuple) for side in lines):
        raise InputError("The drawing could not be read. Reload the page.")
    return list(lines)


def _line(told: Any) -> OverlayLine:
    kind = told.get("kind") if isinstance(told, Mapping) else None
    points = told.get("points") if isinstance(told, Mapping) else None
    if kind not in POINTS or not isinstance(points, list | tuple) or len(points) != POINTS[kind]:
        raise InputError("A line or an arrow needs two points, an angle three. Draw it again.")
    return OverlayLine(str(kind), tuple(_point(point) for point in points))


def _point(told: Any) -> tuple[float, float]:
    if not (_two(told) and all(isinstance(v, int | float) and not isinstance(v, bool) for v in told)):
        raise InputError("A point of the drawing could not be read. Draw it again.")
    across, down = float(told[0]), float(told[1])
    if not (0 <= across <= 1 and 0 <= down <= 1):  # also refuses what is not a number
        raise InputError(f"A point lies inside the picture, 0 to 1; got {across:.3g}, {down:.3g}.")
    return across, down
