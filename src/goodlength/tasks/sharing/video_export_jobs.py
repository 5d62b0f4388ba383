"""Jobs that export clips, reels, side-by-side videos, stills, and the handout with its clips.

Everybody who can be seen must have agreed to clips; without that nothing is written, unless every head is
covered.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from goodlength.errors import ConsentMissing, InputError, NotFound
from goodlength.files import library_layout
from goodlength.media_time import MediaPosition
from goodlength.record.entry_ids_and_timestamps import new_id
from goodlength.record.model import Clip, Rally
from goodlength.record.rally_sentences import sheet_words
from goodlength.tasks.footage.strike_joint_angles import marks_at_strike
from goodlength.tasks.people.player_records_and_consent import require_consent
from goodlength.tasks.playback.coach_drawings_on_frames import drawings_left_out
from goodlength.tasks.sharing.coach_drawing_selection_by_clip_span import lines_in_span, turned_over
from goodlength.tasks.sharing.exports_withheld_without_consent import faces_refusal, shows_faces
from goodlength.tasks.sharing.serve_pair_alignment_and_mirroring import opened_side_by_side
from goodlength.tasks.sharing.video_session_playlist import review_list

if TYPE_CHECKING:
    from goodlength.footage.edit.clip_concatenation import ReelPiece
    from goodlength.footage.edit.side_by_side_video import StrikeClip
    from goodlength.jobs.job_queue import JobFunction, Jobs, JobState
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

KINDS = ("clip", "reel", "pair", "stills", "pack")
BEFORE_US, AFTER_US = 1_000_000, 1_500_000  # shown before the serve and after the last hit; ASSUMED
MOST_CLIPS = 5  # a player remembers few; common practice, no source
ENDINGS = {"clip": "mp4", "reel": "mp4", "pair": "mp4", "stills": "png", "pack": "zip"}


@dataclass(frozen=True)
class ExportedFile:
    """Something made for showing: its job or file, what it is, and its words."""

    id: str
    kind: str
    state: str
    words: str
    path: str
    refusal: str = ""  # why it may not be given out now


class Starter(Protocol):
    """What can begin a job: the jobs of a library, or `InlineStarter`."""

    def start(self, kind: str, function: JobFunction, args: Mapping[str, object]) -> str:
        """Begin it, and give its name."""
        ...


class InlineStarter:
    """Makes what is begun here and now, into a file named by the caller.

    Parameters
    ----------
    out : Path
        Written whole or not at all.
    progress : callable, optional
        Told the share done with a word.
    """

    def __init__(self, out: Path, progress: Callable[[float, str], None] | None = None) -> None:
        self.out = out.absolute()
        self.result: dict[str, Any] = {}
        self._progress = progress or _unheard

    def start(self, kind: str, function: JobFunction, args: Mapping[str, object]) -> str:
        """Run it to its end.

        Raises
        ------
        InputError
            The file's ending is not that of what is made.
        """
        if self.out.suffix.lower() != f".{ENDINGS[kind]}":
            raise InputError(f"The file to write should end in .{ENDINGS[kind]}; got {self.out.name!r}.")
        given = {**args, "dst": str(self.out)}
        self.result = dict(function(**given, progress=self._progress, cancel=lambda: False))
        return kind


def chosen_rallies(opened: OpenMatch, numbers: Sequence[int], finding: str | None = None) -> list[str]:
    """Return rallies by the numbers of `match show`, those behind a finding, or those kept; by key.

    Raises
    ------
    InputError, NotFound
        No such number or finding, or nothing was chosen and none was kept.
    """
    rallies = opened.match.rallies
    if numbers:
        for n in numbers:
            if not 1 <= n <= len(rallies):
                raise InputError(
                    f"There is no rally {n}: `match show` numbers them 1 to {len(rallies)}.",
                    page="That rally is no longer in this match. Reload the page and choose another.",
                )
        return [rallies[n - 1].key for n in numbers]
    if finding:
        return [text for text in _behind(opened, finding) if text in {r.key for r in rallies}]
    chosen = [rally.key for rally in rallies if rally.keep]
    if not chosen:
        raise InputError(
            "Name rallies by their numbers in `match show`, or keep some with K on Record.",
            page="No rally is ticked and none is flagged. Tick rallies here, or flag some with K on "
            "the Record page.",
        )
    return chosen


def _unheard(share: float, words: str) -> None:
    """Progress that nobody asked for."""


def _behind(opened: OpenMatch, key: str) -> tuple[str, ...]:
    found = {finding.key: finding.rallies for finding in opened.findings().all}
    if key not in found:
        raise NotFound(
            f"There is no finding {key!r} in this match. `findings show --json` lists their keys.",
            page="That finding is no longer in this match because the data changed. Open Findings and "
            "choose again.",
        )
    return tuple(found[key])


def pieces_of(
    opened: OpenMatch,
    from_us: int,
    to_us: int,
    words: str = "",
    *,
    drawings: bool = False,
    covered: bool = False,
) -> list[ReelPiece]:
    """Return the spans of files that a span of match time lies in; over two files they are two pieces.

    With `drawings` they carry what the coach drew on their frames; with `covered` without its words.

    Raises
    ------
    InputError
        There is no footage, or none at that time.
    """
    from goodlength.footage.edit.clip_concatenation import ReelPiece

    timeline = opened.timeline
    if timeline is None:
        raise InputError("This match has no video to cut from. Add one on the match's Footage page first.")
    if not 0 <= from_us < to_us:
        raise InputError("A clip must end after it starts. Set the end of the rally first.")
    found, at = [], from_us
    while at < to_us:
        place = timeline.locate(at)
        if not isinstance(place, MediaPosition):
            raise InputError(
                "There is no video at that time: it falls in a gap between files, or after the last one."
            )
        part = next(candidate for candidate in timeline.parts if candidate.footage_id == place.footage_id)
        until = min(to_us, part.ends_us)
        path = str(opened.file(place.footage_id).where)
        ends = place.media_us + until - at
        lines = (
            lines_in_span(opened, place.footage_id, place.media_us, ends, covered=covered) if drawings else ()
        )
        text = words if at == from_us else ""
        found.append(ReelPiece(path, place.media_us, ends, text, lines=lines))
        at = until
    return found


def start_clip(
    opened: OpenMatch, rally: str, jobs: Starter, *, covered: bool = False, drawings: bool = False
) -> str:
    """Begin cutting one rally out, exact to the frame; gives the job.

    Parameters
    ----------
    covered : bool
        Make every head unknowable; then nobody need have agreed. It takes much longer. Words drawn on frames
        are left out then: they may name who is hidden.
    drawings : bool
        Stand still at each frame the coach drew on, and show it.

    Raises
    ------
    ConsentMissing, NotFound, InputError
        A player has not agreed, no such rally, or it has no time.
    """
    from goodlength.footage.edit.clip_concatenation import reel_job

    rally_item = _chosen(opened, [rally], 1, covered)[0]
    assert rally_item.start_us is not None and rally_item.end_us is not None
    words = _words(opened, rally_item)
    begin, end = rally_item.start_us, rally_item.end_us
    pieces = pieces_of(opened, begin, end, words, drawings=drawings, covered=covered)
    args = {"pieces": _plain(pieces, covered), **_font(drawings)}
    return _start(opened, jobs, "clip", reel_job, args, rally)


def start_reel(
    opened: OpenMatch,
    rallies: Sequence[str],
    jobs: Starter,
    *,
    every: bool = False,
    covered: bool = False,
    slower: int = 1,
    most: int = MOST_CLIPS,
    drawings: bool = False,
) -> str:
    """Begin a reel of rallies, a little before and after each; at most `most` unless `every` is wished.

    `covered` and `drawings` as for `start_clip`; `slower` 1, 2, 4 or 8 times, and then without sound.

    Raises
    ------
    ConsentMissing, NotFound, InputError
        As `start_clip`.
    """
    from goodlength.footage.edit.clip_concatenation import reel_job

    chosen = _chosen(opened, rallies, 10_000 if every else most, covered)
    pieces = []
    for rally in chosen:
        begin, end = _around(opened, rally, every)
        words = _words(opened, rally)
        pieces += pieces_of(opened, begin, end, words, drawings=drawings, covered=covered)
    args = {"pieces": _plain(pieces, covered, slower), **_font(drawings)}
    return _start(opened, jobs, "reel", reel_job, args)


def start_pair(
    opened: OpenMatch,
    rallies: Sequence[str],
    jobs: Starter,
    *,
    nudge_us: tuple[int, int] = (0, 0),
    mirrored: bool = False,
    slower: int = 1,
    covered: bool = False,
    drawings: bool | None = None,
) -> str:
    """Begin two serves beside each other, aligned at contact, with what the coach drew on them.

    Parameters
    ----------
    rallies : sequence of str
        The first two are taken.
    nudge_us : (int, int)
        Added to each contact, microseconds, besides what is kept of this pair.
    mirrored : bool
        Turn the second one over, so that serves from left and right box can be compared; so it is too
        where that is kept of this pair.
    slower : int
        1, 2, 4 or 8 times.
    covered : bool
        As for `start_clip`.
    drawings : bool, optional
        As for `start_clip`. Left out, they are shown where heads are not covered and they can be read.
    """
    from goodlength.footage.edit.side_by_side_video import pair_job

    unreadable = "" if drawings is not None or covered else drawings_left_out(opened.library, opened.id)
    with_drawings = not covered and not unreadable if drawings is None else drawings

    chosen = _chosen(opened, rallies, 2, covered)
    if len(chosen) < 2:
        raise InputError("Two rallies with a time are needed to show them side by side. Choose two.")
    settings = opened_side_by_side(opened, [rally.key for rally in chosen])
    turned = mirrored or settings.mirrored
    views = []
    for n, rally in enumerate(chosen):
        strike, footage_id = _strike(opened, rally, nudge_us[n] + settings.nudge_us[n])
        begin, end = strike.at_us - BEFORE_US, strike.at_us + AFTER_US
        lines = lines_in_span(opened, footage_id, begin, end, covered=covered) if with_drawings else ()
        view = replace(strike, lines=turned_over(lines) if n and turned else lines, heads_covered=covered)
        views.append(asdict(replace(view, mirrored=bool(n and turned))))
    note = f"Drawings are left out. {unreadable}" if unreadable else ""
    args = {"left": views[0], "right": views[1], "slower": slower, "note": note, **_font(with_drawings)}
    return _start(opened, jobs, "pair", pair_job, args)


def start_stills(
    opened: OpenMatch,
    rallies: Sequence[str],
    jobs: Starter,
    font: str | None,
    *,
    covered: bool = False,
) -> str:
    """Begin a sheet of stills: before contact, contact and after, of up to four serves.

    Where joints are kept, the knees are drawn at contact, and knee and trunk said with their errors.
    """
    from goodlength.footage.edit.strike_contact_sheet import sheet_job

    chosen = _chosen(opened, rallies, 4, covered)
    rows = []
    for rally in chosen:
        strike, _footage = _strike(opened, rally, 0)
        lines, angles = marks_at_strike(opened, rally)
        words = f"{_words(opened, rally)}. {angles}" if angles else _words(opened, rally)
        row = {"src": strike.src, "at_us": strike.at_us, "words": words, "heads_covered": covered}
        rows.append({**row, "lines": [asdict(line) for line in lines]})
    return _start(opened, jobs, "stills", sheet_job, {"rows": rows, "font": font})


def start_pack(
    opened: OpenMatch,
    rallies: Sequence[str],
    page: str | Path,
    title: str,
    jobs: Starter,
    *,
    covered: bool = False,
    drawings: bool = False,
) -> str:
    """Begin the handout with its clips as one zip; `page` is the handout made as HTML.

    Where clips were chosen for the player, and none are named here, it is those, each with its cue.

    Raises
    ------
    NotFound
        The handout was not made yet.
    """
    from goodlength.footage.edit.handout_zip_archive import pack_job

    if not Path(page).is_file():
        raise NotFound("There is no handout yet. Create it on the Handout page first.")
    cues = {item.rally: item.cue for item in review_list(opened).items}
    clips = []
    for rally in _chosen(opened, rallies or list(cues), MOST_CLIPS, covered):
        begin, end = _around(opened, rally, False)
        texts = {"words": _words(opened, rally), "cue": cues.get(rally.key, "")}
        pieces = pieces_of(opened, begin, end, drawings=drawings, covered=covered)
        clips.append({"pieces": _plain(pieces, covered), **texts})
    args = {"clips": clips, "page": str(page), "title": title, **_font(drawings)}
    return _start(opened, jobs, "pack", pack_job, args)


def exports_of(opened: OpenMatch, jobs: Jobs) -> tuple[ExportedFile, ...]:
    """Return what was made of a match, or is being made, the newest first; finished files are taken in.

    Clips of a match are known by their row, so that they go when a player is erased.
    """
    hold = faces_refusal(opened)
    found = []
    for job in _export_jobs(opened.library, opened.id, jobs):
        result = job.result if isinstance(job.result, dict) else {}
        words = job.error or str(result.get("words") or job.words)
        refusal = hold if job.state == "done" and shows_faces(job.args or {}) else ""
        found.append(ExportedFile(job.id, job.kind, job.state, words, _target(job), refusal))
    return tuple(found)


def count_exports(library: Library, match_id: str, jobs: Jobs) -> int:
    """Return how many things were made of a match, or are being made."""
    return len(_export_jobs(library, match_id, jobs))


def _export_jobs(library: Library, match_id: str, jobs: Jobs) -> list[JobState]:
    """Return the jobs behind what was made of a match; finished files are taken in."""
    known = {clip.path for clip in library.clips(match_id)}
    listed: set[str] = set()
    found = []
    for job in jobs.states():
        if job.kind not in KINDS or (job.args or {}).get("match") != match_id:
            continue
        path = _target(job)
        if job.state == "done":
            if path in listed or not Path(path).is_file():  # made again: the newest stands for it
                continue
            listed.add(path)
            if path not in known:
                rally = Path(path).stem.removeprefix(f"{match_id}-clip-") if job.kind == "clip" else None
                library.save_clip(Clip(new_id(), match_id, path, rally, 0, 1, datetime.now(UTC)))
                known.add(path)
        found.append(job)
    return found


def _target(job: JobState) -> str:
    return str((job.args or {}).get("dst", ""))


def export_file(opened: OpenMatch, jobs: Jobs, job_id: str) -> Path:
    """Return the file a job made.

    Raises
    ------
    NotFound
        There is none of that match.
    ConsentMissing
        It shows somebody who does not agree to clips today.
    """
    job = jobs.state(job_id)
    path = Path(str((job.args or {}).get("dst", "")))
    if job.kind not in KINDS or (job.args or {}).get("match") != opened.id or not path.is_file():
        raise NotFound("That file no longer exists. Make it again on the page Clips.")
    if (hold := faces_refusal(opened)) and shows_faces(job.args or {}):
        raise ConsentMissing(hold)
    return path


def _plain(pieces: Sequence[ReelPiece], covered: bool, slower: int = 1) -> list[dict[str, Any]]:
    return [{**asdict(piece), "heads_covered": covered, "slower": slower} for piece in pieces]


def _chosen(opened: OpenMatch, keys: Sequence[str], most: int, covered: bool = False) -> list[Rally]:
    """Return rallies by key that have a time, in the order named; everybody seen must have agreed, or be
    covered.
    """
    match = opened.match
    if not covered:
        require_consent(opened.players, "clips", "What is to be shown")
    by_key = {rally.key: rally for rally in match.rallies}
    for key in keys:
        if key not in by_key:
            raise NotFound(
                f"There is no rally {key!r} in this match.",
                page="That rally is no longer in this match. Reload the page and choose another.",
            )
    wanted = [by_key[key] for key in dict.fromkeys(keys)]
    timed = [rally for rally in wanted if rally.start_us is not None and rally.end_us is not None]
    if not timed:
        raise InputError(
            "None of these rallies has a start and end time yet. Keys , and . on the Record page set them."
        )
    return timed[:most]


def _around(opened: OpenMatch, rally: Rally, bare: bool) -> tuple[int, int]:
    """Return a rally with a little before and after it, inside the footage."""
    assert rally.start_us is not None and rally.end_us is not None
    if bare:
        return rally.start_us, rally.end_us
    timeline = opened.timeline
    end = rally.end_us + AFTER_US
    if timeline is not None and timeline.parts:
        end = min(end, max(part.ends_us for part in timeline.parts))
    begin = max(0, rally.start_us - BEFORE_US)
    if timeline is not None and not isinstance(timeline.locate(begin), MediaPosition):
        begin = rally.start_us
    return begin, max(end, rally.end_us) if _filmed(opened, end - 1) else rally.end_us


def _filmed(opened: OpenMatch, us: int) -> bool:
    return opened.timeline is not None and isinstance(opened.timeline.locate(us), MediaPosition)


def _strike(opened: OpenMatch, rally: Rally, nudge_us: int) -> tuple[StrikeClip, str]:
    """Return the serve of a rally, contact where its start says it, and its file."""
    from goodlength.footage.edit.side_by_side_video import StrikeClip

    assert rally.start_us is not None
    place = None if opened.timeline is None else opened.timeline.locate(max(0, rally.start_us + nudge_us))
    if not isinstance(place, MediaPosition):
        pieces_of(opened, max(0, rally.start_us + nudge_us), rally.start_us + nudge_us + 1)  # says why not
    assert isinstance(place, MediaPosition)
    return StrikeClip(str(opened.file(place.footage_id).where), place.media_us), place.footage_id


def _font(drawings: bool) -> dict[str, str]:
    from goodlength.show.draw.font_metrics import font_file

    return {"font": str(font_file())} if drawings else {}


def _words(opened: OpenMatch, rally: Rally) -> str:
    summary = sheet_words(rally, opened.kind_words)
    return f"Game {rally.game}, {rally.before[0]}–{rally.before[1]}" + (f": {summary}" if summary else "")


def _start(
    opened: OpenMatch,
    jobs: Starter,
    kind: str,
    job: JobFunction,
    args: dict[str, Any],
    name: str = "",
) -> str:
    target = library_layout.export_file(
        opened.library.folder, opened.id, kind, name or new_id(), ENDINGS[kind]
    )
    target.parent.mkdir(parents=True, exist_ok=True)
    return jobs.start(kind, job, {**args, "dst": str(target), "match": opened.id})
