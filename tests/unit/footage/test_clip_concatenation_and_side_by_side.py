"""Reels join without encoding again and lose no picture; two strikes meet at contact."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from goodlength.errors import Cancelled, InputError, OutOfRange
from goodlength.footage.edit.clip_concatenation import ReelPiece, reel
from goodlength.footage.edit.clip_export import encode_clip
from goodlength.footage.edit.drawing_overlay import HOLD_S, OverlayLine
from goodlength.footage.edit.side_by_side_video import (
    PAIR_GAP,
    PAIR_HEIGHT,
    StrikeClip,
    side_by_side,
)
from goodlength.synthetic.numbered_frame_video import lumas, read_card

Film = Callable[..., Path]


def numbers(path: Path) -> list[int | None]:
    return [read_card(luma) for luma in lumas(path)]


def packets(path: Path) -> list[bytes]:
    with av.open(f"file:{path}") as container:
        return [bytes(p) for p in container.demux(video=0) if p.pts is not None]


def test_a_reel_holds_every_picture_of_its_pieces_in_order(even: Path, tmp_path: Path) -> None:
    spans = ((1_000_000, 1_500_000), (0, 200_000), (500_000, 700_000))
    made = reel(
        [ReelPiece(str(even), *span, words=f"Piece <{n}> & more") for n, span in enumerate(spans)],
        tmp_path / "reel.mp4",
    )
    assert numbers(tmp_path / "reel.mp4") == [*range(30, 45), *range(6), *range(15, 21)]
    assert (made.joined, made.encoded) == (3, 0)
    assert made.starts_us == (0, 500_000, 700_000)
    assert made.end_us == 900_000
    told = Path(made.captions).read_text()
    assert told.startswith("WEBVTT\n\n00:00:00.000 --> 00:00:00.500\nPiece &lt;0> &amp; more\n")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["reel.mp4", "reel.vtt"]


def test_clips_made_before_are_joined_packet_by_packet(even: Path, tmp_path: Path) -> None:
    clips = []
    for n, span in enumerate(((0, 400_000), (1_200_000, 1_800_000))):
        encode_clip(even, *span, tmp_path / f"{n}.mp4")
        clips.append(tmp_path / f"{n}.mp4")
    made = reel([ReelPiece(str(clip)) for clip in clips], tmp_path / "reel.mp4")
    assert made.encoded == 0
    assert packets(tmp_path / "reel.mp4") == packets(clips[0]) + packets(clips[1])  # the very bytes
    with av.open(str(tmp_path / "reel.mp4")) as container:
        assert container.streams.audio
        stamps = [f.pts * f.time_base for f in container.decode(video=0)]
    assert stamps == [Fraction(n, 30) for n in range(30)]
    assert all(clip.is_file() for clip in clips)


def test_only_the_odd_one_is_encoded(even: Path, film: Film, tmp_path: Path) -> None:
    odd = film("odd.mp4", stamps=range(30), width=240, height=120, sound="")
    made = reel(
        [
            ReelPiece(str(even), 0, 300_000),
            ReelPiece(str(odd), 0, 300_000),
            ReelPiece(str(even), 300_000, 600_000),
        ],
        tmp_path / "reel.mp4",
    )
    assert (made.joined, made.encoded) == (2, 1)
    with av.open(str(tmp_path / "reel.mp4")) as container:
        shown = [f.to_ndarray(format="gray") for f in container.decode(video=0)]
    assert len(shown) == 27
    assert {picture.shape for picture in shown} == {(120, 160)}
    assert shown[12][:8].mean() < 30  # the wide picture stands whole between black bars
    assert [read_card(p) for p in (*shown[:9], *shown[18:])] == [*range(9), *range(9, 18)]


def test_what_cannot_be_a_reel_leaves_nothing(even: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="1 to 200"):
        reel([], tmp_path / "reel.mp4")
    with pytest.raises(OutOfRange):
        reel(
            [ReelPiece(str(even), 0, 100_000), ReelPiece(str(even), 9_000_000, 9_500_000)],
            tmp_path / "reel.mp4",
        )
    with pytest.raises(Cancelled):
        reel([ReelPiece(str(even), 0, 100_000)] * 3, tmp_path / "reel.mp4", cancel=lambda: True)
    assert list(tmp_path.iterdir()) == []


def halves(path: Path) -> list[tuple[int | None, int | None]]:
    """The numbers in the left and the right picture of each frame."""
    found = []
    for luma in lumas(path):
        wide = (luma.shape[1] - PAIR_GAP) // 2
        found.append((read_card(luma[:, :wide]), read_card(luma[:, -wide:])))
    return found


def test_two_strikes_meet_at_contact(even: Path, film: Film, tmp_path: Path) -> None:
    slow = film("slow.mp4", stamps=range(0, 120, 2), base=Fraction(1, 50))  # 25 a second
    made = side_by_side(
        StrikeClip(str(even), 1_000_000),
        StrikeClip(str(slow), 1_200_000),
        tmp_path / "pair.mp4",
        before_s=0.5,
        after_s=0.5,
    )
    assert made.frames == 30
    assert made.strike_us == 500_000
    assert made.height == PAIR_HEIGHT
    seen = halves(tmp_path / "pair.mp4")
    assert seen[15] == (30, 30)  # 1.0 s at 30 a second; 1.2 s at 25 a second
    for n, (left, right) in enumerate(seen):
        assert left == 15 + n
        assert right == int((1.2 + (n - 15) / 30) * 25 + 1e-6)


def test_mirrored_and_slower(even: Path, tmp_path: Path) -> None:
    strike = StrikeClip(str(even), 1_000_000)
    plain = side_by_side(strike, strike, tmp_path / "a.mp4", before_s=0.2, after_s=0.2)
    turned = side_by_side(
        strike,
        StrikeClip(str(even), 1_000_000, True),
        tmp_path / "b.mp4",
        before_s=0.2,
        after_s=0.2,
        slower=4,
    )
    assert turned.frames == plain.frames
    assert turned.end_us == 4 * plain.end_us
    first = next(iter(lumas(tmp_path / "b.mp4"))).astype(int)
    wide = (first.shape[1] - PAIR_GAP) // 2
    assert np.abs(first[:, :wide] - first[:, -wide:][:, ::-1]).mean() < 6


def test_a_strike_near_the_edge_stands_still_and_one_outside_is_said(even: Path, tmp_path: Path) -> None:
    side_by_side(
        StrikeClip(str(even), 100_000),
        StrikeClip(str(even), 1_000_000),
        tmp_path / "p.mp4",
        before_s=0.5,
        after_s=0.3,
    )
    seen = halves(tmp_path / "p.mp4")
    assert [left for left, _ in seen[:12]] == [0] * 12
    with pytest.raises(OutOfRange, match="shows no frame"):
        side_by_side(StrikeClip(str(even), 9_000_000), StrikeClip(str(even), 0), tmp_path / "q.mp4")
    with pytest.raises(OutOfRange, match="times slower"):
        side_by_side(StrikeClip(str(even), 0), StrikeClip(str(even), 0), tmp_path / "q.mp4", slower=3)
    assert [p.name for p in tmp_path.iterdir()] == ["p.mp4"]


def test_joining_costs_little_beside_encoding(film: Film, tmp_path: Path) -> None:
    """A join of ten clips takes a fraction of what cutting one of them took."""
    source = film("long.mp4", stamps=range(300), width=640, height=360)
    begun = time.process_time()
    encode_clip(source, 0, 10_000_000, tmp_path / "c.mp4")
    cutting = time.process_time() - begun
    begun = time.process_time()
    reel([ReelPiece(str(tmp_path / "c.mp4"))] * 10, tmp_path / "reel.mp4")
    assert time.process_time() - begun < 10 * cutting / 4


def test_a_pair_with_something_drawn_stands_still_at_contact(even: Path, tmp_path: Path) -> None:
    arrow = (OverlayLine("arrow", ((0.2, 0.2), (0.8, 0.8))),)
    plain = side_by_side(
        StrikeClip(str(even), 1_000_000), StrikeClip(str(even), 1_500_000), tmp_path / "a.mp4"
    )
    made = side_by_side(
        StrikeClip(str(even), 1_000_000),
        StrikeClip(str(even), 1_500_000, lines=arrow),
        tmp_path / "b.mp4",
        slower=2,
    )
    assert made.frames == plain.frames + HOLD_S * 30 // 2
    assert made.strike_us == 2 * plain.strike_us
    with av.open(str(tmp_path / "b.mp4")) as container:
        pictures = [f.to_ndarray(format="rgb24") for f in container.decode(video=0)]
    yellow = [int(((p[..., 0] > 180) & (p[..., 2] < 140)).sum()) for p in pictures]
    drawn = [n for n, count in enumerate(yellow) if count > 500]
    assert drawn == list(range(30, 30 + 1 + HOLD_S * 30 // 2))
    assert not (
        (pictures[40][:, : pictures[40].shape[1] // 2, 0] > 180)
        & (pictures[40][:, : pictures[40].shape[1] // 2, 2] < 140)
    ).any()


def test_a_reel_stands_still_at_each_frame_that_is_drawn_on(even: Path, tmp_path: Path) -> None:
    light = OverlayLine("spotlight", ((0.9, 0.9), (0.95, 0.9)), at_us=516_000)  # inside frame 15
    words = OverlayLine("text", ((0.1, 0.3),), "wide", 816_000)  # inside frame 24
    piece = ReelPiece(str(even), 200_000, 1_000_000, "Lob", lines=(words, light))
    made = reel([piece, ReelPiece(str(even), 1_000_000, 1_200_000)], tmp_path / "drawn.mp4")
    with av.open(str(tmp_path / "drawn.mp4")) as container:
        pictures = [f.to_ndarray(format="rgb24") for f in container.decode(video=0)]
    shaded = [p.mean() < 0.7 * pictures[0].mean() for p in pictures]
    yellow = [int(((p[..., 0] > 150) & (p[..., 2] < 120)).sum()) > 10 for p in pictures]
    held = HOLD_S * 30
    # frames 6 to 15, in the light; 15 again to 24, the words; 24 again to 29; the second piece
    before, between, rest = [False] * 10, [False] * 10, [False] * 12
    assert shaded == [*before, *[True] * held, *between, *[False] * held, *rest]
    assert yellow == [*before, *[False] * held, *between, *[True] * held, *rest]
    assert made.end_us == pytest.approx(len(pictures) / 30 * 1e6, abs=40_000)
    assert (tmp_path / "drawn.vtt").read_text().count("Lob") == 1
    plain = reel([ReelPiece(str(even), 200_000, 1_000_000)], tmp_path / "plain.mp4")
    assert plain.end_us == pytest.approx(24 / 30 * 1e6, abs=40_000)


def test_a_slow_piece_shows_every_picture_longer_and_has_no_sound(even: Path, tmp_path: Path) -> None:
    pieces = [ReelPiece(str(even), at, at + 300_000, slower=4) for at in (0, 1_000_000)]
    made = reel(pieces, tmp_path / "slow.mp4")
    assert (made.joined, made.encoded) == (2, 0)
    assert numbers(tmp_path / "slow.mp4") == [*range(9), *range(30, 39)]
    assert made.starts_us == (0, 1_200_000)
    assert made.end_us == 2_400_000
    with av.open(str(tmp_path / "slow.mp4")) as container:
        assert not container.streams.audio
        stamps = [f.pts * f.time_base for f in container.decode(video=0)]
    assert stamps == [Fraction(4 * n, 30) for n in range(18)]
    with pytest.raises(OutOfRange, match="1, 2, 4 or 8"):
        reel([ReelPiece(str(even), 0, 300_000, slower=3)], tmp_path / "x.mp4")
