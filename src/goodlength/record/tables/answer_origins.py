"""Who gave the answers of a rally that findings count: a person, or a proposal that nobody checked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from goodlength.record.effective_answers import (
    RallyAnswers,
    is_along,
    is_by_person,
    is_checked,
    is_unwatched,
    is_watched,
)
from goodlength.record.model import EntryKind

ANSWERS = (
    EntryKind.KIND,
    EntryKind.HOW_TAKEN,
    EntryKind.RETURN_STROKE,
    EntryKind.RETURN_TO,
    EntryKind.LEFT,
    EntryKind.WINNER,
    EntryKind.ENDING,
)
"""Answers of a rally that findings count."""


@dataclass(frozen=True)
class AnswersByOrigin:
    """How many answers were given or checked by a person, and how many nobody watched.

    One rule, that of `is_checked`, as for the check of a sample: an answer is a person's where the one that
    stands is theirs, whatever else they said of the rally. `unwatched` are answers taken in bulk; `proposed`
    those that stand as the draft put them on the sheet; `along` those that stood proposed and went along with
    another answer of a person's, without being asked for.
    """

    by_person: int
    unwatched: int
    proposed: int = 0
    along: int = 0


@dataclass(frozen=True)
class CountedAnswers:
    """The answers of some rallies by origin; `left_out` counts those of rallies that no person watched.

    With `only_watched` these are not counted in what is shown.
    """

    answers: AnswersByOrigin
    left_out: AnswersByOrigin
    only_watched: bool = False

    @property
    def nothing_is_left(self) -> bool:
        """Whether only watched rallies are counted, and none was watched."""
        counted = self.answers
        return self.only_watched and counted.by_person == 0 and bool(counted.unwatched + counted.proposed)


def answers_together(several: Iterable[AnswersByOrigin]) -> AnswersByOrigin:
    """Return the sums over several rallies or matches."""
    rows = [(each.by_person, each.unwatched, each.proposed, each.along) for each in several]
    return AnswersByOrigin(*map(sum, zip(*rows, strict=True))) if rows else AnswersByOrigin(0, 0)


def answers_of_rally(facts: RallyAnswers) -> AnswersByOrigin:
    """Return how many answers of one rally a person gave or checked, took without watching, or left."""
    by_person = unwatched = proposed = along = 0
    is_taken = any(map(is_unwatched, facts.latest.values()))
    for what in ANSWERS:
        entry = facts.latest.get((what, 0))
        if entry is None or entry.value is None:
            continue
        by_person += is_checked(facts, what)
        along += is_along(entry)
        if not is_by_person(entry):
            unwatched += is_taken
            proposed += not is_taken
    return AnswersByOrigin(by_person, unwatched, proposed, along)


def origin_of_rally(facts: RallyAnswers) -> tuple[bool, AnswersByOrigin]:
    """Return whether a person watched a rally, and its answers by origin.

    Of answers read without who gave them (`plain_answers`), which is done only where all are a person's, each
    counts as one.
    """
    if facts.latest:
        return is_watched(facts), answers_of_rally(facts)
    given = sum(facts.values.get(what) is not None for what in ANSWERS)
    return is_watched(facts), AnswersByOrigin(given, 0)
