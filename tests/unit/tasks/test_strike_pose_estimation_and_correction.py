"""Joints around a strike: found once, kept, put right by hand, told in degrees; the next step where unknown."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.errors import InputError, NotFound
from goodlength.footage.vision import pose_sequence_estimation as found_in
from goodlength.footage.vision.person_detection import PersonDetection
from goodlength.footage.vision.pose_estimation import Pose
from goodlength.footage.vision.pose_sequence_estimation import PoseSequence
from goodlength.forms.footage.strike_pose_json import body_form
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.footage import strike_pose_estimation_and_correction

SECOND = 1_000_000
KNEE = 13


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    def found(_path: str, at_us: int, feet: tuple[float, float], **_: Any) -> PoseSequence:
        uv = np.zeros((17, 2))
        uv[11], uv[KNEE], uv[15] = (0.0, 0.0), (0.0, 100.0), (100.0, 100.0)
        joints = Pose(
            uv, np.where(np.isin(np.arange(17), (11, 13, 15)), 0.9, 0.1), np.full(17, 4.0), np.zeros(17, bool)
        )
        return PoseSequence((at_us,), (PersonDetection(*feet, 200.0, 300.0, 0.9),), (joints,))

    monkeypatch.setattr(found_in, "pose_sequence", found)
    with Library.open(tmp_path / "library") as item:
        for player in ("a", "b"):
            tasks.add_player(item, f"Player {player.upper()}", player_id=player)
        tasks.new_match(item, ("a", "b"), match_id="m1")
        tasks.add_footage(item, "m1", draw(tmp_path / "one.mp4", Recipe(tuple(range(60)), sound="")))
        span = {"start_us": SECOND // 2, "end_us": SECOND, "how": "marked"}
        for what, value in (
            (EntryKind.SPAN, span),
            (EntryKind.SERVER, "a"),
            (EntryKind.BOX, "left"),
            (EntryKind.WINNER, "a"),
        ):
            tasks.answer(item, "m1", "r1", what, value)
        yield item


def knee(found: strike_pose_estimation_and_correction.StrikeBody) -> dict[str, Any]:
    return next(a for a in body_form(found)["angles"] if (a["name"], a["side"]) == ("knee", "left"))


def test_angles_are_told_with_their_error_and_kept(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    first = strike_pose_estimation_and_correction.strike_body(
        tasks.open_match(library, "m1"), "r1", "a", feet=(100.0, 100.0)
    )
    assert knee(first)["degrees"] == 90.0
    assert knee(first)["error_degrees"] == pytest.approx(4.6, abs=0.1)  # 0.08 rad
    monkeypatch.setattr(found_in, "pose_sequence", lambda *_, **__: pytest.fail("it was kept"))
    assert (
        knee(strike_pose_estimation_and_correction.strike_body(tasks.open_match(library, "m1"), "r1", "a"))[
            "degrees"
        ]
        == 90.0
    )
    assert first.hand is None  # no camera, so no metres


def test_a_joint_dragged_stands_over_the_machines_and_can_be_taken_back(library: Library) -> None:
    found = strike_pose_estimation_and_correction.strike_body(
        tasks.open_match(library, "m1"), "r1", "a", feet=(100.0, 100.0)
    )
    assert (
        strike_pose_estimation_and_correction.correct_joint(
            tasks.open_match(library, "m1"), "r1", "a", found.at_us, 15, (0.0, 200.0)
        )
        == 1
    )
    assert (
        knee(strike_pose_estimation_and_correction.strike_body(tasks.open_match(library, "m1"), "r1", "a"))[
            "degrees"
        ]
        == 180.0
    )
    assert (
        strike_pose_estimation_and_correction.correct_joint(
            tasks.open_match(library, "m1"), "r1", "a", found.at_us, 15, None
        )
        == 0
    )
    assert (
        knee(strike_pose_estimation_and_correction.strike_body(tasks.open_match(library, "m1"), "r1", "a"))[
            "degrees"
        ]
        == 90.0
    )
    with pytest.raises(InputError, match="0 to 16"):
        strike_pose_estimation_and_correction.correct_joint(
            tasks.open_match(library, "m1"), "r1", "a", found.at_us, 99, (1.0, 1.0)
        )
    with pytest.raises(InputError, match="two numbers"):
        strike_pose_estimation_and_correction.correct_joint(
            tasks.open_match(library, "m1"), "r1", "a", found.at_us, 3, (float("nan"), 1.0)
        )


def test_strikers_alternate_and_unknown_shots_are_said(library: Library) -> None:
    assert [
        strike_pose_estimation_and_correction.striker_of(tasks.open_match(library, "m1"), "r1", n)
        for n in (1, 2, 3)
    ] == ["a", "b", "a"]
    with pytest.raises(NotFound, match="shot 4"):
        strike_pose_estimation_and_correction.strike_body(tasks.open_match(library, "m1"), "r1", "a", shot=4)
    with pytest.raises(NotFound, match="no rally"):
        strike_pose_estimation_and_correction.strike_body(tasks.open_match(library, "m1"), "r9", "a")


def test_without_a_place_the_next_step_is_said(library: Library) -> None:
    with pytest.raises(InputError, match="track the players"):
        strike_pose_estimation_and_correction.strike_body(tasks.open_match(library, "m1"), "r1", "b")


def test_nobody_at_a_place_is_said_and_what_was_kept_stays(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    strike_pose_estimation_and_correction.strike_body(
        tasks.open_match(library, "m1"), "r1", "a", feet=(100.0, 100.0)
    )
    monkeypatch.setattr(
        found_in, "pose_sequence", lambda _p, at_us, _f, **_: PoseSequence((at_us,), (None,), (None,))
    )
    with pytest.raises(NotFound, match="No player was found there"):
        strike_pose_estimation_and_correction.strike_body(
            tasks.open_match(library, "m1"), "r1", "a", feet=(1.0, 1.0)
        )
    assert (
        knee(strike_pose_estimation_and_correction.strike_body(tasks.open_match(library, "m1"), "r1", "a"))[
            "degrees"
        ]
        == 90.0
    )


def test_the_command_prints_degrees(library: Library, capsys: pytest.CaptureFixture[str]) -> None:
    args = ["--library", str(library.folder)]
    main(args=["footage", "body", "m1", "1", "--feet", "100", "100", *args])
    said = capsys.readouterr().out
    assert "left knee          90 degrees, ± 9 (95% range)" in said
    assert "right knee      not given: not all of its body points are seen" in said
    main(args=["footage", "body", "m1", "1", "--json", *args])
    assert json.loads(capsys.readouterr().out)["who"] == "a"
