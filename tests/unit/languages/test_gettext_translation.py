"""Sentences out of catalogues, with numbers, dates and plural forms as a language writes them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from goodlength.errors import InputError
from goodlength.languages import LANGUAGES, language, to_translate
from goodlength.media_time import day_words
from goodlength.show.draw.proportion_protocols_and_wording import percent


def test_english_days_are_those_of_every_other_page():
    for n in range(0, 40_000, 13):
        day = date(1950, 1, 1) + timedelta(n)
        assert language("en").day(day) == day_words(day)


def test_plural_forms_numbers_and_lists_follow_the_language():
    german, english = language("de"), language("en")
    single, many = (
        "{n} of your serves has no kind logged and is not counted by kind.",
        ("{n} of your serves have no kind logged and are not counted by kind."),
    )
    assert german.phrase_of(single, many, 1).startswith("Bei 1 deiner Aufschläge")
    assert german.phrase_of(single, many, 1234).startswith("Bei 1.234 deiner")
    assert english.phrase_of(single, many, 2).startswith("2 of your serves have")
    assert (german.number(0.25, 2), english.number(0.25, 2)) == ("0,25", "0.25")
    assert german.day(date(2026, 3, 1)) == "1. März 2026"
    assert german.listing(["1", "2"]) == "1 und 2"
    assert [percent(share) for share in (0.0, 0.005, 0.125, 0.994, 0.995, 1.0)] == [
        "0%",
        "1%",
        "13%",
        "99%",
        "100%",
        "100%",
    ]


def test_a_value_may_hold_braces_and_somebody_s_own_words_stay_as_they_are():
    german = language("de")
    assert german.phrase("For {player}", player="{n} & {{x}}") == "Für {n} & {{x}}"
    assert german.known("{Meine} Übung") == "{Meine} Übung"
    assert german.known("Six-corner ghosting") == "Ghosting in sechs Ecken"
    assert german.known("") == ""
    assert to_translate("as it is") == "as it is"


def test_a_word_that_means_two_things_is_translated_by_where_it_stands():
    assert language("de").phrase_in("column of a table", "Served") == "Anzahl"
    assert language("de").phrase("Served") == "Served"  # elsewhere: not in the catalogue


def test_a_language_that_is_not_spoken_is_said():
    with pytest.raises(InputError, match=r"There is no language 'xx'. Choose one of these: English \(en\)"):
        language("xx")
    assert [language(code).direction for code in LANGUAGES] == ["ltr"] * len(LANGUAGES)
