"""Log-mel spectrogram: 32 bands of 100 to 7,800 Hz, every 5 ms, in whole decibels.

Frame i has its middle at i * 5 ms from the first sample, whatever the rate; block by block, so that hours
need little memory. This is what the network hears (`impact_network`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

BANDS = 32
HOP_S, WINDOW_S = 0.005, 0.016
LOWEST_HZ, HIGHEST_HZ = 100.0, 7800.0
LEAST_LINES = 512  # of the transform
OFFSET_DB = 120  # full scale is kept as 120, silence as 0
AT_ONCE = 2000

Frames = NDArray[np.uint8]


def lines_of(rate_hz: float) -> int:
    """Return the length of the transform: a power of two, the window and more."""
    return int(max(LEAST_LINES, 2 ** np.ceil(np.log2(round(WINDOW_S * rate_hz)))))


def mel_bank(rate_hz: float) -> NDArray[np.float32]:
    """Return triangles over the lines of the spectrum, shape (lines, bands); zero above half the rate.

    Their height makes up for how many lines a rate puts into a band, so that a sound is as loud at each.
    """
    low, high = (float(2595 * np.log10(1 + f / 700)) for f in (LOWEST_HZ, HIGHEST_HZ))
    mel = np.linspace(low, high, BANDS + 2)
    edge = 700 * (10 ** (mel / 2595) - 1)
    line = np.arange(lines_of(rate_hz) // 2 + 1) * rate_hz / lines_of(rate_hz)
    up = (line[:, None] - edge[:-2]) / (edge[1:-1] - edge[:-2])
    down = (edge[2:] - line[:, None]) / (edge[2:] - edge[1:-1])
    height = 2 * round(WINDOW_S * rate_hz) / lines_of(rate_hz)
    return np.asarray(height * np.clip(np.minimum(up, down), 0, None), np.float32)


class MelFrames:
    """Turns samples fed block by block into frames.

    Parameters
    ----------
    rate_hz : float
        Of the samples fed, 1,000 to 400,000; see `Decimator` for what makes high ones cheap.
    begin_s : float
        Moment of the first sample fed; a multiple of 5 ms keeps frames on the grid.
    """

    def __init__(self, rate_hz: float, begin_s: float = 0.0) -> None:
        if not 1000 <= rate_hz <= 400_000:
            raise ValueError(f"rate_hz must be 1,000 to 400,000; got {rate_hz:g}.")
        self._rate = rate_hz
        self._width = round(WINDOW_S * rate_hz)
        hann = np.hanning(self._width + 2)[1:-1]
        self._hann = np.asarray(hann / hann.sum(), np.float32)
        self._lines = lines_of(rate_hz)
        self._bank = mel_bank(rate_hz)
        self._buffer = np.zeros(self._width // 2, np.float32)
        self._first = -(self._width // 2)  # position of the first held sample
        self.count = round(begin_s / HOP_S)  # index of the next frame
        self._begin = self.count

    def feed(self, samples: NDArray[np.float32]) -> Frames:
        """Return the frames that have become certain with these samples, shape (n, 32)."""
        self._buffer = np.concatenate([self._buffer, samples])
        after = self._first + len(self._buffer) - self._width
        last = int(np.floor((after + self._width // 2) / (HOP_S * self._rate))) + self._begin
        wanted = np.arange(self.count, last + 1)
        if not len(wanted):
            return np.zeros((0, BANDS), np.uint8)
        middle = np.round((wanted - self._begin) * HOP_S * self._rate).astype(np.int64)
        start = middle - self._width // 2 - self._first
        complete = start + self._width <= len(self._buffer)
        start = start[complete]
        out = self._levels(start)
        self.count += len(start)
        if len(start):
            next_start = round((self.count - self._begin) * HOP_S * self._rate) - self._width // 2
            drop = max(0, next_start - self._first)
            self._buffer, self._first = self._buffer[drop:], self._first + drop
        return out

    def rest(self) -> Frames:
        """Return the last frames, at the end of the sound."""
        return self.feed(np.zeros(self._width // 2 + 1, np.float32))

    def _levels(self, start: NDArray[np.int64]) -> Frames:
        out = np.empty((len(start), BANDS), np.uint8)
        windows = np.lib.stride_tricks.sliding_window_view(self._buffer, self._width)
        for at in range(0, len(start), AT_ONCE):
            lines = fft.rfft(windows[start[at : at + AT_ONCE]] * self._hann, self._lines, axis=1)
            power = lines.real**2 + lines.imag**2
            level = 10 * np.log10(power @ self._bank + np.float32(1e-12)) + np.float32(OFFSET_DB + 0.5)
            out[at : at + AT_ONCE] = np.clip(level, 0, 255)
        return out


def mel_frames(samples: NDArray[np.float32], rate_hz: float) -> Frames:
    """Return the frames of a whole sound, shape (n, 32).

    Examples
    --------
    >>> mel_frames(np.zeros(16000, np.float32), 16000.0).shape
    (201, 32)
    """
    made = MelFrames(rate_hz)
    return np.concatenate([made.feed(samples), made.rest()])
