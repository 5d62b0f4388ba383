"""Random records, some of them nonsense: whatever is stored comes back, and replay never raises."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength.record import (
    DEFAULT_KINDS,
    Depth,
    Ending,
    Entry,
    EntryKind,
    Left,
    MatchInfo,
    Player,
    ReturnKind,
    ShotType,
)
from goodlength.record.effective_answers import (
    AnswersMemo,
    effective_answers,
    entry_to_undo,
    next_rally_key,
    undone_ids,
)
from goodlength.record.entry_log_replay import MatchMemo, match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.entry_validation_schemas import entry_faults
from goodlength.record.import_export import (
    Document,
    from_csv_preview,
    from_json,
    to_csv,
    to_json,
    to_vtt,
)
from goodlength.record.import_export.match_json_document import used_kinds
from goodlength.record.store import Library
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.scoring.scoring_types import Format, Side, Start, System
from oracles.next_question import next_question

PLAYERS = (Player("iv", "Imogen Vale"), Player("pl", "Petra Lindqvist-Ode"))
NAMES = ("Imogen", "Petra")
MOMENT = datetime(2026, 3, 7, tzinfo=UTC)
FORMATS = (Format(), Format(target=15), Format(System.HAND_OUT, 9, 5, "2001"), Format(best_of=3))


def sensible(rng: random.Random, info: MatchInfo, rallies: int) -> EntryWriter:
    """A record as the page makes it, with skips, undos, lets, calls and a forgotten rally."""
    pen, memo = EntryWriter("m1", "coach/t1", MOMENT, mark="e"), MatchMemo()
    at = 0
    for n in range(1, rallies + 1):
        key = f"r{n}"
        pen.write(
            key,
            EntryKind.SPAN,
            {"start_us": at, "end_us": at + rng.randrange(1, 30) * 10**6, "how": "answers"},
        )
        at += 40 * 10**6
        if rng.random() < 0.5:
            pen.write(key, EntryKind.BOX, rng.choice(["right", "left"]))
        while True:
            match = match_from(info, tuple(pen.entries), memo=memo)
            rally = next((item for item in match.rallies if item.key == key), None)
            known = rally.server_known if rally else match.next is None or match.next.server is not None
            question = next_question(rally, info.depth, fmt=info.format, server_known=known)
            if question is None:
                break
            if question.id is EntryKind.SHOT:
                pen.write(key, EntryKind.SHOT, {"count": rng.randrange(2, 20)})
                continue
            answer = rng.choice([*question.answers, None])
            what = question.id if answer is None else answer.what or question.id
            pen.write(key, what, None if answer is None else answer.value)
            if rng.random() < 0.05:
                pen.undo(pen.entries[-1])
        if rng.random() < 0.05:
            pen.write(key, EntryKind.CALLED, {"decision": "stroke", "to": rng.choice("ab")})
        if rng.random() < 0.05:
            pen.write(key, EntryKind.NOTE, rng.choice(["=1", "späte Volley", 'a "b", c', "x\ny"]))
    return pen


@pytest.mark.parametrize("seed", range(24))
def test_a_record_made_by_the_page_survives_store_json_and_csv(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    start = rng.choice([Start(server=Side.A), Start(), Start((1, 1), (3, 2), Side.B)])
    info = MatchInfo(
        "m1",
        ("iv", "pl"),
        format=rng.choice(FORMATS),
        start=start,
        depth=rng.choice(list(Depth)),
        observer="coach",
    )
    pen = sensible(rng, info, rng.randrange(1, 25))
    match = match_from(info, pen.entries, NAMES)
    assert not {fault.code for fault in match.faults} & {
        "damaged-answer",
        "unknown-kind",
        "undo-unknown",
        "two-answers",
    }

    with Library.open(tmp_path) as library:
        for player in PLAYERS:
            library.save_player(player)
        library.save_match(info)
        library.append(pen.entries)
        assert library.entries("m1") == tuple(pen.entries)
        assert library.rally_counts() == {"m1": len(match.rallies)}

    document = Document(info, PLAYERS, used_kinds(pen.entries, DEFAULT_KINDS), tuple(pen.entries))
    text = to_json(document)
    assert from_json(text).document == document
    assert to_json(from_json(text).document) == text
    assert to_vtt(match, NAMES).count("-->") == len(match.rallies)
    table = rally_table(match)
    assert len(table.key) == len(match.rallies) - (match.open_key is not None)

    preview = from_csv_preview(to_csv(match, PLAYERS), ids=info.players, match_id="m1")
    assert preview.problems == ()
    again = match_from(preview.info, preview.entries, NAMES)
    for before, after in zip(match.rallies, again.rallies, strict=True):
        # A winner that was skipped but follows from the marker's call is written down as the winner.
        skipped = before.skipped if before.winner is None else before.skipped - {"winner"}
        same = replace(
            after,
            skipped=before.skipped if after.skipped == skipped else after.skipped,
            answered=before.answered,
            span_how=before.span_how,
            serve=before.serve if before.serve.fault else after.serve,
        )
        assert same == before
    assert again.games == match.games


VALUES: dict[EntryKind, st.SearchStrategy[Any]] = {
    EntryKind.WINNER: st.sampled_from(["a", "b"]),
    EntryKind.SERVER: st.sampled_from(["a", "b"]),
    EntryKind.BOX: st.sampled_from(["right", "left"]),
    EntryKind.KIND: st.sampled_from(["lob", "hard", "sky"]),
    EntryKind.HOW_TAKEN: st.sampled_from([item.value for item in ReturnKind]),
    EntryKind.LEFT: st.sampled_from([item.value for item in Left]),
    EntryKind.ENDING: st.sampled_from([item.value for item in Ending]),
    EntryKind.ENDING_STROKE: st.sampled_from([item.value for item in ShotType]),
    EntryKind.SET_TO: st.sampled_from([9, 10, 15, 17]),
    EntryKind.SPAN: st.builds(
        lambda a, b: {"start_us": a, "end_us": b}, st.integers(-5, 99), st.none() | st.integers(-5, 99)
    ),
    EntryKind.CALLED: st.builds(
        lambda d, p: {"decision": d, "to": "a", "points": list(p)},
        st.sampled_from(["let", "no-let", "stroke"]),
        st.tuples(st.integers(-3, 40), st.integers(-3, 40)),
    ),
    EntryKind.SHOT: st.builds(
        lambda n, by: {"n": n, "by": by}, st.integers(1, 9), st.sampled_from(["a", "b"])
    )
    | st.builds(lambda n: {"count": n}, st.integers(1, 9)),
    EntryKind.CONDUCT: st.builds(
        lambda to, g: {"to": to, "game": g}, st.sampled_from(["a", "b"]), st.booleans()
    ),
    EntryKind.RETIRED: st.just({"side": "a"}),
    EntryKind.PLACE: st.builds(lambda key: {"after": key}, st.none() | st.sampled_from(["r1", "r2", "r9"])),
    EntryKind.REMOVE: st.booleans(),
    EntryKind.UNDO: st.none(),
    EntryKind.NOTE: st.text(max_size=8),
}
ANSWERS = st.sampled_from(list(VALUES)).flatmap(lambda what: st.tuples(st.just(what), VALUES[what]))
ROWS = st.lists(
    st.tuples(
        ANSWERS,
        st.sampled_from(["r1", "r2", "r3", "x"]),
        st.sampled_from(["coach/1", "coach/2", "helper"]),
        st.integers(0, 40),
    ),
    max_size=40,
)


def entries_from(rows: list[Any]) -> list[Entry]:
    return [
        Entry(
            f"e{n}",
            "m1",
            observer,
            MOMENT,
            rally,
            what,
            value,
            f"e{back}" if what is EntryKind.UNDO or back < 5 else None,
        )
        for n, ((what, value), rally, observer, back) in enumerate(rows)
    ]


@settings(max_examples=150, deadline=None)
@given(ROWS, st.sampled_from(FORMATS), st.sampled_from(list(Depth)))
def test_replay_of_any_log_that_may_be_stored_never_raises(rows, fmt, depth) -> None:
    entries = [entry for entry in entries_from(rows) if not entry_faults(entry)]
    info = MatchInfo("m1", ("iv", "pl"), format=fmt, depth=depth)
    match = match_from(info, entries, NAMES, length_us=60)
    keys = [rally.key for rally in match.rallies]
    assert len(keys) == len(set(keys))
    assert [rally.n for rally in match.rallies] == list(range(1, len(keys) + 1))
    assert all(fault.words for fault in match.faults)
    rally_table(match)
    to_csv(match, PLAYERS)
    to_vtt(match, NAMES)


@settings(max_examples=150, deadline=None)
@given(ROWS, st.sampled_from(FORMATS), st.sampled_from(list(Depth)), st.lists(st.integers(1, 6), min_size=41))
def test_a_log_replayed_as_it_grows_comes_to_what_the_whole_log_does(rows, fmt, depth, steps) -> None:
    entries = tuple(entry for entry in entries_from(rows) if not entry_faults(entry))
    info = MatchInfo("m1", ("iv", "pl"), format=fmt, depth=depth)
    memo, answers, at = MatchMemo(), AnswersMemo(), 0
    for step in steps:
        at = min(at + step, len(entries))
        known = entries[:at]
        assert match_from(info, known, NAMES, length_us=60, memo=memo) == match_from(
            info, known, NAMES, length_us=60
        )
        assert effective_answers(known, "coach", answers) == effective_answers(known, "coach")
        assert f"r{answers.highest + 1}" == next_rally_key(known, "coach")
        mine = [entry for entry in known if entry.observer.startswith("coach")]
        assert answers.undone == undone_ids(mine)


@pytest.mark.parametrize("seed", range(12))
def test_answers_put_right_in_a_long_match_change_what_a_whole_replay_changes(seed: int) -> None:
    """Entries come one at a time, old rallies are put right, and the score after them is worked out again."""
    rng = random.Random(seed)
    info = MatchInfo("m1", ("iv", "pl"), format=rng.choice(FORMATS), start=Start(server=Side.A))
    pen = sensible(rng, info, 60)
    memo = MatchMemo()
    for _ in range(60):
        key = f"r{rng.randrange(1, 64)}"
        what = rng.choice([EntryKind.WINNER, EntryKind.HOW_TAKEN, EntryKind.ENDING, EntryKind.BOX])
        values = {
            EntryKind.WINNER: ["a", "b", None],
            EntryKind.HOW_TAKEN: [kind.value for kind in ReturnKind],
            EntryKind.ENDING: [ending.value for ending in Ending],
            EntryKind.BOX: ["right", "left"],
        }[what]
        if rng.random() < 0.25:
            pen.undo(rng.choice(pen.entries))
        else:
            pen.write(key, what, rng.choice(values))
        known = tuple(pen.entries)
        assert match_from(info, known, NAMES, memo=memo) == match_from(info, known, NAMES)


def test_an_answer_leaves_the_rallies_it_does_not_touch_as_they_were() -> None:
    pen = EntryWriter("m1", "coach", MOMENT, mark="e")
    for n in range(1, 31):
        pen.rally(f"r{n}", server="a", kind="lob", how="volleyed", ending="let")
    info, memo = MatchInfo("m1", ("iv", "pl"), start=Start(server=Side.A)), MatchMemo()
    before = match_from(info, tuple(pen.entries), NAMES, memo=memo).rallies
    pen.write("r7", EntryKind.NOTE, "Late")
    after = match_from(info, tuple(pen.entries), NAMES, memo=memo).rallies
    assert [n for n, (was, now) in enumerate(zip(before, after, strict=True), 1) if was is not now] == [7]


def test_a_log_that_lost_entries_is_read_as_a_whole_again() -> None:
    pen = EntryWriter("m1", "coach", MOMENT, mark="e")
    for n in range(1, 12):
        pen.rally(f"r{n}", server="a", kind="lob", how="volleyed", ending="let")
    info, memo = MatchInfo("m1", ("iv", "pl")), MatchMemo()
    for known in (tuple(pen.entries), tuple(pen.entries[:9]), (*pen.entries[4:], *pen.entries[:4]), ()):
        assert match_from(info, known, NAMES, memo=memo) == match_from(info, known, NAMES)


@settings(max_examples=60, deadline=None)
@given(ROWS)
def test_undo_taken_again_and_again_always_ends_with_nothing(rows) -> None:
    entries = [
        entry for entry in entries_from(rows) if entry.what is not EntryKind.UNDO and not entry_faults(entry)
    ]
    n = 0
    while (target := entry_to_undo(entries)) is not None:
        entries.append(Entry(f"u{n}", "m1", "coach", MOMENT, target.rally, EntryKind.UNDO, None, target.id))
        n += 1
        assert n <= len(rows)
    assert match_from(MatchInfo("m1", ("iv", "pl")), entries).rallies == ()


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: ("winner," + text).encode()))
def test_any_bytes_are_read_or_refused_in_words(data: bytes) -> None:
    from goodlength.errors import GoodlengthError

    for read in (from_csv_preview, from_json, lambda raw: from_json(raw, keep_going=True)):
        try:
            read(data)
        except GoodlengthError as told:
            assert str(told)
