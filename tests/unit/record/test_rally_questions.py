"""What is asked, in which order, and what spares the rest; the page walks the same script."""

from __future__ import annotations

import itertools
import json
import random
from typing import Any

import pytest

from goodlength.record import DEFAULT_KINDS, Depth, EntryKind, KindOfServe, MatchInfo
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.entry_validation_schemas import value_faults
from goodlength.record.keypress_count import count_presses
from goodlength.record.rally_questions import questions_for, script_for_page
from goodlength.scoring.scoring_types import Format, Side, Start, System
from oracles.next_question import EXTRAS, next_question

INFO = MatchInfo("m1", ("iv", "pl"), start=Start(server=Side.A))


def ids(depth: Depth, **more: Any) -> list[str]:
    return [question.id.value for question in questions_for(depth, **more) if not question.when]


def page_next(script: dict[str, Any], answers: dict[str, Any]) -> dict[str, Any] | None:
    """The rule of the page, written again from the words of `script_for_page` alone."""
    for question in script["questions"]:
        if question["id"] in answers or question["when"] or question["repeats"]:
            continue
        spared = False
        for rule in question["unless"]:
            given = answers.get(rule["what"])
            if isinstance(given, dict):
                spared = spared or any(given.get(part) is not None for part in rule["having"])
            elif given is not None:
                spared = spared or given in rule["values"]
        if not spared:
            return question
    return None


def test_the_order_of_questions_at_each_depth():
    assert ids(Depth.SCORE) == ["winner", "ending"]
    assert ids(Depth.SERVE) == ["serve.kind", "return.how", "return.left", "winner", "ending"]
    shots = ["serve.kind", "return.how", "return.stroke", "return.left", "shot", "winner", "ending"]
    assert ids(Depth.SHOTS) == shots


def test_extra_questions_come_where_they_belong_and_only_when_kept():
    assert ids(Depth.SERVE, extras=["serve.receiver-place", EntryKind.ENDING_STROKE]) == [
        "serve.kind",
        "serve.receiver-place",
        "return.how",
        "return.left",
        "winner",
        "ending",
        "ending.stroke",
    ]
    every = questions_for(Depth.SERVE, extras=EXTRAS)
    assert {question.id for question in every if question.extra} == set(EXTRAS)


def test_keys_are_one_to_nine_each_once_and_nine_is_a_fault_wherever_it_can_be_said():
    for depth in Depth:
        for question in questions_for(depth, extras=EXTRAS):
            keys = [answer.key for answer in question.answers if answer.key]
            assert len(keys) == len(set(keys)) <= 9
            nine = [answer for answer in question.answers if answer.key == "9"]
            if question.id in (EntryKind.KIND, EntryKind.HOW_TAKEN, EntryKind.ENDING):
                assert nine[0].value == "service-fault"


def test_every_answer_offered_may_be_kept():
    for depth in Depth:
        for question in questions_for(depth, extras=EXTRAS, fmt=Format(System.HAND_OUT, 9, 5, "2001")):
            for answer in question.answers:
                if question.id is not EntryKind.SHOT:
                    assert value_faults(answer.what or question.id, answer.value) == [], answer


def test_retired_kinds_are_not_offered_and_keep_no_key():
    kinds = [KindOfServe("a", "A"), KindOfServe("b", "B", retired=True), KindOfServe("c", "C")]
    question = next_question(None, Depth.SERVE, kinds)
    assert [(answer.key, answer.words) for answer in question.answers] == [
        ("1", "A"),
        ("2", "C"),
        ("9", "Fault"),
    ]


def test_who_serves_is_asked_only_where_it_is_not_known():
    assert next_question(None, Depth.SERVE, server_known=False).id is EntryKind.SERVER
    assert next_question(None, Depth.SERVE).id is EntryKind.KIND


def test_the_receivers_choice_is_asked_only_at_the_tie():
    old = Format(System.HAND_OUT, 9, 5, "2001")
    question = next_question(None, Depth.SERVE, fmt=old, set_choice=True)
    assert [answer.value for answer in question.answers] == [9, 10]
    assert next_question(None, Depth.SERVE, fmt=old).id is EntryKind.KIND


@pytest.mark.parametrize(
    "answers",
    [
        {"kind": "lob", "how": "not-made"},
        {"kind": "lob", "how": "volleyed", "left": "not-made"},
        {"ending": "service-fault"},
        {"kind": "lob", "ending": "service-fault"},
        {"kind": "lob", "how": "volleyed", "left": "tight", "ending": "let"},
        {"called": {"decision": "let"}},
        {"kind": "lob", "called": {"decision": "stroke", "to": "a"}},
    ],
)
def test_what_answers_the_rest(answers):
    pen = EntryWriter("m1")
    pen.rally("r1", **answers)
    (rally,) = match_from(INFO, pen.entries).rallies
    assert rally.complete
    assert next_question(rally, Depth.SERVE) is None


def test_a_score_put_right_spares_no_question():
    pen = EntryWriter("m1")
    pen.rally("r1", kind="lob", how="volleyed", left="tight", winner="a", called={"points": [3, 2]})
    (rally,) = match_from(INFO, pen.entries).rallies
    assert next_question(rally, Depth.SERVE).id is EntryKind.ENDING


def test_shots_are_asked_until_the_last_or_a_skip():
    pen = EntryWriter("m1")
    pen.rally("r1", kind="lob", how="volleyed", return_stroke="drive", left="tight")
    pen.write("r1", EntryKind.SHOT, {"n": 3, "by": "a", "stroke": "drive"})

    def asked():
        return next_question(match_from(INFO, pen.entries).rallies[0], Depth.SHOTS).id

    assert asked() is EntryKind.SHOT
    pen.write("r1", EntryKind.SHOT, {"count": 3})
    assert asked() is EntryKind.WINNER


def test_the_script_for_the_page_is_plain_json():
    script = script_for_page(Depth.SHOTS, extras=EXTRAS)
    assert json.loads(json.dumps(script)) == script


def test_the_page_asks_what_replay_says_is_open_whatever_is_answered():
    """Ten thousand would do no more: the answers of five questions are few."""
    rng = random.Random(5)
    script = script_for_page(Depth.SERVE)
    for _ in range(300):
        pen, answers = EntryWriter("m1", mark="e"), {}
        for _step in itertools.count():
            question = page_next(script, answers)
            rallies = match_from(INFO, pen.entries).rallies
            own = next_question(rallies[0] if rallies else None, Depth.SERVE)
            assert (question and question["id"]) == (own and own.id.value), answers
            if question is None:
                break
            chosen = rng.choice([*question["answers"], None])
            what = question["id"] if chosen is None else chosen["what"]
            answers[what] = None if chosen is None else chosen["value"]
            pen.write("r1", EntryKind(what), answers[what])
            assert _step < 6
        if rallies:
            assert rallies[0].complete


def test_a_rally_at_serve_and_return_takes_at_most_six_presses_by_the_script():
    pen = EntryWriter("m1")
    pen.rally("r1", box="right", kind="lob", how="volleyed", left="tight", winner="a", ending="winner")
    pen.rally("r2", kind="lob", how="not-made")
    pen.rally("r3", box="right", ending="service-fault")
    pen.rally("r4", box="left", kind="lob", how="volleyed", left="tight", winner="a", ending="winner")
    assert count_presses(match_from(INFO, pen.entries)).by_rally == (6, 3, 3, 7)


def test_calling_it_otherwise_is_counted_key_by_key():
    pen = EntryWriter("m1")
    pen.rally("r1", kind="lob", called={"decision": "stroke", "to": "a"})
    pen.rally("r2", kind="lob", how="not-made", called={"points": [11, 9]}, note="x", keep=True)
    assert count_presses(match_from(INFO, pen.entries)).by_rally == (2 + 3, 3 + 2 + 5 + 2)


def test_the_default_kinds_have_the_first_six_keys():
    question = questions_for(Depth.SERVE)[1]
    assert [answer.key for answer in question.answers] == ["1", "2", "3", "4", "5", "6", "9"]
    assert [answer.value for answer in question.answers][:6] == [kind.id for kind in DEFAULT_KINDS]
