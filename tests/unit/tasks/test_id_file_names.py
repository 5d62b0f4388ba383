"""Ids that would share a file with another's, or with a name goodlength gives, are refused in words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.record.model import Footage, MatchInfo, Player


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "lib") as made:
        made.save_player(Player("p1", "Petra"))
        made.save_player(Player("p2", "Opal"))
        made.save_match(MatchInfo("m1", ("p1", "p2")))
        made.save_footage(Footage("f1", "m1", "a.mp4"))
        yield made


def exported(library, tmp_path: Path, match: str = "m1", footage: str = "f1") -> Path:
    (path,) = tasks.export_match(library, "m1", tmp_path / "out.json")
    plain = json.loads(
        path.read_text().replace('"m1"', json.dumps(match)).replace('"f1"', json.dumps(footage))
    )
    path.write_text(json.dumps(plain))
    return path


def test_ids_that_differ_in_capitals_only_are_refused(library, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="differs from 'm1' in capitals only"):
        tasks.new_match(library, ("p1", "p2"), match_id="M1")
    with pytest.raises(InputError, match="differs from 'f1' in capitals only"):
        library.save_footage(Footage("F1", "m1", "b.mp4"))
    with pytest.raises(InputError, match="differs from 'm1' in capitals only"):
        tasks.import_match(library, exported(library, tmp_path, match="M1", footage="g"))
    with pytest.raises(InputError, match="differs from 'f1' in capitals only"):
        tasks.import_match(library, exported(library, tmp_path, match="m2", footage="F1"))
    assert [match.id for match in library.matches()] == ["m1"]
    library.save_match(MatchInfo("m1", ("p1", "p2"), event="changed"))  # its own id is no other's


def test_two_that_are_there_already_are_left_alone(library, monkeypatch) -> None:
    with monkeypatch.context() as older:
        older.setattr("goodlength.record.store.match_rows.require_other_letters", lambda *_: None)
        library.save_match(MatchInfo("M1", ("p1", "p2")))
    library.save_match(MatchInfo("M1", ("p1", "p2"), event="changed"))
    assert library.match_info("M1").event == "changed"


@pytest.mark.parametrize("footage", ["practice-0badc0de", "PRACTICE-x", "f1.original", "f1.Original"])
def test_an_import_cannot_take_a_file_name_that_goodlength_gives_to_others(
    library, tmp_path, footage
) -> None:
    with pytest.raises(InputError, match="goodlength gives such names itself"):
        tasks.import_match(library, exported(library, tmp_path, match="m2", footage=footage))


@pytest.mark.parametrize("match", ["m1.v3", "m1-clip-2", "m1-talk", "m1-pack-x", "x-BESIDE-y"])
def test_a_match_cannot_take_the_names_of_things_made_of_another(library, tmp_path, match) -> None:
    with pytest.raises(InputError, match="goodlength gives such names itself"):
        tasks.import_match(library, exported(library, tmp_path, match=match, footage="g"))
    with pytest.raises(InputError, match="goodlength gives such names itself"):
        tasks.new_match(library, ("p1", "p2"), match_id=match)


@pytest.mark.parametrize("match", ["m1.version", "clip-m1", "m-reels", "v3", "m1.v", "packed-2"])
def test_names_that_are_like_them_are_taken(library, tmp_path, match) -> None:
    tasks.import_match(library, exported(library, tmp_path, match=match, footage="my-practice"))
    assert library.match_info(match).id == match
