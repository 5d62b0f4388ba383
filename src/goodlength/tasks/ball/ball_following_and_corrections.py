"""Follow the ball through the rallies of a match as a job, and again through one that the coach corrects."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from goodlength.errors import InputError, NotFound
from goodlength.files.library_layout import ball_corrections_file, followed_ball_file
from goodlength.files.locked_json_file import exclusive
from goodlength.jobs.job_queue import ACTIVE
from goodlength.measure.shots.followed_ball_storage import check_followed, write_followed
from goodlength.tasks.ball.ball_following_inputs import (
    ball_settings,
    followed_now,
    following_files,
    rallies_out_of_date,
    rallies_to_follow,
)
from goodlength.tasks.ball.ball_following_job import (
    RallyFollower,
    change_corrections,
    corrections_of,
    follow_match_job,
    with_choices,
    within,
)
from goodlength.tasks.ball.ball_path_queries import (
    RallyDrawing,
    all_followed,
    as_shown,
    find_rally,
    find_shot,
    rally_drawing,
    with_rally,
)
from goodlength.tasks.ball.stored_ball_paths_rekeyed_to_rallies import followed_ball, settle_keys
from goodlength.tasks.footage.camera_calibration import camera_at

if TYPE_CHECKING:
    from goodlength.jobs.job_queue import Jobs
    from goodlength.jobs.progress_callback import Progress
    from goodlength.measure.shots.followed_ball_types import FollowedMatch, FollowedShot, RallyCorrections
    from goodlength.tasks.match.lazy_match import OpenMatch

KIND = "ball-paths"


def start_following(opened: OpenMatch, jobs: Jobs) -> str:
    """Begin following the ball through all rallies searched; gives the job's id, or that of one under way.

    Rallies that are followed and up to date are left, unless all are: then all are followed again.

    Raises
    ------
    InputError
        The ball was not searched, or no camera is calibrated: each with the next step.
    """
    under_way = following_job_of(jobs, opened.id)
    if under_way is not None:
        return under_way
    return jobs.start(
        KIND,
        follow_match_job,
        _job_args(opened, again=all_followed(opened) and not rallies_out_of_date(opened)),
    )


def follow_here(opened: OpenMatch, progress: Progress, *, again: bool = False) -> FollowedMatch:
    """Follow the ball here and now as the job does; rallies followed already are left unless `again`.

    Raises
    ------
    InputError
        As `start_following`.
    """
    follow_match_job(**_job_args(opened, again=again), progress=progress, cancel=lambda: False)
    followed = followed_now(opened)
    if followed is None:
        raise InputError("What was followed has been deleted meanwhile. Follow the ball again.")
    return followed


def _job_args(opened: OpenMatch, *, again: bool) -> dict[str, Any]:
    rallies = rallies_to_follow(opened)
    settle_keys(opened)
    return {
        "match": opened.id,
        "rallies": [asdict(rally) for rally in rallies],
        "files": asdict(following_files(opened)),
        "ball": ball_settings(opened),
        "again": again,
    }


def following_job_of(jobs: Jobs, match_id: str) -> str | None:
    """Return the job that follows the ball in this match now."""
    for job in jobs.states():
        if job.kind == KIND and (job.args or {}).get("match") == match_id and job.state in ACTIVE:
            return job.id
    return None


def mark_ball(opened: OpenMatch, key: str, at_us: int, x: float, y: float, version: int) -> RallyDrawing:
    """Set a mark that the path must pass, where the coach clicked the ball, and fit the rally again.

    Its strikes stay where the paths between them can pass the marks; else the rally is followed anew.

    Parameters
    ----------
    at_us : int
        Match time of the frame.
    x, y : float
        Shares of the picture's width and height.
    version : int
        Of the rally, as it was shown.

    Raises
    ------
    NotFound, InputError
        No such rally, or the mark lies outside it.
    Conflict
        The rally is not as it was shown; nothing was changed.
    """
    from goodlength.measure.shots.followed_ball_types import BallMark

    media_us = _media_us(opened, key, at_us)
    rally = find_rally(followed_ball(opened), key)
    if not rally.from_us <= media_us <= rally.until_us:
        raise InputError(
            "This frame lies outside the rally. Go to a frame within it and click the ball there."
        )
    saved = camera_at(opened.library, rally.footage, rally.from_us)
    if saved is None:
        raise InputError("The camera is not calibrated any more. Calibrate it on the Footage page.")
    lens = saved.camera.lens
    mark = BallMark(media_us, x * lens.width, y * lens.height)

    def change(old: RallyCorrections) -> RallyCorrections:
        others = tuple(other for other in old.marks if other.time_us != media_us)
        return replace(old, marks=(*others, mark))

    return _follow_again(opened, key, version, change, strikes_stay=True)


def move_strike(opened: OpenMatch, key: str, number: int, to_us: int, version: int) -> RallyDrawing:
    """Move a shot's strike to another sound, match time, and follow the rally again.

    Raises
    ------
    NotFound, InputError
        No such rally or shot, or no sound is there.
    Conflict
        The rally is not as it was shown; nothing was changed.
    """
    rally = find_rally(followed_ball(opened), key)
    shot = find_shot(rally, number)
    media_us = _media_us(opened, key, to_us)
    if media_us not in rally.unused_us:
        raise InputError("No sound was detected there. Choose one of the sounds around the strike.")

    def change(old: RallyCorrections) -> RallyCorrections:
        return replace(
            old,
            strikes_us=(*within(old.strikes_us, shot.struck_us), media_us),
            not_strikes_us=(*within(old.not_strikes_us, media_us), shot.struck_us),
        )

    return _follow_again(opened, key, version, change)


def remove_shot(opened: OpenMatch, key: str, number: int, version: int) -> RallyDrawing:
    """Say that no shot was struck there, and follow the rally again.

    Raises
    ------
    NotFound
        No such rally or shot.
    Conflict
        The rally is not as it was shown; nothing was changed.
    """
    shot: FollowedShot = find_shot(find_rally(followed_ball(opened), key), number)

    def change(old: RallyCorrections) -> RallyCorrections:
        return replace(
            old,
            strikes_us=within(old.strikes_us, shot.struck_us),
            not_strikes_us=(*within(old.not_strikes_us, shot.struck_us), shot.struck_us),
        )

    return _follow_again(opened, key, version, change)


def undo_corrections(opened: OpenMatch, key: str, version: int) -> RallyDrawing:
    """Take back everything the coach corrected in a rally, and follow it again."""
    from goodlength.measure.shots.followed_ball_types import RallyCorrections

    return _follow_again(opened, key, version, lambda _: RallyCorrections(), choices=False)


def follow_rally_again(opened: OpenMatch, key: str, version: int) -> RallyDrawing:
    """Follow one rally again with camera, players and sounds as they are now; corrections stay."""
    return _follow_again(opened, key, version, lambda old: old)


def _follow_again(
    opened: OpenMatch,
    key: str,
    version: int,
    change: Callable[[RallyCorrections], RallyCorrections],
    *,
    choices: bool = True,
    strikes_stay: bool = False,
) -> RallyDrawing:
    """Follow one rally with what the coach says now; corrections and path are stored together or not at all.

    It takes up to a second, in which others may store: whoever is later is refused.
    """
    settle_keys(opened)
    shown = as_shown(find_rally(followed_ball(opened), key), version)
    rally = next(iter(rallies_to_follow(opened, (key,))), None)
    if rally is None:
        raise NotFound("The times of this rally have changed. Follow the ball again on the Footage page.")
    path = ball_corrections_file(opened.library.folder, opened.id)
    old = corrections_of(path, key)
    new = change(old)
    follower = RallyFollower(following_files(opened), ball_settings(opened))
    after = follower.follow(rally, new, shown if strikes_stay else None)
    try:
        check_followed(after)
    except ValueError as error:
        raise InputError(
            "A path was found that cannot be stored, so nothing was changed. Take the correction back, or "
            "click the ball in another frame."
        ) from error
    to = followed_ball_file(opened.library.folder, opened.id)
    with exclusive(to.parent):
        followed = followed_ball(opened)
        before = as_shown(find_rally(followed, key), version)
        now = with_choices(before, after) if choices else after
        change_corrections(path, key, lambda _: new)
        try:
            write_followed(to, with_rally(followed, replace(now, version=version + 1)))
        except BaseException:
            change_corrections(path, key, lambda _: old)
            raise
    return rally_drawing(opened, key)


def _media_us(opened: OpenMatch, key: str, match_us: int) -> int:
    """Return the media time, in a rally's file, of a match time."""
    from goodlength.media_time import MediaPosition

    place = None if opened.timeline is None else opened.timeline.locate(match_us)
    footage = find_rally(followed_ball(opened), key).footage
    if not isinstance(place, MediaPosition) or place.footage_id != footage:
        raise InputError("This moment lies in another video than the rally. Go back to the rally.")
    return place.media_us
