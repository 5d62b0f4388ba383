"""The rally scoresheet as JSON values: everything the Record page needs to ask, show and step back.

The shape is written down in web/page_json_types/rally_scoresheet.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from goodlength.record.effective_answers import (
    UNWATCHED_TAB,
    RallyAnswers,
    is_along,
    is_drafted,
    is_taken,
    is_to_confirm,
    is_unwatched,
    is_watched,
    layer_of,
)
from goodlength.record.entry_value_types import ProposedValue, SpanValue, stored_form
from goodlength.record.model import Depth, Entry, EntryKind, KindOfServe, Match, Player, Rally
from goodlength.record.player_and_match_display_names import short_names, title_of
from goodlength.record.rally_questions import questions_for, script_for_page
from goodlength.scoring.scoring_types import Game, Next, Side
from goodlength.tasks.draft.draft_contradictions import contradicts_draft, draft_contradictions
from goodlength.tasks.footage.detected_rallies_not_on_sheet import rallies_to_come
from goodlength.web.coach_settings import CoachSettings
from goodlength.web.page_json_types.rally_scoresheet import (
    ClashJson,
    ComingRallyJson,
    FaultJson,
    GameJson,
    LoggedJson,
    NextRallyJson,
    OverruledJson,
    RallyJson,
    ScoredJson,
    ScriptJson,
    SheetJson,
    SpanClashJson,
)
from goodlength.web.views.match_description_and_result_phrases import call_name, over_words
from goodlength.web.views.measured_serve_sentences import measured_short

if TYPE_CHECKING:
    from goodlength.practice.planning.practice_plan import PracticePlanJson
    from goodlength.tasks.footage.rally_detection import ListedRallies
    from goodlength.tasks.match.lazy_match import OpenMatch
    from goodlength.web.views.proxy_or_original_video_files import MatchFiles

LOG_SHOWN = 60  # entries the page may step back over before it has heard from the server again
_NOT_ANSWERS = frozenset(
    {
        EntryKind.SPAN,
        EntryKind.SHOT,
        EntryKind.NOTE,
        EntryKind.KEEP,
        EntryKind.PLACE,
        EntryKind.REMOVE,
        EntryKind.CONDUCT,
        EntryKind.RETIRED,
        EntryKind.MEASURED,
        EntryKind.PROPOSED,
    }
)
# a measured serve is taken back where it was measured, not by stepping back over answers
_NOT_LOGGED = frozenset({EntryKind.UNDO, EntryKind.MATCH, EntryKind.DAMAGED, EntryKind.MEASURED})
# answers that say who won, or that nobody did: they take the winner of a draft away
_DECIDING = frozenset(
    {
        (EntryKind.HOW_TAKEN, "not-made"),
        (EntryKind.LEFT, "not-made"),
        (EntryKind.ENDING, "let"),
        (EntryKind.ENDING, "service-fault"),
    }
)


@dataclass(frozen=True)
class SheetSource:
    """What a sheet is made from, read by the caller in one go."""

    opened: OpenMatch
    settings: CoachSettings
    films: MatchFiles
    detected: ListedRallies
    followed: bool  # the ball was followed: answers are proposed

    @property
    def match(self) -> Match:
        """The match replayed."""
        return self.opened.match

    @property
    def players(self) -> tuple[Player, Player]:
        """The two players, first-named first."""
        return self.opened.players


@dataclass(frozen=True)
class SheetData(SheetSource):
    """What a page of a match is made from; `plans` are those of the coached player."""

    plans: tuple[tuple[str, PracticePlanJson], ...]
    handout_made: bool

    @property
    def has_plan(self) -> bool:
        """Whether a plan was made from this match."""
        return any(plan.get("match") == self.opened.id for _, plan in self.plans)


class RowMemo:
    """The rows of one match's last sheet; the row of an unchanged rally is the same object again.

    Where only the score of a rally is another, what its answers say is the same object as in the row before.
    """

    def __init__(self) -> None:
        self._rows: dict[str, tuple[Rally, RallyAnswers, RallyJson]] = {}

    def row(self, rally: Rally, facts: RallyAnswers) -> RallyJson:
        """Return the row of a rally."""
        before = self._rows.get(rally.key)
        if before is not None and before[1] is facts:
            if before[0] is rally:
                return before[2]
            if contradicts_draft(rally, facts) != contradicts_draft(before[0], facts):
                row = _rally(rally, facts)  # with what is asked, which follows from the score too
            else:
                row = cast("RallyJson", {**before[2], **_score(rally)})
        else:
            row = _rally(rally, facts)
        if before is not None and before[2] == row:
            row = before[2]
        self._rows[rally.key] = (rally, facts, row)
        return row


def sheet(data: SheetSource, rows: RowMemo | None = None) -> SheetJson:
    """Return the whole sheet, with the rows of unchanged rallies from the last sheet of this match."""
    rows = rows or RowMemo()
    opened, match, info = data.opened, data.match, data.match.info
    names = (data.players[0].name, data.players[1].name)
    short = opened.names
    facts = {fact.key: fact for fact in opened.answers.facts}
    extras = data.settings.extras
    if info.depth is Depth.SCORE and data.followed:
        extras = (*extras, EntryKind.KIND.value)
    along = _along(data)
    script = script_for_page(info.depth, opened.kinds, (*extras, *along), info.format)
    if along:
        script["along"] = along
    return {
        "match": {
            "id": info.id,
            "title": title_of(*data.players),
            "depth": info.depth,
            "observer": info.observer,
            "day": info.played_on.isoformat() if info.played_on else "",
            "best_of": info.format.best_of,
            "coached": info.coached,
        },
        "names": {"a": names[0], "b": names[1]},
        "short": {"a": short[0], "b": short[1]},
        "kind_words": {kind.id: kind.words for kind in opened.kinds},
        "script": cast("ScriptJson", script),
        "rallies": [rows.row(rally, facts[rally.key]) for rally in match.rallies],
        "games": [_game(game) for game in match.games],
        "games_won": match.games_won,
        "next": _next(match.next),
        "next_key": int(opened.next_key[1:]),
        "faults": list(_faults(match, facts, short)),
        "clashes": list(_clashes(match, facts, opened.kinds, names)),
        "span_clashes": list(_span_clashes(facts.values())),
        "winner": match.winner,
        "over_words": over_words(match, names),
        "log": _log(opened),
        "parts": [part.as_json() for part in data.films.parts],
        "proposed": _to_come(data),
        "proxy_words": data.films.waits,
        "lead_s": data.settings.lead_s,
    }


def _along(data: SheetSource) -> list[str]:
    """Return questions of the return that nobody asks for, but that the ball's path may answer."""
    depth = data.match.info.depth
    if depth is Depth.SCORE or not data.followed:
        return []
    asked = {*data.settings.extras, *((EntryKind.RETURN_STROKE.value,) if depth is Depth.SHOTS else ())}
    return [what.value for what in (EntryKind.RETURN_STROKE, EntryKind.RETURN_TO) if what.value not in asked]


def _to_come(data: SheetSource) -> list[ComingRallyJson]:
    """Return rallies heard that no recorded one has taken yet, and that nobody has deleted as none."""
    return [
        {
            "start_us": rally.start_us,
            "end_us": rally.end_us,
            "doubtful": rally.doubtful and rally.state != "kept",
        }
        for rally in rallies_to_come(data.opened, data.detected)
    ]


def _score(rally: Rally) -> ScoredJson:
    """Return what follows from the other rallies too: who serves from where, and the score."""
    return {
        "n": rally.n,
        "game": rally.game,
        "n_in_game": rally.n_in_game,
        "server": rally.server if rally.server_known else None,
        "box": rally.box if rally.server_known or rally.box_known else None,
        "box_free": rally.box_free,
        "before": rally.before,
        "after": rally.after,
        "winner": rally.winner,
        "let": rally.let,
        "hand_out": rally.hand_out,
        "call": rally.call,
        "ends_game": rally.ends_game,
        "certain": rally.certain,
        "complete": rally.complete,
    }


def _rally(rally: Rally, facts: RallyAnswers) -> RallyJson:
    """Return one rally: what replay says of it and the answers that stand."""
    named: dict[str, object] = {
        "key": rally.key,
        **_score(rally),
        "answers": {
            what.value: stored_form(value) for what, value in facts.values.items() if what not in _NOT_ANSWERS
        }
        | ({EntryKind.SHOT.value: None} if EntryKind.SHOT.value in rally.skipped else {}),
        "ids": {what.value: entry.id for (what, n), entry in facts.latest.items() if n == 0},
        "start_us": rally.start_us,
        "end_us": rally.end_us,
        "span_how": rally.span_how,
        "shots": [{"n": shot.n, "by": shot.by, "stroke": shot.stroke} for shot in rally.shots],
        "shots_in_all": rally.shots_in_all,
        "note": rally.note,
        "keep": rally.keep,
        "measured": measured_short(rally.serve.measured),
    }
    row = cast("RallyJson", named)
    if drafted := _of_draft(facts, is_drafted):
        row["drafted"] = drafted
    contradicted = contradicts_draft(rally, facts)
    if to_confirm := [EntryKind.WINNER] if contradicted else _of_draft(facts, is_to_confirm):
        row["to_confirm"] = to_confirm
    if not is_watched(facts) and any(map(is_unwatched, facts.latest.values())):
        row["unwatched"] = True
    return row


def _of_draft(facts: RallyAnswers, test: Callable[[Entry], bool]) -> list[EntryKind]:
    """Return which standing answers a person would be asked for came from a draft, and pass a test."""
    return [
        what
        for (what, n), entry in facts.latest.items()
        if n == 0 and what is EntryKind.WINNER and test(entry)
    ]


def span_ids(data: SheetData) -> dict[str, str]:
    """For each rally, the id of the entry that gives its time: what a new time replaces."""
    found = data.opened.answers.facts
    return {
        answers.key: answers.latest[EntryKind.SPAN, 0].id
        for answers in found
        if (EntryKind.SPAN, 0) in answers.latest
    }


def _game(game: Game) -> GameJson:
    return {
        "n": game.n,
        "points": game.points,
        "winner": game.winner,
        "first_server": game.first_server,
    }


def _next(coming: Next | None) -> NextRallyJson | None:
    if coming is None:
        return None
    return {
        "game": coming.game,
        "server": coming.server,
        "box": coming.box,
        "box_free": coming.box_free,
        "points": coming.points,
        "set_choice": coming.set_choice,
        "opening": coming.opening,
    }


def _log(opened: OpenMatch) -> list[LoggedJson]:
    """Return what was said and not taken back, oldest first: enough for the page to step back over."""
    layer, gone = layer_of(opened.info.observer), opened.undone
    shown: list[LoggedJson] = []
    follows: dict[str, LoggedJson] = {}  # for each tab, the deciding answer right after the entry looked at
    for entry in reversed(opened.entries):
        if entry.id in gone or layer_of(entry.observer) != layer:
            continue
        after = follows.pop(entry.observer, None)
        if entry.what is EntryKind.UNDO and after is not None and after["rally"] == entry.rally:
            overruled = _overruled(opened.entries, entry)
            if overruled is not None:
                after["overruled"] = overruled
        if entry.what in _NOT_LOGGED or _is_of_program(entry):
            continue
        if len(shown) == LOG_SHOWN:
            break
        shown.append({"id": entry.id, "rally": entry.rally, "what": entry.what, "how": _how(entry)})
        if isinstance(entry.value, str) and (entry.what, entry.value) in _DECIDING:
            follows[entry.observer] = shown[-1]
    return shown[::-1]


def _overruled(entries: Sequence[Entry], undo: Entry) -> OverruledJson | None:
    """Return the drafted winner that an undo took away; None where it took something else."""
    taken = next((entry for entry in reversed(entries) if entry.id == undo.replaces), None)
    if taken is None or taken.what is not EntryKind.WINNER or not is_drafted(taken):
        return None
    return {
        "undo": undo.id,
        "id": taken.id,
        "winner": Side(str(taken.value)),
        "to_confirm": is_to_confirm(taken),
    }


def _is_of_program(entry: Entry) -> bool:
    """Return whether an entry says what the draft proposed, or which rallies were drawn for a check."""
    value = entry.content if entry.what is EntryKind.PROPOSED else None
    return isinstance(value, ProposedValue) and (value.by == "score-draft" or value.sample)


def _how(entry: Entry) -> str | None:
    if is_taken(entry):
        return UNWATCHED_TAB
    if is_along(entry):
        return "along"
    return entry.content.how if isinstance(entry.content, SpanValue) else None


def _faults(match: Match, facts: Mapping[str, RallyAnswers], names: tuple[str, str]) -> Iterable[FaultJson]:
    """Return what in the record does not fit together, and where the draft contradicts the coach."""
    for found in draft_contradictions(match, facts, names):
        yield {"key": found.key, "code": "draft-contradicted", "words": found.words}
    for fault in match.faults:
        yield {"key": fault.key, "code": fault.code, "words": fault.words}


def _clashes(
    match: Match, facts: Mapping[str, RallyAnswers], kinds: Sequence[KindOfServe], names: tuple[str, str]
) -> Iterable[ClashJson]:
    """Questions that two tabs answered differently, with both answers to choose from."""
    clashing = [rally for rally in match.rallies if facts[rally.key].clashes]
    words = _answer_words(match, kinds, names) if clashing else {}
    for rally in clashing:
        for (what, n), (before, later) in facts[rally.key].clashes.items():
            if n or what in (EntryKind.SPAN, EntryKind.MEASURED, EntryKind.REMOVE):
                continue  # a shot, a time or a measurement is put right where it stands
            yield {
                "rally": rally.key,
                "what": what,
                "standing": later.id,
                "words": f"Rally {rally.n_in_game} of game {rally.game} was answered differently "
                "in two tabs: "
                f"{call_name(what)}. Which answer is right?",
                "answers": [
                    {"value": entry.value, "words": words.get((what, _key(entry.value)), str(entry.value))}
                    for entry in (before, later)
                ],
            }


def _span_clashes(facts: Iterable[RallyAnswers]) -> Iterable[SpanClashJson]:
    """Yield times that two tabs gave one rally with their answers, unasked: together they make the longer
    one.
    """
    for fact in facts:
        if not fact.clashes:
            continue
        pair = fact.clashes.get((EntryKind.SPAN, 0))
        spans = [entry.content for entry in pair or () if isinstance(entry.content, SpanValue)]
        if pair is None or len(spans) < 2 or any(span.how == "marked" for span in spans):
            continue
        ends = [span.end_us for span in spans if span.end_us is not None]
        start = min(span.start_us for span in spans)
        value = {"start_us": start, "end_us": max(ends, default=None), "how": "answers"}
        yield {"rally": fact.key, "standing": pair[1].id, "value": value}


def _key(value: Any) -> Any:
    return value if isinstance(value, str | int | bool | None) else repr(value)


def _answer_words(
    match: Match, kinds: Sequence[KindOfServe], names: tuple[str, str]
) -> dict[tuple[EntryKind, Any], str]:
    """Return the words of every answer that the script of this match offers."""
    short = short_names(*names)
    found: dict[tuple[EntryKind, Any], str] = {(EntryKind.KIND, kind.id): kind.words for kind in kinds}
    for question in questions_for(match.info.depth, kinds, (), match.info.format):
        found[question.id, None] = "not recorded"
        for answer in question.answers:
            words = answer.words.replace("{a}", short[0]).replace("{b}", short[1])
            for name in ("{winner}", "{loser}"):
                words = words.replace(name, "the player")
            found.setdefault((answer.what or question.id, answer.value), words)
    for what, pairs in ((EntryKind.BOX, (("right", "right box"), ("left", "left box"))),):
        found |= {(what, value): words for value, words in pairs}
    found |= {(EntryKind.SERVER, "a"): short[0], (EntryKind.SERVER, "b"): short[1]}
    return found
