"""`goodlength findings ...`: what the record shows."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli import lines
from goodlength.cli.shared import as_json, emit, library_option, opened


@click.group("findings", epilog="Example: goodlength findings show demo")
def findings_command() -> None:
    """What the record shows, and how sure it is."""


@findings_command.command("show", epilog="Example: goodlength findings show demo --json")
@click.argument("match_id")
@click.option(
    "--of", "whose", type=click.Choice(["coached", "opponent"]), default="coached", help="Whose serves."
)
@as_json
@library_option
def show(match_id: str, whose: str, as_json: bool, library_folder: Path | None) -> None:
    """Findings of a match with their counts, ranges and grades."""
    from goodlength import tasks
    from goodlength.findings import as_json as findings_form

    with opened(library_folder) as library:
        form = findings_form(tasks.find(library, match_id, whose=whose))
    if as_json:
        emit(form)
        return
    for line in lines.findings_lines(form):
        click.echo(line)
