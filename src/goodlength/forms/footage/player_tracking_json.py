"""JSON form and terminal lines of tracked players."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

from goodlength.media_time import MICROSECONDS
from goodlength.tasks.footage.player_tracking import (
    TrackedMatch,
    TrackedRally,
    tracked_match,
    work_done,
)

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


class PathsJson(TypedDict):
    """Where both players were, at times of the match."""

    times_s: list[float]
    first: list[list[float]]
    second: list[list[float]]
    error_m: list[list[float]]


class TrackedRallyJson(TypedDict):
    """One rally tracked; `paths` is null where they are not shown."""

    key: str
    rally: int | None
    game: int | None
    start_s: float
    end_s: float
    hidden: str
    partial: str
    told: bool
    found: float
    paths: PathsJson | None


class PlayerWorkJson(TypedDict):
    """How far one player went."""

    rallies: int
    way_m: float
    seconds: float
    away_s: float


class TrackingJson(TypedDict):
    """Everything tracked of a match."""

    match: str
    names: list[str]
    words: list[str]
    stale: bool
    first_is: str | None
    told_by: str | None
    rallies: list[TrackedRallyJson]
    work: dict[str, PlayerWorkJson]


def tracking_form(opened: OpenMatch, found: TrackedMatch | None = None) -> TrackingJson:
    """Return everything followed as plain values: times in seconds of match time, places in metres."""
    found = tracked_match(opened) if found is None else found
    return {
        "match": opened.id,
        "names": [player.name for player in opened.players],
        "words": list(found.words),
        "stale": found.stale,
        "first_is": found.first_is,
        "told_by": found.identified_by,
        "rallies": [_rally_form(rally) for rally in found.rallies],
        "work": {
            side: {
                "rallies": len(done),
                "way_m": round(sum(work.way_m for work in done), 1),
                "seconds": round(sum(work.seconds for work in done), 1),
                "away_s": round(sum(work.away_s for work in done), 1),
            }
            for side, done in work_done(found).items()
        },
    }


def _rally_form(tracked_rally: TrackedRally) -> TrackedRallyJson:
    paths = tracked_rally.track.paths
    form: TrackedRallyJson = {
        "key": tracked_rally.key,
        "rally": None if tracked_rally.rally is None else tracked_rally.rally.n,
        "game": None if tracked_rally.rally is None else tracked_rally.rally.game,
        "start_s": tracked_rally.start_us / MICROSECONDS,
        "end_s": tracked_rally.end_us / MICROSECONDS,
        "hidden": tracked_rally.track.hidden,
        "partial": tracked_rally.track.partial,
        "told": tracked_rally.track.identified,
        "found": round(paths.found, 3),
        "paths": None,
    }
    if tracked_rally.shown:
        form["paths"] = {
            "times_s": [round(t, 3) for t in paths.times_s.tolist()],
            "first": [[round(x, 2), round(y, 2)] for x, y in paths.xy[:, 0].tolist()],
            "second": [[round(x, 2), round(y, 2)] for x, y in paths.xy[:, 1].tolist()],
            "error_m": [[round(a, 2), round(b, 2)] for a, b in paths.error_m.tolist()],
        }
    return form


def tracking_lines(form: TrackingJson) -> list[str]:
    """Return the same in lines for a terminal."""
    lines = list(form["words"])
    for rally in form["rallies"]:
        name = f"game {rally['game']}, rally {rally['rally']}" if rally["rally"] else "detected, not logged"
        place = (
            f"not shown: {rally['hidden']}"
            if rally["hidden"]
            else ""
            if rally["told"]
            else "which player is which is not known"
        )
        if rally["partial"] and not rally["hidden"]:
            place = f"only in part: {rally['partial']}. {place}".rstrip()
        lines.append(f"  {rally['start_s']:8.1f} s  {name:<20} {place}".rstrip())
    for side, name in zip(("a", "b"), form["names"], strict=True):
        done = form["work"][side]
        if done["rallies"]:
            lines.append(
                f"{name}, {_rallies(done['rallies'])}: {done['way_m']:.0f} m, "
                f"{100 * done['away_s'] / max(done['seconds'], 0.1):.0f}% of the time away from the T."
            )
    if form["told_by"]:
        lines.append(f"Which player is which: set by {form['told_by']}.")
    if form["stale"]:
        lines.append("Rallies were added since: track again with --again.")
    return lines


def _rallies(count: int) -> str:
    return "1 rally" if count == 1 else f"{count} rallies"
