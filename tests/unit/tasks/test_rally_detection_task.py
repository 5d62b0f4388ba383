"""What was heard in a match, moved with its films, and what the coach corrects."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.forms.footage.detected_rallies_json import rallies_form
from goodlength.record.model import Footage
from goodlength.record.store import Library

SECOND = 1_000_000


@pytest.fixture
def library(tmp_path: Path) -> Any:
    with Library.open(tmp_path / "library") as item:
        for player in ("a", "b"):
            tasks.add_player(item, f"Player {player.upper()}", player_id=player)
        tasks.new_match(item, ("a", "b"), match_id="m1")
        item.save_footage(Footage("f1", "m1", "/one.mp4", 0, first_us=500_000, end_us=60_500_000))
        item.save_footage(Footage("f2", "m1", "/two.mp4", 1, first_us=0, end_us=40 * SECOND))
        yield item


def found(library: Library, *spans: tuple[float, float, bool]) -> None:
    """What a job would have written: films one after the other, rallies in match time."""
    films = [
        {"id": "f1", "path": "/one.mp4", "starts_us": 0, "first_us": 500_000, "end_us": 60_500_000},
        {"id": "f2", "path": "/two.mp4", "starts_us": 60 * SECOND, "first_us": 0, "end_us": 40 * SECOND},
    ]
    rallies = [
        {
            "start_us": round(a * SECOND),
            "end_us": round(b * SECOND),
            "hits_us": [round(a * SECOND), round(b * SECOND)],
            "doubtful": doubtful,
            "why": "faint hits" if doubtful else "",
        }
        for a, b, doubtful in spans
    ]
    path = library.folder / "heard" / "m1.json"
    path.parent.mkdir()
    path.write_text(json.dumps({"films": films, "rallies": rallies, "by": "sound", "words": "2 heard."}))


def spans(library: Library) -> list[tuple[float, float]]:
    return [
        (rally.start_us / SECOND, rally.end_us / SECOND)
        for rally in tasks.listed_rallies(tasks.open_match(library, "m1")).rallies
    ]


def test_nothing_heard_yet_and_no_footage(library: Library) -> None:
    assert (
        tasks.listed_rallies(tasks.open_match(library, "m1")).rallies == ()
        and tasks.listed_rallies(tasks.open_match(library, "m1")).stale
    )
    tasks.new_match(library, ("a", "b"), match_id="m2")
    assert not tasks.listed_rallies(tasks.open_match(library, "m2")).stale
    with pytest.raises(InputError, match="no video"):
        tasks.start_rally_detection(tasks.open_match(library, "m2"), None)  # type: ignore[arg-type]


def test_rallies_move_with_their_films_and_a_new_film_is_told(library: Library) -> None:
    found(library, (10, 20, False), (70, 80, True))
    assert spans(library) == [(10, 20), (70, 80)]
    tasks.order_footage(library, "m1", ["f2", "f1"])
    assert spans(library) == [(10, 20), (50, 60)]
    assert [rally.doubtful for rally in tasks.listed_rallies(tasks.open_match(library, "m1")).rallies] == [
        True,
        False,
    ]
    library.save_footage(Footage("f3", "m1", "/three.mp4", 2, first_us=0, end_us=SECOND))
    assert tasks.listed_rallies(tasks.open_match(library, "m1")).stale
    tasks.remove_footage(library, "f2")
    assert spans(library) == [(10, 20)]


def test_corrections_stay_with_their_rally(library: Library) -> None:
    found(library, (10, 20, False), (70, 80, True))
    first, second = (rally.id for rally in tasks.listed_rallies(tasks.open_match(library, "m1")).rallies)
    tasks.correct_rally(
        tasks.open_match(library, "m1"), first, start_us=9 * SECOND, seen="b-left", state="kept"
    )
    tasks.correct_rally(tasks.open_match(library, "m1"), first, end_us=22 * SECOND)
    tasks.correct_rally(tasks.open_match(library, "m1"), second, state="out")
    tasks.add_rally(tasks.open_match(library, "m1"), 30 * SECOND, 35 * SECOND)
    heard = tasks.listed_rallies(tasks.open_match(library, "m1"))
    assert [(rally.state, rally.seen) for rally in heard.rallies] == [
        ("kept", "b-left"),
        ("kept", ""),
        ("out", ""),
    ]
    assert spans(library) == [(9, 22), (30, 35), (70, 80)]
    assert len(heard.played) == 2
    tasks.order_footage(library, "m1", ["f2", "f1"])
    assert spans(library) == [(10, 20), (49, 62), (70, 75)]
    assert len(rallies_form(heard)["rallies"]) == 3


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"state": "perhaps"}, "'perhaps' must be one of"),
        ({"seen": "c-left"}, "'c-left'"),
        ({"end_us": 9 * SECOND}, "must end after it starts"),
        ({"end_us": 400 * SECOND}, "two minutes at most"),
    ],
)
def test_what_cannot_be_is_refused(library: Library, said: dict[str, Any], words: str) -> None:
    found(library, (10, 20, False))
    item = tasks.listed_rallies(tasks.open_match(library, "m1")).rallies[0]
    with pytest.raises(InputError, match=words):
        tasks.correct_rally(tasks.open_match(library, "m1"), item.id, **said)
    assert tasks.listed_rallies(tasks.open_match(library, "m1")).rallies == (item,)


def test_unknown_rallies_and_times_without_footage(library: Library) -> None:
    with pytest.raises(NotFound):
        tasks.correct_rally(tasks.open_match(library, "m1"), "f1-1", state="out")
    with pytest.raises(InputError, match="no video at that time"):
        tasks.add_rally(tasks.open_match(library, "m1"), 101 * SECOND, 105 * SECOND)
    (library.folder / "heard").mkdir(exist_ok=True)
    (library.folder / "heard" / "m1.json").write_text("broken")
    assert tasks.listed_rallies(tasks.open_match(library, "m1")).rallies == ()


def test_what_was_heard_goes_with_its_match_and_with_its_player(library: Library) -> None:
    found(library, (10, 20, False))
    item = tasks.listed_rallies(tasks.open_match(library, "m1")).rallies[0]
    tasks.correct_rally(tasks.open_match(library, "m1"), item.id, state="kept")
    (library.folder / "heard" / "f1.npz").write_bytes(b"impacts")
    assert len(list((library.folder / "heard").glob("[!.]*"))) == 3
    tasks.remove_footage(library, "f1")
    assert not (library.folder / "heard" / "f1.npz").exists()
    tasks.erase_player(library, "a")
    assert list((library.folder / "heard").glob("[!.]*")) == []
