"""Wrong findings of each question under the match models that "It would still hold if ..." names.

The rates are kept in a JSON file of the same name beside this one (`goodlength bench findings --seed 20261207
--way-matches 200 --survival FILE`); a test holds every entry of
`findings.grade_robustness_to_other_match_models` to them, and the file to the code that made it.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from goodlength.bench.findings.error_rates_by_scenario import WAYS, false_rates
from goodlength.findings.grade_robustness_to_other_match_models import (
    BOX,
    FORM,
    POINT_RUNS,
    SCORE,
    SERVE_RUNS,
)

FILE = Path(__file__).with_name("false_findings_under_broken_assumptions.json")
WAYS_OF: dict[str, tuple[str, ...]] = {
    SERVE_RUNS: ("repeats-serve-.2", "repeats-serve-.35", "repeats-serve-.5", "alternates-serve"),
    POINT_RUNS: ("points-in-runs-.06", "points-in-runs-.12"),
    BOX: ("kinds-by-box", "kinds-and-returns-by-box"),
    SCORE: ("kinds-by-score",),
    FORM: ("form-by-game",),
}


@dataclass(frozen=True)
class SurvivalRates:
    """Shares of matches with a wrong finding, by way and question; see `false_rates` for the fingerprint."""

    random_state: int
    matches: int
    graded: dict[str, dict[str, float]]
    clear: dict[str, dict[str, float]]
    fingerprint: dict[str, float]

    @classmethod
    def from_file(cls, path: Path = FILE) -> SurvivalRates:
        """Return the rates kept in a file."""
        raw: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        return cls(**raw)

    def write(self, path: Path = FILE) -> None:
        """Write the rates to a file."""
        path.write_text(json.dumps(asdict(self), indent=1, sort_keys=True) + "\n", encoding="utf-8")

    def worst(self, cause: str, question: str) -> tuple[float, float]:
        """Return the highest share of wrong graded, and of wrong Clear findings over the ways of a cause."""
        ways = WAYS_OF[cause]
        return (
            max(self.graded[way].get(question, 0.0) for way in ways),
            max(self.clear[way].get(question, 0.0) for way in ways),
        )


def bench_survival(seed: int = 20261207, matches: int = 200) -> SurvivalRates:
    """Measure the rates of every way that a cause names.

    Parameters
    ----------
    seed, matches : int
        Random state; how many matches of each way.
    """
    ways = [way for group in WAYS_OF.values() for way in group if way in WAYS]
    found = {way: false_rates(way, seed, matches) for way in ways}
    return SurvivalRates(
        seed,
        matches,
        {way: rates.false_by_question for way, rates in found.items()},
        {way: rates.false_clear_by_question for way, rates in found.items()},
        {way: rates.fingerprint for way, rates in found.items()},
    )
