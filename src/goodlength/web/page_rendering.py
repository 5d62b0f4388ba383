"""Render pages from templates, with the theme and the place in the menu."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from goodlength import media_time
from goodlength.ball import WARMTH_WORDS
from goodlength.languages import LANGUAGES, spoken
from goodlength.practice.planning.safety_cautions import SOURCE_WORDS
from goodlength.web.help_pages import help_address
from goodlength.web.page_language.translated_templates import TranslatedTemplates, day_in, in_language
from goodlength.web.submitted_forms.match_import_and_search_forms import warmth_options
from goodlength.web.undo_message import undo_line

HERE = Path(__file__).parent
_MENU = ("/players", "/aim", "/practice", "/settings", "/help")


@lru_cache(maxsize=len(LANGUAGES))
def environment(code: str = "en") -> jinja2.Environment:
    """Return the templates of a language, compiled once each."""
    folder = HERE / "templates"
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder) if code == "en" else TranslatedTemplates(folder, code),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["ball_temperatures"] = tuple(WARMTH_WORDS.items())
    made.globals["warmth_options"] = warmth_options
    made.globals["languages"] = tuple(LANGUAGES.items())
    made.globals["language"] = code
    made.filters["day"] = day_words if code == "en" else day_in(code)
    made.filters["in_language"] = in_language
    made.filters["sentence"] = sentence
    made.filters["source_words"] = SOURCE_WORDS.__getitem__
    made.filters["drawing"] = Markup  # SVG of goodlength.show, which escapes each word in it, or a QR code
    return made


def day_words(day: Any) -> str:
    """Return a date, also as "2026-11-28", in words without a doubtful order of figures; empty for none."""
    if isinstance(day, str):
        day = date.fromisoformat(day) if day else None
    return "" if day is None else media_time.day_words(day)


def sentence(words: str) -> str:
    """Return words as a sentence of their own: a capital first, and a full stop if no mark ends them.

    For lines of a list that also stand inside longer sentences, such as the faults of an imported table.
    """
    words = words.strip()
    first = words[:1] if words.startswith("goodlength") else words[:1].upper()
    return first + words[1:] + ("" if words[-1:] in ".?!”)" or not words else ".")


def page(request: Request, template: str, *, status: int = 200, **shown: Any) -> HTMLResponse:
    """Render one page.

    Parameters
    ----------
    request : Request
        Its path says which entry of the menu is open.
    template : str
        File in templates/.
    shown : Any
        Names the template uses.
    """
    path = request.url.path
    first = "/" + path.split("/")[1]
    context = {
        "room": shown["room"] if "room" in shown else request.app.state.room(),
        "here": first if first in _MENU else "/matches",
        "path": path,
        "library_id": request.app.state.library_id,
        "help": help_address(template),
        "tour": shown["tour"] if "tour" in shown else request.app.state.tour(request),
        "undo": undo_line(request),
        **shown,
    }
    return HTMLResponse(environment(spoken().code).get_template(template).render(context), status_code=status)
