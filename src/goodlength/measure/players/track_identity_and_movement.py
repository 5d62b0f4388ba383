"""Identity of the two tracks of a rally, positions at each hit, and distance run, with uncertainty.

A rally whose paths are poor is hidden, with the reason in words: a wrong place is worse than none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import T_M
from goodlength.measure.players.clothing_colours import ALIKE as CLOTHES_ALIKE
from goodlength.measure.players.clothing_colours import SURE, clothing_of, separate_players
from goodlength.measure.players.player_tracking import (
    ClothingColours,
    Detections,
    Tracks,
    track_rally,
)
from goodlength.measure.players.track_identity_swaps import names_through_meetings
from goodlength.measure.score.server_and_box_likelihoods import (
    TRUTHS,
    FeetObservation,
    observe_from_feet,
)
from goodlength.scoring import Box, Side

Floats = NDArray[np.float64]
Confirm = Callable[[int, Tracks], float]

# A rally is hidden below these; chosen on invented films, see docs/reasons/players.md
LEAST_FOUND = 0.50  # share of pictures in which both were found
MOSTLY_FOUND = 0.80  # with less the rally counts as followed in part
LEAST_NAMED = 0.35  # share of a rally through which it must be sure who is who
LEAST_EXPLAINED = 0.80  # share of what moves that the two explain
LEAST_FEET = 0.55  # share of places at which the feet themselves were found
LEAST_CONFIRMED = 0.60  # share of places at which the detector of people found somebody too
NEAR_T_M = 1.5  # nearer than this to the T counts as at the T; ASSUMED
STRIDE_S = 0.32
PASSED_WORDS = "the players passed so close that they may have been mixed up"
OUT_OF_VIEW_WORDS = "a player was hidden or out of the frame for some of it"
MOST_ERROR_M = 0.6  # a place less sure than this is not given


@dataclass(frozen=True, eq=False)
class RallyTrack:
    """Both players through one rally; player 0 is A and player 1 is B once `named`.

    `sure` is the log odds that they are not the other way round; `hidden` says why a rally's paths are not
    shown, and is empty where they are.
    """

    key: str
    paths: Tracks
    confirmed: float
    named: bool = False
    sure: float = 0.0
    hidden: str = ""
    partial: str = ""  # why only a part of the rally was followed; empty where all of it was

    @property
    def identified(self) -> bool:
        """Whether the players are told apart in this rally."""
        return self.named and self.sure >= SURE


@dataclass(frozen=True)
class MovementWork:
    """What a player did in a rally: way, time, time away from the T, and mean distance from it."""

    way_m: float
    seconds: float
    away_s: float
    from_t_m: float


def identify_tracks(
    spans: Sequence[tuple[str, Detections]], confirm: Confirm | None = None
) -> tuple[tuple[RallyTrack, ...], ClothingColours | None]:
    """Track the players in all rallies of a match: by movement, then again with the clothes learnt.

    Parameters
    ----------
    spans : sequence of (key, Watched)
    confirm : callable (number of the span, Paths) -> float, optional
        The share of a path's places the detector of people confirms; NaN where it was not asked.

    Returns
    -------
    tracks : tuple of RallyTrack
        Not yet named. Where the clothes tell, player 0 is the same in all of them.
    clothing : Clothing or None
    """
    watched_all = [watched for _, watched in spans]
    first = names_through_meetings(watched_all, [track_rally(watched) for watched in watched_all])
    clothing = clothing_of([paths for paths, _ in first if _poor(paths, 1.0) == ""])
    tells = clothing is not None and clothing.apart >= CLOTHES_ALIKE
    second = first
    if tells:
        again = [track_rally(watched, clothing) for watched in watched_all]
        second = names_through_meetings(watched_all, again)
    tracks = []
    for n, ((key, _), (paths, (begin, end))) in enumerate(zip(spans, second, strict=True)):
        seen = float("nan") if confirm is None else confirm(n, paths)
        hidden = _poor(paths, seen)
        sure_part = paths if end - begin == len(paths.times_s) else paths.part(begin, end)
        sure = 0.0
        if tells and clothing is not None:
            sure = separate_players(sure_part, clothing)
            if sure < 0.0:  # begun the wrong way round: the clothes of the whole path decide
                sure_part, sure = sure_part.swapped(), -sure
        if end - begin < LEAST_NAMED * len(paths.times_s):
            hidden = hidden or PASSED_WORDS
        partial = PASSED_WORDS if sure_part.times_s.size < paths.times_s.size else ""
        if paths.found < MOSTLY_FOUND:
            partial = partial or OUT_OF_VIEW_WORDS
        tracks.append(RallyTrack(key, sure_part, seen, False, sure, hidden, partial))
    return tuple(tracks), clothing


def _poor(paths: Tracks, confirmed: float) -> str:
    """Return why a rally's paths are not good enough to be shown; empty where they are."""
    if len(paths.times_s) < 5:
        return "too few frames"
    if paths.found < LEAST_FOUND:
        return f"both players were found in only {_share(paths.found)}% of the frames"
    if paths.explained < LEAST_EXPLAINED:
        return f"only {_share(paths.explained)}% of the movement in the frame is that of two players"
    feet = float(paths.feet.mean())
    if feet < LEAST_FEET:
        return f"the feet were seen in only {_share(feet)}% of the frames"
    if confirmed < LEAST_CONFIRMED:
        return f"a person was recognised at only {_share(confirmed)}% of the positions"
    return ""


def _share(value: float) -> int:
    return round(100 * value)


def at(paths: Tracks, time_s: float) -> tuple[FeetObservation | None, FeetObservation | None]:
    """Return where both players stood at a moment; None where it is not known well enough.

    Examples
    --------
    >>> import numpy as np
    >>> xy = np.array([[[1.0, 7.0], [5.0, 7.0]], [[1.2, 7.0], [5.0, 6.8]]])
    >>> full = np.ones((2, 2))
    >>> looks = np.ones((2, 12))
    >>> p = Tracks(np.array([0.0, 0.2]), xy, 0.1 * full, full > 0, full > 0, looks, looks[0], 1.0)
    >>> round(at(p, 0.1)[0].x_m, 3)
    1.1
    """
    times = paths.times_s
    if not len(times) or not times[0] - 0.1 <= time_s <= times[-1] + 0.1:
        return None, None
    found: list[FeetObservation | None] = []
    for p in range(2):
        x, y = (float(np.interp(time_s, times, paths.xy[:, p, c])) for c in range(2))
        error = float(np.interp(time_s, times, paths.error_m[:, p]))
        good = math.isfinite(x) and math.isfinite(y) and error <= MOST_ERROR_M
        found.append(FeetObservation(x, y, error / math.sqrt(2.0)) if good else None)
    return found[0], found[1]


CLEAR_ODDS = 1.0  # log odds from which a serve is counted as speaking for or against a name


def named(
    tracks: Sequence[RallyTrack],
    serves: Sequence[tuple[float, Side | None, Box | None]],
    first_is: Side | None = None,
) -> tuple[RallyTrack, ...]:
    """Return the tracks with player 0 as A: by the clothes and one name said, or by who served from where.

    Parameters
    ----------
    tracks : sequence of RallyTrack
        From `identify_tracks`.
    serves : sequence of (time_s, Side or None, Box or None)
        For each track its first strike, and who served from which box where the record says so.
    first_is : Side, optional
        Who the coach says player 0 is; it stands over the record.

    Notes
    -----
    Where clothes tell, all rallies speak together. Where they do not, each rally is named by its own serve,
    and one without a serve recorded stays unnamed.
    """
    odds = [
        0.0 if track.hidden else _server_odds(track, *serve)
        for track, serve in zip(tracks, serves, strict=True)
    ]
    by_clothes = any(track.sure > 0.0 for track in tracks)
    sure_odds = [own for own, track in zip(odds, tracks, strict=True) if track.sure >= SURE]
    together = float(np.clip(sure_odds, -4.0, 4.0).sum())  # one rally alone never decides against all others
    if by_clothes and first_is is not None:
        together = 20.0 if first_is is Side.A else -20.0
    out = []
    for rally_track, own in zip(tracks, odds, strict=True):
        if by_clothes:
            turn, sure = together < 0.0, min(rally_track.sure, abs(together))
        else:
            turn, sure = own < 0.0, abs(own)
        out.append(
            replace(
                rally_track,
                paths=rally_track.paths.swapped() if turn else rally_track.paths,
                named=sure > 0.0,
                sure=sure,
            )
        )
    return tuple(out)


def served_against(
    tracks: Sequence[RallyTrack], serves: Sequence[tuple[float, Side | None, Box | None]]
) -> tuple[int, int]:
    """Return in how many rallies the serve says the other player served, and how many serves say anything.

    Parameters
    ----------
    tracks : sequence of RallyTrack
        Named, player 0 being A.
    serves : sequence of (time_s, Side or None, Box or None)
        As for `named`.
    """
    odds = [
        _server_odds(track, *serve)
        for track, serve in zip(tracks, serves, strict=True)
        if not track.hidden and track.named
    ]
    clear = [odd for odd in odds if abs(odd) > CLEAR_ODDS]
    return sum(value < 0.0 for value in clear), len(clear)


def _server_odds(track: RallyTrack, time_s: float, server: Side | None, box: Box | None) -> float:
    """Log odds that player 0 is A, from where both stood at the first strike."""
    a, b = at(track.paths, time_s)
    if server is None or (a is None and b is None):
        return 0.0
    likely = dict(zip(TRUTHS, observe_from_feet(track.key, a, b, swap_rate=0.0).likely, strict=True))
    boxes = (Box.RIGHT, Box.LEFT) if box is None else (box,)
    straight = sum(likely[server, box_item] for box_item in boxes)
    crossed = sum(likely[server.other, box_item] for box_item in boxes)
    return float(np.clip(math.log((straight + 1e-9) / (crossed + 1e-9)), -8.0, 8.0))


def movement_work(paths: Tracks, player: int, from_s: float, to_s: float) -> MovementWork | None:
    """Return how far a player went between two moments, and how long away from the T; None where not
    followed.

    Limits
    ------
    Times away from the T count from `NEAR_T_M` on, which is assumed. Ways are of the smoothed path.
    """
    inside = (paths.times_s >= from_s) & (paths.times_s <= to_s)
    if inside.sum() < 3 or not np.isfinite(paths.xy[inside, player]).all():
        return None
    times, xy = paths.times_s[inside], paths.xy[inside, player]
    # Feet found a little to and fro in every picture are no way gone: places a stride apart are.
    stops = np.append(np.arange(times[0], times[-1], STRIDE_S), times[-1])
    coarse = np.column_stack([np.interp(stops, times, xy[:, c]) for c in range(2)])
    steps = np.linalg.norm(np.diff(coarse, axis=0), axis=1)
    away = np.hypot(xy[:, 0] - T_M[0], xy[:, 1] - T_M[1])
    gaps = np.diff(times)
    return MovementWork(
        float(steps.sum()),
        float(times[-1] - times[0]),
        float(gaps[away[1:] > NEAR_T_M].sum()),
        float(np.average(away[1:], weights=gaps)),
    )
