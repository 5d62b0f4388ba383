"""Frames of band levels: in step with the sound whatever the blocks and the rate."""

import numpy as np
import pytest

from goodlength.footage.audio.log_mel import (
    BANDS,
    HIGHEST_HZ,
    HOP_S,
    LOWEST_HZ,
    OFFSET_DB,
    MelFrames,
    mel_frames,
)

RATES = (8_000, 11_025, 16_000, 22_050, 24_000, 32_000, 48_000)


@pytest.mark.parametrize("rate", RATES)
def test_a_click_is_loudest_in_the_frame_of_its_moment(rate):
    wave = np.zeros(rate * 4, np.float32)
    for at in (0.5, 1.2345, 3.1):
        wave[round(at * rate)] = 1.0
    level = mel_frames(wave, rate).astype(float).mean(axis=1)
    for at in (0.5, 1.2345, 3.1):
        near = round(at / HOP_S)
        found = near - 20 + np.argmax(level[near - 20 : near + 21])
        assert abs(found * HOP_S - at) <= HOP_S / 2 + 0.001


@pytest.mark.parametrize("rate", RATES)
def test_a_tone_is_as_loud_at_every_rate(rate):
    t = np.arange(rate) / rate
    frames = mel_frames((0.5 * np.sin(2 * np.pi * 1000 * t)).astype(np.float32), rate)
    level = float(frames[100].max()) - OFFSET_DB
    assert level == pytest.approx(-9.5, abs=1.0)


def test_blocks_of_any_size_give_the_same_frames():
    rng = np.random.default_rng(1)
    wave = rng.standard_normal(22_050 * 3).astype(np.float32) * 0.1
    whole = mel_frames(wave, 22_050)
    made, parts, at = MelFrames(22_050), [], 0
    while at < len(wave):
        count = int(rng.integers(1, 4000))
        parts.append(made.feed(wave[at : at + count]))
        at += count
    parts.append(made.rest())
    assert np.array_equal(np.concatenate(parts), whole)
    assert whole.shape == (601, BANDS)


def test_bands_above_half_the_rate_are_silent():
    noise = np.random.default_rng(2).standard_normal(8_000 * 2).astype(np.float32)
    frames = mel_frames(noise, 8_000)
    centre = np.linspace(np.log10(1 + LOWEST_HZ / 700), np.log10(1 + HIGHEST_HZ / 700), BANDS + 2)[1:-1]
    above = 700 * (10**centre - 1) > 4300
    assert frames[:, above].max() == 0
    assert frames[50:-50, centre < np.log10(1 + 3600 / 700)].min() > 0


def test_a_rate_that_cannot_be_is_refused_in_words():
    with pytest.raises(ValueError, match=r"1,000 to 400,000; got 10"):
        MelFrames(10)
