"""Names of two players through their meetings: against counting all ways out, and on invented places."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from goodlength.measure.players.player_tracking import Detections, Tracks, track_rally, tracks_of
from goodlength.measure.players.track_identity_and_movement import identify_tracks
from goodlength.measure.players.track_identity_swaps import (
    chances_of_runs,
    forward_backward,
    names_through_meetings,
)

DARK, LIGHT = np.full(12, 60.0), np.full(12, 160.0)
STILL = 14  # frames in which the two are one person


def meeting(
    rng: np.random.Generator, *, alike: bool = False, apart_m: float = 0.05
) -> tuple[Detections, np.ndarray]:
    """Two who walk up to each other, are found as one person for a second, and walk back.

    Player 0 is always the first place; in the meeting there is only one place.
    """
    t = np.concatenate([np.linspace(0, 1, 30), np.ones(STILL), np.linspace(1, 0, 26)])
    truth = np.stack(
        [
            np.column_stack([1.2 + 2.0 * t, 0 * t + 5.0]),
            np.column_stack([5.2 - (2.0 - apart_m) * t, 0 * t + 5.05]),
        ],
        axis=1,
    )
    n = len(t)
    xy = truth + rng.normal(0, 0.06, truth.shape)
    pair = np.full((n, 2, 2), 1.0)
    pair[:, range(2), range(2)] = 0.5
    colours = np.stack([np.tile(DARK, (n, 1)), np.tile(DARK if alike else LIGHT, (n, 1))], axis=1)
    colours = colours + rng.normal(0, 4, colours.shape)
    if apart_m < 0.5:
        one_person = slice(29, 30 + STILL)
        xy[one_person, 1], colours[one_person, 1], pair[one_person, :, 1] = np.nan, np.nan, np.nan
        pair[one_person, 1] = np.nan
    error = np.where(np.isfinite(xy[:, :, 0]), 0.08, np.nan)
    none = np.zeros((n, 2, 2), dtype=bool)
    return Detections(np.arange(n) * 0.08, xy, error, pair, np.isfinite(error), none, colours), truth


def as_chosen(seen: Detections, *, changed: bool) -> Tracks:
    """Return the paths of places taken as they stand; `changed`, the other way round after the meeting."""
    chosen = np.tile([0, 1], (len(seen.times_s), 1))
    chosen[np.isnan(seen.xy[:, 1, 0]), 1] = 2
    if changed:
        chosen[30 + STILL // 2 :] = chosen[30 + STILL // 2 :, ::-1]
    return tracks_of(seen, chosen)


def off(paths: Tracks, truth: np.ndarray) -> np.ndarray:
    straight = np.linalg.norm(paths.xy - truth, axis=2)
    crossed = np.linalg.norm(paths.xy[:, ::-1] - truth, axis=2)
    return straight if straight.mean() < crossed.mean() else crossed


@pytest.mark.parametrize("changed", [False, True])
def test_unlike_clothes_give_back_the_names_after_a_meeting(changed: bool) -> None:
    seen, truth = meeting(np.random.default_rng(1))
    ((paths, sure),) = names_through_meetings([seen], [as_chosen(seen, changed=changed)])
    assert sure == (0, len(seen.times_s))
    assert off(paths, truth)[: 30 - 1].max() < 0.3
    assert off(paths, truth)[30 + STILL :].max() < 0.3


@pytest.mark.parametrize("changed", [False, True])
def test_in_like_clothes_names_are_sure_on_one_side_of_the_meeting_only(changed: bool) -> None:
    seen, truth = meeting(np.random.default_rng(2), alike=True)
    ((paths, (first, end)),) = names_through_meetings([seen], [as_chosen(seen, changed=changed)])
    assert (first, end) in {(0, end), (first, len(seen.times_s))}
    assert 20 <= end - first <= 30 + STILL
    assert off(paths.part(first, end), truth[first:end]).max() < 0.4


def test_two_in_like_clothes_who_stay_apart_keep_their_names_throughout() -> None:
    seen, truth = meeting(np.random.default_rng(3), alike=True, apart_m=1.2)
    paths = track_rally(seen)
    ((named, sure),) = names_through_meetings([seen], [paths])
    assert sure == (0, len(seen.times_s))
    assert named is paths
    assert off(named, truth).max() < 0.4


def test_other_rallies_say_what_the_two_wear() -> None:
    rng = np.random.default_rng(4)
    seen = [meeting(rng)[0] for _ in range(4)]
    short = seen[0]
    hardly = np.full_like(short.colours, np.nan)
    hardly[10, :, :3], hardly[60, :, :3] = short.colours[10, :, :3], short.colours[60, :, :3]
    short = replace(short, colours=hardly)  # clothes seen twice, and of one part of the body only
    tracks = [as_chosen(short, changed=True), *(as_chosen(other, changed=False) for other in seen[1:])]
    ((_, alone),) = names_through_meetings([short], tracks[:1])
    together = names_through_meetings([short, *seen[1:]], tracks)[0][1]
    assert together[1] - together[0] >= alone[1] - alone[0]
    assert together == (0, len(short.times_s))


def test_a_rally_named_through_two_fifths_of_it_is_shown_in_part() -> None:
    seen, truth = meeting(np.random.default_rng(7), alike=True)
    (track,), _ = identify_tracks([("r", seen)])
    assert 0.35 * len(truth) <= len(track.paths.times_s) < 0.65 * len(truth)
    assert (track.hidden, "mixed up" in track.partial) == ("", True)


def test_two_who_never_part_are_sure_nowhere() -> None:
    seen, _ = meeting(np.random.default_rng(8), alike=True, apart_m=1.2)
    beside = np.stack([seen.xy[:, 0], seen.xy[:, 0] + [0.2, 0.0]], axis=1)
    together = replace(seen, xy=beside)
    ((_, (first, end)),) = names_through_meetings([together], [as_chosen(together, changed=True)])
    assert first == end
    (track,), _ = identify_tracks([("r", together)])
    assert (len(track.paths.times_s), "mixed up" in track.hidden) == (0, True)


@pytest.mark.parametrize("backwards", [False, True])
def test_a_meeting_that_begins_or_ends_a_rally_is_not_sure(backwards: bool) -> None:
    whole, truth = meeting(np.random.default_rng(9))
    frames = np.arange(30, len(truth)) if backwards else np.arange(30 + STILL)
    seen, chosen = whole.part(frames), as_chosen(whole, changed=False).chosen[frames]
    ((_, (first, end)),) = names_through_meetings([seen], [tracks_of(seen, chosen)])
    gap = np.linalg.norm(truth[frames, 0] - truth[frames, 1], axis=1)
    assert 20 <= end - first <= 30
    assert gap[first:end].min() > 0.15


def test_an_empty_rally_and_one_without_clothes_are_no_trouble() -> None:
    seen, _ = meeting(np.random.default_rng(5))
    empty = seen.part(np.arange(0))
    bare = replace(seen, colours=np.full_like(seen.colours, np.nan))
    (_, none), (_, some) = names_through_meetings(
        [empty, bare], [track_rally(empty), as_chosen(bare, changed=False)]
    )
    assert none == (0, 0)
    assert some[1] > some[0]


def counted(evidence: np.ndarray, changed: np.ndarray) -> dict[tuple[int, ...], float]:
    """Return the chance of every way round of all stretches, counted out."""
    ways = {}
    for way in product((0, 1), repeat=len(evidence)):
        chance = 1.0
        for turned, odds in zip(way, evidence, strict=True):
            chance *= 1 / (1 + np.exp(odds if turned else -odds))
        for before, after, odds in zip(way, way[1:], changed, strict=False):
            chance *= 1 / (1 + np.exp(-odds if before != after else odds))
        ways[way] = chance
    total = sum(ways.values())
    return {way: chance / total for way, chance in ways.items()}


def test_chances_are_those_of_counting_all_ways_out() -> None:
    rng = np.random.default_rng(6)
    evidence, changed = rng.normal(0, 2, 6), rng.normal(-1, 2, 5)
    ways = counted(evidence, changed)
    chance, _ = forward_backward(evidence, changed)
    for t in range(6):
        assert chance[t] == pytest.approx(sum(p for way, p in ways.items() if way[t] == 0))
    turned = np.array([False, True, True, False, False, True])
    runs = chances_of_runs(evidence, changed, turned)
    for first in range(6):
        for count, found in enumerate(runs[first], start=1):
            own = tuple(int(x) for x in turned[first : first + count])
            flipped = tuple(1 - x for x in own)
            wanted = sum(p for way, p in ways.items() if way[first : first + count] in (own, flipped))
            assert found == pytest.approx(wanted)
