"""Benchmark of the drafted score against known truth, beside a plain reading of the same observations.

The matches come from `synthetic.random_match_oracle`, whose rules are written a second time. A plain reading
takes each rally as won by whoever is seen serving next, tosses a coin where nobody is seen, and takes the
last winner from the score.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from goodlength.measure import (
    CoachAnswer,
    DraftRefused,
    ScoreDraft,
    Scores,
    draft_scores,
)
from goodlength.scoring import Format, Start
from goodlength.synthetic.random_match_oracle import play_match
from goodlength.synthetic.simulated_server_observations import (
    CONDITIONS,
    ObservationCondition,
    SimulatedObservation,
    simulated_observations,
)

BINS = (0.0, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)


@dataclass(frozen=True)
class Bin:
    """Rallies whose stated chance lies in a range: how many, the mean stated, the share right."""

    low: float
    high: float
    rallies: int
    stated: float
    right: float


@dataclass(frozen=True)
class DraftRates:
    """What came out under one condition; shares 0 to 1.

    `winners_right` counts rallies that had a winner, `outcomes_right` every sighting. `offered` is the
    share offered without doubt and `offered_right` how many of those are right. `plain_right` is the
    plain reading of the same sightings.
    """

    condition: str
    matches: int
    rallies: int
    winners_right: float
    plain_right: float
    plain_outcomes_right: float
    outcomes_right: float
    stated: float
    offered: float
    offered_right: float
    calibration: tuple[Bin, ...]
    undrafted: int
    match_s: float

    @property
    def line(self) -> str:
        """One line of the table."""
        return (
            f"{self.condition}: {self.matches} matches, {self.rallies} rallies; winners right "
            f"{100 * self.winners_right:.1f} % (plain reading {100 * self.plain_right:.1f} %), stated "
            f"{100 * self.stated:.1f} % and right {100 * self.outcomes_right:.1f} % of all "
            f"(plain {100 * self.plain_outcomes_right:.1f} %); "
            f"{100 * self.offered:.0f} % offered, of those {100 * self.offered_right:.2f} % right; "
            f"{self.match_s:.2f} s a match"
        )


@dataclass
class _Tally:
    """Counts of one condition."""

    chance: list[float]
    right: list[bool]
    offered: list[bool]
    decided: list[bool]
    plain: list[float]
    undrafted: int = 0


def draft_rates(
    rng: np.random.Generator, condition: ObservationCondition = CONDITIONS[0], matches: int = 200
) -> DraftRates:
    """Draft so many random even matches under a condition and count what is right.

    Parameters
    ----------
    rng : numpy Generator
        Draws matches and sightings.
    condition : Condition
        How the sightings go wrong.
    matches : int
        How many; 200 give a Monte Carlo error of about 0.2 points on the share of winners.
    """
    tally = _Tally([], [], [], [], [])
    spent = 0.0
    for _ in range(matches):
        played = play_match(rng, let_share=condition.lets, conduct_share=0.0)
        observations = simulated_observations(rng, condition, played.truth, played.events)
        scores = Scores(played.finals) if condition.finals_known else Scores(over=True)
        began = time.perf_counter()
        sheet = _drafted(observations, scores, condition.answers)
        spent += time.perf_counter() - began
        if isinstance(sheet, DraftRefused):
            tally.undrafted += 1
            continue
        _count(tally, sheet, observations)
    return _rates(condition, matches, tally, spent / matches)


def _drafted(
    observations: list[SimulatedObservation], scores: Scores, answers: int
) -> ScoreDraft | DraftRefused:
    """Return the draft, after the coach has answered so many of the rallies first in line."""
    sightings = [observation.sighting for observation in observations]
    truth = {observation.sighting.key: observation.winner for observation in observations}
    answers_given: list[CoachAnswer] = []
    while True:
        sheet = draft_scores(Format(), Start(), sightings, scores, answers_given)
        if isinstance(sheet, DraftRefused) or len(answers_given) == answers or not sheet.first:
            return sheet
        key = sheet.first[0]
        answers_given.append(CoachAnswer(key, winner=truth[key], no_point=truth[key] is None))


def _count(tally: _Tally, sheet: ScoreDraft, observations: list[SimulatedObservation]) -> None:
    """Hold a draft against the truth."""
    for n, (proposal, truth) in enumerate(zip(sheet.proposals, observations, strict=True)):
        tally.chance.append(proposal.chance)
        tally.right.append(proposal.winner is truth.winner)
        tally.offered.append(proposal.offered)
        tally.decided.append(truth.winner is not None)
        after = observations[n + 1].seen if n + 1 < len(observations) else truth.winner
        tally.plain.append(0.5 if after is None else float(after is truth.winner))


def _rates(condition: ObservationCondition, matches: int, tally: _Tally, match_s: float) -> DraftRates:
    """Return shares and the calibration table."""
    chance, right = np.array(tally.chance), np.array(tally.right)
    offered, decided, plain = np.array(tally.offered), np.array(tally.decided), np.array(tally.plain)
    return DraftRates(
        condition=condition.name,
        matches=matches,
        rallies=len(right),
        winners_right=float(right[decided].mean()),
        plain_right=float(plain[decided].mean()),
        plain_outcomes_right=float((plain * decided).mean()),
        outcomes_right=float(right.mean()),
        stated=float(chance.mean()),
        offered=float(offered.mean()),
        offered_right=float(right[offered].mean()) if offered.any() else float("nan"),
        calibration=_bins(chance, right),
        undrafted=tally.undrafted,
        match_s=match_s,
    )


def _bins(chance: NDArray[np.float64], right: NDArray[np.bool_]) -> tuple[Bin, ...]:
    """Stated against right, by range of the stated chance; empty ranges left out."""
    bins = []
    for low, high in pairwise(BINS):
        here = (chance >= low) & ((chance < high) | (high == 1.0))
        if here.any():
            bins.append(
                Bin(low, high, int(here.sum()), float(chance[here].mean()), float(right[here].mean()))
            )
    return tuple(bins)
