"""The season's bench: invented columns have the form of real ones, and figures that can be true."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.bench.findings import season_search_speed as bench
from goodlength.record.store import Library
from goodlength.record.store.season.season_column_building import TYPES
from goodlength.synthetic import simulated_season_library
from goodlength.synthetic.simulated_matches import null_match
from goodlength.tasks.findings.season_search import SeasonQuestion, search


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    with Library.open(tmp_path_factory.mktemp("bench") / "lib") as library:
        rallies = bench.invent(library, np.random.default_rng(5), 45)
        yield library, rallies


def test_invented_columns_are_those_of_the_record(invented):
    library, rallies = invented
    info = library.match_info("m0")
    made = simulated_season_library.season_columns(info, null_match(np.random.default_rng(1)))
    assert list(made) == list(TYPES)
    assert search(library, SeasonQuestion()).total == rallies


def test_every_question_of_the_bench_finds_something_in_a_season(invented):
    library, _ = invented
    found = [search(library, asked).total for asked in bench.QUESTIONS if asked.player is None]
    assert all(found)


def test_figures_are_measured(tmp_path):
    rng = np.random.default_rng(3)
    rallies, size, first, slowest, changed = bench.searches(tmp_path / "lib", rng, 20)
    assert rallies > 20 * 30
    assert size > 0
    assert min(first, slowest, changed) > 0
    clear, leaning = bench.null_sheets(rng, 5)
    assert 0 <= clear <= leaning <= 1
