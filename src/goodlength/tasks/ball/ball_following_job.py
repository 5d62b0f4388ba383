"""The job that follows the ball through the rallies of a match: stored after each, resumed where it stopped.

Everything it needs is in plain values and files, so that it runs in a process of its own.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from goodlength.errors import Cancelled, DamagedFile, GoodlengthError, InputError
from goodlength.files.json_types import Json, JsonObject
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.measure.shots.followed_ball_storage import check_followed, read_followed, write_followed
from goodlength.measure.shots.followed_ball_types import MODEL, FollowedMatch, FollowedRally

if TYPE_CHECKING:
    from goodlength.ball import PlayConditions
    from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
    from goodlength.footage.camera import CameraCalibration
    from goodlength.measure.players.player_tracking import Tracks
    from goodlength.measure.shots.followed_ball_types import FollowedShot, PathSources, RallyCorrections

OF_TRACKS = ("times_us", "xy_cm")  # what paths read of a stored track
NOT_AGAIN = "It could not be followed again:"
SAME_US = 60_000  # a strike that moved by less is the same one


@dataclass(frozen=True)
class RallyInputs:
    """What one rally is followed with; times in media time of the file.

    Parameters
    ----------
    key, footage : str
    searched : dict
        The stored span of its candidates, by the fields of `BallSpan`.
    camera : dict or None
        The calibration that stands then, as `camera_to_json` gives it.
    hits : list of int or None
        Sounds that may be strikes; None where the sound was not searched.
    named : list of (us, name, chance)
        Sounds by what made them, the hits among them too.
    track : str
        Key of its tracks in the tracks file, "" where it has none; `sides` who the two are ("a", "b", "").
    """

    key: str
    footage: str
    searched: dict[str, Json]
    camera: dict[str, Json] | None
    hits: list[int] | None
    named: list[tuple[int, str, float]]
    track: str
    sides: tuple[str, str]


@dataclass(frozen=True)
class FollowingFiles:
    """Where candidates, tracks and corrections are read, and the result is written."""

    balls: str
    tracks: str
    corrections: str
    to: str


def follow_match_job(
    match: str,
    rallies: list[JsonObject],
    files: JsonObject,
    ball: JsonObject,
    again: bool,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, object]:
    """Follow the ball in every rally that is not followed yet or is out of date, or in all again.

    What the coach said stays. A rally followed before is replaced once it is followed again. One that cannot
    be followed says why, and the others are followed.

    Raises
    ------
    InputError
        The candidates are gone.
    Cancelled
        What was followed until then stays stored.
    """
    wanted = [RallyInputs(**cast("dict[str, Any]", rally)) for rally in rallies]
    where = FollowingFiles(**cast("dict[str, Any]", files))
    follower = RallyFollower(where, ball)
    model = follower.model
    begin = _stored(where, match, model, len(wanted))
    keys = {rally.key for rally in wanted}
    missing = [rally for rally in wanted if again or not _up_to_date(begin, rally, keys, follower)]
    for n, rally in enumerate(missing):
        if cancel():
            raise Cancelled("Following the ball was stopped. The rallies followed so far are saved.")
        progress(0.99 * n / len(missing), f"rally {len(wanted) - len(missing) + n + 1} of {len(wanted)}")
        _follow_and_store(follower, rally, keys, where, FollowedMatch(match, model, len(wanted)))
    searched_us = sum(
        int(str(rally.searched["until_us"])) - int(str(rally.searched["from_us"])) for rally in missing
    )
    return {"searched_s": searched_us / 1e6, "rallies": len(missing)}


def _up_to_date(
    stored: FollowedMatch, rally: RallyInputs, keys: Collection[str], follower: RallyFollower
) -> bool:
    """Return whether a rally is followed, and with what would be used now."""
    old = _same(stored, rally, keys)
    return old is not None and not changed_sources(old.rests_on, follower.sources(rally))


def _follow_and_store(
    follower: RallyFollower,
    rally: RallyInputs,
    keys: Collection[str],
    where: FollowingFiles,
    empty: FollowedMatch,
) -> None:
    """Follow one rally and put it in place of what was stored of it; again if corrected meanwhile."""
    to, corrections = Path(where.to), Path(where.corrections)
    while True:
        old = _same(_stored(where, empty.match, empty.model, empty.asked), rally, keys)
        wanted = rally if old is None else replace(rally, key=old.key)
        corrected = corrections_of(corrections, wanted.key)
        found = _followed_or_why(follower, wanted, corrected)
        with exclusive(to.parent):
            now = _stored(where, empty.match, empty.model, empty.asked)
            before = _same(now, rally, keys)
            key = rally.key if before is None else before.key
            if corrections_of(corrections, key) != corrected:
                continue
            after = replace(
                _noted(before, rally, found, follower) if isinstance(found, str) else found, key=key
            )
            if before is not None and not isinstance(found, str):
                after = replace(with_choices(before, after), version=before.version + 1)
            others = tuple(other for other in now.rallies if other is not before)
            write_followed(to, replace(now, rallies=(*others, after)))
            return


def _followed_or_why(
    follower: RallyFollower, rally: RallyInputs, corrections: RallyCorrections
) -> FollowedRally | str:
    """Return a rally followed, or why it cannot be: one rally's fault must not stop the others."""
    try:
        found = follower.follow(rally, corrections)
        check_followed(found)
    except GoodlengthError as error:
        return str(error)
    except Exception as error:  # whatever it is: the coach reads it with the rally, and the job goes on
        return f"a fault of goodlength itself ({type(error).__name__}). Please report it."
    return found


def _noted(
    before: FollowedRally | None, rally: RallyInputs, why: str, follower: RallyFollower
) -> FollowedRally:
    """Return a rally without shots that says why; or as it was before, with the same said beside it."""
    if before is not None and before.shots:
        note = f"{NOT_AGAIN} {why}"
        return replace(before, missing=(*(m for m in before.missing if not m.startswith(NOT_AGAIN)), note))
    span = rally.searched
    return FollowedRally(
        rally.key,
        rally.footage,
        int(str(span["from_us"])),
        int(str(span["until_us"])),
        (),
        reason=f"This rally was not followed: {why}",
        version=0 if before is None else before.version + 1,
        rests_on=follower.sources(rally),
    )


def _same(stored: FollowedMatch, rally: RallyInputs, keys: Collection[str]) -> FollowedRally | None:
    """Return what was followed of a rally, by its key or else by its span under none of `keys`."""
    place = (rally.footage, rally.searched["from_us"], rally.searched["until_us"])
    there = (
        old
        for old in stored.rallies
        if old.key not in keys and (old.footage, old.from_us, old.until_us) == place
    )
    return stored.rally(rally.key) or next(there, None)


def _stored(where: FollowingFiles, match: str, model: str, asked: int) -> FollowedMatch:
    """Return what was followed so far; paths of an earlier version stay until each is replaced."""
    stored = read_followed(Path(where.to))
    if stored is None or stored.match != match:
        return FollowedMatch(match, model, asked)
    return replace(stored, asked=asked, model=model)


def conditions(ball: JsonObject) -> PlayConditions:
    """Return ball, court and room from their plain names: dot, warmth, tin."""
    from goodlength.ball import Air, Ball, Court, PlayConditions

    return PlayConditions(Ball(str(ball["dot"]), str(ball["warmth"])), Court(tin=str(ball["tin"])), Air())


def tracks_by_key(path: Path) -> Mapping[str, JsonObject]:
    """Return the stored tracks of rallies by their keys; none where the file is missing or damaged."""
    try:
        return _tracks_in(path, JsonFile(path).content())
    except DamagedFile:
        return {}


@lru_cache(maxsize=2)
def _tracks_in(path: Path, content: bytes | None) -> Mapping[str, JsonObject]:
    """Return the tracks in the bytes of a file; a correction reads the same bytes several times."""
    forms = JsonFile(path).parsed(content).get("rallies")
    listed = forms if isinstance(forms, list) else []
    return {str(form["key"]): form for form in listed if isinstance(form, dict) and "key" in form}


@lru_cache(maxsize=8)
def _camera_in(form: str) -> CameraCalibration:
    """Return a stored calibration, which is solved anew from its clicks; the same for the same clicks."""
    from goodlength.footage.camera import camera_from_json

    return camera_from_json(json.loads(form))


def sources_of(rally: RallyInputs, track: JsonObject | None, ball: JsonObject, search: str) -> PathSources:
    """Return digests of what a rally is followed with.

    Parameters
    ----------
    search : str
        Digest of what the search of the ball found in it; "" where it was not searched.
    """
    from goodlength.measure.shots.followed_ball_types import PathSources

    paths = None if track is None else {name: track.get(name) for name in OF_TRACKS}
    sounds = None if rally.hits is None else [rally.hits, rally.named]
    return PathSources(_digest(rally.camera), _digest(paths), _digest(sounds), _digest(ball), search, MODEL)


def changed_sources(before: PathSources | None, now: PathSources) -> tuple[str, ...]:
    """Return the names of the sources that differ; of paths of an earlier version "method" alone.

    Sounds that are being searched again, and so are not there, count as those before.
    """
    from dataclasses import asdict

    if before is None or before.method != now.method:
        return ("method",)
    old, new = asdict(before), asdict(now)
    return tuple(name for name in new if new[name] != old[name] and (name != "sounds" or new[name]))


def _digest(value: object) -> str:
    """Return a digest of plain values, floats to six digits: a camera solved elsewhere is the same one."""
    if value is None:
        return ""
    plain = json.dumps(_rounded(value), sort_keys=True)
    return hashlib.sha256(plain.encode()).hexdigest()[:16]


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, dict):
        return {str(name): _rounded(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return value


class RallyFollower:
    """Follows rallies of a match one after the other; files are read once."""

    def __init__(self, where: FollowingFiles, ball: JsonObject) -> None:
        from goodlength.footage.ball_detection.ball_candidate_storage import read_balls

        stored = read_balls(Path(where.balls))
        if stored is None:
            raise InputError(
                "The ball was not searched in this match, or its file is damaged. Search it again."
            )
        self._balls, self._ball, self._setting = stored, ball, conditions(ball)
        self._tracks = tracks_by_key(Path(where.tracks))

    @property
    def model(self) -> str:
        """What paths depend on, as `follow_match` marks it."""
        return f"{MODEL}+{self._balls.model}"

    def sources(self, rally: RallyInputs) -> PathSources:
        """Return digests of what a rally is followed with."""
        from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan, found_digest

        found = self._balls.spans.get(BallSpan(**cast("dict[str, Any]", rally.searched)))
        search = "" if found is None else found_digest(found)
        return sources_of(rally, self._tracks.get(rally.track), self._ball, search)

    def follow(
        self, rally: RallyInputs, corrections: RallyCorrections, shown: FollowedRally | None = None
    ) -> FollowedRally:
        """Return the shots of one rally, with what the coach said of it, near what was shown of it."""
        from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan
        from goodlength.measure.shots.ball_following_through_rally import (
            RallyToFollow,
            follow_rally,
            impacts_of,
        )
        from goodlength.scoring import Side

        span = BallSpan(**cast("dict[str, Any]", rally.searched))
        found: BallCandidates | None = self._balls.spans.get(span)
        if found is None:
            raise InputError("The ball was searched again in this rally meanwhile. Reload the page.")
        first, second = (None if side == "" else Side(side) for side in rally.sides)
        followed = follow_rally(
            RallyToFollow(rally.key, rally.footage, span.from_us, span.until_us),
            found,
            None if rally.camera is None else _camera_in(json.dumps(rally.camera)),
            impacts=None if rally.hits is None else impacts_of(rally.hits, rally.named),
            tracks=self._tracks_of(rally.track),
            sides=(first, second),
            setting=self._setting,
            corrections=corrections,
            shown=shown,
        )
        return replace(followed, rests_on=self.sources(rally))

    def _tracks_of(self, key: str) -> Tracks | None:
        from goodlength.measure.players.match_tracking_job import track_from

        form = self._tracks.get(key)
        return None if form is None else track_from(form).paths


def corrections_of(path: Path, key: str) -> RallyCorrections:
    """Return what the coach said of a rally; nothing where the file is damaged or says what cannot be."""
    from pydantic import TypeAdapter, ValidationError

    from goodlength.measure.shots.followed_ball_types import RallyCorrections

    plain = JsonFile(path).shown().get("rallies", {})
    try:
        return TypeAdapter(RallyCorrections).validate_python(plain[key])
    except (ValidationError, KeyError, TypeError):
        return RallyCorrections()


def change_corrections(
    path: Path, key: str, change: Callable[[RallyCorrections], RallyCorrections]
) -> RallyCorrections:
    """Store what the coach says of a rally, changed.

    Raises
    ------
    DamagedFile, NoSpace
        The file cannot be read or written; it is as it was.
    """
    from dataclasses import asdict

    path.parent.mkdir(parents=True, exist_ok=True)
    with exclusive(path.parent):
        plain = JsonFile(path).read()
        made = change(corrections_of(path, key))
        rallies = plain.get("rallies", {})
        rallies = {**(rallies if isinstance(rallies, dict) else {}), key: asdict(made)}
        JsonFile(path).write({**plain, "rallies": rallies})
    return made


def with_choices(before: FollowedRally, after: FollowedRally) -> FollowedRally:
    """Return a rally followed again in which the coach's choices of a path stand where they still can.

    A choice stands where a shot begins at the same strike and has a path with the same contacts. A path that
    is not the best is not sure, though it was chosen.
    """
    chosen = [shot for shot in before.shots if shot.chosen and shot.paths]
    shots = []
    for shot in after.shots:
        same = next((old for old in chosen if abs(old.struck_us - shot.struck_us) < SAME_US), None)
        kinds = [] if same is None else [contact.kind for contact in same.paths[0].contacts]
        at = next((n for n, path in enumerate(shot.paths) if [c.kind for c in path.contacts] == kinds), None)
        shots.append(shot if at is None else path_chosen(shot, at))
    serve = None if shots and shots[0].chosen else after.serve
    return replace(after, shots=tuple(shots), serve=serve)


def path_chosen(shot: FollowedShot, at: int) -> FollowedShot:
    """Return a shot with one of its paths put first by the coach; it is sure only if that is its best."""
    paths = (*shot.paths[at:], *shot.paths[:at])
    best = paths[0].chance >= max(path.chance for path in paths)
    return replace(shot, paths=paths, sure=shot.sure and best, corrected=True, chosen=True)


def within(times_us: Sequence[int], us: int) -> tuple[int, ...]:
    """Return times without those that are the same strike as another."""
    return tuple(time for time in times_us if abs(time - us) >= SAME_US)
