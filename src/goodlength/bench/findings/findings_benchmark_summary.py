"""Summary benchmark of the findings: false alarms, power, coverage, time of one match and of many."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np

from goodlength.bench.findings.false_alarm_rate import coverage, null_rates
from goodlength.bench.findings.season_search_speed import null_sheets, search_seconds
from goodlength.bench.findings.statistical_power import Power, power_table
from goodlength.files.json_types import Json, JsonObject
from goodlength.findings import Names, SeasonMatch, find, find_season, match_line
from goodlength.findings.analyses.serve_mixed_strategy import advise_match
from goodlength.findings.analyses.serve_variation_effect import change_of_serve
from goodlength.findings.rally_masks import RallyMasks
from goodlength.synthetic.simulated_matches import null_match

TRIES = (5, 10, 20, 40)
SEASON_MATCHES = 200
SEARCH_MATCHES = 10_000


class PowerTable(tuple[JsonObject, ...]):
    """Rows of the power table; as text, one line a row."""

    __slots__ = ()

    def __str__(self) -> str:
        """Return a line for each gap and number of serves: how often it is seen, and how often the wrong
        way.
        """
        head = (
            f"\n  {'true shares':<13} {'serves each':>11} {'Clear':>7} {'or Leaning':>11} {'wrong way':>10}"
        )
        lines = [
            f"  {row['first']:.2f} v {row['second']:.2f}   {row['serves']:>11} {row['clear']:>7.3f} "
            f"{row['leaning']:>11.3f} {row['wrong']:>10.4f}"
            for row in self
        ]
        return "\n".join((head, *lines))


@dataclass(frozen=True)
class JudgingFigures:
    """What `bench findings` prints; shares are 0 to 1, times seconds of the processor.

    `page_s` is one match with all its page shows (findings, the line, the change of serve, the mix);
    `season_s` is what `season_matches` matches say together. `sheets_...` are false alarms over all sheets
    between games of a match. `search_10000_s` is the slowest search over 10,000 matches, as waited, None
    where fewer were invented; see `bench.findings.season_search_speed`.
    """

    null_matches: int
    null_any_clear: float
    null_any_clear_error: float
    null_any_leaning: float
    null_any_leaning_error: float
    questions_a_match: float
    coverage_90: float
    coverage_95: float
    coverage_90_worst: float
    coverage_95_worst: float
    match_s: float
    page_s: float
    season_matches: int
    season_rallies: int
    season_s: float
    sheets_null_matches: int
    sheets_any_clear: float
    sheets_any_leaning: float
    search_10000_s: float | None
    power: PowerTable


def bench_finding_grades(
    seed: int = 20261125,
    matches: int = 400,
    season_matches: int = SEASON_MATCHES,
    search_matches: int = SEARCH_MATCHES,
) -> JudgingFigures:
    """Return null rates over invented matches, coverage over n = 5, 10, 20, 40, power, and times."""
    rng = np.random.default_rng(seed)
    null = null_rates(rng, matches)
    ranges = {level: [coverage(n, level) for n in TRIES] for level in (0.90, 0.95)}
    table, names = null_match(rng), Names("Imogen", "Petra")

    def page() -> None:
        view = RallyMasks(table)
        find(table, "a", names)
        match_line(table, "a", names)
        change_of_serve([(view, 0)])
        advise_match(view, 0)

    sheets_of = min(matches, 200)
    sheets_clear, sheets_leaning = null_sheets(np.random.default_rng(seed), sheets_of)
    searched = search_seconds(seed, search_matches)
    season = [SeasonMatch(null_match(rng), "a", "Petra") for _ in range(season_matches)]
    return JudgingFigures(
        null_matches=null.matches,
        null_any_clear=null.null_any_clear,
        null_any_clear_error=null.null_any_clear_error,
        null_any_leaning=null.null_any_leaning,
        null_any_leaning_error=null.null_any_leaning_error,
        questions_a_match=null.questions_a_match,
        coverage_90=float(np.mean([c.mean for c in ranges[0.90]])),
        coverage_95=float(np.mean([c.mean for c in ranges[0.95]])),
        coverage_90_worst=min(c.worst for c in ranges[0.90]),
        coverage_95_worst=min(c.worst for c in ranges[0.95]),
        match_s=_median_time_s(lambda: find(table, "a", names)),
        page_s=_median_time_s(page),
        season_matches=season_matches,
        season_rallies=sum(len(match.table.key) for match in season),
        season_s=_median_time_s(lambda: find_season(season, "Imogen"), times=1),
        sheets_null_matches=sheets_of,
        sheets_any_clear=sheets_clear,
        sheets_any_leaning=sheets_leaning,
        search_10000_s=searched if search_matches == SEARCH_MATCHES else None,
        power=PowerTable(_row(power) for power in power_table()),
    )


def _row(power: Power) -> dict[str, Json]:
    return asdict(power)


def _median_time_s(work: Callable[[], object], times: int = 5) -> float:
    """Return median processor time of some runs after one that warms up, s."""
    work()
    taken = []
    for _ in range(times):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return float(np.median(taken))
