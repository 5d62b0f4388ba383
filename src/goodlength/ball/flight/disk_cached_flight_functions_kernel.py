"""Compiled doors of the flight: contacts, summaries, free paths and launch searches, cached on disk.

Flights are in the air together, `LANES` at a time; one that ends makes room for the next launch. Numbers come
in as plain arrays (`columns` names their places); checking them is the work of `batch_flight_simulation`.
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from goodlength.ball.flight import batched_flight_row_indices as at
from goodlength.ball.flight.batched_contact_summary_update_kernel import summarise
from goodlength.ball.flight.batched_flight_kernel import (
    advance,
    clear_up,
    meet,
    take_off,
    watch,
)
from goodlength.ball.flight.batched_flight_row_indices import LANES
from goodlength.ball.flight.free_flight_kernel import (
    F,
    N,
    acceleration,
    compiled_apart,
    compiled_on_disk,
    slope_at,
    step,
    value_at,
)
from goodlength.ball.flight.front_wall_launch_search_kernel import begin_aim, try_aims
from goodlength.ball.model import flight_array_indices as col


@compiled_apart
def write_contact(s: F, k: int, row: F) -> None:
    """Write the contact at the end of this step into a row of contacts."""
    row[col.TIME] = s[at.HIT_TIME + k]
    for i in range(3):
        row[col.X + i] = s[at.HIT_X + i * LANES + k]
        row[col.VX_IN + i] = s[at.HIT_VX + i * LANES + k]
        row[col.VX + i] = s[at.VX + i * LANES + k]
        row[col.WX + i] = s[at.WX + i * LANES + k]
    row[col.SURFACE] = s[at.SURFACE + k]
    row[col.CORNER] = s[at.NEAR + k]
    row[col.NICK] = s[at.NICK + k]


@compiled_apart
def write_summary(s: F, k: int, out: F) -> int:
    """Write a summary; return the order of surfaces as octal digits, first one lowest, with its flags."""
    for i in range(col.SUMMARY_COLUMNS):
        out[i] = s[at.SUMMARY + i * LANES + k]
    out[col.TOP] = s[at.TOP + k]
    order = int(s[at.ORDER + k])
    if s[at.CORNERED + k] > 0.0:
        order |= 1 << 60
    if s[at.ENDED + k] == col.ENDED_NICK:
        order |= 1 << 61
        for first in (col.ONE_T, col.TWO_T):
            if math.isnan(out[first]):
                out[first], out[first + 1] = s[at.HIT_TIME + k], s[at.HIT_X + k]
                out[first + 2] = s[at.HIT_X + LANES + k]
    return order


MODEL_SOURCES = ("flight_array_indices", "drag_coefficient")
SOURCES = (
    "batched_flight_row_indices",
    "free_flight_kernel",
    "bounce_kernel",
    "batched_flight_kernel",
    "batched_contact_summary_update_kernel",
    "front_wall_launch_search_kernel",
    "disk_cached_flight_functions_kernel",
    "path_at_times_kernel",
)


def _source_hash() -> int:
    """Return a number that changes with any of the compiled sources.

    What is kept on disk is renewed when the file of the function itself changes, not when one it calls
    does. Each door below closes over this number, and so is renewed with any of them.
    """
    found = hashlib.sha256()
    here = Path(__file__).parent
    for source in (
        *(here.parent / "model" / f"{name}.py" for name in MODEL_SOURCES),
        *(here / f"{name}.py" for name in SOURCES),
    ):
        found.update(source.read_bytes())
    return int.from_bytes(found.digest()[:6], "big")


def _contacts_door(digest: int) -> Callable[..., None]:
    @compiled_on_disk(_CONTACTS)
    def fly_contacts(
        launches: F,
        sets: F,
        which: N,
        draws: F,
        swaps: N,
        floors: int,
        longest: float,
        ev: F,
        counts: N,
        ends: N,
        tops: F,
        steps: N,
    ) -> None:
        """Every contact of each launch, up to the wanted number of floor contacts."""
        s = np.zeros(at.SIZE if digest >= 0 else 0)
        flying = launches.shape[0]
        up = 0
        for k in range(LANES):
            take_off(s, k, up, launches, sets, which, draws)
            s[at.SWAP + k] = swaps[min(up, flying - 1)]
            up += 1
        while flying > 0:
            advance(s, longest)
            clear_up(s)
            meet(s, floors)
            for k in range(LANES):
                n = int(s[at.LAUNCH + k])
                if n < 0:
                    continue
                if s[at.SURFACE + k] >= 0.0:
                    write_contact(s, k, ev[n, int(s[at.CONTACTS + k]) - 1])
                if s[at.ENDED + k] >= 0.0:
                    counts[n], ends[n], tops[n] = s[at.CONTACTS + k], s[at.ENDED + k], s[at.TOP + k]
                    steps[n] = s[at.STEPS + k]
                    take_off(s, k, up, launches, sets, which, draws)
                    s[at.SWAP + k] = swaps[min(up, launches.shape[0] - 1)]
                    up += 1
                    flying -= 1

    return fly_contacts


def _summaries_door(digest: int) -> Callable[..., None]:
    @compiled_on_disk(_SUMMARIES)
    def fly_summaries(
        launches: F,
        sets: F,
        which: N,
        draws: F,
        outs: F,
        lines: F,
        longest: float,
        out: F,
        seen: F,
        order: N,
    ) -> None:
        """What matters of each serve, to the second bounce; a ball that rolls out of the nick ends there."""
        s = np.zeros(at.SIZE if digest >= 0 else 0)
        passed = np.full(5 * lines.shape[0] * LANES, np.nan)
        flying = launches.shape[0]
        up = 0
        for k in range(LANES):
            take_off(s, k, up, launches, sets, which, draws)
            up += 1
        while flying > 0:
            advance(s, longest)
            clear_up(s)
            if lines.shape[0] > 0:
                watch(s, lines, passed)
            meet(s, 2)
            summarise(s, outs[0], outs[1])
            for k in range(LANES):
                if s[at.ENDED + k] < 0.0 or s[at.LAUNCH + k] < 0.0:
                    continue
                n = int(s[at.LAUNCH + k])
                order[n] = write_summary(s, k, out[n])
                for i in range(5 * lines.shape[0]):
                    seen[n, i // 5, i % 5] = passed[i * LANES + k]
                    passed[i * LANES + k] = np.nan
                take_off(s, k, up, launches, sets, which, draws)
                up += 1
                flying -= 1

    return fly_summaries


def _free_door(digest: int) -> Callable[..., None]:
    @compiled_on_disk(_FREE)
    def fly_free(launch: F, c: F, spacing: float, out: F) -> None:
        """A free path, walls ignored, at even times: place and velocity, out[point, 6]."""
        r, v = (launch[0], launch[1], launch[2]), (launch[3], launch[4], launch[5])
        w = (launch[6], launch[7], launch[8])
        air = (
            c[col.GRAVITY],
            c[col.DRAG_BY_REYNOLDS],
            c[col.DRAG_CONSTANT],
            c[col.LIFT],
            c[col.RADIUS],
            c[col.REYNOLDS_PER_SPEED],
            c[col.WHOLE_SPIN],
        )
        for k in range(out.shape[0] if digest >= 0 else 0):
            out[k, 0], out[k, 1], out[k, 2] = r
            out[k, 3], out[k, 4], out[k, 5] = v
            x, y, z = step(r, v, w, acceleration(v, w, air), spacing, air)
            r = value_at(x, 1.0), value_at(y, 1.0), value_at(z, 1.0)
            v = slope_at(x, 1.0) / spacing, slope_at(y, 1.0) / spacing, slope_at(z, 1.0) / spacing

    return fly_free


def _aim_door(digest: int) -> Callable[..., None]:
    @compiled_on_disk(_AIM)
    def aim_at_spots(
        starts: F,
        speeds: F,
        spots: F,
        sets: F,
        which: N,
        high: bool,
        longest: float,
        close: float,
        launches: F,
        misses: F,
    ) -> None:
        """Launches from `starts` (place, spin) that meet spots on the front wall; `misses` is the rest."""
        s = np.zeros(at.SIZE if digest >= 0 else 0)
        searching = starts.shape[0]
        up = 0
        for k in range(LANES):
            begin_aim(s, k, up, starts, speeds, spots, sets, which, high)
            up += 1
        while searching > 0:
            try_aims(s, longest, close)
            for k in range(LANES):
                if s[at.ENDED + k] < 0.0 or s[at.LAUNCH + k] < 0.0:
                    continue
                n = int(s[at.LAUNCH + k])
                misses[n] = s[at.MISS + k]
                for i in range(3):
                    launches[n, i] = starts[n, i]
                    launches[n, 3 + i] = s[at.HIT_VX + i * LANES + k]
                    launches[n, 6 + i] = starts[n, 3 + i]
                begin_aim(s, k, up, starts, speeds, spots, sets, which, high)
                up += 1
                searching -= 1

    return aim_at_spots


# Types of the doors: f8 real, i8 whole, b1 yes or no; ::1 is an array without gaps.
_CONTACTS = (
    "void(f8[:,::1], f8[:,::1], i8[::1], f8[::1], i8[::1], i8, f8, f8[:,:,::1], i8[::1], i8[::1], f8[::1], "
    "i8[::1])"
)
_SUMMARIES = (
    "void(f8[:,::1], f8[:,::1], i8[::1], f8[::1], f8[::1], f8[::1], f8, f8[:,::1], f8[:,:,::1], i8[::1])"
)
_FREE = "void(f8[::1], f8[::1], f8, f8[:,::1])"
_AIM = "void(f8[:,::1], f8[::1], f8[:,::1], f8[:,::1], i8[::1], b1, f8, f8, f8[:,::1], f8[::1])"

_NOW = _source_hash()
fly_contacts = _contacts_door(_NOW)
fly_summaries = _summaries_door(_NOW)
fly_free = _free_door(_NOW)
aim_at_spots = _aim_door(_NOW)
