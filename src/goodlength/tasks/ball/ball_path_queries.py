"""The followed ball of a match for a page: which rallies there are, why one has no path, and one as drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import Conflict, DamagedFile, InputError, NotFound
from goodlength.files.library_layout import followed_ball_file
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.tasks.ball.ball_detection import ball_search_state, ball_spans
from goodlength.tasks.ball.ball_following_inputs import followed_now, match_shift_us
from goodlength.tasks.ball.ball_following_job import path_chosen
from goodlength.tasks.ball.ball_path_drawing_data import ShotDrawing, shot_drawings
from goodlength.tasks.ball.serve_measurements_by_click_or_path import clicked_serves
from goodlength.tasks.ball.stored_ball_paths_rekeyed_to_rallies import (
    followed_ball,
    rally_numbers,
    settle_keys,
)
from goodlength.tasks.footage.camera_calibration import camera_at, has_camera

if TYPE_CHECKING:
    from goodlength.measure.shots.followed_ball_types import (
        FollowedMatch,
        FollowedRally,
        FollowedShot,
        PathServe,
    )
    from goodlength.record.entry_value_types import MeasuredValue
    from goodlength.tasks.match.lazy_match import OpenMatch

Place = tuple[object, object, object]  # file, and media time from and until


@dataclass(frozen=True)
class FollowedRallyLine:
    """A rally of the list: key, number in the match where it is logged, match times, and shots found."""

    key: str
    number: int | None
    from_us: int
    to_us: int
    shots: int
    unsure: int
    reason: str
    out_of_date: bool = False


@dataclass(frozen=True)
class RallyDrawing:
    """One rally as drawn; `missing` and `reason` say what it was followed without, and why it has no shots.

    `sounds_us` are those that are no strike, match time. `version` is to be sent back with a correction.
    `out_of_date` says what changed since it was followed, empty where nothing did. `serve` is measured from
    the path, `clicked` from the coach's clicks, which win.
    """

    key: str
    from_us: int
    to_us: int
    shots: tuple[ShotDrawing, ...]
    missing: tuple[str, ...]
    reason: str
    sounds_us: tuple[int, ...]
    version: int
    out_of_date: str
    serve: PathServe | None = None
    clicked: MeasuredValue | None = None


def followed_lines(opened: OpenMatch) -> tuple[FollowedRallyLine, ...]:
    """Return the rallies followed so far, in order of time; none where the file is damaged."""
    try:
        followed = followed_now(opened, samples=False)
    except DamagedFile:
        return ()
    numbers = rally_numbers(opened)
    lines = []
    for rally in () if followed is None else followed.rallies:
        shift = match_shift_us(opened, rally)
        if shift is None:
            continue
        unsure = sum(not shot.sure for shot in rally.shots)
        lines.append(
            FollowedRallyLine(
                rally.key,
                numbers.get(rally.key),
                rally.from_us + shift,
                rally.until_us + shift,
                len(rally.shots),
                unsure,
                rally.reason,
                bool(rally.out_of_date),
            )
        )
    return tuple(sorted(lines, key=lambda line: line.from_us))


def all_followed(opened: OpenMatch) -> bool:
    """Return whether every rally searched is followed; quick, for a page that asks every second."""
    path = followed_ball_file(opened.library.folder, opened.id)
    try:
        seen = path.stat()
    except OSError:
        return False
    asked, followed = _followed_spans(path, seen.st_mtime_ns, seen.st_size)
    if not 0 < asked <= len(followed):
        return False
    pairs = ball_spans(opened)
    now, keys = {span.key for span, _ in pairs}, {key for key, _ in followed}
    places = {place for key, place in followed if key not in now}
    return all(
        span.key in keys or (searched.footage, searched.from_us, searched.until_us) in places
        for span, searched in pairs
    )


@lru_cache(maxsize=64)
def _followed_spans(path: Path, _changed_ns: int, _size: int) -> tuple[int, tuple[tuple[str, Place], ...]]:
    """Return how many rallies were asked for, and key and place of those followed; read once a change."""
    plain = JsonFile(path).shown()
    rallies, asked = plain.get("rallies"), plain.get("asked")
    if not isinstance(rallies, list) or not isinstance(asked, int):
        return 0, ()
    forms = [form for form in rallies if isinstance(form, dict)]
    places = [(form.get("footage"), form.get("from_us"), form.get("until_us")) for form in forms]
    return asked, tuple((str(form.get("key")), place) for form, place in zip(forms, places, strict=True))


def why_no_paths(opened: OpenMatch) -> str:
    """Return why no path is there yet, and what to do next; for a match in which none was followed."""
    if opened.timeline is None:
        return "This match has no video. Add one on the Footage page."
    search = ball_search_state(opened)
    if not search.rallies:
        return "No rally has a time yet. Detect the rallies on the Footage page, or log the match, first."
    if search.missing == search.rallies:
        return "The ball was not searched in this match yet. Search it on the Footage page, under Ball."
    if not any(has_camera(opened.library, file.id) for file in opened.footage):
        return (
            "The ball was found in the picture, but the camera is not calibrated, so its path on the "
            "court is not known. Check the detected court on the Footage page, or calibrate the camera."
        )
    return "The ball was found in the picture, and has not been followed yet: start it on the Footage page."


def rally_drawing(opened: OpenMatch, key: str) -> RallyDrawing:
    """Return one rally as drawn.

    Raises
    ------
    NotFound
        It was not followed.
    DamagedFile
        What is stored cannot be read.
    """
    rally = find_rally(followed_now(opened, key), key)
    shift = match_shift_us(opened, rally)
    if shift is None:
        raise NotFound("The video of this rally is no longer part of the match. Add it on the Footage page.")
    saved = camera_at(opened.library, rally.footage, rally.from_us)
    return RallyDrawing(
        rally.key,
        rally.from_us + shift,
        rally.until_us + shift,
        shot_drawings(rally, None if saved is None else saved.camera.lens, shift),
        rally.missing,
        rally.reason,
        tuple(us + shift for us in rally.unused_us),
        rally.version,
        rally.out_of_date_words,
        rally.serve,
        clicked_serves(opened).get(rally.key),
    )


def take_next_path(opened: OpenMatch, key: str, number: int, version: int) -> RallyDrawing:
    """Put a shot's next-best path first, the one that was first last; nothing else changes.

    Raises
    ------
    NotFound
        There is no such rally or shot.
    InputError
        The shot has no other path.
    Conflict
        The rally is not as it was shown.
    """
    path = followed_ball_file(opened.library.folder, opened.id)
    settle_keys(opened)
    with exclusive(path.parent):
        followed = followed_ball(opened)
        rally = as_shown(find_rally(followed, key), version)
        shot = find_shot(rally, number)
        if len(shot.paths) < 2:
            raise InputError("No other path of this shot was found. Click the ball in the video to give one.")
        turned = path_chosen(shot, 1)
        shots = tuple(turned if other is shot else other for other in rally.shots)
        serve = None if number == 1 else rally.serve
        turned_rally = replace(rally, shots=shots, serve=serve, version=version + 1)
        write_followed(path, with_rally(followed, turned_rally))
    return rally_drawing(opened, key)


def with_rally(followed: FollowedMatch | None, rally: FollowedRally) -> FollowedMatch:
    """Return a followed match with one rally in place of that of its key.

    Raises
    ------
    NotFound
        It was not followed.
    """
    if followed is None:
        raise _not_followed()
    rallies = tuple(rally if other.key == rally.key else other for other in followed.rallies)
    return replace(followed, rallies=rallies)


def as_shown(rally: FollowedRally, version: int) -> FollowedRally:
    """Return the rally if it is as it was shown.

    Raises
    ------
    Conflict
        It was stored again since.
    """
    if rally.version != version:
        raise Conflict(
            "This rally was corrected or followed again meanwhile, in another window or by a job. Yours was "
            "not saved. It is shown as it is now: look again, then correct what is still wrong."
        )
    return rally


def find_rally(followed: FollowedMatch | None, key: str) -> FollowedRally:
    """Return one rally; NotFound where it was not followed."""
    rally = None if followed is None else followed.rally(key)
    if rally is None:
        raise _not_followed()
    return rally


def _not_followed() -> NotFound:
    return NotFound("The ball was not followed in this rally. Reload the page.")


def find_shot(rally: FollowedRally, number: int) -> FollowedShot:
    """Return one shot of a rally; NotFound where there is none of that number."""
    shot = next((shot for shot in rally.shots if shot.number == number), None)
    if shot is None:
        raise NotFound("There is no such shot in this rally any more. Reload the page.")
    return shot
