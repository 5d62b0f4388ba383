"""Pages with nothing on them yet say what will stand there, with a drawing and the one button that begins."""

from __future__ import annotations

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.model import EntryKind

PAGES = {
    "/matches/bare/findings": "What the match shows will stand here",
    "/matches/bare/show": "The rallies will play here",
    "/matches/bare/draft": "The drafted score sheet will stand here",
    "/matches/bare/rallies": "The detected rallies will stand here",
    "/matches/bare/beside": "Two serves will play here, side by side",
    "/matches/bare/measure": "A serve will be measured here",
    "/matches/bare/camera": "The lines of the court will stand here",
    "/matches/bare/players": "Where both players moved will stand here",
    "/matches/bare/plan": "Drills for the next weeks will stand here",
    "/matches/bare/talk": "Clips for the player will stand here",
    "/matches/bare/between": "Three lines for the player will stand here",
    "/matches/bare/body": "A player at contact will stand here",
    "/matches/bare/tell": "How early each serve can be read will stand here",
    "/matches/bare/handout": "Sentences for the player will stand here",
    "/practice/ann": "What practice changes will stand here",
    "/search": "Rallies of all your matches will stand here",
}


@pytest.fixture
def bare(library: Any) -> None:
    """A match of two players, and nothing else."""
    for name in ("ann", "bea"):
        tasks.add_player(library, name.title(), player_id=name)
    tasks.new_match(library, ("ann", "bea"), match_id="bare")


@pytest.mark.usefixtures("bare")
@pytest.mark.parametrize("path", PAGES)
def test_an_empty_page_says_what_will_stand_there_and_how_it_begins(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    (block,) = re.findall(r'<div class="nothing-yet">(.*?)</main>', answer.text, re.DOTALL)
    assert PAGES[path] in block
    assert "print-button.js" not in answer.text or 'id="print"' in answer.text  # the script needs its button
    assert 'class="court-sketch"' in block
    begins = re.search(r'<a class="button" href="([^"]+)">', block)
    assert begins is not None
    there = client.get(begins[1].replace("&amp;", "&").partition("#")[0])
    assert there.status_code == 200


@pytest.mark.usefixtures("bare")
def test_body_position_of_a_match_without_a_video_says_so_and_leads_to_footage(
    client: TestClient, library: Any
) -> None:
    """Before: one sentence on an empty page."""
    span = {"start_us": 1_000_000, "end_us": 2_000_000, "how": "marked"}
    tasks.answer(library, "bare", "r1", EntryKind.SPAN, span)
    tasks.answer(library, "bare", "r1", EntryKind.WINNER, "a")
    page = client.get("/matches/bare/body").text
    (block,) = re.findall(r'<div class="nothing-yet">(.*?)</main>', page, re.DOTALL)
    assert "There is no video at the time of that shot." in block
    assert '<a class="button" href="/matches/bare/footage">Open Footage</a>' in block
