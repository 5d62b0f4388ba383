"""`bench findings`: what it measures, and that its table of power can be read by people and by programs."""

import json
from dataclasses import asdict

from goodlength.bench.findings import findings_benchmark_summary
from goodlength.bench.findings.statistical_power import GAPS, SIZES, power


def test_all_is_measured_and_the_power_table_is_the_exact_one() -> None:
    figures = findings_benchmark_summary.bench_finding_grades(
        seed=3, matches=4, season_matches=2, search_matches=20
    )
    assert figures.null_matches == 4
    assert figures.season_matches == 2
    assert figures.season_rallies > 60
    assert 0 < figures.match_s <= figures.page_s * 1.5
    assert figures.season_s > 0
    assert 0 <= figures.sheets_any_clear <= figures.sheets_any_leaning <= 1
    assert figures.search_10000_s is None  # only 20 were invented
    assert len(figures.power) == len(GAPS) * len(SIZES)
    row = next(item for item in figures.power if (item["serves"], item["first"]) == (20, 0.7))
    assert row["clear"] == power(20, 0.7, 0.25).clear
    form = json.loads(json.dumps(asdict(figures)))
    assert form["power"][0].keys() == asdict(power(10, 0.55, 0.45)).keys()
    lines = str(figures.power).strip().splitlines()
    assert len(lines) == len(figures.power) + 1
    assert lines[-1].split()[:4] == ["0.80", "v", "0.20", "80"]
