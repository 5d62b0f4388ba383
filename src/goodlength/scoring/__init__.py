"""scoring: the rules of play. Formats, server, box, score, the marker's calls, replay of a match.

It never knows court geometry or video, never stores anything, and never raises for bad play: what
the rules contradict comes back as faults. Public: `replay`, `read_scores`, `read_score_list`,
`final_problem`, `times_for`, `call_words`, `score_words` and the types of `scoring.scoring_types`.
"""

from goodlength.scoring.match_format_rules import (
    EDITIONS,
    check_format,
    check_start,
    final_problem,
    times_for,
)
from goodlength.scoring.match_replay import ReplayMemo, replay
from goodlength.scoring.score_calls import call_words, score_words
from goodlength.scoring.score_list_parsing import (
    ReadGame,
    ScoreReading,
    State,
    format_words,
    read_score_list,
    read_scores,
)
from goodlength.scoring.scoring_types import (
    Box,
    Conduct,
    Decision,
    Event,
    Format,
    Game,
    Next,
    Outcome,
    Points,
    PutRight,
    Replay,
    Retired,
    RuleFault,
    ScoredEvent,
    Side,
    Start,
    System,
)

__all__ = [
    "EDITIONS",
    "Box",
    "Conduct",
    "Decision",
    "Event",
    "Format",
    "Game",
    "Next",
    "Outcome",
    "Points",
    "PutRight",
    "ReadGame",
    "Replay",
    "ReplayMemo",
    "Retired",
    "RuleFault",
    "ScoreReading",
    "ScoredEvent",
    "Side",
    "Start",
    "State",
    "System",
    "call_words",
    "check_format",
    "check_start",
    "final_problem",
    "format_words",
    "read_score_list",
    "read_scores",
    "replay",
    "score_words",
    "times_for",
]
