"""Work interrupted when the program ended: told on Footage, started again from the match, never from its file."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength.files.library_layout import job_file
from goodlength.jobs.job_queue import JobState, write_state
from goodlength.tasks.preparation import interrupted_work
from goodlength.tasks.preparation.interrupted_work import WORK_IN_WORDS
from goodlength.web.routes.footage.footage_files import RESTART_ADDRESSES


def left(library: Any, match_id: str, job_id: str, state: str, **more: Any) -> None:
    """Leave the file of a job as a program that ended did."""
    job = JobState(job_id, more.pop("kind", "players"), more.pop("share", 0.4), "x", state, **more)
    args = {"match": match_id}
    write_state(job_file(library.folder, job_id), JobState(**{**job.to_json(), "args": args}))  # type: ignore[arg-type]


def test_interrupted_work_is_told_with_a_button(client: TestClient, library: Any, match_id: str) -> None:
    left(library, match_id, "a1", "interrupted", made=1.0, function="os:system")
    left(library, match_id, "a2", "interrupted", made=2.0, kind="ball-paths", share=0.0)
    left(library, "another", "a3", "interrupted", made=3.0, kind="rallies")
    page = client.get(f"/matches/{match_id}/footage").text
    assert "Interrupted when goodlength was closed" in page
    assert "Tracking the players, 40% done" in page and "<span>Following the ball</span>" in page
    assert "Detecting the rallies" not in page
    assert (
        f'action="/matches/{match_id}/players"' in page
        and f'action="/matches/{match_id}/ball/follow"' in page
    )
    refused = client.post(f"/matches/{match_id}/players", data={})
    assert (
        refused.status_code == 422 and "This match has no video." in refused.text
    )  # by the task, not the file


@pytest.mark.parametrize("state", ["done", "running", "queued", "failed", "cancelled"])
def test_work_begun_again_is_not_interrupted_any_more(
    client: TestClient, library: Any, match_id: str, state: str
) -> None:
    left(library, match_id, "a1", "interrupted", made=1.0)
    left(library, match_id, "a2", state, made=2.0)
    assert "Interrupted when" not in client.get(f"/matches/{match_id}/footage").text


@pytest.mark.parametrize("works", [True, False])
def test_what_the_preparation_goes_on_with_is_not_told(
    client: TestClient, library: Any, match_id: str, works: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    left(library, match_id, "a1", "interrupted", made=1.0)
    monkeypatch.setattr(interrupted_work, "preparation_of", lambda *_: SimpleNamespace(works=works))
    assert works is not ("Interrupted when" in client.get(f"/matches/{match_id}/footage").text)


def test_each_kind_of_work_can_be_started_again() -> None:
    assert RESTART_ADDRESSES.keys() == WORK_IN_WORDS.keys()
