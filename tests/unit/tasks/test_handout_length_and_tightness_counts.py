"""Length and tightness on the handout: offered in both languages, never chosen by the program."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from goodlength import tasks
from goodlength.bench.findings.simulated_shot_place_generator import PlaceWorld, simulate_places
from goodlength.findings.shot_places.shot_place_report import find_places
from goodlength.findings.shot_places.shot_table import PlacedMatch
from goodlength.languages import language
from goodlength.record.store import Library
from goodlength.synthetic.simulated_matches import null_match
from goodlength.tasks.findings.shot_place_findings import MatchPlaces
from goodlength.tasks.match.lazy_match import open_match
from goodlength.tasks.sharing import handout_length_and_tightness_counts
from goodlength.tasks.sharing.handout_content_and_files import EditedFinding, HandoutEdits, draft_handout
from goodlength.tasks.sharing.handout_length_and_tightness_counts import place_counts
from goodlength.web.routes.sharing.handout_findings_offered_list import handout_choices


@pytest.fixture
def library(tmp_path: Path, demo_library: Path) -> Iterator[Library]:
    folder = tmp_path / "library"
    shutil.copytree(demo_library, folder)
    with tasks.open_library(folder) as opened:
        yield opened


@pytest.fixture
def followed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every match has simulated paths."""
    rng = np.random.default_rng(4)
    table = null_match(rng)
    match = PlacedMatch(table, simulate_places(rng, table, PlaceWorld()).shots, 0)
    found = MatchPlaces(find_places([match], "Imogen", "Petra"), ())
    monkeypatch.setattr(handout_length_and_tightness_counts, "matches_with_paths", lambda _, infos: infos)
    monkeypatch.setattr(handout_length_and_tightness_counts, "match_places", lambda *_: found)


def test_counts_are_offered_and_not_chosen(library: Library, followed: None) -> None:
    opened = open_match(library, "demo")
    draft = draft_handout(opened)
    assert [count.key for count in draft.places] == ["place:length", "place:tight"]
    offered = {choice.key: choice for choice in handout_choices(opened, draft, None)}
    assert not offered["place:length"].chosen and not offered["place:length"].open
    assert all(finding.label not in ("Length", "Tightness") for finding in draft.data.findings)
    chosen = draft_handout(opened, HandoutEdits(findings=(EditedFinding("place:tight"),)))
    (finding,) = chosen.data.findings
    assert finding.headline.endswith("of your straight drives were tight.")
    assert "Petra" not in finding.words


def test_they_are_said_in_german_too(library: Library, followed: None) -> None:
    length, tight = place_counts(open_match(library, "demo"), language("de"))
    assert length.label == "Länge" and "Aufschlagviereck" in length.words
    assert "cm" in tight.words and "{" not in tight.words + tight.headline


def test_without_paths_nothing_is_offered(library: Library) -> None:
    assert draft_handout(open_match(library, "demo")).places == ()


def test_few_shots_are_not_offered(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    table = null_match(rng)
    few = simulate_places(rng, table, PlaceWorld(usable=0.01)).shots
    found = MatchPlaces(find_places([PlacedMatch(table, few, 0)], "Imogen", "Petra"), ())
    monkeypatch.setattr(handout_length_and_tightness_counts, "matches_with_paths", lambda _, infos: infos)
    monkeypatch.setattr(handout_length_and_tightness_counts, "match_places", lambda *_: found)
    assert place_counts(open_match(library, "demo"), language("en")) == ()
