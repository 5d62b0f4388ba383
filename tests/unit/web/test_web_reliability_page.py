"""How far to trust this: one page, and every link to it lands on a section that is there."""

from __future__ import annotations

import re
from pathlib import Path

from fastapi.testclient import TestClient

TEMPLATES = Path(__file__).resolve().parents[3] / "src" / "goodlength" / "web" / "templates"


def test_every_link_to_the_page_lands_on_a_section(client: TestClient) -> None:
    page = client.get("/trust")
    assert page.status_code == 200
    wanted = {
        item
        for path in TEMPLATES.rglob("*.html")
        for item in re.findall(r'"/trust#([a-z]+)"', path.read_text("utf-8"))
    }
    assert len(wanted) >= 6
    assert wanted <= set(re.findall(r'<h2 id="([a-z]+)"', page.text))


def test_the_page_is_linked_where_it_matters(client: TestClient, match_id: str) -> None:
    for path in ("match/findings", "footage/footage_files", "practice/practice_plan"):
        assert "/trust" in (TEMPLATES / f"{path}.html").read_text("utf-8"), path
    assert "/trust" in client.get("/settings").text
