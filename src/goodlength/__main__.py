"""Entry point: the command line, given the function that starts the page. Also `python -m goodlength`."""

from __future__ import annotations

from pathlib import Path

from goodlength.cli import main
from goodlength.cli.terminal.shared_options import Shared


def start_page(folder: str | Path, port: int, open_browser: bool, shared: Shared | None = None) -> None:
    """Start the page on a library folder; the web framework is loaded only now."""
    from goodlength.web import serve
    from goodlength.web.server import Network

    network = None if shared is None else Network(shared.names, shared.certificate, shared.key)
    serve(folder, port=port, open_browser=open_browser, network=network)


def run() -> None:
    """The program `goodlength`."""
    main(start_page)


if __name__ == "__main__":
    run()
