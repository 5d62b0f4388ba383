"""Findings kept while the record they come from is unchanged, so that a page need not wait for them twice."""

from __future__ import annotations

import importlib
import threading
from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.web.sheet import SheetData

if TYPE_CHECKING:
    from goodlength.findings import Findings
    from goodlength.record.store import Library

MOST_KEPT = 24


class Found:
    """Findings by match and player; what they were made from is part of the key."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._kept: dict[tuple[object, ...], Findings] = {}
        self._lock = threading.Lock()

    def of(self, data: SheetData, whose: str, *, name_opponent: bool = True) -> Findings:
        """Findings about the coached player or the opponent of a match just read."""
        last = data.entries[-1].id if data.entries else ""
        info, people = data.match.info, tuple(player.name for player in data.players)
        key = (info, people, tuple(data.kinds), len(data.entries), last, whose, name_opponent)
        with self._lock:
            kept = self._kept.get(key)
        if kept is not None:
            return kept
        found = tasks.find(self._library, info.id, whose, name_opponent=name_opponent)
        with self._lock:
            self._kept[key] = found
            while len(self._kept) > MOST_KEPT:
                self._kept.pop(next(iter(self._kept)))
        return found


def warm_up() -> None:
    """Load what the first page of findings would otherwise wait for (scipy takes half a second)."""
    for name in ("goodlength.findings.read", "goodlength.show.charts", "goodlength.record.exchange"):
        importlib.import_module(name)
