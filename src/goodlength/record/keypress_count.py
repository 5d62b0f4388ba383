"""Count the keys a coach presses for a match, by the rule of the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from goodlength.record.entry_value_types import CalledValue
from goodlength.record.model import DEFAULT_KINDS, EntryKind, KindOfServe, Match, Rally
from goodlength.record.rally_questions import questions_for
from goodlength.scoring.scoring_types import Box, Side

_ONE_EACH = (EntryKind.NOTE, EntryKind.KEEP, EntryKind.SERVER)


@dataclass(frozen=True)
class Presses:
    """Presses of each rally, in order; letters of a note are not counted, its key is."""

    by_rally: tuple[int, ...]

    @property
    def most(self) -> int:
        """The most that one rally took."""
        return max(self.by_rally, default=0)

    @property
    def mean(self) -> float:
        """Presses per rally; NaN without rallies."""
        return sum(self.by_rally) / len(self.by_rally) if self.by_rally else float("nan")


def count_presses(match: Match, kinds: Sequence[KindOfServe] = DEFAULT_KINDS) -> Presses:
    """Count the presses needed to write this match down on the Record page, without playing and stopping the
    video.

    Each answer or skip is one; Enter for the next rally is one; B where the box was not the one
    proposed; C, its number and what it asks for; N, K. What follows from another answer (the winner
    after a return not made, the box as proposed) costs none.
    """
    asked = {
        question.id
        for question in questions_for(match.info.depth, kinds)
        if question.id is not EntryKind.SHOT
    }
    chosen: dict[Side, Box] = {}
    counts = []
    for rally in match.rallies:
        given = {EntryKind(word) for word in rally.answered | rally.skipped}
        count = 1 + sum(1 for what in given if what in asked or what in _ONE_EACH)
        count += _for_shots(rally) + _for_calling(rally.called_otherwise)
        if EntryKind.BOX in given:
            proposed = chosen.get(rally.server, Box.RIGHT)
            count += 1 if not rally.box_free or rally.box is not proposed else 0
            if rally.box_free:
                chosen[rally.server] = rally.box
        counts.append(count)
    return Presses(tuple(counts))


def _for_shots(rally: Rally) -> int:
    count_answered = rally.shots_in_all is not None or EntryKind.SHOT.value in rally.skipped
    return len(rally.shots) + int(count_answered)


def _for_calling(called: CalledValue | None) -> int:
    """C, the number, the player, and the figures of a score with Enter."""
    if not called:
        return 0
    count = 2 + int(called.to is not None)
    return count + (sum(len(str(figure)) for figure in called.points) + 2 if called.points else 0)
