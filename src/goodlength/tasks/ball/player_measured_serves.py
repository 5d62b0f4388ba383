"""A player's measured serves over all matches: by clicks, and from paths where no click measured them."""

from __future__ import annotations

import math
import threading
from collections.abc import Hashable
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Literal

from goodlength.files.library_layout import followed_ball_file
from goodlength.tasks.ball.serve_measurements_by_click_or_path import serves_as_measured

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from goodlength.record.entry_value_types import MeasuredValue
    from goodlength.record.model import MatchInfo
    from goodlength.record.store import Library
    from goodlength.record.store.listing.cached_rally_counts import RallyCount
    from goodlength.tasks.match.lazy_match import OpenMatch
    from goodlength.tasks.match.lazy_player_matches import OpenMatches

MOST_MATCHES = 200  # remembered
PATH_CHANCE = 0.8  # of a serve's path: below it the ranges hold too seldom to count here. ASSUMED


@dataclass(frozen=True)
class MeasuredPlace:
    """Where a measured serve met the front wall and how fast it was struck; `errors` are one sd each.

    `bounce_m` is the first bounce on the floor, across and from the front wall, if the path has one. `by`
    says whether clicks or the followed path measured it.
    """

    match: str
    rally: str
    across_m: float
    up_m: float
    speed_m_s: float
    errors: tuple[float, float, float]
    bounce_m: tuple[float, float] | None = None
    by: Literal["clicks", "path"] = "clicks"


PlacedServe = tuple[tuple[str, str, str], MeasuredPlace]  # kind, box and server, and the serve
_BY_MATCH: dict[Hashable, tuple[PlacedServe, ...]] = {}
_LOCK = threading.Lock()


def measured_by_kind(matches: OpenMatches) -> dict[tuple[str, str], tuple[MeasuredPlace, ...]]:
    """Return a player's measured serves over all matches, by kind ("" where not recorded) and box.

    A clicked serve goes before the path of the same rally. Of paths those count that are up to date, of a
    logged rally, and right with a chance of at least `PATH_CHANCE`. A serve without a place on the front wall
    is left out.
    """
    found: dict[tuple[str, str], list[MeasuredPlace]] = {}
    for info in matches_with_serves(matches.library, matches.infos):
        opened = matches.match(info.id)
        for (kind, box, server), place in measured_places(opened):
            if info.players["ab".index(server)] == matches.player_id:
                found.setdefault((kind, box), []).append(place)
    return {key: tuple(group) for key, group in sorted(found.items())}


def matches_with_serves(library: Library, infos: Sequence[MatchInfo]) -> list[MatchInfo]:
    """Return the matches that may have measured serves: with clicked ones, or with a followed ball."""
    counts = library.counts([info.id for info in infos])
    return [info for info in infos if may_have_serves(library, info.id, counts)]


def matches_with_paths(library: Library, infos: Sequence[MatchInfo]) -> list[MatchInfo]:
    """Return the matches in which the ball was followed."""
    return [info for info in infos if followed_ball_file(library.folder, info.id).exists()]


def may_have_serves(library: Library, match_id: str, counts: Mapping[str, RallyCount]) -> bool:
    """Return whether a match has clicked serves or a followed ball; quick."""
    if match_id in counts and counts[match_id].measured:
        return True
    return match_id in counts and followed_ball_file(library.folder, match_id).exists()


def path_files_version(folder: Path) -> tuple[int, ...]:
    """Return what changes with any stored path of a library, or with what paths rest on beside the record."""
    homes = (folder / name for name in ("balls", "tracks", "cameras", "heard"))
    return tuple(home.stat().st_mtime_ns if home.is_dir() else 0 for home in homes)


def measured_places(opened: OpenMatch) -> tuple[PlacedServe, ...]:
    """Return the measured serves of a match in the order played, each with its kind, box and server.

    With followed paths they are remembered while record and paths are unchanged: comparing paths with what
    they rest on takes a third of a second a match, and Aim asks at every move of the hand.
    """
    if not followed_ball_file(opened.library.folder, opened.id).exists():
        return tuple(_measured_places(opened))
    last = opened.entries[-1].id if opened.entries else ""
    files = tuple((file.id, file.starts_us, file.first_us, file.end_us) for file in opened.footage)
    record = (opened.info, opened.kinds, files, len(opened.entries), last)
    key = (opened.library.folder, record, path_files_version(opened.library.folder))
    with _LOCK:
        if key in _BY_MATCH:
            return _BY_MATCH[key]
    found = tuple(_measured_places(opened))
    with _LOCK:
        _BY_MATCH[key] = found
        while len(_BY_MATCH) > MOST_MATCHES:
            _BY_MATCH.pop(next(iter(_BY_MATCH)))
    return found


def _measured_places(opened: OpenMatch) -> list[PlacedServe]:
    measured = {
        serve.key: serve
        for serve in serves_as_measured(opened)
        if serve.by == "clicks" or (serve.path is not None and serve.path.chance >= PATH_CHANCE)
    }
    found = []
    for rally in opened.match.rallies:
        serve = measured.get(f"r:{rally.key}")
        place = None if serve is None else measured_place(opened.id, rally.key, serve.value, serve.by)
        if place is not None:
            found.append(((rally.serve.kind or "", rally.box.value, rally.server.value), place))
    return found


def measured_place(
    match: str, rally: str, value: MeasuredValue, by: Literal["clicks", "path"]
) -> MeasuredPlace | None:
    """Return a serve as it counts here; None where it has no place on the front wall, or no speed."""
    (across, up, speed), off = zip(*_with_sd(value), strict=True)
    if not all(math.isfinite(number) for number in (across, up, speed, *off)):
        return None
    x_m, y_m = value.bounce_x_m, value.bounce_y_m
    bounce = (x_m[0], y_m[0]) if x_m and y_m else None
    return MeasuredPlace(match, rally, across, up, speed, (off[0], off[1], off[2]), bounce, by)


def _with_sd(value: MeasuredValue) -> list[tuple[float, float]]:
    """Across and up on the front wall, and the speed: the middle of each, and its standard deviation."""
    per_sd = 2.0 * NormalDist().inv_cdf(0.5 + value.level / 2.0)
    ranges = (value.front_x_m, value.front_z_m, value.speed_m_s)
    return [(middle, (high - low) / per_sd) for middle, low, high in ranges]
