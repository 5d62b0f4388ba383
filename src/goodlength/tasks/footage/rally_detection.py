"""Detect the rallies of a match in a job, and store the coach's corrections.

What the machine found lies in the library folder (`heard/MATCH.json`) and is never changed; what the coach
said of it lies beside it (`heard/MATCH.said.json`). Neither is part of the record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import FootageGone, InputError, NotFound
from goodlength.files.library_layout import motion_file, rally_files, sound_file
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.footage.audio.merge_of_detected_and_confirmed_rallies import (
    detected_rally_id,
    timeline_of_films,
)
from goodlength.jobs.progress_callback import Progress
from goodlength.media_time import Gap, Part, Timeline, clock_words, seconds
from goodlength.record.entry_ids_and_timestamps import new_id
from goodlength.tasks.footage.rally_detection_thresholds_per_court import DetectionThresholds, thresholds_of

if TYPE_CHECKING:
    from goodlength.footage.audio.drop_and_wall_test_detection import Bounces
    from goodlength.footage.audio.rally_detection import RallyDetection
    from goodlength.jobs.job_queue import Jobs
    from goodlength.tasks.match.lazy_match import OpenMatch

KIND, PICTURE_KIND = "rallies", "picture"
STATES = ("", "kept", "out")
SEEN = ("", "a-right", "a-left", "b-right", "b-left")
OUTCOMES = ("", "a", "b", "let")
LESS_SURE_HERE = "less sure on this court, by your review"
STOPS_WITHIN_S = 5.0
LEAST_US = 50_000  # a rally is at least this long
FAR_US = 120_000_000  # a border is moved two minutes at most: further is another rally


@dataclass(frozen=True)
class ListedRally:
    """A rally heard, in match time, as the coach left it.

    `state` is "" (not looked at), "kept" or "out" (no rally); `seen` says who served from which box as the
    coach saw it ("a-right", ...); `impacts` when the ball met what ("racket", "front wall", "floor", ...),
    as heard, and `impact_chances` how sure each name is; `outcome` what the coach said of the outcome in the
    draft ("a", "b", "let").
    """

    id: str
    start_us: int
    end_us: int
    hits_us: tuple[int, ...]
    doubtful: bool
    why: str
    state: str = ""
    seen: str = ""
    outcome: str = ""
    chance: float | None = None
    impacts: tuple[tuple[int, str], ...] = ()
    impact_chances: tuple[float, ...] = ()


@dataclass(frozen=True)
class ListedNote:
    """Something unusual about the recording: its code, where it begins in match time, and words for it."""

    code: str
    start_us: int
    words: str


@dataclass(frozen=True)
class ListedRallies:
    """All rallies heard in a match, by what they were found, and what to know in words.

    `stale` says that there is footage nobody has listened to yet, or none was listened to.
    """

    rallies: tuple[ListedRally, ...] = ()
    by: str = "nothing"
    words: str = ""
    stale: bool = True
    knock_up_us: tuple[int, int] | None = None
    scores: str = ""
    picture_searched: bool = False
    picture: str = ""
    notes: tuple[ListedNote, ...] = ()

    @property
    def played(self) -> tuple[ListedRally, ...]:
        """Those the coach has not thrown out."""
        return tuple(rally for rally in self.rallies if rally.state != "out")


def detect_rallies(
    path: str | Path, progress: Progress | None = None, *, picture: bool = False
) -> RallyDetection:
    """Return the rallies heard in one file, in the file's own media time; nothing is stored.

    Parameters
    ----------
    picture : bool
        Use the moving players together with the sound, which takes minutes an hour.

    Raises
    ------
    FootageGone, NotFootage, Unfinished
        Each with its own words and next step.
    """
    from goodlength.footage.audio.rally_detection import detect_rallies

    return detect_rallies(path, progress, picture=picture)


def detect_bounces(path: str | Path, progress: Progress | None = None) -> Bounces:
    """Return the drops and hits heard in a recording of a drop or wall test, in media time; nothing is
    stored.

    Raises
    ------
    FootageGone, NotFootage, Unfinished
        Each with its own words and next step.
    """
    from goodlength.footage.audio.drop_and_wall_test_detection import detect_bounces

    return detect_bounces(path, progress)


def start_rally_detection(opened: OpenMatch, jobs: Jobs, *, then_picture: bool = True) -> str:
    """Begin listening to all footage of a match in a process of its own; gives the job's id.

    What was heard before of a file that is still the same is taken up. A job under way is given again. The
    picture is joined by a second job right behind it, unless `then_picture` says otherwise.

    Raises
    ------
    InputError
        The match has no footage.
    FootageGone
        A file is not there.
    """
    from goodlength.footage.audio.multi_file_rally_detection import match_rally_detection_job

    args = _job_arguments(opened)
    under_way = rally_detection_job_of(jobs, opened.id)
    if under_way is not None:
        return under_way
    started = jobs.start(KIND, match_rally_detection_job, args)
    if then_picture:
        start_picture(opened, jobs)
    return started


def detect_match_rallies(opened: OpenMatch, progress: Progress | None = None) -> ListedRallies:
    """Detect the rallies of a match from sound and picture here and now, to the end; they are stored.

    Raises
    ------
    InputError, FootageGone
        As `start_rally_detection`.
    """
    from goodlength.footage.audio.multi_file_rally_detection import (
        match_picture_job,
        match_rally_detection_job,
    )

    jobs = (match_rally_detection_job, match_picture_job)
    for n, job in enumerate(jobs):

        def each(share: float, words: str, n: int = n) -> None:
            if progress is not None:
                progress((n + share) / len(jobs), words)

        job(**_job_arguments(opened), progress=each, cancel=lambda: False)  # type: ignore[arg-type]
    return listed_rallies(opened)


def start_picture(opened: OpenMatch, jobs: Jobs) -> str:
    """Begin joining the picture to what was heard, or go on where it was paused; gives the job's id.

    Raises
    ------
    InputError, FootageGone
        As `start_rally_detection`.
    """
    from goodlength.footage.audio.multi_file_rally_detection import match_picture_job

    args = _job_arguments(opened)
    under_way = rally_detection_job_of(jobs, opened.id, PICTURE_KIND)
    return under_way or jobs.start(PICTURE_KIND, match_picture_job, args)


def cancel_picture(opened: OpenMatch, jobs: Jobs) -> None:
    """Stop joining the picture and forget what was measured; the sound's answer stands."""
    under_way = rally_detection_job_of(jobs, opened.id, PICTURE_KIND)
    if under_way is not None:
        jobs.cancel(under_way)
        jobs.wait(under_way, STOPS_WITHIN_S)
    for file in opened.footage:
        motion_file(opened.library.folder, file.id).unlink(missing_ok=True)


def picture_started(opened: OpenMatch) -> bool:
    """Return whether the picture of some file was measured, whole or in part."""
    return any(motion_file(opened.library.folder, file.id).exists() for file in opened.footage)


def _job_arguments(opened: OpenMatch) -> dict[str, object]:
    timeline = opened.timeline
    if timeline is None:
        raise InputError("This match has no video to search. Add one on the match's Footage page first.")
    films = [_placed(opened, part) for part in timeline.parts]
    return {"match": opened.id, "films": films, "to": str(_found_file(opened))}


def _placed(opened: OpenMatch, part: Part) -> dict[str, object]:
    path = opened.file(part.footage_id).where
    if not path.is_file():
        raise FootageGone(
            f"The video {path} cannot be found: it was moved or renamed, or its disk is not connected. "
            "Move it back, or remove it on the Footage page, then detect again."
        )
    folder = opened.library.folder
    return {
        "id": part.footage_id,
        "path": str(path),
        "starts_us": part.starts_us,
        "first_us": part.first_us,
        "end_us": part.end_us,
        "keep": str(sound_file(folder, part.footage_id)),
        "keep_motion": str(motion_file(folder, part.footage_id)),
    }


def rally_detection_job_of(jobs: Jobs, match_id: str, kind: str = KIND) -> str | None:
    """Return the job that listens to this match now, or that looks at its picture."""
    for job in jobs.states():
        mine = job.kind == kind and (job.args or {}).get("match") == match_id
        if mine and job.state in ("queued", "running"):
            return job.id
    return None


def listed_rallies(opened: OpenMatch) -> ListedRallies:
    """Return what was heard in a match, on its time line as it is now, with the coach's corrections."""
    found = JsonFile(_found_file(opened)).shown()
    corrections = JsonFile(_scores_file(opened)).shown()
    timeline = opened.timeline
    scores = str(corrections.get("scores", ""))
    if timeline is None:
        return ListedRallies(stale=False, scores=scores)
    corrected = corrections.get("rallies", {})
    rallies = [*_found_rallies(found, timeline), *_added_rallies(corrections, timeline)]
    rallies = [_corrected(rally, corrected.get(rally.id, {})) for rally in rallies]
    rallies = _on_this_court(rallies, thresholds_of(opened))
    listened = {film["id"] for film in found.get("films", ())}
    return ListedRallies(
        tuple(sorted(rallies, key=lambda rally: (rally.start_us, rally.id))),
        str(found.get("by", "nothing")),
        str(found.get("words", "")),
        not {part.footage_id for part in timeline.parts} <= listened,
        None if found.get("knock_up_us") is None else tuple(found["knock_up_us"]),
        scores,
        bool(found.get("looked_at", False)),
        str(found.get("picture", "")),
        _notes(found),
    )


def _notes(found: Mapping[str, Any]) -> tuple[ListedNote, ...]:
    """Return what is unusual about the recording."""
    return tuple(
        ListedNote(str(note["code"]), int(note["start_us"]), str(note["words"]))
        for note in found.get("notes", ())
    )


def _found_rallies(found: Mapping[str, Any], timeline: Timeline) -> list[ListedRally]:
    """Return what the machine found, moved to where the films lie now; what lay in a film taken away is
    left out.
    """
    then = timeline_of_films(found.get("films", ()))
    rallies = []
    for plain in found.get("rallies", ()):
        place = then.locate(plain["start_us"])
        if isinstance(place, Gap):
            continue
        try:
            shift = timeline.match_time(place.footage_id, place.media_us) - plain["start_us"]
        except NotFound:
            continue
        rallies.append(
            ListedRally(
                detected_rally_id(then, plain["start_us"]) or "",
                plain["start_us"] + shift,
                max(plain["end_us"], plain["start_us"] + LEAST_US) + shift,
                tuple(us + shift for us in plain["hits_us"]),
                bool(plain["doubtful"]),
                str(plain["why"]),
                chance=plain.get("chance"),
                impacts=tuple((us + shift, str(what)) for us, what, _ in plain.get("strikes") or ()),
                impact_chances=tuple(float(chance) for _, _, chance in plain.get("strikes") or ()),
            )
        )
    return rallies


def _on_this_court(rallies: list[ListedRally], thresholds: DetectionThresholds | None) -> list[ListedRally]:
    """Return rallies marked by what reviews have set for their court; what the coach has checked stays."""
    if thresholds is None:
        return rallies
    marked = []
    for rally in rallies:
        mark = "" if rally.chance is None else thresholds.marks(rally.chance)
        if mark == "sure":
            marked.append(replace(rally, doubtful=False, why=""))
        elif not mark:
            marked.append(rally)
        elif mark == "doubtful" or rally.state:
            marked.append(replace(rally, doubtful=True, why=rally.why or LESS_SURE_HERE))
    return marked


def _added_rallies(corrections: Mapping[str, Any], timeline: Timeline) -> list[ListedRally]:
    """Return what the coach marked where nothing was heard."""
    rallies = []
    for key, item in corrections.get("added", {}).items():
        try:
            start = timeline.match_time(item["footage"], item["media_us"])
        except NotFound:
            continue
        rallies.append(ListedRally(key, start, start + item["length_us"], (), False, "", "kept"))
    return rallies


def _corrected(rally: ListedRally, correction: Mapping[str, Any]) -> ListedRally:
    if not correction:
        return rally
    start = rally.start_us + int(correction.get("start_by_us", 0))
    end = rally.end_us + int(correction.get("end_by_us", 0))
    return replace(
        rally,
        start_us=start,
        end_us=max(end, start + LEAST_US),
        state=str(correction.get("state", rally.state)),
        seen=str(correction.get("seen", "")),
        outcome=str(correction.get("told", "")),
    )


def correct_rally(
    opened: OpenMatch,
    rally_id: str,
    *,
    start_us: int | None = None,
    end_us: int | None = None,
    state: str | None = None,
    seen: str | None = None,
    outcome: str | None = None,
) -> ListedRallies:
    """Keep a correction of a rally heard: its borders, whether it is one, who was seen serving; None leaves.

    Raises
    ------
    NotFound
        There is no such rally.
    InputError
        A value that cannot be, or a border too far away.
    """
    for value, known in ((state, STATES), (seen, SEEN), (outcome, OUTCOMES)):
        if value is not None and value not in known:
            raise InputError(f"{value!r} must be one of: {', '.join(text or 'nothing' for text in known)}.")
    with exclusive(_scores_file(opened).parent):
        rally = next(
            (listed_rally for listed_rally in listed_rallies(opened).rallies if listed_rally.id == rally_id),
            None,
        )
        if rally is None:
            raise NotFound("That detected rally no longer exists. Reload the page.")
        corrections = JsonFile(_scores_file(opened)).read()
        mine = corrections.setdefault("rallies", {}).setdefault(rally_id, {})
        start = rally.start_us if start_us is None else start_us
        end = rally.end_us if end_us is None else end_us
        if end - start < LEAST_US:
            raise InputError(
                f"A rally must end after it starts; got {clock_words(seconds(start))} to "
                f"{clock_words(seconds(end))}. Nothing was changed."
            )
        if max(abs(start - rally.start_us), abs(end - rally.end_us)) > FAR_US:
            raise InputError(
                "A start or end can be moved by two minutes at most. Add a missed rally there instead."
            )
        mine["start_by_us"] = mine.get("start_by_us", 0) + start - rally.start_us
        mine["end_by_us"] = mine.get("end_by_us", 0) + end - rally.end_us
        given = {"state": state, "seen": seen, "told": outcome}
        mine.update({name: value for name, value in given.items() if value is not None})
        JsonFile(_scores_file(opened)).write(corrections)
    return listed_rallies(opened)


def add_rally(opened: OpenMatch, start_us: int, end_us: int) -> ListedRallies:
    """Mark a rally where nothing was heard, in match time.

    Raises
    ------
    InputError
        If there is no footage at that time, or the end is not after the start.
    """
    timeline = opened.timeline
    place = None if timeline is None else timeline.locate(start_us)
    if place is None or isinstance(place, Gap):
        raise InputError("There is no video at that time. Nothing was added.")
    if end_us - start_us < LEAST_US:
        raise InputError("A rally must end after it starts. Nothing was added.")
    with exclusive(_scores_file(opened).parent):
        corrections = JsonFile(_scores_file(opened)).read()
        length = end_us - start_us
        corrections.setdefault("added", {})[f"own-{new_id()}"] = {
            "footage": place.footage_id,
            "media_us": place.media_us,
            "length_us": length,
        }
        JsonFile(_scores_file(opened)).write(corrections)
    return listed_rallies(opened)


def save_scores(opened: OpenMatch, scores: str) -> None:
    """Keep the game scores the coach gave for the draft."""
    with exclusive(_scores_file(opened).parent):
        corrections = JsonFile(_scores_file(opened)).read()
        corrections["scores"] = scores
        JsonFile(_scores_file(opened)).write(corrections)


def _found_file(opened: OpenMatch) -> Path:
    return rally_files(opened.library.folder, opened.id)[0]


def _scores_file(opened: OpenMatch) -> Path:
    return rally_files(opened.library.folder, opened.id)[1]
