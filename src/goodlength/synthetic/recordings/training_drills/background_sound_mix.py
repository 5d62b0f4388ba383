"""Backgrounds to be put under learning recordings: talk, a crowd, applause, music, a street, at one level."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings import hall_background_sounds
from goodlength.synthetic.recordings.training_drills.phone_audio_effects import placed

Wave = NDArray[np.float32]
RATE, PIECE_S = 16_000, 30.0
KINDS = ("talk", "crowd", "applause", "music", "music and talk", "doors and steps")


def background(rng: np.random.Generator, seconds: float, kind: str | None = None) -> tuple[Wave, int]:
    """Return a sound without any play, and its rate in Hz.

    Parameters
    ----------
    rng : numpy Generator
    seconds : float
    kind : str, optional
        One of `KINDS`; drawn when None.
    """
    kind = str(rng.choice(KINDS)) if kind is None else kind
    count, piece = round(seconds * RATE), round(PIECE_S * RATE)
    out = np.zeros(count + piece, np.float32)
    for begin in range(0, count, piece):
        out[begin : begin + piece] += _piece(rng, kind)[:piece]
    if rng.random() < 0.5:
        loud = float(np.quantile(np.abs(out[::101]), 0.99)) + 1e-6
        noise = hall_background_sounds.steady_noise(rng, len(out), RATE)
        out += np.float32(loud * 10 ** (rng.uniform(-40, -12) / 20)) * noise
    whole = placed(rng, "", out[:count], RATE)
    return hall_background_sounds.unit_peak(whole), RATE


def _piece(rng: np.random.Generator, kind: str) -> Wave:
    piece = round(PIECE_S * RATE)
    out = np.zeros(piece + RATE, np.float32)
    if "music" in kind:
        out[:piece] += hall_background_sounds.music(rng, PIECE_S, RATE)[:piece]
    if "talk" in kind or kind == "crowd":
        for _ in range(int(rng.integers(6, 14)) if kind == "crowd" else int(rng.integers(1, 3))):
            _put(rng, out, hall_background_sounds.speech(rng, float(rng.uniform(3, PIECE_S - 1)), RATE))
    if kind in ("applause", "crowd"):
        for _ in range(int(rng.integers(1, 4))):
            _put(rng, out, hall_background_sounds.applause(rng, float(rng.uniform(1, 6)), RATE))
    if kind == "doors and steps":
        for _ in range(int(rng.integers(5, 40))):
            make = (hall_background_sounds.door, hall_background_sounds.squeak, hall_background_sounds.step)
            _put(rng, out, make[int(rng.integers(3))](rng, RATE))
    return out


def _put(rng: np.random.Generator, out: Wave, wave: Wave) -> None:
    begin = int(rng.integers(max(1, len(out) - len(wave))))
    stop = min(len(out), begin + len(wave))
    out[begin:stop] += np.float32(10 ** (rng.uniform(-18, 0) / 20)) * wave[: stop - begin]
