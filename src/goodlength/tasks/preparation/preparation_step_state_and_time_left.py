"""Steps that goodlength takes by itself once a match has a video, with their state and the time left.

```
 court ── a person saves it ──┐
 listen ── copy ── look ──────┴── players ── draft
                    └── sample of the ball ── ball in all rallies ── follow
```
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from goodlength.jobs.job_queue import ACTIVE, JobState

Name = Literal["copy", "listen", "look", "sample", "court", "players", "ball", "follow", "draft"]
State = Literal["done", "running", "waiting", "paused", "stopped", "failed", "person", "left out"]
TITLES: Mapping[Name, str] = {
    "copy": "Make a copy that plays in the browser",
    "listen": "Detect rallies from the sound",
    "look": "Measure the movement",
    "sample": "See how well the ball can be seen",
    "court": "Find the court",
    "players": "Track the players",
    "ball": "Search the ball in the rallies",
    "follow": "Follow the ball: shots and their paths",
    "draft": "Draft the score sheet",
}
KINDS: Mapping[Name, str] = {
    "copy": "proxy",
    "listen": "rallies",
    "look": "picture",
    "sample": "ball-sample",
    "court": "court",
    "players": "players",
    "ball": "ball",
    "follow": "ball-paths",
}
OF_BALL: frozenset[Name] = frozenset({"sample", "ball", "follow"})
PACE_KINDS: Mapping[Name, tuple[str, ...]] = {
    "sample": ("ball-sample", "ball"),
    "ball": ("ball", "ball-sample"),
}
LEAST_SHARE, LEAST_S = 0.05, 5.0  # of a running job, before its own pace is trusted
ABOUT_A_MINUTE_S = 50.0
LATEST = 5  # jobs of a kind from which its pace is taken


@dataclass(frozen=True)
class StepFacts:
    """What is known of one step.

    `ready`: what it rests on is there, and else `waits_for` names it. `person`: what somebody has to do
    first, in words. `job` is the newest since the preparation began, `fault` why it could not be started.
    `length_s` is how much video it works on, seconds; for the court, how many files. `result_words` say what
    it found. `optional`: the coach may leave it out, and `left_out` has done so. `after`: it waits for that
    step alone, and nobody has to do anything.
    """

    name: Name
    done: bool
    ready: bool = True
    waits_for: str = ""
    person: str = ""
    job: JobState | None = None
    fault: str = ""
    length_s: float = 0.0
    result_words: str = ""
    optional: bool = False
    left_out: bool = False
    after: Name | None = None


@dataclass(frozen=True)
class Pace:
    """How long a step works: `measured` here, seconds a second of video, or a first estimate of the whole."""

    measured: float | None = None
    first_s: float | None = None


@dataclass(frozen=True)
class PreparationStep:
    """One step as a page shows it; `left_s` is the working time left, seconds, None where not known.

    `first`: it is a first estimate, as nothing of this kind was measured on this computer. `after` names the
    step after which it comes by itself.

    `startable`: it can be started now. `waits`: somebody has to do something before it. `can_leave_out`: the
    coach may leave it out now; `can_take_in`: it was left out, or waits for the coach to say so.
    """

    name: Name
    title: str
    state: State
    words: str
    share: float
    left_s: float | None
    startable: bool = False
    waits: bool = False
    can_leave_out: bool = False
    can_take_in: bool = False
    first: bool = False
    after: Name | None = None

    @property
    def comes(self) -> bool:
        """Whether it is at work, or comes by itself: nobody has to do anything before it."""
        return self.name in KINDS and (
            self.state == "running" or (self.state == "waiting" and not self.waits)
        )


def preparation_step(facts: StepFacts, pace: Pace, *, paused: bool) -> PreparationStep:
    """Return the state of a step.

    Parameters
    ----------
    pace : Pace
        How long it works.
    paused : bool
        The coach has paused the preparation.
    """
    state = _state(facts, paused=paused)
    share = facts.job.share if facts.job is not None and state == "running" else float(state == "done")
    own = state == "running" and _has_pace(facts.job, share)
    left = None if state == "done" else _left_s(facts, pace, share, own=own)
    return PreparationStep(
        facts.name,
        TITLES[facts.name],
        state,
        _words(facts, state),
        share,
        0.0 if state == "done" else left,
        state == "waiting" and facts.ready and facts.name in KINDS and not _active(facts.job),
        not facts.ready and bool(facts.waits_for),
        facts.optional and state not in ("done", "left out"),
        facts.optional and state in ("left out", "person", "stopped", "failed"),
        pace.measured is None and bool(left) and not own,
        facts.after,
    )


def _active(job: JobState | None) -> bool:
    return job is not None and job.state in ACTIVE


def _state(facts: StepFacts, *, paused: bool) -> State:
    if facts.job is not None and facts.job.state == "running":
        return "running"
    if facts.done:
        return "done"
    if facts.left_out:
        return "left out"
    asks = bool(facts.person) and (facts.job is None or facts.job.state == "done")
    if paused and not asks and (facts.ready or not facts.waits_for):
        return "paused"  # a person's own steps, and what waits for one, stay as they are
    if facts.fault or (facts.job is not None and facts.job.state == "failed"):
        return "failed"
    if facts.job is not None and facts.job.state == "cancelled":
        return "stopped"
    return "person" if facts.person else "waiting"


def _words(facts: StepFacts, state: State) -> str:
    if state == "failed":
        return facts.fault or (facts.job.error or facts.job.words if facts.job is not None else "")
    if state == "person":
        return facts.person
    if state == "running" and facts.job is not None:
        return _with_sleep(facts.job)
    if state == "done":
        return facts.result_words
    return facts.waits_for if state == "waiting" and not facts.ready else ""


def _with_sleep(job: JobState) -> str:
    """Return the words of a running job; where the computer slept meanwhile, that too."""
    if not job.slept_s:
        return job.words
    return f"{job.words}. The computer slept for {about_words(job.slept_s)} meanwhile; the work goes on."


def _has_pace(job: JobState | None, share: float) -> bool:
    """Return whether a running job has come so far that its own pace counts."""
    return job is not None and share >= LEAST_SHARE and job.worked_s >= LEAST_S


def _left_s(facts: StepFacts, pace: Pace, share: float, *, own: bool) -> float | None:
    """Return the seconds of work left: by the job's own pace, else by that of earlier jobs, else about."""
    if own and facts.job is not None:
        return facts.job.worked_s * (1 - share) / share
    if facts.name not in KINDS or facts.left_out:
        return 0.0
    if pace.measured is not None:
        return pace.measured * facts.length_s * (1 - share)
    return None if pace.first_s is None else pace.first_s * (1 - share)


def pace_of(jobs: Sequence[JobState], kinds: str | Sequence[str], machine: str) -> float | None:
    """Return the seconds of work a second of video took the latest jobs of a kind on this computer.

    Of several kinds of the same work, those of any of them count.

    Examples
    --------
    >>> span = {"spans": [{"from_us": 0, "until_us": 10_000_000}]}
    >>> job = JobState("j", "players", 1.0, "", "done", args=span, worked_s=30.0, machine="m")
    >>> pace_of([job], "players", "m")
    3.0
    """
    found = []
    for job in jobs:
        length = video_length_s(job)
        same = job.kind in ([kinds] if isinstance(kinds, str) else kinds)
        if same and (job.state, job.machine) == ("done", machine) and length and job.worked_s > 0:
            found.append(job.worked_s / length)
    return median(found[:LATEST]) if found else None


def video_length_s(job: JobState) -> float:
    """Return how much video a job works on, seconds; 0 where its arguments and its result do not say."""
    args = job.args or {}
    try:
        if job.kind == "court":
            return 1.0  # some frames only, however long the video: counted by the file
        if job.kind in (*PACE_KINDS["ball"], KINDS["follow"]):
            return float(job.result["searched_s"])  # type: ignore[index]
        if job.kind == "players":
            return sum(span["until_us"] - span["from_us"] for span in args["spans"]) / 1e6  # type: ignore[attr-defined]
        if job.kind == "proxy":
            return float(job.result["end_us"] - job.result["first_us"]) / 1e6  # type: ignore[index]
        return sum(film["end_us"] - film["first_us"] for film in args["films"]) / 1e6  # type: ignore[attr-defined]
    except (KeyError, TypeError):
        return 0.0


def left_words(steps: Sequence[PreparationStep]) -> str:
    """Return about how long goodlength still works by itself; empty where it has nothing to do.

    Examples
    --------
    >>> step = PreparationStep("listen", "Detect rallies from the sound", "running", "", 0.5, 95.0)
    >>> left_words([step]), left_words([])
    ('about 2 minutes left', '')
    """
    ahead = _ahead(steps)
    known = [step.left_s for step in ahead if step.left_s is not None]
    if not ahead:
        return ""
    if not known:
        return "time left not known yet"
    seconds = sum(known)
    if len(known) < len(ahead):
        return f"at least {_minutes(max(seconds, 60.0))} left"
    about = "less than a minute left" if seconds < ABOUT_A_MINUTE_S else f"about {_minutes(seconds)} left"
    return f"{about} (a first estimate)" if any(step.first for step in ahead) else about


def _ahead(steps: Sequence[PreparationStep]) -> list[PreparationStep]:
    """Return the steps at work or to come by themselves, those among them that come after another."""
    counted: dict[Name, PreparationStep] = {}
    for step in steps:
        follows = step.state == "waiting" and step.after in counted
        if step.comes or follows:
            counted[step.name] = step
    return list(counted.values())


def about_words(seconds: float) -> str:
    """Return about how long some work takes.

    Examples
    --------
    >>> about_words(140.0), about_words(20.0)
    ('about 2 minutes', 'about 1 minute')
    """
    return f"about {_minutes(seconds)}"


def _minutes(seconds: float) -> str:
    minutes = max(1, round(seconds / 60))
    return f"{minutes} {'minute' if minutes == 1 else 'minutes'}"
