"""Fits the chance of a span on what networks hear of families they were not taught.

Usage: python scripts/fit_rally_span_probability.py --folder networks
       [--train SECONDS] [--recordings 30] [--write]

The folder holds a network for each learning family, taught without it and named after its module
(`training_family_noise_bursts.npz`); `--train` teaches those that are missing (PyTorch, best on a GPU). The
choosing family is heard by the network the program comes with. Printed are the figures of each family by
weights fitted on the others, which are the ones that count; `--write` puts the weights fitted on all into
`footage.audio.span_chances.rally_probability_from_span`.
"""

from __future__ import annotations

import argparse
import importlib
import re
import subprocess
import sys
import textwrap
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from goodlength.bench.rally_recognition_accuracy_by_family import (
    FAMILIES,
    SHARE,
    last_of,
    mono_of,
    share_together,
)
from goodlength.footage.audio.impact_class_adaptation import adapted
from goodlength.footage.audio.impact_classifier_network import ImpactNetwork, impact_network
from goodlength.footage.audio.network_rally_recognition import SURE, extract_features, levelled
from goodlength.footage.audio.rally_decoding import decode_rallies
from goodlength.footage.audio.span_chances import rally_probability_from_span

ROOT = Path(__file__).resolve().parent.parent
MIXED = "training_flights.training_family_play_crossed_with_halls"  # halls and play of the others
OLDER = FAMILIES["learn"][:6]  # those that the chances of now were fitted on
LEFT_OUT = tuple(name for name in OLDER if name != MIXED)
RIDGE, STEPS, SEED = 20.0, 25, 6161


@dataclass(frozen=True)
class SpanSet:
    """The spans heard in a family: features, whether each is right, and how many rallies there were."""

    features: np.ndarray
    right: np.ndarray
    rallies: int


def network_of(path: Path | None) -> ImpactNetwork:
    """Return the network of a file, or the one the program comes with."""
    if path is None:
        return impact_network()
    with np.load(path, allow_pickle=False) as arrays:
        return ImpactNetwork({name: arrays[name] for name in arrays.files})


def recording_spans(module: str, path: Path | None, seconds: float, k: int) -> SpanSet:
    """Return the spans of the k-th recording of a family."""
    family = importlib.import_module(f"goodlength.synthetic.recordings.{module}")
    condition = family.CONDITIONS[k % len(family.CONDITIONS)]
    world = family.draw_world(np.random.default_rng((SEED, k)), condition, seconds)
    frames = levelled(extract_features([mono_of(world)], world.rate)).frames
    impacts = network_of(path).impacts(frames)
    until = max((span.end_s for span in world.spans), default=0.0) + 1.0  # beyond it nothing is told
    found = decode_rallies(adapted(impacts, frames), unadapted=impacts)
    found = [rally for rally in found if rally.start_s < until]
    truth = [(rally.start_s, last_of(rally)) for rally in world.rallies]
    right = [any(share_together((r.start_s, r.end_s), span) >= SHARE for span in truth) for r in found]
    rows = np.array([rally.features for rally in found]).reshape(
        -1, len(rally_probability_from_span.FEATURES)
    )
    return SpanSet(rows, np.array(right, bool), len(truth))


def spans_of(module: str, path: Path | None, count: int, seconds: float) -> SpanSet:
    """Return the spans of a family."""
    with ProcessPoolExecutor() as pool:
        parts = list(pool.map(partial(recording_spans, module, path, seconds), range(count)))
    return joined(parts)


def joined(parts: list[SpanSet]) -> SpanSet:
    """Return several sets as one."""
    features, right = (np.concatenate([getattr(p, name) for p in parts]) for name in ("features", "right"))
    return SpanSet(features, right, sum(part.rallies for part in parts))


def fitted(spans: SpanSet) -> tuple[np.ndarray, float]:
    """Return weights and offset of a logistic regression with a ridge on the features at one size."""
    mean, size = spans.features.mean(axis=0), spans.features.std(axis=0) + 1e-6
    x = np.c_[(spans.features - mean) / size, np.ones(len(spans.right))]
    ridge, w = np.full(x.shape[1], RIDGE), np.zeros(x.shape[1])
    ridge[-1] = 1e-9
    for _ in range(STEPS):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        slope = x.T @ (p - spans.right) + ridge * w
        w -= np.linalg.solve((x * (p * (1 - p))[:, None]).T @ x + np.diag(ridge), slope)
    weights = w[:-1] / size
    return weights, float(w[-1] - weights @ mean)


def figures_line(name: str, spans: SpanSet, weights: np.ndarray, offset: float) -> str:
    """Return a line: log loss, sure and found, wrong among sure, by weights fitted elsewhere."""
    chance = 1 / (1 + np.exp(-np.clip(spans.features @ weights + offset, -9, 9)))
    loss = -np.mean(np.log(np.where(spans.right, chance, 1 - chance)))
    sure = chance >= SURE
    wrong = float((~spans.right[sure]).mean()) if sure.any() else 0.0
    found = spans.right[sure].sum() / max(1, spans.rallies)
    return (
        f"{name}: {spans.rallies} rallies, log loss {loss:.3f}, sure and found {found:.3f}, wrong {wrong:.3f}"
    )


def taught(folder: Path, module: str, seconds: float) -> Path:
    """Return the network taught without a family, teaching it where it is missing."""
    path = folder / f"{module.rpartition('.')[2]}.npz"
    if not path.exists():
        if not seconds:
            raise SystemExit(f"{path} is missing: give --train SECONDS to teach it.")
        others = [name for name in OLDER if name not in (module, MIXED)]
        script = ROOT / "scripts" / "train_impact_classifier.py"
        line = [sys.executable, script, "--out", path, "--seconds", str(seconds), "--families", *others]
        subprocess.run([str(part) for part in line], check=True)
    return path


def write(weights: np.ndarray, offset: float) -> None:
    """Put weights and offset into the module that uses them."""
    path = Path(rally_probability_from_span.__file__)
    numbers = ", ".join(f"{value:.3f}" for value in weights) + ","
    body = textwrap.fill(numbers, 100, initial_indent="    ", subsequent_indent="    ")
    text = re.sub(
        r"(?s)(\nWEIGHTS: tuple\[float, \.\.\.\] = \().*?(\n\)  # fmt: skip)",
        lambda m: f"{m[1]}\n{body}{m[2]}",
        path.read_text("utf-8"),
    )
    path.write_text(re.sub(r"\nOFFSET = .*", f"\nOFFSET = {offset:.3f}", text), "utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--folder", type=Path, required=True, help="of the networks taught without a family")
    parser.add_argument("--train", type=float, default=0.0, help="seconds to teach each that is missing")
    parser.add_argument("--recordings", type=int, default=30, help="of each family")
    parser.add_argument("--seconds", type=float, default=360.0, help="length of a recording")
    parser.add_argument("--write", action="store_true", help="put the weights into the program")
    args = parser.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    networks = {module: taught(args.folder, module, args.train) for module in LEFT_OUT}
    chosen = dict.fromkeys(FAMILIES["choose"])
    sets = {
        module: spans_of(module, path, args.recordings, args.seconds)
        for module, path in (networks | chosen).items()
    }
    for name, spans in sets.items():
        print(figures_line(name, spans, *fitted(joined([s for other, s in sets.items() if other != name]))))
    if args.write:
        write(*fitted(joined(list(sets.values()))))


if __name__ == "__main__":
    main()
