"""Onset of serve cues: how long before the strike one kind of serve can be told from the others.

```
 joints ── centred, scaled ──> posture ── less what the place on court explains ──> watcher, held out
 labels ── shuffled within match and box, many times ──> the largest score over all moments by luck
 tell = the first moment from which the watcher stays above that for a while
```

A moment by moment threshold would find something in nearly every third match in which there is nothing; the
largest over all moments holds it to one in twenty (source: STAT-NOTE 6.1). With few serves the moment found
lags behind the true one: it is said as "at least".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.errors import InputError, OutOfRange
from goodlength.measure.body.pose_normalisation import normalise_poses
from goodlength.measure.body.serve_kind_over_time_classifier import (
    auc,
    centre_within,
    cv_folds,
    hat_matrices,
    window_features,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_OF_A_KIND = 20  # serves of the kind, and of the others; source: STAT-NOTE 6.1
STAYS = 3  # moments in a row above the threshold; source: STAT-NOTE 6.1
FALSE_TELLS = 0.05
SHUFFLES = 500
SEEN_SHARE = 0.8  # of serves and moments in which a joint must be seen to be used; ASSUMED
SUBSETS, SUBSET_SHARE = 60, 0.8


@dataclass(frozen=True)
class TooFewServes:
    """Nothing is said: so many serves of the kind and of the others had usable joints."""

    of_kind: int
    others: int
    needed: int = LEAST_OF_A_KIND


@dataclass(frozen=True, eq=False)
class DisguiseResult:
    """What a watcher could tell.

    `until_s` (t,) are the moments, negative before the strike; `score` (t,) the chance, held out, that a
    serve of the kind looks more like it than another serve does (a half is guessing); `threshold` what luck
    reaches in one of twenty. `tell_s` is None where nothing shows; `range_s` how it moves over parts of the
    serves, None where it shows in too few of them. `place_score` is the same chance from the place on court
    alone, None where places were not given. `mean_kind`, `mean_others` (T, 17, 2) are the two average
    movements in trunk lengths, with `times_s` (T,).
    """

    of_kind: int
    others: int
    until_s: Floats
    score: Floats
    threshold: float
    tell_s: float | None
    range_s: tuple[float, float] | None
    place_score: float | None
    place_tells: bool
    times_s: Floats
    mean_kind: Floats
    mean_others: Floats


def time_of_disguise_loss(
    poses: ArrayLike,
    times_s: ArrayLike,
    of_kind: ArrayLike,
    *,
    groups: ArrayLike | None = None,
    strata: ArrayLike | None = None,
    places: ArrayLike | None = None,
    mirrored: ArrayLike | None = None,
    shuffles: int = SHUFFLES,
    rng: np.random.Generator | None = None,
) -> DisguiseResult | TooFewServes:
    """Return when one kind of serve can be told from the others by the server's body.

    Parameters
    ----------
    poses : array_like, shape (n, T, 17, 2)
        Joints of each serve, px; NaN where not seen. Moments alike for all, up to the strike or past it.
    times_s : array_like, shape (T,)
        Moments from the strike, rising by even steps; those after the strike are not used to tell.
    of_kind : array_like of bool, shape (n,)
        Whether a serve is of the kind.
    groups, strata : array_like of int, shape (n,), optional
        The match (or game) and what else is held alike, such as the box: labels are shuffled within both.
    places : array_like, shape (n, p), optional
        Where the server stood, m: what it explains of the posture is taken off.
    mirrored : array_like of bool, shape (n,), optional
        As for `normalise_poses`.

    Raises
    ------
    InputError, OutOfRange
        Shapes that do not fit, moments out of order, or fewer than two of a stratum's kinds throughout.

    Limits
    ------
    A program's watcher, not a player's eye: that something shows does not say that anybody uses it.
    """
    steps, labels = _checked(poses, times_s, of_kind)
    chance = np.random.default_rng(5) if rng is None else rng
    movements = normalise_poses(poses, mirrored)
    usable = np.asarray(np.isfinite(movements).any(axis=(1, 2, 3)))
    labels, movements = labels[usable], movements[usable]
    if min(int(labels.sum()), int((~labels).sum())) < LEAST_OF_A_KIND:
        return TooFewServes(int(labels.sum()), int((~labels).sum()))
    group = _whole("groups", groups, usable)
    stratum = _whole("strata", strata, usable)
    alike = np.unique(np.stack([group, stratum]), axis=1, return_inverse=True)[1].reshape(-1)
    before = steps <= 0.0
    features = _filled(movements[:, before])
    features = centre_within(features, alike)
    place = None if places is None else centre_within(_finite(np.asarray(places, float)[usable]), alike)
    if place is not None:
        features = _less(features, place)
    seen, until = window_features(features, steps[before])
    if not len(until):
        raise OutOfRange("There are too few frames before contact to see a movement: give half a second.")
    fold = cv_folds(group)
    weights = hat_matrices(seen, fold)
    shuffled = _shuffled(labels, alike, shuffles, chance)
    scores = auc(weights @ np.column_stack([labels, shuffled.T]).astype(float), _columns(labels, shuffled))
    score, luck = scores[:, 0], scores[:, 1:]
    threshold = float(np.quantile(luck.max(axis=0), 1.0 - FALSE_TELLS))
    found = _first(score, threshold, until)
    spread = None
    if found is not None:
        spread = _range(seen, until, labels, fold, threshold, chance)
    place_score, place_tells = _by_place(place, labels, fold, shuffled)
    return DisguiseResult(
        int(labels.sum()),
        int((~labels).sum()),
        until,
        score,
        threshold,
        found,
        spread,
        place_score,
        place_tells,
        steps,
        _mean(movements[labels]),
        _mean(movements[~labels]),
    )


def _checked(poses: ArrayLike, times_s: ArrayLike, of_kind: ArrayLike) -> tuple[Floats, NDArray[np.bool_]]:
    steps, labels = np.asarray(times_s, float), np.asarray(of_kind, bool)
    shape = np.shape(poses)
    if steps.ndim != 1 or len(steps) < 2 or not np.all(np.diff(steps) > 0):
        raise InputError("The moments must increase: give seconds from contact, such as -0.8, -0.78, ... 0.")
    if len(shape) != 4 or shape[1] != len(steps) or shape[0] != len(labels):
        raise InputError(
            f"Body points are serves x moments x 17 x 2 with a label a serve; got {shape}, "
            f"{len(steps)} moments "
            f"and {len(labels)} labels."
        )
    return steps, labels


def _whole(name: str, values: ArrayLike | None, usable: NDArray[np.bool_]) -> Ints:
    if values is None:
        return np.zeros(int(usable.sum()), np.int64)
    found = np.unique(np.asarray(values), return_inverse=True)[1].reshape(-1)
    if len(found) != len(usable):
        raise InputError(f"There are {len(usable)} serves and {len(found)} {name}; give one a serve.")
    return np.asarray(found[usable], np.int64)


def _finite(values: Floats) -> Floats:
    middle = np.nanmean(values, axis=0) if np.isfinite(values).any() else np.zeros(values.shape[1:])
    return np.where(np.isfinite(values), values, np.nan_to_num(middle))


def _filled(movements: Floats) -> Floats:
    """Return joints seen often enough, gaps filled with the mean over serves at that moment, shape (n, T,
    k).
    """
    often = np.isfinite(movements).all(axis=-1).mean(axis=(0, 1)) >= SEEN_SHARE
    well_seen = movements[:, :, often].reshape(*movements.shape[:2], -1)
    if not well_seen.shape[2]:
        raise InputError("No body point was seen in four of five serves: there is no movement to compare.")
    mean = np.nan_to_num(np.nanmean(well_seen, axis=0))
    return np.where(np.isfinite(well_seen), well_seen, mean)


def _less(features: Floats, place: Floats) -> Floats:
    """Features less what a line in the place explains of them."""
    flat = features.reshape(len(features), -1)
    known, *_ = np.linalg.lstsq(place, flat, rcond=None)
    out: Floats = (flat - place @ known).reshape(features.shape)
    return out


def _shuffled(
    labels: NDArray[np.bool_], alike: Ints, count: int, chance: np.random.Generator
) -> NDArray[np.bool_]:
    """Labels shuffled within what is alike, shape (count, n)."""
    out = np.repeat(labels[None], count, axis=0)
    for item in np.unique(alike):
        at = np.flatnonzero(alike == item)
        order = chance.random((count, len(at))).argsort(axis=1)
        out[:, at] = labels[at][order]
    return out


def _columns(labels: NDArray[np.bool_], shuffled: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.column_stack([labels, shuffled.T])


def _first(score: Floats, threshold: float, until_s: Floats) -> float | None:
    """Return the first moment from which the score stays above; near the strike fewer moments are left
    to stay.
    """
    above = score > threshold
    for at in np.flatnonzero(above):
        if at + STAYS <= len(above) and above[at : at + STAYS].all():
            return float(until_s[at])
    return None


def _range(
    seen: Floats,
    until_s: Floats,
    labels: NDArray[np.bool_],
    fold: Ints,
    threshold: float,
    chance: np.random.Generator,
) -> tuple[float, float] | None:
    """Return how the moment moves over parts of the serves, 90 of 100; None where it is often not found."""
    found = []
    kinds = [np.flatnonzero(labels), np.flatnonzero(~labels)]
    for _ in range(SUBSETS):
        part = np.sort(
            np.concatenate([chance.choice(k, round(SUBSET_SHARE * len(k)), replace=False) for k in kinds])
        )
        if len(np.unique(fold[part])) < 2:
            continue
        answers = hat_matrices(seen[:, part], fold[part]) @ labels[part].astype(float)[:, None]
        at = _first(auc(answers, labels[part][:, None])[:, 0], threshold, until_s)
        if at is not None:
            found.append(at)
    if len(found) < SUBSETS // 2:
        return None
    low, high = np.quantile(found, [0.05, 0.95])
    return float(low), float(high)


def _by_place(
    place: Floats | None, labels: NDArray[np.bool_], fold: Ints, shuffled: NDArray[np.bool_]
) -> tuple[float | None, bool]:
    if place is None:
        return None, False
    weights = hat_matrices(place[None], fold)
    scores = auc(weights @ _columns(labels, shuffled).astype(float), _columns(labels, shuffled))[0]
    return float(scores[0]), bool(scores[0] > np.quantile(scores[1:], 1.0 - FALSE_TELLS))


def _mean(movements: Floats) -> Floats:
    """Return the average movement; NaN where a joint was seen in under half of them."""
    seen = np.asarray(np.isfinite(movements).all(axis=-1))
    often = np.asarray(seen.mean(axis=0) >= 0.5)
    total = np.where(seen[..., None], movements, 0.0).sum(axis=0)
    out: Floats = np.where(often[..., None], total / np.maximum(seen.sum(axis=0), 1)[..., None], np.nan)
    return out


def disguise_words(found: DisguiseResult | TooFewServes, kind: tuple[str, str], name: str) -> list[str]:
    """Return what was found, in sentences.

    Parameters
    ----------
    found : DisguiseResult or TooFewServes
        What the body points of these serves show.
    kind : (str, str)
        One and several serves of the kind, as in ("lob", "lobs").
    name : str
        The server's first name.

    Examples
    --------
    >>> disguise_words(TooFewServes(12, 31), ("lob", "lobs"), "Imogen")[0].partition(": ")[2]
    '12 lobs and 31 other serves have body points; 20 of each are needed.'
    """
    text, many = kind
    if isinstance(found, TooFewServes):
        return [
            f"Not enough data for {name}’s {text}: {found.of_kind} {many} and {found.others} "
            f"other serves have body points; {found.needed} of each are needed."
        ]
    counts = f"{found.of_kind} {many} compared with {found.others} other serves"
    if found.tell_s is None:
        sentences = [f"Nothing that was checked gives {name}’s {text} away before contact; {counts}."]
    elif found.tell_s > -0.03:
        sentences = [f"{name}’s {text} can be read only at contact; {counts}."]
    else:
        sentences = [
            f"{name}’s {text} can be read about {-found.tell_s:.2f} s before contact; {counts}.",
            "With more serves it may show earlier.",
        ]
        if found.range_s is not None:
            low, high = sorted(f"{-at:.2f}" for at in found.range_s)
            span = low if low == high else f"{low} to {high}"
            sentences.insert(1, f"With some of these serves left out: {span} s before.")
    if found.place_tells and found.place_score is not None:
        share = round(100 * found.place_score)
        also = "gives" if found.tell_s is None else "also gives"
        sentences.append(f"The starting position {also} the serve away (it separates {share}% of pairs).")
    sentences.append(f"Checked from {-float(found.until_s[0]):.2f} s before contact.")
    sentences.append("This is what a program can detect. A player may not see it.")
    return sentences
