"""Where both players spent the time of a game or a match, from the tracked rallies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.media_time import MICROSECONDS
from goodlength.tasks.footage.player_tracking import TrackedMatch, TrackedRally, rally_spans, span_times

if TYPE_CHECKING:
    from goodlength.findings.analyses.time_on_court_map import TimeOnCourt
    from goodlength.tasks.match.lazy_match import OpenMatch


@dataclass(frozen=True, eq=False)
class PlayerTimeMaps:
    """Both players' time on the floor in one game (None: the whole match).

    `of` is by side, None where a player has no place; `rallies` is how many of `all_rallies` it rests on, and
    `seconds` how long all of those rallies with a time last.
    """

    game: int | None
    of: Mapping[str, TimeOnCourt | None]
    rallies: int
    all_rallies: int
    seconds: float

    def share(self, side: str) -> float:
        """Return the share of the rallies' time in which the place of a player is known."""
        found = self.of[side]
        return 0.0 if found is None or not self.seconds else min(1.0, found.seconds / self.seconds)


def tracked_games(tracked: TrackedMatch) -> tuple[int, ...]:
    """Return the games of which any rally shows both players, told apart."""
    return tuple(sorted({each.rally.game for each in tracked.identified if each.rally is not None}))


def player_time_maps(opened: OpenMatch, tracked: TrackedMatch, game: int | None = None) -> PlayerTimeMaps:
    """Return where both players spent the time of a game, or of the whole match.

    Only rallies in which the two are told apart count, and of these only places whose error is at most 0.6 m,
    also of a rally that was tracked in part. Each place counts for the time to the next picture looked at.
    """
    spans = [
        (rally, *span_times(rally, found))
        for _, rally, found in rally_spans(opened)
        if game is None or (rally is not None and rally.game == game)
    ]
    rallies = [
        each for each in tracked.identified if game is None or (each.rally and each.rally.game == game)
    ]
    return PlayerTimeMaps(
        game,
        {side: _time_of(rallies, n) for n, side in enumerate("ab")},
        len(rallies),
        len(spans),
        sum(end - start for _, start, end in spans) / MICROSECONDS,
    )


def _time_of(rallies: list[TrackedRally], player: int) -> TimeOnCourt | None:
    import numpy as np

    from goodlength.findings.analyses.time_on_court_map import time_on_court
    from goodlength.measure.players.track_identity_and_movement import MOST_ERROR_M

    places, seconds, errors = [np.empty((0, 2))], [np.empty(0)], [np.empty(0)]
    for each in rallies:
        paths = each.track.paths
        times = paths.times_s
        inside = (times >= each.start_us / MICROSECONDS) & (times <= each.end_us / MICROSECONDS)
        sure = inside & (paths.error_m[:, player] <= MOST_ERROR_M)
        until = np.append(times[1:], times[-1:])
        usual = np.median(np.diff(times)) if len(times) > 1 else 0.0
        places.append(paths.xy[sure, player])
        seconds.append(np.clip(until - times, 0.0, 3 * usual)[sure])  # a part left out is no time stood still
        errors.append(paths.error_m[sure, player])
    return time_on_court(np.concatenate(places), np.concatenate(seconds), np.concatenate(errors))
