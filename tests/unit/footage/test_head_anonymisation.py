"""Heads covered: of drawn figures at known places, in films bit for bit elsewhere, and where people were lost."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_compositing import NAVY, OCHRE, Brush
from goodlength.demo.film.player_skeleton import FigureMoment, pose
from goodlength.demo.play.court_camera import CAMERA
from goodlength.footage.edit.clip_export import encode_clip
from goodlength.footage.vision import head_anonymisation
from goodlength.footage.vision.head_anonymisation import (
    HOLD,
    HeadDetections,
    HeadRegion,
    anonymised_frames,
    blur_regions,
    cover_heads,
    detect_heads,
    head_regions_of,
    lost,
)
from goodlength.footage.vision.person_detection import PersonDetection

SPOTS = ((1.4, 4.0), (4.9, 7.0))
SOMEBODY = PersonDetection(100.0, 50.0, 140.0, 170.0, 0.9)
HEAD = HeadRegion(110.0, 50.0, 130.0, 75.0, True)


def drawn() -> np.ndarray:
    picture = empty_court(CAMERA).copy()
    brush = Brush(picture, CAMERA)
    for (x, y), clothes in zip(SPOTS, (NAVY, OCHRE), strict=True):
        brush.figure(pose(FigureMoment(x, y, 0.0, 0.0, 0.0, None, None)), clothes)
    return picture


def heads() -> list[tuple[int, int]]:
    """Pixels of the two heads' middles."""
    found = []
    for x, y in SPOTS:
        u, v, _ = CAMERA.see(*pose(FigureMoment(x, y, 0.0, 0.0, 0.0, None, None)).head)
        found.append((round(v), round(u)))
    return found


def inside(patches: list[HeadRegion], at: tuple[int, int]) -> bool:
    return any(p.left <= at[1] <= p.right and p.top <= at[0] <= p.bottom for p in patches)


def test_heads_of_drawn_players_are_covered_and_their_feet_are_not() -> None:
    seen = detect_heads(drawn())
    assert len(seen.people) >= 2
    assert all(inside(list(seen.heads), at) for at in heads())
    for x, y in SPOTS:
        u, v, _ = CAMERA.see(x, y, 0.1)
        sure = [head for head in seen.heads if head.is_round]
        assert not inside(sure, (round(v), round(u)))


def test_what_is_covered_cannot_be_told_any_more_and_the_rest_stays() -> None:
    rng = np.random.default_rng(1)
    picture = rng.integers(0, 256, (120, 160, 3)).astype(np.uint8)
    made = cover_heads(picture, [HeadRegion(40, 20, 100, 80)])
    assert made[20:80, 40:100].std() < 0.2 * picture[20:80, 40:100].std()
    kept = made.copy()
    kept[20:80, 40:100] = picture[20:80, 40:100]
    assert np.array_equal(kept, picture)
    assert np.array_equal(cover_heads(picture, [HeadRegion(-50, -50, -10, -10)]), picture)


def test_somebody_seen_a_moment_ago_or_soon_is_covered_whole_where_he_was() -> None:
    nobody, item = HeadDetections((), ()), HeadDetections((SOMEBODY,), (HEAD,))
    for patches in (head_regions_of(nobody, [item, nobody], []), head_regions_of(nobody, [], [nobody, item])):
        assert len(patches) == 1
        assert patches[0].top < SOMEBODY.top and patches[0].bottom > SOMEBODY.bottom
    assert head_regions_of(item, [item], [item]) == [HEAD]


def test_somebody_who_ran_on_is_not_taken_for_lost() -> None:
    ran = PersonDetection(130.0, 52.0, 170.0, 172.0, 0.8)
    assert lost([SOMEBODY], [ran], steps=3) == []
    assert lost([SOMEBODY, ran], [ran], steps=1) == [ran] or lost([SOMEBODY, ran], [ran], steps=1) == [
        SOMEBODY
    ]
    assert lost([SOMEBODY], [PersonDetection(400.0, 50.0, 440.0, 170.0, 0.9)], steps=3) == [SOMEBODY]


def test_a_picture_not_looked_at_takes_both_neighbours_heads() -> None:
    item = HeadDetections((SOMEBODY,), (HEAD,))
    later = HeadDetections((SOMEBODY,), (HeadRegion(112.0, 50.0, 132.0, 75.0, True),))
    patches = head_regions_of(None, [item], [later])
    assert len(patches) == 3
    assert patches[0].left < HEAD.left


def test_a_head_that_runs_is_covered_on_its_way_between_two_pictures_looked_at() -> None:
    there = PersonDetection(160.0, 50.0, 200.0, 170.0, 0.9)
    item = HeadDetections((SOMEBODY,), (HEAD,))
    later = HeadDetections((there,), (HeadRegion(138.0, 50.0, 158.0, 75.0, True),))
    for n in range(4):  # of four pictures not looked at, the head is further along in each
        before, ahead = [item, *[None] * n], [*[None] * (3 - n), later]
        middle = (62, round(120 + 28 * (n + 1) / 5))
        assert inside(head_regions_of(None, before, ahead), middle)
    apart = HeadDetections((there,), (HeadRegion(300.0, 50.0, 320.0, 75.0, True),))
    assert not inside(head_regions_of(None, [item], [apart]), (62, 215)), "another head is no way"


def test_large_pictures_are_seen_whole_in_every_second_look_and_else_where_people_were(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def counted(_picture: np.ndarray, _sure: float, tiles: object = None) -> tuple[PersonDetection, ...]:
        asked.append(tiles)
        return (SOMEBODY,)

    asked: list[object] = []
    monkeypatch.setattr(head_anonymisation, "detect_people", counted)
    pictures = [np.zeros((1080, 1920, 3), np.uint8) for _ in range(8)]
    assert len(list(blur_regions(iter(pictures), 25.0))) == 8
    assert asked == [None, [(0, 0, 1080)], None, [(0, 0, 1080)]]


def test_an_unsure_person_is_covered_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    unsure = PersonDetection(*(SOMEBODY.left, SOMEBODY.top, SOMEBODY.right, SOMEBODY.bottom), 0.3)
    monkeypatch.setattr(head_anonymisation, "detect_people", lambda _picture, _sure, **_: (unsure,))
    (patch,) = detect_heads(drawn()).heads
    assert patch.bottom > unsure.bottom
    assert not patch.is_round


@pytest.mark.parametrize(("rate", "every"), [(10.0, 1), (25.0, 2), (50.0, 4), (240.0, 5), (1000.0, 5)])
def test_as_many_pictures_come_out_as_go_in(rate: float, every: int, monkeypatch: pytest.MonkeyPatch) -> None:
    looks = []

    def counted(*_: object) -> HeadDetections:
        looks.append(1)
        return HeadDetections((), ())

    monkeypatch.setattr(head_anonymisation, "detect_heads", counted)
    pictures = [np.full((20, 30, 3), n, np.uint8) for n in range(2 * HOLD + 3)]
    made = list(blur_regions(iter(pictures), rate))
    assert [int(item[0, 0, 0]) for item in made] == list(range(2 * HOLD + 3))
    assert len(looks) == -(-len(pictures) // every)


def test_frames_of_a_film_keep_stamps_and_all_pixels_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        head_anonymisation,
        "detect_heads",
        lambda *_: HeadDetections((SOMEBODY,), (HeadRegion(100, 40, 160, 100),)),
    )
    rng = np.random.default_rng(2)
    frames = []
    for n in range(3):
        planes = rng.integers(16, 235, (180 * 3 // 2, 320)).astype(np.uint8)
        frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
        frame.pts, frame.time_base = 40 * n, Fraction(1, 1000)
        frames.append(frame)
    made = list(anonymised_frames(iter(frames)))
    assert [item.pts for item in made] == [0, 40, 80]
    before, after = frames[2].to_ndarray(), made[2].to_ndarray()  # looked at, as every second is
    changed = np.argwhere(before != after)
    bright = changed[changed[:, 0] < 180]
    assert bright[:, 0].min() >= 40 and bright[:, 0].max() < 100
    assert bright[:, 1].min() >= 100 and bright[:, 1].max() < 160
    assert len(changed) > len(bright)


def test_a_clip_with_heads_covered_keeps_its_pictures_and_sound(tmp_path: Path, even: Path) -> None:
    made = encode_clip(even, 500_000, 700_000, tmp_path / "covered.mp4", heads_covered=True)
    assert made.frames == 6
    assert made.sound
