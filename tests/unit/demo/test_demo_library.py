"""Building the demo into a library, again and again, and taking it out."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from typing import Any

import pytest

from goodlength import demo, tasks
from goodlength.demo import demo_library
from goodlength.demo.film import video_writer
from goodlength.demo.film.game_timeline import SEED
from goodlength.demo.match import demo_players_and_matches
from goodlength.demo.play.court_camera import CAMERA
from goodlength.demo.record_entries_of_demo_matches import filmed_game
from goodlength.errors import Cancelled, InputError, NoSpace
from goodlength.files.atomic_write import LEFTOVER
from goodlength.record.model import MatchInfo, Player
from goodlength.record.store import Library


@pytest.fixture(scope="module")
def second(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film of one second."""
    to = tmp_path_factory.mktemp("second") / "second.mp4"
    video_writer.write_film(filmed_game(), CAMERA, to, SEED, frames=(0, 25))
    return to


@pytest.fixture
def short_film(monkeypatch: pytest.MonkeyPatch, second: Path) -> None:
    """That second instead of the whole game."""

    def write(_f: Any, _c: Any, to: Path, _s: int, progress: Any = None) -> int:
        to.write_bytes(second.read_bytes()[:1000])
        progress(0.5, "half")
        to.write_bytes(second.read_bytes())
        return 25

    monkeypatch.setattr(video_writer, "write_film", write)
    monkeypatch.setattr(demo_library, "_coach", lambda _library, _filmed, _tell: None)


def test_asking_whether_it_is_there_makes_no_library(tmp_path: Path) -> None:
    assert not demo.is_built(tmp_path / "none")
    assert not (tmp_path / "none").exists()


def test_a_second_build_adds_nothing(tmp_path: Path) -> None:
    first = demo.build(tmp_path, footage=False)
    assert first.new_entries > 1500
    assert demo.is_built(tmp_path, footage=False)
    assert not demo.is_built(tmp_path)
    assert demo.build(tmp_path, footage=False).new_entries == 0
    with Library.open(tmp_path) as library:
        counts = library.rally_counts()
        assert counts["demo"] == 78
        assert set(counts) == {"demo", "demo-earlier", "demo-left"}
        assert all(info.demo for info in library.matches())
        assert not tasks.show_match(library, "demo").faults


@pytest.mark.usefixtures("short_film")
def test_the_film_and_its_truth_stand_in_the_library(tmp_path: Path) -> None:
    shares: list[float] = []
    built = demo.build(tmp_path, progress=lambda share, _words: shares.append(share))
    assert built.film is not None
    assert built.truth is not None
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    truth = json.loads(built.truth.read_text(encoding="utf-8"))
    assert truth["film"] == {"name": built.film.name, "bytes": built.film.stat().st_size}
    assert demo.is_built(tmp_path)
    with Library.open(tmp_path) as library:
        (row,) = library.footage("demo")
        assert Path(row.path) == built.film
        assert (row.first_us, row.end_us) == (0, 1_000_000)
        assert tasks.library_check(library).problems == ()
    before = built.film.stat().st_mtime_ns
    assert demo.build(tmp_path).film == built.film
    assert built.film.stat().st_mtime_ns == before


@pytest.mark.usefixtures("short_film")
def test_a_build_that_was_stopped_is_taken_up_again(tmp_path: Path) -> None:
    def stop(share: float, _words: str) -> None:
        if share > demo_library.RECORD_SHARE:
            raise Cancelled("stopped by the coach")

    with pytest.raises(Cancelled):
        demo.build(tmp_path, progress=stop)
    assert list((tmp_path / "demo").iterdir()) == []
    assert demo.is_built(tmp_path, footage=False)
    assert demo.build(tmp_path).film is not None


@pytest.mark.usefixtures("short_film")
def test_a_film_cut_short_is_made_anew(tmp_path: Path) -> None:
    built = demo.build(tmp_path)
    assert built.film is not None
    whole = built.film.stat().st_size
    built.film.write_bytes(built.film.read_bytes()[: whole // 2])
    assert not demo.is_built(tmp_path)
    demo.build(tmp_path)
    assert built.film.stat().st_size == whole


@pytest.mark.usefixtures("short_film")
def test_removing_takes_everything_and_nothing_else(tmp_path: Path) -> None:
    with Library.open(tmp_path) as library:
        library.save_player(Player("mine", "Own Player"))
    demo.build(tmp_path)
    removed = demo.remove(tmp_path)
    assert set(removed.matches) == {"demo", "demo-earlier", "demo-left"}
    assert len(removed.players) == 3
    assert not (tmp_path / "demo").exists()
    with Library.open(tmp_path) as library:
        assert [player.id for player in library.players()] == ["mine"]
        assert library.matches() == ()
        assert library.settings() == {}
    assert demo.build(tmp_path, footage=False).new_entries > 1500


def test_a_demo_player_in_a_match_of_the_coach_stays(tmp_path: Path) -> None:
    demo.build(tmp_path, footage=False)
    with Library.open(tmp_path) as library:
        library.save_player(Player("mine", "Own Player"))
        library.save_match(MatchInfo("own", ("mine", demo_players_and_matches.IMOGEN.id)))
    removed = demo.remove(tmp_path)
    assert removed.still_named == (demo_players_and_matches.IMOGEN.id,)
    with Library.open(tmp_path) as library:
        assert [info.id for info in library.matches()] == ["own"]


def test_a_match_of_the_coach_under_a_demo_id_is_never_touched(tmp_path: Path) -> None:
    with Library.open(tmp_path) as library:
        library.save_player(Player("x", "X"))
        library.save_player(Player("y", "Y"))
        library.save_match(MatchInfo("demo", ("x", "y")))
    with pytest.raises(InputError, match="match of your own with the id 'demo'"):
        demo.build(tmp_path, footage=False)
    with Library.open(tmp_path) as library:
        assert [info.id for info in library.matches()] == ["demo"]


def test_another_versions_demo_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    demo.build(tmp_path, footage=False)
    monkeypatch.setattr(demo_library, "VERSION", 99)
    assert not demo.is_built(tmp_path, footage=False)
    assert demo.build(tmp_path, footage=False).new_entries > 1500


def test_a_full_disk_is_told_before_the_film_is_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        free = 1000

    def full(_path: Any) -> Full:
        return Full()

    monkeypatch.setattr(demo_library.shutil, "disk_usage", full)
    with pytest.raises(NoSpace, match="needs about 60 MB"):
        demo.build(tmp_path)
    assert demo.is_built(tmp_path, footage=False)


@pytest.mark.usefixtures("short_film")
def test_a_killed_build_is_swept_up_and_a_running_one_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "demo"
    place.mkdir()
    for name, age_s in (("killed", 3600), ("running", 1)):
        (place / f"{LEFTOVER}{name}").write_bytes(b"x")
        then = time.time() - age_s
        os.utime(place / f"{LEFTOVER}{name}", (then, then))
    demo.build(tmp_path)
    assert [path.name for path in place.glob(f"{LEFTOVER}*")] == [f"{LEFTOVER}running"]
