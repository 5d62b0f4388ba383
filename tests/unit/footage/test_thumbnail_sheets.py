"""Small pictures for scrubbing: their times, their places on the sheets, and what stops half-way."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from goodlength.errors import Cancelled, FootageGone, NotFootage
from goodlength.files.library_layout import BackUp, footage_files, kind_of, preview_sheet_file, previews_file
from goodlength.files.locked_json_file import JsonFile
from goodlength.footage.edit import thumbnail_sheets
from goodlength.footage.edit.thumbnail_sheets import make_previews, previews_job
from goodlength.synthetic.numbered_frame_video import read_card

Film = Callable[..., Path]


def card_at(dst: Path, n: int) -> int | None:
    """Return the number on the picture in place `n` of the sheets, read by its own listing."""
    listed = JsonFile(dst).read()
    sheet, place = divmod(n, listed["across"] * listed["down"])
    down, across = divmod(place, listed["across"])
    picture = np.asarray(Image.open(preview_sheet_file(dst, sheet)).convert("L"))
    top, left = down * listed["height"], across * listed["width"]
    return read_card(picture[top : top + listed["height"], left : left + listed["width"]])


@pytest.mark.parametrize("shift_us", [0, 250_000])
def test_each_picture_is_the_key_frame_of_its_time(
    film: Film, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shift_us: int
) -> None:
    """At 30 frames a second, a key frame each half second: numbers 0, 15, 30, ... over several sheets."""
    monkeypatch.setattr(thumbnail_sheets, "LEAST_APART_US", 400_000)
    monkeypatch.setattr(thumbnail_sheets, "ACROSS", 3)
    monkeypatch.setattr(thumbnail_sheets, "DOWN", 2)
    src = film("keys.mp4", stamps=range(120), key_every=15)
    dst = tmp_path / "f1.previews.json"
    made = make_previews(src, dst, shift_us=shift_us)
    assert made.times_us == tuple(shift_us + n * 500_000 for n in range(8))
    assert [card_at(dst, n) for n in range(8)] == [15 * n for n in range(8)]
    assert (made.sheets, sorted(path.name for path in tmp_path.glob("*.jpg"))) == (
        2,
        ["f1.previews-0.jpg", "f1.previews-1.jpg"],
    )


def test_pictures_are_at_least_two_seconds_apart_and_at_most_a_thousand(
    film: Film, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    src = film("keys.mp4", stamps=range(120), key_every=15)
    assert make_previews(src, tmp_path / "a.previews.json").times_us == (0, 2_000_000)
    monkeypatch.setattr(thumbnail_sheets, "LEAST_APART_US", 1)
    monkeypatch.setattr(thumbnail_sheets, "MOST_PICTURES", 3)
    assert len(make_previews(src, tmp_path / "b.previews.json").times_us) <= 3


def test_a_turned_film_is_shown_upright(film: Film, tmp_path: Path) -> None:
    made = make_previews(film("turned.mp4", stamps=range(30), turn_deg=90), tmp_path / "t.previews.json")
    assert made.height > made.width == 90


def test_what_is_cancelled_leaves_no_list(film: Film, tmp_path: Path) -> None:
    src = film("keys.mp4", stamps=range(120), key_every=15)
    dst = tmp_path / "f1.previews.json"
    with pytest.raises(Cancelled, match="made the next time"):
        previews_job(src=str(src), dst=str(dst), shift_us=0, progress=lambda *_: None, cancel=lambda: True)
    assert not dst.exists()


def test_what_is_no_film_is_told(tmp_path: Path) -> None:
    (tmp_path / "notes.mp4").write_text("bring towels")
    with pytest.raises(NotFootage):
        make_previews(tmp_path / "notes.mp4", tmp_path / "n.previews.json")
    with pytest.raises(FootageGone):
        make_previews(tmp_path / "gone.mp4", tmp_path / "n.previews.json")
    assert list(tmp_path.glob("n.*")) == []


def test_the_sheets_go_with_their_film_and_are_in_no_back_up(tmp_path: Path) -> None:
    listed = previews_file(tmp_path, "f1")
    sheets = [preview_sheet_file(listed, n) for n in (0, 11)]
    other = preview_sheet_file(previews_file(tmp_path, "f11"), 0)
    listed.parent.mkdir()
    for path in (listed, *sheets, other):
        path.write_bytes(b"x")
    found = footage_files(tmp_path, "f1")
    assert {listed, *sheets} <= set(found) and other not in found
    for path in (listed, *sheets):
        kind = kind_of(path.relative_to(tmp_path).as_posix())
        assert kind is not None and kind.erased and kind.back_up is BackUp.NEVER
