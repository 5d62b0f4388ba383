"""The queue of a match: what it starts and when, pauses, kills, matches removed, steps that cannot begin."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import NoSpace, NotFound
from goodlength.files import library_layout
from goodlength.jobs.job_queue import JobState
from goodlength.record.model import Footage
from goodlength.record.store import Library
from goodlength.tasks.footage import player_tracking
from goodlength.tasks.preparation import PreparationQueue, preparation_queue
from goodlength.tasks.preparation.preparation_state import read_state, wanted_matches

SECOND = 1_000_000


@dataclass(frozen=True)
class CourtLookedFor:
    """What the queue asks of a court that was looked for."""

    offered: bool


class StillJobs:
    """Jobs that are queued and never run: the test says what became of them."""

    owner = True

    def __init__(self) -> None:
        self.made: list[JobState] = []
        self.full = False

    def start(self, kind: str, _function: Any, args: dict[str, object]) -> str:
        if self.full:
            raise NoSpace("The disk is full. Free some space.")
        made = JobState(f"j{len(self.made)}", kind, 0.0, "", "queued", args=args, made=1e12)
        self.made.append(made)
        return made.id

    def states(self) -> tuple[JobState, ...]:
        return tuple(reversed(self.made))

    def ends(self, kind: str, state: str) -> None:
        """Let the job at work of a kind end."""
        self.made = [
            replace(job, state=state) if job.kind == kind and job.state == "queued" else job
            for job in self.made
        ]

    def cancel(self, job_id: str) -> None:
        self.made = [replace(job, state="cancelled") if job.id == job_id else job for job in self.made]

    def wait(self, _job_id: str, _timeout_s: float) -> None:
        return

    @property
    def active(self) -> list[str]:
        return [job.kind for job in self.made if job.state == "queued"]


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    video = tmp_path / "one.mp4"
    video.write_bytes(b"a video")
    with Library.open(tmp_path / "library") as opened:
        for player in ("a", "b"):
            tasks.add_player(opened, f"Player {player.upper()}", player_id=player)
        tasks.new_match(opened, ("a", "b"), match_id="m1")
        opened.save_footage(Footage("f1", "m1", str(video), 0, first_us=0, end_us=600 * SECOND))
        yield opened


@pytest.fixture(autouse=True)
def proposal(monkeypatch: pytest.MonkeyPatch) -> list[CourtLookedFor | None]:
    """What was found of the court; by itself it was looked for and not found."""
    found: list[CourtLookedFor | None] = [CourtLookedFor(offered=False)]
    monkeypatch.setattr(preparation_queue, "court_proposal", lambda *_: found[0])
    return found


@pytest.fixture
def jobs() -> StillJobs:
    return StillJobs()


@pytest.fixture
def queue(library: Library, jobs: StillJobs) -> PreparationQueue:
    return PreparationQueue(library, jobs)  # type: ignore[arg-type]


def detected(library: Library, *, looked_at: bool = False) -> None:
    """What the jobs that listen and look would have written."""
    films = [{"id": "f1", "path": "", "starts_us": 0, "first_us": 0, "end_us": 600 * SECOND}]
    rally = {"start_us": SECOND, "end_us": 9 * SECOND, "hits_us": [SECOND], "doubtful": False, "why": ""}
    path = library_layout.rally_files(library.folder, "m1")[0]
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps({"films": films, "rallies": [rally], "by": "sound", "looked_at": looked_at}))


def states(queue: PreparationQueue, library: Library) -> dict[str, str]:
    return {step.name: step.state for step in queue.of(tasks.open_match(library, "m1")).steps}


def test_nothing_is_begun_that_nobody_asked_for(queue: PreparationQueue, jobs: StillJobs) -> None:
    assert not queue.advance()
    assert jobs.made == []


def test_listening_and_looking_are_begun_and_the_court_waits_for_a_person(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    queue.begin("m1")
    assert queue.advance()
    assert jobs.active == ["rallies", "picture"]
    assert queue.advance() and len(jobs.made) == 2  # nothing twice
    assert states(queue, library) == {
        "listen": "waiting",
        "look": "waiting",
        "court": "person",
        "players": "waiting",
        "draft": "waiting",
    }
    jobs.ends("rallies", "done")
    detected(library)
    assert states(queue, library)["listen"] == states(queue, library)["draft"] == "done"
    jobs.ends("picture", "done")
    detected(library, looked_at=True)
    assert not queue.advance()
    found = queue.of(tasks.open_match(library, "m1"))
    assert not found.works and found.left == ""


def test_the_court_is_looked_for_and_what_was_found_waits_for_a_person(
    queue: PreparationQueue,
    jobs: StillJobs,
    library: Library,
    proposal: list[CourtLookedFor | None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def start(_library: Library, footage: str, jobs: StillJobs) -> str:
        return jobs.start(
            "court", None, {"to": str(library_layout.court_proposal_file(library.folder, footage))}
        )

    monkeypatch.setattr(preparation_queue, "start_court_detection", start)
    proposal[0] = None
    detected(library, looked_at=True)
    queue.begin("m1")
    assert queue.advance() and jobs.active == ["court"]
    assert queue.advance() and len(jobs.made) == 1
    assert queue.of(tasks.open_match(library, "m1")).works
    jobs.ends("court", "done")
    proposal[0] = CourtLookedFor(offered=True)
    assert not queue.advance()
    (court,) = (step for step in queue.of(tasks.open_match(library, "m1")).steps if step.name == "court")
    assert court.state == "person" and "check it and save it" in court.words


def test_players_are_tracked_once_somebody_has_calibrated_the_camera(
    queue: PreparationQueue, jobs: StillJobs, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    detected(library, looked_at=True)
    queue.begin("m1")
    assert not queue.advance()
    monkeypatch.setattr(preparation_queue, "has_camera", lambda *_: True)
    monkeypatch.setattr(player_tracking, "_arguments", lambda opened: {"match": opened.id, "spans": []})
    assert queue.advance() and jobs.active == ["players"]
    library_layout.track_files(library.folder, "m1")[0].parent.mkdir()
    library_layout.track_files(library.folder, "m1")[0].write_text("{}")
    jobs.ends("players", "done")
    assert not queue.advance()
    assert set(states(queue, library).values()) == {"done"}


def test_a_kill_of_the_program_leaves_jobs_that_the_next_start_takes_up(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    queue.begin("m1")
    queue.advance()
    jobs.ends("rallies", "interrupted")
    jobs.ends("picture", "interrupted")
    after = PreparationQueue(library, jobs)  # type: ignore[arg-type]
    assert after.advance()
    assert jobs.active == ["rallies", "picture"]


def test_a_pause_stops_the_jobs_and_continuing_begins_them_again(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    queue.begin("m1")
    queue.advance()
    queue.pause("m1")
    assert jobs.active == [] and not queue.advance()
    assert states(queue, library)["listen"] == "paused"
    queue.begin("m1")
    jobs.made = [replace(job, made=0.0) for job in jobs.made]  # before it was continued
    assert queue.advance() and jobs.active == ["rallies", "picture"]


def test_what_was_cancelled_stays_so_until_it_is_asked_for_again(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    queue.begin("m1")
    queue.advance()
    queue.cancel("m1")
    assert jobs.active == [] and wanted_matches(library.folder) == []
    assert not queue.of(tasks.open_match(library, "m1")).works


def test_a_job_that_failed_is_told_and_not_begun_over_and_over(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    queue.begin("m1")
    queue.advance()
    jobs.made = [replace(job, state="failed", error="The disk is full.") for job in jobs.made]
    assert not queue.advance() and len(jobs.made) == 2
    found = queue.of(tasks.open_match(library, "m1"))
    assert found.trouble == "The disk is full." and not found.works


def test_a_step_that_cannot_begin_says_why_until_it_is_tried_again(
    queue: PreparationQueue, jobs: StillJobs, library: Library, tmp_path: Path
) -> None:
    (tmp_path / "one.mp4").rename(tmp_path / "moved.mp4")
    queue.begin("m1")
    queue.advance()
    assert "cannot be found" in queue.of(tasks.open_match(library, "m1")).trouble
    queue.advance()
    assert jobs.made == []
    (tmp_path / "moved.mp4").rename(tmp_path / "one.mp4")
    queue.begin("m1")
    queue.advance()
    assert jobs.active == ["rallies", "picture"]


def test_a_full_disk_stops_the_queue_in_words(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    jobs.full = True
    queue.begin("m1")
    queue.advance()
    assert queue.of(tasks.open_match(library, "m1")).trouble == "The disk is full. Free some space."


def test_a_match_removed_while_its_jobs_run_stops_them_and_goes_on_when_put_back(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    queue.begin("m1")
    queue.advance()
    queue.leave("m1")
    assert jobs.active == []
    tasks.remove_match(library, "m1")
    assert not queue.advance() and wanted_matches(library.folder) == []
    with pytest.raises(NotFound):
        queue.begin("m1")


def test_a_step_left_out_is_remembered(queue: PreparationQueue, library: Library) -> None:
    queue.skip("m1", "court")
    queue.skip("m1", "court")
    with pytest.raises(NotFound, match="no such step to leave out"):
        queue.skip("m1", "x" * 10_000)
    assert read_state(library.folder, "m1").skipped == ("court",)


@pytest.mark.parametrize("text", ["{", "[]", '{"wanted": "yes"}', '{"faults": {"listen": 3}}'])
def test_a_damaged_file_asks_for_nothing(library: Library, text: str) -> None:
    path = library_layout.preparation_file(library.folder, "m1")
    path.parent.mkdir()
    path.write_text(text)
    assert not read_state(library.folder, "m1").wanted
    assert wanted_matches(library.folder) == []


def test_the_thread_goes_on_with_what_was_begun(queue: PreparationQueue, jobs: StillJobs) -> None:
    queue.begin("m1")
    queue.start()
    for _ in range(200):
        if jobs.active:
            break
        time.sleep(0.01)
    queue.close()
    assert jobs.active == ["rallies", "picture"]
