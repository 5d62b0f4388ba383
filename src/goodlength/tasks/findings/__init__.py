"""What a match, a player or a season of matches tells."""

from goodlength.tasks.findings.between_games_notes import between_notes, save_between_note
from goodlength.tasks.findings.between_games_sheet import between_games
from goodlength.tasks.findings.match_findings import find
from goodlength.tasks.findings.opponent_report import brief_about
from goodlength.tasks.findings.player_across_matches import over_matches
from goodlength.tasks.findings.season_search import SeasonFound, SeasonQuestion, matches_of, search

__all__ = [
    "SeasonFound",
    "SeasonQuestion",
    "between_games",
    "between_notes",
    "brief_about",
    "find",
    "matches_of",
    "over_matches",
    "save_between_note",
    "search",
]
