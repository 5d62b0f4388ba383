"""Zip archive of a handout with its clips: opens on a phone offline, without goodlength."""

from __future__ import annotations

import html
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from goodlength.files.atomic_write import LEFTOVER, atomic_write
from goodlength.files.json_types import Json
from goodlength.footage.edit.clip_concatenation import ReelPiece, piece_of, reel
from goodlength.footage.media.video_file_opening_or_rejection import absolute
from goodlength.jobs.progress_callback import Cancel, Progress

PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title><style>
body {{ font: 17px/1.45 "Atkinson Hyperlegible", "Segoe UI", Arial, sans-serif; margin: 0 auto; max-width: 720px; padding: 16px; color: #1A2026; background: #FDFDFB; }}
video {{ width: 100%; background: #16191C; }} figure {{ margin: 0 0 24px; }} figcaption {{ margin-top: 6px; }}
a {{ color: inherit; }}
</style></head><body>
<h1>{title}</h1>
<p><a href="handout.html">Open the handout</a></p>
{clips}
<p>Watch each clip first and say what you see. Then open the comment.</p>
</body></html>
"""  # noqa: E501


def pack(
    clips: Sequence[tuple[Sequence[ReelPiece], str, str]],
    page: str | Path,
    title: str,
    dst: str | Path,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
    font: str | None = None,
) -> int:
    """Write the zip; gives the number of clips in it.

    Parameters
    ----------
    clips : sequence of (pieces, words, cue)
        Each clip's spans, the line beneath it, and what is told when it was looked at; may be empty.
    page : str or Path
        The handout as one HTML file.

    Raises
    ------
    FootageError, NoSpace, Cancelled
        Nothing half written stays.
    """
    target = absolute(dst)
    target.parent.mkdir(parents=True, exist_ok=True)
    made: list[Path] = []
    figures = []
    try:
        for n, (pieces, words, cue) in enumerate(clips, 1):

            def share(done: float, step: str, n: int = n) -> None:
                if progress is not None:
                    progress(0.95 * (n - 1 + done) / len(clips), f"{step}: clip {n} of {len(clips)}")

            path = target.with_name(f"{LEFTOVER}{target.stem}-{n}.mp4")
            made += [path, path.with_suffix(".vtt")]
            reel(pieces, path, share, cancel, font)
            figures.append(
                f'<figure><video controls playsinline preload="metadata" src="clips/{n}.mp4"></video>'
                f"<figcaption>{_line(n, words, cue)}</figcaption></figure>"
            )
        with atomic_write(target) as part, zipfile.ZipFile(part, "w") as zipped:
            zipped.writestr("index.html", PAGE.format(title=html.escape(title), clips="\n".join(figures)))
            zipped.write(absolute(page), "handout.html")
            for n in range(1, len(clips) + 1):
                zipped.write(target.with_name(f"{LEFTOVER}{target.stem}-{n}.mp4"), f"clips/{n}.mp4")
    finally:
        for path in made:
            path.unlink(missing_ok=True)
    return len(clips)


def _line(n: int, words: str, cue: str) -> str:
    """Return the line beneath a clip; its cue is folded away until the player has looked."""
    plain = f"{n}. {html.escape(words)}"
    if not cue:
        return plain
    return f"{plain}<details><summary>Comment</summary>{html.escape(cue)}</details>"


def pack_job(
    clips: list[dict[str, Any]],
    page: str,
    title: str,
    dst: str,
    match: str,
    font: str | None = None,
    *,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, Json]:
    """Run `pack` as a job; `match` stays with the job's note."""
    plain = [
        ([piece_of(piece) for piece in clip["pieces"]], str(clip["words"]), str(clip.get("cue", "")))
        for clip in clips
    ]
    count = pack(plain, page, title, dst, progress, cancel, font)
    progress(1.0, "done")
    return {"path": dst, "match": match, "words": f"Handout with {count} clips."}
