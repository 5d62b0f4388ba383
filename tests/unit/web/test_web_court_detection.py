"""The court found by itself on the Calibrate page and at the command line: offered, refused, never saved."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.cli.footage import footage_command
from goodlength.errors import OutOfRange
from goodlength.tasks.footage.camera_calibration import detect_court_in
from oracles.drawn_court import camera_of, draw_court, write_court_video


@pytest.fixture
def court_video(tmp_path: Path) -> Path:
    return write_court_video(tmp_path / "court.mp4", draw_court(camera_of()))


@pytest.fixture
def plain_video(tmp_path: Path) -> Path:
    return write_court_video(tmp_path / "plain.mp4", np.full((120, 160, 3), 150, np.uint8), 4)


def test_the_court_is_offered_and_saved_only_when_approved(
    client: TestClient, library: Any, match_id: str, court_video: Path
) -> None:
    footage = tasks.add_footage(library, match_id, court_video).id
    found = client.get(f"/api/footage/{footage}/court?us=900000").json()
    assert found["offered"], found["why"]
    assert 0 < found["error_cm"] < 10
    assert client.get(f"/api/footage/{footage}/camera").json()["cameras"] == []
    page = client.get(f"/matches/{match_id}/camera").text
    assert "Detect the court" in page
    body = {"at_us": 900_000, "clicks": found["clicks"], "keep": True}
    saved = client.post(f"/api/footage/{footage}/camera", json=body).json()
    assert len(saved["cameras"]) == 1
    assert abs(saved["place_m"][1] - camera_of().place_m[1]) < 0.1


def test_a_video_without_a_court_is_refused_in_a_sentence(
    client: TestClient, library: Any, match_id: str, plain_video: Path
) -> None:
    footage = tasks.add_footage(library, match_id, plain_video).id
    found = client.get(f"/api/footage/{footage}/court?us=100000").json()
    assert found == {"offered": False, "clicks": [], "error_cm": None, "why": found["why"]}
    assert found["why"].startswith("No squash court was found in this video.")
    assert client.get("/api/footage/none/court?us=0").status_code == 404


def test_the_command_prints_the_reason_and_json(plain_video: Path) -> None:
    shown = CliRunner().invoke(footage_command, ["court", str(plain_video)])
    assert shown.exit_code == 0
    assert "No squash court was found" in shown.output and "Calibrate page" in shown.output
    form = json.loads(CliRunner().invoke(footage_command, ["court", str(plain_video), "--json"]).output)
    assert form["offered"] is False and form["marks"] == {} and form["error_cm"] is None


def test_a_moment_outside_the_video_is_said(plain_video: Path) -> None:
    with pytest.raises(OutOfRange, match="Choose a moment in between"):
        detect_court_in(plain_video, 60_000_000)
