"""The network that names impacts: what it says of a plain recording, and that its parts do as said."""

from importlib import resources

import numpy as np
import pytest

from goodlength.footage.audio.impact_classifier_network import (
    BUCKETS,
    OCTAVES,
    SURFACES,
    ImpactNetwork,
    Impacts,
    Relation,
    convolve,
    impact_network,
    peaks,
    product,
)
from goodlength.footage.audio.log_mel import BANDS, mel_frames
from goodlength.synthetic.simulated_court_audio import RATE, TYPICAL, record


@pytest.fixture(scope="module")
def heard() -> tuple[Impacts, list[float]]:
    """A minute and a half by a renderer that the network never learnt from."""
    made = record(np.random.default_rng(12), TYPICAL, 90.0)
    return impact_network().impacts(mel_frames(made.samples, RATE)), [t for r in made.truth.hits for t in r]


def test_nearly_every_strike_has_an_impact_within_ten_milliseconds(heard):
    found, strikes = heard
    apart = np.abs(found.time_s - np.array(strikes)[:, None])
    assert np.mean(apart.min(axis=1) <= 0.01) >= 0.95


def test_most_strikes_are_named_racket_and_few_other_impacts_are(heard):
    found, strikes = heard
    apart = np.abs(found.time_s - np.array(strikes)[:, None])
    named = found.surface.argmax(axis=1) == SURFACES.index("racket")
    assert named[apart.argmin(axis=1)].mean() >= 0.85
    assert named[apart.min(axis=0) > 0.03].mean() <= 0.12


def test_chances_are_chances(heard):
    found, _ = heard
    assert np.allclose(found.surface.sum(axis=1), 1, atol=1e-4)
    assert np.allclose(found.state.sum(axis=1), 1, atol=1e-4)
    assert (np.diff(found.time_s) >= 0).all()


def test_a_recording_longer_than_a_window_has_no_seam():
    """An impact near a window's border is found once."""
    made = record(np.random.default_rng(3), TYPICAL, 150.0)
    found = impact_network().impacts(mel_frames(made.samples, RATE))
    assert np.diff(found.time_s).min() > 0.015


def test_silence_and_scraps_give_nothing_or_little():
    assert len(impact_network().impacts(np.zeros((0, BANDS), np.uint8))) == 0
    assert len(impact_network().impacts(np.zeros((30, BANDS), np.uint8))) == 0
    assert (impact_network().impacts(np.zeros((4000, BANDS), np.uint8)).strike > 0).sum() == 0


def test_a_convolution_is_that_of_numpy():
    rng = np.random.default_rng(0)
    x, weight = rng.normal(size=(50, 1)).astype(np.float32), rng.normal(size=(1, 1, 3)).astype(np.float32)
    wanted = np.convolve(x[:, 0], weight[0, 0, ::-1], "same")
    assert np.allclose(convolve(x, weight, np.zeros(1, np.float32))[:, 0], wanted, atol=1e-5)
    halved = convolve(x, weight, np.zeros(1, np.float32), stride=2)
    assert np.allclose(halved[:, 0], wanted[::2], atol=1e-5)


def test_a_product_in_pieces_is_the_product():
    rng = np.random.default_rng(1)
    a, b = rng.normal(size=(517, 40)), rng.normal(size=(40, 96))
    assert np.allclose(product(a, b), a @ b)
    a, b = rng.normal(size=(4, 130, 24)), rng.normal(size=(4, 24, 130))
    assert np.allclose(product(a, b), a @ b)


def test_of_two_rises_within_thirty_milliseconds_the_higher_counts():
    best = np.zeros(100, np.float32)
    best[[20, 22, 60]] = 0.5, 0.9, 0.3
    assert peaks(best).tolist() == [22, 60]


def test_a_table_over_time_apart_is_read_between_its_entries():
    """Before and after apart, by the logarithm of the time between; an impact itself in the middle."""
    at = np.array([0.0, 0.02, 1.0, 30.0, 400.0], np.float32)
    table = np.random.default_rng(2).normal(size=(2, 2 * BUCKETS + 1)).astype(np.float32)
    got = Relation.of(at, 4).read(table)
    for i, a in enumerate(at):
        for j, b in enumerate(at):
            place = 0.0
            if i != j:
                octaves = np.log2(max(abs(b - a), 0.02) / 0.02) / OCTAVES
                place = np.sign(b - a) * min(octaves * (BUCKETS - 1) + 1, BUCKETS)
            wanted = [np.interp(place + BUCKETS, np.arange(2 * BUCKETS + 1), row) for row in table]
            assert np.allclose(got[:, i, j], wanted, atol=0.01)  # read at 256 places an entry


def test_a_matrix_of_small_integers_is_scaled_row_by_row():
    weights = {
        "first.w": np.array([[[2]], [[-127]]], np.int8),
        "first.w.scale": np.float32([[[0.5]], [[0.01]]]),
    }
    read = ImpactNetwork(weights).weight("first.w")
    assert np.allclose(read[:, 0, 0], [1.0, -1.27])


def test_the_network_that_is_shipped_is_small():
    path = resources.files("goodlength.footage.models").joinpath("impacts.npz")
    assert path.stat().st_size <= 1_000_000
