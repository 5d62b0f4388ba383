"""The whole way from a film to rallies: in one go, stopped and taken up again, without sound, and as a job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from goodlength.errors import Cancelled, NotFootage
from goodlength.footage.audio.network_rally_recognition import share_of_spans
from goodlength.footage.audio.rallies_from_motion import busy_spans
from goodlength.footage.audio.rally_detection import RallyDetection, detect_rallies
from goodlength.synthetic.simulated_court_audio import GLASS, RATE, TYPICAL, SoundRecording, record
from goodlength.synthetic.video_with_sound_writer import write_film

CALM = replace(TYPICAL, t60_s=(1.0, 1.5), doors=0.0)


@pytest.fixture(scope="module")
def court(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SoundRecording]:
    """A minute and a half of invented play."""
    made = record(np.random.default_rng(4), CALM, 90.0)
    return write_film(tmp_path_factory.mktemp("court") / "court.mp4", made.samples), made


def sure(heard: RallyDetection) -> list[tuple[float, float]]:
    return [(r.start_us / 1e6, r.end_us / 1e6) for r in heard.rallies if not r.doubtful]


def test_rallies_of_a_film(court: tuple[Path, SoundRecording]) -> None:
    path, made = court
    told: list[float] = []
    heard = detect_rallies(path, lambda share, _: told.append(share))
    assert heard.by == "sound"
    found = sure(heard)
    assert len(found) == len(made.truth.rallies) >= 2
    for (a, b), (c, d) in zip(found, made.truth.rallies, strict=True):
        assert a == pytest.approx(c, abs=0.3)
        assert b == pytest.approx(d, abs=1.5)
    hits = np.array([us / 1e6 for r in heard.rallies for us in r.hits_us])
    strikes = [at for rally in made.truth.hits for at in rally]
    assert np.mean([np.abs(hits - at).min() <= 0.01 for at in strikes]) >= 0.85
    assert told == sorted(told)
    plain = heard.to_json()
    first = plain["rallies"][0]  # type: ignore[index]
    keys = {"start_s", "end_s", "hits_s", "doubtful", "why", "chance", "strikes", "clip_end_s"}
    assert set(first) == keys
    assert {item["surface"] for item in first["strikes"]} >= {"racket", "front wall"}
    assert first["clip_end_s"] > first["end_s"]
    doubtful = len(heard.rallies) - len(found)
    assert heard.words.startswith(f"{len(heard.rallies)} rallies detected, ")
    assert (f"{doubtful} of them doubtful." if doubtful else "none doubtful.") in heard.words


def test_a_stopped_hearing_goes_on_where_it_was(
    court: tuple[Path, SoundRecording], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, _ = court
    whole = detect_rallies(path)
    keep = tmp_path / "heard.npz"
    asked: list[int] = []

    def soon() -> bool:
        asked.append(1)
        return len(asked) > 4

    with pytest.raises(Cancelled, match="saved for the next time"):
        detect_rallies(path, cancel=soon, keep=keep)
    assert keep.exists()
    shares: list[float] = []
    again = detect_rallies(path, lambda share, _: shares.append(share), keep=keep)
    assert shares[0] > 0.3
    assert [len(r.hits_us) for r in again.rallies] == [len(r.hits_us) for r in whole.rallies]
    assert [r.start_us for r in again.rallies] == pytest.approx([r.start_us for r in whole.rallies], abs=2000)


def test_what_was_kept_of_another_film_is_not_used(
    court: tuple[Path, SoundRecording], tmp_path: Path
) -> None:
    path, _ = court
    keep = tmp_path / "heard.npz"
    other = write_film(tmp_path / "other.mp4", np.zeros(32_000 * 5, np.float32))
    detect_rallies(other, keep=keep, motion=False)
    assert detect_rallies(path, keep=keep) == detect_rallies(path)
    keep.write_bytes(b"broken")
    assert detect_rallies(path, keep=keep) == detect_rallies(path)


def test_rallies_are_heard_behind_glass_and_doubtful_ones_say_why(tmp_path: Path) -> None:
    """Before the network the sound of such a film was of no use, and its rallies were guessed from motion."""
    made = record(np.random.default_rng(4), replace(GLASS, t60_s=(1.0, 1.5)), 60.0)
    heard = detect_rallies(write_film(tmp_path / "glass.mp4", made.samples), motion=False)
    assert heard.by == "sound"
    spans = [(r.start_us / 1e6, r.end_us / 1e6) for r in heard.rallies]
    for a, b in made.truth.rallies:
        assert max(share_of_spans((a, b), span) for span in spans) > 0.5
    assert all(r.why for r in heard.rallies if r.doubtful)


def test_a_sound_without_hits_says_so_and_falls_back(tmp_path: Path) -> None:
    t = np.arange(40 * RATE) / RATE
    rng = np.random.default_rng(2)
    tune = sum(0.05 * np.sin(2 * np.pi * f * t) * (1 + np.sin(2 * np.pi * t / 3)) for f in (220, 277, 330))
    drone = (tune + 0.01 * rng.standard_normal(len(t))).astype(np.float32)
    heard = detect_rallies(write_film(tmp_path / "drone.mp4", drone))
    assert heard.by == "motion"
    assert "behind glass" in heard.words
    assert "Check each one" in heard.words
    assert all(r.doubtful for r in heard.rallies)


def test_no_sound_falls_back_to_motion_or_to_nothing(film: Callable[..., Path]) -> None:
    silent = film("silent.mp4", stamps=range(4), sound="")
    assert detect_rallies(silent).by == "motion"
    assert detect_rallies(silent, motion=False).by == "nothing"
    with pytest.raises(NotFootage):
        detect_rallies(
            silent.with_name("none.txt") if silent.with_name("none.txt").write_text("x") else silent
        )


def test_busy_stretches() -> None:
    times = np.arange(0, 60, 0.16)
    busy = ((times > 10) & (times < 20)) | ((times > 30) & (times < 45))
    rng = np.random.default_rng(0)
    changes = np.where(busy, 2.0, 0.1) * rng.uniform(0.6, 1.4, len(times))
    wanted = [(10_000_000, 20_000_000), (30_000_000, 45_000_000)]
    assert np.abs(np.array(busy_spans(times, changes)) - wanted).max() < 1_000_000
    assert busy_spans(times, np.full(len(times), 1.0)) == []
    assert busy_spans(times[:5], changes[:5]) == []
