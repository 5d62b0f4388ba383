"""Whether two tracked players changed names where they met, decided over whole rallies.

Linking places from frame to frame cannot tell who is who after two players passed close by: what tells are
the ways before and after, and the clothes before and after. Each rally is cut at its meetings, both ways
round of every stretch are weighed against each other, and all rallies together say what the two look like.

```
 stretch      meeting      stretch      meeting      stretch
 A ───────────╲   ╱─────────────────────╲   ╱──────────────   chance of a change at each meeting:
               ╲ ╱                       ╲ ╱                  ways (two filters), clothes of each
 B ────────────╱ ╲───────────────────────╱ ╲──────────────    stretch, forward-backward over all
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from goodlength.measure.players.player_tracking import (
    HIDDEN_M,
    UNSEEN_M,
    Detections,
    Tracks,
    kalman_filter,
    predicted,
    tracks_of,
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

MEETING_M = 0.3  # nearer than this, or perhaps so near while a player is not seen, nothing tells them apart
SURE_OF_WAY = -12.0  # log odds of a change between two frames from which they count as a meeting too
APART_M = 0.7  # nearer to each other clothes may be the other's
WAY_SHARE, MOST_WAY = 1.0, 7.0  # share of the ways' log odds that counts, and the most they may say
WAY_DOF = 4.0
COLOUR_SD, FRAME_SD = 7.0, 14.0  # of 255: of a stretch's clothes, and of one frame's
BETWEEN_SD = 30.0  # two players' clothes differ by about so much
COLOUR_SHARE, MOST_COLOURS = 0.35, 8.0  # shares of light and cloth go together: twelve numbers are about four
INDEPENDENT = 6.0  # frames in a row that say as much about clothes as a single frame
ROUNDS, STARTS = 12, 4
LEAST_SURE = 0.98  # chance that the two keep their names through the part that is shown


@dataclass(frozen=True, eq=False)
class _Rally:
    """A rally cut at its meetings.

    `ends` (s, 2) first and last-but-one frame of each stretch; `changed` (s - 1,) log odds, by the ways, that
    the two changed names between stretches; `apart` (s, 12) clothes of path 0 less those of path 1, NaN
    unknown; `frames` (s,) how many frames are behind them; `turn_at` (s - 1,) where they were nearest.
    """

    ends: Ints
    changed: Floats
    apart: Floats
    frames: Floats
    turn_at: Ints


def names_through_meetings(
    spans: Sequence[Detections], tracks: Sequence[Tracks]
) -> list[tuple[Tracks, tuple[int, int]]]:
    """Return tracks with names carried through meetings as is likeliest, and the frames through which they
    are sure.

    Parameters
    ----------
    spans : sequence of Detections
    tracks : sequence of Tracks
        One a span, as `track_rally` gives them.

    Returns
    -------
    list of (Tracks, (first, end))
        From frame `first` to before `end` the two keep their names with a chance of `LEAST_SURE`; the
        longest such part, which neither begins nor ends in a meeting; empty where the two never part.
        Which of the two is player 0 is as undecided as before.

    Limits
    ------
    Players in like clothes who stay close together for seconds are not told apart by this; then the part is
    short. The weights were chosen on made-up films of the learning and choosing families.
    """
    rallies = [_cut(watched, paths) for watched, paths in zip(spans, tracks, strict=True)]
    chances = _orientations(rallies)
    out = []
    for watched, paths, rally, odds in zip(spans, tracks, rallies, chances, strict=True):
        if len(rally.ends) == 0:
            out.append((paths, (0, 0)))  # they never part
            continue
        turned, sure = _sure_run(rally, odds)
        ends = [0, *rally.turn_at.tolist(), len(paths.times_s)]
        chosen = paths.chosen.copy()
        for way, first, end in zip(turned.tolist(), ends[:-1], ends[1:], strict=True):
            if way != turned[0]:
                chosen[first:end] = paths.chosen[first:end, ::-1]
        named = paths if (turned == turned[0]).all() else tracks_of(watched, chosen)
        out.append((named, (int(rally.ends[sure[0], 0]), int(rally.ends[sure[1] - 1, 1]))))
    return out


def _cut(watched: Detections, paths: Tracks) -> _Rally:
    """Return a rally cut where the two may have been taken for each other."""
    n = len(paths.times_s)
    gap = np.linalg.norm(paths.xy[:, 0] - paths.xy[:, 1], axis=1)
    # A player not seen may have been nearer than his smoothed path says.
    uncertain_m = np.where(paths.seen.all(axis=1), 0.0, np.sqrt((paths.error_m**2).sum(axis=1)))
    close = ~(gap - uncertain_m > MEETING_M)
    places, errors = _measured(watched, paths)
    ahead = [kalman_filter(paths.times_s, places[:, p], errors[:, p]) for p in range(2)]
    back = [_backwards(paths.times_s, places[:, p], errors[:, p]) for p in range(2)]
    leap = np.zeros(n, dtype=bool)
    for t in range(1, n):
        if not close[t - 1] and not close[t]:
            leap[t] = _change_log_odds(paths.times_s, ahead, back, t - 1, t) > SURE_OF_WAY
    runs: list[list[int]] = []
    for t in range(n):
        if close[t]:
            continue
        if not runs or runs[-1][1] != t or leap[t]:
            runs.append([t, t])
        runs[-1][1] = t + 1
    changed = [
        _change_log_odds(paths.times_s, ahead, back, before[1] - 1, after[0])
        for before, after in pairwise(runs)
    ]
    turn_at = [before[1] + int(np.argmin(gap[before[1] : after[0] + 1])) for before, after in pairwise(runs)]
    apart, frames = np.full((len(runs), 12), np.nan), np.zeros(len(runs))
    usable = paths.seen.all(axis=1) & (gap > APART_M)
    k = watched.error_m.shape[1]
    rows = np.arange(n)
    looks = np.stack([watched.colours[rows, np.minimum(paths.chosen[:, p], k - 1)] for p in range(2)], axis=1)
    for s, (first, end) in enumerate(runs):
        own = np.flatnonzero(usable[first:end]) + first
        if not len(own):
            continue
        for c in range(12):
            known = [looks[own, p, c][np.isfinite(looks[own, p, c])] for p in range(2)]
            if len(known[0]) and len(known[1]):
                apart[s, c] = np.median(known[0]) - np.median(known[1])
        frames[s] = len(own)
    return _Rally(
        np.array(runs, dtype=np.int64).reshape(-1, 2),
        np.array(changed),
        apart,
        frames,
        np.array(turn_at, dtype=np.int64),
    )


def _measured(watched: Detections, paths: Tracks) -> tuple[Floats, Floats]:
    """Return places as found, (n, 2, 2), NaN where not, and their errors by axis (n, 2, 2)."""
    n, k = watched.error_m.shape
    rows = np.arange(n)
    places, errors = np.full((n, 2, 2), np.nan), np.full((n, 2, 2), UNSEEN_M)
    for p in range(2):
        own = np.minimum(paths.chosen[:, p], k - 1)
        got = paths.seen[:, p]
        places[got, p] = watched.xy[rows, own][got]
        by_axis = (
            np.repeat(watched.error_m[rows, own][:, None], 2, axis=1)
            if watched.axis_error_m is None
            else watched.axis_error_m[rows, own]
        )
        errors[got, p] = np.where(paths.feet[got, p, None], by_axis[got], HIDDEN_M)
    return places, errors


def _backwards(times_s: Floats, places: Floats, errors: Floats) -> tuple[Floats, Floats]:
    """Return states and covariances that rest on a frame and all after it."""
    state, cover = kalman_filter(-times_s[::-1], places[::-1], errors[::-1])
    state, cover = state[::-1].copy(), cover[::-1].copy()
    state[:, :, 1] *= -1.0
    cover[:, :, 0, 1] *= -1.0
    cover[:, :, 1, 0] *= -1.0
    return state, cover


def _change_log_odds(
    times_s: Floats,
    ahead: Sequence[tuple[Floats, Floats]],
    back: Sequence[tuple[Floats, Floats]],
    i: int,
    j: int,
) -> float:
    """Return the log odds that the two changed names between frames i and j, by their ways alone."""
    fits = np.zeros((2, 2))
    for p in range(2):
        now, cover = ahead[p][0][i], ahead[p][1][i]
        for t in range(i + 1, j + 1):
            now, cover = predicted(now, cover, float(times_s[t] - times_s[t - 1]))
        for r in range(2):
            off = back[r][0][j] - now  # by axis: place and speed
            both = cover + back[r][1][j]
            size = float(np.einsum("ai,aij,aj->", off, np.linalg.inv(both), off))
            fits[p, r] = -0.5 * float(np.linalg.slogdet(both)[1].sum())
            fits[p, r] -= (WAY_DOF + 4) / 2 * float(np.log1p(size / WAY_DOF))
    return float(fits[0, 1] + fits[1, 0] - fits[0, 0] - fits[1, 1])


def _orientations(rallies: Sequence[_Rally]) -> list[tuple[Floats, Floats]]:
    """Return for each rally, of its stretches: log odds of being the right way round by clothes, and the log
    odds of a change by the ways, both as they count.
    """
    ways = [np.clip(WAY_SHARE * rally.changed, -MOST_WAY, MOST_WAY) for rally in rallies]
    apart = np.concatenate([rally.apart for rally in rallies]) if rallies else np.empty((0, 12))
    frames = np.concatenate([rally.frames for rally in rallies]) if rallies else np.empty(0)
    which = np.concatenate([[0], np.cumsum([len(rally.ends) for rally in rallies])]).astype(int)
    best: tuple[float, Floats] = (-np.inf, np.zeros(len(apart)))
    known = np.flatnonzero(np.isfinite(apart).any(axis=1))
    for start in known[np.argsort(-frames[known], kind="stable")][:STARTS].tolist():
        evidence = _clothes_log_odds(apart, frames, np.eye(len(apart))[start])
        total = -np.inf
        for _ in range(ROUNDS):
            signs, total = np.zeros(len(apart)), 0.0
            for r, way in enumerate(ways):
                own = slice(which[r], which[r + 1])
                chance, size = forward_backward(evidence[own], way)
                signs[own], total = 2.0 * chance - 1.0, total + size
            evidence = _clothes_log_odds(apart, frames, signs)
        if total > best[0]:
            best = (total, evidence)
    return [(best[1][which[r] : which[r + 1]], way) for r, way in enumerate(ways)]


def _clothes_log_odds(apart: Floats, frames: Floats, signs: Floats) -> Floats:
    """Return log odds that each stretch is the right way round, by what all the others show of the clothes.

    `signs` are what is known of each: 1 right, -1 turned, 0 nothing.
    """
    known = np.isfinite(apart)
    d = np.where(known, apart, 0.0)
    count = np.maximum(frames, 1.0)[:, None] / INDEPENDENT
    variance = 2.0 * (COLOUR_SD**2 + FRAME_SD**2 / count)
    weight = np.where(known, 1.0 / variance, 0.0)
    pull, stiff = signs[:, None] * d * weight, np.abs(signs)[:, None] * weight
    precision = 1.0 / BETWEEN_SD**2 + stiff.sum(axis=0) - stiff
    middle = (pull.sum(axis=0) - pull) / precision
    odds = np.where(known, 2.0 * middle * d / (variance + 1.0 / precision), 0.0)
    return np.asarray(np.clip(COLOUR_SHARE * odds.sum(axis=1), -MOST_COLOURS, MOST_COLOURS))


def forward_backward(evidence: Floats, changed: Floats) -> tuple[Floats, float]:
    """Return the chance of each stretch to be the right way round, and the log of all ways' likelihood.

    Parameters
    ----------
    evidence : ndarray, shape (s,)
        Log odds of each stretch alone.
    changed : ndarray, shape (s - 1,)
        Log odds of a change between neighbours.

    Source
    ------
    RABINER-1989, section III A: forward-backward over two states.
    """
    _, forward, back = _messages(evidence, changed)
    both = forward + back
    total = np.logaddexp(both[:, 0], both[:, 1])
    return np.exp(both[:, 0] - total), float(total[0]) if len(evidence) else 0.0


def _messages(evidence: Floats, changed: Floats) -> tuple[Floats, Floats, Floats]:
    """Return logs: each stretch's own, right and turned, and what comes from before it and from after."""
    s = len(evidence)
    own = -np.stack([np.logaddexp(0.0, -evidence), np.logaddexp(0.0, evidence)], axis=1)
    forward, back = np.zeros((s, 2)), np.zeros((s, 2))
    forward[:1] = own[:1] + np.log(0.5)
    for t in range(1, s):
        forward[t] = own[t] + _step(forward[t - 1], changed[t - 1])
    for t in range(s - 2, -1, -1):
        back[t] = _step(own[t + 1] + back[t + 1], changed[t])
    return own, forward, back


def _step(log_chance: Floats, changed: float) -> Floats:
    """Return log chances a meeting later, or earlier."""
    stay, turn = -np.logaddexp(0.0, changed), -np.logaddexp(0.0, -changed)
    return np.array(
        [
            np.logaddexp(log_chance[0] + stay, log_chance[1] + turn),
            np.logaddexp(log_chance[1] + stay, log_chance[0] + turn),
        ]
    )


def _sure_run(rally: _Rally, odds: tuple[Floats, Floats]) -> tuple[Bools, tuple[int, int]]:
    """Return which stretches are turned, and the longest run of them through which that is sure."""
    turned = _likeliest(*odds)
    lengths = rally.ends[:, 1] - rally.ends[:, 0]
    longest = int(np.argmax(lengths))
    best = (0, longest, longest + 1)
    for first, chances in enumerate(chances_of_runs(*odds, turned)):
        for count in range(1, len(chances) + 1):
            if chances[count - 1] < LEAST_SURE:
                break
            frames = int(rally.ends[first + count - 1, 1] - rally.ends[first, 0])
            if frames > best[0]:
                best = (frames, first, first + count)
    return turned, (best[1], best[2])


def chances_of_runs(evidence: Floats, changed: Floats, turned: Bools) -> list[Floats]:
    """Return, from each stretch on, the chance that it and those after it stand to each other as `turned`
    says; the n-th number is of n stretches more than the first.
    """
    s = len(evidence)
    own, forward, back = _messages(evidence, changed)
    right = np.exp(forward[:, 0] + back[:, 0] - np.logaddexp(*(forward + back).T))
    going = np.ones((s, 2))  # chance that the next stands as it should, given that this stands so or turned
    for t in range(s - 1):
        for flip in (0, 1):
            here, there = int(turned[t]) ^ flip, int(turned[t + 1]) ^ flip
            way = -np.logaddexp(0.0, changed[t] if here == there else -changed[t])
            going[t, flip] = np.exp(way + own[t + 1, there] + back[t + 1, there] - back[t, here])
    out = []
    for first in range(s):
        upright = right[first] if not turned[first] else 1.0 - right[first]
        each = np.cumprod(going[first : s - 1], axis=0)
        out.append(np.append(1.0, each @ np.array([upright, 1.0 - upright])))
    return out


def _likeliest(evidence: Floats, changed: Floats) -> Bools:
    """Return the likeliest way round of all stretches together (Viterbi)."""
    s = len(evidence)
    own = -np.stack([np.logaddexp(0.0, -evidence), np.logaddexp(0.0, evidence)], axis=1)
    score, came = own[0].copy(), np.zeros((s, 2), dtype=np.int64)
    for t in range(1, s):
        stay, turn = -np.logaddexp(0.0, changed[t - 1]), -np.logaddexp(0.0, -changed[t - 1])
        options = np.array([[score[0] + stay, score[1] + turn], [score[0] + turn, score[1] + stay]])
        came[t] = options.argmax(axis=1)
        score = options.max(axis=1) + own[t]
    state = int(np.argmax(score))
    out = np.zeros(s, dtype=bool)
    for t in range(s - 1, -1, -1):
        out[t] = state == 1
        state = int(came[t, state])
    return out
