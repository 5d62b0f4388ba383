"""Search for the best aim and pace for a goal, given a player's scatter and the uncertainty of ball and
court.

```
 lattice of spots and speeds x worlds ── smoothed by the scatter ──> a few good places
        └─ flown anew with throws of the player around each, the same throws for all ──> the best of them
                └─ flown with many worlds ──> of 100, with bands
```
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from goodlength.aim.expected_value_map import smoothed
from goodlength.aim.serve_goals import Task
from goodlength.aim.serve_outcome_classification import LOW_M, OUT_M, Outcomes, serve_at
from goodlength.aim.serve_scatter_on_front_wall import AimScatter
from goodlength.ball import PlayConditions, draw
from goodlength.ball.flight.batch_serve_legality import FAULT_WORDS, Flags, ServeFault
from goodlength.ball.model.coefficient_sampling import Draws
from goodlength.ball.model.input_validation import Floats, within
from goodlength.errors import InputError

SEED = 20261127
# A fault gives the rally away, the goal does its work, the rest is even: worth 0. Our choice, editable
ASSUMED_FAULT_COST = 1.0
LATTICE_FLIGHTS = 60_000
# Many worlds, few throws in each: at equal work the figures hold steadier than with few worlds
WORLDS, THROWS = 300, 64
SEARCH_THROWS = 5
STARTS = 8
SCATTER_FACTORS = (0.5, 1.0, 1.5, 2.0)
# Where to look around a place, in steps: along each way, and aslant, for a higher spot wants another pace
STAR = np.vstack(
    [np.eye(3), -np.eye(3), 0.7 * np.stack(np.meshgrid(*[(-1.0, 1.0)] * 3), axis=-1).reshape(-1, 3)]
)
BOX_COST, BOX_HALF_M = 0.03, (0.10, 0.40)
SHARE_LOW, SHARE_HIGH = 0.025, 0.975
NINETY_FIVE_SDS = 1.959964  # half the width of the middle 95 in 100 of a normal curve; computed


@dataclass(frozen=True)
class AimPoint:
    """A spot on the front wall (ball's centre, from left wall and floor) and the speed off the racket."""

    across_m: float
    up_m: float
    speed_m_s: float

    def __post_init__(self) -> None:
        within("aim across the front wall", self.across_m, 0.1, 6.3, "m from the left wall")
        within("aim up the front wall", self.up_m, 0.5, 5.0, "m")
        within("speed off the racket", self.speed_m_s, 8.0, 70.0, "m/s")


@dataclass(frozen=True)
class OutcomeShare:
    """Of 100 serves: the middle, and the range that holds 95 in 100 of what ball and court may be."""

    of_100: float
    low: float
    high: float


@dataclass(frozen=True)
class ServeOutcomes:
    """What becomes of 100 serves aimed at one spot, and the middle time and height at the receiver.

    `faults` parts the faults by what is wrong, of 100; `worth` is goal less `fault_cost` times faults.
    """

    goal: OutcomeShare
    good: OutcomeShare
    dies: OutcomeShare
    volley: OutcomeShare
    off_back: OutcomeShare
    fault: OutcomeShare
    faults: dict[str, float]
    worth: float
    time_s: float | None
    height_m: float | None


@dataclass(frozen=True)
class Moved:
    """Where the best aim goes when the scatter is `factor` times as wide, and what it is worth there."""

    factor: float
    aim: AimPoint
    worth: float


@dataclass(frozen=True)
class Best:
    """The best aim found, what it is worth, how it moves with the scatter, and its surroundings.

    `box` is left, low, wide and tall of the box to tape: inside it an aim costs at most three in 100, and it
    is no smaller than 20 cm and no larger than 80. `map` is what 100 serves are worth for aims at
    `map_across_m` and `map_up_m` with the best pace, shape (across, up).
    """

    aim: AimPoint
    worth: float
    moved: tuple[Moved, ...]
    box: tuple[float, float, float, float]
    map_across_m: Floats
    map_up_m: Floats
    map: Floats
    flights: int


@dataclass(frozen=True)
class Worlds:
    """Drawn worlds and, for each throw in each, its miss and luck: the same for every aim compared."""

    draws: Draws
    misses: Floats  # (worlds * throws, 3)
    luck: Floats  # (worlds * throws,)


@lru_cache(maxsize=8)
def worlds_of(
    setting: PlayConditions, scatter: AimScatter, worlds: int, throws: int, seed: int = SEED
) -> Worlds:
    """Draw them; the same seed gives the same.

    Worlds, throws and luck have random states of their own: another ball leaves the throws as they were, and
    figures that are compared differ by what was changed alone.
    """
    by_part = (np.random.default_rng([seed, part]) for part in range(3))
    count = worlds * throws
    return Worlds(
        draw(setting, worlds, next(by_part)),
        scatter.misses(count, next(by_part)),
        next(by_part).random(count),
    )


def thrown(task: Task, aims: Floats, given: Worlds) -> Outcomes:
    """Return every throw in every world for each aim, aims (k, 3); the order is aim, world, throw."""
    k, worlds, count = len(aims), len(given.draws), len(given.misses)
    at = np.repeat(aims, count, axis=0) + np.tile(given.misses, (k, 1))
    which = np.tile(np.repeat(np.arange(worlds), count // worlds), k)
    luck = np.tile(given.luck, k)
    return serve_at(task, at[:, :2], at[:, 2], given.draws.sets, which, given.draws.spins, luck)


def share_of(values: Flags) -> OutcomeShare:
    """Return the share of throws of which something is true, shape (worlds, throws), over what the
    worlds may be.

    Each world's share carries the luck of its few throws beside what the world is: the ends of the range are
    drawn in by as much as that luck widens them. How large it is, two ways of halving the throws say (the
    smaller holds: throws are spread evenly, halves less so); it is no larger than that of coins. Where all or
    none succeed there is none.

    Examples
    --------
    >>> share_of(np.arange(64)[None, :] % 2 == np.zeros((300, 1)))
    OutcomeShare(of_100=50.0, low=50.0, high=50.0)
    """
    throws = values.shape[1]
    each = values.mean(axis=1)
    middle = float(each.mean())
    coins = float((each * (1.0 - each)).mean()) / max(throws - 1, 1)
    halves = (values[:, ::2], values[:, 1::2]), (values[:, : throws // 2], values[:, throws // 2 :])
    apart = min(float(((a.mean(axis=1) - b.mean(axis=1)) ** 2).mean()) for a, b in halves) / 4.0
    luck = min(apart / coins, 1.0) if coins > 0.0 else 0.0
    ends = []
    for end in np.quantile(each, [SHARE_LOW, SHARE_HIGH]):
        away = float(end) - middle
        by_luck = NINETY_FIVE_SDS**2 * luck * float(end * (1.0 - end)) / throws
        ends.append(middle + math.copysign(math.sqrt(max(away**2 - by_luck, 0.0)), away))
    return OutcomeShare(100.0 * middle, 100.0 * ends[0], 100.0 * ends[1])


def odds_of(
    task: Task,
    setting: PlayConditions,
    aim: AimPoint,
    scatter: AimScatter,
    *,
    fault_cost: float = ASSUMED_FAULT_COST,
    worlds: int = WORLDS,
    throws: int = THROWS,
    seed: int = SEED,
) -> ServeOutcomes:
    """Return what becomes of 100 serves of this player aimed there.

    Raises
    ------
    OutOfRange
        If the aim is not on the wall, or speed or cost cannot be.

    Limits
    ------
    As good as the model of docs/reasons/ball.md and the scatter: bands hold what is not known of ball and
    court, not what the model leaves out.
    """
    within("cost of a fault", fault_cost, 0.0, 10.0, "")
    got = thrown(
        task,
        np.array([[aim.across_m, aim.up_m, aim.speed_m_s]]),
        worlds_of(setting, scatter, worlds, throws, seed),
    )

    def share(values: Flags) -> OutcomeShare:
        return share_of(values.reshape(worlds, throws))

    goal, fault = share(got.goal), share(~got.good)
    reasons = {
        FAULT_WORDS[ServeFault(k)]: 100.0 * float((got.fault == k).mean())
        for k in sorted(set(got.fault.tolist()) - {int(ServeFault.NONE)})
    }
    there = ~np.isnan(got.time_s) & got.good
    return ServeOutcomes(
        goal,
        share(got.good),
        share(got.dies),
        share(got.volley),
        share(got.off_back),
        fault,
        reasons,
        (goal.of_100 - fault_cost * fault.of_100) / 100.0,
        float(np.median(got.time_s[there])) if there.any() else None,
        float(np.median(got.height_m[there])) if there.any() else None,
    )


def best_aim(
    task: Task,
    setting: PlayConditions,
    scatter: AimScatter,
    *,
    fault_cost: float = ASSUMED_FAULT_COST,
    seed: int = SEED,
    factors: tuple[float, ...] = SCATTER_FACTORS,
) -> Best:
    """Return the spot and speed from which the player's own scatter makes the most of the goal.

    Parameters
    ----------
    fault_cost : float
        What a fault costs, in units of a serve that does what is wanted.
    factors : tuple of float
        Scatters, in times this one, for which to say where the best aim would be.

    Raises
    ------
    OutOfRange
        If the cost cannot be.
    InputError
        If nothing in the range searched ever does what is wanted; words name the goal.
    """
    within("cost of a fault", fault_cost, 0.0, 10.0, "")
    given = worlds_of(setting, scatter, WORLDS, SEARCH_THROWS, seed)
    lattice = _Lattice(task, given.draws, scatter, fault_cost, seed)
    if not lattice.ever:
        raise InputError(
            f"In the range searched no {task.wanted.words.lower()} from there {task.goal.words}. "
            "Relax the goal, warm the ball, or change the contact point."
        )
    climb = _Climb(task, given, lattice, fault_cost)
    best, worth = climb.from_(lattice.places(scatter, STARTS), 1.0, rounds=2)
    moved = []
    for factor in factors:
        start = np.array([best, lattice.best(scatter.times(factor))[0]])
        place, value = (best, worth) if factor == 1.0 else climb.from_(start, factor, rounds=1)
        moved.append(Moved(factor, _aim(place), value))
    flights = lattice.flights + climb.flights
    return Best(_aim(best), worth, tuple(moved), lattice.box(best), *lattice.map(best), flights)


class _Climb:
    """From the best of a few places to the top near by, flown in the same worlds with the same throws."""

    def __init__(self, task: Task, given: Worlds, lattice: _Lattice, fault_cost: float) -> None:
        self.task, self.given, self.lattice, self.fault_cost = task, given, lattice, fault_cost
        self.flights = 0

    def from_(self, places: Floats, factor: float, rounds: int) -> tuple[Floats, float]:
        """Return the place reached and its worth, with throws `factor` times as wide."""
        steps = self.lattice.spacing / 2
        best, worth = self._highest(places, factor)
        for _ in range(rounds):
            place, value = self._highest(self.lattice.within_limits(best + steps * STAR), factor)
            if value > worth:
                best, worth = place, value
            else:
                steps = steps / 2
        return best, worth

    def _highest(self, places: Floats, factor: float) -> tuple[Floats, float]:
        wider = Worlds(self.given.draws, self.given.misses * factor, self.given.luck)
        got = thrown(self.task, places, wider)
        self.flights += got.goal.size
        worths = (got.goal - self.fault_cost * ~got.good).reshape(len(places), -1).mean(axis=1)
        k = int(np.argmax(worths))
        return places[k], float(worths[k])


def _aim(place: Floats) -> AimPoint:
    return AimPoint(float(place[0]), float(place[1]), float(place[2]))


class _Lattice:
    """Worth of every spot and speed, unscattered, and its highest places once smoothed.

    Each is flown in a few of the worlds only, not the same ones as its neighbours: smoothing then averages
    over all of them.
    """

    def __init__(self, task: Task, draws: Draws, scatter: AimScatter, fault_cost: float, seed: int) -> None:
        wanted = task.wanted
        sds = np.array([scatter.across_m, scatter.up_m, scatter.speed_m_s])
        spans = np.array([task.across_m, wanted.up_m, wanted.speed_m_s])
        self.spacing = np.clip(sds, [0.07, 0.07, 0.5], [0.15, 0.15, 1.0])
        pad = 2.0 * sds
        low = spans[:, 0] - pad
        high = spans[:, 1] + pad
        low[0], high[0] = max(low[0], 0.1), min(high[0], 6.3)
        low[2] = max(low[2], 8.0)
        self.axes = [
            np.arange(a, b + step / 2, step) for a, b, step in zip(low, high, self.spacing, strict=True)
        ]
        self.spans = spans
        grid = np.stack(np.meshgrid(*self.axes, indexing="ij"), axis=-1).reshape(-1, 3)
        flown = int(((grid[:, 1] > LOW_M) & (grid[:, 1] < OUT_M)).sum())
        times = int(np.clip(LATTICE_FLIGHTS // max(flown, 1), 4, 60))
        rng = np.random.default_rng(seed)
        which = rng.permutation(np.arange(times * len(grid)) % len(draws))
        spots = np.tile(grid, (times, 1))
        got = serve_at(
            task, spots[:, :2], spots[:, 2], draws.sets, which, draws.spins, rng.random(len(spots))
        )
        shape = (times, *(len(axis) for axis in self.axes))
        self.value = (got.goal - fault_cost * ~got.good).reshape(shape).mean(axis=0)
        self.scatter = sds
        self.ever = bool(got.goal.any())
        self.flights = flown * times

    def smoothed(self, scatter: AimScatter) -> Floats:
        """Worth of each aim with this scatter; places outside the range searched are left out."""
        sds = (scatter.across_m, scatter.up_m, scatter.speed_m_s)
        worth = smoothed(self.value, sds, self.spacing)
        for axis, (places, (low, high)) in enumerate(zip(self.axes, self.spans, strict=True)):
            outside = (places < low - 1e-9) | (places > high + 1e-9)
            worth[(slice(None),) * axis + (outside,)] = -np.inf
        return worth

    def best(self, scatter: AimScatter) -> tuple[Floats, float]:
        """Return the highest place, refined between lattice points by a parabola along each axis, and
        its worth.
        """
        worth = self.smoothed(scatter)
        at = np.unravel_index(int(np.argmax(worth)), worth.shape)
        place = np.array([axis[i] for axis, i in zip(self.axes, at, strict=True)])
        for k in range(3):
            line = np.moveaxis(worth, k, -1)[tuple(i for j, i in enumerate(at) if j != k)]
            i = int(at[k])
            if 0 < i < len(line) - 1 and np.isfinite(line[[i - 1, i + 1]]).all():
                bend = line[i - 1] - 2 * line[i] + line[i + 1]
                if bend < -1e-9:
                    place[k] += self.spacing[k] * 0.5 * (line[i - 1] - line[i + 1]) / bend
        return self.within_limits(place[None])[0], float(worth[at])

    def places(self, scatter: AimScatter, count: int) -> Floats:
        """Return the highest places, apart from each other by two steps or more."""
        worth = self.smoothed(scatter)
        order = np.argsort(worth.ravel())[::-1]
        found = [self.best(scatter)[0]]
        for flat in order[:4000]:
            at = np.unravel_index(int(flat), worth.shape)
            place = np.array([axis[i] for axis, i in zip(self.axes, at, strict=True)])
            if all((np.abs(place - other) / self.spacing).max() >= 2.0 for other in found):
                found.append(place)
            if len(found) == count:
                break
        return np.array(found)

    def map(self, place: Floats) -> tuple[Floats, Floats, Floats]:
        """Worth of aims across and up, in 100, at the pace of a place."""
        worth = 100.0 * smoothed(self.value, tuple(self.scatter), tuple(self.spacing))
        pace = int(np.argmin(np.abs(self.axes[2] - place[2])))
        return self.axes[0], self.axes[1], worth[:, :, pace]

    def box(self, place: Floats) -> tuple[float, float, float, float]:
        """Left, low, wide and tall of the box around a place in which an aim costs at most `BOX_COST`."""
        worth = smoothed(self.value, tuple(self.scatter), tuple(self.spacing))
        at = [int(np.argmin(np.abs(axis - here))) for axis, here in zip(self.axes, place, strict=True)]
        sides = []
        for k in range(2):
            line = worth[tuple(slice(None) if j == k else at[j] for j in range(3))]
            near = line >= line[at[k]] - BOX_COST
            low, high = at[k], at[k]
            while low > 0 and near[low - 1]:
                low -= 1
            while high < len(line) - 1 and near[high + 1]:
                high += 1
            half = min(place[k] - self.axes[k][low], self.axes[k][high] - place[k])
            half = min(max(half, BOX_HALF_M[0]), BOX_HALF_M[1])
            sides.append((float(place[k] - half), float(place[k] + half)))
        (left, right), (bottom, top) = sides
        over = max(0.0, top - (OUT_M - 0.05))
        return left, bottom + over, right - left, top - bottom - 2 * over

    def within_limits(self, places: Floats) -> Floats:
        """Return places moved into the range searched."""
        return np.clip(places, self.spans[:, 0], self.spans[:, 1])
