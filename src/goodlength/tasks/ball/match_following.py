"""Follow the ball through the rallies of a match in which it was detected; stored rally by rally."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from goodlength.errors import InputError, NotFound
from goodlength.files.library_layout import ball_file, followed_ball_file
from goodlength.jobs.progress_callback import Progress
from goodlength.scoring.scoring_types import Side
from goodlength.tasks.ball.followed_ball_export import followed_ball
from goodlength.tasks.footage.camera_calibration import camera_at
from goodlength.tasks.footage.player_tracking import TrackedRally, rally_spans, tracked_match
from goodlength.tasks.footage.serve_measurement import setting_of

if TYPE_CHECKING:
    from goodlength.footage.ball_detection.ball_candidates import BallCandidates
    from goodlength.footage.ball_detection.ball_storage import BallSpan
    from goodlength.measure.players.player_tracking import Tracks
    from goodlength.measure.shots.followed_ball import FollowedMatch, FollowedRally
    from goodlength.tasks.footage.rally_detection import ListedRally
    from goodlength.tasks.match.lazy_match import OpenMatch

ASSUMED_NAMED = 0.8  # chance that a sound named racket is one, and that another name is right


def follow_match(
    opened: OpenMatch, progress: Progress | None = None, *, again: bool = False
) -> FollowedMatch:
    """Follow the ball here and now; rallies that are stored already are not followed again.

    Parameters
    ----------
    again : bool
        Follow all rallies again; what the coach corrected in them is lost.

    Raises
    ------
    InputError
        The ball was not detected yet.
    DamagedFile
        What is stored cannot be read.
    """
    from goodlength.footage.ball_detection.ball_storage import read_balls
    from goodlength.measure.shots.followed_ball import FollowedMatch
    from goodlength.measure.shots.followed_ball_storage import write_followed
    from goodlength.measure.shots.rally_following import MODEL

    stored = read_balls(ball_file(opened.library.folder, opened.id))
    if stored is None or not stored.spans:
        raise InputError("The ball was not detected in this match yet. Detect it first, then follow it.")
    to = followed_ball_file(opened.library.folder, opened.id)
    mark = f"{MODEL}+{stored.model}"
    before = None if again else followed_ball(opened)
    done: dict[str, FollowedRally] = {}
    if before is not None and before.model == mark:
        done = {rally.key: rally for rally in before.rallies}
    tracked = {rally.key: rally for rally in tracked_match(opened).rallies}
    listed = {key: found for key, _, found in rally_spans(opened)}
    followed = FollowedMatch(opened.id, mark, len(stored.spans), tuple(done.values()))
    for n, (span, found) in enumerate(stored.spans.items(), 1):
        if progress is not None:
            progress(0.99 * (n - 1) / len(stored.spans), f"rally {n} of {len(stored.spans)}")
        if span.key in done:
            continue
        done[span.key] = _followed(opened, span, found, listed.get(span.key), tracked.get(span.key))
        followed = replace(followed, rallies=tuple(done.values()))
        write_followed(to, followed)
    return followed


def _followed(
    opened: OpenMatch,
    span: BallSpan,
    found: BallCandidates,
    listed: ListedRally | None,
    tracked: TrackedRally | None,
) -> FollowedRally:
    from goodlength.measure.shots.rally_following import RallyToFollow, follow_rally, impacts_of

    shift_us = _shift_us(opened, span)
    saved = camera_at(opened.library, span.footage, span.from_us)
    impacts = None
    if listed is not None:
        named = [(us - shift_us, name, ASSUMED_NAMED) for us, name in listed.impacts]
        impacts = impacts_of([us - shift_us for us in listed.hits_us], named)
    shown = tracked is not None and tracked.shown
    sides = (Side.A, Side.B) if tracked is not None and tracked.track.identified else (None, None)
    return follow_rally(
        RallyToFollow(span.key, span.footage, span.from_us, span.until_us),
        found,
        None if saved is None else saved.camera,
        impacts=impacts,
        tracks=_tracks(tracked, shift_us) if shown and tracked is not None else None,
        sides=sides,
        setting=setting_of(opened.library, opened.match.info),
    )


def _shift_us(opened: OpenMatch, span: BallSpan) -> int:
    """Return match time less media time of the rally's file; 0 where the file lies on no match time."""
    if opened.timeline is None:
        return 0
    try:
        return opened.timeline.match_time(span.footage, span.from_us) - span.from_us
    except NotFound:
        return 0


def _tracks(tracked: TrackedRally, shift_us: int) -> Tracks:
    """Return the players' paths on media time."""
    paths = tracked.track.paths
    return replace(paths, times_s=paths.times_s - shift_us / 1e6)
