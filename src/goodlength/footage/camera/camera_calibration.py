"""Calibrate a camera from clicked court marks: errors stated, wrong clicks named, poor marks refused.

Four marks on the floor give the floor alone; six, not all in one plane, give the whole court; six on the
front wall give that wall. Positions on the floor and walls carry the error of the clicks and of everything
the marks leave open, lens included.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from goodlength.court import CourtSurface
from goodlength.court.dimensions import FRONT_OUT_M, LENGTH_M, WIDTH_M
from goodlength.errors import CalibrationError
from goodlength.footage.camera.camera_covariance import detected_covariance, parameter_covariance
from goodlength.footage.camera.camera_fitting import ASSUMED_K1, CameraFit, all_fits, click_error_px
from goodlength.footage.camera.camera_model import CameraModel, Floats
from goodlength.footage.camera.click_outliers import GOOD_ERRORS, OutlierMark, explain_bad_fit, outliers_among
from goodlength.footage.camera.court_mark_click_validation import (
    Click,
    check_clicks,
    on_front_wall,
    points_and_clicks,
)
from goodlength.footage.camera.court_mark_definitions import marks_in_words
from goodlength.footage.camera.projection_uncertainty import (
    CourtPoint,
    ImagePoint,
    OutOfView,
    ParameterCovariance,
    backproject,
    backproject_all,
    project_point,
)

WALL_ERROR_M = 0.25  # a front wall less sure than this (median) is not offered
FLOOR_ERROR_M = 0.30  # likewise a floor: the marks are refused
RIVAL_COST = 9.0  # a camera this little worse (chi squared) is a rival
WALLS = (CourtSurface.FRONT, CourtSurface.TIN, CourtSurface.LEFT, CourtSurface.RIGHT, CourtSurface.BACK)


@dataclass(frozen=True)
class ClickResidual:
    """How far a click lies from where the camera puts its mark, px (click minus mark)."""

    mark: str
    du_px: float
    dv_px: float

    @property
    def px(self) -> float:
        """The distance."""
        return math.hypot(self.du_px, self.dv_px)


@dataclass(frozen=True)
class ErrorSpan:
    """Standard errors of places over the part of a surface that is seen: median and 95th percentile, m.

    `seen` is the share of the surface that is in the picture; the errors are NaN where it is nothing.
    """

    median_m: float
    p95_m: float
    seen: float

    @property
    def words(self) -> str:
        """In centimetres."""
        if not self.seen:
            return "not in the frame"
        return f"{100 * self.median_m:.1f} cm ({100 * self.p95_m:.1f} cm at the worst places)"


@dataclass(frozen=True, eq=False)
class CameraCalibration:
    """A solved camera: lens, doubts, and what to tell the coach about it.

    `floor_only` cameras know the floor and nothing above it, `front_only` ones the front wall and nothing
    before it. `lens_found` says whether the marks settle
    the lens's distortion; otherwise an assumed range of it stands in the errors. `suspects` are clicks
    that the others contradict: they are in use until left out or clicked again.
    """

    lens: CameraModel
    covariance: ParameterCovariance
    tin: str
    clicks: tuple[Click, ...]
    left_out: tuple[Click, ...]
    residuals: tuple[ClickResidual, ...]
    suspects: tuple[OutlierMark, ...]
    floor_only: bool
    front_only: bool
    lens_found: bool
    floor: ErrorSpan
    front: ErrorSpan

    @property
    def rms_px(self) -> float:
        """Root of the mean squared distance between click and mark."""
        return math.sqrt(sum(r.px**2 for r in self.residuals) / len(self.residuals))

    def why_not(self, surface: CourtSurface) -> str:
        """Return why this camera says nothing of a surface; empty where it does."""
        if self.floor_only and surface in WALLS:
            return "this camera knows only the floor. Mark at least one point above the floor."
        if self.front_only and surface not in (CourtSurface.FRONT, CourtSurface.TIN):
            return "this camera knows only the front wall. Mark at least four points on the floor."
        return ""

    def place(
        self, surface: CourtSurface, u: float, v: float, click_px: float = 0.0
    ) -> CourtPoint | OutOfView:
        """Return the court point under a picture point on a surface, with its error.

        Parameters
        ----------
        surface : Surface
            Floor or a wall; the surface must be known beforehand.
        u, v : float
            Picture point, px of the upright picture.
        click_px : float
            Standard error of the picture point each way: 2 for a careful click, 4 or more for feet.
        """
        if why := self.why_not(surface):
            return OutOfView(why)
        return backproject(self.lens, self.covariance, surface, u, v, click_px)

    def floor_places(self, uv: Floats, click_px: float = 0.0) -> tuple[Floats, Floats, Floats]:
        """Return many floor points at once: xy (n, 2) in m, covariance (n, 2, 2) in m², good (n,) as 0 or
        1.
        """
        xyz, covariance, good = backproject_all(self.lens, self.covariance, CourtSurface.FLOOR, uv, click_px)
        return xyz[:, :2], covariance, good.astype(float) * (not self.front_only)

    def spot(self, x_m: float, y_m: float, z_m: float) -> ImagePoint | OutOfView:
        """Return where a court point is in the picture."""
        if (abs(z_m) > 0.0 and (why := self.why_not(CourtSurface.FRONT))) or (
            y_m > 0.0 and (why := self.why_not(CourtSurface.FLOOR))
        ):
            return OutOfView(why)
        return project_point(self.lens, self.covariance, x_m, y_m, z_m)

    @property
    def words(self) -> tuple[str, ...]:
        """What the coach should know, one sentence each."""
        good = self.rms_px <= GOOD_ERRORS * click_error_px(self.lens.width, self.lens.height)
        fit = "fit together well" if good else "do not fit together well: check those named here"
        sentences = [f"The {len(self.clicks)} marks {fit}."]
        if all(click.detected for click in self.clicks):  # from one fit, they always fit together
            sentences = [f"All {len(self.clicks)} marks were detected together."]
        if self.floor_only:
            sentences.append(
                "Only the floor is known: for walls and heights click at least 6 marks, some of them above "
                "the floor."
            )
        if self.front_only:
            sentences.append("Only the front wall is known: for the floor click at least 4 marks on it.")
        else:
            sentences.append(f"Error of a position on the floor: {self.floor.words}.")
        if not self.floor_only:
            sentences.append(f"Error of a position on the front wall: {self.front.words}.")
        if not self.lens_found:
            sentences.append("The marks do not determine the lens; the errors allow for its usual range.")
        sentences += [suspect.words for suspect in self.suspects]
        return tuple(sentences)


def calibrate_camera(
    clicks: Sequence[Click],
    width: int,
    height: int,
    tin: str = "standard",
    leave_out: Collection[str] = (),
) -> CameraCalibration:
    """Return the camera behind clicked court marks, with its errors and the clicks to doubt.

    Parameters
    ----------
    clicks : sequence of Click
        At least four on the floor for the floor alone; six, not all in one plane, for the court; six on the
        front wall for that wall alone.
    width, height : int
        Of the upright picture, px.
    tin : str
        "standard" or "tour": the tin's marks depend on it.
    leave_out : collection of str
        Marks to leave out, for instance suspects the coach cannot click again.

    Returns
    -------
    Camera

    Raises
    ------
    CalibrationError
        For unknown, double, too few or collinear marks, clicks outside the picture, marks that are
        swapped or mirrored, and marks no camera can see like this. The text says which and what to do.

    Limits
    ------
    One radial and two tangential terms, square pixels, principal point near the middle of the picture (one
    standard error is 12 px of 1920): pictures that were cropped, or steadied by the phone, break the last. A
    recording mirrored as a whole cannot be told from the
    marks. Courts are up to 5 mm off a line and 10 mm in length and width; that is not in the errors.

    Examples
    --------
    >>> clicks = [Click("short-left", 402, 640), Click("short-right", 1500, 655)]
    >>> calibrate_camera(clicks, 1920, 1080)
    Traceback (most recent call last):
    goodlength.errors.CalibrationError: Cannot place the camera from 2 court marks (short-left, \
short-right): at least 4 on the floor are needed, and 6 for the whole court. Click another line crossing, \
for instance left-box-front.
    """
    used = tuple(click for click in clicks if click.mark not in set(leave_out))
    left_out = tuple(click for click in clicks if click.mark in set(leave_out))
    try:
        return _calibrated(used, left_out, width, height, tin)
    except CalibrationError as error:
        error.page = error.page or marks_in_words(str(error), tin)
        raise


def _calibrated(
    used: tuple[Click, ...], left_out: tuple[Click, ...], width: int, height: int, tin: str
) -> CameraCalibration:
    check_clicks(used, width, height, tin)
    points, picture = points_and_clicks(used, tin)
    fits = all_fits(points, picture, width, height)
    fit = fits[0] if fits else None
    suspects = () if fit is None else outliers_among(fit, used, points, picture, tin)
    why = explain_bad_fit(fit, suspects, used, points, picture, tin, (width, height))
    if fit is None or why:
        raise CalibrationError(why)
    if not on_front_wall(points):
        _refuse_rivals(fits, used)
    return _camera(fit, used, left_out, suspects, tin, points)


def _camera(
    fit: CameraFit,
    used: tuple[Click, ...],
    left_out: tuple[Click, ...],
    suspects: tuple[OutlierMark, ...],
    tin: str,
    points: Floats,
) -> CameraCalibration:
    """Errors stated, or refused where they are too large to be of use."""
    spread = detected_covariance if any(click.detected for click in used) else parameter_covariance
    covariance = spread(fit, points)
    floor = _span(fit.lens, covariance, CourtSurface.FLOOR)
    front = _span(fit.lens, covariance, CourtSurface.FRONT)
    flat = len(used) < 6 or _one_plane(points)
    front_only = on_front_wall(points)
    if front_only and not front.median_m < WALL_ERROR_M:
        raise CalibrationError(
            f"These {len(used)} marks ({', '.join(click.mark for click in used)}) leave "
            "even the front wall uncertain, although they lie on it. Click marks further apart, and "
            "four on the floor for the whole court."
        )
    if not front_only and (not floor.seen or floor.median_m > FLOOR_ERROR_M):
        raise CalibrationError(
            f"These {len(used)} marks ({', '.join(click.mark for click in used)}) leave the floor "
            "uncertain by "
            f"{100 * floor.median_m:.0f} cm: they are too close together or along one line. "
            "Click marks further apart, some near and some far."
        )
    floor_only = not front_only and (flat or (front.seen > 0.0 and not front.median_m < WALL_ERROR_M))
    k1_error = math.sqrt(float(covariance.covariance[7, 7]))
    return CameraCalibration(
        lens=fit.lens,
        covariance=covariance,
        tin=tin,
        clicks=used,
        left_out=left_out,
        residuals=tuple(
            ClickResidual(click.mark, -float(r[0]), -float(r[1]))
            for click, r in zip(used, fit.residuals, strict=True)
        ),
        suspects=suspects,
        floor_only=floor_only,
        front_only=front_only,
        lens_found=k1_error < 0.5 * ASSUMED_K1[1],
        floor=floor,
        front=front,
    )


def with_camera(
    camera: CameraCalibration, lens: CameraModel, covariance: ParameterCovariance, marks: Sequence[Click]
) -> CameraCalibration:
    """Return a calibration with another camera and its marks, the errors of floor and front wall anew."""
    return replace(
        camera,
        lens=lens,
        covariance=covariance,
        clicks=tuple(marks),
        left_out=(),
        residuals=tuple(ClickResidual(mark.mark, 0.0, 0.0) for mark in marks),
        suspects=(),
        floor=_span(lens, covariance, CourtSurface.FLOOR),
        front=_span(lens, covariance, CourtSurface.FRONT),
    )


def _refuse_rivals(fits: Sequence[CameraFit], used: Sequence[Click]) -> None:
    """Raise CalibrationError where another camera explains the marks about as well, with another floor."""
    best = fits[0]
    for other in fits[1:]:
        if other.cost > best.cost + RIVAL_COST:
            break
        apart = _floor_distance_m(best.lens, other.lens)
        if apart > FLOOR_ERROR_M:
            text, two = (f"{fit.lens.place_m[2]:.1f} m" for fit in (best, other))
            raise CalibrationError(
                f"These {len(used)} marks ({', '.join(c.mark for c in used)}) fit two cameras equally well, "
                f"one {text} above the floor and one {two}, and their floors are {100 * apart:.0f} cm apart. "
                "Click one or two more marks, far from these, best on the front wall."
            )


def _floor_distance_m(model: CameraModel, two: CameraModel) -> float:
    """Return median distance between the places two cameras give to the same picture points of the floor."""
    across = np.linspace(0.2, WIDTH_M - 0.2, 7)
    grid = np.array([(x, y, 0.0) for x in across for y in np.linspace(0.2, LENGTH_M - 0.2, 9)])
    uv, shown = model.project(grid)
    here = shown & model.inside(uv)
    if not here.any():
        return math.inf
    rays = two.rays(uv[here])
    with np.errstate(divide="ignore", invalid="ignore"):
        steps = -two.place_m[2] / rays[:, 2]
        apart = np.linalg.norm(two.place_m + steps[:, None] * rays - grid[here], axis=1)
    return float(np.median(np.where(np.isfinite(apart) & (steps > 0.0), apart, np.inf)))


def _one_plane(points: Floats) -> bool:
    """Return whether all marks lie in one plane."""
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return bool(spread[2] < 0.05)


def _span(lens: CameraModel, fit_covariance: ParameterCovariance, surface: CourtSurface) -> ErrorSpan:
    """Return errors over the part of a surface in the picture, on a grid."""
    across = np.linspace(0.2, WIDTH_M - 0.2, 9)
    if surface is CourtSurface.FLOOR:
        grid = [(float(x), float(y), 0.0) for x in across for y in np.linspace(0.2, LENGTH_M - 0.2, 13)]
    else:
        grid = [(float(x), 0.0, float(z)) for x in across for z in np.linspace(0.2, FRONT_OUT_M, 9)]
    points = np.array(grid)
    uv, shown = lens.project(points)
    here = shown & lens.inside(uv)
    if not here.any():
        return ErrorSpan(math.nan, math.nan, 0.0)
    _, covariance, _ = backproject_all(lens, fit_covariance, surface, uv[here])
    errors = np.sqrt(covariance[:, 0, 0] + covariance[:, 1, 1])
    errors = np.where(np.isfinite(errors), errors, np.inf)
    return ErrorSpan(
        float(np.median(errors)), float(np.quantile(errors, 0.95, method="higher")), float(here.mean())
    )
