"""Turning points on the handout: the same games in both files, only where asked for, left out on a full page."""

from __future__ import annotations

import contextlib
import shutil
from datetime import date

import pypdfium2
import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.practice.planning.practice_plan import Time, plan_form


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


def with_plan(library):
    """Save the plan that the demo's findings suggest."""
    opened = tasks.open_match(library, "demo")
    plan = plan_form(tasks.propose_plan(opened, Time(2, 60), begins=date(2026, 3, 7)))
    tasks.save_plan(library, opened.coached.id, plan)
    return len(plan["items"])


def test_the_demo_with_its_plan_fits_by_leaving_out_the_last_drills(library):
    drills = with_plan(library)
    files, pdf, html = made(library, week=True)
    assert 1 <= files.drills <= drills
    first = tasks.plans_of(library, "demo-imogen-vale")[0][1]["items"][0]["name"]
    assert first in pdf and first in html


def run(*words):
    """Run a command that ends well."""
    with contextlib.suppress(SystemExit):
        main(args=list(words))


def test_the_command_adds_the_chart_and_says_what_has_no_room(library, capsys):
    folder = library.folder
    asked = ["--library", str(folder), "handout", "make", "demo", "--to", str(folder / "out")]
    run(*asked, "--turning-points")
    assert "Turning points" in (folder / "out" / "handout-demo.html").read_text("utf-8")
    with_plan(library)
    run(*asked, "--turning-points", "--drills")
    assert "no room for the chart of turning points" in capsys.readouterr().err
