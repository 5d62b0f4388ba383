"""Trains the network that finds the ball in patches of moving cells, on films of the training families only.

Usage: python scripts/train_ball_detector.py --out ball.onnx [--seconds 300] [--draw-seconds 220]

Films are drawn in other processes and coded as their settings say (H.264 or HEVC at 2 to 20 Mb/s, messengers'
copies, 25 to 60 frames a second, every shutter of the family), with several balls in the air, while training
goes on with those already drawn. Patches are cut where the program itself would look. Without a GPU the same
runs on the processor; it prints how many patches it has seen, and says so if they are too few.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import sys
import tempfile
import time
from pathlib import Path

import av
import cv2
import numpy as np
import torch
from torch import nn

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from goodlength.footage.ball_detection import moving_patches as mc
from goodlength.synthetic.recordings.training_films.film_output import copy_size, write_frames
from goodlength.synthetic.recordings.training_films.frame_scaling import scaled_frame
from goodlength.synthetic.recordings.training_films.training_film_families import TRAINING_FILM_FAMILIES
from goodlength.synthetic.recordings.training_films.training_film_recording import generate_film

SIDE = mc.PATCH_PX + 16  # a patch is stored larger, so that it can be moved
LEAST_SEEN = 0.35
BALLS = 4  # at most so many in a patch
ENOUGH = 2_000_000  # patches looked at by the network that is shipped; fewer is printed
SIZES, SHARES = (960, 1280, 1920), (0.2, 0.3, 0.5)
STRIDE = 4


def draw_film(number: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Draw, code and read a film; return patches (n, 5, 80, 80), balls (n, 4, 4), and their kind (n,).

    A ball is u and v in the patch, share seen, radius; NaN where there is none.
    """
    cv2.setNumThreads(1)
    rng = np.random.default_rng([11, number])
    families = list(TRAINING_FILM_FAMILIES.values())
    wanted = {"messenger": bool(rng.random() < 0.1)}
    if rng.random() < 0.2:
        wanted |= {"noise": float(rng.uniform(4, 9)), "megabits_s": float(rng.uniform(1.5, 4))}
    film = generate_film(
        families[number % len(families)], 500_000 + number, 8.0, int(rng.choice(SIZES, p=SHARES)),
        more_balls=int(rng.integers(5, 13)), **wanted,
    )  # fmt: skip
    settings = film.scene.settings
    fps = settings.frames_per_second
    first = int(rng.integers(0, 3 * fps))
    numbers = list(range(first, first + round(0.95 * fps)))
    labels = []

    def pictures():
        for picture, label in film.frames(numbers=numbers):
            labels.append(label)
            yield picture

    with tempfile.TemporaryDirectory() as folder:
        path = write_frames(Path(folder) / "film.mp4", pictures(), settings, None)
        with av.open(str(path)) as container:
            frames = [frame.reformat(format="gray").to_ndarray() for frame in container.decode(video=0)]
    if settings.messenger:
        share = np.array(copy_size(film.scene.size)) / np.array(film.scene.size)
        labels = [scaled_frame(label, share) for label in labels]
    return cut_film(rng, frames, labels, np.round(np.arange(len(frames)) * 1e6 / fps).astype(np.int64))


def cut_film(rng, frames, labels, times_us):
    """Cut patches where the program would look, and those that hold a ball."""
    patches, balls, kinds = [], [], []
    high, wide = frames[0].shape
    every = 2 if len(frames) > 40 else 1
    for window in mc.window_indices(times_us)[::every]:
        if window[0] < 0:
            continue
        five = [frames[i] for i in window]
        label = labels[window[2]]
        known = [b for b in (label.ball, *label.more_balls) if b is not None]
        truth = np.array([[*b.centre_px, b.seen_share, b.radius_px] for b in known]).reshape(-1, 4)
        inside = (truth[:, :2] >= 0).all(1) & (truth[:, :2] < [wide, high]).all(1)
        truth = truth[inside]
        seen = truth[truth[:, 2] >= LEAST_SEEN]
        middles = mc.moving_patches(mc.standing_out(tuple(five))) + mc.PATCH_PX // 2
        apart = np.abs(middles[:, None, ::-1] - seen[None, :, :2]).max(axis=2).min(axis=1, initial=np.inf)
        rest = middles[apart > mc.PATCH_PX // 2]
        head = rest[:12]
        others = [rest[i] for i in rng.permutation(len(rest))[:3]]
        others += [head[i] for i in rng.permutation(len(head))[:3]]
        own = seen[:, 1::-1] + rng.uniform(-16, 16, (len(seen), 2))
        chosen = np.array([*own.astype(int).tolist(), *others], int).reshape(-1, 2)
        corners = np.clip(chosen - SIDE // 2, 0, np.array([high, wide]) - SIDE)
        for k, (top, left) in enumerate(corners):
            patches.append(np.stack([f[top : top + SIDE, left : left + SIDE] for f in five]))
            near = truth - [left, top, 0, 0]
            near = near[(np.abs(near[:, :2] - SIDE / 2) < SIDE / 2 + 6).all(1)][:BALLS]
            row = np.full((BALLS, 4), np.nan, np.float32)
            row[: len(near)] = near
            balls.append(row)
            kinds.append(k < len(own))
    if not patches:
        return (
            np.zeros((0, mc.WINDOW, SIDE, SIDE), np.uint8),
            np.zeros((0, BALLS, 4), np.float32),
            np.zeros(0, bool),
        )
    return np.stack(patches), np.stack(balls), np.array(kinds)


def safe_film(number: int):
    try:
        return draw_film(number)
    except Exception as error:  # a film that cannot be drawn is left out and counted
        return repr(error)


def convolution(i: int, o: int, taps: int, step: int = 1, groups: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(i, o, taps, step, taps // 2, groups=groups, bias=False),
        nn.BatchNorm2d(o),
        nn.ReLU(inplace=True),
    )


def separable(i: int, o: int, step: int = 1) -> nn.Sequential:
    return nn.Sequential(convolution(i, i, 3, step, i), convolution(i, o, 1))


class Network(nn.Module):
    """Heat (log-odds) and offset of the ball's middle, at a quarter of the patch's size."""

    def __init__(self, first: int, middle: int, deep: int) -> None:
        super().__init__()
        self.fine = nn.Sequential(
            convolution(mc.WINDOW, first, 5, 2), convolution(first, middle, 3, 2),
            separable(middle, middle), separable(middle, middle),
        )  # fmt: skip
        self.coarse = nn.Sequential(
            separable(middle, deep, 2), separable(deep, deep), separable(deep, deep), separable(deep, deep)
        )
        self.narrow = nn.Conv2d(deep, middle, 1)
        self.both = nn.Sequential(separable(middle, middle), separable(middle, middle))
        self.out = nn.Conv2d(middle, 3, 1)
        with torch.no_grad():
            self.out.bias[:] = torch.tensor([-5.0, 0.0, 0.0])

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        fine = self.fine(x)
        up = nn.functional.interpolate(self.narrow(self.coarse(fine)), scale_factor=2.0, mode="nearest")
        return self.out(self.both(fine + up))


def batch_of(patches, balls, index, device):
    """Return the network's input and the balls' truth for stored patches, moved, mirrored, relit."""
    n, side = len(index), mc.PATCH_PX
    shift = torch.randint(0, SIDE - side + 1, (n, 2), device=device)
    rows = (shift[:, :1] + torch.arange(side, device=device))[:, None, :, None]
    columns = (shift[:, 1:] + torch.arange(side, device=device))[:, None, None, :]
    planes = torch.arange(mc.WINDOW, device=device)[None, :, None, None]
    x = patches[index.view(-1, 1, 1, 1), planes, rows, columns].float()
    truth = balls[index].clone()
    truth[:, :, 0] -= shift[:, 1:]
    truth[:, :, 1] -= shift[:, :1]
    mirrored = torch.rand(n, device=device) < 0.5
    x = torch.where(mirrored.view(-1, 1, 1, 1), x.flip(3), x)
    truth[:, :, 0] = torch.where(mirrored.view(-1, 1), side - truth[:, :, 0], truth[:, :, 0])
    backwards = torch.rand(n, device=device) < 0.3
    x = torch.where(backwards.view(-1, 1, 1, 1), x.flip(1), x)
    gain = torch.exp(0.25 * torch.randn(n, 1, 1, 1, device=device))
    x = ((x - 110) * gain + 110 + 18 * torch.randn(n, 1, 1, 1, device=device)).clamp(0, 255)
    noise = 2.5 * torch.rand(n, 1, 1, 1, device=device) * (torch.rand(n, 1, 1, 1, device=device) < 0.3)
    x = (x + noise * torch.randn_like(x)).clamp(0, 255)
    level = x[:, 2:3]
    changes = (x[:, [0, 1, 3, 4]] - level) / mc.CHANGE_SPREAD
    return torch.cat([(level - mc.LEVEL_MIDDLE) / mc.LEVEL_SPREAD, changes], 1), truth


def losses(y, truth):
    """Focal loss of the heat, and distance of the offset; places of balls hardly seen count for nothing."""
    cells = mc.PATCH_PX // STRIDE
    grid = torch.arange(cells, device=y.device).float() + 0.5
    u, v = truth[..., 0, None, None] / STRIDE, truth[..., 1, None, None] / STRIDE
    du, dv = u - grid[None, None, None, :], v - grid[None, None, :, None]
    there = torch.isfinite(truth[..., 0])[..., None, None]
    seen = (truth[..., 2] >= LEAST_SEEN)[..., None, None] & there
    far2 = torch.where(there, du**2 + dv**2, torch.full_like(du + dv, 1e6))
    heat = torch.where(seen, torch.exp(-0.5 * far2 / 0.8**2), torch.zeros_like(far2)).amax(1)
    hit = (seen & (du.abs() <= 0.5) & (dv.abs() <= 0.5)).any(1)
    hardly = (there & ~seen & (far2 < 2.0**2)).any(1) & ~(heat > 0.3)
    weight = (~hardly).float()
    weight[:, :1], weight[:, -1:], weight[:, :, :1], weight[:, :, -1:] = 0, 0, 0, 0
    chance = y[:, 0].sigmoid().clamp(1e-5, 1 - 1e-5)
    up = hit.float()
    loss = -(
        up * (1 - chance) ** 2 * chance.log() + (1 - up) * (1 - heat) ** 4 * chance**2 * (1 - chance).log()
    )
    count = (up * weight).sum().clamp(min=1)
    nearest = far2.argmin(1, keepdim=True)
    du, dv = du.expand_as(far2), dv.expand_as(far2)
    pull_u, pull_v = (torch.where(there, d, torch.zeros_like(d)).gather(1, nearest)[:, 0] for d in (du, dv))
    pull = ((y[:, 1] - pull_u).abs() + (y[:, 2] - pull_v).abs()) * up * weight
    return (loss * weight).sum() / count, pull.sum() / count


class Store:
    """Patches on the device, filled while training goes on."""

    def __init__(self, room: int, device: str) -> None:
        self.patches = torch.empty(room, mc.WINDOW, SIDE, SIDE, dtype=torch.uint8, device=device)
        self.balls = torch.empty(room, BALLS, 4, device=device)
        self.has_ball = torch.zeros(room, dtype=torch.bool, device=device)
        self.count, self.films, self.failed = 0, 0, []
        self._with: torch.Tensor | None = None

    def add(self, film) -> None:
        if isinstance(film, str):
            self.failed.append(film)
            return
        patches, balls, kinds = film
        n = min(len(patches), len(self.patches) - self.count)
        at = slice(self.count, self.count + n)
        self.patches[at] = torch.from_numpy(patches[:n]).to(self.patches.device)
        self.balls[at] = torch.from_numpy(balls[:n]).to(self.balls.device)
        self.has_ball[at] = torch.from_numpy(kinds[:n]).to(self.balls.device)
        self.count, self.films, self._with = self.count + n, self.films + 1, None

    def index(self, n: int) -> torch.Tensor:
        if self._with is None:
            known = self.has_ball[: self.count]
            self._with, self._without = known.nonzero()[:, 0], (~known).nonzero()[:, 0]
        half = n // 2
        device = self.balls.device
        a = self._with[torch.randint(len(self._with), (half,), device=device)]
        b = self._without[torch.randint(len(self._without), (n - half,), device=device)]
        return torch.cat([a, b])


def take(store: Store, stream, most: int) -> bool:
    for _ in range(most):
        try:
            store.add(stream.next(timeout=0.0005))
        except multiprocessing.TimeoutError:
            return True
        except StopIteration:
            return False
    return True


def train(args: argparse.Namespace) -> None:
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(args.seed)
    began = time.time()
    store = Store(args.room, device)
    network = Network(*args.width).to(device)
    mean = Network(*args.width).to(device)
    mean.load_state_dict(network.state_dict())
    print("weights", sum(p.numel() for p in network.parameters()), device, flush=True)
    with multiprocessing.get_context("fork" if args.fork else "spawn").Pool(args.workers) as pool:
        stream = pool.imap_unordered(safe_film, range(args.first, args.first + args.films))
        while store.films < args.before:
            try:
                store.add(stream.next(timeout=args.seconds))
            except StopIteration:
                break
            if len(store.failed) > 20 and not store.films:
                raise SystemExit(f"No film could be drawn: {store.failed[:3]}")
        print(
            f"{time.time() - began:.0f} s: {store.films} films, {store.count} patches, {store.failed[:3]}",
            flush=True,
        )
        args.pool = pool
        seen = fit(args, network, mean, store, stream, began, device)
        pool.terminate()
    write(args, mean, store, seen, device)


def fit(args, network, mean, store, stream, began, device) -> int:
    best = torch.optim.AdamW(network.parameters(), args.rate, weight_decay=1e-3)
    start, step, printed_s, more = time.time(), 0, 0.0, True
    left = max(1.0, args.seconds - (start - began))
    average = None
    while (share := (time.time() - start) / left) < 1:
        if more and time.time() - began < args.draw_seconds:
            more = take(store, stream, 8)
        elif more:
            args.pool.terminate()
            more = False
        for group in best.param_groups:
            group["lr"] = (
                args.rate * min(1.0, (step + 1) / 200) * (0.5 * (1 + math.cos(math.pi * share)) + 0.01)
            )
        x, truth = batch_of(store.patches, store.balls, store.index(args.batch), device)
        heat, pull = losses(network(x).float(), truth)
        best.zero_grad()
        (heat + pull).backward()
        nn.utils.clip_grad_norm_(network.parameters(), 5.0)
        best.step()
        step += 1
        with torch.no_grad():
            rate = min(0.999, step / (step + 20))
            for own, other in zip(mean.state_dict().values(), network.state_dict().values(), strict=True):
                own.copy_(own * rate + other * (1 - rate)) if own.dtype.is_floating_point else own.copy_(
                    other
                )
            now = torch.stack([heat.detach(), pull.detach()])
            average = now if average is None else 0.98 * average + 0.02 * now
        if time.time() - printed_s > args.every:
            printed_s = time.time()
            words = " ".join(f"{value:.3f}" for value in average.tolist())
            amount = f"{step} steps, {store.films} films, {store.count} patches"
            print(f"{printed_s - began:.0f} s: {amount}, loss {words}", flush=True)
    return step * args.batch


def write(args, network, store, seen, device) -> None:
    """Write the network, norms folded in, and how it was made beside it."""
    network = network.cpu().eval()
    example = torch.zeros(16, mc.WINDOW, mc.PATCH_PX, mc.PATCH_PX)
    torch.onnx.export(
        network,
        example,
        args.out,
        input_names=["patches"],
        output_names=["heat"],
        opset_version=17,
        dynamo=False,
    )
    torch.save(network.state_dict(), Path(args.out).with_suffix(".pt"))
    about = {
        "seed": args.seed, "first_film": args.first, "films": store.films, "patches": store.count,
        "patches_with_ball": int(store.has_ball[: store.count].sum()), "looked_at": seen,
        "seconds": args.seconds, "device": device, "width": args.width, "failed": len(store.failed),
        "families": sorted(TRAINING_FILM_FAMILIES),
    }  # fmt: skip
    Path(args.out).with_suffix(".json").write_text(json.dumps(about, indent=1), encoding="utf-8")
    print(json.dumps(about), store.failed[:3], flush=True)
    if seen < ENOUGH:
        print(
            f"Looked at {seen} patches, fewer than {ENOUGH}: this network falls short of the one that is "
            "shipped. Train longer (--seconds), or on a GPU."
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--out", required=True)
    parser.add_argument("--seconds", type=float, default=300)
    parser.add_argument("--draw-seconds", type=float, default=220, help="so long films are added")
    parser.add_argument("--workers", type=int, default=max(1, (multiprocessing.cpu_count() or 2) - 1))
    parser.add_argument("--films", type=int, default=20_000, help="drawn at most")
    parser.add_argument("--first", type=int, default=0, help="number of the first film")
    parser.add_argument("--before", type=int, default=40, help="films drawn before training begins")
    parser.add_argument("--room", type=int, default=400_000, help="patches kept at most; 32 kB each")
    parser.add_argument("--batch", type=int, default=768)
    parser.add_argument("--rate", type=float, default=3e-3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=float, default=15, help="seconds between lines")
    parser.add_argument("--width", type=int, nargs=3, default=(12, 32, 64))
    parser.add_argument("--fork", action="store_true", help="start processes by copying this one: faster")
    train(parser.parse_args())


if __name__ == "__main__":
    main()
