"""JSON forms of command results; keys may be added, none may change.

The forms that others rely on: `match list`, `match show`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.files.json_types import Json
from goodlength.record.entry_value_types import stored_form
from goodlength.record.model import Match, Player, Rally
from goodlength.record.record_json_conversion import player_to_plain
from goodlength.scoring.scoring_types import ScoredEvent, Side
from goodlength.tasks.library.match_import_export import ImportResult
from goodlength.tasks.match.match_editing_and_answers import MatchRow

if TYPE_CHECKING:
    from goodlength.footage.edit.clip_export import ClipResult
    from goodlength.footage.media.video_probe import Probe
    from goodlength.record.model import Footage
    from goodlength.record.store import Library

Plain = dict[str, Json]


def match_list_form(rows: Iterable[MatchRow]) -> list[Plain]:
    """Return the JSON of `match list --json`."""
    return [
        {
            "id": row.id,
            "title": row.title,
            "rallies": row.rallies,
            "event": row.event,
            "played_on": _day(row.played_on),
            "coached": row.coached,
            "players": list(row.players),
            "depth": row.depth.value,
            "demo": row.demo,
        }
        for row in rows
    ]


def match_form(match: Match, title: str = "") -> Plain:
    """Return the JSON of `match show ID --json`: games, faults and rallies.

    `server` and `winner` are ids of players. `box` is the one proposed where `box_known` is false.
    """
    ids = match.info.players
    return {
        "id": match.info.id,
        "title": title,
        "players": list(ids),
        "event": match.info.event,
        "played_on": _day(match.info.played_on),
        "depth": match.info.depth.value,
        "games": [
            {
                "n": game.n,
                "score": list(game.points),
                "winner": _id(ids, game.winner),
                "first_server": _id(ids, game.first_server),
            }
            for game in match.games
        ],
        "games_won": list(match.games_won),
        "winner": _id(ids, match.winner),
        "how_over": match.how_over,
        "faults": [{"rally": fault.key, "code": fault.code, "words": fault.words} for fault in match.faults],
        "rallies": [rally_form(rally, ids) for rally in match.rallies],
        "between": [_between_form(line, ids) for line in match.lines if not line.is_rally],
        "next": _next_form(match),
    }


def rally_form(rally: Rally, ids: tuple[str, str]) -> Plain:
    """Return one rally of `match show`."""
    return {
        "key": rally.key,
        "n": rally.n,
        "game": rally.game,
        "n_in_game": rally.n_in_game,
        "server": _id(ids, rally.server) if rally.server_known else None,
        "box": rally.box.value,
        "box_known": rally.box_known,
        "before": list(rally.before),
        "after": list(rally.after),
        "call": rally.call,
        "winner": _id(ids, rally.winner),
        "let": rally.let,
        "hand_out": rally.hand_out,
        "certain": rally.certain,
        "complete": rally.complete,
        "serve_kind": rally.serve.kind,
        "serve_fault": rally.serve.fault,
        "return_how": _word(rally.ret.how),
        "return_stroke": _word(rally.ret.stroke),
        "return_to": rally.ret.to,
        "return_left": _word(rally.ret.left),
        "ending": _word(rally.ending),
        "ending_stroke": _word(rally.ending_stroke),
        "ending_volley": rally.ending_volley,
        "ending_place": rally.ending_place,
        "ending_why": rally.ending_why,
        "decision": _word(rally.decision),
        "called_otherwise": stored_form(rally.called_otherwise),
        "start_s": _seconds(rally.start_us),
        "end_s": _seconds(rally.end_us),
        "shots": [
            {"n": shot.n, "by": _id(ids, shot.by), "stroke": shot.stroke, "at_s": _seconds(shot.at_us)}
            for shot in rally.shots
        ],
        "shots_in_all": rally.shots_in_all,
        "note": rally.note,
        "keep": rally.keep,
        "skipped": sorted(rally.skipped),
    }


def player_form(player: Player) -> Plain:
    """Return one player of `player list --json`."""
    return player_to_plain(player)


def probe_form(seen: Probe) -> Plain:
    """Return the JSON of `footage look F --json`: each of `problems` has a code for programs and words for
    people.
    """
    return dict(seen.to_json())


def probe_lines(seen: Probe) -> Iterator[str]:
    """Yield a look at a recording, as lines for a person."""
    from goodlength.footage.media.recording_date import recorded_words
    from goodlength.media_time import clock_words

    sound = "with sound" if seen.sound else "without sound"
    size = f"{seen.width} × {seen.height}"
    yield f"{clock_words(seen.duration_s)} long, {seen.frames} frames, {size}, {sound}"
    if seen.recorded is not None:
        yield recorded_words(seen.recorded)
    yield from (problem.words for problem in seen.problems)


def added_lines(library: Library, added: Footage) -> Iterator[str]:
    """Yield what to know of a file just added: problems, and when it was recorded where the match has no
    date.
    """
    from goodlength.footage.media.recording_date import Recorded, recorded_words

    seen = added.look if isinstance(added.look, dict) else {}
    yield from (str(problem["words"]) for problem in seen.get("problems", ()))
    made = seen.get("recorded")
    if made is not None and library.match_info(added.match).played_on is None:
        yield f"{recorded_words(Recorded(**made))} The match has no date yet: set it on the Footage page."


def cut_lines(made: ClipResult) -> Iterator[str]:
    """Yield a clip just cut, as lines for a person."""
    from goodlength.media_time import clock_words

    span = f"{clock_words(made.first_us / 1e6)} to {clock_words(made.end_us / 1e6)}"
    sound = "with sound" if made.sound else "without sound"
    yield f"Saved: {made.path}, {span}, {made.frames} frames, {made.width} × {made.height}, {sound}."
    yield from made.notes


def imported_form(imported: ImportResult) -> Plain:
    """Return the JSON of `match import F --json`."""
    plain = asdict(imported)
    plain["columns"] = [
        {"heading": heading, "words": words, "read": read} for heading, words, read in plain.pop("meanings")
    ]
    return plain


def imported_lines(imported: ImportResult) -> Iterator[str]:
    """Yield an import as lines for a person: what was read, what it means, what is wrong."""
    verb = "Imported" if imported.written else "Would import"
    yield f"{verb}: {imported.title} ({imported.match})"
    yield f"{imported.rallies} rallies with {imported.entries} answers, {imported.new_entries} of them new."
    if imported.players_added:
        yield f"New players: {', '.join(imported.players_added)}"
    yield from (f"Note: {note}" for note in imported.notes)
    unread: dict[str, list[str]] = {}
    for heading, words, read in imported.meanings:
        if not read:
            unread.setdefault(words, []).append(heading)
    yield from (f"Note: {', '.join(headings)}: {words}" for words, headings in unread.items())
    yield from (f"  {row}" for row in imported.rows)
    yield from (f"Error: {problem}" for problem in imported.problems)


def _between_form(line: ScoredEvent, ids: tuple[str, str]) -> Plain:
    return {
        "key": line.key,
        "after_rally": line.n,
        "game": line.game,
        "before": list(line.before),
        "after": list(line.after),
        "call": line.call,
        "to": _id(ids, line.winner),
    }


def _next_form(match: Match) -> Plain | None:
    if match.next is None:
        return None
    coming = match.next
    return {
        "game": coming.game,
        "server": _id(match.info.players, coming.server),
        "box": _word(coming.box),
        "box_free": coming.box_free,
        "score": list(coming.points),
    }


def _id(ids: tuple[str, str], side: Side | None) -> str | None:
    return None if side is None else ids[side.place]


def _word(value: Any) -> Any:
    return None if value is None else value.value


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _seconds(us: int | None) -> float | None:
    return None if us is None else us / 1e6
