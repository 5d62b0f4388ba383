"""Input validation for the flight model."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from goodlength.errors import InputError, OutOfRange

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def within(what: str, got: float, low: float, high: float, unit: str) -> float:
    """Return the number itself, or a sentence saying what would be accepted."""
    try:
        number = float(got)
    except (TypeError, ValueError):
        raise InputError(f"The {what} must be a number; got {got!r}. Give a figure{_in(unit)}.") from None
    if math.isnan(number) or not low <= number <= high:
        got_words = "it is not a number" if math.isnan(number) else f"got {number:g}"
        spaced = f" {unit}" if unit else ""
        raise OutOfRange(
            f"The {what} must be from {low:g} to {high:g}{spaced}; {got_words}. Please check the figure."
        )
    return number


def _in(unit: str) -> str:
    return f" in {unit}" if unit else ""


def one_of(what: str, got: str, choices: Sequence[str]) -> str:
    """Return the word itself, or a sentence listing the words that would be accepted."""
    if got not in choices:
        raise InputError(f"The {what} must be one of {', '.join(choices)}; got {got!r}.")
    return got


def numbers(what: str, got: ArrayLike, columns: int) -> Floats:
    """Return a table of finite numbers with so many columns, fresh and contiguous; one row may come
    unwrapped.
    """
    try:
        table = np.array(got, dtype=float, order="C", ndmin=2)
    except (TypeError, ValueError):
        raise InputError(f"The {what} must be numbers, {columns} to a row; got {got!r}.") from None
    if table.ndim != 2 or table.shape[1] != columns:
        shape = "×".join(str(n) for n in table.shape)
        raise InputError(f"The {what} must have {columns} numbers to a row; got a table of {shape}.")
    bad = np.flatnonzero(~np.isfinite(table).all(axis=1))
    if bad.size:
        raise OutOfRange(
            f"The {what} must be numbers; row {int(bad[0]) + 1} holds one that is not "
            f"({', '.join(f'{x:g}' for x in table[bad[0]])}). Leave the row out or fill it in."
        )
    return table
