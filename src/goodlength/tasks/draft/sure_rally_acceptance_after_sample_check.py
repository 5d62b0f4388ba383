"""Rallies in which every answer is sure, taken unwatched after a random sample of ten that the coach checks.

```
 sure rallies ── ten at random ── the coach watches each ──┬─ all right: the others can be taken unwatched
                                                            └─ one wrong: the offer is withdrawn
```
What is taken so ("taken unwatched" in every text) bears the tab "taken-unseen", with the chances it was
proposed with; it is undone as one.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING, Literal

from goodlength.errors import Conflict, InputError
from goodlength.measure.draft.proposal_acceptance_rates import (
    answers_in,
    changed_answers,
    final_answer,
    most_wrong_share,
    proposals_of,
)
from goodlength.record.effective_answers import (
    DRAFT_SLOT,
    PROGRAM_TABS,
    SAMPLE_TAB,
    UNWATCHED_TAB,
    RallyAnswers,
    is_checked,
    is_drafted,
    is_sample,
    is_taken,
    is_to_confirm,
    is_touched,
    is_unwatched,
    is_watched,
    layer_of,
    tab_of,
)
from goodlength.record.entry_ids_and_timestamps import utc_now
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.entry_value_types import ProposedValue
from goodlength.record.model import Depth, Entry, EntryKind, Rally
from goodlength.tasks.draft.answer_proposals_from_ball_path import (
    RallyProposals,
    RecordProposal,
    path_proposals,
)
from goodlength.tasks.match.lazy_match import open_match
from goodlength.tasks.match.match_editing_and_answers import AppendResult, record_answers

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

SAMPLE = 10  # rallies checked before the others can be taken
SURE = 0.97  # least chance of the server and the box, as of the winners that the draft offers
SURE_PATH = 0.9  # least chance of an answer from the ball's path, as Record proposes it
State = Literal["none", "offered", "checking", "ready", "withdrawn", "taken"]


@dataclass(frozen=True)
class BulkOffer:
    """What can be taken unwatched, and how far the check of the sample is.

    `sure` are the keys of the rallies that could be taken, without the sample; `sample` those drawn, in the
    order drawn, with how many were found right and wrong; `to_check` are those of it that no person has
    answered: a question skipped is not checked. `taken` counts rallies taken unwatched.
    `expected_wrong` is how many of `sure` are wrong by their own chances, `most_wrong_share` the share that
    could be wrong at most (95%) by the sample alone. `earlier_draws` counts samples of drafts that were since
    removed or added to. `score` is the score that the sheet ends with, the first-named player's points first,
    and `over` whether the match is over with it.
    """

    state: State
    sure: tuple[str, ...]
    sample: tuple[str, ...]
    right: int
    wrong: int
    taken: int
    expected_wrong: float
    most_wrong_share: float
    to_check: tuple[str, ...] = ()
    earlier_draws: int = 0
    score: str = ""
    over: bool = False


@dataclass(frozen=True)
class _SureRally:
    """A rally that could be taken, its kind of serve as its path has it, the chance that all is right."""

    key: str
    kind: RecordProposal
    chance: float


def bulk_offer(opened: OpenMatch) -> BulkOffer:
    """Return what can be taken unwatched of a match as it stands."""
    sample = _sample(opened)
    sure = [rally for rally in _sure_rallies(opened) if rally.key not in sample]
    facts = {fact.key: fact for fact in opened.answers.facts}
    rallies = {rally.key: rally for rally in opened.match.rallies}
    checked = [_checked(key, value, rallies, facts) for key, value in sample.items()]
    right, wrong = checked.count(True), checked.count(False)
    taken = sum(any(map(is_taken, fact.latest.values())) and not is_watched(fact) for fact in facts.values())
    return BulkOffer(
        _state(len(sure), len(sample), right, wrong, taken)
        if opened.info.depth is Depth.SCORE
        else ("taken" if taken else "none"),
        tuple(rally.key for rally in sure),
        tuple(sample),
        right,
        wrong,
        taken,
        sum(1.0 - rally.chance for rally in sure),
        most_wrong_share(wrong, right + wrong) if right + wrong else 1.0,
        tuple(key for key, found in zip(sample, checked, strict=True) if found is None),
        _draws(opened) - bool(sample),
        " ".join(f"{game.points[0]}–{game.points[1]}" for game in opened.match.games if any(game.points)),
        opened.match.next is None,
    )


def _state(sure: int, sample: int, right: int, wrong: int, taken: int) -> State:
    if wrong:
        return "taken" if taken else "withdrawn"
    if sample and right < sample:
        return "checking"
    if sure and sample:
        return "ready"
    if sure > SAMPLE:
        return "offered"
    return "taken" if taken else "none"


def draw_sample(opened: OpenMatch, rng: random.Random | None = None) -> AppendResult:
    """Draw ten of the sure rallies at random, for the coach to check; what is proposed of them is kept.

    A sample that was drawn stays as long as its draft. Whoever removes the draft and adds it again can draw
    again: `earlier_draws` counts that, and the card says it. Drawn in two windows at once, the first stands
    and is the answer to both.

    Raises
    ------
    InputError
        Too few rallies are sure, or a sample was drawn already.
    """
    offer = bulk_offer(opened)
    if offer.sample:
        raise InputError("Ten rallies were drawn already. Check those; then the others can be taken.")
    if offer.state != "offered":
        raise InputError(
            f"{len(offer.sure)} rallies are sure in every answer; more than {SAMPLE} are needed to take some "
            "unwatched. Go through them one by one."
        )
    rng = rng or random.SystemRandom()
    chosen = frozenset(rng.sample(offer.sure, SAMPLE))
    pen = _pen(opened, SAMPLE_TAB)
    for rally in _sure_rallies(opened):
        if rally.key in chosen:
            pen.write(rally.key, EntryKind.PROPOSED, _proposed(rally, sample=True))
    return _record_once(opened, pen)


def take_unwatched(opened: OpenMatch) -> AppendResult:
    """Take every sure rally as it is proposed, once the sample was found right.

    How a rally ended is passed, as with one press a rally. Taken in two windows at once, they are taken once.

    Raises
    ------
    InputError
        The sample is not checked, or one of it was wrong; or all were taken already.
    """
    offer = bulk_offer(opened)
    if offer.state == "withdrawn":
        wrong = "One of the ten was" if offer.wrong == 1 else f"{offer.wrong} of the ten were"
        raise InputError(f"{wrong} wrong, so the others are not taken together. Go through them.")
    if offer.state == "taken":
        raise InputError(
            f"The sure rallies are taken already: {offer.taken} were taken unwatched. Undo that, "
            "or open any line of the sheet to watch and correct it."
        )
    if offer.state != "ready":
        raise InputError(
            f"{offer.right} of {len(offer.sample) or SAMPLE} drawn rallies were checked and found right. "
            "Check them all first; then the others can be taken."
        )
    pen, wanted = _pen(opened, UNWATCHED_TAB), frozenset(offer.sure)
    for rally in _sure_rallies(opened):
        if rally.key not in wanted:
            continue
        pen.write(rally.key, EntryKind.PROPOSED, _proposed(rally))
        pen.write(rally.key, EntryKind.KIND, rally.kind.value)
        pen.write(rally.key, EntryKind.ENDING, None)
    return _record_once(opened, pen)


def withdraw_unwatched(opened: OpenMatch) -> AppendResult:
    """Undo all rallies that are taken unwatched, in however many steps: one step for all of them.

    Raises
    ------
    InputError
        None were taken, or all of them were undone already.
    """
    standing = [entry for entry in _own_standing(opened) if is_taken(entry)]
    if not standing:
        raise InputError("No rallies are taken unwatched now, so there is nothing to undo.")
    rallies = {entry.rally for entry in standing}
    pen = _pen(opened, UNWATCHED_TAB)
    for entry in reversed(standing):
        if entry.rally in rallies:
            pen.undo(entry)
    return _record_once(opened, pen)


def _pen(opened: OpenMatch, tab: str) -> EntryWriter:
    """Return a pen whose ids follow from what the tab has written so far: one step gets them only once."""
    layer = layer_of(opened.info.observer)
    before = sum(entry.observer == f"{layer}/{tab}" for entry in opened.entries)
    state = sha256("\n".join((opened.id, layer, tab, str(before))).encode()).hexdigest()[:16]
    return EntryWriter(opened.id, f"{layer}/{tab}", utc_now(), mark=f"{tab}-{state}-")


def _record_once(opened: OpenMatch, pen: EntryWriter) -> AppendResult:
    """Write a step down; where another window has taken the same one, what it wrote stands.

    Raises
    ------
    Conflict
        Something else was written at the same moment, and the step was not taken.
    """
    try:
        return record_answers(opened.library, opened.id, pen.entries)
    except Conflict:
        now = open_match(opened.library, opened.id)
        if pen.entries[0].id not in {entry.id for entry in now.entries}:
            raise
        return AppendResult((False,) * len(pen.entries), now)


def _mark_of(entry: Entry) -> str:
    """Return what the ids of one step have in common."""
    return entry.id.rpartition("-")[0]


def _proposed(rally: _SureRally, *, sample: bool = False) -> dict[str, object]:
    kind = rally.kind
    answer = {"what": kind.what.value, "value": kind.value, "chance": kind.chance}
    return {"by": "ball-path", "answers": [answer], **({"sample": True} if sample else {})}


def _own_standing(opened: OpenMatch) -> list[Entry]:
    layer, gone = layer_of(opened.info.observer), opened.undone
    return [
        entry
        for entry in opened.entries
        if entry.id not in gone and entry.what is not EntryKind.UNDO and layer_of(entry.observer) == layer
    ]


def _sample(opened: OpenMatch) -> Mapping[str, ProposedValue]:
    """Return the rallies drawn since the newest draft was added, with what was proposed of each.

    A sample is ten different rallies that the program drew as one step; it is undone by the program alone.
    An older one says nothing of the draft.
    """
    layer, gone = layer_of(opened.info.observer), opened.undone
    mine = [entry for entry in opened.entries if layer_of(entry.observer) == layer]
    taken_back = {
        entry.replaces
        for entry in mine
        if entry.what is EntryKind.UNDO and tab_of(entry.observer) in PROGRAM_TABS and entry.id not in gone
    }
    steps: dict[str, dict[str, ProposedValue]] = {}
    for entry in mine:
        value = entry.content if entry.what is EntryKind.PROPOSED else None
        if not isinstance(value, ProposedValue) or entry.id in taken_back:
            continue
        if value.by == "score-draft" and is_drafted(entry):
            steps.clear()
        elif is_sample(entry):
            steps.setdefault(_mark_of(entry), {})[entry.rally] = value
    return next((step for step in steps.values() if len(step) == SAMPLE), {})


def _draws(opened: OpenMatch) -> int:
    """Return how many samples were drawn in a match, those of drafts that were removed included."""
    layer = layer_of(opened.info.observer)
    return len(
        {
            _mark_of(entry)
            for entry in opened.entries
            if is_sample(entry) and layer_of(entry.observer) == layer
        }
    )


def _checked(
    key: str, proposed: ProposedValue, rallies: Mapping[str, Rally], facts: Mapping[str, RallyAnswers]
) -> bool | None:
    """Return whether a rally of the sample was found right; None while a person has not said who won it.

    The kind of serve is shown, not asked: it is wrong where the person answered otherwise, never right.
    Server and box follow from the rallies before: they are wrong here only where the person corrected them
    here. Else one corrected winner would count twice.
    """
    if key not in rallies:
        return False  # deleted: it was no rally
    rally, known = rallies[key], facts[key]
    proposals = {**proposals_of(known), **answers_in(proposed)}
    changed = changed_answers(rally, proposals)
    wrong = any(what not in (EntryKind.SERVER, EntryKind.BOX) or is_checked(known, what) for what in changed)
    if wrong or rally.let or rally.called_otherwise is not None:
        return False
    return True if is_checked(known, EntryKind.WINNER) else None


def _sure_rallies(opened: OpenMatch) -> list[_SureRally]:
    """Return the rallies in which server, winner and kind of serve are proposed surely, none watched.

    Only at the depth *score*: deeper, more would be taken than the ten are asked about.
    """
    paths = path_proposals(opened) if opened.info.depth is Depth.SCORE else ()
    if not paths:
        return []
    facts = {fact.key: fact for fact in opened.answers.facts}
    faulty = {fault.key for fault in opened.match.faults if fault.key}
    found = []
    for rally in opened.match.rallies:
        known = facts[rally.key]
        if rally.key in faulty or known.clashes or not _draft_is_sure(rally, known):
            continue
        path = _path_of(rally, paths)
        if path is not None and path.contradicts(rally):
            continue
        kind = None if path is None else _sure_kind(path)
        if kind is not None:
            chance = min(given.chance for _, given in proposals_of(known).values())
            found.append(_SureRally(rally.key, kind, chance * kind.chance))
    return found


def _sure_kind(path: RallyProposals) -> RecordProposal | None:
    """Return the kind of serve that the path proposes; None where it is not sure."""
    kinds = (answer for answer in path.answers if answer.what is EntryKind.KIND)
    return next((answer for answer in kinds if answer.chance >= SURE_PATH), None)


def _draft_is_sure(rally: Rally, known: RallyAnswers) -> bool:
    """Return whether winner, server and box are the draft's, surely, and nobody has watched the rally."""
    winner, draft = (
        known.latest.get((EntryKind.WINNER, 0)),
        known.latest.get((EntryKind.PROPOSED, DRAFT_SLOT)),
    )
    if winner is None or draft is None or not is_drafted(winner) or is_to_confirm(winner):
        return False
    if is_touched(known) or any(map(is_unwatched, known.latest.values())):
        return False
    if not rally.certain or rally.let or rally.start_us is None or rally.end_us is None:
        return False
    value = draft.content
    if not isinstance(value, ProposedValue):
        return False
    given = {answer.what: answer for answer in value.answers}
    return all(
        what.value in given
        and final_answer(rally, what) == given[what.value].value
        and given[what.value].chance >= SURE
        for what in (EntryKind.SERVER, EntryKind.BOX, EntryKind.WINNER)
    )


def _path_of(rally: Rally, paths: Sequence[RallyProposals]) -> RallyProposals | None:
    """Return the followed rally that covers over half of a rally's time."""
    if rally.start_us is None or rally.end_us is None:
        return None
    for path in paths:
        common = min(rally.end_us, path.end_us) - max(rally.start_us, path.start_us)
        if 2 * common > rally.end_us - rally.start_us:
            return path
    return None
