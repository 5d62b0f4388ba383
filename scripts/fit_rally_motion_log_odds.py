"""Fits how the picture's motion speaks for play, and shows what it adds to the sound.

Usage: python scripts/fit_rally_motion_log_odds.py [--recordings 28] [--minutes 5]

The weights of `footage.vision.rally_motion_log_odds` are fitted on the learning families with their ways of
moving; how far the picture counts is read from the table printed for the choosing family, drawn with its
own. Nothing of the judging family is used.
"""

from __future__ import annotations

import argparse
import importlib
import sys
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from goodlength.bench.rally_recognition_accuracy_by_family import (
    FAMILIES,
    last_of,
    mono_of,
    places_of,
    share_together,
)
from goodlength.footage.audio.impact_class_adaptation import adapted
from goodlength.footage.audio.impact_classifier_network import Impacts, impact_network
from goodlength.footage.audio.network_rally_recognition import extract_features
from goodlength.footage.audio.rally_decoding import decode_rallies
from goodlength.footage.vision import rally_motion_log_odds
from goodlength.footage.vision.motion_profile import HEIGHT, WIDTH, MotionMeter, MotionProfile
from goodlength.synthetic.recordings.recording_types import WorldRecording
from goodlength.synthetic.recordings.rendered_player_video import plain_picture

SEEDS = {"learn": 770, "choose": 880}
PATH_WEIGHTS, SPAN_WEIGHTS = (0.0, 0.25, 0.5, 1.0), (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class TrainingRecording:
    """A recording as sound and picture give it: impacts before and after adaptation, motion, truth."""

    unadapted: Impacts
    impacts: Impacts
    profile: MotionProfile
    spans: list[tuple[float, float]]
    length_s: float


def training_recording(name: str, k: int, minutes: float) -> TrainingRecording:
    """Return the k-th recording of a group of families."""
    modules = FAMILIES[name]
    family = importlib.import_module(f"goodlength.synthetic.recordings.{modules[k % len(modules)]}")
    condition = family.CONDITIONS[(k // len(modules)) % len(family.CONDITIONS)]
    rng = np.random.default_rng([SEEDS[name], k])
    world: WorldRecording = family.draw_world(rng, condition, 60 * minutes)
    frames = extract_features([mono_of(world)], world.rate).frames
    meter = MotionMeter()
    for at, picture in plain_picture(rng, world, places_of(name, rng)).pictures(5.0):
        small = cv2.resize(picture, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
        meter.feed(at, small.astype(np.float32))
    spans = [(r.start_s, last_of(r)) for r in world.rallies]
    length = world.samples.shape[1] / world.rate
    impacts = impact_network().impacts(frames)
    return TrainingRecording(impacts, adapted(impacts, frames), meter.profile(), spans, length)


def fitted(worlds: list[TrainingRecording]) -> np.ndarray:
    """Return the weights of the features."""
    rows, truth = [], []
    for world in worlds:
        features = rally_motion_log_odds.motion_features(world.profile, world.length_s)
        if features is None:
            continue
        at = np.arange(len(features)) * rally_motion_log_odds.GRID_S
        inside = np.zeros(len(at))
        for a, b in world.spans:
            inside[(at >= a) & (at <= b)] = 1
        rows.append(features[::5])
        truth.append(inside[::5])
    x, y = np.concatenate(rows), np.concatenate(truth)
    sign = 2 * y - 1

    def loss(b: np.ndarray) -> float:
        return float(np.logaddexp(0, -sign * (x @ b[:-1] + b[-1])).mean() + 1e-3 * (b[:-1] ** 2).sum())

    return np.asarray(minimize(loss, np.zeros(x.shape[1] + 1)).x[:-1])


def table(worlds: list[TrainingRecording]) -> None:
    """Print, for each pair of weights, the mean loss of the chances and the rallies right at 95 of 100."""
    total = sum(len(world.spans) for world in worlds)
    for path in PATH_WEIGHTS:
        rows = []
        for world in worlds:
            first = [
                rally_motion_log_odds.LikelySpan(r.start_s, r.end_s, r.chance)
                for r in decode_rallies(world.impacts, unadapted=world.unadapted)
            ]
            odds = rally_motion_log_odds.motion_odds(world.profile, world.length_s, first)
            odds = np.zeros(2) if odds is None else odds
            seen = path * rally_motion_log_odds.odds_at(odds, world.impacts.time_s)
            for rally in decode_rallies(world.impacts, seen, world.unadapted):
                span = (rally.start_s, rally.end_s)
                moves = (
                    rally_motion_log_odds.odds_at(odds, np.arange(*span, 0.1)).mean()
                    if span[1] > span[0]
                    else 0
                )
                right = any(share_together(span, item) >= 0.5 for item in world.spans)
                rows.append((np.log(rally.chance / (1 - rally.chance)), moves, right))
        sound, picture, right = np.array(rows).T
        for weight in SPAN_WEIGHTS:
            z = sound + weight * picture
            best = right[np.argsort(-z)]
            holds = np.flatnonzero(np.cumsum(best) / np.arange(1, len(best) + 1) >= 0.95)
            count = int(best[: holds[-1] + 1].sum()) if len(holds) else 0
            loss = np.logaddexp(0, -(2 * right - 1) * z).mean()
            print(f"path {path:.2f} span {weight:.2f}: loss {loss:.3f}, right at 95: {count} of {total}")


def main() -> None:
    """Draw, fit, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--recordings", type=int, default=28)
    parser.add_argument("--minutes", type=float, default=5.0)
    given = parser.parse_args()
    weights = fitted([training_recording("learn", k, given.minutes) for k in range(given.recordings)])
    print("weights", weights.round(3).tolist())
    rally_motion_log_odds.WEIGHTS = tuple(weights)
    table([training_recording("choose", k, given.minutes) for k in range(given.recordings)])


if __name__ == "__main__":
    main()
