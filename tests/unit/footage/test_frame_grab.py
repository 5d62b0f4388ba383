"""Pictures of a film one by one: the right ones, upright, and at their own time."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from goodlength.errors import OutOfRange
from goodlength.footage.media.frame_grab import frames_in, grab_frame
from goodlength.synthetic.numbered_frame_video import Recipe, draw, read_card


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return draw(tmp_path_factory.mktemp("peek") / "film.mp4", Recipe(tuple(range(20)), sound=""))


def test_a_span_gives_its_pictures_with_their_times(film: Path) -> None:
    every = list(frames_in(film, 0, 10_000_000))
    assert [read_card(rgb[:, :, 0]) for _, rgb in every] == list(range(20))
    times = [us for us, _ in every]
    some = grab_frame(film, times[7] + 10, times[10])
    assert [item.us for item in some] == times[7:10]
    shown = np.asarray(Image.open(io.BytesIO(some[0].jpeg)))
    assert read_card(shown[:, :, 0]) == 7 and shown.shape[:2] == (some[0].height, some[0].width)


def test_one_moment_gives_one_picture_and_none_outside(film: Path) -> None:
    times = [us for us, _ in frames_in(film, 0, 10_000_000)]
    assert [item.us for item in grab_frame(film, times[4])] == [times[4]]
    with pytest.raises(OutOfRange, match="shows no frame"):
        grab_frame(film, 60_000_000)
