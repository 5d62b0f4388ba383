"""The handout as one self-contained HTML file: no script, no request, fonts inside."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from goodlength.show.draw.font_metrics import FAMILY, LICENCE, font_base64
from goodlength.show.draw.svg_primitives_and_themes import LIGHT, PAPER
from goodlength.show.handout.handout_content_blocks import Contents, Picture, contents, labels

if TYPE_CHECKING:
    from goodlength.show.handout.handout_types import HandoutData, HandoutLayout


@lru_cache(maxsize=1)
def _environment() -> Environment:
    folder = Path(__file__).parent.parent / "paper"
    outside = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    outside.filters["unbroken"] = _unbroken
    return outside


def _unbroken(words: str) -> Markup:
    """Return words as text, each score held together on its line."""
    return Markup(re.sub(r"\d+–\d+", r'<span class="s">\g<0></span>', str(escape(words))))


def html_page(data: HandoutData, type_pt: float, layout: HandoutLayout) -> str:
    """Return the same page as the PDF, at the size of type and in the layout that fitted there."""
    return _rendered("handout.html", data, layout, type_pt)


def html_body(data: HandoutData, layout: HandoutLayout) -> str:
    """Return what stands in the body of `html_page`, to be shown before a size of type is known."""
    return _rendered("handout_body.html", data, layout)


def _rendered(template: str, data: HandoutData, layout: HandoutLayout, type_pt: float | None = None) -> str:
    words = contents(data, PAPER)
    return (
        _environment()
        .get_template(template)
        .render(
            page=_pictures(words),
            labels=labels(data),
            type_pt=type_pt,
            layout=layout,
            ink=LIGHT,
            family=FAMILY,
            licence=LICENCE,
            regular=Markup(font_base64()),
            bold=Markup(font_base64(bold=True)),
        )
    )


def _pictures(words: Contents) -> dict[str, object]:
    """Mark our own drawings as safe; every other string is escaped by the template."""

    def walk(value: object) -> object:
        if isinstance(value, Picture):
            return Markup(value)
        if isinstance(value, list):
            return [walk(item) for item in value]
        if isinstance(value, dict):
            return {key: walk(item) for key, item in value.items()}
        return value

    return {key: walk(value) for key, value in words.items()}
