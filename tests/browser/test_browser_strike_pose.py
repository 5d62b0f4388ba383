"""A joint dragged in the page, moved by a key, and taken back: the angle follows each time."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import expect

from goodlength import tasks
from goodlength.footage.vision.person_detection import PersonDetection
from goodlength.footage.vision.pose_estimation import Pose
from goodlength.footage.vision.pose_sequence_estimation import PoseSequence, pose_sequence_form
from goodlength.record.model import EntryKind
from goodlength.scoring.scoring_types import Side, Start
from goodlength.tasks.footage import strike_pose_estimation_and_correction

HIP, KNEE, ANKLE = 11, 13, 15


@pytest.fixture
def match_id(served: Any, bikes: Path) -> str:
    """A match with footage, one rally, and joints kept for its serve: a left knee bent to a right angle."""
    library = served.library
    tasks.add_player(library, "Imogen Vale", player_id="iv")
    tasks.add_player(library, "Petra Lindqvist-Ode", player_id="plo")
    tasks.new_match(library, ("iv", "plo"), match_id="m1", start=Start(server=Side.A))
    footage = tasks.add_footage(library, "m1", bikes)
    tasks.answer(
        library, "m1", "r1", EntryKind.SPAN, {"start_us": 1_000_000, "end_us": 2_000_000, "how": "marked"}
    )
    tasks.answer(library, "m1", "r1", EntryKind.WINNER, "a")
    uv = np.zeros((17, 2))
    uv[HIP], uv[KNEE], uv[ANKLE] = (300.0, 60.0), (300.0, 140.0), (380.0, 140.0)
    score = np.where(np.isin(np.arange(17), (HIP, KNEE, ANKLE)), 0.9, 0.0)
    uv[score == 0] = (320.0, 100.0)
    joints = Pose(uv, score, np.full(17, 3.0), np.zeros(17, dtype=bool))
    _, at_us = strike_pose_estimation_and_correction.strike_place(tasks.open_match(library, "m1"), "r1")
    found = PoseSequence((at_us,), (PersonDetection(280.0, 20.0, 400.0, 200.0, 0.9),), (joints,))
    path = strike_pose_estimation_and_correction.body_files(library.folder, "m1")[0]
    path.parent.mkdir()
    path.write_text(
        json.dumps({"r1/1/a": {**pose_sequence_form(found), "at_us": at_us, "footage": footage.id}})
    )
    return "m1"


def knee(page: Any) -> int:
    return int(page.locator("#rows tr").first.locator("td").first.inner_text())


def test_a_joint_is_dragged_moved_and_taken_back(open_page: Any, match_id: str) -> None:
    page = open_page("/matches/m1/body?rally=r1&who=a", wait="body")
    assert knee(page) == 90
    place = page.locator(f"[data-joint='{ANKLE}'] .place").bounding_box()
    x, y = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 40, y + 60, steps=4)
    page.mouse.up()
    expect(page.locator("#state")).to_contain_text("1 set by hand")
    dragged = knee(page)
    assert dragged > 95
    page.locator(f"[data-joint='{ANKLE}']").focus()
    for step in range(4):
        page.keyboard.press("ArrowLeft")
        expect(page.locator("#state")).to_have_attribute("data-saved", str(step + 2))
    assert knee(page) > dragged
    page.keyboard.press("Backspace")
    expect(page.locator("#rows td").first).to_have_text("90")
    expect(page.locator("#state")).not_to_contain_text("by hand")


def test_body_points_stand_on_the_frame_of_contact_of_the_shared_player(
    open_page: Any, match_id: str
) -> None:
    """Before: one still frame, without the player."""
    page = open_page("/matches/m1/body?rally=r1&who=a", wait="body")
    marks = page.locator(".body-marks")
    expect(marks.locator(".joint")).to_have_count(3 + 10)  # three seen, the others of arms, legs and nose
    expect(marks).to_be_visible()
    reach = marks.locator(f"[data-joint='{KNEE}'] .reach").bounding_box()
    assert reach is not None and min(reach["width"], reach["height"]) >= 23.5  # to be pressed by a finger
    page.click("[data-action='frame-on']")
    expect(marks).to_be_hidden()
    page.keyboard.press("a")
    expect(marks).to_be_visible()
    expect(page.locator("#whole")).to_have_text("Whole frame")
    page.click("#whole")
    expect(page.locator("#whole")).to_have_text("Zoom in")
    assert knee(page) == 90


def test_the_feet_of_the_player_are_shown_by_keys_alone(open_page: Any, match_id: str) -> None:
    """Before: by pointer only."""
    page = open_page("/matches/m1/body?rally=r1&who=a", wait="body")
    page.locator("#feet").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#state")).to_contain_text("move the cross")
    expect(page.locator("#frame")).to_be_focused()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    with page.expect_request("**/body/feet") as asked:
        page.keyboard.press("Enter")
    place = asked.value.post_data_json
    assert 320 < place["u"] < 400 and 150 < place["v"] < 0.7 * 272  # of 640 x 272
    expect(page.locator(".body-marks .cross")).to_have_count(0)
    page.locator("#feet").click()
    expect(page.locator(".body-marks .cross")).to_have_count(1)
    page.keyboard.press("Escape")
    expect(page.locator(".body-marks .cross")).to_have_count(0)


def test_feet_of_another_frame_are_not_taken(open_page: Any, match_id: str) -> None:
    """Feet shown a frame after contact were used as those of contact; the frame of contact comes back now."""
    page = open_page("/matches/m1/body?rally=r1&who=a", wait="body")
    marks = page.locator(".body-marks")
    expect(marks).to_be_visible()
    page.locator("#feet").click()
    expect(page.locator(".body-marks .cross")).to_have_count(1)
    page.click("[data-action='frame-on']")
    expect(marks).to_be_hidden()
    sent = []
    page.on("request", lambda request: sent.append(request.url))
    page.locator("#frame").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#state")).to_contain_text("frame of contact")
    expect(marks).to_be_visible()
    assert not [url for url in sent if url.endswith("/body/feet")]
    with page.expect_request("**/body/feet"):
        page.keyboard.press("Enter")
