"""Two serves beside each other: what the coach set is kept by pair, what cannot be is told."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.tasks.sharing import side_by_side
from goodlength.tasks.sharing.side_by_side import save_side_by_side, side_by_side_of

ANGLE = {"kind": "angle", "points": [[0.1, 0.2], [0.3, 0.4], [0.5, 0.1]]}


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    with tasks.open_library(tmp_path_factory.mktemp("beside") / "lib") as one:
        for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(one, name, player_id=player)
        tasks.new_match(one, ("iv", "plo"), match_id="m1")
        for n in range(4):
            tasks.answer(one, "m1", f"r{n}", EntryKind.WINNER, "a")
        yield one


def test_what_was_set_comes_back_for_that_pair_alone(library: Library) -> None:
    told = {"nudge_us": [0, -40_000], "mirrored": True, "lines": [[ANGLE], []]}
    made = save_side_by_side(tasks.open_match(library, "m1"), ("r0", "r1"), told)
    assert side_by_side_of(tasks.open_match(library, "m1"), ("r0", "r1")) == made
    assert made.lines[0][0].points[1] == (0.3, 0.4)
    assert (made.nudge_us, made.mirrored) == ((0, -40_000), True)
    assert side_by_side_of(tasks.open_match(library, "m1"), ("r1", "r0")) == side_by_side.SideBySide(
        ("r1", "r0")
    )


def test_the_oldest_pair_goes_when_there_are_too_many(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(side_by_side, "MOST_PAIRS", 2)
    for pair in (("r0", "r2"), ("r0", "r3"), ("r1", "r3")):
        save_side_by_side(tasks.open_match(library, "m1"), pair, {"mirrored": True})
    assert not side_by_side_of(tasks.open_match(library, "m1"), ("r0", "r2")).mirrored
    assert side_by_side_of(tasks.open_match(library, "m1"), ("r1", "r3")).mirrored


def test_a_spoilt_file_begins_anew(library: Library) -> None:
    save_side_by_side(tasks.open_match(library, "m1"), ("r2", "r3"), {"mirrored": True})
    (file,) = (library.folder / "clips").glob("*.json")
    for spoilt in ("{", "[]", '{"r2 r3": {"nudge_us": "x"}}'):
        file.write_text(spoilt)
        assert not side_by_side_of(tasks.open_match(library, "m1"), ("r2", "r3")).mirrored


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"nudge_us": [0]}, "at most 2 s"),
        ({"nudge_us": [0, 3_000_000]}, "at most 2 s"),
        ({"nudge_us": [0, 1.5]}, "at most 2 s"),
        ({"nudge_us": [True, 0]}, "at most 2 s"),
        ({"lines": []}, "could not be read"),
        ({"lines": [1, 2]}, "could not be read"),
        ({"lines": [[{"kind": "circle", "points": []}], []]}, "two points"),
        ({"lines": [[{"kind": "angle", "points": [[0, 0], [1, 1]]}], []]}, "three"),
        ({"lines": [[{"kind": "line", "points": [[0, 0], [1, "x"]]}], []]}, "could not be read"),
        ({"lines": [[{"kind": "line", "points": [[0, 0], [1, 1.2]]}], []]}, "inside the picture"),
        ({"lines": [[{"kind": "line", "points": [[0, 0], [1, float("nan")]]}], []]}, "inside the picture"),
        ({"lines": [[ANGLE] * 21, []]}, "At most 20"),
    ],
)
def test_what_cannot_be_kept_is_told(library: Library, told: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said):
        save_side_by_side(tasks.open_match(library, "m1"), ("r0", "r1"), told)


@pytest.mark.parametrize(
    ("pair", "error"), [(("r0", "r0"), InputError), (("r0",), InputError), (("r0", "x"), NotFound)]
)
def test_a_pair_is_two_rallies_of_the_match(
    library: Library, pair: tuple[str, ...], error: type[Exception]
) -> None:
    with pytest.raises(error):
        side_by_side_of(tasks.open_match(library, "m1"), pair)
