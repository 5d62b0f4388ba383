"""The frame table: which picture is shown when, and how the page is told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from goodlength.errors import FootageError, OutOfRange
from goodlength.footage.media.frame_presentation_time_table import FrameTable, table_of, us_of
from goodlength.media_time import TimeBase, Timestamp

NTSC = TimeBase(1001, 30000)


def even_table(n: int, base: TimeBase, step: int, first: int = 0) -> FrameTable:
    """A table of n pictures with equal steps."""
    return table_of(first + step * np.arange(n), base, step, np.ones(n, bool), "decoded")


def test_a_picture_is_shown_from_its_rounded_stamp_on() -> None:
    """Frame 1 of 29.97 stands at 33366.67 µs, told as 33367: asking for 33367 must give frame 1."""
    table = even_table(4, TimeBase(1, 30000), 1001)
    assert [table.index_at(us) for us in (0, 33_366, 33_367, 66_732, 66_733)] == [0, 0, 1, 1, 2]


@pytest.mark.parametrize(
    ("span", "pictures"),
    [
        ((0, 1), (0, 0)),
        ((0, 40_000), (0, 0)),
        ((0, 40_001), (0, 1)),
        ((39_999, 80_000), (0, 1)),
        ((40_000, 80_000), (1, 1)),
    ],
)
def test_a_span_takes_the_pictures_shown_in_it(span: tuple[int, int], pictures: tuple[int, int]) -> None:
    assert even_table(5, TimeBase(1, 25), 1).between(*span) == pictures


def test_edges_of_a_table() -> None:
    table = even_table(2, TimeBase(1, 25), 1, first=10)
    assert (table.first_us, table.end_us) == (400_000, 480_000)
    assert (table.index_at(0), table.index_at(10**9)) == (0, 1)
    assert table.timestamp(1) == Timestamp(11, TimeBase(1, 25))


def test_the_page_gets_equal_steps_counted_together() -> None:
    table = table_of(np.array([7, 8, 9, 11, 13, 14]), TimeBase(1, 25), 2, np.ones(6, bool), "packets")
    plain = table.to_json()
    assert plain == {
        "n": 6,
        "base": [1, 25],
        "first": 7,
        "end": 16,
        "steps": [[1, 2], [2, 2], [1, 1]],
        "shift": 0,
        "counted": "packets",
    }
    rebuilt = np.cumsum([7, *(step for step, count in plain["steps"] for _ in range(count))])  # type: ignore[attr-defined]
    assert rebuilt.tolist() == table.pts.tolist()


def test_a_table_is_kept_whole(tmp_path: Path) -> None:
    keys = np.array([True, False, False])
    table = FrameTable(np.array([-5, 0, 9]), NTSC, np.array([5, 9, 1]), keys, "decoded", -5, "abc", 2)
    table.save(tmp_path / "t.npz")
    again = FrameTable.load(tmp_path / "t.npz")
    assert again.pts.tolist() == [-5, 0, 9]
    assert again.durations.tolist() == [5, 9, 1]
    assert again.keys.tolist() == keys.tolist()
    assert (again.base, again.counted, again.shift_pts) == (NTSC, "decoded", -5)
    assert (again.fingerprint, again.jumps_back) == ("abc", 2)
    assert [p.name for p in tmp_path.iterdir()] == ["t.npz"]


@pytest.mark.parametrize("content", [b"", b"hello", b"PK\x03\x04 broken"])
def test_a_broken_table_says_to_look_again(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "t.npz").write_bytes(content)
    with pytest.raises(FootageError, match="Check the video again"):
        FrameTable.load(tmp_path / "t.npz")
    with pytest.raises(FootageError):
        FrameTable.load(tmp_path / "away.npz")


def test_stamps_must_rise() -> None:
    with pytest.raises(OutOfRange, match="must increase"):
        table_of(np.array([0, 2, 2]), NTSC, 1, np.ones(3, bool), "packets")
    with pytest.raises(OutOfRange, match="at least one"):
        table_of(np.array([], np.int64), NTSC, 1, np.ones(0, bool), "packets")


def test_halves_go_to_the_even_microsecond() -> None:
    base = TimeBase(1, 2_000_000)
    assert [us_of(t, base) for t in (1, 3, 5, -1)] == [0, 2, 2, 0]
    assert even_table(4, base, 1).starts_us.tolist() == [0, 0, 1, 2]
