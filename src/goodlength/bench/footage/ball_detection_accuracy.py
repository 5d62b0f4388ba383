"""Accuracy and cost of ball detection on films made by code (`goodlength bench ball-following`).

A frame counts in which at least 35% of the ball can be seen (its contrast is not asked for); a candidate is
right within 6 px of the file. Cost is processor time of this process, the decoder's own beside it.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.bench.footage.ball_video_generator import (
    LEAST_SEEN,
    BallFilm,
    write_family_film,
    write_judging_film,
)
from goodlength.errors import InputError
from goodlength.files.json_types import Json
from goodlength.footage.ball_detection.ball_candidate_selection import SURE_SCORE, BallCandidates
from goodlength.footage.ball_detection.ball_search_in_match import model_mark
from goodlength.footage.ball_detection.ball_search_in_video_span import METHODS, search_ball_in
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY

Floats = NDArray[np.float64]

RIGHT_PX, FALSE_PX = 6.0, 8.0
RECALL = 0.88  # at which false candidates are counted
COST_SIDE = 1920  # px, of the film that is timed
COST_SETTINGS = {"messenger": False, "portrait": False, "frames_per_second": 29.97, "nudges": 0}
FAMILIES = ("judging", "choosing")
CONDITIONS = (
    "ball",
    "rate",
    "frames_per_second",
    "shutter",
    "codec",
    "size",
    "place",
    "noise",
    "floor",
    "walls",
)
NOT_BUILT = (
    "serves measured without clicks",
    "paths in the page",
)


@dataclass(frozen=True, eq=False)
class JudgedFilm:
    """A film searched with one method: candidates beside the truth, and processor time, ms.

    `cpu_ms` is that of a searched frame beside the decoder, `decoder_ms` the decoder's of any frame.
    """

    film: BallFilm
    found: BallCandidates
    size: tuple[int, int]
    cpu_ms: float
    decoder_ms: float

    @property
    def counted(self) -> NDArray[np.bool_]:
        """Frames in which the ball counts, shape (n,)."""
        truth, (width, height) = self.film.truth, self.size
        with np.errstate(invalid="ignore"):
            inside = (truth[:, 0] >= 0) & (truth[:, 0] < width) & (truth[:, 1] >= 0) & (truth[:, 1] < height)
            return np.asarray((truth[:, 2] >= LEAST_SEEN) & inside & self.found.searched)

    @property
    def off_px(self) -> Floats:
        """How far each candidate is from the ball's middle, shape (n, 8)."""
        away = self.found.uv - self.film.truth[:, None, :2]
        return np.asarray(np.hypot(away[..., 0], away[..., 1]))

    @property
    def top5(self) -> float:
        """Share of its frames in which one of the first five candidates is right; NaN without frames."""
        if not self.counted.any():
            return float("nan")
        return float((self.off_px[self.counted, :5] < RIGHT_PX).any(axis=1).mean())


def judge_film(film: BallFilm, method: str) -> JudgedFilm:
    """Search a film for the ball, and time it."""
    began = time.process_time()
    with av.open(str(film.path)) as file:
        count = sum(1 for _ in file.decode(video=0))
        size = (file.streams.video[0].width, file.streams.video[0].height)
    decoder_s = time.process_time() - began
    began = time.process_time()
    found = search_ball_in(film.path, 0, 3_600_000_000, method=method)
    cpu_s = time.process_time() - began
    if len(found) != len(film.truth):
        raise InputError(
            f"{film.path.name} has {len(found)} frames, its truth {len(film.truth)}. Draw it again."
        )
    searched = max(1, int(found.searched.sum()))
    return JudgedFilm(film, found, size, 1000 * (cpu_s - decoder_s) / searched, 1000 * decoder_s / count)


def figures_of(judged: Sequence[JudgedFilm]) -> dict[str, Json]:
    """Return the figures of some films together, and their spread from film to film."""
    counted = np.concatenate([each.counted for each in judged] or [np.zeros(0, bool)])
    if not counted.any():
        return {"films": len(judged), "frames": 0}
    off = np.concatenate([each.off_px for each in judged])
    score = np.concatenate([each.found.score for each in judged])
    searched = np.concatenate([each.found.searched for each in judged])
    right = off < RIGHT_PX
    with np.errstate(invalid="ignore"):
        wrong = np.isfinite(score) & ~(off < FALSE_PX)
    best_right = np.where(right, score, -1.0).max(axis=1)[counted]
    bar = float(np.quantile(best_right, 1 - RECALL))
    each = [share for film in judged if np.isfinite(share := film.top5)]
    first = np.where(right, off, np.nan)[counted]
    known = np.isfinite(first).any(axis=1)
    return {
        "films": len(judged),
        "frames": int(counted.sum()),
        "top1": _share(np.asarray(right[counted, 0])),
        "top5": _share(np.asarray(right[counted, :5].any(axis=1))),
        "top5_se_by_film": round(float(np.std(each) / max(1, len(each)) ** 0.5), 3),
        "top8": _share(np.asarray(right[counted].any(axis=1))),
        "error_px": round(float(np.median(np.nanmin(first[known], axis=1))), 2) if known.any() else None,
        "recall_sure": _share(best_right >= SURE_SCORE),
        "false_sure_a_frame": round(float((wrong & (score >= SURE_SCORE)).sum(axis=1)[searched].mean()), 2),
        "false_at_recall_88": (
            round(float((wrong & (score >= bar)).sum(axis=1)[searched].mean()), 2) if bar >= 0 else None
        ),
    }


def _share(hits: NDArray[np.bool_]) -> float:
    return round(float(hits.mean()), 3) if len(hits) else float("nan")


def visibility_error(judged: Sequence[JudgedFilm]) -> float:
    """Return how far the stated share of frames lost is from the true share, mean over films."""
    off = []
    for each in judged:
        searched = each.found.searched
        stated = 1 - (np.nan_to_num(each.found.score[searched, 0]) >= SURE_SCORE).mean()
        with np.errstate(invalid="ignore"):
            true = 1 - (each.off_px[searched, 0] < RIGHT_PX).mean()
        off.append(abs(float(stated - true)))
    return round(float(np.mean(off)), 3) if off else float("nan")


def films_of_family(
    family: str, seed: int, films: int, folder: Path, progress: Callable[[str], None]
) -> list[BallFilm]:
    """Draw films of a family into a folder; those that lie there already are used."""
    out = []
    for number in range(seed + 1, seed + films + 1):
        path = folder / f"{family}-{number}.mp4"
        if not path.with_suffix(".json").exists():
            if family == "judging":
                film = write_judging_film(number, path)
            else:
                film = write_family_film(VALIDATION_FILM_FAMILY, number, path)
            film.save()
            progress(f"drawn: {family} {number}")
        out.append(BallFilm.load(path))
    return out


def bench_ball_following(
    seed: int,
    films: int = 20,
    family: str = "judging",
    folder: Path | None = None,
    progress: Callable[[str], None] = lambda _: None,
) -> dict[str, Json]:
    """Return figures of ball detection on films of a family, by condition.

    Parameters
    ----------
    seed : int
        Film `i` is drawn from `seed + i`.
    films : int
    family : str
        "judging" for figures that are reported, "choosing" for those on which something is chosen.
    folder : Path, optional
        Where films are kept from run to run.

    Raises
    ------
    InputError
        No such family.
    """
    if family not in FAMILIES:
        raise InputError(f"Films are of the family {' or '.join(FAMILIES)}; got {family!r}.")
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as made:
        where = folder or Path(made)
        where.mkdir(parents=True, exist_ok=True)
        written = films_of_family(family, seed, films, where, progress)
        judged: dict[str, list[JudgedFilm]] = {method: [] for method in METHODS}
        for film in written:
            for method in METHODS:
                judged[method].append(judge_film(film, method))
            progress(f"searched: {family} {film.seed}")
        cost = _cost(where)
    network = judged["network"]
    good, bad = _where(network, lambda each: each.film.good), _where(network, lambda each: not each.film.good)
    return {
        "family": family,
        "seed": seed,
        "model": model_mark("network"),
        "top5_good": figures_of(good).get("top5"),
        "top5_bad": figures_of(bad).get("top5"),
        **cost,
        "visibility_error": visibility_error(network),
        "methods": {
            method: {
                "good": figures_of(_where(each, lambda film: film.film.good)),
                "bad": figures_of(_where(each, lambda film: not film.film.good)),
            }
            for method, each in judged.items()
        },
        "conditions": _by_condition(network),
        "each_film": [
            {"seed": each.film.seed, "good": each.film.good, **figures_of([each])} for each in network
        ],
        "not_built": list(NOT_BUILT),
    }


def _where(judged: Sequence[JudgedFilm], wanted: Callable[[JudgedFilm], bool]) -> list[JudgedFilm]:
    return [each for each in judged if wanted(each)]


def _cost(folder: Path) -> dict[str, float]:
    """Return processor time of a 1080p frame, ms: beside the decoder, and the decoder's; median of three."""
    path = folder / "cost.mp4"
    film = write_family_film(VALIDATION_FILM_FAMILY, 15, path, 1.0, COST_SIDE, **COST_SETTINGS)
    runs = [judge_film(film, "network") for _ in range(4)][1:]
    return {
        "cpu_ms_a_frame": round(float(np.median([run.cpu_ms for run in runs])), 1),
        "decoder_ms_a_frame": round(float(np.median([run.decoder_ms for run in runs])), 1),
    }


def _by_condition(judged: Sequence[JudgedFilm]) -> dict[str, Json]:
    """Return figures by condition; conditions drawn from a range are left out."""
    out: dict[str, Json] = {}
    for name in CONDITIONS:
        values = sorted({each.film.conditions[name] for each in judged if name in each.film.conditions})
        if 1 < len(values) <= 8:
            for value in values:
                figures = figures_of([j for j in judged if j.film.conditions.get(name) == value])
                out[f"{name}: {value}"] = {
                    key: figures.get(key) for key in ("films", "frames", "top1", "top5")
                }
    return out
