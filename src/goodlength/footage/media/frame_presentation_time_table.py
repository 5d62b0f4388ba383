"""Frame table: the exact presentation time of every frame of a video.

Time comes from the stamps of the pictures, never from a frame number and a rate: a phone's film has
uneven steps, and a middle-of-film error of over a second is what the other way gives.

```
 ticks      0       512      1024     2048          (base 1/15360 s)
            |-------|--------|--------|-------|     durations: to the next picture; the last one's own
 picture    0       1        2        3       end
```
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cached_property
from math import gcd
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import FootageError, OutOfRange
from goodlength.files.array_file_errors import UNREADABLE_ARRAYS
from goodlength.files.atomic_write import atomic_write
from goodlength.media_time import TimeBase, Timestamp

FORMAT = 1
PtsArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class FrameTable:
    """The stamps of all pictures of a film, in the order shown.

    Parameters
    ----------
    pts : ndarray of int64, shape (n,)
        Start of each picture in ticks of `base`, strictly rising; n is at least 1.
    base : TimeBase
    durations : ndarray of int64, shape (n,)
        Ticks until the next picture; for the last one its own length.
    keys : ndarray of bool, shape (n,)
        Pictures that can be decoded without an earlier one.
    counted : str
        "decoded" when every picture was really decoded, "packets" when only their packets were read.
    shift_pts : int
        For a proxy whose own clock begins elsewhere: media time is the proxy's time plus this.
    fingerprint : str
        Of the film the table belongs to; "" if unknown.
    jumps_back : int
        How often the file's own clock jumps back; such a file can only be read from its beginning.
    """

    pts: PtsArray
    base: TimeBase
    durations: PtsArray
    keys: NDArray[np.bool_]
    counted: str = "packets"
    shift_pts: int = 0
    fingerprint: str = ""
    jumps_back: int = 0

    def __post_init__(self) -> None:
        n = len(self.pts)
        if n == 0 or self.durations.shape != (n,) or self.keys.shape != (n,):
            raise OutOfRange(f"A frame table needs at least one frame and as many lengths; got {n} pictures.")
        if n > 1 and not bool(np.all(np.diff(self.pts) > 0)):
            raise OutOfRange(
                "The time stamps of a frame table must increase from frame to frame; they do not."
            )

    def __len__(self) -> int:
        return len(self.pts)

    @cached_property
    def starts_us(self) -> PtsArray:
        """Start of each picture in whole microseconds, to the nearest."""
        return to_us(self.pts, self.base)

    @cached_property
    def ends_us(self) -> PtsArray:
        """End of each picture in whole microseconds."""
        return to_us(self.pts + self.durations, self.base)

    @property
    def first_us(self) -> int:
        """When the first picture appears."""
        return int(self.starts_us[0])

    @property
    def end_us(self) -> int:
        """When the last picture is over."""
        return int(self.ends_us[-1])

    @property
    def shift_us(self) -> int:
        """What a proxy's own times lack to media time."""
        return int(to_us(np.array([self.shift_pts], np.int64), self.base)[0])

    def timestamp(self, i: int) -> Timestamp:
        """Return the exact start of picture i."""
        return Timestamp(int(self.pts[i]), self.base)

    def index_at(self, us: int) -> int:
        """Return the picture shown at a time; the first or last one outside the film.

        Examples
        --------
        >>> table = table_of(1001 * np.arange(3), TimeBase(1, 30000), 1001, np.ones(3, bool), "decoded")
        >>> table.index_at(33_366), table.index_at(33_367), table.index_at(10**9), table.index_at(-5)
        (0, 1, 2, 0)
        """
        return max(0, int(np.searchsorted(self.starts_us, us, side="right")) - 1)

    def between(self, from_us: int, to_us: int) -> tuple[int, int]:
        """Return the first and last frame of a span: the one shown at `from_us`, the one shown just before
        `to_us`.
        """
        first = self.index_at(from_us)
        last = int(np.searchsorted(self.starts_us, to_us, side="left")) - 1
        return first, max(first, last)

    def to_json(self) -> dict[str, object]:
        """Return the table for the page, steps of equal length counted together.

        Returns
        -------
        dict
            `n`; `base` [num, den] in seconds; `first` and `end` in ticks; `steps` a list of [ticks, how many]
            from picture to picture, n − 1 in all; `shift` in ticks (0 unless the played file is a proxy with
            its own zero: media time = played time + shift). Picture i is shown by seeking to the middle
            between its start and the next one's.
        """
        return {
            "n": len(self),
            "base": [self.base.num, self.base.den],
            "first": int(self.pts[0]),
            "end": int(self.pts[-1] + self.durations[-1]),
            "steps": _runs(np.diff(self.pts)),
            "shift": self.shift_pts,
            "counted": self.counted,
        }

    def save(self, path: Path) -> None:
        """Write the table as one .npz file, whole or not at all."""
        about = {
            "format": FORMAT,
            "base": [self.base.num, self.base.den],
            "counted": self.counted,
            "shift_ticks": self.shift_pts,
            "fingerprint": self.fingerprint,
            "jumps_back": self.jumps_back,
        }
        with atomic_write(path) as part, part.open("wb") as file:
            np.savez_compressed(
                file,
                ticks=self.pts,
                durations=self.durations,
                keys=self.keys,
                about=np.array(json.dumps(about)),
            )

    @classmethod
    def load(cls, path: Path) -> FrameTable:
        """Read a table written by `save`.

        Raises
        ------
        FootageError
            If there is none, or it is damaged or of another version: make it anew from the film.
        """
        try:
            with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
                about = json.loads(str(archive["about"]))
                if about["format"] != FORMAT:
                    raise ValueError(f"version {about['format']}")
                return cls(
                    archive["ticks"].astype(np.int64),
                    TimeBase(*about["base"]),
                    archive["durations"].astype(np.int64),
                    archive["keys"].astype(np.bool_),
                    about["counted"],
                    int(about["shift_ticks"]),
                    str(about["fingerprint"]),
                    int(about["jumps_back"]),
                )
        except UNREADABLE_ARRAYS as error:
            raise FootageError(
                f"The frame table {path.name} cannot be read ({error}). Check the video again to make "
                "a new one."
            ) from error


def to_us(pts: PtsArray, base: TimeBase) -> PtsArray:
    """Return timestamps as whole microseconds, to the nearest, halves to the even one, exactly as
    `media_time.us`.

    Examples
    --------
    >>> to_us(np.array([1, 2, 3]), TimeBase(1001, 30000)).tolist()
    [33367, 66733, 100100]
    """
    num, den = base.num * 1_000_000, base.den
    shared = gcd(num, den)
    num, den = num // shared, den // shared
    turns, left = np.divmod(pts.astype(np.int64), den)  # first: the product alone may pass 64 bits
    whole, rest = np.divmod(left * num, den)
    whole = whole + turns * num
    up = (2 * rest > den) | ((2 * rest == den) & (whole % 2 == 1))
    return np.asarray(whole + up, dtype=np.int64)


def us_of(pts: int, base: TimeBase) -> int:
    """Return one stamp as whole microseconds, by the same rule as `to_us`."""
    num = pts * base.num * 1_000_000
    whole, rest = divmod(num, base.den)
    return whole + (2 * rest > base.den or (2 * rest == base.den and whole % 2 == 1))


def table_of(
    pts: PtsArray,
    base: TimeBase,
    last: int,
    keys: NDArray[np.bool_],
    counted: str,
    fingerprint: str = "",
    jumps_back: int = 0,
) -> FrameTable:
    """Return a table from rising stamps and the length of the last picture."""
    durations = np.append(np.diff(pts), last).astype(np.int64)
    return FrameTable(pts, base, durations, keys, counted, 0, fingerprint, jumps_back)


def _runs(steps: PtsArray) -> list[list[int]]:
    """Equal neighbours counted together: [512, 512, 1024] is [[512, 2], [1024, 1]]."""
    if not len(steps):
        return []
    edges = np.flatnonzero(np.diff(steps)) + 1
    starts = np.concatenate(([0], edges))
    counts = np.diff(np.append(starts, len(steps)))
    return [[int(steps[s]), int(c)] for s, c in zip(starts, counts, strict=True)]
