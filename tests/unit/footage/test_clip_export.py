"""Clips are exact to the frame, upright, in sync, and leave nothing half-written."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from goodlength.errors import Cancelled, FootageGone, NoSpace, OutOfRange
from goodlength.footage.edit.clip_export import ClipResult, encode_clip
from goodlength.footage.media.audio_decoding import SampleReader
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.footage.media.video_probe import probe
from goodlength.synthetic.numbered_frame_video import (
    CORNERS,
    beeps_in,
    flashing,
    lumas,
    read_card,
    way_up,
)

Film = Callable[..., Path]


def numbers(path: Path) -> list[int | None]:
    """Read by a plain decoder, not by ours."""
    return [read_card(luma) for luma in lumas(path)]


def stamps(path: Path) -> list[Fraction]:
    with av.open(f"file:{path}") as container:
        return [frame.pts * frame.time_base for frame in container.decode(video=0)]


def beeps(path: Path) -> list[float]:
    with open_video(path, with_picture=False) as film:
        return beeps_in(SampleReader(film, 0, layout="mono").take(3 * 48000)[0], 48000)


@pytest.mark.parametrize(
    ("span", "wanted"),
    [
        ((0, 2_000_000), range(60)),
        ((500_000, 1_000_000), range(15, 30)),  # from a key picture to a key picture
        ((533_333, 566_667), range(16, 17)),  # one picture, asked by its own rounded stamps
        ((533_334, 566_668), range(16, 18)),  # a microsecond on: the next one is shown just before the end
        ((466_666, 466_668), range(13, 15)),
        ((1_999_999, 2_000_000), range(59, 60)),
        ((900_000, 900_001), range(27, 28)),
    ],
)
def test_the_clip_holds_exactly_the_pictures_shown(
    untouched: Path, tmp_path: Path, span: tuple[int, int], wanted: range
) -> None:
    made = encode_clip(untouched, *span, tmp_path / "clip.mp4")
    assert numbers(tmp_path / "clip.mp4") == list(wanted)
    assert made.frames == len(wanted)
    assert (made.first_us, made.end_us) == (round(wanted[0] / 30 * 1e6), round((wanted[-1] + 1) / 30 * 1e6))
    assert stamps(tmp_path / "clip.mp4") == [Fraction(i, 30) for i in range(len(wanted))]
    assert not made.notes
    assert [p.name for p in tmp_path.iterdir()] == ["clip.mp4"]


def test_uneven_steps_are_kept(film: Film, tmp_path: Path) -> None:
    ticks = [0, 512, 1024, 2048, 3072, 3700, 4096, 6144]
    path = film("steps.mp4", stamps=ticks, base=Fraction(1, 15360), sound="")
    encode_clip(path, 70_000, 300_000, tmp_path / "c.mp4")
    assert numbers(tmp_path / "c.mp4") == [2, 3, 4, 5, 6]
    assert stamps(tmp_path / "c.mp4") == [Fraction(t - 1024, 15360) for t in ticks[2:7]]


@pytest.mark.parametrize("name", ["s.mkv", "s.ts", "s.mov", "s.avi"])
def test_other_containers_are_cut_as_exactly(film: Film, tmp_path: Path, name: str) -> None:
    codec = {"s.avi": "mpeg4"}.get(name, "libx264")
    path = film(
        name, stamps=range(60), key_every=20, sound="", codec=codec, b_frames=0 if codec == "mpeg4" else 2
    )
    seen = probe(path, settle_s=0)
    at = round(seen.first_s * 1e6)
    encode_clip(path, at + 700_100, at + 1_300_000, tmp_path / "c.mp4")
    assert numbers(tmp_path / "c.mp4") == list(range(21, 39))


def test_a_film_of_two_recordings_is_cut_after_the_joint(film: Film, tmp_path: Path) -> None:
    a = film("a.ts", stamps=[i * 3000 + 270000 for i in range(30)], base=Fraction(1, 90000), sound="")
    b = film(
        "b.ts",
        stamps=[i * 3000 + 90000 for i in range(30)],
        base=Fraction(1, 90000),
        sound="",
        first_number=30,
    )
    path = tmp_path / "both.ts"
    path.write_bytes(a.read_bytes() + b.read_bytes())
    encode_clip(path, 3_000_000 + 1_200_100, 3_000_000 + 1_500_000, tmp_path / "c.mp4")
    assert numbers(tmp_path / "c.mp4") == list(range(36, 45))


def test_sound_is_cut_with_the_picture(even: Path, tmp_path: Path) -> None:
    """A beep and a flash made at one moment stay together; 50 ms is the limit, 5 ms is held here."""
    encode_clip(even, 400_000, 1_900_000, tmp_path / "c.mp4")
    at = stamps(tmp_path / "c.mp4")
    seen = [float(at[i]) for i, luma in enumerate(lumas(tmp_path / "c.mp4")) if flashing(luma)]
    assert beeps(tmp_path / "c.mp4") == pytest.approx(seen, abs=0.005)
    assert len(seen) == 2


def test_late_sound_stays_late(even: Path, tmp_path: Path, recopy: Callable[..., Path]) -> None:
    late = recopy(even, tmp_path / "late.mp4", lambda kind, t: t + (Fraction(1, 4) if kind == "audio" else 0))
    encode_clip(late, 100_000, 1_900_000, tmp_path / "c.mp4")
    assert beeps(tmp_path / "c.mp4") == pytest.approx([0.65, 1.65], abs=0.005)


def test_sound_lasts_as_long_as_the_picture(even: Path, tmp_path: Path) -> None:
    encode_clip(even, 0, 1_000_000, tmp_path / "c.mp4")
    with av.open(str(tmp_path / "c.mp4")) as container:
        audio = container.streams.audio[0]
        assert float(audio.duration * audio.time_base) == pytest.approx(1.0, abs=0.001)
    assert not encode_clip(even, 0, 100_000, tmp_path / "d.mp4", sound=False).sound
    assert not probe(tmp_path / "d.mp4", settle_s=0).sound


def test_tags_of_the_original_stay_behind(film: Film, tmp_path: Path) -> None:
    secret = {"location": "+52.10+001.20/", "make": "Secretphone", "creation_time": "2020-01-01T00:00:00Z"}
    path = film("tags.mov", stamps=range(10), metadata=secret, container={"movflags": "use_metadata_tags"})
    assert b"Secretphone" in path.read_bytes()
    encode_clip(path, 0, 300_000, tmp_path / "c.mp4")
    data = (tmp_path / "c.mp4").read_bytes()
    assert not any(word in data for word in (b"Secretphone", b"+52.10", b"2020-01"))
    with av.open(str(tmp_path / "c.mp4")) as container:
        assert not {"location", "make", "creation_time", "com.apple.quicktime.make"} & set(container.metadata)


@pytest.mark.parametrize(("turn", "mirror"), [(90, False), (180, False), (270, False), (0, True), (90, True)])
def test_clips_stand_upright(film: Film, tmp_path: Path, turn: int, mirror: bool) -> None:
    """The display matrix is told, not drawn, so the right picture is the drawn one turned, then mirrored."""
    path = film("turned.mp4", stamps=range(4), turn_deg=turn, mirror=mirror, sound="")
    made = encode_clip(path, 0, 100_000, tmp_path / "c.mp4")
    raw = lumas(path)[0]
    wanted = np.rot90(raw, turn // 90)
    wanted = np.fliplr(wanted) if mirror else wanted
    out = lumas(tmp_path / "c.mp4")[0]
    assert (made.width, made.height) == (wanted.shape[1], wanted.shape[0]) == (out.shape[1], out.shape[0])
    assert way_up(out) == way_up(wanted)
    assert way_up(raw) == tuple(CORNERS)
    assert not probe(tmp_path / "c.mp4", settle_s=0).rotation_deg


def test_wide_pixels_become_square_and_odd_sizes_even(film: Film, tmp_path: Path) -> None:
    wide = film("sar.mp4", stamps=range(4), aspect=Fraction(4, 3), sound="")
    assert (
        encode_clip(wide, 0, 100_000, tmp_path / "a.mp4").width,
        probe(tmp_path / "a.mp4", settle_s=0).sample_aspect,
    ) == (212, (1, 1))
    odd = film("odd.mp4", stamps=range(4), width=161, height=121, pixels="yuv444p", sound="")
    made = encode_clip(odd, 0, 100_000, tmp_path / "b.mp4")
    assert (made.width, made.height) == (160, 120)
    assert probe(tmp_path / "b.mp4", settle_s=0).pixel_format == "yuv420p"
    assert numbers(tmp_path / "b.mp4") == [0, 1, 2]


def test_a_smaller_clip(even: Path, tmp_path: Path) -> None:
    made = encode_clip(even, 0, 100_000, tmp_path / "c.mp4", short_side=60)
    assert (made.width, made.height) == (80, 60)
    assert numbers(tmp_path / "c.mp4") == [0, 1, 2]


def test_spans_past_the_edges_are_told(even: Path, tmp_path: Path) -> None:
    made = encode_clip(even, -1_000_000, 9_000_000, tmp_path / "c.mp4")
    assert made.frames == 60
    assert ["begins" in note for note in made.notes] == [True, False]
    with pytest.raises(OutOfRange, match=r"0:00\.0 to 0:02\.0"):
        encode_clip(even, 2_000_000, 3_000_000, tmp_path / "d.mp4")
    with pytest.raises(OutOfRange, match="must end after it starts"):
        encode_clip(even, 5, 5, tmp_path / "d.mp4")
    assert not (tmp_path / "d.mp4").exists()


def test_the_original_is_not_overwritten(even: Path, tmp_path: Path) -> None:
    copy = tmp_path / "film.mp4"
    copy.write_bytes(even.read_bytes())
    with pytest.raises(OutOfRange, match="overwrite"):
        encode_clip(copy, 0, 1_000_000, copy)
    (tmp_path / "link.mp4").symlink_to(copy)
    with pytest.raises(OutOfRange, match="overwrite"):
        encode_clip(copy, 0, 1_000_000, tmp_path / "link.mp4")
    assert copy.read_bytes() == even.read_bytes()


def test_a_cancel_leaves_nothing(even: Path, tmp_path: Path) -> None:
    told: list[float] = []
    with pytest.raises(Cancelled):
        encode_clip(
            even,
            0,
            2_000_000,
            tmp_path / "c.mp4",
            progress=lambda s, _: told.append(s),
            cancel=lambda: len(told) > 20,
        )
    assert told == sorted(told)
    assert not list(tmp_path.iterdir())


def test_a_cancel_keeps_the_clip_made_before(even: Path, tmp_path: Path) -> None:
    kept: ClipResult = encode_clip(even, 0, 200_000, tmp_path / "c.mp4")
    with pytest.raises(Cancelled):
        encode_clip(even, 0, 2_000_000, tmp_path / "c.mp4", cancel=lambda: True)
    assert len(numbers(tmp_path / "c.mp4")) == kept.frames


def test_no_space_is_said_and_nothing_is_left(
    even: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("goodlength.footage.edit.h264_aac_mp4_writer.Writer.picture", full)
    with pytest.raises(NoSpace, match=r"disk .* is full"):
        encode_clip(even, 0, 2_000_000, tmp_path / "c.mp4")
    assert not list(tmp_path.iterdir())


def test_a_missing_original_is_gone(tmp_path: Path) -> None:
    with pytest.raises(FootageGone):
        encode_clip(tmp_path / "away.mp4", 0, 1, tmp_path / "c.mp4")


def test_odd_names_on_both_sides(even: Path, tmp_path: Path) -> None:
    src = tmp_path / "12:30 100%d #1.mp4"
    src.write_bytes(even.read_bytes())
    made = encode_clip(src, 0, 100_000, tmp_path / "-ü:%03d.mp4")
    assert Path(made.path).name == "-ü:%03d.mp4"
    assert numbers(Path(made.path)) == [0, 1, 2]
