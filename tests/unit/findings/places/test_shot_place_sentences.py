"""Sentences about places: the spread of a distance, and the error of measuring taken out of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.findings.shot_places.shot_length_tightness_and_spread import PlaceSpread, place_facts
from goodlength.findings.shot_places.shot_place_sentences import fact_lines
from goodlength.findings.shot_places.shot_table import PlacedMatch, empty_shots
from goodlength.synthetic.simulated_matches import null_match


@pytest.mark.parametrize(
    ("spread", "words"),
    [
        (
            PlaceSpread(20, 0.41, 0.066, 0.4047),
            "The distance varies by 40 cm (standard deviation): 41 cm as measured, the error of one "
            "measurement, about 7 cm, taken out.",
        ),
        (
            PlaceSpread(20, 0.05, 0.08, 0.0),
            "The distance varies by no more than the error of one measurement, about 8 cm (standard deviation "
            "as measured: 5 cm).",
        ),
    ],
)
def test_the_spread_names_the_error_itself(spread: PlaceSpread, words: str) -> None:
    """Variances are subtracted: the difference of two standard deviations is not the error of measuring."""
    table = null_match(np.random.default_rng(3))
    facts = replace(place_facts([PlacedMatch(table, empty_shots(), 0)], 0), tight_spread=spread)
    assert list(fact_lines("Imogen", "Petra", facts)) == [words]
