"""Trains the network that says where on the floor a player stands, on made-up films of the learning families.

Usage: python scripts/train_player_detector.py --folder FOLDER --out player-crops.onnx
       [--draw-seconds 110] [--seconds 75] [--workers 16] [--first 500000]

Needs PyTorch and ONNX, which the program itself does not, and a GPU. Films are drawn and coded by worker
processes for a while; crops around places of the floor are cut from them as the program does, and the network
is then trained on these for a while. One film in twelve of the learning families is held back, and one in
eleven is of the choosing family: they are only looked at. What the network sees stands in
`footage.vision.person_sized_floor_crops`, what is done with its answer in
`footage.vision.player_detection_network`.
"""

from __future__ import annotations

import argparse
import hashlib
import math
import multiprocessing
import os
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera import CameraCalibration, Click, calibrate_camera, court_marks
from goodlength.footage.vision.background_subtraction import estimate_background, foreground_mask, watched
from goodlength.footage.vision.person_log_odds_on_floor_grid import FloorGrid
from goodlength.footage.vision.person_sized_floor_crops import (
    CROP_HIGH,
    CROP_WIDE,
    CropFrames,
    crop_frames,
    crops,
    pyramid,
)
from goodlength.synthetic.recordings.training_films.ground_truth_label_types import FilmLabels, FrameLabel
from goodlength.synthetic.recordings.training_films.training_video_family_registry import (
    TRAINING_FILM_FAMILIES,
)
from goodlength.synthetic.recordings.training_films.training_video_generator import (
    GeneratedFilm,
    generate_film,
)
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY

Floats = NDArray[np.float64]
Arrays = dict[str, NDArray[Any]]
FAMILIES = {**TRAINING_FILM_FAMILIES, VALIDATION_FILM_FAMILY.name: VALIDATION_FILM_FAMILY}
ORDER = (*TRAINING_FILM_FAMILIES,) * 5 + (VALIDATION_FILM_FAMILY.name,)
FRAMES_PER_S, SECONDS = 2.5, 16.0
CLICK_PX = 1.0
GRID, NEAR_PLAYER, BYSTANDER, ANYWHERE, BELOW_FEET = range(5)  # why a place was looked at
REACH = (0.65, 0.75, 0.55)  # metres aside, metres up or down, log of sizes: a player so near is the crop's
NEARLY = 1.45  # times that: neither a player nor none
HIDDEN = 0.25  # share of joints seen under which a player is not asked for
BATCH, RATE, DECAY = 2048, 3e-3, 0.02
DEVICE = "cuda" if torch.cuda.is_available() else "cpu"


class Scene:
    """One film, its solved camera, and the truth of its frames in pixels of the small picture."""

    def __init__(self, film: GeneratedFilm, labels: FilmLabels, rng: np.random.Generator) -> None:
        self.film, self.labels, self.rng = film, labels, rng
        self.scale = labels.size[0] / film.scene.size[0]
        self.camera = self._solved()
        self.to_small = np.ones(2)

    def _solved(self) -> CameraCalibration:
        first = self.film.scene.cameras[0][1]
        clicks = []
        for name, mark in court_marks().items():
            u, v = first.project(np.array(mark.at, float))[0] * self.scale
            if 2 < u < self.labels.size[0] - 2 and 2 < v < self.labels.size[1] - 2:
                off = self.rng.normal(0, CLICK_PX, 2)
                clicks.append(Click(name, float(u + off[0]), float(v + off[1])))
        return calibrate_camera(clicks, *self.labels.size)

    def pixels(self, place_m: Sequence[float], time_s: float) -> Floats:
        """Pixels of a court point in the small picture at a time."""
        camera = self.film.scene.camera_at(time_s)
        return np.asarray(camera.project(np.array(place_m, float))[0] * self.scale * self.to_small)

    def floor_at(self, uv: Floats) -> tuple[float, float] | None:
        """The place of the floor that the solved camera gives to a point of the small picture."""
        lens = self.camera.lens
        ray = lens.rays((uv / self.to_small)[None])[0]
        if not np.isfinite(ray).all() or ray[2] >= -1e-6:
            return None
        place = lens.place_m - lens.place_m[2] / ray[2] * ray
        return float(place[0]), float(place[1])

    def query_places(
        self, frame: FrameLabel, time_s: float, grid: FloorGrid, moving: Sequence[int]
    ) -> tuple[Floats, NDArray[np.uint8], list[tuple[Floats, float, float]]]:
        """Places to look at, why, and the players: feet in px, px a metre there, share of joints seen."""
        rng = self.rng
        at: list[tuple[float, float] | None] = [tuple(grid.xy[n]) for n in moving]
        why = [GRID] * len(at)
        players = []
        metre = 60.0
        for person in frame.people:
            x, y = person.feet_m[:, :2].mean(axis=0)
            feet = self.pixels((x, y, 0.0), time_s)
            if person.name.startswith("player"):
                metre = float(np.linalg.norm(self.pixels((x, y, 1.7), time_s) - feet) / 1.7)
                players.append((feet, metre, float(person.joints_visible.mean())))
                for _ in range(3):
                    at.append(self.floor_at(feet + rng.normal(0, 1, 2) * np.array([0.22, 0.25]) * metre))
                    why.append(NEAR_PLAYER)
                continue
            if rng.random() < 0.6:
                aside = rng.normal(0, 0.3, 2)
                at.append((float(np.clip(x + aside[0], -0.25, WIDTH_M + 0.25)),
                           float(np.clip(y + aside[1], 0, LENGTH_M + 0.2))))  # fmt: skip
                why.append(BYSTANDER)
            if rng.random() < 0.5:
                at.append(self.floor_at(feet + rng.normal(0, 0.2, 2) * metre))
                why.append(BYSTANDER)
        for n in rng.integers(len(grid.xy), size=2):
            at.append(tuple(grid.xy[n]))
            why.append(ANYWHERE)
        for feet, own, _ in players:
            if rng.random() < 0.5:
                below = np.array([rng.normal(0, 0.2), rng.uniform(0.5, 1.6)]) * own
                at.append(self.floor_at(feet + below))
                why.append(BELOW_FEET)
        known = [k for k, place in enumerate(at) if place is not None]
        xy = np.array([at[k] for k in known]).reshape(-1, 2)
        inside = (np.abs(xy[:, 0] - WIDTH_M / 2) < WIDTH_M / 2 + 0.4) & (xy[:, 1] > -0.3)
        inside &= xy[:, 1] < LENGTH_M + 0.4
        return xy[inside], np.array([why[k] for k in known], np.uint8)[inside], players


def answers(frames: CropFrames, players: Sequence[tuple[Floats, float, float]]) -> Arrays:
    """What the network should say of crops: the nearest player that fits one, and how much that counts."""
    n = len(frames.foot)
    target, present, weight = np.zeros((n, 2), np.float32), np.zeros(n, np.uint8), np.ones(n, np.float32)
    size = np.linalg.norm(frames.up, axis=1)
    best = np.full(n, np.inf)
    for feet, metre, seen in players:
        at = frames.to_crop_m(np.tile(feet, (n, 1)))
        larger = np.abs(np.log(metre / size))
        far = np.max([np.abs(at[:, 0]) / REACH[0], np.abs(at[:, 1]) / REACH[1], larger / REACH[2]], axis=0)
        away = np.hypot(at[:, 0], at[:, 1]) + larger
        his = (far <= 1) & (away < best)
        best[his], target[his], present[his] = away[his], at[his], 1
        weight[his] = 1.0 if seen > HIDDEN else 0.0
        weight[(far > 1) & (far < NEARLY) & (present == 0)] = 0.0
    return {"target": target, "present": present, "weight": weight}


def crops_of_film(name: str, seed: int, folder: str) -> Arrays:
    """Draw and code one film; return its crops with what the network should say of them."""
    rng = np.random.default_rng([seed, 77])
    side = int(rng.choice([640, 640, 854, 960]))
    film = generate_film(FAMILIES[name], seed, SECONDS, side)
    original = film.scene.settings
    bits = max(0.15, original.megabits_s * FRAMES_PER_S / original.frames_per_second)
    settings = replace(original, frames_per_second=FRAMES_PER_S, megabits_s=bits)
    film = replace(film, scene=replace(film.scene, settings=settings))
    path = Path(folder) / f"{name}-{seed}.mp4"
    scene = Scene(film, film.write(path), rng)
    pictures = [(us, picture) for us, picture, _ in watched(path, 0, 10**9, 1)]
    path.unlink()
    empty = estimate_background(pictures)
    high, wide = empty.picture.shape[:2]
    grid = FloorGrid(scene.camera.lens, wide, high)
    scene.to_small = grid.to_small
    levels = pyramid(empty.picture)
    made: list[Arrays] = []
    for us, picture in pictures:
        k = round(us / 1e6 * FRAMES_PER_S)
        if k >= len(scene.labels.frames):
            continue
        moving = grid.places(foreground_mask(picture, empty))
        xy, why, players = scene.query_places(scene.labels.frames[k], k / FRAMES_PER_S, grid, moving)
        frames, good = crop_frames(scene.camera.lens, grid.to_small, xy)
        made.append(
            {
                "crop": crops(pyramid(picture), frames),
                "empty": crops(levels, frames),
                "facts": frames.facts.astype(np.float32),
                "why": why[good],
                "mirror": np.full(int(good.sum()), original.mirror_share, np.float32),
                **answers(frames, players),
            }
        )
    return {key: np.concatenate([part[key] for part in made]) for key in made[0]}


def draw(folder: Path, first: int, until: float, number: int, step: int) -> None:
    """Draw films until a time, each with a seed of its own."""
    cv2.setNumThreads(1)
    while time.time() < until:
        name, seed = ORDER[number % len(ORDER)], first + number
        try:
            np.savez(folder / f"{name}-{seed}.npz", **crops_of_film(name, seed, tempfile.gettempdir()))
        except Exception as failure:  # a camera that shows too few marks, say: the film is left out
            print(f"{name} {seed}: {failure!r}"[:200], flush=True)
        number += step


def draw_films(folder: Path, first: int, seconds: float, workers: int) -> None:
    """Draw films with several processes; what is compiled is compiled once before they begin."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in FAMILIES:
        crops_of_film(name, 1, tempfile.gettempdir())
    until = time.time() + seconds
    context = multiprocessing.get_context("fork")
    processes = [
        context.Process(target=draw, args=(folder, first, until, n, workers)) for n in range(workers)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join()


class Network(nn.Module):  # type: ignore[misc]
    """Ten small convolutions and two full layers: log odds, metres right and up, their log errors."""

    def __init__(self) -> None:
        super().__init__()
        self.a = nn.Sequential(block(6, 16, 2), block(16, 32, 2), block(32, 32), block(32, 48, 2))
        self.r1 = nn.Sequential(block(48, 48), block(48, 48, last=True))
        self.r2 = nn.Sequential(block(48, 48), block(48, 48, last=True))
        self.b = nn.Sequential(block(48, 64, 2), block(64, 64))
        self.f1 = nn.Linear(64 * 24 + 4, 96)
        self.f2 = nn.Linear(96, 5)

    def forward(self, x: Any, facts: Any) -> Any:
        x = self.a(x)
        x = functional.relu(x + self.r1(x))
        x = self.b(functional.relu(x + self.r2(x)))
        return self.f2(functional.relu(self.f1(torch.cat([x.flatten(1), facts], 1))))


def block(i: int, o: int, stride: int = 1, *, last: bool = False) -> Any:
    """A convolution with its normalisation."""
    layers = [nn.Conv2d(i, o, 3, stride, 1, bias=False), nn.BatchNorm2d(o)]
    return nn.Sequential(*layers, *([] if last else [nn.ReLU(inplace=True)]))


def load(paths: Sequence[Path]) -> dict[str, Any]:
    """All crops of some films, on the device."""
    with ThreadPoolExecutor(16) as pool:
        parts = list(pool.map(lambda path: dict(np.load(path)), paths))
    return {
        key: torch.from_numpy(np.concatenate([part[key] for part in parts])).to(DEVICE) for key in parts[0]
    }


def network_input(data: dict[str, Any], i: Any, *, alter: bool) -> tuple[Any, Any, Any]:
    """What the network is given of some crops, and where their players are."""
    now = data["crop"][i].permute(0, 3, 1, 2).float()
    was = data["empty"][i].permute(0, 3, 1, 2).float()
    facts, target = data["facts"][i].clone(), data["target"][i].clone()
    if alter:
        side = torch.rand(len(now), device=DEVICE) < 0.5
        now = torch.where(side[:, None, None, None], now.flip(3), now)
        was = torch.where(side[:, None, None, None], was.flip(3), was)
        target[:, 0] = torch.where(side, -target[:, 0], target[:, 0])
        facts[:, 3] = torch.where(side, -facts[:, 3], facts[:, 3])
        now, was = altered(now, was)
    now, was = now.clamp(0, 255), was.clamp(0, 255)
    return torch.cat([now / 128 - 1, (now - was) / 64], 1), facts, target


def altered(now: Any, was: Any) -> tuple[Any, Any]:
    """Crops with other light, colours, sharpness and noise, and something in front of a few."""
    n = len(now)

    def spread(low: float, high: float, *shape: int) -> Any:
        return torch.empty(n, *shape, device=DEVICE).uniform_(low, high)

    def chance(share: float) -> Any:
        return torch.rand(n, device=DEVICE) < share

    gain = spread(0.55, 1.5, 1, 1, 1) * spread(0.85, 1.15, 3, 1, 1)
    bend, lift = torch.exp(spread(-0.35, 0.35, 1, 1, 1)), spread(-15, 15, 1, 1, 1)
    now, was = (255 * (x.clamp(0, 255) / 255).pow(bend) * gain + lift for x in (now, was))
    was = was * (1 + 0.05 * torch.randn(n, 1, 1, 1, device=DEVICE))
    other = chance(0.25)[:, None, None, None]
    now, was = (torch.where(other, x[:, [2, 0, 1]], x) for x in (now, was))
    for share in (0.5, 0.7):  # as from a smaller picture
        some = chance(0.12)
        for x in (now, was):
            if some.any():
                small = functional.interpolate(x[some], scale_factor=share, mode="area")
                x[some] = functional.interpolate(small, size=(CROP_HIGH, CROP_WIDE), mode="bilinear")
    now = now + torch.randn_like(now) * spread(0, 9, 1, 1, 1)
    some = chance(0.08)
    if some.any():
        k = int(some.sum())
        top = torch.randint(40, CROP_HIGH, (k, 1, 1), device=DEVICE)
        middle = torch.randint(0, CROP_WIDE, (k, 1, 1), device=DEVICE)
        rows = torch.arange(CROP_HIGH, device=DEVICE)[None, :, None]
        columns = torch.arange(CROP_WIDE, device=DEVICE)[None, None, :]
        box = ((rows >= top) & ((columns - middle).abs() < 14))[:, None]
        now[some] = torch.where(box, torch.rand(k, 3, 1, 1, device=DEVICE) * 255, now[some])
    unknown = chance(0.06)[:, None, None, None]  # the empty court is not known
    return now, torch.where(unknown, now.mean((2, 3), keepdim=True).expand_as(was), was)


def loss_of(output: Any, target: Any, present: Any, weight: Any) -> Any:
    """Cross entropy of a player being there, and Laplace's likelihood of where."""
    is_there = functional.binary_cross_entropy_with_logits(output[:, 0], present, reduction="none")
    log_error = output[:, 3:5].clamp(-5, 1.5)
    off = ((output[:, 1:3] - target).abs() * torch.exp(-log_error) + log_error).sum(1)
    asked = present * weight
    return 2 * (is_there * weight).mean() + (off * asked).sum() / asked.sum().clamp(min=1)


def learn(data: dict[str, Any], seconds: float) -> Any:
    """Train for a while; return the running mean of the network."""
    network, mean = Network().to(DEVICE), Network().to(DEVICE).eval()
    mean.load_state_dict(network.state_dict())
    optimiser = torch.optim.AdamW(network.parameters(), lr=RATE, weight_decay=DECAY)
    count, began, step = len(data["why"]), time.time(), 0
    while (share := (time.time() - began) / seconds) < 1:
        rate = RATE * min(1, step / 200) * (0.5 * (1 + math.cos(math.pi * share)) + 0.003)
        for group in optimiser.param_groups:
            group["lr"] = rate
        i = torch.randint(0, count, (min(BATCH, count),), device=DEVICE)
        x, facts, target = network_input(data, i, alter=True)
        with torch.autocast(DEVICE, torch.bfloat16):
            output = network(x, facts)
        loss = loss_of(output.float(), target, data["present"][i].float(), data["weight"][i])
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        keep = min(0.999, (step + 1) / (step + 20))
        with torch.no_grad():
            for old, new in zip(mean.state_dict().values(), network.state_dict().values(), strict=True):
                if old.dtype.is_floating_point:
                    old.lerp_(new, 1 - keep)
                else:
                    old.copy_(new)
        step += 1
    print(f"{step} steps, {step * BATCH / count:.1f} times each crop", flush=True)
    return mean


def train(folder: Path, out: Path, seconds: float) -> None:
    """Train on the films drawn; print how the network does on those held back; write it."""
    torch.manual_seed(20261130)
    files = sorted(folder.glob("*.npz"))
    own = [path for path in files if not path.name.startswith(VALIDATION_FILM_FAMILY.name)]
    evaluation = {"held back": own[::12], "choosing": [path for path in files if path not in own]}
    learnt = load([path for path in own if path not in evaluation["held back"]])
    print(f"{len(own) - len(evaluation['held back'])} films, {len(learnt['why'])} crops", flush=True)
    mean = learn(learnt, seconds)
    for name, paths in evaluation.items():
        if not paths:
            continue
        data = load(paths)
        parts = []
        with torch.no_grad():
            for some in torch.arange(len(data["why"]), device=DEVICE).split(4096):
                x, facts, _ = network_input(data, some, alter=False)
                parts.append(mean(x, facts).float().cpu().numpy())
        report(name, np.concatenate(parts), {key: value.cpu().numpy() for key, value in data.items()})
    example = (torch.zeros(8, 6, CROP_HIGH, CROP_WIDE), torch.zeros(8, 4))
    free = {key: {0: "n"} for key in ("crops", "facts", "found")}
    torch.onnx.export(
        mean.cpu().float(), example, str(out), input_names=["crops", "facts"], output_names=["found"],
        opset_version=13, dynamo=False, dynamic_axes=free,
    )  # fmt: skip
    print(f"{out}: {out.stat().st_size} bytes, {hashlib.sha256(out.read_bytes()).hexdigest()}")


def report(name: str, output: NDArray[np.float32], data: Arrays) -> None:
    """Print how well players are found and placed in films that were not learnt from."""
    counts = data["weight"] > 0
    there, none = counts & (data["present"] == 1), counts & (data["present"] == 0)
    off = np.linalg.norm(output[:, 1:3] - data["target"], axis=1)
    shiny = there & (data["mirror"] > 0.1)
    aside = none & (data["why"] == BYSTANDER)
    print(
        f"{name}: found {(output[there, 0] > 0).mean():.3f}, none said to be none "
        f"{(output[none, 0] < 0).mean():.3f}, bystanders {(output[aside, 0] < 0).mean():.3f}, "
        f"off m {np.quantile(off[there], [0.5, 0.9]).round(3)}, on shiny floors "
        f"{np.quantile(off[shiny], [0.5, 0.9]).round(3) if shiny.any() else '-'}",
        flush=True,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="Trains the network that places players on the floor.")
    parser.add_argument("--folder", type=Path, required=True, help="for the crops of the films drawn")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--draw-seconds", type=float, default=110.0, help="0: the films are there")
    parser.add_argument("--seconds", type=float, default=75.0)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--first", type=int, default=500_000, help="seed of the first film")
    asked = parser.parse_args()
    if asked.draw_seconds > 0:
        draw_films(asked.folder, asked.first, asked.draw_seconds, asked.workers)
    train(asked.folder, asked.out, asked.seconds)


if __name__ == "__main__":
    main()
