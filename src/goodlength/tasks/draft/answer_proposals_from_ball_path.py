"""What the ball's path proposes for the sheet: surely enough to stand on Record, marked as proposed.

It lies apart from the coach's answers, in the file of the paths; an answer is written only when a coach
gives it, and what was proposed then is kept beside it. The ending follows from the end of the path once it is
known who served and who won. Who won is not proposed: of the last striker the count of shots is not sure
enough. But an end that speaks for the other player contradicts a winner.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.errors import DamagedFile
from goodlength.measure.draft.answers_from_ball_path import PROPOSED
from goodlength.measure.draft.winner_likelihood_from_rally_ending import (
    SECOND_BOUNCE,
    EndingSeen,
    ending_seen,
)
from goodlength.measure.shots.followed_ball_types import PathAnswerKind
from goodlength.record.model import Ending, EntryKind, ReturnKind
from goodlength.scoring import Side
from goodlength.tasks.ball.ball_following_inputs import followed_now, match_shift_us

if TYPE_CHECKING:
    from goodlength.measure.shots.followed_ball_types import FollowedRally
    from goodlength.record.model import Rally
    from goodlength.tasks.match.lazy_match import OpenMatch

ON_RECORD = {
    PathAnswerKind.SERVE_KIND: EntryKind.KIND,
    PathAnswerKind.HOW_TAKEN: EntryKind.HOW_TAKEN,
    PathAnswerKind.RETURN_STROKE: EntryKind.RETURN_STROKE,
    PathAnswerKind.RETURN_QUARTER: EntryKind.RETURN_TO,
    PathAnswerKind.RETURN_LEFT: EntryKind.LEFT,
}
AGREES = 0.8  # least fit of a winner that the end of a path speaks for


@dataclass(frozen=True)
class RecordProposal:
    """One answer proposed for Record; `if_winner`, `if_server`: only where these players won and served."""

    what: EntryKind
    value: str
    chance: float
    if_winner: Side | None = None
    if_server: Side | None = None


@dataclass(frozen=True)
class RallyProposals:
    """The proposals of one rally, match times.

    `ended` is "tin", "out" or "second-bounce", or empty; `seen` what its path says of the end, sure or not.
    """

    key: str
    start_us: int
    end_us: int
    answers: tuple[RecordProposal, ...]
    ended: str = ""
    seen: EndingSeen | None = None

    def contradicts(self, rally: Rally) -> bool:
        """Return whether the path speaks against who won a rally as it stands on the sheet."""
        if rally.winner is None or not rally.server_known:
            return False
        if self.seen is not None and self.seen.fit(rally.server, rally.winner.other) >= AGREES:
            return True
        missed = any(answer.value == ReturnKind.NOT_MADE for answer in self.answers)
        return missed and rally.winner is not rally.server


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
        if shift is None:
            continue
        start_us, end_us = rally.from_us + shift, rally.until_us + shift
        seen = ending_seen(rally)
        answers = (*_of_path(rally, known), *(() if seen is None else _of_end(seen)))
        ended = seen.word if seen is not None and seen.chance >= PROPOSED else ""
        if answers or seen is not None:
            found.append(RallyProposals(rally.key, start_us, end_us, answers, ended, seen))
    return tuple(sorted(found, key=lambda each: each.start_us))


def _of_path(rally: FollowedRally, known: set[str]) -> tuple[RecordProposal, ...]:
    return tuple(
        RecordProposal(ON_RECORD[answer.what], answer.value, answer.chance)
        for answer in rally.answers
        if answer.what in ON_RECORD
        and answer.chance >= PROPOSED
        and (answer.what is not PathAnswerKind.SERVE_KIND or answer.value in known)
    )


def _of_end(seen: EndingSeen) -> tuple[RecordProposal, ...]:
    """Return, for each server, that the end was a winner where the ball bounced twice and who struck it won.

    Whether an error was forced is the coach's to say, so nothing is proposed of a ball down or out.
    """
    if seen.word != SECOND_BOUNCE:
        return ()
    made = []
    for server in Side:
        winner = max(Side, key=lambda side: seen.fit(server, side))
        chance = round(seen.chance_given(server, winner), 3)
        if chance >= PROPOSED and seen.fit(server, winner) >= AGREES:
            made.append(RecordProposal(EntryKind.ENDING, Ending.WINNER.value, chance, winner, server))
    return tuple(made)
