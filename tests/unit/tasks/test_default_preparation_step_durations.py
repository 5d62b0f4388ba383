"""Time left on a computer's first match: known from the start, said to be a first estimate, then refined."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from goodlength.jobs.job_queue import JobState
from goodlength.tasks.preparation import default_preparation_step_durations
from goodlength.tasks.preparation.default_preparation_step_durations import (
    COSTS,
    MOST_FACTOR,
    REFERENCE_PIECE_S,
    first_work_s,
    slowness,
    timed_slowness,
)
from goodlength.tasks.preparation.preparation_step_state_and_time_left import (
    KINDS,
    Pace,
    PreparationStep,
    StepFacts,
    left_words,
    preparation_step,
)

FILM_S = 600.0
LISTENED = JobState("j", "rallies", 1.0, "", "done", worked_s=24.0, machine="m")


def step(name: Any, first_s: float | None = 120.0, **facts: Any) -> PreparationStep:
    """A step of ten minutes of video."""
    made = StepFacts(name, False, length_s=FILM_S, **facts)
    return preparation_step(made, Pace(first_s=first_s), paused=False)


def test_every_job_of_the_queue_has_a_first_estimate() -> None:
    assert set(COSTS) == set(KINDS.values())
    assert all((first_work_s(kind, FILM_S, 1.0) or 0.0) > 0 for kind in KINDS.values())


def test_a_first_estimate_is_said_to_be_one_and_a_measured_time_is_not() -> None:
    assert left_words([step("listen")]) == "about 2 minutes left (a first estimate)"
    measured = preparation_step(StepFacts("listen", False, length_s=FILM_S), Pace(0.2), paused=False)
    assert left_words([measured]) == "about 2 minutes left"


def test_a_job_at_work_goes_by_its_own_pace() -> None:
    job = JobState("j", "rallies", 0.5, "", "running", worked_s=30.0)
    found = step("listen", first_s=999.0, job=job)
    assert (found.left_s, found.first) == (30.0, False)


def test_what_comes_by_itself_after_another_step_counts_and_what_waits_for_a_person_does_not() -> None:
    """Else the first minutes tell of the sound alone, and the search of the ball comes as a surprise."""
    sample = step("sample", waits_for="for the rallies", ready=False, after="listen")
    ball = step("ball", waits_for="for the look", ready=False, after="sample")
    follow = step("follow", waits_for="for the camera calibration", ready=False)
    assert left_words([step("listen"), sample, ball, follow]) == "about 6 minutes left (a first estimate)"
    stopped = replace(sample, state="stopped")
    assert left_words([step("listen"), stopped, ball]) == "about 2 minutes left (a first estimate)"


def test_the_first_finished_steps_refine_the_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(default_preparation_step_durations, "timed_slowness", lambda: 1.0)
    assert slowness([]) == 1.0
    twice = replace(LISTENED, worked_s=2 * COSTS["rallies"].work_s(FILM_S))
    assert slowness([(twice, FILM_S)]) == pytest.approx(2.0)
    assert slowness([(replace(LISTENED, worked_s=1e9), FILM_S)]) == MOST_FACTOR
    assert slowness([(replace(LISTENED, kind="clip"), FILM_S)]) == 1.0  # no step of the queue


@pytest.fixture
def fresh_check() -> Iterator[None]:
    timed_slowness.cache_clear()
    yield
    timed_slowness.cache_clear()


@pytest.mark.usefixtures("fresh_check")
def test_the_check_says_how_many_times_slower_than_the_reference_its_piece_of_work_was(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The clock stands still but for three reference times a piece of work, and the first piece counts not."""
    pieces = 0
    transform = np.fft.rfft

    def counted(numbers: Any) -> Any:
        nonlocal pieces
        pieces += 1
        return transform(numbers)

    monkeypatch.setattr(np.fft, "rfft", counted)
    monkeypatch.setattr(
        default_preparation_step_durations.time,
        "perf_counter",
        lambda: 100.0 + 3.0 * pieces * REFERENCE_PIECE_S,
    )
    assert timed_slowness() == pytest.approx(3.0)


@pytest.mark.usefixtures("fresh_check")
def test_the_check_of_this_computer_takes_less_than_half_a_second_of_work() -> None:
    """A page waits for it; on the reference core it is 17 pieces, 0.03 s."""
    before = time.process_time()
    timed_slowness()
    assert time.process_time() - before < 0.5


def test_a_computer_that_slept_in_mid_queue_is_told_in_a_sentence() -> None:
    job = JobState("j", "rallies", 0.5, "Listening", "running", worked_s=30.0, slept_s=1500.0)
    assert step("listen", job=job).words == (
        "Listening. The computer slept for about 25 minutes meanwhile; the work goes on."
    )
    assert step("listen", job=replace(job, slept_s=0.0)).words == "Listening"
