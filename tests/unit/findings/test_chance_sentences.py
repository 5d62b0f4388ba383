"""What sentences say of chance, of totals that mislead and of answers that are missing, case by case."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from goodlength.findings.analyses.match_questions import two
from goodlength.findings.grade_robustness_to_other_match_models import survives
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade, Names, Pronoun, Share
from goodlength.findings.text.finding_sentences import SentenceContext, say_result
from goodlength.findings.text.missing_answers_sentences import LoggedAnswers
from goodlength.findings.text.sentence_grammar import frequency_in_words

NAMES = Names("Mara Okonkwo", "Bo Lind", Pronoun.SHE, None)
SCENE = SentenceContext(NAMES, "a", ("lob", "hard"), (0, 1), {}, "12 shots", "", 20, 10)
LOGGED = LoggedAnswers((5, 43), (20, 24), (20, 24), (40, 48), {0: 3, 1: 2}, (12, 12))


def asked_of(ask: Question, counts: tuple[int, int, int, int], grade: Grade) -> QuestionResult:
    a, n, c, m = counts
    kinds = (
        (0,)
        if ask in (Question.DRIFT, Question.KIND_DRIFT, Question.KIND_WEAK, Question.KIND_WON)
        else (0, 1)
    )
    item = two(ask, "a", Share(a, n, 0, 1), Share(c, m, 0, 1), p=0.01, kinds=kinds, games=((1, 2), (3,)))
    return replace(item, q=0.02, grade=grade)


def over_matches(ask, counts, gap, p, q=0.5, grade=Grade.TOO_FEW):
    """Return a question over matches, with the gap within them."""
    item = replace(asked_of(ask, counts, grade), games=None, p=p, q=q, matches=6)
    return replace(item, within_matches=(gap, 0.1))


@pytest.mark.parametrize(
    ("counts", "gap", "misleads"),
    [
        ((13, 15, 14, 25), 0.28, False),  # before: "mislead" beside 31 and 28 points
        ((48, 82, 10, 21), 0.30, True),
        ((50, 84, 10, 21), 0.215, True),  # before: nothing said
        ((106, 169, 90, 133), 0.081, True),  # before: nothing said, of another sign
        ((51, 81, 90, 137), 0.018, True),
        ((83, 144, 63, 137), 0.088, False),
        ((20, 40, 20, 40), 0.004, False),
    ],
)
@pytest.mark.parametrize("grade", [Grade.TOO_FEW, Grade.LEANING])
def test_totals_mislead_where_the_gap_within_matches_differs_and_only_there(counts, gap, misleads, grade):
    item = over_matches(Question.WEAK, counts, gap, 0.15, 0.5 if grade is Grade.TOO_FEW else 0.15, grade)
    said = say_result(item, replace(SCENE, scope="over 6 matches")).text
    graded_and_hidden = grade is Grade.LEANING and counts[0] * counts[3] == counts[1] * counts[2]
    assert bool(re.search("The totals of all matches (mislead here|(over|under)state the gap)", said)) == (
        misleads or graded_and_hidden
    ), said


@pytest.mark.parametrize(
    ("ask", "counts", "p", "words"),
    [
        # counts surer than what was judged: before, "It may well be chance." without a reason
        (Question.WEAK, (83, 133, 71, 139), 0.131, "Allowing for the differences between matches, it may"),
        (Question.KIND_DRIFT, (0, 8, 4, 10), 0.167, "several times in a row, it may well be chance."),
        (
            Question.KIND_DRIFT,
            (0, 21, 10, 22),
            0.094,
            "several times in a row, and as one of 17 things checked, it may",
        ),
        # less sure: before, "Chance alone easily gives a gap like this." of p .065
        (Question.WON, (18, 36, 18, 29), 0.065, "Within each service box, there is too little to be"),
        (Question.LONG, (18, 36, 18, 29), 0.065, "lets excluded. There is too little to be sure."),
        (Question.BOX_WON, (18, 36, 18, 29), 0.2, "lets excluded. There is too little to be sure."),
        (
            Question.BOX_WON,
            (18, 36, 18, 29),
            0.4,
            "lets excluded. Chance alone easily gives a gap like this.",
        ),
    ],
)
def test_what_is_said_of_chance_is_true_of_the_counts_and_of_what_was_judged(ask, counts, p, words):
    item = replace(asked_of(ask, counts, Grade.TOO_FEW), p=p, q=1.0)
    if "matches" in words:
        item = over_matches(ask, counts, 0.105, p)
    said = say_result(item, replace(SCENE, asked=17, more=None)).text
    assert words in said, said


def test_a_clear_gap_of_counts_that_do_not_show_it_names_what_was_allowed_for():
    """Before: "A gap this big is unlikely to be chance." of counts that chance gives 1 time in 5."""
    item = over_matches(Question.WEAK, (60, 100, 50, 100), 0.12, 0.01, 0.04, Grade.CLEAR)
    assert "Allowing for the differences between matches, a gap this big is unlikely" in (
        say_result(item, SCENE).text
    )


def test_a_possible_gap_that_was_not_planned_gives_that_as_its_reason():
    """Before: "It may still be chance." of 10 of 10 and 1 of 13, of q .000 and of q .1 alike."""
    said = say_result(asked_of(Question.BOX_WEAK, (10, 10, 1, 13), Grade.LEANING), SCENE).text
    assert "It may still be chance" not in said
    assert said.endswith("This was not a planned question, so look for it again in another match.")


def repeats(count, mean, low, high, **more):
    item = asked_of(Question.REPEAT, (count, 100, 0, 0), Grade.TOO_FEW)
    return replace(item, second=None, luck=(mean, low, high), **more)


def test_repeats_outside_what_chance_gives_say_why_they_have_no_grade():
    """Before: "about 88, nearly always 82 to 94", 95 seen, and "There is too little to be sure."."""
    said = say_result(repeats(75, 0.7, 0.65, 0.74, p=0.035, q=0.19), SCENE).text
    assert "That is only a little more often than by chance, which is too little to be sure." in said


@pytest.mark.parametrize(("count", "inside"), [(44, True), (28, True), (46, False), (26, False)])
def test_repeats_inside_the_range_of_chance_are_not_called_beyond_it(count, inside):
    """Before: "more often than chance would explain" of 44, beside "nearly always 28 to 44"."""
    headline = say_result(repeats(count, 0.36, 0.28, 0.44, grade=Grade.LEANING), SCENE).headline
    assert ("chance would explain" in headline) == (not inside)
    assert ("may be" in headline) == inside


def test_counts_of_a_question_that_is_not_judged_say_what_they_rest_on():
    """Before: "8 of 13 serves in games 1 to 3, 4 of 14 in games 4 and 5", of 49 serves."""
    item = replace(asked_of(Question.DRIFT, (8, 13, 4, 14), Grade.TOO_FEW), p=None, q=None)
    for why in ({"unwritten": frozenset({"kind"})}, {"doubted": frozenset({"kind"})}):
        said = say_result(replace(item, **why), replace(SCENE, logged=LoggedAnswers(kinds=(27, 49))))
        assert "Only 27 of 49 serves have a kind logged." in said.text


def test_one_rally_alone_has_no_let_excluded():
    """Before: "She lost the only rally on other serves with its result logged, lets excluded."."""
    scene = replace(SCENE, logged=LOGGED)
    item = replace(asked_of(Question.KIND_WON, (0, 0, 0, 1), Grade.TOO_FEW), p=None, q=None)
    said = say_result(item, scene).text
    assert said.startswith("She lost the only rally on other serves whose winner is logged. No rally on")


@pytest.mark.parametrize(
    ("p", "once"),
    [(0.036, 27), (0.0345, 28), (0.0333, 30), (0.0405, 24), (0.0121, 80), (0.105, 9), (0.051, 19)],
)
def test_a_chance_is_never_said_rarer_than_it_is(p, once):
    """Before: 1 time in 30 of .036."""
    assert frequency_in_words(p) == f"about 1 time in {once}"
    assert p >= 0.01
    assert frequency_in_words(0.35) == "about 2 times in 5"
    assert frequency_in_words(0.26) == "about 1 time in 3"


def test_a_possible_gap_names_what_makes_it_less_sure_than_its_counts():
    """Before: "It may still be chance." of 70 of 115 and 43 of 120, whose Fisher p is .0001."""
    result = over_matches(Question.WON, (70, 115, 43, 120), 0.232, 0.06, 0.3, Grade.LEANING)
    words = say_result(result, SCENE).text
    assert "It may still be chance." not in words
    assert re.search(
        r"[Ww]ith .* things checked in one match, chance alone may still give a gap like this\.", words
    )


def test_parents_read_the_reason_of_what_is_not_clear_yet():
    """Before: "It may be chance; more matches will show." beside "less than 1 time in 100"."""
    few = replace(
        asked_of(Question.WON, (217, 344, 171, 344), Grade.LEANING),
        p=0.0001,
        q=0.001,
        matches=25,
        same_sign_share=0.5,
    )
    parents = say_result(few, SCENE).parents
    assert parents.endswith("This is not certain yet: too few of the matches show it.")


def test_a_question_of_the_boxes_counts_the_returns_of_all_serves():
    """Before: "Only 6 of 17 serves have a return logged." beside 4 of 6 and 5 of 7: serves with a kind only."""
    logged = replace(LOGGED, kinds=(17, 31), returns=(6, 17), box_returns=(13, 31))
    boxes = say_result(
        asked_of(Question.BOX_WEAK, (4, 6, 5, 7), Grade.TOO_FEW), replace(SCENE, logged=logged)
    )
    assert "Only 13 of 31 serves have a return logged." in boxes.text


def test_one_counted_game_says_nothing_of_form_from_game_to_game():
    """Before: "Only game 3 is counted" and "The grade also holds when we allow for form that changes"."""
    item = replace(asked_of(Question.SERVE_EDGE, (5, 6, 0, 9), Grade.LEANING), games=((3,), (1, 2)))
    assert survives(item) == ()
    assert survives(replace(item, games=((1, 2), (3,)))) != ()


def test_the_rallies_that_settle_serving_are_said_to_be_against_streaks():
    """Before: 31 of 33 against 2 of 7, "as big as it looks", would take 80 more: chance alone would take 20."""
    item = replace(asked_of(Question.SERVE_EDGE, (31, 33, 2, 7), Grade.LEANING), games=None)
    words = say_result(item, replace(SCENE, more=80)).text
    assert words.endswith(
        "As winning streaks give such a gap too, it would take about 80 more rallies of each to settle it."
    )


def test_a_possible_gap_gets_a_number_only_where_the_counts_bear_it_out():
    """Before: 7 of 9 against 4 of 10, "1 time in 7", of counts that Fisher's test gives 1 time in 6."""
    item = replace(asked_of(Question.LONG, (7, 9, 4, 10), Grade.LEANING), p=0.09, q=0.14)
    assert "chance alone may still give a gap like this." in say_result(item, SCENE).text
    surer = replace(asked_of(Question.LONG, (19, 24, 9, 24), Grade.LEANING), p=0.01, q=0.14)
    assert "about 1 time in 7" in say_result(surer, SCENE).text
    counts = replace(asked_of(Question.LONG, (16, 32, 25, 32), Grade.LEANING), p=0.0292, q=0.064)
    assert "about 1 time in 12" in say_result(counts, SCENE).text  # before: 15, of an exact p of .036


def test_a_clear_gap_is_very_unlikely_only_where_the_counts_show_it():
    """Before: "very unlikely to be chance" of 13 of 13 against 7 of 13, which chance gives 1 time in 66."""
    item = over_matches(Question.WEAK, (13, 13, 7, 13), 0.46, 0.0001, 0.001, Grade.CLEAR)
    words = say_result(item, replace(SCENE, scope="over 6 matches"))
    assert (
        "Allowing for the differences between matches, a gap this big is unlikely to be chance." in words.text
    )
    assert words.parents.endswith("This is unlikely to be chance.")
    more = over_matches(Question.WEAK, (26, 26, 14, 26), 0.46, 0.0001, 0.001, Grade.CLEAR)
    assert "very unlikely" in say_result(more, SCENE).text


def test_every_kind_of_missing_answer_is_said():
    """Before: only that kinds are missing, beside counts that rest on still fewer returns."""
    logged = replace(LOGGED, kinds=(20, 43), returns=(9, 19), winners=(8, 40))
    weak = say_result(asked_of(Question.WEAK, (2, 4, 3, 5), Grade.TOO_FEW), replace(SCENE, logged=logged))
    assert "Only 20 of 43 serves have a kind logged. Of these, lets and service faults excluded" in weak.text
    assert "only 9 of 19 have a return logged." in weak.text
    won = say_result(asked_of(Question.WON, (2, 4, 3, 5), Grade.TOO_FEW), replace(SCENE, logged=logged))
    assert "have a kind logged. Who won is logged for only 8 of 40 rallies served." in won.text
    repeat = replace(
        asked_of(Question.REPEAT, (3, 3, 0, 0), Grade.TOO_FEW), second=None, luck=(0.5, 0.2, 0.8)
    )
    words = say_result(repeat, replace(SCENE, logged=logged)).text
    assert words.startswith(
        "3 of 3 times, where both kinds are logged, her next serve in the game was of the"
    )


def test_streaks_are_no_reason_of_a_player_who_wins_more_receiving():
    """Before: "As winning streaks give such a gap too", of 11 of 25 serving and 14 of 18 receiving."""
    item = replace(asked_of(Question.SERVE_EDGE, (11, 25, 14, 18), Grade.LEANING), games=None)
    words = say_result(item, replace(SCENE, more=30)).text
    assert "streaks give such a gap" not in words
    assert words.endswith(
        "about 30 more rallies of each would probably settle it, and more if it is smaller."
    )


def test_a_clear_gap_surer_than_its_counts_says_why():
    """Before: "very unlikely to be chance" of 12 of 32 and 21 of 29, whose Fisher p is 33 times that judged."""
    item = replace(asked_of(Question.SERVE_EDGE, (12, 32, 21, 29), Grade.CLEAR), games=None)
    item = replace(item, p=0.000294, q=0.0026, server_won=(20, 28.4, 61))
    words = say_result(item, SCENE).text
    assert "In all, the server won 20 of 61 rallies; the same scores in another order would give" in words


def test_only_one_kind_of_few_logged_is_said_to_be_logged():
    """Before: "Only lobs: nothing to compare yet." of one serve of 40 with its kind logged."""
    item = replace(asked_of(Question.WON, (1, 2, 0, 0), Grade.TOO_FEW), kinds=(0,), p=None, q=None)
    few = say_result(item, replace(SCENE, logged=replace(LOGGED, kinds=(2, 40))))
    assert few.headline == "All serves with a kind logged are lobs: nothing to compare yet."
    assert say_result(item, SCENE).headline == "Only lobs: nothing to compare yet."


def test_parents_read_that_it_was_logged_too_seldom():
    """Before: "There is too little to be sure." of 48 serves whose kinds were not logged."""
    item = replace(asked_of(Question.WON, (4, 9, 5, 9), Grade.TOO_FEW), p=None, unwritten=frozenset({"kind"}))
    assert say_result(item, SCENE).parents.endswith("The kind of serve was logged too seldom to judge this.")


def test_many_things_checked_are_the_reason_only_where_they_are():
    """Before: "one of four things checked" of p .0445, which four things make no more than 18 in 100."""
    item = replace(
        asked_of(Question.BOX_WON, (10, 12, 4, 11), Grade.TOO_FEW), p=0.052, q=1.0, judged_p=0.0445
    )
    assert "not a planned question" in say_result(item, replace(SCENE, asked=4)).text
    assert "one of ten things checked" in say_result(item, replace(SCENE, asked=10)).text


def test_what_was_allowed_for_is_said_once():
    item = replace(asked_of(Question.DRIFT, (8, 10, 1, 18), Grade.LEANING), p=0.01, q=0.09)
    words = say_result(item, SCENE).text
    assert words.count("several times in a row") == 1
    assert "The grade also holds when we allow for winning streaks and the service box." in words


def test_nearly_all_answers_are_not_called_only_so_many():
    """Before: "Only 127 of 134"."""
    item = asked_of(Question.WON, (4, 9, 5, 9), Grade.TOO_FEW)
    words = say_result(item, replace(SCENE, logged=LoggedAnswers(kinds=(12, 14)))).text
    assert " 12 of 14 serves have a kind logged." in words
    assert "Only" not in words


def test_parents_read_that_two_are_too_few():
    """Before: "There is too little to be sure." beside "Two are too few to judge."."""
    item = replace(asked_of(Question.KIND_WEAK, (0, 2, 9, 20), Grade.TOO_FEW), p=None, q=None)
    assert say_result(item, SCENE).parents.endswith("Two are too few to judge.")


def test_one_kind_in_each_game_is_not_called_one_kind_in_all():
    """Before: "No other kind of serve is logged", of five lobs in one game and five hard serves in the next."""
    item = replace(asked_of(Question.REPEAT, (8, 8, 0, 0), Grade.TOO_FEW), second=None, luck=(1.0, 1.0, 1.0))
    words = say_result(replace(item, p=None, q=None), SCENE)
    assert words.text.endswith("There is no order to read.")
    assert "No other kind" not in words.parents


def test_an_unplanned_gap_with_an_allowance_reads_as_one_sentence():
    """Before: "Within each service box, this was not a planned question, and many were looked at"."""
    item = replace(
        asked_of(Question.KIND_WON, (20, 22, 6, 20), Grade.TOO_FEW), p=0.006, q=0.3, plain_p=0.0001
    )
    words = say_result(item, replace(SCENE, asked=25)).text
    assert (
        "Within each service box, it may still be chance: this was not a planned question, so look" in words
    )
