"""Every function that words a claim for a coach is named here with the test that holds it to its counts.

A claim is a grade, a range or a chance in words. A new function that makes one fails until it is listed, and
a listed test has to be there. Whether a test asserts enough is for its reader to judge.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from oracles.parsed_source import parsed

ROOT = Path(__file__).parents[2]
SRC = ROOT / "src" / "goodlength"
ROOMS = ("findings", "practice", "measure/body", "tasks/practice", "tasks/findings", "forms/practice")
CLAIM = re.compile(
    r"\bseems?\b|\bunlikely\b|\b95% range|\b[Cc]hance alone|\bcan be read about\b|\bmislead|"
    r"\blikely (?:nearer|smaller)|\bcontradict|\bcould have\b|\b(?:Better|Worse) than\b|\bno clear trend|"
    r"\b(?:more|less) often\b|\babout as often|\balso holds when|\bgives? the\b.*\baway|"
    r"\bmay well be chance|\bmakes? no real difference|\bNot enough data to (?:be sure|judge)"
)
ONE_MATCH = "findings/test_sentences.py"
FAMILIES = "findings/test_sentence_families.py"
RECOMPUTED = "findings/test_sentences_recomputed.py"
PRACTICE = "practice/test_progress_sentences.py"
_GRADED = f"{ONE_MATCH}::test_a_graded_headline_never_says_a_number_where_a_share_is_meant"
_LARGER = f"{ONE_MATCH}::test_the_share_called_larger_is_larger_in_its_counts"
_REPEATS = f"{ONE_MATCH}::test_repeats_called_more_or_less_often_are_so_in_their_counts"
_ADVICE = f"{FAMILIES}::test_the_advice_of_a_brief_follows_from_its_counts"
_CHANCE = f"{ONE_MATCH}::test_counts_that_look_surer_than_their_chance_say_what_was_allowed_for"
_HIDDEN = f"{FAMILIES}::test_seasons_over_matches_say_what_the_counts_hide"
_SAID = f"{RECOMPUTED}::test_what_is_said_of_chance_is_borne_out_by_the_counts_said"
_TRUE_OF_BOTH = (
    f"{RECOMPUTED}::test_the_words_about_chance_are_true_of_the_counts_and_of_the_p_that_was_judged"
)
_PROGRESS = f"{PRACTICE}::test_progress_says_no_more_than_its_counts_and_its_evidence"
_TRENDS = f"{FAMILIES}::test_trends_are_no_surer_than_all_of_them_together"
_IN_GERMAN = "findings/test_translated_findings.py::test_a_headline_is_no_surer_than_its_grade"
TESTS = {
    "findings/reports/opponent_habits_and_serve_advice.py:_advice_words": _ADVICE,
    "findings/reports/player_across_matches.py:_change_words": (
        f"{FAMILIES}::test_before_and_after_says_no_more_than_its_grade_and_names_what_counts_hide"
    ),
    "findings/reports/player_across_matches.py:_trend_words": _TRENDS,
    "findings/reports/player_across_matches.py:_stable": (
        "findings/test_player_across_matches.py::test_the_middle_match_has_a_range_from_six_matches_on"
    ),
    "findings/grade_robustness_to_other_match_models.py:survives_words": (
        "bench/test_false_findings_under_broken_assumptions.py::test_every_entry_is_borne_out_by_the_measured_rates"
    ),
    "findings/text/sentence_grammar.py:frequency_in_words": "findings/test_sentence_grammar.py::test_every_chance_has_words",
    "findings/text/effect_shrinkage.py:_SMALLER": (
        f"{RECOMPUTED}::test_the_likely_size_is_no_larger_than_the_counts_show_without_a_reason"
    ),
    "findings/text/effect_shrinkage.py:likely_words": (
        f"{ONE_MATCH}::test_the_likely_size_never_turns_the_gap_round"
    ),
    "findings/text/chance_and_sample_size_sentences.py:unlikely_words": _SAID,
    "findings/text/chance_and_sample_size_sentences.py:_why_no_grade": _SAID,
    "findings/text/chance_and_sample_size_sentences.py:_EASILY": _TRUE_OF_BOTH,
    "findings/text/chance_and_sample_size_sentences.py:_chance_words": _TRUE_OF_BOTH,
    "findings/text/chance_and_sample_size_sentences.py:luck_words": _TRUE_OF_BOTH,
    "findings/text/chance_and_sample_size_sentences.py:_words_of_gap_compared": _TRUE_OF_BOTH,
    "findings/text/chance_and_sample_size_sentences.py:MAY_BE_CHANCE": _SAID,
    "findings/text/chance_and_sample_size_sentences.py:_chance_named": (
        f"{RECOMPUTED}::test_a_chance_in_numbers_is_that_of_the_counts_and_of_what_was_checked"
    ),
    "findings/text/chance_and_sample_size_sentences.py:_why_compared": (
        f"{RECOMPUTED}::test_the_gap_within_matches_or_boxes_is_said_with_its_reason"
    ),
    "findings/text/chance_and_sample_size_sentences.py:_winners_serve_more": _HIDDEN,
    "findings/text/win_probability_and_trend_sentences.py:runs_sentence": (
        f"{ONE_MATCH}::test_what_is_said_of_runs_follows_from_their_test"
    ),
    "findings/text/win_probability_and_trend_sentences.py:guess_words": (
        f"{ONE_MATCH}::test_an_order_is_called_readable_only_beyond_chance_and_with_a_grade"
    ),
    "findings/text/win_probability_and_trend_sentences.py:reliability_words": (
        "findings/test_singular_wording.py::test_no_sentence_of_the_match_says_one_as_many"
    ),
    "findings/text/win_probability_and_trend_sentences.py:trend_words": _TRENDS,
    "findings/text/win_probability_and_trend_sentences.py:worth_words": (
        "findings/test_win_probability.py::test_worth_is_worded_with_its_own_range_and_the_level_only_beside_a_range"
    ),
    "findings/text/finding_sentences.py:_seems": _GRADED,
    "findings/text/finding_sentences.py:_seems_to": _GRADED,
    "findings/text/finding_sentences.py:_weak": _LARGER,
    "findings/text/finding_sentences.py:_won": _LARGER,
    "findings/text/finding_sentences.py:_wins": _LARGER,
    "findings/text/finding_sentences.py:_repeat": _REPEATS,
    "findings/text/finding_sentences.py:_after": _REPEATS,
    "findings/text/finding_sentences.py:_drift": _LARGER,
    "findings/text/finding_sentences.py:_change": _LARGER,
    "findings/text/finding_sentences.py:_serve_edge": _LARGER,
    "findings/text/finding_sentences.py:_long": _LARGER,
    "findings/text/finding_sentences.py:_kind_weak": _LARGER,
    "findings/text/finding_sentences.py:_kind_won": _LARGER,
    "findings/text/finding_sentences.py:_box": _LARGER,
    "findings/text/finding_sentences.py:_volley": _LARGER,
    "findings/text/finding_sentences.py:_expected": (
        f"{ONE_MATCH}::test_the_repeats_expected_are_those_of_the_comparison_that_is_judged"
    ),
    "findings/text/translated_findings.py:_AFTER": _IN_GERMAN,
    "findings/text/translated_findings.py:_BOX_WEAK": _IN_GERMAN,
    "findings/text/translated_findings.py:_BOX_WON": _IN_GERMAN,
    "findings/text/translated_findings.py:_CHANGE": _IN_GERMAN,
    "findings/text/translated_findings.py:_DRIFT": _IN_GERMAN,
    "findings/text/translated_findings.py:_KIND_WEAK": _IN_GERMAN,
    "findings/text/translated_findings.py:_KIND_WON": _IN_GERMAN,
    "findings/text/translated_findings.py:_LONG": _IN_GERMAN,
    "findings/text/translated_findings.py:_REPEAT": _IN_GERMAN,
    "findings/text/translated_findings.py:_SERVE_EDGE": _IN_GERMAN,
    "findings/text/translated_findings.py:_VOLLEY": _IN_GERMAN,
    "findings/text/translated_findings.py:_WEAK": _IN_GERMAN,
    "findings/text/translated_findings.py:_WON": _IN_GERMAN,
    "findings/text/translated_findings.py:_Wording": _IN_GERMAN,
    "measure/body/serve_cue_onset.py:disguise_words": (
        f"{PRACTICE}::test_a_serve_cue_is_said_as_early_as_it_was_found_and_no_earlier"
    ),
    "practice/progress_sentences.py:_VERDICT_SENTENCES": _PROGRESS,
    "practice/progress_sentences.py:_now": _PROGRESS,
    "tasks/practice/practice_transfer.py:_change_words": (
        f"{PRACTICE}::test_carry_over_says_better_or_worse_only_where_its_range_does"
    ),
}


def claims() -> Iterator[str]:
    """Yield every top-level function, class and constant whose own text makes a claim."""
    for path in sorted(path for room in ROOMS for path in (SRC / room).rglob("*.py")):
        for node in parsed(path.read_text("utf-8")).body:
            name = _name(node)
            if name and any(CLAIM.search(text) for text in _texts(node)):
                yield f"{path.relative_to(SRC).as_posix()}:{name}"


def _name(node: ast.stmt) -> str:
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return node.name
    target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
    return target.id if isinstance(target, ast.Name) else ""


def _texts(node: ast.stmt) -> Iterator[str]:
    """Yield texts of more than one word that are no docstring."""
    with_docs = (ast.FunctionDef, ast.ClassDef)
    docs = {ast.get_docstring(n, clean=False) for n in ast.walk(node) if isinstance(n, with_docs)}
    for part in ast.walk(node):
        if isinstance(part, ast.Constant) and isinstance(part.value, str) and part.value not in docs:
            yield part.value


def test_every_claim_names_the_test_that_holds_it() -> None:
    found = set(claims())
    assert not found - set(TESTS), "worded without a test that holds it to its counts"
    assert not set(TESTS) - found, "listed, and makes no claim any more"


@pytest.mark.parametrize("test", sorted(set(TESTS.values())))
def test_the_test_named_is_there(test: str) -> None:
    path, _, name = test.partition("::")
    assert f"def {name}(" in (ROOT / "tests" / "unit" / path).read_text("utf-8")
