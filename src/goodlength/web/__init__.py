"""The page a coach uses: thin routes that read a form, call one task and render.

It never holds rules, figures or drawings of its own, asks nothing of the network, and listens on this
machine only. Public names: `create_app`, `serve`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from goodlength.web.app import create_app
    from goodlength.web.server import serve

__all__ = ["create_app", "serve"]


def __getattr__(name: str) -> Any:
    """Load the web framework only when the page is really asked for."""
    if name == "create_app":
        from goodlength.web.app import create_app

        return create_app
    if name == "serve":
        from goodlength.web.server import serve

        return serve
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
