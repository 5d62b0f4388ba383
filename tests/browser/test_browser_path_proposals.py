"""Record with proposals from the ball's path: Enter takes all, a number answers one, both are kept."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.files.library_layout import followed_ball_file
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.record.model import EntryKind
from goodlength.scoring.scoring_types import Side, Start
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.ball import ball_following_inputs
from tests.oracles.followed_shots import (
    SECOND,
    made_match,
    made_path,
    made_rally,
    made_serve,
    unchanged_inputs,
)


@pytest.fixture
def proposed(served: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Two rallies marked in a film; paths of both, sure of the kind of serve and of how it was taken."""
    library = served.library
    for player_id, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(library, name, player_id=player_id)
    tasks.new_match(library, ("iv", "plo"), match_id="m1", start=Start(server=Side.A))
    recipe = Recipe(tuple(range(5 * 24)), base=Fraction(1, 5), key_every=5, b_frames=0, sound="")
    item = tasks.add_footage(library, "m1", draw(tmp_path / "numbered.mp4", recipe))
    for start in (2 * SECOND, 13 * SECOND):
        tasks.add_rally(tasks.open_match(library, "m1"), start, start + 6 * SECOND)
    rallies = []
    for marked in tasks.listed_rallies(tasks.open_match(library, "m1")).rallies:
        start = marked.start_us
        begun = made_rally(f"h:{marked.id}", item.id, begin_us=start - SECOND)
        second = replace(begun.shots[1], strike_chance=0.99)
        third = replace(second, number=3, paths=(made_path(start + 2 * SECOND, 0.9),))
        serve = replace(made_serve(), kinds={"lob": 0.99}, taken={"volleyed": 0.98})
        rallies.append(replace(begun, serve=serve, shots=(begun.shots[0], second, third)))
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(rallies))
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", *rallies))
    return library


def logged(library: Any) -> list[tuple[str, EntryKind, Any]]:
    opened = tasks.open_match(library, "m1")
    wanted = (EntryKind.PROPOSED, EntryKind.KIND, EntryKind.HOW_TAKEN)
    return [(entry.rally, entry.what, entry.value) for entry in opened.entries if entry.what in wanted]


def test_a_proposal_stands_marked_and_is_taken_or_changed(open_page: Any, proposed: Any) -> None:
    page = open_page("/matches/m1/record", wait="record")
    sentence = page.locator(".rally-sentence")
    expect(sentence).to_contain_text("a lob (proposed)")
    expect(sentence).to_contain_text("volleyed it (proposed)")
    expect(page.locator(".answers .proposed")).to_have_text("proposed from the ball’s path, 98%")
    assert logged(proposed) == []  # shown is not said
    page.keyboard.press("1")
    expect(sentence).not_to_contain_text("a lob (proposed)")
    expect(sentence).to_contain_text("volleyed it (proposed)")
    page.keyboard.press("3")  # after the bounce
    expect(sentence).to_contain_text("took it after the bounce")
    expect(page.locator("html")).to_have_attribute("data-waiting", "0")
    (first, *rest) = logged(proposed)
    assert first[1] is EntryKind.PROPOSED and first[2]["by"] == "ball-path"
    assert [(each["what"], each["value"]) for each in first[2]["answers"]] == [
        ("serve.kind", "lob"),
        ("return.how", "volleyed"),
    ]
    assert [(what, value) for _, what, value in rest] == [
        (EntryKind.KIND, "lob"),
        (EntryKind.HOW_TAKEN, "after-the-bounce"),
    ]


def test_enter_takes_all_that_is_proposed_up_to_the_next_open_question(open_page: Any, proposed: Any) -> None:
    page = open_page("/matches/m1/record", wait="record")
    sentence = page.locator(".rally-sentence")
    expect(sentence).to_contain_text("volleyed it (proposed)")
    page.keyboard.press("Enter")
    expect(sentence).to_contain_text("volleyed it")
    expect(sentence).not_to_contain_text("(proposed)")
    expect(page.locator("#question")).to_have_text("How good was the return?")
    expect(page.locator("html")).to_have_attribute("data-waiting", "0")
    assert [(what, value) for _, what, value in logged(proposed)[1:]] == [
        (EntryKind.KIND, "lob"),
        (EntryKind.HOW_TAKEN, "volleyed"),
    ]


def test_a_proposal_may_be_skipped_and_a_step_back_brings_it_again(open_page: Any, proposed: Any) -> None:
    page = open_page("/matches/m1/record", wait="record")
    sentence = page.locator(".rally-sentence")
    expect(sentence).to_contain_text("a lob (proposed)")
    page.get_by_role("button", name="skip").click()
    expect(sentence).to_contain_text("kind not logged")
    page.keyboard.press("Backspace")
    expect(sentence).to_contain_text("a lob (proposed)")
