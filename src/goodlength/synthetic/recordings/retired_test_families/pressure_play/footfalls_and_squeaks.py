"""Footfalls that follow from the play, and soles that squeak.

Split steps, strides to the ball, lunges and walks between rallies come from where the players have to be.
A squeak is a mass on a spring dragged over a floor whose friction falls with speed, so it sticks and slips.
Stride, hop, pace, pitch, pressure and friction are ASSUMED.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import resample_poly

from goodlength.court.dimensions import LENGTH_M, T_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.retired_test_families.pressure_play.pressure_rally_simulation import (
    CourtImpact,
    RallyPlayer,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

STRIDE_M = 1.05
SQUEAK_CHANCE = 0.07
Spot = tuple[float, float]


def footfall(
    rng: np.random.Generator, player: RallyPlayer, time_s: float, spot: Spot, effort: float
) -> list[CourtImpact]:
    """Return one footfall of an effort (1 a running step), with a squeak where a sole slips."""
    speed = 2.0 * effort * player.weight * float(rng.lognormal(0.0, 0.35))
    place = (min(max(spot[0], 0.1), WIDTH_M - 0.1), min(max(spot[1], 0.1), LENGTH_M - 0.1), 0.0)
    steps = [CourtImpact(time_s, Surface.FOOT, place, speed, None, "foot")]
    if effort > 0.9 and rng.random() < SQUEAK_CHANCE:
        steps.append(
            CourtImpact(time_s + float(rng.uniform(0.0, 0.06)), Surface.FOOT, place, speed, None, "squeak")
        )
    return steps


def _strides(
    rng: np.random.Generator,
    player: RallyPlayer,
    begin: tuple[float, Spot],
    end: tuple[float, Spot],
    effort: float,
) -> list[CourtImpact]:
    """Return the steps of a way from one moment and spot to another."""
    (start_s, a), (end_s, b) = begin, end
    count = max(1, round(math.dist(a, b) / STRIDE_M))
    out: list[CourtImpact] = []
    for number in range(count):
        share = (number + float(rng.uniform(0.3, 0.7))) / count
        spot = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
        out += footfall(rng, player, start_s + share * (end_s - start_s), spot, effort)
    return out


def rally_footfalls(
    rng: np.random.Generator, players: Sequence[RallyPlayer], impacts: Sequence[CourtImpact]
) -> list[CourtImpact]:
    """Return both players' steps in a rally: to the ball, the lunge, back to the T, a hop at each strike."""
    strikes = [i for i in impacts if i.striker is not None]
    middle: Spot = (T_M[0], T_M[1] + 0.3)
    out: list[CourtImpact] = []
    for number, strike in enumerate(strikes):
        who = strike.striker or 0
        spot: Spot = strike.place[:2]
        if rng.random() < 0.8:
            out += footfall(rng, players[who], strike.time_s - float(rng.uniform(0.03, 0.22)), spot, 1.5)
        if number + 1 < len(strikes):
            answer = strikes[number + 1]
            gap = answer.time_s - strike.time_s
            out += _strides(
                rng, players[who], (strike.time_s + 0.15, spot), (answer.time_s - 0.05, middle), 0.8
            )
            other = players[(answer.striker or 0) % len(players)]
            out += footfall(rng, other, strike.time_s + float(rng.uniform(0.02, 0.14)), middle, 0.9)
            start = (strike.time_s + min(0.25, 0.3 * gap), middle)
            out += _strides(rng, other, start, (answer.time_s - 0.12, answer.place[:2]), 1.1)
    return out


def walking_footfalls(
    rng: np.random.Generator, player: RallyPlayer, start_s: float, end_s: float
) -> list[CourtImpact]:
    """Return a walk about the court with stops."""
    out: list[CourtImpact] = []
    time = start_s + float(rng.uniform(0.2, 1.5))
    here: Spot = (float(rng.uniform(1.0, 5.4)), float(rng.uniform(2.0, 9.0)))
    while time < end_s:
        there = (float(rng.uniform(0.6, 5.8)), float(rng.uniform(0.8, 9.3)))
        arrive = time + math.dist(here, there) / float(rng.uniform(1.0, 1.7))
        if arrive > end_s:
            break
        out += _strides(rng, player, (time, here), (arrive, there), 0.4)
        here, time = there, arrive + float(rng.exponential(3.0))
    return out


SQUEAK_S = 0.15
SQUEAK_RATE, STEPS_PER_SAMPLE = 16000, 2
_STATIC, _SLIDING, _FALL_M_S = 0.95, 0.5, 0.12


def squeaks(rng: np.random.Generator, rate: int, count: int) -> NDArray[np.float32]:
    """Return so many squeaks of the sole's acceleration, peak 1, shape (count, samples)."""
    length = int(SQUEAK_S * SQUEAK_RATE)
    step = 1.0 / (SQUEAK_RATE * STEPS_PER_SAMPLE)
    turn = 2.0 * math.pi * rng.uniform(500.0, 1500.0, count)
    damping = turn * rng.uniform(0.01, 0.03, count)
    drive_m_s = rng.uniform(0.2, 0.7, count)
    lasts = rng.uniform(0.04, 0.13, count)
    press = rng.uniform(0.6, 1.6, count) * turn * 0.35
    x, v = np.zeros(count), drive_m_s * 0.5
    out = np.zeros((length, count))
    share = np.clip(1.0 - np.arange(length)[:, None] / SQUEAK_RATE / lasts, 0.0, 1.0)
    stiffness, resistance = turn**2, 2.0 * damping
    for sample, (belt, pressed) in enumerate(zip(drive_m_s * share, press * np.sqrt(share), strict=True)):
        before = v
        for _ in range(STEPS_PER_SAMPLE):
            slip = belt - v
            friction = _SLIDING + (_STATIC - _SLIDING) * np.exp(-np.abs(slip) / _FALL_M_S)
            push = pressed * friction * np.tanh(slip / 0.01)
            v = v + step * (push - stiffness * x - resistance * v)
            x = x + step * v
        out[sample] = v - before
    out = np.ascontiguousarray(out.T)
    fade = np.minimum(1.0, (length - np.arange(length)) / (0.01 * SQUEAK_RATE))
    common = math.gcd(rate, SQUEAK_RATE)
    out = resample_poly(out * fade, rate // common, SQUEAK_RATE // common, axis=1)
    peak = np.maximum(np.abs(out).max(axis=1, keepdims=True), 1e-12)
    return np.asarray(out / peak, dtype=np.float32)
