"""Answers that nobody checked are named with their counts beyond one match, and can be left out."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from goodlength import tasks
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import origin_words, origins_of
from goodlength.forms.findings.opponent_report_json import brief_form
from goodlength.forms.findings.player_across_matches_json import across_form
from goodlength.forms.findings.season_search_json import search_form
from goodlength.languages import language
from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import (
    bulk_offer,
    draw_sample,
    take_unwatched,
)
from goodlength.tasks.findings.answer_origin_sentences import origin_sentences
from goodlength.tasks.findings.season_search import SeasonQuestion
from tests.unit.tasks.test_sure_rally_acceptance_after_sample_check import (  # noqa: F401  (fixtures)
    confirm,
    drafted,
    library,
)


@pytest.fixture
def taken(drafted: Any) -> Any:  # noqa: F811
    """Ten rallies checked, one of them with another kind, and the other sure ones taken unwatched."""
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(1))
    for key in bulk_offer(tasks.open_match(drafted, "m1")).sample:
        confirm(drafted, key)
    take_unwatched(tasks.open_match(drafted, "m1"))
    return drafted


def test_search_brief_and_trend_name_the_same_answers_as_findings(taken: Any) -> None:
    whole = origins_of(tasks.open_match(taken, "m1"))
    assert whole.answers.unwatched > 20 and whole.answers.by_person == 20 and whole.answers.proposed > 0
    for form in (
        search_form(SeasonQuestion(), tasks.search(taken, SeasonQuestion())),
        brief_form(tasks.brief_about(taken, "a")),
        across_form(tasks.over_matches(taken, "a")),
    ):
        assert form["origins"] == whole.words
        counted = form["answers"]
        assert (counted["by_person"], counted["unwatched"]) == (20, whole.answers.unwatched)


def test_only_what_a_person_saw_counts_ten_rallies_everywhere(taken: Any) -> None:
    part = origins_of(replace(tasks.open_match(taken, "m1"), only_watched=True))
    question = SeasonQuestion(watched=True)
    found = tasks.search(taken, question)
    assert found.total == 10 and found.answers.answers.unwatched == 0
    assert origin_words(found.answers) == ""
    across, brief = (
        tasks.over_matches(taken, "a", only_watched=True),
        tasks.brief_about(taken, "a", only_watched=True),
    )
    assert origin_words(across.answers) == origin_words(brief.answers) == part.words
    assert "left out here" in part.words
    assert across.serving.decided.of + across.receiving.decided.of == 10
    both = tasks.over_matches(taken, "a")
    assert both.serving.decided.of + both.receiving.decided.of == len(tasks.show_match(taken, "m1").rallies)
    assert sum(kind.served.count for kind in across.kinds) < sum(kind.served.count for kind in both.kinds)


def test_a_handout_names_them_and_can_count_watched_rallies_alone(taken: Any) -> None:
    opened = tasks.open_match(taken, "m1")
    whole = origins_of(opened).answers
    others = whole.unwatched + whole.proposed + whole.along
    draft = tasks.draft_handout(opened)
    assert f"{others} proposed by the program and checked by nobody" in draft.data.unknown[-1]
    part = tasks.draft_handout(opened, tasks.HandoutEdits(only_watched=True))
    assert f"left out: {others}." in part.data.unknown[-1]
    assert "20 given or checked by your coach, 0 proposed" in part.data.unknown[-2]
    assert part.data.result == draft.data.result  # the score is no answer that is left out
    won = next(count for count in part.counts if count.key == "plain:played")
    assert won.headline.endswith("of 10 rallies.")
    german = origin_sentences(replace(opened, only_watched=True), language("de"))
    assert "vorgeschlagen" in german[0] and str(others) in german[1]


def test_where_all_is_the_coachs_nothing_is_said(library: Any) -> None:  # noqa: F811
    confirm_all = tasks.open_match(library, "m1")
    assert origin_sentences(confirm_all, language("en")) == () and origins_of(confirm_all).words == ""
