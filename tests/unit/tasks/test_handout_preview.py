"""The preview of the handout: the same page as the files, and what stands against making it."""

from __future__ import annotations

import io
import shutil
from datetime import date

import pytest
from lxml import html
from PIL import Image

from goodlength import tasks
from goodlength.tasks.sharing.handout_preview import preview_handout, preview_page

TODAY = date(2026, 3, 14)
EDITS = tasks.HandoutEdits(words="Well <b>played</b>.\n\nMore lobs.", turning=True)


@pytest.fixture
def library(tmp_path, demo_library):
    shutil.copytree(demo_library, tmp_path / "lib")
    with tasks.open_library(tmp_path / "lib") as opened:
        yield opened


def said(tree):
    """Return what a page says, part by part, without ruled lines, which are as many as have room."""
    for lines in tree.xpath("//*[contains(@class, 'notes') or @class='gap']"):
        lines.drop_tree()
    return sorted(" ".join(part.text_content().split()) for part in tree.xpath("//main//section | //header"))


def test_the_preview_says_what_the_html_file_says_and_writes_nothing(library, tmp_path):
    opened = tasks.open_match(library, "demo")
    shown = preview_handout(opened, EDITS, TODAY)
    assert not list((tmp_path / "lib").rglob("handout-*"))
    made = tasks.make_handout(opened, tmp_path / "out", EDITS, TODAY)
    assert said(html.fromstring(shown.body)) == said(html.fromstring(made.html.read_bytes()))
    assert "<b>played</b>" not in shown.body
    assert (shown.language, shown.direction, shown.faults) == ("en", "ltr", ())
    assert shown.title.startswith("Handout for Imogen Vale")


def test_what_would_refuse_the_handout_is_said_and_the_rest_is_shown(library):
    opened = tasks.open_match(library, "demo")
    tasks.withdraw_consent(library, opened.opponent.id)
    tasks.withdraw_consent(library, opened.coached.id)
    opened = tasks.open_match(library, "demo")
    keys = [finding.key for finding in opened.findings().all[:4]]
    chosen = tuple(tasks.EditedFinding(key) for key in keys)
    edits = tasks.HandoutEdits(chosen, words=f"Wait for {opened.opponent.name}.", stills=True)
    shown = preview_handout(opened, edits, TODAY)
    refused, many, named, stills = shown.faults
    assert "No handout of Imogen Vale can be made" in refused
    assert "4 findings are chosen" in many
    assert "Your words name the opponent" in named
    assert "consent in force for clips" in stills
    assert len(html.fromstring(shown.body).xpath("//section[@class='saw']//li")) == 3


def test_a_finding_that_is_gone_is_said(library):
    shown = preview_handout(
        tasks.open_match(library, "demo"), tasks.HandoutEdits((tasks.EditedFinding("gone"),)), TODAY
    )
    assert "no longer in this match" in shown.faults[0]


def test_a_still_is_taken_anew_from_a_changed_file_and_forgotten_with_consent(library, tmp_path, monkeypatch):
    from goodlength.footage.media import still_frame_png
    from goodlength.tasks.people.handout_still_cache import remembered_still

    png = io.BytesIO()
    Image.new("RGB", (4, 4)).save(png, "PNG")
    taken = []
    monkeypatch.setattr(still_frame_png, "still", lambda *at, **_: taken.append(at) or png.getvalue())
    film = tmp_path / "film.mp4"
    film.write_bytes(b"1")

    def readings():
        before = len(taken)
        remembered_still(str(film), 7, 360)
        return len(taken) - before

    assert (readings(), readings()) == (1, 0)
    film.write_bytes(b"22")
    assert readings() == 1
    opened = tasks.open_match(library, "demo")
    tasks.withdraw_consent(library, opened.coached.id)
    assert (readings(), readings()) == (1, 0)
    tasks.erase_player(library, opened.opponent.id)
    assert (readings(), readings()) == (1, 0)


def test_the_page_opens_without_ruled_lines_as_their_room_is_not_known_yet(library):
    opened = tasks.open_match(library, "demo")
    tree = html.fromstring(preview_page(opened, EDITS, TODAY).partition("<body>")[2])
    assert tree.xpath("//section[@class='saw']")
    assert not tree.xpath("//*[contains(@class, 'notes')]")
