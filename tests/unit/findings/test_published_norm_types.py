"""Published figures: each says who, when and how, and has its source listed."""

from __future__ import annotations

from pathlib import Path

from goodlength.findings.reference.published_norm_types import CAUTION, NORMS

LISTED = Path(__file__).parents[3] / "docs" / "sources" / "findings.md"


def test_every_figure_says_whose_it_is_and_where_from():
    listed = LISTED.read_text(encoding="utf-8")
    for norm in NORMS:
        assert all(vars(norm).values())
        assert norm.source in listed


def test_norms_are_context_not_targets():
    assert "not to aim at" in CAUTION
    assert {norm.sex for norm in NORMS if norm.measure == "time between shots"} == {"men", "women"}
