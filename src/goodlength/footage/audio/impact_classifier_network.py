"""Small neural network that classifies impacts: what was struck, and whether it belongs to, begins or ends
a rally.

```
 frames (5 ms) ─ convolutions ─> rises (10 ms) ─ the strongest of each 60 ms ─> impacts
 impacts ─ attention by likeness and time apart ─> name, strike in a rally, first, last, state of play
```

The second step lets impacts of one recording be told apart by how they stand to each other (rhythm,
loudness, likeness), as what a surface sounds like differs from court to court; four minutes are looked at
together. Levels are taken beside the recording's own loud impacts, and each band's own floor and loud
sounds. Weights: docs/sources/hearing-network.md; they were learnt on made-up recordings only, never on a
court.
"""

from __future__ import annotations

import functools
import hashlib
import json
from dataclasses import dataclass, fields, replace
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.log_mel import BANDS, HOP_S, OFFSET_DB, Frames

Values = NDArray[np.floating[Any]]

WEIGHTS = "impacts.npz"
SURFACES = ("none", "racket", "front wall", "other wall", "floor", "tin", "other", "other court")
STATES = ("pause", "rally", "hitting")  # hitting: a warm-up, or a ball kept warm
STEP_S = 0.01
WINDOW, MARGIN = 48_000, 6_000  # frames looked at together, and of these the context on either side
SCALE = 48_000  # frames from which level and floor are taken
SAMPLED = 16
LEAST, SPREAD, FRAMES_A_TOKEN = 0.02, 3, 50
DEPTH_DB, LOUD_SHARE = 80.0, 0.985
BUCKETS, OCTAVES = 18, 13.5  # of time apart, from 20 ms to 4 minutes
FINER = 256  # places between two entries of a table over time apart
MOST_LIKE = 60.0  # log-odds beside which the others of a row count for nothing
AT_ONCE = 262_144  # multiplications in one matrix product that the library does without threads


@dataclass(frozen=True)
class Impacts:
    """Impacts in order of time, one entry each.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Moment in seconds from the first frame.
    surface : ndarray, shape (n, 8)
        Chance of each of `SURFACES`.
    strike, first, last : ndarray, shape (n,)
        Log-odds of a strike within a rally, of its first, of its last.
    state : ndarray, shape (n, 3)
        Chance of each of `STATES` at that moment.
    level_db : ndarray, shape (n,)
        Loudest band, beside the recording's loud impacts.
    """

    time_s: Values
    surface: Values
    strike: Values
    first: Values
    last: Values
    state: Values
    level_db: Values

    def __len__(self) -> int:
        return len(self.time_s)

    def where(self, mask: NDArray[np.bool_]) -> Impacts:
        """Return those marked."""
        return Impacts(*(getattr(self, f.name)[mask] for f in fields(self)))

    @classmethod
    def joined(cls, parts: list[Impacts]) -> Impacts:
        """Return several as one."""
        line = np.zeros(0, np.float32)
        surface, state = (np.zeros((0, len(names)), np.float32) for names in (SURFACES, STATES))
        all_parts = [cls(line, surface, line, line, line, state, line), *parts]
        return cls(*(np.concatenate([getattr(part, f.name) for part in all_parts]) for f in fields(cls)))


class ImpactNetwork:
    """The network with its weights, run by numpy.

    Parameters
    ----------
    weights : mapping of str to ndarray
        As the training script writes them: matrices in 8 bits, with a scale for each row.
    """

    def __init__(self, weights: dict[str, NDArray[Any]]) -> None:
        self._w = {
            name: np.asarray(value * weights.get(f"{name}.scale", np.float32(1)), np.float32)
            for name, value in weights.items()
            if name != "about" and not name.endswith(".scale")
        }
        self.about: dict[str, Any] = json.loads(str(weights["about"])) if "about" in weights else {}
        self._blocks = sum(name.startswith("block") and name.endswith(".w") for name in self._w)
        self._layers = sum(name.startswith("layer") and name.endswith(".qkv.w") for name in self._w)

    def weight(self, name: str) -> Values:
        """Return a matrix of weights as it is used."""
        return self._w[name]

    @functools.cached_property
    def name(self) -> str:
        """Return a short mark of the weights: another training gives another."""
        mark = hashlib.sha256()
        for key in sorted(self._w):
            mark.update(key.encode() + np.ascontiguousarray(self._w[key]).tobytes())
        return mark.hexdigest()[:12]

    def impacts(self, frames: Frames) -> Impacts:
        """Return all impacts of a recording."""
        parts = []
        inner = WINDOW - 2 * MARGIN
        for begin in range(0, max(1, len(frames)), inner):
            low, high = max(0, begin - MARGIN), min(len(frames), begin + inner + MARGIN)
            if high - low < 40:
                break
            found = self._window(scaled(frames, low, high))
            at = found.time_s + np.float32(low * HOP_S)
            inside = (at >= begin * HOP_S - 0.002) & (at < (begin + inner) * HOP_S - 0.002)
            parts.append(replace(found, time_s=at).where(inside))
        return Impacts.joined(parts)

    def _window(self, x: Values) -> Impacts:
        y, rises = self.convolved(x)
        chance = 1 / (1 + np.exp(-rises))
        best = np.maximum(np.maximum(chance[:, 1], chance[:, 2]), np.float32(0.7) * chance[:, 0])
        place = peaks(best)
        answers = self.answers(x, y, rises, place)
        around = best[np.clip(place[:, None] + [-1, 0, 1], 0, len(best) - 1)]
        at = place + (around[:, 2] - around[:, 0]) / np.maximum(around.sum(axis=1), 1e-6)
        loud = (
            x[np.minimum(2 * place, len(x) - 1), BANDS : 2 * BANDS].max(axis=1) if len(place) else np.zeros(0)
        )
        names, marks, states = np.split(answers, [len(SURFACES), len(SURFACES) + 3], axis=1)
        return Impacts(
            time_s=np.asarray(at * STEP_S, np.float32),
            surface=softmax(names),
            strike=marks[:, 0],
            first=marks[:, 1],
            last=marks[:, 2],
            state=softmax(states),
            level_db=np.asarray((loud - 1) * 20, np.float32),
        )

    def convolved(self, x: Values) -> tuple[Values, Values]:
        """Return the features at each 10 ms, shape (steps, width), and the log-odds of rises (steps, 3)."""
        w = self._w
        y = relu(convolve(x, w["first.w"], w["first.b"]))
        y = relu(convolve(y, w["halve.w"], w["halve.b"], stride=2))
        for i in range(self._blocks):
            y = y + relu(convolve(y, w[f"block{i}.w"], w[f"block{i}.b"], dilation=2**i))
        return y, product(y, w["rises.w"][:, :, 0].T) + w["rises.b"]

    def answers(self, x: Values, y: Values, rises: Values, place: NDArray[np.int64]) -> Values:
        """Return the answers for impacts at steps `place`, shape (n, 14)."""
        w = self._w
        near = [y[np.clip(place + k, 0, len(y) - 1)] for k in (-2, 0, 2, 5)]
        around = np.clip((2 * place + 1)[:, None] + np.arange(-2, 3), 0, len(x) - 1)
        near.append(x[around].max(axis=1))
        near.append(np.tanh(rises[place] / 4))
        z: Values = product(np.concatenate(near, axis=1), w["token.w"].T) + w["token.b"]
        near_by = Relation.of(place * np.float32(STEP_S), z.shape[1] // len(w["layer0.bias"]) // 2)
        for i in range(self._layers):
            z = self._layer(f"layer{i}.", z, near_by)
        return np.asarray(product(normed(z) * w["gain"], w["answers.w"].T) + w["answers.b"], np.float32)

    def _layer(self, name: str, z: Values, near_by: Relation) -> Values:
        w, (n, width) = self._w, z.shape
        bias = w[name + "bias"]
        heads = len(bias)
        both = product(normed(z) * w[name + "before"], w[name + "qkv.w"].T) + w[name + "qkv.b"]
        q, k, v = both.reshape(n, 3, heads, width // heads).transpose(1, 2, 0, 3)
        turn = near_by.cos, near_by.sin
        like = product(turned(q, *turn), turned(k, *turn).transpose(0, 2, 1))
        like /= np.float32(np.sqrt(width // heads))
        like += near_by.read(bias)
        weight = np.exp(np.clip(like, -MOST_LIKE, MOST_LIKE, out=like), out=like)
        whole = np.concatenate([v, np.ones((heads, n, 1), np.float32)], axis=2)  # and the sum of the weights
        both = product(weight, whole)
        mixed = (both[:, :, :-1] / both[:, :, -1:]).transpose(1, 0, 2).reshape(n, width)
        z = z + product(mixed, w[name + "out.w"].T) + w[name + "out.b"]
        inner = relu(product(normed(z) * w[name + "after"], w[name + "up.w"].T) + w[name + "up.b"])
        return np.asarray(z + product(inner, w[name + "down.w"].T) + w[name + "down.b"], np.float32)


@functools.cache
def impact_network() -> ImpactNetwork:
    """Return the network that the program comes with, read once."""
    path = resources.files("goodlength.footage.models").joinpath(WEIGHTS)
    with resources.as_file(path) as file, np.load(file, allow_pickle=False) as archive:
        return ImpactNetwork({name: archive[name] for name in archive.files})


def scaled(frames: Frames, low: int, high: int) -> Values:
    """Return frames low to high over each band's floor, below the loud, below each band's loud; (n, 96)."""
    middle = (low + high) // 2
    begin = max(0, min(middle - SCALE // 2, len(frames) - SCALE))
    whole = frames[begin : begin + SCALE : SAMPLED].astype(np.float32) - OFFSET_DB
    loud = np.float32(np.quantile(whole.max(axis=1), 0.998))
    whole = np.maximum(whole - loud, -DEPTH_DB)
    floor, most = np.quantile(whole, [0.2, LOUD_SHARE], axis=0).astype(np.float32)
    f = np.maximum(frames[low:high].astype(np.float32) - OFFSET_DB - loud, np.float32(-DEPTH_DB))
    if len(f) % 2:
        f = np.concatenate([f, f[-1:]])
    return np.asarray(np.concatenate([(f - floor) / 20, f / 20 + 1, (f - most) / 20], axis=1), np.float32)


def convolve(x: Values, weight: Values, bias: Values, dilation: int = 1, stride: int = 1) -> Values:
    """Return a convolution over time of x (steps, width) with weight (out, in, taps), as long as x."""
    _, _, taps = weight.shape
    reach = dilation * (taps // 2)
    padded = np.pad(x, ((reach, reach), (0, 0)))
    last = (len(x) - 1) // stride + 1
    out = np.broadcast_to(bias, (last, len(bias))).copy()
    for k in range(taps):
        at = k * dilation
        out += product(padded[at : at + (last - 1) * stride + 1 : stride], weight[:, :, k].T)
    return out


def product(x: Values, matrix: Values) -> Values:
    """Return x @ matrix over the last two axes, a few rows at a time.

    They are too few for the library to begin threads of its own: on a machine that decodes in another
    thread, or has other work to do, those threads wait for each other and take ten times as long.
    """
    rows = max(8, AT_ONCE // (matrix.shape[-2] * matrix.shape[-1]))
    if x.ndim == 2:
        whole = len(x) // rows * rows
        blocks = x[:whole].reshape(-1, rows, x.shape[1]) @ matrix
        return np.concatenate([blocks.reshape(whole, matrix.shape[1]), x[whole:] @ matrix])
    return np.concatenate([x[:, at : at + rows] @ matrix for at in range(0, x.shape[1], rows)], axis=1)


def peaks(best: Values) -> NDArray[np.int64]:
    """Return the steps at which a rise is the highest within 30 ms, the strongest, in order."""
    padded = np.pad(best, SPREAD)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * SPREAD + 1).max(axis=1)
    place = np.flatnonzero((best == around) & (best > LEAST))
    most = max(8, 2 * len(best) // FRAMES_A_TOKEN)
    if len(place) > most:
        place = np.sort(place[np.argsort(-best[place], kind="stable")[:most]])
    return place


@dataclass(frozen=True)
class Relation:
    """How impacts lie in time: the angle of each, and where in a table of times apart each pair falls."""

    cos: Values
    sin: Values
    place: NDArray[np.int16]

    @classmethod
    def of(cls, at: Values, angles: int) -> Relation:
        """Return the relation of impacts at seconds `at`."""
        period = np.logspace(np.log10(0.1), np.log10(60.0), angles)
        angle = 2 * np.pi * at[:, None].astype(np.float64) / period
        apart = np.asarray(at[None, :] - at[:, None], np.float32)
        size = np.log2(np.maximum(np.abs(apart), np.float32(0.02)) / np.float32(0.02))
        size = np.sign(apart) * np.minimum(size * np.float32((BUCKETS - 1) / OCTAVES) + 1, BUCKETS)
        size[np.abs(apart) < 0.005] = 0
        place = np.round((size + BUCKETS) * FINER).astype(np.int16)
        return cls(np.cos(angle).astype(np.float32), np.sin(angle).astype(np.float32), place)

    def read(self, table: Values) -> Values:
        """Return a table over time apart (heads, entries), between its entries, for each pair."""
        fine = np.arange((table.shape[1] - 1) * FINER + 1) / FINER
        rows = [np.interp(fine, np.arange(table.shape[1]), row) for row in table]
        return np.stack([np.asarray(row, np.float32)[self.place] for row in rows])


def turned(x: Values, cos: Values, sin: Values) -> Values:
    """Return x with its halves turned into each other by the angles of their times."""
    half = x.shape[-1] // 2
    a, b = x[..., :half], x[..., half:]
    return np.concatenate([a * cos - b * sin, a * sin + b * cos], axis=-1)


def normed(x: Values) -> Values:
    """Return each row over its root mean square."""
    return np.asarray(x / np.sqrt((x * x).mean(axis=-1, keepdims=True) + np.float32(1e-5)), np.float32)


def relu(x: Values) -> Values:
    """Return x with nothing below 0, in place."""
    return np.maximum(x, 0, out=x)


def softmax(x: Values) -> Values:
    """Return chances from log-odds over the last axis."""
    grown = np.exp(x - x.max(axis=-1, keepdims=True)) if x.shape[0] else x
    return np.asarray(grown / grown.sum(axis=-1, keepdims=True), np.float32)
