"""The model over many matches, read from recorded tables."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.serving_mixed_model import PlayedMatch, serving
from goodlength.synthetic.simulated_matches import null_match


def test_counts_of_every_level_come_from_the_record():
    tables = [null_match(np.random.default_rng(i)) for i in range(6)]
    fitted = serving([PlayedMatch(t, "ab"[i % 2], f"Opponent {i % 3}") for i, t in enumerate(tables)])
    served = sum(int(((t.server == i % 2) & ~t.let & (t.winner >= 0)).sum()) for i, t in enumerate(tables))
    assert fitted.rallies == served
    for factor in ("kind", "box", "opponent", "score"):
        levels = [level for level in fitted.levels if level.factor == factor]
        assert sum(level.of for level in levels) == served
        for level in levels:
            assert 0 < level.low < level.chance < level.high < 1
    assert {level.level for level in fitted.levels if level.factor == "score"} == {"ahead", "behind", "level"}


def test_a_lead_is_seen_from_the_player_s_side(make):
    rows = [{"server": "b", "kind": "lob", "box": "right", "winner": "b"} for _ in range(4)]
    fitted = serving([PlayedMatch(make(rows), "b", "Imogen")])
    assert fitted.level("score", "ahead").of == 3
    assert fitted.level("score", "level").of == 1


def test_nothing_to_fit_is_refused(make):
    with pytest.raises(OutOfRange, match="at least one rally"):
        serving([PlayedMatch(make([{"server": "a", "kind": "lob"}]), "a", "Petra")])
