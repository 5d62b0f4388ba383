"""Track two players through one rally by linking floor detections from frame to frame.

Each picture offers a few places where somebody may stand. Several stories of who went where are carried on
at once, each with both players' places and speeds; a story pays for leaps, for what it leaves unexplained,
and for clothes that do not fit. The cheapest story wins at the end, and its paths are smoothed both ways.

```
 picture   places      stories kept
   t0      o  o        A B            (both ways round where clothes tell)
   t1      o  o  o     A B   A   B
   t2      o           A B (B is behind A: he goes on as he went)
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import OutOfRange

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

BEAM_WIDTH = 64
SPEEDS_UP_M_S2 = 9.0  # change of speed a player may make; chosen on invented films for fewest swaps
FASTEST_M_S = 6.0
HIDDEN_M, UNSEEN_M = 0.40, 0.30  # error of a place whose feet are behind the other player, or not found
STUDENT_T_DOF = 6.0  # degrees of freedom: leaps happen, and wrong places too
EXPLAINS = 10.0  # what explaining everything that moves is worth, in log odds
AUTOCORRELATION_INFLATION = (
    2.0  # errors of pictures in a row are akin, so a smoothed place is less sure by this: measured
)
MISSED_LOG_ODDS = -1.5  # log odds of a player without a place in a picture
CLOTHES = 0.35  # share of each picture's clothes that counts: pictures in a row say much the same
MOST_CLOTHES = 4.0


@dataclass(frozen=True, eq=False)
class Detections:
    """What a span of pictures offers: `n` pictures, `k` places each, NaN where there are fewer.

    `times_s` (n,); `xy` (n, k, 2) m; `error_m` (n, k); `pair` (n, k, k) how well two places together explain
    the picture, one alone on the diagonal; `feet_seen` (n, k); `feet_hidden` (n, k, k); `colours` (n, k, 12);
    `axis_error_m` (n, k, 2) errors across and along the court where they differ.
    """

    times_s: Floats
    xy: Floats
    error_m: Floats
    pair: Floats
    feet_seen: Bools
    feet_hidden: Bools
    colours: Floats
    axis_error_m: Floats | None = None

    def __post_init__(self) -> None:
        n, k = self.error_m.shape
        shapes = {
            "times_s": (n,),
            "xy": (n, k, 2),
            "pair": (n, k, k),
            "feet_seen": (n, k),
            "feet_hidden": (n, k, k),
            "colours": (n, k, 12),
        }
        for name, shape in shapes.items():
            if getattr(self, name).shape != shape:
                raise OutOfRange(
                    f"{name} must have the shape {shape}; got {getattr(self, name).shape}. "
                    "All arrays of a span hold the same frames and positions."
                )
        if n > 1 and not (np.diff(self.times_s) > 0).all():
            raise OutOfRange("The times of the frames must increase. Sort the frames by time.")

    @staticmethod
    def joined(parts: Sequence[Detections]) -> Detections:
        """Return frames of several parts as one, the parts in order of time."""
        columns = [[getattr(part, each.name) for part in parts] for each in fields(Detections)]
        merged: list[Any] = [
            None if any(x is None for x in values) else np.concatenate(values) for values in columns
        ]
        return Detections(*merged)

    def part(self, pictures: Ints) -> Detections:
        """Return only the frames with these numbers."""
        return Detections(
            self.times_s[pictures],
            self.xy[pictures],
            self.error_m[pictures],
            self.pair[pictures],
            self.feet_seen[pictures],
            self.feet_hidden[pictures],
            self.colours[pictures],
            None if self.axis_error_m is None else self.axis_error_m[pictures],
        )


@dataclass(frozen=True, eq=False)
class ClothingColours:
    """Colours of both players, (2, 12), and how much they vary in a picture, (12,)."""

    middle: Floats
    spread: Floats

    @property
    def apart(self) -> float:
        """How many spreads the two differ by, over all colours; under about 3 they are alike."""
        return float(np.sqrt((((self.middle[0] - self.middle[1]) / self.spread) ** 2).sum()))


@dataclass(frozen=True, eq=False)
class Tracks:
    """Both players' paths through a span.

    `xy` (n, 2, 2) m by picture and player; `error_m` (n, 2) standard error in space; `seen` (n, 2) whether a
    place was found in that picture; `feet` (n, 2) whether the feet themselves were; `colours` (2, 12) middle
    colours of each path, `varied` (12,) how much they vary in it; `explained` the mean share of those found
    who are these two; `chosen` (n, 2) which place was taken in each picture, empty where no longer known.
    """

    times_s: Floats
    xy: Floats
    error_m: Floats
    seen: Bools
    feet: Bools
    colours: Floats
    varied: Floats
    explained: float
    chosen: Ints = field(default_factory=lambda: np.empty((0, 2), dtype=np.int64))

    @property
    def found(self) -> float:
        """Share of pictures in which both were seen."""
        return float(self.seen.all(axis=1).mean()) if len(self.seen) else 0.0

    def part(self, first: int, end: int) -> Tracks:
        """Return the frames from `first` to before `end`; clothes and shares stay those of the whole."""
        return replace(
            self,
            times_s=self.times_s[first:end],
            xy=self.xy[first:end],
            error_m=self.error_m[first:end],
            seen=self.seen[first:end],
            feet=self.feet[first:end],
            chosen=self.chosen[first:end],
        )

    def swapped(self) -> Tracks:
        """Return the same with the players the other way round."""
        return Tracks(
            self.times_s,
            self.xy[:, ::-1],
            self.error_m[:, ::-1],
            self.seen[:, ::-1],
            self.feet[:, ::-1],
            self.colours[::-1],
            self.varied,
            self.explained,
            self.chosen[:, ::-1],
        )


def track_rally(watched: Detections, clothing: ClothingColours | None = None) -> Tracks:
    """Return the two players' paths through one span of pictures, such as a rally.

    Parameters
    ----------
    watched : Watched
    clothing : Clothing, optional
        Left out, the first path is merely one of the two players.

    Returns
    -------
    Paths
        Player 0 is whom `clothing.middle[0]` describes.
    """
    n = len(watched.times_s)
    if n == 0:
        nothing = np.empty((0, 2))
        return Tracks(
            watched.times_s,
            np.empty((0, 2, 2)),
            nothing,
            nothing > 0,
            nothing > 0,
            np.full((2, 12), np.nan),
            np.zeros(12),
            0.0,
        )
    clothes = _clothes(watched.colours, clothing)
    stories = _initial_hypotheses(watched, clothes[0], both_ways=clothing is not None)
    choices = [stories.chosen]
    parents = [np.zeros(len(stories.score), dtype=np.int64)]
    for t in range(1, n):
        stories, parent = _extend_hypotheses(stories, watched, t, clothes[t])
        choices.append(stories.chosen)
        parents.append(parent)
    history = np.empty((n, len(stories.score), 2), dtype=np.int64)  # what each story that is left chose
    at = np.arange(len(stories.score))
    for t in range(n - 1, -1, -1):
        history[t] = choices[t][at]
        at = parents[t][at]
    best = int(np.argmax(stories.score))
    return tracks_of(watched, history[:, best])


@dataclass(eq=False)
class _Stories:
    """Stories side by side: places and speeds (s, 2, 2), scores (s,), choices (s, 2)."""

    place: Floats
    speed: Floats
    variance: Floats  # (s, 2, 3): of place, of both, of speed
    score: Floats
    chosen: Ints


def _initial_hypotheses(watched: Detections, clothes: Floats, *, both_ways: bool) -> _Stories:
    """Return all pairs of the first picture; one place nobody knows where only one was found."""
    k = watched.error_m.shape[1]
    usable = [c for c in range(k) if np.isfinite(watched.xy[0, c]).all()]
    pairs = [(a, b) for a in usable for b in usable if (a != b if both_ways else a < b)]
    if not pairs:
        pairs = [(a, k) for a in usable] + ([(k, a) for a in usable] if both_ways else [])
    if not pairs:
        pairs = [(k, k)]
    chosen = np.array(pairs)
    place = np.full((len(pairs), 2, 2), [WIDTH_M / 2, LENGTH_M / 2])
    variance = np.tile(np.array([9.0, 0.0, 4.0]), (len(pairs), 2, 1))
    score = np.zeros(len(pairs))
    for s, pair in enumerate(pairs):
        for p, c in enumerate(pair):
            if c < k:
                place[s, p] = watched.xy[0, c]
                variance[s, p] = (watched.error_m[0, c] ** 2, 0.0, 4.0)
                score[s] += clothes[p, c]
        score[s] += EXPLAINS * _explained(watched, 0)[pair]
    return _Stories(place, np.zeros_like(place), variance, score, chosen)


def _explained(watched: Detections, t: int) -> Floats:
    """(k + 1, k + 1): how well each choice explains the picture; the last row and column are nobody."""
    k = watched.error_m.shape[1]
    out = np.zeros((k + 1, k + 1))
    pair = np.where(np.isfinite(watched.pair[t]), watched.pair[t], -9.0)
    out[:k, :k] = pair
    single = np.diag(pair)
    out[:k, k] = out[k, :k] = single
    out[range(k), range(k)] = -9.0  # one place is one person
    return out


def _extend_hypotheses(
    stories: _Stories, watched: Detections, t: int, clothes: Floats
) -> tuple[_Stories, Ints]:
    """Return every story with every choice of two places; the best are kept."""
    k = watched.error_m.shape[1]
    dt = float(watched.times_s[t] - watched.times_s[t - 1])
    place = stories.place + stories.speed * dt
    place = np.clip(place, (-0.3, -0.1), (WIDTH_M + 0.3, LENGTH_M + 0.3))
    pp, pv, vv = (stories.variance[..., c] for c in range(3))
    q = SPEEDS_UP_M_S2**2
    pp = pp + 2 * dt * pv + dt * dt * vv + q * dt**4 / 4
    pv = pv + dt * vv + q * dt**3 / 2
    vv = np.minimum(vv + q * dt * dt, FASTEST_M_S**2)
    off = ((watched.xy[t][None, None] - place[:, :, None]) ** 2).sum(axis=-1)  # (s, 2, k)
    open_m = np.where(watched.feet_seen[t], watched.error_m[t], UNSEEN_M)
    fits = _fit(off, pp[..., None], open_m)
    hidden_fits = _fit(off, pp[..., None], np.maximum(open_m, HIDDEN_M))
    hidden = np.zeros((k + 1, k + 1), dtype=bool)
    hidden[:k, :k] = watched.feet_hidden[t]
    first = np.where(hidden, hidden_fits[:, 0, :, None], fits[:, 0, :, None])
    second = np.where(hidden.T, hidden_fits[:, 1, None, :], fits[:, 1, None, :])
    score = (
        stories.score[:, None, None]
        + first
        + second
        + clothes[0][None, :, None]
        + clothes[1][None, None, :]
        + EXPLAINS * _explained(watched, t)
    )
    parent, a, b = _best(score, place)
    error = np.stack(
        [
            np.where(hidden[a, b], np.maximum(_at(open_m, a), HIDDEN_M), _at(open_m, a)),
            np.where(hidden[b, a], np.maximum(_at(open_m, b), HIDDEN_M), _at(open_m, b)),
        ],
        axis=1,
    )
    chosen = np.stack([a, b], axis=1)
    seen = np.vstack([watched.xy[t], [[np.nan, np.nan]]])[chosen]
    variance = np.stack([pp[parent], pv[parent], vv[parent]], axis=-1)
    place, speed, variance = _updated(place[parent], stories.speed[parent], variance, seen, error)
    return _Stories(place, speed, variance, score[parent, a, b], chosen), parent


def _at(values: Floats, index: Ints) -> Floats:
    return np.append(values, 1.0)[index]


def _fit(off: Floats, variance: Floats, error_m: Floats) -> Floats:
    """Log density of each place under each story, and of nobody in the last column."""
    total = variance + error_m**2
    with np.errstate(invalid="ignore"):
        fit = -np.log(total) - (STUDENT_T_DOF + 2) / 2 * np.log1p(off / (STUDENT_T_DOF * total))
    fit = np.where(np.isfinite(fit), fit, -99.0)
    return np.concatenate([fit, np.full((*fit.shape[:2], 1), MISSED_LOG_ODDS)], axis=2)


def _best(score: Floats, place: Floats) -> tuple[Ints, Ints, Ints]:
    """Return the best choices, leaving out stories that have become the same."""
    flat = score.ravel()
    many = min(len(flat), 12 * BEAM_WIDTH)
    order = np.argpartition(-flat, many - 1)[:many]
    order = order[np.argsort(-flat[order], kind="stable")]
    parent, a, b = np.unravel_index(order, score.shape)
    # The same two places now, from about the same places before: one story, told twice.
    before = np.round(place[parent].reshape(len(parent), 4) / 0.25).astype(np.int64)
    _, once = np.unique(np.column_stack([a, b, before]), axis=0, return_index=True)
    keep = np.sort(once)[:BEAM_WIDTH]
    return parent[keep], a[keep], b[keep]


def _updated(
    place: Floats, speed: Floats, variance: Floats, seen: Floats, error_m: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return places and speeds after a look; a place far off moves them less than its error says."""
    got = np.asarray(np.isfinite(seen).all(axis=-1))
    off = np.where(got[..., None], seen - place, 0.0)
    pp, pv, vv = (variance[..., c] for c in range(3))
    own = error_m**2
    far = (off**2).sum(axis=-1) / (pp + own)
    own = own * np.maximum(1.0, (STUDENT_T_DOF + far) / (STUDENT_T_DOF + 2))
    a, b = pp / (pp + own), pv / (pp + own)
    a, b = np.where(got, a, 0.0), np.where(got, b, 0.0)
    place = place + a[..., None] * off
    speed = speed + b[..., None] * off
    quick = np.linalg.norm(speed, axis=-1, keepdims=True)
    speed = speed * np.minimum(1.0, FASTEST_M_S / np.maximum(quick, 1e-9))
    speed = np.where(got[..., None], speed, 0.85 * speed)  # unseen, he is taken to slow down
    return place, speed, np.stack([pp * (1 - a), pv * (1 - a), vv - b * pv], axis=-1)


def _clothes(colours: Floats, clothing: ClothingColours | None) -> Floats:
    """Log odds of the clothes of each place for each player, (n, 2, k + 1)."""
    n, k, _ = colours.shape
    out = np.zeros((n, 2, k + 1))
    if clothing is None:
        return out
    for p in range(2):
        off = ((colours - clothing.middle[p]) / clothing.spread) ** 2
        out[:, p, :k] = -0.5 * np.nansum(off, axis=-1)
    best = out[:, :, :k].max(axis=1, keepdims=True)
    out[:, :, :k] = np.maximum(out[:, :, :k] - best, -MOST_CLOTHES / CLOTHES) * CLOTHES
    return out


def tracks_of(watched: Detections, chosen: Ints) -> Tracks:
    """Return the places chosen, (n, 2) by frame and player, as smooth paths; as many as there are: nobody."""
    n, k = len(chosen), watched.error_m.shape[1]
    xy, error, seen = np.empty((n, 2, 2)), np.empty((n, 2)), chosen < k
    feet = np.zeros((n, 2), dtype=bool)
    rows = np.arange(n)
    for p in range(2):
        own, other = np.minimum(chosen[:, p], k - 1), np.minimum(chosen[:, 1 - p], k - 1)
        hidden = watched.feet_hidden[rows, own, other] & seen[:, 1 - p]
        open_m = np.where(watched.feet_seen[rows, own], watched.error_m[rows, own], UNSEEN_M)
        measurement_sd_m = np.where(hidden, np.maximum(open_m, HIDDEN_M), open_m)
        feet[:, p] = seen[:, p] & watched.feet_seen[rows, own] & ~hidden
        place = np.where(seen[:, p, None], watched.xy[rows, own], np.nan)
        by_axis = np.repeat(measurement_sd_m[:, None], 2, axis=1)
        if watched.axis_error_m is not None:
            by_axis *= watched.axis_error_m[rows, own] / watched.error_m[rows, own][:, None]
        xy[:, p], error[:, p] = rts_smooth(watched.times_s, place, by_axis)
    colours, varied = np.full((2, 12), np.nan), np.zeros(12)
    for p in range(2):
        observed = watched.colours[rows, np.minimum(chosen[:, p], k - 1)][feet[:, p]]
        known = np.isfinite(observed).any(axis=0) if len(observed) else np.zeros(12, dtype=bool)
        colours[p, known] = np.nanmedian(observed[:, known], axis=0)
        off = np.abs(observed[:, known] - colours[p, known])
        varied[known] = np.maximum(varied[known], 1.4826 * np.nanmedian(off, axis=0))
    explained = [max(0.0, float(_explained(watched, t)[tuple(chosen[t])])) for t in range(n)]
    return Tracks(watched.times_s, xy, error, seen, feet, colours, varied, float(np.mean(explained)), chosen)


def rts_smooth(times_s: Floats, xy: Floats, error_m: Floats) -> tuple[Floats, Floats]:
    """Return a path smoothed forward and back with the usual changes of speed, and its standard error in
    space.

    Parameters
    ----------
    times_s : ndarray, shape (n,)
    xy : ndarray, shape (n, 2)
        NaN where nothing was seen.
    error_m : ndarray, shape (n,) or (n, 2)
        The same each way, or across and along the court.

    Source
    ------
    RAUCH-1965: the two-pass smoother of a linear state; each look's error grown where it lies far off.
    """
    n = len(times_s)
    known = np.flatnonzero(np.isfinite(xy).all(axis=1))
    if not known.size:
        return np.full((n, 2), np.nan), np.full(n, np.inf)
    state, ahead = kalman_filter(times_s, xy, error_m)
    steps = [(0.0, state[0], ahead[0])]
    for t in range(1, n):
        dt = float(times_s[t] - times_s[t - 1])
        steps.append((dt, *predicted(state[t - 1], ahead[t - 1], dt)))
    out, spread = state.copy(), ahead.copy()
    for t in range(n - 2, -1, -1):
        dt, coming, before = steps[t + 1]
        move = np.array([[1.0, dt], [0.0, 1.0]])
        back = ahead[t] @ move.T @ np.linalg.inv(before)
        out[t] = state[t] + (back @ (out[t + 1] - coming)[:, :, None])[:, :, 0]
        spread[t] = ahead[t] + back @ (spread[t + 1] - before) @ back.transpose(0, 2, 1)
    place = np.clip(out[:, :, 0], (-0.3, -0.1), (WIDTH_M + 0.3, LENGTH_M + 0.3))
    variance = np.maximum(spread[:, :, 0, 0], 0.0).sum(axis=1)
    return place, AUTOCORRELATION_INFLATION * np.sqrt(variance)


def kalman_filter(times_s: Floats, xy: Floats, error_m: Floats) -> tuple[Floats, Floats]:
    """Return place and speed by axis, (n, 2, 2), as each frame and all before it have them, and their
    covariance, (n, 2, 2, 2).

    Before the first place the first one stands, with a metre of error. Parameters as for `rts_smooth`.
    """
    n = len(times_s)
    error_m = np.broadcast_to(error_m[:, None] if error_m.ndim == 1 else error_m, (n, 2))
    state, covariance = np.zeros((n, 2, 2)), np.zeros((n, 2, 2, 2))
    known = np.flatnonzero(np.isfinite(xy).all(axis=1))
    begin = xy[known[0]] if known.size else np.array([WIDTH_M / 2, LENGTH_M / 2])
    now = np.column_stack([begin, [0.0, 0.0]])
    cover = np.tile(np.diag([1.0, 4.0]), (2, 1, 1))
    for t in range(n):
        if t:
            now, cover = predicted(now, cover, float(times_s[t] - times_s[t - 1]))
        if np.isfinite(xy[t]).all():
            off = xy[t] - now[:, 0]
            own = error_m[t] ** 2
            far = float((off**2 / (cover[:, 0, 0] + own)).sum())
            own = own * max(1.0, (STUDENT_T_DOF + far) / (STUDENT_T_DOF + 2))
            gain = cover[:, :, 0] / (cover[:, 0, 0] + own)[:, None]
            now = now + gain * off[:, None]
            cover = cover - gain[:, :, None] * cover[:, :1, :]
        state[t], covariance[t] = now, cover
    return state, covariance


def predicted(now: Floats, cover: Floats, dt: float) -> tuple[Floats, Floats]:
    """Return state and covariance by axis a moment later."""
    move = np.array([[1.0, dt], [0.0, 1.0]])
    push = np.array([[dt**4 / 4, dt**3 / 2], [dt**3 / 2, dt * dt]]) * SPEEDS_UP_M_S2**2
    return now @ move.T, move @ cover @ move.T + push
