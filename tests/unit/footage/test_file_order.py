"""Several files of one match (odd files C22): their order, and marks that do not drift at joins."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from goodlength.clock import MediaPosition
from goodlength.footage.media.file_order import in_natural_order, join
from goodlength.footage.media.probe import probe_with_frames
from goodlength.footage.media.still_image import still
from goodlength.synthetic.test_card import read_card

Film = Callable[..., Path]


@pytest.mark.parametrize(
    "wanted",
    [
        ["game 1.mp4", "game 2.mp4", "game 10.mp4"],
        ["AB010123.MP4", "AB020123.MP4", "AB010124.MP4", "AB020124.MP4"],
        ["2024-03-01 a.mp4", "2024-03-02 a.mp4", "2024-11-01 a.mp4"],
        ["clip.mp4", "clip2.mp4", "clip10.mp4"],
        ["Übung 1.mp4", "U\u0308bung 2.mp4", "Übung 3.mp4"],
        ["part1of2.mov", "part2of2.mov"],
    ],
)
def test_names_count_as_a_person_would(wanted: list[str]) -> None:
    for mixed in itertools.permutations(wanted):
        assert [p.path.name for p in in_natural_order(mixed)] == wanted


def test_shadow_files_are_left_out_and_reasons_are_given() -> None:
    placed = in_natural_order(["AB020007.MP4", "._AB010007.MP4", "AB010007.MP4"])
    assert [p.words for p in placed] == [
        "1 of 2: part 1 of recording 7, by its name",
        "2 of 2: part 2 of recording 7, by its name",
    ]
    assert in_natural_order([]) == ()


def test_files_are_joined_by_their_last_pictures_end(film: Film) -> None:
    """Each part's sound is longer than its picture, as segmenting recorders leave it; marks must not drift."""
    parts = [
        film(
            f"ch{i}.mp4",
            stamps=[s * 512 + 1024 * (i == 0) for s in range(15)],
            base=Fraction(1, 15360),
            first_number=15 * i,
            sound_to_s=0.58,
        )
        for i in range(4)
    ]
    tables = [(str(i), probe_with_frames(path, settle_s=0)[1]) for i, path in enumerate(parts)]
    line = join(tables)
    assert line.length_us == pytest.approx(2_000_000, abs=4)
    assert not line.gaps
    for number in (0, 14, 15, 31, 59):
        place = line.locate(round((number + 0.5) / 30 * 1e6))
        assert isinstance(place, MediaPosition)

        shown = Image.open(io.BytesIO(still(parts[int(place.footage_id)], place.media_us))).convert("L")
        assert read_card(np.asarray(shown)) == number
