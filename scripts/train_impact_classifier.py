"""Trains the network that names impacts on made-up recordings of the learning families.

Usage: python scripts/train_impact_classifier.py --out impacts.npz --seconds 540
       [--workers 14] [--init state.pt]

Needs PyTorch, which the program itself does not. Recordings are drawn by worker processes all the while, so
that hardly one is seen twice; a GPU is used where there is one, else the CPU (slower, fewer steps: the steps
done are printed and kept in the file). The network itself is described in
`footage.audio.impact_classifier_network`, which runs the same without PyTorch; the test of that
module holds both to the same numbers.
"""

from __future__ import annotations

import argparse
import functools
import importlib
import json
import multiprocessing
import sys
import time
from pathlib import Path

import numpy as np
import torch
from torch import nn
from torch.nn import functional

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from impact_network_weights_file import plain, restore

from goodlength.footage.audio.log_mel import mel_frames
from goodlength.synthetic.recordings import (
    training_family_fm_impacts,
    training_family_image_source,
    training_family_noise_bursts,
)
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldRecording
from goodlength.synthetic.recordings.retired_test_families import plan_rays, pressure_play
from goodlength.synthetic.recordings.training_drills import (
    background_sound_mix,
    training_family_modal_plates,
    training_family_particle_collisions,
    training_family_soft_sound_atoms,
)
from goodlength.synthetic.recordings.training_flights import (
    training_family_minimum_phase_impacts,
    training_family_play_crossed_with_halls,
    training_family_waveguides,
)
from goodlength.synthetic.recordings.training_mixtures import (
    training_family_plan_rays_play,
    training_family_pressure_play_in_halls,
)

FAMILIES = [
    training_family_image_source,
    training_family_noise_bursts,
    training_family_fm_impacts,
    training_family_minimum_phase_impacts,
    training_family_play_crossed_with_halls,
    training_family_waveguides,
    training_family_modal_plates,
    training_family_particle_collisions,
    training_family_soft_sound_atoms,
    plan_rays,
    pressure_play,
    training_family_plan_rays_play,
    training_family_pressure_play_in_halls,
]
LENGTH_S, FRAMES, SAMPLED = 240.0, 48_000, 16  # frames of 5 ms
LENGTHS, SHARES = (48_000, 32_000, 20_000), (0.6, 0.25, 0.15)  # of the pieces trained on
BANDS, CLASSES, STATES, CHANNELS = 32, 8, 3, 3
FRAMES_A_TOKEN, LEAST, SPREAD = 50, 0.02, 3
BACKGROUND_EVERY = 23  # of the seeds
RESCAN_S = 1.5  # between looks into a shared folder
LOUD_SHARE = 0.985
AFTER_HIT_S = 2.0  # how long hitting without a rally lasts beyond its strikes
CLASS_OF = {
    Surface.RACKET: 1,
    Surface.FRONT_WALL: 2,
    Surface.OTHER_WALL: 3,
    Surface.FLOOR: 4,
    Surface.TIN: 5,
    Surface.FOOT: 6,
    Surface.DOOR: 6,
    Surface.OTHER: 6,
}
OTHER_COURT, UNTOLD = 7, STATES
ONSET = 85  # of 255: within 10 ms of an impact


# ---- targets -------------------------------------------------------------------------------------------


def targets(world: WorldRecording, steps: int) -> dict[str, np.ndarray]:
    """Return what is true at each 10 ms: soft rises of three kinds, class, rally marks, state."""
    soft = np.zeros((steps, CHANNELS), np.float32)
    label = np.zeros(steps, np.uint8)
    marks = np.zeros((steps, 3), np.uint8)
    rallies = world.rallies
    for contact in sorted(world.contacts, key=lambda c: c.own_court):
        at = contact.time_s / 0.01
        kind = CLASS_OF[contact.surface] if contact.own_court else OTHER_COURT
        rise = [0, 1, 2] if kind == 1 else [0, 1] if contact.own_court else [0]
        mark = rally_marks(contact.time_s, rallies) if kind == 1 else (0, 0, 0)
        for i in sorted(range(int(at) - 2, int(at) + 4), key=lambda i: -abs(i - at)):
            if 0 <= i < steps and abs(i - at) <= 2.5:
                for k in rise:
                    soft[i, k] = max(soft[i, k], 0.0, 1 - abs(i - at) / 1.5)
                label[i], marks[i] = kind, mark
    return {
        "soft": np.round(soft * 255).astype(np.uint8),
        "label": label,
        "marks": marks,
        "state": states(world, steps),
    }


def rally_marks(at_s: float, rallies: tuple) -> tuple[int, int, int]:
    """Return whether a strike lies in a rally, is its first, is its last."""
    for rally in rallies:
        if rally.start_s - 0.02 <= at_s <= rally.last_strike_s + 0.02:
            return 1, int(at_s < rally.start_s + 0.02), int(at_s > rally.last_strike_s - 0.02)
    return 0, 0, 0


def states(world: WorldRecording, steps: int) -> np.ndarray:
    """Return 1 within a rally, 2 where players hit without one, else 0; `UNTOLD` after the last span."""
    state = np.zeros(steps, np.uint8)
    rackets = [c.time_s for c in world.contacts if c.surface is Surface.RACKET and c.own_court]
    for span in world.spans:
        if span.activity is Activity.RALLY:
            state[int(span.start_s * 100) - 5 : int(span.last_strike_s * 100) + 5] = 1
        elif inside := [at for at in rackets if span.start_s <= at <= span.end_s]:  # a break is longer
            end_s = min(span.end_s, max(inside) + AFTER_HIT_S)
            state[int(max(span.start_s, min(inside) - AFTER_HIT_S) * 100) : int(end_s * 100)] = 2
    if world.spans:  # a rally that the recording's end cuts is not told
        state[int(max(span.end_s for span in world.spans) * 100) + 100 :] = UNTOLD
    return state


def simulated_recording(seed: int) -> dict[str, np.ndarray]:
    """Return a learning recording as frames and targets, or (`BACKGROUND_EVERY`) one to put under others."""
    torch.set_num_threads(1)
    rng = np.random.default_rng((77, seed))
    if seed % BACKGROUND_EVERY == 0:
        samples, rate = background_sound_mix.background(rng, LENGTH_S)
        return {"background": framed(samples, rate)}
    family = FAMILIES[seed % len(FAMILIES)]
    world = family.draw_world(rng, str(rng.choice(family.CONDITIONS)), LENGTH_S)
    return {"frames": framed(world.samples[0], world.rate), **targets(world, FRAMES // 2)}


def framed(samples: np.ndarray, rate: int) -> np.ndarray:
    """Return `FRAMES` frames of a sound, nothing after its end."""
    made = mel_frames(samples, float(rate))[:FRAMES]
    frames = np.zeros((FRAMES, BANDS), np.uint8)
    frames[: len(made)] = made
    return frames


class RecordingStream:
    """Recordings as workers draw them; with a folder, also those that other runs put there.

    Parameters
    ----------
    makers : multiprocessing Pool
    seeds : range
    folder : Path, optional
        Runs at once that share it draw seeds of their own and learn from all recordings of their families.
    """

    def __init__(self, makers, seeds: range, folder: Path | None) -> None:
        self.folder, self.seen, self.ready, self.scanned_s = folder, set(), [], -RESCAN_S
        work = simulated_recording if folder is None else functools.partial(stored_recording, folder)
        self.stream = makers.imap_unordered(work, seeds, chunksize=1)

    def next(self, wait_s: float = 0.0001) -> dict[str, np.ndarray] | None:
        """Return a recording; None where none is ready. Raises StopIteration after the last."""
        if self.folder is None:
            try:
                return self.stream.next(timeout=wait_s)
            except multiprocessing.TimeoutError:
                return None
        if not self.ready and time.monotonic() - self.scanned_s > RESCAN_S:
            self.scanned_s = time.monotonic()
            names = {f.FAMILY.replace(" ", "_") for f in FAMILIES} | {"background"}
            paths = sorted(p for p in self.folder.glob("*.npz") if p.name not in self.seen)
            self.seen |= {p.name for p in paths}
            self.ready = [p for p in paths if p.stem.rpartition("-")[0] in names]
        if not self.ready:
            time.sleep(wait_s)
            return None
        with np.load(self.ready.pop()) as arrays:
            return dict(arrays)


def stored_recording(folder: Path, seed: int) -> int:
    """Put a recording into a folder, under a name of its family."""
    made = simulated_recording(seed)
    name = "background" if "background" in made else FAMILIES[seed % len(FAMILIES)].FAMILY
    path = folder / f"{name.replace(' ', '_')}-{seed}.npz"
    with path.with_suffix(".part").open("wb") as file:
        np.savez(file, **made)
    path.with_suffix(".part").rename(path)
    return seed


# ---- the network ---------------------------------------------------------------------------------------


class Conv(nn.Module):
    """A convolution over time of (batch, steps, width), by one matrix product: far faster on a GPU."""

    def __init__(self, before: int, after: int, taps: int, dilation: int = 1, stride: int = 1) -> None:
        super().__init__()
        self.taps, self.dilation, self.stride = taps, dilation, stride
        self.weight = nn.Parameter(torch.randn(after, before, taps) * (2 / (before * taps)) ** 0.5)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        reach = self.dilation * (self.taps // 2)
        last = (x.shape[1] - 1) // self.stride + 1
        padded = functional.pad(x, (0, 0, reach, reach))
        begins = [k * self.dilation for k in range(self.taps)]
        near = [padded[:, at : at + (last - 1) * self.stride + 1 : self.stride] for at in begins]
        return functional.linear(torch.cat(near, -1), self.weight.permute(0, 2, 1).flatten(1))


def even(norm: nn.BatchNorm1d, x: torch.Tensor) -> torch.Tensor:
    """Return x (batch, steps, width) through a norm over all steps."""
    return norm(x.flatten(0, 1)).view_as(x)


class Dilated(nn.Module):
    """A convolution added to what comes in."""

    def __init__(self, width: int, dilation: int) -> None:
        super().__init__()
        self.conv = Conv(width, width, 3, dilation)
        self.norm = nn.BatchNorm1d(width)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return x + functional.relu(even(self.norm, self.conv(x)))


class Layer(nn.Module):
    """Attention among impacts by what they are and how far apart in time, then a small mixing step."""

    def __init__(self, width: int, heads: int) -> None:
        super().__init__()
        self.heads = heads
        self.before, self.after = nn.Parameter(torch.ones(width)), nn.Parameter(torch.ones(width))
        self.qkv, self.out = nn.Linear(width, 3 * width), nn.Linear(width, width)
        self.up, self.down = nn.Linear(width, 2 * width), nn.Linear(2 * width, width)
        self.bias = nn.Parameter(torch.zeros(heads, 2 * BUCKETS + 1))

    def forward(self, x: torch.Tensor, turn: tuple, bias: torch.Tensor) -> torch.Tensor:
        b, n, d = x.shape
        q, k, v = (
            self.qkv(scaled(x) * self.before)
            .view(b, n, 3, self.heads, d // self.heads)
            .permute(2, 0, 3, 1, 4)
        )
        q, k = turned(q, *turn), turned(k, *turn)
        y = functional.scaled_dot_product_attention(q, k, v.to(q.dtype), attn_mask=bias.to(q.dtype))
        x = x + self.out(y.transpose(1, 2).reshape(b, n, d))
        return x + self.down(functional.relu(self.up(scaled(x) * self.after)))


def scaled(x: torch.Tensor) -> torch.Tensor:
    return x * torch.rsqrt((x * x).mean(-1, keepdim=True) + 1e-5)


def turned(x: torch.Tensor, cos: torch.Tensor, sin: torch.Tensor) -> torch.Tensor:
    half = x.shape[-1] // 2
    a, b = x[..., :half], x[..., half:]
    return torch.cat([a * cos - b * sin, a * sin + b * cos], -1).to(x.dtype)


class Network(nn.Module):
    """Frames to rises at each 10 ms, the strongest of them to impacts, impacts to names and marks."""

    def __init__(
        self, first: int = 48, width: int = 80, token: int = 128, layers: int = 5, heads: int = 4
    ) -> None:
        super().__init__()
        self.first = Conv(3 * BANDS, first, 5)
        self.first_norm = nn.BatchNorm1d(first)
        self.halve = Conv(first, width, 5, stride=2)
        self.halve_norm = nn.BatchNorm1d(width)
        self.blocks = nn.ModuleList([Dilated(width, d) for d in (1, 2, 4, 8, 16)])
        self.rises = nn.Conv1d(width, CHANNELS, 1)
        self.token = nn.Linear(4 * width + 3 * BANDS + 3, token)
        self.layers = nn.ModuleList([Layer(token, heads) for _ in range(layers)])
        self.gain = nn.Parameter(torch.ones(token))
        self.answers = nn.Linear(token, CLASSES + 3 + STATES)

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, ...]:
        """Return rises (batch, 3, steps), the steps and strengths of impacts, and their answers."""
        y = functional.relu(even(self.first_norm, self.first(x.transpose(1, 2))))
        y = functional.relu(even(self.halve_norm, self.halve(y)))
        for block in self.blocks:
            y = block(y)
        y = y.transpose(1, 2)
        rises = self.rises(y)
        place, strength = impacts_among(torch.sigmoid(rises.float()))
        answers = self.named(x, y, rises, place, strength)
        return rises, place, strength, answers

    def named(
        self,
        x: torch.Tensor,
        y: torch.Tensor,
        rises: torch.Tensor,
        place: torch.Tensor,
        strength: torch.Tensor,
    ) -> torch.Tensor:
        steps = y.shape[2]
        near = [pick(y, (place + k).clamp(0, steps - 1)) for k in (-2, 0, 2, 5)]
        loud = functional.max_pool1d(x, 5, 1, 2)
        near.append(pick(loud, (2 * place + 1).clamp(0, x.shape[2] - 1)))
        near.append(torch.tanh(pick(rises, place) / 4))
        z = self.token(torch.cat(near, -1))
        turn, apart, mask = relation(place.float() * 0.01, strength > 0, self.answers_per_head())
        tables = torch.cat([layer.bias for layer in self.layers]).to(apart.dtype)
        n = place.shape[1]
        bias = torch.matmul(tables, apart.flatten(2)).unflatten(2, (n, n)) + mask[:, None, None].to(
            apart.dtype
        )
        for layer, own in zip(self.layers, bias.chunk(len(self.layers), 1), strict=True):
            z = layer(z, turn, own)
        return self.answers(scaled(z) * self.gain)

    def answers_per_head(self) -> int:
        """Return how many angles turn a head's halves."""
        return self.gain.numel() // self.layers[0].heads // 2


BUCKETS, OCTAVES = 18, 13.5  # of time apart, from 20 ms to 4 minutes


def pick(x: torch.Tensor, place: torch.Tensor) -> torch.Tensor:
    """Columns of x (batch, width, steps) at places (batch, n), as (batch, n, width)."""
    return x.gather(2, place[:, None, :].expand(-1, x.shape[1], -1)).transpose(1, 2)


def impacts_among(chance: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Return the steps at which a rise is the highest within 30 ms, in order of time, and its height or 0."""
    best = torch.maximum(chance[:, 1], torch.maximum(chance[:, 2], 0.7 * chance[:, 0]))
    around = functional.max_pool1d(best[:, None], 2 * SPREAD + 1, 1, SPREAD)[:, 0]
    peak = torch.where((best == around) & (best > LEAST), best, torch.zeros_like(best))
    strength, place = peak.topk(2 * chance.shape[2] // FRAMES_A_TOKEN, dim=1)
    place, order = torch.where(strength > 0, place, place.new_tensor(chance.shape[2] - 1)).sort(dim=1)
    return place, strength.gather(1, order)


@torch.no_grad()
def relation(at: torch.Tensor, real: torch.Tensor, angles: int) -> tuple[tuple, torch.Tensor, torch.Tensor]:
    """Return the turn of each impact by its time, the weights of its distance to each, and the mask.

    The weights (batch, 2 BUCKETS + 1, n, n) interpolate a table over log time apart, before and after.
    """
    period = torch.logspace(np.log10(0.1), np.log10(60.0), angles, device=at.device)
    angle = 2 * np.pi * at[:, None, :, None] / period
    apart = at[:, None, :] - at[:, :, None]
    size = (torch.log2(apart.abs().clamp(0.02) / 0.02) / OCTAVES * (BUCKETS - 1) + 1).clamp(max=BUCKETS)
    size = torch.where(apart.abs() < 0.005, torch.zeros_like(size), torch.sign(apart) * size)
    kind = torch.bfloat16 if at.device.type == "cuda" else torch.float32
    middle = torch.arange(-BUCKETS, BUCKETS + 1, device=at.device)
    finer = torch.float16 if at.device.type == "cuda" else torch.float32
    weights = size[:, None].to(finer) - middle[None, :, None, None].to(finer)
    weights = weights.abs_().neg_().add_(1).clamp_min_(0).to(kind)
    return (angle.cos(), angle.sin()), weights, torch.where(real, 0.0, -1e4)


# ---- batches -------------------------------------------------------------------------------------------


class Pool:
    """The recordings drawn so far, on the device."""

    def __init__(self, device: str, rng: np.random.Generator) -> None:
        self.device, self.rng = device, rng
        self.recordings: list[dict[str, torch.Tensor]] = []
        self.backgrounds: list[torch.Tensor] = []

    def add(self, fields: dict[str, np.ndarray]) -> None:
        """Take a recording, or a background."""
        if "background" in fields:
            self.backgrounds.append(torch.from_numpy(fields["background"]).to(self.device))
            return
        self.recordings.append({k: torch.from_numpy(v).to(self.device) for k, v in fields.items()})

    @torch.no_grad()
    def batch(self, count: int) -> tuple[torch.Tensor, dict[str, torch.Tensor]]:
        """Return recordings, or pieces of them, with other timbres, noise, gain."""
        picks = [self.recordings[i] for i in self.rng.integers(len(self.recordings), size=count)]
        f = torch.stack([item["frames"] for item in picks]).float()
        f = self.varied(self.surfaces_varied(f, picks))
        length = int(self.rng.choice(LENGTHS, p=SHARES))
        begin = int(self.rng.integers(0, (FRAMES - length) // 2 + 1)) * 2
        x = normalised(f, begin, begin + length).transpose(1, 2)
        names = [k for k in picks[0] if k != "frames"]
        half = slice(begin // 2, (begin + length) // 2)
        return x, {k: torch.stack([item[k][half] for item in picks]) for k in names}

    def some(self, count: int, share: float, low: float, high: float, otherwise: float) -> torch.Tensor:
        """Return a number for each recording: drawn for a share of them, else the same; shape (n, 1, 1)."""
        uniform_values = np.where(
            self.rng.random(count) < share, self.rng.uniform(low, high, count), otherwise
        )
        return torch.tensor(uniform_values, dtype=torch.float32, device=self.device)[:, None, None]

    def curves(self, count: int, size: float, points: int = 6) -> torch.Tensor:
        """Return a smooth curve over the bands for each recording, shape (n, 1, bands)."""
        at = np.linspace(0, points - 1, BANDS)
        rows = [np.interp(at, np.arange(points), self.rng.normal(0, size, points)) for _ in range(count)]
        return torch.tensor(np.array(rows), dtype=torch.float32, device=self.device)[:, None, :]

    def surfaces_varied(self, f: torch.Tensor, picks: list[dict[str, torch.Tensor]]) -> torch.Tensor:
        """Return recordings whose surfaces sound otherwise: a curve over the bands for each surface of each.

        It acts on what stands over the floor of a band, from an impact to the next, and fades.
        """
        n, kinds = len(f), CLASSES + 1
        begins = torch.stack([item["soft"][:, 0] for item in picks]) > ONSET
        label = torch.stack([item["label"] for item in picks]).long()
        step = torch.arange(begins.shape[1], device=self.device)
        latest = torch.where(begins, step, -1).cummax(1).values
        kind = torch.where(latest < 0, 0, label.gather(1, latest.clamp(0)))
        size = self.some(n, 0.65, 0.0, 2.0, 0.0)
        curve = torch.cat([self.curves(n, 5.0) + self.some(n, 1.0, -4, 4, 0.0) for _ in range(kinds)], 1)
        curve[:, 0] = 0
        past = (step - latest).float() * 0.01 / self.some(n, 1.0, 0.03, 0.5, 1.0)[:, :, 0]
        gain = (curve * size).gather(1, kind[:, :, None].expand(-1, -1, BANDS)) * torch.exp(-past)[:, :, None]
        gain = gain.repeat_interleave(2, 1)
        floor = f[:, ::SAMPLED].quantile(0.2, dim=1, keepdim=True)
        over = (10 ** (f / 10) - 10 ** (floor / 10)).clamp_min(0) * 10 ** (gain / 10)
        return torch.where(f > floor, 10 * torch.log10(10 ** (floor / 10) + over), f)

    def varied(self, f: torch.Tensor) -> torch.Tensor:
        """Return recordings with other timbres, echoes, noise, gain; their truth stays."""
        rng, n = self.rng, len(f)
        band = torch.arange(BANDS, device=self.device, dtype=torch.float32)
        shift = self.some(n, 0.35, -7, 7, 0.0) + self.some(n, 0.35, -3, 3, 0.0)
        place = (band * self.some(n, 0.4, 0.8, 1.2, 1.0) + shift).clamp(0, BANDS - 1)
        low = place.floor().long().clamp(max=BANDS - 2)
        part = place - low
        low = low.expand(-1, f.shape[1], -1)
        f = f.gather(2, low) * (1 - part) + f.gather(2, low + 1) * part
        f = f + self.curves(n, 5.0) * self.some(n, 0.5, 0.0, 1.6, 0.0)
        loud = f[:, ::SAMPLED].amax(2).quantile(0.998, dim=1)[:, None, None]
        f = self.echoed(self.overlaid(f, loud))
        noise = loud + self.some(n, 0.35, -60, -16, -130) + self.curves(n, 8.0)
        grain = -torch.log(torch.rand(2, *f.shape, device=self.device).clamp_min(1e-6)).mean(0)
        f = summed(f, 10 * torch.log10(grain) + noise)
        knots = rng.uniform(-7, 7, (n, 1, 13)) * (rng.random((n, 1, 1)) < 0.25)
        slow = torch.tensor(knots, device=self.device, dtype=torch.float32)
        f = f + functional.interpolate(slow, f.shape[1], mode="linear")[:, 0, :, None]
        f = loud + (f - loud) * self.some(n, 0.15, 0.55, 1.0, 1.0)
        f = torch.where(band > self.some(n, 0.2, 9, 30, 99), torch.zeros_like(f), f)
        return torch.where(band < self.some(n, 0.1, 1, 10, -1), torch.zeros_like(f), f)

    def overlaid(self, f: torch.Tensor, loud: torch.Tensor) -> torch.Tensor:
        """Return a fifth of the recordings with another one beside them, a fifth with voices, claps."""
        for i in np.flatnonzero(self.rng.random(len(f)) < 0.2):
            other = self.recordings[int(self.rng.integers(len(self.recordings)))]["frames"]
            g = other.roll(int(self.rng.integers(FRAMES)), 0).float()
            own = g[::SAMPLED].amax(1).quantile(0.998)
            slope = float(self.rng.uniform(0, 25)) * torch.linspace(0, 1, BANDS, device=self.device)
            f[i] = summed(f[i], g - own + loud[i] - float(self.rng.uniform(6, 30)) - slope)
        for i in np.flatnonzero(self.rng.random(len(f)) < 0.22) if self.backgrounds else ():
            g = self.backgrounds[int(self.rng.integers(len(self.backgrounds)))]
            g = g.roll(int(self.rng.integers(FRAMES)), 0).float()
            own = g[::SAMPLED].amax(1).quantile(0.998)
            f[i] = summed(f[i], g - own + loud[i] - float(self.rng.uniform(-4, 26)))
        return f

    def echoed(self, f: torch.Tensor) -> torch.Tensor:
        """Return a fifth of the recordings with their energy spread in time by another hall."""
        picks = np.flatnonzero(self.rng.random(len(f)) < 0.2)
        if not len(picks):
            return f
        n, steps = len(picks), 2 * FRAMES
        t60 = torch.tensor(np.exp(self.rng.uniform(np.log(0.15), np.log(4), n)), device=self.device)
        fading = t60[:, None, None] * 2 ** (self.curves(n, 0.3))
        t = torch.arange(1, FRAMES + 1, device=self.device)[None, :, None] * 0.005
        tail = torch.exp(-13.8 * t / fading)
        wet = 10 ** ((self.some(n, 1.0, -22, 4, 0.0) + self.curves(n, 2.0)) / 10)
        tail = (tail * wet / tail.sum(1, keepdim=True)).float()
        energy = 10 ** (f[picks] / 10)
        late = torch.fft.irfft(
            torch.fft.rfft(energy, steps, dim=1) * torch.fft.rfft(tail, steps, dim=1), dim=1
        )
        late = torch.cat([torch.zeros_like(late[:, :1]), late[:, : FRAMES - 1]], 1)
        f[picks] = 10 * torch.log10(energy + late.clamp_min(0) + 1e-3)
        return f


def summed(a: torch.Tensor, b: torch.Tensor) -> torch.Tensor:
    return 10 * torch.log10(10 ** (a / 10) + 10 ** (b / 10))


def normalised(f: torch.Tensor, begin: int, stop: int) -> torch.Tensor:
    """Return frames begin to stop over each band's floor, below the loud, below each band's loud; (n, ., 96).

    Floor and loud levels are those of the whole recording.
    """
    whole = f[:, ::SAMPLED]
    loud = whole.amax(2).quantile(0.998, dim=1)[:, None, None]
    least = f.new_tensor(-80.0)
    whole = torch.maximum(whole - loud, least)
    floor, high = whole.quantile(torch.tensor([0.2, LOUD_SHARE], device=f.device), dim=1)[:, :, None]
    f = torch.maximum(f[:, begin:stop] - loud, least)
    return torch.cat([(f - floor) / 20, f / 20 + 1, (f - high) / 20], 2)


# ---- training ------------------------------------------------------------------------------------------


def losses(out: tuple, y: dict[str, torch.Tensor]) -> dict[str, torch.Tensor]:
    """Return the parts of the loss."""
    rises, place, strength, answers = out
    soft = y["soft"].permute(0, 2, 1).float() / 255
    chance = torch.sigmoid(rises.float())
    plain = functional.binary_cross_entropy_with_logits(rises.float(), soft, reduction="none")
    weight = torch.tensor([0.5, 1.0, 1.5], device=soft.device)[None, :, None]
    rise = (weight * plain * (1 + 4 * soft) * (0.1 + (chance - soft).abs())).sum(1).mean() * 20
    real = (strength > 0).float()
    share = real / real.sum().clamp(min=1)
    label = y["label"].gather(1, place).long()
    marks = y["marks"].gather(1, place[:, :, None].expand(-1, -1, 3)).float()
    state = y["state"].gather(1, place).long()
    answers = answers.float()
    classes = torch.tensor([0.7, 1.5, 1, 1, 1, 1.5, 0.7, 0.7], device=soft.device)
    name = functional.cross_entropy(
        answers[..., :CLASSES].flatten(0, 1), label.flatten(), classes, reduction="none"
    )
    mark = functional.binary_cross_entropy_with_logits(
        answers[..., CLASSES : CLASSES + 3], marks, reduction="none"
    )
    mark = (mark * (1 + torch.tensor([0.5, 4, 4], device=soft.device) * marks)).sum(-1) * (state < UNTOLD)
    phase = functional.cross_entropy(
        answers[..., CLASSES + 3 :].flatten(0, 1), state.flatten(), ignore_index=UNTOLD, reduction="none"
    )
    return {
        "rise": 0.5 * rise,
        "name": 1.5 * (name.view_as(real) * share).sum(),
        "mark": 2 * (mark * share).sum(),
        "state": (phase.view_as(real) * share).sum(),
    }


def train(args: argparse.Namespace) -> None:
    """Draw, train, and write the weights now and then."""
    if args.families:
        FAMILIES[:] = [importlib.import_module(f"goodlength.synthetic.recordings.{n}") for n in args.families]
    seeds = range(args.first, args.first + args.most)
    with multiprocessing.get_context("fork").Pool(args.workers) as makers:  # before the GPU is woken
        stream = RecordingStream(makers, seeds, args.folder)
        device = "cuda" if torch.cuda.is_available() else "cpu"
        torch.manual_seed(args.seed)
        if device == "cuda":
            torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        network, mean = (
            Network(width=args.width, token=args.token, layers=args.layers).to(device) for _ in "ab"
        )
        count = sum(p.numel() for p in network.parameters())
        print(f"{count} parameters on {device}, {args.workers} workers", flush=True)
        pool = Pool(device, np.random.default_rng(args.seed))
        while len(pool.recordings) < args.before:
            taken(pool, stream, 4, 0.05)
        begin(network, args.init, pool)
        mean.load_state_dict(network.state_dict())
        steps = _steps(args, network, mean, pool, stream, device)
        makers.terminate()
    write(args, mean, steps, len(pool.recordings), device)


def begin(network: Network, init: str | None, pool: Pool) -> None:
    """Give a network the weights to go on from: of PyTorch (`.pt`) or of the program's file (`.npz`)."""
    if init is None:
        return
    if init.endswith(".pt"):
        network.load_state_dict(torch.load(init, map_location=pool.device))
        return
    with np.load(init, allow_pickle=False) as arrays:
        restore(network, dict(arrays), pool.batch(16)[0])


def _steps(args, network, mean, pool, stream, device) -> int:
    optimiser = torch.optim.AdamW(network.parameters(), 2e-3, weight_decay=1e-2, fused=device == "cuda")
    began = time.monotonic()
    print(f"{len(pool.recordings)} recordings drawn, training begins", flush=True)
    mine, theirs = ([v for v in m.state_dict().values() if v.is_floating_point()] for m in (mean, network))
    step, seen, last_report, more = 0, {}, time.monotonic(), True
    while (share := (time.monotonic() - began) / args.seconds) < 1:
        more = more and taken(pool, stream, 4)
        rate = args.rate * min(1, step / args.rise + 0.02) * (0.5 + 0.5 * np.cos(np.pi * share)) + 1e-5
        for group in optimiser.param_groups:
            group["lr"] = rate
        network.train()
        x, y = pool.batch(args.batch)
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            out = network(x)
        parts = losses(out, y)
        optimiser.zero_grad(set_to_none=True)
        sum(parts.values()).backward()
        nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        step += 1
        keep = min(0.999, 1 - 1 / (step + 1))
        with torch.no_grad():
            torch._foreach_lerp_(mine, theirs, 1 - keep)
            for k, v in parts.items():
                seen[k] = v.detach() if k not in seen else 0.98 * seen[k] + 0.02 * v.detach()
        if time.monotonic() - last_report > args.every:
            last_report = time.monotonic()
            words = " ".join(f"{k} {float(v):.4f}" for k, v in seen.items())
            print(
                f"{last_report - began:.0f} s, step {step}, {len(pool.recordings)} recordings: {words}",
                flush=True,
            )
            write(args, mean, step, len(pool.recordings), device)
    return step


def taken(pool: Pool, stream: RecordingStream, most: int, wait_s: float = 0.0001) -> bool:
    """Take recordings that are ready into the pool; whether more will come."""
    for _ in range(most):
        try:
            made = stream.next(wait_s)
        except StopIteration:
            return False
        if made is None:
            return True
        pool.add(made)
    return True


def write(args: argparse.Namespace, network: Network, steps: int, recordings: int, device: str) -> None:
    hours = round(recordings * LENGTH_S / 3600, 1)
    about = {
        "steps": steps,
        "recordings": recordings,
        "hours": hours,
        "device": device,
        "seed": args.seed,
        "first": args.first,
        "families": sorted({f.FAMILY for f in FAMILIES}),
    }
    np.savez(args.out, about=np.array(json.dumps(about)), **plain(network))
    torch.save(network.state_dict(), Path(args.out).with_suffix(".pt"))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--out", required=True)
    parser.add_argument("--seconds", type=float, default=540)
    parser.add_argument("--workers", type=int, default=max(1, (multiprocessing.cpu_count() or 2) - 2))
    parser.add_argument("--batch", type=int, default=24)
    parser.add_argument("--before", type=int, default=100, help="recordings drawn before training begins")
    parser.add_argument("--most", type=int, default=20_000, help="recordings drawn at most")
    parser.add_argument("--first", type=int, default=100, help="the first seed")
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=float, default=20, help="seconds between lines")
    parser.add_argument("--rise", type=int, default=400, help="steps until the rate is at its highest")
    parser.add_argument("--width", type=int, default=80, help="of the convolutions")
    parser.add_argument("--token", type=int, default=128, help="numbers an impact is described by")
    parser.add_argument("--layers", type=int, default=5, help="of attention")
    parser.add_argument("--families", nargs="+", help="modules to draw from in turn, else all that learn")
    parser.add_argument("--init", help="weights to go on from: .pt of a run, or .npz of the program")
    parser.add_argument("--folder", type=Path, help="where runs at once share the recordings they draw")
    train(parser.parse_args())


if __name__ == "__main__":
    main()
