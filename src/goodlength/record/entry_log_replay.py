"""Replay an entry log into a match: effective answers, the rules of play, and every fault.

```
 log ──> standing answers ──> outcome of each rally ──> scoring.replay ──> rallies with score and call
              │ two answers        │ contradictions          │ wrong server, box, score
              └────────────────────┴──── all faults at once ─┴── spans that overlap or lie outside
```
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from typing import Any, NamedTuple

from goodlength.record.answer_consistency_checks import answer_faults, clash_faults, span_faults
from goodlength.record.effective_answers import AnswersMemo, EffectiveAnswers, RallyAnswers, effective_answers
from goodlength.record.entry_value_types import (
    CalledValue,
    ConductValue,
    MeasuredValue,
    RetiredValue,
    ShotCount,
    ShotValue,
    SpanValue,
    UnreadableValue,
)
from goodlength.record.model import (
    DEFAULT_KINDS,
    Ending,
    Entry,
    EntryKind,
    KindOfServe,
    Left,
    Match,
    MatchInfo,
    Rally,
    Return,
    ReturnKind,
    Serve,
    Shot,
    ShotType,
    rescored,
)
from goodlength.record.rally_questions import CardQuestion, open_questions, questions_for
from goodlength.scoring import (
    Box,
    Conduct,
    Decision,
    Event,
    Next,
    Outcome,
    Points,
    PutRight,
    Replay,
    ReplayMemo,
    Retired,
    RuleFault,
    ScoredEvent,
    Side,
    replay,
)

_SIDE = {"a": Side.A, "b": Side.B}
_BOX = {"right": Box.RIGHT, "left": Box.LEFT}
_HOW = {kind.value: kind for kind in ReturnKind}
_LEFT = {left.value: left for left in Left}
_ENDING = {ending.value: ending for ending in Ending}
_STROKE = {shot_type.value: shot_type for shot_type in ShotType}
_DECISIONS = {"let": Decision.YES_LET, "no-let": Decision.NO_LET, "stroke": Decision.STROKE}
_BY_ENDING = {
    Ending.STROKE: Decision.STROKE,
    Ending.NO_LET: Decision.NO_LET,
    Ending.LET: Decision.YES_LET,
}
_BY_DECISION = {decision: ending for ending, decision in _BY_ENDING.items()}
_CALLS = {"down": "down", "not-up": "not up", "out": "out"}
_WORD = {what: what.value for what in EntryKind}
_SHOT_WORD = frozenset({EntryKind.SHOT.value})
_MOST_TRIES = 6
PUT_RIGHT = ":put-right"


def match_from(
    info: MatchInfo,
    entries: Sequence[Entry],
    names: tuple[str, str] | None = None,
    kinds: Sequence[KindOfServe] = DEFAULT_KINDS,
    *,
    length_us: int | None = None,
    observer: str | None = None,
    answers: EffectiveAnswers | None = None,
    memo: MatchMemo | None = None,
) -> Match:
    """Replay a match from its log, with every fault found at once.

    Never raises for what was written down: damaged answers, answers that contradict each other, two
    tabs with two answers, and play against the rules come back as faults, each with its rally.

    Parameters
    ----------
    info : MatchInfo
    entries : sequence of Entry
        In the order written, of any observer.
    names : (str, str), optional
        How the marker says the players ("stroke to Imogen").
    kinds : sequence of KindOfServe
        Kinds a serve may be of; any other is a fault.
    length_us : int, optional
        Length of the footage in match time; spans outside it are faults.
    observer : str, optional
        Whose layer; left out, the match's own observer.
    answers : EffectiveAnswers, optional
        Those of that layer, where they were sorted out already.
    memo : MatchMemo, optional
        What this match came to in its last replay: only what newer entries change is worked out again.

    Raises
    ------
    RulesError
        Only for a format or a starting score that no edition of the rules knows.
    """
    player_names = names or ("A", "B")
    cached = memo or MatchMemo()
    log = answers or effective_answers(
        entries, observer or info.observer, None if memo is None else memo.answers
    )
    cached._begin(info, player_names, kinds)
    drafts = [cached._draft(facts) for facts in log.facts]
    last = drafts[-1] if drafts else None
    still_open = last if last is not None and last.is_open else None
    played = drafts if still_open is None else drafts[:-1]
    worked = _work_through(info, played, player_names, still_open, None if memo is None else memo.scoring)
    lines = {line.key: line for line in worked.lines if line.is_rally}
    script = questions_for(info.depth, kinds)
    replayed = [cached._rally(draft, lines[draft.facts.key], script) for draft in played if draft.is_rally]
    rallies = [rally for rally, _ in replayed]
    faults = [*log.faults, *worked.faults, *(fault for _, found in replayed for fault in found)]
    if still_open is not None:
        rally = _open_rally(still_open, worked, rallies, script)
        rallies.append(rally)
        faults += cached._faults(still_open, rally)
    faults += span_faults(rallies, length_us)
    return Match(
        info=info,
        rallies=tuple(rallies),
        games=worked.games,
        games_won=worked.games_won,
        faults=tuple(faults),
        next=worked.next,
        winner=worked.winner,
        how_over=worked.how_over,
        entries=len(entries),
        lines=worked.lines,
        open_key=None if still_open is None else still_open.facts.key,
        opening=worked.opening,
    )


class RallyForColumns(NamedTuple):
    """What columns over many matches hold of one rally, as `Rally` and `RallyTable` have it.

    Words are as stored; None is "not recorded" or not known.
    """

    key: str
    n: int
    game: int
    n_in_game: int
    server: Side | None
    winner: Side | None
    let: bool
    box: Box | None
    before: Points
    call: str
    kind: str | None
    receiver_place: str | None
    how: str | None
    return_stroke: str | None
    return_to: str | None
    left: str | None
    ending: str | None
    stroke: str | None
    volley: Any
    place: str | None
    why: str | None
    start_us: int | None
    end_us: int | None
    shots_in_all: int | None
    note: str
    keep: bool


def played_rallies(
    info: MatchInfo, answers: EffectiveAnswers, names: tuple[str, str]
) -> list[RallyForColumns]:
    """Replay a match for columns alone: without faults, and without the rally still being written down.

    For very many matches at once: it takes half the time of `match_from`.
    """
    drafts = [_Draft(facts) for facts in answers.facts]
    last = drafts[-1] if drafts else None
    opened = last if last is not None and last.is_open else None
    if opened is not None:
        drafts.pop()
    worked = _work_through(info, drafts, names, opened, None)
    lines = {line.key: line for line in worked.lines if line.is_rally}
    return [_played(draft, lines[draft.facts.key]) for draft in drafts if draft.is_rally]


def _played(draft: _Draft, line: ScoredEvent) -> RallyForColumns:
    facts, get = draft.facts, draft.facts.values.get
    word = facts.word
    span = get(EntryKind.SPAN)
    start_us, end_us = (span.start_us, span.end_us) if isinstance(span, SpanValue) else (None, None)
    left = Left.NOT_MADE if draft.how is ReturnKind.NOT_MADE else draft.left
    returned = draft._word(EntryKind.RETURN_STROKE, _STROKE)
    stroke = draft._word(EntryKind.ENDING_STROKE, _STROKE)
    count = None
    if facts.shots or EntryKind.SHOT in facts.values:
        shots, count = _shots(draft)
        stroke = stroke or _last_stroke(draft, shots, count, line.winner)
    return RallyForColumns(
        line.key,
        line.n,
        line.game,
        line.n_in_game,
        line.server if line.server_known else None,
        line.winner,
        line.let,
        line.box if line.box_known else None,
        line.before,
        line.call,
        word(EntryKind.KIND),
        word(EntryKind.RECEIVER_PLACE),
        None if draft.how is None else draft.how.value,
        None if returned is None else returned.value,
        word(EntryKind.RETURN_TO),
        None if left is None else left.value,
        None if draft.ending is None else draft.ending.value,
        None if stroke is None else stroke.value,
        get(EntryKind.ENDING_VOLLEY),
        word(EntryKind.ENDING_PLACE),
        word(EntryKind.ENDING_WHY),
        start_us,
        end_us,
        count,
        word(EntryKind.NOTE) or "",
        get(EntryKind.KEEP) is True,
    )


class MatchMemo:
    """What one match came to in its last replay; for one thread at a time.

    Rallies with the same answers and the same score keep their `Rally`.
    """

    def __init__(self) -> None:
        self.answers = AnswersMemo()
        self.scoring = ReplayMemo()
        self._of: tuple[MatchInfo, tuple[str, str], tuple[KindOfServe, ...]] | None = None
        self._kinds: Collection[str] = ()
        self._drafts: dict[str, _Draft] = {}
        self._replayed: dict[str, tuple[_Draft, ScoredEvent, Rally, list[RuleFault]]] = {}

    def _begin(self, info: MatchInfo, names: tuple[str, str], kinds: Sequence[KindOfServe]) -> None:
        of = (info, names, tuple(kinds))
        if of != self._of:
            self._of, self._kinds = of, {kind.id for kind in kinds}
            self._drafts, self._replayed = {}, {}

    def _draft(self, facts: RallyAnswers) -> _Draft:
        draft = self._drafts.get(facts.key)
        if draft is None or draft.facts is not facts:
            draft = self._drafts[facts.key] = _Draft(facts)
        return draft

    def _rally(
        self, draft: _Draft, line: ScoredEvent, script: Sequence[CardQuestion]
    ) -> tuple[Rally, list[RuleFault]]:
        """Return a rally that was played, and what is at fault with its answers."""
        before = self._replayed.get(line.key)
        if before is not None and before[0] is draft:
            if before[1] is line or before[1] == line:
                return before[2], before[3]
            if not before[3] and before[1].differs_in_score_alone(line):
                rally = rescored(before[2], line)
                self._replayed[line.key] = (draft, line, rally, before[3])
                return rally, before[3]
        rally = _rally(draft, line, script)
        faults = self._faults(draft, rally)
        self._replayed[line.key] = (draft, line, rally, faults)
        return rally, faults

    def _faults(self, draft: _Draft, rally: Rally) -> list[RuleFault]:
        assert self._of is not None
        names = self._of[1]
        clashes = clash_faults(rally, draft.facts, names) if draft.facts.clashes else []
        return [*clashes, *answer_faults(rally, draft.facts, draft.bad, self._kinds, names)]


class _Draft:
    """One rally's standing answers, read into the words of the model; what cannot be read is kept apart."""

    def __init__(self, facts: RallyAnswers) -> None:
        self.facts = facts
        self.bad: list[EntryKind] = []
        self.is_rally = not facts.is_between
        self.how = self._word(EntryKind.HOW_TAKEN, _HOW)
        self.left = self._word(EntryKind.LEFT, _LEFT)
        self.written_winner = self._word(EntryKind.WINNER, _SIDE)
        self.server = self._word(EntryKind.SERVER, _SIDE)
        self.box = self._word(EntryKind.BOX, _BOX)
        self.called = facts.part(EntryKind.CALLED, CalledValue)
        self.bad += [what for what, value in facts.values.items() if isinstance(value, UnreadableValue)]
        self._decide()
        self.winner = self.written_winner
        self._replayed: tuple[Side | None, list[Event]] | None = None

    def _word(self, what: EntryKind, words: Mapping[str, Any]) -> Any:
        value = self.facts.values.get(what)
        if value is None:
            return None
        if not isinstance(value, str) or value not in words:
            self.bad.append(what)
            return None
        return words[value]

    def _decide(self) -> None:
        """How the rally ended and by whose decision; what the marker called otherwise goes first."""
        ending = self._word(EntryKind.ENDING, _ENDING)
        called = self.called
        decision = _DECISIONS.get(called.decision or "") if called else None
        self.call = _CALLS.get(called.call or "") if called else None
        self.otherwise = called is not None and (called.decision is not None or called.call is not None)
        if called is not None and called.call == "fault":
            ending = Ending.SERVICE_FAULT
        elif decision is not None:
            ending = _BY_DECISION[decision]
        self.ending = ending
        self.decision = _BY_ENDING.get(ending)
        self.let = ending is Ending.LET
        self.fault = ending is Ending.SERVICE_FAULT
        if called is not None and self.otherwise:
            to = _SIDE.get(called.to or "")
            self.written_winner = None if self.let or self.fault else to or self.written_winner
        self.not_made = (self.how is ReturnKind.NOT_MADE or self.left is Left.NOT_MADE) and not self.let

    @cached_property
    def to_server(self) -> bool:
        """Whether the server won because the return was not made and nothing else was said."""
        return self.not_made and self.written_winner is None and not self.fault

    @cached_property
    def is_open(self) -> bool:
        """Whether this rally, if it is the last, is still being written down."""
        if not self.is_rally:
            return False
        decided = self.let or self.fault or self.not_made or self.written_winner is not None
        return not decided and EntryKind.WINNER not in self.facts.values

    def events(self) -> list[Event]:
        """Return what the rules of play are told about it; the same events while its winner is the same."""
        if self._replayed is None or self._replayed[0] is not self.winner:
            self._replayed = (self.winner, self._events())
        return self._replayed[1]

    def _events(self) -> list[Event]:
        facts, key = self.facts, self.facts.key
        found: list[Event] = []
        if self.is_rally:
            set_to = facts.get(EntryKind.SET_TO)
            found.append(
                Outcome(
                    key,
                    winner=self.winner,
                    let=self.let,
                    decision=self.decision,
                    fault=self.fault,
                    server=self.server,
                    box=self.box,
                    set_to=set_to if isinstance(set_to, int) else None,
                    called=self.call,
                )
            )
            found += self._put_right()
        found += self._between()
        return found

    def _put_right(self) -> list[Event]:
        called = self.called
        if called is None or (called.points is None and called.server is None and called.box is None):
            return []
        server, box = _SIDE.get(called.server or ""), _BOX.get(called.box or "")
        return [PutRight(self.facts.key + PUT_RIGHT, called.points, server, box)]

    def _between(self) -> list[Event]:
        found: list[Event] = []
        suffix = ":conduct" if self.is_rally else ""
        conduct = self.facts.part(EntryKind.CONDUCT, ConductValue)
        retired = self.facts.part(EntryKind.RETIRED, RetiredValue)
        if conduct is not None:
            found.append(Conduct(self.facts.key + suffix, _SIDE[conduct.to], conduct.game))
        if retired is not None:
            key = self.facts.key + (":retired" if self.is_rally else "")
            found.append(Retired(key, _SIDE[retired.side], retired.why or "retired"))
        return found


def _work_through(
    info: MatchInfo,
    drafts: list[_Draft],
    names: tuple[str, str],
    opened: _Draft | None,
    memo: ReplayMemo | None,
) -> Replay:
    """Replay, with the server as winner where a return was not made.

    Who served is known only to the rules of play, so it is guessed (the winner of the rally before
    serves), checked against what replay says, and put right until both agree.
    """
    _guess_servers(info, drafts)
    set_to = None if opened is None else opened.facts.get(EntryKind.SET_TO)
    for _ in range(_MOST_TRIES):
        events = [event for draft in drafts for event in draft.events()]
        chosen = set_to if isinstance(set_to, int) else None
        worked = replay(info.format, info.start, events, names, chosen, memo)
        served = {line.key: line for line in worked.lines if line.is_rally}
        agreed = True
        for draft in drafts:
            if draft.is_rally and draft.to_server:
                line = served[draft.facts.key]
                winner = line.server if line.server_known else None
                if winner is not draft.winner:
                    draft.winner, agreed = winner, False
        if agreed:
            break
    return worked


def _guess_servers(info: MatchInfo, drafts: list[_Draft]) -> None:
    server = info.start.server
    for draft in drafts:
        if not draft.is_rally:
            continue
        server = draft.server or server
        if draft.to_server:
            draft.winner = server
        if draft.let:
            continue
        server = (server.other if server else None) if draft.fault and draft.winner is None else draft.winner
        server = (_SIDE.get(draft.called.server or "") if draft.called else None) or server


def _rally(draft: _Draft, line: ScoredEvent, script: Sequence[CardQuestion]) -> Rally:
    """Return a rally as the rules of play and the answers give it."""
    return Rally(
        key=line.key,
        n=line.n,
        game=line.game,
        n_in_game=line.n_in_game,
        server=line.server,
        box=line.box,
        box_free=line.box_free,
        before=line.before,
        after=line.after,
        winner=line.winner,
        let=line.let,
        hand_out=line.hand_out,
        call=line.call,
        ends_game=line.ends_game,
        certain=line.certain,
        server_known=line.server_known,
        box_known=line.box_known,
        **_written(draft, line.winner, script, line.server_known),
    )


def _open_rally(draft: _Draft, worked: Replay, before: list[Rally], script: Sequence[CardQuestion]) -> Rally:
    """Return the last rally, not yet decided: who serves and from where as the rules expect it."""
    coming = worked.next or _after_all(worked)
    in_game = sum(1 for rally in before if rally.game == coming.game)
    server = draft.server or coming.server
    free = coming.box_free or (draft.server is not None and draft.server is not coming.server)
    certain = before[-1].certain if before else True
    return Rally(
        key=draft.facts.key,
        n=len(before) + 1,
        game=coming.game,
        n_in_game=in_game + 1,
        server=server or Side.A,
        box=draft.box or coming.box or Box.RIGHT,
        box_free=free,
        before=coming.points,
        after=coming.points,
        winner=None,
        let=False,
        hand_out=False,
        call="",
        ends_game=None,
        certain=certain,
        server_known=server is not None,
        box_known=draft.box is not None or (coming.box is not None and not free),
        **_written(draft, None, script, server is not None),
    )


def _after_all(worked: Replay) -> Next:
    """Return where a rally stands that is begun after the match was over."""
    if not worked.games:  # a player stopped before the first serve
        return Next(1, None, None, True, worked.lines[-1].after, False)
    game = worked.games[-1]
    return Next(game.n, None, None, True, game.points, False)


def _written(
    draft: _Draft, winner: Side | None, script: Sequence[CardQuestion], server_known: bool
) -> dict[str, Any]:
    """Return the parts of a rally that come from its answers."""
    facts, values = draft.facts, draft.facts.values
    get = values.get
    span = facts.part(EntryKind.SPAN, SpanValue)
    shots, count = _shots(draft)
    closed = count is not None or (EntryKind.SHOT in values and values[EntryKind.SHOT] is None)
    left = Left.NOT_MADE if draft.how is ReturnKind.NOT_MADE else draft.left
    set_to = get(EntryKind.SET_TO)
    skipped = frozenset([_WORD[what] for what, value in values.items() if value is None])
    answered = frozenset([_WORD[what] for what, value in values.items() if value is not None])
    still = open_questions(values, script, server_known=server_known, shots_closed=closed)
    written: dict[str, Any] = {
        "start_us": None if span is None else span.start_us,
        "end_us": None if span is None else span.end_us,
        "span_how": None if span is None else span.how,
        "serve": Serve(
            facts.word(EntryKind.KIND),
            facts.word(EntryKind.AIM),
            facts.word(EntryKind.RECEIVER_PLACE),
            draft.fault,
            facts.word(EntryKind.FAULT_WHY),
            facts.part(EntryKind.MEASURED, MeasuredValue),
        ),
        "shots": shots,
        "shots_in_all": count,
        "set_to": set_to if isinstance(set_to, int) else None,
        "ending": draft.ending,
        "ending_stroke": draft._word(EntryKind.ENDING_STROKE, _STROKE)
        or _last_stroke(draft, shots, count, winner),
        "ending_volley": get(EntryKind.ENDING_VOLLEY),
        "ending_place": facts.word(EntryKind.ENDING_PLACE),
        "ending_why": facts.word(EntryKind.ENDING_WHY),
        "decision": draft.decision,
        "called_otherwise": draft.called,
        "note": facts.word(EntryKind.NOTE) or "",
        "keep": get(EntryKind.KEEP) is True,
        "skipped": skipped,
        "answered": answered | _SHOT_WORD if facts.shots else answered,
        "complete": not still,
    }
    if draft.how or left or EntryKind.RETURN_STROKE in values or EntryKind.RETURN_TO in values:
        stroke = draft._word(EntryKind.RETURN_STROKE, _STROKE)
        written["ret"] = Return(draft.how, stroke, facts.word(EntryKind.RETURN_TO), left)
    return written


def _shots(draft: _Draft) -> tuple[tuple[Shot, ...], int | None]:
    """Shots in order, and how many there were if that was said (a fault has one)."""
    counted = draft.facts.part(EntryKind.SHOT, ShotCount)
    shots = [
        Shot(n, _SIDE[value.by], value.stroke, value.volley, value.place, value.at_us, value.pressed)
        for n, value in sorted(draft.facts.shots.items())
        if isinstance(value, ShotValue)
    ]
    return tuple(shots), None if counted is None else counted.count


def _last_stroke(
    draft: _Draft, shots: tuple[Shot, ...], count: int | None, winner: Side | None
) -> ShotType | None:
    """Return the stroke that ended the rally, where the shots are all down and the ending fits the last
    one.
    """
    if winner is None or not shots or shots[-1].n != count:
        return None
    last = shots[-1]
    fits = (draft.ending is Ending.WINNER and last.by is winner) or (
        draft.ending in (Ending.FORCED_ERROR, Ending.UNFORCED_ERROR) and last.by is not winner
    )
    return _STROKE.get(last.stroke or "") if fits else None
