"""The handout as it is being written, shown beside the words before any file is made."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from markupsafe import escape

from goodlength.errors import GoodlengthError, NotFound
from goodlength.languages import language
from goodlength.show.draw.svg_primitives_and_themes import PAPER
from goodlength.show.handout.handout_content_blocks import contents
from goodlength.show.handout.handout_html import html_body, html_page
from goodlength.show.handout.handout_pdf import SIZES_PT
from goodlength.show.handout.handout_types import MOST_FINDINGS, HandoutData, HandoutLayout
from goodlength.tasks.sharing.handout_content_and_files import (
    HandoutEdits,
    draft_handout,
    handout_refusal,
    most_stills,
    refuse_unnamed,
    stills_of,
)

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

# Every ruled line there could be: the page that shows it keeps those that have room.
_ALL_LINES = HandoutLayout(lines=24, aims=5)


@dataclass(frozen=True)
class HandoutPreview:
    """The page's contents as HTML, with what stands against making it, in words.

    `body` is made by the template of the handout's HTML file from the contents that file and PDF are made
    from; only the size of type and the layout that fit are not known yet.
    """

    body: str
    title: str
    language: str
    direction: str
    faults: tuple[str, ...]


def preview_handout(
    opened: OpenMatch, edits: HandoutEdits, today: date | None = None, *, here: bool = True
) -> HandoutPreview:
    """Return the handout as it would be made of these edits now; nothing is written.

    Parameters
    ----------
    here : bool
        False for another device: where consent stands against the handout, it is told that alone.
    """
    data, faults, withheld = _data(opened, edits, today)
    if withheld and not here:
        return HandoutPreview(_refusal_body(withheld), "Handout", "en", "ltr", (withheld,))
    return HandoutPreview(
        html_body(data, _ALL_LINES),
        str(contents(data, PAPER)["title"]),
        data.language,
        language(data.language).direction,
        faults,
    )


def preview_page(
    opened: OpenMatch, edits: HandoutEdits, today: date | None = None, *, here: bool = True
) -> str:
    """Return the same as a whole page of HTML, with its letters and style.

    It has no ruled lines: whether there is room for any is known only once the page has been laid out.
    """
    data, _, withheld = _data(opened, edits, today)
    page = html_page(data, SIZES_PT[0], HandoutLayout())
    if not withheld or here:
        return page
    # Its style stays, for what is shown in its place once nothing stands against it
    head = page.partition("<body>")[0]
    head = re.sub(r"<title>.*?</title>", "<title>Handout</title>", head, flags=re.DOTALL)
    return f"{head}<body>{_refusal_body(withheld)}</body></html>"


def _refusal_body(words: str) -> str:
    return f'<main><div class="a4"><p>{escape(words)}</p></div></main>'


def _data(
    opened: OpenMatch, edits: HandoutEdits, today: date | None
) -> tuple[HandoutData, tuple[str, ...], str]:
    """Return what the page can say, a sentence for each thing it cannot, and what consent forbids."""
    withheld = handout_refusal(opened.coached, today)
    faults = [withheld] if withheld else []
    try:
        draft = draft_handout(opened, edits, today)
    except NotFound as error:
        faults.append(error.page_words)
        draft = draft_handout(opened, replace(edits, findings=()), today)
    data = draft.data
    if len(data.findings) > MOST_FINDINGS:
        faults.append(
            f"{len(data.findings)} findings are chosen; at most {MOST_FINDINGS} are read and remembered."
        )
        data = replace(data, findings=data.findings[:MOST_FINDINGS])
    if not draft.opponent_named:
        try:
            refuse_unnamed(opened.opponent, data)
        except GoodlengthError as error:
            faults.append(error.page_words)
            withheld = withheld or error.page_words
    if edits.stills:
        try:
            data = replace(data, stills=stills_of(opened, most_stills(edits)))
        except GoodlengthError as error:
            faults.append(error.page_words)
    return data, tuple(faults), withheld
