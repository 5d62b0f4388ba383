"""Fits how much what stands around a span says, on families that the network in question was not taught.

Usage: python scripts/fit_span_context.py --folder networks [--recordings 45] [--write]

The folder holds `no_plates.npz`, taught without plates and particles, and `no_atoms.npz`, taught without
atoms (`train_impact_classifier.py --families`); the choosing family is heard by the network the program
comes with. Printed are the figures of each family by weights fitted on the others; `--write` puts the weights
fitted on all into `footage.audio.span_chances.rally_span_context`. The chance of a span by itself stays as
`fit_span_probability.py` fitted it.
"""

from __future__ import annotations

import argparse
import importlib
import re
import sys
import textwrap
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from fit_span_probability import network_of

from goodlength.bench.rally_recognition_accuracy import SHARE, group_of, last_of, mono_of, share_together
from goodlength.footage.audio.rally_decoding import decode_rallies
from goodlength.footage.audio.rally_recognition import SURE, extract_features, levelled
from goodlength.footage.audio.recording_adaptation import adapted
from goodlength.footage.audio.span_chances import rally_span_context

LEFT_OUT = {
    "training_drills.training_family_modal_plates": ("no_plates.npz", 71),
    "training_drills.training_family_particles": ("no_plates.npz", 72),
    "training_drills.training_family_soft_atoms": ("no_atoms.npz", 73),
    "validation_family": (None, 74),
}
SEED, SECONDS = 6161, 360.0
RIDGE, STEPS, OWN_SIZE = 30.0, 25, 3.0


@dataclass(frozen=True)
class ContextSet:
    """The spans of a family: log-odds by themselves, features, truth, group of conditions; its rallies."""

    alone: np.ndarray
    features: np.ndarray
    right: np.ndarray
    group: np.ndarray
    rallies: dict[str, int]


def recording_spans(module: str, path: Path | None, seed: int, k: int) -> ContextSet:
    """Return the spans of the k-th recording of a family."""
    family = importlib.import_module(f"goodlength.synthetic.recordings.{module}")
    condition = family.CONDITIONS[k % len(family.CONDITIONS)]
    world = family.draw_world(np.random.default_rng((SEED, seed, k)), condition, SECONDS)
    frames = levelled(extract_features([mono_of(world)], world.rate)).frames
    unadapted = network_of(path).impacts(frames)
    impacts = adapted(unadapted, frames)
    found = decode_rallies(impacts, unadapted=unadapted)
    rows = rally_span_context.context_features(impacts, [rally.in_recording for rally in found])
    until = max((span.end_s for span in world.spans), default=0.0) + 1.0  # beyond it nothing is told
    inside = [rally.start_s < until for rally in found]
    truth = [(rally.start_s, last_of(rally)) for rally in world.rallies]
    right = [any(share_together((r.start_s, r.end_s), span) >= SHARE for span in truth) for r in found]
    group = group_of(condition)
    return ContextSet(
        np.array([rally.alone for rally in found])[inside],
        rows[inside],
        np.array(right, bool)[inside],
        np.array([group] * sum(inside), dtype=object),
        {group: len(truth)},
    )


def joined(parts: list[ContextSet]) -> ContextSet:
    """Return several sets as one."""
    rallies: dict[str, int] = {}
    for part in parts:
        for group, count in part.rallies.items():
            rallies[group] = rallies.get(group, 0) + count
    alone, features, right, group = (
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("alone", "features", "right", "group")
    )
    return ContextSet(alone, features, right.astype(bool), group, rallies)


def fitted(spans: ContextSet) -> tuple[float, np.ndarray, float]:
    """Return the share of the own log-odds, weights and offset: a logistic regression with a ridge.

    The ridge draws towards the chance of a span by itself, as it is.
    """
    mean, size = spans.features.mean(axis=0), spans.features.std(axis=0) + 1e-6
    x = np.c_[(spans.features - mean) / size, spans.alone / OWN_SIZE, np.ones(len(spans.right))]
    ridge, towards = np.full(x.shape[1], RIDGE), np.zeros(x.shape[1])
    ridge[-1], towards[-2] = 1e-9, OWN_SIZE
    w = towards.copy()
    for _ in range(STEPS):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        slope = x.T @ (p - spans.right) + ridge * (w - towards)
        w -= np.linalg.solve((x * (p * (1 - p))[:, None]).T @ x + np.diag(ridge), slope)
    weights = w[:-2] / size
    return float(w[-2] / OWN_SIZE), weights, float(w[-1] - weights @ mean)


def figures_line(name: str, spans: ContextSet, own: float, weights: np.ndarray, offset: float) -> str:
    """Return log loss and what is sure at `SURE`, in usual and poor conditions."""
    odds = own * spans.alone + spans.features @ weights + offset
    chance = 1 / (1 + np.exp(-np.clip(odds, -9, 9)))
    loss = -np.mean(np.log(np.where(spans.right, chance, 1 - chance)))
    words = [f"{name}: log loss {loss:.3f}"]
    for group in ("usual", "poor"):
        sure = (chance >= SURE) & (spans.group == group)
        wrong = float((~spans.right[sure]).mean()) if sure.any() else 0.0
        found = spans.right[sure].sum() / max(1, spans.rallies.get(group, 0))
        words.append(
            f"{group}: {spans.rallies.get(group, 0)} rallies, sure and found {found:.3f}, wrong {wrong:.3f}"
        )
    return "; ".join(words)


def write(own: float, weights: np.ndarray, offset: float) -> None:
    """Put the numbers into the module that uses them."""
    path = Path(rally_span_context.__file__)
    numbers = textwrap.fill(
        ", ".join(f"{value:.3f}" for value in weights) + ",",
        100,
        initial_indent="    ",
        subsequent_indent="    ",
    )
    text = re.sub(
        r"(?s)(\nWEIGHTS: tuple\[float, \.\.\.\] = \().*?(\n\)  # fmt: skip)",
        lambda m: f"{m[1]}\n{numbers}{m[2]}",
        path.read_text("utf-8"),
    )
    text = re.sub(r"\nOWN = .*", f"\nOWN = {own:.3f}", text)
    path.write_text(re.sub(r"\nOFFSET = .*", f"\nOFFSET = {offset:.3f}", text), "utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--folder", type=Path, required=True, help="of the networks taught without a family")
    parser.add_argument("--recordings", type=int, default=45, help="of each family")
    parser.add_argument("--write", action="store_true", help="put the weights into the program")
    args = parser.parse_args()
    sets = {}
    with ProcessPoolExecutor() as pool:
        for module, (file, seed) in LEFT_OUT.items():
            path = None if file is None else args.folder / file
            parts = pool.map(partial(recording_spans, module, path, seed), range(args.recordings))
            sets[module] = joined(list(parts))
    for name, spans in sets.items():
        print(figures_line(name, spans, *fitted(joined([s for other, s in sets.items() if other != name]))))
    if args.write:
        write(*fitted(joined(list(sets.values()))))


if __name__ == "__main__":
    main()
