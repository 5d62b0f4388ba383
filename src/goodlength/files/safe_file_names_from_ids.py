"""Safe file names from ids, so that an outside id never decides a path."""

from __future__ import annotations

import re
from hashlib import sha256

from goodlength.errors import InputError

PLAIN_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
PLAIN_ID_WORDS = (
    "letters, digits, dot, underscore and hyphen, at most 64, not beginning with a dot, and is no name of a "
    "device such as con or nul"
)
MADE = ("clip", "reel", "pair", "stills", "pack", "beside", "talk")  # ID-clip-..., see `layout`
MADE_NAMES = re.compile(
    rf"practice-.*|.*\.original|.*\.v\d+|.*-({'|'.join(MADE)})(-.*)?", re.IGNORECASE | re.DOTALL
)
_HASH_LETTERS = 24
# Windows opens a device by these names, whatever ending follows
RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


def is_plain_id(value: object) -> bool:
    """Return whether an id can be used in a file name and an address as it is.

    Examples
    --------
    >>> [is_plain_id(one) for one in ("csv-12ab", "../../original", ".hidden", "a" * 65, 7)]
    [True, False, False, False, False]
    """
    if not isinstance(value, str) or value.startswith(".") or RESERVED.fullmatch(value):
        return False
    return bool(PLAIN_ID.fullmatch(value))


def require_plain_id(value: object, what: str) -> str:
    """Return the id, or refuse it.

    Parameters
    ----------
    what : str
        Whose id it is, for the message.

    Raises
    ------
    InputError
        It holds anything but the letters of `PLAIN_ID`.
    """
    if not is_plain_id(value):
        raise InputError(f"The id of {what} is {value!r:.80}. An id has {PLAIN_ID_WORDS}.")
    return str(value)


def require_free_name(value: str, what: str) -> str:
    """Return the id of a match or a video, or refuse one that would share files with another's.

    Raises
    ------
    InputError
        It is like a name that goodlength makes of another id, such as ID.v3, ID-clip-... or practice-...

    Examples
    --------
    >>> require_free_name("m1.version", "the match")
    'm1.version'
    """
    if MADE_NAMES.fullmatch(value):
        raise InputError(
            f"The id of {what} is {value!r:.80}: goodlength gives such names itself to files made of other "
            "matches and videos. Choose another id, without practice-, .original, .v and a number, or the "
            f"words {', '.join(MADE)} after a hyphen."
        )
    return value


def stem(an_id: str) -> str:
    """Return the part of a file name that stands for an id; a hash where the id itself cannot.

    Examples
    --------
    >>> stem("m1"), stem("../x") == stem("../x"), "/" in stem("../x")
    ('m1', True, False)
    """
    return an_id if is_plain_id(an_id) else _hashed(an_id)


def strict_stem(an_id: str) -> str:
    """Return the same without dots, for files whose ending is told apart by its dots (ID.said.json)."""
    plain = an_id.replace("-", "").replace("_", "")
    fine = plain.isalnum() and plain.isascii() and len(an_id) <= 64 and not RESERVED.fullmatch(an_id)
    return an_id if fine else _hashed(an_id)


def _hashed(an_id: str) -> str:
    return sha256(an_id.encode("utf-8", "surrogatepass")).hexdigest()[:_HASH_LETTERS]
