"""Follow the ball through one rally: candidates, sounds, players and camera become shots with doubt.

```
 candidates ─> checked ─┐
 sounds (unnamed) ──────┼─> scene ─> chain of shots ─> fitted anew ─> chance, ellipses ─> FollowedRally
 tracks of players ─────┤
 camera, ball, clicks ──┘
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from goodlength.ball import PlayConditions
from goodlength.ball.model import flight_array_indices as col
from goodlength.ball.model.constants_with_sources import FASTEST_M_S
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.camera import CameraCalibration
from goodlength.measure.players.player_tracking import Tracks
from goodlength.measure.serves.serve_kind_and_return_votes_from_flights import kind_shares, taken_shares
from goodlength.measure.serves.serve_measurement_from_path import FLIGHTS, at_receiver, serve_value
from goodlength.measure.shots.ball_candidate_checks import checked_candidates
from goodlength.measure.shots.contact_position_covariance import contact_covariances, unknowns_covariance
from goodlength.measure.shots.followed_ball_types import (
    LARGEST_M2,
    ContactKind,
    Covariance,
    FollowedRally,
    FollowedShot,
    PathContact,
    PathSample,
    PathServe,
    RallyCorrections,
    ShotPath,
)
from goodlength.measure.shots.rally_input_arrays import (
    CLICKED_GAIN,
    Floats,
    RallyScene,
    SoundImpact,
    scene_of,
)
from goodlength.measure.shots.shot_chain_dynamic_programming import (
    StrikeTime,
    best_chain,
    certain_strikes,
    strike_times,
)
from goodlength.measure.shots.shot_flight_scoring_kernel import SHIFT
from goodlength.measure.shots.shot_path_probability import SURE, support_of
from goodlength.measure.shots.shot_path_refinement import END_S, RankedPath, RefinedShot, refine_chain
from goodlength.measure.shots.single_shot_path_candidates import SHORTEST_SHOT_S, FoundPath, ball_row, is_out
from goodlength.scoring.scoring_types import Side

FEWEST_FRAMES = 12
SOUND_MATCH_S = 0.02
SAME_STRIKE_S = 0.05
ASSUMED_STRIKE_CHANCE = {True: 0.99, False: 0.78}  # heard or not: no table stands behind these
LEAST_HIDDEN = 2  # frames
LONGEST_LAST_S = 3.4
LEAST_LOST_S = 0.1
INSIDE_M = ((0.05, 0.05, 0.05), (WIDTH_M - 0.05, LENGTH_M - 0.05, 4.0))  # where a serve is struck
LEAST_POSSIBLE = 0.5  # share of drawn flights that a ball can fly, below which no serve is measured
LEAST_SERVE = 0.5  # from this chance of its path on a serve is measured from it
NO_SOUND = "No sound was searched: strikes come from the picture alone."
NO_PLAYERS = "The players were not tracked here: who struck is not known, and depth is less sure."
_KINDS = {
    col.FRONT: ContactKind.FRONT,
    col.LEFT: ContactKind.LEFT,
    col.RIGHT: ContactKind.RIGHT,
    col.BACK: ContactKind.BACK,
}
Impacts = Sequence[tuple[int, float]]


@dataclass(frozen=True)
class RallyToFollow:
    """Which rally it is: its key, its file, and its media time, as it was searched."""

    key: str
    footage: str
    from_us: int
    until_us: int


def impacts_of(
    hits_us: Sequence[int], strikes: Sequence[tuple[int, str, float]]
) -> tuple[tuple[int, float], ...]:
    """Return media time and chance of a racket of a rally's sounds, as detection stores them.

    Parameters
    ----------
    hits_us : sequence of int
        Sounds without names.
    strikes : sequence of (us, name, chance)
        Sounds by name; the hits among them count once.
    """
    named = {us: chance if name == "racket" else 1.0 - chance for us, name, chance in strikes}
    for us in hits_us:
        if not any(abs(us - other) < 15_000 for other in named):
            named[us] = 0.5
    return tuple(sorted(named.items()))


def follow_rally(
    span: RallyToFollow,
    found: BallCandidates,
    camera: CameraCalibration | None,
    *,
    impacts: Impacts | None = None,
    tracks: Tracks | None = None,
    sides: tuple[Side | None, Side | None] = (None, None),
    setting: PlayConditions | None = None,
    corrections: RallyCorrections | None = None,
    shown: FollowedRally | None = None,
) -> FollowedRally:
    """Return the shots of a rally, each with up to three paths; with what is missing it says so.

    Parameters
    ----------
    span : RallyToFollow
    found : BallCandidates
        As stored, media time of the file.
    camera : CameraCalibration, optional
        That stands during the rally.
    impacts : sequence of (us, chance), optional
        Sounds in media time as the microphone had them, each with the chance that a racket made it (0.5 where
        nobody named it); None where the sound was not searched.
    tracks : Tracks, optional
        Of both players; times in seconds of media time.
    sides : tuple
        Which player each track is, where that is known.
    setting : PlayConditions, optional
        Ball, court and room.
    corrections : RallyCorrections, optional
    shown : FollowedRally, optional
        The rally as the coach saw it when clicking the ball. Its strikes stay where paths between them pass
        the clicks; else the rally is followed anew.

    Returns
    -------
    FollowedRally
        Without shots where nothing can be followed; `reason` says why.

    Limits
    ------
    One ball; spin at the strike is not fitted; measured on simulated rallies only, see docs/bench.md.
    """
    given = corrections or RallyCorrections()
    reason = _refused(found, camera)
    if reason or camera is None:
        return FollowedRally(span.key, span.footage, span.from_us, span.until_us, (), (), reason)
    checked = checked_candidates(found, camera.lens)
    missing = list(checked.unsure)
    if impacts is None:
        missing.append(NO_SOUND)
    if tracks is None or not len(tracks.times_s):
        missing.append(NO_PLAYERS)
    if checked.reason:
        return FollowedRally(
            span.key, span.footage, span.from_us, span.until_us, (), tuple(missing), checked.reason
        )
    scene = _scene(checked.found, camera, impacts, tracks, given)
    coefficients = (setting or PlayConditions()).coefficients().row()
    strikes = certain_strikes(strike_times(scene), *_corrected_times(scene, given))
    refined = None if shown is None else _refitted(scene, strikes, shown, coefficients)
    if refined is None:
        chain = best_chain(scene, strikes, coefficients, (0.0, 0.0, 0.0))
        refined = refine_chain(scene, chain, coefficients)
    writer = _Writer(
        scene, checked.found, camera, coefficients, sides, bool(given), not missing, span.footage
    )
    shots = tuple(writer.shot(n, refined) for n in range(len(refined)))
    return FollowedRally(
        span.key,
        span.footage,
        span.from_us,
        span.until_us,
        shots,
        tuple(missing),
        "" if shots else "No path of a ball fits what was found in this rally.",
        _unused(scene, refined),
        serve=writer.serve(refined, shots),
    )


def _refused(found: BallCandidates, camera: CameraCalibration | None) -> str:
    if camera is None:
        return "The camera is not calibrated for this rally. Calibrate the court first."
    if camera.floor_only or camera.front_only:
        return (
            "The calibration knows only one plane of the court, and the ball flies between them. Mark points "
            "of floor and front wall on the Calibrate page."
        )
    if len(found) < FEWEST_FRAMES:
        return f"Only {len(found)} frames of this rally were searched for the ball: too few to follow it."
    return ""


def _scene(
    found: BallCandidates,
    camera: CameraCalibration,
    impacts: Impacts | None,
    tracks: Tracks | None,
    given: RallyCorrections,
) -> RallyScene:
    origin = int(found.times_us[0])
    sounds = [SoundImpact((us - origin) / 1e6, chance) for us, chance in impacts or ()]
    clicked = []
    for mark in given.marks:
        k = int(np.argmin(np.abs(found.times_us - mark.time_us)))
        if not (0.0 <= mark.u <= camera.lens.width and 0.0 <= mark.v <= camera.lens.height):
            raise InputError(
                f"The click at ({mark.u:g}, {mark.v:g}) is outside the frame of {camera.lens.width} by "
                f"{camera.lens.height}. Click on the ball in the frame."
            )
        clicked.append((k, mark.u, mark.v))
    at = np.zeros(0) if tracks is None else tracks.times_s - origin / 1e6
    places = np.zeros((0, 2, 2)) if tracks is None else tracks.xy
    return scene_of(found, camera.lens, sounds, at, places, with_sound=impacts is not None, clicked=clicked)


def _refitted(
    scene: RallyScene,
    strikes: Sequence[StrikeTime],
    shown: FollowedRally,
    coefficients: Floats,
) -> list[RefinedShot] | None:
    """Return the shots between the strikes shown, fitted anew; None where they do not pass every click."""
    steady = _strikes_shown(scene, strikes, shown)
    if not steady:
        return None
    chain = best_chain(scene, steady, coefficients, (0.0, 0.0, 0.0))
    if len(chain) != len(steady):
        return None
    refined = refine_chain(scene, chain, coefficients)
    ends = [int(np.searchsorted(scene.times, each.until_s)) for each in refined]
    for k in np.flatnonzero(scene.gains[:, 0] == CLICKED_GAIN).tolist():
        n = next((n for n, end in enumerate(ends) if k < end), len(refined) - 1)
        path = refined[n].paths[0].path
        if not 0 <= k - path.begin < len(path.taken) or path.taken[k - path.begin] != 0:
            return None
    return refined


def _strikes_shown(
    scene: RallyScene, strikes: Sequence[StrikeTime], shown: FollowedRally
) -> list[StrikeTime]:
    """Return the strikes of the shots shown, all certain; none where one of them is not there any more."""
    steady: list[StrikeTime] = []
    for shot in shown.shots:
        if shot.best is None:
            return []
        contact = shot.best.contacts[0]
        at = (shot.struck_us - scene.origin_us) / 1e6
        due = at + (scene.delay_s(contact.place_m) if contact.with_sound else 0.0)
        alike = [strike for strike in strikes if strike.fixed or strike.with_sound == contact.with_sound]
        nearest = min(alike, key=lambda strike: abs(strike.time_s - due), default=None)
        if nearest is None or abs(nearest.time_s - due) > SAME_STRIKE_S:
            return []
        steady.append(replace(nearest, fixed=True, player=shot.track if scene.bodies else 0))
    together = any(b.time_s - a.time_s < SHORTEST_SHOT_S for a, b in pairwise(steady))
    return [] if together else steady


def _corrected_times(scene: RallyScene, given: RallyCorrections) -> tuple[list[float], list[float]]:
    """Return times on the rally's clock at which a racket did, and did not, strike the ball."""
    strikes, none = (
        [(us - scene.origin_us) / 1e6 for us in times] for times in (given.strikes_us, given.not_strikes_us)
    )
    return strikes, none


def _unused(scene: RallyScene, refined: Sequence[RefinedShot]) -> tuple[int, ...]:
    used = [each.shot.strike.time_s for each in refined]
    left = [t for t in scene.sounds.tolist() if not any(abs(t - other) < 0.005 for other in used)]
    return tuple(max(0, round(scene.origin_us + 1e6 * t)) for t in left)


@dataclass(frozen=True, eq=False)
class _Writer:
    """From fitted paths to the data form."""

    scene: RallyScene
    found: BallCandidates
    camera: CameraCalibration
    coefficients: Floats
    sides: tuple[Side | None, Side | None]
    corrected: bool
    plain: bool
    footage: str

    def shot(self, n: int, refined: Sequence[RefinedShot]) -> FollowedShot:
        """Return one shot with its paths."""
        each = refined[n]
        before = refined[n - 1] if n else None
        after = refined[n + 1] if n + 1 < len(refined) else None
        chance = support_of(self.scene, each, before, after).chance
        chances = _chances(each.paths, chance)
        paths = tuple(
            self.path(ranked, each, value) for ranked, value in zip(each.paths, chances, strict=True)
        )
        best = each.paths[0].path
        end_s = _end_s(best, each)
        track = each.shot.player if self.scene.bodies else None
        hidden = self._hidden(best, end_s)
        return FollowedShot(
            n + 1,
            self._us(each.shot.struck_s + best.th[SHIFT]),
            self._us(end_s + best.th[SHIFT]),
            None if track is None else self.sides[track],
            track,
            ASSUMED_STRIKE_CHANCE[each.shot.strike.with_sound],
            paths,
            chance >= SURE and self.plain,
            hidden,
            _reason_in_words(each, chance, hidden),
            self.corrected,
        )

    def serve(self, refined: Sequence[RefinedShot], shots: Sequence[FollowedShot]) -> PathServe | None:
        """Return what is measured of the serve; None where its path is unlikely, or no serve."""
        best = shots[0].best if shots else None
        if best is None or best.chance < LEAST_SERVE:
            return None
        each = refined[0]
        path = each.paths[0].path
        until = int(np.searchsorted(self.scene.times[path.begin :], _end_s(path, each)))
        marks = [
            (
                int(self.found.times_us[path.begin + k]),
                *self.scene.spots[path.begin + k, path.taken[k]].tolist(),
            )
            for k in range(min(until, len(path.taken)))
            if path.taken[k] >= 0
        ]
        if not marks:
            return None
        rng = np.random.default_rng(5)  # the same paths give the same answer
        launches, rows = self.sample_flights(each, rng)
        if len(launches) < FLIGHTS * LEAST_POSSIBLE or not np.isfinite(launches).all():
            return None
        with_sound = each.shot.strike.with_sound
        value = serve_value(
            self.footage, best.struck_us, launches, rows, marks, with_sound=with_sound, rng=rng
        )
        if value is None:
            return None
        kinds = kind_shares(launches, rows)
        if each.shot.last:
            return PathServe(best.chance, value, None, None, kinds)
        after_s = each.until_s - path.struck_s
        taken = taken_shares(launches, rows, after_s, rng)
        height, from_wall = at_receiver(launches, rows, after_s, rng)
        return PathServe(best.chance, value, height, from_wall, kinds, taken)

    def sample_flights(self, each: RefinedShot, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return flights drawn from what a shot's fit leaves open: launches, and coefficients of each.

        At most `FLIGHTS`: those faster than any ball are left out.
        """
        ranked = each.paths[0]
        covariance = unknowns_covariance(
            self.scene,
            ranked.path,
            ranked.prior,
            self.camera.lens,
            self.camera.covariance,
            self.coefficients,
        )
        unknowns = rng.multivariate_normal(
            ranked.path.th, 0.5 * (covariance + covariance.T), FLIGHTS, "ignore"
        )
        unknowns = unknowns[np.linalg.norm(unknowns[:, 3:6], axis=1) <= FASTEST_M_S]
        unknowns[:, :3] = np.clip(unknowns[:, :3], *INSIDE_M)
        rows = np.array([ball_row(th, self.coefficients) for th in unknowns])
        return np.column_stack([unknowns[:, :6], np.zeros((len(unknowns), 3))]), rows

    def path(self, ranked: RankedPath, each: RefinedShot, chance: float) -> ShotPath:
        """Return one path with contacts, their covariance, and samples."""
        path = ranked.path
        end_s = _end_s(path, each)
        reported = contacts_until(path, end_s, last=each.shot.last)
        strike, covariances = contact_covariances(
            self.scene,
            path,
            ranked.prior,
            self.camera.lens,
            self.camera.covariance,
            self.coefficients,
            [kind for kind, _ in reported],
        )
        contacts = [
            PathContact(
                ContactKind.RACKET,
                self._us(path.struck_s + path.th[SHIFT]),
                _place(path.th[:3]),
                _covariance(strike),
                each.shot.strike.with_sound,
            )
        ]
        for (kind, row), covariance in zip(reported, covariances, strict=True):
            at = path.struck_s + float(row[0])
            contacts.append(
                PathContact(
                    kind,
                    self._us(at + path.th[SHIFT]),
                    _place(row[1:4]),
                    _covariance(covariance),
                    self._has_sound(at, row[1:4]),
                )
            )
        samples = []
        for k in range(len(path.taken)):
            if self.scene.times[path.begin + k] > end_s + path.th[SHIFT]:
                break
            us = int(self.found.times_us[path.begin + k])
            samples.append(PathSample(us, _place(path.places[k]), bool(path.taken[k] >= 0)))
        speed = float(np.linalg.norm(path.th[3:6]))
        struck_us = self._us(path.struck_s + path.th[SHIFT])
        return ShotPath(round(chance, 3), struck_us, round(speed, 2), tuple(contacts), tuple(samples))

    def _us(self, time_s: float) -> int:
        return max(0, round(self.scene.origin_us + 1e6 * time_s))

    def _has_sound(self, at_s: float, place: Floats) -> bool:
        due = at_s + self.scene.delay_s(place)
        return bool(len(self.scene.sounds)) and float(np.abs(self.scene.sounds - due).min()) < SOUND_MATCH_S

    def _hidden(self, path: FoundPath, end_s: float) -> tuple[tuple[int, int], ...]:
        """Return spans of at least two frames without a candidate on the path."""
        out = []
        n = int(np.searchsorted(self.scene.times[path.begin :], end_s))
        run: list[int] = []
        for k in range(min(n, len(path.taken)) + 1):
            if k < min(n, len(path.taken)) and path.taken[k] < 0:
                run.append(path.begin + k)
                continue
            if len(run) >= LEAST_HIDDEN:
                out.append((int(self.found.times_us[run[0]]), int(self.found.times_us[run[-1]])))
            run = []
        return tuple(out)


def contacts_until(path: FoundPath, end_s: float, *, last: bool) -> list[tuple[ContactKind, Floats]]:
    """Return the contacts that are told of a path that ends at a time: kind, and its row of the path."""
    out = []
    floors = 0
    for row in path.contacts:
        at = path.struck_s + float(row[0])
        if at > end_s + 1e-6 if last else at > end_s - END_S:
            break
        surface = int(row[4])
        if surface == col.FLOOR:
            floors += 1
            kind = ContactKind.FLOOR if floors == 1 else ContactKind.SECOND_BOUNCE
        elif is_out(surface, float(row[2]), float(row[3])):
            kind = ContactKind.OUT
        elif surface == col.FRONT and row[3] < path.tin_m:
            kind = ContactKind.TIN
        else:
            kind = _KINDS[surface]
        out.append((kind, row))
    return out


def _end_s(path: FoundPath, each: RefinedShot) -> float:
    """Return when a shot ends on the rally's clock: with the next strike, or the rally by this path."""
    return (
        min(each.until_s, path.struck_s + path.over_s)
        if not each.shot.last
        else min(path.struck_s + path.over_s, path.struck_s + LONGEST_LAST_S)
    )


def _chances(paths: Sequence[RankedPath], best: float) -> list[float]:
    """Return the chance of each path; what the best leaves is shared by the lead of the others."""
    if len(paths) < 2:
        return [best]
    rest = np.exp(np.clip([0.3 * (each.score - paths[1].score) for each in paths[1:]], -20.0, 0.0))
    shared = 0.8 * (1.0 - best) * rest / rest.sum()
    return [best, *(float(min(value, best)) for value in shared)]


def _reason_in_words(each: RefinedShot, chance: float, hidden: tuple[tuple[int, int], ...]) -> str:
    if chance >= SURE:
        return ""
    words = []
    if not each.shot.strike.with_sound:
        words.append("The strike was not heard.")
    if hidden:
        longest = max(until - begin for begin, until in hidden) / 1e6
        if longest >= LEAST_LOST_S:
            words.append(f"The ball was hidden or lost for {longest:.1f} s.")
    if len(each.paths) > 1:
        words.append("Another path fits too.")
    return " ".join(words) or "The path fits only in part."


def _place(values: Floats) -> tuple[float, float, float]:
    x, y, z = (round(float(value), 4) for value in values[:3])
    return x, y, z


def _covariance(matrix: Floats) -> Covariance | None:
    """Return a covariance as stored; None where it is not known, or no covariance by lack of figures."""
    if not np.isfinite(matrix).all() or (np.diag(matrix) < 0.0).any() or np.abs(matrix).max() > LARGEST_M2:
        return None
    a, b, c = ((float(f"{row[0]:.4g}"), float(f"{row[1]:.4g}"), float(f"{row[2]:.4g}")) for row in matrix)
    return a, b, c
