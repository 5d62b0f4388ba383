"""Files with several pictures or sounds: the match is found among them, the rest is said and can be chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, cast

import av
import numpy as np
import pytest
from av.audio.frame import AudioFrame
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from goodlength.errors import BarePictures, OutOfRange
from goodlength.footage.edit.remux import repack, suffix_for
from goodlength.footage.media.audio_decoding import NativeSampleReader, Samples
from goodlength.footage.media.video_file_opening_or_rejection import mixed_by, open_video
from goodlength.footage.media.video_probe import probe, probe_with_frames
from goodlength.synthetic.numbered_frame_video import beeps_in, lumas, read_card

Film = Callable[..., Path]
Wave = NDArray[np.float32]
RATE_HZ = 48_000


def tone(at_s: Sequence[float], length_s: float, level: float = 0.6) -> Wave:
    """Beeps of 50 ms."""
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    wave = np.zeros(len(t), np.float32)
    for start in at_s:
        on = (t >= start) & (t < start + 0.05)
        wave[on] = level * np.sin(2 * np.pi * 2000 * (t[on] - start))
    return wave


def encoded(stream: Any, channels: Sequence[Wave]) -> list[Any]:
    packets = []
    for start in range(0, len(channels[0]), 1024):
        block = np.ascontiguousarray(np.stack([c[start : start + 1024] for c in channels]))
        frame = AudioFrame.from_ndarray(block, format="fltp", layout=stream.layout.name)
        frame.sample_rate, frame.pts, frame.time_base = RATE_HZ, start, Fraction(1, RATE_HZ)
        packets += stream.encode(frame)
    return [*packets, *stream.encode(None)]


def still(container: Any, width: int, height: int, count: int) -> tuple[Any, list[VideoFrame]]:
    """A picture track of `count` grey pictures, one a second."""
    stream = container.add_stream("mjpeg", 1)
    stream.width, stream.height, stream.pix_fmt = width, height, "yuvj420p"
    frames = []
    for n in range(count):
        frame = VideoFrame.from_ndarray(np.full((height, width), 90, np.uint8), format="gray")
        frame = frame.reformat(format="yuvj420p")
        frame.pts, frame.time_base = n, Fraction(1, 1)
        frames.append(frame)
    return stream, frames


def together(
    film: Path,
    out: Path,
    *,
    before: tuple[int, int, int] | None = None,
    after: tuple[int, int, int] | None = None,
    sounds: Sequence[Sequence[Wave]] = (),
) -> Path:
    """A film with stills (width, height, count) before or after it and with other sounds than its own."""
    with av.open(str(film)) as old, av.open(str(out), "w") as new:
        stills = [still(new, *before)] if before else []
        video = old.streams.video[0]
        to = new.add_stream_from_template(video)
        stills += [still(new, *after)] if after else []
        heard = [
            (new.add_stream("aac", RATE_HZ, layout="stereo" if len(s) == 2 else "mono"), s) for s in sounds
        ]
        for stream, frames in stills:
            for frame in frames:
                new.mux(stream.encode(frame))
            new.mux(stream.encode(None))
        for stream, channels in heard:
            new.mux(encoded(stream, channels))
        for packet in old.demux(video):
            if packet.dts is not None:
                packet.stream = to
                new.mux(packet)
    return out


@pytest.mark.parametrize("ending", [".mov", ".mkv"])
@pytest.mark.parametrize(
    "where",
    [{"before": (320, 240, 2)}, {"after": (640, 480, 1)}, {"before": (640, 480, 1), "after": (320, 240, 2)}],
)
def test_the_film_is_looked_at_not_the_still_beside_it(
    even: Path, tmp_path: Path, ending: str, where: dict[str, tuple[int, int, int]]
) -> None:
    """A cover before the film, a phone's larger still behind it: the largest was taken, without a word."""
    path = together(even, tmp_path / f"two{ending}", **where)
    seen = probe(path, settle_s=0)
    assert (seen.frames, seen.width, seen.height) == (60, 160, 120)
    (said,) = (p.words for p in seen.problems if p.code == "picture-passed-over")
    assert "640 × 480" in said or "320 × 240" in said
    assert "In use: video" in said


def test_a_coach_can_take_the_other_picture(even: Path, tmp_path: Path) -> None:
    path = together(even, tmp_path / "two.mov", before=(320, 240, 2))
    made = repack(path, tmp_path / "other.mov", picture=1)
    assert probe(made.path, settle_s=0).width == 320
    made = repack(path, tmp_path / "film.mov", picture=2)
    assert [read_card(luma) for luma in lumas(Path(made.path))] == list(range(60))
    with pytest.raises(OutOfRange, match="not a number 3"):
        repack(path, tmp_path / "none.mov", picture=3)
    assert not (tmp_path / "none.mov").exists()


def heard_of(path: Path) -> list[float]:
    with open_video(path, with_picture=False) as film:
        blocks: list[Samples] = list(NativeSampleReader(film, 0).blocks(10_000))
    return beeps_in(np.concatenate(blocks), RATE_HZ)


def test_the_sound_with_play_is_heard_not_the_silent_track_before_it(even: Path, tmp_path: Path) -> None:
    silent, loud = tone([], 2.0), tone([0.5, 1.5], 2.0)
    path = together(even, tmp_path / "two.mov", sounds=[[silent, silent], [loud]])
    assert heard_of(path) == pytest.approx([0.5, 1.5], abs=0.005)
    seen = probe(path, settle_s=0)
    (said,) = (p.words for p in seen.problems if p.code == "sound-passed-over")
    assert "In use: sound 2 (mono" in said
    assert "sound 1 (stereo, silent)" in said
    assert [t.used for t in seen.tracks if t.kind == "sound"] == [False, True]


def test_the_first_of_two_like_sounds_is_taken_and_the_other_can_be_chosen(
    even: Path, tmp_path: Path
) -> None:
    path = together(even, tmp_path / "two.mov", sounds=[[tone([0.5], 2.0, 0.4)], [tone([1.5], 2.0, 0.6)]])
    assert heard_of(path) == pytest.approx([0.5], abs=0.005)
    made = repack(path, tmp_path / "second.mov", sound=2)
    assert heard_of(Path(made.path)) == pytest.approx([1.5], abs=0.005)
    assert not probe(repack(path, tmp_path / "mute.mov", sound=0).path, settle_s=0).sound


def test_stereo_in_opposite_phase_does_not_cancel(even: Path, tmp_path: Path) -> None:
    wave = tone([0.5, 1.5], 2.0)
    path = together(even, tmp_path / "against.mov", sounds=[[wave, -wave]])
    assert heard_of(path) == pytest.approx([0.5, 1.5], abs=0.005)  # was silence: []
    same = together(even, tmp_path / "same.mov", sounds=[[wave, wave]])
    with open_video(same, with_picture=False) as film:
        assert mixed_by(film) == (0.5, 0.5)


def test_a_dead_channel_takes_nothing_from_the_other(even: Path, tmp_path: Path) -> None:
    wave = tone([0.5, 1.5], 2.0)
    path = together(even, tmp_path / "half.mov", sounds=[[np.zeros_like(wave), wave]])
    with open_video(path, with_picture=False) as film:
        assert mixed_by(film) == (0.0, 1.0)
    assert heard_of(path) == pytest.approx([0.5, 1.5], abs=0.005)


def test_a_packed_film_keeps_every_time_and_the_way_up(film: Film, tmp_path: Path) -> None:
    path = film("turned.mov", stamps=[0, 1, 3, 4, 5, 8, 9, 11], turn_deg=90, first_number=5, beeps_s=(0.1,))
    made = Path(repack(path, tmp_path / f"again{suffix_for(path)}").path)
    old, new = (probe_with_frames(item, settle_s=0)[1] for item in (path, made))
    assert np.array_equal(new.starts_us, old.starts_us)
    seen, was = probe(made, settle_s=0), probe(path, settle_s=0)
    assert (seen.rotation_deg, seen.sound_first_s) == (was.rotation_deg, was.sound_first_s)


@pytest.mark.parametrize(("codec", "ending"), [("libx264", "h264"), ("libx265", "hevc")])
def test_bare_pictures_are_refused_with_the_way_out_and_packed(
    film: Film, tmp_path: Path, codec: str, ending: str
) -> None:
    path = tmp_path / f"bare.{ending}"
    whole = film(
        f"for-{ending}.mkv",
        stamps=range(30),
        codec=codec,
        b_frames=0,
        sound="",
        options={"x265-params": "log-level=none:bframes=0"} if ending == "hevc" else {},
    )
    with av.open(str(whole)) as old, av.open(str(path), "w", format=ending) as new:
        stream = new.add_stream_from_template(cast(Any, old.streams.video[0]))
        for packet in old.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                new.mux(packet)
    with pytest.raises(BarePictures, match=r"repack .* --rate") as caught:
        probe(path, settle_s=0)
    assert path.name in str(caught.value)
    made = repack(path, tmp_path / "film.mp4", rate_hz=50)
    seen = probe(made.path, settle_s=0)
    assert (seen.frames, seen.rate_hz) == (30, 50.0)
    assert [read_card(luma) for luma in lumas(Path(made.path))] == list(range(30))
    with pytest.raises(OutOfRange, match="got 0"):
        repack(path, tmp_path / "none.mp4", rate_hz=0)
