"""Sentences out of a catalogue of gettext, with numbers, dates and plural forms by Babel.

A sentence is whole: what changes in it stands in braces by name, so that a translator may put it anywhere.

    spoken.phrase("Handout for {player}", player="Petra")
    spoken.phrase_of("{n} serve", "{n} serves", 3)

`scripts/translation_catalogues.py` collects the sentences of the source into `catalogues/messages.pot`, and
each language's own file takes its new ones from there. English needs no file: the sentences are written in
it.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path

from babel import Locale
from babel.dates import format_date
from babel.lists import format_list
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal, format_percent

from goodlength.errors import InputError

ENGLISH = "en"
LANGUAGES = {ENGLISH: "English", "de": "Deutsch"}  # by its code, each as its own speakers call it
CATALOGUES = Path(__file__).parent / "catalogues"
_LOCALES = {ENGLISH: "en_GB"}  # days before months


@dataclass(frozen=True)
class Language:
    """One language: its code, how it writes, and its sentences."""

    code: str
    locale: Locale = field(repr=False)
    sentences: NullTranslations = field(repr=False)

    @property
    def is_english(self) -> bool:
        """Whether it is the language in which the sentences are written."""
        return self.code == ENGLISH

    @property
    def direction(self) -> str:
        """The direction of its writing, "ltr" or "rtl", as HTML and the PDF name it."""
        return "rtl" if self.locale.character_order == "right-to-left" else "ltr"

    def phrase(self, sentence: str, /, **values: object) -> str:
        """Return a sentence with its values.

        Examples
        --------
        >>> language("de").phrase("Handout for {player}", player="Petra")
        'Handout für Petra'
        """
        return self.sentences.gettext(sentence).format(**values)

    def known(self, words: str) -> str:
        """Return words of a table, such as a drill's, as translated; somebody's own stay as they are."""
        return self.sentences.gettext(words) if words else words

    def phrase_in(self, context: str, sentence: str, /, **values: object) -> str:
        """Return a sentence that means something else elsewhere; `context` says where it stands."""
        return self.sentences.pgettext(context, sentence).format(**values)

    def phrase_of(self, of_one: str, of_many: str, n: int, /, **values: object) -> str:
        """Return the sentence in the plural form that fits `n`, which it may name as {n}.

        Examples
        --------
        >>> language("en").phrase_of("{n} serve", "{n} serves", 1), language("en").phrase_of("a", "b", 0)
        ('1 serve', 'b')
        """
        return self.sentences.ngettext(of_one, of_many, n).format(n=self.number(n), **values)

    def number(self, value: float, places: int = 0) -> str:
        """Return a number with at most so many places after the point.

        Examples
        --------
        >>> language("de").number(1234.56, 1), language("en").number(7)
        ('1.234,6', '7')
        """
        pattern = "#,##0" + ("." + "#" * places if places else "")
        return str(format_decimal(value, format=pattern, locale=self.locale))

    def percent(self, share: float) -> str:
        """Return a share from 0 to 1 as a whole percentage, a half rounded up.

        Examples
        --------
        >>> language("en").percent(0.125), language("de").percent(0.64)
        ('13%', '64\\xa0%')
        """
        return str(format_percent(int(share * 100 + 0.5) / 100, locale=self.locale))

    def day(self, day: date) -> str:
        """Return a date in full.

        Examples
        --------
        >>> language("de").day(date(2026, 3, 14)), language("en").day(date(2026, 3, 14))
        ('14. März 2026', '14 March 2026')
        """
        return str(format_date(day, format="long", locale=self.locale))

    def listing(self, parts: Sequence[str]) -> str:
        """Return parts as a sentence lists them.

        Examples
        --------
        >>> language("de").listing(["1", "2", "3"])
        '1, 2 und 3'
        """
        return str(format_list(list(parts), locale=self.locale))


def to_translate(sentence: str) -> str:
    """Mark a sentence that is kept in a table and said later; it is returned as it is."""
    return sentence


@lru_cache(maxsize=len(LANGUAGES))
def language(code: str) -> Language:
    """Return a language by its code.

    Raises
    ------
    InputError
        If goodlength does not speak it.
    """
    if code not in LANGUAGES:
        spoken = ", ".join(f"{name} ({code})" for code, name in LANGUAGES.items())
        raise InputError(f"There is no language {code!r}. Choose one of these: {spoken}.")
    locale = Locale.parse(_LOCALES.get(code, code))
    return Language(code, locale, NullTranslations() if code == ENGLISH else _sentences(code))


def _sentences(code: str) -> GNUTranslations:
    """Return the sentences of a catalogue, read from the file that translators change."""
    with (CATALOGUES / f"{code}.po").open("rb") as file:
        catalogue = read_po(file, locale=code)
    compiled = io.BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return GNUTranslations(compiled)
