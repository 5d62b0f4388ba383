"""Players on the floor in the page: begun, looked at, named, hidden with the reason, erased with the match."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.measure.players.clothing_colours import colours_seen
from goodlength.measure.players.match_tracking_job import TrackSpan, track_form
from goodlength.measure.players.player_tracking import ClothingColours, Tracks
from goodlength.measure.players.track_identity_and_movement import RallyTrack
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.footage import player_tracking
from goodlength.tasks.removal.generated_and_copied_file_removal import files_only_of

DARK = np.array([90, 128, 128, 77, 126, 111, 218, 128, 130, 90, 128, 128], dtype=float)
LIGHT = np.array([90, 128, 128, 155, 145, 181, 39, 129, 127, 90, 128, 128], dtype=float)


@pytest.fixture
def followed(client: TestClient, library: Any, match_id: str, tmp_path: Path) -> str:
    """A match in which two rallies were heard and followed, the second poorly; gives the first one's key."""
    film = draw(tmp_path / "one.mp4", Recipe(tuple(range(30)), sound=""))
    item = tasks.add_footage(library, match_id, film)
    films = [
        {"id": item.id, "path": str(film), "starts_us": 0, "first_us": item.first_us, "end_us": item.end_us}
    ]
    rallies = [
        {"start_us": a, "end_us": b, "hits_us": [a, b], "doubtful": False, "why": ""}
        for a, b in ((100_000, 400_000), (600_000, 900_000))
    ]
    (library.folder / "heard").mkdir()
    (library.folder / "heard" / f"{match_id}.json").write_text(
        json.dumps({"films": films, "rallies": rallies})
    )
    keys = [f"h:{rally.id}" for rally in tasks.listed_rallies(tasks.open_match(library, match_id)).rallies]
    full = np.ones((12, 2))
    kept = []
    for n, key in enumerate(keys):
        times = 0.5 * n + 0.04 * np.arange(12)
        xy = np.stack([np.linspace([1, 6], [3, 5], 12), np.linspace([5, 7], [4, 6], 12)], axis=1)
        paths = Tracks(times, xy, 0.2 * full, full > 0, full > 0, np.stack([DARK, LIGHT]), np.ones(12), 0.97)
        hidden = "feet were seen at only 20 of 100 places" if n else ""
        kept.append(
            track_form(RallyTrack(key, paths, 0.9, False, 12.0, hidden), TrackSpan(key, item.id, 0, 1))
        )
    path = player_tracking.track_files(library.folder, match_id)[0]
    path.parent.mkdir()
    clothing = {"middle": [DARK.tolist(), LIGHT.tolist()], "spread": [6.0] * 12}
    path.write_text(json.dumps({"format": 1, "match": match_id, "clothing": clothing, "rallies": kept}))
    return keys[0]


def test_a_rally_is_shown_from_above_and_a_poor_one_says_why(
    client: TestClient, match_id: str, followed: str
) -> None:
    page = client.get(f"/matches/{match_id}/players").text
    assert "Court floor from above, front wall at the top: the movement of one player and the other" in page
    assert 'id="player"' in page and 'data-start="100000" data-end="400000"' in page
    assert "not shown: feet were seen at only 20 of 100 places" in page
    assert "which player is which: not known" in page
    assert page.count("Rally after") == 1 and "Rally before" not in page  # of two rallies, the first is open
    listed = client.get(f"/matches/{match_id}/footage").text
    assert "Players tracked in 1 of 2 rallies." in listed and "See the movement" in listed


def test_the_coach_says_who_is_who(client: TestClient, match_id: str, followed: str) -> None:
    answer = client.post(f"/matches/{match_id}/players", data={"first_is": "b"})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/matches/{match_id}/players")
    page = client.get(f"/matches/{match_id}/players").text
    assert "Decided by you." in page
    assert "which player is which: not known" not in page
    wrong = client.post(f"/matches/{match_id}/players", data={"first_is": "nobody"})
    assert wrong.status_code == 422 and "or left open" in wrong.text


def test_following_without_a_camera_says_what_to_do_first(
    client: TestClient, match_id: str, followed: str
) -> None:
    answer = client.post(f"/matches/{match_id}/players")
    assert answer.status_code == 422
    assert "not calibrated yet" in answer.text


def test_a_match_not_followed_says_so(client: TestClient, match_id: str) -> None:
    assert "Players have not been tracked" in client.get(f"/matches/{match_id}/players").text


def test_paths_go_when_the_match_is_erased(library: Any, match_id: str, followed: str) -> None:
    kept = player_tracking.track_files(library.folder, match_id)[0]
    assert kept in files_only_of(library, [match_id])


def test_clothes_are_shown_in_their_colours() -> None:
    """Turned there by OpenCV: (102, 76, 45) blue-green-red is (77, 126, 111), ochre (155, 145, 181)."""
    shown = colours_seen(ClothingColours(np.stack([DARK, LIGHT]), np.full(12, 6.0)))
    rgb = np.array([[int(pair[0][k : k + 2], 16) for k in (1, 3, 5)] for pair in shown])
    assert np.abs(rgb - [[45, 76, 102], [201, 133, 43]]).max() <= 12


def test_time_on_court_is_shown_where_who_is_who_is_known(
    client: TestClient, match_id: str, followed: str
) -> None:
    address = f"/matches/{match_id}/players"
    assert "Time on court" not in client.get(address).text
    client.post(address, data={"first_is": "a"})
    page = client.get(address).text
    assert page.count("where Imogen spent the time. In front of the short line") == 1
    assert "1 of 2 rallies with a time. Place known for this share of their time: Imogen 5" in page
    assert client.get(f"{address}?game=1").text.count("Time on court") == 1  # no game is logged: the whole
    assert client.get(f"{address}?game=%3Cscript%3E").status_code == 200
