"""How early a player's serves show, over every serve with a pose, and the receiver's body.

Joints come from `tasks.footage.strike_pose_estimation_and_correction`, which finds and keeps them strike by
strike, or from a file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import GoodlengthError, InputError, NotFound
from goodlength.files.library_layout import body_files
from goodlength.files.locked_json_file import JsonFile
from goodlength.findings.text.sentence_grammar import noun
from goodlength.jobs.progress_callback import Progress
from goodlength.measure.body.serve_cue_onset import (
    DisguiseResult,
    TooFewServes,
    disguise_words,
    time_of_disguise_loss,
)
from goodlength.record.model import MatchInfo, Rally
from goodlength.record.rally_sentences import kind_words
from goodlength.tasks.footage.strike_pose_estimation_and_correction import strike_body
from goodlength.tasks.match.lazy_player_matches import OpenMatches, open_matches

if TYPE_CHECKING:
    from goodlength.footage.vision.pose_sequence_estimation import PoseSequence
    from goodlength.tasks.match.lazy_match import OpenMatch

Floats = NDArray[np.float64]
STEP_S, FROM_S, UNTIL_S = 0.04, -0.8, 0.08
NEAR_S = 0.03  # a picture this far from a moment stands for it
COVERED = 0.8  # of serves must have a moment for it to be used
LEAST_ANGLES = 5  # serves of a kind before the receiver's angles are told; ASSUMED
PRESSED = ("knee", "hip", "trunk")
ANKLES = (15, 16)


@dataclass(frozen=True, eq=False)
class KindDisguise:
    """One kind of a player: what was found, in words, and of how many serves joints were missing.

    `serves` of the kind are logged in `matches` matches; `with_video` of them have a time in a video.
    """

    kind: str
    found: DisguiseResult | TooFewServes
    words: tuple[str, ...]
    without_joints: int
    serves: int = 0
    matches: int = 0
    with_video: int = 0


@dataclass(frozen=True)
class ReceiverPressure:
    """An angle of the receiver at the strike, by kind: serves, median, middle half, usual error, degrees."""

    kind: str
    angle: str
    serves: int
    median_deg: float
    low_deg: float
    high_deg: float
    error_deg: float


@dataclass(frozen=True, eq=False)
class _Served:
    info: MatchInfo
    rally: Rally
    joints: Floats  # (T, 17, 2)


def matches_of_server(opened: OpenMatch, whose: str = "coached") -> OpenMatches:
    """Return every match of the player whose serves are meant, this one open already.

    Parameters
    ----------
    whose : str
        As `OpenMatch.side_of` takes it.
    """
    return open_matches(opened.library, opened.info.players[opened.side_of(whose).place], opened)


def matches_counted(matches: OpenMatches) -> int:
    """Return in how many of a player's matches a serve of the player has a kind logged."""
    return sum(
        any(
            rally.serve.kind and opened.info.players[rally.server.place] == matches.player_id
            for rally in opened.match.rallies
        )
        for opened in matches
    )


def disguise_of(matches: OpenMatches, kind: str = "") -> list[KindDisguise]:
    """Return when each kind of a player's serve shows, over all of the player's matches with joints.

    Parameters
    ----------
    matches : OpenMatches
        The server's, from `matches_of_server`.
    kind : str
        One kind, or every kind that was served.

    Raises
    ------
    NotFound
        That kind was never served.
    InputError, OutOfRange
        Serves enough, but no joint seen often enough, or too few moments before the strike.
    """
    library, player = matches.library, matches.player_id
    every = _serves_of(matches)
    served, missing = _served(every)
    kinds = (
        sorted({served_rally.rally.serve.kind or "" for served_rally in served} | set(missing))
        if not kind
        else [kind]
    )
    if kind and kind not in {*missing, *(served_rally.rally.serve.kind for served_rally in served)}:
        raise NotFound(f"No serve of the kind {kind!r} is logged for this player.")
    known = {player_item.id: player_item.name for player_item in library.players()}
    name = known.get(player, player).split()[0]
    words = kind_words(library.kinds())
    times, joints = _alike(served)
    found = []
    for text in kinds:
        labels = np.array([each.rally.serve.kind == text for each in served], bool)
        result = _disguise_result(joints, times, labels, served)
        sentences = tuple(disguise_words(result, _kind_forms(text, words), name))
        serves = [(info.id, rally) for info, rally, _ in every if rally.serve.kind == text]
        found.append(
            KindDisguise(
                text,
                result,
                sentences,
                missing.get(text, 0),
                len(serves),
                len({match_id for match_id, _ in serves}),
                sum(rally.start_us is not None for _, rally in serves),
            )
        )
    return found


def find_joints(opened: OpenMatch, whose: str = "coached", progress: Progress | None = None) -> int:
    """Find the joints of server and receiver at every serve of a match with a time; gives how many serves.

    Serves at which a player is not found are passed over; where all are, the last reason is told.

    Raises
    ------
    InputError, NotFound
        No serve has a time, or no player was found at any.
    """
    match = opened.match
    side = opened.side_of(whose).value
    serves = [
        candidate
        for candidate in match.rallies
        if candidate.server.value == side and candidate.start_us is not None
    ]
    if not serves:
        raise InputError("No serve of this player has a time yet. Set the times on the Footage page first.")
    done, reason = 0, None
    for n, rally in enumerate(serves):
        if progress is not None:
            progress(n / max(1, len(serves)), f"joints, serve {n + 1} of {len(serves)}")
        try:
            for who in (side, "b" if side == "a" else "a"):
                strike_body(opened, rally.key, who)
            done += 1
        except GoodlengthError as error:
            reason = error
    if not done and reason is not None:
        raise reason
    if progress is not None:
        progress(1.0, f"{done} of {len(serves)} serves")
    return done


def pressure_of(matches: OpenMatches) -> list[ReceiverPressure]:
    """Return knee, hip and trunk of the receiver when a player serves, by kind, over all matches with joints.

    Limits
    ------
    Angles in the picture: a limb that points at the camera looks straighter or shorter than it is.
    """
    from goodlength.footage.vision.pose_sequence_estimation import pose_sequence_from
    from goodlength.measure.body.joint_angles_and_hand_path import Angle, angles_of

    found: dict[tuple[str, str], list[tuple[float, float]]] = {}
    for _info, rally, poses in _serves_of(matches):
        form = poses.get(f"{rally.key}/1/{'b' if rally.server.value == 'a' else 'a'}")
        joints = None if form is None else pose_sequence_from(form).at(int(form["at_us"]))
        if joints is None or not rally.serve.kind:
            continue
        angles = [angle for angle in angles_of(joints) if isinstance(angle, Angle)]
        for name in PRESSED:
            mine = [angle for angle in angles if angle.name == name]
            if mine:
                best = min(mine, key=lambda angle: angle.error_rad)
                found.setdefault((rally.serve.kind, name), []).append((best.angle_rad, best.error_rad))
    out = []
    for (kind, name), values in sorted(found.items()):
        if len(values) >= LEAST_ANGLES:
            degrees, errors = np.degrees(np.array(values)).T
            low, middle, high = np.quantile(degrees, [0.25, 0.5, 0.75])
            out.append(
                ReceiverPressure(
                    kind, name, len(values), float(middle), float(low), float(high), float(np.median(errors))
                )
            )
    return out


def disguise_from_file(path: Path, kind: str, name: str) -> KindDisguise:
    """Return the same from a file of joints (.npz): `joints` (n, T, 17, 2), `times_s` (T,), `of_kind`
    (n,), and if
    known `match`, `box` (n,) and `place` (n, 2).

    Raises
    ------
    InputError
        The file cannot be read, or lacks one of the three.
    """
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            arrays = {key: archive[key] for key in archive.files}
    except FileNotFoundError:
        raise NotFound(f"Cannot find {path}. Check its name and folder.") from None
    except (OSError, ValueError, EOFError, AttributeError, BadZipFile):  # an array alone has no names
        raise InputError(
            f"{path.name} cannot be read as a file of body points (.npz). Choose another file."
        ) from None
    lacking = [key for key in ("joints", "times_s", "of_kind") if key not in arrays]
    if lacking:
        raise InputError(
            f"{path.name} has no {' and '.join(lacking)}. Make the file again.",
            command="goodlength show disguise --help",
        )
    found = time_of_disguise_loss(
        arrays["joints"],
        arrays["times_s"],
        arrays["of_kind"],
        groups=arrays.get("match"),
        strata=arrays.get("box"),
        places=arrays.get("place"),
    )
    return KindDisguise(kind, found, tuple(disguise_words(found, _kind_forms(kind, {}), name)), 0)


def _serves_of(matches: OpenMatches) -> list[tuple[MatchInfo, Rally, Mapping[str, Any]]]:
    found: list[tuple[MatchInfo, Rally, Mapping[str, Any]]] = []
    for opened in matches:
        info = opened.info
        poses = JsonFile(body_files(matches.library.folder, info.id)[0]).shown()
        for rally in opened.match.rallies:
            if info.players["ab".index(rally.server.value)] == matches.player_id:
                found.append((info, rally, poses))
    return found


def _served(
    serves: Sequence[tuple[MatchInfo, Rally, Mapping[str, Any]]],
) -> tuple[list[_Served], dict[str, int]]:
    """Return serves with joints at common moments, and how many of each kind have none."""
    from goodlength.footage.vision.pose_sequence_estimation import pose_sequence_from

    found: list[_Served] = []
    missing: dict[str, int] = {}
    for info, rally, poses in serves:
        kind = rally.serve.kind
        if not kind:
            continue
        form = poses.get(f"{rally.key}/1/{rally.server.value}")
        if form is None:
            missing[kind] = missing.get(kind, 0) + 1
            continue
        found.append(_Served(info, rally, at_moments(pose_sequence_from(form), int(form["at_us"]))))
    return found, missing


def moments() -> Floats:
    """Return the moments at which movements are compared, seconds from the strike."""
    count = round((UNTIL_S - FROM_S) / STEP_S) + 1
    return np.round(FROM_S + STEP_S * np.arange(count), 3)


def at_moments(movement: PoseSequence, at_us: int) -> Floats:
    """Return joints at the common moments, shape (T, 17, 2); NaN where there is no picture near, or not
    seen.
    """
    times = (np.array(movement.times_us, float) - at_us) / 1e6
    out = np.full((len(moments()), 17, 2), np.nan)
    for n, moment in enumerate(moments()):
        if not len(times):
            break
        near = int(np.argmin(np.abs(times - moment)))
        joints = movement.joints[near]
        if abs(times[near] - moment) <= NEAR_S and joints is not None:
            out[n] = np.where(joints.seen[:, None], joints.uv, np.nan)
    return out


def _alike(served: list[_Served]) -> tuple[Floats, Floats]:
    """Moments that nearly all serves have, and the joints there."""
    if not served:
        return moments(), np.empty((0, len(moments()), 17, 2))
    joints = np.stack([served_rally.joints for served_rally in served])
    covered = np.asarray(np.isfinite(joints).any(axis=(2, 3)).mean(axis=0) >= COVERED)
    if covered.sum() < 2:
        return moments(), joints
    window = np.arange(np.flatnonzero(covered)[0], np.flatnonzero(covered)[-1] + 1)
    return moments()[window], joints[:, window]


def _disguise_result(
    joints: Floats, times: Floats, labels: NDArray[np.bool_], served: list[_Served]
) -> DisguiseResult | TooFewServes:
    if not len(joints):
        return TooFewServes(0, 0)
    at = int(np.argmin(np.abs(times)))
    ankles = joints[:, at, ANKLES]
    seen = np.asarray(np.isfinite(ankles).all(axis=(1, 2)))
    places = np.where(seen[:, None], np.where(seen[:, None, None], ankles, 0.0).mean(axis=1), np.nan)
    match = np.array([served_rally.info.id for served_rally in served])
    box = np.array([served_rally.rally.box.value for served_rally in served])
    return time_of_disguise_loss(joints, times, labels, groups=match, strata=box, places=places)


def _kind_forms(kind: str, words: Mapping[str, str]) -> tuple[str, str]:
    """Return one and several serves of a kind, as they stand inside a sentence."""
    forms = noun(kind, words)
    return forms.one, forms.many
