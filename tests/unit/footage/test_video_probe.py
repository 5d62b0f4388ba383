"""What a film is, read and not taken from its header (odd files C01 to C27)."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from goodlength.footage.media.damage_tolerant_frame_decoding import decode_frames
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.footage.media.video_probe import Probe, probe, probe_with_frames
from goodlength.synthetic.numbered_frame_video import read_card

Film = Callable[..., Path]


def codes(seen: Probe) -> list[str]:
    return [problem.code for problem in seen.problems]


def numbers(path: Path) -> list[int | None]:
    with open_video(path, with_sound=False) as film:
        return [read_card(f.reformat(format="gray").to_ndarray()) for f in decode_frames(film)]


def test_a_plain_film(untouched: Path) -> None:
    seen = probe(untouched, settle_s=0)
    assert (seen.frames, seen.counted) == (60, "decoded")
    assert (seen.first_s, seen.last_frame_end_s, seen.duration_s) == (0.0, 2.0, 2.0)
    assert (seen.width, seen.height, seen.rotation_deg, seen.mirrored) == (160, 120, 0, False)
    assert (seen.rate_hz, seen.variable_rate, seen.key_distance_s) == (30.0, False, 0.5)
    assert (seen.codec, seen.pixel_format) == ("h264", "yuv420p")
    assert seen.sound
    assert seen.sound_first_s == pytest.approx(0.0, abs=0.001)
    assert not seen.problems
    plain = seen.to_json()
    assert plain["frames"] == 60
    assert plain["problems"] == ()


def test_c01_uneven_steps_are_kept_to_the_picture_in_the_middle(film: Film) -> None:
    """Full rate for half the film, half the rate after: index by average rate is wrong by 7 pictures here."""
    stamps = [*range(30), *range(30, 60, 2)]
    path = film("vfr.mp4", stamps=stamps)
    seen, table = probe_with_frames(path, settle_s=0)
    assert seen.variable_rate
    assert len(table) == 45
    assert table.starts_us.tolist() == [round(s * 1_000_000 / 30) for s in stamps]
    middle = 30
    by_average = middle / (len(table) / seen.duration_s)
    assert abs(by_average - table.starts_us[middle] / 1e6) > 0.3
    assert numbers(path) == list(range(45))


def test_c02_odd_rates_stay_fractions(film: Film) -> None:
    """One picture a second stamped in 1001/30000 s over an hour: the last stands to the microsecond."""
    path = film(
        "hour.mp4", stamps=[i * 30 * 1001 for i in range(0, 3600, 60)], base=Fraction(1, 30000), sound=""
    )
    _, table = probe_with_frames(path, settle_s=0)
    assert (table.base.num, table.base.den) == (1, 30000)
    assert table.starts_us[-1] == round(Fraction(3540 * 30 * 1001, 30000) * 1_000_000)
    assert table.starts_us[-1] - 3540_000_000 == 3_540_000


def test_c04_a_hidden_lead_in_is_not_shown(even: Path, tmp_path: Path, recopy: Callable[..., Path]) -> None:
    """Trimmed without encoding: packets before zero stay in the file, an edit list hides their pictures."""
    path = recopy(
        even,
        tmp_path / "trim.mp4",
        lambda _, t: t - Fraction(1, 3),
        options={"avoid_negative_ts": "disabled"},
    )
    seen, table = probe_with_frames(path, settle_s=0)
    assert seen.hidden_frames == 10
    assert (seen.frames, table.first_us) == (50, 0)
    assert numbers(path) == list(range(10, 60))


@pytest.mark.parametrize(("late", "delay"), [("audio", Fraction(3, 4)), ("video", Fraction(3, 4))])
def test_c06_a_late_sound_or_picture_stays_on_one_clock(
    even: Path, tmp_path: Path, recopy: Callable[..., Path], late: str, delay: Fraction
) -> None:
    path = recopy(even, tmp_path / "late.mp4", lambda kind, t: t + (delay if kind == late else 0))
    seen = probe(path, settle_s=0)
    first = {"audio": seen.sound_first_s, "video": seen.first_s}
    assert first[late] == pytest.approx(0.75, abs=0.03)
    assert min(v for v in first.values() if v is not None) == pytest.approx(0.0, abs=0.001)
    assert codes(seen) == ["sound-late" if late == "audio" else "picture-late"]


@pytest.mark.parametrize(("turn", "size"), [(90, (120, 160)), (180, (160, 120)), (270, (120, 160))])
def test_c12_rotation_is_read_and_sizes_are_upright(film: Film, turn: int, size: tuple[int, int]) -> None:
    seen = probe(film(f"turn{turn}.mp4", stamps=range(4), turn_deg=turn, sound=""), settle_s=0)
    assert seen.rotation_deg == turn
    assert (seen.width, seen.height) == size


def test_c12_a_mirror_is_no_turn(film: Film) -> None:
    seen = probe(film("mirror.mp4", stamps=range(4), mirror=True, sound=""), settle_s=0)
    assert (seen.rotation_deg, seen.mirrored) == (0, True)
    assert "mirrored" in codes(seen)


def test_c13_high_range_is_recognised(film: Film) -> None:
    seen = probe(
        film(
            "hlg.mov",
            stamps=range(4),
            codec="libx265",
            pixels="yuv420p10le",
            b_frames=0,
            sound="",
            options={
                "x265-params": "log-level=none:transfer=arib-std-b67:colorprim=bt2020:colormatrix=bt2020nc"
            },
        ),
        settle_s=0,
    )
    assert (seen.codec, seen.pixel_format, seen.high_range) == ("hevc", "yuv420p10le", "HLG")
    assert "high-range" in codes(seen)


def test_c15_pixels_that_are_not_square_odd_sizes_and_other_chroma(film: Film) -> None:
    wide = probe(film("sar.mp4", stamps=range(4), aspect=Fraction(4, 3), sound=""), settle_s=0)
    assert (wide.width, wide.height, wide.sample_aspect) == (213, 120, (4, 3))
    odd = probe(
        film("odd.mp4", stamps=range(4), width=161, height=121, pixels="yuv444p", sound=""), settle_s=0
    )
    assert (odd.width, odd.height, odd.pixel_format) == (161, 121, "yuv444p")


def test_interlaced_is_read_from_the_pictures(film: Film) -> None:
    seen = probe(film("comb.mp4", stamps=range(4), sound="", options={"flags": "+ilme+ildct"}), settle_s=0)
    assert seen.interlaced
    assert "interlaced" in codes(seen)


def test_c19_no_sound_is_said(film: Film) -> None:
    seen = probe(film("silent.mp4", stamps=range(4), sound=""), settle_s=0)
    assert not seen.sound
    assert codes(seen) == ["no-sound"]


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("fast.mp4", {"movflags": "+faststart"}),
        ("frag.mp4", {"movflags": "frag_keyframe+empty_moov"}),
        ("cut.mkv", {}),
        ("cut.ts", {}),
    ],
)
def test_c23_what_is_there_of_a_cut_file_is_used(
    even: Path, tmp_path: Path, recopy: Callable[..., Path], name: str, options: dict[str, str]
) -> None:
    """First 60 %: the end is that of the last picture that really decodes, whatever the header claims."""
    whole = recopy(even, tmp_path / f"whole-{name}", options=options)
    path = tmp_path / name
    data = whole.read_bytes()
    path.write_bytes(data[: int(len(data) * 0.6)])
    seen, table = probe_with_frames(path, settle_s=0)
    with open_video(path, with_sound=False) as film:
        shown = [f.pts for f in decode_frames(film)]
    assert table.pts.tolist() == shown
    assert 10 < seen.frames < 60
    assert seen.last_frame_end_s - seen.first_s == pytest.approx(seen.frames / 30, abs=0.002)
    if name in {"fast.mp4", "cut.mkv"}:
        assert codes(seen)[0] == "cut-short"


def test_c24_noise_in_the_middle_loses_its_spot_and_not_the_rest(
    film: Film, tmp_path: Path, noisy: Callable[..., Path]
) -> None:
    clean = film("long.mp4", stamps=range(60), key_every=10, sound="", width=320, height=240)
    path = noisy(clean, tmp_path / "noise.mp4", 0.4, 600)
    seen = probe(path, settle_s=0)
    assert 50 <= seen.frames < 60
    assert seen.last_frame_end_s == 2.0
    assert "damaged" in codes(seen)
    (span,) = seen.damaged
    assert 0 < span.from_us < span.to_us < 2_000_000
    lost = sorted(set(range(60)) - set(numbers(path)))
    assert lost
    assert all(span.from_us <= i * 1_000_000 / 30 + 1 < span.to_us + 1 for i in lost)


def test_c24_a_long_film_finds_broken_packets_without_decoding_all(
    film: Film, tmp_path: Path, noisy: Callable[..., Path]
) -> None:
    clean = film("long.mp4", stamps=range(60), key_every=10, sound="", width=320, height=240)
    path = noisy(clean, tmp_path / "noise.mp4", 0.4, 600)
    quick, whole = probe(path, thorough=False, settle_s=0), probe(path, thorough=True, settle_s=0)
    assert quick.counted == "packets"
    assert quick.frames == whole.frames
    assert quick.damaged == whole.damaged


def test_c27_timecode_and_data_streams_are_only_shown(film: Film) -> None:
    seen = probe(film("tc.mov", stamps=range(4), metadata={"timecode": "00:59:58:12"}), settle_s=0)
    assert seen.timecode == "00:59:58:12"
    assert seen.frames == 4


def test_a_transport_stream_begins_where_its_stamps_say(film: Film) -> None:
    seen = probe(
        film(
            "late.ts",
            stamps=[i * 3000 + 132000 for i in range(30)],
            base=Fraction(1, 90000),
            sound_from_s=1.44,
            sound_to_s=2.4,
        ),
        settle_s=0,
    )
    assert seen.first_s == pytest.approx(132000 / 90000, abs=1e-6)
    assert seen.duration_s == pytest.approx(1.0, abs=1e-6)


def test_a_clock_that_wraps_goes_on(film: Film) -> None:
    """The 33-bit clock of a transport stream wraps after 26.5 h; here in the middle of one second."""
    wrap = 2**33
    path = film(
        "wrap.ts", stamps=[wrap - 45000 + i * 3000 for i in range(30)], base=Fraction(1, 90000), sound=""
    )
    _, table = probe_with_frames(path, settle_s=0)
    assert len(table) == 30
    assert np.unique(np.diff(table.pts)).tolist() == [3000]


def test_two_recordings_end_to_end_go_on_from_one_to_the_next(film: Film, tmp_path: Path) -> None:
    """The file's clock jumps back; time must not, and no picture may be lost or doubled."""
    a = film(
        "a.ts",
        stamps=[i * 3000 + 270000 for i in range(60)],
        base=Fraction(1, 90000),
        sound_from_s=3.0,
        sound_to_s=5.0,
    )
    b = film(
        "b.ts",
        stamps=[i * 3000 + 90000 for i in range(30)],
        base=Fraction(1, 90000),
        first_number=60,
        sound_from_s=1.0,
        sound_to_s=2.0,
    )
    path = tmp_path / "both.ts"
    path.write_bytes(a.read_bytes() + b.read_bytes())
    seen, table = probe_with_frames(path, settle_s=0)
    assert seen.jumps_back == 1
    assert "clock-jumps" in codes(seen)
    assert numbers(path) == list(range(90))
    assert len(table) == 90
    assert table.end_us - table.first_us == pytest.approx(3_000_000, abs=70_000)


def test_stamps_in_decoding_order_are_put_in_the_order_shown(
    even: Path, tmp_path: Path, recopy: Callable[..., Path]
) -> None:
    """A recorder that says "shown when decoded" of reordered pictures."""
    path = recopy(even, tmp_path / "order.mp4", lambda _, t: t + Fraction(1, 15), decoding_order=True)
    seen, table = probe_with_frames(path, settle_s=0)
    assert seen.in_decoding_order
    assert "stamps-out-of-order" in codes(seen)
    assert len(table) == 60
    with open_video(path, with_sound=False) as film:
        shown = list(decode_frames(film))
    stamps = [f.pts for f in shown]
    assert stamps == sorted(stamps)
    assert [read_card(f.reformat(format="gray").to_ndarray()) for f in shown] == list(range(60))


def test_an_avi_gets_its_stamps_by_the_order_shown(film: Film) -> None:
    path = film("old.avi", stamps=range(30), codec="mpeg4", sound="", b_frames=2)
    seen = probe(path, settle_s=0)
    assert numbers(path) == list(range(seen.frames))
    assert seen.frames >= 28


def test_a_film_of_one_picture(film: Film) -> None:
    seen, table = probe_with_frames(film("one.mp4", stamps=[0], sound=""), settle_s=0)
    assert seen.frames == 1
    assert 0 < seen.duration_s < 0.2
    assert table.to_json()["steps"] == []
