"""Steps of the queue: their state from what is known, and the time left from measured work."""

from __future__ import annotations

from dataclasses import replace

import pytest

from goodlength.jobs.job_queue import JobState
from goodlength.tasks.preparation.preparation_step_state_and_time_left import (
    Pace,
    PreparationStep,
    StepFacts,
    left_words,
    pace_of,
    preparation_step,
    video_length_s,
)

LISTEN = StepFacts("listen", False, length_s=600.0)
FILMS = {"films": [{"first_us": 0, "end_us": 60_000_000}, {"first_us": 5, "end_us": 40_000_005}]}


def job(state: str, **more: object) -> JobState:
    return replace(JobState("j", "rallies", 0.5, "listening", state, args=FILMS), **more)  # type: ignore[arg-type]


def step(facts: StepFacts, pace: float | None = None, *, paused: bool = False) -> PreparationStep:
    return preparation_step(facts, Pace(pace), paused=paused)


@pytest.mark.parametrize(
    ("facts", "paused", "state"),
    [
        (LISTEN, False, "waiting"),
        (LISTEN, True, "paused"),
        (replace(LISTEN, done=True), True, "done"),
        (replace(LISTEN, job=job("queued")), False, "waiting"),
        (replace(LISTEN, job=job("running")), False, "running"),
        (replace(LISTEN, job=job("running")), True, "running"),  # until it has stopped
        (replace(LISTEN, job=job("failed", error="The disk is full.")), False, "failed"),
        (replace(LISTEN, job=job("cancelled")), False, "stopped"),
        (replace(LISTEN, job=job("interrupted")), False, "waiting"),
        (replace(LISTEN, fault="The video cannot be found."), False, "failed"),
        (StepFacts("court", False, person="Mark the court."), False, "person"),
    ],
)
def test_the_state_follows_from_what_is_known(facts: StepFacts, paused: bool, state: str) -> None:
    assert step(facts, paused=paused).state == state


def test_only_what_waits_and_is_not_queued_yet_can_be_started() -> None:
    assert step(LISTEN).startable
    assert step(replace(LISTEN, job=job("interrupted"))).startable  # after a kill it goes on
    for facts in (
        replace(LISTEN, ready=False),
        replace(LISTEN, job=job("queued")),
        replace(LISTEN, job=job("failed")),
        replace(LISTEN, done=True),
        StepFacts("draft", False),
    ):
        assert not step(facts).startable
    assert not step(LISTEN, paused=True).startable


def test_a_failure_is_told_in_its_own_words() -> None:
    assert step(replace(LISTEN, job=job("failed", error="The disk is full."))).words == "The disk is full."


def test_time_left_comes_from_the_job_itself_once_it_has_worked_enough() -> None:
    begun = replace(LISTEN, job=job("running", share=0.02, worked_s=1.0))
    assert step(begun, 0.1).left_s == pytest.approx(0.1 * 600 * 0.98)
    well_on = replace(LISTEN, job=job("running", share=0.25, worked_s=30.0))
    assert step(well_on, 0.1).left_s == pytest.approx(90.0)
    assert step(LISTEN).left_s is None  # nothing of the kind was measured here


def test_the_pace_is_the_middle_of_the_latest_jobs_of_this_computer() -> None:
    done = [job("done", worked_s=s, machine="here") for s in (10.0, 30.0, 20.0)]
    others = [job("done", worked_s=900.0, machine="elsewhere"), job("failed", worked_s=900.0, machine="here")]
    assert video_length_s(done[0]) == 100.0
    assert pace_of([*others, *done], "rallies", "here") == pytest.approx(0.2)
    assert pace_of(done, "players", "here") is None
    assert video_length_s(replace(done[0], args={"films": [{}]})) == 0.0
    copy = replace(done[0], kind="proxy", args={}, result={"first_us": 0, "end_us": 7_000_000})
    assert video_length_s(copy) == 7.0


def test_words_for_the_time_left() -> None:
    near, far = step(LISTEN, 0.05), step(replace(LISTEN, name="look"), 0.5)
    assert left_words([near]) == "less than a minute left"
    assert left_words([near, far]) == "about 6 minutes left"
    assert left_words([near, step(replace(LISTEN, name="look"))]) == "at least 1 minute left"
    assert left_words([step(LISTEN)]).startswith("time left not known yet")
    waits = step(StepFacts("players", False, ready=False, waits_for="for the camera calibration"), 9.0)
    assert left_words([waits]) == "" and not waits.comes  # somebody has to do something first
