"""Ticks, time bases, microseconds and times in words."""

from __future__ import annotations

from fractions import Fraction

import pytest

from goodlength.errors import OutOfRange
from goodlength.media_time import TimeBase, Timestamp, clock_words, minutes_words, seconds, us

NTSC = TimeBase(1001, 30000)
MPEG = TimeBase(1, 90000)


def test_a_stamp_is_exact_after_a_million_frames():
    assert Timestamp(1_000_000, NTSC).seconds == Fraction(1001 * 1_000_000, 30000)


def test_stamps_of_different_bases_compare_by_time():
    assert Timestamp(1, NTSC) == Timestamp(3003, MPEG)
    assert Timestamp(1, NTSC) < Timestamp(3004, MPEG)
    assert Timestamp(1, NTSC) >= Timestamp(3002, MPEG)
    assert len({Timestamp(1, NTSC), Timestamp(3003, MPEG)}) == 1


def test_a_stamp_is_not_equal_to_a_bare_number():
    assert Timestamp(1, TimeBase(1, 1)) != 1


def test_float_and_microseconds_of_a_stamp():
    assert float(Timestamp(45000, MPEG)) == 0.5
    assert Timestamp(1, NTSC).us == 33367


@pytest.mark.parametrize("ratio", [(0, 1), (1, 0), (-1, 30)])
def test_a_time_base_must_be_above_zero(ratio):
    with pytest.raises(OutOfRange, match=r"ratio of two whole numbers above zero"):
        TimeBase(*ratio)


@pytest.mark.parametrize("time_s", [0.0, 0.1, 31.4, 7199.999999, -2.5])
def test_microseconds_there_and_back(time_s):
    assert seconds(us(time_s)) == time_s


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_a_time_that_is_no_number_is_refused(bad):
    with pytest.raises(OutOfRange, match="finite"):
        us(bad)


@pytest.mark.parametrize(
    ("time_s", "words"),
    [
        (0, "0:00.0"),
        (9.94, "0:09.9"),
        (59.96, "1:00.0"),
        (1874.6, "31:14.6"),
        (3599.99, "1:00:00.0"),
        (-3.2, "−0:03.2"),
        (-0.01, "0:00.0"),
        (float("nan"), "unknown"),
    ],
)
def test_clock_words(time_s, words):
    assert clock_words(time_s) == words


@pytest.mark.parametrize(
    ("time_s", "words"),
    [
        (0, "0 s"),
        (59.6, "1 min"),
        (90, "1 min 30 s"),
        (3600, "1 h"),
        (4350, "1 h 12 min"),
        (-90, "−1 min 30 s"),
        (float("inf"), "unknown"),
    ],
)
def test_minutes_words(time_s, words):
    assert minutes_words(time_s) == words
