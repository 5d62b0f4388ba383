"""From the log to the match: which answers stand, what follows from them, and every fault at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from goodlength.record import (
    Depth,
    Ending,
    Entry,
    EntryKind,
    KindOfServe,
    Left,
    Match,
    MatchInfo,
    ReturnKind,
    ShotType,
)
from goodlength.record.effective_answers import (
    AnswersMemo,
    effective_answers,
    entry_to_redo,
    entry_to_undo,
    next_rally_key,
    undone_ids,
)
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.scoring.scoring_types import Box, Decision, Format, Side, Start, System

INFO = MatchInfo("m1", ("iv", "pl"), start=Start(server=Side.A))
NAMES = ("Imogen", "Petra")


@pytest.fixture
def pen() -> EntryWriter:
    return EntryWriter("m1", mark="e")


def played(pen: EntryWriter, info: MatchInfo = INFO, **more: object) -> Match:
    return match_from(info, pen.entries, NAMES, **more)


def codes(match: Match) -> list[str]:
    return [fault.code for fault in match.faults]


def tab(entry: Entry, name: str, **changes: object) -> Entry:
    return replace(entry, id=f"{entry.id}-{name}", observer=f"coach/{name}", **changes)


def test_nothing_written_down_is_a_match_at_love_all(pen):
    match = played(pen)
    assert (match.rallies, match.faults, match.open_key) == ((), (), None)
    assert (match.next.server, match.next.box, match.next.points) == (Side.A, Box.RIGHT, (0, 0))


def test_a_rally_carries_its_answers_and_what_the_rules_give(pen):
    pen.rally(
        "r1", span=(1_000_000, 9_000_000), box="left", kind="lob", how="volleyed", left="attacked", winner="b"
    )
    pen.write("r1", EntryKind.ENDING, "winner")
    pen.write("r1", EntryKind.ENDING_STROKE, "drop")
    pen.write("r1", EntryKind.ENDING_VOLLEY, True)
    match = played(pen)
    (rally,) = match.rallies
    assert (rally.server, rally.box, rally.call) == (Side.A, Box.LEFT, "Hand-out, 1–love")
    assert (rally.serve.kind, rally.ret.how, rally.ret.left) == ("lob", ReturnKind.VOLLEYED, Left.ATTACKED)
    assert (rally.ending, rally.ending_stroke, rally.ending_volley) == (Ending.WINNER, ShotType.DROP, True)
    assert (rally.start_us, rally.end_us, rally.complete) == (1_000_000, 9_000_000, True)
    assert match.faults == ()
    assert (match.next.server, match.next.points) == (Side.B, (0, 1))


def test_a_skipped_answer_is_not_recorded_and_the_rally_is_down(pen):
    pen.rally("r1", kind=None, how="volleyed", left=None, winner="a", ending=None)
    (rally,) = played(pen).rallies
    assert (rally.serve.kind, rally.ret.left, rally.ending) == (None, None, None)
    assert rally.skipped == {"serve.kind", "return.left", "ending"}
    assert rally.complete


def test_a_return_not_made_gives_the_server_the_rally(pen):
    pen.rally("r1", kind="lob", how="not-made")
    pen.rally("r2", kind="lob", how="volleyed", left="not-made")
    match = played(pen)
    assert [rally.winner for rally in match.rallies] == [Side.A, Side.A]
    assert [rally.ret.left for rally in match.rallies] == [Left.NOT_MADE, Left.NOT_MADE]
    assert [rally.ending for rally in match.rallies] == [None, None], "forced or not was not said"
    assert all(rally.complete for rally in match.rallies)
    assert match.next.points == (2, 0)


def test_a_fault_gives_the_receiver_the_rally(pen):
    pen.rally("r1", kind="lob", ending="service-fault")
    pen.rally("r2", kind="hard", how="not-made")
    match = played(pen)
    first, second = match.rallies
    assert (first.winner, first.serve.fault, first.ending, first.call) == (
        Side.B,
        True,
        Ending.SERVICE_FAULT,
        "Fault, hand-out, 1–love",
    )
    assert (second.server, second.winner) == (Side.B, Side.B)
    assert first.complete


def test_a_return_not_made_after_an_unsaid_start_finds_its_server(pen):
    """Nobody said who served first; the first known winner makes the next server known."""
    pen.rally("r1", kind="lob", left="tight", winner="b", ending="winner")
    pen.rally("r2", kind="lob", how="not-made")
    match = played(pen, replace(INFO, start=Start()))
    assert match.rallies[1].winner is Side.B
    assert not match.rallies[0].server_known
    assert codes(match) == ["server-missing"]


def test_a_return_not_made_right_after_a_game_or_a_conduct_game_finds_its_server(pen):
    for n in range(11):
        pen.rally(f"r{n}", winner="b")
    pen.rally("r11", how="not-made")
    pen.write("c1", EntryKind.CONDUCT, {"to": "a", "game": True})
    pen.rally("r12", how="not-made")
    match = played(pen)
    assert [(rally.server, rally.winner) for rally in match.rallies[-2:]] == [
        (Side.B, Side.B),
        (Side.A, Side.A),
    ]
    assert match.games_won == (1, 1)


def test_a_let_is_played_again_from_the_same_box(pen):
    pen.rally("r1", box="left", kind="lob", how="volleyed", left="loose", ending="let")
    pen.rally("r2", winner="a")
    match = played(pen)
    assert (match.rallies[0].let, match.rallies[0].call) == (True, "Yes let, love-all")
    assert match.rallies[1].box is Box.LEFT
    assert match.rallies[0].decision is Decision.YES_LET


def test_a_stroke_and_a_no_let_are_endings_of_their_own_with_their_calls(pen):
    pen.rally("r1", kind="lob", left="loose", winner="a", ending="stroke")
    pen.rally("r2", kind="lob", left="loose", winner="b", ending="no-let")
    match = played(pen)
    assert [rally.call for rally in match.rallies] == ["Stroke to Imogen, 1–love", "No let, hand-out, 1-all"]


def test_the_marker_called_it_otherwise(pen):
    pen.rally("r1", kind="lob", left="tight", winner="b", ending="winner")
    pen.write("r1", EntryKind.CALLED, {"decision": "stroke", "to": "a"})
    pen.rally("r2", kind="lob", left="tight", winner="b", ending="winner")
    pen.write("r2", EntryKind.CALLED, {"decision": "let"})
    pen.rally("r3", winner="a", ending="unforced-error", called={"call": "down", "to": "a"})
    pen.rally("r4", winner="a", called={"call": "fault"})
    pen.rally("r5", winner="a", ending="winner", called={"points": [5, 4], "server": "b", "box": "left"})
    match = played(pen)
    assert [rally.winner for rally in match.rallies] == [Side.A, None, Side.A, Side.B, Side.A]
    assert [rally.call for rally in match.rallies] == [
        "Stroke to Imogen, 1–love",
        "Yes let, 1–love",
        "Down, 2–love",
        "Fault, hand-out, 1–2",
        "Hand-out, 3–1",
    ]
    assert [rally.ending for rally in match.rallies][:4] == [
        Ending.STROKE,
        Ending.LET,
        Ending.UNFORCED_ERROR,
        Ending.SERVICE_FAULT,
    ]
    assert (match.next.points, match.next.server, match.next.box) == ((5, 4), Side.B, Box.LEFT)
    assert match.faults == ()
    assert [line.is_rally for line in match.lines] == [True, True, True, True, True, False]


def test_the_last_rally_is_open_and_no_fault_until_it_is_decided(pen):
    pen.rally("r1", winner="a", ending="winner")
    pen.rally("r2", kind="lob")
    match = played(pen)
    assert match.faults == ()
    assert match.open_key == "r2"
    last = match.rallies[-1]
    assert (last.server, last.box, last.before, last.complete, last.n_in_game) == (
        Side.A,
        Box.LEFT,
        (1, 0),
        False,
        2,
    )
    pen.write("r2", EntryKind.WINNER, None)
    match = played(pen)
    assert (match.open_key, codes(match)) == (None, ["winner-missing"])


def test_the_open_rally_of_a_new_game(pen):
    for n in range(11):
        pen.rally(f"r{n}", winner="b")
    pen.rally("r11", kind="lob")
    last = played(pen).rallies[-1]
    assert (last.game, last.n_in_game, last.server, last.before, last.box_free) == (
        2,
        1,
        Side.B,
        (0, 0),
        True,
    )


def test_a_rally_begun_after_the_match_is_kept_and_named(pen):
    for n in range(33):
        pen.rally(f"r{n}", winner="b")
    pen.rally("r40", kind="lob")
    match = played(pen)
    assert (match.winner, match.how_over, match.rallies[-1].key) == (Side.B, "won", "r40")
    pen.write("r40", EntryKind.WINNER, "a")
    assert codes(played(pen)) == ["after-the-end"]


def test_retired_and_conduct_stand_between_rallies(pen):
    pen.rally("r1", winner="a")
    pen.write("x1", EntryKind.CONDUCT, {"to": "b"})
    pen.write("x2", EntryKind.RETIRED, {"side": "b", "why": "injured"})
    match = played(pen)
    assert [rally.key for rally in match.rallies] == ["r1"]
    assert [line.call for line in match.lines[1:]] == [
        "Conduct stroke to Petra, 1-all",
        "Petra injured, match to Imogen",
    ]
    assert (match.winner, match.how_over) == (Side.A, "injured")


def test_a_later_answer_of_the_same_tab_stands(pen):
    pen.rally("r1", kind="lob", winner="a")
    pen.write("r1", EntryKind.KIND, "hard")
    match = played(pen)
    assert (match.rallies[0].serve.kind, match.faults) == ("hard", ())


def test_undo_goes_back_without_limit_and_an_undo_can_be_undone(pen):
    pen.rally("r1", kind="lob", left="tight", winner="a")
    pen.write("r1", EntryKind.KIND, "hard")
    undone = []
    while (entry := entry_to_undo(pen.entries)) is not None:
        undone.append((entry.what, entry.value))
        pen.undo(entry)
    assert undone == [
        (EntryKind.KIND, "hard"),
        (EntryKind.WINNER, "a"),
        (EntryKind.LEFT, "tight"),
        (EntryKind.KIND, "lob"),
    ]
    assert played(pen).rallies == ()
    redone = 0
    while (undo := entry_to_redo(pen.entries)) is not None:
        pen.undo(undo)
        redone += 1
        assert redone < 10
    (rally,) = played(pen).rallies
    assert (rally.serve.kind, rally.ret.left, rally.winner) == ("hard", Left.TIGHT, Side.A)
    assert redone == 4


def test_undoing_a_changed_answer_brings_back_the_one_before(pen):
    first = pen.write("r1", EntryKind.KIND, "lob")
    second = pen.write("r1", EntryKind.KIND, "hard", first.id)
    pen.write("r1", EntryKind.WINNER, "a")
    pen.undo(second)
    assert played(pen).rallies[0].serve.kind == "lob"


def test_redo_is_over_once_something_new_is_answered(pen):
    pen.undo(pen.write("r1", EntryKind.KIND, "lob"))
    assert entry_to_redo(pen.entries) is not None
    pen.write("r1", EntryKind.KIND, "hard")
    assert entry_to_redo(pen.entries) is None


def test_an_undo_of_what_is_not_there_is_a_fault_and_changes_nothing(pen):
    pen.rally("r1", winner="a")
    pen.write("r1", EntryKind.UNDO, None, "nowhere")
    match = played(pen)
    assert (codes(match), match.rallies[0].winner) == (["undo-unknown"], Side.A)


def test_a_very_long_chain_of_undos(pen):
    entry = pen.write("r1", EntryKind.WINNER, "a")
    for _ in range(3001):
        entry = pen.undo(entry)
    assert undone_ids(pen.entries) >= {pen.entries[0].id}
    assert played(pen).rallies == ()


def test_two_tabs_with_two_answers_are_a_fault_and_the_later_counts(pen):
    pen.rally("r1", winner="a")
    mine = tab(pen.write("r1", EntryKind.KIND, "lob"), "one")
    theirs = tab(pen.write("r1", EntryKind.KIND, "hard"), "two")
    pen.entries[-2:] = [mine, theirs]
    match = played(pen)
    (fault,) = match.faults
    assert (fault.code, fault.key, match.rallies[0].serve.kind) == ("two-answers", "r1", "hard")
    assert "“lob”" in fault.words and "“hard”" in fault.words
    settled = tab(mine, "again", value="lob", replaces=theirs.id)
    pen.entries.append(settled)
    match = played(pen)
    assert (match.faults, match.rallies[0].serve.kind) == ((), "lob")


def test_two_tabs_with_the_same_answer_agree(pen):
    entry = pen.write("r1", EntryKind.WINNER, "a")
    pen.entries[:] = [tab(entry, "one"), tab(entry, "two")]
    assert played(pen).faults == ()


def test_two_tabs_that_both_replace_one_answer_are_a_fault(pen):
    first = tab(pen.write("r1", EntryKind.WINNER, "a"), "one")
    pen.entries[:] = [
        first,
        tab(first, "two", value="b", replaces=first.id),
        tab(first, "three", value=None, replaces=first.id),
    ]
    assert "two-answers" in codes(played(pen))


def test_two_tabs_give_the_next_rally_the_same_key(pen):
    assert next_rally_key(pen.entries) == "r1"
    pen.rally("r1", winner="a")
    pen.undo(pen.write("r7", EntryKind.WINNER, "a"))
    pen.write("x9", EntryKind.CONDUCT, {"to": "a"})
    assert next_rally_key(pen.entries) == "r8"


def test_two_observers_are_two_layers(pen):
    pen.rally("r1", kind="lob", winner="a")
    helper = EntryWriter("m1", "helper", mark="h")
    helper.rally("r1", kind="hard", winner="b")
    everything = [*pen.entries, *helper.entries]
    assert match_from(INFO, everything).rallies[0].winner is Side.A
    theirs = match_from(INFO, everything, observer="helper")
    assert (theirs.rallies[0].serve.kind, theirs.faults) == ("hard", ())


def test_a_forgotten_rally_is_put_in_its_place_and_a_removed_one_comes_back(pen):
    for key, winner in (("r1", "a"), ("r2", "b"), ("r3", "b")):
        pen.rally(key, winner=winner)
    pen.rally("r4", winner="a")
    pen.write("r4", EntryKind.PLACE, {"after": "r1"})
    assert [rally.key for rally in played(pen).rallies] == ["r1", "r4", "r2", "r3"]
    pen.write("r4", EntryKind.PLACE, {"after": None})
    assert [rally.key for rally in played(pen).rallies] == ["r4", "r1", "r2", "r3"]
    removal = pen.write("r2", EntryKind.REMOVE, True)
    assert [rally.key for rally in played(pen).rallies] == ["r4", "r1", "r3"]
    pen.undo(removal)
    assert [rally.key for rally in played(pen).rallies] == ["r4", "r1", "r2", "r3"]
    pen.write("r2", EntryKind.PLACE, {"after": "r99"})
    match = played(pen)
    assert ([rally.key for rally in match.rallies], codes(match)) == (
        ["r4", "r1", "r2", "r3"],
        ["place-unknown"],
    )


def tabs(*rows: tuple[str, str, str, EntryKind, object, str | None]) -> list[Entry]:
    """Entries of several tabs: id, tab, rally, what, value, id replaced."""
    return [
        Entry(name, "m1", f"coach/{tab_name}", datetime(2026, 3, 7, tzinfo=UTC), rally, what, value, replaces)
        for name, tab_name, rally, what, value, replaces in rows
    ]


W, K, R, U = EntryKind.WINNER, EntryKind.KIND, EntryKind.REMOVE, EntryKind.UNDO
FIRST = ("e1", "t1", "r1", W, "a", None)


@pytest.mark.parametrize(
    ("rows", "winner", "code"),
    [
        # the other tab answers, then the removal of who saw only e1 arrives: before, the answer was hidden
        ([FIRST, ("e2", "t2", "r1", K, "lob", None), ("e3", "t1", "r1", R, True, "e1")], "a", True),
        # the removal arrives first, then the answer of who did not know of it
        ([FIRST, ("e2", "t1", "r1", R, True, "e1"), ("e3", "t2", "r1", W, "b", None)], "b", True),
        # a removal that says nothing of what was seen, of an older page, and a later answer
        ([FIRST, ("e2", "t1", "r1", R, True, None), ("e3", "t2", "r1", K, "lob", None)], "a", True),
        # deleted again by who has seen the answer: it is gone
        (
            [
                FIRST,
                ("e2", "t2", "r1", K, "lob", None),
                ("e3", "t1", "r1", R, True, "e1"),
                ("e4", "t1", "r1", R, True, "e3"),
            ],
            None,
            False,
        ),
        # the answer is taken back: the removal holds
        (
            [
                FIRST,
                ("e2", "t1", "r1", R, True, "e1"),
                ("e3", "t2", "r1", K, "lob", None),
                ("e4", "t2", "r1", U, None, "e3"),
            ],
            None,
            False,
        ),
        # seen, own, of the program, a time, an answer to another rally: the removal holds
        ([FIRST, ("e2", "t2", "r1", K, "lob", None), ("e3", "t1", "r1", R, True, "e2")], None, False),
        ([FIRST, ("e2", "t1", "r1", K, "lob", None), ("e3", "t1", "r1", R, True, "e1")], None, False),
        ([FIRST, ("e2", "draft", "r1", K, "lob", None), ("e3", "t1", "r1", R, True, "e1")], None, False),
        (
            [
                FIRST,
                ("e2", "t2", "r1", EntryKind.SPAN, {"start_us": 1, "end_us": 9}, None),
                ("e3", "t1", "r1", R, True, "e1"),
            ],
            None,
            False,
        ),
        ([FIRST, ("e2", "t2", "r2", W, "b", None), ("e3", "t1", "r1", R, True, "e1")], None, False),
        # who goes on with it has seen that it stays
        (
            [
                FIRST,
                ("e2", "t1", "r1", R, True, "e1"),
                ("e3", "t2", "r1", K, "lob", None),
                ("e4", "t1", "r1", W, "b", "e1"),
            ],
            "b",
            False,
        ),
    ],
)
def test_a_removal_hides_no_answer_that_its_tab_did_not_know_of(rows, winner, code):
    entries = tabs(*rows)
    memo = AnswersMemo()
    for upto in range(1, len(entries) + 1):  # read as it grows, and as a whole
        assert effective_answers(entries[:upto], "coach", memo) == effective_answers(entries[:upto], "coach")
    match = match_from(INFO, entries, NAMES)
    there = {rally.key: rally for rally in match.rallies}
    assert (there["r1"].winner.value if "r1" in there else None) == winner
    assert ("removed-and-answered" in codes(match)) is code


def test_damaged_lines_are_faults_and_the_rest_is_replayed(pen):
    pen.rally("r1", kind="lob", winner="a")
    pen.write("r1", EntryKind.DAMAGED, {"why": "its value cannot be read", "what": "note", "value": "{"})
    pen.write("r1", EntryKind.LEFT, "sideways")
    pen.write("r1", EntryKind.CALLED, "what?")
    pen.write("r1", EntryKind.SHOT, {"n": 3, "by": "z"})
    match = played(pen)
    assert match.rallies[0].winner is Side.A
    assert codes(match) == ["damaged-entry", "damaged-answer", "damaged-answer", "damaged-answer"]


def test_every_fault_comes_at_once_with_its_rally(pen):
    second = 1_000_000
    pen.rally("r1", span=(10 * second, 5 * second), kind="lob", left="tight", winner="a", ending="winner")
    pen.rally(
        "r2",
        span=(20 * second, 40 * second),
        server="b",
        kind="sky",
        how="not-made",
        left="loose",
        winner="a",
    )
    pen.rally(
        "r3", span=(30 * second, 50 * second), box="right", kind="lob", ending="service-fault", winner="a"
    )
    pen.rally("r4", span=(90 * second, 120 * second), box="right", winner="a", called={"points": [15, 3]})
    pen.rally("r5", span=(1 * second, 2 * second), winner=None)
    match = played(pen, length_us=100 * second)
    found = {(fault.key, fault.code) for fault in match.faults}
    assert {
        ("r1", "span-backwards"),
        ("r2", "wrong-server"),
        ("r2", "unknown-kind"),
        ("r2", "contradiction"),
        ("r3", "span-overlap"),
        ("r3", "contradiction"),
        ("r4", "span-outside"),
        ("r4:put-right", "score-impossible"),
        ("r5", "span-order"),
        ("r5", "winner-missing"),
    } <= found
    for fault in match.faults:
        assert fault.words.endswith((".", "?")), fault


def test_an_overlap_with_a_long_rally_further_back_is_found(pen):
    pen.rally("r1", span=(0, 100), winner="a")
    pen.rally("r2", span=(10, 20), winner="a")
    pen.rally("r3", span=(50, 120), winner="a")
    assert [(fault.key, fault.code) for fault in played(pen).faults] == [
        ("r2", "span-overlap"),
        ("r3", "span-overlap"),
    ]


def test_a_box_out_of_order_is_named(pen):
    pen.rally("r1", box="right", winner="a")
    pen.rally("r2", box="right", winner="a")
    assert codes(played(pen)) == ["wrong-box"]


def test_shots_are_in_order_and_a_wrong_striker_is_named(pen):
    info = replace(INFO, depth=Depth.SHOTS)
    pen.rally(
        "r1",
        kind="lob",
        how="volleyed",
        return_stroke="drive",
        left="tight",
        shots=["drive", "drop"],
        winner="b",
    )
    pen.write("r1", EntryKind.ENDING, "winner")
    match = played(pen, info)
    (rally,) = match.rallies
    assert [(shot.n, shot.by, shot.stroke) for shot in rally.shots] == [
        (3, Side.A, "drive"),
        (4, Side.B, "drop"),
    ]
    assert (rally.shots_in_all, rally.ending_stroke, rally.complete) == (4, ShotType.DROP, True)
    assert match.faults == ()
    pen.rally(
        "r2", kind="lob", how="volleyed", left="tight", shots=["drive"], striker_of_third="a", winner="b"
    )
    assert codes(played(pen, info)) == ["wrong-striker"]
    pen.write("r1", EntryKind.SHOT, {"n": 9, "by": "a"})
    assert codes(played(pen, info)) == ["shot-count", "wrong-striker"]


def test_hand_out_scoring_asks_for_the_receivers_choice_at_eight_all(pen):
    info = replace(
        INFO, format=Format(System.HAND_OUT, 9, 5, "2001"), start=Start(points=(7, 8), server=Side.A)
    )
    pen.rally("r1", winner="a")
    match = played(pen, info)
    assert match.next.set_choice
    pen.write("r2", EntryKind.SET_TO, 10)
    match = played(pen, info)
    assert (match.open_key, match.next.set_choice) == ("r2", False)
    assert match.rallies[0].call == "8-all, set two"


def test_an_edited_list_of_kinds_keeps_old_matches_their_meaning(pen):
    pen.rally("r1", kind="lob", winner="a")
    retired = [KindOfServe("lob", "Lob", retired=True), KindOfServe("new", "New")]
    assert played(pen, kinds=retired).faults == ()
    assert codes(played(pen, kinds=retired[1:])) == ["unknown-kind"]


def test_a_note_and_a_keep_come_along(pen):
    pen.rally("r1", winner="a", note="Late on the volley", keep=True)
    (rally,) = played(pen).rallies
    assert (rally.note, rally.keep) == ("Late on the volley", True)
