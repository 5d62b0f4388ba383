"""Search the ball in the rallies of a match: rally by rally, stored after each, resumed where it stopped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np

from goodlength.errors import Cancelled, InputError
from goodlength.files.json_types import JsonObject
from goodlength.footage.ball_detection.ball_candidate_storage import (
    BallSpan,
    StoredBalls,
    read_balls,
    span_covering,
)
from goodlength.footage.ball_detection.ball_loss_rate_and_cause_in_video import (
    BallVisibility,
    VideoQuality,
    ball_visibility,
)
from goodlength.footage.ball_detection.ball_patch_network import MODEL
from goodlength.footage.ball_detection.ball_search_in_video_span import search_ball_in
from goodlength.footage.media.video_file_opening_or_rejection import absolute, open_video, rate_of
from goodlength.footage.models import SUMS
from goodlength.jobs.progress_callback import Cancel, Progress

VERSION = 1  # of the search around the model: raised when candidates change
FIRST_US = 20_000_000  # of play, after which it is said how well the ball can be seen


@dataclass(frozen=True)
class FilmToSearch:
    """A video of the match; `ball_px` is the ball's width at the middle of the court, if that is known."""

    id: str
    path: str
    ball_px: float | None = None


def model_mark(method: str) -> str:
    """Return what candidates depend on beside the video: method, version and model."""
    return f"{method}-{VERSION}" + (f"-{SUMS[MODEL][:12]}" if method == "network" else "")


def video_quality(path: str | Path) -> VideoQuality:
    """Return what a file says of itself: frame rate, size, and bits a pixel from its size on the disk.

    Raises
    ------
    FootageError
        As `open_video`.
    """
    where = absolute(path)
    with open_video(where, with_sound=False) as film:
        width, height, rate = film.video.width, film.video.height, float(rate_of(film))
        seconds = (film.container.duration or 0) / 1e6
    pixels = width * height * rate * seconds
    return VideoQuality(rate, width, height, 8 * where.stat().st_size / pixels if pixels > 0 else 0.0)


def search_match(
    match: str,
    films: Sequence[FilmToSearch],
    spans: Sequence[BallSpan],
    to: Path,
    *,
    method: str = "network",
    sample: bool = False,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> StoredBalls:
    """Search every span, those that are stored already left out, and store the result after each.

    Parameters
    ----------
    sample : bool
        These are some of the match's spans only: what is stored of others stays.

    Raises
    ------
    InputError
        No span lies in a video.
    FootageError, Cancelled
        As reading a video; what was found until then stays stored.
    """
    by_id = {film.id: film for film in films}
    wanted = [span for span in spans if span.footage in by_id]
    if not wanted:
        raise InputError("No rally lies in a video of this match. Detect the rallies or log them first.")
    before = read_balls(to)
    stored = StoredBalls(match, model_mark(method), len(wanted))
    if before is not None and before.match == match and before.model == stored.model:
        same = {span: span_covering(span, before.spans) for span in wanted}
        known = {span: before.spans[old] for span, old in same.items() if old is not None}
        others = {span: each for span, each in before.spans.items() if span not in same.values()}
        stored.spans = {**(others if sample else {}), **known}
        stored.words, stored.lost, stored.whole = before.words, before.lost, before.whole and sample
    quality = {
        film.id: video_quality(film.path) for film in films if any(s.footage == film.id for s in wanted)
    }
    missing = [span for span in wanted if span not in stored.spans]
    whole = max(1, sum(span.until_us - span.from_us for span in missing))
    done, seen = 0, ""
    for n, span in enumerate(wanted, 1):
        if cancel is not None and cancel():
            raise Cancelled("Searching the ball was stopped. The rallies searched so far are saved.")
        if progress is not None:
            progress(0.99 * done / whole, f"rally {n} of {len(wanted)}{seen}")
        if span not in stored.spans:
            film = by_id[span.footage]
            stored.spans[span] = search_ball_in(
                film.path, span.from_us, span.until_us, method=method, ball_px=film.ball_px, cancel=cancel
            )
            _judge(stored, span.footage, quality[span.footage])
            stored.write(to)
            done += span.until_us - span.from_us
        visibility_known = done >= FIRST_US or n == len(wanted) or len(missing) < len(wanted)
        seen = "".join(f". {words}" for words in stored.words.get(span.footage, ())[:1] if visibility_known)
    if not sample and not stored.whole:
        stored.whole = True
        stored.write(to)
    return stored


def search_match_job(
    match: str,
    films: list[JsonObject],
    spans: list[JsonObject],
    to: str,
    sample: bool,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, object]:
    """Search the ball as a job, from plain values; those of `FilmToSearch` and `BallSpan`.

    Returns
    -------
    dict
        `searched_s`, seconds of video that this job searched itself, and `words` by file.

    Raises
    ------
    InputError, FootageError, Cancelled
        As `search_match`.
    """
    wanted = [BallSpan(**cast("dict[str, Any]", span)) for span in spans]
    before = read_balls(Path(to))
    there = before.spans if before is not None and before.model == model_mark("network") else {}
    missing = sum(span.until_us - span.from_us for span in wanted if span_covering(span, there) is None)
    stored = search_match(
        match,
        [FilmToSearch(**cast("dict[str, Any]", film)) for film in films],
        wanted,
        Path(to),
        sample=sample,
        progress=progress,
        cancel=cancel,
    )
    return {"searched_s": missing / 1e6, "words": stored.words}


def _judge(stored: StoredBalls, footage: str, quality: VideoQuality) -> None:
    seen = visibility_of(stored, footage, quality)
    stored.words[footage] = list(seen.words)
    stored.lost[footage] = None if np.isnan(seen.lost) else round(seen.lost, 3)


def visibility_of(stored: StoredBalls, footage: str, quality: VideoQuality) -> BallVisibility:
    """Return how well the ball can be seen in one of the files."""
    return ball_visibility([each for span, each in stored.spans.items() if span.footage == footage], quality)
