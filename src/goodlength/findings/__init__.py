"""findings: what a record says, how sure it is, and the rallies behind it.

Counts, shares with ranges, tests against luck, grades, and the words for them; plain arrays in
(`record.table.RallyTable`), frozen results out. It never reads the store or pictures, and never writes.
Public names: those of `__all__`; `find` first.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from goodlength.findings.model import Finding, Findings, Grade, Names, Pronoun, Share

if TYPE_CHECKING:
    from goodlength.findings.forms import as_json, plain
    from goodlength.findings.gamesheet import between_games_lines
    from goodlength.findings.matchline import match_line, serve_worth
    from goodlength.findings.mix import advise
    from goodlength.findings.opponent import brief
    from goodlength.findings.profiles import before_after, profile
    from goodlength.findings.read import find
    from goodlength.findings.reliability import observer_agreement
    from goodlength.findings.season import SeasonMatch, find_season

__all__ = [
    "Finding",
    "Findings",
    "Grade",
    "Names",
    "Pronoun",
    "SeasonMatch",
    "Share",
    "advise",
    "as_json",
    "before_after",
    "between_games_lines",
    "brief",
    "find",
    "find_season",
    "match_line",
    "observer_agreement",
    "plain",
    "profile",
    "serve_worth",
]

_HOMES = {
    "SeasonMatch": "season",
    "advise": "mix",
    "as_json": "forms",
    "before_after": "profiles",
    "between_games_lines": "gamesheet",
    "brief": "opponent",
    "observer_agreement": "reliability",
    "find": "read",
    "find_season": "season",
    "match_line": "matchline",
    "plain": "forms",
    "profile": "profiles",
    "serve_worth": "matchline",
}


def __getattr__(name: str) -> Any:
    """Load the working parts (scipy) only when they are called for."""
    if name in _HOMES:
        return getattr(import_module(f"goodlength.findings.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
