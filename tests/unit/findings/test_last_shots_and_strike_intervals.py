"""Last shots before the end, and the time between hits."""

from __future__ import annotations

import pytest

from goodlength.findings.analyses.last_shots_and_strike_intervals import (
    ShotRally,
    sequences,
    time_between_hits,
)
from goodlength.record.model import Shot
from goodlength.scoring.scoring_types import Side


def rally(key, strokes, winner="a", first="a", times=None):
    """Shots alternate from `first`; a stroke None is not recorded."""
    sides = [Side.A, Side.B] if first == "a" else [Side.B, Side.A]
    shots = tuple(
        Shot(i + 1, sides[i % 2], stroke, at_us=None if times is None else round(1e6 * times[i]))
        for i, stroke in enumerate(strokes)
    )
    return ShotRally(key, shots, None if winner is None else Side(winner))


def test_the_last_two_shots_with_what_their_shares_alone_would_give():
    played = [rally(f"d{i}", ["lob", "drive", "drop"]) for i in range(6)]
    played += [rally(f"b{i}", ["lob", "boast", "kill"]) for i in range(4)]
    found = sequences(played, Side.A)
    first, second = found.won
    assert first.words == "drive by loser, then drop by winner"
    assert (first.seen.count, first.seen.of) == (6, 10)
    assert first.expected == pytest.approx(10 * 0.6 * 0.6)
    assert second.expected == pytest.approx(10 * 0.4 * 0.4)
    assert first.seen.rallies == tuple(f"d{i}" for i in range(6))
    assert found.lost == ()


def test_rare_ones_go_together():
    played = [rally(f"d{i}", ["drive", "drop"]) for i in range(3)]
    played += [rally("x", ["lob", "drop"]), rally("y", ["boast", "kill"])]
    rows = sequences(played, Side.A).won
    assert [row.words for row in rows] == ["drive by winner, then drop by loser", "All others"]
    assert (rows[-1].seen.count, rows[-1].expected) == (2, None)


def test_won_and_lost_are_kept_apart_and_strokes_keep_their_striker():
    played = [rally(str(i), ["drive", "drop"], winner="b") for i in range(3)]
    assert sequences(played, Side.A).won == ()
    assert sequences(played, Side.A).lost[0].words == "drive by loser, then drop by winner"
    assert sequences(played, Side.B).won[0].words == "drive by loser, then drop by winner"


def test_three_shots_short_rallies_and_gaps():
    played = [
        rally("short", ["drive", "drop"]),
        rally("gap", ["lob", None, "drop"]),
        rally("let", ["lob", "drive", "drop"], winner=None),
        *(rally(str(i), ["lob", "cross-court", "drive", "drop"]) for i in range(3)),
    ]
    found = sequences(played, Side.A, 3)
    assert found.left_out == 2
    assert found.won[0].words == "cross court by loser, then drive by winner, then drop by loser"
    assert sequences([], Side.A).won == ()


def test_time_runs_from_the_opponent_s_hit():
    played = [rally(str(i), ["lob", "drive", "drive"], times=[0.0, 1.2, 2.8]) for i in range(6)]
    a, b = time_between_hits(played)
    assert (a.hits, b.hits) == (6, 6)
    assert a.middle.median == pytest.approx(1.6)
    assert b.middle.median == pytest.approx(1.2)
    assert (a.quartile_low_s, a.quartile_high_s) == pytest.approx((1.6, 1.6))


def test_gaps_that_hide_a_hit_are_left_out():
    long_gap = rally("l", ["lob", "drive"], times=[0.0, 9.0])
    no_time = rally("n", ["lob", "drive"])
    back = rally("b", ["lob", "drive"], times=[2.0, 1.0])
    twice = ShotRally(
        "t", (Shot(1, Side.A, "lob", at_us=0), Shot(3, Side.A, "drive", at_us=1_000_000)), Side.A
    )
    a, b = time_between_hits([long_gap, no_time, back, twice])
    assert (a.hits, b.hits) == (0, 0)
    assert a.middle.median is None
    assert a.quartile_low_s is None
