"""The camera page: marks solved at each click, kept when asked, and the pictures they are clicked on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.synthetic.simulated_camera_clicks import plain_clicks as marks_seen


@pytest.fixture
def film(library: Any, match_id: str, tmp_path: Path) -> str:
    recipe = Recipe(tuple(range(12)), sound="", width=480, height=360)
    return tasks.add_footage(library, match_id, draw(tmp_path / "one.mp4", recipe)).id


def test_marks_are_solved_and_kept_only_when_asked(client: TestClient, match_id: str, film: str) -> None:
    path = f"/api/footage/{film}/camera"
    tried = client.post(path, json={"at_us": 100_000, "clicks": marks_seen()}).json()
    assert tried["cameras"] == [] and len(tried["residuals"]) == len(marks_seen())
    assert tried["strokes"] and tried["not_known"] and tried["front_wall"]["median_cm"] > 0
    kept = client.post(path, json={"at_us": 100_000, "clicks": marks_seen(), "keep": True}).json()
    assert [item["holds"] for item in kept["cameras"]] == ["From the start to the end"]
    page = client.get(f"/matches/{match_id}/camera").text
    assert "Still unknown" in page and "Save the calibration" in page
    assert "positions and serves can be measured" in client.get(f"/matches/{match_id}/footage").text
    drift = client.get(f"/api/footage/{film}/drift?us=200000").json()
    assert drift["state"] == "cannot-tell" and drift["words"]
    back = client.post(f"{path}/forget", json={"from_us": 0}).json()
    assert back["cameras"] == [] == client.get(path).json()["cameras"]


def test_pictures_are_those_of_the_original(client: TestClient, film: str) -> None:
    starts = client.get(f"/api/footage/{film}/times?from_us=0&until_us=400000").json()["starts_us"]
    item = client.get(f"/api/footage/{film}/picture?us={starts[3] + 5}")
    assert item.headers["content-type"] == "image/jpeg" and int(item.headers["x-picture-us"]) == starts[3]
    assert client.get(f"/api/footage/{film}/picture?us={starts[3]}").content == item.content


def test_what_cannot_be_is_told(client: TestClient, library: Any, match_id: str, film: str) -> None:
    few = client.post(f"/api/footage/{film}/camera", json={"at_us": 0, "clicks": marks_seen()[:3]})
    assert few.status_code == 422 and "at least 4" in few.json()["error"]["words"]
    assert client.get(f"/api/footage/{film}/drift?us=0").status_code == 404
    assert client.get("/api/footage/none/picture?us=0").status_code == 404
    Path(library.footage_file(film).path).unlink()
    assert "cannot be found" in client.get(f"/matches/{match_id}/camera").text
    tasks.remove_footage(library, film)
    assert "no video yet" in client.get(f"/matches/{match_id}/camera").text
