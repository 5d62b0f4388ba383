"""Fits what stands around a span, on what networks hear of ways of playing that they were not taught.

Usage: python scripts/fit_rally_span_context.py --folder networks [--before impacts.npz] [--write]

The folder holds the networks of the last training: `all.npz`, and `nosecond.npz`, `nofirst.npz`,
`nodrills.npz`, each taught without a way of playing (docs/sources/hearing-network.md). `--before` is an
earlier network, which had learnt from none of the four ways: it hears the same recordings, and its spans
count half as much beside those of the others, which then count half too. Printed are, for each way of
playing by weights fitted on the other three, the log loss, what is sure and found, and how many sure spans
are wrong; and the least bound at which in no way of playing more than 3 of 100 sure spans of usual
recordings are wrong. `--write` puts the weights fitted on all four into `rally_probability_from_context`; the
bound is `network_rally_recognition.SURE` and is set by hand.
"""

from __future__ import annotations

import argparse
import importlib
import re
import sys
import textwrap
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from fit_rally_span_probability import network_of

from goodlength.bench.rally_recognition_accuracy_by_family import (
    SHARE,
    group_of,
    last_of,
    mono_of,
    share_together,
)
from goodlength.footage.audio.impact_class_adaptation import adapted
from goodlength.footage.audio.network_rally_recognition import SURE, extract_features, levelled
from goodlength.footage.audio.rally_decoding import decode_rallies
from goodlength.footage.audio.span_chances import rally_probability_from_context

RETIRED, MIXED = "retired_test_families", "training_mixtures.training_family"
DRILLS = "training_drills.training_family"


@dataclass(frozen=True)
class LeftOutFamily:
    """A family heard by a network that was not taught its way of playing."""

    way: str
    module: str
    network: str
    seed: int
    count: int
    seconds: float
    condition: str = ""


LEFT_OUT = (
    LeftOutFamily("second", f"{RETIRED}.pressure_play", "nosecond", 61, 60, 480.0),
    LeftOutFamily("first", f"{RETIRED}.plan_rays", "nofirst", 62, 60, 480.0),
    LeftOutFamily("choosing", "validation_recording_family", "all", 63, 42, 420.0),
    LeftOutFamily("drills", f"{DRILLS}_modal_plates", "nodrills", 64, 20, 420.0),
    LeftOutFamily("drills", f"{DRILLS}_particle_collisions", "nodrills", 65, 20, 420.0),
    LeftOutFamily("drills", f"{DRILLS}_soft_sound_atoms", "nodrills", 66, 20, 420.0),
    LeftOutFamily("second", f"{MIXED}_pressure_play", "nosecond", 67, 30, 420.0),
    LeftOutFamily("first", f"{MIXED}_plan_rays_play", "nofirst", 68, 30, 420.0),
    LeftOutFamily("second", f"{RETIRED}.pressure_play", "nosecond", 71, 6, 420.0, "doubles warm-up"),
    LeftOutFamily("first", f"{RETIRED}.plan_rays", "nofirst", 72, 6, 420.0, "doubles warm-up"),
)
RIDGE, STEPS, SPREADS = 100.0, 25, 3.0
MOST_WRONG = 0.03


@dataclass(frozen=True)
class ContextSet:
    """Spans: features, truth, way of playing, group of conditions; and the rallies of each way and group."""

    features: np.ndarray
    right: np.ndarray
    way: np.ndarray
    group: np.ndarray
    rallies: Counter[tuple[str, str]]


@dataclass(frozen=True)
class ContextWeights:
    """What `rally_probability_from_context` holds."""

    lowest: np.ndarray
    highest: np.ndarray
    weights: np.ndarray
    offset: float

    def odds(self, features: np.ndarray) -> np.ndarray:
        """Return the log-odds of rows of features."""
        return np.clip(features, self.lowest, self.highest) @ self.weights + self.offset


def recording_spans(left_out: LeftOutFamily, path: Path | None, k: int) -> ContextSet:
    """Return the spans of the k-th recording of a family."""
    family = importlib.import_module(f"goodlength.synthetic.recordings.{left_out.module}")
    usual = [name for name in family.CONDITIONS if name not in getattr(family, "ODD", ())]
    condition = left_out.condition or usual[k % len(usual)]
    world = family.draw_world(np.random.default_rng((left_out.seed, k)), condition, left_out.seconds)
    frames = levelled(extract_features([mono_of(world)], world.rate)).frames
    unadapted = network_of(path).impacts(frames)
    impacts = adapted(unadapted, frames)
    found = decode_rallies(impacts, unadapted=unadapted)
    typical = found[0].typical if found else np.zeros(0)
    rows = rally_probability_from_context.context_features(
        impacts, [rally.by_itself for rally in found], typical
    )
    until = max((span.end_s for span in world.spans), default=0.0) + 1.0  # beyond it nothing is known
    known = np.array([rally.start_s < until for rally in found], bool)
    truth = [(rally.start_s, last_of(rally)) for rally in world.rallies]
    right = [any(share_together((r.start_s, r.end_s), span) >= SHARE for span in truth) for r in found]
    group = group_of(condition, family)
    names = np.array([[left_out.way, group]] * int(known.sum()), dtype=object).reshape(-1, 2)
    counts = Counter({(left_out.way, group): len(truth)})
    return ContextSet(rows[known], np.array(right, bool)[known], names[:, 0], names[:, 1], counts)


def joined(parts: list[ContextSet]) -> ContextSet:
    """Return several sets as one."""
    arrays = [
        np.concatenate([getattr(part, name) for part in parts])
        for name in ("features", "right", "way", "group")
    ]
    return ContextSet(*arrays, rallies=sum((part.rallies for part in parts), Counter()))


def fitted(spans: ContextSet, share: float = 1.0) -> ContextWeights:
    """Return a logistic regression with a ridge; each way of playing counts alike, each span by a share."""
    mean, size = spans.features.mean(axis=0), spans.features.std(axis=0) + 1e-6
    lowest, highest = mean - SPREADS * size, mean + SPREADS * size
    x = np.c_[(np.clip(spans.features, lowest, highest) - mean) / size, np.ones(len(spans.right))]
    counts = Counter(spans.way.tolist())
    each = share * np.array([len(spans.way) / len(counts) / counts[way] for way in spans.way.tolist()])
    ridge, w = np.full(x.shape[1], RIDGE), np.zeros(x.shape[1])
    ridge[-1] = 1e-9
    for _ in range(STEPS):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        slope = x.T @ (each * (p - spans.right)) + ridge * w
        w -= np.linalg.solve((x * (each * p * (1 - p))[:, None]).T @ x + np.diag(ridge), slope)
    weights = w[:-1] / size
    return ContextWeights(lowest, highest, weights, float(w[-1] - weights @ mean))


def where(spans: ContextSet, mask: np.ndarray) -> ContextSet:
    """Return the spans of a mask, with all rallies."""
    rows = (getattr(spans, name)[mask] for name in ("features", "right", "way", "group"))
    return ContextSet(*rows, rallies=spans.rallies)


def odds_left_out(spans: ContextSet, before: ContextSet | None) -> np.ndarray:
    """Return the log-odds of each span by weights fitted on the other ways of playing."""
    odds = np.zeros(len(spans.right))
    for way in sorted(set(spans.way.tolist())):
        others = [where(s, s.way != way) for s in (spans, before) if s is not None]
        mine = spans.way == way
        odds[mine] = fitted(joined(others), 1 / len(others)).odds(spans.features[mine])
    return odds


def wrong_share(spans: ContextSet, odds: np.ndarray, bound: float, way: str, group: str) -> tuple[int, int]:
    """Return how many spans are sure at a bound, and how many of them are wrong."""
    sure = (odds >= np.log(bound / (1 - bound))) & (spans.way == way) & (spans.group == group)
    return int(sure.sum()), int((~spans.right[sure]).sum())


def figures(spans: ContextSet, odds: np.ndarray, bound: float) -> list[str]:
    """Return a line for each way of playing."""
    lines = []
    for way in sorted(set(spans.way.tolist())):
        mine = spans.way == way
        signed = np.where(spans.right[mine], odds[mine], -odds[mine])
        words = [f"{way}: log loss {np.logaddexp(0, -np.clip(signed, -9, 9)).mean():.3f}"]
        for group in ("usual", "poor"):
            sure, wrong = wrong_share(spans, odds, bound, way, group)
            count = spans.rallies[way, group]
            words.append(
                f"{group}: {count} rallies, sure and found {100 * (sure - wrong) / max(1, count):.1f}, "
                f"wrong {wrong} of {sure}"
            )
        lines.append("; ".join(words))
    return lines


def least_bound(spans: ContextSet, odds: np.ndarray) -> float:
    """Return the least bound at which no way of playing has more wrong sure spans than allowed."""
    for bound in np.arange(0.80, 0.995, 0.005).tolist():
        counts = [wrong_share(spans, odds, bound, way, "usual") for way in set(spans.way.tolist())]
        if all(wrong <= MOST_WRONG * sure for sure, wrong in counts):
            return float(bound)
    return 1.0


def write(result: ContextWeights) -> None:
    """Put the numbers into the module that uses them."""
    path = Path(rally_probability_from_context.__file__)
    text = path.read_text("utf-8")
    for name, values in (
        ("LOWEST", result.lowest),
        ("HIGHEST", result.highest),
        ("WEIGHTS", result.weights),
    ):
        numbers = ", ".join(f"{value:.3f}" for value in values) + ","
        body = textwrap.fill(numbers, 100, initial_indent="    ", subsequent_indent="    ")
        text = re.sub(
            rf"(?s)(\n{name}: tuple\[float, \.\.\.\] = \().*?(\n\)  # fmt: skip)",
            lambda m, body=body: f"{m[1]}\n{body}{m[2]}",
            text,
        )
    path.write_text(re.sub(r"\nOFFSET = .*", f"\nOFFSET = {result.offset:.3f}", text), "utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--folder", type=Path, required=True, help="of the networks")
    parser.add_argument("--before", type=Path, help="an earlier network that had learnt none of this play")
    parser.add_argument("--share", type=float, default=1.0, help="of the recordings")
    parser.add_argument("--write", action="store_true", help="put the weights into the program")
    args = parser.parse_args()
    sets: list[ContextSet | None] = []
    with ProcessPoolExecutor() as pool:
        for before in (None, args.before):
            if sets and before is None:
                sets.append(None)
                continue
            parts = []
            for left_out in LEFT_OUT:
                path = before or args.folder / f"{left_out.network}.npz"
                count = max(1, round(args.share * left_out.count))
                parts += pool.map(partial(recording_spans, left_out, path), range(count))
            sets.append(joined(parts))
    spans, earlier = sets
    assert spans is not None
    odds = odds_left_out(spans, earlier)
    print(f"least bound: {least_bound(spans, odds):.3f}")
    print("\n".join(figures(spans, odds, SURE)))
    if args.write:
        both = [s for s in (spans, earlier) if s is not None]
        write(fitted(joined(both), 1 / len(both)))


if __name__ == "__main__":
    main()
