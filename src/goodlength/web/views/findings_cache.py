"""Cache of findings while the record they come from is unchanged."""

from __future__ import annotations

import importlib
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from goodlength.web.views.rally_scoresheet import SheetData

if TYPE_CHECKING:
    from goodlength.findings import Findings
    from goodlength.findings.analyses.last_shots_and_strike_intervals import Sequences, TimeRow
    from goodlength.findings.analyses.serve_mixed_strategy import MixAdvice
    from goodlength.findings.analyses.serve_variation_effect import ServeChangeEffect
    from goodlength.findings.analyses.win_probability import MatchLine, ServeWorth
    from goodlength.tasks.findings.shot_place_findings import MatchPlaces
    from goodlength.tasks.match.lazy_match import OpenMatch

MOST_CACHED = 24


@dataclass(frozen=True)
class FindingsPage:
    """Everything the Findings page shows of one player: findings, the line, the change of serve, the mix.

    `served` are the keys of the rallies this player served, in order; `ends` the last two and the last three
    shots, and `time` the time of A and of B between hits, both of the rallies told shot by shot
    (`shot_rallies`).
    """

    findings: Findings
    line: MatchLine
    worth: ServeWorth | None
    change: ServeChangeEffect
    mix: MixAdvice | None
    served: tuple[str, ...]
    shot_rallies: tuple[str, ...]
    ends: tuple[Sequences, ...]
    time: tuple[TimeRow, TimeRow]


class FindingsCache:
    """Findings by match and player; what they were made from is part of the key."""

    def __init__(self) -> None:
        self._cache: dict[tuple[object, ...], Any] = {}
        self._lock = threading.Lock()

    def findings(
        self, opened: OpenMatch, key: tuple[str, bool, str], make: Callable[[], Findings]
    ) -> Findings:
        """Return kept findings of an open match about a side, the opponent named or not; else make them."""
        found: Findings = self.keep(("findings", *_key(opened), *key), make)
        return found

    def page(self, data: SheetData, whose: str) -> FindingsPage:
        """Return everything the Findings page shows of the coached player or the opponent."""
        found = data.opened.findings(whose)
        key = ("page", *_key(data.opened), whose)
        page: FindingsPage = self.keep(key, lambda: _page(data, found))
        return page

    def places(self, opened: OpenMatch, side: str) -> MatchPlaces | None:
        """Return what places say of a player; None where the ball was not followed. Paths are in the key."""
        from goodlength.tasks.ball.player_measured_serves import matches_with_paths, path_files_version
        from goodlength.tasks.findings.shot_place_findings import match_places

        if not matches_with_paths(opened.library, [opened.info]):
            return None
        key = ("places", *_key(opened), side, path_files_version(opened.library.folder))
        found: MatchPlaces = self.keep(key, lambda: match_places(opened, side))
        return found

    def keep(self, key: tuple[object, ...], make: Callable[[], Any]) -> Any:
        """Return what was made under this key, which names all it is made from; else make it."""
        with self._lock:
            cached = self._cache.get(key)
        if cached is not None:
            return cached
        made = make()
        with self._lock:
            self._cache[key] = made
            while len(self._cache) > MOST_CACHED:
                self._cache.pop(next(iter(self._cache)))
        return made


def _key(opened: OpenMatch) -> tuple[object, ...]:
    last = opened.entries[-1].id if opened.entries else ""
    people = tuple(player.name for player in opened.players)
    return opened.info, people, opened.kinds, len(opened.entries), last, opened.only_watched


def _page(data: SheetData, found: Findings) -> FindingsPage:
    from goodlength.findings import Names, match_line, serve_worth
    from goodlength.findings.analyses.last_shots_and_strike_intervals import (
        ShotRally,
        sequences,
        time_between_hits,
    )
    from goodlength.findings.analyses.serve_mixed_strategy import advise_match
    from goodlength.findings.analyses.serve_variation_effect import change_of_serve
    from goodlength.findings.rally_masks import SIDES, RallyMasks
    from goodlength.scoring.scoring_types import Side

    info, table = data.opened.info, data.opened.table
    view, me = RallyMasks(table), SIDES.index(found.side)
    names = Names(data.players[0].name, data.players[1].name)
    shots = [ShotRally(rally.key, rally.shots, rally.winner) for rally in data.match.rallies if rally.shots]
    return FindingsPage(
        found,
        match_line(table, found.side, names, info.format, info.start),
        serve_worth(table, found.side, names, info.format),
        change_of_serve([(view, me)]),
        advise_match(view, me, data.opened.kind_words),
        view.keys(view.served(me)),
        tuple(shot.key for shot in shots),
        tuple(sequences(shots, Side(found.side), length) for length in (2, 3)),
        time_between_hits(shots),
    )


def warm_up() -> None:
    """Load what the first page of findings would otherwise wait for (scipy takes half a second)."""
    for name in (
        "reports.match_finding_grades_and_top_three",
        "analyses.win_probability",
        "analyses.serve_mixed_strategy",
    ):
        importlib.import_module(f"goodlength.findings.{name}")
    for name in (
        "goodlength.show.draw.proportion_charts",
        "goodlength.show.draw.rally_leverage_chart",
        "goodlength.record.import_export",
    ):
        importlib.import_module(name)
