"""What a browser posts, as plain texts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import UploadFile

from goodlength.errors import InputError

MOST_FIELDS = 500


@dataclass(frozen=True)
class PostedForm:
    """The texts of a form by name, and every value of a name that comes more than once."""

    texts: Mapping[str, str]
    lists: Mapping[str, list[str]]

    def every(self, name: str) -> list[str]:
        """Return all values of a name, in the order of the page."""
        return self.lists.get(name, [])


async def read_form(request: Request) -> PostedForm:
    """Read a posted form; files are left to the routes that take one."""
    lists: dict[str, list[str]] = {}
    async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
        for name, value in form.multi_items():
            if not isinstance(value, UploadFile):
                lists.setdefault(name, []).append(value)
    return PostedForm({name: values[-1] for name, values in lists.items()}, lists)


Posted = Annotated[PostedForm, Depends(read_form)]


def whole_number(text: str, words: str) -> int | None:
    """Return a whole number of an address; None for nothing said.

    Raises
    ------
    InputError
        It is no whole number.

    Examples
    --------
    >>> whole_number("3", "game"), whole_number("", "game")
    (3, None)
    """
    if not text.strip():
        return None
    if not (text.strip().isascii() and text.strip().isdigit() and len(text) < 10):
        raise InputError(f"The {words} must be a whole number; got {text[:40]!r}.")
    return int(text)


_TIME = re.compile(r"(?:(?:(\d{1,3}):)?(\d{1,4}):)?(\d{1,6}(?:[.,]\d{0,6})?)")


def typed_us(text: str) -> int | None:
    """Return a time as typed, in microseconds: seconds, or minutes or hours before a colon; None for nothing.

    Raises
    ------
    InputError
        It is no time.

    Examples
    --------
    >>> typed_us("31:14.6"), typed_us("1:02:03"), typed_us("61,5"), typed_us(" ")
    (1874600000, 3723000000, 61500000, None)
    """
    if not text.strip():
        return None
    found = _TIME.fullmatch(text.strip()) if text.isascii() else None
    if found is None:
        raise InputError(f"{text[:40]!r} is not a time. Enter minutes and seconds, such as 31:14.6.")
    hours, minutes, last = found.groups()
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60
    return whole * 1_000_000 + round(float(last.replace(",", ".")) * 1_000_000)
