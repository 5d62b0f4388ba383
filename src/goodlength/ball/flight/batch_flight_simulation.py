"""Simulate many launches at once on all cores through the compiled flight.

Every launch is flown by itself, so the answer is the same for any number of threads.
What was compiled is kept on disk beside the package (or, where that cannot be written, in the user's
own cache folder): the first use after an install or a change compiles for some twenty seconds, which
`warm` does in good time; afterwards a fresh process is ready in about a second.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from goodlength.ball.model import flight_array_indices
from goodlength.ball.model.constants_with_sources import FASTEST_M_S, FASTEST_SPIN_RAD_S
from goodlength.ball.model.input_validation import Floats, numbers
from goodlength.court import SINGLES
from goodlength.errors import InputError, OutOfRange

Ints = np.ndarray[tuple[int, ...], np.dtype[np.int64]]

EXACT_STEP_S = (
    0.28  # longest step; the second bounce stays within 0.2 mm: tests/published/test_ball_oracle.py
)
SEARCH_STEP_S = 0.5  # within 1 mm, for searching
PIECE = 1024  # launches handed to a thread at a time
LAUNCH = "launches (x, y, z, vx, vy, vz, spin x, y, z)"


@dataclass(frozen=True)
class Contacts:
    """Contacts of n launches: `rows` (n, 12, columns.CONTACT_COLUMNS); the rest has shape (n,)."""

    rows: Floats
    counts: Ints
    ended: Ints
    tops_m: Floats
    steps: Ints


@dataclass(frozen=True)
class Summaries:
    """What matters of n serves: `rows` (n, columns.SUMMARY_COLUMNS), `seen` (n, lines, 5), `order` (n,).

    `seen` holds time, x, z, climb and number of bounces so far where the ball first passes each watched
    line across the court on its way back, NaN if it does not. `order` holds the surfaces in octal digits
    (surface + 1, first lowest), bit 60 where two surfaces lay within 2 mm, bit 61 where the ball rolled
    out of the nick.
    """

    rows: Floats
    seen: Floats
    order: Ints

    def __len__(self) -> int:
        return len(self.order)


def cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@cache
def _pool(threads: int) -> ThreadPoolExecutor:
    return ThreadPoolExecutor(threads, thread_name_prefix="flight")


def in_pieces(count: int, threads: int | None, work: Callable[[slice], None], piece: int = PIECE) -> None:
    """Do the work piece by piece, on so many threads; the pieces share nothing, and use one thread each."""
    pieces = [slice(i, min(i + piece, count)) for i in range(0, count, piece)]
    threads = min(threads or cores(), len(pieces))
    if threads <= 1:
        for each in pieces:
            work(each)
        return
    for _ in _pool(threads).map(work, pieces):
        pass


def launches_of(got: ArrayLike) -> Floats:
    """Return launches, shape (n, 9) or (n, 6) without spin, checked: nothing that is not a number ever flies.

    Raises
    ------
    OutOfRange
        If a number is missing, a place is outside the court, or a speed or spin cannot be.
    """
    raw = np.array(got, dtype=object, ndmin=2)
    if raw.ndim == 2 and raw.shape[1] == 6:
        table = np.hstack([numbers(LAUNCH, got, 6), np.zeros((len(raw), 3))])
    else:
        table = numbers(LAUNCH, got, 9)
    big = 0.02
    high = [SINGLES.width.value_m - big, SINGLES.length.value_m - big, 20.0]
    outside = np.flatnonzero(((table[:, :3] < big) | (table[:, :3] > high)).any(axis=1))
    if outside.size:
        x, y, z = table[outside[0], :3]
        raise OutOfRange(
            f"Launch {outside[0] + 1} starts at x {x:g}, y {y:g}, z {z:g} m, which is not inside the court: "
            "x runs from 0.02 to 6.38 from the left wall, y from 0.02 to 9.73 from the front wall, z from "
            "0.02 up (the ball's middle stays one radius from every wall)."
        )
    _not_faster(
        np.linalg.norm(table[:, 3:6], axis=1), FASTEST_M_S, "flies at", "m/s; the fastest ever measured is 79"
    )
    _not_faster(
        np.linalg.norm(table[:, 6:9], axis=1),
        FASTEST_SPIN_RAD_S,
        "spins at",
        "rad/s; a hard bounce gives 700",
    )
    return table


def _not_faster(values: Floats, limit: float, does: str, unit: str) -> None:
    over = np.flatnonzero(values > limit)
    if over.size:
        raise OutOfRange(f"Launch {over[0] + 1} {does} {values[over[0]]:.4g} {unit}. Give at most {limit:g}.")


def _common(launches: Floats, sets: ArrayLike, which: ArrayLike | None) -> tuple[Floats, Ints]:
    """Return sets of coefficients as rows, and which one each launch flies with."""
    rows = numbers("coefficients", sets, flight_array_indices.COEFFICIENT_COLUMNS)
    index = np.zeros(len(launches), np.int64) if which is None else np.array(which, dtype=np.int64)
    if index.shape != (len(launches),) or (index.size and not 0 <= index.min() <= index.max() < len(rows)):
        raise InputError(
            f"Each of the {len(launches)} launches needs the number of a set of coefficients, 0 to "
            f"{len(rows) - 1}; got {index.size} numbers."
        )
    return rows, index


def _draws(draws: ArrayLike | None, n: int) -> Floats:
    return np.full(n, 2.0) if draws is None else np.ascontiguousarray(draws, dtype=float).reshape(n)


def fly_contacts(
    launches: ArrayLike,
    sets: ArrayLike,
    which: ArrayLike | None = None,
    *,
    bounces: int = 2,
    swaps: ArrayLike | None = None,
    draws: ArrayLike | None = None,
    longest_step_s: float = EXACT_STEP_S,
    threads: int | None = None,
) -> Contacts:
    """Return every contact of each launch.

    For a serve or shot that is looked at one by one; `fly_summaries` is the one for thousands.

    Parameters
    ----------
    launches : array_like, shape (n, 9) or (n, 6)
        Place, velocity and spin of the ball's centre, court frame, SI.
    sets : array_like, shape (m, columns.COEFFICIENT_COLUMNS)
        Coefficients, `Coefficients.row` each.
    which : array_like of int, shape (n,)
        The set each launch flies with; the first if left out.
    bounces : int
        Stop at this floor contact, 1 to 6.
    swaps : array_like of int, shape (n,)
        Contact at which, two surfaces being within 2 mm, the second is taken first; -1 for none.
    draws : array_like, shape (n,)
        A number from 0 to 1 that decides whether a ball in the nick rolls out; left out, none does.

    Returns
    -------
    Contacts
        Rows past `counts` are not to be read.

    Raises
    ------
    InputError, OutOfRange
        If a launch, set or number cannot be.
    """
    from goodlength.ball.flight import disk_cached_flight_functions_kernel

    flown = launches_of(launches)
    n = len(flown)
    rows, index = _common(flown, sets, which)
    luck = _draws(draws, n)
    swap = np.full(n, -1, np.int64) if swaps is None else np.array(swaps, np.int64)
    ev = np.empty((n, flight_array_indices.MOST_CONTACTS, flight_array_indices.CONTACT_COLUMNS))
    counts, ended, steps = (np.zeros(n, np.int64) for _ in range(3))
    tops = np.zeros(n)

    def work(s: slice) -> None:
        disk_cached_flight_functions_kernel.fly_contacts(
            flown[s],
            rows,
            index[s],
            luck[s],
            swap[s],
            bounces,
            longest_step_s,
            ev[s],
            counts[s],
            ended[s],
            tops[s],
            steps[s],
        )

    in_pieces(n, threads, work)
    return Contacts(ev, counts, ended, tops, steps)


def fly_summaries(
    launches: ArrayLike,
    sets: ArrayLike,
    which: ArrayLike | None = None,
    *,
    lines_m: ArrayLike = (),
    draws: ArrayLike | None = None,
    longest_step_s: float = EXACT_STEP_S,
    threads: int | None = None,
    checked: bool = False,
) -> Summaries:
    """Return what matters of many serves, to the second bounce.

    Parameters
    ----------
    launches, sets, which, draws
        As for `fly_contacts`.
    lines_m : array_like, shape (k,)
        Distances from the front wall at which to note the ball as it comes back.
    checked : bool
        The launches come from `aim_at_spots` or `launches_of` already.

    Returns
    -------
    Summaries
    """
    from goodlength.ball.flight import disk_cached_flight_functions_kernel

    flown: Floats = np.ascontiguousarray(launches, dtype=float) if checked else launches_of(launches)
    n = len(flown)
    rows, index = _common(flown, sets, which)
    luck = _draws(draws, n)
    lines = np.array(lines_m, dtype=float).reshape(-1)
    outs = np.array([SINGLES.front_out_line.value_m, SINGLES.back_out_line.value_m])
    out, seen = np.empty((n, flight_array_indices.SUMMARY_COLUMNS)), np.empty((n, len(lines), 5))
    order = np.zeros(n, np.int64)

    def work(s: slice) -> None:
        disk_cached_flight_functions_kernel.fly_summaries(
            flown[s], rows, index[s], luck[s], outs, lines, longest_step_s, out[s], seen[s], order[s]
        )

    in_pieces(n, threads, work)
    return Summaries(out, seen, order)


def aim_at_spots(
    starts: ArrayLike,
    speeds_m_s: ArrayLike,
    spots_m: ArrayLike,
    sets: ArrayLike,
    which: ArrayLike | None = None,
    *,
    high: bool = False,
    close_m: float = 0.0,
    threads: int | None = None,
    checked: bool = False,
) -> tuple[Floats, Floats]:
    """Return launches of given speed that meet given spots on the front wall.

    Parameters
    ----------
    starts : array_like, shape (n, 6)
        Place and spin at the strike.
    speeds_m_s : array_like, shape (n,)
        Speed off the racket.
    spots_m : array_like, shape (n, 2)
        x and z of the ball's centre on the front wall.
    high : bool
        The lofted one of the two ways, where both exist.
    close_m : float
        A try that misses by less is corrected and not looked at again; with 0.03 what is left of the miss is
        under a millimetre or two. For throws that are scattered by far more.
    checked : bool
        The starts, speeds and spots are tables of numbers within bounds already.

    Returns
    -------
    launches : ndarray, shape (n, 9)
    miss_m : ndarray, shape (n,)
        What the last try flown missed by, m: under 1e-6 where the spot can be met (under `close_m` with one),
        1e9 where the ball never arrives.
    """
    from goodlength.ball.flight import disk_cached_flight_functions_kernel

    start = (
        np.ascontiguousarray(starts, dtype=float)
        if checked
        else numbers("starts (x, y, z, spin x, y, z)", starts, 6)
    )
    n = len(start)
    speeds = np.broadcast_to(np.asarray(speeds_m_s, dtype=float), (n,)).copy()
    spots = (
        np.ascontiguousarray(spots_m, dtype=float)
        if checked
        else numbers("spots on the front wall (x, z)", spots_m, 2)
    )
    rows, index = _common(start, sets, which)
    if not checked:
        _check_aims(start, speeds, spots)
    out, miss = np.empty((n, 9)), np.empty(n)

    def work(s: slice) -> None:
        disk_cached_flight_functions_kernel.aim_at_spots(
            start[s], speeds[s], spots[s], rows, index[s], high, EXACT_STEP_S, close_m, out[s], miss[s]
        )

    in_pieces(n, threads, work)
    return out, miss


def _check_aims(start: Floats, speeds: Floats, spots: Floats) -> None:
    if len(spots) != len(start):
        raise InputError(
            f"There are {len(start)} starts and {len(spots)} spots; give one spot for each start."
        )
    wrong = np.flatnonzero(~((speeds > 1.0) & (speeds <= FASTEST_M_S)))
    if wrong.size:
        raise OutOfRange(
            f"A speed off the racket must be from 1 to {FASTEST_M_S:g} m/s; got {speeds[wrong[0]]:g}."
        )
    launches_of(np.hstack([start[:, :3], np.zeros_like(start[:, :3]), start[:, 3:]]))


def free_path(launch: ArrayLike, coefficients: Floats, spacing_s: float, points: int) -> Floats:
    """Place and velocity along a free path at even times, shape (points, 6); walls are ignored.

    For drawing between two contacts, and for comparing the flight alone with closed forms.
    """
    from goodlength.ball.flight import disk_cached_flight_functions_kernel

    flown = launches_of(launch)[0]
    out = np.empty((points, 6))
    disk_cached_flight_functions_kernel.fly_free(flown, np.array(coefficients), spacing_s, out)
    return out


def warm() -> None:
    """Compile what is not compiled yet, and use each part once; for the end of an installation.

    Examples
    --------
    >>> warm()
    """
    from goodlength.ball.model.ball_court_air_coefficients import Coefficients

    rows: Any = [Coefficients().row()]
    launch = [[4.6, 5.6, 1.2, -5.5, -19.0, 5.0, 0.0, 0.0, 0.0]]
    fly_contacts(launch, rows)
    fly_summaries(launch, rows, lines_m=[7.0])
    free_path(launch, rows[0], 0.02, 2)
    aim_at_spots([[4.6, 5.6, 1.2, 0.0, 0.0, 0.0]], [20.0], [[3.0, 3.5]], rows)
