"""Published figures as context: each says whose it is, is listed, and agrees with itself where it can."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from goodlength.findings.reference.published_norms_table import CAUTIONS, table

SOURCES = Path(__file__).parents[2] / "docs" / "sources"


def value(measure: str, sex: str = "women", source: str = "") -> str:
    return next(
        norm.value
        for norm in table()
        if norm.measure == measure and norm.sex == sex and norm.source.startswith(source)
    )


def shares(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"\d+\.\d+", text)]


def test_every_figure_names_level_sex_era_scoring_and_a_listed_source() -> None:
    listed = "".join((SOURCES / name).read_text(encoding="utf-8") for name in ("findings.md", "season.md"))
    assert len(table()) >= 35
    for norm in table():
        assert all(vars(norm).values()), norm
        assert f"- {norm.source}:" in listed, norm.source


def test_the_same_measure_stands_together() -> None:
    measures = [norm.measure for norm in table()]
    assert measures == sorted(measures, key=measures.index)


@pytest.mark.parametrize(
    ("measure", "sex", "source", "total", "within"),
    [
        ("where shots are hit", "women", "HONG", 100.0, 0.005),
        ("what shots did", "women", "HONG", 100.0, 0.005),
        ("what shots did", "men", "HONG", 100.0, 0.015),  # printed to two places: 99.99
        ("shot mix", "women", "GHANI", 100.0, 0.05),
        ("shot mix", "men", "HONG", 100.0, 0.015),
    ],
)
def test_parts_add_up_to_a_hundred(measure, sex, source, total, within) -> None:
    assert sum(shares(value(measure, sex, source))) == pytest.approx(total, abs=within)


@pytest.mark.parametrize(("sex", "ratio"), [("men", 1.20), ("women", 1.18)])
def test_winning_to_losing_shots(sex, ratio) -> None:
    """STATS-REF 7 prints 1.20 and 1.18."""
    _, _, winning, losing = shares(value("what shots did", sex, "HONG"))
    assert winning / losing == pytest.approx(ratio, abs=0.005)


def test_length_of_rallies_fits_their_shots() -> None:
    """Women: 12.4 shots at 1.39 s are 17.2 s; men: 25.1 s at 1.34 s are 18.7 shots."""
    assert pytest.approx(17.2, abs=0.05) == 12.4 * 1.39
    assert pytest.approx(18.7, abs=0.05) == 25.1 / 1.34
    assert "18.7" in value("shots in a rally", "men")


def test_what_they_are_for_is_said() -> None:
    assert "not to aim at" in CAUTIONS[0]
    assert len(CAUTIONS) == 5
