"""A count of one reads well in every sentence: "1 of 1 serve was", never "1 of 1 times" or "1 serves"."""

from __future__ import annotations

import re
from itertools import product

import pytest

from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade, GuessingWatch, Names, Pronoun, Share
from goodlength.findings.text import win_probability_and_trend_sentences
from goodlength.findings.text.finding_sentences import SentenceContext, say_result
from goodlength.findings.text.sample_size_and_serve_variety_sentences import summary, variety

NAMES = Names("Imogen Vale", "Petra Lind", Pronoun.SHE)
KINDS = ("lob", "hard", "body-feet", "body-nick", "other")
# "(1|one) [word] plural" and a plural verb after "1 of 1"; "1 of 1 time" is no English either.
_MANY = "times|serves|lobs|rallies|ones|matches|kinds|returns|questions|games|opponents|points|were|are|do"
ODD = re.compile(
    rf"(?<!game )\b(?:1|one) (?:more |longer |shorter |volleyed )?(?:{_MANY})\b|\bof 1 time\b|\ball 1\b",
    re.IGNORECASE,
)


def _shares() -> list[Share]:
    return [Share(count, of, 0.0, 1.0) for of in (0, 1, 2, 11) for count in range(min(of, 2) + 1)]


def _asked() -> list[QuestionResult]:
    many = []
    for ask, first, second in product(Question, _shares(), _shares()):
        for grade, gaps in product((Grade.TOO_FEW, Grade.LEANING, Grade.CLEAR), ((0, 1), (1, 0))):
            luck = (0.4, 0.0, 1.0) if ask in (Question.REPEAT, Question.AFTER) else None
            known = QuestionResult(
                ask, "a", first, second, 0.3, 0.9, 1, gaps, ((1,), (2,)), luck, q=0.3, grade=grade
            )
            many.append(known)
    return many


def test_the_check_itself_finds_what_reads_badly():
    bad = [
        "served the same again 1 of 1 time.",
        "1 of 1 times",
        "1 serves",
        "one rallies",
        "1 of 1 were lobs",
    ]
    assert all(ODD.search(said) for said in bad)
    good = ["1 of 1 serve was", "11 of 21 serves were", "21 serves", "1 time in 3", "1 of 11 times"]
    assert not any(ODD.search(said) for said in good)


def test_no_finding_says_one_as_many():
    odd = set()
    for item, more in product(_asked(), (1, 2)):
        scene = SentenceContext(NAMES, "a", KINDS, (0, 1), {}, "12 shots", "", more, 1)
        words = say_result(item, scene)
        told = (words.headline, words.text, words.you_headline, words.you_text, words.parents)
        odd |= {said for said in told if ODD.search(said)}
    assert not odd, sorted(odd)[:5]


@pytest.mark.parametrize("n", [1, 2, 21])
def test_no_sentence_of_the_match_says_one_as_many(n):
    none = Share(0, n, 0.0, 1.0)
    told = [
        summary(NAMES, "a", n, 1, n),
        variety(NAMES, "a", n, 1, 1.0, Share(1, n, 0, 1), "lob"),
        variety(NAMES, "a", 5 * n, 2, 1.0, Share(1, n, 0, 1), "lob"),
        win_probability_and_trend_sentences.guess_words(
            NAMES, "a", GuessingWatch(1, 1, n, 0.1), (1, 1), "lob", 2, Grade.TOO_FEW
        ),
        win_probability_and_trend_sentences.mix_words(KINDS[:2], n, True, 0.1, 0.1, (0.5, 0.5), 3),
        win_probability_and_trend_sentences.mix_words(KINDS[:2], n, False, 0.1, 0.1, (0.5, 0.5), 3),
        win_probability_and_trend_sentences.agreement_words(n, 1, n),
        win_probability_and_trend_sentences.reliability_words("box", 1, n, "good"),
        win_probability_and_trend_sentences.trend_words("Lob", 0.01, -0.01, 0.01, n),
        win_probability_and_trend_sentences.trend_words("Lob", 0.01, 0.005, 0.01, n),
        win_probability_and_trend_sentences.before_after_words("Lob", none, none, 0.1, 0.05, 0.15, n, n),
        win_probability_and_trend_sentences.moment_sentence(NAMES, 1, (n, 1), "a", "b", n / 100),
        win_probability_and_trend_sentences.worth_words(NAMES, "a", n / 100, 0.01, 0.01, 0.01, 0.01),
    ]
    assert not [said for said in told if ODD.search(said)]
