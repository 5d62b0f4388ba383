"""Benchmark of what is worked out beside what the processor could do: flights, an answer of Aim, a drag.

The limit of arithmetic is measured in the same run, by a loop of multiply-adds that does nothing else.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

import goodlength
from goodlength import tasks
from goodlength.aim.aim_optimisation import AimPoint
from goodlength.aim.serve_goals import KINDS, Task, task_of
from goodlength.aim.serve_scatter_on_front_wall import AimScatter
from goodlength.ball import Coefficients, PlayConditions, cores, fly_contacts, fly_summaries, warm
from goodlength.ball.flight.numba_or_plain_python import njit
from goodlength.ball.model.input_validation import Floats
from goodlength.bench.flight_integration_against_scipy import FLOPS_PER_CONTACT, FLOPS_PER_STEP, load_now
from goodlength.bench.response_times_and_keypresses import page_on
from goodlength.bench.video_work_against_decoder import bench_video_work
from goodlength.synthetic.reference_flight_integration import random_serves

WIDE = 128  # sixteen vectors of eight: enough to keep every unit busy
FIRST_USE = "from goodlength.ball import warm; warm()"


@dataclass(frozen=True)
class LimitFigures:
    """What `goodlength bench limits` prints; milliseconds by the wall clock, warm, the best of several.

    Figures of one core are by its own time. `of_peak` is the share of what it does when it multiplies and
    adds alone; a flight waits for square roots and divisions besides. `aim_ms` is a search, of 100 and the
    limits, for the slowest kind; `aim_moving_ms` the same for a given target; `aim_whole_ms` a search with
    all that the page shows. `drag` is None where no browser can be driven. Figures of video are those of
    `VideoWorkFigures`, None where they were left out.
    """

    cores: int
    load_before: float
    serves_per_s: float
    serves_per_s_one_core: float
    flops_per_serve: float
    peak_flops_per_s_one_core: float
    of_peak: float
    first_use_s: float
    aim_ms: float
    aim_whole_ms: float
    aim_moving_ms: float
    map_ms: float
    drag: dict[str, float] | None
    video_mb_s: float | None = None
    decode_cpu_s: float | None = None
    copy_to_decode: float | None = None
    copy_to_decode_cpu: float | None = None
    track_cpu_s: float | None = None
    faces_cpu_s: float | None = None


def bench_limits(
    seed: int = 20261125,
    serves: int = 100_000,
    drag: bool = True,
    runs: int | None = None,
    video: bool = True,
) -> LimitFigures:
    """Measure it all; about two minutes, half of it the browser and the video.

    Parameters
    ----------
    serves : int
        Flown for the speed.
    drag : bool
        Drive the page in a browser too, where the source code and a browser are there.
    runs : int, optional
        Time everything so often instead of two to five times: too few to quote.
    video : bool
        Measure the work on a video too.
    """
    load = load_now()
    first_use_s = best_of(runs or 2, _first_use)
    warm()
    c = Coefficients()
    launches = random_serves(serves, np.random.default_rng(seed), c)
    both = best_of(runs or 5, lambda: fly_summaries(launches, [c.row()], checked=True))
    single = best_of(
        runs or 5, lambda: fly_summaries(launches, [c.row()], threads=1, checked=True), time.process_time
    )
    seen = fly_contacts(launches[:5000], [c.row()])
    steps = float(seen.steps.mean())
    flops = steps * FLOPS_PER_STEP + float(seen.counts.mean()) * FLOPS_PER_CONTACT
    peak = peak_flops_per_s(runs or 5)
    answers = aim_times_ms(runs)
    return LimitFigures(
        cores=cores(),
        load_before=load,
        serves_per_s=serves / both,
        serves_per_s_one_core=serves / single,
        flops_per_serve=flops,
        peak_flops_per_s_one_core=peak,
        of_peak=flops * serves / single / peak,
        first_use_s=first_use_s,
        aim_ms=answers["live"],
        aim_whole_ms=answers["whole"],
        aim_moving_ms=answers["moving"],
        map_ms=answers["map"],
        drag=drag_figures() if drag else None,
        **(asdict(bench_video_work(seed)) if video else {}),
    )


def timed(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return the seconds that work takes."""
    start = clock()
    work()
    return clock() - start


def best_of(times: int, work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return the shortest of several runs: the one least disturbed by others."""
    return min(timed(work, clock) for _ in range(times))


def _first_use() -> None:
    subprocess.run([sys.executable, "-c", FIRST_USE], check=True, stdout=subprocess.DEVNULL)


@njit(nogil=True, error_model="numpy", fastmath={"contract"})
def _multiply_adds(times: int, a: float, b: float, x: Floats) -> None:  # pragma: no cover - compiled
    for _ in range(times):
        for k in range(WIDE):
            x[k] = x[k] * a + b


def peak_flops_per_s(runs: int = 5) -> float:
    """Return the operations a second of one core that does nothing but multiply and add."""
    x, times = np.full(WIDE, 1.5), 300_000
    _multiply_adds(1, 0.999, 1e-3, x)
    seconds = best_of(runs, lambda: _multiply_adds(times, 0.999, 1e-3, x), time.process_time)
    return 2.0 * times * WIDE / seconds


def aim_times_ms(runs: int | None = None) -> dict[str, float]:
    """Return the slowest kind's times of a search, a whole answer, a moved target and a map."""
    setting, scatter = PlayConditions(), AimScatter.of_level("club")
    slowest = dict.fromkeys(("live", "whole", "moving", "map"), 0.0)
    for goal in KINDS:
        for name, seconds in _aim_times(task_of(goal.kind, "right"), setting, scatter, runs).items():
            slowest[name] = max(slowest[name], 1e3 * seconds)
    return slowest


def _aim_times(
    task: Task, setting: PlayConditions, scatter: AimScatter, runs: int | None
) -> dict[str, float]:
    aim = tasks.aim_serve(task, setting, scatter).aim
    near = iter(replace(aim, across_m=aim.across_m + 0.01 * k) for k in range(1, 9))

    def moved(at: AimPoint) -> object:
        return tasks.spread_serve(task, setting, scatter, at, with_misses=False)

    return {
        "live": best_of(runs or 4, lambda: tasks.aim_serve(task, setting, scatter, brief=True)),
        "whole": best_of(runs or 3, lambda: tasks.aim_serve(task, setting, scatter)),
        "moving": best_of(runs or 5, lambda: moved(next(near))),
        "map": best_of(runs or 3, partial(tasks.map_serve, task, setting, scatter, aim.speed_m_s)),
    }


def drag_figures() -> dict[str, float] | None:
    """Return how soon figures follow the pointer; None without the source code, its browser or its driver."""
    script = Path(goodlength.__file__).resolve().parents[2] / "scripts" / "aim_page_drag_latency.py"
    if not script.is_file():
        return None
    with tempfile.TemporaryDirectory() as folder, page_on(Path(folder)) as port:
        address = f"http://127.0.0.1:{port}"
        done = subprocess.run(
            [sys.executable, str(script), address], check=False, capture_output=True, text=True
        )
    if done.returncode:
        return None
    found: dict[str, float] = json.loads(done.stdout)
    return found
