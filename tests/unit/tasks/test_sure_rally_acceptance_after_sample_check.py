"""Sure rallies: ten drawn for a check, the others taken in bulk as one step, and what became of proposals."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import InputError
from goodlength.measure.draft.proposal_acceptance_rates import (
    answers_by_origin,
    changed_answers,
    final_answer,
    proposal_rates,
    unwatched_rallies,
)
from goodlength.measure.draft.winner_likelihood_from_rally_ending import EndingSeen
from goodlength.record.effective_answers import is_unwatched, is_watched
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.entry_value_types import ProposedAnswer
from goodlength.record.model import Depth, EntryKind
from goodlength.tasks.draft import sure_rally_acceptance_after_sample_check
from goodlength.tasks.draft.answer_proposals_from_ball_path import RallyProposals, RecordProposal
from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import (
    SAMPLE,
    BulkOffer,
    bulk_offer,
    draw_sample,
    take_unwatched,
    withdraw_unwatched,
)
from tests.unit.tasks.test_score_draft_task import library, played  # noqa: F401  (fixture)

Offer = Callable[[], BulkOffer]


def kind_of(n: int) -> str:
    return ("lob", "hard", "mid-height")[n % 3]


@pytest.fixture
def drafted(library: Any, monkeypatch: pytest.MonkeyPatch) -> Any:  # noqa: F811
    """A match with its draft on the sheet, at the depth score; each fifth kind of serve is unsure."""
    tasks.change_match(library, "m1", depth=Depth.SCORE)
    events, scores = played(library)
    tasks.draft_match(tasks.open_match(library, "m1"), scores)
    tasks.accept_draft(tasks.open_match(library, "m1"))
    rallies = tasks.show_match(library, "m1").rallies
    found = tuple(
        RallyProposals(
            rally.key,
            rally.start_us or 0,
            rally.end_us or 0,
            (RecordProposal(EntryKind.KIND, kind_of(n), 0.96),),
        )
        for n, rally in enumerate(rallies)
        if n % 5
    )
    monkeypatch.setattr(sure_rally_acceptance_after_sample_check, "path_proposals", lambda _: found)
    assert len(rallies) == len(events)
    return library


def offer(of: Any) -> BulkOffer:
    return bulk_offer(tasks.open_match(of, "m1"))


def confirm(of: Any, key: str, **otherwise: str) -> None:
    """The coach watches a rally and takes it, or says something else of it."""
    opened = tasks.open_match(of, "m1")
    n = [rally.key for rally in opened.match.rallies].index(key)
    rally = opened.rally(key)
    winner = rally.winner.value if rally.winner else "a"
    pen = EntryWriter("m1", "coach/t1")
    pen.write(key, EntryKind.KIND, otherwise.get("kind", kind_of(n)))
    pen.write(key, EntryKind.WINNER, otherwise.get("winner", winner), "anything")
    pen.write(key, EntryKind.ENDING, None)
    tasks.record_answers(of, "m1", pen.entries)


def test_sure_rallies_are_offered_and_taken_as_one_step_after_ten_were_found_right(drafted: Any) -> None:
    begin = offer(drafted)
    rallies = tasks.show_match(drafted, "m1").rallies
    assert begin.state == "offered" and SAMPLE < len(begin.sure) < len(rallies)
    unsure = {rally.key for n, rally in enumerate(rallies) if n % 5 == 0}
    assert not unsure & set(begin.sure)
    with pytest.raises(InputError, match="0 of 10 drawn rallies"):
        take_unwatched(tasks.open_match(drafted, "m1"))
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(1))
    drawn = offer(drafted)
    assert drawn.state == "checking" and len(drawn.sample) == SAMPLE
    assert set(drawn.sample) | set(drawn.sure) == set(begin.sure)
    with pytest.raises(InputError, match="were drawn already"):
        draw_sample(tasks.open_match(drafted, "m1"))
    for n, key in enumerate(drawn.sample):
        assert offer(drafted).right == n
        with pytest.raises(InputError, match=f"{n} of 10 drawn"):
            take_unwatched(tasks.open_match(drafted, "m1"))
        confirm(drafted, key)
    ready = offer(drafted)
    assert (ready.state, ready.right, ready.wrong) == ("ready", SAMPLE, 0)
    assert ready.most_wrong_share == pytest.approx(0.2589, abs=1e-4)
    assert ready.expected_wrong == pytest.approx(0.04 * len(ready.sure), rel=0.6)
    before = tasks.show_match(drafted, "m1")
    taken = take_unwatched(tasks.open_match(drafted, "m1")).opened
    facts = {fact.key: fact for fact in taken.answers.facts}
    for key in ready.sure:
        kind = facts[key].latest[EntryKind.KIND, 0]
        assert is_unwatched(kind) and not is_watched(facts[key])
        assert taken.rally(key).complete and facts[key].latest[EntryKind.PROPOSED, 0].value["answers"]
    assert offer(drafted).state == "taken" and offer(drafted).taken == len(ready.sure)
    assert unwatched_rallies(taken.answers) >= set(ready.sure)
    back = withdraw_unwatched(tasks.open_match(drafted, "m1")).match
    assert back == before or [rally.complete for rally in back.rallies] == [
        rally.complete for rally in before.rallies
    ]
    assert offer(drafted).state == "ready"
    with pytest.raises(InputError, match="nothing to undo"):
        withdraw_unwatched(tasks.open_match(drafted, "m1"))


@pytest.mark.parametrize(
    "wrong", [{"kind": "other"}, {"winner": "other side"}, {"remove": "yes"}, {"server": "x"}]
)
def test_one_wrong_in_ten_withdraws_the_offer(drafted: Any, wrong: dict[str, str]) -> None:
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(2))
    first, *rest = offer(drafted).sample
    for key in rest:
        confirm(drafted, key)
    rally = tasks.open_match(drafted, "m1").rally(first)
    if "remove" in wrong:
        tasks.answer(drafted, "m1", first, EntryKind.REMOVE, True)
    elif "server" in wrong:
        confirm(drafted, first)
        tasks.answer(drafted, "m1", first, EntryKind.SERVER, rally.server.other.value)
    else:
        other = {} if rally.winner is None else {"winner": rally.winner.other.value}
        confirm(drafted, first, **(other if "winner" in wrong else wrong))
    now = offer(drafted)
    # who serves in the rallies after it changes too: that is no second one wrong
    assert now.state == "withdrawn" and now.wrong == 1
    with pytest.raises(InputError, match="One of the ten was wrong"):
        take_unwatched(tasks.open_match(drafted, "m1"))


def test_a_corrected_rally_counts_among_the_rates_and_is_no_longer_unwatched(drafted: Any) -> None:
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(3))
    for key in offer(drafted).sample:
        confirm(drafted, key)
    sure = offer(drafted).sure
    take_unwatched(tasks.open_match(drafted, "m1"))
    opened = tasks.open_match(drafted, "m1")
    counted = answers_by_origin(opened.answers)
    assert counted.by_person == 2 * SAMPLE
    # of the others: kind and winner where they were taken, the winner alone where the draft put it
    winners = sum(rally.winner is not None for rally in opened.match.rallies) - SAMPLE
    assert (counted.unwatched, counted.proposed) == (2 * len(sure), winners - len(sure))
    confirm(drafted, sure[0], kind="body-feet")
    opened = tasks.open_match(drafted, "m1")
    assert sure[0] not in unwatched_rallies(opened.answers)
    rates = {(rate.what, rate.by): rate for rate in proposal_rates(opened.match, opened.answers)}
    kinds, winners_of_draft = rates["serve.kind", "ball-path"], rates["winner", "score-draft"]
    assert (kinds.checked, kinds.changed) == (SAMPLE + 1, 1)
    assert (kinds.sample_checked, kinds.sample_changed) == (SAMPLE, 0)
    assert (winners_of_draft.checked, winners_of_draft.changed) == (SAMPLE + 1, 0)
    assert offer(drafted).taken == len(sure) - 1


def test_nothing_is_offered_at_a_depth_that_asks_for_more_than_is_proposed(drafted: Any) -> None:
    tasks.change_match(drafted, "m1", depth=Depth.SERVE)
    assert replace(offer(drafted), score="", over=False) == BulkOffer("none", (), (), 0, 0, 0, 0.0, 1.0)
    with pytest.raises(InputError, match="0 rallies are sure in every answer"):
        draw_sample(tasks.open_match(drafted, "m1"))


def test_a_path_that_speaks_for_the_other_player_is_not_sure(
    drafted: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The ball was followed after the draft was added: its end says that the other player won."""
    sure = offer(drafted).sure
    rallies = {rally.key: rally for rally in tasks.show_match(drafted, "m1").rallies}
    paths = sure_rally_acceptance_after_sample_check.path_proposals(tasks.open_match(drafted, "m1"))

    def ended(path: RallyProposals, *, other: bool) -> RallyProposals:
        rally = rallies[path.key]
        struck_last = (rally.winner is rally.server) is not other
        return replace(path, seen=EndingSeen("second-bounce", 0.97, 3 if struck_last else 4))

    for other, left in ((False, len(sure)), (True, len(sure) - 3)):
        now = tuple(ended(path, other=other and path.key in sure[:3]) for path in paths)
        monkeypatch.setattr(
            sure_rally_acceptance_after_sample_check, "path_proposals", lambda _, now=now: now
        )
        assert len(offer(drafted).sure) == left


def test_a_sample_says_nothing_of_a_draft_added_after_it(drafted: Any) -> None:
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(4))
    for key in offer(drafted).sample:
        confirm(drafted, key)
    assert offer(drafted).state == "ready"
    value = {"by": "score-draft", "answers": [{"what": "winner", "value": "a", "chance": 0.99}]}
    tasks.answer(drafted, "m1", "r1", EntryKind.PROPOSED, value, observer="coach/draft")
    assert offer(drafted).state == "offered"


def test_a_draft_taken_back_takes_what_it_proposed(drafted: Any) -> None:
    tasks.withdraw_draft(tasks.open_match(drafted, "m1"))
    assert tasks.show_match(drafted, "m1").rallies == ()
    assert offer(drafted).state == "none"


def test_nothing_is_offered_at_serve_and_return_though_a_path_answers_all(
    drafted: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The ten are not asked each of its questions, so its answers are not taken unwatched."""
    answers = (
        RecordProposal(EntryKind.KIND, "lob", 0.97),
        RecordProposal(EntryKind.HOW_TAKEN, "volleyed", 0.95),
        RecordProposal(EntryKind.LEFT, "tight", 0.95),
    )
    found = tuple(
        RallyProposals(
            rally.key,
            rally.start_us or 0,
            rally.end_us or 0,
            (*answers, RecordProposal(EntryKind.ENDING, "winner", 0.96, rally.winner)),
        )
        for rally in tasks.show_match(drafted, "m1").rallies
    )
    monkeypatch.setattr(sure_rally_acceptance_after_sample_check, "path_proposals", lambda _: found)
    tasks.change_match(drafted, "m1", depth=Depth.SERVE)
    assert (offer(drafted).state, offer(drafted).sure) == ("none", ())
    tasks.change_match(drafted, "m1", depth=Depth.SCORE)
    assert offer(drafted).state == "offered"
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(5))
    tasks.change_match(drafted, "m1", depth=Depth.SERVE)
    assert (offer(drafted).state, offer(drafted).sure) == ("none", ())
    with pytest.raises(InputError, match="0 of 10 drawn"):
        take_unwatched(tasks.open_match(drafted, "m1"))


def as_the_page_does(of: Any, key: str) -> None:
    """One press: who won is answered, the kind of serve goes along, the ending is passed."""
    opened = tasks.open_match(of, "m1")
    n = [rally.key for rally in opened.match.rallies].index(key)
    along, pen = EntryWriter("m1", "coach/t1-along"), EntryWriter("m1", "coach/t1")
    along.write(key, EntryKind.KIND, kind_of(n))
    pen.write(key, EntryKind.WINNER, str(opened.rally(key).winner))
    pen.write(key, EntryKind.ENDING, None)
    tasks.record_answers(of, "m1", [*along.entries, *pen.entries])


def test_what_went_along_is_neither_asked_nor_checked_nor_rated(drafted: Any) -> None:
    draw_sample(tasks.open_match(drafted, "m1"), random.Random(6))
    for key in offer(drafted).sample:
        as_the_page_does(drafted, key)
    assert (offer(drafted).state, offer(drafted).right) == ("ready", SAMPLE)
    opened = tasks.open_match(drafted, "m1")
    counted = answers_by_origin(opened.answers)
    assert (counted.by_person, counted.along) == (SAMPLE, SAMPLE)
    assert "serve.kind" not in {rate.what for rate in proposal_rates(opened.match, opened.answers)}
    tasks.answer(drafted, "m1", offer(drafted).sample[0], EntryKind.KIND, "body-feet", observer="coach/t1")
    assert (offer(drafted).state, offer(drafted).wrong) == ("withdrawn", 1)
    opened = tasks.open_match(drafted, "m1")
    rates = {rate.what for rate in proposal_rates(opened.match, opened.answers)}
    assert "serve.kind" not in rates and "winner" in rates  # of the kind only wrong ones would count


def test_a_changed_return_or_ending_counts_as_wrong(drafted: Any) -> None:
    opened = tasks.open_match(drafted, "m1")
    key = opened.match.rallies[3].key
    for what, value in ((EntryKind.LEFT, "loose"), (EntryKind.RETURN_TO, "back-left")):
        tasks.answer(drafted, "m1", key, what, value)
    rally = tasks.open_match(drafted, "m1").rally(key)
    assert final_answer(rally, EntryKind.LEFT) == "loose"
    assert final_answer(rally, EntryKind.RETURN_TO) == "back-left"
    assert final_answer(rally, EntryKind.RETURN_STROKE) is None


@pytest.mark.parametrize(
    ("word", "changed"), [("straight", False), ("back-left", False), ("back-right", True)]
)
def test_where_a_return_went_is_compared_quarter_with_quarter(drafted: Any, word: str, changed: bool) -> None:
    """A ball that went straight may have gone into the quarter that was proposed."""
    key = tasks.open_match(drafted, "m1").match.rallies[3].key
    tasks.answer(drafted, "m1", key, EntryKind.RETURN_TO, word)
    proposed = {
        EntryKind.RETURN_TO: ("ball-path", ProposedAnswer(what="return.to", value="back-left", chance=0.97))
    }
    rally = tasks.open_match(drafted, "m1").rally(key)
    assert bool(changed_answers(rally, proposed)) is changed
