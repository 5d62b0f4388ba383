"""Stills and the one upright frame space."""

from __future__ import annotations

import io
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from goodlength.errors import FootageGone, OutOfRange
from goodlength.footage.media.display_transform import DisplayShape
from goodlength.footage.media.still_frame_png import still
from goodlength.synthetic.numbered_frame_video import CORNERS, card, read_card, way_up

Film = Callable[..., Path]


def picture(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


@pytest.mark.parametrize("i", [0, 1, 14, 15, 16, 31, 59])
def test_a_still_is_the_picture_shown_then(untouched: Path, i: int) -> None:
    for us in (round(i / 30 * 1e6), round((i + 0.5) / 30 * 1e6), round((i + 1) / 30 * 1e6) - 1):
        shown = picture(still(untouched, us))
        assert shown.size == (160, 120)
        assert read_card(np.asarray(shown.convert("L"))) == i


def test_a_still_before_the_first_picture_is_the_first_and_after_the_last_is_none(
    even: Path, film: Film
) -> None:
    late = film("late.mp4", stamps=[i * 512 + 11527 for i in range(30)], base=Fraction(1, 15360), sound="")
    with pytest.raises(OutOfRange, match="shows no frame"):
        still(late, 0)
    with pytest.raises(OutOfRange, match="Choose a time inside"):
        still(even, 2_000_000)
    with pytest.raises(FootageGone):
        still(even.with_name("away.mp4"), 0)


def test_a_turned_film_gives_an_upright_still(film: Film) -> None:
    for turn in (90, 180, 270):
        path = film("turned.mp4", stamps=range(4), turn_deg=turn, sound="")
        shown = np.asarray(picture(still(path, 0)).convert("L"))
        assert way_up(shown) == way_up(np.rot90(card(0), turn // 90))
    assert way_up(card(0)) == tuple(CORNERS)


def test_wide_pixels_interlaced_and_high_range_stills(film: Film) -> None:
    wide = film("sar.mp4", stamps=range(4), aspect=Fraction(4, 3), sound="")
    assert picture(still(wide, 0)).size == (213, 120)
    comb = film("comb.mp4", stamps=range(4), sound="", options={"flags": "+ilme+ildct"})
    assert read_card(np.asarray(picture(still(comb, 40_000)).convert("L"))) == 1
    hlg = film(
        "hlg.mov",
        stamps=range(4),
        codec="libx265",
        pixels="yuv420p10le",
        b_frames=0,
        sound="",
        options={"x265-params": "log-level=none:transfer=arib-std-b67:colorprim=bt2020:colormatrix=bt2020nc"},
    )
    assert read_card(np.asarray(picture(still(hlg, 0)).convert("L"))) == 0


def test_a_smaller_still(even: Path) -> None:
    assert picture(still(even, 0, short_side=60)).size == (80, 60)


@pytest.mark.parametrize(
    ("shape", "short_side", "size"),
    [
        (DisplayShape(1920, 1080), 720, (1280, 720)),
        (DisplayShape(1920, 1080), None, (1920, 1080)),
        (DisplayShape(1920, 1080, turn_deg=90), 720, (720, 1280)),
        (DisplayShape(640, 360), 720, (640, 360)),  # never enlarged
        (DisplayShape(161, 121), None, (160, 120)),
        (DisplayShape(720, 576, (16, 11)), 540, (960, 528)),
        (DisplayShape(2560, 1080), 720, (1280, 540)),
        (DisplayShape(1, 1), None, (2, 2)),
    ],
)
def test_sizes_are_even_and_keep_their_proportion(
    shape: DisplayShape, short_side: int | None, size: tuple[int, int]
) -> None:
    assert shape.fitted(short_side) == size
