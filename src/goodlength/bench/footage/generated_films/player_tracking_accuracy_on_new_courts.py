"""Accuracy of players tracked on courts never seen (`goodlength bench players`).

Films of the judging family, or of a learning or choosing one, with two players, mirrors, spectators, knocks
and failing lights as they come. Errors are those of places given: places whose stated error is over 60 cm are
shown nowhere and count as not given.
"""

from __future__ import annotations

import math
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from goodlength.bench.footage.generated_films.player_video_generator import (
    JUDGING,
    PlayerFilm,
    clicked_camera,
    detected_camera,
    patches_of,
    write_family_film,
    write_judging_film,
)
from goodlength.errors import CalibrationError, InputError
from goodlength.footage.camera import CameraCalibration, CameraLog, CameraSpan
from goodlength.measure.players.match_tracking_job import TrackSpan, track_match
from goodlength.measure.players.moved_camera_recovery import FilmToFollow
from goodlength.measure.players.track_identity_and_movement import MOST_ERROR_M, RallyTrack
from goodlength.synthetic.recordings.training_films.training_video_family_registry import (
    TRAINING_FILM_FAMILIES,
)
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
FAMILIES = (JUDGING, VALIDATION_FILM_FAMILY.name, *TRAINING_FILM_FAMILIES)
BEFORE_S, AFTER_S = 1.5, 0.5
APART_M = 1.0  # nearer than this nobody can say whether two players were swapped
LONG_SIDE = 800
GOOD_M = 0.35


@dataclass(frozen=True, eq=False)
class RallyResult:
    """How one rally fared: errors (n, 2) and stated errors in m, `given` where a place was, and strikes.

    `striker_right` is of those strikes at which both places were given; the players' names are those of most
    of the rally.
    """

    film: PlayerFilm
    hidden: str
    off_m: Floats
    stated_m: Floats
    given: Bools
    swapped: bool
    strikes: int
    strikes_given: int
    striker_right: int
    cpu_s_per_s: float
    decode_s_per_s: float


def judge_film(film: PlayerFilm, camera: CameraCalibration) -> list[RallyResult]:
    """Track the players of a film through its rallies and compare them with the truth."""
    spans = [
        TrackSpan(str(k), "f", round(1e6 * max(0.0, start - BEFORE_S)), round(1e6 * (end + AFTER_S)))
        for k, (start, end) in enumerate(film.rallies)
    ]
    if not spans:
        return []
    watched_s = sum(span.until_us - span.from_us for span in spans) / 1e6
    decode = _decode_s(film.path)
    began = time.process_time()
    log = CameraLog((CameraSpan(camera),))
    tracks, _, _ = track_match(
        [FilmToFollow("f", str(film.path), log, (patches_of(film, camera),), (0,))], spans
    )
    cpu_s = (time.process_time() - began) / watched_s
    return [judge_track(film, track, cpu_s, decode) for track in tracks if len(track.paths.times_s)]


def _decode_s(path: Path) -> float:
    """Return processor seconds that the decoder alone takes for a second of a film."""
    began = time.process_time()
    count = 0
    with av.open(str(path)) as file:
        for _ in file.decode(video=0):
            count += 1
        length = float((file.duration or 0) / 1e6)
    return (time.process_time() - began) / max(length, 0.1)


def judge_track(film: PlayerFilm, track: RallyTrack, cpu_s: float, decode_s: float) -> RallyResult:
    """Compare the track of one rally with the truth."""
    paths = track.paths
    n = np.clip(np.searchsorted(film.times_s, paths.times_s - 1e-3), 0, len(film.times_s) - 1)
    true = film.feet_m[n]
    straight = np.linalg.norm(paths.xy - true, axis=2)
    crossed = np.linalg.norm(paths.xy[:, ::-1] - true, axis=2)
    given = np.asarray(np.isfinite(paths.xy).all(axis=2) & (paths.error_m <= MOST_ERROR_M))
    tells = given.all(axis=1) & (np.linalg.norm(true[:, 0] - true[:, 1], axis=1) > APART_M)
    turned = straight.sum(axis=1) > crossed.sum(axis=1)
    mostly = bool(turned[tells].mean() > 0.5) if tells.any() else False
    named = paths.swapped() if mostly else paths
    given = given[:, ::-1] if mostly else given
    struck = [(t, by) for t, by in film.strikes if paths.times_s[0] <= t <= paths.times_s[-1]]
    asked = right = 0
    for time_s, by in struck:
        k = int(np.argmin(np.abs(paths.times_s - time_s)))
        if not given[k].all():
            continue
        asked += 1
        away = np.linalg.norm(true[k] - named.xy[k, by], axis=1)
        right += bool(away[by] < away[1 - by])
    return RallyResult(
        film,
        track.hidden,
        np.asarray(np.linalg.norm(named.xy - true, axis=2)),
        named.error_m,
        given,
        len(set(turned[tells].tolist())) > 1,
        len(struck),
        asked,
        right,
        cpu_s,
        decode_s,
    )


@dataclass(frozen=True)
class PlayerConditionFigures:
    """Figures of the rallies shown under one condition; errors in cm, shares 0 to 1."""

    condition: str
    rallies: int
    hidden: int
    median_cm: float
    p90_cm: float
    stated_holds: float
    given: float


@dataclass(frozen=True)
class PlayerFigures:
    """Figures of a family. Errors are of places given in rallies shown, in cm; shares 0 to 1.

    `stated_holds` is the share within twice the stated error; standard errors (`_se`) are over films.
    `swapped` counts rallies shown in which the players changed names. `stopped` films gave no camera.
    """

    family: str
    seed: int
    films: int
    stopped: int
    rallies: int
    hidden: int
    hidden_se: float
    given: float
    median_cm: float
    median_se_cm: float
    p90_cm: float
    p99_cm: float
    within_35_cm: float
    stated_holds: float
    stated_holds_se: float
    swapped: int
    strikes: int
    strikes_given: int
    striker_right: float
    cpu_s_per_s: float
    decode_s_per_s: float
    why_hidden: dict[str, int]
    conditions: tuple[PlayerConditionFigures, ...]


def player_figures(
    family: str, seed: int, films: int, stopped: int, results: Sequence[RallyResult]
) -> PlayerFigures:
    """Return the figures of judged rallies."""
    shown = [result for result in results if not result.hidden]
    hidden = len(results) - len(shown)
    share = hidden / len(results) if results else math.nan
    errors, holds, given = _errors(shown)
    by_film: dict[int, list[RallyResult]] = {}
    for result in shown:
        by_film.setdefault(result.film.seed, []).append(result)
    each = [_errors(rallies) for rallies in by_film.values()]
    asked = sum(result.strikes_given for result in shown)
    why: dict[str, int] = {}
    for result in results:
        if result.hidden:
            words = "".join(letter for letter in result.hidden if not letter.isdigit())
            why[words] = why.get(words, 0) + 1
    return PlayerFigures(
        family=family,
        seed=seed,
        films=films,
        stopped=stopped,
        rallies=len(results),
        hidden=hidden,
        hidden_se=math.sqrt(share * (1 - share) / len(results)) if results else math.nan,
        given=given,
        median_cm=_quantile(errors, 0.5),
        median_se_cm=_spread([_quantile(own, 0.5) for own, _, _ in each]) * 1.2533,
        p90_cm=_quantile(errors, 0.9),
        p99_cm=_quantile(errors, 0.99),
        within_35_cm=float((errors <= GOOD_M).mean()) if len(errors) else math.nan,
        stated_holds=float(holds.mean()) if len(holds) else math.nan,
        stated_holds_se=_spread([float(own.mean()) for _, own, _ in each if len(own)]),
        swapped=sum(result.swapped for result in shown),
        strikes=sum(result.strikes for result in shown),
        strikes_given=asked,
        striker_right=sum(result.striker_right for result in shown) / asked if asked else math.nan,
        cpu_s_per_s=_middle([result.cpu_s_per_s for result in results]),
        decode_s_per_s=_middle([result.decode_s_per_s for result in results]),
        why_hidden=why,
        conditions=tuple(_by_condition(results)),
    )


def _errors(results: Sequence[RallyResult]) -> tuple[Floats, Bools, float]:
    """Return errors of places given, whether the stated ones hold, and the share of places given."""
    if not results:
        return np.empty(0), np.empty(0, dtype=bool), math.nan
    off = np.concatenate([result.off_m[result.given] for result in results])
    stated = np.concatenate([result.stated_m[result.given] for result in results])
    given = np.concatenate([result.given.ravel() for result in results])
    return off, np.asarray(off <= 2.0 * stated), float(given.mean())


def _by_condition(results: Sequence[RallyResult]) -> list[PlayerConditionFigures]:
    groups: dict[str, list[RallyResult]] = {}
    for result in results:
        for name, value in result.film.conditions.items():
            if not any(letter.isdigit() for letter in value) or name in ("nudges", "spectators"):
                groups.setdefault(f"{name}: {value}", []).append(result)
    figures = []
    for name, rallies in sorted(groups.items()):
        shown = [result for result in rallies if not result.hidden]
        errors, holds, given = _errors(shown)
        figures.append(
            PlayerConditionFigures(
                name,
                len(rallies),
                len(rallies) - len(shown),
                _quantile(errors, 0.5),
                _quantile(errors, 0.9),
                float(holds.mean()) if len(holds) else math.nan,
                given,
            )
        )
    return figures


def _quantile(errors: Floats, share: float) -> float:
    return 100.0 * float(np.quantile(errors, share)) if len(errors) else math.nan


def _middle(values: Sequence[float]) -> float:
    return float(np.median(values)) if values else math.nan


def _spread(values: Sequence[float]) -> float:
    """Return the standard error of a mean."""
    return float(np.std(values, ddof=1) / math.sqrt(len(values))) if len(values) > 1 else math.nan


def bench_players(
    seed: int,
    films: int = 30,
    seconds: float = 20.0,
    family: str = JUDGING,
    progress: Callable[[str], None] = lambda _: None,
    *,
    detected: bool = False,
) -> PlayerFigures:
    """Return the figures of so many films; film `i` is drawn from `seed + i`.

    Parameters
    ----------
    detected : bool
        The camera is that of the court found by itself, not of clicked marks.

    Raises
    ------
    InputError
        There is no such family.
    """
    if family not in FAMILIES:
        raise InputError(f"There is no family {family!r}. Choose one of {', '.join(FAMILIES)}.")
    results: list[RallyResult] = []
    stopped = 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(seed, seed + films):
            path = Path(folder) / f"{number}.mp4"
            film = _written(family, number, seconds, path)
            rng = np.random.default_rng([1, number])
            try:
                camera = detected_camera(film, rng) if detected else clicked_camera(film, rng)
            except CalibrationError as refusal:
                stopped += 1
                progress(f"{family} {number}: {refusal}")
                continue
            own = judge_film(film, camera)
            path.unlink()
            results += own
            for result in own:
                errors, holds, given = _errors([result])
                progress(
                    f"{family} {number}: {_quantile(errors, 0.5):.0f}, {_quantile(errors, 0.9):.0f} cm, "
                    f"stated holds {100 * holds.mean() if len(holds) else math.nan:.0f} of 100, "
                    f"given {100 * given:.0f}{', swapped' if result.swapped else ''}"
                    f"{', hidden: ' + result.hidden if result.hidden else ''}"
                )
    return player_figures(family, seed, films, stopped, results)


def _written(family: str, seed: int, seconds: float, path: Path) -> PlayerFilm:
    if family == JUDGING:
        return write_judging_film(seed, seconds, path)
    known = {VALIDATION_FILM_FAMILY.name: VALIDATION_FILM_FAMILY, **TRAINING_FILM_FAMILIES}
    return write_family_film(known[family], seed, seconds, LONG_SIDE, path)
