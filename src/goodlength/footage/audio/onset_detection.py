"""Detect impact onsets: sudden rises over several bands, each with its time, strength and spectrum.

The method is that of the study (source: GL-FOOTAGE-STUDY): short-time spectrum, eight bands from 1 to
10 kHz, level now less the mean of 4 to 14 ms ago. The low bands are left out, as echo blurs them.
Sound is taken in blocks, so that a match of hours needs little memory.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage, signal

USUAL_RATE_HZ = 24_000
WINDOW = 128  # samples: 5.3 ms at the usual rate
STEP_S = 0.0025
BANDS, LOWEST_HZ, HIGHEST_HZ, HIGHEST_SHARE = 8, 1000.0, 10_000.0, 0.45
PAST_S = (0.004, 0.0135)
APART_S = 0.045
LEAST_RISE_DB = 3.0
FLOOR = 1e-11
BLOCK_S, CONTEXT_S = 20.0, 0.6
SEARCH_S = (-0.008, 0.012)
FIRST_SHARE = 0.3
AFTER_S = (0.020, 0.050)
USUAL_OVER_S = 0.25
TAPS_EACH = 4
AT_ONCE = 1500  # windows: few enough to stay in cache, many enough to leave the decoding thread alone
SHARE = 250  # of them in one matrix product: too few for the library to begin threads of its own
WARM_S = 0.004  # the high-pass forgets within this what came before
DB_OF_LOG = np.float32(10 / np.log(10))

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Onsets:
    """Impacts found, one entry each, in order of time.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Moment in seconds from sample 0: the first sample above 30 % of the peak.
    rise_db : ndarray, shape (n,)
        How sudden: mean rise of the bands over what was before.
    level_db : ndarray, shape (n,)
        Peak of the waveform above 1 kHz.
    fall_db : ndarray, shape (n,)
        How much quieter 20 to 50 ms later; near 0 for voices and shoes, far below for impacts.
    pitch : ndarray, shape (n,)
        Middle of its band energies, 0 (1 kHz) to 1 (10 kHz).
    """

    time_s: Numbers
    rise_db: Numbers
    level_db: Numbers
    fall_db: Numbers
    pitch: Numbers

    def __len__(self) -> int:
        return len(self.time_s)

    def where(self, mask: NDArray[np.bool_]) -> Onsets:
        """Return those marked."""
        return Onsets(*(getattr(self, f.name)[mask] for f in fields(self)))

    @classmethod
    def joined(cls, parts: list[Onsets]) -> Onsets:
        """Return several in one."""
        empty = np.zeros(0)
        return cls(*(np.concatenate([empty, *(getattr(p, f.name) for p in parts)]) for f in fields(cls)))


def band_matrix(rate_hz: float) -> NDArray[np.float32]:
    """Return which lines of the spectrum make which band, shape (lines, bands); a band has one line at
    least.
    """
    lines = np.fft.rfftfreq(WINDOW, 1 / rate_hz)
    edges = np.geomspace(LOWEST_HZ, min(HIGHEST_HZ, HIGHEST_SHARE * rate_hz), BANDS + 1)
    inside = (lines[:, None] >= edges[:-1]) & (lines[:, None] < edges[1:])
    away = np.abs(lines[:, None] - np.sqrt(edges[:-1] * edges[1:]))
    inside |= away == away.min(axis=0)
    return np.asarray(inside / inside.sum(axis=0), np.float32)


def used_lines(bands: NDArray[np.float32]) -> tuple[slice, NDArray[np.float32]]:
    """Return the lines that any band uses, and the bands over their real and imaginary parts one after
    the other.
    """
    used = np.flatnonzero(bands.any(axis=1))
    lines = slice(int(used[0]), int(used[-1]) + 1)
    return lines, np.repeat(bands[lines], 2, axis=0)


class Decimator:
    """Takes each k-th sample after a low-pass filter, block by block, with no shift in time.

    Parameters
    ----------
    rate_hz : int
        Of the samples fed; k is chosen so that about 24,000 a second remain.
    """

    def __init__(self, rate_hz: int) -> None:
        self.every = max(1, round(rate_hz / USUAL_RATE_HZ))
        self.rate_hz = rate_hz / self.every
        self._half = TAPS_EACH * self.every
        cutoff = min(0.98, 1.0 / self.every)
        self._filter = signal.firwin(2 * self._half + 1, cutoff).astype(np.float32)
        self._buffer = np.zeros(self._half, np.float32)

    def feed(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return the samples that have become certain with these."""
        if self.every == 1:
            return samples
        x = np.concatenate([self._buffer, samples])
        first = 2 * self._half
        if len(x) <= first:
            self._buffer = x
            return samples[:0]
        out = signal.upfirdn(self._filter, x, 1, self.every)[
            first // self.every : (len(x) - 1) // self.every + 1
        ]
        self._buffer = x[len(out) * self.every :]
        return np.asarray(out, np.float32)

    def rest(self) -> NDArray[np.float32]:
        """Return what is still held, at the end of the sound."""
        return self.feed(np.zeros(self._half, np.float32))


class OnsetDetector:
    """Finds impacts in sound fed block by block.

    Parameters
    ----------
    rate_hz : int
        Of the samples fed.
    begin_s : float
        Moment of the first sample fed, from the beginning of the sound.
    """

    def __init__(self, rate_hz: int, begin_s: float = 0.0) -> None:
        self._thinner = Decimator(rate_hz)
        self.rate_hz = self._thinner.rate_hz
        self._step = round(STEP_S * self.rate_hz)
        self._lines, self._bands = used_lines(band_matrix(self.rate_hz))
        self._hann = np.hanning(WINDOW + 1)[:-1].astype(np.float32)
        self._high = signal.butter(2, 1000, "highpass", fs=self.rate_hz, output="sos").astype(np.float32)
        self._context = round(CONTEXT_S * self.rate_hz / self._step) * self._step
        self._buffer = np.zeros(self._context, np.float32)
        self._begin_s = begin_s
        self._start = -self._context

    @property
    def until_s(self) -> float:
        """All impacts before this moment have been given."""
        return self._begin_s + (self._start + self._context) / self.rate_hz

    def feed(self, samples: NDArray[np.float32]) -> Onsets:
        """Return impacts that have become certain with these samples; those at the edge come with the
        next.
        """
        return self.feed_thinned(self.thinned(samples))

    def rest(self) -> Onsets:
        """Return impacts in what is still held, at the end of the sound."""
        return self.feed_thinned(self.rest_thinned(), last=True)

    def thinned(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return the samples at the detector's own rate, `rate_hz`, for others that listen with it."""
        return self._thinner.feed(samples)

    def rest_thinned(self) -> NDArray[np.float32]:
        """Return what is still held at the detector's own rate, at the end of the sound."""
        return self._thinner.rest()

    def feed_thinned(self, samples: NDArray[np.float32], *, last: bool = False) -> Onsets:
        """Return impacts that have become certain with samples at the detector's own rate."""
        silence = np.zeros(2 * self._context if last else 0, np.float32)
        return self._detect(np.concatenate([samples, silence]))

    def _detect(self, samples: NDArray[np.float32]) -> Onsets:
        x = np.concatenate([self._buffer, samples])
        shift = (len(x) - 2 * self._context) // self._step * self._step
        if shift <= 0:
            self._buffer = x
            return Onsets.joined([])
        found = self._find(x, self._context, self._context + shift)
        moment = found.time_s + self._begin_s + self._start / self.rate_hz
        self._buffer = x[shift:]
        self._start += shift
        return replace(found, time_s=moment)

    def _find(self, x: NDArray[np.float32], begin: int, end: int) -> Onsets:
        """Return impacts whose window has its middle in samples [begin, end)."""
        rate = self.rate_hz
        level = self._levels(x)
        rise = onset_strength(level, rate / self._step)
        place = np.flatnonzero(
            (rise >= LEAST_RISE_DB)
            & (rise == ndimage.maximum_filter1d(rise, 2 * round(APART_S * rate / self._step) + 1))
        )
        middle = place * self._step + WINDOW // 2
        place = place[(middle >= begin) & (middle < end)]
        if not len(place):
            return Onsets.joined([])
        middle = place * self._step + WINDOW // 2
        first, last = (round(at * rate) for at in SEARCH_S)
        after = round(AFTER_S[1] * rate)
        near = middle[:, None] + np.arange(first - round(WARM_S * rate), last + after)
        wave = signal.sosfilt(self._high, x[np.clip(near, 0, len(x) - 1)], axis=1)
        wave = wave[:, round(WARM_S * rate) :]
        loud = np.abs(wave[:, : last - first])
        peak = loud.max(axis=1)
        begin_at = np.argmax(loud >= FIRST_SHARE * peak[:, None], axis=1)
        moment = middle + first + begin_at
        bands = level[np.clip(place, 0, len(level) - 1)]
        power = 10 ** (bands / 10)
        pitch = (power @ np.linspace(0, 1, BANDS, dtype=np.float32)) / power.sum(axis=1)
        return Onsets(
            moment / rate,
            rise[place].astype(float),
            20 * np.log10(peak.astype(float) + 1e-9),
            self._fall(wave, begin_at),
            pitch.astype(float),
        )

    def _levels(self, x: NDArray[np.float32]) -> NDArray[np.float32]:
        """Level of each band in dB, shape (steps, bands); a little at a time, so that it stays in cache."""
        windows = np.lib.stride_tricks.sliding_window_view(x, WINDOW)[:: self._step]
        level = np.empty((len(windows), BANDS), np.float32)
        for at in range(0, len(windows), AT_ONCE):
            lines = fft.rfft(windows[at : at + AT_ONCE] * self._hann, axis=1)[:, self._lines]
            parts = np.ascontiguousarray(lines).view(np.float32)
            parts *= parts
            whole = len(parts) // SHARE * SHARE
            np.matmul(
                parts[:whole].reshape(-1, SHARE, parts.shape[1]),
                self._bands,
                out=level[at : at + whole].reshape(-1, SHARE, BANDS),
            )
            np.matmul(parts[whole:], self._bands, out=level[at + whole : at + len(parts)])
        level += FLOOR
        np.log(level, out=level)  # the natural one is the fastest
        level *= DB_OF_LOG
        return level

    def _fall(self, wave: NDArray[np.float32], moment: NDArray[np.int64]) -> Numbers:
        """Return how much quieter each wave is a little after its moment (an index into it)."""
        rate = self.rate_hz
        own = np.arange(len(wave))[:, None]

        def power(begin_s: float, end_s: float) -> Numbers:
            at = moment[:, None] + np.arange(round(begin_s * rate), round(end_s * rate))
            found = wave[own, np.clip(at, 0, wave.shape[1] - 1)]
            return np.asarray((found.astype(float) ** 2).mean(axis=1) + 1e-14)

        return np.asarray(10 * np.log10(power(*AFTER_S) / power(-0.0005, 0.006)))


def running_sum(values: NDArray[np.float32], count: int) -> NDArray[np.float32]:
    """Return sums over `count` rows in a row, shape (rows - count + 1, columns); by doubling, exact to
    rounding.

    Examples
    --------
    >>> running_sum(np.arange(5, dtype=np.float32)[:, None], 3)[:, 0].tolist()
    [3.0, 6.0, 9.0]
    """
    rows = len(values) - count + 1
    out: NDArray[np.float32] | None = None
    block, width, taken = values, 1, 0
    while True:
        if count & width:
            part = block[taken : taken + rows]
            out = part.copy() if out is None else out + part
            taken += width
        if 2 * width > count:
            assert out is not None
            return out
        block, width = block[:-width] + block[width:], 2 * width


def onset_strength(level: NDArray[np.float32], steps_s: float) -> NDArray[np.float32]:
    """Return mean rise of the bands over 4 to 14 ms before, less what is usual around.

    Parameters
    ----------
    level : ndarray, shape (steps, bands)
        In dB.
    steps_s : float
        Steps a second.
    """
    near, far = (round(s * steps_s) for s in PAST_S)
    n, count = len(level), far + 1 - near
    past = running_sum(np.pad(level, ((far, 0), (0, 0)), mode="edge"), count)[:n]
    past *= np.float32(-1 / count)
    past += level
    np.maximum(past, 0, out=past)
    rise = np.einsum("ij->i", past) / np.float32(level.shape[1])
    chunk = round(USUAL_OVER_S * steps_s)
    count = max(1, n // chunk)
    usual = np.median(rise[: count * chunk].reshape(count, -1), axis=1) if n >= chunk else np.zeros(1)
    usual = ndimage.minimum_filter1d(usual, 3)
    return np.asarray(rise - np.interp(np.arange(n), (np.arange(count) + 0.5) * chunk, usual), np.float32)
