"""Words in the reader's language: catalogues of sentences, numbers, dates and plural forms.

It never knows what a sentence is about, and makes none itself.
Public: `Language`, `language`, `LANGUAGES`, `to_translate`; of pages `speaking`, `spoken`, `page_sentence`.
"""

from goodlength.languages.gettext_translation import LANGUAGES, Language, language, to_translate
from goodlength.languages.spoken_language import page_sentence, page_sentences, speaking, spoken

__all__ = [
    "LANGUAGES",
    "Language",
    "language",
    "page_sentence",
    "page_sentences",
    "speaking",
    "spoken",
    "to_translate",
]
