"""Types of form fields: a text as typed, read into a value or refused in the page's words.

A field left empty takes its default.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Annotated, TypeVar

from pydantic import AfterValidator, BeforeValidator
from pydantic_core import PydanticUseDefault

from goodlength.errors import InputError
from goodlength.media_time import read_day

T = TypeVar("T")
_TIME = re.compile(r"(?:(?:(\d{1,3}):)?(\d{1,4}):)?(\d{1,6}(?:[.,]\d{0,6})?)")


def parsed(read: Callable[[str], object]) -> BeforeValidator:
    """Return the validator of a field whose text `read` turns into a value; it refuses with ValueError."""

    def validate(text: str) -> object:
        line = one_line(text)
        if not line:
            raise PydanticUseDefault
        try:
            return read(line)
        except InputError as error:
            raise ValueError(error.page_words) from None

    return BeforeValidator(validate)


def one_line(text: str) -> str:
    """Return a text without blanks around it and with single ones in it.

    Examples
    --------
    >>> one_line("  two   words ")
    'two words'
    """
    return " ".join(text.split())


def choice(options: Mapping[str, T]) -> BeforeValidator:
    """Return the validator of a field with a choice of options by their name."""

    def read(text: str) -> T:
        if text not in options:
            raise ValueError(f"{text!r} is not one of the choices: {', '.join(options)}.")
        return options[text]

    return parsed(read)


def day_or(words: str) -> BeforeValidator:
    """Return the validator of a day; `words` say what is wrong, with the text typed in place of {!r}."""

    def read(text: str) -> date:
        try:
            return read_day(text)
        except ValueError:
            raise ValueError(words.format(text[:40])) from None

    return parsed(read)


def whole_number_typed(text: str) -> int:
    """Return a whole number from digits.

    Raises
    ------
    ValueError
        It is none.

    Examples
    --------
    >>> whole_number_typed("12")
    12
    """
    if not re.fullmatch(r"\d{1,6}", text):
        raise ValueError(f"{text!r} is not a whole number. Type digits only, such as 12.")
    return int(text)


def time_typed_us(text: str) -> int:
    """Return a time as typed, in microseconds: seconds, or minutes or hours before a colon.

    Raises
    ------
    ValueError
        It is no time.

    Examples
    --------
    >>> time_typed_us("31:14.6"), time_typed_us("1:02:03"), time_typed_us("61,5")
    (1874600000, 3723000000, 61500000)
    """
    found = _TIME.fullmatch(text) if text.isascii() else None
    if found is None:
        raise ValueError(f"{text[:40]!r} is not a time. Enter minutes and seconds, such as 31:14.6.")
    hours, minutes, last = found.groups()
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60
    return whole * 1_000_000 + round(float(last.replace(",", ".")) * 1_000_000)


def _path(text: str) -> str:
    path = text.strip().strip('"')
    if not path:
        raise ValueError("Enter the path of the file on this computer.")
    return path


Line = Annotated[str, AfterValidator(one_line)]
Trimmed = Annotated[str, AfterValidator(str.strip)]
DAY = day_or("{!r} is not a date. Use year-month-day, such as 2026-03-07.")
WHOLE_NUMBER = parsed(whole_number_typed)
MATCH_TIME_US = parsed(time_typed_us)
FilePath = Annotated[str, AfterValidator(_path)]
Given = Annotated[bool, BeforeValidator(bool)]  # true where the field came with any text
Ticked = Annotated[bool, BeforeValidator("1".__eq__)]
Sure = Annotated[bool, BeforeValidator("yes".__eq__)]
