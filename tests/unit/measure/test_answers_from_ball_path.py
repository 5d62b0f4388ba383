"""Answers that paths suggest: each shot by its definition, the quarter by its error, never a judgement."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.ball.model import flight_array_indices as col
from goodlength.measure.draft.answers_from_ball_path import (
    PROPOSED,
    left_shares,
    quarter_shares,
    rally_answers,
    serve_is_good,
    starts_like_a_serve,
    stroke_word,
)
from goodlength.measure.draft.winner_likelihood_from_rally_ending import ending_seen
from goodlength.measure.serves.serve_kind_and_return_votes_from_flights import shares, taken_word
from goodlength.measure.shots.followed_ball_types import (
    ContactKind,
    FollowedRally,
    FollowedShot,
    PathAnswerKind,
    PathContact,
    PathSample,
    ShotPath,
)
from goodlength.record.model import Ending
from tests.oracles.followed_shots import SPHERE, made_path, made_rally, made_serve

K = ContactKind
Place = tuple[float, float, float]


def path(
    *contacts: tuple[ContactKind, Place], speed: float = 30.0, last: Place = (0.5, 8.0, 1.0)
) -> ShotPath:
    touches = tuple(PathContact(kind, n * 100_000, place, SPHERE) for n, (kind, place) in enumerate(contacts))
    return ShotPath(0.95, 0, speed, touches, (PathSample(1, last, True),))


STRUCK = (K.RACKET, (1.0, 7.0, 0.8))
HIGH, LOW = (K.FRONT, (1.0, 0.02, 2.0)), (K.FRONT, (1.0, 0.02, 0.7))


@pytest.mark.parametrize(
    ("found", "word"),
    [
        (path(STRUCK, HIGH, (K.FLOOR, (0.5, 8.0, 0.02))), "drive"),
        (path(STRUCK, HIGH, (K.FLOOR, (5.9, 8.0, 0.02))), "cross-court"),
        (path(STRUCK, (K.LEFT, (0.02, 4.0, 1.0)), LOW, (K.FLOOR, (5.0, 1.5, 0.02))), "boast"),
        (path(STRUCK, (K.BACK, (1.0, 9.7, 1.0)), LOW), "boast"),
        (path(STRUCK, (K.FRONT, (3.0, 0.02, 3.4)), (K.FLOOR, (5.5, 8.5, 0.02))), "lob"),
        (path(STRUCK, LOW, (K.FLOOR, (0.4, 1.3, 0.02)), speed=12.0), "drop"),
        (path(STRUCK, LOW, (K.FLOOR, (0.4, 2.4, 0.02)), speed=34.0), "kill"),
        (path(STRUCK, HIGH), "drive"),  # struck before it bounced: by where it was then
        (path(STRUCK, HIGH, last=(5.0, 5.0, 1.0)), "cross-court"),
        (path(STRUCK, (K.TIN, (1.0, 0.02, 0.3))), ""),
        (path(STRUCK, (K.FLOOR, (1.0, 3.0, 0.02)), LOW), ""),  # down
    ],
)
def test_a_shot_is_named_by_its_definition(found: ShotPath, word: str) -> None:
    assert stroke_word(found) == word


@pytest.mark.parametrize(
    ("surfaces", "word"),
    [
        ((col.FRONT,), "volleyed"),
        ((col.FRONT, col.LEFT), "after-the-side-wall"),
        ((col.FRONT, col.LEFT, col.FLOOR), "after-the-bounce"),
        ((col.FRONT, col.FLOOR, col.BACK), "off-the-back-wall"),
        ((), ""),
    ],
)
def test_how_a_serve_was_taken_is_what_it_touched_before(surfaces: tuple[int, ...], word: str) -> None:
    contacts = np.array([[0.1 * (n + 1), 0.0, 0.0, 0.0, s] for n, s in enumerate((*surfaces, col.FLOOR))])
    assert taken_word(contacts, 0.1 * len(surfaces) + 0.05) == word


def test_votes_that_say_nothing_count_among_all() -> None:
    assert shares(["a", "", "a", "b"]) == {"a": 0.5, "b": 0.25}


def test_a_quarter_near_its_line_is_shared() -> None:
    """On the line between left and right, well behind the short line: half and half."""
    found = quarter_shares(PathContact(K.FLOOR, 0, (3.2, 8.0, 0.02), SPHERE))
    assert found["back-left"] == pytest.approx(0.5) and found["back-right"] == pytest.approx(0.5)
    assert sum(found.values()) == pytest.approx(1.0)
    sure = quarter_shares(PathContact(K.FLOOR, 0, (0.5, 8.0, 0.02), SPHERE))
    assert sure["back-left"] > 0.999


def rally() -> FollowedRally:
    """A lob, volleyed; a drive to the back left; a third shot into the tin."""
    begun = made_rally()
    serve = replace(made_serve(), kinds={"lob": 0.99}, taken={"volleyed": 0.97, "after-the-side-wall": 0.03})
    second = replace(begun.shots[1], paths=(path(STRUCK, HIGH, (K.FLOOR, (0.5, 8.0, 0.02))),))
    struck = (K.RACKET, (0.2, 7.0, 0.8))
    third = replace(second, number=3, paths=(path(struck, (K.TIN, (1.0, 0.02, 0.3))),))
    return replace(begun, serve=serve, shots=(begun.shots[0], replace(second, strike_chance=0.99), third))


def test_a_rally_is_drafted_with_a_chance_for_each_answer() -> None:
    found = {answer.what: answer for answer in rally_answers(rally())}
    assert {what: answer.value for what, answer in found.items()} == {
        PathAnswerKind.SERVE_KIND: "lob",
        PathAnswerKind.HOW_TAKEN: "volleyed",
        PathAnswerKind.RETURN_STROKE: "drive",
        PathAnswerKind.RETURN_QUARTER: "back-left",
        PathAnswerKind.RETURN_LEFT: "tight",
        PathAnswerKind.ENDED: "tin",
    }
    assert all(answer.by == "ball-path" for answer in found.values())
    assert found[PathAnswerKind.SERVE_KIND].chance > PROPOSED
    torn = replace(rally(), serve=replace(made_serve(), kinds={"lob": 0.5, "hard": 0.5}))
    (kind,) = (each for each in rally_answers(torn) if each.what is PathAnswerKind.SERVE_KIND)
    assert kind.chance < PROPOSED


def struck_at(x: float) -> PathContact:
    return PathContact(K.RACKET, 0, (x, 7.0, 0.8))


def test_what_a_return_left_is_where_the_server_struck_it_or_that_it_took_the_front() -> None:
    """Half a metre from a side wall and less is tight, 1.1 m and more is loose; a drop or a kill attacked."""
    assert left_shares({"drive": 1.0}, struck_at(0.2)) == {"tight": pytest.approx(0.9987, abs=1e-4)}
    assert left_shares({"cross-court": 1.0}, struck_at(6.2)) == {"tight": pytest.approx(0.9987, abs=1e-4)}
    assert left_shares({"drive": 1.0}, struck_at(3.0)) == {"loose": pytest.approx(1.0)}
    assert left_shares({"drop": 0.6, "kill": 0.4}, struck_at(3.0)) == {"attacked": pytest.approx(1.0)}
    assert left_shares({"drive": 1.0}, struck_at(0.8)) == {}  # in between: a person judges
    assert left_shares({"boast": 1.0}, struck_at(3.0)) == {}  # attack or defence: a person judges
    assert left_shares({"drive": 1.0}, None) == {}


def test_a_drop_and_a_kill_share_a_speed_between_them() -> None:
    short = (K.FLOOR, (0.4, 1.5, 0.02))
    found = replace(rally().shots[1], paths=(path(STRUCK, LOW, short, speed=21.0),))
    answers = rally_answers(replace(rally(), shots=(rally().shots[0], found, rally().shots[2])))
    (stroke,) = (each for each in answers if each.what is PathAnswerKind.RETURN_STROKE)
    assert stroke.value == "kill" and stroke.chance < 0.7


def ended_by(*shots: FollowedShot) -> dict[PathAnswerKind, str]:
    answers = rally_answers(replace(rally(), shots=shots))
    return {answer.what: answer.value for answer in answers}


def test_a_serve_nobody_struck_and_a_return_into_the_tin_are_a_missed_return() -> None:
    first, second, third = rally().shots
    twice = (K.SECOND_BOUNCE, (0.4, 9.0, 0.02))
    ace = replace(first, paths=(path(STRUCK, HIGH, (K.FLOOR, (5.9, 8.0, 0.02)), twice),))
    assert ended_by(ace)[PathAnswerKind.HOW_TAKEN] == "not-made"
    into_tin = ended_by(first, replace(third, number=2))
    assert into_tin[PathAnswerKind.HOW_TAKEN] == "not-made"
    assert not into_tin.keys() & {PathAnswerKind.RETURN_STROKE, PathAnswerKind.RETURN_LEFT}
    winner = replace(second, paths=(path(STRUCK, HIGH, (K.FLOOR, (0.5, 8.0, 0.02)), twice),))
    assert ended_by(first, winner)[PathAnswerKind.HOW_TAKEN] == "volleyed"
    assert PathAnswerKind.HOW_TAKEN not in ended_by(third)  # a serve into the tin is a fault


LONG_LOW = (K.FRONT, (2.0, 0.02, 1.0))
BOUNCED_TWICE = (K.SECOND_BOUNCE, (1.1, 5.5, 0.02))


@pytest.mark.parametrize(
    "served",
    [
        (LONG_LOW, (K.FLOOR, (5.0, 7.0, 0.02))),  # below the service line
        (HIGH, (K.FLOOR, (5.0, 3.0, 0.02))),  # short
        (HIGH, (K.FLOOR, (0.5, 8.0, 0.02))),  # into the server's own quarter
        (HIGH, (K.FLOOR, (5.0, 5.5, 0.02))),  # 4 cm behind the short line: may be a fault
        (HIGH, (K.OUT, (6.38, 6.0, 3.9))),
        (),
    ],
)
def test_of_a_serve_that_may_be_a_fault_nothing_but_its_kind_is_said(
    served: tuple[tuple[ContactKind, Place], ...],
) -> None:
    """With a fault the rally is over and the receiver won: no missed return, no end, no winner."""
    first, second, third = rally().shots
    fault = replace(first, paths=(path(STRUCK, *served, BOUNCED_TWICE),))
    for shots in ((fault,), (fault, replace(third, number=2)), (fault, second, third)):
        assert set(ended_by(*shots)) <= {PathAnswerKind.SERVE_KIND}
        assert ending_seen(replace(rally(), shots=shots)) is None


def test_a_serve_of_which_a_likely_path_is_a_fault_is_not_surely_good() -> None:
    first = rally().shots[0]
    good = path(STRUCK, HIGH, (K.FLOOR, (5.9, 8.0, 0.02)))
    fault = path(STRUCK, LONG_LOW, (K.FLOOR, (5.9, 8.0, 0.02)))
    for share, is_good in ((0.05, True), (0.2, False)):
        paths = (replace(good, chance=1.0 - share), replace(fault, chance=share))
        assert serve_is_good(replace(rally(), shots=(replace(first, paths=paths),))) is is_good


def test_an_end_that_was_not_seen_is_less_sure() -> None:
    twice = (K.SECOND_BOUNCE, (0.4, 9.0, 0.02))
    last = replace(rally().shots[1], paths=(path(STRUCK, HIGH, (K.FLOOR, (0.5, 8.0, 0.02)), twice),))
    end = 300_000

    def chance(*hidden: tuple[int, int]) -> float:
        shots = (rally().shots[0], replace(last, hidden_us=hidden))
        (found,) = (a for a in rally_answers(replace(rally(), shots=shots)) if a.what is PathAnswerKind.ENDED)
        return found.chance

    assert chance((50_000, 90_000)) == chance()  # hidden, but seen again
    assert chance((100_000, end)) < chance((200_000, end)) < chance() and chance() > PROPOSED


def test_nothing_is_said_of_what_only_a_person_can_judge() -> None:
    words = {answer.value for answer in rally_answers(rally())}
    assert not words & {ending.value for ending in Ending}


def test_out_of_date_or_empty_paths_suggest_nothing() -> None:
    assert rally_answers(replace(rally(), out_of_date=("the camera’s calibration",))) == ()
    assert rally_answers(replace(rally(), shots=())) == ()
    no_serve = {answer.what for answer in rally_answers(replace(rally(), serve=None))}
    assert PathAnswerKind.SERVE_KIND not in no_serve and PathAnswerKind.HOW_TAKEN not in no_serve


def test_a_return_that_may_have_been_missed_is_left_to_the_coach() -> None:
    """Two shots: whether the second was a return or a miss, paths alone do not say."""
    two = replace(rally(), shots=rally().shots[:2])
    assert PathAnswerKind.HOW_TAKEN not in {answer.what for answer in rally_answers(two)}


def test_the_made_path_is_no_boast() -> None:
    assert stroke_word(made_path(0, 0.9)) == "cross-court"


@pytest.mark.parametrize(
    ("found", "is_like"),
    [
        (path(STRUCK, HIGH, (K.FLOOR, (5.0, 8.0, 0.02))), True),
        (path(STRUCK, HIGH, last=(5.0, 7.0, 1.0)), True),  # taken on the volley
        (path(STRUCK, HIGH, (K.FLOOR, (0.5, 8.0, 0.02))), False),  # the same half
        (path(STRUCK, HIGH, (K.FLOOR, (5.0, 4.0, 0.02))), False),  # short
        (path(STRUCK, LOW, (K.FLOOR, (5.0, 8.0, 0.02))), False),  # below the service line
        (path(STRUCK, (K.LEFT, (0.02, 4.0, 1.0)), HIGH, (K.FLOOR, (5.0, 8.0, 0.02))), False),
        (path(STRUCK), False),
    ],
)
def test_a_first_path_goes_as_a_serve_does_or_not(found: ShotPath, is_like: bool) -> None:
    rally = made_rally()
    first = replace(rally.shots[0], paths=(found,))
    assert starts_like_a_serve(replace(rally, shots=(first, *rally.shots[1:]))) is is_like
    assert not starts_like_a_serve(replace(rally, shots=()))
