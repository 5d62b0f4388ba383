"""Guides shown inside the page: all of them, each page's own, and nothing that their text could run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from goodlength.web import help_pages
from goodlength.web.help_pages import NAMES, guide, guide_file, help_address
from goodlength.web.page_rendering import HERE

DOCS = Path(__file__).parents[3] / "docs"
WITHOUT_A_MENU = {"footage/phone_transfer.html", "sharing/passcode_login.html"}


@pytest.mark.parametrize("name", sorted(NAMES))
def test_every_guide_is_shown_and_its_links_lead_somewhere(client: TestClient, name: str) -> None:
    answer = client.get(f"/help/{name}")
    assert answer.status_code == 200
    for target in re.findall(r'href="(/help/[^"#]*)', answer.text):
        assert target == "/help" or target.removeprefix("/help/") in NAMES
    assert "](" not in guide(name).html and "<img" not in guide(name).html


def test_every_how_to_is_in_the_list(client: TestClient) -> None:
    written = {f"how-to/{path.stem}" for path in (DOCS / "how-to").glob("*.md")}
    written |= {f"reasons/{path.stem}" for path in (DOCS / "reasons").glob("*.md")}
    assert written <= NAMES
    page = client.get("/help").text
    assert all(f'href="/help/{name}"' in page for name in NAMES)


def test_each_page_leads_to_its_own_guide(client: TestClient) -> None:
    assert '<a class="help-link" id="help-link" href="/help/how-to/back-up"' in client.get("/settings").text
    assert 'href="/help/tutorial"' in client.get("/matches").text
    known = {path.relative_to(HERE / "templates").as_posix() for path in (HERE / "templates").rglob("*.html")}
    assert {f"{name}.html" for name in help_pages.GUIDES} <= known
    assert set(help_pages.GUIDES.values()) <= NAMES


def test_markup_in_a_text_stays_text(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "tutorial.md").write_text(
        '# T\n\n<script>alert(1)</script> [run](javascript:alert(1)) ![x](http://elsewhere.example/x.png "y")\n'
        "[out](http://elsewhere.example/) [home](how-to/back-up.md) <img src=x onerror=alert(1)>\n"
    )
    monkeypatch.setattr(help_pages, "guide_file", lambda name: tmp_path / f"{name}.md")
    html = help_pages.guide.__wrapped__("tutorial").html
    assert "<script" not in html and "<img" not in html and "elsewhere.example/)" not in html
    assert not re.search(r'(href|src)="(?!/help/)', html)
    assert '<a href="/help/how-to/back-up">home</a>' in html


@pytest.mark.parametrize(
    "path", ["/help/none", "/help/how-to/none", "/help/..%2f..%2fREADME", "/help/how-to/..%2fbench"]
)
def test_what_is_no_guide_is_told_in_words(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_an_installed_goodlength_reads_its_own_copy(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert guide_file("tutorial") == DOCS / "tutorial.md"
    monkeypatch.setattr(help_pages, "SHIPPED", tmp_path)
    assert guide_file("tutorial") == tmp_path / "tutorial.md"
    assert help_address("library/player_erased.html") == "/help"
