"""Protocols of what a drawing needs of a figure, and the words that go with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from goodlength.languages import Language, language

_ENGLISH = language("en")
FEW = 5  # fewer than this: open ring, dotted bar, "too few to say"


class ShareLike(Protocol):
    """A count out of a total, and the range (0 to 1) in which the true share could lie."""

    @property
    def count(self) -> int: ...
    @property
    def of(self) -> int: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...


class BoxRowLike(Protocol):
    """One kind of serve, and what it did from each box (None: not served from there)."""

    @property
    def words(self) -> str: ...
    @property
    def right(self) -> ShareLike | None: ...
    @property
    def left(self) -> ShareLike | None: ...


class RepeatRowLike(Protocol):
    """How often the next serve repeated the last, and what luck with the same mix would give (0 to 1)."""

    @property
    def words(self) -> str: ...
    @property
    def seen(self) -> ShareLike: ...
    @property
    def luck_low(self) -> float: ...
    @property
    def luck_high(self) -> float: ...


@dataclass(frozen=True)
class CountedShare:
    """A share that did not come from findings; the same four values."""

    count: int
    of: int
    low: float
    high: float


def counted_share(share: ShareLike) -> float:
    """Return the share seen, 0 to 1; 0 where there was nothing to count."""
    return share.count / share.of if share.of else 0.0


def few(share: ShareLike) -> bool:
    """Return whether too few were seen for a filled mark."""
    return share.of < FEW


def percent(share: float, spoken: Language = _ENGLISH) -> str:
    """Return a whole percentage; a decimal would claim more than a match can show.

    Examples
    --------
    >>> percent(0.125), percent(0.64)
    ('13%', '64%')
    """
    return spoken.percent(share)


def count_words(share: ShareLike, spoken: Language = _ENGLISH) -> str:
    """Return the count as it is said beside every share.

    Examples
    --------
    >>> count_words(CountedShare(7, 12, 0.32, 0.81))
    '7 of 12'
    """
    return spoken.phrase("{count} of {of}", count=share.count, of=share.of)


def share_words(share: ShareLike | None, none: str = "none", spoken: Language = _ENGLISH) -> str:
    """Count and range in words, for those who hear the drawing.

    Examples
    --------
    >>> share_words(CountedShare(7, 12, 0.32, 0.81))
    '7 of 12, range 32% to 81%'
    >>> share_words(None, "not served")
    'not served'
    """
    if share is None or not share.of:
        return none
    return spoken.phrase(
        "{count} of {of}, range {low} to {high}",
        count=share.count,
        of=share.of,
        low=percent(share.low, spoken),
        high=percent(share.high, spoken),
    )
