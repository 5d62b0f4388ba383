"""What became of proposals: changed, checked or taken unwatched, and what a checked sample of them can show.

```
 proposed, with a chance ──┬─ watched: as proposed, or changed by the coach
                           └─ taken unwatched
```
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass, replace

from goodlength.errors import OutOfRange
from goodlength.record.answer_enumerations import QUARTERS
from goodlength.record.effective_answers import (
    DOUBTFUL_TAB,
    DRAFT_SLOT,
    DRAFT_TAB,
    SAMPLE_SLOT,
    EffectiveAnswers,
    RallyAnswers,
    is_along,
    is_checked,
    is_drafted,
    is_sample,
    is_unwatched,
    is_watched,
    tab_of,
)
from goodlength.record.entry_value_types import ProposedAnswer, ProposedValue
from goodlength.record.model import EntryKind, Match, Rally, Return, Serve
from goodlength.record.tables.answer_origins import (
    ANSWERS,
    AnswersByOrigin,
    answers_of_rally,
    answers_together,
)


@dataclass(frozen=True)
class ProposalRate:
    """How often what was proposed to one question stood, where a person checked it.

    A question is checked by an answer of a person's own; server and box, which follow from the score, in each
    rally that a person watched.
    `sample_checked` and `sample_changed` count the rallies that were drawn at random alone.
    """

    what: str
    by: str
    checked: int
    changed: int
    sample_checked: int
    sample_changed: int


def most_wrong_share(wrong: int, checked: int, level: float = 0.95) -> float:
    """Return the largest share that could be wrong in all, where some of a random sample were.

    The upper end of the exact one-sided range: with this share, a sample with no more wrong ones comes up
    in 1 - `level` of all draws. With none wrong it is 1 - (1 - level)**(1 / checked).

    Parameters
    ----------
    wrong, checked : int
        How many of the sample were wrong, and its size; 0 <= wrong <= checked, checked at least 1.
    level : float
        How often the true share should be smaller, 0 to 1.

    Raises
    ------
    OutOfRange
        For a count that cannot be.

    Source
    ------
    CLOPPER-1934: the quantile of beta(wrong + 1, checked - wrong) at `level`.

    Limits
    ------
    The rallies are drawn without putting any back; from few, the true limit is somewhat smaller.

    Examples
    --------
    >>> round(most_wrong_share(0, 10), 3)
    0.259
    """
    if not 0 <= wrong <= checked or checked < 1:
        raise OutOfRange(
            f"A sample has a size of 1 or more and from none to all of it wrong; got {wrong} of {checked}."
        )
    if wrong == checked:
        return 1.0
    from scipy.special import betaincinv

    return float(betaincinv(wrong + 1, checked - wrong, level))


def proposals_of(facts: RallyAnswers) -> Mapping[EntryKind, tuple[str, ProposedAnswer]]:
    """Return what was proposed to each question of a rally, and by what."""
    found: dict[EntryKind, tuple[str, ProposedAnswer]] = {}
    for slot in (0, SAMPLE_SLOT, DRAFT_SLOT):
        entry = facts.latest.get((EntryKind.PROPOSED, slot))
        value = None if entry is None else entry.content
        if isinstance(value, ProposedValue):
            found |= answers_in(value)
    return found


def answers_in(value: ProposedValue) -> Mapping[EntryKind, tuple[str, ProposedAnswer]]:
    """Return what a proposal says to each question, and by what it was made."""
    known = (answer for answer in value.answers if answer.what in _KNOWN)
    return {EntryKind(answer.what): (value.by, answer) for answer in known}


_KNOWN = frozenset(what.value for what in EntryKind)
_BY_THE_SCORE = frozenset({EntryKind.SERVER, EntryKind.BOX})


def is_sampled(facts: RallyAnswers) -> bool:
    """Return whether the program has drawn a rally for the coach to check."""
    entry = facts.latest.get((EntryKind.PROPOSED, SAMPLE_SLOT))
    return entry is not None and is_sample(entry)


def final_answer(rally: Rally, what: EntryKind) -> str | None:
    """Return how a question of a rally stands now; None where it is not recorded.

    Where a return went may be said in words that no path proposes ("straight"); these are not compared with a
    quarter, so they count as not recorded.
    """
    if what is EntryKind.SERVER:
        return rally.server.value if rally.server_known else None
    if what is EntryKind.BOX:
        return rally.box.value if rally.box_known else None
    if what is EntryKind.WINNER:
        return "let" if rally.let else None if rally.winner is None else rally.winner.value
    if what is EntryKind.KIND:
        return rally.serve.kind
    if what is EntryKind.RETURN_TO:
        return rally.ret.to if rally.ret.to in QUARTERS else None
    word = {
        EntryKind.HOW_TAKEN: rally.ret.how,
        EntryKind.RETURN_STROKE: rally.ret.stroke,
        EntryKind.LEFT: rally.ret.left,
        EntryKind.ENDING: rally.ending,
    }.get(what)
    return None if word is None else word.value


def changed_answers(
    rally: Rally, proposals: Mapping[EntryKind, tuple[str, ProposedAnswer]]
) -> tuple[EntryKind, ...]:
    """Return which proposals of a rally do not stand any more: the coach has answered otherwise.

    A question passed without an answer counts as unchanged; a let in place of a winner is a change.
    """
    return tuple(
        what
        for what, (_, answer) in proposals.items()
        if (final := final_answer(rally, what)) is not None and final != answer.value
    )


def answers_by_origin(answers: EffectiveAnswers, rallies: Set[str] | None = None) -> AnswersByOrigin:
    """Return how many answers a person gave or checked, took without watching, or left as proposed.

    Parameters
    ----------
    rallies : set of str, optional
        Keys of the rallies to count; all where left out.
    """
    return answers_together(
        answers_of_rally(facts) for facts in answers.facts if rallies is None or facts.key in rallies
    )


def unwatched_rallies(answers: EffectiveAnswers) -> Set[str]:
    """Return the keys of rallies of which no person has answered anything."""
    return {facts.key for facts in answers.facts if not facts.is_between and not is_watched(facts)}


def watched_rallies(answers: EffectiveAnswers) -> Mapping[str, bool]:
    """Return by key whether a person watched a rally, for each rally that has an answer."""
    return {
        facts.key: is_watched(facts)
        for facts in answers.facts
        if not facts.is_between
        and (is_watched(facts) or any(facts.values.get(what) is not None for what in ANSWERS))
    }


def drafted_rallies(answers: EffectiveAnswers) -> Mapping[str, str]:
    """Return the tab of the draft, by key, of rallies that stand as it put them on the sheet."""
    found = {}
    for facts in answers.facts:
        if is_watched(facts) or any(map(is_unwatched, facts.latest.values())):
            continue
        answers_of = [entry for what in ANSWERS if (entry := facts.latest.get((what, 0))) is not None]
        tabs = {tab_of(entry.observer) for entry in answers_of if is_drafted(entry)}
        if tabs:
            found[facts.key] = DOUBTFUL_TAB if DOUBTFUL_TAB in tabs else DRAFT_TAB
    return found


def without_answers(match: Match, keys: Set[str]) -> Match:
    """Return a match in which some rallies stand at their place, with nothing recorded of how they went."""
    return replace(
        match,
        rallies=tuple(
            replace(
                rally,
                serve=Serve(),
                ret=Return(),
                winner=None,
                ending=None,
                ending_stroke=None,
                ending_place=None,
            )
            if rally.key in keys
            else rally
            for rally in match.rallies
        ),
    )


def proposal_rates(match: Match, answers: EffectiveAnswers) -> tuple[ProposalRate, ...]:
    """Return how often proposals stood where a person checked them, question by question.

    Of a question whose answer went along with another in some rally there is no rate: of such rallies only
    the wrong ones are answered, so a rate would be of these alone.
    """
    rallies = {rally.key: rally for rally in match.rallies}
    counts: dict[tuple[str, str], list[int]] = {}
    went_along: set[str] = set()
    for facts in answers.facts:
        rally = rallies.get(facts.key)
        if rally is None or not is_watched(facts):
            continue
        proposals = proposals_of(facts)
        changed, sampled = changed_answers(rally, proposals), is_sampled(facts)
        for what, (by, _) in proposals.items():
            entry = facts.latest.get((what, 0))
            if entry is not None and is_along(entry):
                went_along.add(what.value)
            checked = what in _BY_THE_SCORE or what in changed or is_checked(facts, what)
            if not checked or final_answer(rally, what) is None:
                continue
            row = counts.setdefault((what.value, by), [0, 0, 0, 0])
            row[0] += 1
            row[1] += what in changed
            row[2] += sampled
            row[3] += sampled and what in changed
    order = [what.value for what in (EntryKind.SERVER, EntryKind.BOX, *ANSWERS)]
    known = [pair for pair in counts if pair[0] in order and pair[0] not in went_along]
    known.sort(key=lambda pair: (order.index(pair[0]), pair[1]))
    return tuple(ProposalRate(what, by, *counts[what, by]) for what, by in known)
