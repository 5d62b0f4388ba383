"""Stills of strikes on one sheet, and the page with its clips as one zip."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from goodlength.errors import Cancelled, InputError, OutOfRange
from goodlength.footage.edit.clip_concatenation import ReelPiece
from goodlength.footage.edit.drawing_overlay import OverlayLine
from goodlength.footage.edit.handout_zip_archive import pack
from goodlength.footage.edit.strike_contact_sheet import EDGE, LINE, WIDE, StillRow, still_sheet
from goodlength.footage.media.still_frame_png import still

Film = Callable[..., Path]


def cell(sheet: Image.Image, row_top: int, k: int, high: int) -> np.ndarray:
    left = EDGE + k * (WIDE + EDGE)
    return np.asarray(sheet.crop((left, row_top + LINE, left + WIDE, row_top + LINE + high)), float)


def test_a_row_holds_the_pictures_before_at_and_after_contact(even: Path, tmp_path: Path) -> None:
    wide, high = still_sheet([StillRow(str(even), 1_000_000, "Game 1, 0–0: Lob, tight")], tmp_path / "s.png")
    sheet = Image.open(tmp_path / "s.png")
    assert sheet.size == (wide, high)
    tall = high - EDGE - LINE - EDGE
    for k, us in enumerate((650_000, 1_000_000, 1_250_000)):
        wanted = Image.open(io.BytesIO(still(even, us))).resize((WIDE, tall))
        above = slice(0, tall - 60)  # the words stand at the foot of a picture
        apart = cell(sheet, EDGE, k, tall)[above] - np.asarray(wanted, float)[above]
        assert np.abs(apart).max() == 0


def test_a_moment_the_film_does_not_show_is_left_blank(even: Path, tmp_path: Path) -> None:
    still_sheet([StillRow(str(even), 100_000)], tmp_path / "s.png")
    sheet = Image.open(tmp_path / "s.png")
    blank = cell(sheet, EDGE, 0, 200)[60:, 40:-40]
    assert blank.min() == blank.max(axis=(0, 1)).min()
    assert cell(sheet, EDGE, 1, 200).std() > 10


def test_what_is_drawn_stands_on_the_picture_at_contact_alone(even: Path, tmp_path: Path) -> None:
    lines = (OverlayLine("angle", ((0.2, 0.2), (0.5, 0.5), (0.8, 0.2))),)
    still_sheet([StillRow(str(even), 1_000_000)], tmp_path / "a.png")
    _, high = still_sheet([StillRow(str(even), 1_000_000, lines=lines)], tmp_path / "b.png")
    plain, drawn = Image.open(tmp_path / "a.png"), Image.open(tmp_path / "b.png")
    tall = high - EDGE - LINE - EDGE
    apart = [np.abs(cell(plain, EDGE, k, tall) - cell(drawn, EDGE, k, tall)).max() for k in range(3)]
    assert apart[0] == apart[2] == 0
    assert apart[1] > 100


@pytest.mark.parametrize("count", [0, 7])
def test_a_sheet_without_rows_or_with_too_many_is_refused(even: Path, tmp_path: Path, count: int) -> None:
    with pytest.raises(InputError, match=f"got {count}"):
        still_sheet([StillRow(str(even), 0)] * count, tmp_path / "s.png")


def test_a_cancelled_sheet_writes_nothing(even: Path, tmp_path: Path) -> None:
    with pytest.raises(Cancelled):
        still_sheet([StillRow(str(even), 500_000)], tmp_path / "s.png", cancel=lambda: True)
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def page(tmp_path: Path) -> Path:
    """A handout made before."""
    made = tmp_path / "page.html"
    made.write_text("<!doctype html><title>Page</title>", encoding="utf-8")
    return made


def test_the_zip_holds_the_page_and_clips_that_decode(even: Path, page: Path, tmp_path: Path) -> None:
    clips = [
        ([ReelPiece(str(even), n * 400_000, n * 400_000 + 300_000)], f"Clip <{n}>", "aim <high>" * n)
        for n in range(2)
    ]
    assert pack(clips, page, "For Imogen & co", tmp_path / "out" / "p.zip") == 2
    assert [item.name for item in (tmp_path / "out").iterdir()] == ["p.zip"]
    with zipfile.ZipFile(tmp_path / "out" / "p.zip") as zipped:
        assert sorted(zipped.namelist()) == ["clips/1.mp4", "clips/2.mp4", "handout.html", "index.html"]
        first = zipped.read("index.html").decode()
        assert zipped.read("handout.html") == page.read_bytes()
        with av.open(io.BytesIO(zipped.read("clips/2.mp4"))) as clip:
            assert sum(1 for _ in clip.decode(video=0)) == 9
    assert "For Imogen &amp; co" in first
    assert "Clip &lt;1&gt;" in first
    assert first.count("<details>") == 1
    assert "aim &lt;high&gt;</details>" in first
    assert "http" not in first


def test_a_pack_that_fails_leaves_nothing(even: Path, page: Path, tmp_path: Path) -> None:
    clips = [([ReelPiece(str(even), at, at + 300_000)], "", "") for at in (0, 90_000_000)]
    with pytest.raises(OutOfRange):
        pack(clips, page, "Page", tmp_path / "out" / "p.zip")
    assert list((tmp_path / "out").iterdir()) == []
