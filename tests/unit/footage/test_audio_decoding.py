"""Sound stands where its stamps say: late starts, holes and other rates included."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from goodlength.footage.media.audio_decoding import SampleReader, last_sound_s, sound_stream_of
from goodlength.footage.media.video_file_opening_or_rejection import open_video
from goodlength.synthetic.numbered_frame_video import beeps_in

Film = Callable[..., Path]


def heard(path: Path, start_us: int, count: int, rate_hz: int = 48_000, block: int = 999) -> list[float]:
    """Beeps in so many samples from a moment on, taken in uneven blocks."""
    with open_video(path, with_picture=False) as film:
        line = SampleReader(film, start_us, rate_hz, "mono")
        parts = [line.take(min(block, count - at))[0] for at in range(0, count, block)]
    samples = np.concatenate(parts)
    assert len(samples) == count
    return beeps_in(samples, rate_hz)


@pytest.mark.parametrize("codec", ["aac", "libmp3lame", "libopus", "pcm_s16le"])
def test_a_beep_is_found_at_its_time_in_every_codec(film: Film, codec: str) -> None:
    path = film("beep.mkv", stamps=range(60), sound=codec, beeps_s=(0.5, 1.5))
    assert heard(path, 0, 96_000) == pytest.approx([0.5, 1.5], abs=0.003)


def test_blocks_may_be_of_any_size_and_rate(even: Path) -> None:
    assert heard(even, 0, 96_000, block=96_000) == pytest.approx([0.5, 1.5], abs=0.003)
    assert heard(even, 0, 32_000, rate_hz=16_000, block=77) == pytest.approx([0.5, 1.5], abs=0.003)


@pytest.mark.parametrize("start_us", [0, 1, 333_333, 499_999, 1_000_000, 1_400_000])
def test_time_begins_where_asked(even: Path, start_us: int) -> None:
    wanted = [at - start_us / 1e6 for at in (0.5, 1.5) if at * 1e6 >= start_us]
    assert heard(even, start_us, 96_000) == pytest.approx(wanted, abs=0.003)


def test_a_late_start_is_silence_first(even: Path, tmp_path: Path, recopy: Callable[..., Path]) -> None:
    path = recopy(even, tmp_path / "late.mp4", lambda kind, t: t + (Fraction(1, 4) if kind == "audio" else 0))
    assert heard(path, 0, 2 * 48_000) == pytest.approx([0.75, 1.75], abs=0.003)


def test_a_hole_is_kept_as_silence(even: Path, tmp_path: Path, recopy: Callable[..., Path]) -> None:
    """Everything after one second is half a second later: the hole must not close."""

    def tear(kind: str, time: Fraction) -> Fraction:
        return time + (Fraction(1, 2) if kind == "audio" and time > 1 else 0)

    path = recopy(even, tmp_path / "hole.mp4", tear)
    assert heard(path, 0, 3 * 48_000) == pytest.approx([0.5, 2.0], abs=0.005)


def test_after_the_end_comes_silence(even: Path) -> None:
    with open_video(even, with_picture=False) as film:
        line = SampleReader(film, 1_900_000, layout="stereo")
        tail = line.take(96_000)
    assert tail.shape == (2, 96_000)
    assert not tail[:, 20_000:].any()


def test_what_a_sound_is(film: Film) -> None:
    path = film("beep.mkv", stamps=range(60), sound="libopus", beeps_s=(0.5,))
    sound = sound_stream_of(path)
    assert sound is not None
    assert (sound.codec, sound.channels, sound.rate_hz) == ("opus", 1, 48_000)
    assert last_sound_s(path) == pytest.approx(2.0, abs=0.05)
    silent = film("silent.mp4", stamps=range(4), sound="")
    assert sound_stream_of(silent) is None
    assert last_sound_s(silent) == 0.0


def test_broken_sound_is_silence_and_not_an_end(
    even: Path, tmp_path: Path, recopy: Callable[..., Path]
) -> None:
    path = recopy(even, tmp_path / "whole.mp4")
    data = bytearray(path.read_bytes())
    with open_video(path, with_picture=False) as film:
        assert film.audio is not None
        spots = [(p.pos, p.size) for p in film.container.demux(film.audio) if p.size]
    for pos, size in spots[40:50]:
        data[pos : pos + size] = b"\xff" * size
    path.write_bytes(data)
    assert heard(path, 0, 96_000) == pytest.approx([0.5, 1.5], abs=0.005)
