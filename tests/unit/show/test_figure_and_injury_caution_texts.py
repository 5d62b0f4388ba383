"""Cautions: what guards a body names its sources, and the sources are listed."""

import re
from pathlib import Path

import pytest

from goodlength.show import figure_and_injury_caution_texts

ROOT = Path(__file__).parents[3]


@pytest.mark.parametrize("caution", figure_and_injury_caution_texts.ALL[1:], ids=lambda c: c.lead)
def test_each_bodily_caution_cites_listed_sources(caution):
    listed = set(re.findall(r"^- ([A-Z0-9-]+):", (ROOT / "docs/sources/show.md").read_text("utf-8"), re.M))
    assert caution.sources
    assert set(caution.sources) <= listed


def test_the_handout_says_one_match_one_opponent_and_ranges():
    line = figure_and_injury_caution_texts.handout_caution()
    assert line.startswith("One match against one opponent.")
    assert "95% ranges" in line
    assert "eye protection" in line


def test_a_junior_is_told_that_eye_protection_is_a_must():
    assert "is a must" in figure_and_injury_caution_texts.handout_caution(junior=True)
    assert "is a must" not in figure_and_injury_caution_texts.handout_caution()
