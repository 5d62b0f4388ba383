"""Adapt the names of impacts to the recording itself: what this court's strikes sound like.

What the network learnt of rackets and walls is right for most strikes of a court it never heard, seldom for
all. The best path over strikes (`rally_decoding`) mends single ones by rhythm and order. From its strikes,
the front walls between them and everything else in a rally, three normal distributions of spectra with a
common spread are fitted; each impact is named by the network and by them together, and the path searched
again.

```
 names ─> path ─> strikes, walls, other impacts ─> spectra of each ─> names ─> path ...
```
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import SURFACES, Impacts
from goodlength.footage.audio.log_mel import HOP_S, Frames
from goodlength.footage.audio.rally_decoding import WALL_FITS, WALL_SHARES, strike_paths

Numbers = NDArray[np.float64]
Marks = NDArray[np.bool_]

ROUNDS = 6
WEIGHT, CAP = 1.5, 4.0  # of the spectra's log-odds beside the network's
LEAST = 10  # impacts of a kind, below which nothing is fitted
DIRECTIONS, SHRINKAGE = 24, 0.3  # principal components kept; share of the mean spread added to each
BEFORE_S, AFTER_S, LAST_GAP_S = 0.6, 1.0, 1.3
LEAST_WALL, NO_IMPACT = 0.15, 0.6
NONE, RACKET, WALL = (SURFACES.index(name) for name in ("none", "racket", "front wall"))
# Frames of 5 ms around an impact: the attack, what rings after it, and what was before
ATTACK, RINGING, EARLIER = range(-1, 4), range(6, 12), range(-8, -3)
DEPTH_DB, FLOOR_SHARE, SAMPLED, A_BEL = 80.0, 0.2, 16, 20.0


def adapted(impacts: Impacts, frames: Frames) -> Impacts:
    """Return the impacts with names and strikes as this recording's own sounds tell them apart.

    Parameters
    ----------
    impacts : Impacts
        As the network names them.
    frames : ndarray
        The whole recording.
    """
    spectra = impact_spectra(frames, impacts.time_s.astype(np.float64))
    updated = impacts
    for _ in range(ROUNDS):
        kinds = kinds_on_paths(updated, impacts.surface[:, NONE])
        if min(int(kinds[0].sum()), int((kinds[1] | kinds[2]).sum())) < LEAST:
            return updated
        updated = renamed(impacts, spectra, kinds)
    return updated


def impact_spectra(frames: Frames, at_s: Numbers) -> Numbers:
    """Return attack, ringing and rise of each impact by band, shape (n, 96), in units of 20 dB."""
    some = frames[::SAMPLED].astype(np.float64)
    loud = float(np.quantile(some.max(axis=1), 0.998)) if len(some) else 0.0
    floor = np.quantile(some, FLOOR_SHARE, axis=0) if len(some) else np.zeros(frames.shape[1])
    least = np.maximum(floor, loud - DEPTH_DB)
    place = np.round(at_s / HOP_S).astype(np.int64)

    def near(steps: range) -> Numbers:
        rows = np.clip(place[:, None] + np.array(steps), 0, max(0, len(frames) - 1))
        return np.asarray(np.maximum(frames[rows], least) / A_BEL, np.float64)

    attack = near(ATTACK).max(axis=1)
    return np.concatenate([attack, near(RINGING).mean(axis=1), attack - near(EARLIER).max(axis=1)], axis=1)


def kinds_on_paths(impacts: Impacts, none: NDArray[np.floating]) -> tuple[Marks, Marks, Marks]:
    """Return which impacts are strikes, front walls and others of the rallies found.

    `none` is the network's chance that an impact is none; such a one is no example.
    """
    at = impacts.time_s.astype(np.float64)
    strike, wall, inside = (np.zeros(len(at), bool) for _ in range(3))
    for path in strike_paths(impacts):
        strike[path] = True
        inside[(at > at[path[0]] - BEFORE_S) & (at < at[path[-1]] + AFTER_S)] = True
        after = [*path[1:].tolist(), int(np.searchsorted(at, at[path[-1]] + LAST_GAP_S))]
        for k, following in zip(path.tolist(), after, strict=True):
            place = likeliest_wall(impacts, k, following)
            if place is not None:
                wall[place] = True
    wall &= ~strike
    return strike, wall, inside & ~strike & ~wall & (none < NO_IMPACT)


def likeliest_wall(impacts: Impacts, k: int, following: int) -> int | None:
    """Return which impact between a strike and the following place is the front wall; None where none is."""
    if following <= k + 1:
        return None
    at = impacts.time_s[k + 1 : following].astype(np.float64) - float(impacts.time_s[k])
    ends = following < len(impacts) and float(impacts.time_s[following] - impacts.time_s[k]) < LAST_GAP_S
    length = float(impacts.time_s[following] - impacts.time_s[k]) if ends else LAST_GAP_S
    fit = impacts.surface[k + 1 : following, WALL] * np.interp(at / length, WALL_SHARES, WALL_FITS)
    best = int(fit.argmax())
    return k + 1 + best if fit[best] > LEAST_WALL else None


def renamed(impacts: Impacts, spectra: Numbers, kinds: tuple[Marks, Marks, Marks]) -> Impacts:
    """Return impacts whose chances of racket and front wall take in how alike they are to those of a kind."""
    strikes, walls, others = kinds
    apart = [mark for mark in (walls, others) if mark.sum() >= LEAST] or [walls | others]
    odds = spectral_odds(spectra, [strikes, *apart])
    surface = impacts.surface.astype(np.float64)
    if all(mark.sum() >= LEAST for mark in kinds):
        surface[:, WALL] = moved(surface[:, WALL], odds[:, 1])
    racket = moved(surface[:, RACKET], odds[:, 0])
    surface[:, RACKET] = 0.0
    surface *= ((1 - racket) / np.maximum(surface.sum(axis=1), 1e-6))[:, None]
    surface[:, RACKET] = racket
    strike = impacts.strike + WEIGHT * odds[:, 0].astype(np.float32)
    return replace(impacts, surface=surface.astype(np.float32), strike=strike)


def moved(chance: Numbers, odds: Numbers) -> Numbers:
    """Return chances with log-odds added."""
    clipped = np.clip(chance, 1e-3, 1 - 1e-3)
    return np.asarray(1 / (1 + np.exp(-(np.log(clipped / (1 - clipped)) + WEIGHT * odds))))


def spectral_odds(spectra: Numbers, kinds: list[Marks]) -> Numbers:
    """Return each impact's log-odds of each kind by its spectrum, beside the other kinds; (n, kinds).

    Normal distributions with one common spread (linear discriminant analysis), capped; how many there are of
    a kind does not count.
    """
    used = np.any(kinds, axis=0)
    centred = spectra - spectra[used].mean(axis=0)
    _, directions = np.linalg.eigh(centred[used].T @ centred[used])
    x = centred @ directions[:, -DIRECTIONS:]
    means = [x[mark].mean(axis=0) for mark in kinds]
    rest = np.concatenate([x[mark] - mean for mark, mean in zip(kinds, means, strict=True)])
    spread = rest.T @ rest / len(rest)
    spread += (SHRINKAGE * np.trace(spread) / len(spread) + 1e-9) * np.eye(len(spread))
    ways = [np.linalg.solve(spread, mean) for mean in means]
    fits = np.stack([x @ way - mean @ way / 2 for way, mean in zip(ways, means, strict=True)], axis=1)
    shares = np.log([mark.sum() for mark in kinds])
    out = []
    for k in range(len(kinds)):
        others = [i for i in range(len(kinds)) if i != k]
        whole = np.logaddexp.reduce(shares[others])
        out.append(fits[:, k] - np.logaddexp.reduce(fits[:, others] + shares[others], axis=1) + whole)
    return np.asarray(np.clip(np.stack(out, axis=1), -CAP, CAP), np.float64)
