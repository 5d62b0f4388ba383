"""Turn database errors into sentences for the coach."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import exc

from goodlength.errors import GoodlengthError, InputError, NoSpace, NotOurLibrary, StoreError

_AWAY = (
    "connection refused",
    "connection failed",
    "could not connect",
    "server closed the connection",
    "terminating connection",
    "name or service not known",
    "could not translate host",
    "authentication failed",
    "connection timeout",
    "the database system is",
    "the connection is lost",
    "no such file or directory",
)


def in_words(error: BaseException, place: str) -> GoodlengthError:
    """Return the store error that says what `error` means for the library at `place`."""
    message = str(getattr(error, "orig", None) or error)
    low = message.lower()
    if "lock timeout" in low or "locked" in low or "busy" in low:
        return StoreError(
            f"The library {place} is being written by another program and stayed locked. "
            "Nothing was changed. Close the other window or command, then try again."
        )
    if any(part in low for part in _AWAY):
        return StoreError(
            f"The server of the library {place} cannot be reached ({message.splitlines()[0]}). Nothing of "
            "this step was written. Is it running, and is this machine let in? Then try again."
        )
    if "full" in low or "no space" in low or "quota" in low:
        return NoSpace(
            f"The disk that holds the library {place} is full, so nothing was written. "
            "Free some space, then send it again: what was acknowledged before is safe."
        )
    if "readonly" in low or "read-only" in low or "permission denied" in low or "unable to open" in low:
        return NoSpace(
            f"The library {place} cannot be written ({message}). "
            "Give yourself the right to write there, or choose another folder with --library.",
            page="The library folder is write-protected, so nothing was saved. Allow writing to it, "
            "or start goodlength with another folder.",
        )
    if "not a database" in low or "malformed" in low or "no such table" in low or "encrypted" in low:
        return NotOurLibrary(
            f"The file {place} cannot be read as a goodlength library ({message}). "
            "It was left as it is. Restore a back-up, or save what can be read into a new folder: goodlength "
            "library check --save-to NEW-FOLDER. Or choose another folder with --library.",
            page="The library cannot be opened. Close goodlength, then start it again with another "
            "folder or restore a back-up.",
        )
    if "could not decode" in low:
        return _no_letters(place)
    if "i/o error" in low:
        return NoSpace(
            f"The disk that holds the library {place} reports an error ({message}). "
            "Nothing of this step was written. Check the disk, and copy the library folder to a sound one."
        )
    return StoreError(f"The library {place} could not do this ({message}). Nothing of this step was written.")


def _no_letters(place: str) -> NotOurLibrary:
    return NotOurLibrary(
        f"The library {place} is damaged: some of its text cannot be read. Restore a back-up, or save what "
        "can be read.",
        command="goodlength library check --save-to NEW-FOLDER",
    )


@contextmanager
def database_errors_in_words(place: str) -> Iterator[None]:
    """Turn whatever the database raises inside into one of our own errors."""
    try:
        yield
    except UnicodeEncodeError as error:
        raise InputError(
            "This text contains a broken character. Nothing was saved. Type it again."
        ) from error
    except UnicodeDecodeError as error:
        raise _no_letters(place) from error
    except (exc.OperationalError, exc.DatabaseError, OSError) as error:
        if isinstance(error, exc.IntegrityError):
            raise
        raise in_words(error, place) from error
