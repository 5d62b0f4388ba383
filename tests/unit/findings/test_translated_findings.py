"""Findings said to the player in another language: no surer than their grade, with the counts they rest on."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest

from goodlength.findings import find
from goodlength.findings.analyses.match_questions import two
from goodlength.findings.question_types import LISTED, Question, QuestionResult
from goodlength.findings.result_types import Finding, Grade, Names, Share
from goodlength.findings.text.finding_sentences import SentenceContext
from goodlength.findings.text.translated_findings import translated_finding
from goodlength.languages import language
from goodlength.synthetic.simulated_matches import World, invent_match

NAMES = Names("Mara Okonkwo", "Bo Lind")
SCENE = SentenceContext(NAMES, "a", ("lob", "hard"), (0, 1), {}, "12 shots", "", 20, 10)
GERMAN = language("de")
ONE_KIND = (Question.DRIFT, Question.KIND_DRIFT, Question.KIND_WEAK, Question.KIND_WON)
TWO_SIDED = tuple(ask for ask in Question if ask not in (Question.REPEAT, Question.AFTER))
PAIRS = ((12, 13, 15, 35), (15, 35, 12, 13), (3, 20, 20, 31), (1, 1, 5, 40))
WORLDS = (
    World(),
    World(weak=(0.8, 0.2), won=(0.7, 0.3)),
    World(repeats=0.7, drift=(0.8, 0.2)),
    World(serving=0.4, long=0.4, changing=0.4, unwritten=0.4),
    World(by_box=0.9, unwritten_half=0.5),
    World(run=0.3, repeats=-0.7),
)
UNSURE = re.compile(r"schein|Vielleicht|vielleicht|\?$")
ENGLISH = re.compile(r"\b(the|of|you|your|and|serve|rally|rallies|returns? of|won|lost|game)\b|[{}]")


@cache
def findings(code: str) -> tuple[Finding, ...]:
    found = []
    for n, world in enumerate(WORLDS * 3):
        table = invent_match(np.random.default_rng(n), world).table
        for side in ("a", "b"):
            found += find(table, side, NAMES, spoken=language(code)).all
    return tuple(found)


def result_of(ask: Question, counts: tuple[int, int, int, int], grade: Grade) -> QuestionResult:
    a, n, c, m = counts
    kinds = (0,) if ask in ONE_KIND else (0, 1)
    asked = two(ask, "a", Share(a, n, 0, 1), Share(c, m, 0, 1), p=0.01, kinds=kinds, games=((1, 2), (3,)))
    return replace(asked, q=0.02, grade=grade)


@pytest.mark.parametrize(("ask", "counts"), list(product(TWO_SIDED, PAIRS)))
def test_a_headline_is_no_surer_than_its_grade(ask, counts):
    for grade in Grade:
        headline, words = translated_finding(result_of(ask, counts, grade), SCENE, GERMAN)
        if grade is Grade.LEANING or (grade is Grade.CLEAR and ask not in LISTED):
            assert UNSURE.search(headline), headline
        if grade is Grade.TOO_FEW:
            assert headline.endswith("?"), headline
        if grade is Grade.CLEAR and ask in LISTED:
            assert not UNSURE.search(headline), headline
        sure = grade is Grade.CLEAR
        assert ("durch Zufall allein" in words) is sure, words
        assert ("kann trotzdem Zufall" in words or "kann Zufall sein" in words) is (grade is Grade.LEANING), (
            words
        )


@pytest.mark.parametrize("counts", PAIRS)
def test_the_side_that_leads_in_words_leads_in_its_counts(counts):
    a, n, c, m = counts
    first = a / n > c / m
    told = {
        ask: translated_finding(result_of(ask, counts, Grade.LEANING), SCENE, GERMAN)[0] for ask in TWO_SIDED
    }
    assert told[Question.WON].startswith("Mit „Lob“" if first else "Mit „Hart“")
    assert told[Question.WEAK].startswith(
        "Auf deinen Aufschlag „Lob“" if first else "Auf deinen Aufschlag „Hart“"
    )
    assert told[Question.SERVE_EDGE].startswith(
        "Du scheinst bei eigenem Aufschlag" if first else "Du scheinst beim Return"
    )
    assert told[Question.LONG].startswith("Lange" if first else "Kürzere")
    assert told[Question.CHANGE].endswith(
        "als wenn du ihn wiederholst." if first else "als wenn du ihn wechselst."
    )
    assert ("seltener" if first else "öfter") in told[Question.DRIFT]
    assert told[Question.BOX_WON].startswith(
        "Bei Aufschlag von rechts" if first else "Bei Aufschlag von links"
    )
    assert ("von rechts" if first else "von links") in told[Question.BOX_WEAK]
    assert told[Question.VOLLEY].startswith("Als Volley" if first else "Später")
    for ask in (Question.KIND_WEAK, Question.KIND_WON):
        assert ("öfter" if first else "seltener") in told[ask]


def test_the_counts_said_are_those_of_the_finding():
    """Every count of a finding stands in its words, and nothing is said of a side without any."""
    counted = 0
    for finding in findings("de"):
        if finding.question == Question.LONG and "bekannt" in finding.you_words:
            continue
        for share in (
            (finding.count, finding.of),
            finding.against and (finding.against.count, finding.against.of),
        ):
            if (
                share
                and share[1]
                and (finding.against is None or finding.against.of or share[0] == finding.count)
            ):
                both = f"{share[0]} von {share[1]}"
                if both in finding.you_words:
                    counted += 1
                else:
                    assert finding.question in (Question.CHANGE, Question.LONG), finding.you_words
        assert "0 von 0" not in finding.you_words, finding.you_words
    assert counted > 200


def test_every_sentence_of_whole_matches_is_german_and_no_surer_than_the_english():
    pairs = list(zip(findings("de"), findings("en"), strict=True))
    assert {finding.question for finding, _ in pairs} == {str(ask) for ask in Question}
    assert {finding.grade for finding, _ in pairs} >= {Grade.CLEAR, Grade.LEANING, Grade.TOO_FEW}
    for german, english in pairs:
        assert (german.key, german.headline, german.words) == (english.key, english.headline, english.words)
        assert german.you_headline != english.you_headline
        for words in (german.you_headline, german.you_words):
            assert not ENGLISH.search(words), words
        if english.you_headline.endswith("?"):
            assert UNSURE.search(german.you_headline) or "Nur „" in german.you_headline, german.you_headline
        if "durch Zufall allein sehr selten" in german.you_words:
            assert "very unlikely to be chance" in english.you_words


def test_what_is_missing_is_said_to_the_player_too():
    table = invent_match(np.random.default_rng(5), World(unwritten_half=0.5)).table
    german, english = (find(table, "a", NAMES, spoken=language(code)).notes for code in ("de", "en"))
    assert len(german) == len(english) > 0
    for note, same in zip(german, english, strict=True):
        assert re.findall(r"\d+", note) == re.findall(r"\d+", same)
        assert not ENGLISH.search(note)


def test_a_kind_that_the_coach_named_keeps_its_name():
    scene = replace(SCENE, kinds=("x1", "hard"), kind_words={"x1": "{Slice} & Co"})
    headline, _ = translated_finding(result_of(Question.WON, PAIRS[0], Grade.CLEAR), scene, GERMAN)
    assert headline == "Mit „{Slice} & Co“ gewinnst du öfter als mit „Hart“."
