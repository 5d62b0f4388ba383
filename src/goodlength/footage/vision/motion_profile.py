"""Motion profile of a video: a cheap measure of movement five times a second, with checkpoints.

The picture is made small; what changes from one small picture to the next by more than noise and light is
summed, in all and in each of a few cells of the picture. What was measured is kept, so that a stopped look
goes on where it was.

```
 frame ── made small ──> difference to the one before ──> beyond noise ──> amount a fifth of a second, by cell
```
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from goodlength.errors import Cancelled
from goodlength.files.array_file_errors import UNREADABLE_ARRAYS
from goodlength.files.atomic_write import atomic_write
from goodlength.footage.media.damage_tolerant_frame_decoding import decode_frames, decode_frames_from, pts_of
from goodlength.footage.media.frame_presentation_time_table import us_of
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.footage.media.video_probe import fingerprint
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.media_time import MICROSECONDS

WIDTH, HEIGHT = 96, 54
ROWS, COLUMNS = 6, 8  # of the cells
EVERY_S = 0.2  # between two pictures that are compared
EARLY_S = 0.02  # a picture this much earlier will do
MOST = 256 / (EVERY_S - EARLY_S)  # all of 8 bits of grey in the shortest time between two pictures
NOISE_MEDIANS, NOISE_GREY = 3.0, 2.0  # what changes less is noise or light
KEEP_EVERY_S = 120.0  # of film
LONGEST_GAP_S = 1.0  # pictures further apart are not compared: one may have been lost
STOPPED = "Measuring the movement in {} was paused; what was measured is saved for the next time."

Numbers = NDArray[np.float64]
Cells = NDArray[np.float32]
SmallPicture = NDArray[np.float32]


@dataclass(frozen=True)
class MotionProfile:
    """Moments in seconds of media time, and how much moved there: grey levels a small pixel, a second.

    `cells` is the same by cell of the picture, shape (n, `ROWS`, `COLUMNS`), top left first; its mean over
    cells is `amount`.
    """

    time_s: Numbers
    amount: Numbers
    cells: Cells

    @classmethod
    def empty(cls) -> MotionProfile:
        """Return a profile of nothing."""
        return cls(np.zeros(0), np.zeros(0), np.zeros((0, ROWS, COLUMNS), np.float32))

    @classmethod
    def of_cells(cls, time_s: Numbers, cells: Cells) -> MotionProfile:
        """Return a profile by its cells."""
        return cls(time_s, cells.mean(axis=(1, 2), dtype=np.float64), cells)

    @classmethod
    def even(cls, time_s: Numbers, amount: Numbers) -> MotionProfile:
        """Return a profile in which the same moves in each cell."""
        cells = np.repeat(amount.astype(np.float32), ROWS * COLUMNS).reshape(-1, ROWS, COLUMNS)
        return cls(time_s, amount, cells)

    def shifted(self, by_s: float) -> MotionProfile:
        """Return the same with all moments later by so much."""
        return replace(self, time_s=self.time_s + by_s)

    def between(self, first_s: float, end_s: float) -> MotionProfile:
        """Return what was measured inside a range."""
        inside = (self.time_s >= first_s) & (self.time_s < end_s)
        return MotionProfile(self.time_s[inside], self.amount[inside], self.cells[inside])


class MotionMeter:
    """Measures how much moves from one small picture to the next."""

    def __init__(self, last_s: float = -np.inf) -> None:
        self._before: SmallPicture | None = None
        self._before_s = 0.0
        self._last_s = last_s
        self.times: list[float] = []
        self.cells: list[Cells] = []

    def wants(self, at_s: float) -> bool:
        """Return whether a picture of this moment is to be measured."""
        return self._before is None or not 0 <= at_s - self._before_s < EVERY_S - EARLY_S

    def take(self, at_s: float, frame: VideoFrame) -> None:
        """Make a decoded frame small and measure it."""
        small = frame.reformat(WIDTH, HEIGHT, "gray", interpolation="AREA").to_ndarray()
        self.feed(at_s, small.astype(np.float32))

    def feed(self, at_s: float, small: SmallPicture) -> None:
        """Compare a small picture with the one before."""
        gap_s = at_s - self._before_s
        if self._before is not None and 0 < gap_s <= LONGEST_GAP_S and at_s > self._last_s:
            change = np.abs(small - self._before)
            noise = NOISE_MEDIANS * float(np.median(change)) + NOISE_GREY
            self.times.append(at_s)
            beyond = np.maximum(change - noise, 0) / gap_s
            parts = beyond.reshape(ROWS, HEIGHT // ROWS, COLUMNS, WIDTH // COLUMNS)
            self.cells.append(parts.mean(axis=(1, 3), dtype=np.float32))
        self._before, self._before_s = small, at_s

    def profile(self) -> MotionProfile:
        """Return what was measured so far."""
        cells = np.array(self.cells, np.float32).reshape(-1, ROWS, COLUMNS)
        return MotionProfile.of_cells(np.array(self.times, np.float64), cells)


def motion_profile(
    path: Path, keep: Path | None = None, progress: Progress | None = None, cancel: Cancel | None = None
) -> MotionProfile:
    """Return how much moves in a film over its whole length.

    Parameters
    ----------
    path : Path
    keep : Path, optional
        A file (.npz) for what has been measured: a later call goes on from there. A film that was replaced
        is measured anew.
    progress, cancel : callable, optional
        Told the share done with a word; asked whether to stop.

    Raises
    ------
    FootageError, Cancelled

    Limits
    ------
    The camera stands still. One that is knocked gives one large value, one that is carried is of no use.
    """
    mark = fingerprint(path)
    before, is_whole = stored_profile(keep, mark)
    if is_whole:
        return before
    last_s = float(before.time_s[-1]) if len(before.time_s) else -np.inf
    meter = MotionMeter(last_s)
    saved_s = max(0.0, last_s)
    for at_s, length_s in _measured(path, meter, last_s):
        stop = cancel is not None and cancel()
        if keep is not None and (stop or at_s - saved_s >= KEEP_EVERY_S):
            _keep(keep, mark, _joined(before, meter.profile()), whole=False)
            saved_s = at_s
        if stop:
            raise Cancelled(STOPPED.format(path.name))
        if progress is not None and length_s > 0:
            progress(min(0.99, at_s / length_s), "measuring the movement")
    whole = _joined(before, meter.profile())
    if keep is not None:
        _keep(keep, mark, whole, whole=True)
    return whole


def _measured(path: Path, meter: MotionMeter, last_s: float) -> Iterator[tuple[float, float]]:
    """Measure a film from a little before a moment on; yield each moment and the film's length."""
    with open_video(path, with_sound=False) as film:
        length_s = (film.container.duration or 0) / MICROSECONDS
        if np.isfinite(last_s):
            pts = round((last_s - LONGEST_GAP_S) / film.base.tick)
            frames = decode_frames_from(film, pts)
        else:
            frames = decode_frames(film)
        for frame in frames:
            at_s = us_of(pts_of(frame), film.base) / MICROSECONDS
            if meter.wants(at_s):
                meter.take(at_s, frame)
                yield at_s, length_s


def save_whole_profile(meter: MotionMeter, keep: Path, path: Path) -> None:
    """Store what was measured while a film was read to its end for something else, unless that is there."""
    mark = fingerprint(path)
    if not stored_profile(keep, mark)[1]:
        _keep(keep, mark, meter.profile(), whole=True)


def _joined(before: MotionProfile, after: MotionProfile) -> MotionProfile:
    return MotionProfile.of_cells(
        np.concatenate([before.time_s, after.time_s]), np.concatenate([before.cells, after.cells])
    )


def _keep(path: Path, mark: str, profile: MotionProfile, *, whole: bool) -> None:
    with atomic_write(path) as part, part.open("wb") as file:
        about = np.array(json.dumps({"mark": mark, "whole": whole}))
        np.savez(file, about=about, time_s=profile.time_s, cells=profile.cells)


def stored_profile(path: Path | None, mark: str) -> tuple[MotionProfile, bool]:
    """Return what an earlier look at the same film kept, and whether the film was measured to its end.

    Nothing where there is none, it is of another film, or it holds what no film gives.
    """
    if path is None:
        return MotionProfile.empty(), False
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            cells = archive["cells"].astype(np.float32)
            found = MotionProfile.of_cells(archive["time_s"].astype(float), cells)
            about = json.loads(str(archive["about"]))
            same, is_whole = about["mark"] == mark, bool(about.get("whole"))
    except UNREADABLE_ARRAYS:
        return MotionProfile.empty(), False
    return (found, is_whole) if same and _is_possible(found) else (MotionProfile.empty(), False)


def _is_possible(profile: MotionProfile) -> bool:
    """Return whether moments are finite and rise, and amounts are such as pictures of grey levels give."""
    time_s, cells = profile.time_s, profile.cells
    if time_s.ndim != 1 or cells.shape != (len(time_s), ROWS, COLUMNS):
        return False
    rises = bool(np.isfinite(time_s).all() and (np.diff(time_s) > 0).all())
    return rises and bool(((cells >= 0) & (cells <= MOST)).all())
