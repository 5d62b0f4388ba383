"""Pages in another language: every sentence of the templates, dates, and nothing that somebody typed."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from goodlength.languages import page_sentences
from goodlength.record.model import MatchInfo, Player
from goodlength.web import page_rendering
from goodlength.web.page_language.template_sentences import (
    is_for_readers,
    pieces,
    sentences,
    translated,
    words_of_expressions,
)

TEMPLATES = page_rendering.HERE / "templates"
ALL = sorted(TEMPLATES.rglob("*.html"))
FRAGMENTS = re.compile(r"^[,.;:)]|^\(.*[^)]$|^(and|or|of)\b")
MOST_FRAGMENTS = 16  # this number only shrinks: each is a sentence that a template puts together from parts


def german(client):
    assert client.post("/settings", data={"part": "language", "page_language": "de"}).status_code == 303


def test_the_language_is_chosen_in_settings_and_holds_at_once(client):
    assert '<html lang="en"' in client.get("/matches").text
    german(client)
    page = client.get("/matches").text
    assert '<html lang="de"' in page
    assert ">Einstellungen</a>" in page
    assert "Hier werden deine Matches stehen" in page
    client.post("/settings", data={"part": "language", "page_language": "en"})
    assert ">Settings</a>" in client.get("/matches").text


def test_a_language_that_goodlength_does_not_speak_is_refused(client):
    answer = client.post("/settings", data={"part": "language", "page_language": "xx"})
    assert answer.status_code == 422
    assert "page_language cannot be &#39;xx&#39;; it is one of: en, de." in answer.text


def test_names_and_events_stay_as_typed_and_dates_are_of_the_language(client, library):
    library.save_player(Player("a", "Settings"))
    library.save_player(Player("b", "Practice"))
    library.save_match(MatchInfo("m", ("a", "b"), event="Clips", played_on=date(2026, 3, 14)))
    german(client)
    row = re.search(r'<th scope="row"><a href="/matches/m/.*?</tr>', client.get("/matches").text, re.DOTALL)
    assert row is not None
    assert "Settings" in row.group()
    assert "Practice" in row.group()
    assert ">Clips</span>" in row.group()
    assert "14. März 2026" in row.group()


def test_what_a_form_sends_back_stays_as_it_is(client):
    german(client)
    page = client.get("/settings").text
    assert '<input type="text" name="words" value="Lob"' in page.replace('value="lob"', 'value="Lob"')
    assert '<option value="de" selected>Deutsch</option>' in page


@pytest.mark.parametrize("path", ALL, ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_every_text_of_a_template_is_a_sentence_of_it(path: Path):
    source = path.read_text(encoding="utf-8")
    assert "".join(part.source for part in pieces(source)) == source
    left = translated(source, lambda words: re.sub(r"[^\W\d_]+(?![^{<]*[}>])", "", words))
    texts = [re.sub(r"&#?\w+;", "", part.source) for part in pieces(left) if part.kind == "text"]
    assert [
        text for text in texts if re.search(r"[^\W\d_]", text) and not text.lstrip().startswith("/")
    ] == []


@pytest.mark.parametrize("path", ALL, ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_every_template_compiles_in_every_language(path: Path):
    page_rendering.environment("de").get_template(path.relative_to(TEMPLATES).as_posix())


def test_no_sentence_is_put_together_from_parts():
    parts = {
        words
        for path in ALL
        for words in sentences(path.read_text(encoding="utf-8"))
        if FRAGMENTS.search(words)
    }
    assert len(parts) <= MOST_FRAGMENTS, sorted(parts)


def test_a_sentence_is_whole_with_what_changes_by_name():
    source = (
        '<p title="Hits of {{ who.name }}">Seen <b>{{ n }}</b> of {{ all_of }} {% if x %}now{% endif %}</p>'
    )
    assert sentences(source) == ["Hits of {name}", "Seen <b>{n}</b> of {all_of}", "now"]
    swapped = {"Seen <b>{n}</b> of {all_of}": "Von {all_of}: <b>{n}</b> gesehen"}
    german = translated(source, lambda words: swapped.get(words, words))
    assert "Von {{ (all_of) | in_language }}: <b>{{ (n) | in_language }}</b> gesehen {% if x %}" in german
    assert 'title="Hits of {{ who.name }}"' in german


def test_a_text_box_and_a_value_stay_as_they_are():
    source = '<textarea name="own">{{ own }}</textarea><input value="{{ words }}"><p>{{ row.title }}{{ words }}</p>'
    assert translated(source, lambda _: "changed") == source.replace(
        "{{ words }}</p>", "{{ (words) | in_language }}</p>"
    )


def test_words_that_a_macro_is_given_are_collected():
    assert words_of_expressions("{{ m.field('club', 'Club name', hint='As printed.') }}") == [
        "Club name",
        "As printed.",
    ]
    assert not is_for_readers("club")


def test_the_german_catalogue_is_read():
    assert page_sentences("de")["Settings"] == "Einstellungen"
    assert page_sentences("en") == {}
