"""A rally that nobody detected: the pause is named with why, an answer settles it, and a whole sheet asks nothing."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from goodlength import tasks
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import EntryKind
from goodlength.scoring import Side
from goodlength.tasks.draft import missing_rally_questions as asked
from goodlength.tasks.draft.missing_rally_questions import MissingRallyQuestion, missing_rally_questions
from tests.unit.tasks.test_score_draft_task import SECOND, library, played  # noqa: F401  (fixture)

GONE = 10  # a point after which the next serve contradicts the winner before


def record(library: Any, gone: int | None, *, heard: bool = False) -> list[str]:  # noqa: F811
    """Write a whole match but for one rally, which was not detected or is deleted; keys in order."""
    events, _ = played(library, blind=1000)
    file = library.folder / "heard" / "m1.json"
    plain = json.loads(file.read_text())
    if gone is not None and not heard:
        del plain["rallies"][gone]
        file.write_text(json.dumps(plain))
    pen, keys = EntryWriter("m1", "coach/t1"), []
    for n, event in enumerate(events):
        key = f"r{n + 1}"
        span = {"start_us": (20 * n + 2) * SECOND, "end_us": (20 * n + 9) * SECOND, "how": "heard"}
        if n == gone:
            if heard:
                pen.write(key, EntryKind.SPAN, span)
                pen.write(key, EntryKind.REMOVE, True)
            continue
        keys.append(key)
        pen.write(key, EntryKind.SPAN, span)
        if not n:
            pen.write(key, EntryKind.SERVER, "a")
        pen.write(key, EntryKind.WINNER, event.winner.value)
    tasks.record_answers(library, "m1", pen.entries)
    return keys


def questions(library: Any) -> tuple[MissingRallyQuestion, ...]:  # noqa: F811
    return missing_rally_questions(tasks.open_match(library, "m1"))


def test_a_whole_sheet_asks_nothing(library: Any) -> None:  # noqa: F811
    record(library, None)
    assert questions(library) == ()


@pytest.mark.parametrize("heard", [False, True])
def test_a_missing_rally_is_asked_for_where_it_was(library: Any, heard: bool) -> None:  # noqa: F811
    record(library, GONE, heard=heard)
    first = questions(library)[0]
    assert first.after == f"r{GONE}" and first.is_long and first.is_by_score and first.was_deleted is heard
    assert first.start_us == (20 * GONE - 11) * SECOND and first.end_us == (20 * GONE + 22) * SECOND
    true_start, true_end = (20 * GONE + 2) * SECOND, (20 * GONE + 9) * SECOND
    assert min(first.likely_end_us, true_end) - max(first.likely_start_us, true_start) > 3 * SECOND


def test_a_pause_without_a_rally_is_not_asked_about_again_until_that_is_undone(library: Any) -> None:  # noqa: F811
    record(library, GONE)
    first = questions(library)[0]
    pen = EntryWriter("m1", "coach/t2")
    span = {"start_us": first.start_us, "end_us": first.end_us, "how": "heard"}
    pen.write("pause-1", EntryKind.SPAN, span)
    pen.write("pause-1", EntryKind.REMOVE, True)
    tasks.record_answers(library, "m1", pen.entries)
    assert first.after not in {question.after for question in questions(library)}
    undo = EntryWriter("m1", "coach/t2")
    for entry in pen.entries:
        undo.undo(entry)
    tasks.record_answers(library, "m1", undo.entries)
    assert questions(library)[0] == first


def test_a_rally_added_in_the_pause_settles_it(library: Any) -> None:  # noqa: F811
    record(library, GONE)
    events, first = tasks.show_match(library, "m1").rallies, questions(library)[0]
    pen = EntryWriter("m1", "coach/t2")
    pen.write("r900", EntryKind.PLACE, {"after": first.after})
    span = {"start_us": first.likely_start_us, "end_us": first.likely_end_us, "how": "marked"}
    pen.write("r900", EntryKind.SPAN, span)
    tasks.record_answers(library, "m1", pen.entries)
    assert questions(library) == ()  # its winner is asked for first
    winner = next(rally.server for rally in events if rally.key == f"r{GONE + 2}")
    answer = EntryWriter("m1", "coach/t3")
    answer.write("r900", EntryKind.WINNER, winner.value)
    tasks.record_answers(library, "m1", answer.entries)
    assert questions(library) == ()


def test_no_more_than_a_few_are_asked(library: Any, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: F811
    record(library, GONE)
    monkeypatch.setattr(asked, "ASK_FROM", 0.0)
    assert len(questions(library)) == asked.ASSUMED_MOST_ASKED


def test_without_video_or_with_a_winner_open_nothing_is_asked(library: Any) -> None:  # noqa: F811
    record(library, GONE)
    pen = EntryWriter("m1", "coach/t2")
    pen.write("r5", EntryKind.WINNER, None)
    tasks.record_answers(library, "m1", pen.entries)
    assert questions(library) == ()


def test_a_sheet_that_ends_a_point_short_is_seen(library: Any) -> None:  # noqa: F811
    keys = record(library, None)
    pen = EntryWriter("m1", "coach/t2")
    pen.write(keys[-1], EntryKind.REMOVE, True)
    tasks.record_answers(library, "m1", pen.entries)
    assert asked.is_a_point_short(tasks.show_match(library, "m1"))
    last = tasks.show_match(library, "m1").rallies[-1]
    assert last.winner in (Side.A, Side.B)


def test_a_match_that_was_stopped_is_not_expected_to_be_won(library: Any) -> None:  # noqa: F811
    keys = record(library, None)
    pen = EntryWriter("m1", "coach/t2")
    for key in keys[30:]:
        pen.write(key, EntryKind.REMOVE, True)
    tasks.record_answers(library, "m1", pen.entries)
    before = questions(library)
    stop = EntryWriter("m1", "coach/t3")
    stop.write("retired-1", EntryKind.RETIRED, {"side": "a", "why": "injury"})
    tasks.record_answers(library, "m1", stop.entries)
    assert tasks.show_match(library, "m1").next is None
    assert questions(library) == before == ()


def test_one_undo_after_no_rally_leaves_no_rally_behind(library: Any) -> None:  # noqa: F811
    keys = record(library, None)
    pen = EntryWriter("m1", "coach/t2")
    pen.write("pause-1", EntryKind.SPAN, {"start_us": 9 * SECOND, "end_us": 22 * SECOND, "how": "heard"})
    pen.write("pause-1", EntryKind.REMOVE, True)
    tasks.record_answers(library, "m1", pen.entries)
    undo = EntryWriter("m1", "coach/t3")
    undo.undo(pen.entries[1])
    tasks.record_answers(library, "m1", undo.entries)
    assert [rally.key for rally in tasks.show_match(library, "m1").rallies] == keys


def say_none(library: Any, start_us: int, end_us: int) -> None:  # noqa: F811
    pen = EntryWriter("m1", "coach/t2")
    pen.write("pause-1", EntryKind.SPAN, {"start_us": start_us, "end_us": end_us, "how": "heard"})
    pen.write("pause-1", EntryKind.REMOVE, True)
    tasks.record_answers(library, "m1", pen.entries)


@pytest.mark.parametrize("heard", [False, True])
def test_no_rally_in_the_part_that_was_played_settles_the_pause(library: Any, heard: bool) -> None:  # noqa: F811
    record(library, GONE, heard=heard)
    first = questions(library)[0]
    say_none(library, first.likely_start_us - SECOND, first.likely_end_us + SECOND)
    assert first.after not in {question.after for question in questions(library)}


def test_no_rally_in_a_small_part_of_what_is_asked_settles_nothing(library: Any) -> None:  # noqa: F811
    record(library, GONE)
    first = questions(library)[0]
    say_none(library, first.likely_start_us, first.likely_start_us + SECOND)
    again = questions(library)[0]
    assert again.after == first.after and not again.was_deleted


def test_pauses_that_held_a_rally_leave_room_for_more_questions(
    library: Any,  # noqa: F811
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    record(library, GONE)
    monkeypatch.setattr(asked, "ASK_FROM", 0.0)
    first = questions(library)[0]
    say_none(library, first.start_us, first.end_us)
    assert len(questions(library)) == asked.ASSUMED_MOST_ASKED - 1


def test_a_sheet_of_few_rallies_knows_no_usual_pause(library: Any) -> None:  # noqa: F811
    keys = record(library, 2)
    pen = EntryWriter("m1", "coach/t2")
    for key in keys[5:]:
        pen.write(key, EntryKind.REMOVE, True)
    tasks.record_answers(library, "m1", pen.entries)
    found = questions_from_any_chance(library)
    assert found and not any(question.is_long for question in found)


def test_where_nobody_was_seen_the_places_are_no_reason(library: Any) -> None:  # noqa: F811
    record(library, GONE)
    assert all(question.are_places_known for question in questions_from_any_chance(library))
    file = library.folder / "heard" / "m1.said.json"
    file.write_text(re.sub(r'"seen": ?"[a-z-]*"', '"seen": ""', file.read_text()))
    assert not any(question.are_places_known for question in questions_from_any_chance(library))


def questions_from_any_chance(library: Any) -> tuple[MissingRallyQuestion, ...]:  # noqa: F811
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(asked, "ASK_FROM", 0.0)
        return questions(library)
