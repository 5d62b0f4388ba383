"""Benchmark of rally and hit detection in simulated recordings with known truth, with its speed.

Every recording goes the whole way: written as a film with AAC sound, opened, decoded, heard. Failures are
listed. The recordings are invented (`courtsound`): a real court has not been heard yet.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from goodlength.footage.audio.rally_detection import RallyDetection, detect_rallies
from goodlength.footage.media.audio_decoding import decode_samples
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.synthetic.simulated_court_audio import (
    GLASS,
    NOISY,
    RATE,
    TYPICAL,
    SoundCondition,
    SoundTruth,
    record,
)
from goodlength.synthetic.video_with_sound_writer import write_film

KNOCK_UP = replace(TYPICAL, name="with a knock-up", knock_up_s=90.0)
CONDITIONS = (TYPICAL, NOISY, GLASS, KNOCK_UP)
MATCH_PAD_S, MATCH_SHARE = 0.5, 0.6
HIT_S = 0.010
NO_ONSET_S = 9.0  # stands for the distance to a heard hit where none was heard
TIMED_RUNS = 5  # decoder alone, then hearing, one after the other; the least of each counts


@dataclass(frozen=True)
class ConditionFigures:
    """How well rallies were heard under one condition.

    A rally is found when its span and a heard one, both half a second longer at each end, share at least 0.6
    of what they cover together. `missed_and_offered` counts missed rallies that touch a doubtful or a sure
    one. `hits_found` is the share of racket hits of all rallies with a heard hit within 10 ms;
    `hit_error_p90_s` is the 90th percentile of the distance from a racket hit to the nearest heard one.
    """

    condition: str
    recordings: int
    usable: int
    rallies: int
    recall: float
    precision: float
    start_error_p95_s: float
    end_error_p90_s: float
    missed: int
    missed_and_offered: int
    doubtful_an_hour: float
    hits_found: float
    hits_right: float
    hit_error_p90_s: float
    failures: tuple[str, ...]


@dataclass(frozen=True)
class RallyDetectionFigures:
    """All conditions, and an hour of film: seconds, memory, and both beside the sound decoder alone."""

    conditions: tuple[ConditionFigures, ...]
    hour_s: float
    peak_mb: float
    ratio_to_decoder: float
    cpu_ratio_to_decoder: float


def bench_rally_detection(
    seed: int = 20261125, recordings: int = 20, minutes: int = 60
) -> RallyDetectionFigures:
    """Measure it all.

    Parameters
    ----------
    seed : int
        State of the draws.
    recordings : int
        Of about four minutes, for the typical and the noisy condition; half as many for the others.
    minutes : int
        Length of the film whose hearing is timed; the figures are scaled to an hour.
    """
    figures = []
    with tempfile.TemporaryDirectory() as folder:
        for k, condition in enumerate(CONDITIONS):
            count = recordings if condition in (TYPICAL, NOISY) else max(1, recordings // 2)
            figures.append(measure_condition(condition, seed + 1000 * k, count, Path(folder)))
        speed = measure_speed(np.random.default_rng(seed), minutes, Path(folder))
    return RallyDetectionFigures(tuple(figures), *speed)


@dataclass
class _Sums:
    """What is added up over recordings."""

    rallies: int = 0
    found: int = 0
    matched: int = 0
    usable: int = 0
    missed: int = 0
    offered: int = 0
    doubtful: int = 0
    seconds: float = 0.0
    right: int = 0
    onsets: int = 0


def measure_condition(condition: SoundCondition, seed: int, count: int, folder: Path) -> ConditionFigures:
    """Return figures of one condition over `count` recordings."""
    sums = _Sums()
    starts: list[float] = []
    ends: list[float] = []
    hits: list[float] = []
    failures: list[str] = []
    for k in range(count):
        made = record(np.random.default_rng(seed + k), condition)
        path = write_film(folder / "court.mp4", made.samples)
        detection = detect_rallies(path, motion=False)
        _add(sums, detection, made.truth, starts, ends, hits, failures, f"{condition.name} {seed + k}")
        sums.seconds += len(made.samples) / RATE
    return ConditionFigures(
        condition.name,
        count,
        sums.usable,
        sums.rallies,
        sums.matched / max(1, sums.rallies),
        sums.matched / max(1, sums.found),
        _quantile(starts, 0.95),
        _quantile(ends, 0.90),
        sums.missed,
        sums.offered,
        sums.doubtful / sums.seconds * 3600,
        float(np.mean(np.array(hits) <= HIT_S)) if hits else 0.0,
        sums.right / max(1, sums.onsets),
        within if (within := _quantile(hits, 0.90)) < NO_ONSET_S else float("nan"),
        tuple(failures),
    )


def _add(
    sums: _Sums,
    detection: RallyDetection,
    truth: SoundTruth,
    starts: list[float],
    ends: list[float],
    hits: list[float],
    failures: list[str],
    name: str,
) -> None:
    """Take one recording into account."""
    sure = [(r.start_us / 1e6, r.end_us / 1e6) for r in detection.rallies if not r.doubtful]
    doubtful = [(r.start_us / 1e6, r.end_us / 1e6) for r in detection.rallies if r.doubtful]
    sums.usable += detection.by == "sound"
    sums.rallies += len(truth.rallies)
    sums.found += len(sure)
    sums.doubtful += len(doubtful)
    free = list(sure)
    for a, b in truth.rallies:
        shares = [share_together(span, (a, b)) for span in free]
        if shares and max(shares) >= MATCH_SHARE:
            best = free[int(np.argmax(shares))]
            free.remove(best)
            sums.matched += 1
            starts.append(abs(best[0] - a))
            ends.append(abs(best[1] - b))
        else:
            sums.missed += 1
            offered = any(c < b + 1 and d > a - 1 for c, d in [*doubtful, *sure])
            sums.offered += offered
            failures.append(f"{name}: missed {a:.1f}-{b:.1f} s" + (" (offered)" if offered else ""))
    failures += [f"{name}: false {a:.1f}-{b:.1f} s" for a, b in free]
    strikes = np.array([at for rally in truth.hits for at in rally])
    found = np.array([us / 1e6 for r in detection.rallies if not r.doubtful for us in r.hits_us])
    hits += [float(np.abs(found - at).min()) if len(found) else NO_ONSET_S for at in strikes]
    sums.onsets += len(found)
    sums.right += int(sum(np.abs(strikes - at).min() <= HIT_S for at in found))


def share_together(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the common part of two spans over what they cover together, both half a second longer at each
    end.
    """
    common = min(a[1], b[1]) - max(a[0], b[0]) + 2 * MATCH_PAD_S
    return max(0.0, common) / (max(a[1], b[1]) - min(a[0], b[0]) + 2 * MATCH_PAD_S)


def _quantile(values: list[float], share: float) -> float:
    return float(np.quantile(values, share)) if values else float("nan")


def measure_speed(rng: np.random.Generator, minutes: int, folder: Path) -> tuple[float, float, float, float]:
    """Return seconds for an hour, peak memory in MB, wall and CPU time over the sound decoder's alone."""
    made = record(rng, TYPICAL, min(300.0, 60.0 * minutes))
    length_s = len(made.samples) // RATE
    repeat = max(1, round(minutes * 60 / length_s))
    path = write_film(folder / "hour.mp4", made.samples, repeat=repeat)
    hours = repeat * length_s / 3600
    runs = [
        (_clocked(_decode_alone, path), _clocked(_detect_in_own_process, path)) for _ in range(TIMED_RUNS)
    ]
    (alone_s, alone_cpu), (ours, ours_cpu) = (
        [min(run[which][k] for run in runs) for k in (0, 1)] for which in (0, 1)
    )  # other work only ever adds time
    return ours / hours, peak_mb(path), ours / alone_s, ours_cpu / alone_cpu


def _decode_alone(path: Path) -> None:
    with open_video(path, with_picture=False) as film:
        for _ in decode_samples(film):
            pass


def _detect_in_own_process(path: Path) -> None:
    detect_rallies(path, motion=False)


def _clocked(work: object, path: Path) -> tuple[float, float]:
    assert callable(work)
    wall, cpu = time.perf_counter(), time.process_time()
    work(path)
    return time.perf_counter() - wall, time.process_time() - cpu


def peak_mb(path: Path) -> float:
    """Return the peak memory of a fresh process that hears a film, in MB; Linux only, elsewhere not a
    number.
    """
    if not Path("/proc/self/status").exists():
        return float("nan")
    code = (
        "import sys; from goodlength.footage.audio.rally_detection import detect_rallies; "
        "detect_rallies(sys.argv[1], motion=False); "
        "print(next(line.split()[1] for line in open('/proc/self/status') if line.startswith('VmHWM')))"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    return int(done.stdout) * 1024 / 1e6
