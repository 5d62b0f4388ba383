"""The ball on the Footage page: how well it can be seen, how far the search is, and what can be started."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from goodlength.jobs.job_queue import Jobs
from goodlength.media_time import minutes_words
from goodlength.tasks.ball.ball_detection import SAMPLE_KIND, BallSearchState, ball_job_of, ball_search_state
from goodlength.tasks.ball.ball_following_and_corrections import following_job_of
from goodlength.tasks.ball.ball_following_inputs import rallies_out_of_date
from goodlength.tasks.ball.ball_path_queries import all_followed
from goodlength.tasks.ball.court_share_out_of_view import outside_words
from goodlength.tasks.footage.camera_calibration import camera_at, has_camera

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


class SeenVideo(TypedDict):
    """How well the ball can be seen in one video, and what lies outside its picture, in words."""

    name: str
    words: str
    outside: str


class BallView(TypedDict):
    """What the Footage page shows of the ball; `can_search` and `can_follow` are a button's words, empty
    without one.
    """

    seen: list[SeenVideo]
    state: str
    job: str | None
    job_title: str
    shows: bool
    can_sample: bool
    can_search: str
    followed: bool
    out_of_date: str
    can_follow: str


def ball_view(opened: OpenMatch, jobs: Jobs) -> BallView:
    """Return what the Footage page shows of the ball."""
    state = ball_search_state(opened)
    sampling = ball_job_of(jobs, opened.id, SAMPLE_KIND)
    following = following_job_of(jobs, opened.id)
    job = sampling or following or ball_job_of(jobs, opened.id)
    followed = all_followed(opened)
    rest = state.missing < state.rallies and state.whole
    search = "Search the rest" if rest else "Search the ball in all rallies"
    return {
        "seen": [_seen(opened, footage, words) for footage, words in state.words],
        "state": _state_words(state),
        "job": job,
        "job_title": _job_title(sampling=bool(sampling), following=bool(following)),
        "shows": state.missing < state.rallies,
        "can_sample": state.rallies > 0 and not state.sampled and jobs.owner,
        "can_search": search if state.sampled and state.missing and jobs.owner else "",
        "followed": followed,
        "out_of_date": _out_of_date_words(0 if following else rallies_out_of_date(opened)),
        "can_follow": _follow_button(opened, state, followed=followed) if jobs.owner else "",
    }


def _out_of_date_words(rallies: int) -> str:
    if not rallies:
        return ""
    paths = "The path of 1 rally is" if rallies == 1 else f"The paths of {rallies} rallies are"
    return f"{paths} out of date: what it was followed with has changed since."


def _job_title(*, sampling: bool, following: bool) -> str:
    if sampling:
        return "Looking for the ball in a sample"
    return "Following the ball" if following else "Searching the ball"


def _follow_button(opened: OpenMatch, state: BallSearchState, *, followed: bool) -> str:
    calibrated = any(has_camera(opened.library, file.id) for file in opened.footage)
    if not calibrated or state.missing == state.rallies:
        return ""
    return "Follow the ball again" if followed else "Follow the ball"


def _seen(opened: OpenMatch, footage_id: str, words: tuple[str, ...]) -> SeenVideo:
    file = next((file for file in opened.footage if file.id == footage_id), None)
    saved = None if file is None else camera_at(opened.library, footage_id, file.first_us or 0)
    return {
        "name": "" if file is None else Path(file.path).name,
        "words": " ".join(words),
        "outside": "" if saved is None else outside_words(saved.camera.lens),
    }


def _state_words(state: BallSearchState) -> str:
    if not state.rallies:
        return "It needs rallies with a time: detect the rallies, or log the match, first."
    if not state.searched_s:
        return ""
    searched = f"Searched: {minutes_words(state.searched_s)} of play"
    if not state.missing:
        return f"{searched}, all {state.rallies} rallies."
    return f"{searched}. {state.missing} of {state.rallies} rallies are not searched yet."
