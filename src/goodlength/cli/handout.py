"""`goodlength handout ...`: the page for the player."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.terminal.shared_options import library_option, opened_match


@click.group("handout", epilog="Example: goodlength handout make demo --to .")
def handout_command() -> None:
    """The one-page handout for the player."""


@handout_command.command("make", epilog="Example: goodlength handout make demo --to handouts")
@click.argument("match_id")
@click.option(
    "--to", "folder", required=True, type=click.Path(path_type=Path), help="The folder to write into."
)
@library_option
def make(match_id: str, folder: Path, library_folder: Path | None) -> None:
    """Create the handout: one A4 page as PDF and as one HTML file that opens anywhere."""
    from goodlength import tasks

    with opened_match(library_folder, match_id) as match:
        made = tasks.make_handout(match, folder)
    click.echo(made.pdf)
    click.echo(made.html)
