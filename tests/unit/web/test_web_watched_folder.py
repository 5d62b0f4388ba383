"""The watched folder: set on this computer, offered on its Footage page, and on no other device."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.web.coach_settings import read_settings


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "new & <videos>"
    made.mkdir()
    film = draw(made / 'IMG "7".mp4', Recipe(tuple(range(30)), sound=""))
    then = time.time() - 100
    os.utime(film, (then, then))
    return made


def set_folder(client: TestClient, folder: object) -> Any:
    return client.post("/settings", data={"part": "videos", "watched_folder": str(folder)})


def part(shown: str) -> str:
    """The part of the page that offers videos; empty where there is none."""
    return shown.partition('id="watched"')[2].partition("</section>")[0]


def test_a_new_video_is_offered_and_added_where_it_lies(
    client: TestClient, library: Any, match_id: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(client.app.state.jobs, "start", lambda *_: "job1")  # type: ignore[attr-defined]
    page = f"/matches/{match_id}/footage"
    assert part(client.get(page).text) == ""
    assert "Watch a folder for new videos" in client.get(page).text
    assert set_folder(client, f'"{folder}"').status_code == 303
    assert read_settings(library).watched_folder == str(folder)
    offer = part(client.get(page).text)
    assert "IMG &#34;7&#34;.mp4" in offer
    assert "MB, saved" in offer
    assert client.post(page, data={"path": str(next(folder.iterdir()))}).status_code == 303
    (added,) = library.footage(match_id)
    assert added.where.parent == folder
    assert not added.copied
    assert "No new videos." in part(client.get(page).text)


def test_a_video_that_is_still_copied_cannot_be_added(
    client: TestClient, library: Any, match_id: str, folder: Path
) -> None:
    (film,) = folder.iterdir()
    film.write_bytes(film.read_bytes()[:2000])
    set_folder(client, folder)
    offer = part(client.get(f"/matches/{match_id}/footage").text)
    assert "still being copied" in offer
    assert "<button" not in offer


def test_a_name_that_no_text_can_hold_is_told(client: TestClient, match_id: str, folder: Path) -> None:
    (film,) = folder.iterdir()
    try:
        film.rename(folder / os.fsdecode(b"caf\xe9.mp4"))
    except OSError:
        pytest.skip("this disk takes no such name; a Linux disk would wake the test")
    set_folder(client, folder)
    answer = client.get(f"/matches/{match_id}/footage")
    assert answer.status_code == 200
    assert "Rename the file with plain letters" in part(answer.text)


def test_a_folder_that_is_gone_is_told(client: TestClient, match_id: str, folder: Path) -> None:
    set_folder(client, folder)
    folder.rename(folder.with_name("away"))
    assert "cannot be read" in part(client.get(f"/matches/{match_id}/footage").text)


@pytest.mark.parametrize("path", ["videos", "/no/such/folder", "{file}", "{library}"])
def test_a_path_that_is_no_folder_is_not_saved(
    client: TestClient, library: Any, folder: Path, path: str
) -> None:
    typed = path.format(file=next(folder.iterdir()), library=library.folder)
    answer = set_folder(client, typed)
    assert answer.status_code == 422
    assert read_settings(library).watched_folder == ""
    set_folder(client, folder)
    assert set_folder(client, "").status_code == 303
    assert read_settings(library).watched_folder == ""


def test_another_device_is_told_nothing_of_it(
    client: TestClient, library: Any, match_id: str, folder: Path
) -> None:
    from goodlength.web.http.passcode_sessions import Sharing

    set_folder(client, folder)
    client.app.state.sharing = Sharing("ABCD2345")  # type: ignore[attr-defined]
    shown = client.get(f"/matches/{match_id}/footage").text
    assert part(shown) == ""
    assert "Watch a folder" not in shown
    assert str(folder.name) not in client.get("/settings").text
    here = TestClient(client.app, base_url="http://127.0.0.1:8765", client=("127.0.0.1", 50_000))
    assert part(here.get(f"/matches/{match_id}/footage").text)
    assert "new &amp; &lt;videos&gt;" in here.get("/settings").text
