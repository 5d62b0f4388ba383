"""Contact sheet of strikes: before contact, contact and after, one strike a row, with its caption."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from goodlength.errors import Cancelled, InputError
from goodlength.files.atomic_write import atomic_write
from goodlength.files.json_types import Json
from goodlength.footage.edit.drawing_overlay import OverlayLine, burn_in, overlay_line_of
from goodlength.footage.media.still_frame_png import still
from goodlength.footage.media.video_file_opening_or_rejection import absolute
from goodlength.footage.vision.head_anonymisation import cover_heads, detect_heads
from goodlength.jobs.progress_callback import Cancel, Progress

MOMENTS_S = (-0.35, 0.0, 0.25)  # preparation, contact, after; ASSUMED
WORDS = ("before", "contact", "after")
MOST_ROWS = 6
WIDE, EDGE, LINE = 560, 16, 34


@dataclass(frozen=True)
class StillRow:
    """One strike: its film, media time of contact, its words, and what is drawn at contact."""

    src: str
    at_us: int
    words: str = ""
    heads_covered: bool = False
    lines: tuple[OverlayLine, ...] = ()


def still_sheet(
    rows: Sequence[StillRow],
    dst: str | Path,
    *,
    font: str | None = None,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> tuple[int, int]:
    """Write the sheet as a PNG; gives its width and height.

    A moment the film does not show is left blank and called so.

    Raises
    ------
    InputError
        No row, or too many.
    FootageError, NoSpace, Cancelled
        Nothing half written stays.
    """
    if not 1 <= len(rows) <= MOST_ROWS:
        raise InputError(f"A sheet has 1 to {MOST_ROWS} serves; got {len(rows)}. Choose again.")
    letters = ImageFont.truetype(font, 22) if font else ImageFont.load_default()
    pictures: list[list[Image.Image | None]] = []
    for n, row in enumerate(rows):
        if cancel is not None and cancel():
            raise Cancelled("The stills were cancelled; nothing was saved.")
        if progress is not None:
            progress(n / len(rows), f"serve {n + 1} of {len(rows)}")
        pictures.append([_grab_still(row, moment, font) for moment in MOMENTS_S])
    tall = max((p.height for line in pictures for p in line if p is not None), default=WIDE * 9 // 16)
    high = EDGE + len(rows) * (LINE + tall + EDGE)
    wide = EDGE + len(MOMENTS_S) * (WIDE + EDGE)
    sheet = Image.new("RGB", (wide, high), "#FDFDFB")
    pen = ImageDraw.Draw(sheet)
    for n, (row, line) in enumerate(zip(rows, pictures, strict=True)):
        top = EDGE + n * (LINE + tall + EDGE)
        pen.text((EDGE, top), row.words, fill="#1A2026", font=letters)
        for k, picture in enumerate(line):
            left = EDGE + k * (WIDE + EDGE)
            place = (left, top + LINE)
            if picture is None:
                pen.rectangle((*place, left + WIDE, top + LINE + tall), outline="#7F8587")
                pen.text((left + 12, top + LINE + 12), "no frame here", fill="#434C55", font=letters)
                continue
            sheet.paste(picture, place)
            caption = WORDS[k] if MOMENTS_S[k] == 0 else f"{abs(MOMENTS_S[k]):.2f} s {WORDS[k]}"
            at = (left + 8, top + LINE + picture.height - 32)
            pen.rectangle(pen.textbbox(at, caption, font=letters), fill="#FDFDFB")
            pen.text(at, caption, fill="#1A2026", font=letters)
    with atomic_write(absolute(dst)) as part:
        sheet.save(part, "PNG")
    return wide, high


def _grab_still(row: StillRow, moment_s: float, font: str | None) -> Image.Image | None:
    from goodlength.errors import OutOfRange

    us = row.at_us + round(moment_s * 1e6)
    if us < 0:
        return None
    try:
        picture: Image.Image = Image.open(io.BytesIO(still(row.src, us)))
    except OutOfRange:
        return None
    if row.heads_covered:
        seen = np.ascontiguousarray(np.asarray(picture.convert("RGB"))[:, :, ::-1])
        picture = Image.fromarray(
            np.ascontiguousarray(cover_heads(seen, detect_heads(seen).heads)[:, :, ::-1])
        )
    small = picture.convert("RGB").resize((WIDE, max(1, round(picture.height * WIDE / picture.width))))
    if row.lines and moment_s == 0:
        small = Image.fromarray(burn_in(np.asarray(small, np.uint8), row.lines, font))
    return small


def sheet_job(
    rows: list[dict[str, Any]],
    dst: str,
    match: str,
    font: str | None = None,
    *,
    progress: Progress,
    cancel: Cancel,
) -> dict[str, Json]:
    """Run `still_sheet` as a job; `match` stays with the job's note."""
    plain = [{**row, "lines": tuple(map(overlay_line_of, row.get("lines", ())))} for row in rows]
    still_sheet([StillRow(**fields) for fields in plain], dst, font=font, progress=progress, cancel=cancel)
    progress(1.0, "done")
    serves = "1 serve" if len(rows) == 1 else f"{len(rows)} serves"
    return {"path": dst, "match": match, "words": f"Stills of {serves}."}
