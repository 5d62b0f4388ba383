"""How often what was proposed is wrong: a beta posterior from the chances stated and from answers checked.

```
 chances stated ──> prior worth `ASSUMED_WEIGHT` answers ──┐
 answers a person checked: stood, changed ─────────────────┴──> posterior of the error rate, by question
```
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from goodlength.errors import OutOfRange
from goodlength.measure.draft.proposal_acceptance_rates import proposal_rates, proposals_of
from goodlength.record.effective_answers import EffectiveAnswers, RallyAnswers, is_checked
from goodlength.record.model import EntryKind, Match
from goodlength.record.tables.rally_table import UncheckedAnswers

COLUMNS = {
    "kind": EntryKind.KIND,
    "how_taken": EntryKind.HOW_TAKEN,
    "left": EntryKind.LEFT,
    "winner": EntryKind.WINNER,
    "ending": EntryKind.ENDING,
}
"""Columns of the rally table whose answers may have been proposed."""

ASSUMED_WEIGHT = 4.0  # answers that the stated chances are worth, as many as a sample has
ASSUMED_MOST_ERROR = 0.95  # and so many are right, however unsure they are
ASSUMED_LEAST_ERROR = 0.05  # of every hundred answers so many are wrong beforehand, however sure they are


def error_posterior(stated: float, changed: int, checked: int) -> tuple[float, float]:
    """Return the beta posterior of the share of wrong answers: the parameters of wrong and of right.

    Parameters
    ----------
    stated : float
        Mean error that the chances of the proposals state, 0 to 1.
    changed, checked : int
        Of those a person checked, how many were changed, and how many there were.

    Raises
    ------
    OutOfRange
        For a share or a count that cannot be.

    Limits
    ------
    What is checked outside the sample is mostly what was unsure, and is wrong more often: the rate is then
    too high, and ranges too wide. Whoever confirms without looking makes it too low.

    Examples
    --------
    >>> error_posterior(0.05, 0, 10)
    (0.2, 13.8)
    """
    if not 0.0 <= stated <= 1.0 or not 0 <= changed <= checked:
        raise OutOfRange(
            f"An error rate needs a share from 0 to 1 and no more changed than checked; got {stated:g}, "
            f"{changed} of {checked}."
        )
    error = min(max(stated, ASSUMED_LEAST_ERROR), ASSUMED_MOST_ERROR)
    return (
        round(ASSUMED_WEIGHT * error + changed, 6),
        round(ASSUMED_WEIGHT * (1.0 - error) + checked - changed, 6),
    )


def unchecked_answers(
    match: Match, answers: EffectiveAnswers, keys: Sequence[str]
) -> UncheckedAnswers | None:
    """Return which answers of a match nobody checked, and how often such are wrong; None where all are.

    Parameters
    ----------
    keys : sequence of str
        The rallies of the table, in its order.
    """
    by_key = {facts.key: facts for facts in answers.facts}
    rallies = [by_key.get(key) for key in keys]
    rows: dict[str, Any] = {}
    for column, what in COLUMNS.items():
        found = np.array([facts is not None and _is_unchecked(facts, what) for facts in rallies], dtype=bool)
        if found.any():
            rows[column] = found
    if not rows:
        return None
    rates = proposal_rates(match, answers)
    wrong = {}
    for column, found in rows.items():
        what = COLUMNS[column]
        some = [facts for facts, unchecked in zip(rallies, found, strict=True) if unchecked and facts]
        mine = [rate for rate in rates if rate.what == what.value]
        stated = float(np.mean([_stated_error(facts, what) for facts in some]))
        wrong[column] = error_posterior(
            stated, sum(rate.changed for rate in mine), sum(rate.checked for rate in mine)
        )
    return UncheckedAnswers(rows, wrong)


def _is_unchecked(facts: RallyAnswers, what: EntryKind) -> bool:
    entry = facts.latest.get((what, 0))
    return entry is not None and entry.value is not None and not is_checked(facts, what)


def _stated_error(facts: RallyAnswers, what: EntryKind) -> float:
    """Return the chance that an answer is wrong as it was proposed; the least where none was stated."""
    given = proposals_of(facts).get(what)
    return ASSUMED_LEAST_ERROR if given is None else 1.0 - given[1].chance
