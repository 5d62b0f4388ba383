"""A match as columns: what is not recorded is -1, and nothing is filled in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from goodlength.record import DEFAULT_KINDS, Depth, EntryKind, KindOfServe, MatchInfo
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.rally_sentences import kind_words, rally_sentence, sheet_words
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, STROKES
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.scoring.scoring_types import Side, Start

INFO = MatchInfo("m1", ("iv", "pl"), start=Start(server=Side.A))
NAMES = ("Imogen", "Petra")


def written(info: MatchInfo = INFO):
    pen = EntryWriter("m1")
    pen.rally("r1", span=(0, 8_500_000), box="left", kind="hard", how="volleyed", left="tight", winner="b")
    pen.write("r1", EntryKind.ENDING, "winner")
    pen.write("r1", EntryKind.ENDING_STROKE, "drop")
    pen.write("r1", EntryKind.ENDING_PLACE, "front-left")
    pen.rally("r2", span=(10_000_000, None), kind="skid", how="not-made")
    pen.rally("r3", kind=None, ending="let")
    pen.rally("r4", box="right", ending="service-fault")
    pen.rally("r5", kind="lob")
    return match_from(info, pen.entries, NAMES)


def test_columns_hold_what_was_written_and_the_open_rally_is_left_out():
    table = rally_table(written())
    assert table.key == ("r1", "r2", "r3", "r4")
    assert table.kinds == (*(kind.id for kind in DEFAULT_KINDS), "skid")
    assert [table.kinds[code] if code >= 0 else None for code in table.kind] == ["hard", "skid", None, None]
    assert [HOW_TAKEN[code].value if code >= 0 else None for code in table.how_taken] == [
        "volleyed",
        "not-made",
        None,
        None,
    ]
    assert [LEFT[code].value if code >= 0 else None for code in table.left] == [
        "tight",
        "not-made",
        None,
        None,
    ]
    assert table.winner.tolist() == [1, 1, -1, 0]
    assert table.server.tolist() == [0, 1, 1, 1]
    assert table.let.tolist() == [False, False, True, False]
    assert [ENDINGS[code].value if code >= 0 else None for code in table.ending] == [
        "winner",
        None,
        "let",
        "service-fault",
    ]
    assert STROKES[table.ending_stroke[0]].value == "drop"
    assert table.ending_stroke[1:].tolist() == [-1, -1, -1]
    assert (table.score_a.tolist(), table.score_b.tolist()) == ([0, 0, 0, 0], [0, 1, 2, 2])
    assert table.length_s[0] == 8.5 and np.isnan(table.length_s[1:]).all()
    assert table.shots.tolist() == [-1, -1, -1, -1]
    assert table.placed == ("front-left", None, None, None)


def test_a_box_that_nobody_said_is_not_known():
    """Left is what Imogen chose; Petra's box after the hand-out was not written down."""
    assert rally_table(written()).box.tolist() == [1, -1, -1, 0]


def test_a_server_that_nobody_said_is_not_known():
    pen = EntryWriter("m1")
    pen.rally("r1", winner="b")
    pen.rally("r2", winner="b")
    table = rally_table(match_from(replace(INFO, start=Start()), pen.entries))
    assert table.server.tolist() == [-1, 1]


def test_at_every_shot_a_fault_has_one_shot_and_a_return_not_made_two():
    assert rally_table(written(replace(INFO, depth=Depth.SHOTS))).shots.tolist() == [-1, 2, -1, 1]


def test_nothing_recorded_is_a_table_without_rows():
    table = rally_table(match_from(INFO, []))
    assert (table.key, table.winner.shape, table.length_s.shape) == ((), (0,), (0,))


def test_rallies_are_said_in_words_and_only_what_was_written_down():
    match = written()
    words = kind_words([*DEFAULT_KINDS, KindOfServe("skid", "Skid")])
    assert [sheet_words(rally, words) for rally in match.rallies] == [
        "Hard, tight",
        "Skid, return missed",
        "let, played again",
        "Fault",
        "Lob",
    ]
    said = [rally_sentence(rally, NAMES, words) for rally in match.rallies]
    assert said[0] == (
        "Imogen served from the left box at love-all: hard. Petra returned tight. Petra won with a winner."
    )
    assert said[1] == "Petra served at 1–love: skid. Imogen missed the return. Petra won."
    assert said[2] == "Petra served at 2–love. Let, played again."
    assert said[3] == "Petra served from the right box at 2–love. Fault: Imogen won."
