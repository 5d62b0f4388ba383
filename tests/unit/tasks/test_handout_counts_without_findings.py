"""The handout of a match in which nothing is clear: plain counts by stated rules, and no guess."""

from __future__ import annotations

import shutil
from datetime import date

import pytest

from goodlength import tasks
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.show.handout.handout_types import PLAIN

TODAY = date(2026, 3, 14)


@pytest.fixture
def library(tmp_path):
    with tasks.open_library(tmp_path / "lib") as opened:
        yield opened


def drafted(library, rallies):
    """Return the handout of a match of these rallies, (kind of serve, winner) each."""
    vale, marsh = tasks.add_player(library, "Imogen Vale"), tasks.add_player(library, "Oona Marsh")
    info = tasks.new_match(library, (vale.id, marsh.id))
    pen = EntryWriter(info.id)
    for n, (kind, winner) in enumerate(rallies):
        pen.rally(f"r{n}", kind=kind, how="volleyed", left="loose", winner=winner)
    library.append(pen.entries)
    return tasks.draft_handout(tasks.open_match(library, info.id), today=TODAY)


def test_nothing_clear_gives_three_plain_counts_without_a_grade(library):
    draft = drafted(library, [("lob", "a")] * 6 + [("hard", "b")])  # the first served by the other
    assert [finding.grade for finding in draft.data.findings] == [PLAIN] * 3
    assert [finding.label for finding in draft.data.findings] == [
        "What was played",
        "What went well",
        "To try",
    ]
    played, well, to_try = draft.data.findings
    assert played.headline == "You won 6 of 7 rallies."
    assert "Lob\u00a05" in played.words and "Hard\u00a01" in played.words
    assert well.headline == "Lob: you won 5 of 5 rallies." and "may be chance" in well.words
    assert to_try.headline == "Try more: Hard."
    assert to_try.words.startswith("1 of 6 serves were of this kind: too few to judge")


def test_without_a_kind_that_won_half_the_longest_run_went_well(library):
    draft = drafted(library, [("lob", "b"), *[(None, "a")] * 4, ("lob", "b")])
    assert draft.data.findings[1].headline == "You won 4 rallies in a row."


def test_without_a_run_the_game_with_most_points_went_well(library):
    draft = drafted(library, [("lob", "a"), ("lob", "b")] * 2)
    assert draft.data.findings[1].headline == "Your most points in one game: 2."


def test_a_serve_at_the_body_is_never_what_to_try(library):
    draft = drafted(library, [("lob", "a")] * 6 + [("body-feet", "a")])
    assert draft.data.findings[2].headline == "Try one kind of serve on purpose."


def test_a_match_without_a_rally_has_none(library):
    assert drafted(library, []).data.findings == ()


def test_findings_with_a_grade_leave_the_plain_counts_to_be_chosen(tmp_path, demo_library):
    shutil.copytree(demo_library, tmp_path / "demo")
    with tasks.open_library(tmp_path / "demo") as demo:
        draft = tasks.draft_handout(tasks.open_match(demo, "demo"), today=TODAY)
    assert PLAIN not in {finding.grade for finding in draft.data.findings}
    assert [count.key for count in draft.counts] == ["plain:played", "plain:well", "plain:try"]
