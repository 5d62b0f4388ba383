"""Benchmark of practice statistics on simulated players: false "better", power and coverage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln

from goodlength.practice.statistics.attempt_scatter import AttemptScatter, scatter_of
from goodlength.practice.statistics.drill_progress import ENOUGH
from goodlength.practice.statistics.miss_distance_change import distance_evidence
from goodlength.practice.statistics.practice_transfer import carried_over

RATES = (0.2, 0.3, 0.5, 0.7, 0.85)
FIRST = 45  # attempts of the first session: three sets of fifteen
LATER = 225  # five more sessions, looked at after every ball
MARKED_FIRST, MARKED_LATER = 45, 225  # balls whose place is marked: all of them
SPREAD_M = 0.35  # of a club player's lob on the front wall, each way; ASSUMED for the simulation
HIT_M = 0.5  # what counts as a hit where distances are turned into hits
DAY_TO_DAY = 0.05  # standard deviation of a match's own form, as a share; ASSUMED for the simulation

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class PracticeFigures:
    """What `bench practice` prints. Shares of simulated players, by true rate where it says so.

    `next_ball_coverage` is by number of balls the ellipse was made from; `transfer_coverage` is how often a
    95-in-100 range of carry-over holds the true change, by the size of its parts, and with matches that have
    good and bad days, which the range allows for. "Better" and "found" are of the evidence of balls alone,
    as if days were alike; what the page says allows for days and stands in
    `bench.findings.error_rates_with_day_variation`.
    """

    players: int
    looks: int
    false_better_by_rate: dict[str, float]
    false_better_most: float
    found_half_to_seven_tenths: float
    found_three_to_six_tenths: float
    distance_false_better: float
    distance_found_a_quarter_nearer: float
    hits_found_a_quarter_nearer: float
    both_false_better: float
    next_ball_coverage: dict[str, float]
    usual_ellipse_coverage: dict[str, float]
    transfer_coverage: dict[str, float]
    transfer_coverage_with_days: float


def bench_practice_progress(seed: int = 20261125, players: int = 2000) -> PracticeFigures:
    """Simulate players who did not change, and players who did.

    Parameters
    ----------
    seed : int
        State of the draws.
    players : int
        Players for each true rate; a tenth of them where every ball is looked at one by one.
    """
    rng = np.random.default_rng(seed)
    false = {f"{rate:g}": better_share(rng, players, rate, rate) for rate in RATES}
    fewer = max(players // 4, 10)
    ellipses = {n: ellipse_coverage(rng, fewer, n) for n in (5, 10, 20)}
    return PracticeFigures(
        players,
        LATER,
        false,
        max(false.values()),
        better_share(rng, players, 0.5, 0.7),
        better_share(rng, players, 0.3, 0.6),
        nearer_share(rng, fewer, 1.0),
        nearer_share(rng, fewer, 0.75),
        hits_share(rng, fewer, 0.75),
        both_share(rng, fewer),
        {str(n): share for n, (share, _) in ellipses.items()},
        {str(n): share for n, (_, share) in ellipses.items()},
        {
            "2 parts of 20 and 20": transfer_coverage(rng, players, 2, 20, 20),
            "4 parts of 8 and 10": transfer_coverage(rng, players, 4, 8, 10),
            "6 parts of 3 and 5": transfer_coverage(rng, players, 6, 3, 5),
        },
        transfer_coverage(rng, players, 2, 20, 20, DAY_TO_DAY),
    )


def better_share(rng: np.random.Generator, players: int, first_rate: float, later_rate: float) -> float:
    """Return share of players ever told "better" while somebody looks after every ball of the later
    sessions.
    """
    first = rng.binomial(FIRST, first_rate, size=players)[:, None]
    later = np.cumsum(rng.random((players, LATER)) < later_rate, axis=1, dtype=np.int64)
    n = np.arange(1, LATER + 1)
    evidence = _log_evidence(first, later, n)
    better = (evidence >= np.log(ENOUGH)) & (later / n > first / FIRST)
    return float(better.any(axis=1).mean())


def nearer_share(rng: np.random.Generator, players: int, factor: float) -> float:
    """Return share of players ever told "nearer" by distances alone, looked at after every ball marked."""
    alarms = 0
    for _ in range(players):
        first, later = _distances(rng, MARKED_FIRST), _distances(rng, MARKED_LATER) * factor
        alarms += any(
            distance_evidence(first, later[:n]) >= ENOUGH and later[:n].mean() < first.mean()
            for n in range(5, MARKED_LATER + 1)
        )
    return alarms / players


def hits_share(rng: np.random.Generator, players: int, factor: float) -> float:
    """As `nearer_share` from the same balls, but only hit or miss is known: half a metre is a hit."""
    alarms = 0
    for _ in range(players):
        first, later = _distances(rng, MARKED_FIRST), _distances(rng, MARKED_LATER) * factor
        hit_first, hit_later, n = (
            np.asarray((first < HIT_M).sum(), dtype=np.int64),
            np.cumsum(later < HIT_M, dtype=np.int64),
            np.arange(1, MARKED_LATER + 1),
        )
        evidence = _log_evidence(hit_first, hit_later, n, of=MARKED_FIRST)
        alarms += bool(((evidence >= np.log(ENOUGH)) & (hit_later / n > hit_first / MARKED_FIRST)).any())
    return alarms / players


def both_share(rng: np.random.Generator, players: int) -> float:
    """Return share of unchanged players ever told "better" by the mean of hits' and distances' evidence.

    A hit is a ball within half a metre of the aim, so hits and distances hang together as they do on court.
    """
    alarms = 0
    for _ in range(players):
        first, later = _distances(rng, MARKED_FIRST), _distances(rng, MARKED_LATER)
        hit_first, hit_later = int((first < HIT_M).sum()), np.cumsum(later < HIT_M, dtype=np.int64)
        for n in range(5, MARKED_LATER + 1):
            by_distance = distance_evidence(first, later[:n])
            pair = np.array([[hit_first]]), np.array([[hit_later[n - 1]]]), np.array([n])
            by_hits = float(np.exp(_log_evidence(*pair, of=MARKED_FIRST)).item())
            nearer = later[:n].mean() < first.mean()
            more = hit_later[n - 1] / n > hit_first / MARKED_FIRST
            if (by_hits + by_distance) / 2 >= ENOUGH and (nearer if by_distance >= by_hits else more):
                alarms += 1
                break
    return alarms / players


def ellipse_coverage(rng: np.random.Generator, players: int, n: int) -> tuple[float, float]:
    """Return share of next balls inside the next-ball ellipse of n balls, and inside the usual one."""
    turn = np.array([[1.0, 0.4], [0.0, 0.8]]) * SPREAD_M
    inside = np.zeros(2)
    for _ in range(players):
        places = rng.normal(size=(n, 2)) @ turn
        following = rng.normal(size=(40, 2)) @ turn
        seen = scatter_of(places)
        inside += [_within(seen, following, which) for which in ("next_ball", "usual")]
    next_ball, usual = inside / players
    return float(next_ball), float(usual)


def transfer_coverage(
    rng: np.random.Generator,
    players: int,
    parts: int,
    before: int,
    after: int,
    days: float = 0.0,
    matches: int = 1,
) -> float:
    """Return the share of ranges that hold a true change of ten in a hundred.

    `days` is the form (sd) of a match, `matches` how many there are on each side; `before` and `after` are
    attempts of each part in one match.
    """
    covered = 0
    for _ in range(players):
        rates = rng.uniform(0.3, 0.5, parts)
        first = [_one_match(rng, rates, before, days) for _ in range(matches)]
        since = [_one_match(rng, rates + 0.1, after, days) for _ in range(matches)]
        change = carried_over(
            {k: (int(sum(array[k] for array in first)), before * matches) for k in range(parts)},
            {k: (int(sum(array[k] for array in since)), after * matches) for k in range(parts)},
            matches=(
                [(int(array.sum()), before * parts) for array in first],
                [(int(array.sum()), after * parts) for array in since],
            ),
        )
        covered += change.low is not None and change.high is not None and change.low <= 0.1 <= change.high
    return covered / players


def _one_match(rng: np.random.Generator, rates: Floats, of: int, days: float) -> NDArray[np.int64]:
    """Hits of each part in one match, all of them moved by its form."""
    form = rng.normal(0.0, days) if days else 0.0
    return np.array([rng.binomial(of, _share(rate + form)) for rate in rates], dtype=np.int64)


def _share(value: float) -> float:
    return min(max(float(value), 0.0), 1.0)


def _distances(rng: np.random.Generator, n: int) -> Floats:
    return np.asarray(np.hypot(*rng.normal(0.0, SPREAD_M, size=(2, n))))


def _within(seen: AttemptScatter, places: Floats, which: str) -> float:
    ellipse = getattr(seen, which)
    turn = np.radians(ellipse.angle_deg)
    off = places - np.asarray(seen.middle_m)
    along = off @ np.array([np.cos(turn), np.sin(turn)])
    across = off @ np.array([-np.sin(turn), np.cos(turn)])
    return float(((along / ellipse.major_m) ** 2 + (across / ellipse.minor_m) ** 2 <= 1).mean())


def _log_evidence(
    first: NDArray[np.int64], later: NDArray[np.int64], n: NDArray[np.int64], of: int = FIRST
) -> Floats:
    apart = betaln(first + 1, of - first + 1) + betaln(later + 1, n - later + 1)
    return np.asarray(apart - betaln(first + later + 1, of + n - first - later + 1))
