"""Questions asked for each rally, their order, and which answers make others unnecessary.

The same script is data for the page (`script_for_page`), so that it asks the next question at once.

```
 serve and return:  what was served? ─ how taken? ─ what did it leave? ─ who won? ─ how did it end?
                        └ 9 a fault ──────┴─ 9 ... receiver wins, nothing more is asked
                                      not made ─────┴───── server wins, nothing more is asked
                                                                  └ 3 let: nothing more is asked
```
The box is no question: it stands in the sentence as proposed, and B changes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from goodlength.files.json_types import Json
from goodlength.record.answer_enumerations import PLACES, QUARTERS, RECEIVER_PLACES
from goodlength.record.entry_value_types import ValueModel
from goodlength.record.model import (
    DEFAULT_KINDS,
    Depth,
    Ending,
    EntryKind,
    KindOfServe,
    Left,
    ReturnKind,
    ShotType,
)
from goodlength.scoring.match_format_rules import set_choices
from goodlength.scoring.scoring_types import Format

_PLAIN_FORMAT = Format()
LAST_SHOT = "last"  # the answer to a shot question that says there was no further shot
FIRST_SHOT_ASKED = 3  # the serve is shot 1, the return shot 2


@dataclass(frozen=True)
class Answer:
    """One answer: the value kept, its words, its key; `what` where it answers another question."""

    value: Any
    words: str
    key: str | None = None
    what: EntryKind | None = None


@dataclass(frozen=True)
class Unless:
    """The question is not asked where `what` was answered with one of `values`.

    `having`: where the answer holds one of these parts that is not null.
    """

    what: EntryKind
    values: tuple[Any, ...] = ()
    having: tuple[str, ...] = ()

    def holds(self, given: object) -> bool:
        """Return whether an answer spares the question."""
        if isinstance(given, ValueModel):
            return any(getattr(given, part, None) is not None for part in self.having)
        return given in self.values


@dataclass(frozen=True)
class CardQuestion:
    """One question. Names in braces are put in by the door: {a}, {b}, {server}, {receiver}, {winner},
    {loser}, {n} and {striker} (shots).

    `extra` questions are passed with Enter; `when` names what must be so for it to be asked at all:
    "server-unknown", "set-choice", or empty. `repeats` is asked for shot after shot.
    """

    id: EntryKind
    ask: str
    answers: tuple[Answer, ...]
    unless: tuple[Unless, ...] = ()
    extra: bool = False
    repeats: bool = False
    when: str = ""


_FAULT = Answer(Ending.SERVICE_FAULT.value, "Fault", "9", EntryKind.ENDING)
_LET = Answer(Ending.LET.value, "A let, played again", "3", EntryKind.ENDING)
_CALLED = Unless(EntryKind.CALLED, having=("decision", "call"))
_OVER_EARLY = (Unless(EntryKind.ENDING, (Ending.SERVICE_FAULT.value, Ending.LET.value)), _CALLED)
_NOT_MADE = (
    Unless(EntryKind.HOW_TAKEN, (ReturnKind.NOT_MADE.value,)),
    Unless(EntryKind.LEFT, (Left.NOT_MADE.value,)),
)
_HOW = (
    (ReturnKind.VOLLEYED, "Volleyed"),
    (ReturnKind.AFTER_SIDE_WALL, "After the side wall"),
    (ReturnKind.AFTER_BOUNCE, "After the bounce"),
    (ReturnKind.OFF_BACK_WALL, "Off the back wall"),
    (ReturnKind.NOT_MADE, "Missed"),
)
_LEFT = (
    (Left.TIGHT, "Tight: nothing to attack"),
    (Left.LOOSE, "Loose: something to attack"),
    (Left.ATTACKED, "Attacked: the return itself was the attack"),
    (Left.NOT_MADE, "Missed"),
)
_ENDINGS = (
    (Ending.WINNER, "A winner by {winner}"),
    (Ending.FORCED_ERROR, "Forced error by {loser}"),
    (Ending.UNFORCED_ERROR, "Unforced error by {loser}"),
    (Ending.STROKE, "Stroke to {winner}"),
    (Ending.NO_LET, "No let"),
    (Ending.CONDUCT, "Conduct stroke to {winner}"),
)
_STROKES = (
    (ShotType.DRIVE, "Drive"),
    (ShotType.CROSS_COURT, "Cross-court"),
    (ShotType.BOAST, "Boast"),
    (ShotType.DROP, "Drop"),
    (ShotType.LOB, "Lob"),
    (ShotType.KILL, "Kill"),
    (ShotType.OTHER, "Other"),
)


def _keyed(pairs: Iterable[tuple[Any, str]]) -> tuple[Answer, ...]:
    return tuple(
        Answer(getattr(value, "value", value), words, str(n) if n <= 9 else None)
        for n, (value, words) in enumerate(pairs, 1)
    )


def _place_words(place: str) -> str:
    return "Middle" if place == "middle" else place.replace("-", " ").capitalize()


def _extra(what: EntryKind, ask: str, pairs: Iterable[tuple[Any, str]], *unless: Unless) -> CardQuestion:
    return CardQuestion(what, ask, _keyed(pairs), (*_OVER_EARLY, *unless), extra=True)


_SERVER_FIRST = CardQuestion(
    EntryKind.SERVER, "Who serves?", (Answer("a", "{a}", "1"), Answer("b", "{b}", "2")), when="server-unknown"
)
_HOW_TAKEN = CardQuestion(
    EntryKind.HOW_TAKEN,
    "How did {receiver} return it?",
    (*_keyed(_HOW), _FAULT),
    (*_OVER_EARLY, _NOT_MADE[1]),
)
_WHAT_LEFT = CardQuestion(
    EntryKind.LEFT, "How good was the return?", _keyed(_LEFT), (*_OVER_EARLY, _NOT_MADE[0])
)
_WHO_WON = CardQuestion(
    EntryKind.WINNER,
    "Who won the rally?",
    (Answer("a", "{a}", "1"), Answer("b", "{b}", "2"), _LET),
    (*_OVER_EARLY, *_NOT_MADE),
)
_HOW_ENDED = CardQuestion(
    EntryKind.ENDING,
    "How did it end?",
    (*_keyed(_ENDINGS), Answer(Ending.SERVICE_FAULT.value, "Fault", "9")),
    (_CALLED, *_NOT_MADE),
)
_SHOTS = CardQuestion(
    EntryKind.SHOT,
    "Shot {n}: what did {striker} play?",
    (*_keyed(_STROKES), Answer(LAST_SHOT, "That was the last shot", "9")),
    (*_OVER_EARLY, *_NOT_MADE),
    repeats=True,
)
_EXTRA_QUESTIONS = {
    question.id: question
    for question in (
        CardQuestion(EntryKind.AIM, "Where was the serve aimed?", (), _OVER_EARLY, extra=True),
        _extra(
            EntryKind.RECEIVER_PLACE,
            "Where did {receiver} stand?",
            [(place, _place_words(place)) for place in RECEIVER_PLACES],
        ),
        _extra(EntryKind.RETURN_STROKE, "What did {receiver} play?", _STROKES, *_NOT_MADE),
        _extra(
            EntryKind.RETURN_TO,
            "Where did the return go?",
            [
                ("straight", "Straight"),
                ("cross-court", "Cross-court"),
                ("boast", "Boast"),
                ("short", "Short"),
                *((quarter, _place_words(quarter)) for quarter in QUARTERS),
            ],
            *_NOT_MADE,
        ),
        _extra(EntryKind.ENDING_STROKE, "With which shot?", _STROKES),
        _extra(EntryKind.ENDING_VOLLEY, "On the volley?", [(True, "Yes"), (False, "No")]),
        _extra(EntryKind.ENDING_PLACE, "Where on court?", [(place, _place_words(place)) for place in PLACES]),
        _extra(
            EntryKind.ENDING_WHY,
            "Poor choice or poor execution?",
            [("choice", "Poor choice"), ("execution", "Poor execution")],
        ),
    )
}


def _kind_question(kinds: Sequence[KindOfServe]) -> CardQuestion:
    in_use = [kind for kind in kinds if not kind.retired]
    answers = tuple(
        Answer(kind.id, kind.words, str(n) if n <= 8 else None) for n, kind in enumerate(in_use, 1)
    )
    return CardQuestion(EntryKind.KIND, "What was served?", (*answers, _FAULT), _OVER_EARLY)


def _set_choice(fmt: Format) -> CardQuestion:
    pairs = [(choice, f"To {choice}") for choice in set_choices(fmt)]
    return CardQuestion(
        EntryKind.SET_TO, "What did {receiver} choose to play to?", _keyed(pairs), when="set-choice"
    )


@lru_cache(maxsize=64)
def _script(
    depth: Depth, kinds: tuple[KindOfServe, ...], extras: frozenset[EntryKind], fmt: Format
) -> tuple[CardQuestion, ...]:
    extra = [question for what, question in _EXTRA_QUESTIONS.items() if what in extras]
    before_return = [
        question for question in extra if question.id in (EntryKind.AIM, EntryKind.RECEIVER_PLACE)
    ]
    of_return = [
        question for question in extra if question.id in (EntryKind.RETURN_STROKE, EntryKind.RETURN_TO)
    ]
    of_ending = [question for question in extra if question.id.value.startswith("ending.")]
    opening = (_set_choice(fmt), _SERVER_FIRST) if set_choices(fmt) else (_SERVER_FIRST,)
    if depth is Depth.SCORE:
        kind = (replace(_kind_question(kinds), extra=True),) if EntryKind.KIND in extras else ()
        return (*opening, *kind, _WHO_WON, _HOW_ENDED, *of_ending)
    serve = (_kind_question(kinds), *before_return, _HOW_TAKEN)
    shots = (_SHOTS,) if depth is Depth.SHOTS else ()
    if depth is Depth.SHOTS and not any(question.id is EntryKind.RETURN_STROKE for question in of_return):
        of_return = [_EXTRA_QUESTIONS[EntryKind.RETURN_STROKE], *of_return]
    return (*opening, *serve, *of_return, _WHAT_LEFT, *shots, _WHO_WON, _HOW_ENDED, *of_ending)


def questions_for(
    depth: Depth,
    kinds: Sequence[KindOfServe] = DEFAULT_KINDS,
    extras: Iterable[EntryKind | str] = (),
    fmt: Format = _PLAIN_FORMAT,
) -> tuple[CardQuestion, ...]:
    """Return the questions of a depth in the order asked.

    Parameters
    ----------
    depth : Depth
        How much is asked.
    kinds : sequence of KindOfServe
        The library's kinds; retired ones are not offered. Keys 1 to 8 in this order, 9 is a fault.
    extras : iterable of What
        Extra questions to ask too, of `EXTRAS`; at the depth *score* the kind of serve as well.
    fmt : Format
        How the match is scored; where the receiver chooses what to play to, that is asked too.

    Examples
    --------
    >>> [question.id.value for question in questions_for(Depth.SERVE) if not question.when]
    ['serve.kind', 'return.how', 'return.left', 'winner', 'ending']
    """
    return _script(depth, tuple(kinds), frozenset(EntryKind(item) for item in extras), fmt)


def is_asked(question: CardQuestion, answers: Mapping[EntryKind, object]) -> bool:
    """Return whether the answers so far leave this question to be asked (answered or not)."""
    for rule in question.unless:
        given = answers.get(rule.what)
        if given is not None and rule.holds(given):
            return False
    return True


def open_questions(
    answers: Mapping[EntryKind, object],
    script: Sequence[CardQuestion],
    *,
    server_known: bool = True,
    set_choice: bool = False,
    shots_closed: bool = True,
) -> tuple[CardQuestion, ...]:
    """Return the questions still to be asked of a rally, in order.

    Parameters
    ----------
    answers : mapping of What to value
        Standing answers; None for one that was skipped.
    server_known, set_choice : bool
        What replay says before this rally: `next.server is not None`, `next.set_choice`.
    shots_closed : bool
        Whether the shots are down, or were skipped.
    """
    found = []
    for question in script:
        if question.repeats:
            done = shots_closed
        else:
            done = question.id in answers
        if done or not is_asked(question, answers):
            continue
        if question.when == "server-unknown" and server_known:
            continue
        if question.when == "set-choice" and not set_choice:
            continue
        found.append(question)
    return tuple(found)


def script_for_page(
    depth: Depth,
    kinds: Sequence[KindOfServe] = DEFAULT_KINDS,
    extras: Iterable[EntryKind | str] = (),
    fmt: Format = _PLAIN_FORMAT,
) -> dict[str, Json]:
    """Return the script as plain JSON values: the page walks it without asking the server.

    The page keeps a mapping of `id` to value for the rally in hand (null: skipped). The next question
    is the first whose `id` is not in the mapping, whose `when` holds, and of whose `unless` rules none
    matches; where there is none the rally is down. An answer with a `what` of its own is kept under
    that id instead.
    """
    return {
        "depth": depth.value,
        "questions": [_question_plain(question) for question in questions_for(depth, kinds, extras, fmt)],
        "box": {
            "what": EntryKind.BOX.value,
            "key": "B",
            # Where the box is free the one shown is written with the first answer: what was shown
            # and let stand is what the coach said. It costs no press.
            "write_when_free": True,
        },
        "shots": {"first": FIRST_SHOT_ASKED, "last": LAST_SHOT},
        "keys": {"skip": "Enter", "back": "Backspace", "note": "N", "keep": "K", "called": "C"},
        "called": [
            {"key": "1", "words": "Let", "value": {"decision": "let"}, "to": False},
            {"key": "2", "words": "No let", "value": {"decision": "no-let"}, "to": True},
            {"key": "3", "words": "Stroke", "value": {"decision": "stroke"}, "to": True},
            {"key": "4", "words": "Correct the score", "value": {}, "to": False, "score": True},
            {"key": "5", "words": "Down", "value": {"call": "down"}, "to": True},
            {"key": "6", "words": "Not up", "value": {"call": "not-up"}, "to": True},
            {"key": "7", "words": "Out", "value": {"call": "out"}, "to": True},
            {"key": "9", "words": "Fault", "value": {"call": "fault"}, "to": False},
        ],
    }


def _question_plain(question: CardQuestion) -> dict[str, Json]:
    return {
        "id": question.id.value,
        "ask": question.ask,
        "answers": [
            {
                "value": answer.value,
                "words": answer.words,
                "key": answer.key,
                "what": (answer.what or question.id).value,
            }
            for answer in question.answers
        ],
        "unless": [
            {"what": rule.what.value, "values": list(rule.values), "having": list(rule.having)}
            for rule in question.unless
        ],
        "extra": question.extra,
        "repeats": question.repeats,
        "when": question.when,
        "free_words": not question.answers and question.id is EntryKind.AIM,
    }
