"""Answers of the newest season file, and its columns in memory, remembered while it is the newest.

The name of a file stands for every byte of it (`season_file_authentication`), so an answer of it is never out
of date: a match that changes makes another file, and what was remembered goes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock

from goodlength.record.store.season.coded_rally_columns import CodedRallies
from goodlength.record.store.season.rally_search_query import SeasonFilter, SeasonRallies

MOST_FOUND = 8  # of up to some hundred rallies each
MOST_FILES = 4


@dataclass
class Answers:
    """The columns of one file in memory, once they were needed, and rallies found by what was asked."""

    coded: CodedRallies | None = None
    found: dict[tuple[SeasonFilter, int], SeasonRallies] = field(default_factory=dict)

    def keep(self, wanted: SeasonFilter, limit: int, found: SeasonRallies) -> None:
        """Remember the rallies of one question; the oldest go."""
        every = {**self.found, (wanted, limit): found}
        self.found = dict(list(every.items())[-MOST_FOUND:])


_answers: dict[Path, Answers] = {}
_changing = Lock()  # pages are answered in threads


def answers_of(file: Path | None) -> Answers:
    """Return what is remembered of a file; of a library's earlier files nothing is remembered."""
    if file is None:
        return Answers()
    with _changing:
        if file not in _answers:
            for other in [other for other in _answers if other.parent == file.parent]:
                del _answers[other]
            _answers[file] = Answers()
            while len(_answers) > MOST_FILES:
                del _answers[next(iter(_answers))]
        return _answers[file]


def forget_answers() -> None:
    """Forget every answer, so that nothing of anybody stays in them."""
    with _changing:
        _answers.clear()
