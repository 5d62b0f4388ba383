"""Track both players through all rallies of a match, file by file, stored as one file.

What is kept are paths as found; who is who, and what stays hidden, is worked out again whenever it is read.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import Cancelled, FootageError, InputError
from goodlength.files.atomic_write import atomic_write
from goodlength.files.json_types import Json
from goodlength.footage.camera import (
    CameraCalibration,
    CameraLog,
    CameraSpan,
    Drift,
    drift_by_patches,
    patches_from_json,
)
from goodlength.footage.camera.camera_nudge_detection import MOST_FLOOR_M
from goodlength.footage.court_detection.camera_realignment_after_knock import floor_drift_m
from goodlength.footage.media.frame_grab import frames_in
from goodlength.footage.media.video_file_opening_or_rejection import absolute
from goodlength.footage.vision.background_subtraction import estimate_backgrounds
from goodlength.footage.vision.steady_view_spans import GAP_S, MOVED_WORDS, Steady
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.measure.players.clothing_colours import ALIKE
from goodlength.measure.players.moved_camera_recovery import FilmCameras, FilmToFollow, StandingCamera
from goodlength.measure.players.player_floor_detection import (
    FrameDetections,
    confirmed_share,
    detect_players,
)
from goodlength.measure.players.player_tracking import ClothingColours, Detections, Tracks
from goodlength.measure.players.track_identity_and_movement import RallyTrack, identify_tracks

Watched = tuple[Detections, tuple[FrameDetections, ...], Steady]
FORMAT = 1
LEAST_PART = 0.5  # of a rally's pictures: with fewer to be trusted it is hidden
WHOLE_PART = 0.9  # with more it counts as followed whole
COURT_SHARE = 0.15  # of the work: looking for the empty court
SHORTEST = 10  # pictures of a part between two knocks
MOVED_SINCE_WORDS = "the camera was moved after its marks were clicked"
UNKNOWN_WORDS = "it is not known whether the camera was moved after its marks were clicked"
LAST_PICTURE_US = 40_000  # so that a part's last picture is watched again


@dataclass(frozen=True)
class TrackSpan:
    """A rally to be followed: its key, the file it lies in, and its media time with a little around it."""

    key: str
    footage: str
    from_us: int
    until_us: int


def track_match(
    films: Sequence[FilmToFollow],
    spans: Sequence[TrackSpan],
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> tuple[tuple[RallyTrack, ...], ClothingColours | None, tuple[TrackSpan, ...]]:
    """Track both players in each span that lies in a film with a solved camera.

    Returns
    -------
    tracks, clothing, spans
        Tracks are not named; `spans` are those followed, in the same order.

    Raises
    ------
    InputError
        No span lies where a camera is known.
    FootageError, Cancelled
        As reading a film.
    """
    found: list[WatchedRally] = []
    done, whole = 0.0, max(1, sum(track_span.until_us - track_span.from_us for track_span in spans))
    for n, film in enumerate(films):
        own = [track_span for track_span in spans if track_span.footage == film.id]
        mine = [track_span for track_span in own if film.cameras.at(_middle(track_span)) is not None]
        if not mine:
            continue
        courts = estimate_backgrounds(absolute(film.path), _part(progress, n, len(films)), cancel)
        cameras = FilmCameras(film, courts)
        for span in mine:
            if cancel is not None and cancel():
                raise Cancelled("Tracking the players was stopped; nothing was saved.")
            if progress is not None:
                progress(
                    COURT_SHARE + (0.99 - COURT_SHARE) * done / whole,
                    f"rally {len(found) + 1} of {len(spans)}",
                )
            found.append(watch_rally(cameras, span, cancel))
            done += span.until_us - span.from_us
    if not found:
        raise InputError("No rally is in a video with a calibrated camera. Calibrate the camera first.")

    def confirm(n: int, paths: Tracks) -> float:
        return found[n].confirmed(paths)

    tracks, clothing = identify_tracks([(rally.span.key, rally.seen) for rally in found], confirm)
    reliable = {rally.span.key: rally for rally in found}
    tracks = tuple(
        replace(
            track,
            hidden=reliable[track.key].hidden or track.hidden,
            partial=reliable[track.key].partial or track.partial,
        )
        for track in tracks
    )
    return tracks, clothing, tuple(rally.span for rally in found)


def _middle(span: TrackSpan) -> int:
    return (span.from_us + span.until_us) // 2


@dataclass(frozen=True, eq=False)
class WatchedRally:
    """What a rally's pictures offer, those to be trusted only; why it is hidden, or followed in part.

    `looks` are what the detector of people found, with the camera that stood then.
    """

    span: TrackSpan
    seen: Detections
    looks: tuple[tuple[tuple[FrameDetections, ...], CameraCalibration], ...]
    hidden: str = ""
    partial: str = ""

    def confirmed(self, paths: Tracks) -> float:
        """Return the share of places at which the detector of people found somebody too; NaN unasked."""
        shares = [(confirmed_share(paths, seen, camera), len(seen)) for seen, camera in self.looks]
        known = [(share, count) for share, count in shares if np.isfinite(share) and count]
        count_all = sum(count for _, count in known)
        return sum(share * count for share, count in known) / count_all if known else float("nan")


def watch_rally(cameras: FilmCameras, span: TrackSpan, cancel: Cancel | None) -> WatchedRally:
    """Return what a rally's pictures offer, each part of it by the camera that stood then."""
    view = cameras.at(_middle(span))
    assert view is not None  # only rallies with a camera are watched
    film = replace(
        cameras.film,
        cameras=CameraLog((CameraSpan(view.camera),)),
        patches=(view.patches,) if view.patches else (),
        clicked_us=() if view.clicked_us is None else (view.clicked_us,),
    )
    watched, looks, steady = detect_players(
        absolute(film.path), span.from_us, span.until_us, view.camera, view.courts, cancel
    )
    now = reliable_span(film, span, view.camera, watched, steady)
    if now.hidden or now.partial:
        better = _through_knocks(cameras, span, view, (watched, looks, steady), cancel)
        if better is not None and (now.hidden or len(better.seen.times_s) > len(now.pictures)):
            return better
    return WatchedRally(span, watched.part(now.pictures), ((looks, view.camera),), now.hidden, now.partial)


def _through_knocks(
    cameras: FilmCameras, span: TrackSpan, view: StandingCamera, seen: Watched, cancel: Cancel | None
) -> WatchedRally | None:
    """Return a rally put together from its steady parts, each by its own camera; None where that is too
    little.
    """
    watched, _, steady = seen
    count = len(watched.times_s)
    pieces: list[WatchedPart] = []
    for part, is_steady in stretches(steady, count):
        piece = _watched_part(cameras, view, seen, part, cancel, is_steady=is_steady)
        if piece is None:
            continue
        if pieces and piece.seen.times_s[0] - pieces[-1].seen.times_s[-1] > GAP_S:
            if sum(len(other.seen.times_s) for other in pieces) >= len(piece.seen.times_s):
                continue
            pieces = []
        pieces.append(piece)
    if sum(len(piece.seen.times_s) for piece in pieces) < LEAST_PART * count:
        return None
    joined = Detections.joined([piece.seen for piece in pieces])
    partial = steady.words if len(joined.times_s) < WHOLE_PART * count else ""
    return WatchedRally(span, joined, tuple((piece.looks, piece.camera) for piece in pieces), "", partial)


@dataclass(frozen=True, eq=False)
class WatchedPart:
    """What a steady part of a rally offers, and the camera it was watched with."""

    seen: Detections
    looks: tuple[FrameDetections, ...]
    camera: CameraCalibration


def stretches(steady: Steady, count: int) -> list[tuple[NDArray[np.int64], bool]]:
    """Return runs of pictures, in order of time, and whether the view held in each.

    A view shifted against the empty court differs from it everywhere, as if somebody stood in front: what no
    steady part holds may be one, seen from elsewhere.
    """
    inside = np.zeros(count, dtype=bool)
    for part in steady.parts:
        inside[part] = True
    rest = np.flatnonzero(~inside)
    others = np.split(rest, np.flatnonzero(np.diff(rest) > 1) + 1)
    runs = [(part, True) for part in steady.parts] + [(part, False) for part in others]
    return sorted((run for run in runs if len(run[0]) >= SHORTEST), key=lambda run: int(run[0][0]))


def _watched_part(
    cameras: FilmCameras,
    view: StandingCamera,
    seen: Watched,
    part: NDArray[np.int64],
    cancel: Cancel | None,
    *,
    is_steady: bool,
) -> WatchedPart | None:
    """Return a part of a rally by the camera that stood then: as seen, or watched again by another."""
    watched, looks, _ = seen
    from_us, until_us = (round(1e6 * float(watched.times_s[part[k]])) for k in (0, -1))
    now = cameras.standing_at((from_us + until_us) // 2)
    if now is None:
        return None
    pictures = part if is_steady else np.arange(0)
    if now is not view:
        watched, looks, steady = detect_players(
            absolute(cameras.film.path), from_us, until_us + LAST_PICTURE_US, now.camera, now.courts, cancel
        )
        pictures = steady.parts[0] if steady.parts else np.arange(0)
    if len(pictures) < SHORTEST:
        return None
    piece = watched.part(pictures)
    inside = tuple(frame for frame in looks if piece.times_s[0] <= frame.time_s <= piece.times_s[-1])
    return WatchedPart(piece, inside, now.camera)


@dataclass(frozen=True, eq=False)
class ReliableSpan:
    """The pictures of a span that can be trusted, why none can, and why only some can."""

    pictures: NDArray[np.int64]
    hidden: str = ""
    partial: str = ""


def reliable_span(
    film: FilmToFollow, span: TrackSpan, camera: CameraCalibration, watched: Detections, steady: Steady
) -> ReliableSpan:
    """Return the longest part of a span in which the view holds and the camera stands where it was solved."""
    whole = np.arange(len(watched.times_s))
    reason = steady.words
    for part in steady.parts:
        if len(part) < LEAST_PART * len(whole):
            break
        middle = round(1e6 * float(watched.times_s[part[len(part) // 2]]))
        reason = _moved(film, span, middle, camera, must_tell=steady.places > 1) or ""
        if not reason:
            return ReliableSpan(part, partial=steady.words if len(part) < WHOLE_PART * len(whole) else "")
    return ReliableSpan(whole, hidden=reason or steady.words)


def _moved(
    film: FilmToFollow, span: TrackSpan, at_us: int, camera: CameraCalibration, *, must_tell: bool
) -> str:
    """Return why places are not to be trusted: the camera moved since its marks were clicked; else empty.

    Parameters
    ----------
    must_tell : bool
        The camera is known to have moved during the rally, so that "cannot tell" is not good enough.
    """
    middle = (span.from_us + span.until_us) // 2
    for n, (camera_span, patches) in enumerate(zip(film.cameras.spans, film.patches, strict=False)):
        if camera_span.holds(middle) and patches:
            after = _frame(film, at_us)
            drift = drift_by_patches(camera, patches, np.ascontiguousarray(after[:, :, ::-1]))
            if drift.state is Drift.MOVED:
                return MOVED_SINCE_WORDS
            if drift.state is Drift.STILL:
                return ""
            if n < len(film.clicked_us):
                off_m = floor_drift_m(camera.lens, _frame(film, film.clicked_us[n]), after)
                if off_m is None:
                    return UNKNOWN_WORDS
                return MOVED_SINCE_WORDS if off_m > MOST_FLOOR_M else ""
    return MOVED_WORDS if must_tell else ""


def _frame(film: FilmToFollow, us: int) -> NDArray[np.uint8]:
    """Return the frame shown at a moment, red, green, blue, at full size."""
    return next(iter(frames_in(absolute(film.path), us)))[1]


def _part(progress: Progress | None, n: int, count: int) -> Progress | None:
    if progress is None:
        return None

    def report(share: float, words: str) -> None:
        progress(COURT_SHARE * (n + share) / count, words)

    return report


def track_job(
    match: str,
    films: list[dict[str, Any]],
    spans: list[dict[str, Any]],
    to: str,
    *,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, Json]:
    """Run `track_match` as a job: tracks are written to the file `to`, words are its result."""
    if not films or not spans:
        raise FootageError("There is no rally with a time to track. Detect the rallies or log them first.")
    plain_films = [
        FilmToFollow(
            str(film["id"]),
            str(film["path"]),
            CameraLog.from_json(film["cameras"]),
            tuple(tuple(patches_from_json(stored.get("patches", []))) for stored in film["cameras"]),
            tuple(int(stored["clicked_us"]) for stored in film["cameras"] if "clicked_us" in stored),
        )
        for film in films
    ]
    tracks, clothing, followed = track_match(
        plain_films, [TrackSpan(**span) for span in spans], progress, cancel
    )
    form = {
        "format": FORMAT,
        "match": match,
        "asked": len(spans),
        "clothing": None if clothing is None else _clothing_form(clothing),
        "rallies": [track_form(track, span) for track, span in zip(tracks, followed, strict=True)],
    }
    with atomic_write(Path(to)) as part:
        part.write_text(json.dumps(form), encoding="utf-8")
    words = words_of(tracks, clothing)
    progress(1.0, words)
    return {"words": words, "rallies": len(tracks), "hidden": sum(bool(track.hidden) for track in tracks)}


def words_of(tracks: Sequence[RallyTrack], clothing: ClothingColours | None) -> str:
    """Return what came out, in a line or two."""
    shown = sum(not track.hidden for track in tracks)
    words = f"Players tracked in {shown} of {len(tracks)} rallies."
    if shown < len(tracks):
        left = len(tracks) - shown
        words += f" {left} {'is' if left == 1 else 'are'} not shown: tracked too poorly."
    parts = sum(bool(track.partial) and not track.hidden for track in tracks)
    if parts:
        words += f" In {parts} only a part is tracked: the camera, the light or the view changed, or the "
        words += "players were out of the frame or too close to each other."
    if clothing is None or clothing.apart < ALIKE:
        words += " Their clothes look too similar to tell the players apart: which player is which "
        words += "is known only where a logged serve says so."
    return words


def _clothing_form(clothing: ClothingColours) -> dict[str, Json]:
    return {
        "middle": np.round(clothing.middle, 1).tolist(),
        "spread": np.round(clothing.spread, 1).tolist(),
    }


def clothing_from(form: Mapping[str, Any] | None) -> ClothingColours | None:
    """Return the clothes as kept."""
    if not form:
        return None
    return ClothingColours(np.asarray(form["middle"], dtype=float), np.asarray(form["spread"], dtype=float))


def track_form(track: RallyTrack, span: TrackSpan) -> dict[str, Json]:
    """Return one rally's paths as plain values: times in microseconds of media time, places in
    centimetres.
    """
    paths = track.paths
    return {
        "key": track.key,
        "footage": span.footage,
        "hidden": track.hidden,
        "partial": track.partial,
        "sure": round(track.sure, 2),
        "confirmed": None if np.isnan(track.confirmed) else round(track.confirmed, 3),
        "explained": round(paths.explained, 3),
        "times_us": [round(1e6 * t) for t in paths.times_s.tolist()],
        "xy_cm": _whole(100 * paths.xy.reshape(len(paths.times_s), 4)),
        "error_cm": _whole(np.minimum(100 * paths.error_m, 9999)),
        "seen": paths.seen.astype(int).tolist(),
        "feet": paths.feet.astype(int).tolist(),
        "colours": _whole(paths.colours),
        "varied": np.round(paths.varied, 1).tolist(),
    }


def _whole(values: np.ndarray) -> list[list[int | None]]:
    return [[None if not np.isfinite(x) else round(x) for x in row] for row in values.tolist()]


def track_from(form: Mapping[str, Any]) -> RallyTrack:
    """Return one rally's paths, read; times in seconds of media time."""
    n = len(form["times_us"])

    def table(name: str, wide: int) -> np.ndarray:
        rows = [[np.nan if x is None else x for x in row] for row in form[name]]
        return np.asarray(rows, dtype=float).reshape(-1, wide)

    paths = Tracks(
        np.asarray(form["times_us"], dtype=float) / 1e6,
        table("xy_cm", 4).reshape(n, 2, 2) / 100.0,
        table("error_cm", 2) / 100.0,
        table("seen", 2) > 0,
        table("feet", 2) > 0,
        table("colours", 12),
        np.asarray(form["varied"], dtype=float),
        float(form["explained"]),
    )
    sure = form["confirmed"]
    return RallyTrack(
        str(form["key"]),
        paths,
        float("nan") if sure is None else float(sure),
        False,
        float(form["sure"]),
        str(form["hidden"]),
        str(form.get("partial", "")),
    )
