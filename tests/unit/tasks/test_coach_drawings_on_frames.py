"""What is drawn on frames: stored, erased, undone, exported and imported; hostile values change nothing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import DamagedFile, InputError, NotFound
from goodlength.files.library_layout import frame_drawings_file
from goodlength.record.import_export.coach_annotation_json import MOST_DRAWINGS, POINTS, drawings_to_plain
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.tasks.playback import (
    add_drawings,
    drawings_left_out,
    frame_drawings,
    remove_drawing,
    save_drawing,
)

ARROW = {"id": "d1", "at_us": 2_000_000, "kind": "arrow", "points": [[0.1, 0.2], [0.5, 0.6]], "text": ""}


@pytest.fixture
def library(tmp_path: Path) -> Any:
    with tasks.open_library(tmp_path / "library") as made:
        tasks.add_player(made, "Imogen Vale", player_id="iv")
        tasks.add_player(made, "Petra Lindqvist-Ode", player_id="plo")
        tasks.new_match(made, ("iv", "plo"), match_id="m1")
        yield made


def opened(library: Library) -> Any:
    return tasks.open_match(library, "m1")


def test_a_piece_is_stored_once_erased_and_brought_back(library: Library) -> None:
    save_drawing(opened(library), ARROW)
    (found,) = save_drawing(opened(library), ARROW)  # sent twice: the answer was lost on the way
    assert (found.kind, found.points, found.rally) == ("arrow", ((0.1, 0.2), (0.5, 0.6)), "")
    assert remove_drawing(library, "m1", "d1") == ()
    with pytest.raises(NotFound, match="not there any more"):
        remove_drawing(library, "m1", "d1")
    assert save_drawing(opened(library), ARROW) == (found,)


def test_a_piece_belongs_to_the_rally_whose_time_it_lies_in(library: Library) -> None:
    from goodlength.record.model import Entry, EntryKind
    from goodlength.record.store.library_store import now_utc

    for n, (start, end) in enumerate(((1_000_000, 5_000_000), (9_000_000, 12_000_000)), 1):
        for what, value in (
            (EntryKind.WINNER, "a"),
            (EntryKind.SPAN, {"start_us": start, "end_us": end, "how": "marked"}),
        ):
            entry = Entry(f"e{n}{what.value}", "m1", "coach/t", now_utc(), f"r{n}", what, value)
            tasks.record_answers(library, "m1", [entry])
    for at_us, rally in ((2_000_000, "r1"), (8_500_000, "r2"), (14_000_000, "r2"), (40_000_000, "")):
        drawing = {**ARROW, "id": f"d{at_us}", "at_us": at_us}
        assert save_drawing(opened(library), drawing)[-1].rally == rally


@pytest.mark.parametrize("kind", POINTS)
def test_every_kind_takes_its_number_of_points_and_no_other(library: Library, kind: str) -> None:
    least, most = POINTS[kind]
    text = "more width" if kind == "text" else ""
    for count in (least, most):
        points = [[n / 1000, 0.5] for n in range(count)]
        save_drawing(
            opened(library), {**ARROW, "id": f"d{count}", "kind": kind, "points": points, "text": text}
        )
    for count in (least - 1, most + 1):
        points = [[n / 1000, 0.5] for n in range(count)]
        with pytest.raises(InputError):
            save_drawing(opened(library), {**ARROW, "id": "x", "kind": kind, "points": points, "text": text})


@pytest.mark.parametrize(
    "wrong",
    [
        {"id": "../../library"},
        {"id": ""},
        {"id": "d" * 65},
        {"at_us": -1},
        {"at_us": 10**15},
        {"at_us": 1.5},
        {"at_us": True},
        {"kind": "photo"},
        {"points": [[0.1, 0.2], [1.5, 0.6]]},
        {"points": [[0.1, 0.2], [float("nan"), 0.6]]},
        {"points": [[0.1, 0.2], [float("inf"), 0.6]]},
        {"points": [[0.1], [0.5, 0.6]]},
        {"points": "M0 0"},
        {"text": "an arrow has no words"},
        {"kind": "text", "points": [[0.1, 0.1]], "text": "  "},
        {"kind": "text", "points": [[0.1, 0.1]], "text": "x" * 81},
        {"kind": "text", "points": [[0.1, 0.1]], "text": "a\x00b"},
        {"colour": "red"},
    ],
)
def test_a_hostile_piece_is_refused_in_words_and_nothing_changes(
    library: Library, wrong: dict[str, Any]
) -> None:
    save_drawing(opened(library), ARROW)
    before = frame_drawings_file(library.folder, "m1").read_bytes()
    with pytest.raises(InputError) as refused:
        save_drawing(opened(library), {**ARROW, "id": "d2", **wrong})
    assert "drawing" in str(refused.value)
    assert frame_drawings_file(library.folder, "m1").read_bytes() == before


def test_there_is_a_most_that_one_match_holds(library: Library) -> None:
    (first,) = save_drawing(opened(library), ARROW)
    full = [type(first)(f"n{n}", first.at_us, "", first.kind, first.points) for n in range(MOST_DRAWINGS - 1)]
    assert len(add_drawings(library, "m1", full)) == MOST_DRAWINGS
    with pytest.raises(InputError, match="At most 1000 drawings"):
        save_drawing(opened(library), {**ARROW, "id": "one-more"})
    assert len(frame_drawings(library, "m1")) == MOST_DRAWINGS
    save_drawing(opened(library), ARROW)  # there already


@pytest.mark.parametrize("damaged", ["{", '{"drawings": 3}', '{"drawings": [{"id": "d1"}]}'])
def test_a_damaged_file_is_told_and_never_overwritten(library: Library, damaged: str) -> None:
    path = frame_drawings_file(library.folder, "m1")
    path.parent.mkdir(exist_ok=True)
    path.write_text(damaged)
    for act in (
        lambda: frame_drawings(library, "m1"),
        lambda: save_drawing(opened(library), ARROW),
        lambda: remove_drawing(library, "m1", "d1"),
    ):
        with pytest.raises(DamagedFile):
            act()
    assert path.read_text() == damaged


def test_drawings_go_with_the_match_in_its_json_and_come_back(library: Library, tmp_path: Path) -> None:
    save_drawing(opened(library), ARROW)
    words = {"id": "d2", "at_us": 3, "kind": "text", "points": [[0.5, 0.5]], "text": "Später – ‘wide’ <b>"}
    drawings = save_drawing(opened(library), words)
    tasks.export_match(library, "m1", tmp_path / "m1.json")
    with tasks.open_library(tmp_path / "other") as other:
        tasks.import_match(other, tmp_path / "m1.json")
        assert frame_drawings(other, "m1") == drawings
        tasks.import_match(other, tmp_path / "m1.json")
        assert frame_drawings(other, "m1") == drawings


def test_a_match_without_drawings_is_exported_as_before(library: Library, tmp_path: Path) -> None:
    tasks.export_match(library, "m1", tmp_path / "m1.json")
    assert "drawings" not in json.loads((tmp_path / "m1.json").read_text())


def test_a_hostile_drawing_in_an_import_is_named_and_can_be_skipped(library: Library, tmp_path: Path) -> None:
    save_drawing(opened(library), ARROW)
    tasks.export_match(library, "m1", tmp_path / "m1.json")
    document = json.loads((tmp_path / "m1.json").read_text())
    document["drawings"].append({**document["drawings"][0], "id": "../x"})
    (tmp_path / "bad.json").write_text(json.dumps(document))
    with tasks.open_library(tmp_path / "other") as other:
        with pytest.raises(InputError, match="drawing 2: id is"):
            tasks.import_match(other, tmp_path / "bad.json")
        tasks.import_match(other, tmp_path / "bad.json", keep_going=True)
        assert [drawing.id for drawing in frame_drawings(other, "m1")] == ["d1"]


def test_drawings_go_with_a_person_who_is_erased_and_are_told_to_them(
    library: Library, tmp_path: Path
) -> None:
    drawings = save_drawing(opened(library), ARROW)
    account = json.loads(tasks.export_player(library, "iv", tmp_path / "iv.json").read_text())
    assert account["matches"][0]["drawings"] == json.loads(json.dumps(drawings_to_plain(drawings)))
    path = frame_drawings_file(library.folder, "m1")
    assert path.is_file()
    tasks.erase_player(library, "iv")
    assert not path.exists()


def test_a_back_up_holds_them(library: Library, tmp_path: Path) -> None:
    save_drawing(opened(library), ARROW)
    made = tasks.back_up(library, tmp_path / "b.zip")
    tasks.restore(made.path, tmp_path / "back")
    with tasks.open_library(tmp_path / "back") as back:
        assert [drawing.id for drawing in frame_drawings(back, "m1")] == ["d1"]


def test_a_damaged_file_of_drawings_does_not_stop_an_export(library: Library, tmp_path: Path) -> None:
    """Before: neither the match nor what is held on a person could be exported."""
    save_drawing(opened(library), ARROW)
    tasks.answer(library, "m1", "r1", EntryKind.WINNER, "a")
    frame_drawings_file(library.folder, "m1").write_text("{")
    assert "cannot be read" in drawings_left_out(library, "m1")
    tasks.export_match(library, "m1", tmp_path / "m1.json")
    document = json.loads((tmp_path / "m1.json").read_text())
    assert len(document["entries"]) == 1 and "drawings" not in document
    account = json.loads(tasks.export_player(library, "iv", tmp_path / "iv.json").read_text())
    assert account["matches"][0]["drawings"] == []
    assert "cannot be read" in account["matches"][0]["left_out"]
    assert frame_drawings_file(library.folder, "m1").read_text() == "{"
