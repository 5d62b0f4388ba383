"""Columns of the rally table: heading, meaning, and how cells are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from goodlength.record.import_export import csv_cell_parsing as c
from goodlength.record.import_export.match_csv_export import WATCHED
from goodlength.record.model import EntryKind

ANSWERS: tuple[tuple[str, EntryKind, Callable[[str], Any]], ...] = (
    ("set_to", EntryKind.SET_TO, c.whole),
    ("aim", EntryKind.AIM, c.words_of),
    ("receiver_place", EntryKind.RECEIVER_PLACE, c.RECEIVER),
    ("fault_why", EntryKind.FAULT_WHY, c.words_of),
    ("how_taken", EntryKind.HOW_TAKEN, c.HOW),
    ("return_stroke", EntryKind.RETURN_STROKE, c.STROKE),
    ("return_to", EntryKind.RETURN_TO, c.TO),
    ("left", EntryKind.LEFT, c.LEFT),
    ("ending", EntryKind.ENDING, c.ENDING),
    ("ending_stroke", EntryKind.ENDING_STROKE, c.STROKE),
    ("ending_volley", EntryKind.ENDING_VOLLEY, c.yes_no),
    ("ending_place", EntryKind.ENDING_PLACE, c.PLACE),
    ("ending_why", EntryKind.ENDING_WHY, c.WHY),
    ("note", EntryKind.NOTE, c.words_of),
)
MEANINGS: Mapping[str, str] = {
    "event_kind": "rally, conduct, conduct-game or retired; rally where empty",
    "key": "the key of the rally",
    "game": "number of the game",
    "games_a": "games of the first player before the rally; checked by counting",
    "games_b": "games of the second player before the rally; checked by counting",
    "score_a": "points of the first player before the rally; checked by counting",
    "score_b": "points of the second player before the rally; checked by counting",
    "server": "who served; checked by the rules",
    "box": "right or left",
    "kind": "kind of serve, by its words or id",
    "winner": "who won the rally",
    "let": "yes where it was played again",
    "called_decision": "let, no-let or stroke, where the official call differed",
    "called_call": "fault, down, not-up or out, where the official call differed",
    "called_to": "the player who got the rally by that call",
    "put_right_a": "the corrected score after the rally, first player",
    "put_right_b": "the corrected score after the rally, second player",
    "put_right_server": "the corrected server after the rally",
    "put_right_box": "the corrected box after the rally",
    "why": "why a player stopped",
    "start_s": "start of the rally in match time, seconds or minutes:seconds",
    "end_s": "end of the rally in match time, seconds or minutes:seconds",
    "shots": "how many shots the rally had",
    WATCHED: "whether a person watched the rally; no where its answers were proposed and taken, draft "
    "or draft-doubtful where it stands as the draft put it on the sheet",
    "keep": "yes where the rally is flagged for clips",
    "player_a": "name of the first player, the same in every line",
    "player_b": "name of the second player, the same in every line",
    "match_event": "the event, the same in every line",
    "played_on": "the day, year-month-day",
    "depth": "score, serve-and-return or every-shot",
    "scoring": "rally or hand-out",
    "game_to": "points that win a game",
    "best_of": "3 or 5 games",
    "edition": "year of the rules",
    "setting": "whether the receiver chooses at the tie",
    "handicap_a": "points at which every game begins, first player",
    "handicap_b": "points at which every game begins, second player",
    **{heading: f"answer: {what.value}" for heading, what, _ in ANSWERS},
}
WORKED_OUT = ("rally", "in_game", "length_s", "after_a", "after_b", "call")
SCORES = ("score", "result", "points")
TIMES = ("start_s", "end_s")
