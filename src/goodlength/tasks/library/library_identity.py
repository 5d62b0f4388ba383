"""The identity of a library: tells it from every other, also from its own restored copy.

A page names the library it was made for with each change it sends, and so does what waits in a browser's
store: addresses are the same for every library, and a restored copy has the same matches.

```
 opened here ──> noted for this computer: the folder's path, its number on the disk
 opened again ──> either is the same: the same library       neither is: a copy, with an identity of its own
```
"""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from goodlength.errors import GoodlengthError
from goodlength.jobs.job_queue import machine_mark

if TYPE_CHECKING:
    from goodlength.record.store import Library

SETTING = "library_identity"
PLACES = "library_places"  # where it lay when it was opened last, by the mark of the computer


def library_identity(library: Library) -> str:
    """Return the identity of a library, made at the first call and the same at every later one.

    A folder copied by hand and opened on the same computer gets one of its own: it lies at another path, and
    is another folder of the disk. One that was moved or renamed on its disk keeps it, and so does a library
    on a server, or one that this computer has not opened before. Where nothing can be written the identity
    follows from the place, and nothing sent to it is stored either.

    Limits
    ------
    A copy put at the path of the first counts as the first. A folder moved to another disk by hand counts as
    a copy: pages of it that are still open have to be reloaded.
    """
    stored = library.settings().get(SETTING)
    try:
        if not isinstance(stored, str) or not stored or _is_copy(library):
            stored = renew_identity(library)
        _note_place(library)
    except GoodlengthError:
        return (
            stored if isinstance(stored, str) and stored else sha256(library.place.encode()).hexdigest()[:24]
        )
    return stored


def forget_identity(library: Library) -> None:
    """Let a copy get an identity of its own when it is opened for the first time."""
    library.set_setting(SETTING, None)


def renew_identity(library: Library, identity: str | None = None) -> str:
    """Give a copy an identity of its own, or the one named, and return it."""
    library.set_setting(PLACES, None)
    library.set_setting(SETTING, identity or uuid4().hex[:24])
    made: str = library.settings()[SETTING]  # of two programs at the same moment, what was stored last
    return made


def _is_copy(library: Library) -> bool:
    """Return whether this computer knows the library at another path and as another folder."""
    before, now = _places(library).get(machine_mark()), _place(library)
    if before is None or now is None:
        return False
    return before[0] != now[0] and before[1] != now[1]


def _note_place(library: Library) -> None:
    places, now = _places(library), _place(library)
    if now is not None and places.get(machine_mark()) != now:
        library.set_setting(PLACES, {**places, machine_mark(): list(now)})


def _places(library: Library) -> dict[str, tuple[str, str]]:
    """Return what is noted, by computer; what is not of this form is left out."""
    stored = library.settings().get(PLACES)
    return {
        machine: (place[0], place[1])
        for machine, place in (stored.items() if isinstance(stored, dict) else ())
        if isinstance(place, list) and len(place) == 2 and all(isinstance(part, str) for part in place)
    }


def _place(library: Library) -> tuple[str, str] | None:
    """Return marks of the path of a library's folder and of its number on its disk; None on a server.

    Marks, as a path may name a person.
    """
    if "://" in library.place:
        return None
    try:
        folder = Path(library.folder).resolve()
        status = folder.stat()
    except OSError:
        return None
    return _mark(str(folder)), _mark(f"{status.st_dev}-{status.st_ino}")


def _mark(text: str) -> str:
    return sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:16]
