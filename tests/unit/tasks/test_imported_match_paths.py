"""A match from outside decides no path: neither what is read, nor written, nor deleted."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import Conflict, FootageGone, InputError
from goodlength.record.model import Footage, MatchInfo, Player
from goodlength.tasks.footage.footage_import_and_proxies import original_path


def document(path: str, footage_id: str = "fx", match: str = "imp", a: str = "p8", **more: object) -> str:
    return json.dumps(
        {
            "format": "goodlength match",
            "version": 1,
            "match": {"id": match, "players": [a, "p9"]},
            "players": [{"id": a, "name": "Petra"}, {"id": "p9", "name": "Opal"}],
            "footage": [{"id": footage_id, "path": path, **more}],
            "entries": [],
        }
    )


@pytest.fixture
def library(tmp_path: Path):
    with tasks.open_library(tmp_path / "lib") as made:
        yield made


def brought(library, tmp_path: Path, text: str) -> None:
    file = tmp_path / "match.json"
    file.write_text(text)
    tasks.import_match(library, file)


@pytest.mark.parametrize("way", ["erase", "remove"])
def test_the_database_is_never_deleted_by_an_imported_match(library, tmp_path: Path, way: str) -> None:
    database = library.folder / "library.sqlite3"
    brought(library, tmp_path, document(str(database), copied=True))
    if way == "erase":
        tasks.erase_player(library, "p9")
    else:
        tasks.remove_match(library, "imp")
    assert database.is_file()


def test_another_matchs_upload_is_never_deleted_by_an_imported_match(library, tmp_path: Path) -> None:
    upload = library.folder / "uploads" / "0badc0de-game.mp4"
    upload.parent.mkdir(exist_ok=True)
    upload.write_text("film")
    brought(library, tmp_path, document(str(upload), copied=True))
    tasks.erase_player(library, "p9")
    assert upload.is_file()


@pytest.mark.parametrize("path", ["/etc/passwd", "C:\\films\\secret.txt", "../../x", "secret.txt"])
def test_an_imported_path_is_a_bare_name_and_opens_nothing(
    library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    (tmp_path / "secret.txt").write_text("mine")
    monkeypatch.chdir(tmp_path)
    brought(library, tmp_path, document(path, copied=True, look={"a": 1}))
    kept = library.footage_file("fx")
    assert "/" not in kept.path and "\\" not in kept.path
    assert kept.to_be_found and not kept.copied and kept.look is None
    with pytest.raises(FootageGone):
        original_path(library, "fx")


@pytest.mark.parametrize("bad", ["../../../original", "a/b", "a\\b", ".hidden", "x" * 65, "", "a b", "ä"])
def test_ids_that_could_decide_a_path_are_refused(library, tmp_path: Path, bad: str) -> None:
    for text in (
        document("x.mp4", footage_id=bad),
        document("x.mp4", match=bad),
        document("x.mp4", a=bad),
    ):
        with pytest.raises(InputError):
            brought(library, tmp_path, text)
    assert library.matches() == ()


def test_an_imported_match_never_takes_another_matchs_file(library, tmp_path: Path) -> None:
    library.save_player(Player("p1", "Rosa"))
    library.save_player(Player("p2", "Dana"))
    library.save_match(MatchInfo("m1", ("p1", "p2")))
    library.save_footage(Footage("f1", "m1", "/elsewhere/x.mp4"))
    with pytest.raises(Conflict, match="belongs to another match"):
        brought(library, tmp_path, document("x.mp4", footage_id="f1"))
    assert library.footage_file("f1").match == "m1"


def test_ids_already_in_a_library_never_lead_out_of_it(library) -> None:
    bad = "../../../original"
    assert library.folder in tasks.proxy_path(library, bad).resolve().parents
