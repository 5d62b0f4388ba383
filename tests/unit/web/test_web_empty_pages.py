"""Pages of an empty library: what will stand there, a picture, and the one button that begins."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient


@pytest.mark.parametrize(
    ("path", "title", "begins"),
    [
        ("/matches", "Your matches will stand here", '<button class="button" type="button" id="begin-here">'),
        ("/players", "Your players will stand here", '<a class="button" href="#f-name">'),
        ("/practice", "Practice of your players will stand here", '<a class="button" href="/players">'),
    ],
)
def test_an_empty_page_says_what_will_stand_there_and_begins(
    client: TestClient, path: str, title: str, begins: str
) -> None:
    part = client.get(path).text.partition('<div class="nothing-yet">')[2].partition("</div></div>")[0]
    assert title in part and '<svg class="court-sketch"' in part and begins in part
    assert len(re.findall(r'class="button"', part)) == 1


def test_pages_with_something_on_them_do_not(client: TestClient, match_id: str) -> None:
    for path in ("/matches", "/players", "/practice"):
        assert "nothing-yet" not in client.get(path).text
