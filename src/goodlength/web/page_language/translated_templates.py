"""Templates in a language, and the filters that put dates and words out in it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from goodlength.languages import language, page_sentence, page_sentences
from goodlength.web.page_language.template_sentences import translated


class TranslatedTemplates(jinja2.FileSystemLoader):
    """Reads a template with its sentences in a language; Jinja compiles it once, as in English."""

    def __init__(self, folder: Path, code: str) -> None:
        super().__init__(folder)
        self._code = code

    def get_source(
        self, environment: jinja2.Environment, template: str
    ) -> tuple[str, str, Callable[[], bool]]:
        """Return the translated source of a template, its file, and whether that is unchanged."""
        source, file, unchanged = super().get_source(environment, template)
        known = page_sentences(self._code)
        return translated(source, lambda words: known.get(words, words)), file, unchanged


def in_language(value: Any) -> Any:
    """Return words of the program in the language spoken; anything else as it is."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return page_sentence(value)
    return value


def day_in(code: str) -> Callable[[Any], str]:
    """Return the filter that writes a date, also as "2026-11-28", in a language; empty for none."""

    def day(value: Any) -> str:
        if isinstance(value, str):
            value = date.fromisoformat(value) if value else None
        return "" if value is None else language(code).day(value)

    return day
