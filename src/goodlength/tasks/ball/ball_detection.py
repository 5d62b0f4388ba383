"""Detect the ball in the rallies of a match: candidates in every frame, and how well it can be seen.

A short sample comes first: it tells whether a search of all rallies is worth the wait.
What was found lies in the library folder (`balls/MATCH.npz`). It is no part of the record: places in the
picture from which paths can be fitted later.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from goodlength.ball.model.constants_with_sources import BALL_RADIUS_M
from goodlength.errors import InputError
from goodlength.files.library_layout import ball_file
from goodlength.jobs.job_queue import ACTIVE
from goodlength.jobs.progress_callback import Progress
from goodlength.media_time import MICROSECONDS, Timeline
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.player_tracking import rally_spans

if TYPE_CHECKING:
    from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
    from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan
    from goodlength.footage.ball_detection.ball_search_in_match import FilmToSearch
    from goodlength.jobs.job_queue import Jobs
    from goodlength.tasks.match.lazy_match import OpenMatch

KIND, SAMPLE_KIND = "ball", "ball-sample"
BEFORE_US, AFTER_US = 500_000, 1_000_000  # searched before the first strike and after the last
QUICK_US = 20_000_000  # of play in each video, for a first look
MIDDLE_M = (3.2, 4.875, 1.0)


@dataclass(frozen=True, eq=False)
class BallRally:
    """One rally searched: its key, number in the match where it is recorded, file and candidates."""

    key: str
    rally: int | None
    footage_id: str
    found: BallCandidates


@dataclass(frozen=True, eq=False)
class MatchBalls:
    """Everything found in a match.

    `words` by file say how well the ball can be seen, `lost` in what share of frames it is lost. `missing`
    counts rallies not searched yet.
    """

    rallies: tuple[BallRally, ...] = ()
    words: tuple[tuple[str, tuple[str, ...]], ...] = ()
    lost: tuple[tuple[str, float | None], ...] = ()
    method: str = ""
    missing: int = 0


def detect_ball(
    opened: OpenMatch,
    progress: Progress | None = None,
    *,
    method: str = "network",
    quick: bool = False,
    again: bool = False,
) -> MatchBalls:
    """Search the ball here and now; rallies stored already are not searched again.

    Parameters
    ----------
    quick : bool
        Search only the first rallies of each video, to see how well the ball can be seen.
    again : bool
        Search all rallies again.

    Raises
    ------
    InputError
        No video, or no rally with a time: each with the next step.
    FootageError
        As reading a video.
    """
    from goodlength.footage.ball_detection.ball_search_in_match import search_match

    films, spans = _to_search(opened, quick)
    to = ball_file(opened.library.folder, opened.id)
    if again:
        to.unlink(missing_ok=True)
    search_match(opened.id, films, spans, to, method=method, sample=quick, progress=progress)
    return detected_balls(opened)


def start_ball_search(opened: OpenMatch, jobs: Jobs, *, sample: bool = False) -> str:
    """Begin searching the ball in all rallies, or in a sample of each video; gives the job's id.

    Rallies that are stored already are not searched again. A job under way is given again.

    Raises
    ------
    InputError
        As `detect_ball`.
    """
    from goodlength.footage.ball_detection.ball_search_in_match import search_match_job

    kind = SAMPLE_KIND if sample else KIND
    under_way = ball_job_of(jobs, opened.id, kind)
    if under_way is not None:
        return under_way
    films, spans = _to_search(opened, sample)
    args: dict[str, Any] = {
        "match": opened.id,
        "films": [asdict(film) for film in films],
        "spans": [asdict(span) for span in spans],
        "to": str(ball_file(opened.library.folder, opened.id)),
        "sample": sample,
    }
    return jobs.start(kind, search_match_job, args)


def ball_job_of(jobs: Jobs, match_id: str, kind: str = KIND) -> str | None:
    """Return the job that searches the ball of this match now."""
    for job in jobs.states():
        if job.kind == kind and (job.args or {}).get("match") == match_id and job.state in ACTIVE:
            return job.id
    return None


def _to_search(opened: OpenMatch, sample: bool) -> tuple[list[FilmToSearch], list[BallSpan]]:
    """Return videos and spans to search.

    Raises
    ------
    InputError
        There is none, with the next step.
    """
    from goodlength.footage.ball_detection.ball_search_in_match import FilmToSearch

    if opened.timeline is None:
        raise InputError("This match has no video. Add one on the match's Footage page first.")
    spans = _spans(opened, opened.timeline, sample)
    if not spans:
        raise InputError(
            "No rally has a time yet. Detect the rallies on the Footage page, or log the match, first."
        )
    films = [
        FilmToSearch(
            part.footage_id, str(opened.file(part.footage_id).where), _ball_px(opened, part.footage_id)
        )
        for part in opened.timeline.parts
    ]
    return films, spans


@dataclass(frozen=True)
class BallSearchState:
    """How far the search of a match is, read without its candidates.

    `sampled`: every video with rallies was looked at; `whole`: all rallies that were there then were
    searched. `missing` counts rallies not searched yet, `missing_s` is how much video they are, `sample_s`
    how much of it a sample would still read. `words` say how well the ball can be seen, by file; `lost` in
    what share of frames it is lost at least, None where that is not known.
    """

    rallies: int = 0
    missing: int = 0
    missing_s: float = 0.0
    sample_s: float = 0.0
    searched_s: float = 0.0
    sampled: bool = False
    whole: bool = False
    words: tuple[tuple[str, tuple[str, ...]], ...] = ()
    lost: float | None = None

    @property
    def line(self) -> str:
        """How well the ball can be seen, in one line; of several videos, that seen best."""
        return " ".join(line for _, lines in self.words[:1] for line in lines)


def ball_search_state(opened: OpenMatch) -> BallSearchState:
    """Return how far the search of a match is, quickly enough for a page that asks every second."""
    from goodlength.footage.ball_detection.ball_candidate_storage import ball_summary, span_covering

    if opened.timeline is None:
        return BallSearchState()
    stored = ball_summary(ball_file(opened.library.folder, opened.id))
    spans = _spans(opened, opened.timeline, quick=False)
    known = dict.fromkeys(stored.spans)
    missing = [span for span in spans if span_covering(span, known) is None]
    unseen = {span.footage for span in spans} - set(stored.words)
    sample = [span for span in _spans(opened, opened.timeline, quick=True) if span.footage in unseen]
    lost = {key: share for key, share in stored.lost.items() if share is not None}
    best = sorted(stored.words.items(), key=lambda item: lost.get(item[0], 1.0))
    return BallSearchState(
        len(spans),
        len(missing),
        _length_s(missing),
        _length_s(sample),
        _length_s(stored.spans),
        bool(spans) and not unseen,
        stored.whole,
        tuple(best),
        min(lost.values(), default=None),
    )


def _length_s(spans: Iterable[BallSpan]) -> float:
    return sum(span.until_us - span.from_us for span in spans) / MICROSECONDS


def _spans(opened: OpenMatch, timeline: Timeline, quick: bool) -> list[BallSpan]:
    """Return what to search of each rally, in media time of the file that holds most of it."""
    from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan

    spans: list[BallSpan] = []
    play_us: dict[str, int] = {}
    for key, start_us, end_us in _rallies(opened):
        pieces = timeline.pieces(max(0, start_us - BEFORE_US), end_us + AFTER_US)
        longest = max(pieces, key=lambda piece: piece.to_us - piece.from_us, default=None)
        if longest is None or (quick and play_us.get(longest.footage_id, 0) >= QUICK_US):
            continue
        play_us[longest.footage_id] = play_us.get(longest.footage_id, 0) + longest.to_us - longest.from_us
        spans.append(BallSpan(key, longest.footage_id, longest.from_us, longest.to_us))
    return spans


def _rallies(opened: OpenMatch) -> list[tuple[str, int, int]]:
    """Return key, start and end in match time of every rally with a time."""
    out = []
    for key, rally, found in rally_spans(opened):
        if rally is not None and rally.start_us is not None and rally.end_us is not None:
            out.append((key, rally.start_us, rally.end_us))
        elif found is not None:
            out.append((key, found.start_us, found.end_us))
    return out


def _ball_px(opened: OpenMatch, footage_id: str) -> float | None:
    """Return the ball's width at the middle of the court, px; None where the camera is not calibrated."""
    first = opened.library.footage_file(footage_id).first_us or 0
    saved = camera_calibration.camera_at(opened.library, footage_id, first)
    if saved is None:
        return None
    lens = saved.camera.lens
    away = float(np.linalg.norm(np.array(MIDDLE_M) - lens.place_m))
    return lens.focal_px * 2 * BALL_RADIUS_M.value / max(away, 0.5)


def rallies_to_search(opened: OpenMatch) -> list[BallSpan]:
    """Return the span to search of every rally as it is now."""
    return [] if opened.timeline is None else _spans(opened, opened.timeline, quick=False)


def ball_spans(opened: OpenMatch) -> list[tuple[BallSpan, BallSpan]]:
    """Return the rallies searched: each as it is now, and the stored span that holds its candidates."""
    from goodlength.footage.ball_detection.ball_candidate_storage import ball_summary, span_covering

    if opened.timeline is None:
        return []
    stored = dict.fromkeys(ball_summary(ball_file(opened.library.folder, opened.id)).spans)
    pairs = [(span, span_covering(span, stored)) for span in _spans(opened, opened.timeline, quick=False)]
    return [(span, old) for span, old in pairs if old is not None]


def detected_balls(opened: OpenMatch) -> MatchBalls:
    """Return what is stored for a match, by its rallies as they are now; empty where nothing is.

    A rally searched when it was only heard keeps its candidates once it is recorded.
    """
    from goodlength.footage.ball_detection.ball_candidate_storage import read_balls, span_covering

    stored = read_balls(ball_file(opened.library.folder, opened.id))
    spans = _spans(opened, opened.timeline, quick=False) if opened.timeline is not None else []
    if stored is None:
        return MatchBalls(missing=len(spans))
    numbers = {f"r:{rally.key}": n for n, rally in enumerate(opened.match.rallies, 1)}
    found = [(span, span_covering(span, stored.spans)) for span in spans]
    searched = tuple(
        BallRally(span.key, numbers.get(span.key), span.footage, stored.spans[old])
        for span, old in found
        if old is not None
    )
    return MatchBalls(
        searched,
        tuple((key, tuple(lines)) for key, lines in stored.words.items()),
        tuple(stored.lost.items()),
        stored.model.split("-", maxsplit=1)[0],
        len(found) - len(searched),
    )
