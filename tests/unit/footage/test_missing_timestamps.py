"""Films whose first blocks carry no stamp: no seek leads to their beginning, and a refused seek is no folder's fault."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import pytest

from goodlength.errors import FootageError
from goodlength.files.atomic_write import atomic_write
from goodlength.footage.audio.rally_detection import detect_rallies
from goodlength.footage.edit.clip_export import encode_clip
from goodlength.footage.edit.proxy_video import make_proxy
from goodlength.footage.media.audio_decoding import SampleReader
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.footage.media.video_probe import probe
from goodlength.synthetic.numbered_frame_video import beeps_in, lumas, read_card

Copy = Callable[..., Path]
BELOW_S = Fraction(3, 4)


@pytest.fixture
def unstamped(even: Path, recopy: Copy, tmp_path: Path) -> Path:
    """The even film with its clock begun at -0.75 s: MKV writes no stamps below zero, and refuses seeks there."""
    options = {"avoid_negative_ts": "disabled"}
    return recopy(even, tmp_path / "below.mkv", lambda _, time: time - BELOW_S, options=options)


def test_the_pictures_without_a_time_are_left_out_and_said(unstamped: Path) -> None:
    seen = probe(unstamped, settle_s=0)
    assert seen.frames == 37  # of 60 at 30 a second, 23 lie before zero
    assert [p.code for p in seen.problems if p.code in ("no-times", "damaged")] == ["no-times"]
    # One of the 23 has a time of decoding and takes the next place.
    assert "first 22 frames" in next(p.words for p in seen.problems if p.code == "no-times")


def test_its_sound_is_read_though_every_seek_is_refused(unstamped: Path) -> None:
    with open_video(unstamped, with_picture=False) as film:
        line = SampleReader(film, 0, layout="mono")
        found = beeps_in(line.take(48_000)[0], 48_000)
    assert found == pytest.approx([0.75], abs=0.01)
    assert detect_rallies(unstamped).words  # ended in "hit an error of its own"


def test_a_clip_from_its_beginning_shows_the_pictures_before_the_first_key(
    unstamped: Path, tmp_path: Path
) -> None:
    made = encode_clip(unstamped, 0, 200_000, tmp_path / "clip.mp4")
    assert [read_card(luma) for luma in lumas(tmp_path / "clip.mp4")] == [23, 24, 25, 26, 27, 28]
    assert made.sound


def test_a_copy_that_plays_is_made(unstamped: Path, tmp_path: Path) -> None:
    made = make_proxy(unstamped, tmp_path / "copy.mp4")
    assert len(made.table) == 37
    assert read_card(lumas(tmp_path / "copy.mp4")[0]) == 23


def test_a_refusal_inside_the_video_library_blames_no_folder(even: Path, tmp_path: Path) -> None:
    """EPERM of a seek was told as "the folder may not be written to"."""
    refused = av.error.PermissionError(1, "Operation not permitted")
    with pytest.raises(FootageError) as caught, open_video(even), atomic_write(tmp_path / "out.mp4"):
        raise refused
    assert "even.mp4 could not be worked through" in str(caught.value)
    assert str(tmp_path) not in str(caught.value)
    assert not list(tmp_path.iterdir())
