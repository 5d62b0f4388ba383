"""Turning points on the handout: the same games in both files, only where asked for, left out on a full page."""

from __future__ import annotations

import shutil

import pypdfium2
import pytest

from goodlength import tasks


@pytest.fixture
def library(tmp_path, demo_library):
    shutil.copytree(demo_library, tmp_path / "lib", dirs_exist_ok=True)
    with tasks.open_library(tmp_path / "lib") as opened:
        yield opened


def made(library, **chosen):
    """Return the files, the text of the PDF's only page, and the HTML."""
    opened = tasks.open_match(library, "demo")
    files = tasks.make_handout(opened, library.folder / "out", tasks.HandoutEdits(**chosen))
    pdf = pypdfium2.PdfDocument(files.pdf.read_bytes())
    assert len(pdf) == 1
    return files, pdf[0].get_textpage().get_text_range(), files.html.read_text("utf-8")


def test_the_chart_stands_in_pdf_and_html_with_each_game_and_its_chance(library):
    files, pdf, html = made(library, turning=True)
    assert files.turning and files.type_pt >= 9
    assert "Turning points" in pdf and html.count("; the chance of the match") == 2
    shown = [n for n in range(1, 6) if f"Game {n}" in pdf]
    assert len(shown) == 2 and all(f">Game {n}<" in html for n in shown)


def test_no_chart_unless_asked_for(library):
    files, pdf, html = made(library)
    assert not files.turning
    assert "Turning points" not in pdf and "Turning points" not in html


def test_an_opponent_without_consent_is_not_named_in_the_chart(library):
    opened = tasks.open_match(library, "demo")
    named = tasks.has_agreed(opened.opponent, "handout")
    _, pdf, html = made(library, turning=True)
    first = opened.opponent.name.split()[0]
    assert (first in html) is named and (first in pdf) is named


def test_a_full_page_keeps_the_words_and_leaves_the_chart_out(library):
    long = "The lob from the right box went high and deep into the back corner. " * 7
    files, pdf, html = made(library, turning=True, words=long)
    assert not files.turning and "Turning points" not in html
    assert "From your coach" in pdf
