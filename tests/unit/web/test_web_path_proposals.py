"""What the ball's path proposes for Record: sure answers alone, kept beside what the coach said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.files.library_layout import followed_ball_file
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.measure.shots.followed_ball_types import ContactKind, PathContact
from goodlength.record.entry_ids_and_timestamps import utc_now
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import EntryKind, Footage
from goodlength.tasks.ball import ball_following_inputs
from goodlength.tasks.draft.answer_proposals_from_ball_path import (
    RallyProposals,
    RecordProposal,
    path_proposals,
)
from tests.oracles.followed_shots import (
    SECOND,
    made_match,
    made_path,
    made_rally,
    made_serve,
    unchanged_inputs,
)

AT = "/api/matches/m1/proposals"


def drafted(kind: str = "lob", share: float = 0.99) -> Any:
    rally = made_rally()
    third = replace(rally.shots[1], number=3, paths=(made_path(3_200_000, 0.9),))
    serve = replace(made_serve(), kinds={kind: share}, taken={"volleyed": 0.98})
    second = replace(rally.shots[1], strike_chance=0.99)
    return replace(rally, serve=serve, shots=(rally.shots[0], second, third))


def store(library: Any, rally: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([rally]))
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", rally))


@pytest.fixture
def filmed(library: Any, match_id: str) -> None:
    library.save_footage(Footage("f1", match_id, "/films/one.mp4", 0, first_us=0, end_us=100 * SECOND))


def test_sure_answers_are_proposed_with_their_rally(
    client: TestClient, library: Any, filmed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert client.get(AT).json() == {"rallies": []}
    store(library, drafted(), monkeypatch)
    (rally,) = client.get(AT).json()["rallies"]
    assert (rally["start_us"], rally["end_us"]) == (SECOND, 9 * SECOND)
    assert [(each["what"], each["value"]) for each in rally["answers"]] == [
        ("serve.kind", "lob"),
        ("return.how", "volleyed"),
    ]
    assert all(0.9 <= each["chance"] <= 1.0 for each in rally["answers"])


def ended_with(*kinds: ContactKind) -> Any:
    """Three shots, the last by B, and what it touched after the floor."""
    rally = drafted()
    last = rally.shots[2].paths[0]
    end_us = last.contacts[-1].time_us
    ends = tuple(PathContact(k, end_us + 300_000, (1.0, 9.0, 0.02), None, True) for k in kinds)
    third = replace(rally.shots[2], paths=(replace(last, chance=0.99, contacts=(*last.contacts, *ends)),))
    return replace(rally, key="r:r1", shots=(*rally.shots[:2], third))


@pytest.mark.parametrize("sheet", ["without", "a", "b"])
def test_an_ending_is_proposed_for_who_served_and_won_whatever_the_sheet_says(
    client: TestClient, library: Any, filmed: None, monkeypatch: pytest.MonkeyPatch, sheet: str
) -> None:
    """B struck last. A page keeps what it has read: a server corrected later is told apart by it."""
    store(library, ended_with(ContactKind.SECOND_BOUNCE), monkeypatch)
    if sheet != "without":
        tasks.answer(library, "m1", "r1", EntryKind.SPAN, {"start_us": SECOND, "end_us": 8 * SECOND})
        tasks.answer(library, "m1", "r1", EntryKind.SERVER, sheet)
    (found,) = client.get(AT).json()["rallies"]
    of_end = [a for a in found["answers"] if a["what"] in ("winner", "ending")]
    # if A served, the count of shots and the striker contradict each other; nobody's winner is proposed
    assert [(a["what"], a["value"], a["if_winner"], a["if_server"]) for a in of_end] == [
        ("ending", "winner", "b", "b")
    ]
    assert found["ended"] == "second-bounce"


def test_of_a_ball_down_the_end_alone_is_said_also_where_nothing_else_is_proposed(
    client: TestClient, library: Any, filmed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    rally = ended_with(ContactKind.TIN)
    store(library, rally, monkeypatch)
    (found,) = client.get(AT).json()["rallies"]
    assert found["ended"] == "tin" and {a["what"] for a in found["answers"]} == {"serve.kind", "return.how"}
    store(library, replace(rally, serve=None), monkeypatch)
    (found,) = client.get(AT).json()["rallies"]
    assert found["ended"] == "tin" and found["answers"] == []


@pytest.mark.parametrize(
    ("server", "winner", "kind", "contradicts"),
    [
        ("b", "a", ContactKind.SECOND_BOUNCE, True),
        ("b", "b", ContactKind.SECOND_BOUNCE, False),
        ("b", "b", ContactKind.TIN, True),
        ("a", "a", ContactKind.TIN, False),  # shots and striker contradict each other: nothing is known
    ],
)
def test_an_end_that_speaks_for_the_other_player_contradicts_a_winner(
    library: Any,
    filmed: None,
    monkeypatch: pytest.MonkeyPatch,
    server: str,
    winner: str,
    kind: ContactKind,
    contradicts: bool,
) -> None:
    store(library, ended_with(kind), monkeypatch)
    tasks.answer(library, "m1", "r1", EntryKind.SPAN, {"start_us": SECOND, "end_us": 8 * SECOND})
    tasks.answer(library, "m1", "r1", EntryKind.SERVER, server)
    opened = tasks.open_match(library, "m1")
    (path,) = path_proposals(opened)
    assert not path.contradicts(opened.match.rallies[0])  # nobody has said who won
    tasks.answer(library, "m1", "r1", EntryKind.WINNER, winner)
    assert path.contradicts(tasks.open_match(library, "m1").match.rallies[0]) is contradicts


def test_a_missed_return_contradicts_a_receiver_who_won(library: Any, match_id: str) -> None:
    missed = RecordProposal(EntryKind.HOW_TAKEN, "not-made", 0.95)
    path = RallyProposals("r:r1", 0, 9 * SECOND, (missed,))
    tasks.answer(library, match_id, "r1", EntryKind.SERVER, "a")
    for winner, contradicts in (("a", False), ("b", True)):
        tasks.answer(library, match_id, "r1", EntryKind.WINNER, winner)
        (rally,) = tasks.open_match(library, match_id).match.rallies
        assert path.contradicts(rally) is contradicts


def test_unsure_unknown_and_out_of_date_answers_are_left_out(
    client: TestClient, library: Any, filmed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    for rally in (drafted(share=0.5), drafted(kind="a kind retired")):
        store(library, rally, monkeypatch)
        (found,) = client.get(AT).json()["rallies"]
        assert [each["what"] for each in found["answers"]] == ["return.how"]
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([]))
    assert client.get(AT).json() == {"rallies": []}
    path = followed_ball_file(library.folder, "m1")
    path.write_bytes(path.read_bytes()[:-40])
    assert client.get(AT).json() == {"rallies": []}


def test_what_was_proposed_is_kept_beside_the_answer(library: Any, match_id: str) -> None:
    value = {"by": "ball-path", "answers": [{"what": "serve.kind", "value": "lob", "chance": 0.97}]}
    tasks.answer(library, match_id, "r1", EntryKind.PROPOSED, value)
    tasks.answer(library, match_id, "r1", EntryKind.KIND, "hard")
    opened = tasks.open_match(library, match_id)
    (facts,) = opened.answers.facts
    kept = facts.values[EntryKind.PROPOSED]
    assert kept.answers[0].value == "lob" and facts.values[EntryKind.KIND] == "hard"  # type: ignore[union-attr]
    assert opened.match.rallies[0].serve.kind == "hard"
    for wrong in (
        {"by": "somebody", "answers": value["answers"]},
        {"by": "ball-path", "answers": []},
        {"by": "ball-path", "answers": [{"what": "serve.kind", "value": "lob", "chance": 1.5}]},
    ):
        with pytest.raises(InputError, match="proposed is"):
            tasks.answer(library, match_id, "r1", EntryKind.PROPOSED, wrong)


def test_two_tabs_that_were_shown_other_proposals_do_not_clash(library: Any, match_id: str) -> None:
    """Paths followed again in between: what was shown differs, and no question was answered twice."""
    for tab, chance in (("coach/a", 0.95), ("coach/b", 0.97)):
        answers = [{"what": "serve.kind", "value": "lob", "chance": chance}]
        writer = EntryWriter(match_id, tab, utc_now())
        entry = writer.write("r1", EntryKind.PROPOSED, {"by": "ball-path", "answers": answers})
        tasks.record_answers(library, match_id, [entry])
    tasks.answer(library, match_id, "r1", EntryKind.KIND, "lob")
    opened = tasks.open_match(library, match_id)
    assert not opened.answers.facts[0].clashes and not opened.match.faults


def test_what_was_proposed_makes_no_rally_without_an_answer(
    client: TestClient, library: Any, match_id: str
) -> None:
    value = {"by": "ball-path", "answers": [{"what": "serve.kind", "value": "lob", "chance": 0.97}]}
    tasks.answer(library, match_id, "r1", EntryKind.PROPOSED, value)
    tasks.answer(library, match_id, "r1", EntryKind.KIND, "lob")
    log = client.get(f"/api/matches/{match_id}/sheet").json()["log"]
    assert [item["what"] for item in log] == ["proposed", "serve.kind"]
    tasks.undo(library, match_id)
    assert tasks.open_match(library, match_id).match.rallies == ()
    with pytest.raises(InputError, match="nothing to undo"):
        tasks.undo(library, match_id)
