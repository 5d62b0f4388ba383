"""The queue of a match: what it starts and when, pauses, kills, matches removed, steps that cannot begin."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import NoSpace, NotFound
from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan, StoredBalls
from goodlength.footage.ball_detection.ball_search_in_match import model_mark
from goodlength.jobs.job_queue import JobState, machine_mark
from goodlength.record.model import Footage
from goodlength.record.store import Library
from goodlength.tasks.footage import camera_calibration, player_tracking
from goodlength.tasks.preparation import (
    PreparationQueue,
    default_preparation_step_durations,
    match_progress,
    video_preparation_queue,
)
from goodlength.tasks.preparation.preparation_request_file import read_state, wanted_matches
from goodlength.tasks.preparation.preparation_step_state_and_time_left import PreparationStep

SECOND = 1_000_000
NOTHING = BallCandidates(
    np.zeros(0, np.int64), np.zeros((0, 8, 2)), np.zeros((0, 8)), np.zeros(0, bool), "network"
)


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
    monkeypatch.setattr(video_preparation_queue, "court_proposal", lambda *_: found[0])
    monkeypatch.setattr(camera_calibration, "camera_at", lambda *_: None)
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


def searched(library: Library, lost: float = 0.1, *, whole: bool = True) -> None:
    """What a search of the ball would have written: of the first rally, or of all."""
    span = BallSpan("h:m", "f1", 500_000, 10 * SECOND)
    stored = StoredBalls("m1", model_mark("network"), 1, {span: NOTHING}, whole=whole)
    stored.words, stored.lost = {"f1": [f"The ball was lost in {lost:.0%} of the frames."]}, {"f1": lost}
    stored.write(library_layout.ball_file(library.folder, "m1"))


def start_following(opened: Any, jobs: StillJobs) -> str:
    return jobs.start("ball-paths", None, {"match": opened.id})


def of_step(queue: PreparationQueue, library: Library, name: str) -> PreparationStep:
    return next(step for step in queue.of(tasks.open_match(library, "m1")).steps if step.name == name)


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
        "sample": "waiting",
        "court": "person",
        "players": "waiting",
        "ball": "waiting",
        "follow": "waiting",
        "draft": "waiting",
    }
    jobs.ends("rallies", "done")
    detected(library)
    found = states(queue, library)
    assert found["listen"] == "done" and found["draft"] == "waiting"  # nothing tells yet who serves
    jobs.ends("picture", "done")
    detected(library, looked_at=True)
    searched(library)
    assert not queue.advance()
    found = queue.of(tasks.open_match(library, "m1"))
    assert not found.works and found.left == ""


def test_rallies_come_before_a_copy_and_the_copy_before_the_movement_that_it_measures(
    queue: PreparationQueue, jobs: StillJobs, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(video_preparation_queue, "copy_reason", lambda _: "browsers do not play it")
    queue.begin("m1")
    assert queue.advance()
    assert jobs.active == ["rallies"]
    jobs.ends("rallies", "done")
    detected(library)
    assert queue.advance()
    assert jobs.active == ["proxy"]
    kept = library_layout.motion_file(library.folder, "f1")
    assert (jobs.made[-1].args or {})["motion"] == str(kept)
    copy = tasks.proxy_path(library, "f1")
    copy.parent.mkdir(exist_ok=True)
    for part in (copy, copy.with_suffix(".frames.npz")):
        part.write_bytes(b"")
    jobs.ends("proxy", "done")
    assert queue.advance()
    assert jobs.active == ["picture"]


def test_a_copy_that_cannot_be_made_does_not_stop_the_movement(
    queue: PreparationQueue, jobs: StillJobs, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(video_preparation_queue, "copy_reason", lambda _: "browsers do not play it")
    queue.begin("m1")
    queue.advance()
    jobs.ends("rallies", "done")
    detected(library)
    queue.advance()
    jobs.ends("proxy", "failed")
    assert queue.advance()
    assert jobs.active == ["picture"]


def test_no_copy_is_made_where_the_browser_shows_the_original(
    queue: PreparationQueue, jobs: StillJobs, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(video_preparation_queue, "copy_reason", lambda _: None)
    queue.begin("m1")
    for kind in ("rallies", "picture"):
        queue.advance()
        jobs.ends(kind, "done")
    detected(library, looked_at=True)
    searched(library)
    queue.advance()
    assert sum(job.kind == "proxy" for job in jobs.made) == 0


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

    monkeypatch.setattr(video_preparation_queue, "start_court_detection", start)
    proposal[0] = None
    detected(library, looked_at=True)
    searched(library)
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
    searched(library)
    queue.begin("m1")
    assert not queue.advance()
    monkeypatch.setattr(video_preparation_queue, "has_camera", lambda *_: True)
    monkeypatch.setattr(player_tracking, "_arguments", lambda opened: {"match": opened.id, "spans": []})
    monkeypatch.setattr(video_preparation_queue, "start_following", start_following)
    assert queue.advance() and jobs.active == ["players"]
    library_layout.track_files(library.folder, "m1")[0].parent.mkdir()
    library_layout.track_files(library.folder, "m1")[0].write_text("{}")
    jobs.ends("players", "done")
    assert queue.advance() and jobs.active == ["ball-paths"]
    rallies = [{"key": "h:m", "footage": "f1", "from_us": 500_000, "until_us": 10 * SECOND}]
    followed = library_layout.followed_ball_file(library.folder, "m1")
    JsonFile(followed).write({"format": 1, "match": "m1", "model": "m", "asked": 1, "rallies": rallies})
    jobs.ends("ball-paths", "done")
    assert not queue.advance()
    assert set(states(queue, library).values()) == {"done"}


def test_a_video_without_a_rally_leaves_nothing_to_wait_for(
    queue: PreparationQueue, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    detected(library, looked_at=True)
    path = library_layout.rally_files(library.folder, "m1")[0]
    path.write_text(json.dumps({**json.loads(path.read_text()), "rallies": []}))
    monkeypatch.setattr(video_preparation_queue, "has_camera", lambda *_: True)
    queue.begin("m1")
    assert not queue.advance()
    assert of_step(queue, library, "players").words == "for a rally: none was detected"
    assert not queue.of(tasks.open_match(library, "m1")).works


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


def test_on_a_first_match_the_time_left_is_known_and_said_in_one_sentence_without_two_colons(
    queue: PreparationQueue, jobs: StillJobs, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It read "Rallies are being detected: time left not known yet: nothing of this kind ..."."""
    monkeypatch.setattr(default_preparation_step_durations, "timed_slowness", lambda: 1.0)
    queue.begin("m1")
    queue.skip("m1", "court")
    queue.advance()
    jobs.made[0] = replace(jobs.made[0], state="running")
    opened = tasks.open_match(library, "m1")
    found = queue.of(opened)
    assert re.fullmatch(r"about \d+ minutes left \(a first estimate\)", found.left)
    doing = match_progress(opened, tasks.listed_rallies(opened), found).working
    assert doing == f"Rallies are being detected, {found.left}."


def test_a_pause_leaves_what_a_person_does_as_it_is(
    queue: PreparationQueue, jobs: StillJobs, library: Library, proposal: list[CourtLookedFor | None]
) -> None:
    """The found court read "Paused", and Next leapt over it to the rallies."""
    proposal[0] = CourtLookedFor(offered=True)
    detected(library)
    queue.begin("m1")
    before = states(queue, library)
    queue.pause("m1")
    paused = states(queue, library)
    assert before["court"] == paused["court"] == "person"
    assert paused["players"] == paused["draft"] == "waiting" and paused["look"] == "paused"
    opened = tasks.open_match(library, "m1")
    assert match_progress(opened, tasks.listed_rallies(opened), queue.of(opened)).court


def test_where_nothing_tells_who_serves_no_draft_is_promised(
    queue: PreparationQueue, library: Library
) -> None:
    queue.begin("m1")
    detected(library, looked_at=True)
    assert states(queue, library)["draft"] == "waiting"
    queue.skip("m1", "court")
    assert "draft" not in states(queue, library)


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


def test_a_sample_comes_before_the_search_and_says_how_well_the_ball_can_be_seen(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    detected(library, looked_at=True)
    queue.begin("m1")
    assert queue.advance() and jobs.active == ["ball-sample"]
    assert [span["from_us"] for span in jobs.made[0].args["spans"]] == [SECOND // 2]
    searched(library, 0.45, whole=False)
    jobs.ends("ball-sample", "done")
    assert of_step(queue, library, "sample").words == "The ball was lost in 45% of the frames."
    assert queue.advance() and jobs.active == ["ball"]
    searched(library, 0.45)
    jobs.ends("ball", "done")
    assert not queue.advance()
    assert of_step(queue, library, "ball").state == "done"


@pytest.mark.parametrize(
    ("lost", "minutes", "words"),
    [(0.9, 1, "lost in most frames"), (0.1, 60, "takes about 60 minutes on this computer"), (0.1, 20, "")],
)
def test_the_coach_is_asked_before_a_search_that_is_long_or_finds_little(
    queue: PreparationQueue, jobs: StillJobs, library: Library, lost: float, minutes: int, words: str
) -> None:
    """The pace is that of this match's sample: it read as much as is left, 9.5 s, in so many minutes."""
    detected(library, looked_at=True)
    span = BallSpan("h:other", "f1", 0, SECOND)
    stored = StoredBalls("m1", model_mark("network"), 1, {span: NOTHING}, {"f1": ["x"]}, {"f1": lost})
    stored.write(library_layout.ball_file(library.folder, "m1"))
    jobs.start("ball-sample", None, {"match": "m1"})
    jobs.made[0] = replace(
        jobs.made[0],
        state="done",
        result={"searched_s": 9.5},
        worked_s=60.0 * minutes,
        machine=machine_mark(),
    )
    queue.begin("m1")
    assert queue.advance() is not bool(words)
    found = of_step(queue, library, "ball")
    assert words in found.words and (found.state == "person") is bool(words)
    if words:
        queue.choose_ball("m1", "search")
        assert queue.advance() and jobs.active == ["ball"]


def test_the_ball_is_left_out_and_taken_in_again(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    detected(library, looked_at=True)
    searched(library, whole=False)
    queue.begin("m1")
    assert queue.advance() and jobs.active == ["ball"]
    assert of_step(queue, library, "ball").can_leave_out
    queue.choose_ball("m1", "leave out")
    assert jobs.active == [] and not queue.advance()
    found = of_step(queue, library, "ball")
    assert (found.state, found.left_s, found.can_take_in) == ("left out", 0.0, True)
    assert not queue.of(tasks.open_match(library, "m1")).works
    jobs.made = [replace(job, made=0.0) for job in jobs.made]  # before it was taken in
    queue.choose_ball("m1", "search")
    assert queue.advance() and jobs.active == ["ball"]
    with pytest.raises(NotFound):
        queue.choose_ball("m1", "x" * 10_000)


def test_a_ball_that_cannot_be_searched_stops_nothing_else(
    queue: PreparationQueue, jobs: StillJobs, library: Library
) -> None:
    detected(library, looked_at=True)
    queue.begin("m1")
    queue.advance()
    jobs.made = [replace(job, state="failed", error="The frames are too small.") for job in jobs.made]
    assert not queue.advance()
    found = queue.of(tasks.open_match(library, "m1"))
    assert found.trouble == "" and not found.works
    assert of_step(queue, library, "sample").words == "The frames are too small."
