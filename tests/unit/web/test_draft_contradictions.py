"""An answer of the coach's that the draft contradicts stands; the next rally is asked again, and it is said."""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest

from goodlength import tasks
from goodlength.record.effective_answers import is_watched
from goodlength.record.model import EntryKind
from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import (
    bulk_offer,
    draw_sample,
    take_unwatched,
)
from goodlength.web.scoresheet_change_tracking import FollowedSheet
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.rally_scoresheet import sheet
from tests.unit.tasks.test_sure_rally_acceptance_after_sample_check import confirm, drafted, library  # noqa: F401


def shown(of: Any) -> Any:
    return sheet(sheet_data(tasks.open_match(of, "m1")))


def sentences(of: Any) -> list[tuple[str, str]]:
    return [
        (item["key"], item["words"]) for item in shown(of)["faults"] if item["code"] == "draft-contradicted"
    ]


def row(of: Any, key: str) -> Any:
    return next(item for item in shown(of)["rallies"] if item["key"] == key)


@pytest.fixture
def taken(drafted: Any) -> Any:  # noqa: F811
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(1))
    for key in bulk_offer(tasks.open_match(drafted, "m1")).sample:
        confirm(drafted, key)
    take_unwatched(tasks.open_match(drafted, "m1"))
    return drafted


def two_taken(of: Any) -> tuple[str, str]:
    """The keys of two rallies taken unwatched that follow each other in the middle of a game."""
    opened = tasks.open_match(of, "m1")
    unwatched = {item.key for item in opened.answers.facts if not is_watched(item)}
    rallies = opened.match.rallies
    return next(
        (first.key, second.key)
        for first, second in itertools.pairwise(rallies)
        if {first.key, second.key} <= unwatched
        and EntryKind.KIND.value in row(of, second.key)["answers"]
        and 3 < first.n_in_game < 9
    )


def test_the_rally_after_a_corrected_one_is_asked_again_until_it_is_answered(taken: Any) -> None:
    assert sentences(taken) == []
    first, second = two_taken(taken)
    assert "to_confirm" not in row(taken, second) and row(taken, second)["unwatched"]
    winner = tasks.open_match(taken, "m1").rally(first).winner
    assert winner is not None
    confirm(taken, first, winner=winner.other.value)
    opened = tasks.open_match(taken, "m1")
    assert opened.rally(first).winner is winner.other  # the coach stands
    ((key, words),) = sentences(taken)
    n = opened.rally(second).n
    assert key == second and f"won rally {n - 1}" in words and "the draft has" in words
    assert f"rally {n} was taken unwatched and is asked again" in words
    assert row(taken, second)["to_confirm"] == [EntryKind.WINNER]
    confirm(taken, second)
    assert sentences(taken) == [] and "to_confirm" not in row(taken, second)


def test_untaken_neighbours_are_no_longer_offered(drafted: Any) -> None:  # noqa: F811
    sure = bulk_offer(tasks.open_match(drafted, "m1")).sure
    rallies = tasks.show_match(drafted, "m1").rallies
    first, second = next(
        (a, b) for a, b in itertools.pairwise(rallies) if {a.key, b.key} <= set(sure) and a.n_in_game > 3
    )
    confirm(drafted, first.key, winner=first.winner.other.value)
    assert second.key not in bulk_offer(tasks.open_match(drafted, "m1")).sure
    assert [key for key, _ in sentences(drafted)] == [second.key]
    assert "is asked." in sentences(drafted)[0][1]


def test_a_page_in_hand_hears_of_the_neighbour_with_the_answer(taken: Any) -> None:
    first, second = two_taken(taken)
    followed = FollowedSheet()

    def read(memo: Any) -> Any:
        return sheet_data(tasks.open_match(taken, "m1", memo=memo))

    followed.refresh(0.0, read)
    version = followed.whole()["version"]
    winner = tasks.open_match(taken, "m1").rally(first).winner
    assert winner is not None
    confirm(taken, first, winner=winner.other.value)
    followed.refresh(float("inf"), read)
    changes = followed.changes(version)
    assert changes is not None
    sent = {item["key"]: item for item in changes["rallies"]}
    assert sent[second]["to_confirm"] == [EntryKind.WINNER]
    assert any(item["code"] == "draft-contradicted" for item in changes["parts"]["faults"])
