"""Words in the reader's language: catalogues of sentences, numbers, dates and plural forms.

It never knows what a sentence is about, and makes none itself.
Public: `Language`, `language`, `LANGUAGES`, `to_translate`.
"""

from goodlength.languages.gettext_translation import LANGUAGES, Language, language, to_translate

__all__ = ["LANGUAGES", "Language", "language", "to_translate"]
