"""A second reader's attempts on what is kept, removed and erased; each failed before it was mended."""

from __future__ import annotations

import json
import unicodedata
import zipfile
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import GoodlengthError, InputError
from goodlength.files import library_layout
from goodlength.files.safe_file_names_from_ids import is_plain_id, stem, strict_stem
from goodlength.jobs.job_queue import read_state
from goodlength.record import EntryKind
from goodlength.record.model import Clip, Footage, KindOfServe, MatchInfo, Player

ITEM = "0123456789ab"


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "lib") as made:
        names = (("p1", "Dana Whitmore"), ("p2", "Rosa Kell"), ("p3", "Ivo Rell"), ("p12", "Una Bly"))
        for key, name in names:
            made.save_player(Player(key, name))
        made.save_match(MatchInfo("m1", ("p1", "p2")))
        made.save_match(MatchInfo("m2", ("p2", "p3")))
        yield made


def put(library, name: str, text: str = "{}") -> Path:
    path = library.folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return path


@pytest.mark.parametrize("place", ["thesis.mp4", "lib2/clips/game.mp4", "lib/library.sqlite3"])
def test_a_listed_clip_takes_no_file_that_goodlength_did_not_make_here(library, tmp_path, place) -> None:
    path = tmp_path / place
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        path.write_text("of somebody else, or of the library that this one was copied from")
    library.save_clip(Clip("c1", "m1", str(path)))
    tasks.erase_player(library, "p1")
    assert path.is_file()


def test_erasing_p1_keeps_the_list_of_p12(library) -> None:
    args = {"src": "/x/y.mov", "player": "p12"}
    kept = put(library, "jobs/ab12.json", json.dumps({"id": "ab12", "state": "done", "args": args}))
    tasks.erase_player(library, "p1")
    assert kept.is_file()


@pytest.mark.parametrize(
    "spelt",
    [
        "Dana_Whitmore_final.mp4",
        "DanaWhitmore.mp4",
        "Dana Whitmore/game.mp4",
        "Dana%20Whitmore.mp4",
    ],
)
def test_a_name_in_a_path_is_found_however_it_is_joined(library, spelt: str) -> None:
    library.save_footage(Footage("f2", "m2", f"/films/{spelt}"))
    assert tasks.erase_player(library, "p1").mentions


@pytest.mark.parametrize(
    "note",
    [
        "like Zo\u00eb",
        "like Zoe\u0308",
        "like \uff3ao\u00eb",
        "like Zo\xad\u00eb",
        "like Zo&euml;",
        "like Zo%C3%AB",
    ],
)
def test_a_name_is_found_however_its_letters_are_written(library, note: str) -> None:
    library.save_player(Player("p1", unicodedata.normalize("NFC", "Zo\u00eb")))
    tasks.answer(library, "m2", "r1", EntryKind.NOTE, note)
    assert tasks.erase_player(library, "p1").mentions


def test_a_name_with_an_apostrophe_is_found_in_a_page(library) -> None:
    library.save_player(Player("p1", "O'Whit"))
    put(library, "handouts/handout-m2.html", "<p>watch O&#39;Whit</p>")
    assert tasks.erase_player(library, "p1").mentions


def test_a_name_is_found_in_a_damaged_file(library) -> None:
    library.save_player(Player("p1", "Zo\u00eb"))
    put(library, "clips/m2-talk-list.json", '{"n": "Zo\\u00eb", ')
    assert tasks.erase_player(library, "p1").mentions


@pytest.mark.parametrize("place", ["kind", "observer", "bin", "clip", "look"])
def test_a_name_is_found_wherever_it_can_be_typed(library, place: str) -> None:
    if place == "kind":
        library.save_kinds([*library.kinds(), KindOfServe("dl", "Dana's lob")])
    elif place == "observer":
        tasks.answer(library, "m2", "r1", EntryKind.WINNER, "a", observer="Dana")
    elif place == "bin":
        tasks.answer(library, "m2", "r1", EntryKind.NOTE, "like Dana")
        tasks.remove_match(library, "m2")
    elif place == "clip":
        library.save_clip(Clip("c", "m2", "/coach/Dana/best.mp4"))
    else:
        library.save_footage(Footage("f2", "m2", "/films/x.mp4", look={"title": "Dana at the club"}))
    assert tasks.erase_player(library, "p1").mentions


@pytest.mark.parametrize("match_id", ["-m9", "_m9", "m" * 64, "m9."])
@pytest.mark.parametrize(
    "name",
    [
        "clips/{}-talk-list.json",
        "handouts/handout-{}.pdf",
        "handouts/handout-{}.json",
        "handouts/handout-{}.v20250101010101000000.pdf",
    ],
)
def test_files_of_every_id_are_backed_up_and_erased(
    library, tmp_path: Path, match_id: str, name: str
) -> None:
    library.save_match(MatchInfo(match_id, ("p1", "p3")))
    made = put(library, name.format(match_id))
    tasks.back_up(library, tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "b.zip") as zipped:
        assert made.relative_to(library.folder).as_posix() in zipped.namelist()
    tasks.erase_player(library, "p1")
    assert not made.exists()


@pytest.mark.parametrize("footage_id", ["-f9", "_f9"])
def test_files_of_every_video_are_erased(library, footage_id: str) -> None:
    library.save_footage(Footage(footage_id, "m1", "x.mp4"))
    for path in library_layout.footage_files(library.folder, footage_id):
        put(library, path.relative_to(library.folder).as_posix())
    tasks.erase_player(library, "p1")
    assert not [p for p in library_layout.footage_files(library.folder, footage_id) if p.exists()]


@pytest.mark.parametrize("an_id", ["con", "NUL", "aux.1", "com1", "LPT9.x"])
def test_an_id_never_names_a_device(an_id: str) -> None:
    assert not is_plain_id(an_id)
    for made in (stem(an_id), strict_stem(an_id)):
        assert made.partition(".")[0].lower() not in ("con", "nul", "aux", "com1", "lpt9")


def test_the_usual_back_up_holds_the_record_of_a_removed_match(library, tmp_path: Path) -> None:
    tasks.answer(library, "m2", "r1", EntryKind.NOTE, "written by the coach")
    tasks.remove_match(library, "m2")
    tasks.back_up(library, tmp_path / "b.zip")
    tasks.restore(tmp_path / "b.zip", tmp_path / "new")
    with tasks.open_library(tmp_path / "new") as restored:
        tasks.take_from_bin(restored, tasks.bin_items(restored)[0].id)
        assert [entry.value for entry in restored.entries("m2")] == ["written by the coach"]


@pytest.mark.parametrize("what", ["video", "match"])
def test_putting_back_never_takes_the_video_of_another_match(library, what: str) -> None:
    library.save_footage(Footage("f1", "m1", "/a.mp4"))
    if what == "video":
        tasks.remove_footage(library, "f1")
    else:
        tasks.remove_match(library, "m1")
    library.save_footage(Footage("f1", "m2", "/b.mp4"))
    with pytest.raises(InputError):
        tasks.take_from_bin(library, tasks.bin_items(library)[0].id)
    assert library.footage_file("f1").match == "m2"


def by_hand(library, **changed: object) -> None:
    plain = {
        "form": 1,
        "kind": "video",
        "title": "x",
        "match": "m2",
        "players": ["p2", "p3"],
        "removed_utc": "2026-11-29T00:00:00+00:00",
        "rows": {"footage": []},
        "files": [],
        **changed,
    }
    put(library, f"bin/{ITEM}/item.json", json.dumps(plain))


@pytest.mark.parametrize(
    "row",
    [
        {"id": "../../../original", "path": "x.mp4"},
        {"id": "fz", "path": "x.mp4", "proxy": "../outside.mp4"},
        {"id": "fz", "path": "x.mp4", "frames": "library.sqlite3"},
        {"id": 7, "path": "x.mp4"},
    ],
)
def test_what_lies_in_the_bin_decides_no_path(library, row: dict[str, object]) -> None:
    by_hand(library, rows={"footage": [{"match": "m2", **row}]})
    with pytest.raises(GoodlengthError):
        tasks.take_from_bin(library, ITEM)
    assert library.footage("m2") == ()


@pytest.mark.parametrize(
    "changed",
    [
        {"removed_utc": "9999-12-31T00:00:00+00:00"},
        {"removed_utc": "2026-11-29T00:00:00"},
        {"files": [3]},
        {"files": {"a": 1}, "rows": []},
    ],
)
def test_a_record_of_the_bin_written_by_hand_stops_nothing(library, changed: dict[str, object]) -> None:
    by_hand(library, **changed)
    tasks.bin_items(library)
    with pytest.raises(GoodlengthError):
        tasks.take_from_bin(library, ITEM)
    tasks.sweep(library)


@pytest.mark.parametrize("changed", [{"args": [1]}, {"made": "x"}, {"id": "../m1"}, {"words": None}])
def test_a_list_of_a_long_task_written_by_hand_is_passed_over(
    tmp_path: Path, changed: dict[str, object]
) -> None:
    plain = {"id": "ab12", "kind": "attempts", "share": 1, "words": "", "state": "done", "args": {}}
    (tmp_path / "ab12.json").write_text(json.dumps(plain))
    assert read_state(tmp_path / "ab12.json") is not None
    (tmp_path / "ab12.json").write_text(json.dumps({**plain, **changed}))
    assert read_state(tmp_path / "ab12.json") is None


def test_a_list_of_a_long_task_nested_without_end_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "ab12.json").write_text("[" * 100_000)
    assert read_state(tmp_path / "ab12.json") is None
