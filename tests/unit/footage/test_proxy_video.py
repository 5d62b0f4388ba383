"""Proxies: every picture at its own time, small, quick to step through, and read back before they count."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from av.video.frame import VideoFrame

from goodlength.errors import Cancelled, FootageError, NoSpace, OutOfRange
from goodlength.footage.edit.proxy_video import make_proxy, needs_proxy
from goodlength.footage.media.audio_decoding import SampleReader
from goodlength.footage.media.damage_tolerant_frame_decoding import decode_frames
from goodlength.footage.media.frame_presentation_time_table import FrameTable
from goodlength.footage.media.packet_scan import MediaSpan
from goodlength.footage.media.span_decoding import shared_frames
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.footage.media.video_probe import probe
from goodlength.footage.vision import motion_profile as motion_profile_module
from goodlength.footage.vision.motion_profile import motion_profile
from goodlength.synthetic.numbered_frame_video import Recipe, beeps_in, draw, lumas, read_card

Film = Callable[..., Path]
NTSC = Fraction(1, 30000)


def numbers(path: Path) -> list[int | None]:
    return [read_card(luma) for luma in lumas(path)]


def copied(path: Path) -> tuple[list[Fraction], float, set[int], set[bool]]:
    """Stamps, longest way between key pictures, picture types and bits of a proxy, by a plain decoder."""
    with av.open(f"file:{path}") as container:
        frames = [(f.pts * f.time_base, f.key_frame, int(f.pict_type)) for f in container.decode(video=0)]
    times = [at for at, _, _ in frames]
    keys = [float(at) for at, key, _ in frames if key]
    longest = max(np.diff([*keys, float(times[-1])]), default=0.0)
    return times, float(longest), {kind for _, _, kind in frames}, {frames[0][1]}


def test_picture_i_of_the_proxy_is_picture_i_of_the_original(untouched: Path, tmp_path: Path) -> None:
    made = make_proxy(untouched, tmp_path / "p.mp4")
    times, longest, kinds, starts = copied(tmp_path / "p.mp4")
    assert numbers(tmp_path / "p.mp4") == list(range(60))
    assert times == [Fraction(i, 30) for i in range(60)]
    assert longest <= 1.0
    assert 3 not in kinds  # no picture leans on a later one
    assert starts == {True}
    assert made.table.counted == "decoded"
    kept = FrameTable.load(Path(made.table_path))
    assert kept.starts_us.tolist() == made.table.starts_us.tolist()
    assert kept.fingerprint == probe(untouched, settle_s=0).fingerprint
    assert kept.keys.tolist() == [i % 15 == 0 for i in range(60)]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["p.frames.npz", "p.mp4"]


@pytest.mark.parametrize(
    ("name", "recipe"),
    [
        ("uneven.mp4", {"stamps": [0, 512, 1024, 2048, 2600, 30000, 30512], "base": Fraction(1, 15360)}),
        ("ntsc.mp4", {"stamps": [i * 1001 for i in range(50)], "base": NTSC, "key_every": 100}),
        ("old.avi", {"stamps": range(40), "codec": "mpeg4", "b_frames": 0}),
        ("motion.avi", {"stamps": range(8), "codec": "mjpeg", "pixels": "yuvj420p", "b_frames": 0}),
        ("late.mp4", {"stamps": [i * 512 + 11527 for i in range(30)], "base": Fraction(1, 15360)}),
        ("late.ts", {"stamps": [i * 3000 + 132000 for i in range(30)], "base": Fraction(1, 90000)}),
        ("vp9.webm", {"stamps": range(12), "codec": "libvpx-vp9", "options": {"deadline": "realtime"}}),
    ],
)
def test_stamps_are_kept_whatever_they_are(
    film: Film, tmp_path: Path, name: str, recipe: dict[str, object]
) -> None:
    path = film(name, sound="", **recipe)
    made = make_proxy(path, tmp_path / "p.mp4")
    times, longest, _, _ = copied(tmp_path / "p.mp4")
    original = probe(path, settle_s=0)
    assert [round(t * 1_000_000) for t in times] == made.table.starts_us.tolist()
    assert len(times) == original.frames
    assert numbers(tmp_path / "p.mp4") == list(range(len(times)))
    gaps = float(np.diff(made.table.pts).max() * float(made.table.base.tick))
    assert longest <= max(1.0, gaps)
    assert made.table.shift_us == 0


def test_a_clock_that_begins_elsewhere_is_shifted_and_said(film: Film, tmp_path: Path) -> None:
    path = film(
        "far.ts", stamps=[i * 3000 + 90000 * 3600 for i in range(30)], base=Fraction(1, 90000), sound=""
    )
    made = make_proxy(path, tmp_path / "p.mp4")
    times, _, _, _ = copied(tmp_path / "p.mp4")
    assert made.table.shift_us == pytest.approx(3600_000_000, abs=2)
    assert [round(t * 1_000_000) + made.table.shift_us for t in times] == pytest.approx(
        made.table.starts_us.tolist(), abs=1
    )
    assert made.table.to_json()["shift"] == 90000 * 3600


def test_two_recordings_end_to_end_become_one(film: Film, tmp_path: Path) -> None:
    a = film(
        "a.ts",
        stamps=[i * 3000 + 270000 for i in range(30)],
        base=Fraction(1, 90000),
        sound_from_s=3.0,
        sound_to_s=4.0,
        beeps_s=(3.5,),
    )
    b = film(
        "b.ts",
        stamps=[i * 3000 + 90000 for i in range(30)],
        base=Fraction(1, 90000),
        first_number=30,
        sound_from_s=1.0,
        sound_to_s=2.0,
        beeps_s=(1.5,),
    )
    path = tmp_path / "both.ts"
    path.write_bytes(a.read_bytes() + b.read_bytes())
    make_proxy(path, tmp_path / "p.mp4")
    assert numbers(tmp_path / "p.mp4") == list(range(60))
    with open_video(tmp_path / "p.mp4", with_picture=False) as opened:
        heard = beeps_in(SampleReader(opened, 0, layout="mono").take(5 * 48000)[0], 48000)
    assert heard == pytest.approx([3.5, 4.5], abs=0.05)


def test_damaged_spots_are_survived_and_listed(
    film: Film, tmp_path: Path, noisy: Callable[..., Path]
) -> None:
    clean = film("long.mp4", stamps=range(60), key_every=10, sound="", width=320, height=240)
    path = noisy(clean, tmp_path / "noise.mp4", 0.4, 600)
    seen = probe(path, settle_s=0)
    made = make_proxy(path, tmp_path / "p.mp4")
    assert made.damaged == seen.damaged
    assert len(made.table) == seen.frames < 60
    shown = numbers(tmp_path / "p.mp4")
    assert shown[:15] == list(range(15))
    assert shown[-20:] == list(range(40, 60))


def test_sound_stays_with_the_picture(even: Path, tmp_path: Path, recopy: Callable[..., Path]) -> None:
    late = recopy(even, tmp_path / "late.mp4", lambda kind, t: t + (Fraction(1, 4) if kind == "audio" else 0))
    for src, wanted in ((even, [0.5, 1.5]), (late, [0.75, 1.75])):
        make_proxy(src, tmp_path / "p.mp4")
        with open_video(tmp_path / "p.mp4", with_picture=False) as opened:
            assert beeps_in(SampleReader(opened, 0, layout="mono").take(96000)[0], 48000) == pytest.approx(
                wanted, abs=0.005
            )


def test_a_large_film_becomes_small_and_upright(film: Film, tmp_path: Path) -> None:
    tall = film("tall.mp4", stamps=range(3), width=1920, height=1080, turn_deg=90, sound="")
    made = make_proxy(tall, tmp_path / "p.mp4")
    assert (made.width, made.height) == (720, 1280)
    made = make_proxy(tall, tmp_path / "q.mp4", short_side=540)
    assert (made.width, made.height) == (540, 960)
    with pytest.raises(OutOfRange, match="720 or 540"):
        make_proxy(tall, tmp_path / "r.mp4", short_side=100)


def test_interlaced_film_keeps_its_count(film: Film, tmp_path: Path) -> None:
    path = film("comb.mp4", stamps=range(12), sound="", options={"flags": "+ilme+ildct"})
    assert "interlaced" in str(needs_proxy(probe(path, settle_s=0)))
    make_proxy(path, tmp_path / "p.mp4")
    assert numbers(tmp_path / "p.mp4") == list(range(12))
    assert not probe(tmp_path / "p.mp4", settle_s=0).interlaced


def test_high_range_becomes_ordinary_and_is_tagged_so(film: Film, tmp_path: Path) -> None:
    path = film(
        "hlg.mov",
        stamps=range(4),
        codec="libx265",
        pixels="yuv420p10le",
        b_frames=0,
        sound="",
        options={"x265-params": "log-level=none:transfer=arib-std-b67:colorprim=bt2020:colormatrix=bt2020nc"},
    )
    assert "HEVC" in str(needs_proxy(probe(path, settle_s=0)))
    made = make_proxy(path, tmp_path / "p.mp4")
    assert numbers(tmp_path / "p.mp4") == [0, 1, 2, 3]
    with av.open(str(tmp_path / "p.mp4")) as container:
        frame = next(container.decode(video=0))
        assert (frame.format.name, frame.color_trc, frame.color_primaries, frame.colorspace) == (
            "yuv420p",
            1,
            1,
            1,
        )
    assert any("high dynamic range" in note for note in made.notes)


def test_a_proxy_needs_no_proxy(even: Path, tmp_path: Path) -> None:
    make_proxy(even, tmp_path / "p.mp4")
    assert needs_proxy(probe(tmp_path / "p.mp4", settle_s=0)) is None


@pytest.mark.parametrize(
    ("name", "recipe", "words"),
    [
        ("fine.mp4", {"stamps": range(30), "key_every": 15}, None),
        ("gap.mp4", {"stamps": range(90), "key_every": 90}, "stepping would be slow: up to 3.0 s"),
        ("old.avi", {"stamps": range(8), "codec": "mpeg4"}, "(.avi)"),
        ("four.mp4", {"stamps": range(8), "codec": "mpeg4"}, "MPEG-4 part 2"),
        ("chroma.mp4", {"stamps": range(8), "pixels": "yuv444p"}, "yuv444p"),
        ("kv.mkv", {"stamps": range(8)}, "H.264) in this kind of file"),
        ("pcm.mov", {"stamps": range(8), "sound": "pcm_s16le"}, "its sound (pcm_s16le)"),
    ],
)
def test_reasons_for_a_proxy(film: Film, name: str, recipe: dict[str, object], words: str | None) -> None:
    said = needs_proxy(probe(film(name, **({"sound": ""} | recipe)), settle_s=0))
    assert said is None if words is None else words in str(said)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"first_s": -0.5}, "does not begin at zero"),
        ({"first_s": 30.0}, "does not begin at zero"),
        ({"jumps_back": 1}, "out of order"),
        ({"in_decoding_order": True}, "out of order"),
        ({"interlaced": True}, "comb lines"),
        ({"damaged": (MediaSpan(0, 1),)}, "damaged"),
        ({"width": 3840, "height": 2160}, "3840 × 2160"),
        ({"width": 1080, "height": 1920}, None),
    ],
)
def test_more_reasons_for_a_proxy(even: Path, change: dict[str, object], words: str | None) -> None:
    said = needs_proxy(replace(probe(even, settle_s=0), **change))  # type: ignore[arg-type]
    assert said is None if words is None else words in str(said)


def test_progress_rises_and_a_cancel_leaves_nothing(even: Path, tmp_path: Path) -> None:
    told: list[float] = []
    with pytest.raises(Cancelled, match="nothing was saved"):
        make_proxy(even, tmp_path / "p.mp4", lambda share, _: told.append(share), lambda: len(told) > 30)
    assert told == sorted(told)
    assert 0 < told[-1] < 1
    assert not list(tmp_path.iterdir())


def test_a_copy_that_lost_a_picture_is_thrown_away(
    even: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength.footage.edit.h264_aac_mp4_writer import Writer

    honest = Writer.picture

    def lossy(self: Writer, frame: av.VideoFrame, stamp: int, length: int) -> None:
        if len(self.stamps) == 20:
            self.stamps.append(stamp)
        else:
            honest(self, frame, stamp, length)

    monkeypatch.setattr(Writer, "picture", lossy)
    with pytest.raises(FootageError, match="deleted"):
        make_proxy(even, tmp_path / "p.mp4")
    assert not list(tmp_path.iterdir())


def test_no_space_is_said(even: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("goodlength.footage.edit.h264_aac_mp4_writer.Writer.finish", full)
    with pytest.raises(NoSpace):
        make_proxy(even, tmp_path / "p.mp4")
    assert not list(tmp_path.iterdir())


def test_uneven_pictures_out_of_order_need_a_copy_in_which_none_is_covered(tmp_path: Path) -> None:
    """A browser showed picture 5 where 6 belongs: the length written for 5 in the file reaches over 6."""
    stamps = tuple(n + n // 5 for n in range(30))
    odd = draw(tmp_path / "odd.mp4", Recipe(stamps, key_every=15, sound=""))
    plain = draw(tmp_path / "plain.mp4", Recipe(stamps, key_every=15, sound="", b_frames=0))
    even = draw(tmp_path / "even.mp4", Recipe(tuple(range(30)), key_every=15, sound=""))
    assert probe(odd).covered_frames > 0 and "skip some of them" in (needs_proxy(probe(odd)) or "")
    assert probe(plain).covered_frames == probe(even).covered_frames == 0
    copy = tmp_path / "copy.mp4"
    make_proxy(odd, copy)
    assert probe(copy).covered_frames == 0
    assert probe(copy).frames == 30


def test_the_reading_of_a_copy_measures_the_movement_and_it_is_not_read_again(
    untouched: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = motion_profile(untouched)
    make_proxy(untouched, tmp_path / "p.mp4", motion=tmp_path / "motion.npz")
    for name in ("decode_frames", "decode_frames_from"):
        monkeypatch.setattr(motion_profile_module, name, lambda *_: pytest.fail("decoded again"))
    found = motion_profile(untouched, tmp_path / "motion.npz")
    assert len(alone.time_s) > 3
    assert found.time_s.tolist() == alone.time_s.tolist()
    assert np.array_equal(found.cells, alone.cells)


def test_a_copy_that_was_stopped_leaves_no_half_measured_movement(even: Path, tmp_path: Path) -> None:
    kept = tmp_path / "motion.npz"
    with pytest.raises(Cancelled):
        make_proxy(even, tmp_path / "p.mp4", cancel=lambda: True, motion=kept)
    assert not kept.exists()


def test_frames_are_handed_to_those_who_want_them_before_the_next_is_decoded(even: Path) -> None:
    order: list[str] = []

    class Every:
        def __init__(self, name: str, step_s: float) -> None:
            self.name, self.step_s, self.due = name, step_s, 0.0

        def wants(self, at_s: float) -> bool:
            return at_s >= self.due

        def take(self, at_s: float, frame: VideoFrame) -> None:
            self.due = at_s + self.step_s
            order.append(f"{self.name} {frame.pts}")

    with open_video(even, with_sound=False) as film:

        def noted() -> Iterator[VideoFrame]:
            for frame in decode_frames(film):
                order.append(f"decoded {frame.pts}")
                yield frame

        users = (Every("often", 0.0), Every("seldom", 0.3))
        shown = [frame.pts for frame in shared_frames(noted(), film.base, users)]
    decoded = [words for words in order if words.startswith("decoded")]
    assert len(decoded) == len(shown)
    assert [words.split()[1] for words in order if words.startswith("often")] == [str(pts) for pts in shown]
    assert 1 < sum(words.startswith("seldom") for words in order) < len(shown)
    for n, words in enumerate(order):
        if words.startswith("decoded"):
            assert order[n + 1] == words.replace("decoded", "often")
