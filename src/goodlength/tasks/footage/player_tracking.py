"""Track the players of a match in a job, name the tracks, and query their positions.

Paths as found lie in the library folder (`tracks/MATCH.json`); what the coach said of them (who is who)
beside it. Neither is part of the record: they are proposals with their error.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from goodlength.errors import CalibrationError, InputError, NotFound
from goodlength.files.library_layout import track_files
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.jobs.progress_callback import Progress
from goodlength.media_time import MICROSECONDS, Timeline
from goodlength.record.model import Rally
from goodlength.scoring import Box, Side
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.rally_detection import ListedRally, listed_rallies

if TYPE_CHECKING:
    from goodlength.findings.analyses.player_distance_from_t_quartiles import CourtPositions
    from goodlength.jobs.job_queue import Jobs
    from goodlength.measure.players.track_identity_and_movement import MovementWork, RallyTrack
    from goodlength.measure.score.server_and_box_likelihoods import FeetObservation
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

FeetSeen = tuple["FeetObservation | None", "FeetObservation | None", float]
KIND = "players"
BEFORE_US, AFTER_US = 1_500_000, 500_000  # watched before the first strike and after the last


@dataclass(frozen=True, eq=False)
class TrackedRally:
    """One rally's paths; `start_us` and `hits_us` in match time, the path's times in seconds of match time.

    `rally` is that of the record where there is one.
    """

    key: str
    rally: Rally | None
    start_us: int
    end_us: int
    hits_us: tuple[int, ...]
    track: RallyTrack

    @property
    def shown(self) -> bool:
        """Whether its paths are good enough to be shown."""
        return not self.track.hidden


@dataclass(frozen=True, eq=False)
class TrackedMatch:
    """All rallies followed in a match, and what to know in words; `stale`: rallies were added since.

    `serves_agree` is how many more known servers speak for the names given than against them.
    """

    rallies: tuple[TrackedRally, ...] = ()
    words: tuple[str, ...] = ()
    stale: bool = False
    first_is: str = ""
    identified_by: str = ""
    clothes: tuple[tuple[str, str], ...] = ()  # shirt and shorts of the first and second, where they tell
    serves_agree: int = 0

    @property
    def identified(self) -> tuple[TrackedRally, ...]:
        """Those shown in which the two players are told apart."""
        return tuple(rally for rally in self.rallies if rally.shown and rally.track.identified)


def start_tracking(opened: OpenMatch, jobs: Jobs) -> str:
    """Begin following both players through every rally with a time; gives the job's id.

    Raises
    ------
    InputError
        No footage, no rally with a time, or no camera solved: each with the next step.
    """
    from goodlength.measure.players.match_tracking_job import track_job

    under_way = tracking_job_of(jobs, opened.id)
    if under_way is not None:
        return under_way
    return jobs.start(KIND, track_job, _arguments(opened))


def track_players(opened: OpenMatch, progress: Progress | None = None) -> TrackedMatch:
    """Return the same here and now, to its end."""
    from goodlength.measure.players.match_tracking_job import track_job

    def unheard(_share: float, _words: str) -> None:
        return

    track_job(**_arguments(opened), progress=progress or unheard, cancel=lambda: False)
    return tracked_match(opened)


def tracking_job_of(jobs: Jobs, match_id: str) -> str | None:
    """Return the job that follows the players of this match now."""
    for job in jobs.states():
        mine = job.kind == KIND and (job.args or {}).get("match") == match_id
        if mine and job.state in ("queued", "running"):
            return job.id
    return None


def _arguments(opened: OpenMatch) -> dict[str, Any]:
    library, timeline = opened.library, opened.timeline
    if timeline is None:
        raise InputError("This match has no video. Add one on the match's Footage page first.")
    spans = []
    for key, rally, found in rally_spans(opened):
        start, end = span_times(rally, found)
        pieces = timeline.pieces(max(0, start - BEFORE_US), end + AFTER_US)
        longest = max((piece for piece in pieces), key=lambda span: span.to_us - span.from_us, default=None)
        if longest is not None:
            spans.append(
                {
                    "key": key,
                    "footage": longest.footage_id,
                    "from_us": longest.from_us,
                    "until_us": longest.to_us,
                }
            )
    if not spans:
        raise InputError(
            "No rally has a time yet. Detect the rallies on the Footage page, or log the match, first."
        )
    films = [
        {"id": part.footage_id, "path": str(opened.file(part.footage_id).where), "cameras": cameras}
        for part in timeline.parts
        if (cameras := _cameras(library, part.footage_id))
    ]
    if not films:
        raise InputError(
            "The camera is not calibrated yet, so positions on the floor are not known. "
            "Calibrate it from the "
            "Footage page first."
        )
    return {
        "match": opened.id,
        "films": films,
        "spans": spans,
        "to": str(track_files(library.folder, opened.id)[0]),
    }


def _cameras(library: Library, footage_id: str) -> list[dict[str, Any]]:
    """Return the cameras of a file as kept, with the patches that tell whether it moved; else those
    borrowed.
    """
    from goodlength.footage.camera import camera_to_json

    own = camera_calibration.camera_spans(library, footage_id)
    first = library.footage_file(footage_id).first_us or 0
    borrowed = camera_calibration.camera_at(library, footage_id, first)
    if borrowed is not None and borrowed.camera.front_only:
        raise CalibrationError(
            "Players cannot be tracked: the camera of this file is calibrated for the front "
            "wall only. Set at least "
            "four marks on the floor on the Camera page first."
        )
    if own or borrowed is None:
        return own
    lent = camera_calibration.camera_spans(library, borrowed.footage_id)
    patches: list[Any] = next(
        (fields["patches"] for fields in lent if fields.get("clicked_us") == borrowed.clicked_us), []
    )
    camera_fields = camera_to_json(borrowed.camera)
    return [{"from_us": 0, "until_us": None, "camera": camera_fields, "patches": patches}]


def rally_spans(opened: OpenMatch) -> list[tuple[str, Rally | None, ListedRally | None]]:
    """Return rallies of the record with a time, each with what was heard of it, and rallies only heard."""
    recorded = [
        candidate
        for candidate in opened.match.rallies
        if candidate.start_us is not None
        and candidate.end_us is not None
        and candidate.end_us > candidate.start_us
    ]
    played = list(listed_rallies(opened).played)
    found: list[tuple[str, Rally | None, ListedRally | None]] = []
    for rally in recorded:
        same = next((listed_rally for listed_rally in played if _overlap(rally, listed_rally)), None)
        if same is not None:
            played.remove(same)
        found.append((f"r:{rally.key}", rally, same))
    found += [(f"h:{listed_rally.id}", None, listed_rally) for listed_rally in played]
    return sorted(found, key=lambda triple: span_times(triple[1], triple[2])[0])


def _overlap(rally: Rally, found: ListedRally) -> bool:
    assert rally.start_us is not None and rally.end_us is not None
    common = min(rally.end_us, found.end_us) - max(rally.start_us, found.start_us)
    return common > 0.5 * min(rally.end_us - rally.start_us, found.end_us - found.start_us)


def span_times(rally: Rally | None, found: ListedRally | None) -> tuple[int, int]:
    if rally is not None and rally.start_us is not None and rally.end_us is not None:
        return rally.start_us, rally.end_us
    assert found is not None
    return found.start_us, found.end_us


def tracked_match(opened: OpenMatch) -> TrackedMatch:
    """Return what was found in a match, on its time line as it is now, the players named where that can
    be done.

    By the clothes and the name the coach gave, else by the serves recorded.
    See `measure.players.track_identity_and_movement.named`.
    """
    from goodlength.measure.players.clothing_colours import ALIKE, colours_seen
    from goodlength.measure.players.match_tracking_job import clothing_from, track_from, words_of
    from goodlength.measure.players.track_identity_and_movement import named, served_against

    stored = JsonFile(track_files(opened.library.folder, opened.id)[0]).shown()
    timeline = opened.timeline
    spans = rally_spans(opened)
    now = {key: (rally, found) for key, rally, found in spans}
    # A rally followed when it was only heard keeps its paths once it is recorded.
    now.update({f"h:{found.id}": (rally, found) for _, rally, found in spans if rally and found})
    if timeline is None or stored.get("format") != 1:
        return TrackedMatch()
    corrections = JsonFile(track_files(opened.library.folder, opened.id)[1]).shown()
    first_is = str(corrections.get("first_is", ""))
    rows, tracks, serves = [], [], []
    for form in stored["rallies"]:
        track = _placed(track_from(form), str(form["footage"]), timeline)
        if track is None or form["key"] not in now:
            continue
        rally, found = now[form["key"]]
        start, end = span_times(rally, found)
        hits = tuple(us for us in (found.hits_us if found else ()) if start - 50_000 <= us <= end + 50_000)
        rows.append((str(form["key"]), rally, start, end, hits))
        tracks.append(track)
        serves.append((start / MICROSECONDS, *_serve(rally, found)))
    ready = named(tracks, serves, Side(first_is) if first_is else None)
    clothing = clothing_from(stored.get("clothing"))
    identified = sum(rally_track.identified and not rally_track.hidden for rally_track in ready)
    words = [words_of(ready, clothing)]
    if ready:
        words.append(f"Which player is which is known in {identified} of them.")
    against, known = served_against(ready, serves)
    if first_is:
        words += _contradiction(against, known)
    rallies = tuple(TrackedRally(*row, track) for row, track in zip(rows, ready, strict=True))
    missing = len(spans) > len(rallies)
    identified_by = "" if not identified else "you" if first_is else "the logged serves"
    seen = () if clothing is None or clothing.apart < ALIKE else colours_seen(clothing)
    agree = known - 2 * against
    return TrackedMatch(rallies, tuple(words), missing, first_is, identified_by, seen, agree)


def _contradiction(against: int, known: int) -> list[str]:
    """Return words where most serves say the other way round than the coach did."""
    if against < 2 or 2 * against <= known:
        return []
    return [
        f"This contradicts the serves: in {against} of {known} rallies the player you named as serving stood "
        "where the other did. One of the two is wrong; check the colours again, or choose “decide from "
        "the logged serves”."
    ]


def _serve(rally: Rally | None, found: ListedRally | None) -> tuple[Side | None, Box | None]:
    """Return who served from which box: as recorded, else as the coach saw it in the rallies heard."""
    if rally is not None and rally.server_known:
        return rally.server, rally.box if rally.box_known else None
    if found is not None and found.seen:
        side, box = found.seen.split("-")
        return Side(side), Box(box)
    return None, None


def _placed(track: RallyTrack, footage_id: str, timeline: Timeline) -> RallyTrack | None:
    """Return the track with its times moved to match time; None where its film is gone from the list."""
    from dataclasses import replace

    times = track.paths.times_s
    if not len(times):
        return track
    try:
        first = round(float(times[0]) * MICROSECONDS)
        shift = (timeline.match_time(footage_id, first) - first) / MICROSECONDS
    except NotFound:
        return None
    return replace(track, paths=replace(track.paths, times_s=times + shift))


def name_players(opened: OpenMatch, first_is: str) -> TrackedMatch:
    """Keep who the first of the two followed players is, "a" or "b"; "" leaves it to the serves recorded.

    Raises
    ------
    InputError
        For another value.
    """
    if first_is not in ("", "a", "b"):
        raise InputError(f"The first of the two players is 'a' or 'b', or left open; got {first_is!r}.")
    with exclusive(track_files(opened.library.folder, opened.id)[1].parent):
        corrections = JsonFile(track_files(opened.library.folder, opened.id)[1])
        corrections.write({**corrections.read(), "first_is": first_is})
    return tracked_match(opened)


@dataclass(frozen=True)
class HitPlace:
    """Where both players stood at one hit: who hit, places in metres and their error; None if unknown."""

    key: str
    at_us: int
    by: str
    striker_m: tuple[float, float] | None
    other_m: tuple[float, float] | None
    error_m: float


def hit_places(tracked: TrackedMatch) -> tuple[HitPlace, ...]:
    """Return where striker and opponent stood at each hit, in rallies of the record whose players are
    told apart.

    Hits are those recorded with a time, else those heard: then strikers alternate from the server on, and a
    rally is left out where the record says another number of shots than was heard.
    """
    from goodlength.measure.players.track_identity_and_movement import at

    found = []
    for tracked_rally in tracked.identified:
        for us, by in _hits(tracked_rally):
            pair = at(tracked_rally.track.paths, us / MICROSECONDS)
            striker, other = pair if by is Side.A else pair[::-1]
            error = max((feet.error_m for feet in pair if feet is not None), default=math.nan)
            places = [None if feet is None else (feet.x_m, feet.y_m) for feet in (striker, other)]
            found.append(HitPlace(tracked_rally.key, us, by.value, places[0], places[1], error))
    return tuple(found)


def _hits(tracked_rally: TrackedRally) -> list[tuple[int, Side]]:
    """Moments of a rally's hits and who hit; none where that is not known."""
    rally = tracked_rally.rally
    if rally is None:
        return []
    timed = [(shot.at_us, shot.by) for shot in rally.shots if shot.at_us is not None]
    if timed:
        return timed
    known = len(rally.shots) or rally.shots_in_all
    if not rally.server_known or (known and known != len(tracked_rally.hits_us)):
        return []
    return [
        (us, rally.server if n % 2 == 0 else rally.server.other) for n, us in enumerate(tracked_rally.hits_us)
    ]


def positions_at_opponent_strikes(tracked: TrackedMatch) -> Mapping[str, CourtPositions]:
    """Return how far from the T each player stood when the other hit, and how often in front of it."""
    import numpy as np

    from goodlength.court.dimensions import LENGTH_M, WIDTH_M
    from goodlength.findings.analyses.player_distance_from_t_quartiles import court_positions

    hits = hit_places(tracked)
    found = {}
    for side in ("a", "b"):
        places = [hit.other_m for hit in hits if hit.by != side and hit.other_m is not None]
        # A foot measured a little outside the floor stands at the wall.
        inside = np.clip(np.array(places).reshape(-1, 2), 0.0, (WIDTH_M, LENGTH_M))
        found[side] = court_positions(inside)
    return found


def work_done(tracked: TrackedMatch) -> Mapping[str, tuple[MovementWork, ...]]:
    """Return the distance covered and the time away from the T of both players, in whole rallies where
    they are told apart.
    """
    from goodlength.measure.players.track_identity_and_movement import movement_work

    done: dict[str, list[MovementWork]] = {"a": [], "b": []}
    for tracked_rally in tracked.identified:
        if tracked_rally.track.partial:
            continue  # the way through a part of a rally is no way through a rally
        for p, side in enumerate(("a", "b")):
            work = movement_work(
                tracked_rally.track.paths,
                p,
                tracked_rally.start_us / MICROSECONDS,
                tracked_rally.end_us / MICROSECONDS,
            )
            if work is not None:
                done[side].append(work)
    return {side: tuple(values) for side, values in done.items()}


def feet_at_serves(opened: OpenMatch) -> dict[str, FeetSeen]:
    """For the draft: where A and B stood at the first strike of each rally heard, and the chance of a swap.

    Keys are those of the rallies heard; only rallies shown and told apart.
    """
    if not track_files(opened.library.folder, opened.id)[0].is_file():
        return {}
    from goodlength.measure.players.track_identity_and_movement import at

    found: dict[str, FeetSeen] = {}
    for tracked_rally in tracked_match(opened).identified:
        first = tracked_rally.hits_us[0] if tracked_rally.hits_us else tracked_rally.start_us
        a, b = at(tracked_rally.track.paths, first / MICROSECONDS)
        if tracked_rally.key.startswith("h:") and (a is not None or b is not None):
            found[tracked_rally.key[2:]] = (a, b, 1.0 / (1.0 + math.exp(min(tracked_rally.track.sure, 20.0))))
    return found
