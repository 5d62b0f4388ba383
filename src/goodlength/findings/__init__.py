"""findings: what a record says, how sure it is, and the rallies behind it.

Counts, shares with ranges, tests against luck, grades, and the words for them; plain arrays in
(`record.tables.rally_table.RallyTable`), frozen results out. It never reads the store or pictures, and
never writes.
Public names: those of `__all__`; `find` first.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from goodlength.findings.result_types import Finding, Findings, Grade, Names, Pronoun, Share

if TYPE_CHECKING:
    from goodlength.findings.analyses.serve_mixed_strategy import advise
    from goodlength.findings.analyses.win_probability import match_line, serve_worth
    from goodlength.findings.reports.findings_json import as_json, plain
    from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch, find_season
    from goodlength.findings.reports.last_game_counts import between_games_lines
    from goodlength.findings.reports.match_finding_grades_and_top_three import find
    from goodlength.findings.reports.observer_agreement import observer_agreement
    from goodlength.findings.reports.opponent_habits import brief
    from goodlength.findings.reports.player_trends import before_after, profile

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
    "SeasonMatch": "reports.findings_stratified_by_match",
    "advise": "analyses.serve_mixed_strategy",
    "as_json": "reports.findings_json",
    "before_after": "reports.player_trends",
    "between_games_lines": "reports.last_game_counts",
    "brief": "reports.opponent_habits",
    "observer_agreement": "reports.observer_agreement",
    "find": "reports.match_finding_grades_and_top_three",
    "find_season": "reports.findings_stratified_by_match",
    "match_line": "analyses.win_probability",
    "plain": "reports.findings_json",
    "profile": "reports.player_trends",
    "serve_worth": "analyses.win_probability",
}


def __getattr__(name: str) -> Any:
    """Load the working parts (scipy) only when they are called for."""
    if name in _HOMES:
        return getattr(import_module(f"goodlength.findings.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
