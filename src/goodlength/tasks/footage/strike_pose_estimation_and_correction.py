"""Poses of a player around a strike: estimated once, stored, corrected by hand, and measured.

What was found lies in the library folder (`bodies/MATCH.json`); joints a person put in place beside it
(`bodies/MATCH.said.json`), and they stand over the machine's. Neither is part of the record.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from goodlength.errors import GoodlengthError, InputError, NotFound
from goodlength.files.library_layout import body_files
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.jobs.progress_callback import Progress
from goodlength.media_time import MICROSECONDS, Gap
from goodlength.record.model import Rally
from goodlength.tasks.footage import camera_calibration, player_tracking

if TYPE_CHECKING:
    from goodlength.footage.vision.pose_sequence_estimation import PoseSequence
    from goodlength.measure.body.joint_angles_and_hand_path import Angle, HandPath, NoAngle
    from goodlength.tasks.match.lazy_match import OpenMatch

WHO = ("a", "b")


@dataclass(frozen=True, eq=False)
class StrikeBody:
    """A player around a strike: media time of contact in a file, the movement, angles then, the hand's way.

    `hand` is None without a camera, for a player whose playing hand is not known, or where it was not seen.
    """

    rally: str
    who: str
    footage_id: str
    at_us: int
    movement: PoseSequence
    angles: tuple[Angle | NoAngle, ...]
    hand: HandPath | None
    corrected: int  # joints put in place by hand


def strike_body(
    opened: OpenMatch,
    rally_key: str,
    who: str,
    *,
    shot: int = 1,
    feet: tuple[float, float] | None = None,
    again: bool = False,
    progress: Progress | None = None,
) -> StrikeBody:
    """Return a player's joints around a strike of a rally, found now or taken from what was kept.

    Parameters
    ----------
    who : str
        "a" or "b": the striker, or the receiver at the same moment.
    shot : int
        Which strike; 1 is the serve. Later ones need hits recorded or heard.
    feet : (u, v), optional
        Where the player's feet are in the picture, px of the original; left out, from the players followed.
    again : bool
        Look anew although it was found before.

    Raises
    ------
    InputError
        Nothing filmed then; or where the player stands is not known: click his feet.
    NotFound
        No such rally or shot, or nobody at that place; what was kept stays.
    """
    from goodlength.footage.vision.pose_sequence_estimation import (
        pose_sequence,
        pose_sequence_form,
        pose_sequence_from,
    )

    rally = opened.rally(rally_key)
    if who not in WHO:
        raise InputError(f"A player is 'a' or 'b'; got {who!r}.")
    at_match_us = _strike_us(opened, rally, shot)
    footage_id, media_us = strike_place(opened, rally_key, shot)
    key = f"{rally_key}/{shot}/{who}"
    poses = JsonFile(body_files(opened.library.folder, opened.id)[0]).shown()
    old = poses.get(key)
    if old is not None and not again and feet is None and old.get("at_us") == media_us:
        found = pose_sequence_from(old)
    else:
        feet = feet or _feet(opened, rally_key, who, at_match_us, footage_id, media_us)
        file = opened.file(footage_id)
        found = pose_sequence(
            file.path,
            media_us,
            feet,
            table=camera_calibration.original_table(opened.library, file),
            progress=progress,
        )
        if found.at(media_us) is None:
            raise NotFound(
                "No player was found there at contact, or the player is too small in the frame. "
                "Click between "
                "the feet. Joints can be moved only where a player was found."
            )
        with exclusive(body_files(opened.library.folder, opened.id)[0].parent):
            made = JsonFile(body_files(opened.library.folder, opened.id)[0])
            form = {**pose_sequence_form(found), "at_us": media_us, "footage": footage_id}
            made.write({**made.shown(), key: form})
    return _strike_body(opened, rally_key, who, key, footage_id, media_us, found)


@dataclass(frozen=True, eq=False)
class StoredBody:
    """Body points that were found before: of whom, in which file, and the movement."""

    who: str
    footage_id: str
    movement: PoseSequence


def stored_bodies(opened: OpenMatch, rallies: Sequence[str]) -> list[StoredBody]:
    """Return the movements found before in some rallies, with joints put in place by hand.

    Nothing is looked for; what was stored by another version or is damaged is left out.
    """
    from goodlength.footage.vision.pose_sequence_estimation import pose_sequence_from, with_hands

    found = []
    for key, form in JsonFile(body_files(opened.library.folder, opened.id)[0]).shown().items():
        rally, _, rest = key.partition("/")
        who = rest.rpartition("/")[2]
        if rally not in rallies or who not in WHO:
            continue
        try:
            movement = with_hands(pose_sequence_from(form), corrected_by_hand(opened, key))
            found.append(StoredBody(who, str(form["footage"]), movement))
        except (GoodlengthError, AssertionError, LookupError, TypeError, ValueError):
            continue
    return found


def _strike_body(
    opened: OpenMatch,
    rally: str,
    who: str,
    key: str,
    footage_id: str,
    at_us: int,
    found: PoseSequence,
) -> StrikeBody:
    """Return the movement with joints put in place by hand, its angles, and the hand's way."""
    from goodlength.footage.vision.pose_sequence_estimation import with_hands
    from goodlength.measure.body.joint_angles_and_hand_path import angles_of

    hands = corrected_by_hand(opened, key)
    whole = with_hands(found, hands)
    joints = whole.at(at_us)
    return StrikeBody(
        rally,
        who,
        footage_id,
        at_us,
        whole,
        () if joints is None else angles_of(joints),
        _hand_path(opened, who, footage_id, at_us, whole),
        sum(len(places) for places in hands.values()),
    )


def _hand_path(
    opened: OpenMatch, who: str, footage_id: str, at_us: int, found: PoseSequence
) -> HandPath | None:
    """Return the way of the playing hand in metres, by the scale of the picture where the player stands."""
    from goodlength.footage.camera import CourtPoint
    from goodlength.measure.body.joint_angles_and_hand_path import hand_path

    hand = opened.players[WHO.index(who)].hand
    saved = camera_calibration.camera_at(opened.library, footage_id, at_us)
    near = min(
        (pair for pair in zip(found.times_us, found.people, strict=True) if pair[1] is not None),
        key=lambda pair: abs(pair[0] - at_us),
        default=None,
    )
    if hand not in ("left", "right") or saved is None or near is None or near[1] is None:
        return None
    from goodlength.court import CourtSurface

    spot = saved.camera.place(CourtSurface.FLOOR, *near[1].feet)
    if not isinstance(spot, CourtPoint):
        return None
    uv, seen = saved.camera.lens.project(_upright(spot.x_m, spot.y_m))
    if not seen.all():
        return None
    px_per_m = float(((uv[0] - uv[1]) ** 2).sum() ** 0.5)
    times = [us / MICROSECONDS for us in found.times_us]
    return hand_path(times, found.joints, hand, px_per_m, at_us / MICROSECONDS)


def _upright(x_m: float, y_m: float) -> Any:
    """Return a metre upwards at a place on the floor."""
    return np.array([[x_m, y_m, 0.5], [x_m, y_m, 1.5]])


def _feet(
    opened: OpenMatch, rally: str, who: str, at_us: int, footage_id: str, media_us: int
) -> tuple[float, float]:
    """Return where a player followed on the floor stands in the picture."""
    from goodlength.footage.camera import ImagePoint
    from goodlength.measure.players.track_identity_and_movement import at

    track = next(
        (
            tracked_rally
            for tracked_rally in player_tracking.tracked_match(opened).identified
            if tracked_rally.rally and tracked_rally.rally.key == rally
        ),
        None,
    )
    saved = camera_calibration.camera_at(opened.library, footage_id, media_us)
    feet = None if track is None else at(track.track.paths, at_us / MICROSECONDS)[WHO.index(who)]
    spot = None if feet is None or saved is None else saved.camera.spot(feet.x_m, feet.y_m, 0.0)
    if not isinstance(spot, ImagePoint):
        raise InputError(
            "The player's position is unknown here. Click their feet, or track the players on "
            "the Footage page."
        )
    return spot.u, spot.v


def _strike_us(opened: OpenMatch, rally: Rally, shot: int) -> int:
    """Match time of a strike: as recorded, else heard; the serve is where the rally starts."""
    timed = next(
        (candidate.at_us for candidate in rally.shots if candidate.n == shot and candidate.at_us is not None),
        None,
    )
    if timed is not None:
        return timed
    if shot == 1 and rally.start_us is not None:
        return rally.start_us
    found = next(
        (
            listed_rally
            for key, own, listed_rally in player_tracking.rally_spans(opened)
            if own and own.key == rally.key
        ),
        None,
    )
    hits = () if found is None else found.hits_us
    if not 1 <= shot <= len(hits):
        raise NotFound(
            f"The time of shot {shot} in this rally is not known: it was neither logged nor detected."
        )
    return hits[shot - 1]


def strike_place(opened: OpenMatch, rally_key: str, shot: int = 1) -> tuple[str, int]:
    """Return the file and media time of a strike.

    Raises
    ------
    InputError, NotFound
        As `strike_body`.
    """
    at_us = _strike_us(opened, opened.rally(rally_key), shot)
    timeline = opened.timeline
    place = None if timeline is None else timeline.locate(at_us)
    if place is None or isinstance(place, Gap):
        raise InputError("There is no video at the time of that shot.")
    return place.footage_id, place.media_us


def joint_names() -> tuple[str, ...]:
    """Return names of the joints by their number."""
    from goodlength.footage.vision.pose_estimation import NAMES

    return NAMES


def correct_joint(
    opened: OpenMatch,
    rally_key: str,
    who: str,
    at_us: int,
    joint: int,
    place: tuple[float, float] | None,
    *,
    shot: int = 1,
) -> int:
    """Keep where a joint is in one picture (media time), as clicked or dragged; None takes it back.

    Returns
    -------
    int
        How many joints stand by hand around this strike.

    Raises
    ------
    InputError
        No such joint, or a place that is none.
    """
    from goodlength.footage.vision.pose_estimation import NAMES

    if not 0 <= joint < len(NAMES):
        raise InputError(f"A joint is a number from 0 to {len(NAMES) - 1}; got {joint}.")
    if place is not None and not all(math.isfinite(x) for x in place):
        raise InputError(
            f"A place in the picture is two numbers, px; got {place}.", page="Click a point inside the frame."
        )
    opened.rally(rally_key)
    key = f"{rally_key}/{shot}/{who}"
    with exclusive(body_files(opened.library.folder, opened.id)[0].parent):
        file = JsonFile(body_files(opened.library.folder, opened.id)[1])
        corrections = file.read()
        mine = corrections.setdefault(key, {}).setdefault(str(at_us), {})
        if place is None:
            mine.pop(str(joint), None)
        else:
            mine[str(joint)] = [float(place[0]), float(place[1])]
        if not mine:
            corrections[key].pop(str(at_us))
        file.write(corrections)
    return sum(len(places) for places in corrected_by_hand(opened, key).values())


def corrected_by_hand(opened: OpenMatch, key: str) -> Mapping[int, Mapping[int, tuple[float, float]]]:
    """Return the joints put in place by hand around a strike: by media time, then joint, the place in px."""
    corrections = JsonFile(body_files(opened.library.folder, opened.id)[1]).shown().get(key, {})
    return {
        int(us): {int(joint): (float(u), float(v)) for joint, (u, v) in places.items()}
        for us, places in corrections.items()
    }


def striker_of(opened: OpenMatch, rally_key: str, shot: int = 1) -> str:
    """Return who hits a shot of a rally: strikers alternate from the server on."""
    server = opened.rally(rally_key).server
    return (server if shot % 2 == 1 else server.other).value
