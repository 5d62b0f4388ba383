"""All-pole filters: from a curve of levels (Levinson), from drawn line spectral frequencies, and as lattices.

A lattice whose reflection coefficients lie within one is stable, and so is every one between two such; that
lets a struck body's filter glide from "ball on it" to "ball gone" while it rings.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import scipy.fft
from numba import njit
from scipy.linalg import solve_toeplitz
from scipy.signal import lfilter

if TYPE_CHECKING:
    from numpy.typing import NDArray

BANDS_HZ = 62.5 * 2.0 ** np.arange(9)  # octaves of 62.5 Hz to 16 kHz
ORDER = 36


def all_pole(level_db: NDArray[np.float64], rate: int, order: int = ORDER) -> NDArray[np.float64]:
    """Return the taps, 512 of them, of the all-pole filter whose levels at `BANDS_HZ` are about these.

    The filter is causal and begins with its first tap; its level is that of the curve, on average over bands.
    """
    hz = np.linspace(0.0, rate / 2, 513)
    curve = np.interp(np.log2(np.maximum(hz, 20.0)), np.log2(BANDS_HZ), level_db)
    power = 10.0 ** (curve / 10.0)
    auto = scipy.fft.irfft(power)[: order + 1]
    auto[0] *= 1.0 + 1e-5
    poles = np.concatenate([[1.0], -solve_toeplitz(auto[:-1], auto[1:])])
    taps = lfilter([1.0], poles, np.eye(1, 512)[0])
    taps[-128:] *= np.linspace(1.0, 0.0, 128)
    loud = np.abs(scipy.fft.rfft(taps, 1024)) ** 2
    log_ratio = np.mean(np.log(power[8:]) - np.log(loud[8:] + 1e-30))
    return np.asarray(taps * math.exp(0.5 * log_ratio))


def line_spectrum_filter(lines_hz: NDArray[np.float64], rate: int, ring_s: float) -> NDArray[np.float64]:
    """Return the denominator of the all-pole filter with these line spectral frequencies.

    Lines close together make a resonance. The poles are drawn inwards so that the ringing falls by 60 dB in
    `ring_s` at the latest. An odd number of lines loses its last one.
    """
    turn = 2.0 * np.pi * np.sort(lines_hz) / rate
    turn = turn[: 2 * (turn.size // 2)]
    sums, differences = np.array([1.0, 1.0]), np.array([1.0, -1.0])
    for first, second in zip(turn[::2], turn[1::2], strict=True):
        sums = np.convolve(sums, [1.0, -2.0 * math.cos(first), 1.0])
        differences = np.convolve(differences, [1.0, -2.0 * math.cos(second), 1.0])
    poles = (0.5 * (sums + differences))[:-1]
    return np.asarray(poles * 10.0 ** (-3.0 * np.arange(poles.size) / (ring_s * rate)))


def reflection_coefficients(poles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the reflection coefficients of an all-pole filter (step-down recursion)."""
    now = poles / poles[0]
    out = np.zeros(poles.size - 1)
    for order in range(poles.size - 1, 0, -1):
        k = float(np.clip(now[order], -0.9999, 0.9999))
        out[order - 1] = k
        now = (now[:order] - k * now[order:0:-1]) / (1.0 - k * k)
    return out


@njit(cache=True, nogil=True)
def gliding_lattice(
    pushed: NDArray[np.float64],
    contact: NDArray[np.float64],
    free: NDArray[np.float64],
    leaves: int,
    glide: int,
) -> NDArray[np.float32]:
    """Return a push through a lattice that glides from `contact` to `free` after sample `leaves`."""
    order = free.size
    back = np.zeros(order + 1)
    out = np.zeros(pushed.size, dtype=np.float32)
    for i in range(pushed.size):
        share = min(max((i - leaves) / glide, 0.0), 1.0)
        forward = pushed[i]
        for m in range(order - 1, -1, -1):
            k = contact[m] + share * (free[m] - contact[m])
            forward -= k * back[m]
            back[m + 1] = back[m] + k * forward
        back[0] = forward
        out[i] = forward
    return out
