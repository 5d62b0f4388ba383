"""Trains the network that finds the ball in patches of moving cells, on films of the training families only.

Usage: python scripts/train_ball_detector.py --folder FOLDER --out ball.onnx
       [--seconds 300] [--draw-seconds 220]

Films are drawn in other processes, with several balls in the air, while training goes on with those already
drawn. Each is coded in three ways: as its settings say (H.264 or HEVC at 2 to 20 Mb/s), so hard that small
things vanish (a high quantiser, or few bits a pixel), and as a messenger's copy, smaller and at a low rate.
Patches are cut where the program itself would look. Without a GPU the same runs on the processor; it prints
how many patches it has seen, and says so if they are too few.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import torch
from torch import nn

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from goodlength.footage.ball_detection import moving_patch_extraction as mc
from goodlength.synthetic.recordings.training_films.label_scaling_to_smaller_frame import scaled_frame
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings
from goodlength.synthetic.recordings.training_films.training_video_family_registry import (
    TRAINING_FILM_FAMILIES,
)
from goodlength.synthetic.recordings.training_films.training_video_generator import generate_film

SIDE = mc.PATCH_PX + 16  # a patch is stored larger, so that it can be moved
PLANES = 7  # frames stored of a patch: those about 100 ms away too
OUTER_US = 100_000
LEAST_SEEN = 0.35
BALLS = 4  # at most so many in a patch
ENOUGH = 2_000_000  # patches looked at by the network that is shipped; fewer is printed
SIZES, SHARES = (640, 960, 1280, 1920), (0.1, 0.25, 0.3, 0.35)
COPY_SIDES = (426, 480, 640, 848, 960)
STRIDE = 4
LAST_FILMS = 0.85  # of the time, after which no more films are read


@dataclass(frozen=True)
class Coding:
    """How a film is coded: a quantiser (`crf`) or a rate, in steps of the picture's size."""

    codec: str
    preset: str
    crf: float | None = None
    megabits_s: float | None = None
    long_side: int | None = None


def codings_of(rng: np.random.Generator, settings: FilmSettings, size: tuple[int, int]) -> list[list[Coding]]:
    """Return three ways to code a film, each a series of codings after each other."""
    plain = Coding(settings.codec, FAST[settings.codec], megabits_s=settings.megabits_s)
    codec = str(rng.choice(list(FAST)))
    if rng.random() < 0.6:
        hard = Coding(codec, str(rng.choice(PRESETS)), crf=float(rng.uniform(27, 38)))
    else:
        bits = math.exp(rng.uniform(math.log(0.01), math.log(0.05)))
        rate = bits * settings.frames_per_second * size[0] * size[1] / 1e6
        hard = Coding(codec, str(rng.choice(PRESETS)), megabits_s=rate)
    side = min(max(size), int(rng.choice(COPY_SIDES)))
    area = side * side * 9 / 16 * settings.frames_per_second
    bits = math.exp(rng.uniform(math.log(0.04), math.log(0.25)))
    copy = Coding("libx264", str(rng.choice(PRESETS)), megabits_s=bits * area / 1e6, long_side=side)
    return [[plain], [hard], [plain, copy]]


FAST = {"libx264": "superfast", "libx265": "ultrafast"}
PRESETS = ("ultrafast", "superfast", "veryfast", "faster")


def coded(pictures: Sequence[np.ndarray], rate: float, steps: Sequence[Coding]) -> list[np.ndarray]:
    """Return the luma of pictures after they were coded, in as many steps as there are codings."""
    with tempfile.TemporaryDirectory() as folder:
        for number, coding in enumerate(steps):
            path = Path(folder) / f"{number}.mp4"
            encode(path, pictures, rate, coding)
            last = number == len(steps) - 1
            with av.open(str(path)) as container:
                frames = container.decode(video=0)
                pictures = [
                    frame.reformat(format="gray").to_ndarray() if last else frame.to_ndarray(format="rgb24")
                    for frame in frames
                ]
    return list(pictures)


def encode(path: Path, pictures: Sequence[np.ndarray], rate: float, coding: Coding) -> None:
    """Write pictures (red, green, blue) as a film."""
    high, wide = pictures[0].shape[:2]
    share = 1.0 if coding.long_side is None else coding.long_side / max(high, wide)
    size = (round(wide * share / 2) * 2, round(high * share / 2) * 2)
    options = {"preset": coding.preset}
    if coding.crf is not None:
        options["crf"] = f"{coding.crf:.1f}"
    if coding.codec == "libx265":
        options["x265-params"] = "log-level=none:pools=1:frame-threads=1"
    fraction = Fraction(rate).limit_denominator(1001)
    with av.open(str(path), "w") as container:
        stream = container.add_stream(coding.codec, rate=fraction, options=options)
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        stream.thread_count = 1
        if coding.megabits_s is not None:
            stream.bit_rate = round(coding.megabits_s * 1e6)
        for i, picture in enumerate(pictures):
            small = (
                picture if size == (wide, high) else cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
            )
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(small), "rgb24")
            frame.pts, frame.time_base = i, 1 / fraction
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def draw_film(number: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Draw, code and read a film; return patches (n, 7, 80, 80), balls (n, 4, 4), and their kind (n,).

    A ball is u and v in the patch, share seen, radius; NaN where there is none.
    """
    cv2.setNumThreads(1)
    rng = np.random.default_rng([11, number])
    families = list(TRAINING_FILM_FAMILIES.values())
    wanted: dict[str, object] = {"messenger": False}
    if rng.random() < 0.3:
        wanted |= {"exposure_s": 1 / 50, "frames_per_second": float(rng.choice([25, 29.97, 50]))}
    if rng.random() < 0.2:
        wanted |= {"noise": float(rng.uniform(4, 9))}
    film = generate_film(
        families[number % len(families)], 500_000 + number, 8.0, int(rng.choice(SIZES, p=SHARES)),
        more_balls=int(rng.integers(5, 13)), **wanted,
    )  # fmt: skip
    settings = film.scene.settings
    fps = settings.frames_per_second
    first = int(rng.integers(0, 3 * fps))
    pictures, labels = [], []
    for picture, label in film.frames(numbers=range(first, first + round(0.95 * fps))):
        pictures.append(picture)
        labels.append(label)
    parts = []
    for phase, steps in enumerate(codings_of(rng, settings, film.scene.size)):
        frames = coded(pictures, fps, steps)
        share = np.array(frames[0].shape[::-1]) / np.array(film.scene.size)
        own = [scaled_frame(label, share) for label in labels]
        times_us = np.round(np.arange(len(frames)) * 1e6 / fps).astype(np.int64)
        parts.append(cut_film(rng, frames, own, times_us, phase))
    return tuple(np.concatenate([part[k] for part in parts]) for k in range(3))


def windows_of_seven(times_us: np.ndarray) -> np.ndarray:
    """Return the five frames of the program's window, and outside of them those about 100 ms away.

    Where there is none, the outermost of the five stands in its place.
    """
    five = mc.window_indices(times_us)
    out = np.full((len(times_us), PLANES), -1, np.int64)
    out[:, 1:6] = five
    for side, inner in ((-1, 1), (1, 5)):
        wanted = times_us + side * OUTER_US
        nearest = np.abs(times_us[None] - wanted[:, None]).argmin(axis=1)
        off = np.abs(times_us[nearest] - wanted)
        further = side * (nearest - out[:, inner]) > 0
        use = (off <= mc.MOST_OFF_US) & further
        out[:, 0 if side < 0 else 6] = np.where(use, nearest, out[:, inner])
    out[five[:, 0] < 0] = -1
    return out


def cut_film(rng, frames, labels, times_us, phase):
    """Cut patches where the program would look, and those that hold a ball."""
    patches, balls, kinds = [], [], []
    high, wide = frames[0].shape
    every = 2 if len(frames) <= 40 else 3
    for window in windows_of_seven(times_us)[phase % every :: every]:
        if window[0] < 0:
            continue
        seven = [frames[i] for i in window]
        label = labels[window[PLANES // 2]]
        known = [b for b in (label.ball, *label.more_balls) if b is not None]
        truth = np.array([[*b.centre_px, b.seen_share, b.radius_px] for b in known]).reshape(-1, 4)
        inside = (truth[:, :2] >= 0).all(1) & (truth[:, :2] < [wide, high]).all(1)
        truth = truth[inside]
        seen = truth[truth[:, 2] >= LEAST_SEEN]
        middles = mc.moving_patches(tuple(seven[1:6])) + mc.PATCH_PX // 2
        apart = np.abs(middles[:, None, ::-1] - seen[None, :, :2]).max(axis=2).min(axis=1, initial=np.inf)
        rest = middles[apart > mc.PATCH_PX // 2]
        head = rest[:12]
        others = [rest[i] for i in rng.permutation(len(rest))[:3]]
        others += [head[i] for i in rng.permutation(len(head))[:3]]
        own = seen[:, 1::-1] + rng.uniform(-16, 16, (len(seen), 2))
        chosen = np.array([*own.astype(int).tolist(), *others], int).reshape(-1, 2)
        corners = np.clip(chosen - SIDE // 2, 0, np.array([high, wide]) - SIDE)
        for k, (top, left) in enumerate(corners):
            patches.append(np.stack([f[top : top + SIDE, left : left + SIDE] for f in seven]))
            near = truth - [left, top, 0, 0]
            near = near[(np.abs(near[:, :2] - SIDE / 2) < SIDE / 2 + 6).all(1)][:BALLS]
            row = np.full((BALLS, 4), np.nan, np.float32)
            row[: len(near)] = near
            balls.append(row)
            kinds.append(k < len(own))
    if not patches:
        return (
            np.zeros((0, PLANES, SIDE, SIDE), np.uint8),
            np.zeros((0, BALLS, 4), np.float32),
            np.zeros(0, bool),
        )
    return np.stack(patches), np.stack(balls), np.array(kinds)


def draw(folder: Path, first: int, until: float, worker: int, workers: int) -> None:
    """Draw films until a time, each with a number of its own, and write their patches."""
    number = first + worker
    while time.time() < until:
        part = folder / f"{number}.part"
        try:
            patches, balls, kinds = draw_film(number)
            with part.open("wb") as file:
                np.savez(file, patches=patches, balls=balls, kinds=kinds)
            part.rename(folder / f"{number}.npz")
        except Exception as error:  # a film that cannot be drawn is left out and counted
            (folder / f"{number}.failed").write_text(repr(error), encoding="utf-8")
        number += workers


def start_drawing(args: argparse.Namespace) -> list[multiprocessing.Process]:
    until = time.time() + args.draw_seconds
    context = multiprocessing.get_context("fork" if args.fork else "spawn")
    processes = [
        context.Process(target=draw, args=(args.folder, args.first, until, n, args.workers))
        for n in range(args.workers)
    ]
    for process in processes:
        process.start()
    return processes


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

    def __init__(self, planes: int, first: int, middle: int, deep: int) -> None:
        super().__init__()
        self.fine = nn.Sequential(
            convolution(planes, first, 5, 2), convolution(first, middle, 3, 2),
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


def batch_of(patches, balls, index, device, count):
    """Return the network's input and the balls' truth for stored patches, moved, mirrored, relit.

    `count` of the frames stored are used, those nearest in time.
    """
    n, side = len(index), mc.PATCH_PX
    spare = (PLANES - count) // 2
    shift = torch.randint(0, SIDE - side + 1, (n, 2), device=device)
    rows = (shift[:, :1] + torch.arange(side, device=device))[:, None, :, None]
    columns = (shift[:, 1:] + torch.arange(side, device=device))[:, None, None, :]
    planes = torch.arange(spare, PLANES - spare, device=device)[None, :, None, None]
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
    middle = count // 2
    level = x[:, middle : middle + 1]
    others = [k for k in range(count) if k != middle]
    changes = (x[:, others] - level) / mc.CHANGE_SPREAD
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
    """Patches on the device, filled from a folder while training goes on."""

    def __init__(self, folder: Path, room: int, device: str) -> None:
        self.folder = folder
        self.patches = torch.empty(room, PLANES, SIDE, SIDE, dtype=torch.uint8, device=device)
        self.balls = torch.empty(room, BALLS, 4, device=device)
        self.has_ball = torch.zeros(room, dtype=torch.bool, device=device)
        self.count, self.read = 0, set[str]()
        self._with: torch.Tensor | None = None

    @property
    def films(self) -> int:
        return len(self.read)

    @property
    def failed(self) -> list[str]:
        return [path.read_text(encoding="utf-8") for path in sorted(self.folder.glob("*.failed"))]

    def fill(self, most: int) -> None:
        """Read films that are new in the folder."""
        waiting = [path for path in sorted(self.folder.glob("*.npz")) if path.name not in self.read]
        for path in waiting[:most]:
            with np.load(path) as film:
                self._add(film["patches"], film["balls"], film["kinds"])
            self.read.add(path.name)

    def _add(self, patches: np.ndarray, balls: np.ndarray, kinds: np.ndarray) -> None:
        n = min(len(patches), len(self.patches) - self.count)
        at = slice(self.count, self.count + n)
        self.patches[at] = torch.from_numpy(patches[:n]).to(self.patches.device)
        self.balls[at] = torch.from_numpy(balls[:n]).to(self.balls.device)
        self.has_ball[at] = torch.from_numpy(kinds[:n]).to(self.balls.device)
        self.count, self._with = self.count + n, None

    def index(self, n: int) -> torch.Tensor:
        if self._with is None:
            known = self.has_ball[: self.count]
            self._with, self._without = known.nonzero()[:, 0], (~known).nonzero()[:, 0]
        half = n // 2
        device = self.balls.device
        a = self._with[torch.randint(len(self._with), (half,), device=device)]
        b = self._without[torch.randint(len(self._without), (n - half,), device=device)]
        return torch.cat([a, b])


def train(args: argparse.Namespace) -> None:
    began = time.time()
    args.folder.mkdir(parents=True, exist_ok=True)
    processes = start_drawing(args) if args.draw_seconds > 0 else []
    device = args.device or ("cuda" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(args.seed)
    store = Store(args.folder, args.room, device)
    network = Network(args.planes, *args.width).to(device)
    mean = Network(args.planes, *args.width).to(device)
    mean.load_state_dict(network.state_dict())
    print("weights", sum(p.numel() for p in network.parameters()), device, flush=True)
    while store.films < args.before and time.time() - began < args.seconds / 2:
        store.fill(8)
        time.sleep(0.2)
    if not store.count:
        raise SystemExit(f"No film was drawn: {store.failed[:3]}")
    print(f"{time.time() - began:.0f} s: {store.films} films, {store.count} patches", flush=True)
    seen = fit(args, network, mean, store, began, device)
    for process in processes:
        process.terminate()
    write(args, mean, store, seen, device)


def fit(args, network, mean, store, began, device) -> int:
    best = torch.optim.AdamW(network.parameters(), args.rate, weight_decay=1e-3)
    start, step, printed_s, filled_s = time.time(), 0, 0.0, 0.0
    left = max(1.0, args.seconds - (start - began))
    average = None
    while (share := (time.time() - start) / left) < 1:
        if share < LAST_FILMS and time.time() - filled_s > 2:
            store.fill(8)
            filled_s = time.time()
        for group in best.param_groups:
            group["lr"] = (
                args.rate * min(1.0, (step + 1) / 200) * (0.5 * (1 + math.cos(math.pi * share)) + 0.01)
            )
        x, truth = batch_of(store.patches, store.balls, store.index(args.batch), device, args.planes)
        heat, pull = losses(network(x).float(), truth)
        best.zero_grad()
        (heat + pull).backward()
        nn.utils.clip_grad_norm_(network.parameters(), 5.0)
        best.step()
        step += 1
        with torch.no_grad():
            rate = min(0.999, step / (step + 20))
            for own, other in zip(mean.state_dict().values(), network.state_dict().values(), strict=True):
                if own.dtype.is_floating_point:
                    own.lerp_(other, 1 - rate)
                else:
                    own.copy_(other)
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
    example = torch.zeros(16, args.planes, mc.PATCH_PX, mc.PATCH_PX)
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
        "seconds": args.seconds, "device": device, "planes": args.planes, "width": args.width,
        "failed": len(store.failed),
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
    parser.add_argument("--folder", type=Path, required=True, help="for the patches of films drawn")
    parser.add_argument("--out", required=True)
    parser.add_argument("--seconds", type=float, default=300)
    parser.add_argument(
        "--draw-seconds", type=float, default=220, help="0: the films are there, or drawn by another run"
    )
    parser.add_argument("--workers", type=int, default=max(1, (multiprocessing.cpu_count() or 2) - 1))
    parser.add_argument("--first", type=int, default=0, help="number of the first film")
    parser.add_argument("--before", type=int, default=40, help="films drawn before training begins")
    parser.add_argument("--room", type=int, default=400_000, help="patches kept at most; 45 kB each")
    parser.add_argument("--batch", type=int, default=1024)
    parser.add_argument("--planes", type=int, choices=(5, 7), default=5, help="frames the network sees")
    parser.add_argument("--device", help="cuda:1, say")
    parser.add_argument("--rate", type=float, default=3e-3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=float, default=15, help="seconds between lines")
    parser.add_argument("--width", type=int, nargs=3, default=(12, 32, 64))
    parser.add_argument("--fork", action="store_true", help="start processes by copying this one: faster")
    train(parser.parse_args())


if __name__ == "__main__":
    main()
