"""Headline, counts and grade of every sentence family, over matches of all ways, read back and held together."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date
from itertools import product

import numpy as np
import pytest

from goodlength.findings.analyses.match_questions import two
from goodlength.findings.question_types import LISTED, Question, QuestionResult
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.reports.opponent_habits_and_serve_advice import opponent_report
from goodlength.findings.result_types import Grade, GuessingWatch, LikelyGap, Names, Pronoun, Share
from goodlength.findings.statistics.evidence_grades import MATTERS
from goodlength.findings.statistics.exact_tests import summed
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.findings.text.effect_shrinkage import likely_gap, likely_words
from goodlength.findings.text.finding_sentences import SentenceContext, say_result
from goodlength.findings.text.win_probability_and_trend_sentences import guess_words, runs_sentence
from goodlength.synthetic.findings_of_simulated_matches import generated

NAMES = Names("Mara Okonkwo", "Bo Lind", Pronoun.SHE, None)
SCENE = SentenceContext(NAMES, "a", ("lob", "hard"), (0, 1), {}, "12 shots", "", 20, 10)
LARGER, SMALLER = re.compile(r"\bmore often\b"), re.compile(r"\bless often\b")
PAIRS = ((12, 13, 15, 35), (15, 35, 12, 13), (3, 20, 20, 31), (1, 1, 5, 40), (7, 10, 6, 10))
TWO_SIDED = tuple(ask for ask in Question if ask not in (Question.REPEAT, Question.AFTER))


def asked_of(ask: Question, counts: tuple[int, int, int, int], grade: Grade) -> QuestionResult:
    a, n, c, m = counts
    kinds = (
        (0,)
        if ask in (Question.DRIFT, Question.KIND_DRIFT, Question.KIND_WEAK, Question.KIND_WON)
        else (0, 1)
    )
    item = two(ask, "a", Share(a, n, 0, 1), Share(c, m, 0, 1), p=0.01, kinds=kinds, games=((1, 2), (3,)))
    return replace(item, q=0.02, grade=grade)


@pytest.mark.parametrize(("ask", "counts"), list(product(TWO_SIDED, PAIRS)))
def test_a_graded_headline_never_says_a_number_where_a_share_is_meant(ask, counts):
    """Before: "wins more rallies on the lob" beside 12 of 13 and 15 of 35."""
    for grade in (Grade.CLEAR, Grade.LEANING):
        said = say_result(asked_of(ask, counts, grade), SCENE)
        for headline in (said.headline, said.you_headline):
            assert not re.search(r"\b(more|fewer|as many) (weak|rallies|of the|lobs|hard)", headline), (
                headline
            )
            if ask not in LISTED and grade is Grade.CLEAR:
                continue  # never Clear: outside the list
            assert LARGER.search(headline) or SMALLER.search(headline), headline
            if grade is Grade.LEANING:
                assert re.search(r"\bseems?\b", headline), headline


@pytest.mark.parametrize("counts", PAIRS)
def test_the_share_called_larger_is_larger_in_its_counts(counts):
    a, n, c, m = counts
    first = a / n > c / m
    said = {ask: say_result(asked_of(ask, counts, Grade.LEANING), SCENE).headline for ask in TWO_SIDED}
    assert ("on the lob than" if first else "on the hard serve than") in said[Question.WON]
    assert said[Question.WEAK].startswith("Her lob" if first else "Her hard serve")
    assert ("serving than receiving" if first else "receiving than serving") in said[Question.SERVE_EDGE]
    assert ("longer rallies more often" if first else "shorter rallies more often") in said[Question.LONG]
    assert ("after changing the serve than" if first else "after repeating the serve than") in said[
        Question.CHANGE
    ]
    assert ("less often" if first else "more often") in said[Question.DRIFT]
    assert ("the right box than" if first else "the left box than") in said[Question.BOX_WON]
    assert ("right box" if first else "left box") in said[Question.BOX_WEAK]
    assert ("volleyed returns seem" if first else "later returns seem") in said[Question.VOLLEY]
    for ask in (Question.KIND_WEAK, Question.KIND_WON):
        assert (LARGER if first else SMALLER).search(said[ask])


@pytest.mark.parametrize("ask", TWO_SIDED)
@pytest.mark.parametrize("counts", [(0, 0, 3, 9), (3, 9, 0, 0), (0, 0, 0, 0), (1, 1, 0, 1)])
def test_sides_without_a_rally_are_said_in_words(ask, counts):
    said = say_result(asked_of(ask, counts, Grade.TOO_FEW), SCENE)
    if ask in (
        Question.WEAK,
        Question.WON,
        Question.CHANGE,
        Question.SERVE_EDGE,
        Question.KIND_WEAK,
        Question.KIND_WON,
        Question.DRIFT,
        Question.KIND_DRIFT,
    ):
        assert "0 of 0" not in said.text


@pytest.mark.parametrize("repeated", [0, 1])
def test_one_serve_that_was_followed_is_said_as_one(repeated):
    item = QuestionResult(
        Question.AFTER, "a", Share(repeated, 1, 0, 1), None, None, 0.5, 1, kinds=(0,), luck=(0.4, 0.0, 1.0)
    )
    said = say_result(item, SCENE)
    assert said.text.startswith("Only one lob was followed by another serve, and that was of ")
    assert ("of the same kind" if repeated else "of another kind") in said.text
    assert "of 1 time" not in said.text


@pytest.mark.parametrize("shares", [((14, 20), (6, 20)), ((6, 20), (14, 20))])
def test_a_likely_size_wider_than_the_counts_is_not_called_smaller(shares):
    """A gap within boxes may be wider than that of the counts; before, the second order was "smaller"."""
    first, second = (Share(count, of, 0, 1) for count, of in shares)
    seen = shares[0][0] / 20 - shares[1][0] / 20
    likely = likely_gap(first, second, 1.5 * seen, 0.02)
    assert likely is not None
    assert abs(likely.gap) > abs(seen)
    assert likely_words(likely, first, second) == ""


def test_the_likely_size_never_turns_the_gap_round():
    rng = np.random.default_rng(9)
    for _ in range(3000):
        n, m = (int(rng.integers(1, 60)) for _ in range(2))
        first, second = (
            Share(int(rng.integers(0, n + 1)), n, 0, 1),
            Share(int(rng.integers(0, m + 1)), m, 0, 1),
        )
        words = likely_words(likely_gap(first, second), first, second)
        found = re.search(r"nearer (\d+) of \d+ against (\d+) of \d+", words)
        if found:
            a, c = (int(x) for x in found.groups())
            seen = first.count / n - second.count / m
            assert (a / n - c / m) * seen > 0
            assert abs(a / n - c / m) <= abs(seen) + 1 / n + 1 / m


def test_generated_sentences_are_borne_out_by_their_counts():
    """Matches of all ways and seasons of them."""
    seen: set[str] = set()
    for finding in generated(np.random.default_rng(12), 300):
        seen.add(finding.question)
        assert "0 of 0" not in finding.words, finding.words
        assert "nan" not in finding.words
        if finding.scope != "in this match":  # before: "about one more rally of each would settle it"
            assert "would probably settle it" not in finding.words, finding.words
        assert not re.search(r"\b1 of 1 (rallies|serves|returns)\b", finding.words), finding.words
        if finding.against is None or not finding.of or not finding.against.of:
            continue
        gap = finding.count / finding.of - finding.against.count / finding.against.of
        if finding.grade in (Grade.CLEAR, Grade.LEANING):
            assert finding.likely is not None
            if not finding.headline.startswith("Within matches"):
                assert finding.effect is None or gap * finding.effect.value > 0, finding
            if finding.question in (Question.WEAK, Question.WON):
                assert LARGER.search(finding.headline), finding.headline
        if finding.grade is Grade.NO_DIFFERENCE:
            assert finding.effect is not None
            assert abs(finding.effect.value) < MATTERS, finding
            assert abs(gap) < MATTERS or finding.headline.startswith("Within matches"), finding
        if finding.grade is Grade.TOO_FEW:
            assert finding.likely is None
            assert "A gap this big" not in finding.words
    assert len(seen) >= 12, seen


def test_an_unfinished_brief_claims_nothing(make):
    page = opponent_report([SeasonMatch(make([]), "a", "Ada One", date(2026, 1, 1))], "Mara Okonkwo")
    assert page.serve.serve is None
    assert page.serve.grade is Grade.TOO_FEW


def test_equal_counts_show_no_gap_and_chance_is_not_asked_about_one():
    """Before: "16 of 22 from the right box and 16 of 22 from the left. Chance alone gives a gap like this"."""
    item = replace(asked_of(Question.BOX_WEAK, (16, 22, 16, 22), Grade.TOO_FEW), p=0.87, q=1.0)
    assert say_result(item, SCENE).text.endswith("16 of 22 from the left. So far the two are equal.")
    after = replace(item, ask=Question.AFTER, kinds=(0,), first=Share(2, 5, 0, 1), second=None)
    said = say_result(replace(after, luck=(0.38, 0.0, 0.8)), SCENE).text
    assert said.endswith("we would expect about 2. Nothing shows a habit here.")


@pytest.mark.parametrize("counts", [(9, 11, 30, 42), (3, 3, 8, 40), (2, 2, 13, 14)])
@pytest.mark.parametrize("p", [0.01, 0.06, 0.58, None])
def test_a_headline_without_a_grade_only_asks(counts, p):
    """Before: "draw weak returns? Worth another look." at 1 in 17 with 27 things checked."""
    item = replace(asked_of(Question.KIND_WEAK, counts, Grade.TOO_FEW), p=p)
    assert say_result(item, SCENE).headline == "Does the lob draw weak returns?"


def test_repeats_without_a_chance_still_say_how_far_to_trust_them():
    """Before: "8 of 10 serves were of the same kind as the one before" and not a word on what it is worth."""
    item = asked_of(Question.REPEAT, (8, 10, 1, 1), Grade.TOO_FEW)
    said = say_result(replace(item, p=None, q=None, second=None, luck=(0.6, 0.4, 0.8)), SCENE).text
    assert said.endswith("There is too little to be sure.")


def test_counts_that_look_surer_than_their_chance_say_what_was_allowed_for():
    """Before: "0 of 21 ... 7 of 29. Chance alone gives a gap like this about half the time"."""
    item = replace(asked_of(Question.KIND_DRIFT, (0, 21, 7, 29), Grade.TOO_FEW), p=0.5, q=1.0, plain_p=0.014)
    said = say_result(item, SCENE).text
    assert said.endswith(
        "Allowing for the same serve coming several times in a row, chance alone easily gives a gap like this."
    )
    even = replace(item, first=Share(5, 21, 0, 1))
    assert "in a row" not in say_result(even, SCENE).text
    boxes = replace(asked_of(Question.KIND_WON, (2, 12, 14, 25), Grade.TOO_FEW), p=0.4, q=1.0, plain_p=0.05)
    assert say_result(boxes, SCENE).text.endswith(
        "Within each service box, chance alone easily gives a gap like this."
    )


@pytest.mark.parametrize("ask", TWO_SIDED)
@pytest.mark.parametrize("counts", [(1, 1, 3, 7), (0, 1, 3, 7), (3, 7, 1, 1), (3, 7, 0, 1), (0, 1, 1, 1)])
def test_a_share_of_one_is_said_in_words(ask, counts):
    """Before: "won 1 of 1 rally", "0 of 1 volleyed one was loose"."""
    said = say_result(asked_of(ask, counts, Grade.TOO_FEW), SCENE).text
    assert not re.search(r"\b[01] of 1\b", said), said
    assert said.count("the only") + said.count("The only") == (counts[1], counts[3]).count(1), said


def test_longer_and_shorter_rallies_both_name_themselves():
    said = say_result(asked_of(Question.LONG, (17, 44, 24, 45), Grade.TOO_FEW), SCENE).text
    assert "17 of 44 longer rallies (over about 12 shots) and 24 of 45 shorter ones, lets excluded." in said


def test_matches_that_are_surer_than_their_counts_say_why():
    """Before: Clear with "185 of 286 and 62 of 113, ... nearer 13 points": 10 points and no reason."""
    item = replace(
        asked_of(Question.WEAK, (185, 286, 62, 113), Grade.CLEAR),
        p=0.013,
        q=0.041,
        matches=24,
        within_matches=(0.174, 0.066),
    )
    words = say_result(item, replace(SCENE, scope="over 24 matches")).text
    assert "the mix differed between matches. Within matches the average gap is about 17 percent" in words
    assert words.endswith("A gap this big is unlikely to be chance.")
    many = replace(item, first=Share(109, 156, 0, 1), second=Share(66, 141, 0, 1), within_matches=(0.2, 0.08))
    seems = say_result(replace(many, grade=Grade.LEANING, p=0.015, q=0.07), SCENE).text
    assert (
        "Allowing for the differences between matches, and with so many things" in seems
    )  # before: "1 time in 14" beside counts of 1 in 10,000
    boxes = replace(asked_of(Question.WON, (20, 25, 10, 25), Grade.LEANING), compared=0.28)
    assert "different proportions. Within each service box the average gap is about 28" in (
        say_result(boxes, SCENE).text
    )


@pytest.mark.parametrize("ask", [Question.REPEAT, Question.AFTER])
@pytest.mark.parametrize(("count", "mean"), [(16, 0.4), (3, 0.5), (14, 0.5), (1, 0.4)])
def test_repeats_called_more_or_less_often_are_so_in_their_counts(ask, count, mean):
    for grade in (Grade.CLEAR, Grade.LEANING):
        item = QuestionResult(
            ask, "a", Share(count, 20, 0, 1), None, 0.01, 0.99, 10, (0,), luck=(mean, mean - 0.1, mean + 0.1)
        )
        said = say_result(replace(item, q=0.02, grade=grade), SCENE)
        expected = int(re.search(r"expect about (\d+)", said.text)[1])
        assert re.search(rf"\b{count} of 20\b", said.text)
        more = count > expected
        if ask is Question.REPEAT:
            assert ("repeat" in said.headline) == more
            assert ("change" in said.headline) == (not more)
            assert ("seems" in said.headline) == (grade is Grade.LEANING)
        elif grade is Grade.LEANING:
            assert ("more often" in said.headline) == more
            assert ("less often" in said.headline) == (not more)


@pytest.mark.parametrize(("hits", "habit"), [(25, Grade.CLEAR), (25, Grade.TOO_FEW), (14, Grade.CLEAR)])
def test_an_order_is_called_readable_only_beyond_chance_and_with_a_grade(hits, habit):
    said = guess_words(NAMES, "a", GuessingWatch(hits, 17, 37, 0.1), (10, 18), "lob", 5, habit)
    assert f"guessed {hits} of 37 serves" in said
    assert ("could have read the pattern" in said) == (hits > 18 and habit is Grade.CLEAR)
    assert ("too few serves to call it a habit" in said) == (hits > 18 and habit is Grade.TOO_FEW)
    assert ("Nothing shows" in said) == (hits <= 18)


@pytest.mark.parametrize("seen", [10, 20, 26, 30, 40])
def test_what_is_said_of_runs_follows_from_their_test(seen):
    test = summed(0, np.array([math.comb(40, k) for k in range(41)]) / 2.0**40, seen)
    said = runs_sentence(test)
    assert ("contradicts it" in said) == (test.mid_p <= 0.05)
    assert ("No sign against it" in said) == (test.mid_p > 0.2)
    assert ("more rallies" in said) == (seen > 20 and test.mid_p <= 0.2)


def test_none_of_several_beside_the_only_one_reads_well():
    """Before: "loose or missed on 0 of 2 lobs, but not on the only hard serve"."""
    said = say_result(asked_of(Question.KIND_WEAK, (0, 2, 0, 1), Grade.TOO_FEW), SCENE).text
    assert "on 0 of 2 lobs, and not on the only other serve." in said


def test_serving_that_the_counts_turn_round_says_why():
    """Before: "wins more often receiving than serving" beside 102 of 154 and 52 of 91, without a word."""
    item = replace(
        asked_of(Question.SERVE_EDGE, (102, 154, 52, 91), Grade.LEANING),
        matches=11,
        within_matches=(-0.08, 0.05),
        server_won=(141, 152.4, 245),
    )
    said = say_result(item, replace(SCENE, scope="over 11 matches"))
    assert said.headline == "Within matches, she seems to win more often receiving than serving."
    assert "In all, the server won 141 of 245 rallies; the same scores in another order would" in said.text
    assert "A run of points would look the same" not in said.text


def test_kinds_never_used_in_one_match_are_not_left_without_a_word():
    """Before: "63 of 85 rallies on the lob and 4 of 32 on the body serve." and, for parents, "too little"."""
    item = replace(
        asked_of(Question.WON, (63, 85, 4, 32), Grade.TOO_FEW), kinds=(0, 1), p=None, q=None, effect=None
    )
    said = say_result(item, replace(SCENE, scope="over 7 matches"))
    assert "No match has both logged, so the difference between matches may explain the gap." in said.text
    assert said.parents.endswith("No match has both logged, so they cannot be compared.")


def test_parents_do_not_read_too_little_where_there_is_nothing_to_compare_or_much():
    """Before: "34 of 34 serves were of the same kind. There is too little to be sure.", and 334 of 548."""
    only = replace(asked_of(Question.WON, (38, 57, 0, 0), Grade.TOO_FEW), kinds=(0,), p=None, q=None)
    assert "too little" not in say_result(only, SCENE).parents
    runs = replace(
        asked_of(Question.SERVE_EDGE, (334, 548, 214, 533), Grade.TOO_FEW), p=0.0001, q=0.001, checked_p=1.0
    )
    assert runs.runs_explain
    assert say_result(runs, SCENE).parents.endswith(
        "A run of points would look the same, so we cannot be sure."
    )


def test_the_average_gap_within_matches_is_not_flattered_either():
    """Before: "Within matches the average gap is about 43 percentage points" and no likely size."""
    likely = LikelyGap(0.787, 0.412, 0.3746)
    said = likely_words(likely, Share(34, 49, 0, 1), Share(26, 52, 0, 1), hidden=True)
    assert said == "In the long run it is likely smaller, nearer 37 percentage points."


@pytest.mark.parametrize("grade", [Grade.TOO_FEW, Grade.LEANING])
def test_more_matches_are_not_promised_to_settle_what_a_run_of_points_explains(grade):
    """Before: "A run of points would look the same. ... More matches would show whether it lasts."."""
    item = replace(asked_of(Question.SERVE_EDGE, (103, 176, 73, 152), grade), p=0.3, q=0.2, matches=7)
    said = say_result(item, replace(SCENE, scope="over 7 matches", more=None))
    assert "lasts" not in said.text
    assert "settle" not in said.text
    assert "more matches will show" not in said.parents


def test_so_many_things_are_not_the_whole_reason_where_they_are_too_few():
    """Before: "less than 1 time in 100, but we checked eight things.", which gives 8 in 100."""
    item = replace(asked_of(Question.BOX_WEAK, (25, 30, 13, 27), Grade.TOO_FEW), p=0.008, q=0.53)
    assert not item.listed
    said = say_result(item, SCENE).text
    assert said.endswith(
        "This was not a planned question, and many were looked at, so it may still be chance: look for it "
        "again in another match."
    )
    many = say_result(item, replace(SCENE, asked=40)).text
    assert many.endswith("It is one of 40 things checked, so it may well be chance.")


def test_none_where_fewer_than_one_was_expected_is_no_gap():
    """Before: "0 of 7 times. ... fewer than one. Chance alone gives a gap like this nearly every time."."""
    item = replace(
        asked_of(Question.AFTER, (0, 7, 0, 0), Grade.TOO_FEW), kinds=(0,), second=None, p=1.0, q=1.0
    )
    said = say_result(replace(item, luck=(0.05, 0.0, 0.3)), SCENE).text
    assert said.endswith("fewer than one. Nothing shows a habit here.")


def test_a_range_of_one_number_is_not_said():
    """Before: "By chance alone we would expect about 1 (1 to 1)."."""
    item = replace(asked_of(Question.REPEAT, (1, 3, 0, 0), Grade.TOO_FEW), second=None, p=None, q=None)
    assert "we would expect about 1." in say_result(replace(item, luck=(0.33, 0.33, 0.33)), SCENE).text


def test_counts_that_turn_the_gap_compared_say_so():
    """Before: 97 of 159 and 26 of 33 with chance "about 1 time in 3", of a gap the other way round."""
    item = replace(
        asked_of(Question.WON, (97, 159, 26, 33), Grade.TOO_FEW),
        kinds=(0, 1),
        p=0.31,
        q=1.0,
        matches=17,
        within_matches=(0.121, 0.11),
    )
    said = say_result(item, SCENE).text
    assert "because the mix differed between matches." in said
    assert "12 percentage points, in favour of the lob." in said


def like_with_like(counts, gap, p=0.4, grade=Grade.TOO_FEW):
    """Return a question about changing the serve, with the gap where kind and box are the same."""
    return replace(asked_of(Question.CHANGE, counts, grade), p=p, q=1.0 if p > 0.1 else p, compared=gap)


@pytest.mark.parametrize(
    ("counts", "gap", "words"),
    [
        ((15, 24, 20, 33), 0.14, "With kind and box the same, the average gap is about 14 percent"),
        ((16, 24, 14, 21), -0.22, "about 22 percentage points, in favour of repeating."),
        ((45, 72, 73, 127), -0.13, "about 13 percentage points, in favour of repeating."),
    ],
)
def test_the_gap_that_is_judged_is_said_where_the_counts_show_another(counts, gap, words):
    """Before: "5 of 8 after changing and 20 of 33 after repeating", and only the chance of another gap."""
    said = say_result(like_with_like(counts, gap, 0.02, Grade.LEANING), SCENE)
    assert f"Some serves were repeated more often than others. {'With kind' if 'With' in words else ''}" in (
        said.text
    )
    assert words in said.text
    assert words in said.parents
    assert "So far the two are equal" not in said.text


def test_without_a_grade_another_gap_is_said_only_where_the_counts_look_surer():
    """Before: "80.0 and 79.2 in 100 ... the average gap is about 7 percentage points", of what has no grade."""
    item = replace(
        asked_of(Question.WON, (208, 329, 48, 97), Grade.TOO_FEW),
        kinds=(0, 1),
        p=0.95,
        q=1.0,
        matches=17,
        within_matches=(0.004, 0.06),
    )
    assert "Within matches the average gap is less than a percentage point." in say_result(item, SCENE).text
    alike = replace(item, first=Share(20, 25, 0, 1), second=Share(57, 72, 0, 1), within_matches=(0.04, 0.1))
    assert say_result(alike, SCENE).text.endswith("lets excluded. Chance alone easily gives a gap like this.")
    assert "average gap" not in say_result(like_with_like((7, 15, 17, 22), -0.25, 0.115), SCENE).text


def test_kinds_each_served_from_a_box_of_their_own_are_not_compared():
    """Before: "12 of 20 and 2 of 20 ... within each service box, chance alone gives ... nearly every time"."""
    item = replace(
        asked_of(Question.WON, (12, 20, 2, 20), Grade.TOO_FEW), kinds=(0, 1), p=1.0, q=1.0, plain_p=0.001
    )
    said = say_result(replace(item, apart=True), SCENE).text
    assert "No service box has both logged, so the difference between the boxes may explain the gap." in said
    assert "nearly every time" not in said


def test_nothing_is_promised_to_last_where_chance_gives_it_nearly_every_time():
    """Before: "Chance alone gives a gap like this nearly every time. More matches would show whether it lasts."."""
    item = replace(asked_of(Question.CHANGE, (75, 131, 83, 135), Grade.TOO_FEW), p=0.936, q=1.0, matches=23)
    scene = replace(SCENE, scope="over 23 matches")
    assert "lasts" not in say_result(item, scene).text
    seems = replace(item, p=0.03, q=0.1, grade=Grade.LEANING)
    assert "More matches would show whether it lasts." in say_result(seems, scene).text


def test_no_number_of_serves_settles_a_gap_that_is_not_there_in_what_is_judged():
    """Before: "17 of 19 serving and 3 of 13 receiving ... nearly every time ... about 70 more would settle it"."""
    for finding in generated(np.random.default_rng(20261221), 160):
        if "would probably settle it" in finding.words:
            assert "less than a percentage point" not in finding.words, finding.words
            assert finding.question != Question.SERVE_EDGE or "nearly every time" not in finding.words
        if "average gap is about" in finding.words and finding.likely:
            assert "likely smaller" in finding.words, finding.words


def test_one_kind_alone_is_not_called_too_little():
    """Before: "Only lobs: no order to read. 9 of 9 serves were of the same kind. ... too little to be sure."."""
    item = replace(asked_of(Question.REPEAT, (9, 9, 0, 0), Grade.TOO_FEW), second=None, luck=(1.0, 1.0, 1.0))
    assert "too little" not in say_result(replace(item, p=None), SCENE).text


def test_no_number_of_serves_is_named_where_it_is_over_or_easily_chance():
    """Before: "If the gap is as big as it looks, about 350 more serves in each part", of a match that is over."""
    for ask in (Question.DRIFT, Question.LONG, Question.WON):
        for p in (0.1, 0.35, 0.7):
            item = replace(asked_of(ask, (13, 20, 7, 20), Grade.TOO_FEW), p=p, q=1.0)
            said = say_result(item, SCENE).text
            assert ("would probably settle it" in said) == (p < 0.3 and ask is not Question.DRIFT), said
            assert (
                "settle it" not in say_result(item, replace(SCENE, more=1)).text
            )  # before: "about one more"
            assert "several hundred" not in say_result(item, replace(SCENE, more=None)).text


@pytest.mark.parametrize(
    ("counts", "tail"), [((6, 9, 9, 30), 0.0569), ((7, 8, 41, 42), 0.2971), ((43, 43, 5, 7), 0.0171)]
)
def test_the_chance_said_is_never_below_that_of_the_side_seen(counts, tail):
    a, n, c, m = counts
    asked = two(Question.BOX_WON, "a", jeffreys_share(a, n, ()), jeffreys_share(c, m, ()))
    assert asked.p is not None and asked.p < tail  # the grade's p halves the counts that were seen
    stated = replace(asked, q=asked.p).as_stated
    assert stated.p is not None and stated.p >= tail - 5e-5
    assert stated.q == pytest.approx(stated.p)


def test_the_repeats_expected_are_those_of_the_comparison_that_is_judged():
    """Before: "5 of 18 ... expect about 8 (4 to 11). Within each service box, chance ... more often than not."."""
    item = replace(asked_of(Question.REPEAT, (15, 18, 0, 0), Grade.TOO_FEW), second=None, p=0.4, q=1.0)
    item = replace(item, luck=(0.7, 0.55, 0.9), plain_luck=(0.44, 0.22, 0.62), plain_p=0.001)
    assert (
        "By chance alone, within each service box, we would expect about 13, and 19 times in 20 from 10 to 16."
        in (say_result(item, SCENE).text)
    )
    alone = replace(item, plain_luck=None)
    assert (
        "By chance alone we would expect about 13, and 19 times in 20 from 10 to 16."
        in say_result(alone, SCENE).text
    )
    few = replace(item, p=None, q=None)
    assert "times in 20" not in say_result(few, SCENE).text
    assert "about 13." in say_result(replace(item, luck=(0.7, 0.7, 0.9)), SCENE).text  # before: 23 (23 to 25)
