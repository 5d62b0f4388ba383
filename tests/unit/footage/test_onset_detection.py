"""Impacts: found at their moment, told apart from voices, the same whatever the blocks."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.footage.audio.onset_detection import (
    Decimator,
    OnsetDetector,
    Onsets,
    band_matrix,
)

Samples = np.ndarray


def detect_onsets(blocks: list[Samples], rate_hz: int) -> Onsets:
    """All impacts of a sound given in blocks of samples."""
    detector = OnsetDetector(rate_hz)
    parts = [detector.feed(block) for block in blocks]
    return Onsets.joined([*parts, detector.rest()])


def struck(
    rng: np.random.Generator, times_s: list[float], seconds: float, rate: int, level: float = 0.3
) -> Samples:
    """Short bursts of fading noise in a quiet room."""
    x = 1e-4 * rng.standard_normal(round(seconds * rate))
    for at in times_s:
        n = round(0.03 * rate)
        burst = level * rng.standard_normal(n) * np.exp(-np.arange(n) / (0.004 * rate))
        x[round(at * rate) : round(at * rate) + n] += burst
    return x.astype(np.float32)


@pytest.mark.parametrize("rate", [16_000, 22_050, 24_000, 32_000, 44_100, 48_000, 96_000])
def test_impacts_are_found_within_a_millisecond_at_any_rate(rate: int) -> None:
    times = [0.7, 1.1, 2.345, 3.0]
    found = detect_onsets([struck(np.random.default_rng(1), times, 4.0, rate)], rate)
    loud = found.where(found.level_db > -30)
    assert loud.time_s == pytest.approx(times, abs=0.001)
    assert loud.rise_db.min() > 15
    assert loud.fall_db.max() < -10


def test_blocks_make_no_difference_but_at_their_edges() -> None:
    rng = np.random.default_rng(2)
    times = sorted(rng.uniform(0.5, 29, 60))
    x = struck(rng, list(times), 30.0, 48_000)
    whole = detect_onsets([x], 48_000)
    for size in (777, 4_800, 480_000):
        parts = detect_onsets([x[i : i + size] for i in range(0, len(x), size)], 48_000)
        near = np.abs(parts.time_s[:, None] - whole.time_s[None]).min(axis=0)
        strong = whole.rise_db > 10
        assert near[strong].max() < 0.001
        assert len(parts.where(parts.rise_db > 10)) == strong.sum()


def test_listening_can_begin_in_the_middle() -> None:
    x = struck(np.random.default_rng(3), [1.0, 5.0, 9.0], 10.0, 24_000)
    listener = OnsetDetector(24_000, 4.0)
    found = Onsets.joined([listener.feed(x[4 * 24_000 :]), listener.rest()])
    assert found.where(found.level_db > -30).time_s == pytest.approx([5.0, 9.0], abs=0.001)
    assert listener.until_s >= 10.0


def test_a_voice_is_no_impact() -> None:
    """A vowel that swells in 60 ms and stays: little rise, no fall."""
    rate = 24_000
    t = np.arange(2 * rate) / rate
    tone = sum(np.sin(2 * np.pi * 150 * h * t) / h for h in range(1, 40))
    voice = 0.1 * tone * np.clip((t - 0.8) / 0.06, 0, 1)
    quiet = 1e-4 * np.random.default_rng(0).standard_normal(len(t))
    found = detect_onsets([(voice + quiet).astype(np.float32)], rate)
    hit = detect_onsets([struck(np.random.default_rng(0), [1.0], 2.0, rate)], rate)
    assert found.rise_db.max(initial=0) < 0.7 * hit.rise_db.max()
    assert found.fall_db[np.argmax(found.level_db)] > -5
    assert hit.fall_db[np.argmax(hit.level_db)] < -15


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000, 192_000])
def test_thinning_keeps_time_and_tone_and_drops_what_would_fold(rate: int) -> None:
    t = np.arange(rate) / rate
    thinner = Decimator(rate)
    x = np.sin(2 * np.pi * 1000 * t).astype(np.float32)
    parts = [thinner.feed(x[i : i + 1000]) for i in range(0, rate, 1000)]
    y = np.concatenate([*parts, thinner.rest()])
    wanted = x[:: thinner.every]
    assert np.abs(y[200 : len(wanted) - 200] - wanted[200:-200]).max() < 0.02
    high = np.sin(2 * np.pi * (0.5 * rate - 3000) * t).astype(np.float32)
    assert np.abs(Decimator(rate).feed(high)[200:-200]).max() < 0.1


def test_every_band_has_a_line() -> None:
    for rate in (8_000, 16_000, 22_050, 32_000):
        assert np.all(band_matrix(rate).sum(axis=0) == pytest.approx(1.0))


def test_silence_and_nothing() -> None:
    assert len(detect_onsets([], 48_000)) == 0
    assert len(detect_onsets([np.zeros(48_000, np.float32)], 48_000)) == 0
