"""Recordings of practice in process: listened to, marked, taken off, erased with the person."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.synthetic.simulated_court_audio import TYPICAL, record_practice
from goodlength.synthetic.video_with_sound_writer import write_film
from goodlength.web.http import remote_file_access_policy


@pytest.fixture(scope="module")
def solo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    samples, _ = record_practice(np.random.default_rng(3), TYPICAL, 30.0)
    return write_film(tmp_path_factory.mktemp("practice") / "solo.mp4", samples)


@pytest.fixture
def player(library: Any, client: TestClient) -> str:
    client.headers["origin"] = "http://127.0.0.1:8765"
    return tasks.add_player(library, "Imogen Vale", player_id="iv").id


def test_a_recording_is_heard_marked_and_goes_with_its_player(
    client: TestClient, library: Any, player: str, solo: Path
) -> None:
    form = {"path": str(solo), "drill": "lob-to-the-box"}
    began = client.post(f"/practice/{player}/recordings", data=form)
    assert began.status_code == 303
    address = began.headers["location"]
    jobs = client.app.state.jobs  # type: ignore[attr-defined]
    recording = tasks.recordings_of(jobs, player)[0]
    assert jobs.wait(recording.id).state == "done"
    page = client.get(address).text
    assert "attempts detected" in page
    assert page.count("<li data-start=") == len(tasks.recording_named(jobs, player, recording.id).attempts)
    assert client.post(f"/practice/{player}/recordings", data=form).headers["location"] == address
    media = client.get(
        f"/api/practice/{player}/recordings/{recording.id}/media", headers={"range": "bytes=0-9"}
    )
    assert media.status_code == 206
    made = [path for path in (library.folder / "proxies").iterdir() if path.name.startswith("practice-")]
    assert len(made) == 1
    erased = tasks.erase_player(library, player)
    assert str(made[0]) in erased.files
    assert not made[0].exists()
    assert tasks.recordings_of(jobs, player) == ()
    assert solo.is_file()


def test_a_recording_taken_off_leaves_the_film(
    client: TestClient, library: Any, player: str, solo: Path
) -> None:
    client.post(f"/practice/{player}/recordings", data={"path": str(solo), "drill": "lob-to-the-box"})
    jobs = client.app.state.jobs  # type: ignore[attr-defined]
    item = tasks.recordings_of(jobs, player)[0]
    jobs.wait(item.id)
    assert client.post(f"/practice/{player}/recordings/{item.id}/forget").status_code == 303
    assert tasks.recordings_of(jobs, player) == ()
    assert not list((library.folder / "proxies").glob("practice-*"))
    assert solo.is_file()


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("", "Enter the path of the file"),
        ("solo.mp4", "Give the full path"),
        ("/nowhere/solo.mp4", "solo.mp4"),
    ],
)
def test_a_file_that_cannot_be_is_said_beside_the_field(
    client: TestClient, player: str, path: str, words: str
) -> None:
    said = client.post(f"/practice/{player}/recordings", data={"path": path, "drill": "lob-to-the-box"})
    assert said.status_code == 422
    assert words in said.text


def test_another_players_recording_is_not_shown(client: TestClient, library: Any, player: str) -> None:
    assert client.get(f"/practice/{player}/recordings/abc").status_code == 404
    assert client.get("/practice/nobody/recordings").status_code == 404


def test_a_video_of_the_watched_folder_needs_no_typed_path(
    client: TestClient, library: Any, player: str, solo: Path
) -> None:
    then = time.time() - 100  # long enough ago to be whole
    os.utime(solo, (then, then))
    client.post("/settings", data={"part": "videos", "watched_folder": str(solo.parent)})
    page = client.get(f"/practice/{player}/recordings").text
    assert f'<input type="hidden" name="path" value="{solo}">' in page
    assert '<a href="/practice" aria-current="page">' in page


def test_frames_of_a_changed_file_are_not_read_for_another_device(
    client: TestClient, library: Any, player: str, solo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before: a file outside the library was probed whole for whoever asked, whatever it was by then."""
    client.post(f"/practice/{player}/recordings", data={"path": str(solo), "drill": "lob-to-the-box"})
    jobs = client.app.state.jobs  # type: ignore[attr-defined]
    item = tasks.recordings_of(jobs, player)[0]
    jobs.wait(item.id)
    address = f"/api/practice/{player}/recordings/{item.id}/frames"
    assert client.get(address).status_code == 200
    monkeypatch.setattr(remote_file_access_policy, "from_here", lambda *_: False)
    monkeypatch.setattr(remote_file_access_policy, "MEDIA", frozenset())
    assert client.get(address).status_code == 200  # the file that was added
    monkeypatch.setattr(remote_file_access_policy, "_unchanged", lambda *_: False)
    assert client.get(address).status_code == 410
