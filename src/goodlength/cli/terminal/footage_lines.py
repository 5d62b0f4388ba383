"""Terminal lines of the commands about videos: the videos of a match, drops and hits, court marks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from goodlength.media_time import clock_words, seconds

if TYPE_CHECKING:
    from goodlength.footage.audio.drop_and_wall_test_detection import Bounces
    from goodlength.footage.camera.court_mark_definitions import CourtMark
    from goodlength.record.model import Footage


def video_lines(videos: Iterable[Footage]) -> Iterator[str]:
    """Yield a heading and a line a video, in the order played; nothing without a video."""
    listed = list(videos)
    if not listed:
        return
    width = max(len("Id"), *(len(video.id) for video in listed))
    yield f"{'Id':<{width}}  {'Length':>9}  {'Copy':<4}  File"
    for video in listed:
        known = video.first_us is not None and video.end_us is not None
        length = clock_words(seconds((video.end_us or 0) - (video.first_us or 0))) if known else "unknown"
        yield f"{video.id:<{width}}  {length:>9}  {'yes' if video.proxy else 'no':<4}  {video.path}"


def bounce_lines(found: Bounces) -> Iterator[str]:
    """Yield the drops and the hits of a video: when, and after how many seconds each sound followed."""
    if found.drops:
        yield "Drops: time of the first bounce in the video; seconds from it to each later bounce;"
        yield "the ratio of each interval to the one before it."
    for n, drop in enumerate(found.drops, 1):
        first, *later = drop.thuds_us
        after = "  ".join(f"{seconds(us - first):.3f} s" for us in later)
        ratios = ", ".join(f"{ratio:.2f}" for ratio in drop.ratios)
        yield f"{n:>4}  {clock_words(seconds(first)):>9}  {after}; {ratios}{_doubtful_mark(drop.doubtful)}"
    if found.hits:
        yield "Hits: time in the video; seconds from the hit to each sound after it."
    for n, hit in enumerate(found.hits, 1):
        after = "  ".join(f"{seconds(us - hit.strike_us):.3f} s" for us in hit.after_us)
        at = clock_words(seconds(hit.strike_us))
        yield f"{n:>4}  {at:>9}  {after or 'no sound'}{_doubtful_mark(hit.doubtful)}"


def _doubtful_mark(doubtful: bool) -> str:
    return " (doubtful)" if doubtful else ""


def mark_lines(marks: Iterable[CourtMark]) -> Iterator[str]:
    """Yield a heading, and for each court mark its name, its place in metres, and which edge to click."""
    yield f"{'Name':<17} {'From left':>9} {'From front':>10} {'Height':>7}  Mark"
    for mark in marks:
        x, y, z = mark.at
        yield f"{mark.name:<17} {x:>7.2f} m {y:>8.2f} m {z:>5.2f} m  {mark.words}"
        yield f"{'':<48}({mark.edge})"
