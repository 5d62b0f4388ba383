"""Export a match as CSV, a line a rally or a line a shot; columns in docs/reference/csv.md.

Scores stand in two columns of numbers, for a spreadsheet turns "11-9" into a date. A cell of words that
begins with = + - @ gets a quote in front, so that no spreadsheet takes it for a formula.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from goodlength.record.effective_answers import DOUBTFUL_TAB, DRAFT_TAB
from goodlength.record.entry_log_replay import PUT_RIGHT
from goodlength.record.entry_value_types import CalledValue
from goodlength.record.model import (
    DEFAULT_KINDS,
    EntryKind,
    KindOfServe,
    Match,
    MatchInfo,
    Player,
    Rally,
)
from goodlength.record.rally_sentences import kind_words
from goodlength.scoring.scoring_types import ScoredEvent, Side

RISKY = ("=", "+", "-", "@", "\t", "\r")
SKIPPED = "not recorded"
RALLY_COLUMNS = (
    "event_kind",
    "rally",
    "game",
    "in_game",
    "games_a",
    "games_b",
    "score_a",
    "score_b",
    "server",
    "box",
    "kind",
    "aim",
    "receiver_place",
    "fault_why",
    "how_taken",
    "return_stroke",
    "return_to",
    "left",
    "winner",
    "let",
    "ending",
    "ending_stroke",
    "ending_volley",
    "ending_place",
    "ending_why",
    "called_decision",
    "called_call",
    "called_to",
    "put_right_a",
    "put_right_b",
    "put_right_server",
    "put_right_box",
    "set_to",
    "why",
    "start_s",
    "end_s",
    "length_s",
    "shots",
    "after_a",
    "after_b",
    "call",
    "note",
    "keep",
    "key",
    "player_a",
    "player_b",
    "match_event",
    "played_on",
    "depth",
    "scoring",
    "game_to",
    "best_of",
    "edition",
    "setting",
    "handicap_a",
    "handicap_b",
)
WATCHED = "watched"  # stands last, and only in a match with a rally that nobody watched
DRAFTED, DOUBTFUL = DRAFT_TAB, DOUBTFUL_TAB  # in it, of rallies that stand as the draft put them there
SHOT_COLUMNS = ("rally", "key", "n", "striker", "stroke", "volley", "place", "at_s", "pressed")


def to_csv(
    match: Match,
    players: tuple[Player, Player],
    kinds: Sequence[KindOfServe] = DEFAULT_KINDS,
    *,
    separator: str = ",",
    decimal: str = ".",
    watched: Mapping[str, bool] = MappingProxyType({}),
    drafted: Mapping[str, str] = MappingProxyType({}),
) -> bytes:
    """Return one line a rally, lets included, and one for conduct, a player stopping; as UTF-8 with a mark.

    Parameters
    ----------
    separator, decimal : str
        "," and "." read everywhere with care; ";" and "," suit spreadsheets of most of Europe.
    watched : mapping of str to bool
        By key of a rally, whether a person watched it; the column is written where any was not.
    drafted : mapping of str to str
        By key, "draft" or "draft-doubtful", of those that stand as the draft put them on the sheet.
    """
    writer = _Writer(players, kinds, decimal)
    rallies = {rally.key: rally for rally in match.rallies}
    games = _games_before(match)
    shared = writer.of_match(match.info)
    rows = []
    seen: set[str] = set()
    sure = True  # whether the score before the line is known
    for line in match.lines:
        key = line.key.split(":", 1)[0] if line.key not in rallies else line.key
        if line.is_rally:
            rally = rallies[line.key]
            rows.append({**writer.of_rally(rally, games[rally.game], sure), **shared})
        elif not line.key.endswith(PUT_RIGHT):
            rows.append({**writer.of_between(line, match, key), **shared})
        seen.add(line.key)
        sure = line.certain
    rows += [
        {**writer.of_rally(rally, games.get(rally.game, match.games_won), sure), **shared}
        for rally in match.rallies
        if rally.key not in seen
    ]
    if all(watched.values()):
        return _written(RALLY_COLUMNS, rows, separator)
    for row in rows:
        if row["event_kind"] == "rally":
            key = unsafe(row["key"])
            row[WATCHED] = drafted.get(key) or _yes_no(watched.get(key))
    return _written((*RALLY_COLUMNS, WATCHED), rows, separator)


def shots_csv(
    match: Match, players: tuple[Player, Player], *, separator: str = ",", decimal: str = "."
) -> bytes:
    """Return one line a shot that was written down; the serve is shot 1, the return shot 2."""
    writer = _Writer(players, (), decimal)
    rows = [writer.of_shot(rally, shot) for rally in match.rallies for shot in rally.shots]
    return _written(SHOT_COLUMNS, rows, separator)


def safe(text: str) -> str:
    """Return a cell of words that no spreadsheet takes for a formula.

    Examples
    --------
    >>> safe("=1+1"), safe("late"), safe("'-x")
    ("'=1+1", 'late', "''-x")
    """
    return "'" + text if text.startswith((*RISKY, "'")) else text


def unsafe(text: str) -> str:
    """Return what `safe` made of it, undone."""
    return text[1:] if text.startswith("'") and text[1:].startswith((*RISKY, "'")) else text


def _written(columns: tuple[str, ...], rows: Iterable[dict[str, Any]], separator: str) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns, delimiter=separator, lineterminator="\r\n", restval="")
    writer.writeheader()
    writer.writerows(rows)
    return b"\xef\xbb\xbf" + out.getvalue().encode("utf-8")


def _games_before(match: Match) -> dict[int, tuple[int, int]]:
    """Return games won before each game of the recording."""
    a, b = match.info.start.games
    before = {}
    for game in match.games:
        before[game.n] = (a, b)
        a, b = a + (game.winner is Side.A), b + (game.winner is Side.B)
    before.setdefault(len(before) + 1 + sum(match.info.start.games), (a, b))
    return before


class _Writer:
    """Turns rallies into rows of cells."""

    def __init__(self, players: tuple[Player, Player], kinds: Sequence[KindOfServe], decimal: str) -> None:
        names = [safe(player.name) for player in players]
        self.names = (names[0], names[1]) if names[0] != names[1] else ("a", "b")
        self.players, self.kinds, self.decimal = players, kind_words(kinds), decimal

    def seconds(self, us: int | None) -> str:
        """Seconds to the microsecond, without needless zeros."""
        if us is None:
            return ""
        whole = f"{us / 1e6:.6f}".rstrip("0").rstrip(".")
        return whole.replace(".", self.decimal)

    def who(self, side: Side | None) -> str:
        """Return a player's name."""
        return "" if side is None else self.names[side.place]

    def of_match(self, info: MatchInfo) -> dict[str, Any]:
        """Return the columns that are the same in every row, so that the file stands alone."""
        form, start = info.format, info.start
        return {
            "player_a": safe(self.players[0].name),
            "player_b": safe(self.players[1].name),
            "match_event": safe(info.event),
            "played_on": "" if info.played_on is None else info.played_on.isoformat(),
            "depth": info.depth.value,
            "scoring": form.system.value,
            "game_to": form.target,
            "best_of": form.best_of,
            "edition": form.edition,
            "setting": _yes_no(form.setting),
            "handicap_a": start.handicap[0],
            "handicap_b": start.handicap[1],
        }

    def of_rally(self, rally: Rally, games: tuple[int, int], sure: bool) -> dict[str, Any]:
        """Return one rally; a skipped answer says so, one never asked is empty."""
        row: dict[str, Any] = {
            "event_kind": "rally",
            "rally": rally.n,
            "game": rally.game,
            "in_game": rally.n_in_game,
            "games_a": games[0],
            "games_b": games[1],
            "server": self.who(rally.server) if rally.server_known else _skip(rally, EntryKind.SERVER),
            "box": rally.box.value if rally.box_known else "",
            "let": "yes" if rally.let else "no",
            "start_s": self.seconds(rally.start_us),
            "end_s": self.seconds(rally.end_us),
            "call": safe(rally.call),
            "note": safe(rally.note),
            "keep": "yes" if rally.keep else "",
            "key": safe(rally.key),
        }
        if sure:
            row["score_a"], row["score_b"] = rally.before
        if rally.certain and rally.call:
            row["after_a"], row["after_b"] = rally.after
        if rally.start_us is not None and rally.end_us is not None:
            row["length_s"] = self.seconds(rally.end_us - rally.start_us)
        row.update(self._answers(rally))
        row.update(self._called(rally.called_otherwise))
        return row

    def _answers(self, rally: Rally) -> dict[str, Any]:
        def cell(what: EntryKind, value: Any) -> str:
            if what.value in rally.skipped:
                return SKIPPED
            return "" if value is None else safe(str(getattr(value, "value", value)))

        kind = rally.serve.kind
        return {
            "kind": cell(EntryKind.KIND, None if kind is None else self.kinds.get(kind, kind)),
            "aim": cell(EntryKind.AIM, rally.serve.aim),
            "receiver_place": cell(EntryKind.RECEIVER_PLACE, rally.serve.receiver_place),
            "fault_why": cell(EntryKind.FAULT_WHY, rally.serve.fault_why),
            "how_taken": cell(EntryKind.HOW_TAKEN, rally.ret.how),
            "return_stroke": cell(EntryKind.RETURN_STROKE, rally.ret.stroke),
            "return_to": cell(EntryKind.RETURN_TO, rally.ret.to),
            "left": cell(EntryKind.LEFT, rally.ret.left),
            "winner": self.who(rally.winner) or cell(EntryKind.WINNER, None),
            "ending": cell(EntryKind.ENDING, rally.ending),
            "ending_stroke": cell(EntryKind.ENDING_STROKE, rally.ending_stroke),
            "ending_volley": cell(EntryKind.ENDING_VOLLEY, _yes_no(rally.ending_volley) or None),
            "ending_place": cell(EntryKind.ENDING_PLACE, rally.ending_place),
            "ending_why": cell(EntryKind.ENDING_WHY, rally.ending_why),
            "shots": SKIPPED if EntryKind.SHOT.value in rally.skipped else _empty(rally.shots_in_all),
            "set_to": _empty(rally.set_to),
        }

    def _called(self, called: CalledValue | None) -> dict[str, Any]:
        if not called:
            return {}
        points = called.points or ("", "")
        sides = {"a": self.names[0], "b": self.names[1], None: ""}
        return {
            "called_decision": called.decision or "",
            "called_call": called.call or "",
            "called_to": sides[called.to],
            "put_right_a": points[0],
            "put_right_b": points[1],
            "put_right_server": sides[called.server],
            "put_right_box": called.box or "",
        }

    def of_between(self, line: ScoredEvent, match: Match, key: str) -> dict[str, Any]:
        """Conduct, or a player who stopped."""
        retired = line.ends_match is not None and match.how_over not in ("won", None)
        added = sum(line.after) - sum(line.before)
        kind = "retired" if retired else "conduct-game" if line.ends_game and added != 1 else "conduct"
        return {
            "event_kind": kind,
            "game": line.game,
            "score_a": line.before[0],
            "score_b": line.before[1],
            "winner": self.who(line.winner),
            "after_a": line.after[0],
            "after_b": line.after[1],
            "call": safe(line.call),
            "why": safe(match.how_over or "") if retired else "",
            "key": safe(key),
        }

    def of_shot(self, rally: Rally, shot: Any) -> dict[str, Any]:
        """Return one shot."""
        return {
            "rally": rally.n,
            "key": safe(rally.key),
            "n": shot.n,
            "striker": self.who(shot.by),
            "stroke": shot.stroke or "",
            "volley": _yes_no(shot.volley),
            "place": shot.place or "",
            "at_s": self.seconds(shot.at_us),
            "pressed": _yes_no(shot.pressed),
        }


def _skip(rally: Rally, what: EntryKind) -> str:
    """Return an answer that is not known: skipped, or never asked for."""
    return SKIPPED if what.value in rally.skipped else ""


def _yes_no(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"


def _empty(value: Any) -> Any:
    return "" if value is None else value
