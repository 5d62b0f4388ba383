"""Joints at a strike in the page: found at clicked feet, moved, taken back, refused in words."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.footage.vision import pose_sequence_estimation as found_in
from goodlength.footage.vision.person_detection import PersonDetection
from goodlength.footage.vision.pose_estimation import Pose
from goodlength.footage.vision.pose_sequence_estimation import PoseSequence
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw

KNEE, ANKLE = 13, 15


@pytest.fixture
def filmed(
    client: TestClient, library: Any, match_id: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> str:
    def found(_path: str, at_us: int, feet: tuple[float, float], **_: Any) -> PoseSequence:
        uv = np.zeros((17, 2))
        uv[11], uv[KNEE], uv[ANKLE] = (0.0, 0.0), (0.0, 100.0), (100.0, 100.0)
        score = np.where(np.isin(np.arange(17), (11, KNEE, ANKLE)), 0.9, 0.1)
        joints = Pose(uv, score, np.full(17, 4.0), np.zeros(17, dtype=bool))
        nobody = feet[1] < 10
        return PoseSequence(
            (at_us,),
            (None if nobody else PersonDetection(*feet, 200.0, 300.0, 0.9),),
            (None if nobody else joints,),
        )

    monkeypatch.setattr(found_in, "pose_sequence", found)
    tasks.add_footage(library, match_id, draw(tmp_path / "one.mp4", Recipe(tuple(range(60)), sound="")))
    span = {"start_us": 500_000, "end_us": 900_000, "how": "marked"}
    tasks.answer(library, match_id, "r1", EntryKind.SPAN, span)
    tasks.answer(library, match_id, "r1", EntryKind.WINNER, "a")
    return "r1"


def left_knee(form: dict[str, Any]) -> float | None:
    return next(
        item["degrees"] for item in form["angles"] if (item["name"], item["side"]) == ("knee", "left")
    )


def test_joints_are_found_at_clicked_feet_moved_and_taken_back(
    client: TestClient, match_id: str, filmed: str
) -> None:
    page = client.get(f"/matches/{match_id}/body").text
    assert 'data-rally="r1"' in page
    base = {"rally": filmed, "who": "a"}
    first = client.post(f"/api/matches/{match_id}/body/feet", json={**base, "u": 100, "v": 100}).json()
    assert left_knee(first) == 90.0
    assert sum(item["seen"] for item in first["joints"]) == 3
    moved = {**base, "at_us": first["at_us"], "joint": ANKLE, "u": 0, "v": 200}
    after = client.post(f"/api/matches/{match_id}/body/joint", json=moved).json()
    assert (left_knee(after), after["joints"][ANKLE]["by_hand"], after["corrected"]) == (180.0, True, 1)
    assert left_knee(client.get(f"/api/matches/{match_id}/body", params=base).json()) == 180.0
    back = client.post(f"/api/matches/{match_id}/body/joint", json={**moved, "u": None, "v": None}).json()
    assert (left_knee(back), back["corrected"]) == (90.0, 0)


def test_nobody_there_and_places_not_known_are_said(client: TestClient, match_id: str, filmed: str) -> None:
    base = {"rally": filmed, "who": "b"}
    nobody = client.post(f"/api/matches/{match_id}/body/feet", json={**base, "u": 5, "v": 5})
    assert nobody.status_code == 404 and "No player was found there" in nobody.json()["error"]["words"]
    unknown = client.get(f"/api/matches/{match_id}/body", params=base)
    assert unknown.status_code == 422 and "track the players" in unknown.json()["error"]["words"]
    wrong = {**base, "at_us": 0, "joint": 40, "u": 1, "v": 1}
    assert client.post(f"/api/matches/{match_id}/body/joint", json=wrong).status_code == 422


def test_a_match_without_times_says_what_to_do(client: TestClient, match_id: str) -> None:
    assert "No rally has a time yet" in client.get(f"/matches/{match_id}/body").text
