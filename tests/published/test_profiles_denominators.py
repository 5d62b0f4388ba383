"""Denominators (needs A1): with and without lets are different figures, and each says which it is.

CARBOCH-STRNAD-2017: returns volleyed 72 in 100 with "effectiveness" 42, after the bounce 28 with 37. The
weighted figure .72 * .42 + .28 * .37 = .406 counts lets as not won if 17.7 in 100 rallies are lets; of the
decided rallies the receiver then won .406 / .823 = .493.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from goodlength import tasks
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.reports.player_across_matches import across
from goodlength.forms.findings.player_across_matches_json import across_form, across_lines
from goodlength.record import EntryKind
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.tables.rally_table import RallyTable
from goodlength.scoring import Side, Start
from goodlength.tasks.findings.player_across_matches import over_matches

RALLIES, LETS, RECEIVED = 1000, 177, 406


def table(match: str, won: int, lets: int, of: int) -> RallyTable:
    """A serves every rally; B, the receiver, wins `won` of them."""
    winner = np.array([1] * won + [0] * (of - lets - won) + [-1] * lets, dtype=np.int16)
    blank = np.full(of, -1, dtype=np.int16)
    zero = np.zeros(of, dtype=np.int16)
    return RallyTable(
        match=match,
        key=tuple(f"r{n}" for n in range(of)),
        game=zero + 1,
        n_in_game=np.arange(1, of + 1, dtype=np.int16),
        server=zero,
        box=zero,
        kinds=("lob",),
        kind=blank,
        how_taken=blank,
        left=blank,
        winner=winner,
        let=winner < 0,
        ending=blank,
        ending_stroke=blank,
        score_a=zero,
        score_b=zero,
        length_s=np.full(of, np.nan),
        shots=blank,
        placed=(None,) * of,
    )


def test_the_published_figures_hang_together() -> None:
    with_lets = 0.72 * 0.42 + 0.28 * 0.37
    assert with_lets == pytest.approx(0.406, abs=5e-4)
    assert with_lets / (1 - LETS / RALLIES) == pytest.approx(0.493, abs=5e-4)


def test_a_profile_prints_both_figures_with_their_denominators() -> None:
    halves = [table("m1", 203, 88, 500), table("m2", 203, 89, 500)]
    found = across([SeasonMatch(halve, "b", "Petra") for halve in halves], "Imogen")
    receiving = found.receiving
    assert receiving.lets == LETS
    assert receiving.with_lets.seen == pytest.approx(0.406, abs=5e-4)
    assert receiving.decided.seen == pytest.approx(0.493, abs=5e-4)
    said = "\n".join(across_lines(found))
    assert "406 of 823 excluding lets, 406 of 1000 with lets counted as not won" in said
    form = across_form(found)
    row = next(item for item in form["rows"] if item["measure"] == "receiving")
    assert "lets excluded" in row["out_of"]
    assert [figure["share"]["of"] for figure in row["figures"]] == [412, 411]


@pytest.fixture
def library(tmp_path):
    """Two matches of 17 decided rallies and 4 lets, through the store: 19 in 100 are lets."""
    with tasks.open_library(tmp_path / "lib") as opened:
        tasks.add_player(opened, "Imogen Vale", player_id="iv")
        tasks.add_player(opened, "Petra Lindqvist-Ode", player_id="pl")
        for match in ("m1", "m2"):
            tasks.new_match(opened, ("iv", "pl"), match_id=match, start=Start(server=Side.A))
            pen = EntryWriter(match, mark=match)
            for n in range(21):
                if n % 5 == 4:
                    pen.write(f"r{n}", EntryKind.ENDING, "let")
                else:
                    pen.write(f"r{n}", EntryKind.WINNER, "ab"[n % 2])
            tasks.record_answers(opened, match, pen.entries)
        yield opened


def test_every_door_over_matches_leaves_lets_out_and_says_so(library) -> None:
    from goodlength.tasks.findings.season_search import SeasonQuestion, search

    found = search(library, SeasonQuestion(player="iv"))
    assert (found.total, found.decided, found.lets) == (42, 34, 8)
    assert re.search(r"won \d+ of 34 \(8 lets excluded\)", found.words)
    whole = over_matches(library, "imogen")
    for row in (whole.serving, whole.receiving):
        assert row.with_lets.of == row.decided.of + row.lets
        assert row.with_lets.count == row.decided.count
    assert whole.serving.decided.of + whole.receiving.decided.of == 34
    assert sum(opponent.serving.of + opponent.receiving.of for opponent in whole.opponents) == 34
