"""Every error goodlength raises on purpose, in one tree.

```
GoodlengthError
├── InputError           badly written: cannot be read as what it should be
│   ├── OutOfRange       a number outside what is accepted
│   └── NotFound         no player, match, rally or file of that name
├── RulesError           read well, but the rules of squash do not allow it
├── UnclearError         more than one meaning; goodlength does not guess
├── FootageError         a file that cannot serve as footage
│   ├── NotFootage       empty, text, a shadow file, sound only
│   ├── Unfinished       the recording was never closed by the camera
│   └── FootageGone      moved, renamed, or on a disk that is not there
├── CalibrationError     the camera or court cannot be solved from what was given
├── StoreError           the library file
│   ├── NotOurLibrary    another program's file
│   ├── NewerLibrary     written by a later version
│   └── NoSpace          the disk is full or cannot be written
├── Conflict             somebody else answered in between
├── ConsentMissing       no consent for what was asked
├── NotBuilt             a step that this version does not have
└── Cancelled            a job stopped by the person who began it
```

A text says what could not be done, the value got, what would be accepted, and the next step.
"""

from __future__ import annotations

import errno

_FULL = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})
_REFUSED = frozenset({errno.EROFS, errno.EACCES, errno.EPERM})
_DISK = frozenset({errno.EIO, errno.ENODEV, errno.ENXIO})


class GoodlengthError(Exception):
    """The root: its text is meant for the coach and stands alone.

    `command` is what to type where goodlength is used by commands; no page shows it. `page` is what a page
    says in place of a text that names an id, an option or a form of file.
    """

    def __init__(self, *args: object, command: str = "", page: str = "") -> None:
        super().__init__(*args)
        self.command = command
        self.page = page

    @property
    def page_words(self) -> str:
        """What a page says of the error."""
        return self.page or str(self)


class InputError(GoodlengthError):
    """Badly written: cannot be read as what it should be."""


class PageFull(InputError):
    """More than fits on the handout's page at the smallest type."""


class OutOfRange(InputError):
    """A number outside what is accepted."""


class NotFound(InputError):
    """No player, match, rally or file of that name."""


class DamagedFile(InputError):
    """A file of the library cannot be read; it is left as it is."""


class RulesError(GoodlengthError):
    """Read well, but the rules of squash do not allow it."""


class UnclearError(GoodlengthError):
    """More than one meaning; goodlength does not guess."""


class FootageError(GoodlengthError):
    """A file that cannot serve as footage."""


class NotFootage(FootageError):
    """Empty, text, a system's shadow file, or sound only."""


class BarePictures(NotFootage):
    """A bare stream of pictures without times; it can be packed into a film."""


class Unfinished(FootageError):
    """The recording was never closed by the camera, so it cannot be opened."""


class FootageGone(FootageError):
    """Moved, renamed, or on a disk that is not there."""


class CalibrationError(GoodlengthError):
    """The camera or the court cannot be solved from what was given."""


class StoreError(GoodlengthError):
    """The library file cannot be used as asked."""


class NotOurLibrary(StoreError):
    """The file belongs to another program, or is damaged at its head."""


class NewerLibrary(StoreError):
    """The library was written by a later version of goodlength."""


class NoSpace(StoreError):
    """The disk is full or cannot be written."""


class Conflict(GoodlengthError):
    """Somebody else, or another tab, answered in between; both answers are kept."""


class ConsentMissing(GoodlengthError):
    """No consent is on record for what was asked."""


class NotBuilt(GoodlengthError):
    """A step that this version does not have."""


class Cancelled(GoodlengthError):
    """A job stopped by the person who began it."""


def disk_trouble(error: OSError) -> NoSpace | None:
    """Return what the system refused, where it is the disk's affair: full, not to be written, or gone;
    else None.

    Examples
    --------
    >>> print(disk_trouble(OSError(errno.ENOSPC, "No space left on device", "/lib/x")))
    The disk is full: /lib/x could not be written. Free some space, then try again; what was saved is safe.
    >>> disk_trouble(FileNotFoundError(errno.ENOENT, "No such file or directory")) is None
    True
    """
    named = error.filename2 or error.filename
    what = "a file" if named is None else str(named)
    if error.errno in _FULL:
        return NoSpace(
            f"The disk is full: {what} could not be written. Free some space, then try again; what was "
            "saved is safe."
        )
    if error.errno in _REFUSED:
        return NoSpace(
            f"{what} may not be written ({error.strerror}). Nothing was changed. Give yourself the right to "
            "write there, or copy the library's folder to a disk of this computer and work there."
        )
    if error.errno in _DISK:
        return NoSpace(
            f"The disk with {what} cannot be reached ({error.strerror}). Connect it, then try again."
        )
    return None
