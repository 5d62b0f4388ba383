"""What the ball's path proposes for the sheet: surely enough to stand on Record, marked as proposed.

It lies apart from the coach's answers, in the file of the paths; an answer is written only when a coach
gives it, and what was proposed then is kept beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.errors import DamagedFile
from goodlength.measure.draft.answers_from_ball_path import PROPOSED
from goodlength.measure.shots.followed_ball_types import PathAnswer, PathAnswerKind
from goodlength.tasks.ball.ball_following_inputs import followed_now, match_shift_us

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

ON_RECORD = (PathAnswerKind.SERVE_KIND, PathAnswerKind.HOW_TAKEN)


@dataclass(frozen=True)
class RallyProposals:
    """The proposals of one rally; match times."""

    key: str
    start_us: int
    end_us: int
    answers: tuple[PathAnswer, ...]


def path_proposals(opened: OpenMatch) -> tuple[RallyProposals, ...]:
    """Return what is proposed for Record, in order of time; nothing of what is unsure or out of date.

    A kind of serve that the coach has retired is not proposed. A damaged file proposes nothing.
    """
    try:
        followed = followed_now(opened, samples=False)
    except DamagedFile:
        return ()
    known = {kind.id for kind in opened.kinds if not kind.retired}
    found = []
    for rally in () if followed is None else followed.rallies:
        shift = match_shift_us(opened, rally)
        answers = tuple(
            answer
            for answer in rally.answers
            if answer.what in ON_RECORD
            and answer.chance >= PROPOSED
            and (answer.what is not PathAnswerKind.SERVE_KIND or answer.value in known)
        )
        if shift is not None and answers:
            found.append(RallyProposals(rally.key, rally.from_us + shift, rally.until_us + shift, answers))
    return tuple(sorted(found, key=lambda each: each.start_us))
