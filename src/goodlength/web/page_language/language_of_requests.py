"""Which language a request is answered in: the one of the settings, read again when they may have changed."""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING

from goodlength.errors import GoodlengthError
from goodlength.languages import LANGUAGES, speaking

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

    from goodlength.record.store import Library

FRESH_S = 60.0  # another program may change the setting, too
CHANGING = ("/settings", "/bin")  # what is posted there may change it, or put it back
USUAL = "en"
SETTING = "page_language"


class PageLanguage:
    """The language of the pages of a library."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._code = USUAL
        self._until = 0.0
        self.code()

    def code(self) -> str:
        """Return the code of the language; the last one known while the library cannot be read."""
        if monotonic() >= self._until:
            try:
                found = self._library.settings().get(SETTING)
            except GoodlengthError:
                return self._code
            self._code = str(found) if found in LANGUAGES else USUAL
            self._until = monotonic() + FRESH_S
        return self._code

    def forget(self) -> None:
        """Read it again at the next request."""
        self._until = 0.0


class SpokenLanguage:
    """ASGI middleware: answers each request in the language of the pages; files need none."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http" or scope["path"].startswith("/static/"):
            await self.app(scope, receive, send)
            return
        pages: PageLanguage = scope["app"].state.page_language
        with speaking(pages.code()):
            await self.app(scope, receive, send)
        if scope["method"] != "GET" and scope["path"].startswith(CHANGING):
            pages.forget()
