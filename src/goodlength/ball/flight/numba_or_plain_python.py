"""The compiler of the flight, or plain Python where there is none.

No numba is made for Macs with an Intel processor and Python 3.14; there the same functions run as they are
written, with the same results and much more slowly.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from typing import Any


def compiles() -> bool:
    """Return whether functions are compiled here."""
    return find_spec("numba") is not None


def njit(*signature: str, **options: Any) -> Callable[[Any], Any]:
    """Return numba's decorator `njit`; without numba, a decorator that leaves a function as it is."""
    try:
        import numba
    except ImportError:
        return lambda function: function
    compiler: Any = numba.njit
    decorator: Callable[[Any], Any] = compiler(*signature, **options)
    return decorator
