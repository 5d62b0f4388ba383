"""The handout in the player's language: chosen for each player, whole, and English as it was."""

from __future__ import annotations

import re
import shutil
from datetime import date

import numpy as np
import pikepdf
import pypdfium2 as pdfium
import pytest
from lxml import html

from goodlength import languages, tasks
from goodlength.errors import InputError, NotFound
from goodlength.languages import gettext_translation
from goodlength.tasks.people.player_handout_language import SETTING, USUAL_SETTING

TODAY = date(2026, 3, 14)
ENGLISH = re.compile(r"\b(the|of|you|your|and|serves?|rally|rallies|won|lost|game)\b", re.IGNORECASE)
EDITS = tasks.HandoutEdits(words="Gut gemacht.", week=True, turning=True)


@pytest.fixture
def library(tmp_path, demo_library):
    shutil.copytree(demo_library, tmp_path / "lib")
    with tasks.open_library(tmp_path / "lib") as opened:
        yield opened


def page_in(library, code, folder):
    opened = tasks.open_match(library, "demo")
    tasks.choose_language(library, opened.coached.id, code)
    return tasks.make_handout(tasks.open_match(library, "demo"), folder, EDITS, TODAY)


def test_the_whole_page_is_in_the_player_s_language(library, tmp_path):
    made = page_in(library, "de", tmp_path / "out")
    page = html.fromstring(made.html.read_bytes())
    for unseen in page.xpath("//style | //head"):
        unseen.drop_tree()
    alts = " ".join(page.xpath("//@aria-label"))
    text = " ".join(page.text_content().split())
    for words in (
        "Für Imogen Vale",
        "Verloren 1–3",
        "Was wir gesehen haben",
        "14. März 2026",
        "11 von 17",
        "25\xa0%",
    ):
        assert words in page.text_content(), words
    event = tasks.open_match(library, "demo").info.event
    assert not ENGLISH.findall((text + alts).replace(event, "")), ENGLISH.findall(text + alts)
    assert page.get("lang") == "de"
    with pikepdf.open(made.pdf) as pdf:
        assert len(pdf.pages) == 1
        assert str(pdf.Root.Lang) == "de"
        assert str(pdf.docinfo.Title).startswith("Handout für Imogen Vale")


def test_an_unnamed_opponent_is_not_named_in_german_either(library, tmp_path):
    opened = tasks.open_match(library, "demo")
    tasks.withdraw_consent(library, opened.opponent.id)
    made = page_in(library, "de", tmp_path / "out")
    written = made.html.read_text("utf-8")
    assert not any(part in written for part in opened.opponent.name.split())
    assert "Gegenseite" in written


def test_a_junior_reads_the_caution_for_juniors(library, tmp_path):
    coached = tasks.open_match(library, "demo").coached
    tasks.change_player(library, coached.id, junior=True)
    made = page_in(library, "de", tmp_path / "out")
    assert "Unter 19 ist eine Squash-Schutzbrille Pflicht" in made.html.read_text("utf-8")


def test_drills_of_the_plan_are_translated_and_the_coach_s_own_are_not(library):
    from goodlength.tasks.sharing.handout_content_and_files import week_of

    coached = tasks.open_match(library, "demo").coached
    names = [name for name, _ in week_of(library, coached.id, languages.language("de"))]
    assert all(" mal " in name for name in names)
    assert not any(" times " in name for name in names)


def test_english_comes_back_and_nothing_of_it_changed(library, tmp_path):
    before = tasks.make_handout(tasks.open_match(library, "demo"), tmp_path / "before", EDITS, TODAY)
    page_in(library, "de", tmp_path / "german")
    after = page_in(library, "en", tmp_path / "after")
    assert after.html.read_bytes() == before.html.read_bytes()
    assert after.pdf.read_bytes() == before.pdf.read_bytes()
    assert library.settings()[SETTING] == {
        "demo-imogen-vale": "en"
    }  # a choice, whatever the usual one becomes


def test_a_language_is_chosen_for_a_player_that_is_there(library):
    with pytest.raises(InputError, match="There is no language 'tlh'"):
        tasks.choose_language(library, tasks.players(library)[0].id, "tlh")
    with pytest.raises(NotFound):
        tasks.choose_language(library, "nobody", "de")
    library.set_setting(SETTING, {"p": "tlh", "q": 7})
    assert tasks.player_language(library, "p") == tasks.player_language(library, "q") == "en"
    library.set_setting(SETTING, "damaged")
    assert tasks.player_language(library, "p") == "en"


def test_a_deleted_player_leaves_no_language_behind(library):
    coached = tasks.open_match(library, "demo").coached
    tasks.choose_language(library, coached.id, "de")
    other = tasks.add_player(library, "Oona Marsh")
    tasks.choose_language(library, other.id, "de")
    tasks.erase_player(library, coached.id)
    assert library.settings()[SETTING] == {other.id: "de"}


def red_line(path):
    """Return where the red line between serves and court stands, from the left, 0 to 1."""
    with pdfium.PdfDocument(path) as pdf:
        picture = np.asarray(pdf[0].render(scale=1).to_pil().convert("RGB")).astype(int)
    red = (picture[..., 0] - picture[..., 1:].max(axis=2)) > 60
    high = red[: int(0.45 * len(red))].sum(axis=0)  # above the court's own lines
    return float(high.argmax() / high.size)


def test_a_page_that_runs_from_right_to_left_is_set(library, tmp_path, monkeypatch):
    """With the direction of Hebrew and no sentences of it: how the page is laid out."""
    monkeypatch.setitem(gettext_translation.LANGUAGES, "he", "עברית")
    monkeypatch.setattr(gettext_translation, "CATALOGUES", tmp_path)
    (tmp_path / "he.po").write_text('msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\n"\n')
    gettext_translation.language.cache_clear()
    try:
        made = page_in(library, "he", tmp_path / "out")
        page = html.fromstring(made.html.read_bytes())
        assert page.get("dir") == "rtl"
        style = page.xpath("string(//style)")
        assert "border-inline-start: 1.9pt" in style
        assert ".s { white-space: nowrap; direction: ltr;" in style  # a score is not turned round
        with pikepdf.open(made.pdf) as pdf:
            assert len(pdf.pages) == 1
        assert 0.3 < red_line(made.pdf) < 0.45  # between court, on the left, and serves
    finally:
        gettext_translation.language.cache_clear()


def test_own_words_run_the_way_of_their_letters(library, tmp_path):
    """A paragraph in Hebrew on an English page begins at the right, in the file and in the print alike."""
    edits = tasks.HandoutEdits(words="Well served.\n\nשלום. 11–7!")
    made = tasks.make_handout(tasks.open_match(library, "demo"), tmp_path / "out", edits, TODAY)
    page = html.fromstring(made.html.read_bytes())
    assert page.xpath("//section[contains(@class, 'own')]/p/@dir") == ["auto", "auto"]
    lefts = {}
    with pdfium.PdfDocument(made.pdf) as pdf:
        text = pdf[0].get_textpage()
        for letter in ("W", "ש"):
            at = next(n for n in range(text.count_chars()) if text.get_text_range(n, 1) == letter)
            found = text.search("Well served") if letter == "W" else None
            at = found.get_next()[0] if found else at
            lefts[letter] = text.get_charbox(at)[0]
    assert lefts["ש"] > lefts["W"] + 150  # points


def test_players_without_a_choice_have_the_usual_language(library):
    first, other = (player.id for player in tasks.players(library)[:2])
    tasks.choose_language(library, first, "en")  # usual then: chosen all the same
    library.set_setting(USUAL_SETTING, "de")
    assert tasks.player_language(library, other) == "de"
    assert (tasks.player_language(library, first), tasks.player_language(library, other)) == ("en", "de")
    library.set_setting(USUAL_SETTING, "tlh")
    assert tasks.player_language(library, other) == "en"
    library.set_setting(USUAL_SETTING, "de")
    tasks.choose_language(library, first, "usual")
    assert tasks.player_language(library, first) == "de"
    assert tasks.chosen_language(library, first) == "usual"
