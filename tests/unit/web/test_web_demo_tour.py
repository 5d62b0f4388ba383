"""The tour of the demo: offered once, left at any step, started again from Help."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from goodlength import demo
from goodlength.web import create_app
from goodlength.web.demo_tour import STEPS


@pytest.fixture
def client(tmp_path: Path, demo_library: Path) -> Iterator[TestClient]:
    folder = tmp_path / "library"
    shutil.copytree(demo_library, folder)
    app = create_app(folder)
    app.state.library.set_setting(demo.SETTING, {"version": 2, demo.COACHED: True})
    yield TestClient(app, base_url="http://127.0.0.1", headers={"origin": "http://127.0.0.1"})
    app.state.jobs.close()
    app.state.library.close()


def test_it_is_offered_on_the_list_of_matches_alone_until_it_is_refused(client: TestClient) -> None:
    assert "Start the tour" in client.get("/matches").text
    assert 'class="tour"' not in client.get("/players").text
    assert "Help starts it again." in client.post("/tour/leave", follow_redirects=True).text
    assert 'class="tour"' not in client.get("/matches").text
    assert "Start the tour" in client.get("/help").text


def test_each_step_has_its_page_and_the_way_on_and_out(client: TestClient) -> None:
    for n, step in enumerate(STEPS, 1):
        went = client.post(f"/tour/{n}", follow_redirects=False)
        assert went.status_code == 303
        assert went.headers["location"] == step.path
        if step.name in ("Draft", "Aim"):  # the first comes with the video, the second calculates
            continue
        page = client.get(step.path).text
        assert f"Tour, {n} of {len(STEPS)}: {step.name}." in page
        assert step.words in page
        assert ("Leave the tour" in page) is (n < len(STEPS))
        assert "Back to" not in page.partition("</aside>")[0]
    elsewhere = client.get("/players").text
    assert f'<a href="{STEPS[-1].path}">Back to Handout</a>' in elsewhere
    client.post("/tour/leave")
    assert 'class="tour"' not in client.get(STEPS[0].path).text


def test_no_step_beyond_the_last_and_none_without_the_demo(client: TestClient) -> None:
    assert client.post("/tour/9").status_code == 404
    assert client.post("/tour/x").status_code == 422
    client.post("/tour/2")
    client.post("/demo/remove")
    assert 'class="tour"' not in client.get("/matches").text
    assert "Add the demo" in client.get("/help").text
