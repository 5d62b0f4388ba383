"""The next thing in a match that only a person can do, from how far the match is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

StepName = Literal[
    "send", "add-video", "names", "court", "wait", "trouble", "who", "draft", "log", "findings", "plan",
    "handout", "done",
]  # fmt: skip
SKIPPABLE: frozenset[StepName] = frozenset({"court", "who"})


@dataclass(frozen=True)
class MatchProgress:
    """How far a match is, as far as it decides what comes next.

    `sending`: a video has arrived in part only, and nobody sends it now. `working` says what goodlength is
    doing, and about how long it takes; `trouble` why it stopped. `court`: no camera is calibrated, and
    goodlength has looked for the court; `court_found`: it found one, to be checked. `tracking`: words while
    the players are tracked, which tells the servers; `who`: a person has to say which is which. `undrafted`
    counts detected rallies that are not on the sheet yet, `unanswered` logged rallies with open questions.
    `servers_known`: the tracked players, or the coach, tell who serves in them. `over`: the match has a
    winner. `can_draft`: the rules tell the winner of a rally by the next server.
    """

    video: bool = False
    sending: bool = False
    unnamed: bool = False
    working: str = ""
    trouble: str = ""
    court: bool = False
    court_found: bool = False
    tracking: str = ""
    who: bool = False
    undrafted: int = 0
    servers_known: bool = False
    can_draft: bool = True
    logged: int = 0
    unanswered: int = 0
    over: bool = False
    plan: bool = False
    handout: bool = False
    skipped: frozenset[str] = frozenset()

    @property
    def needs_video(self) -> bool:
        """Whether what is found in the video still saves work: the record is not done without it."""
        return not self.over and (self.undrafted > 0 or not self.logged)


@dataclass(frozen=True)
class NextStep:
    """What a person does next: the words of the button, the page of the match, and why, in a sentence.

    `needed` is false while only goodlength has work to do, and once all is done.
    """

    name: StepName
    button: str
    page: str
    why: str
    needed: bool = True

    @property
    def can_skip(self) -> bool:
        """Whether the match can go on without it."""
        return self.name in SKIPPABLE


def next_step(progress: MatchProgress, here: str = "") -> NextStep:
    """Return the next thing that only a person can do.

    Parameters
    ----------
    progress : MatchProgress
        How far the match is.
    here : str
        The page of the match that is open: who reads the findings is offered the plan after them.

    Examples
    --------
    >>> next_step(MatchProgress(video=True, undrafted=78)).button
    'Log 78 rallies'
    >>> next_step(MatchProgress(video=True, working="Detecting rallies, about 3 minutes left.")).needed
    False
    """
    return _before_the_record(progress) or _record(progress) or _after_the_record(progress, here)


def _before_the_record(progress: MatchProgress) -> NextStep | None:
    """Return what is to be done before rallies can be looked at."""
    if progress.sending:
        why = "Part of the video has arrived. Choose the same video again; only the rest is sent."
        return NextStep("send", "Continue sending the video", "prepare", why)
    if not progress.video and not progress.logged:
        why = "Add a video, or log the match as it is played."
        return NextStep("add-video", "Add a video", "footage", why)
    if progress.unnamed:
        return NextStep("names", "Name the players", "prepare", "goodlength works on the video meanwhile.")
    if progress.trouble and progress.needs_video:
        return NextStep("trouble", "See what stopped", "prepare", progress.trouble)
    if progress.court and progress.needs_video and "court" not in progress.skipped:
        why = (
            "With a calibrated camera goodlength tracks the players and tells who serves. Without it you "
            "enter more by hand."
        )
        if progress.court_found:
            return NextStep("court", "Check the detected court", "footage", why)
        return NextStep("court", "Calibrate the camera", "camera", why)
    if progress.working:
        return NextStep("wait", "See the progress", "prepare", progress.working, needed=False)
    return None


def _record(progress: MatchProgress) -> NextStep | None:
    """Return what is to be confirmed or logged, each rally watched once.

    Where nothing tells the servers there is no draft to confirm: Record asks about each detected rally.
    """
    if progress.tracking and not progress.logged:
        return NextStep("wait", "See the progress", "prepare", progress.tracking, needed=False)
    if progress.who and "who" not in progress.skipped:
        why = "goodlength tracked both players and cannot tell which is which."
        return NextStep("who", "Say who is who", "players", why)
    drafted = progress.servers_known and progress.can_draft and bool(progress.undrafted)
    if drafted and not progress.unanswered and not progress.over:
        why = f"goodlength drafts winners and score of {_rallies(progress.undrafted)}; you confirm them."
        return NextStep("draft", "Check the draft", "draft", why)
    if progress.unanswered:
        button = f"Answer {_rallies(progress.unanswered)}"
        return NextStep("log", button, "record", "Some questions about these rallies are open.")
    if not progress.over and (progress.undrafted or not progress.logged):
        button = f"Log {_rallies(progress.undrafted)}" if progress.undrafted else "Log the match"
        why = "Record plays the detected rallies; each takes a few presses." if progress.undrafted else ""
        return NextStep("log", button, "record", why or "Each rally takes a few presses.")
    return None


def _after_the_record(progress: MatchProgress, here: str) -> NextStep:
    """Return what follows once all that was played is logged."""
    read = here in ("findings", "show", "plan", "handout") or progress.plan or progress.handout
    if not read:
        return NextStep("findings", "Read the findings", "findings", "Everything played so far is logged.")
    if not progress.plan and here != "plan" and not progress.handout:
        return NextStep("plan", "Make a plan", "plan", "Choose what to practise from the findings.")
    if not progress.handout:
        return NextStep("handout", "Make the handout", "handout", "One page for the player.")
    return NextStep("done", "Open the handout", "handout", "Every step is done.", needed=False)


def _rallies(n: int) -> str:
    return f"{n} {'rally' if n == 1 else 'rallies'}"
