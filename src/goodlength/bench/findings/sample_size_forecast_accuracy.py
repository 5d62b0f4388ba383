"""How often a question is settled after as many more serves or rallies as its sentence forecasts.

"If the gap is as wide as it looks, about 40 more serves of each would probably settle it": the shares seen
are taken for the true ones, as many more are drawn, and the question is asked again of all of them.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from goodlength.findings.analyses.serve_advantage import p_against_runs, serve_edge
from goodlength.findings.question_types import LISTED, Question
from goodlength.findings.rally_masks import SIDES, RallyMasks
from goodlength.findings.reports.match_finding_grades_and_top_three import find
from goodlength.findings.result_types import Finding, Grade, Names
from goodlength.findings.statistics.evidence_grades import CLEAR_Q, LISTED_FACTOR
from goodlength.findings.statistics.exact_tests import fisher
from goodlength.findings.statistics.restricted_permutation_tests import drift_p
from goodlength.synthetic.simulated_matches import World, invent_match

NAMES = Names("Imogen", "Petra")
MOST_SERVES = 150  # of a drift drawn anew: longer orders take too long to count
MATCH = 36  # rallies of a game of a long match, about, twice over


def bench_settling(seed: int = 20261129, matches: int = 60) -> dict[str, tuple[float, int]]:
    """Return the share of each listed question that is Clear after that many more, and how many there were.

    Parameters
    ----------
    seed, matches : int
        Random state; how many matches in which nothing much differs are read for their sentences.
    """
    rng = np.random.default_rng([seed, 7])
    settled: dict[str, list[bool]] = {}
    for _ in range(matches):
        world = World(serving=float(rng.uniform(0.0, 0.25)), long=float(rng.uniform(0.0, 0.1)))
        table = invent_match(rng, world, float(rng.uniform(0.4, 0.6))).table
        for finding, listed in _with_more(find(table, SIDES[0], NAMES).all):
            found = _settled(rng, finding, CLEAR_Q / (LISTED_FACTOR * listed))
            if found is not None:
                settled.setdefault(finding.question, []).append(found)
    return {ask: (float(np.mean(answers)), len(answers)) for ask, answers in sorted(settled.items())}


def _with_more(findings: tuple[Finding, ...]) -> Iterator[tuple[Finding, int]]:
    """Yield findings whose sentence says how many more, with the number of listed questions asked."""
    listed = sum(finding.listed and finding.p is not None for finding in findings)
    for finding in findings:
        open_ones = finding.question in LISTED and finding.grade in (Grade.TOO_FEW, Grade.LEANING)
        if open_ones and finding.more is not None and finding.p:
            yield finding, 2 * listed  # both players are asked


def _settled(rng: np.random.Generator, finding: Finding, level: float) -> bool | None:
    """Return whether the question is settled; None for those that are not drawn anew."""
    if finding.against is None or finding.more is None:
        return None
    if finding.question == Question.SERVE_EDGE:
        return _serving_settled(rng, finding, level)
    sides = [(share.count, share.of) for share in (finding, finding.against)]
    if finding.question == Question.DRIFT:
        if finding.more + max(of for _, of in sides) > MOST_SERVES:
            return None
        early, late = (_serves(rng, count, of, finding.more) for count, of in sides)
        return drift_p(early, late) <= level
    (a, n), (c, m) = (
        (count + int(rng.binomial(finding.more, count / of)), of + finding.more) for count, of in sides
    )
    return fisher(a, n, c, m).mid_p <= level


def _serves(rng: np.random.Generator, count: int, of: int, more: int) -> list[bool]:
    """Return serves seen and as many more, in a chance order."""
    every = [True] * count + [False] * (of - count) + (rng.random(more) < count / of).tolist()
    return [bool(item) for item in rng.permutation(every)]


def _serving_settled(rng: np.random.Generator, finding: Finding, level: float) -> bool | None:
    assert finding.against is not None
    assert finding.more is not None
    gap = finding.count / finding.of - finding.against.count / finding.against.of
    rallies = finding.of + finding.against.of + 2 * finding.more
    middle = (finding.count + finding.against.count) / (finding.of + finding.against.of)
    world = World(serving=gap / 2)
    view = RallyMasks(
        invent_match(rng, world, float(np.clip(middle, 0.3, 0.7)), games_to=rallies // MATCH + 1).table
    )
    test = serve_edge(view)
    return test is not None and test.mid_p <= level and p_against_runs(view) <= CLEAR_Q
