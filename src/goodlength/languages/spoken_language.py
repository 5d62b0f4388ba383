"""The language that a request is answered in, and the sentences of pages in it.

Sentences of pages lie in catalogues of their own (`catalogues/pages`), which need not be complete: what is
not translated is shown in English.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache

from babel.messages.pofile import read_po

from goodlength.languages.gettext_translation import CATALOGUES, ENGLISH, Language, language

PAGE_CATALOGUES = CATALOGUES / "pages"
_spoken: ContextVar[str] = ContextVar("goodlength_language", default=ENGLISH)


def spoken() -> Language:
    """Return the language of the request that is being answered; English outside of one."""
    return language(_spoken.get())


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Answer in a language."""
    before = _spoken.set(code)
    try:
        yield
    finally:
        _spoken.reset(before)


@lru_cache(maxsize=8)
def page_sentences(code: str) -> Mapping[str, str]:
    """Return the sentences of pages in a language by the English ones, without those not translated."""
    file = PAGE_CATALOGUES / f"{code}.po"
    if code == ENGLISH or not file.exists():
        return {}
    with file.open("rb") as text:
        return {
            str(message.id): str(message.string)
            for message in read_po(text, locale=code)
            if message.id and message.string and not message.fuzzy and isinstance(message.id, str)
        }


def page_sentence(words: str) -> str:
    """Return words of a page in the language spoken; as they are where nobody has translated them.

    Examples
    --------
    >>> with speaking("de"):
    ...     page_sentence("Settings"), page_sentence("Petra Lindqvist-Ode")
    ('Einstellungen', 'Petra Lindqvist-Ode')
    """
    code = _spoken.get()
    if code == ENGLISH or not words:
        return words
    found = page_sentences(code).get(words)
    return language(code).known(words) if found is None else found
