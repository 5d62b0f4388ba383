"""Simulated observations of who served, with errors of known size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from goodlength.measure import (
    Observation,
    observe,
)
from goodlength.scoring import Box, Outcome, Side
from goodlength.synthetic.random_match_oracle import EventTruth


@dataclass(frozen=True)
class ObservationCondition:
    """How sightings go wrong. Wrong is a share of those seen, unless `of_all`; `stated` is the doubt told."""

    name: str
    wrong: float = 0.05
    unseen: float = 0.05
    stated: float | None = None
    lets: float = 0.0
    lost: float = 0.0
    false: float = 0.0
    finals_known: bool = True
    answers: int = 0
    of_all: bool = False


CONDITIONS = (
    ObservationCondition("5 % wrong, 5 % unseen, scores known"),
    ObservationCondition("the same, wrong counted of all serves", of_all=True),
    ObservationCondition("the same as the first, game scores not known", finals_known=False),
    ObservationCondition("5 % lets", lets=0.05),
    ObservationCondition("5 % lets, 1 % rallies lost, 1 % false rallies", lets=0.05, lost=0.01, false=0.01),
    ObservationCondition("10 % lets", lets=0.10),
    ObservationCondition("1 % wrong, 1 % unseen", wrong=0.01, unseen=0.01),
    ObservationCondition("10 % wrong, 10 % unseen", wrong=0.10, unseen=0.10),
    ObservationCondition("10 % wrong, stated as 5 %", wrong=0.10, stated=0.05),
    ObservationCondition("the first, after 10 answers of the coach", answers=10),
)


@dataclass(frozen=True)
class SimulatedObservation:
    """One sighting with the truth behind it: winner, or None without a point; `observe` is who was seen."""

    sighting: Observation
    winner: Side | None
    seen: Side | None


def simulated_observations(
    rng: np.random.Generator,
    condition: ObservationCondition,
    truth: Sequence[EventTruth],
    events: Sequence[object],
) -> list[SimulatedObservation]:
    """Return observations of a match: some wrong, some missing, some rallies lost, some that were none."""
    observations: list[SimulatedObservation] = []
    error_rate = condition.wrong if condition.stated is None else condition.stated
    wrong = condition.wrong / (1.0 - condition.unseen) if condition.of_all else condition.wrong
    for n, (at, event) in enumerate(zip(truth, events, strict=True)):
        if rng.random() < condition.false:
            observations.append(SimulatedObservation(observe(f"false-{n}"), None, None))
        if not isinstance(event, Outcome) or rng.random() < condition.lost:
            continue
        server = None if rng.random() < condition.unseen else at.server
        if server is not None and rng.random() < wrong:
            server = server.other
        box: Box | None = None if rng.random() < condition.unseen else at.box
        if box is not None and rng.random() < wrong:
            box = box.other
        sighting = observe(str(n), server, box, server_error_rate=error_rate, box_error_rate=error_rate)
        observations.append(SimulatedObservation(sighting, event.winner, server))
    return observations
