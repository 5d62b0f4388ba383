"""The view of the court: light off, somebody in front, the camera knocked or shaken are seen picture by picture."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from goodlength.footage.vision.steady_view_spans import (
    COVERED_WORDS,
    DARK_WORDS,
    FAR_LEVEL,
    MOVED_WORDS,
    Fixed,
    Picture,
    Steady,
    View,
    steady_parts,
)

WIDE, HIGH, N = 480, 270, 60


@pytest.fixture(scope="module")
def court() -> Picture:
    """Walls with lines, boxes and marks on them, a little uneven."""
    rng = np.random.default_rng(5)
    picture = np.full((HIGH, WIDE, 3), 190, np.uint8)
    picture[150:] = (120, 150, 180)
    for _ in range(40):
        x, y = int(rng.integers(10, WIDE - 30)), int(rng.integers(10, HIGH - 30))
        shade = [int(v) for v in rng.integers(60, 230, 3)]
        cv2.rectangle(
            picture, (x, y), (x + int(rng.integers(4, 20)), y + int(rng.integers(4, 20))), shade, -1
        )
    return np.asarray(cv2.GaussianBlur(picture, (3, 3), 0), np.uint8)


def seen(court: Picture, k: int, rng: np.random.Generator, shift: float = 0.0) -> tuple[Picture, Picture]:
    """Picture `k`: two players going to and fro, noise, all moved by `shift` px; and what moves in it."""
    picture, moving = court.copy(), np.zeros((HIGH, WIDE), np.uint8)
    for x in (60 + 4 * k, 420 - 5 * k):
        picture[130:200, x : x + 26] = (40, 60, 90)
        moving[130:200, x : x + 26] = 1
    if shift:
        turn = np.array([[1, 0, shift], [0, 1, shift / 2]], np.float32)
        picture = np.asarray(
            cv2.warpAffine(picture, turn, (WIDE, HIGH), borderMode=cv2.BORDER_REPLICATE), np.uint8
        )
    noisy = picture + rng.normal(0, 2.5, picture.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8), moving


def steady(court: Picture, disturb: object = None, shifts: dict[int, float] | None = None) -> Steady:
    rng, fixed, views = np.random.default_rng(2), Fixed(court), []
    for k in range(N):
        picture, moving = seen(court, k, rng, (shifts or {}).get(k, 0.0))
        if callable(disturb):
            picture, moving = disturb(k, picture, moving)
        views.append(fixed.view(picture, moving))
    return steady_parts(np.arange(N) * 0.08, views, largest=0.02)


def test_two_players_before_a_still_camera_interrupt_nothing(court: Picture) -> None:
    found = steady(court)
    assert found.words == ""
    assert [len(part) for part in found.parts] == [N]
    assert found.places == 1


@pytest.mark.parametrize(("shift", "far"), [(0.0, 0), (3.0, 0), (30.0, 4)])
def test_only_a_view_from_elsewhere_is_searched_further_away(
    court: Picture, shift: float, far: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    levels, flow = [], cv2.calcOpticalFlowPyrLK

    def counted(*args: Picture, maxLevel: int, winSize: tuple[int, int]) -> object:
        levels.append(maxLevel)
        return flow(*args, maxLevel=maxLevel, winSize=winSize)

    monkeypatch.setattr(cv2, "calcOpticalFlowPyrLK", counted)
    rng, fixed = np.random.default_rng(3), Fixed(court)
    views = [fixed.view(*seen(court, k, rng, shift)) for k in range(0, N, 15)]
    assert levels.count(FAR_LEVEL) == far
    unit = HIGH / 540.0
    for view in views:
        assert view.corners == pytest.approx(np.tile([shift, shift / 2], (4, 1)) / unit, abs=0.6)


def test_a_camera_that_adapts_to_the_light_interrupts_nothing(court: Picture) -> None:
    def brighter(k: int, picture: Picture, moving: Picture) -> tuple[Picture, Picture]:
        return np.clip(picture * (1.0 + 0.15 * k / N), 0, 255).astype(np.uint8), moving

    assert steady(court, brighter).words == ""


@pytest.mark.parametrize("left", [0.15, 0.5])
def test_the_light_off_parts_a_rally(court: Picture, left: float) -> None:
    def off(k: int, picture: Picture, moving: Picture) -> tuple[Picture, Picture]:
        return ((picture * left).astype(np.uint8), moving) if 20 <= k < 38 else (picture, moving)

    found = steady(court, off)
    assert found.words == DARK_WORDS
    assert sorted((int(part[0]), int(part[-1])) for part in found.parts) == [(0, 17), (40, N - 1)]


def test_the_light_off_for_a_moment_only_takes_its_pictures(court: Picture) -> None:
    def off(k: int, picture: Picture, moving: Picture) -> tuple[Picture, Picture]:
        return ((picture * 0.2).astype(np.uint8), moving) if 20 <= k < 24 else (picture, moving)

    (part,) = steady(court, off).parts
    assert not set(part.tolist()) & set(range(18, 26))
    assert len(part) == N - 8


def test_somebody_in_front_parts_a_rally(court: Picture) -> None:
    def front(k: int, picture: Picture, moving: Picture) -> tuple[Picture, Picture]:
        if 25 <= k < 45:
            picture, moving = picture.copy(), moving.copy()
            picture[60:, 180:300] = (50, 40, 70)
            moving[60:, 180:300] = 1
        return picture, moving

    found = steady(court, front)
    assert found.words == COVERED_WORDS
    assert sorted((int(part[0]), int(part[-1])) for part in found.parts) == [(0, 22), (47, N - 1)]


@pytest.mark.parametrize("px", [1.5, 4.0, 9.0])
def test_a_knock_parts_a_rally_where_it_happens(court: Picture, px: float) -> None:
    """8 px of a picture 1080 high are 2 px here; the smallest is three quarters of that."""
    found = steady(court, shifts=dict.fromkeys(range(35, N), px))
    assert found.words == MOVED_WORDS
    assert found.places == 2
    assert sorted((int(part[0]), int(part[-1])) for part in found.parts) == [(0, 34), (35, N - 1)]


def test_a_smaller_knock_counts_where_the_camera_asks_for_it(court: Picture) -> None:
    """Half a pixel of a picture 270 high: a pixel of one 540 high."""
    rng, fixed = np.random.default_rng(2), Fixed(court)
    views = [fixed.view(*seen(court, k, rng, 0.5 if k >= 35 else 0.0)) for k in range(N)]
    times = np.arange(N) * 0.08
    assert steady_parts(times, views, 0.02).words == ""
    found = steady_parts(times, views, 0.02, shift_px=0.7)
    assert found.words == MOVED_WORDS
    assert max(len(part) for part in found.parts if part[0] < 34) >= 30
    assert not any(part[0] < 33 and part[-1] > 36 for part in found.parts)


def test_a_shake_that_comes_to_rest_takes_only_its_pictures(court: Picture) -> None:
    found = steady(court, shifts=dict(zip(range(30, 35), (6.0, -5.0, 4.0, -3.0, 2.5), strict=True)))
    assert found.words == MOVED_WORDS
    (part,) = found.parts
    assert not set(part.tolist()) & set(range(30, 35))
    assert len(part) >= N - 9


def test_a_court_without_marks_is_not_said_to_move() -> None:
    plain = np.full((HIGH, WIDE, 3), 128, np.uint8)
    views = [Fixed(plain).view(plain, np.zeros((HIGH, WIDE), np.uint8)) for _ in range(3)]
    assert all(isinstance(view, View) and np.isnan(view.corners).all() for view in views)
    assert steady_parts(np.arange(3) * 0.08, views).words == ""


def test_a_rally_dark_for_the_most_part_has_no_light_part_taken_for_dark(court: Picture) -> None:
    def off(k: int, picture: Picture, moving: Picture) -> tuple[Picture, Picture]:
        return ((picture * 0.2).astype(np.uint8), moving) if k >= 20 else (picture, moving)

    found = steady(court, off)
    assert DARK_WORDS in found.words
    assert [(int(part[0]), int(part[-1])) for part in found.parts] == [(0, 17)]
