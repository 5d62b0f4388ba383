"""A match as a file and back: JSON with everything, CSV by line, chapters; nothing guessed in silence."""

from __future__ import annotations

import json
import tracemalloc
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from goodlength.errors import InputError, NewerLibrary, UnclearError
from goodlength.record import (
    DEFAULT_KINDS,
    Consent,
    Depth,
    EntryKind,
    Footage,
    KindOfServe,
    MatchInfo,
    Player,
)
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.import_export import (
    Document,
    from_csv_preview,
    from_json,
    shots_csv,
    shots_from_csv,
    to_csv,
    to_json,
    to_vtt,
)
from goodlength.record.import_export.delimited_table_reader import MOST_RALLIES
from goodlength.record.import_export.match_csv_export import RALLY_COLUMNS, safe, unsafe
from goodlength.record.import_export.match_json_document import (
    MOST_ENTRIES,
    MOST_VALUES,
    used_kinds,
)
from goodlength.scoring.scoring_types import Format, Side, Start, System

A = Player(
    "iv", "Imogen Vale", "right", 1999, consent=Consent("Imogen Vale", date(2026, 1, 2), ("record",), None)
)
B = Player("pl", "Petra Lindqvist-Ode", "left", notes="=left\nhanded")
INFO = MatchInfo(
    "m1", ("iv", "pl"), event="Tideway Open", played_on=date(2026, 3, 7), start=Start(server=Side.A)
)
NAMES = (A.name, B.name)
HEAD = "player_a;player_b;winner"


def written(info: MatchInfo = INFO) -> EntryWriter:
    pen = EntryWriter("m1", mark="e", at_utc=datetime(2026, 3, 7, 18, 0, tzinfo=UTC))
    pen.rally(
        "r1", span=(1_000_000, 9_480_000), box="left", kind="lob", how="volleyed", left="tight", winner="b"
    )
    pen.write("r1", EntryKind.ENDING, "unforced-error")
    pen.rally("r2", span=(20_000_000, None), box="right", kind="body-nick", how="not-made", note="=SUM(A1)")
    pen.rally("r3", kind=None, how="after-the-bounce", left="loose", ending="let", keep=True)
    pen.rally("r4", kind="hard", how="after-the-bounce", left="loose", winner="a", ending="stroke")
    pen.rally(
        "r5", box="right", kind="hard", left="attacked", winner="a", called={"decision": "no-let", "to": "b"}
    )
    pen.rally("r6", box="left", ending="service-fault")
    pen.write("x1", EntryKind.CONDUCT, {"to": "b"})
    pen.rally(
        "r7", box="left", winner="a", ending="winner", called={"points": [6, 5], "server": "b", "box": "left"}
    )
    pen.rally("r8", server="a", winner="b", ending=None)
    pen.write("x2", EntryKind.RETIRED, {"side": "a", "why": "injured"})
    return pen


def document(pen: EntryWriter, info: MatchInfo = INFO) -> Document:
    files = (
        Footage(
            "f1", "", "/films/match one.mp4", 0, size=123, first_us=0, end_us=60_000_000, look={"a": 1.5}
        ),
    )
    return Document(info, (A, B), used_kinds(pen.entries, DEFAULT_KINDS), tuple(pen.entries), files)


def test_json_comes_back_as_it_went_out():
    pen = written()
    pen.undo(pen.entries[3])
    before = document(pen)
    text = to_json(before)
    after = from_json(text.encode()).document
    named = replace(before.footage[0], match="m1", path="match one.mp4", look=None)
    assert after == replace(before, footage=(named,))
    assert from_json(to_json(after)).document == after
    assert from_json(b"\xef\xbb\xbf" + text.encode()).document == after
    assert from_json(text.encode("utf-16")).document == after


def test_json_has_one_entry_a_line():
    text = to_json(document(written()))
    assert json.loads(text)["format"] == "goodlength match"
    assert sum(line.lstrip().startswith('{"id": "e') for line in text.splitlines()) == len(written().entries)


def test_a_broken_line_is_named_and_left_out_only_when_allowed():
    lines = to_json(document(written())).splitlines()
    at = next(n for n, line in enumerate(lines) if '"e3"' in line)
    lines[at] = lines[at][:30]
    text = "\n".join(lines)
    with pytest.raises(InputError, match=rf"line {at + 1}.*nothing was written"):
        from_json(text)
    reading = from_json(text, keep_going=True)
    assert [entry.id for entry in reading.document.entries][:3] == ["e1", "e2", "e4"]
    assert reading.problems == (f"line {at + 1}: this entry cannot be read and was skipped",)


def test_a_file_cut_off_in_the_middle_gives_what_is_there_when_allowed():
    text = to_json(document(written()))
    reading = from_json(text[: len(text) * 2 // 3], keep_going=True)
    assert 5 < len(reading.document.entries) < len(written().entries)
    assert any("ends before" in problem for problem in reading.problems)


def test_every_bad_entry_is_named_at_once():
    plain = json.loads(to_json(document(written())))
    plain["entries"][0]["value"] = {"start_us": "x"}
    plain["entries"][1]["what"] = "colour"
    plain["entries"][2]["id"] = plain["entries"][3]["id"]
    with pytest.raises(InputError) as told:
        from_json(json.dumps(plain))
    for part in ("entry 1", "start_us", "entry 2", "colour", "entry 4", "stands twice"):
        assert part in str(told.value)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"[1, 2]", "not a match of goodlength"),
        (b"{]", "line 1"),
        (b"[" * 100_000, "deeply"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not text"),
    ],
)
def test_a_file_that_is_no_match_is_told_in_words(data, words):
    with pytest.raises(InputError, match=words):
        from_json(data)


def test_a_document_of_a_later_version_is_refused():
    with pytest.raises(NewerLibrary, match="Update"):
        from_json(to_json(document(written())).replace('"version": 1', '"version": 2'))


def played(pen: EntryWriter, info: MatchInfo = INFO):
    return match_from(info, pen.entries, NAMES)


@pytest.mark.parametrize(("separator", "decimal"), [(",", "."), (";", ","), ("\t", ".")])
def test_csv_comes_back_as_the_same_match(separator, decimal):
    match = played(written())
    preview = from_csv_preview(
        to_csv(match, (A, B), separator=separator, decimal=decimal), match_id="m1", ids=INFO.players
    )
    assert preview.problems == ()
    again = match_from(preview.info, preview.entries, NAMES)
    for before, after in zip(match.rallies, again.rallies, strict=True):
        same = replace(after, answered=before.answered, span_how=before.span_how)
        assert same == before
    assert (again.games, again.winner, again.how_over) == (match.games, match.winner, match.how_over)
    assert [line.call for line in again.lines] == [line.call for line in match.lines]
    assert again.faults == match.faults
    assert replace(preview.info, zone=INFO.zone) == INFO


def test_csv_of_a_match_begun_in_the_middle_and_in_old_scoring_comes_back():
    old = Format(System.HAND_OUT, 9, 5, "2001")
    info = replace(INFO, format=old, start=Start((1, 0), (8, 7), Side.B, handicap=(1, 0)))
    pen = EntryWriter("m1")
    pen.rally("r1", box="right", winner="b")
    pen.rally("r2", set_to=10, winner="b")
    pen.rally("r3", winner="b")
    match = played(pen, info)
    preview = from_csv_preview(to_csv(match, (A, B)), match_id="m1", ids=INFO.players)
    assert preview.problems == ()
    assert preview.info.start == replace(info.start, box=None)
    again = match_from(preview.info, preview.entries, NAMES)
    assert (again.games, [r.call for r in again.rallies]) == (match.games, [r.call for r in match.rallies])


def test_shots_come_back_beside_their_rallies():
    info = replace(INFO, depth=Depth.SHOTS)
    pen = EntryWriter("m1")
    pen.rally("r1", kind="lob", how="volleyed", left="tight", shots=["drive", "boast", "drop"], winner="a")
    pen.write(
        "r1",
        EntryKind.SHOT,
        {"n": 6, "by": "b", "stroke": "kill", "volley": True, "place": "front-left", "at_us": 12_340_000},
    )
    match = played(pen, info)
    assert len(shots_csv(match, (A, B)).splitlines()) == 5
    preview = from_csv_preview(to_csv(match, (A, B)), match_id="m1", ids=INFO.players)
    shots, problems = shots_from_csv(shots_csv(match, (A, B)), preview.match, NAMES)
    assert problems == ()
    again = match_from(preview.info, (*preview.entries, *shots), NAMES)
    assert again.rallies[0].shots == match.rallies[0].shots


def test_no_cell_can_be_a_formula():
    pen = EntryWriter("m1")
    for n, text in enumerate(("=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "'quoted", "plain")):
        pen.rally(f"r{n}", winner="a", note=text)
    nasty = replace(A, name="=cmd|' /C calc'!A0")
    data = to_csv(played(pen), (nasty, B)).decode("utf-8-sig")
    import csv
    import io

    rows = list(csv.DictReader(io.StringIO(data, newline="")))
    for row in rows:
        for name, cell in row.items():
            if cell and name not in ("handicap_a", "handicap_b"):
                assert cell[0] not in "=+-@\t\r", (name, cell)
    preview = from_csv_preview(data.encode(), match_id="m1")
    assert preview.problems == ()
    assert preview.names[0] == nasty.name
    assert [rally.note for rally in preview.match.rallies][:4] == ["=1+1", "+1", "-1", "@x"]


@pytest.mark.parametrize("text", ["", "=x", "'", "''", "'=x", "-3", "ok", "@", "\tx"])
def test_a_made_safe_cell_comes_back(text):
    assert unsafe(safe(text)) == text


def rally_table(*lines: str, head: str = HEAD) -> str:
    return "\r\n".join([head, *lines]) + "\r\n"


@pytest.mark.parametrize("written_in", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_every_way_a_spreadsheet_writes_letters_is_read(written_in):
    table = rally_table("Imogen;Åsa Ömer;Åsa Ömer", "Imogen;Åsa Ömer;Imogen")
    preview = from_csv_preview(table.encode(written_in))
    assert preview.problems == ()
    assert preview.names == ("Imogen", "Åsa Ömer")
    assert [rally.winner for rally in preview.match.rallies] == [Side.B, Side.A]
    said = {"cp1252": "Windows-1252"}.get(written_in, "UTF-16" if "16" in written_in else "UTF-8")
    assert preview.written[0] == f"written in {said}"


def test_semicolons_decimal_commas_and_the_sep_line_are_read_and_said():
    table = "sep=;\r\n" + rally_table("A A;B B;B B;12,5;31:14,6", head=HEAD + ";start_s;end_s")
    preview = from_csv_preview(table.encode())
    assert preview.problems == ()
    assert (preview.match.rallies[0].start_us, preview.match.rallies[0].end_us) == (12_500_000, 1_874_600_000)
    assert preview.written == (
        "written in UTF-8",
        "cells separated by semicolons (as the first line says)",
        "decimal comma: 12,5 s is twelve and a half seconds",
    )


def test_the_table_that_a_plain_reader_takes_for_one_column():
    """C31: `rally;winner;t` and `1;A;12,5` read with a reader's defaults gives one column and no error."""
    preview = from_csv_preview(b"rally;winner;t\n1;A;12,5\n", names=("Ada", "Bea"))
    assert preview.problems == ()
    assert preview.match.rallies[0].winner is Side.A
    meanings = {meaning.heading: meaning for meaning in preview.meanings}
    assert not meanings["t"].read and "not a heading" in meanings["t"].words


@pytest.mark.parametrize(
    "cell", ["11-Sep", "9-Nov", "Sep-11", "11. Sep", "2025-09-11", "11/09/2025", "11.9.2025", "11-sept-25"]
)
@pytest.mark.parametrize("heading", ["score_a", "score", "put_right_a"])
def test_a_score_turned_into_a_date_is_refused_with_help(cell, heading):
    table = rally_table(f"A A;B B;B B;{cell}", head=f"{HEAD};{heading}")
    preview = from_csv_preview(table.encode())
    (problem,) = [item for item in preview.problems if "date" in item]
    assert problem.startswith("line 2")
    assert cell in problem and "score_a and score_b" in problem


def test_a_score_in_one_cell_is_refused_for_nobody_can_tell_whose_is_first():
    preview = from_csv_preview(rally_table("A A;B B;B B;5-3", head=HEAD + ";score").encode())
    assert any("whose points come first" in problem for problem in preview.problems)


def test_every_problem_is_told_with_its_line():
    table = rally_table(
        "A A;B B;A A;lob;tight;0;0",
        "A A;B B;C C;lob;tight;1;0",
        "A A;B B;A A;skid;sideways;1;0",
        "",
        'A A;B B;A A;"hard";"loose";3;0',
        "A A;B B;;;;;",
        head=HEAD + ";kind;left;score_a;score_b",
    )
    problems = from_csv_preview(table.encode()).problems
    assert [problem.split(":")[0] for problem in problems] == [
        "line 3",
        "line 4",
        "line 4",
        "line 7",
        "line 6",
    ]
    assert "'C C' is neither A A (or a) nor B B (or b)" in problems[0]
    assert "'skid' is not in this library; it has Lob" in problems[1]
    assert "'sideways' is not known; it can be not-made, loose" in problems[2]
    assert "the table says 3–0, but by the lines before it the score is 1–0" in problems[4]


def test_a_decimal_comma_beside_a_decimal_point_is_refused():
    table = rally_table("A A;B B;A A;1,5", "A A;B B;A A;9.5", head=HEAD + ";start_s")
    assert any(
        "comma" in problem and "point" in problem for problem in from_csv_preview(table.encode()).problems
    )


def test_two_matches_in_one_table_are_refused():
    table = rally_table("A A;B B;A A", "A A;C C;A A")
    assert any(
        "line 3: player_b is 'C C' here" in problem for problem in from_csv_preview(table.encode()).problems
    )


def test_a_table_without_a_winner_or_without_lines_is_told():
    assert any("no heading 'winner'" in problem for problem in from_csv_preview(b"a,b\n1,2\n").problems)
    assert any(
        "no line below" in problem for problem in from_csv_preview(b"player_a,player_b,winner\n").problems
    )


def test_a_separator_that_nobody_can_tell_is_asked_about():
    with pytest.raises(UnclearError, match="sep=;"):
        from_csv_preview(b"winner,x;y\na,1;2\nb,3;4\n")
    with pytest.raises(InputError, match="semicolons"):
        from_csv_preview(b"sep=|\nwinner|x\na|1\n")


def test_a_quoted_cell_may_hold_line_breaks_and_separators():
    table = rally_table('A A;B B;B B;"late;\r\nand ""wide"""', "A A;B B;zz;", head=HEAD + ";note")
    preview = from_csv_preview(table.encode())
    assert preview.match.rallies[0].note == 'late;\r\nand "wide"'
    assert preview.problems[0].startswith("line 4:")


def test_a_game_that_goes_on_too_long_is_noticed():
    lines = [f"A A;B B;A A;{n if n < 11 else 11};0;1" for n in range(12)]
    problems = from_csv_preview(rally_table(*lines, head=HEAD + ";score_a;score_b;game").encode()).problems
    assert problems == (
        "line 13: the table says 11–0 in game 1, but by the lines before it the score is 0–0 in game 2. "
        "Check for a missing rally or a wrong winner above",
    )


def test_the_preview_says_the_first_rallies_in_words():
    preview = from_csv_preview(to_csv(played(written()), (A, B)))
    assert preview.rows[0] == (
        "Game 1, rally 1: Imogen Vale served from the left box at love-all: lob. "
        "Petra Lindqvist-Ode returned tight. Petra Lindqvist-Ode won on an unforced error by Imogen Vale."
    )
    assert preview.rallies == 8


def test_kinds_are_read_by_words_or_id_and_own_words_come_back():
    kinds = [KindOfServe("lob", "High lob"), KindOfServe("k2", "Skid")]
    pen = EntryWriter("m1")
    pen.rally("r1", kind="lob", winner="a")
    pen.rally("r2", kind="k2", winner="a")
    data = to_csv(match_from(INFO, pen.entries, NAMES, kinds), (A, B), kinds)
    assert b"High lob" in data
    assert [r.serve.kind for r in from_csv_preview(data, kinds).match.rallies] == ["lob", "k2"]


def test_chapters_are_one_a_rally_in_order_with_nothing_taken_for_markup():
    pen = EntryWriter("m1")
    pen.rally("r1", span=(3_723_456_789, 3_730_000_000), kind="lob", winner="a")
    pen.rally("r2", span=(1_000_000, None), winner="a")
    pen.rally("r3", winner="a")
    text = to_vtt(played(pen), ("Im <b>& x", "Petra --> y"))
    assert text.startswith(
        "WEBVTT\n\nNOTE Im &lt;b&gt;&amp; x v Petra --&gt; y; 1 rallies without a time left out\n"
    )
    assert "\nr2\n00:00:01.000 --> 00:00:11.000\nGame 1, rally 2 (end not marked): " in text
    assert "\nr1\n01:02:03.457 --> 01:02:10.000\nGame 1, rally 1: Im &lt;b&gt;" in text
    assert text.index("r2\n00") < text.index("r1\n01")


def test_all_columns_written_are_told_in_the_docs():
    from pathlib import Path

    page = (Path(__file__).parents[3] / "docs" / "reference" / "csv.md").read_text(encoding="utf-8")
    missing = [column for column in RALLY_COLUMNS if f"`{column}`" not in page]
    assert missing == []


@pytest.mark.parametrize(
    "below",
    ["A A;B B;B B\r\n" * (MOST_RALLIES + 1), "\r\n" * 120_000 + "A A;B B;B B\r\n"],
    ids=["full", "blank"],
)
def test_a_table_longer_than_any_match_is_refused_without_reading_it_whole(below):
    """1,500,000 lines had taken 2.7 GB and given no answer within two minutes."""
    with pytest.raises(InputError, match="more than 2,000 lines"):
        from_csv_preview((HEAD + "\r\n" + below).encode())


def test_as_many_lines_as_are_allowed_are_read():
    assert (
        from_csv_preview((HEAD + "\r\n" + "A A;B B;B B\r\n" * 300 + "\r\n" * 5_000).encode()).rallies == 300
    )


@pytest.mark.parametrize("inside", ["[],", "1,", "\n"], ids=["lists", "numbers", "lines"])
def test_a_document_that_would_fill_the_memory_is_refused_before_it_is_parsed(inside):
    """400,000 entries had taken 1.9 GB and 36 s while other pages waited up to 3.7 s."""
    text = "[" + inside * (MOST_VALUES + 1) + "1]"
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="more than one match can"):
            from_json(text, keep_going=True)
        assert tracemalloc.get_traced_memory()[1] < 1_000_000
    finally:
        tracemalloc.stop()


def test_a_document_of_more_answers_than_a_match_can_have_is_refused():
    plain = json.loads(to_json(document(written())))
    plain["entries"] = [plain["entries"][0]] * (MOST_ENTRIES + 1)
    with pytest.raises(InputError, match="20,000 answers"):
        from_json(json.dumps(plain), keep_going=True)
