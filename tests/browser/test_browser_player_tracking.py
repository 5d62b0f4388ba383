"""Following shows its progress where it was begun: bar, words, time left, and the end of it."""

from __future__ import annotations

import json
from typing import Any

import pytest

from goodlength import tasks
from goodlength.tasks.footage import player_tracking

SIZES = [{"width": 1440, "height": 900}, {"width": 820, "height": 1180}, {"width": 390, "height": 844}]


@pytest.mark.parametrize("size", SIZES, ids=["desk", "tablet", "phone"])
def test_following_tells_how_far_it_is(
    served: Any, open_page: Any, monkeypatch: pytest.MonkeyPatch, size: dict[str, int]
) -> None:
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.add_player(served.library, name, player_id=player)
    tasks.new_match(served.library, ("iv", "plo"), match_id="m1")
    page = open_page("/matches/m1/players", size)
    told: dict[str, Any] = {"state": "running", "share": 0.1, "words": "rally 2 of 19"}
    page.route("**/api/jobs/j1", lambda route: route.fulfill(body=json.dumps(told)))
    monkeypatch.setattr(player_tracking, "tracking_job_of", lambda _jobs, _match: "j1")
    page.reload()
    words = page.locator("[data-job] .words")
    words.filter(has_text="rally 2 of 19").wait_for(timeout=30_000)
    assert "Players have not been tracked" not in page.inner_text("main")
    page.wait_for_timeout(4_200)  # time left is told after four seconds of progress seen
    told.update(share=0.6, words="rally 12 of 19")
    words.filter(has_text="rally 12 of 19, less than a minute left").wait_for(timeout=30_000)
    assert page.evaluate("document.querySelector('[data-job] progress').value") == 0.6
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= size["width"]
    monkeypatch.setattr(player_tracking, "tracking_job_of", lambda _jobs, _match: None)
    told.update(state="done", share=1.0)
    page.get_by_text("Players have not been tracked").wait_for(timeout=30_000)  # loaded anew once it is done
