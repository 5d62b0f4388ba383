"""What sentences say of answers that are missing, and of counts that rest on few of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from goodlength.findings.analyses.match_questions import two
from goodlength.findings.question_types import RESTS_ON, Question, QuestionResult
from goodlength.findings.result_types import Grade, Names, Pronoun, Share
from goodlength.findings.text.finding_sentences import SentenceContext, say_result
from goodlength.findings.text.missing_answers_sentences import LoggedAnswers

NAMES = Names("Mara Okonkwo", "Bo Lind", Pronoun.SHE, None)
SCENE = SentenceContext(NAMES, "a", ("lob", "hard"), (0, 1), {}, "12 shots", "", 20, 10)


def asked_of(ask: Question, counts: tuple[int, int, int, int], grade: Grade) -> QuestionResult:
    a, n, c, m = counts
    kinds = (
        (0,)
        if ask in (Question.DRIFT, Question.KIND_DRIFT, Question.KIND_WEAK, Question.KIND_WON)
        else (0, 1)
    )
    item = two(ask, "a", Share(a, n, 0, 1), Share(c, m, 0, 1), p=0.01, kinds=kinds, games=((1, 2), (3,)))
    return replace(item, q=0.02, grade=grade)


LOGGED = LoggedAnswers((5, 43), (20, 24), (20, 24), (40, 48), {0: 3, 1: 2}, (12, 12))


@pytest.mark.parametrize(
    ("ask", "counts", "words"),
    [
        (Question.KIND_WEAK, (1, 1, 2, 2), "on the only lob with its return logged, against 2 of 2"),
        (Question.WON, (2, 2, 1, 1), "the only one on the hard serve whose winner is logged"),
        (Question.DRIFT, (2, 4, 1, 1), "the only serve with a kind logged in game 3 was a lob."),
        (Question.BOX_WEAK, (1, 1, 2, 3), "the only serve from the right box with its return logged"),
    ],
)
def test_the_only_one_of_several_says_what_is_logged_of_it(ask, counts, words):
    """Before: "the only mid-height serve" beside another finding in which there were two."""
    scene = replace(SCENE, logged=LOGGED)
    item = replace(asked_of(ask, counts, Grade.TOO_FEW), p=None, q=None)
    said = say_result(item, scene).text
    assert words in said
    assert ("Only 5 of 43 serves have a kind logged." in said) == ("kind" in RESTS_ON[ask])
    whole = say_result(item, SCENE).text
    assert "with its" not in whole
    assert "whose" not in whole
    assert "logged" not in whole


def test_a_part_without_a_kind_is_not_called_a_part_without_a_serve():
    """Before: "No serve in game 1 is logged", of which 15 were, without their kind."""
    item = replace(asked_of(Question.DRIFT, (0, 0, 1, 2), Grade.TOO_FEW), p=None, q=None)
    assert say_result(item, SCENE).text.startswith("No serve in games 1 and 2 has a kind logged; 1 of 2")


def test_the_reason_of_a_possible_gap_is_one_the_counts_show():
    """Before: "one of the two counts is out of only nine" beside 45 of 59 and 18 of 29."""
    item = replace(asked_of(Question.WON, (45, 59, 18, 29), Grade.LEANING), kinds=(0, 1), smaller_side=9)
    item = replace(item, p=0.001, q=0.02, within_matches=(0.68, 0.2))
    said = say_result(item, replace(SCENE, scope="over 5 matches")).text
    assert "but few of them come from matches that have both." in said
    assert "holds up" not in said
    serving = replace(asked_of(Question.SERVE_EDGE, (7, 9, 2, 28), Grade.LEANING), smaller_side=9, q=0.002)
    serving = replace(serving, games=None, checked_p=0.008)
    assert "one of the two counts is out of only nine" in say_result(serving, SCENE).text


def test_a_possible_gap_that_looks_surer_says_what_was_allowed_for():
    """Before: "8 of 10 serves in game 1 and 1 of 18 ... about 1 time in 11", of counts of 1 in 4,000."""
    item = replace(asked_of(Question.DRIFT, (8, 10, 1, 18), Grade.LEANING), p=0.01, q=0.09)
    said = say_result(item, SCENE).text
    assert (
        "Allowing for the same serve coming several times in a row, and with so many things checked in one "
        "match, chance alone gives a gap like this about 1 time in 11"
    ) in said
    assert "With so many things" in say_result(replace(item, p=0.0002), SCENE).text


def test_nothing_to_compare_is_not_said_to_be_nothing_logged():
    """Before: "No rally after changing the serve or after repeating it is logged as won or lost.", of 46."""
    item = replace(asked_of(Question.CHANGE, (0, 0, 0, 0), Grade.TOO_FEW), p=None, q=None)
    said = say_result(item, SCENE).text
    assert (
        said == "No kind of serve was both changed to and repeated from one box, so nothing can be compared."
    )


def test_serving_over_matches_says_that_only_whole_games_are_counted():
    """Before: "Who won is logged for only 390 of 522 rallies" beside counts of 214."""
    item = replace(asked_of(Question.SERVE_EDGE, (42, 88, 46, 126), Grade.TOO_FEW), games=None, p=0.4, q=1.0)
    said = say_result(item, replace(SCENE, logged=LoggedAnswers(all_winners=(390, 522)))).text
    assert "lets excluded. Only games where every winner is known are counted." in said
    assert "390" not in said


@pytest.mark.parametrize(
    ("ask", "logged", "words"),
    [
        (
            Question.VOLLEY,
            {"taken": (2, 22)},
            "How the return was taken is logged for only 2 of 22 returns made.",
        ),
        (Question.VOLLEY, {"taken": (21, 22), "box_returns": (23, 24)}, ""),
        (Question.WEAK, {"returns": (12, 20)}, "Only 12 of 20 serves have a return logged."),
        (Question.WEAK, {"returns": (19, 20)}, ""),
        (Question.WON, {"winners": (9, 20)}, "Who won is logged for only 9 of 20 rallies served."),
        (Question.LONG, {"all_winners": (19, 40)}, "Who won is logged for only 19 of 40 rallies."),
        (Question.REPEAT, {"kinds": (1, 20)}, "Only 1 of 20 serves has a kind logged."),
    ],
)
def test_answers_that_are_missing_are_said_with_the_counts(ask, logged, words):
    """Before: "1 of 2 serves in games 1 to 3", of 43 serves, and nothing said so."""
    item = replace(asked_of(ask, (4, 9, 5, 9), Grade.TOO_FEW), games=None, p=None, q=None)
    if ask is Question.REPEAT:
        item = replace(item, second=None, luck=(0.5, 0.2, 0.8))
    said = say_result(item, replace(SCENE, logged=LoggedAnswers(**logged))).text
    assert (words in said) if words else ("logged" not in said)
