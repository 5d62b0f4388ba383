"""Find outlier clicks, and the mix-up that explains marks that do not fit.

Each click is left out in turn; the camera solved from the others says where it should be and how surely.
A click outside that by more than chance allows is a suspect, the worst first; then the rest is looked at
again without it. Several sloppy clicks can hide one another; so the clicks whose leaving out helps most are
also held against chance together.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from goodlength.court import CourtSurface
from goodlength.footage.camera.camera_covariance import parameter_covariance
from goodlength.footage.camera.camera_fitting import CameraFit, click_error_px, fit_lens
from goodlength.footage.camera.camera_model import Floats
from goodlength.footage.camera.court_mark_click_validation import Click, points_and_clicks
from goodlength.footage.camera.court_mark_definitions import CourtMark, court_marks

CHANCE = 0.01  # of naming any click when all are good
LEAST_LEFT = 5  # marks that must remain when one is left out
MOST_SUSPECTS = 3
SMALL_STEP_M = 0.01
GOOD_ERRORS = 3.0  # a fit within so many assumed click errors (rms) is good
BAD_ERRORS = 7.5  # a fit worse than so many is refused


@dataclass(frozen=True)
class OutlierMark:
    """A click the others contradict: how far off it seems, px and on the court, and where they expect it."""

    mark: str
    off_px: float
    expected_u: float
    expected_v: float
    place: str = ""  # the mark in words
    off_m: float = math.nan

    @property
    def words(self) -> str:
        """What to tell the coach."""
        far = f", {100.0 * self.off_m:.0f} cm on the court" if math.isfinite(self.off_m) else ""
        return (
            f"The click on “{self.place or self.mark}” is not where the other marks expect it{far}: "
            "see the ring in the frame. Click it again, or ignore it."
        )


def outliers_among(
    fit: CameraFit, clicks: Sequence[Click], points: Floats, picture: Floats, tin: str = "standard"
) -> tuple[OutlierMark, ...]:
    """Return the clicks that the others contradict, the worst first; at most three."""
    single = _one_by_one(fit, clicks, points, picture, tin)
    if len(single) == MOST_SUSPECTS or fit.rms_px <= click_error_px(fit.lens.width, fit.lens.height):
        return single
    together = _together(fit, clicks, points, picture, tin)
    return together if len(together) > len(single) else single


def _one_by_one(
    fit: CameraFit, clicks: Sequence[Click], points: Floats, picture: Floats, tin: str
) -> tuple[OutlierMark, ...]:
    """Return each click held against the others, the worst taken out before the next is looked for."""
    found: list[OutlierMark] = []
    left = np.arange(len(clicks))
    while len(left) > LEAST_LEFT and len(found) < MOST_SUSPECTS:
        worst = _worst(fit, points[left], picture[left])
        if worst is None:
            break
        at, expected, fit = worst
        found.append(_suspect(fit, clicks[int(left[at])], expected, tin))
        left = np.delete(left, at)
    return tuple(found)


def _together(
    fit: CameraFit, clicks: Sequence[Click], points: Floats, picture: Floats, tin: str
) -> tuple[OutlierMark, ...]:
    """Up to three clicks that only together, and not by chance, spoil the fit.

    All sets of one, two and three clicks are tried on the linearised fit, the best of each size fitted anew.
    The fall in squares by k clicks is held against the click error of the rest (F test), times the number of
    ways to pick k.
    """
    n = len(clicks)
    best: tuple[float, tuple[int, ...], CameraFit] = (math.inf, (), fit)
    for out in range(1, min(MOST_SUSPECTS, n - LEAST_LEFT) + 1):
        chosen = _helps_most(fit, points, out)
        rest = np.setdiff1d(np.arange(n), chosen)
        without = fit_lens(points[rest], picture[rest], fit.lens.width, fit.lens.height, fit.lens)
        if without is None:
            continue
        covariance = parameter_covariance(without, points[rest])
        fall = float((fit.residuals**2).sum() - (without.residuals**2).sum())
        ratio = fall / (2 * out * covariance.click_px**2)
        chance = math.comb(n, out) * MOST_SUSPECTS * float(fdtrc(2 * out, covariance.freedom, ratio))
        best = min(best, (chance, chosen, without), key=lambda triple: triple[0])
    chance, chosen, clean = best
    if chance > CHANCE:
        return ()
    uv, _, _ = clean.lens.slopes(points[list(chosen)])
    found = [_suspect(clean, clicks[at], expected, tin) for at, expected in zip(chosen, uv, strict=True)]
    return tuple(sorted(found, key=lambda mark: -mark.off_px))


def _helps_most(fit: CameraFit, points: Floats, out: int) -> tuple[int, ...]:
    """Return the clicks, `out` of them, without which the squares fall most, by the fit's own slopes.

    Leaving out a set S lowers the squares by r_S' (I - H_SS)^-1 r_S, with H the hat matrix.
    """
    covariance = parameter_covariance(fit, points)
    _, slopes, _ = fit.lens.slopes(points)
    rows = slopes.reshape(2 * len(points), -1)
    hat = rows @ covariance.covariance @ rows.T / covariance.click_px**2
    sets = np.array(list(itertools.combinations(range(len(points)), out)))
    at = np.stack([2 * sets, 2 * sets + 1], axis=-1).reshape(len(sets), -1)
    off = fit.residuals.ravel()[at]
    inner = np.eye(2 * out) - hat[at[:, :, None], at[:, None, :]]
    falls = np.einsum(
        "sk,sk->s", off, np.linalg.solve(inner + 1e-9 * np.eye(2 * out), off[..., None])[..., 0]
    )
    return tuple(int(item) for item in sets[int(np.argmax(falls))])


def _suspect(fit: CameraFit, click: Click, expected: Floats, tin: str) -> OutlierMark:
    """Return a click beside where a fit without it expects it."""
    off = np.array([click.u - expected[0], click.v - expected[1]])
    mark = court_marks(tin)[click.mark]
    return OutlierMark(
        click.mark,
        float(np.hypot(*off)),
        float(expected[0]),
        float(expected[1]),
        mark.words,
        _residual_on_court_m(fit, mark, off),
    )


def _residual_on_court_m(fit: CameraFit, mark: CourtMark, off_px: Floats) -> float:
    """Return how far a step in the picture is on the surface a mark lies on, m; NaN where that cannot be
    told.
    """
    axes = {CourtSurface.FLOOR: (0, 1), CourtSurface.FRONT: (0, 2), CourtSurface.BACK: (0, 2)}.get(
        mark.surfaces[0], (1, 2)
    )
    steps = np.repeat(np.array([mark.at], dtype=float), 3, axis=0)
    for row, axis in enumerate(axes, 1):
        steps[row, axis] += SMALL_STEP_M
    uv, _, _ = fit.lens.slopes(steps)
    try:
        moved = np.linalg.solve((uv[1:] - uv[0]).T / SMALL_STEP_M, off_px)
    except np.linalg.LinAlgError:
        return math.nan
    return float(np.hypot(*moved))


def _worst(fit: CameraFit, points: Floats, picture: Floats) -> tuple[int, Floats, CameraFit] | None:
    """Return the click most at odds with the others, if chance does not explain it: its place in the list."""
    odds: list[tuple[float, int, Floats, CameraFit]] = []
    for at in range(len(points)):
        rest = np.arange(len(points)) != at
        without = fit_lens(points[rest], picture[rest], fit.lens.width, fit.lens.height, fit.lens)
        if without is None:
            continue
        covariance = parameter_covariance(without, points[rest])
        uv, slopes, _ = without.lens.slopes(points[at : at + 1])
        off = picture[at] - uv[0]
        spread = slopes[0] @ covariance.covariance @ slopes[0].T + covariance.click_px**2 * np.eye(2)
        ratio = float(off @ np.linalg.solve(spread, off)) / 2.0
        odds.append((float(fdtrc(2, covariance.freedom, ratio)), at, uv[0], without))
    if not odds:
        return None
    chance, at, expected, without = min(odds, key=lambda row: row[0])
    if chance * len(points) > CHANCE:
        return None
    return at, expected, without


def explain_bad_fit(
    fit: CameraFit | None,
    suspects: Sequence[OutlierMark],
    clicks: Sequence[Click],
    points: Floats,
    picture: Floats,
    tin: str,
    size: tuple[int, int],
) -> str:
    """Return why marks are refused, in words; empty where they fit well enough to go on."""
    sigma = click_error_px(*size)
    if fit is not None and fit.rms_px <= GOOD_ERRORS * sigma:
        return ""
    settled = _good_without(suspects, clicks, tin, size, sigma)
    if settled and len(suspects) == 2:
        return _swapped(suspects, clicks, points, picture, size, sigma)
    if settled:
        return ""
    mix_up = _mix_up(fit, clicks, points, picture, tin, size, sigma)
    if mix_up:
        return mix_up
    if fit is None:
        return (
            f"No camera can see these {len(clicks)} marks where they were clicked "
            f"({', '.join(click.mark for click in clicks)}). Check the names of the marks one by one."
        )
    if fit.rms_px <= BAD_ERRORS * sigma:
        return ""
    worst = np.argsort(-np.hypot(*fit.residuals.T))[:3]
    named = ", ".join(clicks[int(k)].mark for k in worst)
    return (
        f"The {len(clicks)} marks do not fit one camera, least of all {named}. A mark may have the wrong "
        "name, or the court may not be a standard singles court. Check these first."
    )


def _good_without(
    suspects: Sequence[OutlierMark], clicks: Sequence[Click], tin: str, size: tuple[int, int], sigma: float
) -> bool:
    """Return whether the marks fit once the suspects are left out."""
    names = {suspect.mark for suspect in suspects}
    rest = [click for click in clicks if click.mark not in names]
    if not names or len(rest) < LEAST_LEFT:
        return False
    fit = fit_lens(*points_and_clicks(rest, tin), *size)
    return fit is not None and fit.rms_px <= GOOD_ERRORS * sigma


def _mix_up(
    fit: CameraFit | None,
    clicks: Sequence[Click],
    points: Floats,
    picture: Floats,
    tin: str,
    size: tuple[int, int],
    sigma: float,
) -> str:
    """Return names that, exchanged, make everything fit: left and right, or two marks; empty if none do."""
    before = math.inf if fit is None else fit.rms_px
    good = min(GOOD_ERRORS * sigma, before / 2.0)
    marks = court_marks(tin)
    mirrored = np.array([marks[marks[click.mark].mirror].at for click in clicks], dtype=float)
    other = fit_lens(mirrored, picture, *size)
    if other is not None and other.rms_px <= good:
        return (
            "Left and right are exchanged: with the names mirrored all marks fit. Left is the left of a "
            "player facing the front wall, also when the camera looks from the front. Exchange the names, "
            "and check that the video is not mirrored."
        )
    pairs = []
    off = np.zeros(len(clicks)) if fit is None else np.hypot(*fit.residuals.T)
    combined = itertools.combinations(range(len(clicks)), 2)
    for number, two in sorted(combined, key=lambda pair: -float(off[pair[0]] + off[pair[1]])):
        rms_px = _rms_exchanged(points, picture, size, number, two)
        if rms_px <= good:
            pairs.append((rms_px, clicks[number].mark, clicks[two].mark))
            if rms_px <= good / 2.0:
                break
    if not pairs:
        return ""
    _, one_name, two_name = min(pairs)
    return _exchanged_words(one_name, two_name)


def _swapped(
    suspects: Sequence[OutlierMark],
    clicks: Sequence[Click],
    points: Floats,
    picture: Floats,
    size: tuple[int, int],
    sigma: float,
) -> str:
    """Return words if two suspects fit once their names are exchanged; empty if they are just two bad
    clicks.
    """
    names = [click.mark for click in clicks]
    number, two = (names.index(suspect.mark) for suspect in suspects)
    if _rms_exchanged(points, picture, size, number, two) > GOOD_ERRORS * sigma:
        return ""
    return _exchanged_words(names[number], names[two])


def _rms_exchanged(points: Floats, picture: Floats, size: tuple[int, int], number: int, two: int) -> float:
    """Return how well all marks fit with two names exchanged."""
    order = np.arange(len(points))
    order[[number, two]] = two, number
    fit = fit_lens(points[order], picture, *size)
    return math.inf if fit is None else fit.rms_px


def _exchanged_words(text: str, two: str) -> str:
    """Return what to tell the coach of two exchanged names."""
    return (
        f"The marks {text} and {two} seem exchanged: with their names swapped all marks fit. "
        "Exchange these two, or click them again."
    )
