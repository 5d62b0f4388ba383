"""Decode the bytes of a text file, and report the encoding used."""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.errors import InputError


@dataclass(frozen=True)
class Text:
    """Letters, and the way they were written ("UTF-8", "UTF-16", "Windows-1252")."""

    text: str
    written_in: str


def decode(data: bytes) -> Text:
    """Read text written as UTF-8 or UTF-16 (with or without a mark), or else as Windows-1252.

    Raises
    ------
    InputError
        If the file is empty or is not text.

    Examples
    --------
    >>> decode("Å;1".encode("utf-16")).text, decode(b"\\xc5;1").written_in
    ('Å;1', 'Windows-1252')
    """
    if not data.strip(b"\x00 \t\r\n"):
        raise InputError("The file is empty. Choose a file with at least a line of headings and one rally.")
    for mark, name, words in (
        (b"\xef\xbb\xbf", "utf-8", "UTF-8"),
        (b"\xff\xfe", "utf-16-le", "UTF-16"),
        (b"\xfe\xff", "utf-16-be", "UTF-16"),
    ):
        if data.startswith(mark):
            return Text(_strictly(data[len(mark) :], name), words)
    sixteen = _utf16_without_mark(data)
    if sixteen:
        return Text(_strictly(data, sixteen), "UTF-16")
    if b"\x00" in data:
        raise _no_text()
    try:
        return Text(data.decode("utf-8"), "UTF-8")
    except UnicodeDecodeError:
        return Text(_strictly(data, "cp1252"), "Windows-1252")


def _strictly(data: bytes, name: str) -> str:
    try:
        return data.decode(name)
    except UnicodeDecodeError:
        raise _no_text() from None


def _utf16_without_mark(data: bytes) -> str | None:
    """Latin letters in UTF-16 have a zero in every second byte."""
    head = data[:400]
    if len(head) < 4:
        return None
    evens, odds = head[0::2].count(0), head[1::2].count(0)
    half = len(head) // 2
    if odds > half * 0.8 and evens < half * 0.1:
        return "utf-16-le"
    if evens > half * 0.8 and odds < half * 0.1:
        return "utf-16-be"
    return None


def _no_text() -> InputError:
    return InputError(
        "The file is not text that can be read (UTF-8, UTF-16 and Windows-1252 were tried). "
        "Save the table as CSV, for instance as “CSV UTF-8”, and choose that file."
    )
