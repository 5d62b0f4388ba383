"""Where an answer of the coach's and the draft cannot both be: the coach stands, and the next rally is asked.

```
 coach: A won rally 12 ──> A serves rally 13 by the rules
 draft: B was seen serving rally 13 ──> not both: what stands of rally 13 is no longer sure
```
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from goodlength.record.effective_answers import (
    DRAFT_SLOT,
    RallyAnswers,
    is_checked,
    is_drafted,
    is_unwatched,
    is_watched,
)
from goodlength.record.entry_value_types import ProposedValue
from goodlength.record.model import EntryKind, Match, Rally
from goodlength.scoring import Side


@dataclass(frozen=True)
class DraftContradiction:
    """A rally that stands as the draft has it, though another player serves it now; said in a sentence."""

    key: str
    words: str


def contradicts_draft(rally: Rally, facts: RallyAnswers) -> bool:
    """Return whether a rally that nobody watched stands by a draft that had the other player serving.

    Its winner came from the same sight of the server, so it is sure no longer, taken unwatched or not.
    """
    server = _server_in_draft(facts)
    if server is None or not rally.server_known or rally.server is server:
        return False
    winner = facts.latest.get((EntryKind.WINNER, 0))
    return winner is not None and is_drafted(winner) and not is_watched(facts)


def draft_contradictions(
    match: Match, facts: Mapping[str, RallyAnswers], names: tuple[str, str]
) -> tuple[DraftContradiction, ...]:
    """Return the rallies in which the score now contradicts the draft, in the order played.

    Parameters
    ----------
    facts : mapping of str to RallyAnswers
        The standing answers of each rally of the match by its key.
    names : (str, str)
        The players as the page says them, the first-named first.
    """
    before: Sequence[Rally | None] = (None, *match.rallies[:-1])
    return tuple(
        DraftContradiction(rally.key, _words(rally, facts, previous, names))
        for previous, rally in zip(before, match.rallies, strict=False)
        if rally.key in facts and contradicts_draft(rally, facts[rally.key])
    )


def _words(
    rally: Rally, facts: Mapping[str, RallyAnswers], previous: Rally | None, names: tuple[str, str]
) -> str:
    server, other = names[rally.server.place], names[rally.server.other.place]
    cause = f"By the score {server} serves rally {rally.n}"
    if previous is not None and previous.winner is not None and _is_own(previous, facts):
        won = f"You say {names[previous.winner.place]} won rally {previous.n}"
        cause = f"{won}, so {server} serves rally {rally.n}"
    taken = any(map(is_unwatched, facts[rally.key].latest.values()))
    what = "was taken unwatched and is asked again" if taken else "is asked"
    return f"{cause}; the draft has {other} serving there. Your answers stand, and rally {rally.n} {what}."


def _is_own(rally: Rally, facts: Mapping[str, RallyAnswers]) -> bool:
    return rally.key in facts and is_checked(facts[rally.key], EntryKind.WINNER)


def _server_in_draft(facts: RallyAnswers) -> Side | None:
    entry = facts.latest.get((EntryKind.PROPOSED, DRAFT_SLOT))
    value = None if entry is None else entry.content
    if not isinstance(value, ProposedValue):
        return None
    words = (answer.value for answer in value.answers if answer.what == EntryKind.SERVER.value)
    word = next(words, None)
    return Side(word) if word in (Side.A.value, Side.B.value) else None
