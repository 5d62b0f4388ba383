"""Fits what the players' movement says of serves and of spans, and judges it on what was held out.

Usage: python scripts/fit_rally_span_movement.py --before impacts.npz [--share 1.0] [--write]

Ways of playing are heard by `--before`, a network that had learnt from none of them, the choosing family by
the program's own; learning families are drawn with both learning movements, the choosing family with its own.
Stillness before a serve is fitted first: each movement's spans are searched with weights from the others,
from all ways of playing, the one judged too. Then the features of `rally_probability_from_movement` are
fitted beside what sound and amount of motion say, on other ways and other movements. Printed are, for each
way of playing and movement, how many pairs of a first and another strike stillness orders rightly, and log
loss, what is sure and found and how many sure spans are wrong, three times: as before both, with stillness,
with all. Each of the three counts over its own spans, except that the last two share theirs. `--write` puts
the weights fitted on all into the program.
"""

from __future__ import annotations

import argparse
import importlib
import re
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from types import ModuleType

import cv2
import numpy as np
from scipy.stats import rankdata

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from fit_rally_span_context import LEFT_OUT, LeftOutFamily
from fit_rally_span_probability import network_of

from goodlength.bench.rally_recognition_accuracy_by_family import (
    MOVEMENTS,
    SHARE,
    group_of,
    last_of,
    mono_of,
    share_together,
)
from goodlength.footage.audio.impact_class_adaptation import adapted
from goodlength.footage.audio.impact_classifier_network import Impacts
from goodlength.footage.audio.network_rally_recognition import SERVE_WEIGHT, SURE, extract_features, levelled
from goodlength.footage.audio.rally_decoding import DecodedRally, decode_rallies
from goodlength.footage.audio.span_chances import rally_probability_from_movement
from goodlength.footage.vision import serve_log_odds_from_motion
from goodlength.footage.vision.motion_profile import EVERY_S, HEIGHT, WIDTH, MotionMeter, MotionProfile
from goodlength.footage.vision.rally_motion_log_odds import (
    PATH_WEIGHT,
    SPAN_WEIGHT,
    LikelySpan,
    motion_odds,
    odds_at,
)
from goodlength.footage.vision.span_motion_features_for_rally_detection import (
    StruckSpan,
    motion_relative_to_play,
)
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.rendered_player_video import plain_picture

SEED_OFFSET, PICTURE_SEED = 100, 70  # other recordings than the context of spans was fitted on
RIDGE_SERVE, RIDGE, STEPS, SPREADS = 10.0, 100.0, 25, 2.5
MODULES = "goodlength.synthetic.recordings"


@dataclass(frozen=True)
class FittedRecording:
    """What is heard and seen in a recording: impacts, spans by sound, motion by movement, truth."""

    way: str
    group: str
    impacts: Impacts
    unadapted: Impacts
    by_sound: list[DecodedRally]
    films: dict[str, MotionProfile]
    truth: list[tuple[float, float]]
    strikes: list[np.ndarray]
    length_s: float
    known_s: float

    @property
    def struck(self) -> list[StruckSpan]:
        """The spans by sound."""
        return [StruckSpan(rally.strikes_s, rally.chance) for rally in self.by_sound]


@dataclass(frozen=True)
class SpanTable:
    """Spans: features, log-odds before them, by sound and amount of motion; truth; where they are from."""

    features: np.ndarray
    before: np.ndarray
    right: np.ndarray
    way: np.ndarray
    group: np.ndarray
    movement: np.ndarray


def fitted_recording(left_out: LeftOutFamily, before: Path, k: int) -> FittedRecording:
    """Return the k-th recording of a family, heard and drawn."""
    family = importlib.import_module(f"{MODULES}.{left_out.module}")
    usual = [name for name in family.CONDITIONS if name not in getattr(family, "ODD", ())]
    condition = left_out.condition or usual[k % len(usual)]
    seed = left_out.seed + SEED_OFFSET
    world = family.draw_world(np.random.default_rng((seed, k)), condition, left_out.seconds)
    frames = levelled(extract_features([mono_of(world)], world.rate)).frames
    choosing = left_out.way == "choosing"
    unadapted = network_of(None if choosing else before).impacts(frames)
    impacts = adapted(unadapted, frames)
    films = {}
    for i, name in enumerate(MOVEMENTS["choose" if choosing else "learn"]):
        places = importlib.import_module(f"{MODULES}.{name}").player_places
        meter, rng = MotionMeter(), np.random.default_rng((seed, k, PICTURE_SEED + i))
        for at, picture in plain_picture(rng, world, places).pictures(1 / EVERY_S):
            small = cv2.resize(picture, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
            meter.feed(at, small.astype(np.float32))
        films[name] = meter.profile()
    own = np.array([c.time_s for c in world.contacts if c.surface is Surface.RACKET and c.own_court])
    truth = [(rally.start_s, last_of(rally)) for rally in world.rallies]
    return FittedRecording(
        left_out.way,
        group_of(condition, family),
        impacts,
        unadapted,
        decode_rallies(impacts, unadapted=unadapted),
        films,
        truth,
        [own[(own >= a - 0.05) & (own <= b + 0.05)] for a, b in truth],
        world.samples.shape[1] / world.rate,
        max((span.end_s for span in world.spans), default=0.0) + 1.0,
    )


def logistic(
    x: np.ndarray, offset: np.ndarray, y: np.ndarray, weight: np.ndarray, ridge: float
) -> np.ndarray:
    """Return weights and a constant of a logistic regression beside given log-odds."""
    z, w = np.c_[x, np.ones(len(y))], np.zeros(x.shape[1] + 1)
    ridges = np.append(np.full(x.shape[1], ridge), 1e-9)
    for _ in range(STEPS):
        p = 1 / (1 + np.exp(-np.clip(z @ w + offset, -30, 30)))
        slope = z.T @ (weight * (p - y)) + ridges * w
        w -= np.linalg.solve((z * (weight * p * (1 - p))[:, None]).T @ z + np.diag(ridges), slope)
    return w


def stillness_rows(recording: FittedRecording, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return features of the strikes of a usual recording's rallies, and which are first strikes."""
    at = np.concatenate([np.zeros(0), *recording.strikes])
    film = recording.films.get(name)
    seen = None if film is None else motion_relative_to_play(film, recording.struck)
    if recording.group != "usual" or seen is None or not len(at):
        return np.zeros((0, len(serve_log_odds_from_motion.WEIGHTS))), np.zeros(0, bool)
    first = [k == 0 for strikes in recording.strikes for k in range(len(strikes))]
    return serve_log_odds_from_motion.stillness_features(seen, at), np.array(first, bool)


def serve_weights(recordings: list[FittedRecording], movements: list[str]) -> np.ndarray:
    """Return the weights of stillness before a serve, fitted on usual recordings with these movements."""
    rows = [stillness_rows(recording, name) for recording in recordings for name in movements]
    y = np.concatenate([first for _, first in rows])
    x = np.concatenate([features for features, _ in rows])
    weights = logistic(x, np.zeros(len(y)), y, np.ones(len(y)), RIDGE_SERVE)
    weights[-1] -= np.log(y.mean() / (1 - y.mean()))
    return weights


def pairs_in_order(odds: np.ndarray, first: np.ndarray) -> float:
    """Return the share of pairs of a first and another strike in which the first has more; ties half."""
    n = int(first.sum())
    return float((rankdata(odds)[first].sum() - n * (n + 1) / 2) / (n * (len(first) - n)))


def stillness_figures(recordings: list[FittedRecording], weights: dict[str, np.ndarray]) -> list[str]:
    """Return a line for each way of playing and movement: pairs that stillness orders rightly."""
    lines = []
    for way, name in sorted({(r.way, name) for r in recordings for name in r.films}):
        rows = [stillness_rows(recording, name) for recording in recordings if recording.way == way]
        x, first = (np.concatenate(part) for part in zip(*rows, strict=True))
        if first.any() and not first.all():
            share = pairs_in_order(x @ weights[name][:-1], first)
            lines.append(f"{way}, {name}: {100 * share:.1f} of 100 pairs by stillness in order")
    return lines


def recording_spans(weights: dict[str, np.ndarray], recording: FittedRecording) -> SpanTable:
    """Return the spans of a recording by sound and picture, with each of its movements."""
    likely = [LikelySpan(rally.start_s, rally.end_s, rally.chance) for rally in recording.by_sound]
    rows: list[tuple[np.ndarray, float, bool, str]] = []
    for name, film in recording.films.items():
        busy = motion_odds(film, recording.length_s, likely)
        if busy is None:
            continue
        serve_log_odds_from_motion.WEIGHTS, serve_log_odds_from_motion.OFFSET = (
            tuple(weights[name][:-1]),
            float(weights[name][-1]),
        )
        at = recording.impacts.time_s.astype(np.float64)
        more = (SERVE_WEIGHT * serve_log_odds_from_motion.serve_odds([film], recording.struck, at)).astype(
            np.float32
        )
        moved = [replace(i, first=i.first + more) for i in (recording.impacts, recording.unadapted)]
        found = decode_rallies(moved[0], PATH_WEIGHT * odds_at(busy, at), moved[1])
        struck = [StruckSpan(rally.strikes_s, rally.chance) for rally in found]
        features = rally_probability_from_movement.movement_features([film], struck, busy)
        for rally, row in zip(found, features, strict=True):
            if rally.start_s < recording.known_s and np.isfinite(row).all():
                span = (rally.start_s, rally.end_s)
                inside = odds_at(busy, np.arange(rally.start_s, rally.end_s + 0.1, 0.1)).mean()
                odds = float(np.log(rally.chance / (1 - rally.chance)) + SPAN_WEIGHT * inside)
                right = any(share_together(span, item) >= SHARE for item in recording.truth)
                rows.append((row, odds, right, name))
    n = len(rows)
    return SpanTable(
        np.array([row[0] for row in rows]).reshape(n, len(rally_probability_from_movement.FEATURES)),
        np.array([row[1] for row in rows], np.float64),
        np.array([row[2] for row in rows], bool),
        np.full(n, recording.way, object),
        np.full(n, recording.group, object),
        np.array([row[3] for row in rows], object),
    )


def fitted(table: SpanTable, mask: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Return bounds, weights and constant fitted on some spans, each way of playing alike."""
    x, ways = table.features[mask], table.way[mask].tolist()
    counts = Counter(ways)
    each = 0.5 * np.array([len(ways) / len(counts) / counts[way] for way in ways])
    mean, size = np.average(x, axis=0, weights=each), x.std(axis=0) + 1e-6
    low, high = mean - SPREADS * size, mean + SPREADS * size
    z = (np.clip(x, low, high) - mean) / size
    w = logistic(z, table.before[mask], table.right[mask], each, RIDGE)
    weights = w[:-1] / size
    return low, high, weights, float(w[-1] - weights @ mean)


def odds_of(table: SpanTable, model: tuple[np.ndarray, np.ndarray, np.ndarray, float]) -> np.ndarray:
    """Return log-odds of all spans."""
    low, high, weights, constant = model
    return table.before + np.clip(table.features, low, high) @ weights + constant


def log_loss(odds: np.ndarray, right: np.ndarray) -> float:
    """Return the mean log loss of log-odds; not a number of none."""
    return float(np.logaddexp(0, np.where(right, -odds, odds)).mean()) if len(odds) else float("nan")


def figures(plain: SpanTable, table: SpanTable, recordings: list[FittedRecording]) -> list[str]:
    """Return a line for each way of playing and movement, held out from the weights of spans.

    `plain` are the spans found without stillness, `table` those found with it.
    """
    lines = []
    for way, name in sorted(set(zip(table.way.tolist(), table.movement.tolist(), strict=True))):
        model = fitted(table, (table.way != way) & (table.movement != name))
        steps = (
            ("amount alone", plain, plain.before),
            ("with stillness", table, table.before),
            ("with movement", table, odds_of(table, model)),
        )
        for label, spans, odds in steps:
            mine = (spans.way == way) & (spans.movement == name)
            words = [f"{way}, {name}, {label}: log loss {log_loss(odds[mine], spans.right[mine]):.3f}"]
            for group in ("usual", "poor"):
                of_group = [r for r in recordings if (r.way, r.group) == (way, group) and name in r.films]
                count = sum(len(recording.truth) for recording in of_group)
                sure = mine & (spans.group == group) & (odds >= np.log(SURE / (1 - SURE)))
                right = int((sure & spans.right).sum())
                words.append(
                    f"{group}: {100 * right / max(1, count):.1f} of {count}, wrong "
                    f"{int(sure.sum()) - right} of {int(sure.sum())}"
                )
            lines.append("; ".join(words))
    return lines


def all_spans(recordings: list[FittedRecording], weights: dict[str, np.ndarray]) -> SpanTable:
    """Return the spans of all recordings, found with these weights of stillness by movement."""
    with ProcessPoolExecutor() as pool:
        parts = list(pool.map(partial(recording_spans, weights), recordings))
    names = ("features", "before", "right", "way", "group", "movement")
    return SpanTable(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def write(module: ModuleType, values: dict[str, str]) -> None:
    """Put numbers into the module that uses them."""
    path = Path(str(module.__file__))
    text = path.read_text("utf-8")
    for name, value in values.items():
        text = re.sub(rf"(?m)^{name} = .*$", f"{name} = {value}", text)
    path.write_text(text, "utf-8")


def numbers(values: np.ndarray) -> str:
    """Return numbers as they stand in a module."""
    return "(" + ", ".join(f"{value:.3f}" for value in values) + ")"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument(
        "--before", type=Path, required=True, help="a network that had learnt none of this play"
    )
    parser.add_argument("--share", type=float, default=1.0, help="of the recordings")
    parser.add_argument("--write", action="store_true", help="put the weights into the program")
    args = parser.parse_args()
    recordings: list[FittedRecording] = []
    with ProcessPoolExecutor() as pool:
        for left_out in LEFT_OUT:
            count = max(1, round(args.share * left_out.count))
            recordings += pool.map(partial(fitted_recording, left_out, args.before), range(count))
    every = [*MOVEMENTS["learn"], *MOVEMENTS["choose"]]
    others = {name: [m for m in MOVEMENTS["learn"] if m != name] for name in every}
    weights = {name: serve_weights(recordings, others[name]) for name in every}
    nothing = {name: np.zeros_like(values) for name, values in weights.items()}
    table = all_spans(recordings, weights)
    print("\n".join(stillness_figures(recordings, weights)))
    print("\n".join(figures(all_spans(recordings, nothing), table, recordings)))
    if args.write:
        serves = serve_weights(recordings, every)
        low, high, span, constant = fitted(table, np.ones(len(table.right), bool))
        write(serve_log_odds_from_motion, {"WEIGHTS": numbers(serves[:-1]), "OFFSET": f"{serves[-1]:.3f}"})
        write(
            rally_probability_from_movement,
            {"LOWEST": numbers(low), "HIGHEST": numbers(high), "WEIGHTS": numbers(span)}
            | {"OFFSET": f"{constant:.3f}"},
        )


if __name__ == "__main__":
    main()
