"""JSON files beside the database: read, changed under one lock, written whole.

A damaged file is never overwritten.

```
 read() ── damaged ──> DamagedFile in words          update() ── reads, changes, writes: one at a time
 shown() ── damaged ──> nothing, for pages that list
```
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from goodlength.errors import DamagedFile
from goodlength.files.atomic import atomic_write

FORM = "form"
WRITING = threading.RLock()


@dataclass(frozen=True)
class JsonFile:
    """One JSON object in a file of its own.

    Parameters
    ----------
    form : int
        The number of the form written. A file with a higher one is refused; one without is the first.
    """

    path: Path
    form: int = 1

    def read(self) -> dict[str, Any]:
        """Return what the file holds; an empty dict where there is none.

        Raises
        ------
        DamagedFile
            It cannot be read, is no JSON object, or was written by a newer version.
        """
        try:
            plain = json.loads(self.path.read_text(encoding="utf-8"))
            if not isinstance(plain, dict):
                raise ValueError("it holds no JSON object")
            form = plain.pop(FORM, 1)
            if not isinstance(form, int) or form > self.form:
                raise ValueError(f"it has form {form!r:.20}; this version reads up to {self.form}")
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, RecursionError) as error:
            raise DamagedFile(
                f"The file {self.path} cannot be read ({error}). It is left as it is. Restore it from a "
                "back-up, or move it away and begin again."
            ) from error
        return plain

    def shown(self) -> dict[str, Any]:
        """Return what the file holds, or nothing where it is damaged: for pages that list many."""
        try:
            return self.read()
        except DamagedFile:
            return {}

    def write(self, plain: Mapping[str, Any]) -> None:
        """Replace what the file holds.

        Raises
        ------
        NoSpace
            The folder cannot be written; the file is as it was.
        """
        text = json.dumps({FORM: self.form, **plain})
        with WRITING, atomic_write(self.path) as part:
            part.write_text(text, encoding="utf-8")

    def update(self, change: Callable[[dict[str, Any]], Mapping[str, Any]]) -> dict[str, Any]:
        """Read, change and write as one step; return what was written.

        Parameters
        ----------
        change : callable
            Given what the file holds, returns what it is to hold.

        Raises
        ------
        DamagedFile
            The file cannot be read; it is not overwritten.
        NoSpace
            The folder cannot be written; the file is as it was.
        """
        with WRITING:
            made = dict(change(self.read()))
            self.write(made)
        return made
