"""The path over strikes: hand-made impacts with plain answers."""

import dataclasses
import itertools

import numpy as np
import pytest

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.rally_decoding import APART_S, decode_rallies, strike_pairs


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


def with_walls(heard: Impacts, share=0.3, gap=1.2) -> Impacts:
    """The same with a front wall after each impact, at a share of the time to the next."""
    walls = Impacts(
        heard.time_s + np.float32(share * gap),
        np.tile(np.eye(len(SURFACES), dtype=np.float32)[2], (len(heard), 1)),
        *(np.full(len(heard), -9, np.float32) for _ in range(3)),
        heard.state,
        heard.level_db,
    )
    joined = Impacts.joined([heard, walls])
    order = np.argsort(joined.time_s)
    return Impacts(*(getattr(joined, f.name)[order] for f in dataclasses.fields(joined)))


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
    heard = with_walls(impacts(rows))
    assert len(decode_rallies(heard)) == 1
    assert decode_rallies(heard, np.full(len(heard), -4.0)) == []


def test_a_wall_soon_after_each_strike_bears_a_rally_out():
    rows = [(3 + 1.2 * k, 1.0, 1.0 if k == 0 else -3, 1.0 if k == 3 else -3, 0.6) for k in range(4)]
    heard = impacts(rows)
    assert decode_rallies(heard) == []
    late = decode_rallies(with_walls(heard, share=0.97))  # each would belong to the strike after it
    assert all(len(item.strikes_s) < 4 for item in late)
    (item,) = decode_rallies(with_walls(heard))
    assert len(item.strikes_s) == 4


def test_what_lies_between_two_strikes_counts_for_that_pair_alone():
    heard = with_walls(impacts(rally(3, 4)))
    pairs = strike_pairs(heard, np.flatnonzero(heard.strike > 0))
    near = pairs.later - pairs.earlier == 1
    assert pairs.wall[near] == pytest.approx(0.0, abs=1e-6)
    assert near.sum() == 3
    assert [pairs.wall_between(k, k + 1) for k in range(3)] == pytest.approx([0, 0, 0], abs=1e-6)
