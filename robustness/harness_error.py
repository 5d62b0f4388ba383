"""What a test itself did wrong: told as such, since it says nothing about what it tests."""

from __future__ import annotations

from goodlength.errors import GoodlengthError


class OwnFault(GoodlengthError):
    """The test failed, not what it tests.

    Examples
    --------
    >>> print(OwnFault("no disk was filled."))
    This test failed, not what it tests: no disk was filled.
    """

    def __init__(self, why: str) -> None:
        super().__init__(f"This test failed, not what it tests: {why}")
