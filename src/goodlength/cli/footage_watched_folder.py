"""`goodlength footage watch`: videos that appear in a folder, added to a match."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.terminal.shared_options import library_option, opened, print_note
from goodlength.forms.match_rally_and_probe_json import added_lines


@click.command(
    "watch",
    short_help="Add videos to a match as they appear in a folder.",
    epilog="Example: goodlength footage watch demo ~/Videos/new",
)
@click.argument("match_id")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--existing", is_flag=True, help="Also add the videos that are in the folder already.")
@click.option(
    "--once", is_flag=True, help="Add the complete videos that are in the folder now, and stop watching."
)
@library_option
def watch(match_id: str, folder: Path, existing: bool, once: bool, library_folder: Path | None) -> None:
    """Add videos to a match as they appear in a folder, until Ctrl+C.

    A video is added once it has stopped growing. It stays where it is. One that is in the library already is
    not added twice, also under another name. Folders inside FOLDER are not watched.
    """
    from goodlength import tasks

    with opened(library_folder) as library:
        events = tasks.watch_folder(
            library, match_id, folder.expanduser().absolute(), existing=existing, once=once
        )
        if not once:
            print_note(f"Watching {folder} for new videos. Ctrl+C stops.")
        try:
            for event in events:
                if event.added is None:
                    print_note(f"Not added: {event.path.name}. {event.words}")
                    continue
                click.echo(event.added.id)
                print_note(f"Added: {event.path.name}")
                for line in added_lines(library, event.added):
                    print_note(line)
        except KeyboardInterrupt:
            print_note("Stopped watching. The videos added stay in the match.")
