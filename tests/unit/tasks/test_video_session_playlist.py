"""A talk with the player: the list advises, keeps, and comes up again when it is due."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.tasks.sharing.video_session_playlist import (
    ReviewItem,
    ReviewList,
    ReviewSession,
    note_review,
    review_list,
    reviews_due,
    save_review_list,
)

DAY = date(2026, 12, 24)


@pytest.fixture
def library(tmp_path: Any) -> Iterator[Library]:
    with tasks.open_library(tmp_path / "lib") as item:
        for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(item, name, player_id=player)
        tasks.new_match(item, ("iv", "plo"), match_id="m1", played_on=date(2026, 11, 20))
        for n in range(12):
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "a")
        yield item


def row(rally: str, role: str = "good", cue: str = "") -> dict[str, str]:
    return {"rally": rally, "role": role, "cue": cue}


def test_what_is_kept_comes_back_in_order(library: Library) -> None:
    rows = [row("r3", cue="high finish"), row("r1", "fix", "hips to the side wall"), row("r0")]
    made = save_review_list(tasks.open_match(library, "m1"), rows, DAY)
    assert review_list(tasks.open_match(library, "m1")) == made
    assert [item.rally for item in made.items] == ["r3", "r1", "r0"]
    assert made.advice == ()


@pytest.mark.parametrize(
    ("items", "again", "said"),
    [
        (("fix", "good"), DAY, "Start with a clip marked keep"),
        (("good", "fix"), DAY, "Finish with a clip marked keep"),
        (("good", "fix", "fix", "good", "fix"), DAY, "3 clips are marked improve, 2 keep"),
        (("good",) * 6, DAY, "6 clips"),
        (("good", "fix", "good"), None, "Set a follow-up date"),
    ],
)
def test_order_balance_and_a_day_are_advised(items: tuple[str, ...], again: date | None, said: str) -> None:
    made = ReviewList(tuple(ReviewItem(f"r{n}", role, "one thing") for n, role in enumerate(items)), again)
    assert any(said in item for item in made.advice), made.advice


@pytest.mark.parametrize(
    ("cue", "said"),
    [
        ("", "has no cue"),
        ("bend and turn", "more than one cue"),
        ("bend; turn", "more than one cue"),
        ("Bend. Turn", "more than one cue"),
        ("bend the knee", None),
    ],
)
def test_one_cue_a_clip(cue: str, said: str | None) -> None:
    made = ReviewList((ReviewItem("r0", "good"), ReviewItem("r1", "fix", cue), ReviewItem("r2", "good")), DAY)
    assert (said is None and made.advice == ()) or any(str(said) in item for item in made.advice)


def test_what_was_shown_is_written_down_and_comes_up_when_due(library: Library) -> None:
    with pytest.raises(InputError, match="No clip is chosen"):
        note_review(tasks.open_match(library, "m1"), "x")
    save_review_list(tasks.open_match(library, "m1"), [row("r3"), row("r1", "fix", "higher")], DAY)
    assert reviews_due(library, DAY) == []  # nothing shown yet
    made = note_review(tasks.open_match(library, "m1"), " will aim higher ", date(2026, 11, 27))
    assert made.talks == (ReviewSession(date(2026, 11, 27), ("r3", "r1"), "will aim higher"),)
    assert reviews_due(library, date(2026, 12, 23)) == []
    assert reviews_due(library, DAY) == [("m1", DAY)]
    book = tasks.calendar_month(library, date(2026, 12, 1), today=DAY)
    assert any("follow up the player review" in item.words for item in book.due)
    save_review_list(tasks.open_match(library, "m1"), [row("r2")], DAY)
    assert review_list(tasks.open_match(library, "m1")).talks == made.talks, "a new list keeps what was shown"


@pytest.mark.parametrize(
    ("rows", "error", "said"),
    [
        ([row("x")], NotFound, "that rally is not in this match"),
        ([row("r1", "bad")], InputError, "must be keep or improve"),
        ([row("r1", cue="x" * 121)], InputError, "at most 120"),
        ([row("r1"), row("r1")], InputError, "twice"),
        ([row(f"r{n}") for n in range(11)], InputError, "At most 10"),
    ],
)
def test_what_cannot_be_a_list_is_told(
    library: Library, rows: list[dict[str, str]], error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        save_review_list(tasks.open_match(library, "m1"), rows, DAY)
    assert review_list(tasks.open_match(library, "m1")) == ReviewList()


def test_a_spoilt_file_begins_anew(library: Library) -> None:
    save_review_list(tasks.open_match(library, "m1"), [row("r1")], DAY)
    (file,) = (library.folder / "clips").glob("*-talk-list.json")
    for spoilt in ("{", "[]", '{"items": [{"rally": 1}]}', '{"items": [], "talks": [{}]}'):
        file.write_text(spoilt)
        assert review_list(tasks.open_match(library, "m1")) == ReviewList()
        assert reviews_due(library, DAY) == []


def test_the_list_goes_when_a_person_is_erased(library: Library) -> None:
    save_review_list(tasks.open_match(library, "m1"), [row("r1")], DAY)
    tasks.erase_player(library, "iv")
    assert list((library.folder / "clips").glob("*-talk-*")) == []


def test_what_is_held_on_a_person_names_the_talks_and_files(library: Library, tmp_path: Any) -> None:
    save_review_list(tasks.open_match(library, "m1"), [row("r1", "fix", "higher")], DAY)
    note_review(tasks.open_match(library, "m1"), "will aim higher", date(2026, 11, 27))
    held = json.loads(tasks.export_player(library, "iv", tmp_path / "held.json").read_text(encoding="utf-8"))
    (match,) = held["matches"]
    assert match["for_the_player"]["clips"] == [{"rally": "r1", "role": "fix", "cue": "higher"}]
    assert match["for_the_player"]["talks"][0]["note"] == "will aim higher"
    assert match["files_made"] == ["m1-talk-list.json"]
