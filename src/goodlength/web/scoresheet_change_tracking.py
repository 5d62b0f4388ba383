"""Scoresheets of the matches in hand: what changed of each since a page last heard of it.

```
 answer stored ──> open the match ──> replay what is new ──> rows that differ get the next number
                                                              │
 page: "I hold number 17" ────────────────────────────────────┴──> parts and rows with a number above 17
```
An answer to an early rally may change the score of hundreds of rows after it. Of a row whose answers stayed,
only its score is sent, and all these scores as columns: a tenth of what the rows take.

A page that holds nothing, or a sheet of a server that was started anew, gets the whole sheet.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, cast
from uuid import uuid4

from goodlength.record.entry_log_replay import MatchMemo
from goodlength.web.page_json_types.rally_scoresheet import (
    RallyJson,
    ScoreColumnsJson,
    ScoredJson,
    SheetChangesJson,
    SheetJson,
)
from goodlength.web.views.rally_scoresheet import RowMemo, SheetSource, sheet

MOST_FOLLOWED = 16
_ROWS = "rallies"


class FollowedSheet:
    """The scoresheet of one match, and at which number each part and each row last changed."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.memo = MatchMemo()
        self._rows = RowMemo()
        self._begin()

    def _begin(self) -> None:
        self._epoch = uuid4().hex[:12]
        self._number = 0
        self._opened_at = -1.0
        self._sheet: dict[str, Any] | None = None
        self._parts: dict[str, int] = {}
        self._changed: dict[str, int] = {}
        self._scored: dict[str, int] = {}
        self._places: dict[str, int] = {}
        self._order = 0

    @property
    def version(self) -> str:
        """What a page is told that it holds."""
        return f"{self._epoch}.{self._number}"

    def refresh(self, since: float, read: Callable[[MatchMemo], SheetSource]) -> None:
        """Read the match anew, unless it was read after the moment `since` of the monotonic clock.

        The caller holds `lock`.
        """
        if self._sheet is not None and self._opened_at > since:
            return
        opened_at = time.monotonic()
        try:
            self._take(cast("dict[str, Any]", sheet(read(self.memo), self._rows)))
        except BaseException:
            self.memo, self._rows = MatchMemo(), RowMemo()
            self._begin()
            raise
        self._opened_at = opened_at

    def _take(self, now: dict[str, Any]) -> None:
        before, self._sheet = self._sheet, now
        number = self._number + 1
        if before is None:
            self._parts = dict.fromkeys(now, number)
            self._number = self._order = number
        for name, value in now.items():
            if name != _ROWS and before is not None and value != before[name]:
                self._parts[name] = self._number = number
        rows: list[RallyJson] = now[_ROWS]
        known = {} if before is None else self._places
        places = {row["key"]: n for n, row in enumerate(rows)}
        for row in rows:
            at = known.get(row["key"])
            was = None if at is None or before is None else before[_ROWS][at]
            if was is row:
                continue
            self._number = number
            if was is not None and was["answers"] is row["answers"]:  # see RowMemo
                self._scored[row["key"]] = number
            else:
                self._changed[row["key"]] = number
        if list(known) != list(places)[: len(known)]:
            self._order = self._number = number
        self._places = places

    def whole(self) -> SheetJson:
        """Return the whole sheet with its version."""
        assert self._sheet is not None
        return cast("SheetJson", {**self._sheet, "version": self.version})

    def changes(self, version: str) -> SheetChangesJson | None:
        """Return what changed since a version; None where that version is not known here."""
        epoch, _, number = version.rpartition(".")
        if self._sheet is None or epoch != self._epoch or not number.isdecimal():
            return None
        since = int(number[:18])
        if since > self._number:
            return None
        parts = self._newer(self._parts, since)
        rows: list[RallyJson] = self._sheet[_ROWS]
        whole = {key for key in self._newer(self._changed, since) if key in self._places}
        scored = [key for key in self._newer(self._scored, since) if key in self._places and key not in whole]
        return {
            "since": version,
            "version": self.version,
            "parts": {name: self._sheet[name] for name in parts if name != _ROWS},
            "rallies": [rows[at] for at in sorted(self._places[key] for key in whole)],
            "scores": _score_columns([rows[self._places[key]] for key in scored]) if scored else None,
            "order": list(self._places) if self._order > since else None,
        }

    @staticmethod
    def _newer(numbers: dict[str, int], since: int) -> Iterable[str]:
        return [name for name, number in numbers.items() if number > since]


def _score_columns(rows: Sequence[RallyJson]) -> ScoreColumnsJson:
    """Return the scores of rows as columns; what all of them have is said once."""
    same: dict[str, object] = {}
    each: dict[str, list[object]] = {}
    plain = cast("Sequence[dict[str, object]]", rows)
    for field in ScoredJson.__annotations__:
        values = [row[field] for row in plain]
        if values.count(values[0]) == len(values):
            same[field] = values[0]
        else:
            each[field] = values
    return {"keys": [row["key"] for row in rows], "same": same, "each": each}


class FollowedSheets:
    """The scoresheets of the matches written down most recently."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._sheets: dict[str, FollowedSheet] = {}

    @contextmanager
    def of(self, match_id: str) -> Iterator[FollowedSheet]:
        """Give the sheet of a match to one thread at a time."""
        with self._lock:
            followed = self._sheets.pop(match_id, None) or FollowedSheet()
            self._sheets[match_id] = followed
            while len(self._sheets) > MOST_FOLLOWED:
                self._sheets.pop(next(iter(self._sheets)))
        with followed.lock:
            yield followed
