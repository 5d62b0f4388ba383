"""The identity of a library: tells it from every other, also from its own restored copy.

A page names the library it was made for with each change it sends, and so does what waits in a browser's
store: addresses are the same for every library, and a restored copy has the same matches.
"""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING
from uuid import uuid4

from goodlength.errors import GoodlengthError

if TYPE_CHECKING:
    from goodlength.record.store import Library

SETTING = "library_identity"


def library_identity(library: Library) -> str:
    """Return the identity of a library, made at the first call and the same at every later one.

    Where nothing can be written it follows from the place, and nothing sent to it is stored either.

    Limits
    ------
    A folder copied by hand has the identity of the first. Opened in place of it, it gets its own
    (`library_to_open`); given to the program at its start, it does not.
    """
    stored = library.settings().get(SETTING)
    if isinstance(stored, str) and stored:
        return stored
    try:
        return renew_identity(library)
    except GoodlengthError:
        return sha256(library.place.encode()).hexdigest()[:24]


def forget_identity(library: Library) -> None:
    """Let a copy get an identity of its own when it is opened for the first time."""
    library.set_setting(SETTING, None)


def renew_identity(library: Library, identity: str | None = None) -> str:
    """Give a copy an identity of its own, or the one named, and return it."""
    library.set_setting(SETTING, identity or uuid4().hex[:24])
    made: str = library.settings()[SETTING]  # of two programs at the same moment, what was stored last
    return made
