"""The path over strikes: hand-made impacts with plain answers."""

import itertools

import numpy as np
import pytest

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.rally_decoding import APART_S, decode_rallies


def impacts(rows) -> Impacts:
    """Rows of (time, log-odds of a strike, of the first, of the last, chance of a rally)."""
    rows = np.array(rows, np.float32)
    n = len(rows)
    surface = np.zeros((n, len(SURFACES)), np.float32)
    surface[:, 1] = 1 / (1 + np.exp(-rows[:, 1]))
    surface[:, 0] = 1 - surface[:, 1]
    state = np.zeros((n, len(STATES)), np.float32)
    state[:, 1], state[:, 0] = rows[:, 4], 1 - rows[:, 4]
    return Impacts(rows[:, 0], surface, rows[:, 1], rows[:, 2], rows[:, 3], state, np.zeros(n, np.float32))


def rally(start, count, gap=1.2):
    return [
        (start + k * gap, 3.0, 4.0 if k == 0 else -5.0, 4.0 if k == count - 1 else -5.0, 0.95)
        for k in range(count)
    ]


def test_two_rallies_with_a_pause_are_two():
    found = decode_rallies(impacts([*rally(3, 5), *rally(20, 3)]))
    assert [len(item.strikes_s) for item in found] == [5, 3]
    assert found[0].start_s == pytest.approx(3)
    assert found[1].end_s == pytest.approx(22.4)


def test_a_clap_between_two_strikes_is_left_out():
    rows = sorted([*rally(3, 4), (3.7, -2.5, -5.0, -5.0, 0.9)])
    (item,) = decode_rallies(impacts(rows))
    assert np.allclose(item.strikes_s, [3, 4.2, 5.4, 6.6], atol=1e-5)


def test_strikes_farther_apart_than_play_allows_are_no_one_rally():
    rows = [*rally(3, 3), *rally(5.4 + 4.5, 3)]
    assert len(decode_rallies(impacts(rows))) == 2


def test_impacts_of_a_warm_up_give_no_rally():
    rows = [(3 + 1.3 * k, 0.5, -5.0, -5.0, 0.02) for k in range(30)]
    assert decode_rallies(impacts(rows)) == []


def test_a_serve_alone_is_a_rally_of_one():
    (item,) = decode_rallies(impacts([(5.0, 3.0, 4.0, 4.0, 0.9)]))
    assert item.start_s == item.end_s == 5.0


def test_rallies_never_come_closer_than_a_serve_can_follow():
    rng = np.random.default_rng(0)
    for _ in range(50):
        n = 60
        rows = np.c_[np.sort(rng.uniform(0, 60, n)), rng.normal(0, 3, (n, 3)), rng.uniform(0, 1, n)]
        found = decode_rallies(impacts(rows))
        for a, b in itertools.pairwise(found):
            assert b.start_s - a.end_s >= APART_S - 1e-4
        assert all((np.diff(item.strikes_s) > 0.3 - 1e-4).all() for item in found)


def test_nothing_heard_gives_nothing():
    assert decode_rallies(impacts(np.zeros((0, 5)))) == []


def test_a_picture_at_rest_takes_a_weak_rally_away():
    rows = [(3 + 1.2 * k, 1.0, 1.0 if k == 0 else -3, 1.0 if k == 3 else -3, 0.6) for k in range(4)]
    heard = impacts(rows)
    assert len(decode_rallies(heard)) == 1
    assert decode_rallies(heard, np.full(4, -4.0)) == []
