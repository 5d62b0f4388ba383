"""The court found by itself on the Calibrate page and at the command line: offered, refused, never saved."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.cli.footage import footage_command
from goodlength.errors import Cancelled, OutOfRange
from goodlength.files.library_layout import court_proposal_file
from goodlength.footage.court_detection import detect_court_in
from goodlength.footage.court_detection.court_detection_in_video import court_detection_job
from goodlength.footage.media.video_probe import probe_with_frames
from goodlength.record.model import Footage
from goodlength.tasks.footage import camera_calibration
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
    assert all(click["detected"] for click in found["clicks"])
    assert client.get(f"/api/footage/{footage}/camera").json()["cameras"] == []
    page = client.get(f"/matches/{match_id}/camera").text
    assert "Detect the court" in page
    body = {"at_us": 900_000, "clicks": found["clicks"], "keep": True}
    saved = client.post(f"/api/footage/{footage}/camera", json=body).json()
    assert len(saved["cameras"]) == 1
    assert abs(saved["place_m"][1] - camera_of().place_m[1]) < 0.1
    assert saved["words"][0] == f"All {len(found['clicks'])} marks were detected together."
    assert saved["floor"]["median_cm"] == pytest.approx(found["error_cm"], rel=0.05)
    by_hand = [{key: click[key] for key in ("mark", "u", "v")} for click in found["clicks"]]
    clicked = client.post(f"/api/footage/{footage}/camera", json={"at_us": 900_000, "clicks": by_hand}).json()
    # the same marks clicked: residuals next to nothing, which says nothing of marks from one fit
    assert clicked["floor"]["median_cm"] < saved["floor"]["median_cm"]


def test_a_video_without_a_court_is_refused_in_a_sentence(
    client: TestClient, library: Any, match_id: str, plain_video: Path
) -> None:
    footage = tasks.add_footage(library, match_id, plain_video).id
    found = client.get(f"/api/footage/{footage}/court?us=100000").json()
    assert found == {"offered": False, "clicks": [], "error_cm": None, "why": found["why"], "note": ""}
    assert found["why"].startswith("No squash court was found in this video.")
    assert client.get("/api/footage/none/court?us=0").status_code == 404


def detect(library: Any, footage: str) -> None:
    """Run the job that begins when a file is added, here and now."""
    told: list[tuple[str, Any]] = []

    class Jobs:
        folder = library.folder / "jobs"

        def states(self) -> tuple[()]:
            return ()

        def start(self, kind: str, function: Any, args: dict[str, Any]) -> str:
            function(**args, progress=lambda share, words: told.append((words, share)), cancel=lambda: False)
            return kind

    assert camera_calibration.start_court_detection(library, footage, Jobs()) == "court"
    assert told[-1][1] == 1.0
    assert camera_calibration.start_court_detection(library, footage, Jobs()) is None  # looked for already


@pytest.fixture(scope="module")
def court_library(
    tmp_path_factory: pytest.TempPathFactory, new_match: Callable[[Any], str]
) -> tuple[Path, Footage]:
    """A library with a match whose court was detected on adding, to be copied; and the file added."""
    folder = tmp_path_factory.mktemp("court")
    video = write_court_video(folder / "court.mp4", draw_court(camera_of()))
    with tasks.open_library(folder / "library") as library:
        added = tasks.add_footage(library, new_match(library), video)
        detect(library, added.id)
    return folder / "library", added


@pytest.fixture
def library_template(request: pytest.FixtureRequest) -> Path | None:
    """With the court detected where a test asks for it."""
    return request.getfixturevalue("court_library")[0] if "court_library" in request.fixturenames else None


def test_a_court_found_on_adding_waits_for_one_press(
    client: TestClient,
    library: Any,
    match_id: str,
    court_library: tuple[Path, Footage],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    footage = court_library[1].id
    page = client.get(f"/matches/{match_id}/footage").text
    assert "The court was detected." in page and "left is left" in page
    assert page.count('class="over ') > 10  # lines over the frame
    assert client.get(f"/api/footage/{footage}/camera").json()["cameras"] == []
    begin = begin_of(client.get(f"/matches/{match_id}/camera").text)
    assert begin["proposal"]["offered"] and begin["at_us"] == 1_000_000
    stated = re.search(r"accurate to about ([\d.]+) cm", page)
    assert stated is not None and float(stated[1]) == pytest.approx(begin["proposal"]["error_cm"], abs=0.06)
    woken: list[bool] = []
    monkeypatch.setattr(client.app.state.preparation, "notify", lambda: woken.append(True))
    answer = client.post(f"/matches/{match_id}/footage/{footage}/court", follow_redirects=False)
    assert answer.status_code == 303
    assert woken == [True]  # the queue goes on with what waited for the court
    (saved,) = client.get(f"/api/footage/{footage}/camera").json()["cameras"]
    assert all(click["detected"] for click in saved["clicks"])
    assert "The court was detected." not in client.get(f"/matches/{match_id}/footage").text
    assert begin_of(client.get(f"/matches/{match_id}/camera").text)["proposal"] is None


def test_no_court_found_on_adding_is_said_and_cannot_be_saved(
    client: TestClient, library: Any, match_id: str, plain_video: Path
) -> None:
    footage = tasks.add_footage(library, match_id, plain_video).id
    detect(library, footage)
    page = client.get(f"/matches/{match_id}/footage").text
    assert "No squash court was found in this video." in page and "Set the marks of the court" in page
    page = client.post(f"/matches/{match_id}/footage/{footage}/court").text
    assert "There is no detected court to save." in page
    assert client.get(f"/api/footage/{footage}/camera").json()["cameras"] == []


def test_a_proposal_of_a_file_that_changed_is_not_shown(
    library: Any, court_library: tuple[Path, Footage]
) -> None:
    added = court_library[1]
    assert camera_calibration.court_proposal(library, added.id) is not None
    library.save_footage(replace(added, sha256="another"))
    assert camera_calibration.court_proposal(library, added.id) is None
    path = court_proposal_file(library.folder, added.id)
    library.save_footage(added)
    path.write_text('{"format": 1, "marks": "none"}', encoding="utf-8")
    assert camera_calibration.court_proposal(library, added.id) is None


def test_looking_for_the_court_can_be_stopped(court_video: Path, tmp_path: Path) -> None:
    table = tmp_path / "court.npz"
    probe_with_frames(court_video)[1].save(table)
    to = tmp_path / "found.json"
    with pytest.raises(Cancelled):
        court_detection_job(
            str(court_video),
            str(table),
            "standard",
            "",
            str(to),
            progress=lambda *_: None,
            cancel=lambda: True,
        )
    assert not to.exists()


def begin_of(page: str) -> dict[str, Any]:
    """Return what the script of the Calibrate page begins with."""
    found = re.search(r"data-begin='([^']*)'|data-begin=\"([^\"]*)\"", page)
    assert found is not None
    return dict(json.loads(html.unescape(found[1] or found[2])))


def test_the_command_prints_the_reason_and_json(plain_video: Path) -> None:
    shown = CliRunner().invoke(footage_command, ["court", str(plain_video)])
    assert shown.exit_code == 0
    assert "No squash court was found" in shown.output and "Calibrate page" in shown.output
    form = json.loads(CliRunner().invoke(footage_command, ["court", str(plain_video), "--json"]).output)
    assert form["offered"] is False and form["marks"] == {} and form["error_cm"] is None


def test_a_moment_outside_the_video_is_said(plain_video: Path) -> None:
    with pytest.raises(OutOfRange, match="Choose a moment in between"):
        detect_court_in(plain_video, 60_000_000)
