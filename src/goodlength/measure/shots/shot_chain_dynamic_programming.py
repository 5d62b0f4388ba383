"""The chain of shots through a rally: dynamic programming over sounds that nobody named.

A state is a sound and the player who struck then. From each state that can still win paths are found once;
the same paths serve every end. Scores are sums of log likelihood ratios over frames and sounds, so that
chains of few and of many shots can be compared.

```
 sound 1 ─ a ─┬─ path ──> sound 3 ─ b ─ path ──> sound 6 ─ a ...      frames, sounds, reach, rules
          b   └─ path ──> sound 4 ─ b ...                             the best chain to each state is kept
```
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from goodlength.measure.shots.rally_input_arrays import Floats, Indices, RallyScene
from goodlength.measure.shots.single_shot_path_candidates import (
    LONGEST_SHOT_S,
    OTHER_SOUNDS_A_S,
    SHIFT_SD_S,
    SHORTEST_SHOT_S,
    SOUND_SD_S,
    FoundPath,
    find_paths,
    sound_score,
    sound_scores,
)

FIRST_STRIKE_S = 2.2  # from the first frame, within which the rally begins
BEHIND = 50.0  # a state so far behind the best chain then is not followed
BEHIND_UNHEARD = 20.0
STRIKE_SCORE = math.log(0.97 / (2.507 * SOUND_SD_S * OTHER_SOUNDS_A_S))
UNHEARD_SCORE = -4.5
SOUND_WAY_S = 0.025  # about, from racket to microphone
NAMED_WEIGHT = 0.6  # how far the names that sounds come with are believed
FIRST_UNHEARD_SCORE = -5.0
NONE_WITHIN_S, NONE_UNHEARD_WITHIN_S, SAME_S = 0.05, 0.16, 0.012
UNHEARD_SD_S = 0.025
UNHEARD_EVERY_S, UNHEARD_APART_S = 0.06, 0.08
SHOT_SCORE = -2.0  # of each further shot
REACH_M, REACH_SD_M, REACH_MOST = 0.95, 0.35, 14.0
JOIN_SD_M, JOIN_MOST = 0.35, 10.0
AFTER_OVER = -25.0
DOWN_SCORE = -30.0  # a last shot that does not reach the front wall is rare, a dead ball that bounces is not
LOW_M, HIGH_M = 0.04, 2.7  # between which a ball is struck


@dataclass(frozen=True)
class StrikeTime:
    """A time at which a racket may have struck: the sound's, and log odds that it was a racket.

    `fixed` says that a racket certainly struck then, `player` whose it was; None where that is open.
    """

    time_s: float
    odds: float
    with_sound: bool = True
    fixed: bool = False
    player: int | None = None


@dataclass(eq=False)
class ChainState:
    """The best chain that ends with a strike: its score, the state and path before, paths from here."""

    strike: int
    player: int
    score: float
    before: ChainState | None = None
    path: FoundPath | None = None
    paths: list[FoundPath] = field(default_factory=list)
    struck_s: float = 0.0


@dataclass(frozen=True, eq=False)
class ChainShot:
    """A shot of the winning chain: its strike, player, paths from there, the path chosen, and its end."""

    strike: StrikeTime
    player: int
    struck_s: float
    until_s: float
    last: bool
    paths: tuple[FoundPath, ...]
    chosen: FoundPath


def strike_times(scene: RallyScene) -> list[StrikeTime]:
    """Return all times at which a racket may have struck: each sound, and times between them."""
    out = [
        StrikeTime(each.time_s, STRIKE_SCORE + NAMED_WEIGHT * _odds(each.racket_chance))
        for each in scene.impacts
    ]
    for time_s in np.arange(scene.times[0], scene.length_s - SHORTEST_SHOT_S, UNHEARD_EVERY_S):
        if not len(scene.sounds) or np.abs(scene.sounds - SOUND_WAY_S - time_s).min() > UNHEARD_APART_S:
            out.append(
                StrikeTime(float(time_s), UNHEARD_SCORE if scene.with_sound else 0.0, with_sound=False)
            )
    return sorted(out, key=lambda strike: strike.time_s)


def certain_strikes(
    strikes: Sequence[StrikeTime], certain_s: Sequence[float], none_s: Sequence[float]
) -> list[StrikeTime]:
    """Return strike times as a coach corrected them: some are certain, near others there is none."""
    out = []
    for strike in strikes:
        apart_s = NONE_WITHIN_S if strike.with_sound else NONE_UNHEARD_WITHIN_S
        if all(abs(strike.time_s - time_s) > apart_s for time_s in (*none_s, *certain_s)):
            out.append(strike)
    for time_s in certain_s:
        sounds = [s for s in strikes if s.with_sound and abs(s.time_s - time_s) < SAME_S]
        if sounds:
            out.append(replace(min(sounds, key=lambda s: abs(s.time_s - time_s)), fixed=True))
        else:
            out.append(StrikeTime(time_s, 0.0, with_sound=False, fixed=True))
    return sorted(out, key=lambda strike: strike.time_s)


def _odds(chance: float) -> float:
    chance = min(max(chance, 0.02), 0.98)
    return math.log(chance / (1.0 - chance))


def best_chain(
    scene: RallyScene, strikes: Sequence[StrikeTime], coefficients: Floats, ball: tuple[float, float, float]
) -> list[ChainShot]:
    """Return the shots of the best chain through the strikes; empty where no path is supported.

    Parameters
    ----------
    strikes : sequence of StrikeTime
        Growing times.
    coefficients : ndarray, shape (25,)
    ball : tuple
        As for `prior_of`.
    """
    states: dict[tuple[int, int], ChainState] = {}
    ahead = np.zeros(len(scene.frames) + 1)  # of the best chain, its last shot still in the air
    best: tuple[float, ChainState, FoundPath, float] | None = None
    onward, players = onward_of(scene, strikes), (0, 1) if scene.bodies else (0,)
    for i, strike in enumerate(strikes):
        frame = int(np.searchsorted(scene.times, strike.time_s))
        for player in players if strike.player is None else (strike.player,):
            state = states.get((i, player))
            first = _may_be_first(strikes, i)
            opening_score = strike.odds + (
                0.0 if strike.with_sound or not scene.with_sound else FIRST_UNHEARD_SCORE
            )
            if first and (state is None or state.score < opening_score):
                state = states[(i, player)] = ChainState(i, player, opening_score)
            if state is None:
                continue
            behind = state.score < ahead[min(frame, len(ahead) - 1)] - (
                BEHIND if strike.with_sound else BEHIND_UNHEARD
            )
            if behind and not strike.fixed and state.before is not None:
                continue
            body = scene.body_at(player, strike.time_s) if scene.bodies else None
            delay = scene.delay_s((*body, 1.0) if body else (3.2, 6.0, 1.0)) if strike.with_sound else 0.0
            state.struck_s = strike.time_s - delay
            joined = [] if state.path is None else [state.path.place_at(frame)]
            shift_sd_s = SHIFT_SD_S if strike.with_sound else UNHEARD_SD_S
            state.paths = find_paths(scene, state.struck_s, body, joined, coefficients, ball, shift_sd_s)
            for path in state.paths:
                score = state.score + path.prior_score + _join_score(state, path, frame)
                begin = path.begin + 1
                np.maximum(
                    ahead[begin : begin + len(path.sums)],
                    score + path.sums,
                    out=ahead[begin : begin + len(path.sums)],
                )
                ended = score + _last_score(scene, path)
                if best is None or ended > best[0]:
                    best = (ended, state, path, min(path.struck_s + path.over_s, scene.length_s))
            _extend(scene, onward, states, state)
    return [] if best is None else _chain_back(strikes, best)


def _may_be_first(strikes: Sequence[StrikeTime], i: int) -> bool:
    """Return whether a rally may begin with a strike: early, and none is certain before."""
    strike = strikes[i]
    early = strike.time_s <= FIRST_STRIKE_S
    return (early or strike.fixed) and not any(other.fixed for other in strikes[:i])


@dataclass(frozen=True, eq=False)
class Onward:
    """What is known at each strike, for all that may follow: arrays over the strikes, (n,) or (n, 2).

    `frames` are those just before each strike, `bodies` where each player stands then, NaN where not known.
    """

    times_s: Floats
    odds: Floats
    frames: Indices
    bodies: tuple[Floats, Floats]
    fixed: tuple[bool, ...]

    def after(self, n: int) -> Indices:
        """Return which strikes may follow one: none beyond a certain strike, none too soon or too late."""
        after_s = self.times_s[n + 1 :] - self.times_s[n]
        until = int(np.searchsorted(after_s, LONGEST_SHOT_S, side="right"))
        certain = next((k for k in range(until) if self.fixed[n + 1 + k]), None)
        if certain is not None:
            until = certain + 1
        soonest = int(np.searchsorted(after_s[:until], SHORTEST_SHOT_S))
        return np.arange(n + 1 + soonest, n + 1 + until)


def onward_of(scene: RallyScene, strikes: Sequence[StrikeTime]) -> Onward:
    """Return what is known at each strike."""
    times_s = np.array([strike.time_s for strike in strikes])
    unknown = (math.nan, math.nan)
    first, second = (
        np.array([(scene.body_at(player, time_s) if scene.bodies else None) or unknown for time_s in times_s])
        for player in (0, 1)
    )
    return Onward(
        times_s,
        np.array([strike.odds for strike in strikes]),
        np.searchsorted(scene.times, times_s - 0.02),
        (first.reshape(-1, 2), second.reshape(-1, 2)),
        tuple(strike.fixed for strike in strikes),
    )


def _extend(
    scene: RallyScene, onward: Onward, states: dict[tuple[int, int], ChainState], state: ChainState
) -> None:
    """Take the best path from a state to each strike that may follow."""
    other = 1 - state.player if scene.bodies else 0
    here = int(np.searchsorted(scene.times, onward.times_s[state.strike]))
    to = onward.after(state.strike)
    if not len(to) or not state.paths:
        return
    scores = np.array([_onward_scores(scene, onward, state, path, here, to, other) for path in state.paths])
    best = np.argmax(scores, axis=0)
    for j, k, score in zip(to.tolist(), best.tolist(), scores.max(axis=0).tolist(), strict=True):
        old = states.get((j, other))
        if old is None or score > old.score:
            states[(j, other)] = ChainState(j, other, score, state, state.paths[k])


def _onward_scores(
    scene: RallyScene, onward: Onward, state: ChainState, path: FoundPath, here: int, to: Indices, other: int
) -> Floats:
    """Return the score of the chain that takes a path from a state to each of some strikes, shape (m,)."""
    times_s, ahead = onward.times_s[to], onward.frames[to] - path.begin
    score = state.score + path.prior_score + _join_score(state, path, here) + path.sums_until(ahead)
    sounds = sound_scores(path, times_s - 0.02) if scene.with_sound else 0.0
    score += sounds + SHOT_SCORE + onward.odds[to]
    score += reach_scores(path.places[np.clip(ahead, 0, len(path.places) - 1)], onward.bodies[other][to])
    over = path.struck_s + path.over_s < times_s - 0.05
    score[over | (path.front_s >= times_s)] += AFTER_OVER
    return score


def _front_before(path: FoundPath, time_s: float) -> bool:
    """Return whether the front wall is touched before a time."""
    return path.front_s < time_s


def reach_scores(places: Floats, bodies: Floats) -> Floats:
    """Return how well a player can strike balls: within reach, and neither too low nor too high; shape (m,).

    Parameters
    ----------
    places : ndarray, shape (m, 3)
    bodies : ndarray, shape (m, 2)
        Where the player stands; NaN where that is not known, which costs nothing.
    """
    high = places[:, 2]
    beyond = np.hypot(places[:, 0] - bodies[:, 0], places[:, 1] - bodies[:, 1]) - REACH_M
    far = np.minimum(REACH_MOST, 0.5 * (np.maximum(0.0, beyond) / REACH_SD_M) ** 2)
    return np.where((high > LOW_M) & (high < HIGH_M), 0.0, -2.0) - np.where(np.isnan(far), 0.0, far)


def _join_score(state: ChainState, path: FoundPath, frame: int) -> float:
    """Return how well a path begins where the one before ends."""
    if state.path is None:
        return 0.0
    off = float(np.linalg.norm(state.path.place_at(frame) - path.th[:3])) / JOIN_SD_M
    return -min(JOIN_MOST, 0.5 * off * off)


def _last_score(scene: RallyScene, path: FoundPath) -> float:
    """Return the score of a path as the last of the rally, which is over then by the rules."""
    over = path.struck_s + path.over_s + 0.03
    score = ended_sum(path, int(np.searchsorted(scene.times, min(over, scene.length_s))))
    down = 0.0 if _front_before(path, over) else DOWN_SCORE
    return score + down + sound_score(scene, path, over)


def ended_sum(path: FoundPath, frame: int) -> float:
    """Return the score of a last path: the ball goes on after the rally is over, as far as it is seen."""
    first = min(max(frame - path.begin - 1, 0), len(path.sums) - 1)
    return float(path.sums[first:].max())


def _chain_back(
    strikes: Sequence[StrikeTime], best: tuple[float, ChainState, FoundPath, float]
) -> list[ChainShot]:
    _, state, path, until_s = best
    out = [_shot(strikes, state, path, until_s, last=True)]
    while state.before is not None and state.path is not None:
        path, until_s = state.path, strikes[state.strike].time_s
        state = state.before
        out.append(_shot(strikes, state, path, until_s, last=False))
    return out[::-1]


def _shot(
    strikes: Sequence[StrikeTime], state: ChainState, path: FoundPath, until_s: float, *, last: bool
) -> ChainShot:
    others = tuple(each for each in state.paths if each is not path)
    return ChainShot(
        strikes[state.strike], state.player, state.struck_s, until_s, last, (path, *others), path
    )
