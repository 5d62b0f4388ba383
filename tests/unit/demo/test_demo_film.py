"""Two seconds of the film: what is seen and heard is where and when the truth says."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest
from scipy import signal

from goodlength.demo.film.audio_synthesis import RATE, GameSound, arrival_time_s
from goodlength.demo.film.frame_sequence import FRAMES_A_S
from goodlength.demo.film.game_timeline import SEED
from goodlength.demo.film.video_writer import write_film
from goodlength.demo.play.court_camera import CAMERA
from goodlength.demo.record_entries_of_demo_matches import filmed_game
from goodlength.errors import Cancelled
from goodlength.footage.edit.proxy_video import needs_proxy
from goodlength.footage.media.video_probe import probe

FRAMES = 50


def first_frame() -> int:
    return round(filmed_game().rallies[0].start_s * FRAMES_A_S) - 15


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Path:
    to = tmp_path_factory.mktemp("film") / "short.mp4"
    first = first_frame()
    assert write_film(filmed_game(), CAMERA, to, SEED, frames=(first, first + FRAMES)) == FRAMES
    return to


def pictures_of(path: Path) -> list[np.ndarray]:
    with av.open(str(path)) as film:
        return [frame.to_ndarray(format="bgr24") for frame in film.decode(video=0)]


def sound_of(path: Path) -> np.ndarray:
    """Samples on the film's clock, from its zero."""
    out = np.zeros(RATE * 4)
    with av.open(str(path)) as film:
        for frame in film.decode(audio=0):
            assert frame.time is not None
            wave = frame.to_ndarray()[0]
            at = round(frame.time * RATE)
            a, b = max(0, at), max(0, at + len(wave))
            out[a:b] = wave[len(wave) - (b - a) :]
    return out


def test_any_browser_can_play_and_step_it(short: Path) -> None:
    seen = probe(short)
    assert (seen.width, seen.height, seen.rate_hz, seen.frames) == (640, 360, 25.0, FRAMES)
    assert (seen.codec, seen.sound_codec, seen.first_s) == ("h264", "aac", 0.0)
    assert seen.key_distance_s <= 1.0
    assert seen.problems == ()
    assert needs_proxy(seen) is None


def test_the_ball_is_seen_where_the_truth_projects_it(short: Path) -> None:
    pictures, first, filmed = pictures_of(short), first_frame(), filmed_game()
    checked = 0
    for n in range(19, 40):
        ball = filmed.ball((first + n) / FRAMES_A_S)
        assert ball is not None
        u, v, _ = CAMERA.see(*ball)
        if not (8 < u < 630 and 8 < v < 150):
            continue  # outside the picture, or before the players
        near = pictures[n][int(v) - 7 : int(v) + 8, int(u) - 7 : int(u) + 8].sum(axis=2)
        i, j = np.unravel_index(int(np.argmin(near)), near.shape)
        seen = (int(u) - 7 + j + 0.5, int(v) - 7 + i + 0.5)
        assert seen == pytest.approx((u, v), abs=3.0)
        assert near.min() < 0.75 * np.median(near)
        checked += 1
    assert checked >= 6


def test_the_red_lines_stay_red(short: Path) -> None:
    picture = pictures_of(short)[0].astype(int)
    for x, y, z in [(2.4, 5.465, 0.0), (1.0, 0.0, 1.805), (5.6, 7.115, 0.0)]:
        u, v, _ = CAMERA.see(x, y, z)
        blue, _green, red = picture[int(v) - 1 : int(v) + 2, int(u)].T
        assert (red - blue).max() > 90


def test_impacts_are_heard_within_five_milliseconds_of_the_truth(short: Path) -> None:
    wave = signal.sosfilt(signal.butter(4, 1000, "high", fs=RATE, output="sos"), sound_of(short))
    zero = first_frame() / FRAMES_A_S
    hits = [h for h in filmed_game().hits if h.kind in ("racket", "front-wall", "side-wall")]
    inside = [h for h in hits if 0.1 < arrival_time_s(h, CAMERA) - zero < FRAMES / FRAMES_A_S - 0.1]
    assert {"racket", "front-wall"} <= {h.kind for h in inside}
    for hit in inside:
        at = round((arrival_time_s(hit, CAMERA) - zero) * RATE)
        window = np.abs(wave[at - RATE // 50 : at + RATE // 50])
        onset = int(np.argmax(window > 0.3 * window.max())) - RATE // 50
        assert abs(onset) / RATE < 0.005, hit


@pytest.fixture(scope="module")
def sound() -> GameSound:
    return GameSound(filmed_game(), CAMERA, SEED)


def test_the_sound_is_the_same_whatever_the_blocks(sound: GameSound) -> None:
    whole = sound.block(3 * RATE, 6 * RATE)
    parts = np.concatenate([sound.block(a, a + 28_800) for a in range(3 * RATE, 6 * RATE, 28_800)])
    assert np.allclose(whole, parts, atol=1e-6)
    assert np.abs(whole).max() < 1.0


def test_levels_lie_near_the_stated_ones(sound: GameSound) -> None:
    """Levels of LEVEL_DB at the source, a spread of 2.5 dB and the speed on top: medians within 4 dB."""
    filmed = filmed_game()
    wave = sound.block(0, round(filmed.length_s) * RATE)
    peaks: dict[str, list[float]] = {}
    for hit in filmed.hits:
        at = round(arrival_time_s(hit, CAMERA) * RATE)
        away = CAMERA.distance_m(hit.at) / 6.0
        peaks.setdefault(hit.kind, []).append(20 * np.log10(np.abs(wave[at : at + 240]).max() * away + 1e-9))
    level = {kind: float(np.median(values)) for kind, values in peaks.items()}
    for kind, below in {"front-wall": -5.0, "tin": -1.0, "floor": -15.0}.items():
        assert level[kind] - level["racket"] == pytest.approx(below, abs=5.0), kind


def test_who_listens_can_stop_the_film(tmp_path: Path) -> None:
    def stop(_share: float, _words: str) -> None:
        raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        write_film(filmed_game(), CAMERA, tmp_path / "x.mp4", SEED, frames=(0, 50), progress=stop)
