"""What the ball's path proposes for the sheet: surely enough to stand on Record, marked as proposed.

It lies apart from the coach's answers, in the file of the paths; an answer is written only when a coach
gives it, and what was proposed then is kept beside it. Winner and ending follow from the end of the path once
it is known who served.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.errors import DamagedFile
from goodlength.measure.draft.answers_from_ball_path import PROPOSED
from goodlength.measure.draft.rally_ending import SECOND_BOUNCE, EndingSeen, ending_seen
from goodlength.measure.shots.followed_ball_types import PathAnswerKind
from goodlength.record.model import Ending, EntryKind
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
AGREES = (
    0.8  # least fit of a winner whose ending is proposed: below it, shots and striker contradict each other
)


@dataclass(frozen=True)
class RecordProposal:
    """One answer proposed for Record; `if_winner`: only where this player won."""

    what: EntryKind
    value: str
    chance: float
    if_winner: Side | None = None


@dataclass(frozen=True)
class RallyProposals:
    """The proposals of one rally, match times; `ended` is "tin", "out" or "second-bounce", or empty."""

    key: str
    start_us: int
    end_us: int
    answers: tuple[RecordProposal, ...]
    ended: str = ""


def path_proposals(opened: OpenMatch) -> tuple[RallyProposals, ...]:
    """Return what is proposed for Record, in order of time; nothing of what is unsure or out of date.

    A kind of serve that the coach has retired is not proposed. A damaged file proposes nothing.
    """
    try:
        followed = followed_now(opened, samples=False)
    except DamagedFile:
        return ()
    known = {kind.id for kind in opened.kinds if not kind.retired}
    recorded = opened.match.rallies
    found = []
    for rally in () if followed is None else followed.rallies:
        shift = match_shift_us(opened, rally)
        if shift is None:
            continue
        start_us, end_us = rally.from_us + shift, rally.until_us + shift
        seen = ending_seen(rally)
        of_end = () if seen is None else _of_end(seen, rally_at(recorded, start_us, end_us))
        answers = (*_of_path(rally, known), *of_end)
        if answers:
            ended = seen.word if seen is not None and seen.chance >= PROPOSED else ""
            found.append(RallyProposals(rally.key, start_us, end_us, answers, ended))
    return tuple(sorted(found, key=lambda each: each.start_us))


def rally_at(rallies: Sequence[Rally], start_us: int, end_us: int) -> Rally | None:
    """Return the recorded rally that lies over half within a span of match time; None where none does."""
    for rally in rallies:
        if rally.start_us is None or rally.end_us is None:
            continue
        common = min(rally.end_us, end_us) - max(rally.start_us, start_us)
        if 2 * common > rally.end_us - rally.start_us:
            return rally
    return None


def _of_path(rally: FollowedRally, known: set[str]) -> tuple[RecordProposal, ...]:
    return tuple(
        RecordProposal(ON_RECORD[answer.what], answer.value, answer.chance)
        for answer in rally.answers
        if answer.what in ON_RECORD
        and answer.chance >= PROPOSED
        and (answer.what is not PathAnswerKind.SERVE_KIND or answer.value in known)
    )


def _of_end(seen: EndingSeen, rally: Rally | None) -> tuple[RecordProposal, ...]:
    """Return who won by the end of the path, and that it was a winner where the ball bounced twice.

    Whether an error was forced is the coach's to say, so nothing more is proposed of a ball down or out.
    """
    if rally is None or not rally.server_known:
        return ()
    winner = max((Side.A, Side.B), key=lambda side: seen.fit(rally.server, side))
    fit, made = seen.fit(rally.server, winner), []
    if fit >= PROPOSED:
        made.append(RecordProposal(EntryKind.WINNER, winner.value, round(fit, 3)))
    chance = round(seen.chance_given(rally.server, winner), 3)
    if seen.word == SECOND_BOUNCE and chance >= PROPOSED and fit >= AGREES:
        made.append(RecordProposal(EntryKind.ENDING, Ending.WINNER.value, chance, winner))
    return tuple(made)
