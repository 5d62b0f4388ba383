"""Cameras of one film through its knocks: those saved, and those found again where the camera was moved.

```
 saved camera ──── knock ─── found again ─── knock ─── found again
               (its patches no longer lie where they did)
```
A camera found again is used for the tracks only. It is never saved: the coach does that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import GoodlengthError
from goodlength.footage.camera import (
    CameraCalibration,
    CameraLog,
    Drift,
    ImagePatch,
    drift_by_patches,
    image_patches_of,
)
from goodlength.footage.court_detection import background_plate
from goodlength.footage.court_detection.camera_realignment_after_knock import follow_camera, matched_points
from goodlength.footage.media.frame_grab import frames_in
from goodlength.footage.media.video_file_opening_or_rejection import absolute
from goodlength.footage.vision.background_subtraction import Background, estimate_background, watched

Picture = NDArray[np.uint8]
AROUND_US, EVERY_US = 15_000_000, 600_000  # frames behind an empty court: half a minute, some four dozen
FEWEST = 5  # of them in the same view; with fewer, people stay in the picture
SAME_VIEW_PX = 1.0  # of the small picture: an empty court of the film shifted more shows another view
STATE = 20261130


@dataclass(frozen=True)
class FilmToFollow:
    """A film of the match, the cameras that hold for it, and for each the patches that tell if it moved.

    `clicked_us` says in which frame the marks of each camera lie; without it a knock cannot be followed.
    """

    id: str
    path: str
    cameras: CameraLog
    patches: tuple[tuple[ImagePatch, ...], ...] = ()
    clicked_us: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class StandingCamera:
    """A camera as it stands for a while, patches of its picture, and the empty courts that show its view.

    `clicked_us` is the frame in which its marks were clicked; None for a camera found again.
    """

    camera: CameraCalibration
    patches: tuple[ImagePatch, ...]
    courts: tuple[Background, ...]
    clicked_us: int | None = None


class FilmCameras:
    """The cameras of one film; remembers those found again, and which of them was used last."""

    def __init__(self, film: FilmToFollow, courts: Sequence[Background]) -> None:
        self.film, self._courts = film, tuple(courts)
        patches = [*film.patches, *[()] * len(film.cameras.spans)]
        clicked = [*film.clicked_us, *[None] * len(film.cameras.spans)]
        self._views: list[list[StandingCamera]] = [
            [StandingCamera(span.camera, own, self._courts, us)]
            for span, own, us in zip(film.cameras.spans, patches, clicked, strict=False)
        ]
        self._last = [0] * len(self._views)
        self._before: dict[int, Background | None] = {}

    def at(self, us: int) -> StandingCamera | None:
        """Return the view used last of the camera that holds at a moment; None where none is saved."""
        n = self._number(us)
        return None if n is None else self._views[n][self._last[n]]

    def standing_at(self, us: int) -> StandingCamera | None:
        """Return the view in which the camera stands at a moment: one known, or found again now."""
        n = self._number(us)
        if n is None:
            return None
        try:
            frame = self._frame(us)
            for k in (self._last[n], *range(len(self._views[n]))):
                view: StandingCamera = self._views[n][k]
                if view.patches and drift_by_patches(view.camera, view.patches, frame).state is Drift.STILL:
                    self._last[n] = k
                    return view
            found = self._found_again(n, us, frame)
        except GoodlengthError:
            return None  # frames that cannot be read tell nothing
        if found is not None:
            self._views[n].append(found)
            self._last[n] = len(self._views[n]) - 1
        return found

    def _number(self, us: int) -> int | None:
        return next((n for n, span in enumerate(self.film.cameras.spans) if span.holds(us)), None)

    def _frame(self, us: int) -> Picture:
        """Return the frame shown at a moment, blue, green, red, at full size."""
        rgb = next(iter(frames_in(absolute(self.film.path), us)))[1]
        return np.ascontiguousarray(rgb[:, :, ::-1])

    def _found_again(self, n: int, us: int, frame: Picture) -> StandingCamera | None:
        before, after = self._before_knocks(n), empty_court_at(self.film.path, us)
        if before is None or after is None:
            return None
        saved = self._views[n][0].camera
        pictures = [np.ascontiguousarray(court.picture[:, :, ::-1]) for court in (before, after)]
        camera = follow_camera(np.random.default_rng(STATE), saved, *pictures)
        if camera is None:
            return None
        same = [court for court in self._courts if _same_view(after.picture, court.picture)]
        return StandingCamera(camera, image_patches_of(camera, frame), (after, *same))

    def _before_knocks(self, n: int) -> Background | None:
        """Return the empty court as the saved camera saw it, where the film still shows that view."""
        if n not in self._before:
            self._before[n] = None
            if n < len(self.film.clicked_us):
                us, view = self.film.clicked_us[n], self._views[n][0]
                drift = drift_by_patches(view.camera, view.patches, self._frame(us)) if view.patches else None
                if drift is not None and drift.state is Drift.STILL:
                    self._before[n] = empty_court_at(self.film.path, us)
        return self._before[n]


def empty_court_at(path: str | Path, us: int) -> Background | None:
    """Return the court without players in the view of a moment; None where too few frames show that view."""
    frames = [(at, picture) for at, picture, _ in watched(path, us - AROUND_US, us + AROUND_US, EVERY_US)]
    if not frames:
        return None
    reference = int(np.argmin([abs(at - us) for at, _ in frames]))
    used = background_plate([picture for _, picture in frames], reference).used
    if len(used) < FEWEST:
        return None
    return replace(estimate_background([frames[k] for k in used]), at_us=us)


def _same_view(picture: Picture, other: Picture) -> bool:
    """Return whether two empty courts were seen from the same place."""
    if picture.shape != other.shape:
        return False
    old, new = matched_points(picture, other)
    return len(old) >= FEWEST and float(np.median(np.linalg.norm(new - old, axis=1))) < SAME_VIEW_PX
