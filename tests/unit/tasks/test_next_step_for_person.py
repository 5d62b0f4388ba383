"""The next thing only a person can do, for every state a match can be in."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any

import pytest

from goodlength.tasks.preparation import MatchProgress, NextStep, next_step

FRESH = MatchProgress(video=True)
HEARD = replace(FRESH, undrafted=78)
CHECKED = replace(HEARD, servers_known=True)
LOGGED = replace(FRESH, logged=78, over=True)
PAGES = {
    "prepare",
    "footage",
    "camera",
    "players",
    "draft",
    "record",
    "findings",
    "plan",
    "handout",
}


@pytest.mark.parametrize(
    ("progress", "button", "page"),
    [
        (MatchProgress(), "Add a video", "footage"),
        (MatchProgress(sending=True, unnamed=True), "Continue sending the video", "prepare"),
        (replace(FRESH, unnamed=True, working="Detecting."), "Name the players", "prepare"),
        (replace(FRESH, trouble="The disk is full."), "See what stopped", "prepare"),
        (replace(FRESH, court=True, working="Detecting."), "Calibrate the camera", "camera"),
        (replace(FRESH, court=True, court_found=True), "Check the detected court", "footage"),
        (replace(FRESH, working="Detecting."), "See the progress", "prepare"),
        (HEARD, "Log 78 rallies", "record"),
        (replace(HEARD, undrafted=1), "Log 1 rally", "record"),
        (replace(CHECKED, who=True), "Say who is who", "players"),
        (CHECKED, "Check the draft", "draft"),
        (replace(CHECKED, can_draft=False), "Log 78 rallies", "record"),
        (replace(FRESH, logged=78, unanswered=14), "Answer 14 rallies", "record"),
        (replace(CHECKED, logged=9, unanswered=1), "Answer 1 rally", "record"),
        (FRESH, "Log the match", "record"),
        (LOGGED, "Read the findings", "findings"),
        (replace(LOGGED, over=False), "Read the findings", "findings"),
        (replace(LOGGED, plan=True), "Make the handout", "handout"),
        (replace(LOGGED, plan=True, handout=True), "Open the handout", "handout"),
    ],
)  # fmt: skip
def test_each_state_has_its_next_step(progress: MatchProgress, button: str, page: str) -> None:
    found = next_step(progress)
    assert (found.button, found.page) == (button, page)


def test_who_reads_the_findings_is_led_to_the_plan_and_from_the_plan_to_the_handout() -> None:
    assert next_step(LOGGED, "findings").button == "Make a plan"
    assert next_step(LOGGED, "plan").button == "Make the handout"
    assert next_step(LOGGED, "record").button == "Read the findings"


def test_what_was_skipped_is_not_asked_again() -> None:
    court, who = replace(HEARD, court=True), replace(CHECKED, who=True)
    assert next_step(court).can_skip and next_step(who).can_skip
    assert next_step(replace(court, skipped=frozenset({"court"}))).name == "log"
    assert next_step(replace(who, skipped=frozenset({"who"}))).name == "draft"


def test_nobody_is_needed_only_while_goodlength_works_and_at_the_end() -> None:
    assert not next_step(replace(FRESH, working="Detecting.")).needed
    assert not next_step(replace(LOGGED, plan=True, handout=True)).needed
    assert next_step(HEARD).needed


def test_every_state_there_is_leads_to_a_page_of_the_match() -> None:
    """All combinations, so that no coach is left without a button."""
    flags = (
        "video", "sending", "unnamed", "court", "who", "can_draft", "servers_known", "over", "plan", "handout",
    )  # fmt: skip
    counts = {"undrafted": (0, 3), "logged": (0, 3), "unanswered": (0, 2)}
    seen: set[str] = set()
    for on in product((False, True), repeat=len(flags)):
        for numbers in product(*counts.values()):
            state: dict[str, Any] = {
                **dict(zip(flags, on, strict=True)),
                **dict(zip(counts, numbers, strict=True)),
            }
            for words in ({}, {"working": "Detecting."}, {"trouble": "The disk is full."}):
                found = next_step(MatchProgress(**state, **words))
                assert isinstance(found, NextStep) and found.page in PAGES and found.why.endswith(".")
                seen.add(found.name)
    assert seen == {
        "send", "add-video", "names", "court", "wait", "trouble", "who", "draft", "log", "findings", "handout",
        "done",
    }  # fmt: skip


def test_a_step_that_failed_stops_nobody_whose_record_is_done():
    done = {"video": True, "trouble": "The disk was full.", "court": True, "logged": 70}
    assert next_step(MatchProgress(**done, over=True)).name == "findings"
    assert next_step(MatchProgress(**done)).name != "trouble"
    assert next_step(MatchProgress(**done, undrafted=4)).name == "trouble"


def test_without_known_servers_each_rally_is_watched_once_on_record():
    """No page of its own comes before Record, and no draft that Record would ask about again."""
    steps = []
    progress = replace(HEARD, court=True)
    for change in ({"skipped": frozenset({"court"})}, {"logged": 78, "undrafted": 0, "over": True}):
        steps.append(next_step(progress).name)
        progress = replace(progress, **change)
    assert [*steps, next_step(progress).name] == ["court", "log", "findings"]
