"""Bad input is answered with a sentence: what, which value, what would be accepted."""

from __future__ import annotations

import math

import numpy as np
import pytest

from goodlength.ball import (
    Air,
    Ball,
    Coefficients,
    Court,
    PlayConditions,
    Receiver,
    aim_at_spots,
    e7_at,
    fly,
    fly_summaries,
    serve,
)
from goodlength.ball.model.input_validation import within
from goodlength.errors import InputError, OutOfRange
from oracles.ball_bounce import bounce

GOOD = [4.6, 5.6, 1.2, -5.5, -19.0, 5.0]


@pytest.mark.parametrize("place", range(6))
@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_number_never_flies(place, bad):
    launch = list(GOOD)
    launch[place] = bad
    with pytest.raises(OutOfRange, match="row 1 holds one that is not"):
        fly(launch)
    with pytest.raises(OutOfRange):
        fly_summaries([GOOD, launch], [Coefficients().row()])


@pytest.mark.parametrize(
    ("launch", "words"),
    [
        ([7.0, 5.6, 1.2, 0, -19, 5], "not inside the court"),
        ([4.6, 5.6, -0.1, 0, -19, 5], "not inside the court"),
        ([4.6, 5.6, 1.2, 0, -90, 5], "Give at most 80"),
        ([4.6, 5.6, 1.2, 0, -19, 5, 0, 0, 9e9], "Give at most 2000"),
        ([4.6, 5.6, 1.2], "9 numbers to a row"),
        (["4,6", 5.6, 1.2, 0, -19, 5], "must be numbers"),
    ],
)
def test_launch_that_cannot_be(launch, words):
    with pytest.raises(InputError, match=words):
        fly(launch)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Air(temperature_c=80.0), "from -10 to 50 °C; got 80"),
        (lambda: within("cost of a fault", math.nan, 0, 10, ""), "from 0 to 10; it is not a number. Please"),
        (lambda: within("cost of a fault", 20, 0, 10, ""), "fault must be from 0 to 10; got 20. Please"),
        (lambda: Air(humidity=50.0), "0.5 is 50 %"),
        (lambda: Air(pressure_pa=1013.0), "the reading in the room"),
        (lambda: Air(temperature_c=math.nan), "from -10 to 50 °C; it is not a number"),
        (lambda: Air.at_altitude(9000.0), "m above sea level; got 9000"),
        (lambda: Ball(warmth="tepid"), "one of unsure, hot, warm, club, cold; got 'tepid'"),
        (lambda: Ball(dot="purple"), "one of double-yellow"),
        (lambda: Ball(temperature_c=200.0), "from -10 to 80"),
        (lambda: Court(walls="ice"), "one of plaster, panel, glass"),
        (lambda: Court(tin="low"), "one of standard, tour"),
        (lambda: Receiver(x_m=9.0), "receiver's distance from the left wall"),
        (lambda: Receiver.usual("middle"), "one of right, left"),
        (lambda: serve("center", GOOD), "one of right, left"),
        (lambda: e7_at(math.nan), "ball temperature"),
        (lambda: Coefficients(e7=1.5), "e7 must be from 0 to 1"),
        (lambda: Coefficients(grip="much"), "must be a number; got 'much'"),
        (
            lambda: aim_at_spots([[4.6, 5.6, 1.2, 0, 0, 0]], [0.0], [[3, 3]], [Coefficients().row()]),
            "from 1 to 80 m/s",
        ),
        (
            lambda: aim_at_spots([[4.6, 5.6, 1.2, 0, 0, 0]], [9.0], [[3, 3]] * 2, [Coefficients().row()]),
            "1 starts and 2",
        ),
        (
            lambda: fly_summaries([GOOD], [Coefficients().row()], [3]),
            "number of a set of coefficients, 0 to 0",
        ),
        (lambda: bounce([0, 0, -1], [0, 0, 0], (1.0, 1.0, 0.0), Coefficients()), "along an axis"),
        (lambda: bounce([0, 0, 1], [0, 0, 0], (0.0, 0.0, 1.0), Coefficients()), "moves away"),
    ],
)
def test_what_cannot_be_is_said_in_a_sentence(make, words):
    with pytest.raises(InputError) as caught:
        make()
    assert words in str(caught.value)
    assert str(caught.value).rstrip().endswith(".")


def test_empty_is_a_value():
    flown = fly_summaries(np.empty((0, 9)), [Coefficients().row()], lines_m=[7.0])
    assert len(flown) == 0 and flown.seen.shape == (0, 1, 5)


def test_what_is_assumed_is_said():
    words = " ".join(PlayConditions(Ball(dot="blue")).assumed())
    assert "half a metre" in words and "38 °C" in words and "weight is assumed" in words
