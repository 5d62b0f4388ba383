"""A video with two matches: the second becomes a match of its own, and nothing is lost or split in doubt."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.record.model import Footage
from goodlength.record.store import Library
from goodlength.tasks.footage.second_match_on_same_video import split_match

SECOND = 1_000_000


@pytest.fixture
def library(tmp_path: Path) -> Any:
    with Library.open(tmp_path / "library") as made:
        for player in ("a", "b"):
            tasks.add_player(made, f"Player {player.upper()}", player_id=player)
        tasks.new_match(made, ("a", "b"), match_id="m1", court="Court 3", event="Club night")
        made.save_footage(Footage("f1", "m1", "/both.mp4", 0, first_us=500_000, end_us=600_500_000))
        yield made


def test_both_matches_have_their_part_of_the_video(library: Library) -> None:
    made = split_match(tasks.open_match(library, "m1"), 400 * SECOND)
    old, new = tasks.open_match(library, "m1"), tasks.open_match(library, made.id)
    assert old.timeline is not None and new.timeline is not None
    assert (old.timeline.length_us, new.timeline.length_us) == (400 * SECOND, 200 * SECOND)
    assert new.footage[0].path == "/both.mp4" and new.footage[0].id != "f1"
    assert (new.info.court, new.info.event) == ("Court 3", "Club night (second match)")


def test_a_split_that_would_lose_something_is_refused(library: Library) -> None:
    opened = tasks.open_match(library, "m1")
    for at_s, words in ((700, "no video"), (4, "ten seconds"), (597, "ten seconds")):
        with pytest.raises(InputError, match=words):
            split_match(opened, at_s * SECOND)
    library.save_footage(Footage("f2", "m1", "/later.mp4", 1, first_us=0, end_us=90 * SECOND))
    with pytest.raises(InputError, match="last video"):
        split_match(tasks.open_match(library, "m1"), 400 * SECOND)
    tasks.remove_footage(library, "f2")
    library.save_footage(Footage("f1", "m1", "/both.mp4", 0, first_us=0, end_us=600 * SECOND, copied=True))
    with pytest.raises(InputError, match="copied into the library"):
        split_match(tasks.open_match(library, "m1"), 400 * SECOND)
    assert len(library.matches()) == 1
