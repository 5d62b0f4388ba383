"""Fits the chance that a court found by itself is right, and prints it for the choosing family.

Usage: python scripts/fit_court_detection_probability.py [--courts 20] [--others 6]

Courts are still pictures of the learning families; pictures without a lawful court are made from them:
turned or cut up, stretched along one side, two courts side by side, and halls with lines of other places.
Weights of `footage.court_detection.detection_probability` are fitted on the learning families; from which
chance on a court is offered is read from the table printed for the choosing family. Nothing of the judging
family is used.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.court_detection import background_plate, camera_hypothesis_search
from goodlength.footage.court_detection.camera_refinement_on_lines import scaled_camera
from goodlength.footage.court_detection.court_detection_in_image import find_cameras
from goodlength.footage.court_detection.detection_probability import court_evidence
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings
from goodlength.synthetic.recordings.training_films.sensor_and_codec_simulation import (
    MESSENGER_MEGABITS_S,
    copy_size,
    write_frames,
)
from goodlength.synthetic.recordings.training_films.training_video_family_registry import (
    TRAINING_FILM_FAMILIES,
)
from goodlength.synthetic.recordings.training_films.training_video_generator import FilmFamily, generate_film
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
FRAMES, SECONDS, LONGEST_PX = 9, 2.0, 1920
LONG_SIDES = (640, 960, 1280, 1280, 1920)
RIGHT_M, RIGHT_P95_M = 0.1, 0.3
PENALTY = 0.1  # of squared weights, in standard deviations of their feature
OTHERS = ("lines", "two", "none", "stretch")


@dataclass(frozen=True)
class LabelledCourt:
    """What the detector found in a picture, and whether it is the court."""

    name: str
    features: tuple[float, ...]
    right: bool


def court_picture(family: FilmFamily, seed: int) -> tuple[Bytes, CameraModel]:
    """Return the empty court of a film, its frames coded as the film would be, with the true camera."""
    rng = np.random.default_rng([7, seed])
    film = generate_film(family, seed, SECONDS, int(rng.choice(LONG_SIDES)), nudges=0)
    last = int(SECONDS * film.scene.settings.frames_per_second) - 1
    numbers = np.unique(np.linspace(0, last, FRAMES).astype(int)).tolist()
    frames = coded([frame for frame, _ in film.frames(numbers=numbers)], film.scene.settings)
    real = film.scene.cameras[0][1]
    truth = CameraModel(*real.size, real.rotation, real.place_m, real.focal_px, real.radial)
    return background_plate(frames).picture, scaled_camera(truth, frames[0].shape[1], frames[0].shape[0])


def coded(frames: list[Bytes], settings: FilmSettings) -> list[Bytes]:
    """Return a few frames of a film, each with the bits its codec or a messenger's copy would give it."""
    bits = settings.megabits_s
    if settings.messenger:
        bits, size = MESSENGER_MEGABITS_S, copy_size((frames[0].shape[1], frames[0].shape[0]))
        frames = [
            np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_AREA), np.uint8) for frame in frames
        ]
    rate = len(frames) / SECONDS
    few = replace(
        settings, frames_per_second=rate, megabits_s=bits * rate / settings.frames_per_second, messenger=False
    )
    with tempfile.TemporaryDirectory() as folder:
        path = write_frames(Path(folder) / "film.mp4", frames, few, None)
        with av.open(str(path)) as file:
            return [np.asarray(f.to_ndarray(format="rgb24"), np.uint8) for f in file.decode(video=0)]


def other_picture(rng: np.random.Generator, kind: str, court: Bytes, second: Bytes) -> Bytes:
    """Return a picture in which the court found would be wrong."""
    height, width = court.shape[:2]
    if kind == "two":
        high = min(height, second.shape[0])
        sides = [cv2.resize(p, (round(p.shape[1] * high / p.shape[0]), high)) for p in (court, second)]
        return np.hstack(sides).astype(np.uint8)
    if kind == "stretch":
        by = float(np.exp(rng.choice([-1, 1]) * rng.uniform(0.14, 0.35)))
        size = (round(width * by), height) if rng.random() < 0.5 else (width, round(height * by))
        return cv2.resize(court, size).astype(np.uint8)
    if kind == "lines":
        return hall_of_lines(rng, *((720, 1280) if rng.random() < 0.15 else (1280, 720)))
    if rng.random() < 1 / 3:
        return np.ascontiguousarray(court[::-1])
    if rng.random() < 1 / 2:
        return np.ascontiguousarray(np.rot90(court))
    n = int(rng.integers(2, 4))
    high, wide = height // n, width // n
    parts = [court[i * high : (i + 1) * high, j * wide : (j + 1) * wide] for i in range(n) for j in range(n)]
    order = rng.permutation(n * n)
    return np.vstack([np.hstack([parts[k] for k in order[i * n : (i + 1) * n]]) for i in range(n)])


class _Hall:
    """A hall drawn plane by plane."""

    def __init__(self, rng: np.random.Generator, width: int, height: int) -> None:
        sampled = camera_hypothesis_search.draw_cameras(rng, 60)
        row = sampled[camera_hypothesis_search.lawful(sampled)][0]
        self.camera = camera_hypothesis_search.camera_model(row, width, height)
        self.picture = np.empty((height, width, 3))
        self.picture[:] = rng.integers(90, 230, 3)

    def fill(self, corners: list[tuple[float, float, float]], colour: Floats) -> None:
        """Draw a polygon of the court frame."""
        ends = np.array(corners)
        steps = np.linspace(0, 1, 30)[:, None]
        points = np.vstack([a + (b - a) * steps for a, b in zip(ends, np.roll(ends, -1, 0), strict=True)])
        uv, seen = self.camera.project(points)
        uv = uv[seen]
        if len(uv) > 2:
            at = (uv * 8).clip(-60000, 60000).astype(np.int32)
            cv2.fillPoly(self.picture, [at], colour.tolist(), cv2.LINE_AA, 3)


def hall_of_lines(rng: np.random.Generator, width: int, height: int) -> Bytes:
    """Return a hall of another size with lines at random places of floor and front wall."""
    hall = _Hall(rng, width, height)
    wide, deep = rng.uniform(6, 16), rng.uniform(9, 25)
    x0, y0 = 3.2 - wide / 2, rng.uniform(-8, 1.5)
    x1, y1 = x0 + wide, y0 + deep
    line = rng.integers(0, 255, 3).astype(float)
    floor = rng.integers(70, 190, 3).astype(float)
    hall.fill([(x0, y0, 0), (x1, y0, 0), (x1, y1, 0), (x0, y1, 0)], floor)
    for x in (x0, x1):
        shade = hall.picture[0, 0] * rng.uniform(0.7, 1)
        hall.fill([(x, y0, 0), (x, y1, 0), (x, y1, 7), (x, y0, 7)], shade)
    for _ in range(rng.integers(3, 9)):
        y, inset = rng.uniform(y0 + 0.5, 9.5), rng.uniform(0, 0.4 * wide)
        ends = [(x0 + inset, y), (x1 - inset, y), (x1 - inset, y + 0.05), (x0 + inset, y + 0.05)]
        hall.fill([(*end, 0.0) for end in ends], line)
    for _ in range(rng.integers(2, 7)):
        x, begin = rng.uniform(x0, x1), rng.uniform(y0, 5)
        end = rng.uniform(begin + 1, 9.7)
        hall.fill([(x, begin, 0), (x, end, 0), (x + 0.05, end, 0), (x + 0.05, begin, 0)], line)
    for _ in range(rng.integers(0, 5)):
        z = rng.uniform(0.3, 5)
        hall.fill([(x0, y0, z), (x1, y0, z), (x1, y0, z + 0.05), (x0, y0, z + 0.05)], line)
    if rng.random() < 0.5:
        y = y0 + 0.01
        hall.fill([(x0, y, 0), (x1, y, 0), (x1, y, 0.6), (x0, y, 0.6)], rng.integers(0, 255, 3).astype(float))
    soft = cv2.GaussianBlur(hall.picture, (0, 0), 0.8) + rng.normal(0, 3, hall.picture.shape)
    return np.asarray(soft.clip(0, 255), np.uint8)


def floor_errors_m(found: CameraModel, truth: CameraModel) -> Floats:
    """Return how far off places of the floor in the picture are, m."""
    grid = np.array([(x, y, 0.0) for x in np.linspace(0.2, 6.2, 7) for y in np.linspace(0.2, 9.55, 9)])
    uv, seen = truth.project(grid)
    here = seen & truth.inside(uv)
    rays = found.rays(uv[here])
    with np.errstate(divide="ignore", invalid="ignore"):
        places = found.place_m - found.place_m[2] / rays[:, 2:] * rays
    return np.nan_to_num(np.linalg.norm(places - grid[here], axis=1), nan=9.0, posinf=9.0)


def labelled(name: str, seed: int, picture: Bytes, truth: CameraModel | None) -> LabelledCourt | None:
    """Return what is found in a picture; None where nothing is."""
    scale = min(1.0, LONGEST_PX / max(picture.shape[:2]))
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    found = find_cameras(np.random.default_rng(seed), np.ascontiguousarray(small))
    if not found:
        return None
    errors = np.array([9.0]) if truth is None else floor_errors_m(found[0].camera, truth)
    right = bool(np.median(errors) < RIGHT_M and np.quantile(errors, 0.95) < RIGHT_P95_M)
    return LabelledCourt(name, court_evidence(found).features, right)


def examples(family: FilmFamily, courts: int, others: int) -> Iterator[LabelledCourt]:
    """Yield courts of a family and pictures made from them."""
    for seed in range(1, 1 + max(courts, others)):
        picture, truth = court_picture(family, seed)
        rng = np.random.default_rng([seed, len(family.name)])
        todo = [("court", picture, truth)] if seed <= courts else []
        if seed <= others:
            second, _ = court_picture(family, seed + 1000)
            todo += [(kind, other_picture(rng, kind, picture, second), None) for kind in OTHERS]
        for kind, shown, real in todo:
            found = labelled(f"{family.name} {kind} {seed}", seed, shown, real)
            if found is not None:
                yield found


def fitted_weights(found: list[LabelledCourt]) -> Floats:
    """Return intercept and weights; share, weakest group and lead never count against, strain never for."""
    features = np.array([example.features for example in found])
    right = np.array([example.right for example in found])
    middle, spread = features.mean(axis=0), features.std(axis=0)

    def cost(b: Floats) -> float:
        total = b[0] + ((features - middle) / spread) @ b[1:]
        loss = np.logaddexp(0, -np.where(right, total, -total)).sum()
        return float(loss + PENALTY * (b[1:] ** 2).sum())

    bounds = [(None, None), (0, None), (0, None), (None, 0), (0, None)]
    b = minimize(cost, np.zeros(5), bounds=bounds).x
    weights = b[1:] / spread
    return np.concatenate([[b[0] - (weights * middle).sum()], weights])


def main() -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--courts", type=int, default=20)
    parser.add_argument("--others", type=int, default=6)
    asked = parser.parse_args()
    learn = [
        example
        for family in TRAINING_FILM_FAMILIES.values()
        for example in examples(family, asked.courts, asked.others)
    ]
    weights = fitted_weights(learn)
    print("weights", np.round(weights, 2), "fitted on", len(learn), "right", sum(e.right for e in learn))
    for example in examples(VALIDATION_FILM_FAMILY, asked.courts, asked.others):
        chance = 1 / (1 + np.exp(-(weights[0] + weights[1:] @ np.array(example.features))))
        print(f"{example.name:24s} right {example.right!s:5} chance {chance:.3f}", flush=True)


if __name__ == "__main__":
    main()
