"""Benchmark of player tracking, head anonymisation and pose estimation, on rendered videos with known
truth.

The demo's own game is drawn anew; with a film of walkers from a still camera, real walkers are pasted over
its court instead of the drawn players: in clothes that differ, in like clothes, and one walker twice.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from goodlength.bench.footage.person_compositing import (
    Pasted,
    Picture,
    Walker,
    walkers_in,
    write_film,
)
from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_compositing import Brush
from goodlength.demo.film.frame_sequence import CLOTHES, FRAMES_A_S, FrameRenderer
from goodlength.demo.film.game_timeline import Filmed
from goodlength.demo.film.player_skeleton import pose
from goodlength.demo.play.court_camera import PinholeCamera as DemoCamera
from goodlength.demo.record_entries_of_demo_matches import filmed_game
from goodlength.files.json_types import Json
from goodlength.footage.camera import (
    CameraCalibration,
    CameraLog,
    CameraSpan,
    Click,
    ImagePatch,
    calibrate_camera,
    court_marks,
    image_patches_of,
)
from goodlength.footage.vision.head_anonymisation import blur_regions
from goodlength.footage.vision.person_detection import PersonDetection
from goodlength.footage.vision.pose_estimation import estimate_pose
from goodlength.measure.players.match_tracking_job import TrackSpan, track_match
from goodlength.measure.players.moved_camera_recovery import FilmToFollow
from goodlength.measure.players.player_tracking import Tracks
from goodlength.measure.players.track_identity_and_movement import RallyTrack, movement_work
from goodlength.scoring import Side

Floats = NDArray[np.float64]

CAMERA = DemoCamera(focal_px=675.0, width=960, height=540)
CLICK_PX = 1.0
LEAD_S, TAIL_S = 1.5, 0.5
APART_M = 1.0  # nearer than this nobody can say whether they were swapped
TURNED_RAD = 0.035


@dataclass(frozen=True)
class TrackingFigures:
    """How well both players were followed in one film. Errors are of rallies shown, in metres."""

    film: str
    rallies: int
    shown: int
    error_p50_m: float
    error_p90_m: float
    error_p99_m: float
    within_stated: float  # share of errors inside twice the stated standard error
    swaps: int
    way_ratio: float  # way followed over way gone, middle of all
    clothes_apart: float
    cpu_s_per_s: float  # of rallies watched


def bench_player_tracking(seed: int, rallies: int = 19, walkers: Path | None = None) -> dict[str, Json]:
    """Return all figures as plain values; `rallies` of the demo's game, at most 19."""
    rng = np.random.default_rng(seed)
    filmed = filmed_game()
    many = min(rallies, len(filmed.rallies))
    renderer = FrameRenderer(filmed, CAMERA)
    with tempfile.TemporaryDirectory() as folder:
        film = Path(folder) / "drawn.mp4"
        write_film(renderer.frame, _frames(filmed, many), CAMERA, film)
        camera = solved_camera(rng)
        feet = {side: _feet(renderer, side) for side in Side}
        own = tuple(image_patches_of(camera, renderer.court))
        found = [_followed("drawn players", film, camera, filmed, many, feet, own)]
        knocked = with_knock(rng)
        moved = _followed("camera knocked by two degrees", film, knocked[0], filmed, many, feet, knocked[1])
        heads = {"drawn players": _rendered_heads_covered(renderer, rng)}
        if walkers is not None:
            made, heads["walkers"] = _with_walkers(walkers, Path(folder), camera, filmed, many, rng)
            found += made
    return {
        "films": [vars(figures) for figures in found],
        "moved_camera_hidden": 1.0 - moved.shown / moved.rallies,
        "heads_covered": {name: {"middle": m, "whole": w} for name, (m, w) in heads.items()},
        **_joints(renderer, rng),
    }


def _frames(filmed: Filmed, many: int) -> range:
    end = filmed.rallies[many - 1].end_s + TAIL_S + 1.0
    return range(min(int(end * FRAMES_A_S), int(filmed.length_s * FRAMES_A_S)))


def solved_camera(rng: np.random.Generator, seen_by: DemoCamera = CAMERA) -> CameraCalibration:
    """Return the camera from clicks a pixel off."""
    clicks = []
    for name, mark in court_marks().items():
        u, v, depth = seen_by.see(*mark.at)
        if depth > 0 and 0 < u < seen_by.width and 0 < v < seen_by.height:
            clicks.append(Click(name, u + rng.normal(0, CLICK_PX), v + rng.normal(0, CLICK_PX)))
    return calibrate_camera(clicks, seen_by.width, seen_by.height)


def with_knock(rng: np.random.Generator) -> tuple[CameraCalibration, tuple[ImagePatch, ...]]:
    """Return a camera that looked two degrees lower when its marks were clicked, and its patches of that
    picture.
    """
    before = replace(CAMERA, tilt_rad=CAMERA.tilt_rad + TURNED_RAD)
    camera = solved_camera(rng, before)
    return camera, tuple(image_patches_of(camera, empty_court(before)))


def _feet(pictures: FrameRenderer, side: Side) -> Floats:
    """Return the middle between both feet in every frame, (n, 2)."""
    places = []
    for n in range(pictures.count):
        feet = pose(pictures.moment(side, n)).feet
        places.append([(feet[0][c] + feet[1][c]) / 2.0 for c in range(2)])
    return np.array(places)


def _with_walkers(
    path: Path, folder: Path, camera: CameraCalibration, filmed: Filmed, many: int, rng: np.random.Generator
) -> tuple[list[TrackingFigures], tuple[float, float]]:
    """Return the film with walkers pasted, three times over."""
    walkers = walkers_in(path)
    pairs = sorted(combinations(range(len(walkers)), 2), key=lambda pair: _unlike(walkers, *pair))
    cases = {
        "walkers, other clothes": pairs[-1],
        "walkers, like clothes": pairs[0],
        "one walker twice": (0, 0),
    }
    found: list[TrackingFigures] = []
    heads: list[tuple[float, float]] = []
    for name, (a, b) in cases.items():
        pasted = Pasted(filmed, CAMERA, walkers[a], walkers[b], rng)
        film = folder / f"walkers-{len(found)}.mp4"
        write_film(pasted.frame, _frames(filmed, many), CAMERA, film)
        feet = {side: pasted.pictures.places[side] for side in Side}
        found.append(_followed(name, film, camera, filmed, many, feet))
        heads.append(_heads_pasted(pasted, rng))
    middle, whole = np.mean(heads, axis=0)
    return found, (float(middle), float(whole))


def _unlike(walkers: Sequence[Walker], a: int, b: int) -> float:
    """Return how far the mean colours of two walkers' upper halves are apart."""
    means = []
    for walker in (walkers[a], walkers[b]):
        parts = [step[: len(step) // 2] for step in walker.steps]
        pixels = np.concatenate([part[part[..., 3] > 200][:, :3] for part in parts])
        means.append(pixels.astype(float).mean(axis=0))
    return float(np.linalg.norm(means[0] - means[1]))


def _followed(
    name: str,
    film: Path,
    camera: CameraCalibration,
    filmed: Filmed,
    many: int,
    truth: dict[Side, Floats],
    patches: tuple[ImagePatch, ...] = (),
) -> TrackingFigures:
    played = filmed.rallies[:many]
    spans = [
        TrackSpan(
            str(k), "f", round(1e6 * max(0.0, rally.start_s - LEAD_S)), round(1e6 * (rally.end_s + TAIL_S))
        )
        for k, rally in enumerate(played)
    ]
    log = CameraLog((CameraSpan(camera),))
    before = os.times()
    tracks, clothing, _ = track_match([FilmToFollow("f", str(film), log, (patches,))], spans)
    after = os.times()
    seconds = sum(span.until_us - span.from_us for span in spans) / 1e6
    errors, inside, swaps, ways = [], [], 0, []
    for track in tracks:
        if track.hidden:
            continue
        off, swapped, ratio = judge_rally(track, truth)
        errors.append(off)
        inside.append(off <= 2.0 * track.paths.error_m)
        swaps += swapped
        ways += ratio
    q = np.quantile(np.concatenate(errors), [0.5, 0.9, 0.99]) if errors else np.full(3, np.nan)
    return TrackingFigures(
        name,
        many,
        len(errors),
        float(q[0]),
        float(q[1]),
        float(q[2]),
        float(np.concatenate(inside).mean()) if inside else float("nan"),
        swaps,
        float(np.median(ways)) if ways else float("nan"),
        0.0 if clothing is None else clothing.apart,
        (after.user - before.user + after.system - before.system) / seconds,
    )


def judge_rally(track: RallyTrack, truth: dict[Side, Floats]) -> tuple[Floats, bool, list[float]]:
    """Return errors (n, 2), whether the players were swapped on the way, and ways over true ways."""
    paths = track.paths
    n = np.clip(np.round(paths.times_s * FRAMES_A_S).astype(int), 0, len(truth[Side.A]) - 1)
    true = np.stack([truth[Side.A][n], truth[Side.B][n]], axis=1)
    straight = np.linalg.norm(paths.xy - true, axis=2)
    crossed = np.linalg.norm(paths.xy[:, ::-1] - true, axis=2)
    turned = straight.sum(axis=1) > crossed.sum(axis=1)
    apart = np.linalg.norm(true[:, 0] - true[:, 1], axis=1) > APART_M
    mostly = bool(turned[apart].mean() > 0.5) if apart.any() else False
    off = np.take_along_axis(np.stack([straight, crossed]), np.array([[[int(mostly)]]]), axis=0)[0]
    swapped = len(set(turned[apart].tolist())) > 1
    return off, swapped, _ways(paths.swapped() if mostly else paths, true)


def _ways(paths: Tracks, true: Floats) -> list[float]:
    ratios = []
    for p in range(2):
        work = movement_work(paths, p, float(paths.times_s[0]), float(paths.times_s[-1]))
        gone = float(np.linalg.norm(np.diff(true[:, p], axis=0), axis=1).sum())
        if work is not None and gone > 3.0:
            ratios.append(work.way_m / gone)
    return ratios


def _rendered_heads_covered(
    renderer: FrameRenderer, rng: np.random.Generator, spans: int = 10
) -> tuple[float, float]:
    """Return shares of drawn heads covered, in short spans of frames."""

    def head(side: Side, n: int) -> tuple[float, float, float]:
        at = pose(renderer.moment(side, n)).head
        u, v, depth = CAMERA.see(*at)
        return u, v, 0.12 * CAMERA.focal_px / depth

    return _covered(renderer.frame, head, renderer.count, rng, spans)


def _heads_pasted(pasted: Pasted, rng: np.random.Generator, spans: int = 10) -> tuple[float, float]:
    return _covered(pasted.frame, pasted.head, pasted.pictures.count, rng, spans)


def _covered(
    frame: Callable[[int], Picture],
    head: Callable[[Side, int], tuple[float, float, float]],
    count: int,
    rng: np.random.Generator,
    spans: int,
    long: int = 25,
) -> tuple[float, float]:
    """Return shares of heads whose middle is covered, and of which four points half a radius off are too."""
    middles, wholes, asked = 0, 0, 0
    for first in rng.integers(100, count - long, spans).tolist():
        plain = [frame(n) for n in range(first, first + long)]
        for n, before, after in zip(
            range(first, first + long), plain, blur_regions(iter(plain)), strict=True
        ):
            changed = (before != after).any(axis=2)
            for side in Side:
                u, v, radius = head(side, n)
                asked += 1
                middle = changed_near(changed, u, v)
                middles += middle
                wholes += middle and all(changed_near(changed, u + x, v + y) for x, y in _round(radius / 2.0))
    return middles / asked, wholes / asked


def _round(radius: float) -> list[tuple[float, float]]:
    return [(radius, 0.0), (-radius, 0.0), (0.0, radius), (0.0, -radius)]


def changed_near(changed: NDArray[np.bool_], u: float, v: float) -> bool:
    """Return whether anything close by was changed; outside the picture nothing shows."""
    x, y = round(u), round(v)
    high, wide = changed.shape
    if not (1 <= x < wide - 1 and 1 <= y < high - 1):
        return True
    return bool(changed[y - 1 : y + 2, x - 1 : x + 2].any())


def _joints(renderer: FrameRenderer, rng: np.random.Generator, count: int = 60) -> dict[str, float]:
    """Return joints of drawn figures against where they were drawn, in lengths of the trunk, and what they
    state.
    """
    off, inside = [], []
    for n in rng.integers(100, renderer.count, count).tolist():
        side = Side.A if rng.random() < 0.5 else Side.B
        made = pose(renderer.moment(side, n))
        picture = renderer.court.copy()
        Brush(picture, CAMERA).figure(made, CLOTHES[side])
        ankles = [(x, y, z + 0.07) for x, y, z in made.feet]  # a foot is drawn from its sole
        points = [*made.shoulders, *made.elbows, *made.hands, *made.hips, *made.knees, *ankles]
        true = np.array([CAMERA.see(*point)[:2] for point in points])
        ends = np.vstack([true, np.array(CAMERA.see(*made.head)[:2])])
        (u0, v0), (u1, v1) = ends.min(axis=0), ends.max(axis=0)
        person = PersonDetection(u0 - 10.0, v0 - 16.0, u1 + 10.0, v1 + 8.0, 1.0)
        found = estimate_pose(picture, person)
        if found is None or not np.isfinite(found.trunk_px):
            continue
        seen = found.seen[5:]
        away = np.linalg.norm(found.uv[5:] - true, axis=1)
        off += (away[seen] / found.trunk_px).tolist()
        inside += (away[seen] <= 2.0 * np.sqrt(2.0) * found.error_px[5:][seen]).tolist()
    return {
        "joints_p50_trunks": float(np.median(off)),
        "joints_p90_trunks": float(np.quantile(off, 0.9)),
        "joints_within_stated": float(np.mean(inside)),
    }
