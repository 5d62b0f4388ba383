"""Carry-over through the tasks: which matches count as before and after, and what is said of them."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import NotFound
from goodlength.findings.rally_masks import RallyMasks
from goodlength.forms.practice.practice_transfer_json import transfer_form
from goodlength.practice.match_measure_counts_by_service_box import MEASURES, counted
from goodlength.practice.planning.practice_plan import Time, plan_form
from goodlength.practice.statistics.practice_transfer import carried_over
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.tasks.practice.practice_transfer import transfer_words

PLAYER = "demo-imogen-vale"
BEGINS = date(2025, 10, 12)


def copy_match(library: Any, as_id: str, day: date, **changes: Any) -> None:
    """The demo match again, entry by entry, on another day."""
    library.save_match(replace(library.match_info("demo"), id=as_id, played_on=day, **changes))
    library.append(
        [
            replace(
                entry,
                id=f"{as_id}-{entry.id}",
                match=as_id,
                replaces=entry.replaces and f"{as_id}-{entry.replaces}",
            )
            for entry in library.entries("demo")
        ]
    )


@pytest.fixture
def library(tmp_path: Path, demo_library: Path):
    shutil.copytree(demo_library, tmp_path, dirs_exist_ok=True)
    with tasks.open_library(tmp_path) as opened:
        yield opened


@pytest.fixture
def planned(library: Any) -> Any:
    plan = plan_form(tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60), begins=BEGINS))
    tasks.save_plan(library, PLAYER, {**plan, "match": "demo"})
    return library


def test_without_a_plan_there_is_nothing_to_carry(library: Any) -> None:
    assert tasks.practice_transfer(tasks.open_matches(library, PLAYER)) == ()


def test_without_a_match_after_it_is_said(planned: Any) -> None:
    told = tasks.practice_transfer(tasks.open_matches(planned, PLAYER))
    assert {item.measure for item in told} >= {"repeat", "weak"}
    assert all("no match after the practice yet" in item.words[0] for item in told)
    assert set(told[0].before) == {"demo", "demo-earlier", "demo-left"}


def test_the_same_match_again_changes_nothing_and_regression_is_said(planned: Any) -> None:
    copy_match(planned, "after", date(2025, 11, 20))
    for item in tasks.practice_transfer(tasks.open_matches(planned, PLAYER)):
        assert item.after == ("after",)
        assert item.whole.low is not None
        assert item.whole.low < 0 < item.whole.high
        assert any("regression to the mean" in words for words in item.words)
        assert item.clean is not None
        assert any("one match afterwards says little" in words for words in item.words)


def test_another_ball_is_not_like(planned: Any) -> None:
    copy_match(planned, "after", date(2025, 11, 20), ball="single yellow")
    assert all(
        "like-for-like" in item.words[0]
        for item in tasks.practice_transfer(tasks.open_matches(planned, PLAYER))
    )


def test_a_match_while_the_plan_ran_is_left_out(planned: Any) -> None:
    tasks.log_set(planned, PLAYER, "lob-to-the-box", 9, 15, on=date(2025, 10, 25))
    copy_match(planned, "during", date(2025, 10, 20))
    copy_match(planned, "after", date(2025, 10, 30))
    told = tasks.practice_transfer(tasks.open_matches(planned, PLAYER))[0]
    assert (told.after, told.during) == (("after",), 1)
    form = transfer_form(told)
    assert form["interval"][0] < form["interval"][1]


def test_counts_of_the_demo_are_those_of_its_findings(library: Any) -> None:
    view = RallyMasks(rally_table(tasks.show_match(library, "demo"), library.kinds()))
    tables = tasks.find(library, "demo").tables
    lob = next(row for row in tables.effects if row.kind == "lob")
    boxes = counted(view, 0, "weak", "lob")
    assert boxes["right"] == (lob.right.count, lob.right.of)
    assert boxes["left"] == (lob.left.count, lob.left.of)
    won = counted(view, 0, "won").values()
    assert (sum(h for h, _ in won), sum(n for _, n in won)) == (
        tables.serving.decided.count,
        tables.serving.decided.of,
    )
    repeat = counted(view, 0, "repeat").values()
    seen = tables.repeats[0].seen
    assert (sum(h for h, _ in repeat), sum(n for _, n in repeat)) == (seen.count, seen.of)


def test_every_measure_counts_and_an_unknown_one_is_named(library: Any) -> None:
    view = RallyMasks(rally_table(tasks.show_match(library, "demo"), library.kinds()))
    for key in MEASURES:
        assert all(0 <= hits <= of for hits, of in counted(view, 1, key).values()), key
    assert counted(view, 0, "weak", "juggled") == {}
    with pytest.raises(NotFound, match="charm"):
        counted(view, 0, "charm")


@pytest.mark.parametrize(("more_is_better", "word"), [(True, "better"), (False, "worse")])
def test_a_change_is_called_by_what_is_wanted(more_is_better: bool, word: str) -> None:
    told = carried_over({"p": (10, 60)}, {"p": (40, 60)})
    assert word in transfer_words("serves", more_is_better, 2, told, None, 1)[1]


def test_the_range_holds_the_change_in_small_parts() -> None:
    """Six parts of 3 and 5 rallies: the textbook variance holds 88 in 100 there."""
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(400):
        rates = rng.uniform(0.4, 0.6, 6)
        before = {k: (int(rng.binomial(3, p)), 3) for k, p in enumerate(rates)}
        after = {k: (int(rng.binomial(5, p)), 5) for k, p in enumerate(rates)}
        told = carried_over(before, after)
        assert told.low is not None
        assert told.high is not None
        held += told.low <= 0 <= told.high
    assert held / 400 > 0.90
