"""Time on court of both players, as the page on movement shows it: one map each, of the match or one game."""

from __future__ import annotations

from typing import TypedDict

from goodlength.findings.analyses.time_on_court_map import NEAR_T_M, TimeOnCourt
from goodlength.show.draw.court.time_on_floor_map import shade_key, time_on_floor_map
from goodlength.tasks.footage.player_time_maps import player_time_maps, tracked_games
from goodlength.tasks.footage.player_tracking import TrackedMatch
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.views.match_description_and_result_phrases import count_words


class TimeMapView(TypedDict):
    """One player's map, and its figures in words."""

    name: str
    picture: str
    words: str


class TimeOnCourtView(TypedDict):
    """Both maps, what they rest on, and the games that can be chosen: (value, words, chosen)."""

    maps: list[TimeMapView]
    basis: str
    games: list[tuple[str, str, bool]]
    shades: list[tuple[str, str]]


def time_on_court_view(opened: OpenMatch, tracked: TrackedMatch, chosen: str) -> TimeOnCourtView | None:
    """Return both players' time on court in the game chosen, else the match; None where nothing is known."""
    games = tracked_games(tracked)
    game = next((n for n in games if str(n) == chosen), None)
    if not tracked.identified:
        return None
    found = player_time_maps(opened, tracked, game)
    maps = [_map(found.of[side], side, name) for side, name in zip("ab", opened.names, strict=True)]
    known = [f"{name} {100 * found.share(side):.0f}%" for side, name in zip("ab", opened.names, strict=True)]
    rallies = f"{found.rallies} of {count_words(found.all_rallies, 'rally', 'rallies')}"
    choices = [("", "Whole match", game is None), *((str(n), f"Game {n}", n == game) for n in games)]
    return {
        "maps": [each for each in maps if each is not None],
        "basis": f"{rallies} with a time. Place known for this share of their time: {', '.join(known)}.",
        "games": choices if found.rallies else [],
        "shades": [
            (shade_key(shade, "a") + shade_key(shade, "b"), words)
            for shade, words in enumerate(("half of the time", "three quarters", "95%"))
        ],
    }


def _map(found: TimeOnCourt | None, side: str, name: str) -> TimeMapView | None:
    if found is None:
        return None
    words = (
        f"In front of the short line {100 * found.front:.0f}%, left half {100 * found.left:.0f}%, "
        f"within {NEAR_T_M} m of the T {100 * found.near_t:.0f}%."
    )
    label = f"Court floor from above, front wall at the top: where {name} spent the time. {words}"
    return {
        "name": name,
        "picture": time_on_floor_map(found.part.tolist(), side, label=label),
        "words": words,
    }
