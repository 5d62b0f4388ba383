"""Reads the season's columns in the background: a match that is over or imported, and all at first."""

from __future__ import annotations

import threading
from contextlib import suppress
from typing import TYPE_CHECKING

from goodlength.errors import Cancelled, GoodlengthError
from goodlength.tasks.findings.season_search import unread_matches, up_to_date

if TYPE_CHECKING:
    from goodlength.record.store import Library

LONG_READING = 400  # unread matches from which a page says how far the reading is, and does not wait for it
CLOSING_S = 5.0


class SeasonReader:
    """One reading of a library at a time, with its progress."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._again = False
        self._closing = False
        self._words = ""

    def start(self) -> None:
        """Begin to read what changed, unless that is being done; then once more after it."""
        with self._lock:
            if self._closing:
                return
            if self._thread is not None and self._thread.is_alive():
                self._again = True
                return
            self._thread = threading.Thread(target=self._read, name="goodlength season", daemon=True)
            self._thread.start()

    def long_reading(self, unread: int | None = None) -> str:
        """Return how far a first reading is, in words; begin it where it is needed, empty where it is not.

        Parameters
        ----------
        unread : int, optional
            Unread matches from which it is not waited for, where that is fewer than `LONG_READING`.
        """
        if unread_matches(self._library) < min(unread or LONG_READING, LONG_READING):
            return ""
        self.start()
        so_far = f" ({self._words})" if self._words else ""
        return f"Your matches are being read for the first time{so_far}. Try again in a moment."

    def close(self) -> None:
        """Stop reading; what was read is kept."""
        with self._lock:
            self._closing = True
            thread = self._thread
        if thread is not None:
            thread.join(CLOSING_S)

    def _read(self) -> None:
        while True:
            with suppress(GoodlengthError):  # a full disk, a server that is away: the search will say it
                up_to_date(self._library, self._progress)
            with self._lock:
                self._words = ""
                if not self._again or self._closing:
                    return
                self._again = False

    def _progress(self, _share: float, words: str) -> None:
        self._words = words
        if self._closing:
            raise Cancelled("The page was closed.")
