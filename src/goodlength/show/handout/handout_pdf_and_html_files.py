"""Write the handout: one A4 page for the player (two where allowed), as a tagged PDF and as one HTML file."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from goodlength.errors import InputError, NoSpace, OutOfRange
from goodlength.files.atomic_write import FULL, atomic_write
from goodlength.show.draw.evidence_grade_icons import grade_words
from goodlength.show.handout.handout_html import html_page
from goodlength.show.handout.handout_pdf import pdf_page
from goodlength.show.handout.handout_types import (
    MOST_FINDINGS,
    MOST_STILLS,
    MOST_STILLS_WITH_BACK,
    PLAIN,
    HandoutData,
    HandoutFiles,
)

_NOT_IN_NAMES = frozenset('<>:"/\\|?*')


def make(data: HandoutData, folder: Path, stem: str) -> HandoutFiles:
    """Set the page and write `stem`.pdf and `stem`.html into `folder`.

    Both are written in full under other names before either takes its place. The same data give the
    same bytes (the PDF carries `data.made` as its time). The type is stepped down to 9 pt to fit one
    page; nothing is ever left out or cut short to fit.

    Parameters
    ----------
    data : HandoutData
        What the page says.
    folder : Path
        Made if it is not there.
    stem : str
        Name of the files without ending; no names of people by default (the caller's choice).

    Raises
    ------
    InputError
        If the page cannot hold the text at 9 pt (the text to shorten is named), if a letter has no
        shape in any font at hand, or if `stem` is no file name.
    OutOfRange
        If there are more than three findings, or a grade, count or place that cannot be.
    NoSpace
        If the files cannot be written.
    """
    _check(data)
    _check_stem(stem)
    page = pdf_page(data)
    html = html_page(data, page.type_pt, page.layout)
    files = HandoutFiles(
        folder / f"{stem}.pdf",
        folder / f"{stem}.html",
        page.type_pt,
        len(data.stills),
        data.turning is not None,
        len(data.week),
        page.layout.pages,
    )
    _write_both({files.pdf: page.pdf, files.html: html.encode("utf-8")})
    return files


def _check(data: HandoutData) -> None:
    if not data.player.strip():
        raise InputError("Cannot make a handout without the player's name. Give the player a name first.")
    if len(data.findings) > MOST_FINDINGS:
        raise OutOfRange(
            f"Cannot put {len(data.findings)} findings on a handout: at most {MOST_FINDINGS} are read and "
            "remembered. Choose the three to talk about."
        )
    most = MOST_STILLS_WITH_BACK if data.back else MOST_STILLS
    if len(data.stills) > most:
        raise OutOfRange(f"Cannot put {len(data.stills)} stills on a handout: {most} have room.")
    for finding in data.findings:
        if finding.grade != PLAIN:
            grade_words(finding.grade)
    for serve in data.serves:
        if serve.weak is not None and not 0 <= serve.weak.count <= serve.weak.of <= serve.served:
            raise OutOfRange(
                f"Cannot show {serve.weak.count} of {serve.weak.of} returns for {serve.served} serves "
                f"({serve.words}): a count lies between zero and its total. Look at these figures again."
            )


def _check_stem(stem: str) -> None:
    odd = sorted({c for c in stem if c in _NOT_IN_NAMES or ord(c) < 32})
    if odd or stem.strip(" .") != stem or not stem:
        raise InputError(
            f"Cannot call the files {stem!r}: a file name holds letters, digits, hyphens and spaces, and "
            "neither begins nor ends with a point or space. Choose another name."
        )


def _write_both(files: dict[Path, bytes]) -> None:
    """Write each whole under another name before either takes its place."""
    folder = next(iter(files)).parent
    try:
        with ExitStack() as parts:
            for final, data in files.items():
                parts.enter_context(atomic_write(final)).write_bytes(data)
    except (OSError, NoSpace) as error:
        fault = error if isinstance(error, OSError) else error.__cause__
        full = isinstance(fault, OSError) and fault.errno in FULL
        why = "the disk is full" if full else (getattr(fault, "strerror", None) or "it cannot be written")
        raise NoSpace(
            f"Cannot write the handout into {folder}: {why}. Free some space or choose another folder; "
            "an older handout there was left as it was."
        ) from error
