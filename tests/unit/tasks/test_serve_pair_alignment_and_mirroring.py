"""Two serves beside each other: what the coach set is kept by pair, what cannot be is told."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import DamagedFile, InputError, NotFound
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.tasks.sharing import serve_pair_alignment_and_mirroring
from goodlength.tasks.sharing.serve_pair_alignment_and_mirroring import save_side_by_side, side_by_side_of

ANGLE = {"kind": "angle", "points": [[0.1, 0.2], [0.3, 0.4], [0.5, 0.1]]}


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    with tasks.open_library(tmp_path_factory.mktemp("beside") / "lib") as item:
        for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(item, name, player_id=player)
        tasks.new_match(item, ("iv", "plo"), match_id="m1")
        for n in range(4):
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "a")
        yield item


def test_what_was_set_comes_back_for_that_pair_alone(library: Library) -> None:
    told = {"nudge_us": [0, -40_000], "mirrored": True, "lines": [[ANGLE], []]}
    made = save_side_by_side(tasks.open_match(library, "m1"), ("r0", "r1"), told)
    assert side_by_side_of(tasks.open_match(library, "m1"), ("r0", "r1")) == made
    assert made.lines[0][0].points[1] == (0.3, 0.4)
    assert (made.nudge_us, made.mirrored) == ((0, -40_000), True)
    assert side_by_side_of(
        tasks.open_match(library, "m1"), ("r1", "r0")
    ) == serve_pair_alignment_and_mirroring.SideBySide(("r1", "r0"))


def test_the_oldest_pair_goes_when_there_are_too_many(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serve_pair_alignment_and_mirroring, "MOST_PAIRS", 2)
    for pair in (("r0", "r2"), ("r0", "r3"), ("r1", "r3")):
        save_side_by_side(tasks.open_match(library, "m1"), pair, {"mirrored": True})
    assert not side_by_side_of(tasks.open_match(library, "m1"), ("r0", "r2")).mirrored
    assert side_by_side_of(tasks.open_match(library, "m1"), ("r1", "r3")).mirrored


@pytest.mark.parametrize(
    "text", ["{", "[]", '{"r2 r3": {"nudge_us": "x"}}', '{"r2 r3": {"lines": [[{}], []]}}']
)
def test_a_damaged_file_is_told_and_not_overwritten(library: Library, text: str) -> None:
    """Before: it began anew without a word, and a pair of another shape was overwritten."""
    save_side_by_side(tasks.open_match(library, "m1"), ("r2", "r3"), {"mirrored": True})
    (file,) = (library.folder / "clips").glob("*.json")
    kept = file.read_text()
    file.write_text(text)
    try:
        with pytest.raises(DamagedFile, match="left as it is"):
            side_by_side_of(tasks.open_match(library, "m1"), ("r2", "r3"))
        with pytest.raises(DamagedFile, match="left as it is"):
            save_side_by_side(tasks.open_match(library, "m1"), ("r2", "r3"), {"mirrored": False})
        assert file.read_text() == text
    finally:
        file.write_text(kept)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"nudge_us": [0]}, "nudge_us.1 is missing"),
        ({"nudge_us": [0, 3_000_000]}, "3000000; 2000000 or less"),
        ({"nudge_us": [0, 1.5]}, "1.5; a whole number is needed"),
        ({"nudge_us": [True, 0]}, "True; a whole number is needed"),
        ({"lines": []}, "lines.0 is missing"),
        ({"lines": [1, 2]}, "lines.0 is 1; a list is needed"),
        ({"lines": [[{"kind": "circle", "points": []}], []]}, "one of line, arrow, angle"),
        ({"lines": [[{"kind": "angle", "points": [[0, 0], [1, 1]]}], []]}, "three"),
        ({"lines": [[{"kind": "line", "points": [[0, 0], [1, "x"]]}], []]}, "'x'; a number is needed"),
        ({"lines": [[{"kind": "line", "points": [[0, 0], [1, 1.2]]}], []]}, "1.2; 1 or less is needed"),
        (
            {"lines": [[{"kind": "line", "points": [[0, 0], [1, float("nan")]]}], []]},
            "nan; 1 or less is needed",
        ),
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
