"""`goodlength open` and `goodlength demo`: start the page."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.terminal.shared_options import (
    CommandContext,
    Shared,
    library_option,
    opened,
    print_note,
    progress,
)
from goodlength.errors import GoodlengthError, NotBuilt


@click.command("open", epilog="Example: goodlength open")
@click.option(
    "--port",
    metavar="PORT",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port of the page; 0 uses a free one.",
)
@click.option("--no-browser", is_flag=True, help="Print the address only; open no browser.")
@click.option("--with-demo", is_flag=True, help="Add the demo matches, unless you removed them before.")
@click.option("--network", is_flag=True, help="Share the library on the local network, behind a pass code.")
@click.option(
    "--name",
    "names",
    metavar="NAME",
    multiple=True,
    help="With --network: another name of this computer, such as laptop.local; can be repeated.",
)
@click.option(
    "--certificate",
    type=click.Path(exists=True, dir_okay=False),
    help="With --network: certificate, a PEM file.",
)
@click.option(
    "--key", type=click.Path(exists=True, dir_okay=False), help="With --certificate: its key, a PEM file."
)
@library_option
def open_command(
    port: int,
    no_browser: bool,
    with_demo: bool,
    network: bool,
    names: tuple[str, ...],
    certificate: str | None,
    key: str | None,
    library_folder: Path | None,
) -> None:
    """Start the page on this computer and print its address. Ctrl+C stops it."""
    if (names or certificate or key) and not network:
        raise click.UsageError("--name, --certificate and --key go with --network.")
    if (certificate is None) is not (key is None):
        raise click.UsageError("--certificate and --key go together.")
    folder = _folder_to_open(library_folder, with_demo)
    _start(folder, port, not no_browser, Shared(names, certificate, key) if network else None)


@click.command("demo", epilog="Example: goodlength demo --no-open")
@click.option("--no-open", is_flag=True, help="Create the demo matches only; do not open the page.")
@click.option(
    "--no-footage", is_flag=True, help="Create the demo matches without their computer-generated video."
)
@click.option(
    "--port",
    metavar="PORT",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port of the page; 0 uses a free one.",
)
@library_option
def demo_command(no_open: bool, no_footage: bool, port: int, library_folder: Path | None) -> None:
    """Create the demo matches if they are missing, and open the page."""
    folder = _folder_with_demo(library_folder, True, again=True, footage=not no_footage)
    if not no_open:
        _start(folder, port, True)


def _start(folder: str | Path, port: int, open_browser: bool, shared: Shared | None = None) -> None:
    given: CommandContext = click.get_current_context().find_root().obj
    if given.start_page is None:
        raise NotBuilt("The page cannot be started from here. Start it with ./start or goodlength open.")
    given.start_page(folder, port, open_browser, shared)


def _folder_to_open(library_folder: Path | None, with_demo: bool) -> str | Path:
    """Return the library named, else the one opened from Settings last, else the usual one."""
    from goodlength.tasks.library.remembered_library import remembered_library

    given: CommandContext = click.get_current_context().find_root().obj
    folder, words = (None, "") if library_folder or given.library else remembered_library()
    if folder is not None:
        try:
            return _folder_with_demo(folder, with_demo, again=False)
        except GoodlengthError as error:
            words = (
                f"The library {folder}, opened from Settings last time, cannot be opened: {error} "
                "The usual library is open instead."
            )
    if words:
        print_note(words)
    return _folder_with_demo(library_folder, with_demo, again=False)


def _folder_with_demo(
    library_folder: Path | None, with_demo: bool, again: bool, footage: bool = True
) -> str | Path:
    with opened(library_folder) as library:
        folder: str | Path = library.address
        place = str(folder) if isinstance(folder, Path) else library.place
        wanted = with_demo and (again or not library.settings().get("demo.removed"))
    if wanted:
        from goodlength import demo

        with progress("Demo") as report:
            demo.build(folder, report, footage=footage)
        print_note(f"The demo is in {place}")
    return folder
