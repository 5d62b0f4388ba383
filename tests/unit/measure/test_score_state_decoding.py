"""Chances and path, held against every possible match written out one by one."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from goodlength.measure import Scores, observe
from goodlength.measure.score.score_lattice import lattice
from goodlength.measure.score.score_state_decoding import NoLegalPath, PriorRates, Trellis
from goodlength.measure.score.server_and_box_likelihoods import TRUTHS, Observation
from goodlength.scoring import Box, Format, Outcome, Side, Start, replay

START = Start(games=(2, 2), points=(9, 9))
SEEN = (
    observe("1", Side.A, Box.RIGHT, server_error_rate=0.1, box_error_rate=0.2),
    observe("2", Side.B, Box.LEFT, server_error_rate=0.3),
    observe("3", None, Box.LEFT, box_error_rate=0.1),
)
LET = 0.1


def every_match(
    sightings: tuple[Observation, ...], endings: np.ndarray | None = None
) -> dict[tuple[int, ...], float]:
    """Weight of each run of outcomes (0 A, 1 B, 2 let), by writing out every server and box there could be.

    `endings` is how well each rally's end fits, by server and outcome. The rules come from `scoring.replay`: a match counts if it has no fault and is over after its last rally.
    """
    weights: dict[tuple[int, ...], float] = {}
    options = list(itertools.product((0, 1, 2), TRUTHS))
    for rallies in itertools.product(options, repeat=len(sightings)):
        events = [
            Outcome(
                str(n), None if o == 2 else (Side.A, Side.B)[o], let=o == 2, server=truth[0], box=truth[1]
            )
            for n, (o, truth) in enumerate(rallies)
        ]
        match = replay(Format(), START, events)
        if match.faults or match.winner is None:
            continue
        weight = 1.0
        for n, (o, truth) in enumerate(rallies):
            weight *= sightings[n].likely[TRUTHS.index(truth)]
            weight *= LET if o == 2 else (1.0 - LET) * 0.5
            weight *= 1.0 if endings is None else float(endings[n, truth[0].place, o])
            free = n == 0 or (events[n - 1].winner is events[n - 1].server.other)  # type: ignore[union-attr]
            weight *= 0.5 if free else 1.0
        outcomes = tuple(o for o, _ in rallies)
        weights[outcomes] = weights.get(outcomes, 0.0) + weight
    return weights


def trellis(
    missed: float = 0.0,
    odds: PriorRates = PriorRates(LET, 0.0),
    scores: Scores = Scores(over=True),
    endings: np.ndarray | None = None,
) -> Trellis:
    likely = np.array([item.likely for item in SEEN])
    gaps = np.full(len(SEEN) + 1, missed)
    return Trellis(
        lattice(Format(), START, scores), likely, gaps, odds, np.ones((len(SEEN), 3)), endings=endings
    )


@pytest.fixture(scope="module")
def written_out() -> dict[tuple[int, ...], float]:
    return every_match(SEEN)


def test_chances_equal_those_of_all_matches_written_out(
    written_out: dict[tuple[int, ...], float],
) -> None:
    chances = trellis().chances()
    assert not isinstance(chances, NoLegalPath)
    total = sum(written_out.values())
    for k in range(len(SEEN)):
        for o in (0, 1, 2):
            expected = sum(w for run, w in written_out.items() if run[k] == o) / total
            assert chances.outcome[k][o] == pytest.approx(expected, abs=1e-12)


def test_ends_seen_enter_as_exactly_as_servers_do() -> None:
    """The end of a rally is evidence by server and winner together: held against every match written out."""
    endings = np.random.default_rng(5).uniform(0.05, 0.95, (len(SEEN), 2, 3))
    chances = trellis(endings=endings).chances()
    assert not isinstance(chances, NoLegalPath)
    runs = every_match(SEEN, endings)
    for k in range(len(SEEN)):
        for o in (0, 1, 2):
            expected = sum(w for run, w in runs.items() if run[k] == o) / sum(runs.values())
            assert chances.outcome[k][o] == pytest.approx(expected, abs=1e-12)
            assert chances.served[k, :, o].sum() == pytest.approx(expected, abs=1e-12)


def test_the_path_claims_most_of_all_legal_runs(written_out: dict[tuple[int, ...], float]) -> None:
    laid = trellis()
    chances = laid.chances()
    assert not isinstance(chances, NoLegalPath)
    path = laid.best(chances)

    def claimed(run: tuple[int, ...]) -> float:
        return float(sum(chances.outcome[k][o] for k, o in enumerate(run)))

    assert path.outcomes in written_out
    # the hundredth given to servers and boxes may only decide between near ties
    assert claimed(path.outcomes) >= max(map(claimed, written_out)) - 0.02 * len(SEEN)


def test_lost_rallies_open_what_would_be_stuck() -> None:
    scores = Scores(finals=((16, 14),))
    assert isinstance(trellis(scores=scores).chances(), NoLegalPath)
    laid = trellis(missed=1.0, scores=scores)
    chances = laid.chances()
    assert not isinstance(chances, NoLegalPath)
    path = laid.best(chances)
    points = sum(o < 2 for o in path.outcomes) + sum(map(len, path.lost))
    assert points == 16 + 14 - 18
    assert path.end == laid.lattice.over


def test_a_lost_rally_has_its_chance_and_the_chances_of_a_gap_add_up() -> None:
    chances = trellis(missed=0.5).chances()
    assert not isinstance(chances, NoLegalPath)
    assert all(run.sum() == pytest.approx(1.0) for run in chances.missed)
    assert np.allclose(chances.outcome.sum(axis=1), 1.0)
    assert np.allclose(chances.before.sum(axis=1), 1.0)
    assert all(len(run) > 5 for run in chances.missed)


def test_shares_are_learnt_from_the_match_but_not_past_what_was_expected_of_a_gap() -> None:
    laid = trellis(missed=0.01, odds=PriorRates(0.2, 0.05))
    chances = laid.chances()
    assert not isinstance(chances, NoLegalPath)
    found = float(chances.outcome[:, 2].sum())
    laid.settle(chances)
    assert laid.odds.let_share + laid.odds.no_rally_share == pytest.approx(
        (10 * 0.25 + found) / (10 + len(SEEN))
    )
    gap = trellis(missed=3.0)
    before = [run.copy() for run in gap.runs]
    again = gap.chances()
    assert not isinstance(again, NoLegalPath)
    gap.settle(again)
    assert all(np.array_equal(item, two) for item, two in zip(before, gap.runs, strict=True))
