"""The question to ask next of a rally, from the script the page runs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from goodlength.record.model import DEFAULT_KINDS, Depth, EntryKind, KindOfServe, Rally
from goodlength.record.rally_questions import CardQuestion, open_questions, questions_for
from goodlength.scoring.scoring_types import Format

_PLAIN_FORMAT = Format()
EXTRAS = (
    EntryKind.AIM,
    EntryKind.RECEIVER_PLACE,
    EntryKind.RETURN_STROKE,
    EntryKind.RETURN_TO,
    EntryKind.ENDING_STROKE,
    EntryKind.ENDING_VOLLEY,
    EntryKind.ENDING_PLACE,
    EntryKind.ENDING_WHY,
)


def answers_of(rally: Rally) -> dict[EntryKind, Any]:
    """The standing answers of a rally by question, None for skipped ones."""
    known: dict[EntryKind, Any] = {
        EntryKind.KIND: rally.serve.kind,
        EntryKind.HOW_TAKEN: rally.ret.how,
        EntryKind.LEFT: rally.ret.left,
        EntryKind.WINNER: rally.winner,
        EntryKind.ENDING: rally.ending,
        EntryKind.CALLED: rally.called_otherwise,
    }
    answers: dict[EntryKind, Any] = {EntryKind(word): None for word in rally.skipped}
    answers.update({EntryKind(word): _plain(known.get(EntryKind(word), True)) for word in rally.answered})
    return answers


def _plain(value: Any) -> Any:
    return getattr(value, "value", value)


def next_question(
    rally: Rally | None,
    depth: Depth,
    kinds: Sequence[KindOfServe] = DEFAULT_KINDS,
    extras: Iterable[EntryKind | str] = (),
    *,
    fmt: Format = _PLAIN_FORMAT,
    server_known: bool = True,
    set_choice: bool = False,
) -> CardQuestion | None:
    """The question to ask now; None when the rally is down.

    Parameters
    ----------
    rally : Rally, optional
        The rally in hand; None for one that has no answer yet.
    """
    script = questions_for(depth, kinds, extras, fmt)
    answers = {} if rally is None else answers_of(rally)
    closed = rally is not None and (rally.shots_in_all is not None or EntryKind.SHOT.value in rally.skipped)
    left = open_questions(
        answers, script, server_known=server_known, set_choice=set_choice, shots_closed=closed
    )
    return left[0] if left else None
