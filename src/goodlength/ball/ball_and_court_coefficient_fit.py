"""Fit the ball and court coefficients, with their spread, to drops, straight hits and marked landings.

Least squares with priors. What is not of interest (launch speed, angles and spin about all axes of every
hit, how rough the walls are, the height of every drop) is estimated along with it, so that the ranges say
what the recording really taught.

```
 drop: height ± 1 cm, thud, thud, thud        hit: racket, front wall, floor  (+ chalk marks)
          └──── bounce off the floor                └──── bounce off the wall at that speed, grip, drag
```
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise

import numpy as np

from goodlength.ball.flight.batch_flight_simulation import fly_summaries
from goodlength.ball.model import constants_with_sources as c
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.ball_and_court_calibration_result import NAMES, Calibration
from goodlength.ball.model.ball_court_air_coefficients import Coefficients
from goodlength.ball.model.ball_court_room_conditions import PlayConditions
from goodlength.ball.model.input_validation import Floats, within
from goodlength.court import SINGLES
from goodlength.errors import InputError

SOUND_M_S = 343.0  # at 20 °C; source: BALL-NOTE (common knowledge of the trade)
# Errors of what a coach reads off, one sd: a time, chalk on a wall, on the floor, a drop's height. ASSUMED
ASSUMED_TIME_S, ASSUMED_MARK_M, ASSUMED_LANDING_M, ASSUMED_DROP_M = 0.002, 0.03, 0.05, 0.01
# About each axis, of a hit meant to be flat. Wide: spin held tight is taken for grip, and nobody sees it
ASSUMED_HIT_SPIN_RAD_S = 200.0
ASSUMED_PHONE_M = (3.2, 9.6, 0.1)  # on the floor at the middle of the back wall
PRIOR_SDS = (
    c.BOUNCE_E7_SPREAD.sd,
    c.ASSUMED_SPEED_POWER.sd,
    c.ASSUMED_GRIP.sd,
    c.DRAG_FACTOR.sd,
    c.ASSUMED_LIFT.sd,
    c.ASSUMED_FLOOR_FACTOR.sd,
)
TURNS = 25
NEVER_SDS = 12.0  # what a mark counts that the ball never reaches
# The six numbers learnt, and with them how rough the walls are (log of friction beside what is assumed)
LEARNT, SHARED = 6, 7
STEPS = np.array([1e-4, 1e-4, 1e-4, 1e-3, 1e-3, 1e-4, 1e-3])
FRICTION_SD = math.log(c.ASSUMED_FRICTION.high / c.ASSUMED_FRICTION.low) / c.NINE_IN_TEN_SDS
LOWEST = np.array([0.1, -0.2, -0.8, 0.3, -2.0, 0.4, -1.2])
HIGHEST = np.array([0.95, 0.6, 0.95, 2.0, 3.0, 1.8, 1.2])
# The straight-line theory of the spread is too sure where the flight is bent: on simulated recordings its
# ranges held the truth 80 to 90 times in 100 where 90 were asked (random state 20261125), so all are wider.
# Since friction and spin are left free less is needed: 1.2 held 97 (state 20261232)
WIDER = 1.1
LEAST_FREEDOM, MOST_FREEDOM = 6.0, 10.0
LAUNCH = 6  # numbers of each hit: speed, across, up, spin about three axes
LAUNCH_SDS = np.array([8.0, 0.15, 0.30, *[ASSUMED_HIT_SPIN_RAD_S] * 3])  # wide
NUISANCE_STEPS = (1e-3, 1e-5, 1e-5, 1e-1, 1e-1, 1e-1)
SPINS = slice(3, 6)
SPIN_HIDES = np.array([False, False, True, True, True, False])  # grip, drag, lift


@dataclass(frozen=True)
class Drop:
    """A ball dropped: its underside at `height_m`, and when it was heard on the floor (twice or more)."""

    height_m: float
    thuds_s: tuple[float, ...]

    def __post_init__(self) -> None:
        within("height of a drop", self.height_m, 0.3, 6.0, "m")
        _growing("times of a drop", self.thuds_s, 2)


@dataclass(frozen=True)
class CalibrationHit:
    """A ball hit at the front wall: heard times from the strike on, and what was marked.

    Parameters
    ----------
    contact_m : (x, y, z)
        Where the ball's centre was struck.
    wall_s, floor_s, second_s : float
        From the strike to front wall, first and second bounce, as the phone heard them; None if not heard.
    wall_mark_m : (x, z)
        Where it met the front wall.
    side_mark_m : (y, z)
        Where it met a side wall before its bounce.
    landing_m : (x, y)
        First bounce.
    """

    contact_m: tuple[float, float, float]
    wall_s: float | None = None
    floor_s: float | None = None
    second_s: float | None = None
    wall_mark_m: tuple[float, float] | None = None
    side_mark_m: tuple[float, float] | None = None
    landing_m: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        wide, long = SINGLES.width.value_m, SINGLES.length.value_m
        x, y, z = self.contact_m
        within("contact point from the left wall", x, 0.1, wide - 0.1, "m")
        within("contact point from the front wall", y, 1.0, long - 0.1, "m")
        within("contact point above the floor", z, 0.05, 3.2, "m")
        times = [t for t in (self.wall_s, self.floor_s, self.second_s) if t is not None]
        _growing("times of a hit, from the strike on", (0.0, *times), 1)
        if self.wall_s is None and self.wall_mark_m is None:
            raise InputError(
                "A hit needs the time to the front wall, or the mark on it: else its pace is unknown."
            )
        marks = (
            (self.wall_mark_m, wide, 5.0, "front-wall mark"),
            (self.side_mark_m, long, 5.0, "side-wall mark"),
            (self.landing_m, wide, long, "landing"),
        )
        for mark, most_a, most_b, words in marks:
            if mark is not None:
                within(f"{words}, first number", mark[0], 0.0, most_a, "m")
                within(f"{words}, second number", mark[1], 0.0, most_b, "m")

    @property
    def observed(self) -> Floats:
        """Everything observed in the order of `_predicted`; NaN where nothing was."""
        none = (math.nan, math.nan)
        times = [math.nan if t is None else t for t in (self.wall_s, self.floor_s, self.second_s)]
        return np.array(
            [*times, *(self.wall_mark_m or none), *(self.side_mark_m or none), *(self.landing_m or none)]
        )


def calibrate(
    drops: Sequence[Drop],
    hits: Sequence[CalibrationHit],
    setting: PlayConditions | None = None,
    *,
    court: str = "this court",
    ball: str = "this ball",
    date: str = "",
    phone_m: tuple[float, float, float] = ASSUMED_PHONE_M,
) -> Calibration:
    """Return what recordings of one court, ball and day say about the coefficients.

    Parameters
    ----------
    drops, hits : sequence
        At least two drops or three hits together.
    setting : Setting, optional
        What is known before: ball, court and air. A calibration in it is left out.
    phone_m : (x, y, z)
        Where the sound was recorded; sound takes 3 ms a metre.

    Returns
    -------
    Calibration
        `learnt()` says number by number whether it moved.

    Raises
    ------
    InputError
        Too little to learn from, or recordings no ball can have made.

    Limits
    ------
    Of a model that leaves things out; ranges cover the model's own numbers (bench: `bench ball`), not a wrong
    model. Measured on simulated recordings only, never on a real court.
    """
    if len(drops) + len(hits) < 2:
        raise InputError("A calibration needs at least two drops or hits; five of each is good. Record more.")
    if setting is not None and setting.ball.unsure_c:
        raise InputError(
            "A court is calibrated with a ball whose warmth is known: what is learnt is moved to colder and "
            'warmer balls later. Say hot, warm, club or cold instead of "unsure", or its temperature.'
        )
    plain = PlayConditions(*(getattr(setting or PlayConditions(), name) for name in ("ball", "court", "air")))
    fit = _Fit(drops, hits, plain.coefficients(), phone_m)
    means, covariance, freedom = fit.solved()
    return Calibration(
        court,
        ball,
        date,
        plain.ball.celsius,
        tuple(means.tolist()),
        tuple(tuple(row) for row in covariance.tolist()),
        tuple(fit.prior[:LEARNT].tolist()),
        PRIOR_SDS,
        freedom,
        len(drops),
        len(hits),
        sum(int(np.isfinite(hit.observed[3:]).sum()) // 2 for hit in hits),
        plain.ball.dot,
    )


class _Fit:
    """Parameters: six coefficients and friction; speed, slopes and spin of each hit; each drop's height."""

    def __init__(
        self,
        drops: Sequence[Drop],
        hits: Sequence[CalibrationHit],
        base: Coefficients,
        phone_m: tuple[float, float, float],
    ) -> None:
        self.drops, self.hits, self.base = drops, hits, base
        self.phone = np.array(phone_m)
        self.prior = np.array(
            [
                base.e7 * base.bounce.front,
                base.speed_power,
                base.grip,
                base.drag_factor,
                base.lift,
                base.bounce.floor / base.bounce.front,
                0.0,
            ]
        )
        self.prior_sds = np.array([*PRIOR_SDS, FRICTION_SD])
        self.contacts = np.array([hit.contact_m for hit in hits]).reshape(-1, 3)
        self.seen = np.array([hit.observed for hit in hits]).reshape(-1, 9)
        self.sds = np.array([ASSUMED_TIME_S] * 3 + [ASSUMED_MARK_M] * 2 + [ASSUMED_LANDING_M] * 4)
        self.starts = np.array([self._start(hit) for hit in hits]).reshape(-1, LAUNCH)
        self.heights = np.array([drop.height_m for drop in drops])

    def _start(self, hit: CalibrationHit) -> list[float]:
        """Return a first guess of speed and slopes: straight on, or at the mark."""
        far = hit.contact_m[1]
        mark_x, mark_z = hit.wall_mark_m or (hit.contact_m[0], hit.contact_m[2] + 0.6)
        across = (mark_x - hit.contact_m[0]) / far
        along = far * math.sqrt(1 + across**2)
        time = self._flight_time_s(hit) if hit.wall_s is not None else along / 20.0
        speed = float(np.clip(1.06 * along / max(time, 0.05), 5.0, 70.0))
        up = (mark_z - hit.contact_m[2] + 4.9 * (far / speed) ** 2) / far
        return [speed, across, up, 0.0, 0.0, 0.0]

    def _flight_time_s(self, hit: CalibrationHit) -> float:
        assert hit.wall_s is not None
        to_hit = np.linalg.norm(np.array(hit.contact_m) - self.phone)
        to_wall = np.linalg.norm(np.array([hit.contact_m[0], 0.0, 1.5]) - self.phone)
        return hit.wall_s - float(to_wall - to_hit) / SOUND_M_S

    def solved(self) -> tuple[Floats, Floats, float]:
        """Means, covariance and degrees of freedom, from the priors."""
        here, left = self._descended(*_copied(self.prior, self.starts, self.heights))
        return self._estimate(here[0], left, _inverse(self._slopes(*here, left)))

    def _descended(
        self, theta: Floats, nuisance: Floats, heights: Floats
    ) -> tuple[tuple[Floats, Floats, Floats], Floats]:
        """Levenberg-Marquardt to the end: where it rests, and what is left there.

        scipy's `least_squares` takes 1.4 to 2.3 times as long, and its optima are no better on the whole
        (decision 0014).
        """
        damp = 1e-2
        left = self._residuals(theta, nuisance, heights)
        for _ in range(TURNS):
            slopes = self._slopes(theta, nuisance, heights, left)
            normal: Floats = slopes.T @ slopes
            pull: Floats = slopes.T @ np.nan_to_num(left)
            while True:
                step = _solved(normal + damp * np.diag(np.diag(normal)), pull)
                moved = self._moved(theta, nuisance, heights, step)
                trial = self._residuals(*moved)
                gain = _gain(left, trial)
                if gain > 0 or damp > 1e6:
                    break
                damp *= 6.0
            if gain <= 0:
                break
            (theta, nuisance, heights), left, damp = moved, trial, max(damp / 6.0, 1e-9)
            if gain < 1e-8 * (1 + float(np.nansum(left**2))):
                break
        return (theta, nuisance, heights), left

    def _estimate(self, theta: Floats, left: Floats, covariance: Floats) -> tuple[Floats, Floats, float]:
        """Return the six numbers, their covariance and its degrees of freedom; refused where nothing fits."""
        spread = max(1.0, float(np.nanmean(left**2)))
        left[~np.isfinite(left)] = NEVER_SDS
        covariance = covariance[:LEARNT, :LEARNT]
        count = int(np.isfinite(self.seen).sum()) + sum(len(drop.thuds_s) - 1 for drop in self.drops)
        spare = max(count - 3 * len(self.hits), 1)
        misfit = float(left @ left) / max(count, 1)
        if misfit > 40.0:
            raise InputError(
                "No ball this model knows can have made these recordings: times or marks contradict each "
                f"other, off by {math.sqrt(misfit):.0f} times what a careful reading allows. Look again."
            )
        covariance = covariance * spread * WIDER**2
        # Nothing is known worse after than before
        less = np.minimum(1.0, np.array(PRIOR_SDS) / np.sqrt(np.diag(covariance)))
        covariance = covariance * np.outer(less, less)
        means, covariance = self._reset_spin_hidden(theta[:LEARNT], covariance)
        return means, covariance, float(np.clip(spare, LEAST_FREEDOM, MOST_FREEDOM))

    def _reset_spin_hidden(self, means: Floats, covariance: Floats) -> tuple[Floats, Floats]:
        """Put what spin hides (grip, drag, lift) back to its prior: such recordings do not teach it.

        The fit is straight-line theory about spins near nought. Hits that spin fast pull these three from
        the truth in the direction spin works, while the theory says that a fifth of their variance went.
        """
        sds = np.array(PRIOR_SDS)
        reset = covariance.copy()
        reset[SPIN_HIDES, :] = reset[:, SPIN_HIDES] = 0.0
        reset[SPIN_HIDES, SPIN_HIDES] = sds[SPIN_HIDES] ** 2
        return np.where(SPIN_HIDES, self.prior[:LEARNT], means), reset

    def _moved(
        self, theta: Floats, nuisance: Floats, heights: Floats, step: Floats
    ) -> tuple[Floats, Floats, Floats]:
        n = len(self.hits)
        hits = step[SHARED : SHARED + LAUNCH * n].reshape(n, LAUNCH)
        moved = theta + np.clip(step[:SHARED], -0.2, 0.2), nuisance + hits
        moved[1][:, 0] = np.clip(moved[1][:, 0], 3.0, 75.0)
        moved[1][:, SPINS] = np.clip(moved[1][:, SPINS], -900.0, 900.0)
        clipped = np.clip(moved[0], LOWEST, HIGHEST)
        return clipped, moved[1], heights + step[SHARED + LAUNCH * n :]

    def _residuals(self, theta: Floats, nuisance: Floats, heights: Floats) -> Floats:
        """Return what is left of observations and priors, in sds; NaN where the ball misses a mark."""
        off = self._hits_off(theta, nuisance)
        drops = self._drops_off(theta, heights)
        priors = (theta - self.prior) / self.prior_sds
        launches = (nuisance - self.starts) / LAUNCH_SDS
        tall = (heights - self.heights) / ASSUMED_DROP_M
        return np.concatenate([off.ravel(), drops, priors, launches.ravel(), tall])

    def _hits_off(self, theta: Floats, nuisance: Floats) -> Floats:
        """Return what is left of the observations of every hit, in sds, shape (hits, 9)."""
        off: Floats = (self._predicted(theta, nuisance) - self.seen) / self.sds
        off[np.isnan(self.seen)] = 0.0
        return off

    def _drops_off(self, theta: Floats, heights: Floats) -> Floats:
        """Return what is left of the gaps between thuds, drop after drop."""
        falls = self._thuds(theta, heights)
        each = [
            _unlinked(predicted - np.diff(drop.thuds_s)) / ASSUMED_TIME_S
            for predicted, drop in zip(falls, self.drops, strict=True)
        ]
        return np.concatenate(each) if each else np.zeros(0)

    def _slopes(self, theta: Floats, nuisance: Floats, heights: Floats, left: Floats) -> Floats:
        """Differences of the residuals; hits do not touch each other, so one flight moves a number of all."""
        n, m = len(self.hits), len(self.drops)
        slopes = np.zeros((len(left), SHARED + LAUNCH * n + m))
        for k in range(SHARED):
            moved = theta.copy()
            moved[k] += STEPS[k]
            slopes[:, k] = np.nan_to_num((self._residuals(moved, nuisance, heights) - left) / STEPS[k])
        first_launch = 9 * n + sum(len(d.thuds_s) - 1 for d in self.drops) + SHARED
        for k, size in enumerate(NUISANCE_STEPS):
            moved = nuisance.copy()
            moved[:, k] += size
            change = np.nan_to_num((self._hits_off(theta, moved).ravel() - left[: 9 * n]) / size)
            for i in range(n):
                rows = slice(9 * i, 9 * i + 9)
                column = SHARED + LAUNCH * i + k
                slopes[rows, column] = change[rows]
                slopes[first_launch + LAUNCH * i + k, column] = 1.0 / LAUNCH_SDS[k]
        gaps = sum(len(drop.thuds_s) - 1 for drop in self.drops)
        change = (self._drops_off(theta, heights + 1e-4) - left[9 * n : 9 * n + gaps]) / 1e-4
        row = 0
        for i, drop in enumerate(self.drops):
            count = len(drop.thuds_s) - 1
            column = SHARED + LAUNCH * n + i
            slopes[9 * n + row : 9 * n + row + count, column] = change[row : row + count]
            slopes[first_launch + LAUNCH * n + i, column] = 1.0 / ASSUMED_DROP_M
            row += count
        return slopes

    def _coefficients(self, theta: Floats) -> Coefficients:
        return coefficients_of(self.base, theta)

    def _predicted(self, theta: Floats, nuisance: Floats) -> Floats:
        """Observations of every hit, shape (hits, 9), times as the phone hears them."""
        if not len(self.hits):
            return np.zeros((0, 9))
        return observations(self._coefficients(theta), self.contacts, nuisance, self.phone)

    def _thuds(self, theta: Floats, heights: Floats) -> list[Floats]:
        if not self.drops:
            return []
        gaps = gaps_of(self._coefficients(theta), heights, max(len(d.thuds_s) for d in self.drops) - 1)
        return [row[: len(d.thuds_s) - 1] for row, d in zip(gaps, self.drops, strict=True)]


def _unlinked(gaps: Floats) -> Floats:
    """Return errors whitened to unit standard deviation: neighbouring gaps share one onset time."""
    n = len(gaps)
    shared = 2.0 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)
    found: Floats = np.linalg.solve(np.linalg.cholesky(shared), gaps)
    return found


def _copied(*several: Floats) -> tuple[Floats, Floats, Floats]:
    first, second, third = (array.copy() for array in several)
    return first, second, third


def _solved(normal: Floats, pull: Floats) -> Floats:
    step: Floats = -np.linalg.solve(normal, pull).astype(float)
    return step


def _inverse(slopes: Floats) -> Floats:
    found: Floats = np.linalg.inv(slopes.T @ slopes).astype(float)
    return found


def _gain(left: Floats, trial: Floats) -> float:
    """Return how much smaller the squares became; a mark that is not reached counts `NEVER_SDS`."""
    before, after = (np.where(np.isfinite(array), array, NEVER_SDS) for array in (left, trial))
    return float(before @ before - after @ after)


def coefficients_of(base: Coefficients, theta: Floats) -> Coefficients:
    """Return a set with the six numbers of `NAMES` put in; the front wall is the hard wall they speak of.

    A seventh number, where there is one, is the log of every friction beside that of the set.
    """
    value = dict(zip(NAMES, (float(v) for v in theta[:LEARNT]), strict=True))
    rough = math.exp(float(theta[LEARNT])) if len(theta) > LEARNT else 1.0
    friction = type(base.friction)(**{name: rough * now for name, now in asdict(base.friction).items()})
    bounce = type(base.bounce)(
        floor=value["floor_factor"],
        front=1.0,
        left=base.bounce.left,
        right=base.bounce.right,
        back=base.bounce.back,
    )
    return base.but(
        e7=value["e7"],
        speed_power=value["speed_power"],
        grip=value["grip"],
        lift=value["lift"],
        drag_factor=value["drag_factor"],
        bounce=bounce,
        friction=friction,
    )


def observations(how: Coefficients, contacts: Floats, launches: Floats, phone: Floats) -> Floats:
    """Return what hits would show, shape (n, 9): three times from the strike as heard, marks; NaN where none.

    Launches are rows of speed, slope across, slope up, and spin about the three axes.
    """
    speed, across, up = launches[:, :3].T
    forward = speed / np.sqrt(1.0 + across**2 + up**2)
    flown = np.zeros((len(contacts), 9))
    flown[:, :3] = contacts
    flown[:, 3], flown[:, 4], flown[:, 5] = across * forward, -forward, up * forward
    flown[:, 6:] = launches[:, SPINS]
    rows = fly_summaries(flown, [how.row()], checked=True, threads=1).rows
    direct_m = np.linalg.norm(contacts - phone, axis=1)

    def arrival_s(time: Floats, x: Floats, y: Floats, z: Floats) -> Floats:
        far = np.sqrt((x - phone[0]) ** 2 + (y - phone[1]) ** 2 + (z - phone[2]) ** 2)
        late: Floats = time + (far - direct_m) / SOUND_M_S
        return late

    zero = np.zeros(len(rows))
    return np.column_stack(
        [
            arrival_s(rows[:, at.FRONT_T], rows[:, at.FRONT_X], zero, rows[:, at.FRONT_Z]),
            arrival_s(rows[:, at.ONE_T], rows[:, at.ONE_X], rows[:, at.ONE_Y], zero),
            arrival_s(rows[:, at.TWO_T], rows[:, at.TWO_X], rows[:, at.TWO_Y], zero),
            rows[:, at.FRONT_X],
            rows[:, at.FRONT_Z],
            rows[:, at.SIDE_Y],
            rows[:, at.SIDE_Z],
            rows[:, at.ONE_X],
            rows[:, at.ONE_Y],
        ]
    )


def thud_gaps(how: Coefficients, height_m: float, count: int) -> Floats:
    """Return times between the bounces of a ball dropped with its underside that high, shape (count,), s."""
    found: Floats = gaps_of(how, np.array([height_m]), count)[0]
    return found


def gaps_of(how: Coefficients, heights_m: Floats, count: int) -> Floats:
    """`thud_gaps` of several drops, shape (drops, count); NaN where the ball bounces no more."""
    from goodlength.ball.flight.batch_flight_simulation import fly_contacts

    starts = np.zeros((len(heights_m), 6))
    starts[:, :3] = [3.2, 4.9, 0.0]
    starts[:, 2] = heights_m + how.radius_m
    which = np.zeros(len(starts), np.int64)
    found = fly_contacts(starts, [how.row()], which, bounces=count + 1, threads=1)
    gaps = np.full((len(starts), count), math.nan)
    for row, contacts, made in zip(gaps, found.rows, found.counts, strict=True):
        got = np.diff(contacts[:made, at.TIME])[:count]
        row[: len(got)] = got
    return gaps


def _growing(words: str, times: Sequence[float], least: int) -> None:
    if len(times) < least or not all(math.isfinite(t) for t in times):
        raise InputError(f"The {words}: at least {least} numbers in seconds; got {list(times)}.")
    if any(b <= a for a, b in pairwise(times)):
        raise InputError(f"The {words} grow from one to the next; got {list(times)}.")
