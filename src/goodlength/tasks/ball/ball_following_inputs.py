"""What a rally is followed with as the match is now: candidates, sounds, players, camera, ball.

A stored path names digests of these (`PathSources`); where they differ from those of now it is out of date.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any, cast

from goodlength.errors import DamagedFile, InputError, NotFound
from goodlength.files.library_layout import (
    ball_corrections_file,
    ball_file,
    followed_ball_file,
    track_files,
)
from goodlength.measure.draft.answers_from_ball_path import rally_answers
from goodlength.measure.shots.followed_ball_types import SOURCE_WORDS
from goodlength.scoring import Side
from goodlength.tasks.ball.ball_detection import ball_spans
from goodlength.tasks.ball.ball_following_job import (
    FollowingFiles,
    RallyInputs,
    changed_sources,
    sources_of,
    tracks_by_key,
)
from goodlength.tasks.ball.stored_ball_paths_rekeyed_to_rallies import followed_ball
from goodlength.tasks.footage.camera_calibration import camera_at
from goodlength.tasks.footage.player_tracking import TrackedRally, tracked_match
from goodlength.tasks.footage.rally_detection import ListedRally, listed_rallies
from goodlength.tasks.footage.serve_measurement import setting_of

if TYPE_CHECKING:
    from goodlength.files.json_types import JsonObject
    from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan
    from goodlength.measure.shots.followed_ball_types import FollowedMatch, FollowedRally, PathSources
    from goodlength.media_time import Timeline
    from goodlength.tasks.match.lazy_match import OpenMatch

AROUND_US = 1_000_000  # sounds so far around a rally count, too
UNNAMED = 0.5  # chance that a racket made a sound that nobody named
TIMES = "the times of the rally, or the search of the ball,"


def following_files(opened: OpenMatch) -> FollowingFiles:
    folder = opened.library.folder
    return FollowingFiles(
        str(ball_file(folder, opened.id)),
        str(track_files(folder, opened.id)[0]),
        str(ball_corrections_file(folder, opened.id)),
        str(followed_ball_file(folder, opened.id)),
    )


def ball_settings(opened: OpenMatch) -> dict[str, str]:
    """Return ball and tin of the match by name; what a court's calibration taught is not used yet."""
    setting = setting_of(opened.library, opened.info)
    return {"dot": setting.ball.dot, "warmth": setting.ball.warmth, "tin": setting.court.tin}


def rallies_to_follow(opened: OpenMatch, keys: Collection[str] | None = None) -> list[RallyInputs]:
    """Return every rally that was searched, or those of some keys, with sounds, players and camera.

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
    stored = tracks_by_key(track_files(opened.library.folder, opened.id)[0])
    found = []
    for span, searched in spans:
        if keys is not None and span.key not in keys:
            continue
        shift = timeline.match_time(searched.footage, searched.from_us) - searched.from_us
        track, sides = _track(stored, tracked, searched.from_us + shift, searched.until_us + shift)
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
    if keys is None and all(rally.camera is None for rally in found):
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
    stored: Mapping[str, JsonObject], tracked: tuple[TrackedRally, ...], from_us: int, until_us: int
) -> tuple[str, tuple[str, str]]:
    """Return the key of the tracks of a span of match time, and who the two of the tracks file are."""
    from goodlength.measure.players.match_tracking_job import track_from

    here = [
        rally for rally in tracked if rally.shown and rally.start_us < until_us and rally.end_us > from_us
    ]
    if not here:
        return "", ("", "")
    rally = max(here, key=lambda rally: min(rally.end_us, until_us) - max(rally.start_us, from_us))
    if not rally.track.identified:
        return rally.track.key, ("", "")
    plain = track_from(stored[rally.track.key]).paths
    own, other = rally.track.paths.xy[:, 0], plain.xy[:, 0]
    same = len(own) == len(other) and bool((abs(own - other) < 1e-6).any())
    return rally.track.key, ("a", "b") if same else ("b", "a")


def followed_now(opened: OpenMatch, key: str = "", *, samples: bool = True) -> FollowedMatch | None:
    """Return the followed ball, compared with camera, players, sounds and ball as they are now.

    What is out of date says so, and none of its shots is sure. Who struck is told by what is known of the
    players now. None where nothing was followed.

    Parameters
    ----------
    key : str
        Compare and return this rally alone.
    samples : bool
        As for `followed_ball`.

    Raises
    ------
    DamagedFile
        What is stored cannot be read.
    """
    followed = followed_ball(opened, samples=samples)
    if followed is None:
        return None
    rallies = [rally for rally in followed.rallies if key in ("", rally.key)]
    now = inputs_now(opened, {rally.key for rally in rallies})
    return replace(followed, rallies=tuple(_compared(rally, now.get(rally.key)) for rally in rallies))


def rallies_out_of_date(opened: OpenMatch) -> int:
    """Return how many followed rallies are out of date; 0 where the file is damaged."""
    try:
        followed = followed_now(opened, samples=False)
    except DamagedFile:
        return 0
    return 0 if followed is None else sum(bool(rally.out_of_date) for rally in followed.rallies)


def inputs_now(opened: OpenMatch, keys: Collection[str]) -> dict[str, tuple[RallyInputs, PathSources]]:
    """Return what rallies would be followed with now; without those that cannot be."""
    try:
        rallies = rallies_to_follow(opened, keys)
    except InputError:
        return {}
    from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan, ball_summary

    ball = ball_settings(opened)
    tracks = tracks_by_key(track_files(opened.library.folder, opened.id)[0])
    digests = ball_summary(ball_file(opened.library.folder, opened.id)).digests
    return {
        rally.key: (
            rally,
            sources_of(
                rally, tracks.get(rally.track), ball, digests.get(BallSpan(**cast("Any", rally.searched)), "")
            ),
        )
        for rally in rallies
    }


def _compared(rally: FollowedRally, now: tuple[RallyInputs, PathSources] | None) -> FollowedRally:
    changed = _changed(rally, now)
    if now is not None and not changed:
        sides = [None if side == "" else Side(side) for side in now[0].sides]
        shots = tuple(
            shot if shot.track is None else replace(shot, striker=sides[shot.track]) for shot in rally.shots
        )
        now_known = replace(rally, shots=shots)
        return replace(now_known, answers=rally_answers(now_known))
    out = replace(rally, out_of_date=changed)
    shots = tuple(
        replace(shot, sure=False, reason=f"Out of date. {shot.reason}".rstrip()) for shot in rally.shots
    )
    return replace(out, shots=shots, serve=None)


def _changed(rally: FollowedRally, now: tuple[RallyInputs, PathSources] | None) -> tuple[str, ...]:
    """Return what a rally rested on that is not so any more, in words."""
    if now is None:
        return (TIMES,)
    inputs, sources = now
    place = (inputs.footage, inputs.searched["from_us"], inputs.searched["until_us"])
    if place != (rally.footage, rally.from_us, rally.until_us):
        return (TIMES,)
    return tuple(SOURCE_WORDS[name] for name in changed_sources(rally.rests_on, sources))


def match_shift_us(opened: OpenMatch, rally: FollowedRally) -> int | None:
    """Return the shift from media time to match time; None where the rally's file is gone from the match."""
    if opened.timeline is None:
        return None
    try:
        return opened.timeline.match_time(rally.footage, rally.from_us) - rally.from_us
    except NotFound:
        return None
