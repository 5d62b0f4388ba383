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
    Drift,
    ImagePatch,
    drift_by_patches,
    patches_from_json,
)
from goodlength.footage.media.frame_grab import frames_in
from goodlength.footage.media.video_file import absolute
from goodlength.footage.vision.background_subtraction import estimate_backgrounds
from goodlength.footage.vision.steady_view_spans import MOVED_WORDS, Steady
from goodlength.jobs.progress_callback import Cancel, Progress
from goodlength.measure.players.clothing_colours import ALIKE
from goodlength.measure.players.player_floor_detection import (
    FrameDetections,
    confirmed_share,
    detect_players,
)
from goodlength.measure.players.player_tracking import ClothingColours, Detections, Tracks
from goodlength.measure.players.track_identity_and_movement import RallyTrack, identify_tracks

FORMAT = 1
LEAST_PART = 0.5  # of a rally's pictures: with fewer to be trusted it is hidden
WHOLE_PART = 0.9  # with more it counts as followed whole
COURT_SHARE = 0.15  # of the work: looking for the empty court


@dataclass(frozen=True)
class TrackSpan:
    """A rally to be followed: its key, the file it lies in, and its media time with a little around it."""

    key: str
    footage: str
    from_us: int
    until_us: int


@dataclass(frozen=True)
class FilmToFollow:
    """A film of the match, the cameras that hold for it, and for each the patches that tell if it moved."""

    id: str
    path: str
    cameras: CameraLog
    patches: tuple[tuple[ImagePatch, ...], ...] = ()


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
    found: list[tuple[TrackSpan, Detections, tuple[FrameDetections, ...], CameraCalibration]] = []
    reliable: dict[str, ReliableSpan] = {}
    done, whole = 0.0, max(1, sum(track_span.until_us - track_span.from_us for track_span in spans))
    for n, film in enumerate(films):
        own = [track_span for track_span in spans if track_span.footage == film.id]
        mine = [(track_span, camera) for track_span in own if (camera := _camera(film.cameras, track_span))]
        if not mine:
            continue
        courts = estimate_backgrounds(absolute(film.path), _part(progress, n, len(films)), cancel)
        for span, camera in mine:
            if cancel is not None and cancel():
                raise Cancelled("Tracking the players was stopped; nothing was saved.")
            if progress is not None:
                progress(
                    COURT_SHARE + (0.99 - COURT_SHARE) * done / whole,
                    f"rally {len(found) + 1} of {len(spans)}",
                )
            watched, looks, steady = detect_players(
                absolute(film.path), span.from_us, span.until_us, camera, courts, cancel
            )
            reliable[span.key] = now = reliable_span(film, span, camera, watched, steady)
            found.append((span, watched.part(now.pictures), looks, camera))
            done += span.until_us - span.from_us
    if not found:
        raise InputError("No rally is in a video with a calibrated camera. Calibrate the camera first.")

    def confirm(n: int, paths: Tracks) -> float:
        _, _, looks, camera = found[n]
        return confirmed_share(paths, looks, camera)

    tracks, clothing = identify_tracks([(span.key, seen) for span, seen, _, _ in found], confirm)
    tracks = tuple(
        replace(track, hidden=reliable[track.key].hidden or track.hidden, partial=reliable[track.key].partial)
        for track in tracks
    )
    return tracks, clothing, tuple(span for span, _, _, _ in found)


def _camera(log: CameraLog, span: TrackSpan) -> CameraCalibration | None:
    return next(
        (
            camera_span.camera
            for camera_span in log.spans
            if camera_span.holds((span.from_us + span.until_us) // 2)
        ),
        None,
    )


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
    for camera_span, patches in zip(film.cameras.spans, film.patches, strict=False):
        if camera_span.holds(middle) and patches:
            rgb = next(iter(frames_in(absolute(film.path), at_us)))[1]
            drift = drift_by_patches(camera, patches, np.ascontiguousarray(rgb[:, :, ::-1]))
            if drift.state is Drift.MOVED:
                return "the camera was moved after its marks were clicked"
            if drift.state is Drift.STILL:
                return ""
    return MOVED_WORDS if must_tell else ""


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
        words += f" In {parts} only a part is tracked: the camera, the light or the view changed."
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
