"""What a page may not do to the check of ten: forge it, shrink it, skip it, take or draw twice."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import origins_of
from goodlength.measure.draft.proposal_acceptance_rates import unwatched_rallies
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import EntryKind
from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import (
    SAMPLE,
    bulk_offer,
    draw_sample,
    take_unwatched,
    withdraw_unwatched,
)
from tests.unit.web.test_web_bulk_taking import AT, drafted, take  # noqa: F401  (fixture)

LOB = {"by": "ball-path", "answers": [{"what": "serve.kind", "value": "lob", "chance": 0.98}]}
WON = {"by": "score-draft", "answers": [{"what": "winner", "value": "a", "chance": 1.0}]}


def sent(rally: str, what: str, value: object, observer: str = "coach/t1") -> dict[str, object]:
    return {
        "id": f"x-{observer}-{rally}-{what}",
        "observer": observer,
        "at_utc": "2026-01-01T10:00:00Z",
        "rally": rally,
        "what": what,
        "value": value,
    }


def opened(library: Any) -> Any:
    match = tasks.open_match(library, "m1")
    assert match.entries and match.match and match.answers
    return match


@pytest.mark.parametrize(
    ("what", "value", "observer"),
    [
        ("proposed", {**LOB, "sample": True}, "coach/t1"),
        ("proposed", WON, "coach/t1"),
        ("proposed", {**LOB, "sample": True}, "coach/sample"),
        ("winner", "b", "coach/taken-unseen"),
        ("winner", "b", "coach/draft"),
        ("winner", "b", "coach/draft-doubtful"),
        ("winner", "b", "coach/imported-unseen"),
    ],
)
def test_a_page_writes_nothing_that_only_the_program_may(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
    what: str,
    value: object,
    observer: str,
) -> None:
    before = len(opened(library).entries)
    entries = [sent(drafted[0], "serve.kind", "lob"), sent(drafted[0], what, value, observer)]
    refused = client.post("/api/matches/m1/entries", json={"entries": entries})
    assert refused.status_code == 422 and "Nothing was saved" in refused.json()["error"]["words"]
    assert len(opened(library).entries) == before


@pytest.mark.parametrize("tab", ["taken-unseen", "sample", "draft", "draft-doubtful", "imported-unseen"])
def test_a_time_is_stored_under_no_tab_of_the_programs(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
    tab: str,
) -> None:
    body = {"id": "s1", "rally": drafted[0], "start_us": 0, "end_us": 5_000_000, "tab": tab}
    assert client.post("/api/matches/m1/span", json=body).status_code == 422
    assert client.get(AT).json()["taken"] == 0


def test_a_sample_is_ten_rallies_that_the_program_drew(library: Any, drafted: list[str]) -> None:  # noqa: F811
    pen = EntryWriter("m1", "coach/t1")
    for key in drafted[:SAMPLE]:  # as a file written by hand may have it
        pen.write(key, EntryKind.PROPOSED, {**LOB, "sample": True})
    few = EntryWriter("m1", "coach/sample", mark="sample-1-")
    for key in (*drafted[:3], *drafted[:3], *drafted[:4]):
        few.write(key, EntryKind.PROPOSED, {**LOB, "sample": True})
    tasks.record_answers(library, "m1", [*pen.entries, *few.entries])
    take(library, drafted[:SAMPLE])
    with pytest.raises(InputError, match="0 of 10 drawn rallies"):
        take_unwatched(opened(library))


def test_an_undo_of_a_page_takes_nothing_from_the_sample(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    sample = client.post(f"{AT}/sample").json()["sample"]
    first = next(entry for entry in opened(library).entries if entry.observer == "coach/sample")
    undo = sent(first.rally, "undo", None) | {"replaces": first.id}
    client.post("/api/matches/m1/entries", json={"entries": [undo]})
    assert client.get(AT).json()["sample"] == sample


def test_a_question_skipped_is_not_checked(client: TestClient, library: Any, drafted: list[str]) -> None:  # noqa: F811
    sample = client.post(f"{AT}/sample").json()["sample"]
    pen = EntryWriter("m1", "coach/t1")
    for key in sample:
        for what in (EntryKind.KIND, EntryKind.WINNER, EntryKind.ENDING):
            pen.write(key, what, None)
    tasks.record_answers(library, "m1", pen.entries)
    offer = client.get(AT).json()
    assert (offer["state"], offer["right"], offer["to_check"]) == ("checking", 0, sample)
    assert "A question skipped is not checked" in offer["text"]
    assert client.post(f"{AT}/take").status_code == 422
    take(library, sample[1:])
    assert client.get(AT).json()["to_check"] == sample[:1]


def test_a_proposal_of_another_window_leaves_the_check_whole(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    sample = client.post(f"{AT}/sample").json()["sample"]
    pen = EntryWriter("m1", "coach/t2")
    pen.write(sample[0], EntryKind.PROPOSED, LOB)
    tasks.record_answers(library, "m1", pen.entries)
    take(library, sample)
    offer = client.get(AT).json()
    assert (offer["state"], offer["right"]) == ("ready", SAMPLE)
    rates = {rate.what: rate for rate in origins_of(opened(library)).rates}
    assert rates["serve.kind"].sample_checked == rates["winner"].sample_checked == SAMPLE


def test_a_proposal_of_another_window_hides_no_wrong_one(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    sample = client.post(f"{AT}/sample").json()["sample"]
    take(library, sample[1:])
    hard = {"by": "ball-path", "answers": [{"what": "serve.kind", "value": "hard", "chance": 0.98}]}
    pen = EntryWriter("m1", "coach/t2")
    pen.write(sample[0], EntryKind.PROPOSED, hard)
    pen.write(sample[0], EntryKind.KIND, "hard")
    pen.write(sample[0], EntryKind.WINNER, "a")
    tasks.record_answers(library, "m1", pen.entries)
    assert client.get(AT).json()["state"] == "withdrawn"


def test_ten_are_drawn_once_by_two_windows(client: TestClient, library: Any, drafted: list[str]) -> None:  # noqa: F811
    first, second = opened(library), opened(library)
    assert all(draw_sample(first).new) and not any(draw_sample(second).new)
    assert len(client.get(AT).json()["sample"]) == SAMPLE


def test_rallies_are_taken_once_by_two_windows_and_undone_once(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    take(library, client.post(f"{AT}/sample").json()["sample"])
    first, second = opened(library), opened(library)
    before = len(first.entries)
    assert all(take_unwatched(first).new)
    after = len(opened(library).entries)
    assert not any(take_unwatched(second).new)
    assert after > before and len(opened(library).entries) == after
    again = client.post(f"{AT}/take")
    assert again.status_code == 422
    assert "are taken already: 4 were taken unwatched" in again.json()["error"]["words"]
    first, second = opened(library), opened(library)
    assert all(withdraw_unwatched(first).new) and not any(withdraw_unwatched(second).new)
    assert client.get(AT).json()["state"] == "ready"
    assert client.post(f"{AT}/take").json()["taken"] == 4


def test_what_was_taken_twice_by_an_earlier_program_is_undone_as_one(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    take(library, client.post(f"{AT}/sample").json()["sample"])
    for mark in ("taken-unseen-a-", "taken-unseen-b-"):
        pen = EntryWriter("m1", "coach/taken-unseen", mark=mark)
        for key in client.get(AT).json()["sure"]:
            pen.write(key, EntryKind.KIND, "lob")
        tasks.record_answers(library, "m1", pen.entries)
    assert client.post(f"{AT}/undo").json()["taken"] == 0


def test_one_undo_opens_what_was_taken_in_two_steps(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    take(library, client.post(f"{AT}/sample").json()["sample"])
    sure = client.get(AT).json()["sure"]
    for mark, keys in (("taken-unseen-a-", sure[:2]), ("taken-unseen-b-", sure[2:])):
        pen = EntryWriter("m1", "coach/taken-unseen", mark=mark)
        for key in keys:
            pen.write(key, EntryKind.KIND, "lob")
        tasks.record_answers(library, "m1", pen.entries)
    assert client.get(AT).json()["taken"] == len(sure)
    assert client.post(f"{AT}/undo").json()["taken"] == 0


def test_a_draft_removed_takes_the_sample_with_it(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    client.post(f"{AT}/sample")
    tasks.withdraw_draft(opened(library))
    assert opened_rallies(library) == ()
    assert client.get(AT).json()["state"] == "none"


def test_a_draft_removed_takes_what_was_taken_unseen_with_it(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    sample = client.post(f"{AT}/sample").json()["sample"]
    take(library, sample)
    sure = client.get(AT).json()["sure"]
    client.post(f"{AT}/take")
    tasks.answer(library, "m1", sure[0], EntryKind.HOW_TAKEN, "volleyed", observer="coach/t1")
    tasks.withdraw_draft(opened(library))
    left = {rally.key: rally for rally in opened_rallies(library)}
    assert left.keys() == {*sample, sure[0]}
    assert left[sure[0]].serve.kind is None and left[sure[0]].ret.how is not None
    offer = client.get(AT).json()
    assert (offer["state"], offer["taken"]) == ("none", 0)


def opened_rallies(library: Any) -> Any:
    return tasks.show_match(library, "m1").rallies


@pytest.mark.parametrize(("what", "value"), [(EntryKind.BOX, "right"), (EntryKind.KIND, None)])
def test_the_box_alone_or_a_skip_makes_nobody_watch(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
    what: EntryKind,
    value: object,
) -> None:
    take(library, client.post(f"{AT}/sample").json()["sample"])
    sure = client.get(AT).json()["sure"]
    client.post(f"{AT}/take")
    before = origins_of(opened(library))
    pen = EntryWriter("m1", "coach/t1")
    for key in sure:
        pen.write(key, what, value)
    tasks.record_answers(library, "m1", pen.entries)
    after = origins_of(opened(library))
    assert after.answers.by_person == before.answers.by_person == 20
    rates = {rate.what: rate.checked for rate in after.rates}
    assert rates["serve.kind"] == rates["winner"] == SAMPLE
    assert client.get(AT).json()["taken"] == len(sure)


def test_a_winner_that_nobody_answered_is_not_counted_right(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    tasks.answer(library, "m1", drafted[0], EntryKind.KIND, "lob", observer="coach/t1")
    rates = {rate.what: rate.checked for rate in origins_of(opened(library)).rates}
    assert "winner" not in rates and rates["server"] == 1


def test_a_table_tells_which_rallies_nobody_watched_and_reading_it_keeps_that(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
    tmp_path: Any,
) -> None:
    take(library, client.post(f"{AT}/sample").json()["sample"])
    sure = client.get(AT).json()["sure"]
    client.post(f"{AT}/take")
    before = opened(library)
    (table,) = tasks.export_match(library, "m1", tmp_path / "m.csv")
    text = table.read_text("utf-8-sig")
    rows = {row["key"]: row["watched"] for row in csv.DictReader(io.StringIO(text))}
    assert rows == {key: "no" if key in sure else "yes" for key in drafted}
    with tasks.open_library(tmp_path / "other") as other:
        preview = tasks.import_match(other, table, dry_run=True)
        assert "4 rallies were watched by nobody" in " ".join(preview.notes)
        tasks.import_match(other, table)
        (info,) = other.matches()
        again = tasks.open_match(other, info.id)
        assert origins_of(again).answers == origins_of(before).answers
        assert unwatched_rallies(again.answers) == set(sure)
        assert [rally.serve.kind for rally in again.match.rallies] == ["lob"] * len(drafted)
        assert bulk_offer(again).state == "none"
        with pytest.raises(InputError, match="nothing to undo"):
            withdraw_unwatched(again)
    with tasks.open_library(tmp_path / "third") as third:
        text = text.replace(",watched", ",seen_by")
        table.write_text(text, "utf-8")
        tasks.import_match(third, table)
        (info,) = third.matches()
        assert unwatched_rallies(tasks.open_match(third, info.id).answers) == set()


def test_a_drafted_rally_comes_back_from_a_table_as_drafted(
    library: Any,
    drafted: list[str],  # noqa: F811
    tmp_path: Any,
) -> None:
    """Not as taken: nobody took it. A winner in doubt is asked for again."""
    tasks.answer(library, "m1", drafted[2], EntryKind.WINNER, "a", observer="coach/draft-doubtful")
    take(library, drafted[:2])
    (table,) = tasks.export_match(library, "m1", tmp_path / "m.csv")
    rows = {r["key"]: r["watched"] for r in csv.DictReader(io.StringIO(table.read_text("utf-8-sig")))}
    words = dict.fromkeys(drafted, "draft")
    assert rows == words | dict.fromkeys(drafted[:2], "yes") | {drafted[2]: "draft-doubtful"}
    with tasks.open_library(tmp_path / "other") as other:
        preview = tasks.import_match(other, table, dry_run=True)
        assert "12 rallies were drafted and watched by nobody" in " ".join(preview.notes)
        tasks.import_match(other, table)
        again = tasks.open_match(other, other.matches()[0].id)
        assert origins_of(again).answers == origins_of(opened(library)).answers
        assert origins_of(again).answers.unwatched == 0
        assert tasks.rallies_in_draft(again) == 12
    text = table.read_text("utf-8").replace(",draft-doubtful", ",perhaps")
    table.write_text(text, "utf-8")
    with tasks.open_library(tmp_path / "third") as third:
        problems = tasks.import_match(third, table, dry_run=True).problems
        assert any("'perhaps' is not yes, no, draft or draft-doubtful" in problem for problem in problems)


def test_an_answer_counts_as_a_persons_where_they_gave_it_whatever_else_they_said(
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    """One rule for the count of answers and for the check of proposals."""
    tasks.answer(library, "m1", drafted[0], EntryKind.KIND, "lob")
    found = origins_of(opened(library))
    assert (found.answers.by_person, found.answers.proposed) == (1, len(drafted))
    assert "winner" not in {rate.what for rate in found.rates}
    tasks.answer(library, "m1", drafted[0], EntryKind.WINNER, "a")
    found = origins_of(opened(library))
    assert (found.answers.by_person, found.answers.proposed) == (2, len(drafted) - 1)
    assert {rate.what: rate.checked for rate in found.rates}["winner"] == 1


def test_a_corrected_winner_stays_when_the_draft_is_removed(
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    tasks.answer(library, "m1", drafted[1], EntryKind.WINNER, "b")  # the draft had A
    tasks.answer(library, "m1", drafted[2], EntryKind.WINNER, "a")  # confirmed
    left = tasks.withdraw_draft(opened(library)).match.rallies
    assert [(rally.key, rally.winner, rally.start_us is not None) for rally in left] == [
        (drafted[1], "b", True)
    ]


def test_winners_confirmed_as_the_page_does_go_with_the_draft(
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    """A question skipped, what went along and a winner set back to the draft's say no more than it did."""
    pen, along = EntryWriter("m1", "coach/t1"), EntryWriter("m1", "coach/t1-along")
    along.write(drafted[1], EntryKind.KIND, "lob")
    for key in drafted[1:3]:
        pen.write(key, EntryKind.WINNER, "a")
        pen.write(key, EntryKind.ENDING, None)
    for winner in ("b", "a"):
        pen.write(drafted[3], EntryKind.WINNER, winner)
    pen.write(drafted[4], EntryKind.ENDING, "winner")
    tasks.record_answers(library, "m1", [*along.entries, *pen.entries])
    left = tasks.withdraw_draft(opened(library)).match.rallies
    assert [rally.key for rally in left] == [drafted[4]]


def test_a_draft_read_from_a_table_is_removed_as_a_whole(
    library: Any,
    drafted: list[str],  # noqa: F811
    tmp_path: Any,
) -> None:
    (table,) = tasks.export_match(library, "m1", tmp_path / "m.csv")
    with tasks.open_library(tmp_path / "other") as other:
        tasks.import_match(other, table)
        again = tasks.open_match(other, other.matches()[0].id)
        assert [rally.span_how for rally in again.match.rallies] == ["heard"] * len(drafted)
        assert tasks.withdraw_draft(again).match.rallies == ()


def test_a_drafted_let_comes_back_from_a_table_as_drafted(
    library: Any,
    drafted: list[str],  # noqa: F811
    tmp_path: Any,
) -> None:
    """It has no winner; it is the draft's all the same, and nobody took it."""
    pen = EntryWriter("m1", "coach/draft", mark="draft-2-")
    pen.write("r20", EntryKind.SPAN, {"start_us": 300 * 10**6, "end_us": 305 * 10**6, "how": "heard"})
    pen.write("r20", EntryKind.ENDING, "let")
    tasks.record_answers(library, "m1", pen.entries)
    (table,) = tasks.export_match(library, "m1", tmp_path / "m.csv")
    rows = {r["key"]: r["watched"] for r in csv.DictReader(io.StringIO(table.read_text("utf-8-sig")))}
    assert rows["r20"] == "draft"
    with tasks.open_library(tmp_path / "other") as other:
        tasks.import_match(other, table)
        again = tasks.open_match(other, other.matches()[0].id)
        assert origins_of(again).answers == origins_of(opened(library)).answers


def test_a_second_draw_after_the_draft_was_added_again_is_named(
    client: TestClient,
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    assert "before in this match" not in client.get(AT).json()["text"]
    assert "before in this match" not in client.post(f"{AT}/sample").json()["text"]
    entries = opened(library).entries
    draft = next(entry for entry in entries if entry.what is EntryKind.PROPOSED and entry.rally == drafted[0])
    tasks.answer(library, "m1", drafted[0], EntryKind.PROPOSED, draft.value, observer="coach/draft")
    earlier = "Ten were drawn before in this match"
    offer = client.get(AT).json()
    assert offer["state"] == "offered" and earlier in offer["text"]
    take(library, client.post(f"{AT}/sample").json()["sample"])
    ready = client.get(AT).json()
    assert ready["state"] == "ready" and earlier in ready["text"]
    assert "the limit leaves that out" in ready["text"]


def test_a_copy_of_the_match_in_which_others_were_drawn_is_brought_in(
    library: Any,
    drafted: Any,  # noqa: F811
    tmp_path: Any,
) -> None:
    """Another copy drew its ten at another time: the same ids stand for other entries there."""
    draw_sample(opened(library))
    (written,) = [
        path for path in tasks.export_match(library, "m1", tmp_path / "m1.json") if path.suffix == ".json"
    ]
    plain = json.loads(written.read_text(encoding="utf-8"))
    for entry in plain["entries"]:
        if entry["observer"].endswith("/sample"):
            entry["at_utc"] = entry["at_utc"].replace("20", "19", 1)
    copy = tmp_path / "copy.json"
    copy.write_text(json.dumps(plain), encoding="utf-8")
    assert tasks.import_match(library, copy).new_entries == SAMPLE
    assert tasks.import_match(library, copy).new_entries == 0
    assert tasks.import_match(library, written).new_entries == 0
    assert len(bulk_offer(opened(library)).sample) == SAMPLE


def test_what_is_left_out_is_what_stands_in_rallies_that_nobody_watched(
    library: Any,
    drafted: list[str],  # noqa: F811
) -> None:
    """The drafted winner of a rally that the coach watched counts, so it is not left out."""
    tasks.answer(library, "m1", drafted[0], EntryKind.KIND, "lob")
    assert origins_of(replace(opened(library), only_watched=True)).words == (
        "1 answer given or checked by you, 1 as the draft has it; left out here: 13 as the draft has them."
    )


def test_an_empty_sheet_is_not_called_proposed(client: TestClient, match_id: str) -> None:
    page = client.get(f"/matches/{match_id}/findings?answers=watched").text
    assert "as it was proposed" not in page
