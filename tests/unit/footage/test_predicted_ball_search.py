"""The ball looked for where it should be: found to a fraction of a pixel, and not where there is none."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from goodlength.footage.vision.predicted_ball_search import SearchWindow, search_ball

WIDE, HIGH, COUNT = 320, 180, 24
STEP_US = 40_000


def place(n: float) -> tuple[float, float]:
    return 40.0 + 9.7 * n, 120.0 - 6.3 * n + 0.2 * n * n


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A still, grainy wall with a dark ball that flies, and a wide limb that swings beside it."""
    path = tmp_path_factory.mktemp("ball") / "ball.mp4"
    rng = np.random.default_rng(2)
    wall = np.clip(150 + 25 * cv2.GaussianBlur(rng.normal(size=(HIGH, WIDE)), (0, 0), 3) * 3, 0, 255)
    with av.open(str(path), "w") as made:
        stream = made.add_stream("libx264", rate=25, options={"crf": "12", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = WIDE, HIGH, "yuv420p"
        for n in range(COUNT):
            big = cv2.resize(wall, (WIDE * 8, HIGH * 8), interpolation=cv2.INTER_LINEAR)
            u, v = place(n)
            cv2.circle(big, (round(u * 8), round(v * 8)), 16, 20, -1)
            cv2.line(big, (round((u + 25) * 8), 60 * 8), (round((u + 25) * 8), 140 * 8), 60, 56)
            grey = (
                cv2.resize(big, (WIDE, HIGH), interpolation=cv2.INTER_AREA)
                + rng.normal(size=(HIGH, WIDE)) * 2
            )
            picture = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = n, Fraction(1, 25)
            made.mux(stream.encode(frame))
        made.mux(stream.encode(None))
    return path


def asked(off: tuple[float, float], radius: float = 15.0) -> list[SearchWindow]:
    return [
        SearchWindow(n * STEP_US, place(n)[0] + off[0], place(n)[1] + off[1], radius, 4.0)
        for n in range(4, COUNT - 4)
    ]


def test_the_ball_is_found_to_a_fraction_of_a_pixel(film: Path) -> None:
    found = search_ball(film, asked((4.0, -3.0)))
    assert len(found) >= 14
    off = [
        np.hypot(item.u - place(item.us / STEP_US)[0], item.v - place(item.us / STEP_US)[1]) for item in found
    ]
    assert np.median(off) < 0.5
    assert all(item.contrast > 6 for item in found)


def test_nothing_is_found_where_nothing_moves(film: Path) -> None:
    assert search_ball(film, [SearchWindow(n * STEP_US, 250.0, 30.0, 15.0, 4.0) for n in range(4, 12)]) == []


def test_a_limb_is_no_ball(film: Path) -> None:
    wanted = [SearchWindow(n * STEP_US, place(n)[0] + 25.0, 130.0, 8.0, 4.0) for n in range(4, 16)]
    assert len(search_ball(film, wanted)) <= 1


def test_what_is_off_the_picture_or_the_film_is_passed_over(film: Path) -> None:
    assert search_ball(film, []) == []
    assert search_ball(film, [SearchWindow(8 * STEP_US, -50.0, -50.0, 10.0, 4.0)]) == []
    assert search_ball(film, [SearchWindow(8 * STEP_US + 9_000, 100.0, 90.0, 10.0, 4.0)]) == []
