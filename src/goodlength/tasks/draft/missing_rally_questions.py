"""Pauses of a finished sheet in which a rally may be missing: where to look again, and why.

```
 sheet      |r1|    |r2|                 |r3|   |r4|
 pauses        usual     long: a rally?      usual, but the serve of r4 fits no score without another point
```
A pause is named while the chance that it hides a rally is worth a look; what the coach answers to it settles
it, and the others are worked out anew. Nothing is written here: an answer is made of ordinary entries, a
deleted span or a rally.

Limits: a let that is missing leaves no trace in the score, and is named for a long pause alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from goodlength.measure import CoachAnswer, Observation, observe, observe_from_feet
from goodlength.measure.score.missing_rally_chances import (
    ASSUMED_LEAST_PAUSES,
    ASSUMED_MISSING,
    SETTLED,
    missing_by_pause,
    missing_chances,
)
from goodlength.media_time import MICROSECONDS, Gap
from goodlength.record.effective_answers import PAUSE_KEY
from goodlength.record.model import Match, Rally
from goodlength.scoring import Box, Side
from goodlength.scoring.match_format_rules import games_to_win, winner_at
from goodlength.tasks.draft.score_draft_proposal_and_acceptance import ASSUMED_OBSERVER_ERROR
from goodlength.tasks.footage.detected_rallies_not_on_sheet import deleted_by_key
from goodlength.tasks.footage.player_tracking import FeetSeen, feet_at_serves, rally_spans

if TYPE_CHECKING:
    from goodlength.tasks.footage.rally_detection import ListedRally
    from goodlength.tasks.match.lazy_match import OpenMatch

ASK_FROM = 0.08  # chance from which a pause is worth a look, chosen on two invented matches: docs/bench.md
ASSUMED_MOST_ASKED = 5  # open questions and pauses said to hold no rally; those with a rally do not count
ASSUMED_DELETED_WRONGLY = 0.05  # expected where the coach deleted what was detected
ASSUMED_SETTLED_SHARE = 0.8  # of a pause deleted as one, or of the part played: it was answered
ASSUMED_LONG_RATIO = 1.6  # of the usual pause: said to be long
ASSUMED_BY_SCORE_RATIO = 3.0  # of the chance by the pause alone: said to be for the score
LEAST_SPAN_US = 1_500_000
SHORTEST_PAUSE_US = 3_000_000  # nothing that could be a rally has room in less


@dataclass(frozen=True)
class MissingRallyQuestion:
    """A pause in which a rally may be missing.

    `after` is the rally before it; the pause lies from `start_us` to `end_us` of match time, and a rally in
    it perhaps from `likely_start_us` to `likely_end_us`. The reasons: `is_long` beside the match's usual
    `usual_pause_s`; `is_by_score`, the winners on the sheet and who served next fit better with another
    point; `ends_short`, the sheet ends a point before the match is over; `was_deleted`, a detected rally was
    deleted here. `are_places_known`: of some rally it is known where the players stood at the serve.
    """

    after: str
    start_us: int
    end_us: int
    likely_start_us: int
    likely_end_us: int
    chance: float
    usual_pause_s: float
    is_long: bool
    is_by_score: bool
    ends_short: bool
    was_deleted: bool
    are_places_known: bool = True


def missing_rally_questions(opened: OpenMatch) -> tuple[MissingRallyQuestion, ...]:
    """Return the pauses worth a look, the likeliest first; none while a winner is missing on the sheet."""
    match = opened.match
    rallies = match.rallies
    if opened.timeline is None or any(not _is_decided(rally) for rally in rallies) or len(rallies) < 2:
        return ()
    pauses = [_Pause.between(a, b) for a, b in pairwise(rallies)]
    by_key = deleted_by_key(opened)
    empty_parts = [span for key, span in by_key.items() if key.startswith(PAUSE_KEY)]
    deleted = [span for key, span in by_key.items() if not key.startswith(PAUSE_KEY)]
    lengths = np.array([pause.length_s for pause in pauses])
    usual_s = float(np.nanmedian(lengths)) if np.isfinite(lengths).any() else 0.0
    likely = [pause.likely_span([s for s in deleted if pause.holds(s)], usual_s) for pause in pauses]
    settled = [
        any(pause.is_filled_by(span) for span in by_key.values())
        or any(_is_within(part, span) for span in empty_parts)
        for pause, part in zip(pauses, likely, strict=True)
    ]
    left = ASSUMED_MOST_ASKED - sum(settled)
    if left <= 0:
        return ()
    by_pause = missing_by_pause(lengths, _usual_rally_s(rallies))
    dropped = [any(pause.holds(span) for span in deleted) for pause in pauses]
    expected = np.where(dropped, np.maximum(by_pause, ASSUMED_DELETED_WRONGLY), by_pause)
    expected = np.where(settled, SETTLED, expected)
    ends_short = is_a_point_short(match)
    seen = _seen(opened, rallies, expected)
    chances = missing_chances(
        match.info.format,
        match.info.start,
        seen,
        [
            CoachAnswer(rally.key, winner=None if rally.let else rally.winner, no_point=rally.let)
            for rally in rallies
        ],
        ASSUMED_MISSING,
        is_over=_is_over_by_rallies(match) or ends_short,
    )[1:-1]
    is_usual_known = int(np.isfinite(lengths).sum()) >= ASSUMED_LEAST_PAUSES
    are_places_known = any(not serve.blank for serve in seen)
    found = [
        MissingRallyQuestion(
            pause.after,
            pause.start_us,
            pause.end_us,
            part[0],
            part[1],
            float(chance),
            usual_s,
            bool(is_usual_known and pause.length_s > ASSUMED_LONG_RATIO * usual_s),
            bool(chance > ASSUMED_BY_SCORE_RATIO * before),
            ends_short,
            was_deleted,
            are_places_known,
        )
        for pause, part, chance, before, was_deleted, is_settled in zip(
            pauses, likely, chances.tolist(), expected.tolist(), dropped, settled, strict=True
        )
        if chance >= ASK_FROM and not is_settled and pause.has_room(opened)
    ]
    return tuple(sorted(found, key=lambda question: -question.chance)[:left])


@dataclass(frozen=True)
class _Pause:
    """What lies between two rallies; without a length where a time is missing, or a game ended."""

    after: str
    start_us: int
    end_us: int
    length_s: float

    @classmethod
    def between(cls, a: Rally, b: Rally) -> _Pause:
        if a.start_us is None or b.start_us is None:
            return cls(a.key, 0, 0, float("nan"))
        start, end = a.end_us or a.start_us, b.start_us
        is_within = a.game == b.game and end > start
        return cls(a.key, start, end, (end - start) / MICROSECONDS if is_within else float("nan"))

    def holds(self, span: tuple[int, int]) -> bool:
        return self.start_us <= span[0] and span[1] <= self.end_us and not self.is_filled_by(span)

    def is_filled_by(self, span: tuple[int, int]) -> bool:
        common = min(self.end_us, span[1]) - max(self.start_us, span[0])
        return common > 0 and common >= ASSUMED_SETTLED_SHARE * max(
            self.end_us - self.start_us, span[1] - span[0]
        )

    def has_room(self, opened: OpenMatch) -> bool:
        timeline = opened.timeline
        if timeline is None or self.end_us - self.start_us < SHORTEST_PAUSE_US:
            return False
        places = [timeline.locate(self.start_us), timeline.locate(self.end_us)]
        return not any(isinstance(place, Gap) for place in places)

    def likely_span(self, deleted: Sequence[tuple[int, int]], usual_s: float) -> tuple[int, int]:
        """Return where a rally would be: what was deleted, else what a usual pause on both sides leaves."""
        if deleted:
            start, end = max(deleted, key=lambda span: span[1] - span[0])
            return start, max(end, min(start + LEAST_SPAN_US, self.end_us))
        room = self.end_us - self.start_us
        aside = min(round(usual_s * MICROSECONDS), (room - min(room, LEAST_SPAN_US)) // 2)
        return self.start_us + aside, self.end_us - aside


def _is_within(part: tuple[int, int], span: tuple[int, int]) -> bool:
    common = min(part[1], span[1]) - max(part[0], span[0])
    return common > 0 and common >= ASSUMED_SETTLED_SHARE * (part[1] - part[0])


def is_a_point_short(match: Match) -> bool:
    """Return whether one more point for the leader would end the match with which the sheet stops."""
    following, fmt = match.next, match.info.format
    if following is None:
        return False
    a, b = following.points
    ends = {Side.A: (a + 1, b), Side.B: (a, b + 1)}
    return any(
        winner_at(fmt, points) is side and match.games_won[side.place] + 1 == games_to_win(fmt)
        for side, points in ends.items()
    )


def _is_over_by_rallies(match: Match) -> bool:
    """Return whether the points of the rallies ended the match, and no conduct or retirement did."""
    ended = {rally.game for rally in match.rallies if rally.ends_game is not None}
    return match.how_over == "won" and len(ended) == sum(match.games_won) - sum(match.info.start.games)


def _is_decided(rally: Rally) -> bool:
    return rally.certain and (rally.let or rally.winner is not None)


def _usual_rally_s(rallies: Sequence[Rally]) -> float:
    lengths = [
        (rally.end_us - rally.start_us) / MICROSECONDS
        for rally in rallies
        if rally.start_us is not None and rally.end_us is not None
    ]
    return float(np.median(lengths)) if lengths else 0.0


def _seen(opened: OpenMatch, rallies: Sequence[Rally], expected: NDArray[np.float64]) -> list[Observation]:
    """Return who stood where at each serve: as the coach saw it, else by the players followed."""
    feet = feet_at_serves(opened)
    detected = {row.key: found for _, row, found in rally_spans(opened) if row and found}
    before = [ASSUMED_MISSING, *expected.tolist()]
    return [
        _observation(rally.key, detected.get(rally.key), feet, missed)
        for rally, missed in zip(rallies, before, strict=True)
    ]


def _observation(
    key: str, found: ListedRally | None, feet: dict[str, FeetSeen], missed: float
) -> Observation:
    if found is None or (not found.seen and found.id not in feet):
        return observe(key, missed_before=missed)
    if not found.seen:
        a, b, swapped = feet[found.id]
        return observe_from_feet(key, a, b, swap_rate=swapped, missed_before=missed)
    server, _, box = found.seen.partition("-")
    return observe(
        key,
        Side(server),
        Box(box),
        server_error_rate=ASSUMED_OBSERVER_ERROR,
        box_error_rate=ASSUMED_OBSERVER_ERROR,
        missed_before=missed,
    )
