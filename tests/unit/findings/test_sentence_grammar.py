"""Words: kinds as nouns, names, numbers and chances."""

from __future__ import annotations

import pytest

from goodlength.findings.result_types import Names, Pronoun, Share
from goodlength.findings.text.sample_size_and_serve_variety_sentences import summary, variety
from goodlength.findings.text.sentence_grammar import (
    frequency_in_words,
    games,
    listing,
    noun,
    number_in_words,
    owner,
    short,
    voices,
)


@pytest.mark.parametrize(
    ("kind", "words", "item", "many"),
    [
        ("lob", {}, "lob", "lobs"),
        ("hard", {}, "hard serve", "hard serves"),
        ("body-nick", {}, "body serve for the back-wall nick", "body serves for the back-wall nick"),
        ("other", {}, "serve logged as “other”", "serves logged as “other”"),
        ("lob", {"lob": "High lob"}, "high lob", "high lobs"),
        ("x", {"x": "Slice serve"}, "slice serve", "slice serves"),
        ("x", {"x": "Slice, low"}, "slice serve (low)", "slice serves (low)"),
        ("x", {"x": "T ball"}, "T ball serve", "T ball serves"),
        ("x", {}, "x serve", "x serves"),
    ],
)
def test_kinds_as_nouns(kind, words, item, many):
    said = noun(kind, words)
    assert (said.one, said.many) == (item, many)


def test_names_that_look_alike_are_said_in_full():
    names = Names("Kim Ade", "Kim Bell")
    assert short(names, "a") == "Kim Ade"
    assert short(Names("", ""), "b") == "Player B"


@pytest.mark.parametrize(
    ("pronoun", "subject", "own", "win"),
    [
        (None, "Imogen", "Imogen’s", "wins"),
        (Pronoun.SHE, "she", "her", "wins"),
        (Pronoun.HE, "he", "his", "wins"),
        (Pronoun.THEY, "they", "their", "win"),
    ],
)
def test_voices(pronoun, subject, own, win):
    about, to = voices(Names("Imogen Vale", "Petra L", pronoun), "a")
    assert (about.subject, about.own, about.verb("win", "wins")) == (subject, own, win)
    assert (to.subject, to.own, to.verb("win", "wins")) == ("you", "your", "win")
    assert about.opponents == "Petra’s"


def test_numbers_and_lists():
    assert [number_in_words(n) for n in (0, 1, 12, 13)] == ["no", "one", "twelve", "13"]
    assert listing([]) == ""
    assert games((1, 2, 3)) == "games 1 to 3"
    assert owner("James") == "James’s"


@pytest.mark.parametrize("p", [0.0, 1e-9, 0.0099, 0.01, 0.044, 0.05, 0.2, 0.29, 0.4, 0.5, 0.7, 0.9, 1.0])
def test_every_chance_has_words(p):
    assert frequency_in_words(p)
    assert "%" not in frequency_in_words(p)


def test_summary_counts_lets():
    names = Names("Imogen Vale", "Petra L")
    assert summary(names, "a", 1, 1, 1) == "From 1 rally logged, a let. Imogen served 1."
    assert summary(names, "a", 5, 5, 2) == "From 5 rallies logged, all of them lets. Imogen served 2."
    assert summary(names, "a", 5, 1, 2) == "From 5 rallies logged, one of them a let. Imogen served 2."
    assert summary(names, "a", 5, 0, 2) == "From 5 rallies logged. Imogen served 2."


def test_variety_is_never_said_without_its_count():
    names = Names("Imogen Vale", "Petra L", Pronoun.SHE)
    guess = Share(17, 37, 0.3, 0.6)
    said = variety(names, "a", 37, 5, 3.4, guess, "lob")
    assert said == (
        "Imogen’s serves were as varied as if about three kinds were served equally often (37 serves). "
        "Always guessing “lob” would have been right 17 times in 37."
    )
    assert variety(names, "a", 20, 2, 1.9, guess, "lob").startswith(
        "Imogen’s serves were as varied as if both kinds were served equally often"
    )
    assert variety(names, "a", 0, 0, None, guess, "") == "Imogen has no serve with its kind logged."
