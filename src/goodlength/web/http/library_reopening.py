"""Another library opened in place: the page ends with the one it has, and begins again with the other.

```
 Settings ──> checked ──> the server stops as at its end ──> the same port, the same program, another library
                               jobs stop and go on when their library is opened again
```
Connections that come in between wait in the queue of the listening socket.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

if TYPE_CHECKING:
    import uvicorn

SHARED = (
    "The page is shared on the network, and everyone with the pass code would see the other library. "
    "Stop sharing first."
)
NOT_BY_ITSELF = (
    "This page was not started by goodlength itself, so it cannot open another library. "
    "Close it, and start goodlength with that folder."
)


class LibraryReopening:
    """Which library comes after the one that is open; `run` tells one opening from the next.

    Parameters
    ----------
    server : uvicorn.Server, optional
        The server to be ended; None where another program serves the page.
    fault : str
        Why the library wanted last could not be opened; empty where nothing went wrong.
    """

    def __init__(self, server: uvicorn.Server | None = None, fault: str = "") -> None:
        self.run = uuid4().hex[:12]
        self.fault = fault
        self.folder: Path | None = None
        self._server = server

    @property
    def is_possible(self) -> bool:
        """Whether the program that serves the page can begin again."""
        return self._server is not None

    def begin(self, folder: Path) -> None:
        """End the server; what started it opens this folder then."""
        assert self._server is not None
        self.folder = folder
        self._server.should_exit = True
