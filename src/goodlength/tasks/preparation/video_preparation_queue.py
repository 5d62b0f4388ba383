"""The preparation of matches: one visible queue of all that goodlength can do by itself with a video.

```
 begin ──> advance: starts the next step whose needs are there ──> … ──> all done, or a person is needed
              └── pause, cancel, a kill of the program: the next advance finds from the library what is left
```

Nothing is remembered of the steps themselves: what is done is seen from the files that it made.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from goodlength.errors import GoodlengthError, NotFound
from goodlength.files import library_layout
from goodlength.jobs.job_queue import ACTIVE, Jobs, JobState, machine_mark
from goodlength.tasks.ball.ball_detection import BallSearchState, ball_search_state, start_ball_search
from goodlength.tasks.ball.ball_following_and_corrections import start_following
from goodlength.tasks.ball.ball_path_queries import all_followed
from goodlength.tasks.footage import player_tracking
from goodlength.tasks.footage.camera_calibration import (
    court_proposal,
    has_camera,
    start_court_detection,
)
from goodlength.tasks.footage.footage_import_and_proxies import proxy_path, start_proxy
from goodlength.tasks.footage.rally_detection import (
    ListedRallies,
    listed_rallies,
    start_picture,
    start_rally_detection,
)
from goodlength.tasks.footage.stored_video_probe import copy_reason
from goodlength.tasks.match.lazy_match import OpenMatch, open_match
from goodlength.tasks.preparation.default_preparation_step_durations import (
    ASSUMED_PLAYED_SHARE,
    ASSUMED_SAMPLE_S,
    first_work_s,
    slowness,
)
from goodlength.tasks.preparation.next_step_for_person import SKIPPABLE
from goodlength.tasks.preparation.preparation_request_file import (
    PreparationState,
    change_state,
    note_begin,
    read_state,
    wanted_matches,
)
from goodlength.tasks.preparation.preparation_step_state_and_time_left import (
    KINDS,
    OF_BALL,
    PACE_KINDS,
    Name,
    Pace,
    PreparationStep,
    StepFacts,
    about_words,
    left_words,
    pace_of,
    preparation_step,
    video_length_s,
)

if TYPE_CHECKING:
    from goodlength.record.model import Footage
    from goodlength.record.store import Library

CHECK_EVERY_S = 1.0
STOPS_WITHIN_S = 5.0
CLOSING_S = 5.0
CHECK_COURT = "The court was found: check it and save it. Then the players can be tracked."
CALIBRATE = (
    "goodlength is not sure of the court: set its marks on one frame. Then the players can be tracked."
)
BALL_CHOICES = ("search", "leave out")
ASSUMED_LONG_S = 1800.0  # of work, from which the coach is asked before the ball is searched: our own choice
MOSTLY_LOST = 0.5  # share of frames; with more, paths were not tried


@dataclass(frozen=True)
class Preparation:
    """How far the preparation of a match is."""

    wanted: bool
    paused: bool
    steps: tuple[PreparationStep, ...]
    skipped: frozenset[str]

    @property
    def left(self) -> str:
        """About how long goodlength still works, in words; empty where it has nothing to do."""
        return left_words(self.steps) if self.works else ""

    @property
    def works(self) -> bool:
        """Whether goodlength works on the match, or is about to."""
        if any(step.state == "running" for step in self.steps):
            return True
        return self.wanted and not self.paused and any(step.comes for step in self.steps)

    @property
    def trouble(self) -> str:
        """What stopped a step, in words; empty where nothing did. The match goes on without the ball."""
        needed = (step for step in self.steps if step.state == "failed" and step.name not in OF_BALL)
        return next((step.words for step in needed), "") if self.wanted else ""


def preparation_of(
    opened: OpenMatch, jobs: Sequence[JobState], detected: ListedRallies | None = None
) -> Preparation:
    """Return how far the preparation of a match is.

    Parameters
    ----------
    jobs : sequence of JobState
        The library's jobs, newest first.
    detected : ListedRallies, optional
        The match's detected rallies, where they were read already.
    """
    state = read_state(opened.library.folder, opened.id)
    machine = machine_mark()
    facts_of_all = step_facts(opened, jobs, state, detected or listed_rallies(opened))
    steps = tuple(
        preparation_step(facts, _pace_of_step(facts, opened.id, jobs, machine), paused=state.paused)
        for facts in facts_of_all
    )
    return Preparation(state.wanted, state.paused, steps, frozenset(state.skipped))


def _pace_of_step(facts: StepFacts, match_id: str, jobs: Sequence[JobState], machine: str) -> Pace:
    """Return how long a step works, as measured on this computer, or else about."""
    measured = None if facts.done else _pace(facts.name, match_id, jobs, machine)
    kind = KINDS.get(facts.name)
    if facts.done or measured is not None or kind is None or not facts.length_s:
        return Pace(measured)
    done = [job for job in jobs if (job.state, job.machine) == ("done", machine) and job.worked_s > 0]
    slow = slowness([(job, video_length_s(job)) for job in done])
    return Pace(first_s=first_work_s(kind, facts.length_s, slow))


def _pace(name: Name, match_id: str, jobs: Sequence[JobState], machine: str) -> float | None:
    """Return the pace of a step; for the ball that of this match's sample, as videos differ in frames."""
    kinds = PACE_KINDS.get(name, (KINDS.get(name, ""),))
    own = [job for job in jobs if name in PACE_KINDS and (job.args or {}).get("match") == match_id]
    found = pace_of(own, kinds, machine)
    return pace_of(jobs, kinds, machine) if found is None else found


def step_facts(
    opened: OpenMatch, jobs: Sequence[JobState], state: PreparationState, detected: ListedRallies
) -> tuple[StepFacts, ...]:
    """Return what is known of each step that a match needs; none without a video."""
    timeline, folder = opened.timeline, opened.library.folder
    if timeline is None:
        return ()
    length_s = sum(part.end_us - part.first_us for part in timeline.parts) / 1e6
    played_s = sum(rally.end_us - rally.start_us for rally in detected.played) / 1e6
    waits = player_tracking.BEFORE_US + player_tracking.AFTER_US
    tracked_s = played_s + len(detected.played) * waits / 1e6
    newest = _newest_jobs(opened, jobs, state)
    listened = not detected.stale
    court = any(has_camera(opened.library, file.id) for file in opened.footage)
    tracked = library_layout.track_files(folder, opened.id)[0].is_file()
    search = ball_search_state(opened)
    rallies_known = listened and detected.picture_searched
    about_s = 0.0 if rallies_known else ASSUMED_PLAYED_SHARE * length_s
    found = [
        StepFacts("listen", listened, length_s=length_s),
        StepFacts("look", detected.picture_searched, ready=listened, length_s=length_s),
        _sample(search, rallies_known=rallies_known),
        _court(opened, court),
        StepFacts(
            "players",
            tracked,
            ready=court and detected.picture_searched and bool(detected.played),
            waits_for=_players_wait(detected, court=court),
            length_s=tracked_s if rallies_known else max(tracked_s, about_s),
        ),
        _ball(
            search,
            newest.get("sample"),
            state,
            pace=_pace("ball", opened.id, jobs, machine_mark()),
            about_s=about_s,
        ),
        _follow(opened, search, newest.get("follow"), state, court=court, about_s=about_s),
    ]
    if tracked or court or "court" not in state.skipped:  # else nothing tells who serves: Record asks who won
        drafted = tracked and bool(detected.played) and listened
        found.append(StepFacts("draft", drafted, ready=False, waits_for="" if tracked else "for the players"))
    if any(copy_reason(file) for file in opened.footage):
        done = not files_to_copy(opened)
        # After the rallies are heard, which takes a minute at most; its reading measures the movement too.
        found.insert(1, StepFacts("copy", done, length_s=length_s))
    return tuple(
        replace(facts, job=newest.get(facts.name), fault=state.faults.get(facts.name, "")) for facts in found
    )


def _players_wait(detected: ListedRallies, *, court: bool) -> str:
    """Return what tracking waits for that does not come by itself; empty where nothing is missing."""
    if not court:
        return "for the camera calibration"
    return "for a rally: none was detected" if detected.picture_searched and not detected.played else ""


def files_to_copy(opened: OpenMatch) -> list[Footage]:
    """Return the videos of a match of which a browser needs a copy that is not there."""
    needed = []
    for file in opened.footage:
        path = proxy_path(opened.library, file.id)
        there = path.is_file() and path.with_suffix(".frames.npz").is_file()
        if not there and copy_reason(file):
            needed.append(file)
    return needed


def _court(opened: OpenMatch, calibrated: bool) -> StepFacts:
    """Return what is known of the court: calibrated, to be checked, to be marked, or to be looked for."""
    if calibrated:
        return StepFacts("court", True)
    proposals = [court_proposal(opened.library, file.id) for file in opened.footage]
    missing = sum(proposal is None for proposal in proposals)
    if missing:
        return StepFacts("court", False, length_s=float(missing))
    offered = any(proposal is not None and proposal.offered for proposal in proposals)
    return StepFacts("court", False, person=CHECK_COURT if offered else CALIBRATE)


def _sample(search: BallSearchState, *, rallies_known: bool) -> StepFacts:
    """Return what is known of the short look at the ball, which comes once the rallies are known."""
    waits = "for the rallies" if not rallies_known else "for a rally: none was detected or logged"
    ready = rallies_known and search.rallies > 0
    return StepFacts(
        "sample",
        search.sampled or search.whole,
        ready=ready,
        waits_for="" if ready else waits,
        length_s=search.sample_s if rallies_known else max(search.sample_s, ASSUMED_SAMPLE_S),
        result_words=search.line,
        after=None if rallies_known else "look",
    )


def _ball(
    search: BallSearchState,
    sample: JobState | None,
    state: PreparationState,
    *,
    pace: float | None,
    about_s: float,
) -> StepFacts:
    """Return what is known of the search of all rallies, and whether the coach is asked before it."""
    person = "" if state.ball or not search.sampled else _why_ask_first(search, pace)
    at_work = sample is not None and sample.state in ACTIVE
    return StepFacts(
        "ball",
        search.whole,
        ready=search.sampled,
        waits_for="" if search.sampled or at_work else "for the look at how well it can be seen",
        person=f"{person} Search it all the same, or leave it out." if person else "",
        length_s=max(search.missing_s, about_s),
        result_words=_searched_words(search),
        optional=True,
        left_out=state.ball == "leave out",
        after=None if search.sampled else "sample",
    )


def _follow(
    opened: OpenMatch,
    search: BallSearchState,
    job: JobState | None,
    state: PreparationState,
    *,
    court: bool,
    about_s: float,
) -> StepFacts:
    """Return what is known of following the ball: it needs the ball in all rallies, and the camera."""
    at_work = job is not None and job.state in ACTIVE  # its file grows, and is not read meanwhile
    ready = search.whole and court
    waits = "for the camera calibration" if not court else "for the search of the ball"
    return StepFacts(
        "follow",
        not at_work and all_followed(opened),
        ready=ready,
        waits_for="" if ready else waits,
        length_s=max(search.searched_s + search.missing_s, about_s),
        left_out=state.ball == "leave out" and not search.whole,
        after="ball" if court and not search.whole else None,
    )


def _why_ask_first(search: BallSearchState, pace: float | None) -> str:
    """Return why the coach is asked before the ball is searched; empty where it is searched at once."""
    if search.lost is None or search.lost > MOSTLY_LOST:
        return "The ball is lost in most frames of this video, so a search of all rallies will find little."
    long_s = 0.0 if pace is None else pace * search.missing_s
    if long_s > ASSUMED_LONG_S:
        return f"A search of all rallies takes {about_words(long_s)} on this computer."
    return ""


def _searched_words(search: BallSearchState) -> str:
    if not search.missing:
        return ""
    words = "1 rally was" if search.missing == 1 else f"{search.missing} rallies were"
    return f"{words} added or changed since. Search the rest on the Footage page."


@dataclass(frozen=True)
class _Own:
    """What tells the jobs of a match: its id, and the files that jobs write for its videos."""

    match: str
    targets: frozenset[str]

    def has(self, job: JobState) -> bool:
        """Return whether a job works for the match."""
        args = job.args or {}
        return job.kind in KINDS.values() and (
            args.get("match") == self.match or bool(self.targets & {args.get("dst"), args.get("to")})
        )


def _own(library: Library, match_id: str, footage: Sequence[Footage]) -> _Own:
    targets = {str(proxy_path(library, file.id)) for file in footage}
    targets |= {str(library_layout.court_proposal_file(library.folder, file.id)) for file in footage}
    return _Own(match_id, frozenset(targets))


def _newest_jobs(
    opened: OpenMatch, jobs: Sequence[JobState], state: PreparationState
) -> Mapping[Name, JobState]:
    """Return the newest job of each step: those at work, and those ended since the preparation began."""
    own = _own(opened.library, opened.id, opened.footage)
    names: Mapping[str, Name] = {kind: name for name, kind in KINDS.items()}
    found: dict[Name, JobState] = {}
    for job in jobs:
        if own.has(job) and (job.state in ACTIVE or job.made >= state.since_s):
            found.setdefault(names[job.kind], job)
    return found


class PreparationQueue:
    """Starts the steps of every match that is to be prepared, one after the other; thread-safe."""

    def __init__(self, library: Library, jobs: Jobs) -> None:
        self._library, self._jobs = library, jobs
        self._turn = threading.Condition()
        self._asked = True
        self._closed = False
        self._one_pass = threading.Lock()
        self._thread = threading.Thread(target=self._work, name="goodlength preparation", daemon=True)

    def start(self) -> None:
        """Take up what was begun before the program ended, and go on with it in the background."""
        self._thread.start()

    def close(self) -> None:
        """Stop starting steps; the next start of the program goes on."""
        with self._turn:
            self._closed = True
            self._turn.notify_all()
        if self._thread.is_alive():
            self._thread.join(CLOSING_S)

    def notify(self) -> None:
        """Look again at what can be started: a video came in, or a person did something."""
        with self._turn:
            self._asked = True
            self._turn.notify_all()

    def of(self, opened: OpenMatch) -> Preparation:
        """Return how far the preparation of a match is."""
        return preparation_of(opened, self._jobs.states())

    def begin(self, match_id: str) -> None:
        """Prepare a match, go on after a pause, or try again what stopped.

        Raises
        ------
        NotFound
            There is no such match.
        NoSpace
            What was asked for cannot be written.
        """
        self._library.match_info(match_id)
        note_begin(self._library.folder, match_id)
        self.notify()

    def pause(self, match_id: str) -> None:
        """Stop working on a match until it is continued; what is done stays."""
        self._library.match_info(match_id)
        change_state(self._library.folder, match_id, paused=True)
        self._stop_jobs(match_id)

    def cancel(self, match_id: str) -> None:
        """Stop preparing a match; what is done stays, and it can be begun again."""
        self._library.match_info(match_id)
        change_state(self._library.folder, match_id, wanted=False, paused=False)
        self._stop_jobs(match_id)

    def skip(self, match_id: str, step: str) -> None:
        """Leave a step out that a person would do; the match goes on without it.

        Raises
        ------
        NotFound
            There is no such match, or no such step that can be left out.
        """
        self._library.match_info(match_id)
        if step not in SKIPPABLE:
            raise NotFound("There is no such step to leave out. Reload the page.")
        skipped = read_state(self._library.folder, match_id).skipped
        if step not in skipped:
            change_state(self._library.folder, match_id, skipped=(*skipped, step))

    def choose_ball(self, match_id: str, choice: str) -> None:
        """Say whether the ball is to be searched; a search under way is stopped when it is left out.

        Raises
        ------
        NotFound
            There is no such match, or no such choice.
        """
        self._library.match_info(match_id)
        if choice not in BALL_CHOICES:
            raise NotFound("There is no such choice for the ball. Reload the page.")
        if choice == "search":
            note_begin(self._library.folder, match_id)
            change_state(self._library.folder, match_id, ball=choice)
            self.notify()
            return
        change_state(self._library.folder, match_id, ball=choice)
        own = _own(self._library, match_id, ())
        for job in self._jobs.states():
            if job.kind in (KINDS["ball"], KINDS["follow"]) and job.state in ACTIVE and own.has(job):
                self._jobs.cancel(job.id)

    def leave(self, match_id: str) -> None:
        """Stop the jobs of a match that is about to be removed, and wait until they have ended."""
        for job in self._stop_jobs(match_id):
            self._jobs.wait(job, STOPS_WITHIN_S)

    def _stop_jobs(self, match_id: str) -> list[str]:
        own = _own(self._library, match_id, self._library.footage(match_id))
        found = [job.id for job in self._jobs.states() if job.state in ACTIVE and own.has(job)]
        for job in found:
            self._jobs.cancel(job)
        return found

    def _work(self) -> None:
        """Start what can be started until closed; idle while there is nothing at work."""
        busy = False
        while True:
            with self._turn:
                while not self._closed and not self._asked:
                    if self._turn.wait(CHECK_EVERY_S if busy else None) or busy:
                        break
                if self._closed:
                    return
                self._asked = False
            busy = False
            with suppress(GoodlengthError):
                busy = self.advance()

    def advance(self) -> bool:
        """Start the next step of every match that can go on; return whether something is at work."""
        if not self._jobs.owner:
            return False
        busy = False
        with self._one_pass:
            for match_id in wanted_matches(self._library.folder):
                busy = self._advance(match_id) or busy
        return busy

    def _advance(self, match_id: str) -> bool:
        try:
            opened = open_match(self._library, match_id)
        except NotFound:  # removed meanwhile: it goes on when it is put back
            return False
        jobs, own = self._jobs.states(), _own(self._library, match_id, opened.footage)
        if any(job.state in ACTIVE and own.has(job) for job in jobs):
            return True
        state = preparation_of(opened, jobs)
        step = next((step for step in state.steps if step.startable), None)
        if step is None:
            return False
        try:
            self._start(opened, step.name)
        except GoodlengthError as error:
            faults = {**read_state(self._library.folder, match_id).faults, step.name: error.page_words}
            change_state(self._library.folder, match_id, faults=faults)
        return True

    def _start(self, opened: OpenMatch, name: Name) -> None:
        if name == "copy":
            start_proxy(opened.library, files_to_copy(opened)[0].id, self._jobs)
        elif name == "listen":
            # Where a copy is to be made, its reading measures the movement.
            start_rally_detection(opened, self._jobs, then_picture=not files_to_copy(opened))
        elif name == "look":
            start_picture(opened, self._jobs)
        elif name == "court":
            for file in opened.footage:
                start_court_detection(opened.library, file.id, self._jobs)
        elif name == "players":
            player_tracking.start_tracking(opened, self._jobs)
        elif name in ("sample", "ball"):
            start_ball_search(opened, self._jobs, sample=name == "sample")
        elif name == "follow":
            start_following(opened, self._jobs)
