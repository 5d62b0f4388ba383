"""Store camera calibrations as clicks, solved again when read, and select the one valid at a time.

A camera that was nudged gets a new calibration from that moment on; the old one stays for what was filmed
before it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pydantic import BaseModel, JsonValue

from goodlength.errors import CalibrationError, InputError
from goodlength.files.json_types import Json, JsonObject
from goodlength.files.typed_value_parsing import read_as
from goodlength.footage.camera.camera_calibration import CameraCalibration, calibrate_camera
from goodlength.footage.camera.court_mark_click_validation import Click

FORMAT, VERSION = "goodlength-camera", 1


def camera_to_json(camera: CameraCalibration) -> dict[str, Json]:
    """Return the camera as plain data: its clicks, and for other programs what they were solved to.

    Times, patches and the like belong to whoever keeps it.
    """
    lens = camera.lens
    return {
        "format": FORMAT,
        "version": VERSION,
        "width": lens.width,
        "height": lens.height,
        "tin": camera.tin,
        "clicks": [_click_to_json(click) for click in camera.clicks],
        "left_out": [_click_to_json(click) for click in camera.left_out],
        "solved": {
            "place_m": [round(float(x), 5) for x in lens.place_m],
            "axes": [[round(float(x), 8) for x in row] for row in lens.axes],
            "focal_px": round(lens.focal_px, 3),
            "k1": round(lens.k1, 6),
            "rms_px": round(camera.rms_px, 3),
            "off_middle": [round(x, 6) for x in lens.off_middle],
            "tangential": [round(x, 7) for x in lens.tangential],
            "floor_only": camera.floor_only,
            "front_only": camera.front_only,
            "floor_error_m": None if camera.front_only else _number(camera.floor.median_m),
            "front_wall_error_m": None if camera.floor_only else _number(camera.front.median_m),
        },
    }


class _StoredClick(BaseModel):
    mark: str
    u: float
    v: float
    detected: bool = False


class _StoredCamera(BaseModel):
    clicks: list[_StoredClick]
    left_out: list[_StoredClick] = []
    width: int
    height: int
    tin: str = "standard"


def camera_from_json(data: JsonObject) -> CameraCalibration:
    """Read a kept camera: its clicks are solved again, so that what is shown follows from them.

    Raises
    ------
    InputError
        If this is no camera of goodlength, or one of a later version.
    CalibrationError
        If the clicks do not make a camera.
    """
    if not isinstance(data, Mapping) or data.get("format") != FORMAT:
        raise InputError(
            f"This is not a saved camera calibration: 'format' must be {FORMAT!r}. Choose a file that "
            "goodlength wrote."
        )
    version = data.get("version")
    if not isinstance(version, int) or version > VERSION:
        raise InputError(
            f"This camera was saved by a later goodlength (version {version!r}; this one reads "
            f"{VERSION}). Update goodlength, or click the marks again."
        )
    try:
        stored = read_as(_StoredCamera, data, "kept camera")
    except InputError as error:
        raise InputError(
            f"The saved camera calibration is damaged: {error!s} Click the marks again."
        ) from error
    clicks = [
        Click(click.mark, click.u, click.v, click.detected) for click in (*stored.clicks, *stored.left_out)
    ]
    left_out = [click.mark for click in stored.left_out]
    return calibrate_camera(clicks, stored.width, stored.height, stored.tin, left_out)


def _click_to_json(click: Click) -> dict[str, Json]:
    """Return one click; that it was detected is noted only where it was."""
    place: dict[str, Json] = {"mark": click.mark, "u": click.u, "v": click.v}
    return {**place, "detected": True} if click.detected else place


def _number(value: float) -> float | None:
    """Return a number for JSON, which has no infinity."""
    return round(value, 5) if math.isfinite(value) else None


class _StoredSpan(BaseModel):
    camera: dict[str, JsonValue]
    from_us: int
    until_us: int | None = None


@dataclass(frozen=True, eq=False)
class CameraSpan:
    """A camera and the media time for which it holds, microseconds; `until_us` None means to the end."""

    camera: CameraCalibration
    from_us: int = 0
    until_us: int | None = None

    def holds(self, at_us: int) -> bool:
        """Return whether it holds at a time."""
        return self.from_us <= at_us and (self.until_us is None or at_us < self.until_us)


@dataclass(frozen=True, eq=False)
class CameraLog:
    """The cameras of one piece of footage in order of time, without overlap; gaps may be left between."""

    spans: tuple[CameraSpan, ...] = ()

    def at(self, at_us: int) -> CameraCalibration | None:
        """Return the camera at a time; None where none is known."""
        return next((span.camera for span in self.spans if span.holds(at_us)), None)

    def moved(self, at_us: int, camera: CameraCalibration | None = None) -> CameraLog:
        """Return the log once the camera was moved at a time: the old one ends there, the new one begins.

        Without a new camera the time after stays open: positions there are not given until the marks are
        clicked again.

        Raises
        ------
        CalibrationError
            If a later camera is already there.
        """
        if any(span.from_us >= at_us and span.from_us > 0 for span in self.spans):
            raise CalibrationError(
                f"A camera was already set later than {at_us / 1e6:.1f} s. Delete that one first."
            )
        before = [
            replace(span, until_us=at_us) if span.until_us is None or span.until_us > at_us else span
            for span in self.spans
        ]
        earlier: Sequence[CameraSpan] = [
            span for span in before if span.until_us is None or span.until_us > span.from_us
        ]
        return CameraLog((*earlier, *(() if camera is None else (CameraSpan(camera, at_us),))))

    def to_json(self) -> list[dict[str, Json]]:
        """Return all spans as plain data."""
        return [
            {"from_us": span.from_us, "until_us": span.until_us, "camera": camera_to_json(span.camera)}
            for span in self.spans
        ]

    @staticmethod
    def from_json(data: Sequence[JsonObject]) -> CameraLog:
        """Read all spans."""
        return CameraLog(
            tuple(
                CameraSpan(camera_from_json(span.camera), span.from_us, span.until_us)
                for span in (read_as(_StoredSpan, fields, "kept camera") for fields in data)
            )
        )
