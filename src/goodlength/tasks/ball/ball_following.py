"""Follow the ball through the rallies of a match as a job, and again through one that the coach corrects."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from goodlength.errors import InputError, NotFound
from goodlength.files.library_layout import (
    ball_corrections_file,
    ball_file,
    followed_ball_file,
    track_files,
)
from goodlength.files.locked_json_file import exclusive
from goodlength.jobs.job_queue import ACTIVE
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.tasks.ball.ball_detection import ball_spans
from goodlength.tasks.ball.ball_paths import (
    RallyDrawing,
    all_followed,
    find_rally,
    find_shot,
    rally_drawing,
    with_rally,
)
from goodlength.tasks.ball.followed_ball_export import followed_ball, settle_keys
from goodlength.tasks.ball.following_job import (
    FollowingFiles,
    RallyFollower,
    RallyInputs,
    change_corrections,
    conditions,
    follow_match_job,
    with_choices,
    within,
)
from goodlength.tasks.footage.camera_calibration import camera_at
from goodlength.tasks.footage.player_tracking import TrackedRally, tracked_match
from goodlength.tasks.footage.rally_detection import ListedRally, listed_rallies
from goodlength.tasks.footage.serve_measurement import setting_of

if TYPE_CHECKING:
    from goodlength.footage.ball_detection.ball_storage import BallSpan
    from goodlength.jobs.job_queue import Jobs
    from goodlength.jobs.progress_callback import Progress
    from goodlength.measure.shots.followed_ball import FollowedMatch, FollowedShot, RallyCorrections
    from goodlength.media_time import Timeline
    from goodlength.tasks.match.lazy_match import OpenMatch

KIND = "ball-paths"
AROUND_US = 1_000_000  # sounds so far around a rally count, too
UNNAMED = 0.5  # chance that a racket made a sound that nobody named


def start_following(opened: OpenMatch, jobs: Jobs) -> str:
    """Begin following the ball through all rallies searched; gives the job's id, or that of one under way.

    Raises
    ------
    InputError
        The ball was not searched, or no camera is calibrated: each with the next step.
    """
    under_way = following_job_of(jobs, opened.id)
    if under_way is not None:
        return under_way
    return jobs.start(KIND, follow_match_job, _job_args(opened, again=all_followed(opened)))


def follow_here(opened: OpenMatch, progress: Progress, *, again: bool = False) -> FollowedMatch:
    """Follow the ball here and now as the job does; rallies followed already are left unless `again`.

    Raises
    ------
    InputError
        As `start_following`.
    """
    follow_match_job(**_job_args(opened, again=again), progress=progress, cancel=lambda: False)
    followed = followed_ball(opened)
    if followed is None:
        raise InputError("What was followed has been deleted meanwhile. Follow the ball again.")
    return followed


def _job_args(opened: OpenMatch, *, again: bool) -> dict[str, Any]:
    rallies = _rallies(opened)
    settle_keys(opened)
    return {
        "match": opened.id,
        "rallies": [asdict(rally) for rally in rallies],
        "files": asdict(_files(opened)),
        "ball": _ball(opened),
        "again": again,
    }


def following_job_of(jobs: Jobs, match_id: str) -> str | None:
    """Return the job that follows the ball in this match now."""
    for job in jobs.states():
        if job.kind == KIND and (job.args or {}).get("match") == match_id and job.state in ACTIVE:
            return job.id
    return None


def mark_ball(opened: OpenMatch, key: str, at_us: int, x: float, y: float) -> RallyDrawing:
    """Set a mark that the path must pass, where the coach clicked the ball, and follow the rally again.

    Parameters
    ----------
    at_us : int
        Match time of the frame.
    x, y : float
        Shares of the picture's width and height.

    Raises
    ------
    NotFound, InputError
        No such rally, or the mark lies outside it.
    """
    from goodlength.measure.shots.followed_ball import BallMark

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

    return _follow_again(opened, key, change)


def move_strike(opened: OpenMatch, key: str, number: int, to_us: int) -> RallyDrawing:
    """Move a shot's strike to another sound, match time, and follow the rally again.

    Raises
    ------
    NotFound, InputError
        No such rally or shot, or no sound is there.
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

    return _follow_again(opened, key, change)


def remove_shot(opened: OpenMatch, key: str, number: int) -> RallyDrawing:
    """Say that no shot was struck there, and follow the rally again.

    Raises
    ------
    NotFound
        No such rally or shot.
    """
    shot: FollowedShot = find_shot(find_rally(followed_ball(opened), key), number)

    def change(old: RallyCorrections) -> RallyCorrections:
        return replace(
            old,
            strikes_us=within(old.strikes_us, shot.struck_us),
            not_strikes_us=(*within(old.not_strikes_us, shot.struck_us), shot.struck_us),
        )

    return _follow_again(opened, key, change)


def undo_corrections(opened: OpenMatch, key: str) -> RallyDrawing:
    """Take back everything the coach corrected in a rally, and follow it again."""
    from goodlength.measure.shots.followed_ball import RallyCorrections

    return _follow_again(opened, key, lambda _: RallyCorrections(), choices=False)


def _follow_again(
    opened: OpenMatch,
    key: str,
    change: Callable[[RallyCorrections], RallyCorrections],
    *,
    choices: bool = True,
) -> RallyDrawing:
    """Follow one rally with what the coach says now; the corrections stay as they were where that fails."""
    settle_keys(opened)
    before = find_rally(followed_ball(opened), key)
    rally = next((rally for rally in _rallies(opened) if rally.key == key), None)
    if rally is None:
        raise NotFound("The times of this rally have changed. Follow the ball again on the Footage page.")
    files = _files(opened)
    path = ball_corrections_file(opened.library.folder, opened.id)
    stored: list[RallyCorrections] = []

    def remembered(old: RallyCorrections) -> RallyCorrections:
        stored.append(old)
        return change(old)

    change_corrections(path, key, remembered)
    try:
        after = RallyFollower(files, conditions(_ball(opened))).follow(rally)
    except BaseException:
        change_corrections(path, key, lambda _: stored[0])
        raise
    to = followed_ball_file(opened.library.folder, opened.id)
    with exclusive(to.parent):
        now = with_choices(before, after) if choices else after
        write_followed(to, with_rally(followed_ball(opened), now))
    return rally_drawing(opened, key)


def _media_us(opened: OpenMatch, key: str, match_us: int) -> int:
    """Return the media time, in a rally's file, of a match time."""
    from goodlength.media_time import MediaPosition

    place = None if opened.timeline is None else opened.timeline.locate(match_us)
    footage = find_rally(followed_ball(opened), key).footage
    if not isinstance(place, MediaPosition) or place.footage_id != footage:
        raise InputError("This moment lies in another video than the rally. Go back to the rally.")
    return place.media_us


def _files(opened: OpenMatch) -> FollowingFiles:
    folder = opened.library.folder
    return FollowingFiles(
        str(ball_file(folder, opened.id)),
        str(track_files(folder, opened.id)[0]),
        str(ball_corrections_file(folder, opened.id)),
        str(followed_ball_file(folder, opened.id)),
    )


def _ball(opened: OpenMatch) -> dict[str, str]:
    """Return ball and tin of the match by name; what a court's calibration taught is not used yet."""
    setting = setting_of(opened.library, opened.info)
    return {"dot": setting.ball.dot, "warmth": setting.ball.warmth, "tin": setting.court.tin}


def _rallies(opened: OpenMatch) -> list[RallyInputs]:
    """Return every rally that was searched, with sounds, players and camera.

    Raises
    ------
    InputError
        No video, no rally searched, or no camera.
    """
    timeline = opened.timeline
    spans = [] if timeline is None else ball_spans(opened)
    if timeline is None or not spans:
        raise InputError("The ball was not searched yet. Search it on the Footage page, under Ball, first.")
    detected = listed_rallies(opened)
    sounds = None if detected.stale else _sounds(detected.played, timeline)
    tracked = tracked_match(opened).rallies
    found = []
    for span, searched in spans:
        shift = timeline.match_time(searched.footage, searched.from_us) - searched.from_us
        track, sides = _track(opened, tracked, searched.from_us + shift, searched.until_us + shift)
        found.append(
            RallyInputs(
                span.key,
                searched.footage,
                asdict(searched),
                _camera(opened, searched.footage, searched.from_us),
                None if sounds is None else [us for us, name, _ in _near(sounds, searched) if not name],
                [] if sounds is None else [sound for sound in _near(sounds, searched) if sound[1]],
                track,
                sides,
            )
        )
    if all(rally.camera is None for rally in found):
        raise InputError(
            "The camera is not calibrated, so the ball's path on the court is not known. Check the detected "
            "court on the Footage page, or calibrate the camera."
        )
    return found


def _camera(opened: OpenMatch, footage_id: str, media_us: int) -> dict[str, Any] | None:
    from goodlength.footage.camera import camera_to_json

    saved = camera_at(opened.library, footage_id, media_us)
    return None if saved is None else camera_to_json(saved.camera)


Sounds = list[tuple[str, int, str, float]]


def _sounds(played: tuple[ListedRally, ...], timeline: Timeline) -> Sounds:
    """Return file, media time, name and its chance of every sound detected in rallies; hits have no name."""
    from goodlength.media_time import MediaPosition

    sounds = []
    for rally in played:
        chances = rally.impact_chances or (UNNAMED,) * len(rally.impacts)
        named = [(us, name, chance) for (us, name), chance in zip(rally.impacts, chances, strict=True)]
        for us, name, chance in [*named, *((us, "", UNNAMED) for us in rally.hits_us)]:
            place = timeline.locate(us)
            if isinstance(place, MediaPosition):
                sounds.append((place.footage_id, place.media_us, name, round(chance, 3)))
    return sounds


def _near(sounds: Sounds, span: BallSpan) -> list[tuple[int, str, float]]:
    return [
        (us, name, chance)
        for footage, us, name, chance in sounds
        if footage == span.footage and span.from_us - AROUND_US <= us <= span.until_us + AROUND_US
    ]


def _track(
    opened: OpenMatch, tracked: tuple[TrackedRally, ...], from_us: int, until_us: int
) -> tuple[str, tuple[str, str]]:
    """Return the key of the tracks of a span of match time, and who the two of the tracks file are."""
    from goodlength.files.locked_json_file import JsonFile
    from goodlength.measure.players.tracking_job import track_from

    here = [
        rally for rally in tracked if rally.shown and rally.start_us < until_us and rally.end_us > from_us
    ]
    if not here:
        return "", ("", "")
    rally = max(here, key=lambda rally: min(rally.end_us, until_us) - max(rally.start_us, from_us))
    if not rally.track.identified:
        return rally.track.key, ("", "")
    stored = JsonFile(track_files(opened.library.folder, opened.id)[0]).shown()["rallies"]
    plain = track_from(next(form for form in stored if form["key"] == rally.track.key)).paths
    own, other = rally.track.paths.xy[:, 0], plain.xy[:, 0]
    same = len(own) == len(other) and bool((abs(own - other) < 1e-6).any())
    return rally.track.key, ("a", "b") if same else ("b", "a")
